"""What is stated of dots where the pits are others than those learnt, by the judge of dots alone.

    python bench/marks_pits.py --seed 91 --plates 6 --kinds usual pinholes

Plates of `eaten_plates.py`, wear 0.6, 0.8 and 0.95 in turn, the true base rate given. *Usual*: pits
as that maker makes them. *Often*: in nine gaps of ten. *Paint*: filled by it, soft and shallower.
*Pinholes*: round holes of one size a plate, as in a bad casting. *None struck*: no dot at all, a
base rate of 0.45 given. Beside each what would be stated without the plate's own pits.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth"), str(ROOT / "bench")]

from marks_learning import pits, places_of  # noqa: E402
from marks_reading import auc, gap_above_chance  # noqa: E402

import eaten_plates as maker  # noqa: E402
from ironlace.marks.reading import dot_features as dots  # noqa: E402
from ironlace.marks.reading.read_marks import plate_look  # noqa: E402
from ironlace.marks.reading.relief_slopes import slopes_from_normals  # noqa: E402
from ironlace.marks.reading.wear import depth_of_place  # noqa: E402
from ironlace.workshop.marks.reading_files import learned  # noqa: E402
from struck_plates import Asked  # noqa: E402

KINDS = ("usual", "often", "paint", "pinholes", "none struck")
WEARS = (0.6, 0.8, 0.95)
USUAL = maker._long_pit


def painted(rng, asked, s):
    return 0.7 * cv2.GaussianBlur(np.pad(USUAL(rng, asked, s), 6), (0, 0), 0.05 / s)


def pinhole(wide: float, deep: float):
    def hole(rng, _asked, s):
        half = int(1.2 * wide / s) + 2
        r = np.hypot(*np.mgrid[-half : half + 1, -half : half + 1]) * s / (wide / 2)
        return (deep * rng.uniform(0.95, 1.05) * np.sqrt(np.clip(1 - r * r, 0, 1))).astype("f4")

    return hole


def one(seed: int, k: int, kind: str):
    """Chances of dots without and with the plate's own pits, and which were struck."""
    rng = np.random.default_rng([seed, k, KINDS.index(kind)])
    hole = pinhole(rng.uniform(0.25, 0.45), rng.uniform(0.04, 0.1))
    base = float(rng.uniform(0.25, 0.65))
    asked = Asked(
        wear=WEARS[k % 3], face=maker.FACES[k % 6], mm_per_px=0.0225, **pits(rng),
        base_rate=0.0 if kind == "none struck" else base,
        pit_in_gap={"often": 0.9, "none struck": 0.5}.get(kind, 0.3),
    )  # fmt: skip
    maker._long_pit = {"paint": painted, "pinholes": hole}.get(kind, USUAL)
    plate = maker.eaten_plate(rng, asked, plate_mm=(34.0, 15.0))
    relief = slopes_from_normals(maker.seen_normals(rng, plate), asked.mm_per_px)
    places = places_of(rng, plate)
    deep = [
        depth_of_place(relief, p.x_px, p.y_px, p.height_px) for p in places if p.kind == "digit"
    ]
    look = plate_look(relief, places, rng, float(np.median(deep)))
    fits = [dots.bowl_fit(relief, p.x_px, p.y_px, look.grain) for p in places if p.kind == "gap"]
    judge = learned()
    sharp = judge.settings["dot_heat"]
    odds = sharp * judge.dot_logs(dots.features(fits, look))
    bare = sharp * judge.dot_logs(dots.features_of_strays(fits, look))
    rate = asked.base_rate or 0.45
    before = np.log(rate / (1 - rate))
    p = [1 / (1 + np.exp(-o - before)) for o in (odds, dots.beside_own_pits(odds, bare))]
    return *p, np.array([g.struck for g in plate.gaps])


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seed", type=int, default=91)
    asked.add_argument("--plates", type=int, default=6)
    asked.add_argument("--kinds", nargs="*", default=KINDS, choices=KINDS)
    given = asked.parse_args()
    for kind in given.kinds:
        found = [one(given.seed, k, kind) for k in range(given.plates)]
        without, own, y = (np.concatenate(part) for part in zip(*found, strict=True))
        for name, p in (("as learnt", without), ("beside own pits", own)):
            print(f"{kind}, {name}: {len(y)} gaps, AUC {auc(p, y):.3f}, gap above chance "
                  f"{gap_above_chance(p, y):.3f}, over 0.9 and none {((p > 0.9) & ~y).mean():.3f}, "
                  f"under 0.05 and struck {((p < 0.05) & y).mean():.3f}, lost "
                  f"{-np.log(np.where(y, p, 1 - p)).mean():.3f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
