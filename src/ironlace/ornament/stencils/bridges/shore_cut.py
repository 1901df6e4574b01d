"""Openings cut by bridges, by walking their shores.

A bridge's outline crosses the shores of the opening it spans; between two crossings it runs through
the opening. What a bridge takes is the walk along such a side and on along the shore within the
outline; what is left of the opening is the walk along the shore outside of it and back along the
side. Both are put together of the same crossings, so that nothing is left between them, not even by
rounding, and a bridge moved changes only what its own sides border.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.errors import StencilError
from ironlace.ornament.stencils.parts import Shores
from ironlace.ornament.stencils.regions import mitred, polygons_of, ring_lines, straight_lines

_HAIR_MM: Final = 1e-7
"""By so much an outline is made larger and moved, and by twice as much each time, where it runs
through a corner of a shore or along it and cannot be told to cross it."""

_HAIRS: Final = 12
"""How often that is tried; the last is far below the width of any cut (tuned)."""

_EDGES: Final = 8
"""Edges to a line of the tree of shores: one each takes longer to build than it saves (tuned)."""

TOUCH_MM: Final = 5e-4
"""Bridges no farther apart than this are cut as one: more than all those hairs."""

_LEAST_MM2: Final = 1e-9
"""What is left of an opening and smaller than this is rounding."""


class Coast:
    """The shores of openings as one row of edges, the opening on the left of each.

    A place on them is the number of an edge and a share of it, in one number.

    Attributes
    ----------
    rings
        Corners of each ring, (n, 2), mm; numbered as in the shores.
    xy
        Where each edge begins, (n, 2), mm.
    ring
        Number of each edge's ring, (n,).
    start
        First edge of each ring, and how many edges there are.
    opening
        Opening of each ring.
    outer
        Which rings are outlines of openings; the others are holes.
    lines, tree
        The edges, some to a line, and a tree of the lines.
    line_ring
        Number of each line's ring.
    """

    def __init__(self, shores: Shores) -> None:
        sizes = np.array([len(ring) for ring in shores.rings], dtype=np.int64)
        self.start = np.concatenate([[0], np.cumsum(sizes)])
        self.ring = np.repeat(np.arange(len(sizes)), sizes)
        self.opening = shores.opening
        self.outer = np.arange(len(sizes)) < len(sizes) - len(shores.islands)
        linear = shapely.linearrings(np.concatenate(shores.rings), indices=self.ring)
        turned = np.asarray(shapely.is_ccw(linear), np.bool_) != self.outer
        self.rings = tuple(
            ring[::-1] if turn else ring for ring, turn in zip(shores.rings, turned, strict=True)
        )
        self.xy = np.concatenate(self.rings)
        self.after = np.arange(1, len(self.xy) + 1)
        self.after[self.start[1:] - 1] = self.start[:-1]
        oriented = np.asarray(shapely.linearrings(self.xy, indices=self.ring), dtype=object)
        self.lines, self.line_ring = ring_lines(oriented, _EDGES)
        self.tree = shapely.STRtree(self.lines)
        pieces = -(-sizes // _EDGES)
        number = np.arange(len(self.lines)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
        self._first = self.start[self.line_ring] + _EDGES * number

    def near(self, lines: NDArray[np.object_]) -> tuple[Ints, Ints]:
        """Numbers of lines and of edges that may meet, in pairs."""
        one, line = self.tree.query(lines)
        first = self._first[line]
        count = np.minimum(first + _EDGES, self.start[self.line_ring[line] + 1]) - first
        step = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
        return np.repeat(one, count), np.repeat(first, count) + step

    def between(self, ring: int, begin: float, end: float) -> Floats:
        """Corners of a ring from one place on it forward to another, (n, 2)."""
        first, last = int(begin) + 1, int(end) + 1
        if begin < end:
            return self.xy[first:last]
        low, high = self.start[ring], self.start[ring + 1]
        return np.concatenate([self.xy[first:high], self.xy[low:last]])

    def opening_at(self, place: Floats) -> int:
        """The opening in which a place lies; -1 for none."""
        one, two = self.xy - place, self.xy[self.after] - place
        beside = np.flatnonzero((one[:, 1] > 0) != (two[:, 1] > 0))
        one, along = one[beside], two[beside] - one[beside]
        right = one[:, 0] - one[:, 1] * along[:, 0] / along[:, 1]
        if not (right > 0).any():
            return -1
        # the opening lies left of an edge: to the right of the place, the edge leads upward
        first = int(np.where(right > 0, right, np.inf).argmin())
        return int(self.opening[self.ring[beside[first]]]) if along[first, 1] > 0 else -1


@dataclass(frozen=True, eq=False)
class Side:
    """A stretch of a bridge's outline through an opening, the bridge on its left.

    Attributes
    ----------
    begin, end
        Number of the ring, and the place on it, where it leaves the one shore and comes to the
        other.
    line
        Its corners, both ends among them, (n, 2), mm.
    """

    begin: tuple[int, float]
    end: tuple[int, float]
    line: Floats


@dataclass(frozen=True, eq=False)
class BridgeCut:
    """What a bridge, or several that touch, take of an opening.

    Attributes
    ----------
    shape
        What is taken, mm; empty where no shore is crossed.
    sides
        Its sides through the opening.
    swallowed
        Rings that lie in it whole: islands smaller than a bridge.
    closed
        Outlines that meet no shore, the bridge on their left, with the opening they lie in.
    """

    shape: Polygon | MultiPolygon
    sides: tuple[Side, ...] = ()
    swallowed: tuple[int, ...] = ()
    closed: tuple[tuple[int, Floats], ...] = ()


_Crossing = tuple[int, int, bool, int, float, tuple[float, float]]
"""Of an outline with a shore: number of the outline's ring and of the corner before it, whether the
shore leads inward there, the shore's ring, the place on it, and where that is in mm."""


