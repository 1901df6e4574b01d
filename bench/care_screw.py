"""Photographed screws: pitch, angle, families, time.

`--cases N --first K --seed S --kind window --mode lens --none-share 0.5 --save ROWS.jsonl` measures
the screws K to K + N of a seed, so that a long run can be split, and prints their figures;
`--told ROWS.jsonl...` names the threads of rows that were saved anew and prints the figures of all.
"""

import argparse
import json
import math
import resource
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))
from ironlace.care.screw_photograph import ScrewCase, ScrewFound, measure_screw
from ironlace.care.thread_forms import ThreadNamed, ThreadReadings, name_thread
from ironlace.evidence.errors import IronlaceError
from ironlace.photographs import GivenLens, StripLayout
from photographed_screws import Photographed, photograph

NINETY = 1.645
"""Standard deviations to either end of the middle 90 %."""


def cpu() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_utime


def measured(shot: Photographed, mode: str) -> ScrewFound:
    lens = GivenLens(tuple(map(tuple, shot.matrix)), tuple(shot.distortion))
    case = ScrewCase(
        shot.caliper_mm,
        shot.axis_mm,
        shot.caliper_sd_mm,
        shot.axis_sd_mm,
        lens if mode == "lens" else None,
        shot.distance_mm if mode == "distance" else None,
    )
    return measure_screw(shot.image, StripLayout.from_csv(shot.layout_csv), case)


