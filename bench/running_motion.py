"""How far motion readings carry: coverage and errors over simulated evenings at the bench.

    python bench/running_motion.py --family cranked --cases 170 --seed 1

Heads and readings are those of tests/truth/turned_heads.py, which shares nothing with the fit.
`grooved` and `belled` are held back: nothing was tuned on them. `--timing` asks for the rise alone.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))

import turned_heads
from ironlace.evidence.analyses import Known, KnownColumn, KnownTable, Nothing
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
            if "not told" in name or name in ("refused", "moved told"):
                print(f"{name}: {len(e)}")
                continue
            pooled += list(e[:, 1])
            rms = np.sqrt((e[:, 0] ** 2).mean())
            print(
                f"{name}: n {len(e)}, rms {rms:.3f}, held {e[:, 1].mean():.3f}, "
                f"width {np.median(e[:, 2]):.2f}, worst {np.abs(e[:, 0]).max():.2f}"
            )
        print(f"all together held: {np.mean(pooled):.3f} of {len(pooled)}")


def all_round(made, rng, asked, kept):
    """An evening all round the turn: strokes and dead centres."""
    motions = ("needle bar", "take-up", "feed") if asked.cams else ("needle bar",)
    turns = np.arange(24) * 15.0 + rng.uniform(0.0, 15.0)
    read, _ = turned_heads.readings(made, turns, motions, rng, law=asked.law)
    figures = told(read).figures
    if figures["moved"]:
        kept.of.setdefault("moved told", []).append((0, 1, 0))
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
    asked = asked.parse_args()
    rng = np.random.default_rng(asked.seed)
    kept = Kept()
    for _ in range(asked.cases):
        made = turned_heads.head(asked.family, rng)
        if not asked.timing:
            all_round(made, rng, asked, kept)
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
