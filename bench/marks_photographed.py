"""Marks read of 24, 12 and 6 photographs of plates that no one tuned on: is what is stated true?

    python bench/marks_photographed.py run OUT.pickle --seed 9201 --plates 3 [--seconds 500]
    python bench/marks_photographed.py run OUT.pickle --counts 12 6 --wears 0.8 0.95 --faces italic
    python bench/marks_photographed.py told OUT.pickle [OUT.pickle ...]

Plates are struck and eaten by `tests/truth/eaten_plates.py` in faces nothing was tuned on, and
photographed by `strange_light.py` in metals of `shining_metal.py`: neither the plates' other maker
nor its light has a part in it. Wear 0.3, 0.6, 0.8 and 0.95 by turns, if not said. Each relief is
worked out by the room's own entrance with the balls' diameter alone, and read with the shapes
struck and without.
"""

from __future__ import annotations

import argparse
import pickle
import sys
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "truth"), str(ROOT / "src"), str(ROOT / "bench")]

from marks_learning import pits, places_of  # noqa: E402
from marks_reading import (  # noqa: E402
    auc,
    digits_gap,
    flat,
    gap_above_chance,
    read_of,
    sure_and_wrong,
    tops,
    wrong,
)
from marks_relief import steepness  # noqa: E402

import eaten_plates  # noqa: E402
import strange_light  # noqa: E402
from ironlace.marks.capture.capturing import CaptureAsked  # noqa: E402
from ironlace.marks.capture.frames import Frames  # noqa: E402
from ironlace.marks.errors import MarksError  # noqa: E402
from ironlace.marks.reading.relief_slopes import slopes_from_normals  # noqa: E402
from ironlace.marks.relief.plate_relief import plate_of  # noqa: E402
from shining_metal import bare, brushed, by_table, facets, oiled, two_lobes  # noqa: E402
from struck_plates import Asked  # noqa: E402

COUNTS = (24, 12, 6)
WEARS = (0.3, 0.6, 0.8, 0.95)
PLATE_MM = (40.0, 24.0)
SCALE = 0.03
METALS = {
    "own": None, "brushed": brushed(), "two lobes": two_lobes(), "facets": facets(),
    "bare": bare(), "table": by_table(), "oiled": oiled(),
}  # fmt: skip


def one(seed: int, k: int, counts, wears=WEARS):
    """What is read of a plate, by the number of photographs."""
    rng = np.random.default_rng([seed, k])
    rate = float(rng.uniform(0.25, 0.65))
    asked = Asked(
        wear=wears[k % len(wears)], face=eaten_plates.FACES[(seed + k) % len(eaten_plates.FACES)],
        mm_per_px=SCALE, base_rate=rate, **pits(rng),
    )  # fmt: skip
    plate = eaten_plates.eaten_plate(rng, asked, plate_mm=PLATE_MM)
    kind = str(rng.choice(list(METALS)))
    strange_light._worn = lambda *_: plate.height.astype(float)
    room = strange_light.Room(
        shape=plate.height.shape, mm_per_px=SCALE, count=max(COUNTS), metal=METALS[kind],
        balls=((-16.4, 8.4), (16.4, -8.4)), exposure=float(rng.uniform(0.02, 0.1)),
        even=bool(rng.uniform() < 0.3),
    )  # fmt: skip
    taken = strange_light.photographed(rng, room)
    places, found = places_of(rng, plate), {}
    for count in counts:
        use = np.linspace(0, max(COUNTS), count, endpoint=False).astype(int)
        frames = Frames(tuple(f"{n:02d}" for n in use), tuple(taken.frames[n] for n in use))
        try:
            _, relief = plate_of(frames, CaptureAsked(ball_mm=6.0), workers=1)
        except MarksError as error:
            print(f"{seed} {k} {count}: refused: {str(error)[:80]}", flush=True)
            continue
        slopes = slopes_from_normals(relief.normals, SCALE)
        found[count] = read_of(
            asked, plate.digits, plate.gaps, plate.texts(), plate.shapes, slopes, places, 1.0
        )
        gain = relief.slope_gain
        found[count]["gain"] = (
            steepness(relief.normals, taken.normals, taken.bare), *gain.depth_times,
        )  # fmt: skip
        found[count]["metal"] = kind
    return found


