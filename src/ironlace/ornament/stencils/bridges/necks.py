"""Reaches of the sheet that hang on one narrow place, and the bridges that hold them once more.

A drawing has necks of its own: two strokes that end near each other leave a field between them
hanging in a gap no wider than a bridge. Such a neck holds no more than a bridge does. So the sheet
is cut through at every place that narrow; what is left are its reaches, joined by necks and
bridges, and where one of these alone holds more than a single bridge may, a further bridge is built
(bridges of a graph: Tarjan 1974).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import MultiPolygon

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.bridges.choice import linked_groups, single_links
from ironlace.ornament.stencils.bridges.spans import BridgeSpans
from ironlace.ornament.stencils.parts import Shores, shores
from ironlace.ornament.stencils.regions import as_region, straight_lines
from ironlace.ornament.stencils.remembered import Remembered
from ironlace.ornament.stencils.webs import Web, thin_webs

NARROW: Final = 1.12
"""A place up to so many widths of a bridge counts as no wider than one: corners at a bridge's foot
and a drawing's bows make it so much wider (tuned)."""

_CUT_MM: Final = 0.01
"""Width of the cut through a place; far below anything that is drawn."""

_BEYOND_MM: Final = 0.03
"""How far a cut runs on into the openings: what was thinned out before the place was found."""

_PROBE_MM: Final = 0.03
"""How far from a cut it is asked which reach lies there."""


@dataclass(frozen=True, eq=False)
class Reaches:
    """A sheet cut through at its narrow places, and how its parts hang together.

    Attributes
    ----------
    openings
        With the cuts, mm.
    shore
        Its parts are the reaches; part 0 is the sheet around.
    cuts
        Necks from shore to shore, and the middle lines of bridges, (n, 2, 2), mm.
    sides
        Reaches that each of them joins, (n, 2).
    """

    openings: MultiPolygon
    shore: Shores
    cuts: Floats
    sides: Ints

    def joined(self, lines: Floats, sides: Ints) -> Reaches:
        """With bridges (n, 2, 2) between parts (n, 2), each as narrow as a neck."""
        return Reaches(
            self.openings,
            self.shore,
            np.concatenate([self.cuts, lines]),
            np.concatenate([self.sides, sides]),
        )


@dataclass(frozen=True, eq=False)
class Hanging:
    """What hangs on one cut.

    Attributes
    ----------
    cut
        Number of the cut.
    parts
        Reaches that would fall, rising.
    extent_mm
        Diameter of the least circle around them.
    """

    cut: int
    parts: Ints
    extent_mm: float


def narrow_places(
    openings: MultiPolygon, width_mm: float, remembered: Remembered | None = None
) -> Floats:
    """Places no wider than a bridge that join two reaches, from shore to shore, (n, 2, 2), mm."""
    webs = thin_webs(openings, NARROW * width_mm, remembered=remembered)
    found = [rung for web in webs for rung in _narrowest(web)]
    return np.array(found, np.float64).reshape(-1, 2, 2)


def _narrowest(web: Web) -> Iterable[Floats]:
    """The shortest crossing of a web between any two of its shores."""
    gap = np.linalg.norm(web.rungs[:, 1] - web.rungs[:, 0], axis=1)
    sides = np.sort(web.sides, axis=1)
    for pair in np.unique(sides, axis=0):
        own = np.flatnonzero((sides == pair).all(axis=1))
        yield web.rungs[own[gap[own].argmin()]]


