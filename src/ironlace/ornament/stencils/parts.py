"""The parts a sheet falls into when its openings are cut: the sheet itself, and its islands.

Every ring of the openings is the shore of exactly one part, so parts are put together from rings,
without any overlay: no corner moves and none is lost.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Floats, Ints


@dataclass(frozen=True, eq=False)
class Shores:
    """Rings of the openings and the part of the sheet on each one's material side.

    Attributes
    ----------
    rings
        Corners of each ring, (n, 2), first not repeated.
    part
        Part of each ring: 0 is the sheet around the ornament, 1.. are islands.
    opening
        Opening (polygon) each ring belongs to.
    islands
        For islands 1.., the ring that is its outer edge.
    """

    rings: tuple[Floats, ...]
    part: Ints
    opening: Ints
    islands: Ints

    @property
    def parts(self) -> int:
        """How many parts there are, the sheet counted."""
        return len(self.islands) + 1

    def island_shapes(self) -> list[Polygon]:
        """Islands 1.. as polygons, with the openings inside them as holes."""
        own = np.flatnonzero(self.part > 0)
        if len(own) == 0:
            return []
        # the outer edge of each before what lies within it
        inner = self.islands[self.part[own] - 1] != own
        order = np.lexsort((own, inner, self.part[own]))
        island = self.part[own[order]] - 1
        shapes = shapely.polygons(self._loops[own[order]], indices=island)
        return list(np.asarray(shapes, dtype=object))

    @cached_property
    def _loops(self) -> NDArray[np.object_]:
        """All rings; made at once, since one by one they take ten times as long."""
        of = np.repeat(np.arange(len(self.rings)), [len(ring) for ring in self.rings])
        return np.asarray(shapely.linearrings(np.concatenate(self.rings), indices=of))

    @cached_property
    def outlines(self) -> NDArray[np.object_]:
        """Islands 1.. as polygons without their holes."""
        if len(self.islands) == 0:
            return np.empty(0, dtype=object)
        return np.asarray(shapely.polygons(self._loops[self.islands]), dtype=object)


def shores(openings: MultiPolygon) -> Shores:
    """Tell which part of the sheet every ring of the openings borders on.

    >>> from shapely import Point
    >>> ring = Point(0, 0).buffer(10).difference(Point(0, 0).buffer(5))
    >>> shores(MultiPolygon([ring, Point(0, 0).buffer(2)])).part.tolist()
    [0, 1, 1]
    """
    parts = shapely.get_parts(openings)
    loops, opening = shapely.get_rings(parts, return_index=True)
    xy, of = shapely.get_coordinates(loops, return_index=True)
    last = np.flatnonzero(np.diff(of, append=-1) != 0)
    rings = np.split(np.delete(xy, last, axis=0), (last - np.arange(len(last)))[:-1])
    shell = np.diff(opening, prepend=-1) != 0
    order = np.concatenate([np.flatnonzero(shell), np.flatnonzero(~shell)])
    shells = len(parts)
    hole_opening = opening[~shell]
    shell_part = np.zeros(shells, dtype=np.int64)
    if len(hole_opening):
        outlines = np.asarray(shapely.polygons(loops[~shell]), dtype=object)
        area = shapely.area(outlines)
        probes = shapely.point_on_surface(parts)
        least = np.full(shells, np.inf)
        for i, j in shapely.STRtree(outlines).query(probes, predicate="within").T:
            # the shell lies in the hole, not the hole in the shell
            if hole_opening[j] != i and area[j] < least[i]:
                least[i], shell_part[i] = area[j], j + 1
    return Shores(
        tuple(rings[n] for n in order.tolist()),
        np.concatenate([shell_part, np.arange(1, len(hole_opening) + 1)]),
        opening[order].astype(np.int64),
        np.arange(shells, len(order), dtype=np.int64),
    )
