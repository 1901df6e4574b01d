"""Which areas are narrow anywhere: a quick look that lets none pass, before they are opened.

Drawing an area in and out again by a disc tells every narrow place exactly, and takes most of the
time of a plan, though few areas have one. A narrow place has an outline that faces another, or
itself, across less than the disc is wide: from a corner, or a point between two, the nearest point
of a piece of outline lies ahead and no farther than that, and is not just round a corner. Where
nothing does, nothing is narrow.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bools, Floats, Ints

if TYPE_CHECKING:
    from scipy.spatial import KDTree

_AHEAD: Final = 0.6
"""Cosine of the angle to an outline's normal up to which another piece lies ahead, 53 degrees. A
tip counts as a narrow place from an angle of 39 degrees down (by the length of outline that is
asked there), and a neck's outlines are parallel where it is narrowest."""

_HARDLY: Final = 0.64
"""Angle that an outline may turn so that no piece of it lies ahead of one before or after: what is
left of a right angle beside that of `_AHEAD`, less a hair (radians)."""

_COARSE: Final = 0.02
"""Share of the distance asked by which outlines may be thinned for the quick look: fewer corners
are asked quicker."""

_BEYOND: Final = 1.07
"""By which factor farther is looked than asked: both outlines that face each other were thinned,
and once before."""

_BEND: Final = 0.3
"""Sine of the angle from which a corner that points into an area is asked itself: beyond it, the
pieces on either side say too little of what lies ahead of it."""

_ALONG: Final = 1.7
"""How many times farther along an outline than straight across a piece of it that faces another
lies at least: on a rounded end 1.57, about a disc that just goes not out again 1.75."""

LONG: Final = 2.2
"""The same where only places count that are twice as long as wide: a tip of 39 degrees has 2.8."""

_NEAR: Final = 3.0
"""How many times as far from an outline that faces another as is asked, holes are looked at: what
is narrow is so by outlines no farther than once."""

_SMALL: Final = 1.1
"""By which factor of what any area without a disc must have, an area is no small one."""


def narrow_rings(
    rings: NDArray[np.object_],
    group: Ints,
    inward: Floats,
    within_mm: float,
    along: float = _ALONG,
) -> Bools:
    """Which rings face one of their own group, or themselves, across less than a distance.

    Parameters
    ----------
    rings
        Closed rings, (n,).
    group
        Number of each ring's group, (n,); rings of two groups are never asked together.
    inward
        1 where what is asked lies on the inner side of a ring, -1 where on its outer side, (n,).
    within_mm
        The distance.
    along
        What lies no more than so many times as far off along a ring is round a corner, and faces
        it not.

    >>> bar = shapely.linearrings([(0, 0), (9, 0), (9, 1), (0, 1)])
    >>> for asked in (0.9, 1.1):
    ...     narrow_rings(np.array([bar]), np.zeros(1, int), np.ones(1), asked).tolist()
    [False]
    [True]
    """
    reach = _BEYOND * within_mm
    lighter, found = _lighter(rings, _COARSE * within_mm)
    pieces, normal, last, bend = _pieces_of(shapely.segmentize(lighter, within_mm), inward)
    start, length, ring = pieces.start, pieces.length, pieces.ring
    middle = start + pieces.along / 2.0
    tree = _tree(middle)
    pairs = tree.query_pairs(reach + within_mm / 2.0, output_type="ndarray")
    pairs = pairs[group[ring[pairs[:, 0]]] == group[ring[pairs[:, 1]]]]
    pairs = pairs[~pieces.ahead_along(pairs[:, 0], pairs[:, 1])]
    for one, two in (pairs.T, pairs.T[::-1]):
        # from the middle of piece `one` to the nearest point of piece `two`
        to, near = pieces.nearest(middle[one], two, reach)
        ahead = near[_dot(normal[one[near]], to) > _AHEAD]
        at = one[ahead]
        far = pieces.apart(middle[at], at, length[at] / 2.0, two[ahead], along)
        found[ring[at[far]]] = True
    corner = np.flatnonzero(bend < -_BEND)
    if len(corner):
        there = _tree(start[corner]).sparse_distance_matrix(
            tree, reach + within_mm / 2.0, output_type="ndarray"
        )
        at, two = corner[there["i"]], there["j"]
        own = group[ring[at]] == group[ring[two]]
        at, two = at[own], two[own]
        to, near = pieces.nearest(start[at], two, reach)
        ahead = near[_ahead(last[at[near]], normal[at[near]], to) > _AHEAD]
        at, two = at[ahead], two[ahead]
        found[ring[at[pieces.apart(start[at], at, np.zeros(len(at)), two, along)]]] = True
    return found


