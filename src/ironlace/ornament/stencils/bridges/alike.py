"""Bridges that stand as the ornament does: in mirrored pairs, where it is its own mirror image.

The lightest set of bridges takes no notice of symmetry, and on a medallion looks as if it had
slipped. A sign-writer sets bridges alike on both sides. So what was chosen is chosen again in
pairs, or in fours about two axes: part after part gets bridges with all their images, clear of
those that stand already. Where that does not hold everything as well as before, or would cost area
that shows, the choice stays as it was.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, product
from typing import Final, Literal

import numpy as np

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.stencils.bridges.chains import hops
from ironlace.ornament.stencils.bridges.choice import HoldWanted, places_on
from ironlace.ornament.stencils.bridges.ground import Ground
from ironlace.ornament.stencils.bridges.groups import ends_on, holding
from ironlace.ornament.stencils.bridges.mirrored import (
    COSTS,
    MirrorAxis,
    alike_long,
    apart,
    as_strong,
    costs,
    joined,
    like,
    mirror_axes,
    other_parts,
    strength,
)
from ironlace.ornament.stencils.bridges.round_about import MOST_HEAVIER, worth
from ironlace.ornament.stencils.bridges.spans import BridgeSpans

_TRIED: Final = 8
"""Of the lightest places of a part, so many are tried together (tuned)."""

_SAME: Final = 0.02
"""Nearer than this share of how far apart bridges stand, a bridge and its image are one (tuned)."""

_CENTRED: Final = 0.6
"""Nearer to an axis than this share of how far apart bridges stand, one bridge on the axis stands
for a pair (tuned)."""

_THINNED: Final = 100
"""Up to so many bridges with all their images, it is asked of each whether it can be spared."""

Way = Literal["lighter", "one side", "other side", "anew"]
"""Whose bridges a pair of parts gets: the lighter one's, one side's, or none that stood."""


@dataclass(frozen=True, eq=False)
class _Orbits:
    """Places for bridges with all their images.

    Attributes
    ----------
    images
        The places themselves, then their images in the same order, once for each way to mirror.
    counts
        Which images are bridges of their own, (ways, n): one on its axis is its own image.
    weight
        Of all bridges of each, (n,); infinite where one cannot stand.
    folded
        Middles, all brought to one side of every axis, (n, 2).
    clear
        Whether no image stands in another's way, (n,).
    """

    images: tuple[BridgeSpans, ...]
    counts: Bools
    weight: Floats
    folded: Floats
    clear: Bools

    def __len__(self) -> int:
        return len(self.weight)

    def kept(self, which: Ints) -> _Orbits:
        """Some of them."""
        return _Orbits(
            tuple(one.kept(which) for one in self.images),
            self.counts[:, which],
            self.weight[which],
            self.folded[which],
            self.clear[which],
        )

    @cached_property
    def each(self) -> list[BridgeSpans]:
        """The bridges of each."""
        return [
            joined(
                [
                    image.kept(np.array([n]))
                    for image, counts in zip(self.images, self.counts[:, n].tolist(), strict=True)
                    if counts
                ]
            )
            for n in range(len(self))
        ]


def standing_alike(
    ground: Ground,
    spans: BridgeSpans,
    chosen: Ints,
    wanted: HoldWanted,
) -> tuple[BridgeSpans, Ints, tuple[MirrorAxis, ...]]:
    """The bridges chosen, in mirrored pairs where the drawing has an axis and nothing is lost.

    About two axes at once if that can be, else about the first that it can be about.

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
        The same, or bridges with their images in place of them.
    about
        The axes about which they stand in pairs.
    """
    shore = ground.shore
    axes = mirror_axes(shore, ground.width_mm)
    if not axes or len(chosen) == 0:
        return spans, chosen, ()
    built = spans.kept(chosen)
    asked = strength(built, wanted, shore.parts)
    others = [other_parts(shore, axis) for axis in axes]
    every = [(axis, other) for axis, other in zip(axes, others, strict=True) if other is not None]
    for about in (every, *([one] for one in every if len(every) > 1)):
        if not about:
            continue
        chooser = _Chooser(ground, spans, built, about, wanted, asked)
        found = [
            tried
            for tried in chooser.tried()
            if tried.weight.sum() <= COSTS ** len(about) * built.weight.sum()
            and as_strong(built, tried, wanted, asked, shore.parts)
        ]
        if found:
            best = min(found, key=lambda one: costs(one, wanted))
            return best, np.arange(len(best)), tuple(axis for axis, _ in about)
    return spans, chosen, ()


class _Chooser:
    """Bridges chosen with all their images.

    Parameters
    ----------
    spans, built
        Places for bridges, and the bridges that were chosen without regard to symmetry.
    about
        The axes, each with the part that lies on the other side of every part.
    asked
        Number and spread of the bridges of every part.
    """

    def __init__(
        self,
        ground: Ground,
        spans: BridgeSpans,
        built: BridgeSpans,
        about: list[tuple[MirrorAxis, list[int]]],
        wanted: HoldWanted,
        asked: list[tuple[int, float]],
    ) -> None:
        parts = ground.shore.parts
        self._ground, self._spans, self._built = ground, spans, built
        self._axes = [axis for axis, _ in about]
        self._wanted, self._asked = wanted, asked
        self._held = holding(built.part_a, built.part_b, parts)
        turned = np.arange(parts)[None]
        for _, other in about:
            turned = np.concatenate([turned, np.array(other)[turned]])
        self._turned = turned
        # what hangs no farther off than the nearest of its images
        self._away = hops(built.part_a, built.part_b, parts)[turned].min(axis=0)
        first = np.flatnonzero((turned.min(axis=0) == np.arange(parts)) & (np.arange(parts) > 0))
        self._kinds = [np.unique(turned[:, part]) for part in first.tolist()]
        self._own: dict[tuple[int, ...], list[_Orbits]] = {}
        self._places: dict[int, _Orbits] = {}

    def tried(self) -> Iterator[BridgeSpans]:
        """Sets of bridges, each its own mirror image about every axis."""
        few_first = sorted(self._kinds, key=len)
        nearest_first = sorted(self._kinds, key=lambda kind: int(self._away[kind[0]]))
        ways: tuple[Way, ...] = ("lighter", "one side", "other side", "anew")
        small = len(self._kinds) <= _THINNED
        for way, order in product(ways, (few_first, nearest_first)):
            tries = [(True, True), *([(True, False)] if small else [])]
            # of those that stay as they stood, in one another's way or not, the order tells nothing
            if way != "anew" and order is few_first:
                tries.append((False, True))
            for clear, shared in tries:
                found = self._in_order(order, way, clear=clear, shared=shared)
                if found is not None:
                    yield found

    def _in_order(
        self, order: list[Ints], way: Way, *, clear: bool, shared: bool
    ) -> BridgeSpans | None:
        """Bridges of one part after the other with their images; None where one finds no room.

        Those that stood stay, or only where they are ``clear`` of the others. What a part shares
        with one before it is counted for it, or is not, should it turn out to hold nothing.
        """
        taken: list[BridgeSpans] = []
        for kind in order:
            crowd = joined(taken) if taken else None
            stood = self._new_of(self._standing(kind, way), crowd)
            stays = stood is not None and (not clear or self._clear(stood, crowd))
            own = stood if stays else self._anew(int(kind[0]), crowd, shared) or stood
            if own is None:
                return None
            taken += own
        return self._thinned(taken)

    def _anew(self, part: int, crowd: BridgeSpans | None, shared: bool) -> list[BridgeSpans] | None:
        """Other bridges of a part, with their images: clear of a crowd, or in it for want of room.

        Rather to what hangs no farther off than the part itself.
        """
        places, away = self._places_of(part), self._away
        free = places.clear & [self._clear([one], crowd) for one in places.each]
        first = places.images[0]
        nearer = np.maximum(away[first.part_a], away[first.part_b]) <= away[part]
        none = self._built.kept(np.zeros(0, dtype=np.int64))
        given = none
        if crowd is not None and shared:
            given = crowd.kept((crowd.part_a == part) | (crowd.part_b == part))
        # with what holds it already; without that, should it stand where it helps nothing
        for stand, which in product((given, none)[len(given) == 0 :], (free & nearer, free)):
            own = self._best_of(places.kept(np.flatnonzero(which)), part, stand)
            if own is not None:
                return own
        # where all is crowded, as many may stand in the way as did
        return self._best_of(places, part, none, crowded=True)

    def _new_of(
        self, some: list[BridgeSpans] | None, crowd: BridgeSpans | None
    ) -> list[BridgeSpans] | None:
        """Bridges with their images, without those that stand already: two parts may share one."""
        from scipy.spatial import KDTree

        if not some or crowd is None:
            return some
        away = KDTree(crowd.middle).query(np.array([one.middle[0] for one in some]))[0]
        near = np.asarray(away < 0.5 * self._wanted.clear_mm)
        return [one for one, there in zip(some, near.tolist(), strict=True) if not there]

    def _standing(self, kind: Ints, way: Way) -> list[BridgeSpans] | None:
        """Bridges that stood at parts that are each other's images, with theirs; None for anew."""
        # the bridges that stood at a part on an axis need not be each other's images
        if way == "anew" or len(kind) < len(self._turned):
            return None
        key = tuple(kind.tolist())
        if key not in self._own:
            self._own[key] = [
                self._orbits(self._built.kept(self._held[part])) for part in kind.tolist()
            ]
        sides = self._own[key]
        if way == "lighter":
            sides = sorted(sides, key=lambda one: float(one.weight.sum()))
        elif way == "other side":
            sides = sides[::-1]
        for side in sides if way == "lighter" else sides[:1]:
            if np.isfinite(side.weight).all():
                return self._once(side)
        return None

    def _once(self, orbits: _Orbits) -> list[BridgeSpans]:
        """Bridges with their images, each once: two of one part may be each other's image."""
        kept = apart(orbits.folded, 0.5 * self._wanted.clear_mm)
        return orbits.kept(kept).each

    def _clear(self, own: list[BridgeSpans], crowd: BridgeSpans | None) -> bool:
        """Whether bridges stand clear of some others."""
        if crowd is None or not own:
            return True
        near = _nearness(joined(own), crowd)
        return bool((near >= self._wanted.clear_mm).all())

    def _places_of(self, part: int) -> _Orbits:
        """Places for bridges of a part, the lightest first, with their images."""
        if part not in self._places:
            spans = self._spans
            kind = np.unique(self._turned[:, part])
            at = np.isin(spans.part_a, kind) | np.isin(spans.part_b, kind)
            orbits = self._orbits(spans.kept(at))
            stand = np.flatnonzero(np.isfinite(orbits.weight))
            lightest = stand[np.argsort(orbits.weight[stand], kind="stable")]
            orbits = orbits.kept(lightest)
            near = 0.5 * self._wanted.clear_mm
            self._places[part] = orbits.kept(apart(orbits.folded, near))
        return self._places[part]

    def _orbits(self, places: BridgeSpans) -> _Orbits:
        """Places with all their images; those near an axis brought onto it first."""
        clear = self._wanted.clear_mm
        stand = np.ones(len(places), dtype=np.bool_)
        for axis in self._axes:
            near = np.flatnonzero(np.abs(axis.aside(places.middle)) < _CENTRED * clear)
            if len(near):
                centred, ok = _centred(self._ground, axis, places.kept(near))
                places = _replaced(places, near, centred)
                stand[near] &= ok
        images = [places]
        for axis in self._axes:
            for one in tuple(images):
                image, ok = _as_long(
                    self._ground, axis.mirrored(one.at_a), axis.mirrored(one.at_b), places
                )
                images.append(image)
                stand &= ok
        counts = np.ones((len(images), len(places)), dtype=np.bool_)
        asunder = np.ones(len(places), dtype=np.bool_)
        for n, m in combinations(range(len(images)), 2):
            same = np.hypot(*(images[n].middle - images[m].middle).T) < _SAME * clear
            away = _nearness_of_each(images[n], images[m])
            counts[m] &= ~(same & counts[n])
            asunder &= same | ~counts[n] | ~counts[m] | (away >= clear)
        weight = (np.stack([one.weight for one in images]) * counts).sum(axis=0)
        folded = places.middle.copy()
        for axis in self._axes:
            beyond = axis.aside(folded) < 0
            folded[beyond] = axis.mirrored(folded[beyond])
        return _Orbits(tuple(images), counts, np.where(stand, weight, np.inf), folded, asunder)

    def _best_of(
        self, places: _Orbits, part: int, given: BridgeSpans, *, crowded: bool = False
    ) -> list[BridgeSpans] | None:
        """The best places, three at most, with their images, that do what is asked of a part.

        Which is lightest, or little heavier and stands better round about the part. ``given`` are
        bridges that stand on it already.
        """
        count, wide = self._asked[part]
        clear = self._wanted.clear_mm
        # of those tried together none lies near another: else all would be at one thin place
        few = apart(places.folded, max(clear, wide / 3.0))[:_TRIED].tolist()
        stands_on = ends_on(given, np.arange(len(given)), part)
        ends = [
            ends_on(one, np.flatnonzero((one.part_a == part) | (one.part_b == part)), part)
            for one in places.each
        ]
        sets: list[tuple[int, ...]] = [(), *((n,) for n in range(len(places)))]
        sets += [*combinations(few, 2)]
        if count > 2:
            sets += [*combinations(few, 3)]
        nearer = [self._leads_nearer(one.kept(np.array([0])), part) for one in places.each]
        leads = self._leads_nearer(given, part)
        fitting: list[tuple[int, ...]] = []
        told: list[tuple[float, float]] = []
        least = np.inf
        for some in sets:
            stands = np.concatenate([stands_on, *(ends[n] for n in some)])
            weight = float(places.weight[list(some)].sum())
            if len(stands) < count or weight > MOST_HEAVIER * least:
                continue
            # one at least leads towards the sheet
            if not (leads or any(nearer[n] for n in some)):
                continue
            most, near = _spread_and_nearest(stands)
            # as far as can be all round: a third beside the first holds no more than that
            gap = 0.5 * wide if len(stands) > 2 else 0.0
            if most < 0.98 * wide or near < gap:
                continue
            if not (crowded or self._asunder([places.each[n] for n in some])):
                continue
            fitting.append(some)
            told.append((weight, near))
            least = min(least, weight)
        if not fitting:
            return None
        weights, nears = np.array(told).T
        cost = np.where(weights <= MOST_HEAVIER * least, worth(weights, nears), np.inf)
        return [places.each[n] for n in fitting[int(cost.argmin())]]

    def _leads_nearer(self, some: BridgeSpans, part: int) -> bool:
        """Whether any of a part's bridges leads to what hangs nearer to the sheet."""
        away = np.minimum(self._away[some.part_a], self._away[some.part_b])
        return bool((away < self._away[part]).any())

    def _asunder(self, some: list[BridgeSpans]) -> bool:
        """Whether bridges with their images stand clear of one another."""
        clear = self._wanted.clear_mm
        return all((_nearness(one, two) >= clear).all() for one, two in combinations(some, 2))

    def _thinned(self, taken: list[BridgeSpans]) -> BridgeSpans:
        """Bridges without those, the heaviest first, that can be spared with all their images."""
        built, parts = self._built, self._ground.shore.parts
        if len(taken) > _THINNED:
            return joined(taken)
        for one in sorted(taken, key=lambda one: -float(one.weight.sum())):
            rest = [other for other in taken if other is not one]
            # with less, no more stand in one another's way
            if rest and as_strong(
                built, joined(rest), self._wanted, self._asked, parts, crowded=True
            ):
                taken = rest
        return joined(taken)