def cut_through(openings: MultiPolygon, cuts: Floats) -> Reaches:
    """The sheet around openings cut through from shore to shore."""
    if len(cuts) == 0:
        return Reaches(openings, shores(openings), cuts, np.zeros((0, 2), dtype=np.int64))
    along = cuts[:, 1] - cuts[:, 0]
    along = along / np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    ends = (cuts[:, 0] - _BEYOND_MM * along, cuts[:, 1] + _BEYOND_MM * along)
    lines = straight_lines(*ends)
    slits = np.asarray(shapely.buffer(lines, _CUT_MM / 2.0, cap_style="flat"), dtype=object)
    cut = as_region(shapely.union_all([*openings.geoms, *slits]))
    shore = shores(cut)
    middle, across = cuts.mean(axis=1), np.stack([-along[:, 1], along[:, 0]], axis=1)
    probes = np.stack([middle - _PROBE_MM * across, middle + _PROBE_MM * across], axis=1)
    part = np.zeros(2 * len(cuts), dtype=np.int64)
    islands = shore.island_shapes()
    which, island = shapely.STRtree(islands).query(
        shapely.points(probes.reshape(-1, 2)), predicate="within"
    )
    part[which] = island + 1
    return Reaches(cut, shore, cuts, part.reshape(-1, 2))


def hanging_on_one(reaches: Reaches, hold_mm: float, width_mm: float) -> list[Hanging]:
    """What hangs on a single cut and is longer than one bridge may hold, the innermost first.

    Nothing counts but what is somewhere wider than a narrow place: a tongue is told of elsewhere.
    """
    outlines = reaches.shore.outlines
    out = []
    for cut, parts in _falls(reaches.sides, reaches.shore.parts):
        shapes = outlines[parts - 1]
        extent = 2.0 * float(shapely.minimum_bounding_radius(shapely.geometrycollections(shapes)))
        if extent <= hold_mm:
            continue
        cores = shapely.buffer(shapes, -NARROW * width_mm / 2.0, quad_segs=4)
        if not shapely.is_empty(cores).all():
            out.append(Hanging(cut, parts, extent))
    return sorted(out, key=lambda hung: (len(hung.parts), hung.cut))


def _falls(sides: Ints, parts: int) -> list[tuple[int, Ints]]:
    """Cuts that are the only hold of something, and the parts that would fall."""
    joins: dict[tuple[int, int], int] = {}
    links = []
    for n, (one, two) in enumerate(np.sort(sides, axis=1).tolist()):
        if one != two:
            links.append((one, two))
            joins.setdefault((one, two), n)
    single = single_links(links, parts)
    groups, group = linked_groups(links, set(single), parts)
    members = [sorted(found) for found in groups]
    beside: list[list[tuple[int, int]]] = [[] for _ in members]
    for a, b in single:
        beside[group[a]].append((group[b], joins[a, b]))
        beside[group[b]].append((group[a], joins[a, b]))
    # from the sheet outward; what hangs on a group comes after it
    way = [(group[0], -1, -1)]
    for here, above, _ in way:
        way += [(there, here, cut) for there, cut in beside[here] if there != above]
    out = []
    for here, above, cut in reversed(way[1:]):
        out.append((cut, np.array(sorted(members[here]), dtype=np.int64)))
        members[above] += members[here]
    return out


def lightest_hold(
    spans: BridgeSpans,
    hung: Hanging,
    cuts: Floats,
    *,
    clear_mm: tuple[float, ...],
    apart_mm: float,
) -> int:
    """The span that best holds once more what hangs on one cut; -1 if there is none.

    It stands clear of every narrow place, bridges among them, by the first of some distances that
    leaves room, and if it can apart from that which holds already: two side by side hold little
    more than one.
    """
    inside = np.isin(spans.part_a, hung.parts) != np.isin(spans.part_b, hung.parts)
    places = np.flatnonzero(inside)
    if len(places) == 0:
        return -1
    lines = straight_lines(spans.at_a[places], spans.at_b[places])
    tree = shapely.STRtree(straight_lines(cuts[:, 0], cuts[:, 1]))
    for clear in clear_mm:
        near = tree.query(lines, predicate="dwithin", distance=clear)[0]
        free = np.delete(places, np.unique(near))
        if len(free):
            break
    else:
        return -1
    places = free
    away = np.linalg.norm(spans.middle[places] - cuts[hung.cut].mean(axis=0), axis=1)
    well = away >= min(apart_mm, 0.8 * float(away.max()))
    places = places[well]
    return int(places[np.argmin(spans.weight[places])])
