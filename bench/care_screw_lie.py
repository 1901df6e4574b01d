"""Screws as they come to lie on the card: on their heads, under a lamp, worn, of two threads.

`--cases N --seed S`, N of each kind; meshes painted by `tests/truth/meshed_screws.py`. Nothing is
said of how they lie, and half the diameter for the axis, as the page does by itself.
"""

import argparse
import sys
from collections import defaultdict
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth")]

from ironlace.care.errors import CareError  # noqa: E402
from ironlace.care.screw_photograph import ScrewCase, measure_screw  # noqa: E402
from ironlace.photographs import PhotographsError, StripLayout  # noqa: E402
from meshed_screws import Screw, Shot, photograph  # noqa: E402

NINETY = 1.645
FORMS = (
    (5.0, 0.8, 60.0, "M5"),
    (3.0, 0.5, 60.0, "M3"),
    (4.1656, 25.4 / 32, 60.0, "8-32"),
    (4.7625, 25.4 / 24, 55.0, "3/16 - 24"),
    (3.5052, 25.4 / 40, 60.0, "6-40"),
    (2.5146, 25.4 / 48, 60.0, "3-48"),
)
KINDS = {
    "level": {"level": True},
    "rests": {},
    "rests, wide head": {"wide": 2.1},
    "rests, countersunk": {"wide": 1.9, "head": "countersunk"},
    "rests, domed": {"wide": 1.9, "head": "domed"},
    "rests, camera tilted 12": {"tilt_deg": 12.0},
    "no head": {"head": None},
    "level, one lamp": {"level": True, "shadow": 0.45},
    "rests, one lamp": {"shadow": 0.45},
    "low lamp": {"shadow": 0.7, "soft_mm": 0.1, "lamp": (0.1, -1.0, 0.6)},
    "worn 0.3": {"worn": 0.3},
    "worn 0.45": {"worn": 0.45},
    "dirty roots": {"dirt": 0.4},
    "two threads": {"starts": 2},
    "tapered": {"taper": 0.03},
}


def made(rng, kind):
    """A photograph of this kind, and the form it was cut to."""
    given = dict(KINDS[kind])
    major, pitch, angle, size = FORMS[rng.integers(len(FORMS))]
    wide = given.pop("wide", 1.6) * major
    level = given.pop("level", False)
    screw = {"pitch": pitch, "major": major, "angle": angle, "head_wide": wide}
    screw |= {"length": float(rng.uniform(7 * pitch + 2, 13)), "head_high": 0.6 * major}
    shot = {"distance": float(rng.uniform(200, 380)), "tilt_deg": float(rng.uniform(0, 8))}
    shot |= {"blur_px": float(rng.uniform(0.8, 1.8)), "turn": float(rng.normal(0, 0.06))}
    for name, value in given.items():
        (screw if name in Screw.__dataclass_fields__ else shot)[name] = value
    slopes = 0.0 if level else None
    return photograph(rng, Screw(**screw), Shot(**shot), slopes_deg=slopes), size


def read(taken, rng):
    """What is measured of it, by half the diameter and the camera's distance."""
    worn = 2 * taken.screw.worn * 0.5 * taken.screw.pitch
    caliper = taken.screw.major - worn + rng.normal(0, 0.015)
    case = ScrewCase(
        caliper, taken.screw.major / 2, camera_distance_mm=taken.shot.distance * rng.normal(1, 0.02)
    )
    return measure_screw(taken.image, StripLayout.from_csv(taken.layout_csv), case)


def told(rows):
    """A line of the table."""
    found = [row for row in rows if row is not None]
    if not found:
        return "all refused"
    off, sd, lies, _, reliable, angle, named = (list(one) for one in zip(*found, strict=True))
    off, sd, sure = np.array(off), np.array(sd), np.array(reliable)
    wide = NINETY * sd
    wrong = np.sum(sure & (np.abs(off) > 3 * wide))
    angles = np.array([one for one in angle if one is not None])
    by_angle = "" if not len(angles) else f", angle {len(angles)}, most {np.abs(angles).max():.1f}"
    pitch = f"{100 * np.median(np.abs(off)):.2f} % (most {100 * np.abs(off).max():.2f})"
    return (
        f"refused {len(rows) - len(found)}, sure {sure.sum()}, pitch {pitch}, stated "
        f"{100 * np.median(wide):.2f} %, held {np.mean(np.abs(off) < wide):.2f}, wrong {wrong}, "
        f"lies off by {np.median(lies):.1f} deg{by_angle}, form first {np.mean(named):.2f}"
    )


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--cases", type=int, default=3)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", default="")
    given = asked.parse_args()
    rows = defaultdict(list)
    for number, kind in enumerate(KINDS):
        if given.only and given.only not in kind:
            continue
        for case in range(given.cases):
            rng = np.random.default_rng([given.seed, number, case])
            taken, size = made(rng, kind)
            try:
                found = read(taken, rng)
            except (CareError, PhotographsError):
                rows[kind].append(None)
                continue
            pitch = taken.screw.pitch
            angle = found.angle.angle_deg
            rows[kind].append(
                (
                    found.pitch_mm / pitch - 1,
                    found.pitch_sd_mm / pitch,
                    abs(abs(found.lie.raised_deg) - abs(taken.slopes_deg)),
                    found.lie.told_by,
                    found.reliable,
                    None if angle is None else angle - taken.screw.angle,
                    found.named.forms[0].form.size == size,
                )
            )
        print(f"{kind}: {told(rows[kind])}", flush=True)


if __name__ == "__main__":
    main()