def _spread_and_nearest(stands: Floats) -> tuple[float, float]:
    """How far apart places stand at most, and how near the two nearest; 0 and 1 of one alone."""
    if len(stands) < 2:
        return 0.0, 1.0
    one, two = np.triu_indices(len(stands), 1)
    away = np.hypot(*(stands[one] - stands[two]).T)
    return float(away.max()), float(away.min())


def _nearness(some: BridgeSpans, others: BridgeSpans) -> Floats:
    """How near in mm each of some bridges comes to others, (n,)."""
    from scipy.spatial import KDTree

    away = np.asarray(KDTree(places_on(others)).query(places_on(some))[0])
    return np.asarray(away.reshape(-1, len(some)).min(axis=0))


def _nearness_of_each(one: BridgeSpans, two: BridgeSpans) -> Floats:
    """How near in mm each of some bridges comes to the other of the same number, (n,)."""
    first, second = (places_on(some).reshape(-1, len(some), 2) for some in (one, two))
    away = np.linalg.norm(first[:, None] - second[None], axis=3)
    return np.asarray(away.min(axis=(0, 1), initial=np.inf))


def _centred(ground: Ground, axis: MirrorAxis, near: BridgeSpans) -> tuple[BridgeSpans, Bools]:
    """Bridges near an axis brought onto it, along it or square to it as they lie."""
    a, b = axis.mirrored(near.at_a), axis.mirrored(near.at_b)
    turned = np.hypot(*(a - near.at_b).T) < np.hypot(*(a - near.at_a).T)
    a, b = np.where(turned[:, None], b, a), np.where(turned[:, None], a, b)
    return _as_long(ground, (near.at_a + a) / 2.0, (near.at_b + b) / 2.0, near)


def _as_long(
    ground: Ground, at_a: Floats, at_b: Floats, twins: BridgeSpans
) -> tuple[BridgeSpans, Bools]:
    """Bridges from a to b, (n, 2) each, and which of them can stand, about as long as their twins.

    A bridge as long as its twin takes as much area.
    """
    if len(twins) == 0:
        return twins, np.zeros(0, dtype=np.bool_)
    wished = BridgeSpans(twins.part_a, twins.part_b, at_a, at_b, twins.area, twins.weight)
    longer = wished.length / np.maximum(twins.length, 1e-9)
    spans, stand = like(
        ground,
        BridgeSpans(
            twins.part_a, twins.part_b, at_a, at_b, twins.area * longer, twins.weight * longer
        ),
    )
    # as long as the twin itself, not as the wish alone
    return spans, stand & alike_long(spans, twins)


def _replaced(places: BridgeSpans, which: Ints, by: BridgeSpans) -> BridgeSpans:
    """Places with some of them changed."""
    every = joined([places, by])
    at = np.arange(len(places))
    at[which] = len(places) + np.arange(len(which))
    return every.kept(at)
