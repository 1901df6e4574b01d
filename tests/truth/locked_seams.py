"""Both sides of a lockstitch of which the lock's depth is known at every entry, painted.

Nothing here is shared with the measuring: the cloth is noise woven of two waves, a stitch is a
capsule with slanting plies, a hole is a dark blot, and a lock that lies above or below the cloth
leaves a patch of the other thread whose size grows with how far it is drawn out.

Families: `beads` (round patches in the hole) was looked at while the measuring was made; `saddles`
(a crescent over the hole, askew, soft, in its own shadow, colours other than red and blue) is held
back.
"""

import itertools
from dataclasses import dataclass

import cv2
import numpy as np

FAMILIES = ("beads", "saddles")
_PAIRS = {
    "beads": [((176, 42, 48), (44, 78, 160), (226, 220, 206))],
    "saddles": [
        ((60, 120, 62), (190, 96, 30), (232, 228, 222)),
        ((122, 44, 120), (206, 160, 40), (206, 212, 216)),
        ((30, 52, 110), (214, 74, 66), (190, 186, 176)),
    ],
}


@dataclass
class Locked:
    """One seam, its two pictures (sRGB) and the lock's depth at each entry, 0 above and 1 below."""

    upper: np.ndarray
    under: np.ndarray
    depth: np.ndarray
    dpi: float
    lock: float
    scatter: float


def locked(family, rng, lock, scatter, *, dpi=600.0, long_mm=75.0):
    k = dpi / 25.4
    needle, bobbin, cloth = _PAIRS[family][rng.integers(len(_PAIRS[family]))]
    length = rng.uniform(2.0, 3.0)
    holes = np.arange(3.0, long_mm - 3.0, length)
    holes = holes + rng.normal(0.0, 0.03 * length, len(holes))
    depth = rng.normal(lock, scatter, len(holes))
    pictures = []
    for own, other, out in ((needle, bobbin, -depth), (bobbin, needle, depth - 1.0)):
        pictures.append(_side(family, rng, k, long_mm, holes, own, other, cloth, out))
    return Locked(pictures[0], pictures[1], depth, dpi, lock, scatter)


def _side(family, rng, k, long_mm, holes, own, other, cloth, out):
    high, wide = round(9.0 * k), round(long_mm * k)
    rows, columns = np.mgrid[0:high, 0:wide] / k
    weave = 9.0 * np.sin(rows * 17.0 + 0.6 * np.sin(columns * 3.0)) + 9.0 * np.sin(columns * 16.0)
    paint = np.asarray(cloth, float) + weave[..., None] + rng.normal(0.0, 5.0, (high, wide, 1))
    middle = 4.5
    half = rng.uniform(0.14, 0.18)
    for a, b in itertools.pairwise(holes):
        along = np.clip(columns, a + 0.12, b - 0.12)
        far = np.hypot(columns - along, rows - middle) / half
        ply = 1.0 + 0.18 * np.sin(2.0 * np.pi * (columns - 1.6 * (rows - middle)) / 0.42)
        round_ = np.sqrt(np.clip(1.0 - far**2, 0.0, 1.0))
        lit = (0.55 + 0.45 * round_) * ply
        on = (far < 1.0)[..., None]
        paint = np.where(on, np.asarray(own, float) * lit[..., None], paint)
    for at, by in zip(holes, out, strict=True):
        far = np.hypot((columns - at) / 0.13, (rows - middle) / 0.14)
        paint *= (1.0 - 0.8 * np.exp(-0.5 * far**4))[..., None]
        if by > 0.0:
            paint = _patch(family, rng, paint, columns, rows, at, middle, by, other)
    soft = 0.05 * k if family == "saddles" else 0.03 * k
    paint = cv2.GaussianBlur(paint, (0, 0), soft)
    return np.uint8(np.clip(paint + rng.normal(0.0, 2.0, paint.shape), 0, 255))


def _patch(family, rng, paint, columns, rows, at, middle, by, other):
    """Paint what shows of the other thread where it is drawn out by so many thicknesses."""
    size = 0.12 + min(0.5 * by, 0.3)
    x, y = columns - at, rows - middle
    if family == "beads":
        far = np.hypot(x / size, y / (0.8 * size))
        lit = 0.7 + 0.3 * np.sqrt(np.clip(1.0 - far**2, 0.0, 1.0))
        return np.where((far < 1.0)[..., None], np.asarray(other, float) * lit[..., None], paint)
    lean = rng.uniform(-0.6, 0.6)
    u, v = x * np.cos(lean) + y * np.sin(lean), y * np.cos(lean) - x * np.sin(lean)
    bent = u - 0.5 * v**2 / size
    far = np.hypot(bent / (0.75 * size), v / (1.25 * size))
    cover = np.clip((1.15 - far) / 0.3, 0.0, 1.0)[..., None]
    lit = (0.5 + 0.5 * np.sqrt(np.clip(1.0 - far**2, 0.0, 1.0)))[..., None]
    return paint * (1.0 - cover) + np.asarray(other, float) * lit * cover
