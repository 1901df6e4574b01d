"""Bands of light across a photograph, as a lamp that flickers with the mains leaves them.

A shutter that runs down takes one row after another, so that a flicker lies across the picture in
bands along its rows (or its columns, where it was held upright). Paper shows them: what is lighter
or darker at the one side of the picture is so at the other side of the same rows. A shadow, a lamp
nearby or work that turns away is not. What changes evenly over the picture is taken off first.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.photographs.place_by_strip import Placing

ACROSS_PX: Final = 6.0
"""Rows looked at together: mains flicker is wider than that in any shutter. A judgement."""
SIDES: Final = 0.4
"""Share of the paper's width that counts as either side. A judgement."""
LEAST_ROWS: Final = 12
"""Such rows with paper at both sides below which nothing is told. A judgement."""
EVENLY: Final = 4
"""Degree of what changes evenly along and across: light falls off over round work so."""
LEAST_LIGHT: Final = 0.02
"""Light of paper, of 1, below which it is as good as black. A judgement."""
ALIKE: Final = 0.3
"""Correlation of both sides from which they are lit alike. A judgement: bands came to 0.4 to 1."""


def light_bands(placing: Placing) -> float:
    """How far light swings in bands: one standard deviation of its logarithm, 0 if it does not.

    Of red, green and blue that which swings most, along rows or columns. The paper's light is taken
    where the strip's markers were found, so that bands between them are not seen.

    Parameters
    ----------
    placing
        Of the photograph, with the light of the paper.
    """
    light = placing.paper_light.astype(np.float64)
    px = placing.to_pixels(placing.paper_points_mm)
    good = np.isfinite(px).all(axis=1) & (light > LEAST_LIGHT).all(axis=1)
    if int(good.sum()) < 2 * LEAST_ROWS:
        return 0.0
    px, stops = px[good], np.log(light[good])
    place = (px - px.mean(axis=0)) / np.maximum(np.ptp(px, axis=0), 1.0)
    powers = [place**k for k in range(1, EVENLY + 1)]
    evenly = np.column_stack([np.ones(len(px)), place.prod(axis=1), *powers])
    left = stops - evenly @ np.linalg.lstsq(evenly, stops, rcond=None)[0]
    return max(_alike(px[:, 1 - way], px[:, way], left) for way in (0, 1))


def _alike(along: Floats, across: Floats, left: Floats) -> float:
    """The swing that both sides share: of rows ``along`` whose places lie ``across``."""
    low, high = float(across.min()), float(across.max())
    rows = ((along - along.min()) / ACROSS_PX).astype(np.int64)
    means = []
    for side in (across < low + SIDES * (high - low), across > high - SIDES * (high - low)):
        count = np.bincount(rows[side], minlength=int(rows.max()) + 1)
        sums = [np.bincount(rows[side], one[side], minlength=len(count)) for one in left.T]
        with np.errstate(invalid="ignore"):
            means.append(np.array(sums) / count)
    both = np.isfinite(means[0][0]) & np.isfinite(means[1][0])
    if int(both.sum()) < LEAST_ROWS:
        return 0.0
    one, other = (mean[:, both] for mean in means)
    shared = (one * other).mean(axis=1)
    whole = np.sqrt((one * one).mean(axis=1) * (other * other).mean(axis=1))
    told = np.where(shared > ALIKE * whole, shared, 0.0)
    return float(np.sqrt(max(told.max(), 0.0)))
