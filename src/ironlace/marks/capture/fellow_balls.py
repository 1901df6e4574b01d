"""The second ball, sought by the first: of its size, and mirroring the torch where it does.

Balls are bought in pairs. What one looks like tells what the other must: an outline of the same
radius, and in each photograph the torch at nearly the same place of it, for it stood farther off
than the balls lie apart. By that a small ball is told whose outline is seen too roughly to pass
alone, or on which a lamp or the plate itself shines brighter than the torch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.marks.capture.frames import Grey
from ironlace.marks.capture.middles import middle_picture
from ironlace.marks.capture.outlines import Circle

ALIKE = 0.05
"""Logarithm by which radii of two balls of one size may differ in a picture."""
AGREE = 0.1
"""Of a radius by which the torch's places on two balls side by side may differ: a highlight is
found to some pixel, a twentieth of a ball of 20 px."""
AGREE_FAR = 0.2
"""So much more where they lie at opposite corners: a torch one and a half plates off is then seen
40 degrees apart, of which a mirror's normal takes half, a third of a radius at the worst and
half as much at the median."""
SMALL_SHARE = 0.1
"""Of a disc that a mirrored torch may take, at half its height. On balls it takes 0.002 to 0.04."""
FINE_PX = 100.0
"""Radius to which larger discs are made smaller before their light is followed."""
FEWEST = 4
"""Photographs below which two places that agree may agree by chance."""


@dataclass(frozen=True)
class Spots:
    """What moved most on a disc.

    Attributes
    ----------
    places
        n x 2, for each photograph where it shone brightest, in radii from the disc's middle.
    small
        n, whether it took as little of the disc as a mirrored torch does.
    """

    places: NDArray[np.float64]
    small: NDArray[np.bool_]


def moving_spots(pictures: Sequence[Grey], circle: Circle) -> Spots | None:
    """Where on a disc the light moves, with all taken out that stays: lamps, windows, paint.

    None where the disc does not lie within the pictures.
    """
    reach = 0.92 * circle.r
    rows, columns = pictures[0].shape
    top, left = max(int(circle.y - reach), 0), max(int(circle.x - reach), 0)
    bottom, right = min(int(circle.y + reach) + 2, rows), min(int(circle.x + reach) + 2, columns)
    if bottom - top < 4 or right - left < 4:
        return None
    size, by = _made_smaller((bottom - top, right - left), circle.r)
    v, u = np.ogrid[: size[0], : size[1]]
    u, v = (u + 0.5) * by[1] - 0.5 + left - circle.x, (v + 0.5) * by[0] - 0.5 + top - circle.y
    inside = np.hypot(u, v) < 0.9 * circle.r
    if not inside.any():
        return None
    blur = max(circle.r / max(by) / 60, 1.0)
    seen = np.empty((len(pictures), *size), np.float32)
    for n, one in enumerate(pictures):
        window = cv2.resize(one[top:bottom, left:right], size[::-1], interpolation=cv2.INTER_AREA)
        cv2.GaussianBlur(window.astype(np.float32), (0, 0), blur, dst=seen[n])
    seen -= middle_picture(seen)
    seen[:, ~inside] = -np.inf
    flat = seen.reshape(len(pictures), -1)
    best = flat.argmax(1)
    peak = flat[np.arange(len(pictures)), best]
    share = np.count_nonzero(flat > 0.5 * peak[:, None], axis=1) / inside.sum()
    row, column = np.unravel_index(best, inside.shape)
    places = np.stack([u[0, column], v[row, 0]], 1) / circle.r
    return Spots(places, (share < SMALL_SHARE) & (peak > 8))


def _made_smaller(shape: tuple[int, int], r: float) -> tuple[tuple[int, int], tuple[float, float]]:
    """Rows and columns of a disc's window where it is followed, and how many pixels each takes."""
    by = max(r / FINE_PX, 1.0)
    rows, columns = (max(round(one / by), 1) for one in shape)
    return (rows, columns), (shape[0] / rows, shape[1] / columns)


def agree(one: Spots, other: Spots, apart: float) -> bool:
    """Whether two discs mirror one torch.

    Parameters
    ----------
    apart
        How far apart they lie, as a share of the picture's diagonal.
    """
    both = one.small & other.small
    count = len(both)
    if count < FEWEST or both.sum() < max(FEWEST, 0.6 * count):
        return False
    off = np.hypot(*(one.places - other.places)[both].T)
    moves = one.places[both].std(0).max() > AGREE
    return bool(moves and np.median(off) < AGREE + AGREE_FAR * apart)
