"""What of the ornament the first sheet covers, found along the edges in which the two differ.

The openings of the first sheet are the ornament with some of it cut away: nearly all edges of the
one are edges of the other, corner for corner. Where an edge is in both, nothing was cut away beside
it. Only the others bound what is covered, so that an overlay of the two wholes, which looks at
every corner of either, is not needed. Those that hang together, with what lies within them, tell by
themselves what they bound: where nothing changed since, that is remembered.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.stencils.regions import as_array, grouped, lines_between, polygons_of
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
    one, two = _Edges(whole, turned=False), _Edges(left, turned=True)
    own = ~_among(one.ends, two.ends), ~_among(two.ends, one.ends)
    ends = np.concatenate([one.ends[own[0]], two.ends[own[1]]])
    if len(ends) == 0:
        return []
    lines = np.concatenate([one.lines(own[0]), two.lines(own[1])])
    edges = np.split(ends, np.cumsum(shapely.get_num_coordinates(lines) - 1)[:-1])
    groups = _groups(lines, edges)
    told = shapely.to_wkb(lines)
    by_group = (remembered or Remembered()).by(
        ("cut away",),
        [tuple(told[group].tolist()) for group in groups],
        lambda new: [_bounded(_of(edges, groups[at]), lines[groups[at]]) for at in new],
    )
    found = as_array([face for faces in by_group for face in faces])
    low = shapely.bounds(found)
    return list(found[np.lexsort((low[:, 1], low[:, 0]))])


def _of(edges: Sequence[Floats], which: Ints) -> Floats:
    """Ends of the edges of some lines."""
    return np.concatenate([edges[n] for n in which.tolist()])


def _groups(lines: NDArray[np.object_], edges: Sequence[Floats]) -> list[Ints]:
    """Numbers of lines that go together, rising: those that meet, and those that these go about.

    Of two closed ways that do not meet, one goes about all of the other as often as about a place
    of it. Only what lies in its box is asked about.
    """
    number = as_array(range(len(lines)))
    meeting = grouped(number, *shapely.STRtree(lines).query(lines, predicate="intersects"))
    bounds, counts = shapely.bounds(lines), np.array([len(group) for group in meeting])
    own = bounds[np.concatenate(meeting).astype(np.int64)]
    first: Ints = (np.cumsum(counts) - counts).astype(np.int64)
    low = np.minimum.reduceat(own[:, :2], first)
    high = np.maximum.reduceat(own[:, 2:], first)
    boxes = np.asarray(shapely.box(*low.T, *high.T), dtype=object)
    inner, outer = shapely.STRtree(boxes).query(boxes, predicate="covered_by")
    inner, outer = inner[inner != outer], outer[inner != outer]
    about = np.zeros(len(inner), np.bool_)
    corner = shapely.get_coordinates(shapely.get_point(lines[[own[0] for own in meeting]], 0))
    for n in np.unique(outer).tolist():
        own, asked = meeting[n].astype(np.int64), np.flatnonzero(outer == n)
        about[asked] = _goes_about(_of(edges, own), lines[own], corner[inner[asked]]) != 0
    nested = grouped(as_array(range(len(meeting))), inner[about], outer[about])
    return [
        np.sort(np.concatenate([meeting[n] for n in group.tolist()]).astype(np.int64))
        for group in nested
    ]


def _bounded(ends: Floats, lines: NDArray[np.object_]) -> list[Polygon]:
    """What some edges go about, in no order; as of `_goes_about`."""
    noded = shapely.unary_union(lines)
    faces = np.asarray(polygons_of(shapely.polygonize([noded])), dtype=object)
    if len(faces) == 0:
        return []
    return list(faces[_goes_about(ends, lines, _within_each(faces)) > 0])


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
    """Edges of a region's outlines, the region on their left, or on their right if turned.

    ``ends`` are where each begins and ends, (n, 4), mm.
    """

    def __init__(self, region: MultiPolygon, *, turned: bool) -> None:
        rings, part = shapely.get_rings(shapely.get_parts(region), return_index=True)
        outer = np.diff(part, prepend=-1) != 0
        forward = np.asarray(shapely.is_ccw(rings), np.bool_) == outer
        rings = np.where(forward != turned, rings, shapely.reverse(rings))
        self.xy, ring = shapely.get_coordinates(rings, return_index=True)
        self.first = np.flatnonzero(np.diff(ring) == 0)
        self.ends = np.concatenate([self.xy[self.first], self.xy[self.first + 1]], axis=1)

    def lines(self, which: Bools) -> NDArray[np.object_]:
        """Some of the edges, those strung together that follow one another."""
        at = self.first[which]
        breaks = np.flatnonzero(np.diff(at) != 1) + 1
        begin = np.concatenate([at[:1], at[breaks]])
        end = np.concatenate([at[breaks - 1], at[-1:]]) + 1
        if len(at) == 0:
            return np.empty(0, dtype=object)
        return lines_between(self.xy, begin, end)


def _among(ends: Floats, others: Floats) -> Bools:
    """Which edges are the reverse of one of some others.

    Looked up by a number made of their bits. Were two edges to share one, what is told of them is
    held against their ends; an edge that is not told costs time, and no truth.
    """
    if len(others) == 0:
        return np.zeros(len(ends), np.bool_)
    back = others[:, [2, 3, 0, 1]]
    key, known = _numbered(ends), _numbered(back)
    order = np.argsort(known, kind="stable")
    at = order[np.minimum(np.searchsorted(known[order], key), len(order) - 1)]
    return np.asarray((back[at] == ends).all(axis=1), np.bool_)


def _numbered(ends: Floats) -> NDArray[np.uint64]:
    """A number for each edge, made of all bits of its ends; nought and minus nought are one."""
    bits = np.ascontiguousarray(ends + 0.0).view(np.uint64)
    out = np.zeros(len(ends), np.uint64)
    for column in bits.T:
        out = (out ^ column) * _TURN
        out ^= out >> np.uint64(29)
    return out


def _goes_about(ends: Floats, lines: NDArray[np.object_], places: Floats) -> Ints:
    """How often closed edges go about each place, (m,).

    Counted are the edges that cross a ray to the right; ``lines`` are all edges strung together, in
    their order.
    """
    far = float(ends[:, ::2].max()) + 1.0
    rays = np.stack([places, np.stack([np.full(len(places), far), places[:, 1]], axis=1)], axis=1)
    place, line = shapely.STRtree(lines).query(shapely.linestrings(rays))
    count = shapely.get_num_coordinates(lines) - 1
    asked = count[line]
    step = np.arange(asked.sum()) - np.repeat(np.cumsum(asked) - asked, asked)
    edge, place = np.repeat((np.cumsum(count) - count)[line], asked) + step, np.repeat(place, asked)
    (ax, ay, bx, by), (x, y) = ends[edge].T, places[place].T
    side = (bx - ax) * (y - ay) - (x - ax) * (by - ay)
    turns = ((ay <= y) & (by > y) & (side > 0)).astype(np.int64)
    turns -= (ay > y) & (by <= y) & (side < 0)
    return np.bincount(place, weights=turns, minlength=len(places)).astype(np.int64)