def rows_of(told: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """One screw after another: its truth, and what was read of it."""
    for n in range(told.first, told.first + told.cases):
        shot = photograph(np.random.default_rng([told.seed, n]), told.kind, told.none_share)
        row: dict[str, Any] = {
            **{"seed": told.seed, "n": n, "kind": told.kind, "mode": told.mode},
            **{"family": shot.family, "major": shot.major_mm, "pitch": shot.pitch_mm},
            **{"angle": shot.angle_deg, "caliper": [shot.caliper_mm, shot.caliper_sd_mm]},
        }
        before = cpu()
        try:
            found = measured(shot, told.mode)
        except IronlaceError as error:
            yield {**row, "refused": str(error)}
            continue
        yield {
            **row,
            "seconds": cpu() - before,
            "reliable": found.reliable,
            "read_pitch": [found.pitch_mm, found.pitch_sd_mm],
            "read_angle": [found.angle.angle_deg, found.angle.sd_deg],
        }


def named_of(row: dict[str, Any]) -> ThreadNamed:
    angle, angle_sd = row["read_angle"]
    return name_thread(ThreadReadings(*row["read_pitch"], *row["caliper"], angle, angle_sd or 2.0))


def place_of(named: ThreadNamed, row: dict[str, Any]) -> int:
    """Where the true form stands among those told, -1 when it does not."""
    for n, one in enumerate(named.forms):
        same = abs(one.form.pitch_mm - row["pitch"]) < 1e-3
        if (
            same
            and one.form.family == row["family"]
            and abs(one.form.major_mm - row["major"]) < 0.02
        ):
            return n
    return -1


def tell_readings(rows: list[dict[str, Any]]) -> None:
    """Pitch, angle and time."""
    kept = [row for row in rows if row["reliable"]]
    pitch = np.array([[*row["read_pitch"], row["pitch"]] for row in kept])
    off = np.abs(pitch[:, 0] / pitch[:, 2] - 1)
    print(
        f"pitch: median {100 * np.median(off):.3f} %, 95 % {100 * np.quantile(off, 0.95):.3f} %, "
        f"covers {np.mean(off < NINETY * pitch[:, 1] / pitch[:, 0]):.3f}; "
        f"over 1 % out and not told {np.sum(off > 0.01)}"
    )
    given = [row for row in rows if row["read_angle"][0] is not None]
    angle = np.array([[row["read_angle"][0] - row["angle"], row["read_angle"][1]] for row in given])
    print(
        f"angle: given in {len(given) / len(rows):.2f}, "
        f"rms {np.sqrt(np.mean(angle[:, 0] ** 2)):.2f}, "
        f"mean {angle[:, 0].mean():+.2f}, covers "
        f"{np.mean(np.abs(angle[:, 0]) < NINETY * angle[:, 1]):.3f}"
    )
    spent = [row["seconds"] for row in rows]
    print(f"time: {np.median(spent):.2f} s of one core in the median, {max(spent):.2f} at most")


def tell_names(rows: list[dict[str, Any]]) -> None:
    """Families and forms, of the screws that are called reliable."""
    kept = [(row, named_of(row)) for row in rows if row["reliable"]]
    top = [max(named.families, key=lambda one: named.families[one]) for _, named in kept]
    right = np.array([one == row["family"] for one, (row, _) in zip(top, kept, strict=True)], float)
    said = np.array([named.families[one] for one, (_, named) in zip(top, kept, strict=True)])
    score = np.array([-math.log(max(named.families[row["family"]], 1e-9)) for row, named in kept])
    own = np.array([row["family"] == "none" for row, _ in kept])
    parts = [(said >= low) & (said < low + 0.1) for low in np.arange(0, 1.05, 0.1)]
    apart = sum(p.mean() * abs(said[p].mean() - right[p].mean()) for p in parts if p.any())
    sure = said >= 0.9
    places = np.array([place_of(named, row) for row, named in kept])[~own]
    lost = sum(one == "none" for one, o in zip(top, own, strict=True) if not o)
    print(
        f"family right {right.mean():.3f}; a maker's own called standard "
        f"{np.sum(1 - right[own]):.0f} of {own.sum()}, a standard called a maker's own "
        f"{lost} of {np.sum(~own)}; "
        f"calibration error {apart:.3f} (said {said.mean():.3f}); said 0.9 or more and wrong "
        f"{np.sum(sure & (right < 1))} of {sure.sum()}; log score {score.mean():.3f}"
    )
    print(
        f"exact form first {np.mean(places == 0):.3f}, "
        f"in the first three {np.mean((places >= 0) & (places < 3)):.3f}"
    )
    for (row, named), one, yes in zip(kept, top, right, strict=True):
        if not yes:
            print(
                f"  wrong, {row['seed']}:{row['n']}: {row['family']} {row['major']:.3f} x "
                f"{row['pitch']:.4f}, {row['angle']:g} degrees, called {one} "
                f"{named.families[one]:.2f} ({named.forms[0].form.size})"
            )


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--cases", type=int, default=60)
    words.add_argument("--first", type=int, default=0)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--kind", choices=("workshop", "window"), default="workshop")
    words.add_argument("--mode", choices=("lens", "distance", "none"), default="lens")
    words.add_argument("--none-share", type=float, default=0.2)
    words.add_argument("--save", type=Path, help="append what was read, a line each")
    words.add_argument("--told", type=Path, nargs="*", help="rows saved before: names them anew")
    told = words.parse_args()
    rows: list[dict[str, Any]] = []
    if told.told:
        rows = [json.loads(line) for one in told.told for line in one.read_text().splitlines()]
    else:
        for row in rows_of(told):
            rows.append(row)
            if told.save:
                with told.save.open("a") as out:
                    out.write(json.dumps(row) + "\n")
    read = [row for row in rows if "refused" not in row]
    unreliable = [row for row in read if not row["reliable"]]
    print(f"{len(rows)} screws, {len(rows) - len(read)} refused, {len(unreliable)} unreliable")
    for row in rows:
        if "refused" in row:
            print(f"  refused, {row['seed']}:{row['n']}: {row['refused']}")
    for row in unreliable:
        off = row["read_pitch"][0] / row["pitch"] - 1
        print(f"  unreliable, {row['seed']}:{row['n']}: pitch {100 * off:+.2f} % out")
    tell_readings(read)
    tell_names(read)


if __name__ == "__main__":
    main()
