"""Bridges that stand alike in what is alike: every berry of a vine, every eye of a row of straps.

The lightest set bridges each of them where it happens to be lightest, by a hair, and a row of them
looks as if it had been thrown. A sign-writer sets them all as the first. So islands of one shape
and number of bridges (turned, mirrored, larger or smaller) are found, and what holds one of them is
carried over to the others, if it stands there as well and everything holds as before.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
import shapely

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.bridges.choice import HoldWanted
from ironlace.ornament.stencils.bridges.ground import Ground
from ironlace.ornament.stencils.bridges.groups import holding
from ironlace.ornament.stencils.bridges.mirrored import (
    COSTS,
    MirrorAxis,
    as_strong,
    joined,
    like,
    once,
    strength,
)
from ironlace.ornament.stencils.bridges.spans import BridgeSpans, shore_points

_BINS: Final = 120
"""Directions in which an island's outline is looked at from its middle: 3 degrees apart (tuned)."""

_SIZES: Final = 1.6
"""How many times larger one of two alike may be (tuned)."""

_ROUGHLY: Final = 0.05
"""By which share two islands' outlines and extents, for their areas, may differ and be alike."""

_OFF_WIDTHS: Final = 0.3
"""How far off, in widths of a bridge, an outline lies on its like (as for mirror images)."""

_SHARE_ALIKE: Final = 0.97
"""Share of an outline that must lie on its like (as for mirror images)."""

_AROUND_WIDTHS: Final = 3.0
"""How far beyond an island, in widths of a bridge, what surrounds it is looked at (tuned)."""

_TURNED: Final = 0.02
"""What half a turn may cost, as a share of an island's size: of a round one that fits any way, none
is turned (tuned)."""

_PROFILES: Final = 0.03
"""How far, as a share of an island's size, its reach all round may differ from that of its like, on
the mean: no more than bins, and the corners that fall into one or the next, make of it (tuned)."""

_PAIRS: Final = 400
"""Pairs of islands that are compared closely at most, half a second: of some two hundred alike and
more only the first are bridged alike."""

_PAIRED: Final = 0.05
"""How far a bridge may lie off the mirror image of its twin, as a share of how far apart bridges
stand: no eye sees it (tuned)."""

_CLASSES: Final = 24
"""Kinds of islands whose bridges are carried over at most, the commonest first."""

_DONORS: Final = 12
"""Islands of a kind whose bridges are tried on the others, the lightest first (tuned)."""

_DONORS_PARTS: Final = 2000
"""Of a drawing with more parts fewer are tried: so many by the parts, but two."""

_LOOKS_PARTS: Final = 4000
"""How often it is looked whether all still holds, by the parts: a look takes as long as they are
many, and all looks together half a second."""


_DIRECTIONS: Final = np.arange(_BINS)

_WAYS: Final = (_DIRECTIONS[:, None] + np.stack([_DIRECTIONS, -_DIRECTIONS - 1])[:, None]) % _BINS
"""Which direction of one island lies in each of another that is turned by so many bins, and that is
mirrored first or not, (2, `_BINS`, `_BINS`): direction k in turn + k, or in turn - k - 1."""


@dataclass(frozen=True, eq=False)
class _Seen:
    """Islands as seen from their middles.

    Attributes
    ----------
    middle
        Centroids, (n, 2), mm.
    size
        Square roots of the areas, (n,), mm.
    outline
        How far in each direction an island reaches, over its size, (n, `_BINS`).
    beyond
        The same of what surrounds an island of a number, (`_BINS`,): asked of few.
    points
        Points along each outline, evenly, (n, `_BINS`, 2), mm.
    rough
        Length of the outline and longest extent over the size, (n, 2).
    """

    middle: Floats
    size: Floats
    outline: Floats
    beyond: Callable[[int], Floats]
    points: Floats
    rough: Floats


