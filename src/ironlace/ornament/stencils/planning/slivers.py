"""Slivers of opening that bridging left on the first sheet: closed, where the sheet bears it.

Between a bridge and the corner of a stroke, or beside a web that was made wider, a bit of opening
may stay that is narrower than comes out clean. The drawing never had it so: it is closed, and what
it would have laid is touched in with the bridge or laid through the further sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Bools
from ironlace.ornament.stencils.facing import nowhere_wide
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.regions import cut_from, mitred, polygons_of
from ironlace.ornament.stencils.remembered import Remembered
from ironlace.ornament.stencils.webs import narrow_openings, thin_webs

_OWN: Final = 0.5
"""Share of a narrow place that the drawing has so itself, from which it is the drawing's: to close
it would take away ornament."""

_HAIR_MM: Final = 1e-3
"""By which a sliver is closed in excess, so that no thread of it stays."""


_CLEAN: Final = 0.96
"""Share of the least opening that an opening must be wide somewhere; what is less is a crumb."""


def without_slivers(
    openings: MultiPolygon,
    drawn: MultiPolygon,
    own: Sequence[Polygon],
    process: Process,
    remembered: Remembered | None = None,
) -> MultiPolygon:
    """Openings without crumbs and narrow places that the drawing did not have.

    Parameters
    ----------
    openings
        Of a sheet that holds, no web of it thin.
    drawn
        What the drawing has.
    own
        Its narrow places: left, and told.
    remembered
        What was found of the same openings before.

    Returns
    -------
    openings
        The same, or with slivers closed; no web of the sheet is thin for it.
    """
    crumb = _crumbs(openings, process)
    if crumb.any():
        parts = np.asarray(shapely.get_parts(openings), dtype=object)
        before = np.asarray(shapely.get_parts(drawn), dtype=object)
        ours = _not_of(parts, [*own, *before[_crumbs(drawn, process)]]) & crumb
        openings = MultiPolygon(list(parts[~ours]))
    slivers = np.array(narrow_openings(openings, process.least_line_mm, remembered), dtype=object)
    made = np.asarray(slivers[_not_of(slivers, own)], dtype=object)
    while len(made):
        shut = shapely.union_all(mitred(made, _HAIR_MM))
        closed = cut_from(openings, polygons_of(shut), remembered)
        # what was closed may now be a web itself, from one part of the opening to the other
        webs = thin_webs(closed, process.least_web_mm, remembered=remembered)
        if not webs:
            return closed
        thin = shapely.union_all([web.shape for web in webs])
        stays = ~shapely.dwithin(made, thin, process.least_web_mm)
        if stays.all():
            return openings
        made = made[stays]
    return openings


def _crumbs(openings: MultiPolygon, process: Process) -> Bools:
    """Which openings are nowhere as wide as comes out clean."""
    parts = np.asarray(shapely.get_parts(openings), dtype=object)
    return nowhere_wide(parts, _CLEAN * process.least_line_mm)


def _not_of(shapes: NDArray[np.object_], own: Sequence[Polygon]) -> Bools:
    """Which shapes do not lie for the greater part in some others."""
    drawn = np.asarray(own, dtype=object)
    shared = np.zeros(len(shapes))
    near, of = shapely.STRtree(drawn).query(shapes, predicate="intersects")
    for n in np.unique(near).tolist():
        # of the few that it meets: with all of them together each takes as long as they are many
        shared[n] = shapes[n].intersection(shapely.union_all(drawn[of[near == n]])).area
    return np.asarray(shared < _OWN * shapely.area(shapes))
