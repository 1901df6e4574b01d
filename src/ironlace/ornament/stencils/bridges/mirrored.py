"""Mirror axes of an ornament, and what it takes for bridges to stand in mirrored pairs.

Axes are looked for where a sign-writer sees them, and by how an outline repeats round its middle:
what it reaches in every direction, laid over the same read backwards (a circular correlation, by
the fast Fourier transform of Cooley and Tukey 1965). Each is then tried on the outline itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.stencils.bridges.chains import MOST_HOPS, hops
from ironlace.ornament.stencils.bridges.choice import HoldWanted, _Search
from ironlace.ornament.stencils.bridges.ground import Ground
from ironlace.ornament.stencils.bridges.groups import holding, spreads
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

_POINTS: Final = 4000
"""Points of the outline that are looked at for its axes, about."""

_DIRECTIONS: Final = 720
"""Directions in which an outline is looked at from its middle: half a degree apart (tuned)."""

_RINGS: Final = 6
"""Rings about its middle, of as many points each, that are looked at one by one (tuned)."""

_LOOKED_AT: Final = 12
"""Axes aslant that are tried at most, the likeliest first: as many as most rosettes have."""

_AS_GOOD: Final = 0.85
"""Of axes that fit so well beside the best one, the most upright is tried first (tuned)."""

_LIKELY: Final = 0.6
"""How well an outline must lie on its mirror image, by directions alone, for an axis to be tried,
of 1 for wholly: directions are coarse (tuned)."""


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

    Looked for through the middle of all outlines: upright and level; where neither is one, in the
    directions in which outlines repeat backwards, and along and across the way in which they spread
    most (principal axes). A second axis is always square to the first: about both, bridges
    stand in fours.
    """
    from scipy.spatial import KDTree

    length = sum(float(np.hypot(*np.diff(ring, axis=0).T).sum()) for ring in shore.rings)
    step = max(length / _POINTS, 0.05)
    xy = shore_points(shore, step, least=8).xy
    tree = KDTree(xy)

    def is_one(axis: MirrorAxis) -> bool:
        off = np.asarray(tree.query(axis.mirrored(xy))[0])
        return bool((off < _OFF_WIDTHS * width_mm + step / 2.0).mean() >= _SHARE_ALIKE)

    middle = (xy.min(axis=0) + xy.max(axis=0)) / 2.0
    straight = [MirrorAxis(middle * turned, turned[::-1]) for turned in np.eye(2)]
    found = [axis for axis in straight if is_one(axis)]
    if found:
        return found
    _, across = np.linalg.eigh(np.cov((xy - xy.mean(axis=0)).T))
    at = xy.mean(axis=0)
    for along in (*_likely(xy - at), *across.T):
        axes = [MirrorAxis(at, one) for one in (along, np.array([-along[1], along[0]]))]
        if is_one(axes[0]):
            return axes if is_one(axes[1]) else axes[:1]
    return []


def _likely(away: Floats) -> list[Floats]:
    """Directions in which points (n, 2) about their middle may be mirrored, the likeliest first."""
    far = np.hypot(*away.T)
    turn = np.arctan2(away[:, 1], away[:, 0]) % (2.0 * np.pi)
    place = np.minimum(turn / (2.0 * np.pi) * _DIRECTIONS, _DIRECTIONS - 1).astype(np.int64)
    ring = np.searchsorted(np.quantile(far, np.arange(1, _RINGS) / _RINGS), far)
    profile = np.zeros((_RINGS, _DIRECTIONS))
    np.add.at(profile, (ring, place), far)
    # a degree or two of blur: points are few, and lie in one direction or the next by chance
    waves = np.fft.rfft(profile, axis=1)
    waves *= np.exp(-0.5 * (0.02 * np.arange(waves.shape[1])) ** 2)
    waves[:, 0] = 0.0
    whole = float(np.fft.irfft(waves * waves.conj(), _DIRECTIONS, axis=1)[:, 0].sum())
    if whole <= 0:
        return []
    # laid over itself read backwards: bins k and s - k are each other's image
    alike = np.fft.irfft(waves * waves, _DIRECTIONS, axis=1).sum(axis=0) / whole
    peaks = (alike >= np.roll(alike, 1)) & (alike > np.roll(alike, -1)) & (alike >= _LIKELY)
    best = np.flatnonzero(peaks)
    # the axes of a rosette are as good as one another: of those the most upright
    level = np.abs(np.cos((best + 1.0) * np.pi / _DIRECTIONS))
    worse = alike[best] < _AS_GOOD * alike[best].max(initial=0.0)
    best = best[np.lexsort((level, worse))][:_LOOKED_AT]
    # the top of a parabola through the peak and its neighbours
    left, right = alike[(best - 1) % _DIRECTIONS], alike[(best + 1) % _DIRECTIONS]
    shift = 0.5 * (left - right) / np.minimum(left - 2.0 * alike[best] + right, -1e-12)
    angles = (best + shift + 1.0) * np.pi / _DIRECTIONS
    return [np.array([np.cos(angle), np.sin(angle)]) for angle in angles.tolist()]


