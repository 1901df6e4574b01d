"""Islands that hang on the sheet through too many others, and the bridges that shorten the way.

The least area of bridges likes to string islands up one behind another. Every one is held twice,
and yet a string of thirty swings like a necklace: a sign-writer ties it to the sheet on its way.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ironlace.evidence.arrays import Ints
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
    left = np.flatnonzero(away > max(clear_mm, 1e-6))
    while True:
        from_a, from_b = far[spans.part_a[left]], far[spans.part_b[left]]
        asked = np.maximum(from_a, from_b) > MOST_HOPS
        left, from_a, from_b = left[asked], from_a[asked], from_b[asked]
        # an end that hangs too far, tied to a part that hangs at most half as far as may be
        gain = np.abs(from_a - from_b) - 1
        fits = (np.minimum(from_a, from_b) <= MOST_HOPS // 2) & (gain > 0)
        if not fits.any():
            fits = gain > 0
        if not fits.any():
            return np.array(sorted(built), dtype=np.int64)
        worth = np.where(fits, gain / np.maximum(spans.weight[left], 1e-9), -np.inf)
        best = int(left[np.argmax(worth)])
        built.append(best)
        _tie(far, tied, int(spans.part_a[best]), int(spans.part_b[best]))
        # nor any that would stand in its way
        left = left[np.hypot(*(spans.middle[left] - spans.middle[best]).T) >= clear_mm]


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