def _tree(points: Floats) -> KDTree:
    """A tree of points that is asked once: halved by its boxes, not by medians, it is made sooner.

    What lies near is the same, told in another order.
    """
    from scipy.spatial import KDTree

    return KDTree(points, leafsize=16, balanced_tree=False)


def _pieces_of(
    rings: NDArray[np.object_], inward: Floats
) -> tuple[_Pieces, Floats, Floats, Floats]:
    """Pieces of rings, each one's normal and that of the piece before it, and how they bend."""
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    begin = np.flatnonzero(np.diff(ring) == 0)
    start, piece, ring = xy[begin], xy[begin + 1] - xy[begin], ring[begin]
    length = np.maximum(np.hypot(*piece.T), 1e-12)
    turn = np.where(shapely.is_ccw(rings), 1.0, -1.0) * inward
    normal = np.stack([-piece[:, 1], piece[:, 0]], axis=1) * (turn[ring] / length)[:, None]
    before = _before(ring)
    last = normal[before]
    bend = (last[:, 0] * normal[:, 1] - last[:, 1] * normal[:, 0]) * turn[ring]
    after = np.empty_like(before)
    after[before] = np.arange(len(before))
    # the nearest point of a piece is one of the outline's if it lies within, or the corner there
    # points into the area
    bent = bend < -1e-9
    return _Pieces(start, piece, length, bent, bent[after], ring), normal, last, bend


def _lighter(rings: NDArray[np.object_], tolerance_mm: float) -> tuple[NDArray[np.object_], Bools]:
    """Rings with fewer points; as they were where nothing is left of them, and which those are."""
    lighter = shapely.simplify(rings, tolerance_mm, preserve_topology=False)
    gone = np.asarray(shapely.get_num_coordinates(lighter) < 4)
    return np.where(gone, rings, lighter), gone