def other_parts(shore: Shores, axis: MirrorAxis) -> list[int] | None:
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


def apart(middle: Floats, near_mm: float) -> Ints:
    """Numbers of the places that do not lie where one before them, that is kept, does already."""
    from scipy.spatial import KDTree

    if len(middle) < 2:
        return np.arange(len(middle))
    pairs = KDTree(middle).query_pairs(near_mm, output_type="ndarray")
    kept = np.ones(len(middle), dtype=np.bool_)
    # of every pair the first has a lower number: whether it stays is known when it is asked
    for first, second in pairs[np.lexsort(pairs.T)].tolist():
        kept[second] &= not kept[first]
    return np.flatnonzero(kept)


def once(spans: BridgeSpans, clear_mm: float) -> BridgeSpans:
    """Bridges without those that stand where another before them does already."""
    return spans.kept(apart(spans.middle, 0.5 * clear_mm))


def alike_long(spans: BridgeSpans, twins: BridgeSpans) -> Bools:
    """Which bridges are about as long as their twins."""
    return np.asarray(np.abs(spans.length - twins.length) <= _ALIKE * twins.length + 0.02)


def like(ground: Ground, twins: BridgeSpans) -> tuple[BridgeSpans, Bools]:
    """Bridges at wished places, and which of them can stand, each about as long as its twin."""
    ends, parts, stands = snapped(ground, np.concatenate([twins.at_a, twins.at_b], axis=1))
    length = np.linalg.norm(ends[:, 2:] - ends[:, :2], axis=1)
    share = length / np.maximum(twins.length, 1e-9)
    spans = BridgeSpans(
        parts[:, 0], parts[:, 1], ends[:, :2], ends[:, 2:], twins.area * share, twins.weight * share
    )
    return spans, stands & alike_long(spans, twins)


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
    *,
    crowded: bool = False,
) -> bool:
    """Whether bridges hold as well as those that stood.

    Every part keeps its number of bridges and their spread, no group hangs on one bridge, none
    hangs farther off than the farthest did or may, and of all of them no larger share stands in
    another's way than did, unless they may be ``crowded``.
    """
    far = max(int(hops(built.part_a, built.part_b, parts).max()), MOST_HOPS)
    search = _search(tried, wanted)
    way = hops(tried.part_a, tried.part_b, parts)
    return (
        way.min() >= 0
        and way.max() <= far
        and (crowded or _crowded(search) <= _crowded(_search(built, wanted)))
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


def _crowded(search: _Search) -> float:
    """Which share of the bridges stands nearer to another than is clear."""
    return sum(not search.free(e) for e in search.chosen) / max(len(search.chosen), 1)


def costs(built: BridgeSpans, wanted: HoldWanted) -> float:
    """What bridges weigh, more of each that does not stand clear of the others."""
    search = _search(built, wanted)
    in_the_way = np.array([not search.free(e) for e in range(len(built))], dtype=np.bool_)
    return float((built.weight * np.where(in_the_way, wanted.clear_costs, 1.0)).sum())
