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
        inner: dict[int, list[Floats]] = {}
        for ring, part in enumerate(self.part):
            if part > 0 and self.islands[part - 1] != ring:
                inner.setdefault(int(part), []).append(self.rings[ring])
        return [
            Polygon(self.rings[ring], inner.get(n, []))
            for n, ring in enumerate(self.islands, start=1)
        ]

    @cached_property
    def outlines(self) -> NDArray[np.object_]:
        """Islands 1.. as polygons without their holes."""
        out = np.empty(len(self.islands), dtype=object)
        out[:] = [Polygon(self.rings[r]) for r in self.islands]
        return out


def shores(openings: MultiPolygon) -> Shores:
    """Tell which part of the sheet every ring of the openings borders on.

    >>> from shapely import Point
    >>> ring = Point(0, 0).buffer(10).difference(Point(0, 0).buffer(5))
    >>> shores(MultiPolygon([ring, Point(0, 0).buffer(2)])).part.tolist()
    [0, 1, 1]
    """
    shells: list[Floats] = []
    holes: list[Floats] = []
    shell_opening: list[int] = []
    hole_opening: list[int] = []
    for n, opening in enumerate(openings.geoms):
        shells.append(_corners(opening.exterior))
        shell_opening.append(n)
        for hole in opening.interiors:
            holes.append(_corners(hole))
            hole_opening.append(n)
    shell_part = np.zeros(len(shells), dtype=np.int64)
    if holes:
        outlines = np.empty(len(holes), dtype=object)
        outlines[:] = [Polygon(h) for h in holes]
        area = shapely.area(outlines)
        probes = shapely.point_on_surface(shapely.get_parts(openings))
        least = np.full(len(shells), np.inf)
        for i, j in shapely.STRtree(outlines).query(probes, predicate="within").T:
            # the shell lies in the hole, not the hole in the shell
            if hole_opening[j] != i and area[j] < least[i]:
                least[i], shell_part[i] = area[j], j + 1
    return Shores(
        tuple(shells + holes),
        np.concatenate([shell_part, np.arange(1, len(holes) + 1)]),
        np.array(shell_opening + hole_opening, dtype=np.int64),
        np.arange(len(shells), len(shells) + len(holes), dtype=np.int64),
    )


def _corners(ring: shapely.LinearRing) -> Floats:
    return np.asarray(shapely.get_coordinates(ring)[:-1], np.float64)
