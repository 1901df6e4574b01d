"""Islands that hang on the sheet through too many others, and the bridges that shorten the way.

The least area of bridges likes to string islands up one behind another. Every one is held twice,
and yet a string of thirty swings like a necklace: a sign-writer ties it to the sheet on its way.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ironlace.evidence.arrays import Bools, Ints
from ironlace.ornament.stencils.bridges.spans import BridgeSpans

MOST_HOPS: Final = 5
"""Bridges from an island to the sheet at most, where spans allow it (common practice, no
source)."""


def hops(part_a: Ints, part_b: Ints, parts: int) -> Ints:
    """Bridges on the shortest way from each part to the sheet, part 0; -1 where there is none.

    >>> hops(np.array([0, 1, 2]), np.array([1, 2, 3]), 5).tolist()
    [0, 1, 2, 3, -1]
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import shortest_path

    ones = np.ones(len(part_a), dtype=np.int8)
    # scipy 1.15 takes no longer numbers for a way
    ends = (np.asarray(part_a, np.int32), np.asarray(part_b, np.int32))
    graph = coo_array((ones, ends), shape=(parts, parts)).tocsr()
    steps = shortest_path(graph, directed=False, unweighted=True, indices=0)
    return np.where(np.isfinite(steps), steps, -1.0).astype(np.int64)


def with_shorter_chains(spans: BridgeSpans, chosen: Ints, parts: int, clear_mm: float) -> Ints:
    """Bridges, and the cheapest further ones that bring every island near the sheet.

    Each round builds the span that shortens the way of its farther end most for its area. Where no
    span that stands clear shortens any way that is too long, it is left so; `hops` tells.

    Parameters
    ----------
    chosen
        Numbers of the spans that are built already.
    parts
        The sheet and its islands.
    clear_mm
        How far apart the middles of bridges stand.

    Returns
    -------
    built
        Their numbers and those of the further ones, rising.
    """
    from scipy.spatial import KDTree

    if len(chosen) == 0:
        return chosen
    built = chosen.tolist()
    far = hops(spans.part_a[built], spans.part_b[built], parts)
    if far.max(initial=0) <= MOST_HOPS or (far < 0).any():
        return np.array(sorted(built), dtype=np.int64)
    tied: list[list[int]] = [[] for _ in range(parts)]
    for one, two in zip(spans.part_a[built].tolist(), spans.part_b[built].tolist(), strict=True):
        tied[one].append(two)
        tied[two].append(one)
    away, _ = KDTree(spans.middle[built]).query(spans.middle)
    # a bridge more never lengthens a way: what is out of the question once, stays so
    free = _LightestFree(spans, np.flatnonzero(away > max(clear_mm, 1e-6)), parts, clear_mm)
    while True:
        free.keep(np.maximum(far[free.part_a], far[free.part_b]) > MOST_HOPS)
        from_a, from_b = far[free.part_a], far[free.part_b]
        # an end that hangs too far, tied to a part that hangs at most half as far as may be
        gain = np.abs(from_a - from_b) - 1
        fits = (np.minimum(from_a, from_b) <= MOST_HOPS // 2) & (gain > 0)
        if not fits.any():
            fits = gain > 0
        if not fits.any():
            return np.array(sorted(built), dtype=np.int64)
        worth = np.where(fits, gain / np.maximum(spans.weight[free.span], 1e-9), -np.inf)
        best = int(free.span[worth == worth.max()].min())
        built.append(best)
        _tie(far, tied, int(spans.part_a[best]), int(spans.part_b[best]))
        free.build(best)


class _LightestFree:
    """The lightest span between any two parts that no bridge stands in the way of.

    How far a way is shortened depends on the two parts alone, so that of all spans between them
    only the lightest is asked for.

    Attributes
    ----------
    span
        Numbers of the spans, (n,); of spans as light as each other the first.
    part_a, part_b
        The parts joined by each, (n,).
    """

    def __init__(self, spans: BridgeSpans, left: Ints, parts: int, clear_mm: float) -> None:
        from scipy.spatial import KDTree

        low = np.minimum(spans.part_a[left], spans.part_b[left])
        pair = low * parts + np.maximum(spans.part_a[left], spans.part_b[left])
        order = np.lexsort((left, spans.weight[left], pair))
        self._spans, self._clear_mm = spans, clear_mm
        self._left, pair = left[order], pair[order]
        self._tree = KDTree(spans.middle[self._left])
        self._free = np.ones(len(left), dtype=np.bool_)
        first = np.flatnonzero(np.diff(pair, prepend=-1) != 0)
        self._head, self._end = first, np.append(first[1:], len(left))
        self._take()

    def _take(self) -> None:
        self.span = self._left[self._head]
        self.part_a, self.part_b = self._spans.part_a[self.span], self._spans.part_b[self.span]

    def keep(self, which: Bools) -> None:
        """Leave out pairs of parts."""
        self._head, self._end = self._head[which], self._end[which]
        self._take()

    def build(self, best: int) -> None:
        """Leave out spans that a bridge stands in the way of."""
        at = self._spans.middle[best]
        ball = np.array(self._tree.query_ball_point(at, 1.001 * self._clear_mm), dtype=np.int64)
        away = np.hypot(*(self._spans.middle[self._left[ball]] - at).T)
        self._free[ball[away < self._clear_mm]] = False
        gone = np.flatnonzero(~self._free[self._head])
        for n in gone.tolist():
            head = int(self._head[n])
            while head < self._end[n] and not self._free[head]:
                head += 1
            self._head[n] = head
        self.keep(self._head < self._end)


def _tie(far: Ints, tied: list[list[int]], one: int, two: int) -> None:
    """Build a bridge between two parts: shorten the ways of all that hang nearer by it."""
    tied[one].append(two)
    tied[two].append(one)
    near, other = (one, two) if far[one] <= far[two] else (two, one)
    shortened = [(other, int(far[near]) + 1)]
    for part, way in shortened:  # breadth first: it grows as it is gone through
        if way < far[part]:
            far[part] = way
            shortened += [(beside, way + 1) for beside in tied[part]]
