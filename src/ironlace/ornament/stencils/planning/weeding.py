"""The order in which a stuck-down mask is weeded: which part is pulled out when."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from ironlace.evidence.arrays import Ints

_BAND_MM: Final = 20.0
"""Height of a band that is weeded from left to right before the hand moves down: what a resting
hand leaves free (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Weeded:
    """One part pulled out of a mask.

    Attributes
    ----------
    number
        In order.
    where_mm
        A point in the part to put the point of the blade to.
    area_mm2
        Of the part.
    islands
        Pieces that it surrounds, which stay on their carrier.
    """

    number: int
    where_mm: tuple[float, float]
    area_mm2: float
    islands: int


def weeding_order(openings: MultiPolygon) -> tuple[Weeded, ...]:
    """Parts of a mask in the order in which they are pulled out.

    From the far edge to the near one in bands, so that the hand never lies on what is weeded;
    within a band from left to right, and a part before the larger one around it, while that still
    holds its surroundings down (common practice, no source).
    """
    parts = shapely.get_parts(openings)
    if len(parts) == 0:
        return ()
    at = shapely.get_coordinates(shapely.point_on_surface(parts))
    left, top, _, _ = shapely.bounds(parts).T
    band = np.floor((top - top.min()) / _BAND_MM)
    area = np.asarray(shapely.area(parts))
    islands = np.asarray(shapely.get_num_interior_rings(parts))
    whole = np.asarray(shapely.polygons(shapely.get_exterior_ring(parts)), dtype=object)
    within, around = shapely.STRtree(whole).query(shapely.points(at), predicate="within")
    depth = np.bincount(within[within != around], minlength=len(parts))
    # what lies within another part goes with the band of that part, before it
    band = _of_the_outermost(band, depth, within, around)
    order = np.lexsort((left, -depth, band))
    return tuple(
        Weeded(
            n + 1,
            (float(at[k, 0]), float(at[k, 1])),
            float(area[k]),
            int(islands[k]),
        )
        for n, k in enumerate(order.tolist())
    )


def _of_the_outermost(
    band: NDArray[np.float64], depth: Ints, within: Ints, around: Ints
) -> NDArray[np.float64]:
    out = band.copy()
    outermost = depth[around] == 0
    out[within[outermost]] = band[around[outermost]]
    return out
