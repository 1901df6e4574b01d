"""How many polished balls are found on plates, and what else is taken for one.

    python bench/marks_balls.py run --seed 9801 --scenes 40 [--radii 15 20 25 30 40 60]
    python bench/marks_balls.py run --seed 9801 --scenes 40 --without
    python bench/marks_balls.py rims --seed 35 --scenes 10 --radii 25 40 [--mirrors 0.3 0.8]

Rooms of `tests/truth/strange_light.py` drawn anew for each scene: metals, lamps, other light, balls
that mirror the plate or lie by the picture's edge, six or twelve photographs; and on the plate,
by turns, nothing, screws with a slot, holes, rivets and bosses, of a ball's size or any other.
`--without` leaves the balls out, so that all that is found is false. `rims` asks the room's own
entrance for balls that mirror so much of the plate's light: how many outlines are over 4 % too
small or too large, how many of those are told, and how many sound ones are doubted. `--kept` keeps
photographs in a folder, to look at them again by other code.
"""

from __future__ import annotations

import argparse
import pickle
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src")]

import strange_light  # noqa: E402
from ironlace.marks.capture.balls import find_balls  # noqa: E402
from ironlace.marks.capture.capturing import CaptureAsked, captured  # noqa: E402
from ironlace.marks.capture.frames import Frames, median_picture  # noqa: E402
from ironlace.marks.errors import MarksError  # noqa: E402
from shining_metal import bare, brushed, by_table, facets, oiled, two_lobes  # noqa: E402

METALS = (None, brushed, two_lobes, facets, bare, by_table, oiled)
ON_THE_PLATE = ("nothing", "screws", "holes", "rivets", "bosses")


def fittings(rng, kind, x, y, balls):
    """Height in mm of what is screwed to or bored through a plate, three or four of it."""
    height, wide, high = np.zeros_like(x), np.ptp(x) / 2, np.ptp(y) / 2
    laid = list(balls)
    for _ in range(40):
        if kind == "nothing" or len(laid) > len(balls) + 3:
            break
        r = float(3.0 * np.exp(rng.normal(0, 0.35)))
        bx, by = rng.uniform(-wide + r, wide - r), rng.uniform(-high + r, high - r)
        if any(np.hypot(bx - u, by - v) < r + 6.0 for u, v in laid):
            continue
        laid.append((bx, by))
        far = np.hypot(x - bx, y - by)
        if kind == "screws":
            a = rng.uniform(0, np.pi)
            slot = np.abs((x - bx) * np.sin(a) - (y - by) * np.cos(a)) < 0.13 * r
            dome = 0.4 * np.sqrt(np.clip(1 - (far / r) ** 2, 0, 1))
            height += np.where((far < r) & slot, -0.6, dome)
        elif kind == "holes":
            height -= 2.0 / (1 + np.exp(np.clip((far - r) / 0.08, -50, 50)))
        elif kind == "rivets":
            height += 0.7 * r * np.sqrt(np.clip(1 - (far / r) ** 2, 0, 1))
        else:
            height += 0.6 / (1 + np.exp(np.clip((far - r) / 0.1, -50, 50)))
    return height


def scene(rng, radius, kind, without, mirrors=()):
    """Photographs of a plate, and where its balls lie (x, y, r in pixels)."""
    s = strange_light.BALL / radius
    columns = int(max(40.0, rng.uniform(300, 520) * s) / s)
    rows = int(columns * rng.uniform(0.55, 0.75))
    wide, high = columns * s / 2, rows * s / 2
    edge = 3.0 * (rng.uniform(1.05, 1.3) if rng.uniform() < 0.3 else rng.uniform(1.5, 2.2))
    side = rng.choice([-1, 1])
    balls = ((-wide + edge, side * (high - edge)), (wide - edge, -side * (high - edge)))
    balls = () if without else balls
    metal = METALS[rng.integers(len(METALS))]
    room = strange_light.Room(
        shape=(rows, columns), mm_per_px=s, count=int(rng.choice([6, 10])), balls=balls,
        metal=metal() if metal else None, gloss=float(rng.uniform(0.1, 0.6)),
        mirrors=float(
            rng.uniform(*mirrors) if mirrors else rng.choice([0.0, 0.0, rng.uniform(0.2, 0.6)])
        ),
        ambient=float(rng.choice([0.0, rng.uniform(0.05, 0.25)])),
        lamp=(rng.uniform(0, 360), rng.uniform(25, 60), 0.15) if rng.uniform() < 0.25 else (),
        exposure=float(rng.uniform(0.02, 0.1)), even=bool(rng.uniform() < 0.5),
    )  # fmt: skip
    worn = strange_light._worn
    fitted = []

    def with_fittings(rng, x, y, s):
        fitted.append(1)
        return worn(rng, x, y, s) + fittings(rng, kind, x, y, balls)

    strange_light._worn = with_fittings
    try:
        return strange_light.photographed(rng, room), room
    finally:
        strange_light._worn = worn


