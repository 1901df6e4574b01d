"""Bridges that stand round about what they hold, where that costs next to nothing.

On a ring or a frame of even width every place is as light as any other, and the lightest set has
its bridges wherever that is so by a hair: two side by side at the top of an oval, none below. A
sign-writer sets them opposite each other. So a bridge is moved along the same two parts to where it
stands farthest from the others, as long as it stays about as light; what holds what stays the same.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.stencils.bridges.choice import HoldWanted
from ironlace.ornament.stencils.bridges.groups import ends_on, holding, spread_of
from ironlace.ornament.stencils.bridges.spans import BridgeSpans

MOST_HEAVIER: Final = 1.3
"""Times heavier that a bridge may be for standing better: thin places of letters keep theirs
(tuned)."""

_BETTER: Final = 1.15
"""By which factor it must stand farther from the nearest other to be moved (tuned)."""


def worth(weight: Floats, away_mm: Floats) -> Floats:
    """What bridges cost that stand so far from the nearest other; less is better.

    Twice as far is worth two fifths more weight (tuned).
    """
    return np.asarray(weight / np.sqrt(np.maximum(away_mm, 1e-9)))


_ROUNDS: Final = 3
"""How often all are looked at: two that stand side by side both move."""


def standing_round_about(spans: BridgeSpans, chosen: Ints, wanted: HoldWanted, parts: int) -> Ints:
    """Numbers of the spans built, each as far from its neighbours as equally light places allow.

    Parameters
    ----------
    chosen
        Numbers of the spans that are built.
    wanted
        What was asked of them: all of it still holds.
    parts
        The sheet and its islands.
    """
    built = chosen.copy()
    held = holding(spans.part_a[built], spans.part_b[built], parts)
    pair = np.minimum(spans.part_a, spans.part_b) * parts + np.maximum(spans.part_a, spans.part_b)
    order = np.argsort(pair, kind="stable")
    low = np.searchsorted(pair[order], pair[built], side="left")
    high = np.searchsorted(pair[order], pair[built], side="right")
    crowds = _Crowds(spans.middle, built, wanted.clear_mm)
    for _ in range(_ROUNDS):
        moved = False
        for part, n in _could_move(spans, built, held, order, low, high):
            places = order[low[n] : high[n]]
            found = _farther(spans, built, n, held, part, places, wanted, crowds)
            if found >= 0:
                crowds.move(int(built[n]), found)
                built[n] = found
                moved = True
        if not moved:
            break
    return np.sort(built)


def _could_move(
    spans: BridgeSpans, built: Ints, held: list[Ints], order: Ints, low: Ints, high: Ints
) -> list[tuple[int, int]]:
    """Parts and those of their bridges that have a light place farther from their others.

    All at once: of thousands of bridges few have one. ``order[low[n] : high[n]]`` are the places
    between the two parts of bridge ``n``.
    """
    count = np.array([len(own) for own in held], dtype=np.int64)
    every = np.concatenate([*held, np.zeros(0, dtype=np.int64)])
    part = np.repeat(np.arange(len(held)), count)
    begin = np.repeat(np.cumsum(count) - count, count)
    size = high[every] - low[every]
    ask = np.repeat(np.arange(len(every)), size)
    step = np.arange(len(ask)) - np.repeat(np.cumsum(size) - size, size)
    place = order[low[every[ask]] + step]
    light = spans.weight[place] <= MOST_HEAVIER * spans.weight[built[every[ask]]]
    ask, place = ask[light], place[light]

    def ends(which: Ints, on: Ints) -> Floats:
        return np.where((spans.part_a[which] == on)[:, None], spans.at_a[which], spans.at_b[which])

    could, now = ends(place, part[ask]), ends(built[every], part)
    away, is_now = np.full(len(ask), np.inf), np.full(len(every), np.inf)
    for turn in range(1, int(count.max(initial=0))):
        more = turn < count[part]
        other = begin + (np.arange(len(every)) - begin + turn) % np.maximum(count[part], 1)
        stands = now[other]
        is_now = np.where(more, np.minimum(is_now, np.hypot(*(now - stands).T)), is_now)
        there = np.hypot(*(could - stands[ask]).T)
        away = np.where(more[ask], np.minimum(away, there), away)
    better = np.isfinite(away) & (away >= _BETTER * is_now[ask])
    better &= worth(spans.weight[place], away) < worth(spans.weight[built[every]], is_now)[ask]
    return [(int(part[n]), int(every[n])) for n in np.unique(ask[better]).tolist()]


def _farther(
    spans: BridgeSpans,
    built: Ints,
    n: int,
    held: list[Ints],
    part: int,
    places: Ints,
    wanted: HoldWanted,
    crowds: _Crowds,
) -> int:
    """Where a part's bridge ``n`` stands better, far from its others; -1 for nowhere."""
    others = built[held[part][held[part] != n]]
    stands = ends_on(spans, others, part)
    now = float(np.linalg.norm(ends_on(spans, built[[n]], part) - stands, axis=1).min())
    could = ends_on(spans, places, part)
    away = np.linalg.norm(could[:, None] - stands[None], axis=2).min(axis=1)
    weight, is_now = spans.weight[places], spans.weight[built[n]]
    cost = worth(weight, away)
    better = (away >= _BETTER * now) & (weight <= MOST_HEAVIER * is_now)
    better &= cost < worth(is_now, np.asarray(now))
    places = places[better][np.argsort(cost[better], kind="stable")]
    for place in places[crowds.clear_but(places, int(built[n]))].tolist():
        if _holds_beyond(spans, built, n, held, part, place, wanted):
            return int(place)
    return -1


