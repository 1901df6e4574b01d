"""Openings before any bridge stands in them: what stays the same while bridges are moved.

Everything here is worked out of the openings and a bridge's width alone, when it is first asked
for. Whoever plans the same openings again hands the same ground over, and pays for what changed.
"""

from __future__ import annotations

from functools import cached_property
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.bridges.necks import Reaches, cut_through, narrow_places
from ironlace.ornament.stencils.bridges.spans import (
    TILE_CORNERS,
    BridgeSpans,
    bridge_shapes,
    find_spans,
    tiled,
)
from ironlace.ornament.stencils.parts import Shores, shores
from ironlace.ornament.stencils.planning.falling import extents
from ironlace.ornament.stencils.regions import ring_lines
from ironlace.ornament.stencils.remembered import Remembered

_MOST_SHAPES: Final = 40_000
"""Bridges whose shapes are remembered, some 60 MB: twice as many as may be wished for."""


class Ground:
    """Openings that are to be bridged.

    Attributes
    ----------
    openings
        What is cut, mm.
    width_mm
        Width of a bridge.
    barred
        Lines that no bridge may cross, (n, 2, 2), mm; None if there are none.
    """

    def __init__(
        self, openings: MultiPolygon, width_mm: float, *, barred: Floats | None = None
    ) -> None:
        self.openings = openings
        self.width_mm = width_mm
        self.barred = barred
        self._reaches: Reaches | None = None
        self._shapes: dict[bytes, Polygon] = {}

    @cached_property
    def shore(self) -> Shores:
        """Its rings and parts."""
        return shores(self.openings)

    @cached_property
    def extent(self) -> Floats:
        """Longest extent of each island in mm: the diameter of the least circle around it."""
        return extents(self.shore.island_outlines())

    @cached_property
    def spans(self) -> BridgeSpans:
        """Places for bridges."""
        return find_spans(self.openings, self.shore, self.width_mm, barred=self.barred)

    def reaches(self, remembered: Remembered | None = None) -> Reaches:
        """Itself cut through at the necks that the drawing has of its own; worked out once."""
        if self._reaches is None:
            cuts = narrow_places(self.openings, self.width_mm, remembered)
            self._reaches = cut_through(self.openings, cuts)
        return self._reaches

    @cached_property
    def between_reaches(self) -> Ground:
        """What lies between its reaches, to be bridged; none of its bridges goes through a neck."""
        reaches = self.reaches()
        if len(reaches.cuts) == 0:
            return self
        return Ground(reaches.openings, self.width_mm, barred=reaches.cuts)

    @cached_property
    def edges(self) -> tuple[NDArray[np.object_], Ints, shapely.STRtree]:
        """The shores in short lines, the number of each one's ring, and a tree of them."""
        rings = np.asarray([shapely.linearrings(r) for r in self.shore.rings], dtype=object)
        lines, ring = ring_lines(rings)
        return lines, ring, shapely.STRtree(lines)

    @cached_property
    def _pieces(self) -> NDArray[np.object_]:
        return tiled(self.openings, TILE_CORNERS)

    def shapes(self, at_a: Floats, at_b: Floats) -> NDArray[np.object_]:
        """What bridges from a to b, (n, 2) each, add to the sheet."""
        ends = np.concatenate([at_a, at_b], axis=1)
        keys = [row.tobytes() for row in ends]
        new = [n for n, key in enumerate(keys) if key not in self._shapes]
        known = {key: self._shapes[key] for key in keys if key in self._shapes}
        made = bridge_shapes(self.openings, at_a[new], at_b[new], self.width_mm, self._pieces)
        known |= {keys[n]: shape for n, shape in zip(new, made, strict=True)}
        if len(self._shapes) > _MOST_SHAPES:
            self._shapes.clear()
        self._shapes.update(known)
        out = np.empty(len(keys), dtype=object)
        out[:] = [known[key] for key in keys]
        return out
