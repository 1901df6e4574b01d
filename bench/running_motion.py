"""How far motion readings carry: coverage and errors over simulated evenings at the bench.

    python bench/running_motion.py --family cranked --cases 170 --seed 1

Heads and readings are those of tests/truth/turned_heads.py, which shares nothing with the fit.
`grooved` and `belled` are held back: nothing was tuned on them. `--timing` asks for the rise alone,
`--strokes` for strokes alone; `--slip 1` lets the needle bar slip by 1 mm, `--turned 6` the
disc turn by 6 degrees; `--none` counts what is told of numbers that follow no wheel, and how many
good evenings are taken for such.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))

import turned_heads
from ironlace.evidence.analyses import Known, KnownColumn, KnownTable, Nothing
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.progress import Steps
from ironlace.running.motion.motion_asked import MotionAsked
from ironlace.running.motion.motion_told import MOTION


def table(read):
    units = {"wheel": "deg", "opposite": "deg"}
    columns = [
        KnownColumn(n, units.get(n, "mm"), tuple(None if np.isnan(v) else float(v) for v in values))
        for n, values in read.items()
    ]
    return KnownTable(tuple(columns))


def told(read, **asked):
    found = MOTION.work(Nothing(), MotionAsked(table(read), **asked), Steps())
    return MOTION.answer(found)


class Kept:
    def __init__(self):
        self.of = {}

    def add(self, name, figure, truth, angle=False):
        if figure is None:
            self.of.setdefault(f"{name} not told", []).append((0.0, 1.0, 0.0))
            return
        if angle:
            truth = figure["value"] + (truth - figure["value"] + 180.0) % 360.0 - 180.0
        error = figure["value"] - truth
        held = figure["low"] <= truth <= figure["high"]
        self.of.setdefault(name, []).append((error, held, figure["high"] - figure["low"]))

    def tell(self):
        pooled = []
        for name, rows in sorted(self.of.items()):
            e = np.array(rows, dtype=float)
            if name.endswith((" told", "refused")):
                print(f"{name}: {len(e)}")
                continue
            pooled += list(e[:, 1])
            rms = np.sqrt((e[:, 0] ** 2).mean())
            held = e[:, 1].mean()
            sd = np.sqrt(max(held * (1.0 - held), 1.0 / len(e)) / len(e))
            print(
                f"{name}: n {len(e)}, rms {rms:.3f}, held {held:.3f} ± {sd:.3f}, "
                f"width {np.median(e[:, 2]):.2f}, worst {np.abs(e[:, 0]).max():.2f}"
            )
        print(f"all together held: {np.mean(pooled):.3f} of {len(pooled)}", flush=True)


def no_wheel(kind, made, count, rng):
    """Numbers that follow no wheel, or a good evening of some part."""
    turns = np.round(np.arange(count) * 360.0 / count + rng.uniform(0.0, 360.0 / count), 1)
    if kind in made.motions:
        read, _ = turned_heads.readings(made, turns, (kind,), rng)
        return kind, {"wheel": read["wheel"], kind: read[kind]}
    of = {
        "even": lambda: rng.uniform(5.0, 35.0, count),
        "normal": lambda: 20.0 + 5.0 * rng.standard_normal(count),
        "at rest": lambda: 20.0 + 0.1 * rng.standard_normal(count),
        "mixed up": lambda: rng.permutation(made.at("needle bar", turns)),
    }[kind]()
    return "needle bar", {"wheel": turns, "needle bar": np.round(of, 1)}


def none_found(asked, rng):
    """How often nothing is told where nothing moves, and where something does."""
    kinds = ("even", "normal", "at rest", "mixed up", *turned_heads.head("cranked", rng).motions)
    for kind in kinds:
        for count in (24, 12):
            gone = told_of = 0
            for _ in range(asked.cases):
                made = turned_heads.head(asked.family, rng)
                name, read = no_wheel(kind, made, count, rng)
                try:
                    stroke = told(read).figures["motions"].get(name, {}).get("stroke_mm")
                    told_of += stroke is not None
                except IronlaceError as error:
                    gone += str(error).startswith("No motion")
            print(
                f"{kind}, {count} readings: no motion found in {gone}, a stroke told in "
                f"{told_of} of {asked.cases}",
                flush=True,
            )


WHEEL = ("wheel", "opposite")
EVERY = 25


def all_round(made, rng, asked, kept):
    """An evening all round the turn: strokes and dead centres."""
    motions = ("needle bar", "take-up", "feed") if asked.cams else ("needle bar",)
    turns = np.arange(24) * 15.0 + rng.uniform(0.0, 15.0)
    read, _ = turned_heads.readings(made, turns, motions, rng, law=asked.law)
    if asked.slip or asked.turned:
        row, way = int(rng.integers(5, 20)), rng.choice([-1.0, 1.0])
        for name, by in (("needle bar", asked.slip), *((n, asked.turned) for n in WHEEL)):
            read[name][row:] = np.round(read[name][row:] + way * by, 1)
    figures = told(read).figures
    for what in ("moved", "suspected"):
        if figures[what]:
            kept.of.setdefault(f"{what} told", []).append((0, 1, 0))
    for name in motions:
        of = figures["motions"][name]
        kept.add(f"{name}, stroke", of["stroke_mm"], made.stroke(name))
        kept.add(f"{name}, lowest", of["lowest_deg"], made.lowest(name), angle=True)
        kept.add(f"{name}, highest", of["highest_deg"], made.highest(name), angle=True)


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--family", choices=turned_heads.FAMILIES, default="cranked")
    asked.add_argument("--cases", type=int, default=60)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--law", default="normal")
    asked.add_argument("--cams", action="store_true", help="take-up and feed as well")
    asked.add_argument("--timing", action="store_true", help="the rise at the meeting alone")
    asked.add_argument("--strokes", action="store_true", help="strokes and dead centres alone")
    asked.add_argument("--slip", type=float, default=0.0, help="mm that the bar slips")
    asked.add_argument("--turned", type=float, default=0.0, help="degrees that the disc turns")
    asked.add_argument("--none", action="store_true", help="numbers that follow no wheel")
    asked = asked.parse_args()
    rng = np.random.default_rng(asked.seed)
    if asked.none:
        none_found(asked, rng)
        return
    kept = Kept()
    for case in range(asked.cases):
        if case and case % EVERY == 0:  # a run that is cut off has told what it had
            print(f"after {case} evenings")
            kept.tell()
        made = turned_heads.head(asked.family, rng)
        if not asked.timing:
            all_round(made, rng, asked, kept)
        if asked.strokes:
            continue
        low = made.lowest("needle bar") + rng.uniform(-3.0, 3.0)
        near = np.array([-10, -6, -2, 2, 6, 10.0])
        turns = np.concatenate(
            (
                low + near,
                low + np.array([-90.0, 90.0]),
                made.meets_at + rng.uniform(-3.0, 3.0) + near,
            )
        )
        read, _ = turned_heads.readings(made, turns, ("needle bar", "shuttle"), rng, law=asked.law)
        read["shuttle"][:8] = np.nan
        figures = told(read, meeting=Known(made.meeting, 0.001, "mm")).figures
        for what in ("moved", "suspected"):
            if figures[what]:
                kept.of.setdefault(f"rise, {what} told", []).append((0, 1, 0))
        if figures["meeting"] is None:
            kept.add("rise", None, made.rise)
        else:
            kept.add("rise", figures["meeting"]["rise_mm"], made.rise)
            # a rise that is told without a warning must hold by itself
            kind = "plain" if figures["meeting"].get("cam_share", 0.0) < 0.1 else "doubted"
            kept.add(f"rise, {kind}", figures["meeting"]["rise_mm"], made.rise)
    kept.tell()


if __name__ == "__main__":
    main()