class _Crowds:
    """How many of the bridges built come too near to each place; kept while they are moved.

    Parameters
    ----------
    middle
        Middles of all places, (n, 2), mm.
    built
        Numbers of the places that are built.
    clear_mm
        How far apart middles stand.
    """

    def __init__(self, middle: Floats, built: Ints, clear_mm: float) -> None:
        from scipy.spatial import KDTree

        self._middle, self._clear_mm = middle, clear_mm
        self._tree = KDTree(middle)
        self._count = np.zeros(len(middle), dtype=np.int64)
        for place in built.tolist():
            self._count[self._near(place)] += 1

    def _near(self, place: int) -> Ints:
        """Places that a bridge at one comes too near to, that place among them."""
        at = self._middle[place]
        ball = np.array(self._tree.query_ball_point(at, 1.001 * self._clear_mm), dtype=np.int64)
        return np.asarray(ball[np.hypot(*(self._middle[ball] - at).T) < self._clear_mm])

    def move(self, place: int, to: int) -> None:
        """Build elsewhere what stood at a place."""
        self._count[self._near(place)] -= 1
        self._count[self._near(to)] += 1

    def clear_but(self, places: Ints, but: int) -> Bools:
        """Which places stand clear of all bridges built but one."""
        own = np.hypot(*(self._middle[places] - self._middle[but]).T) < self._clear_mm
        return np.asarray(self._count[places] - own == 0)


def _holds_beyond(
    spans: BridgeSpans,
    built: Ints,
    n: int,
    held: list[Ints],
    part: int,
    place: int,
    wanted: HoldWanted,
) -> bool:
    """Whether the part beyond bridge ``n`` is held as far apart as before with it elsewhere."""
    before = int(built[n])
    beyond = int(spans.part_b[before] if spans.part_a[before] == part else spans.part_a[before])
    if beyond == 0 or n not in held[beyond]:
        return True
    own = held[beyond]
    asked = min(float(wanted.apart_mm[beyond]), spread_of(spans, built[own], beyond))
    tried = np.where(own == n, place, built[own])
    return spread_of(spans, tried, beyond) >= asked