def bridge_cuts(
    coast: Coast, areas: NDArray[np.object_], middles: Sequence[Floats]
) -> list[BridgeCut]:
    """What bridges take of the opening about their middles.

    Parameters
    ----------
    areas
        Rectangles of bridges, or several that touch as one area, (n,).
    middles
        Middles of each area's bridges, (k, 2).

    Raises
    ------
    StencilError
        If shores cross each other.
    """
    found: list[BridgeCut | None] = [None] * len(areas)
    left, tried = np.arange(len(areas)), areas
    for attempt in range(_HAIRS):
        cuts = _cuts(coast, tried, [middles[n] for n in left.tolist()])
        for n, cut in zip(left.tolist(), cuts, strict=True):
            found[n] = cut
        left = np.array([n for n in left.tolist() if found[n] is None], dtype=np.int64)
        if len(left) == 0:
            break
        # a hair larger and a hair aside, each time another way: it runs through other places then
        hair, way = _HAIR_MM * 2**attempt, np.array([np.cos(attempt + 1.0), np.sin(attempt + 1.0)])
        larger = mitred(areas[left], hair)
        tried = shapely.transform(larger, partial(np.add, 0.6 * hair * way))
    done = [cut for cut in found if cut is not None]
    if len(done) < len(found):
        x, y = middles[int(left[0])][0]
        raise StencilError(
            f"The drawing's outlines cross or touch where a bridge should stand, near {x:.2f}, "
            f"{y:.2f} mm: clean them up."
        )
    return done