def _before(ring: Ints) -> Ints:
    """The piece before each piece of its ring; pieces stand in the order of their rings."""
    before = np.arange(len(ring)) - 1
    first = np.flatnonzero(np.diff(ring, prepend=-1) != 0)
    before[first] = np.append(first[1:], len(ring)) - 1
    return before


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Straight pieces of outlines, and whether the corners at either end point into the area."""

    start: Floats
    along: Floats
    length: Floats
    bent_at_start: Bools
    bent_at_end: Bools
    ring: Ints

    def nearest(self, points: Floats, piece: Ints, reach: float) -> tuple[Floats, Ints]:
        """Directions from points to the nearest point of a piece each, and which are in reach."""
        away, along = self.start[piece] - points, self.along[piece]
        share = -_dot(away, along) / self.length[piece] ** 2
        away = away + np.clip(share, 0.0, 1.0)[:, None] * along
        far = np.hypot(*away.T)
        asked = (share >= 0) | self.bent_at_start[piece]
        asked &= (share <= 1) | self.bent_at_end[piece]
        near = np.flatnonzero((far < reach) & (far > 1e-9) & asked)
        return away[near] / far[near, None], near

    @cached_property
    def _turned(self) -> Floats:
        """By how much in all, either way, outlines have turned up to each piece, (n,), radians."""
        x, y = self.along.T
        turn = np.arctan2(x[:-1] * y[1:] - y[:-1] * x[1:], x[:-1] * x[1:] + y[:-1] * y[1:])
        return np.concatenate([[0.0], np.cumsum(np.abs(turn))])

    def ahead_along(self, one: Ints, two: Ints) -> Bools:
        """Which of two pieces each are of one outline that hardly turns from the one to the other.

        All between them runs in a cone about either, and so does the way from any point of the one
        to any of the other: neither lies ahead of the other.
        """
        turned = np.abs(self._turned[one] - self._turned[two])
        return np.asarray((self.ring[one] == self.ring[two]) & (turned < _HARDLY))

    @cached_property
    def _run(self) -> Floats:
        """How far along all rings each piece begins, (n + 1,)."""
        return np.concatenate([[0.0], np.cumsum(self.length)])

    @cached_property
    def _whole(self) -> Floats:
        """Length of the ring of each piece, (n,)."""
        return np.asarray(np.bincount(self.ring, weights=self.length)[self.ring])

    def apart(self, points: Floats, own: Ints, beyond: Floats, piece: Ints, along: float) -> Bools:
        """Which pieces lie so many times as far off along a ring as straight across, or on another.

        Points (n, 2) lie so far ``beyond`` the start of their ``own`` pieces.
        """
        away, line = self.start[piece] - points, self.along[piece]
        share = np.clip(-_dot(away, line) / self.length[piece] ** 2, 0.0, 1.0)
        straight = np.hypot(*(away + share[:, None] * line).T)
        run = np.abs(self._run[piece] + share * self.length[piece] - self._run[own] - beyond)
        run = np.minimum(run, self._whole[own] - run)
        return np.asarray((self.ring[own] != self.ring[piece]) | (run > along * straight))


def _dot(one: Floats, two: Floats) -> Floats:
    """Products of vectors, (n, 2) each, (n,): a sum along so short an axis is slow."""
    return np.asarray(one[:, 0] * two[:, 0] + one[:, 1] * two[:, 1])


def _ahead(one: Floats, two: Floats, to: Floats) -> Floats:
    """Cosine between directions and the nearest of all that lie between two normals of a corner."""
    cosine = np.maximum(_dot(one, to), _dot(two, to))
    turn = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    from_one = one[:, 0] * to[:, 1] - one[:, 1] * to[:, 0]
    to_two = to[:, 0] * two[:, 1] - to[:, 1] * two[:, 0]
    between = (from_one * turn > 0) & (to_two * turn > 0) & (cosine > 0)
    return np.asarray(np.where(between, 1.0, cosine))


def may_be_narrow(areas: NDArray[np.object_], within_mm: float, along: float = _ALONG) -> Bools:
    """Which polygons may have a place where no disc of a width goes through; the others have none.

    One that is nowhere so wide has less area than half that width times its outline: every point
    of it lies nearer to the outline than that. ``along`` is as of `narrow_rings`.
    """
    if len(areas) == 0:
        return np.zeros(0, np.bool_)
    _, area, _, narrow = _rings_of(areas, within_mm, along)
    found = np.bincount(area[narrow], minlength=len(areas)) > 0
    return np.asarray(found | small_for(areas, within_mm))


def where_narrow(
    areas: NDArray[np.object_], within_mm: float, along: float = _ALONG
) -> tuple[Ints, NDArray[np.object_]]:
    """Which polygons may have a narrow place, as of `may_be_narrow`, and what to look for it in.

    That is each of them without holes that lie far from any outline that faces another: a net of
    2,000 holes is then asked round a few of them. Where holes are gone it is wider than it was, so
    that nothing else is narrow in it.
    """
    if len(areas) == 0:
        return np.zeros(0, np.int64), areas
    rings, area, outer, narrow = _rings_of(areas, within_mm, along)
    found = np.bincount(area[narrow], minlength=len(areas)) > 0
    small = small_for(areas, within_mm)
    kept = outer | small[area]
    bounds = shapely.bounds(rings)
    grown = bounds[narrow] + _NEAR * within_mm * np.array([-1.0, -1.0, 1.0, 1.0])
    boxes = np.asarray(shapely.box(*bounds.T), dtype=object)
    near, ring = shapely.STRtree(boxes).query(np.asarray(shapely.box(*grown.T), dtype=object))
    kept[ring[area[narrow][near] == area[ring]]] = True
    asked = np.flatnonzero(found | small)
    kept &= (found | small)[area]
    number = np.searchsorted(asked, area[kept])
    return asked, np.asarray(shapely.polygons(rings[kept], indices=number), dtype=object)


def _rings_of(
    areas: NDArray[np.object_], within_mm: float, along: float
) -> tuple[NDArray[np.object_], Ints, Bools, Bools]:
    """Outlines of areas, the area of each, whether it is an outer one, and which are narrow."""
    rings, area = shapely.get_rings(areas, return_index=True)
    outer = np.diff(area, prepend=-1) != 0
    return (
        rings,
        area,
        outer,
        narrow_rings(rings, area, np.where(outer, 1.0, -1.0), within_mm, along),
    )


def small_for(areas: NDArray[np.object_], within_mm: float) -> Bools:
    """Which areas may be so small that no disc of a width goes into them."""
    return np.asarray(shapely.area(areas) < _SMALL * within_mm / 2.0 * shapely.length(areas))


def nowhere_wide(areas: NDArray[np.object_], width_mm: float) -> Bools:
    """Which areas no disc of a width goes into; only those that may be so small are drawn in."""
    found = small_for(areas, width_mm)
    found[found] = shapely.is_empty(shapely.buffer(areas[found], -width_mm / 2.0))
    return found
