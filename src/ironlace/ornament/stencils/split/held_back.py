"""What a sheet cut out of a drawing does not lay, from the outlines that only one of both has.

A first sheet has most of its outlines from the drawing itself. There nothing is left over, so that
only the others are walked: the drawing's edges forward and the sheet's backward close into the
outlines of what is held back, where the ends of the one are put into the edges of the other first.
Only where these cross or touch each other are they laid over one another.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.stencils.regions import (
    areas_of,
    grouped,
    overlaid,
    polygons_of,
    straight_lines,
)

_ON_EDGE_MM: Final = 1e-9
"""So near an edge a corner lies on it: where a bridge ends on a shore, but for rounding."""

_MANY: Final = 100_000
"""Corners of both from which outlines are walked. An overlay of so many puts corners into the edges
they lie on too, and tells the same to the byte; one of few leaves the hair between them, which
decides how further sheets lay it, and takes no time that counts (tuned on nets)."""

_PARTS: Final = 1 << 20
"""Numbers left for the parts of an edge: more than it has corners on it."""

_AFTER: Final = 1 << 60
"""Added to the numbers of a sheet's edges, which come after all of the drawing's."""

_MIX: Final = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F], np.uint64)
"""Odd numbers whose binary places are spread evenly, to mix the bytes of numbers by (Steele, Lea
and Flood 2014, "Fast splittable pseudorandom number generators", and xxHash's second)."""


def held_back(drawing: MultiPolygon, sheet: MultiPolygon, speck_mm2: float) -> list[Polygon]:
    """What of a drawing a sheet cut out of it does not lay: pieces larger than a speck, in mm².

    They come in the order of the drawing's outlines, as an overlay of both tells them.

    >>> whole, left = shapely.box(0, 0, 9, 4), shapely.box(0, 0, 5, 4)
    >>> [p.bounds for p in held_back(MultiPolygon([whole]), MultiPolygon([left]), 1e-3)]
    [(5.0, 0.0, 9.0, 4.0)]
    """
    corners = int(shapely.get_num_coordinates([drawing, sheet]).sum())
    pieces = None if corners < _MANY else _walked(drawing, sheet, speck_mm2)
    if pieces is not None:
        return pieces
    whole = polygons_of(overlaid(shapely.difference, drawing, sheet))
    return [piece for piece in whole if piece.area > speck_mm2]


def _walked(drawing: MultiPolygon, sheet: MultiPolygon, speck_mm2: float) -> list[Polygon] | None:
    """As of `held_back`, by walking outlines; None where they do not close."""
    edges = _only_of_one(_Edges.of(drawing), _Edges.of(sheet).reversed())
    if len(edges.ends) == 0:
        return []
    loops = _loops(edges)
    if loops is None:
        return None
    pieces, first = _simple(edges, loops, speck_mm2)
    others, after = _overlaid(edges, loops, speck_mm2)
    every = [*pieces, *others]
    return [every[n] for n in np.argsort(np.concatenate([first, after]), kind="stable").tolist()]


@dataclass(frozen=True, eq=False)
class _Edges:
    """Straight edges with the area on their left.

    Attributes
    ----------
    ends
        From x, y to x, y, (n, 4), mm.
    number
        Rising along each outline and from one to the next as they are kept, (n,), by `_PARTS`.
    against
        Whether it is kept the other way round, (n,).
    """

    ends: Floats
    number: Ints
    against: Bools

    @classmethod
    def of(cls, region: MultiPolygon) -> _Edges:
        """All edges of a region."""
        rings, part = shapely.get_rings(shapely.get_parts(region), return_index=True)
        outer = np.diff(part, prepend=-1) != 0
        turned = np.asarray(shapely.is_ccw(rings) != outer, np.bool_)
        xy, ring = shapely.get_coordinates(rings, return_index=True)
        begin = np.flatnonzero(np.diff(ring) == 0)
        ends = np.concatenate([xy[begin], xy[begin + 1]], axis=1)
        turn = turned[ring[begin]]
        ends[turn] = ends[turn][:, [2, 3, 0, 1]]
        return cls(ends, np.arange(len(ends)) * _PARTS, turn)

    def reversed(self) -> _Edges:
        """The same the other way round, to come after those of another region."""
        return _Edges(self.ends[:, [2, 3, 0, 1]], self.number + _AFTER, ~self.against)

    def some(self, kept: Ints | Bools) -> _Edges:
        """Some of them."""
        return _Edges(self.ends[kept], self.number[kept], self.against[kept])


def _mixed(rows: Floats) -> NDArray[np.uint64]:
    """A number for each row of numbers, nearly always another one for other rows."""
    # of nought there are two
    bits = np.ascontiguousarray(rows + 0.0).view(np.uint64)
    out = np.zeros(len(bits), np.uint64)
    for column in bits.T:
        out = (out ^ column) * _MIX[0]
        out ^= out >> np.uint64(29)
        out *= _MIX[1]
        out ^= out >> np.uint64(32)
    return out


def _lone(one: Floats, two: Floats) -> tuple[Bools, Bools]:
    """Which edges (n, 4) of one have none in two that runs back along them, and of two in one."""
    if len(two) == 0:
        return np.ones(len(one), np.bool_), np.zeros(0, np.bool_)
    back = two[:, [2, 3, 0, 1]]
    own, other = _mixed(one), _mixed(back)
    order = np.argsort(other, kind="stable")
    at = order[np.minimum(np.searchsorted(other[order], own), len(order) - 1)]
    same = (one == back[at]).all(axis=1)
    alone = np.ones(len(two), np.bool_)
    alone[at[same]] = False
    return ~same, alone


def _only_of_one(drawing: _Edges, sheet: _Edges) -> _Edges:
    """The drawing's edges and the sheet's turned round, without those that both have."""
    own, other = _lone(drawing.ends, sheet.ends)
    drawing, sheet = drawing.some(own), sheet.some(other)
    drawing, sheet = _parted(drawing, sheet.ends), _parted(sheet, drawing.ends)
    own, other = _lone(drawing.ends, sheet.ends)
    drawing, sheet = drawing.some(own), sheet.some(other)
    return _Edges(
        np.concatenate([drawing.ends, sheet.ends]),
        np.concatenate([drawing.number, sheet.number]),
        np.concatenate([drawing.against, sheet.against]),
    )


def _parted(edges: _Edges, others: Floats) -> _Edges:
    """Edges parted at the corners of others (n, 4) that lie on them but for rounding."""
    corners = others[:, :2]
    corners = corners[~np.isin(_mixed(corners), _mixed(edges.ends.reshape(-1, 2)))]
    if len(corners) == 0 or len(edges.ends) == 0:
        return edges
    lines = straight_lines(edges.ends[:, :2], edges.ends[:, 2:])
    point, edge = shapely.STRtree(lines).query(
        shapely.points(corners), predicate="dwithin", distance=_ON_EDGE_MM
    )
    place = np.linalg.norm(corners[point] - edges.ends[edge, :2], axis=1)
    whole = np.linalg.norm(edges.ends[:, 2:] - edges.ends[:, :2], axis=1)
    within = (place > _ON_EDGE_MM) & (place < whole[edge] - _ON_EDGE_MM)
    point, edge, place = point[within], edge[within], place[within]
    # each edge's beginning, then the corners on it in their order
    of = np.concatenate([np.arange(len(lines)), edge])
    begin = np.concatenate([edges.ends[:, :2], corners[point]])
    order = np.lexsort((np.concatenate([np.full(len(lines), -1.0), place]), of))
    of, begin = of[order], begin[order]
    last = np.diff(of, append=-1) != 0
    after = np.where(last[:, None], edges.ends[of, 2:], np.roll(begin, -1, axis=0))
    # numbered as the edge is kept
    count = np.bincount(of)
    part = np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    part = np.where(edges.against[of], count[of] - 1 - part, part)
    parts = np.concatenate([begin, after], axis=1)
    return _Edges(parts, edges.number[of] + part, edges.against[of])


@dataclass(frozen=True, eq=False)
class _Loops:
    """Closed ways along edges.

    Attributes
    ----------
    edge
        Numbers of the edges, way by way, (n,).
    start
        Where each way begins among them, and how many there are.
    rings
        The ways as rings.
    alone
        Which of them are simple, and meet no other.
    group
        Numbers of the others in groups that meet.
    """

    edge: Ints
    start: Ints
    rings: NDArray[np.object_]
    alone: Bools
    group: list[Ints]


def _loops(edges: _Edges) -> _Loops | None:
    """Edges strung together; None if not as many lead out of each corner as into it.

    So it is where an outline runs along itself, and an edge of two is left.
    """
    xy = np.concatenate([edges.ends[:, :2], edges.ends[:, 2:]])
    corner = np.unique(_mixed(xy), return_inverse=True)[1]
    count = len(edges.ends)
    leads = corner[:count]
    most = int(corner.max()) + 1
    if (np.bincount(leads, minlength=most) != np.bincount(corner[count:], minlength=most)).any():
        return None
    # edges by the corner they lead out of; each is taken once
    out = np.argsort(leads, kind="stable")
    taken = np.searchsorted(leads[out], np.arange(most)).tolist()
    to, order = corner[count:].tolist(), out.tolist()
    used = [False] * count
    way: list[int] = []
    start = [0]
    for begin in range(count):
        if used[begin]:
            continue
        home = int(leads[begin])
        here = home
        while True:
            edge = order[taken[here]]
            taken[here] += 1
            used[edge] = True
            way.append(edge)
            here = to[edge]
            if here == home:
                break
        start.append(len(way))
    return _looped(edges, np.array(way), np.array(start))


def _looped(edges: _Edges, way: Ints, start: Ints) -> _Loops:
    """Ways as rings, and which of them stand alone."""
    of = np.repeat(np.arange(len(start) - 1), np.diff(start))
    rings = np.empty(len(start) - 1, dtype=object)
    # there and back again there is nothing within
    some = np.diff(start) > 2
    number = np.cumsum(some) - 1
    xy = edges.ends[way, :2]
    inside = some[of]
    rings[some] = shapely.linearrings(xy[inside], indices=number[of[inside]])
    areas = np.full(len(rings), Polygon(), dtype=object)
    areas[some] = shapely.polygons(rings[some])
    sound = np.asarray(shapely.is_valid(areas) & some, np.bool_)
    looked_at = np.where(sound, areas, shapely.envelope(areas))
    one, two = shapely.STRtree(looked_at).query(looked_at, predicate="intersects")
    apart = one != two
    sound[np.concatenate([one[apart], two[apart]])] = False
    every = np.empty(len(rings), dtype=object)
    every[:] = range(len(rings))
    groups = [group.astype(np.int64) for group in grouped(every, one, two)]
    return _Loops(way, start, rings, sound, [g for g in groups if not sound[g[0]]])


def _simple(edges: _Edges, loops: _Loops, speck_mm2: float) -> tuple[list[Polygon], Ints]:
    """Pieces within ways that stand alone, and where each comes in the order of all."""
    areas = np.full(len(loops.rings), Polygon(), dtype=object)
    areas[loops.alone] = shapely.polygons(loops.rings[loops.alone])
    kept = loops.alone & (shapely.area(areas) > speck_mm2)
    # what the sheet lays beyond the drawing runs the other way round
    kept[kept] = shapely.is_ccw(loops.rings[kept])
    pieces: list[Polygon] = []
    first: list[int] = []
    xy, start = edges.ends[loops.edge, :2], loops.start.tolist()
    number, against = edges.number[loops.edge], edges.against[loops.edge]
    for n in np.flatnonzero(kept).tolist():
        own = slice(start[n], start[n + 1])
        at, comes = _begin(number[own], against[own])
        # turned clockwise, as an overlay leaves it
        corners = xy[own][::-1]
        turn = len(corners) - 1 - at
        pieces.append(Polygon(np.concatenate([corners[turn:], corners[: turn + 1]])))
        first.append(comes)
    return pieces, np.array(first, np.int64)


def _begin(number: Ints, against: Bools) -> tuple[int, int]:
    """At which edge of a way an overlay would begin it, and its place in the order of all.

    It begins after the first edge of the first stretch of outline, the drawing's before the
    sheet's.
    """
    at = int(number.argmin())
    comes = int(number[at])
    if not against[at]:
        # a piece is told clockwise, its ways lead the other way round: from the far end
        while number[(at + 1) % len(number)] // _PARTS == number[at] // _PARTS + 1:
            at = (at + 1) % len(number)
    return at, comes


def _overlaid(edges: _Edges, loops: _Loops, speck_mm2: float) -> tuple[list[Polygon], Ints]:
    """Pieces within ways that cross or touch, each group laid over itself."""
    pieces: list[Polygon] = []
    first: list[int] = []
    for group in loops.group:
        own = np.concatenate([loops.edge[loops.start[n] : loops.start[n + 1]] for n in group])
        ends = edges.ends[own]
        # sides that run there and back hold nothing, but part what they lie in
        noded = shapely.union_all(straight_lines(ends[:, :2], ends[:, 2:]))
        faces = areas_of(np.asarray([shapely.polygonize([noded])], dtype=object))[0]
        faces = faces[shapely.area(faces) > speck_mm2]
        for face in faces[_times_round(faces, ends) > 0]:
            piece, comes = _as_overlaid(face, edges.some(own))
            pieces.append(piece)
            first.append(comes)
    return pieces, np.array(first, np.int64)


def _times_round(faces: NDArray[np.object_], ends: Floats) -> Ints:
    """How many times edges (n, 4) run round each face, to the left counted (Sunday 2001)."""
    at = shapely.get_coordinates(shapely.point_on_surface(faces))[:, None, :]
    a, b = ends[None, :, :2] - at, ends[None, :, 2:] - at
    side = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    up = (a[..., 1] <= 0) & (b[..., 1] > 0) & (side > 0)
    down = (a[..., 1] > 0) & (b[..., 1] <= 0) & (side < 0)
    return np.asarray(up.sum(axis=1) - down.sum(axis=1), np.int64)


def _as_overlaid(face: Polygon, edges: _Edges) -> tuple[Polygon, int]:
    """A face with its outline begun as an overlay would, and its place in the order of all."""
    xy = shapely.get_coordinates(shapely.orient_polygons(face).exterior)
    own = _mixed(np.concatenate([xy[:-1], xy[1:]], axis=1))
    every = _mixed(edges.ends)
    order = np.argsort(every, kind="stable")
    at = order[np.minimum(np.searchsorted(every[order], own), len(order) - 1)]
    known = np.asarray(every[at] == own)
    if not known.any():
        lines = straight_lines(edges.ends[:, :2], edges.ends[:, 2:])
        return face, int(edges.number[int(shapely.distance(lines, face).argmin())])
    # of edges made anew none is the first, and none goes on after another
    new = 2 * _AFTER + 2 * _PARTS * np.arange(len(at))
    begin, comes = _begin(np.where(known, edges.number[at], new), edges.against[at])
    outline = np.roll(xy[:-1], -begin - 1, axis=0)[::-1]
    return Polygon(outline, list(face.interiors)), comes