def _cuts(
    coast: Coast, areas: NDArray[np.object_], middles: Sequence[Floats]
) -> list[BridgeCut | None]:
    """As `bridge_cuts`; None where an outline cannot be told to cross a shore."""
    parts, of = shapely.get_parts(areas, return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    owner = of[part]
    turned = shapely.is_ccw(rings) != (np.diff(part, prepend=-1) != 0)
    outlines = [
        shapely.get_coordinates(ring)[:-1][:: -1 if turn else 1]
        for ring, turn in zip(rings, turned.tolist(), strict=True)
    ]
    crossings, unclear = _crossings(coast, outlines)
    first = np.searchsorted(owner, np.arange(len(areas) + 1))
    within = _begun_within(coast, areas)
    out: list[BridgeCut | None] = []
    for n in range(len(areas)):
        own = range(first[n], first[n + 1])
        events = [e for outline in own for e in crossings.get(outline, ())]
        if any(outline in unclear for outline in own):
            out.append(None)
        else:
            out.append(_cut(coast, outlines, own, events, middles[n], within.get(n, [])))
    return out


def _crossings(
    coast: Coast, outlines: Sequence[Floats]
) -> tuple[dict[int, list[_Crossing]], set[int]]:
    """Crossings of outlines with the shores, along each outline, and which outlines touch one."""
    sizes = [len(corners) for corners in outlines]
    outline = np.repeat(np.arange(len(outlines)), sizes)
    number = np.concatenate([np.arange(size) for size in sizes])
    a = np.concatenate(outlines)
    after = np.arange(1, len(a) + 1)
    after[np.cumsum(sizes) - 1] = np.cumsum(sizes) - sizes
    b = a[after]
    side, edge = coast.near(straight_lines(a, b))
    p, q = coast.xy[edge], coast.xy[coast.after[edge]]
    a, b = a[side], b[side]
    # what lies left of the outline lies in it; both lines must part the other's ends
    from_p, from_q = _left(a, b, p), _left(a, b, q)
    from_a, from_b = _left(p, q, a), _left(p, q, b)
    meets = (from_p * from_q <= 0) & (from_a * from_b <= 0)
    touches = meets & (from_p * from_q * from_a * from_b == 0)
    unclear = set(outline[side[touches]].tolist())
    hit = np.flatnonzero(meets & ~touches)
    share = from_p[hit] / (from_p[hit] - from_q[hit])
    along = from_a[hit] / (from_a[hit] - from_b[hit])
    xy = p[hit] + share[:, None] * (q[hit] - p[hit])
    # to rounding the end of an edge is the begin of the next, which may be another ring's
    at = np.minimum(edge[hit] + share, np.nextafter(edge[hit] + 1.0, 0.0))
    order = np.lexsort((along, side[hit]))
    out: dict[int, list[_Crossing]] = {}
    for o, n, inward, ring, place, (x, y) in zip(
        outline[side[hit]][order].tolist(),
        number[side[hit]][order].tolist(),
        (from_q[hit] > 0)[order].tolist(),
        coast.ring[edge[hit]][order].tolist(),
        at[order].tolist(),
        xy[order].tolist(),
        strict=True,
    ):
        out.setdefault(o, []).append((o, n, inward, ring, place, (x, y)))
    return out, unclear


def _left(one: Floats, two: Floats, point: Floats) -> Floats:
    """Twice the area of triangles, positive where a point lies left of the line to two."""
    along, to = two - one, point - one
    return np.asarray(along[:, 0] * to[:, 1] - along[:, 1] * to[:, 0])


def _begun_within(coast: Coast, areas: NDArray[np.object_]) -> dict[int, list[int]]:
    """Rings whose first corner lies in an area, by its number."""
    out: dict[int, list[int]] = {}
    corners = shapely.points(coast.xy[coast.start[:-1]])
    for n, ring in shapely.STRtree(corners).query(areas, predicate="contains").T.tolist():
        out.setdefault(n, []).append(ring)
    return out


def _cut(
    coast: Coast,
    outlines: Sequence[Floats],
    own: range,
    crossings: list[_Crossing],
    middles: Floats,
    begun_within: list[int],
) -> BridgeCut | None:
    """What one area, of its own outlines, takes; None where its crossings do not take turns."""
    sides = _sides(outlines, crossings)
    follows = _next_on_ring([(ring, at, inward) for _, _, inward, ring, at, _ in crossings])
    if sides is None or follows is None:
        return None
    loops: list[_Loop] = []
    while sides:
        begin = min(sides)
        pieces: list[Floats] = []
        walked: list[Side] = []
        while begin in sides:
            end, side = sides.pop(begin)
            begin = follows[end]
            walked.append(side)
            pieces += [side.line, coast.between(*side.end, crossings[begin][4])]
        opening = int(coast.opening[walked[0].begin[0]])
        loops.append(_Loop(np.concatenate(pieces), opening, tuple(walked)))
    for n in own:
        if not any(crossing[0] == n for crossing in crossings):
            opening = coast.opening_at(outlines[n][0])
            loops += [_Loop(outlines[n], opening, closed=True)] if opening >= 0 else []
    crossed = {ring for _, _, _, ring, _, _ in crossings}
    loops += [
        _Loop(coast.rings[ring], int(coast.opening[ring]), ring=ring)
        for ring in begun_within
        if ring not in crossed
    ]
    return _about(loops, middles)


@dataclass(frozen=True, eq=False)
class _Loop:
    """A closed walk, what is taken on its left: by sides, by an outline, or by a shore's ring."""

    xy: Floats
    opening: int
    sides: tuple[Side, ...] = ()
    closed: bool = False
    ring: int = -1

    @cached_property
    def shape(self) -> Polygon:
        return Polygon(self.xy)

    @cached_property
    def around(self) -> bool:
        """Whether it runs about a part that is taken, not about a hole in one."""
        return _turn(self.xy) > 0


def _sides(
    outlines: Sequence[Floats], crossings: list[_Crossing]
) -> dict[int, tuple[int, Side]] | None:
    """By the number of the crossing where each begins: where it ends, and the side."""
    out: dict[int, tuple[int, Side]] = {}
    of_outline: dict[int, list[int]] = {}
    for n, crossing in enumerate(crossings):
        of_outline.setdefault(crossing[0], []).append(n)
    for outline, own in of_outline.items():
        for one, two in zip(own, [*own[1:], own[0]], strict=True):
            _, first, inward, ring, at, xy = crossings[one]
            _, last, inward_too, ring_too, at_too, xy_too = crossings[two]
            if inward == inward_too:
                return None
            if inward:
                continue
            corners = outlines[outline]
            around = last - first + (len(corners) if last < first or two <= one else 0)
            if last == first and one < two:
                around = 0
            between = corners[(first + 1 + np.arange(around)) % len(corners)]
            line = np.concatenate([[xy], between, [xy_too]])
            out[one] = (two, Side((ring, at), (ring_too, at_too), line))
    return out


def _next_on_ring(places: Sequence[tuple[int, float, bool]]) -> dict[int, int] | None:
    """For each place of the one kind the next on its ring, which is of the other; None if not."""
    out: dict[int, int] = {}
    order = sorted(range(len(places)), key=lambda n: places[n][:2])
    first = 0
    for k, n in enumerate(order):
        last = k + 1 == len(order) or places[order[k + 1]][0] != places[n][0]
        after = order[first] if last else order[k + 1]
        if last:
            first = k + 1
        if places[n][2] == places[after][2]:
            return None
        if places[n][2]:
            out[n] = after
    return out


def _about(loops: list[_Loop], middles: Floats) -> BridgeCut:
    """Of what lies in an outline the parts about the middles of its bridges."""
    taken = [_with_holes(loop, loops) for loop in loops if loop.around]
    if not taken:
        return BridgeCut(Polygon())
    if len(taken) > 1:
        at = [shapely.Point(middle) for middle in middles]
        near = {min(range(len(taken)), key=lambda n: taken[n][0].distance(p)) for p in at}
        taken = [taken[n] for n in sorted(near)]
    own = [loop for _, walked in taken for loop in walked]
    return BridgeCut(
        taken[0][0] if len(taken) == 1 else MultiPolygon([shape for shape, _ in taken]),
        tuple(side for loop in own for side in loop.sides),
        tuple(loop.ring for loop in own if loop.ring >= 0),
        tuple((loop.opening, loop.xy) for loop in own if loop.closed),
    )


def _with_holes(outer: _Loop, loops: list[_Loop]) -> tuple[Polygon, list[_Loop]]:
    """A part that is taken, and the walks about it and about what lies in it and is not."""
    holes = [
        loop
        for loop in loops
        if not loop.around
        and loop.opening == outer.opening
        and outer.shape.covers(loop.shape.exterior)
    ]
    shape = Polygon(outer.xy, [hole.xy for hole in holes]) if holes else outer.shape
    return shape, [outer, *holes]


def _turn(xy: Floats) -> float:
    """Twice the area that a ring runs about, positive if that lies on its left."""
    x, y = (xy - xy[0]).T
    # the first corner lies at nought: what leads to it and from it adds nothing
    return float(x[:-1] @ y[1:] - y[:-1] @ x[1:])


@dataclass(frozen=True, eq=False)
class Field:
    """What a walk along shores and sides of bridges runs about.

    ``within`` tells whether the opening lies in it or around it; an opening is in one part but for
    rounding.
    """

    parts: tuple[Polygon, ...]
    within: bool


Fields = dict[tuple[Side, ...], Field]
"""By the sides that a walk goes along."""


def openings_without(
    openings: MultiPolygon, coast: Coast, cuts: Iterable[BridgeCut], known: Fields
) -> tuple[list[Polygon], Fields]:
    """Openings less what bridges take of them.

    Parameters
    ----------
    openings
        What the shores are of.
    cuts
        What bridges take; no two overlap.
    known
        Fields that were left before, from the same openings.

    Returns
    -------
    left
        What is left of the openings.
    fields
        Its fields, to be known the next time.
    """
    cuts = list(cuts)
    walks = _walks([side for cut in cuts for side in cut.sides])
    new = [walk for walk in walks if walk not in known]
    made = dict(zip(new, _fields(coast, new), strict=True))
    fields = {walk: made[walk] if walk in made else known[walk] for walk in walks}
    of_opening: dict[int, list[Field]] = {}
    for walk, field in fields.items():
        of_opening.setdefault(int(coast.opening[walk[0].begin[0]]), []).append(field)
    for opening, xy in (one for cut in cuts for one in cut.closed):
        of_opening.setdefault(opening, []).append(Field((Polygon(xy),), _turn(xy) < 0))
    touched = {ring for walk in walks for side in walk for ring in (side.begin[0], side.end[0])}
    touched |= {ring for cut in cuts for ring in cut.swallowed}
    swallowed = {int(coast.opening[ring]) for cut in cuts for ring in cut.swallowed}
    rings: dict[int, list[int]] = {}
    for ring in sorted(set(range(len(coast.rings))) - touched):
        rings.setdefault(int(coast.opening[ring]), []).append(ring)
    out: list[Polygon] = []
    for number, whole in enumerate(openings.geoms):
        own = of_opening.get(number, [])
        if own or number in swallowed:
            out += _put_together(coast, own, rings.get(number, []))
        else:
            out.append(whole)
    return out, fields


def _walks(sides: list[Side]) -> list[tuple[Side, ...]]:
    """Sides in the order in which one comes to them along the shores outside of bridges."""
    sides = sorted(sides, key=lambda side: side.begin)
    follows = _next_on_ring(
        [(*side.begin, True) for side in sides] + [(*side.end, False) for side in sides]
    )
    if follows is None:
        raise StencilError("Two bridges stand in one another: move one of them.")
    out: list[tuple[Side, ...]] = []
    gone = [False] * len(sides)
    for first in range(len(sides)):
        walked = []
        at = first
        while not gone[at]:
            gone[at] = True
            walked.append(sides[at])
            at = follows[at] - len(sides)
        if walked:
            out.append(tuple(walked))
    return out


def _fields(coast: Coast, walks: Sequence[tuple[Side, ...]]) -> list[Field]:
    if not walks:
        return []
    around = [
        np.concatenate(
            [
                xy
                for side, after in zip(walk, [*walk[1:], walk[0]], strict=True)
                for xy in (side.line[::-1], coast.between(*side.begin, after.end[1]))
            ]
        )
        for walk in walks
    ]
    shapes = [Polygon(xy) for xy in around]
    return [
        Field(tuple(_sound(shape)) if turn > 0 else (shape,), turn > 0)
        for shape, turn in zip(shapes, map(_turn, around), strict=True)
    ]


def _sound(shape: Polygon) -> list[Polygon]:
    """A polygon, mended where rounding made it cross itself; nothing if it is no more than that."""
    whole = shape if shape.is_valid else shapely.make_valid(shape)
    return [part for part in polygons_of(whole) if part.area > _LEAST_MM2]


def _put_together(coast: Coast, fields: list[Field], rings: list[int]) -> list[Polygon]:
    """What is left of one opening, of its fields and the rings of it that no bridge comes to."""
    shells = [part for field in fields if field.within for part in field.parts]
    shells += [Polygon(coast.rings[ring]) for ring in rings if coast.outer[ring]]
    holes = [part for field in fields if not field.within for part in field.parts]
    holes += [Polygon(coast.rings[ring]) for ring in rings if not coast.outer[ring]]
    if not holes:
        return shells
    # a corner of a hole lies in the opening about it, which is the smallest about that
    corners = shapely.points([hole.exterior.coords[0] for hole in holes])
    hole, shell = shapely.STRtree(shells).query(corners, predicate="within")
    area = shapely.area(shells)
    inner: dict[int, list[shapely.LinearRing]] = {}
    order = np.lexsort((area[shell], hole))
    for n, k in dict(zip(hole[order[::-1]], shell[order[::-1]], strict=True)).items():
        inner.setdefault(int(k), []).append(holes[n].exterior)
    if sum(map(len, inner.values())) < len(holes):
        raise StencilError("The drawing's outlines touch or cross: clean them up.")
    return [
        part
        for k, whole in enumerate(shells)
        for part in (_sound(Polygon(whole.exterior, inner[k])) if k in inner else [whole])
    ]
