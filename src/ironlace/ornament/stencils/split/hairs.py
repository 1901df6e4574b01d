"""Hairs of the sheet that run into an opening, finer than the knife that would cut beside them."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ironlace.evidence.arrays import Ints
from ironlace.ornament.stencils.regions import mitred, overlaid, polygons_of

ROUNDING_MM2: Final = 1e-5
"""Less than so much of a hair or a tail is a matter of rounding: 0.2 microns of its width."""


def without_hairs(
    openings: NDArray[np.object_], hair_mm: float, crumb_mm2: float
) -> tuple[NDArray[np.object_], Ints]:
    """Openings that take in what of the sheet runs into them finer than a hair: it tears off.

    So does a crumb that such a hair held.

    Parameters
    ----------
    openings
        Polygons without holes, (n,).
    hair_mm
        Width of a hair.
    crumb_mm2
        Area of a crumb at most: an opening that would shut in more stays as it was.

    Returns
    -------
    tuple[NDArray[np.object_], Ints]
        Polygons, and the number of the opening that each was, rising.
    """
    shut = mitred(mitred(openings, hair_mm / 2.0), -hair_mm / 2.0)
    hairy = shapely.area(shut) - shapely.area(openings) > ROUNDING_MM2
    out = [[opening] for opening in openings]
    for n in np.flatnonzero(hairy).tolist():
        whole = polygons_of(overlaid(shapely.union, openings[n], shut[n]))
        crumbs = [Polygon(hole).area for part in whole for hole in part.interiors]
        if max(crumbs, default=0.0) < crumb_mm2:
            out[n] = [Polygon(part.exterior) for part in whole]
    parts = np.empty(sum(map(len, out)), dtype=object)
    parts[:] = [part for own in out for part in own]
    return parts, np.repeat(np.arange(len(out)), [len(own) for own in out])