def run(chosen):
    begun, longest, found = time.perf_counter(), 0.0, []
    for k in range(chosen.first, chosen.first + chosen.plates):
        start = time.perf_counter()
        if start - begun + longest > chosen.seconds:
            print(f"begin again with --first {k}")
            return
        found.append(one(chosen.seed, k, chosen.counts, chosen.wears))
        with chosen.files[0].open("wb") as out:
            pickle.dump(found, out)
        longest = max(longest, time.perf_counter() - start)
        print(f"{chosen.seed} {k}: {longest:.0f} s", flush=True)


def strings_held(plates, name):
    """How often the truth is in the list, and how much of the chance lists hold as told."""
    return np.mean(flat(plates, name, "held")), np.mean(flat(plates, name, "listed"))


def told(files):
    read = [one for file in files for one in pickle.loads(file.read_bytes())]
    for count in COUNTS:
        plates = [one[count] for one in read if count in one]
        if not plates:
            continue
        n, gaps = len(flat(plates, "y")), len(flat(plates, "struck"))
        steep, least, most = np.array([one["gain"] for one in plates]).T
        held = ((least <= 1 / steep) & (1 / steep <= most)).sum()
        print(f"\n{count} photographs: {len(plates)} plates, {n} digits, {gaps} gaps; depths held "
              f"{held} of {len(plates)}")  # fmt: skip
        for name in ("given", "foreign"):
            dots, struck = flat(plates, name, "dots"), np.array(flat(plates, "struck"), float)
            held_, listed = strings_held(plates, name)
            print(f"  {name}: top-1 {tops(plates, name, 1):.3f}, top-2 {tops(plates, name, 2):.3f},"
                  f" gap {digits_gap(plates, name):.3f}, over 0.9 and wrong "
                  f"{sure_and_wrong(plates, name):.3f}; dots AUC {auc(dots, struck):.3f}, gap "
                  f"{gap_above_chance(dots, struck):.3f}, sure and wrong "
                  f"{wrong(plates, name):.3f}; strings {held_:.3f} of {listed:.3f}")  # fmt: skip
        for one in plates:
            wrongs = [
                f"{y} as {max(p, key=p.get)} {max(p.values()):.2f}"
                for p, y in zip(one["foreign"]["p"], one["y"], strict=True)
                if max(p, key=p.get) != y and max(p.values()) > 0.7
            ]
            right = [f"{tops([one], name, 1):.2f}" for name in ("given", "foreign")]
            steep = f"slopes {one['gain'][0]:.2f}"
            print("   ", one["wear"], one["face"], one["metal"], steep, *right, wrongs)


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("what", choices=("run", "told"))
    asked.add_argument("files", type=Path, nargs="+")
    asked.add_argument("--seed", type=int, default=9201)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--plates", type=int, default=4)
    asked.add_argument("--counts", type=int, nargs="*", default=COUNTS)
    asked.add_argument("--wears", type=float, nargs="+", default=WEARS)
    asked.add_argument("--faces", nargs="+", help="some of the maker's faces alone, by turns")
    asked.add_argument("--fonts", nargs="*", default=[], help="files of other faces to strike")
    asked.add_argument("--seconds", type=float, default=1e9, help="begin no plate after so long")
    chosen = asked.parse_args()
    eaten_plates._FILES.update({Path(f).stem: (f, 1.0) for f in chosen.fonts})
    if chosen.fonts or chosen.faces:
        eaten_plates.FACES = (*(chosen.faces or ()), *(Path(f).stem for f in chosen.fonts))
    if chosen.what == "run":
        run(chosen)
    else:
        told(chosen.files)


if __name__ == "__main__":
    main()
