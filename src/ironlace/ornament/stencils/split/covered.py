"""What of the ornament the first sheet covers, found along the edges in which the two differ.

The openings of the first sheet are the ornament with some of it cut away: nearly all edges of the
one are edges of the other, corner for corner. Where an edge is in both, nothing was cut away beside
it. Only the others bound what is covered, so that an overlay of the two wholes, which looks at
every corner of either, is not needed. Those that hang together, with what lies within them, tell by
themselves what they bound: where nothing changed since, that is remembered.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.stencils.regions import as_array, grouped_numbers, lines_between, polygons_of
from ironlace.ornament.stencils.remembered import Remembered

_TURN: Final = np.uint64(0x9E3779B97F4A7C15)
"""An odd number whose multiples fill 64 bits evenly (2^64 over the golden ratio; Knuth 1973)."""

_SLIT_MM: Final = 1e-6
"""What is no wider than twice this is a matter of rounding: the last decimal of any file."""


def cut_away(
    whole: MultiPolygon, left: MultiPolygon, remembered: Remembered | None = None
) -> list[Polygon]:
    """What was cut from a region to leave another within it.

    The edges of the whole, and those of what is left turned round, go about what was cut away once;
    an edge and the same turned round go about nothing, and are left out. A place lies in what was
    cut away if the rest go about it once (winding number; Sunday 2001).

    Parameters
    ----------
    whole
        The region, mm.
    left
        What is left of it. It may have any corners; those it shares with the whole cost nothing.
    remembered
        What the same edges bounded before.

    Returns
    -------
    list[Polygon]
        In the order of their lowest x, then y.

    >>> square = shapely.box(0, 0, 4, 4)
    >>> strip = shapely.box(1, -1, 2, 5)
    >>> [p.bounds for p in cut_away(MultiPolygon([square]), square.difference(strip))]
    [(1.0, 0.0, 2.0, 4.0)]
    """
    remembered = remembered or Remembered()
    lines = _edges_of_one(whole, left, remembered)
    if len(lines) == 0:
        return []
    groups = _groups_changed(lines, remembered)
    by_group = remembered.groups(
        ("cut away",), lines, groups, lambda new: [_bounded(lines[groups[at]]) for at in new]
    )
    found = as_array([face for faces in by_group for face in faces])
    low = shapely.bounds(found)
    return list(found[np.lexsort((low[:, 1], low[:, 0]))])


def _edges_of_one(
    whole: MultiPolygon, left: MultiPolygon, remembered: Remembered
) -> NDArray[np.object_]:
    """Edges that only one of the two has, strung together; those of what is left turned round."""
    key = as_array([whole])
    (known,) = remembered.each(("edges of the whole",), key, lambda _: [_KnownEdges(whole)])
    parts = remembered.parts(left)
    told = remembered.each(
        ("edges left", *remembered.numbers(key)), parts, lambda new: _edges_left(known, new)
    )
    own = np.ones(len(known.edges.ends), np.bool_)
    none: list[Ints] = [np.zeros(0, np.int64)]
    own[np.concatenate(none + [shared for _, shared in told])] = False
    lines = [known.edges.lines(own[known.first])]
    return np.concatenate(lines + [lines for lines, _ in told])


def _edges_left(
    known: _KnownEdges, parts: NDArray[np.object_]
) -> list[tuple[NDArray[np.object_], Ints]]:
    """Of each polygon the edges that are none of a whole, and the numbers of those that are."""
    edges = _Edges(parts, turned=True)
    at = known.turned(edges.ends)
    lines, begin = edges.lines(at < 0), np.flatnonzero(at < 0)
    # a line is of the polygon that its first edge is of
    first = begin[np.cumsum(_edges_in(lines)) - _edges_in(lines)]
    by_line = np.searchsorted(edges.part[first], np.arange(1, len(parts)))
    by_edge = np.searchsorted(edges.part[at >= 0], np.arange(1, len(parts)))
    return list(zip(np.split(lines, by_line), np.split(at[at >= 0], by_edge), strict=True))


def _edges_in(lines: NDArray[np.object_]) -> Ints:
    """How many edges each line has."""
    return np.asarray(shapely.get_num_coordinates(lines) - 1, np.int64)


def _ends_of(lines: NDArray[np.object_]) -> Floats:
    """Ends of the edges of some lines, (n, 4)."""
    xy, line = shapely.get_coordinates(lines, return_index=True)
    first = np.flatnonzero(np.diff(line) == 0)
    return np.concatenate([xy[first], xy[first + 1]], axis=1)


def _groups_changed(lines: NDArray[np.object_], remembered: Remembered) -> list[Ints]:
    """As of `_groups`, begun from those of the last time.

    A group is what it was if it has all of its lines still and no box of any that is grouped anew
    reaches its own: then nothing new meets it, goes about it, or lies within it.
    """
    names = np.array(remembered.numbers(lines), dtype=np.int64)
    known, label = remembered.last(("grouped",)) or (names[:0], names[:0])
    of = np.full(len(names), -1)
    anew = np.ones(len(names), np.bool_)
    if len(known):
        place = np.minimum(np.searchsorted(known, names), len(known) - 1)
        of = np.where(known[place] == names, label[place], -1)
        size = np.bincount(label)
        anew = (of < 0) | (np.bincount(of[of >= 0], minlength=len(size)) != size)[of]
    bounds = shapely.bounds(lines)
    groups: list[Ints] = []
    while True:
        at = np.flatnonzero(anew)
        groups = [at[group] for group in _groups(lines[at])] if len(at) else []
        kept = np.flatnonzero(~anew)
        if len(at) == 0 or len(kept) == 0:
            break
        order = kept[np.argsort(of[kept], kind="stable")]
        first = np.flatnonzero(np.diff(of[order], prepend=-1) != 0)
        tree = shapely.STRtree(_boxes(bounds[order], first))
        start = np.cumsum([len(group) for group in groups]) - [len(group) for group in groups]
        reached = np.unique(tree.query(_boxes(bounds[np.concatenate(groups)], start))[1])
        if len(reached) == 0:
            ends = np.append(first, len(order))
            groups += [np.sort(order[a:b]) for a, b in pairwise(ends.tolist())]
            break
        anew |= np.isin(of, of[order[first[reached]]])
    groups.sort(key=lambda group: int(group[0]))
    label = np.zeros(len(names), np.int64)
    for n, group in enumerate(groups):
        label[group] = n
    order = np.argsort(names, kind="stable")
    remembered.tell(("grouped",), (names[order], label[order]))
    return groups


def _boxes(bounds: Floats, first: Ints) -> NDArray[np.object_]:
    """The box about each run of some boxes, (n, 4), that begins at a first one."""
    low = np.minimum.reduceat(bounds[:, :2], first)
    high = np.maximum.reduceat(bounds[:, 2:], first)
    return np.asarray(shapely.box(*low.T, *high.T), dtype=object)


def _groups(lines: NDArray[np.object_]) -> list[Ints]:
    """Numbers of lines that go together, rising: those that meet, and those that these go about.

    Of two closed ways that do not meet, one goes about all of the other as often as about a place
    of it. Only what lies in its box is asked about.
    """
    pairs = shapely.STRtree(lines).query(lines, predicate="intersects")
    meeting = grouped_numbers(len(lines), *pairs)
    bounds, counts = shapely.bounds(lines), np.array([len(group) for group in meeting])
    own = bounds[np.concatenate(meeting)]
    first: Ints = (np.cumsum(counts) - counts).astype(np.int64)
    boxes = _boxes(own, first)
    inner, outer = shapely.STRtree(boxes).query(boxes, predicate="covered_by")
    inner, outer = inner[inner != outer], outer[inner != outer]
    about = np.zeros(len(inner), np.bool_)
    corner = shapely.get_coordinates(shapely.get_point(lines[[own[0] for own in meeting]], 0))
    for n in np.unique(outer).tolist():
        own, asked = meeting[n], np.flatnonzero(outer == n)
        about[asked] = _goes_about(lines[own], corner[inner[asked]]) != 0
    return [
        np.sort(np.concatenate([meeting[n] for n in group.tolist()]))
        for group in grouped_numbers(len(meeting), inner[about], outer[about])
    ]


def _bounded(lines: NDArray[np.object_]) -> list[Polygon]:
    """What some edges go about, in no order; as of `_goes_about`."""
    noded = shapely.unary_union(lines)
    faces = np.asarray(polygons_of(shapely.polygonize([noded])), dtype=object)
    if len(faces) == 0:
        return []
    return list(faces[_goes_about(lines, _within_each(faces)) > 0])


def _within_each(faces: NDArray[np.object_]) -> Floats:
    """A place well within each face, (n, 2), mm.

    An edge that lies along another but for rounding leaves a slit that belongs to a face, and a
    place in it would tell nothing: then the middle of the largest disc in the face is taken.
    """
    places = np.asarray(shapely.point_on_surface(faces), dtype=object)
    for n in np.flatnonzero(shapely.distance(places, shapely.boundary(faces)) < _SLIT_MM):
        places[n] = shapely.get_point(shapely.maximum_inscribed_circle(faces[n]), 0)
    return np.asarray(shapely.get_coordinates(places), np.float64)


class _Edges:
    """Edges of polygons' outlines, the area on their left, or on their right if turned.

    ``ends`` are where each begins and ends, (n, 4), mm; ``part`` is its polygon.
    """

    def __init__(self, parts: NDArray[np.object_], *, turned: bool) -> None:
        rings, part = shapely.get_rings(parts, return_index=True)
        outer = np.diff(part, prepend=-1) != 0
        forward = np.asarray(shapely.is_ccw(rings), np.bool_) == outer
        rings = np.where(forward != turned, rings, shapely.reverse(rings))
        self.xy, ring = shapely.get_coordinates(rings, return_index=True)
        self.first = np.flatnonzero(np.diff(ring) == 0)
        self.ends = np.concatenate([self.xy[self.first], self.xy[self.first + 1]], axis=1)
        self.part = part[ring[self.first]]

    def lines(self, which: Bools) -> NDArray[np.object_]:
        """Some of the edges, those strung together that follow one another."""
        at = self.first[which]
        breaks = np.flatnonzero(np.diff(at) != 1) + 1
        begin = np.concatenate([at[:1], at[breaks]])
        end = np.concatenate([at[breaks - 1], at[-1:]]) + 1
        if len(at) == 0:
            return np.empty(0, dtype=object)
        return lines_between(self.xy, begin, end)


class _KnownEdges:
    """The edges of a whole, to be looked up by a number made of their bits.

    Were two edges to share one, what is told of them is held against their ends; an edge that is
    not told costs time, and no truth. ``first`` is for each edge the first that is the same.
    """

    def __init__(self, whole: MultiPolygon) -> None:
        self.edges = _Edges(np.asarray(shapely.get_parts(whole), dtype=object), turned=False)
        # as they are met with turned round
        self._back = self.edges.ends[:, [2, 3, 0, 1]]
        key = _numbered(self._back)
        self._order = np.argsort(key, kind="stable")
        self._key = key[self._order]
        self.first = np.arange(len(key))
        if len(key):
            found = self.turned(self._back)
            self.first = np.where(found < 0, self.first, found)

    def turned(self, ends: Floats) -> Ints:
        """Numbers of the edges that some others are the reverse of; -1 where there is none."""
        if len(self._key) == 0:
            return np.full(len(ends), -1, np.int64)
        place = np.searchsorted(self._key, _numbered(ends))
        at = self._order[np.minimum(place, len(self._order) - 1)]
        same = (self._back[at] == ends).all(axis=1)
        return np.where(same, at, -1).astype(np.int64)


def _numbered(ends: Floats) -> NDArray[np.uint64]:
    """A number for each edge, made of all bits of its ends; nought and minus nought are one."""
    bits = np.ascontiguousarray(ends + 0.0).view(np.uint64)
    out = np.zeros(len(ends), np.uint64)
    for column in bits.T:
        out = (out ^ column) * _TURN
        out ^= out >> np.uint64(29)
    return out


def _goes_about(lines: NDArray[np.object_], places: Floats) -> Ints:
    """How often closed lines go about each place, (m,).

    Counted are the edges that cross a ray to the right.
    """
    ends = _ends_of(lines)
    far = float(ends[:, ::2].max()) + 1.0
    rays = np.stack([places, np.stack([np.full(len(places), far), places[:, 1]], axis=1)], axis=1)
    place, line = shapely.STRtree(lines).query(shapely.linestrings(rays))
    count = _edges_in(lines)
    asked = count[line]
    step = np.arange(asked.sum()) - np.repeat(np.cumsum(asked) - asked, asked)
    edge, place = np.repeat((np.cumsum(count) - count)[line], asked) + step, np.repeat(place, asked)
    (ax, ay, bx, by), (x, y) = ends[edge].T, places[place].T
    side = (bx - ax) * (y - ay) - (x - ax) * (by - ay)
    turns = ((ay <= y) & (by > y) & (side > 0)).astype(np.int64)
    turns -= (ay > y) & (by <= y) & (side < 0)
    return np.bincount(place, weights=turns, minlength=len(places)).astype(np.int64)