def looked_at(seed, k, radius, kind, without, kept):
    """Balls laid, balls found right, what else was found, and each right one's error in pixels."""
    file = kept and kept / f"{seed}_{k}_{radius}_{without}.pickle"
    if file and file.exists():
        taken, room = pickle.loads(file.read_bytes())
    else:
        taken, room = scene(np.random.default_rng([seed, k, radius]), radius, kind, without)
        room.metal = None
        if file:
            file.write_bytes(pickle.dumps((taken, room)))
    found = find_balls(median_picture(taken.frames), taken.frames).circles
    true, off, false = taken.balls_px if not without else [], [], []
    for ball in found:
        near = [(x, y, r) for x, y, r in true if np.hypot(ball.x - x, ball.y - y) < 0.3 * r]
        if near:
            x, y, r = near[0]
            off.append(max(np.hypot(ball.x - x, ball.y - y), abs(ball.r - r)))
        else:
            false.append(ball)
    return len(true), off, false, room


def run(chosen):
    for radius in chosen.radii:
        all_, none, one, other, worst = 0, 0, 0, 0, []
        for k in range(chosen.scenes):
            kind = ON_THE_PLATE[k % len(ON_THE_PLATE)]
            laid, off, false, room = looked_at(
                chosen.seed, k, radius, kind, chosen.without, chosen.kept
            )
            other += bool(false)
            all_, none, one = all_ + (len(off) == laid), none + (not off), one + (len(off) == 1)
            worst += off
            if chosen.each and (false or len(off) < laid):
                print(f"  {radius} {k} {kind}: {len(off)} of {laid}, false {len(false)}, mirrors "
                      f"{room.mirrors:.2f} ambient {room.ambient:.2f} lamp {bool(room.lamp)} gloss "
                      f"{room.gloss:.2f} count {room.count} {room.shape}", flush=True)  # fmt: skip
        told = np.percentile(worst, [50, 90, 100]).round(2) if worst else "-"
        print(f"{radius} px: {chosen.scenes} scenes, both {all_}, one {one}, none {none}, with a "
              f"false one {other}; off by {told} px", flush=True)  # fmt: skip


def rims(chosen):
    """Outlines as `captured` has them, and what is said of them."""
    for radius in chosen.radii:
        wrong, told, sound, doubted, mended, refused = 0, 0, 0, 0, 0, 0
        for k in range(chosen.scenes):
            rng = np.random.default_rng([chosen.seed, k, radius])
            kind = ON_THE_PLATE[k % len(ON_THE_PLATE)]
            taken, _ = scene(rng, radius, kind, without=False, mirrors=chosen.mirrors)
            names = tuple(f"{n}" for n in range(len(taken.frames)))
            try:
                found = captured(Frames(names, tuple(taken.frames)), CaptureAsked(ball_mm=6.0))
            except MarksError:
                refused += 1
                continue
            said = " ".join(found.notices)
            mended += "told by where their shadows begin" in said
            for ball in found.balls:
                near = [r for x, y, r in taken.balls_px if np.hypot(ball.x - x, ball.y - y) < r / 3]
                if not near:
                    continue
                off = abs(ball.r / near[0] - 1) > 0.04
                named = f"{ball.x:.0f}, {ball.y:.0f}" in said.split("px mirrors the plate")[0]
                named = named and "px mirrors the plate" in said
                wrong, told = wrong + off, told + (off and named)
                sound, doubted = sound + (not off), doubted + (not off and named)
        print(f"{radius} px: {chosen.scenes} scenes, {refused} refused; {wrong} outlines wrong, "
              f"{told} of them told; {sound} sound, {doubted} of them doubted; in {mended} scenes "
              "rims were found again by shadows", flush=True)  # fmt: skip


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("what", choices=("run", "rims"))
    asked.add_argument("--seed", type=int, default=9801)
    asked.add_argument("--scenes", type=int, default=40)
    asked.add_argument("--radii", type=int, nargs="*", default=(15, 20, 25, 30, 40, 60))
    asked.add_argument("--without", action="store_true")
    asked.add_argument("--kept", type=Path)
    asked.add_argument("--each", action="store_true")
    asked.add_argument(
        "--mirrors", type=float, nargs=2, default=(), help="share of light, for rims"
    )
    chosen = asked.parse_args()
    (rims if chosen.what == "rims" else run)(chosen)


if __name__ == "__main__":
    main()
