"""What is taken for a ball that is none, and how wrong the torches are then.

    python bench/marks_false_balls.py --seed 9701 [--balls 0 1 2] [--counts 6 12 24] [--each]

Plates of `tests/truth/false_balls.py`: of each kind (domed rivets of four rises, screws, polished
discs, holes, washers, coins) two of a ball's size and one of another, beside no, one or two balls.
A case is wrong where something else is among the balls, and told where a notice says that a ball
is not proved. Torches are off by the median angle of a case's photographs. The live check sees the
same photographs: it is counted where it says that they will do and the relief is refused or has
something false among its balls, and where it finds other balls than the relief.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src")]

from false_balls import KINDS, Thing, shots  # noqa: E402
from ironlace.marks.capture.capturing import CaptureAsked, captured  # noqa: E402
from ironlace.marks.capture.frames import Frames  # noqa: E402
from ironlace.marks.capture.live_check import live_check  # noqa: E402
from ironlace.marks.errors import MarksError  # noqa: E402

CORNERS = ((-15.5, 8.5), (15.5, -8.5))
ELSEWHERE = ((11.0, 9.0), (-11.0, -9.0))


def one(seed, k, balls, count):
    """Balls taken right, others taken, the torches' median error, what was said, and the check."""
    rng = np.random.default_rng([seed, k, balls, count])
    kind = KINDS[k % len(KINDS)]
    scale = float(rng.uniform(0.075, 0.13))
    laid = [Thing("ball", x + rng.uniform(-1, 1), y, 3.0) for x, y in CORNERS[:balls]]
    free = [*CORNERS[balls:], *ELSEWHERE][:2]
    polish = float(rng.uniform(1.2, 4.0))
    alike = [Thing(kind, x, y + rng.uniform(-1, 1), 3.0, polish) for x, y in free]
    other = Thing(kind, 1.5, 1.0, float(rng.uniform(1.8, 4.0)), polish)
    shape = (round(29 / scale), round(43 / scale))
    room = {"ambient": float(rng.uniform(0.01, 0.15)), "gloss": float(rng.uniform(0.05, 0.4))}
    things = [*laid, *alike, other]
    taken = shots(rng, things, count=count, mm_per_px=scale, shape=shape, **room)
    frames = Frames(tuple(f"{n:02d}" for n in range(count)), tuple(taken.frames))
    check = live_check(frames)
    radius = check.frames[0].ball_radius_px
    try:
        found = captured(frames, CaptureAsked(ball_mm=6.0))
    except MarksError as error:
        said = ["will do"] * check.enough + ["finds a ball"] * (radius is not None)
        return kind, 0, 0, np.nan, f"refused: {error}", said
    right = sum(
        any(np.hypot(b.x - x, b.y - y) < 0.2 * r for x, y, r in taken.balls_px) for b in found.balls
    )
    true = taken.lights_mm / np.linalg.norm(taken.lights_mm, axis=1, keepdims=True)
    off = [np.degrees(np.arccos(np.clip(np.dot(light.direction, t), -1, 1)))
           for light, t in zip(found.lights, true, strict=True) if light]  # fmt: skip
    said = found.notices[0] if found.notices else ""
    false = len(found.balls) - right
    other = radius is None or abs(radius - min(b.r for b in found.balls)) > 1
    told = ["will do, false"] * (check.enough and false > 0) + ["finds others"] * other
    return kind, right, false, float(np.median(off)), said, told


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seed", type=int, default=9701)
    asked.add_argument("--balls", type=int, nargs="*", default=(0, 1, 2))
    asked.add_argument("--counts", type=int, nargs="*", default=(6, 12, 24))
    asked.add_argument("--scenes", type=int, default=10, help="a kind each, by turns")
    asked.add_argument("--each", action="store_true")
    chosen = asked.parse_args()
    for balls in chosen.balls:
        for count in chosen.counts:
            rows = [one(chosen.seed, k, balls, count) for k in range(chosen.scenes)]
            refused = sum(row[4].startswith("refused") for row in rows)
            check = sorted(told for row in rows for told in row[5])
            wrong = [row for row in rows if row[2]]
            off = [f"{row[0]} {row[3]:.1f}" for row in wrong]
            good = [row[3] for row in rows if row[1] and not row[2]]
            said = sum("not proved" in row[4] for row in wrong)
            right = sum(row[1] for row in rows)
            print(f"{balls} balls, {count} photographs: {right} of {balls * len(rows)} found, "
                  f"refused {refused} of {len(rows)}, with a false one {len(wrong)}, of these "
                  f"{said} told, torches off "
                  f"{off}; where right {np.median(good) if good else np.nan:.2f}; "
                  f"check {check}", flush=True)  # fmt: skip
            for row in rows if chosen.each else ():
                print("  ", *row[:3], f"{row[3]:.2f}", row[4][:110], *row[5], flush=True)


if __name__ == "__main__":
    main()
