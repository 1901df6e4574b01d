"""Openings before any bridge stands in them: what stays the same while bridges are moved.

Everything here is worked out of the openings and a bridge's width alone, when it is first asked
for. Whoever plans the same openings again hands the same ground over, and pays for what changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.bridges.necks import Reaches, cut_through, narrow_places
from ironlace.ornament.stencils.bridges.shore_cut import (
    TOUCH_MM,
    BridgeCut,
    Coast,
    Fields,
    bridge_cuts,
    openings_without,
)
from ironlace.ornament.stencils.bridges.spans import BridgeSpans, find_spans, strips
from ironlace.ornament.stencils.parts import Shores, shores
from ironlace.ornament.stencils.planning.falling import Falling, extents
from ironlace.ornament.stencils.regions import grouped_numbers
from ironlace.ornament.stencils.remembered import Remembered

_MOST_CUTS: Final = 40_000
"""Bridges whose cuts are remembered, some 60 MB: twice as many as may be wished for."""


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
    known
        What fell out of nearly the same openings: its islands' extents are taken over.
    snapped
        What was found of lines that bridges were wished along, by their ends' bytes.
    """

    def __init__(
        self,
        openings: MultiPolygon,
        width_mm: float,
        *,
        barred: Floats | None = None,
        known: Falling | None = None,
    ) -> None:
        self.openings = openings
        self.width_mm = width_mm
        self.barred = barred
        self.known = known
        self._reaches: Reaches | None = None
        self.snapped: dict[bytes, tuple[Floats, Ints, np.bool_]] = {}
        self._cuts: dict[bytes, BridgeCut] = {}
        self._fields: Fields = {}

    @cached_property
    def shore(self) -> Shores:
        """Its rings and parts."""
        return shores(self.openings)

    @cached_property
    def extent(self) -> Floats:
        """Longest extent of each island in mm: the diameter of the least circle around it."""
        return extents(self.shore.outlines, self.known)

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
    def coast(self) -> Coast:
        """The shores edge by edge."""
        return Coast(self.shore)

    def shapes(self, at_a: Floats, at_b: Floats) -> NDArray[np.object_]:
        """What bridges from a to b, (n, 2) each, add to the sheet, each by itself."""
        out = np.empty(len(at_a), dtype=object)
        if len(at_a):
            rows = np.split(_rows(at_a, at_b), len(at_a))
            out[:] = [cut.shape for cut in self._cut(rows)]
        return out

    def without(
        self, at_a: Floats, at_b: Floats, remembered: Remembered | None = None
    ) -> MultiPolygon:
        """The openings less bridges from a to b, (n, 2) each; those that touch are cut as one."""
        if len(at_a) == 0:
            return self.openings
        rows = _rows(at_a, at_b)
        areas = self._areas(rows)
        near = shapely.STRtree(areas).query(areas, predicate="dwithin", distance=TOUCH_MM)
        groups = [rows[group] for group in grouped_numbers(len(areas), *near)]
        left, self._fields = openings_without(
            self.openings, self.coast, self._cut(groups), self._fields
        )
        return (remembered or Remembered()).region(left)

    def _areas(self, rows: Floats) -> NDArray[np.object_]:
        return strips(rows[:, :2], rows[:, 2:], self.width_mm, self.width_mm / 2.0)

    def _cut(self, groups: Sequence[Floats]) -> list[BridgeCut]:
        """What bridges take: one (1, 4) alone, or several (n, 4) that touch."""
        # of one group, whatever the order they are told in
        groups = [group[np.lexsort(group.T)] for group in groups]
        keys = [group.tobytes() for group in groups]
        known = {key: self._cuts[key] for key in keys if key in self._cuts}
        new = {key: group for key, group in zip(keys, groups, strict=True) if key not in known}
        if not new:
            return [known[key] for key in keys]
        every = self._areas(np.concatenate(list(new.values())))
        own = np.split(every, np.cumsum([len(group) for group in new.values()])[:-1])
        areas = np.empty(len(new), dtype=object)
        areas[:] = [some[0] if len(some) == 1 else shapely.union_all(some) for some in own]
        middles = [(group[:, :2] + group[:, 2:]) / 2.0 for group in new.values()]
        known |= zip(new, bridge_cuts(self.coast, areas, middles), strict=True)
        # never changed in place: two threads may ask at once
        rest = {} if len(self._cuts) > _MOST_CUTS else self._cuts
        self._cuts = {**rest, **known}
        return [known[key] for key in keys]


def _rows(at_a: Floats, at_b: Floats) -> Floats:
    return np.ascontiguousarray(np.concatenate([at_a, at_b], axis=1))
