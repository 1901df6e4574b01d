"""Whether what mirrors the torch stands free on the plate, told by the far end of its shadow.

A polished rivet, boss or screw is part of a sphere, too, and the torch's highlight moves on it as
on a ball; but where its rise is less than its radius the place of the highlight tells the torch
wrong, by ten degrees for a rivet half as high as wide, and nothing in the disc itself shows it. A
ball stands twice its radius above the plate. Of the shadow that the torch told by it would throw,
the part is looked at that no dome can darken, however high: what lies beyond the shadow of half a
ball. It is dark or it is not.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.capture.fellow_balls import Spots, moving_spots
from ironlace.marks.capture.frames import Grey
from ironlace.marks.capture.outlines import Circle

REACH = 5.0
"""Radii to each side within which a shadow is looked for: of a torch 25 degrees high it is whole,
of a lower one the nearer part is looked at."""
FINE = 10.0
"""Places across a ball's radius that are looked at; more tell no more."""
INSIDE = 0.85
"""Share of the shadow's half width that is taken for it, for a highlight is found to a pixel."""
OUTSIDE = 1.1
"""The same of what must lie beyond the shadow of half a ball."""
FOOT = 1.2
"""Radii within which the plate is not looked at: the disc's own blur and its foot."""
RISES = (0.12, 0.93)
"""Sine of the torch's height between which a shadow is looked at: of a lower one the highlight lies
at the rim, of a higher one no more than the foot is dark."""
FEWEST = 12
"""Places that tell a shadow's light."""
PICTURES = 2
"""Photographs that must tell of it: of one another thing's shadow may lie there."""
DARK = 0.15
"""Logarithm of the numbers by which a shadow must be darker than what lies about, in the middle one
of the photographs; of light that is a third, for numbers follow its root."""
BRIGHT = 0.08
"""Under which nothing is in shadow there: of domes and fittings it is 0.05 at most, of balls in a
room half again as bright as the torch still 0.15. Between both nothing is proved."""


def stands_free(pictures: Sequence[Grey], circle: Circle) -> bool | None:
    """Whether a disc throws the shadow that the torch mirrored in it throws of a ball.

    None where nothing tells: no torch is mirrored in it, its shadow lies outside the pictures, or
    the room is so bright that a shadow hardly shows.

    Where most highlights lie so far out that the torch would stand under seven degrees high, the
    disc is no ball: a low dome's highlight runs to its rim.
    """
    spots = moving_spots(pictures, circle)
    if spots is None or not spots.small.any():
        return None
    low = (1 - 2 * (spots.places[spots.small] ** 2).sum(1)) < RISES[0]
    if np.count_nonzero(low) > max(len(low) / 2, PICTURES - 1):
        return False  # a mirrored torch that lies below the plate, or lights no more of it
    depth = shadow_depth(pictures, circle, spots)
    return None if depth is None or BRIGHT < depth <= DARK else depth > DARK


def shadow_depth(pictures: Sequence[Grey], circle: Circle, spots: Spots) -> float | None:
    """By how much the far end of a ball's shadow is darker, as `DARK`; None where it is not seen.

    Parameters
    ----------
    spots
        Where the torch is mirrored in each of the pictures.
    """
    rows, columns = pictures[0].shape
    step = max(int(circle.r / FINE), 1)
    reach = int(REACH * circle.r)
    y = np.arange(max(int(circle.y) - reach, 0), min(int(circle.y) + reach + 1, rows), step)
    x = np.arange(max(int(circle.x) - reach, 0), min(int(circle.x) + reach + 1, columns), step)
    u, v = (x[None, :] - circle.x) / circle.r, (y[:, None] - circle.y) / circle.r
    seen = np.stack([one[y[:, None], x[None, :]] for one in pictures]).astype(np.float32)
    numbers = np.log(seen + max(0.01 * float(seen.max()), 1.0))
    numbers -= np.median(numbers, axis=0)  # paint and rust stay, a shadow moves
    plate = np.hypot(u, v) > FOOT
    depths = []
    for place, small, light in zip(spots.places, spots.small, numbers, strict=True):
        flat = float(place @ place)
        up = 1 - 2 * flat  # of the torch, by the law of mirrors
        if not small or not RISES[0] < up < RISES[1]:
            continue
        across = 2 * np.sqrt(1 - flat) * place
        ball = _dark(u, v, across, up, 1.0)
        far = (ball < INSIDE) & (_dark(u, v, across, up, 0.0) > OUTSIDE) & plate
        lit = (ball > OUTSIDE) & plate
        if min(np.count_nonzero(far), np.count_nonzero(lit)) >= FEWEST:
            depths.append(float(np.median(light[lit]) - np.median(light[far])))
    return float(np.median(depths)) if len(depths) >= PICTURES else None


def _dark(
    u: NDArray[np.float64],
    v: NDArray[np.float64],
    across: NDArray[np.float64],
    up: float,
    height: float,
) -> NDArray[np.float64]:
    """How near to a ball's middle, so high above the plate, the ways from places to the torch pass.

    All in radii; infinite where the ball lies behind.
    """
    along = height * up - u * across[0] - v * across[1]
    miss = np.sqrt(np.maximum(u**2 + v**2 + height**2 - along**2, 0))
    return np.asarray(np.where(along > 0, miss, np.inf))