@dataclass(frozen=True, eq=False)
class _Carried:
    """Bridges ``given`` to islands of a kind, and the numbers of those that are ``gone`` for it."""

    gone: Ints
    given: BridgeSpans


def standing_as_the_first(
    ground: Ground,
    built: BridgeSpans,
    wanted: HoldWanted,
    axes: tuple[MirrorAxis, ...] = (),
) -> BridgeSpans:
    """The bridges built, standing alike in islands that are alike, where nothing is lost by it.

    Parameters
    ----------
    ground
        What is bridged.
    built
        What holds it.
    wanted
        What was asked of that.
    axes
        Mirror axes about which bridges stand in pairs: they still do.
    """
    shore = ground.shore
    if shore.parts < 3 or len(built) == 0:
        return built
    asked = strength(built, wanted, shore.parts)
    most = COSTS * float(built.weight.sum())

    def stands(some: list[_Carried]) -> BridgeSpans | None:
        gone = np.concatenate([one.gone for one in some])
        rest = built.kept(np.setdiff1d(np.arange(len(built)), gone))
        tried = once(joined([rest, *(one.given for one in some)]), wanted.clear_mm)
        if float(tried.weight.sum()) > most:
            return None
        if not all(_mirrored(tried, axis, wanted.clear_mm) for axis in axes):
            return None
        return tried if as_strong(built, tried, wanted, asked, shore.parts) else None

    held = holding(built.part_a, built.part_b, shore.parts)
    donors = int(np.clip(_DONORS_PARTS // shore.parts, 2, _DONORS))
    kinds = [
        options
        for parts, maps in _kinds(ground, wanted)[:_CLASSES]
        if (options := _carried_over(ground, built, held, parts, maps)[:donors])
    ]
    if not kinds:
        return built
    best = stands([options[0] for options in kinds])
    if best is not None:
        return best
    taken: list[_Carried] = []
    looks = max(2, _LOOKS_PARTS // shore.parts)
    for options in kinds:
        for one in options[:looks]:
            looks -= 1
            tried = stands([*taken, one])
            if tried is not None:
                best = tried
                taken.append(one)
                break
    return built if best is None else best


def _mirrored(spans: BridgeSpans, axis: MirrorAxis, clear_mm: float) -> bool:
    """Whether bridges stand in mirrored pairs."""
    from scipy.spatial import KDTree

    away = np.asarray(KDTree(spans.middle).query(axis.mirrored(spans.middle))[0])
    return bool((away < _PAIRED * clear_mm).all())


def _carried_over(
    ground: Ground, built: BridgeSpans, held: list[Ints], parts: Ints, maps: Floats
) -> list[_Carried]:
    """Ways to carry the bridges of one island of a kind over to the others, the best first.

    First comes the island whose bridges stand in most of the others, of such the one by whom they
    are lightest. An island in which they cannot stand keeps its own.
    """
    scale = np.sqrt(np.abs(np.linalg.det(maps[:, :, :2])))
    weight = np.array([built.weight[held[p]].sum() for p in parts])
    found: list[tuple[int, float, int, _Carried]] = []
    donors = int(np.clip(_DONORS_PARTS // ground.shore.parts, 2, _DONORS))
    for donor in np.argsort(weight / scale, kind="stable")[:donors].tolist():
        own = built.kept(held[parts[donor]])
        others = np.delete(np.arange(len(parts)), donor)
        if len(own) == 0:
            continue
        ways = [_through(maps[donor], maps[n]) for n in others]
        there = [
            _moved(own, way, scale[n] / scale[donor]) for n, way in zip(others, ways, strict=True)
        ]
        spans, stand = like(ground, joined(there))
        island = np.repeat(parts[others], len(own))
        stand &= (spans.part_a == island) | (spans.part_b == island)
        whole = stand.reshape(len(others), len(own)).all(axis=1)
        if whole.any():
            given = spans.kept(np.repeat(whole, len(own)))
            taken = np.concatenate([held[p] for p in parts[others[whole]]])
            # of the donor's own none goes, should it hold a neighbour too
            gone = np.setdiff1d(taken, held[parts[donor]])
            more = float(given.weight.sum() - built.weight[gone].sum())
            found.append((-int(whole.sum()), more, donor, _Carried(gone, given)))
    return [one for *_, one in sorted(found, key=lambda told: told[:3])]


def _moved(own: BridgeSpans, way: Floats, scale: float) -> BridgeSpans:
    """Bridges as a map (2, 3) lays them that makes everything so many times larger."""
    return BridgeSpans(
        own.part_a,
        own.part_b,
        own.at_a @ way[:, :2].T + way[:, 2],
        own.at_b @ way[:, :2].T + way[:, 2],
        own.area * scale,
        own.weight * scale,
    )


def _through(one: Floats, two: Floats) -> Floats:
    """The map from where the first map leads to where the second does, (2, 3)."""
    turn = two[:, :2] @ np.linalg.inv(one[:, :2])
    return np.column_stack([turn, two[:, 2] - turn @ one[:, 2]])


def _kinds(ground: Ground, wanted: HoldWanted) -> list[tuple[Ints, Floats]]:
    """Islands of one kind, the commonest first: their parts, and maps (2, 3) from the first."""
    seen = _seen(ground)
    count = wanted.count[1:]
    # however an island is turned or mirrored, these are the same
    reaches = np.sort(seen.outline, axis=1)
    left = np.arange(len(seen.size))
    out: list[tuple[Ints, Floats]] = []
    pairs = 0
    while len(left) > 1 and pairs < _PAIRS:
        first, rest = int(left[0]), left[1:]
        ratio = seen.size[rest] / seen.size[first]
        near = (np.abs(seen.rough[rest] / seen.rough[first] - 1.0) < _ROUGHLY).all(axis=1)
        near &= (ratio < _SIZES) & (ratio > 1.0 / _SIZES) & (count[rest] == count[first])
        near[near] = np.abs(reaches[rest[near]] - reaches[first]).mean(axis=1) < _PROFILES
        kind, maps = [first], [np.eye(2, 3)]
        for other in rest[near][: _PAIRS - pairs].tolist():
            pairs += 1
            way = _map(ground, seen, first, other)
            if way is not None:
                kind.append(other)
                maps.append(way)
        if len(kind) > 1:
            out.append((np.array(kind, dtype=np.int64) + 1, np.array(maps)))
        left = left[~np.isin(left, kind)]
    return sorted(out, key=lambda found: -len(found[0]))


def _seen(ground: Ground) -> _Seen:
    """The islands of what is bridged, seen from their middles."""
    from scipy.spatial import KDTree

    shore, width = ground.shore, ground.width_mm
    outlines = shore.outlines
    size = np.sqrt(np.maximum(shapely.area(outlines), 1e-9))
    middle = shapely.get_coordinates(shapely.centroid(outlines))
    points = shore_points(shore, 0.25 * width, least=2 * _BINS)
    of_ring = np.full(len(shore.rings), -1, dtype=np.int64)
    of_ring[shore.islands] = np.arange(len(size))
    island = of_ring[points.ring]
    own = np.flatnonzero(island >= 0)
    outline = np.zeros((len(size), _BINS))
    place, far = _direction(points.xy[own] - middle[island[own]])
    np.maximum.at(outline, (island[own], place), far)
    most = outline.max(axis=1)
    tree = KDTree(points.xy)

    @cache
    def beyond(n: int) -> Floats:
        reach = _AROUND_WIDTHS * width
        found = tree.query_ball_point(middle[n], most[n] + reach, return_sorted=True)
        at = np.asarray(found, dtype=np.int64)
        # what lies within it, and its own outline, surround it not
        at = at[(island[at] != n) & (points.part[at] != n + 1)]
        place, far = _direction(points.xy[at] - middle[n])
        outside = far > outline[n, place]
        nearest = outline[n] + reach
        np.minimum.at(nearest, place[outside], far[outside])
        return np.asarray(nearest / size[n])

    rough = np.stack([shapely.length(outlines), ground.extent], axis=1) / size[:, None]
    evenly = shore_points(shore, np.inf, least=_BINS).xy.reshape(-1, _BINS, 2)
    xy = evenly[shore.islands]
    return _Seen(middle, size, outline / size[:, None], beyond, xy, rough)


def _direction(away: Floats) -> tuple[Ints, Floats]:
    """The bin of each direction, and the distance."""
    turn = np.arctan2(away[:, 1], away[:, 0]) / (2.0 * np.pi) * _BINS
    return np.floor(turn).astype(np.int64) % _BINS, np.hypot(*away.T)


def _map(ground: Ground, seen: _Seen, one: int, two: int) -> Floats | None:
    """The map that lays one island on another as it lies in its surroundings; None if none does."""
    own = np.abs(seen.outline[two][_WAYS] - seen.outline[one]).mean(axis=2)
    fits = own <= _PROFILES
    if not fits.any():
        return None
    around = np.abs(seen.beyond(two)[_WAYS] - seen.beyond(one)).mean(axis=2)
    half = np.minimum(_DIRECTIONS, _BINS - _DIRECTIONS) / (_BINS / 2.0)
    cost = own + around + _TURNED * (half + np.array([[0.0], [0.5]]))
    cost[~fits] = np.inf
    flipped, turn = divmod(int(cost.argmin()), _BINS)
    angle = 2.0 * np.pi * turn / _BINS
    flip = -1.0 if flipped else 1.0
    way = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    way = way @ np.diag([1.0, flip]) * (seen.size[two] / seen.size[one])
    return _fitted(ground, way, seen, one, two)


def _fitted(ground: Ground, way: Floats, seen: _Seen, one: int, two: int) -> Floats | None:
    """A map (2, 3) laid closer by the outlines themselves; None if they do not lie on each other.

    Twice each point is paired with the nearest on the other outline, first roughly, and the turn
    sought that lays the pairs best (Kabsch 1976).
    """
    width = ground.width_mm
    start = seen.points[one] - seen.middle[one]
    end = seen.points[two] - seen.middle[two]
    for nearest in (_nearest_point, _nearest_on_line):
        u, _, v = np.linalg.svd(start.T @ nearest(start @ way.T, end))
        sign = np.sign(np.linalg.det(u) * np.linalg.det(v) * np.linalg.det(way))
        way = (u @ np.diag([1.0, sign]) @ v).T * (seen.size[two] / seen.size[one])
    laid = start @ way.T
    away = np.hypot(*(laid - _nearest_on_line(laid, end)).T)
    if np.mean(away < _OFF_WIDTHS * width) < _SHARE_ALIKE:
        return None
    return np.column_stack([way, seen.middle[two] - way @ seen.middle[one]])


def _nearest_point(xy: Floats, end: Floats) -> Floats:
    x, y = (xy[:, n, None] - end[:, n] for n in (0, 1))
    return np.asarray(end[(x**2 + y**2).argmin(axis=1)])


def _nearest_on_line(xy: Floats, end: Floats) -> Floats:
    """The nearest points of a closed line to some points, (n, 2)."""
    along = np.roll(end, -1, axis=0) - end
    x, y = (xy[:, n, None] - end[:, n] for n in (0, 1))
    unit = along / np.maximum((along**2).sum(axis=1), 1e-300)[:, None]
    share = np.clip(x * unit[:, 0] + y * unit[:, 1], 0.0, 1.0)
    x -= share * along[:, 0]
    y -= share * along[:, 1]
    rows, at = np.arange(len(xy)), (x**2 + y**2).argmin(axis=1)
    return np.asarray(end[at] + share[rows, at][:, None] * along[at])
