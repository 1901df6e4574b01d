"""Bridges that stand as the ornament does: in mirrored pairs, where it is its own mirror image.

The lightest set of bridges takes no notice of symmetry, and on a medallion looks as if it had
slipped. A sign-writer sets bridges alike on both sides. So one half of what was chosen is mirrored
onto the other, whichever half holds everything as well as before and is lighter. Where neither
does, or it would cost area that shows, the choice stays as it was.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.stencils.bridges.chains import MOST_HOPS, hops
from ironlace.ornament.stencils.bridges.choice import HoldWanted, _Search
from ironlace.ornament.stencils.bridges.ground import Ground
from ironlace.ornament.stencils.bridges.groups import holding, nearest_two, spread_of, spreads
from ironlace.ornament.stencils.bridges.round_about import MOST_HEAVIER, worth
from ironlace.ornament.stencils.bridges.spans import BridgeSpans, shore_points
from ironlace.ornament.stencils.bridges.wishes import snapped
from ironlace.ornament.stencils.parts import Shores

_SHARE_ALIKE: Final = 0.97
"""Share of the outline that must lie on its mirror image: a signature in one corner is let pass, a
leaf that is missing from a dozen is not (tuned)."""

_OFF_WIDTHS: Final = 0.3
"""How far off, in widths of a bridge, outline still lies on its mirror image (tuned)."""

_ALIKE: Final = 0.25
"""By which share a mirrored bridge may be longer or shorter than its twin and be one (tuned)."""

COSTS: Final = 1.15
"""How many times the area of bridges may be for standing alike (common practice, no source)."""

_TRIED: Final = 8
"""Of the lightest places of a part on the axis, so many are tried together (tuned)."""

_POINTS: Final = 4000
"""Points of the outline that are looked at for its axes, about."""


@dataclass(frozen=True, slots=True)
class MirrorAxis:
    """A line through ``at`` in mm in direction ``along`` (unit length), both (2,)."""

    at: Floats
    along: Floats

    def mirrored(self, xy: Floats) -> Floats:
        """Points (n, 2) on the other side.

        >>> MirrorAxis(np.array([5.0, 0]), np.array([0.0, 1])).mirrored(np.array([[2.0, 7]]))
        array([[8., 7.]])
        """
        away = xy - self.at
        return np.asarray(self.at + 2.0 * np.outer(away @ self.along, self.along) - away)

    def aside(self, xy: Floats) -> Floats:
        """How far points lie to one side of it, mm, (n,)."""
        return np.asarray((xy - self.at) @ np.array([-self.along[1], self.along[0]]))


def mirror_axes(shore: Shores, width_mm: float) -> list[MirrorAxis]:
    """The axes that a sign-writer sees, upright before level before aslant; none on most drawings.

    Looked for through the middle of all outlines: upright and level, and along and across the way
    in which they spread most (principal axes).
    """
    from scipy.spatial import KDTree

    length = sum(float(np.hypot(*np.diff(ring, axis=0).T).sum()) for ring in shore.rings)
    xy = shore_points(shore, max(length / _POINTS, 0.05), least=8).xy
    low, high = xy.min(axis=0), xy.max(axis=0)
    tree = KDTree(xy)
    step = max(length / _POINTS, 0.05)
    _, across = np.linalg.eigh(np.cov((xy - xy.mean(axis=0)).T))
    tried = [
        (np.array([(low[0] + high[0]) / 2.0, 0.0]), np.array([0.0, 1.0])),
        (np.array([0.0, (low[1] + high[1]) / 2.0]), np.array([1.0, 0.0])),
        *((xy.mean(axis=0), across[:, n]) for n in (0, 1) if np.abs(across[:, n]).max() < 0.9998),
    ]
    found = []
    for at, along in tried:
        axis = MirrorAxis(at, along)
        off = np.asarray(tree.query(axis.mirrored(xy))[0])
        near = np.asarray(off < _OFF_WIDTHS * width_mm + step / 2.0)
        if near.mean() >= _SHARE_ALIKE:
            found.append(axis)
    return found[:2]


def standing_alike(
    ground: Ground,
    spans: BridgeSpans,
    chosen: Ints,
    wanted: HoldWanted,
) -> tuple[BridgeSpans, Ints, tuple[MirrorAxis, ...]]:
    """The bridges chosen, in mirrored pairs where the drawing has an axis and nothing is lost.

    Parameters
    ----------
    ground
        What is bridged.
    spans, chosen
        Places for bridges, and the numbers of those to build.
    wanted
        What was asked of them.

    Returns
    -------
    spans, chosen
        The same, or with mirrored places beside the others.
    about
        The axes about which they stand in pairs.
    """
    shore = ground.shore
    about: list[MirrorAxis] = []
    for axis in mirror_axes(shore, ground.width_mm):
        built = spans.kept(chosen)
        other = _other_parts(shore, axis)
        if other is None:
            continue
        asked = strength(built, wanted, shore.parts)
        found = [
            tried
            for tried in _in_pairs(ground, spans, built, axis, other, wanted, asked)
            if tried.weight.sum() <= COSTS * built.weight.sum()
        ]
        for tried in sorted(found, key=lambda one: float(one.weight.sum())):
            if as_strong(built, tried, wanted, asked, shore.parts):
                spans, chosen = tried, np.arange(len(tried))
                about.append(axis)
                break
    return spans, chosen, tuple(about)


def _in_pairs(
    ground: Ground,
    spans: BridgeSpans,
    built: BridgeSpans,
    axis: MirrorAxis,
    other: list[int],
    wanted: HoldWanted,
    asked: list[tuple[int, float]],
) -> Iterator[BridgeSpans]:
    """Bridges in mirrored pairs: of each pair of parts the lighter one's, or all of one side.

    Taken from both sides, they are lightest, and islands that hang on one another may hang farther
    off the sheet than they did on either side; taken from one side, they hang as there.
    """
    shore = ground.shore
    held = holding(built.part_a, built.part_b, shore.parts)
    away = hops(built.part_a, built.part_b, shore.parts)
    middles = shapely.get_coordinates(shapely.centroid(shore.outlines))
    beyond = np.concatenate([[False], axis.aside(middles) < 0])
    centred = [
        _on_axis(ground, spans, axis, away, part, wanted, asked[part])
        for part in range(1, shore.parts)
        if other[part] == part
    ]
    pairs = [
        [
            _with_twins(ground, axis, built.kept(held[p]))
            for p in sorted((part, other[part]), key=lambda p: bool(beyond[p]))
        ]
        for part in range(1, shore.parts)
        if other[part] > part
    ]
    lighter = [
        min(
            (half for half in both if half is not None),
            key=lambda half: float(half.weight.sum()),
            default=None,
        )
        for both in pairs
    ]
    for sides in (lighter, [one for one, _ in pairs], [two for _, two in pairs]):
        own = [one for one in (*centred, *sides) if one is not None]
        if own and len(own) == len(centred) + len(sides):
            yield once(joined(own), wanted.clear_mm)


def _other_parts(shore: Shores, axis: MirrorAxis) -> list[int] | None:
    """For each part the one on the other side, itself if it lies on the axis; None if unclear."""
    from scipy.spatial import KDTree

    outlines = shore.outlines
    middles = shapely.get_coordinates(shapely.centroid(outlines))
    # rings within rings share their middle: their size tells them apart
    size = np.sqrt(shapely.area(outlines))[:, None]
    mirrored = np.concatenate([axis.mirrored(middles), size], axis=1)
    near = np.asarray(KDTree(np.concatenate([middles, size], axis=1)).query(mirrored)[1])
    if (near[near] != np.arange(len(near))).any():
        return None
    return [0, *(near + 1).tolist()]


def _with_twins(ground: Ground, axis: MirrorAxis, own: BridgeSpans) -> BridgeSpans | None:
    """Bridges with those on the other side; None where one cannot stand there."""
    twins = _all_like(ground, axis.mirrored(own.at_a), axis.mirrored(own.at_b), own)
    return None if twins is None else joined([own, twins])


def _on_axis(
    ground: Ground,
    spans: BridgeSpans,
    axis: MirrorAxis,
    away: Ints,
    part: int,
    wanted: HoldWanted,
    asked: tuple[int, float],
) -> BridgeSpans | None:
    """Bridges that hold a part on the axis, alike on both sides; None where that cannot be.

    It gets the lightest pair that stands far enough apart, and more as it wants. ``away`` is how
    many bridges off the sheet each part hangs.
    """
    at = np.flatnonzero((spans.part_a == part) | (spans.part_b == part))
    beyond = np.where(spans.part_a[at] == part, spans.part_b[at], spans.part_a[at])
    places = spans.kept(at[away[beyond] < away[part]])
    singles, pairs = [], []
    for n in range(len(places)):
        place = places.kept(np.array([n]))
        if abs(float(axis.aside(place.middle)[0])) < 0.6 * wanted.clear_mm:
            singles.append(_centred(ground, axis, place))
            continue
        twin = _all_like(ground, axis.mirrored(place.at_a), axis.mirrored(place.at_b), place)
        pairs.append(None if twin is None else joined([place, twin]))
    return _best_of(
        [s for s in singles if s is not None],
        [p for p in pairs if p is not None],
        part,
        asked,
        wanted.clear_mm,
    )


def _best_of(
    singles: list[BridgeSpans],
    pairs: list[BridgeSpans],
    part: int,
    asked: tuple[int, float],
    clear_mm: float,
) -> BridgeSpans | None:
    """The best of singles, pairs, a pair and a single, two pairs, that does what is asked.

    Which is lightest, or little heavier and stands better round about the part.
    """
    count, apart = asked
    pairs = _asunder(pairs, clear_mm)
    # of those tried together none lies near another: else all would be at one thin place
    few = _asunder(pairs, max(clear_mm, apart / 3.0))[:_TRIED]
    singles = _asunder(singles, max(clear_mm, apart / 3.0))[:_TRIED]
    sets = [
        *([one] for one in singles),
        *([one] for one in pairs),
        *([one, two] for one in few for two in (*singles, *few)),
        *([one, two] for one in singles for two in singles),
    ]
    fitting: list[BridgeSpans] = []
    least = np.inf
    for some in sets:
        both = joined(some)
        if len(both) < count or both.weight.sum() > MOST_HEAVIER * least:
            continue
        apart_enough = spread_of(both, np.arange(len(both)), part) >= 0.98 * apart
        # as far as can be all round: a third beside the first holds no more than that
        gap = max(2.0 * clear_mm, apart if len(both) > 2 else 0.0)
        if apart_enough and len(once(both, gap)) == len(both):
            fitting.append(both)
            least = min(least, float(both.weight.sum()))
    weight = np.array([both.weight.sum() for both in fitting])
    near = np.array([nearest_two(both, part) for both in fitting])
    cost = np.where(weight <= MOST_HEAVIER * least, worth(weight, near), np.inf)
    return fitting[int(cost.argmin())] if fitting else None


def _asunder(sets: list[BridgeSpans], clear_mm: float) -> list[BridgeSpans]:
    """Sets of mirrored bridges, the lightest first, without those that lie on a lighter one."""
    sets = sorted(sets, key=lambda one: float(one.weight.sum()))
    if not sets:
        return []
    return [sets[n] for n in _apart(np.array([one.middle[0] for one in sets]), clear_mm)]


def _apart(middle: Floats, clear_mm: float) -> Ints:
    """Numbers of the places that do not lie where one before them, that is kept, does already."""
    from scipy.spatial import KDTree

    pairs = KDTree(middle).query_pairs(0.5 * clear_mm, output_type="ndarray")
    kept = np.ones(len(middle), dtype=np.bool_)
    # of every pair the first has a lower number: whether it stays is known when it is asked
    for first, second in pairs[np.lexsort(pairs.T)].tolist():
        kept[second] &= not kept[first]
    return np.flatnonzero(kept)


def once(spans: BridgeSpans, clear_mm: float) -> BridgeSpans:
    """Bridges without those that stand where another before them does already."""
    return spans.kept(_apart(spans.middle, clear_mm)) if len(spans) else spans


def _centred(ground: Ground, axis: MirrorAxis, one: BridgeSpans) -> BridgeSpans | None:
    """A bridge near the axis brought onto it, along it or square to it as it lies."""
    a, b = axis.mirrored(one.at_a), axis.mirrored(one.at_b)
    if np.linalg.norm(a - one.at_b) < np.linalg.norm(a - one.at_a):
        a, b = b, a
    return _all_like(ground, (one.at_a + a) / 2.0, (one.at_b + b) / 2.0, one)


def like(ground: Ground, twins: BridgeSpans) -> tuple[BridgeSpans, Bools]:
    """Bridges at wished places, and which of them can stand, each about as long as its twin."""
    ends, parts, stands = snapped(ground, np.concatenate([twins.at_a, twins.at_b], axis=1))
    length = np.linalg.norm(ends[:, 2:] - ends[:, :2], axis=1)
    stands = stands & (np.abs(length - twins.length) <= _ALIKE * twins.length + 0.02)
    share = length / np.maximum(twins.length, 1e-9)
    spans = BridgeSpans(
        parts[:, 0], parts[:, 1], ends[:, :2], ends[:, 2:], twins.area * share, twins.weight * share
    )
    return spans, stands


def _all_like(ground: Ground, at_a: Floats, at_b: Floats, twin: BridgeSpans) -> BridgeSpans | None:
    """Bridges from a to b, (n, 2) each, each about as long as its twin; None if one cannot be."""
    if len(twin) == 0:
        return twin
    longer = np.linalg.norm(at_b - at_a, axis=1) / np.maximum(twin.length, 1e-9)
    area, weight = twin.area * longer, twin.weight * longer
    spans, stand = like(ground, BridgeSpans(twin.part_a, twin.part_b, at_a, at_b, area, weight))
    # as long as the twin itself, not as the wish alone
    near = np.abs(spans.length - twin.length) <= _ALIKE * twin.length + 0.02
    return spans if (stand & near).all() else None


def joined(pieces: Sequence[BridgeSpans]) -> BridgeSpans:
    """Several sets of bridges as one."""
    return BridgeSpans(
        np.concatenate([p.part_a for p in pieces]),
        np.concatenate([p.part_b for p in pieces]),
        np.concatenate([p.at_a for p in pieces]),
        np.concatenate([p.at_b for p in pieces]),
        np.concatenate([p.area for p in pieces]),
        np.concatenate([p.weight for p in pieces]),
    )


def as_strong(
    built: BridgeSpans,
    tried: BridgeSpans,
    wanted: HoldWanted,
    asked: list[tuple[int, float]],
    parts: int,
) -> bool:
    """Whether bridges hold as well as those that stood.

    Every part keeps its number of bridges and their spread, no group hangs on one bridge, none
    hangs farther off than the farthest did or may, and none stand in one another's way that did
    not.
    """
    far = max(int(hops(built.part_a, built.part_b, parts).max()), MOST_HOPS)
    search = _search(tried, wanted)
    way = hops(tried.part_a, tried.part_b, parts)
    return (
        way.min() >= 0
        and way.max() <= far
        and _in_the_way(search) <= _in_the_way(_search(built, wanted))
        and next(search.leaves(), None) is None
        and all(
            bridges >= least and spread >= 0.98 * apart
            for (bridges, spread), (least, apart) in zip(
                strength(tried, wanted, parts), asked, strict=True
            )
        )
    )


def _search(built: BridgeSpans, wanted: HoldWanted) -> _Search:
    """A search in which all of some bridges are chosen."""
    search = _Search(built, wanted, None)
    search.take(set(range(len(built))))
    search.double = True
    return search


def strength(built: BridgeSpans, wanted: HoldWanted, parts: int) -> list[tuple[int, float]]:
    """Bridges that hold each part with what hangs on it, and their spread, up to what is wanted."""
    held = holding(built.part_a, built.part_b, parts)
    spread = np.minimum(spreads(built, held), wanted.apart_mm).tolist()
    return [
        (min(len(own), least), apart)
        for own, least, apart in zip(held, wanted.count.tolist(), spread, strict=True)
    ]


def _in_the_way(search: _Search) -> int:
    """How many bridges stand nearer to another than is clear."""
    return sum(not search.free(e) for e in search.chosen)
