"""Hairs of the sheet that run into an opening, finer than the knife that would cut beside them."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ironlace.ornament.stencils.regions import mitred, overlaid, polygons_of

ROUNDING_MM2: Final = 1e-5
"""Less than so much of a hair or a tail is a matter of rounding: 0.2 microns of its width."""


def without_hairs(
    openings: NDArray[np.object_], hair_mm: float, crumb_mm2: float
) -> NDArray[np.object_]:
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
    NDArray[np.object_]
        Polygons, those without hairs first.
    """
    shut = mitred(mitred(openings, hair_mm / 2.0), -hair_mm / 2.0)
    hairy = shapely.area(shut) - shapely.area(openings) > ROUNDING_MM2
    out = [*openings[~hairy]]
    for opening, over in zip(openings[hairy], shut[hairy], strict=True):
        whole = polygons_of(overlaid(shapely.union, opening, over))
        crumbs = [Polygon(hole).area for part in whole for hole in part.interiors]
        small = max(crumbs, default=0.0) < crumb_mm2
        out += [Polygon(part.exterior) for part in whole] if small else [opening]
    return np.asarray(out, dtype=object)
