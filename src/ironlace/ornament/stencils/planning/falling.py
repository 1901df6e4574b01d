"""What falls out of a sheet, and what is too weak to stay: told before anything is mended."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Floats
from ironlace.ornament.stencils.errors import StencilError
from ironlace.ornament.stencils.parts import shores
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.regions import as_region
from ironlace.ornament.stencils.webs import (
    Tongue,
    Web,
    long_tongues,
    narrow_openings,
    thin_webs,
)


@dataclass(frozen=True, eq=False)
class Falling:
    """What is wrong with a sheet cut as drawn.

    Attributes
    ----------
    islands
        What falls out, largest first.
    webs
        Webs under the least width: crowded gaps between openings.
    tongues
        Tongues over the longest length.
    narrow
        Openings, or places in them, under the least width.
    euler
        Components less holes of the openings; checked against the parts of the sheet.
    """

    islands: tuple[Polygon, ...]
    webs: tuple[Web, ...]
    tongues: tuple[Tongue, ...]
    narrow: tuple[Polygon, ...]
    euler: int

    @cached_property
    def extents(self) -> Floats:
        """Longest extent of each island in mm, (n,)."""
        return extents(np.array(self.islands, dtype=object))


def what_falls_out(openings: MultiPolygon, process: Process) -> Falling:
    """Find islands, thin webs, long tongues and narrow openings."""
    shore = shores(openings)
    islands = sorted(shore.island_shapes(), key=lambda p: -p.area)
    return Falling(
        tuple(islands),
        tuple(thin_webs(openings, process.least_web_mm)),
        tuple(long_tongues(openings, process.longest_tongue_mm)),
        tuple(narrow_openings(openings, process.least_line_mm)),
        checked_euler(openings, len(islands)),
    )


def checked_euler(openings: MultiPolygon, islands: int) -> int:
    """Euler number of the openings, and a check that it fits the islands found.

    A sheet is a disc of Euler number 1. Openings lie inside it, so the sheet's components less
    its holes are 1 less the openings' Euler number (the characteristic is additive; Hadwiger 1957).

    Raises
    ------
    StencilError
        If islands and openings do not add up: the geometry is not what it seems.
    """
    pieces = len(openings.geoms)
    holes = int(shapely.get_num_interior_rings(shapely.get_parts(openings)).sum())
    euler = pieces - holes
    # the sheet: its parts are 1 + islands, and every opening is a hole of some part
    if (1 + islands) - pieces != 1 - euler:
        raise StencilError(
            f"{islands} islands do not fit {pieces} openings with {holes} holes: the drawing's "
            "outlines touch or cross; clean them up."
        )
    return euler


def without_small_islands(
    openings: MultiPolygon, least_mm2: float
) -> tuple[MultiPolygon, list[Polygon]]:
    """Openings without islands too small to hold, and those islands, to be painted back by hand."""
    gone: list[Polygon] = []
    out = []
    for opening in openings.geoms:
        holes = [Polygon(h) for h in opening.interiors]
        small = [h for h in holes if h.area < least_mm2]
        gone += small
        out.append(
            opening
            if not small
            else Polygon(opening.exterior, [h.exterior for h in holes if h.area >= least_mm2])
        )
    if not gone:
        return openings, []
    # an opening inside a hole that is now filled is part of the opening around it
    return as_region(shapely.union_all(out)), gone


def extents(islands: NDArray[np.object_], known: Falling | None = None) -> Floats:
    """Longest extent of each island in mm: the diameter of the least circle around it.

    Those with the outline of one that is ``known`` are taken from there.
    """
    out = np.full(len(islands), np.nan)
    if known is not None:
        before = np.array(known.islands, dtype=object)
        told = dict(zip(_outlines(before), known.extents.tolist(), strict=True))
        out[:] = [told.get(outline, np.nan) for outline in _outlines(islands)]
    new = np.isnan(out)
    out[new] = 2.0 * shapely.minimum_bounding_radius(islands[new])
    return out


def _outlines(islands: NDArray[np.object_]) -> list[bytes]:
    """What tells outlines apart to the last bit, wherever they begin."""
    outlines = shapely.polygons(shapely.get_exterior_ring(islands))
    return list(shapely.to_wkb(shapely.normalize(outlines)))
