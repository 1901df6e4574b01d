"""Medians, quick where there are many small ones or a few large pictures."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.two_hands import two_hands

BAND = 32_768
"""Places that are sorted at once: of two dozen pictures a processor's cache holds so many."""


def middle(values: NDArray[np.floating]) -> float:
    """The median of numbers in one row, none of them nan; as `np.median`, without its overhead.

    Of none it is nan.
    """
    if not len(values):
        return float("nan")
    half = len(values) // 2
    if len(values) % 2:
        return float(np.partition(values, half)[half])
    part = np.partition(values, (half - 1, half))
    return float((part[half - 1] + part[half]) / 2)


def share_below(values: NDArray[np.floating], share: float) -> float:
    """The number below which so large a share of them lies (linear, as `np.percentile`)."""
    flat = values.ravel()
    at = share * (len(flat) - 1)
    low = min(int(at), max(len(flat) - 2, 0))
    high = min(low + 1, len(flat) - 1)
    part = np.partition(flat, (low, high))
    return float(part[low] + (at - low) * (part[high] - part[low]))


def middle_picture(
    pictures: Sequence[NDArray[np.generic]] | NDArray[np.generic],
) -> NDArray[np.float32]:
    """The median of each place over pictures of one shape, rows x columns."""
    rows, columns = pictures[0].shape
    count = len(pictures)
    out = np.empty((rows, columns), np.float32)
    step = max(BAND // max(columns, 1), 1)

    def fill(top: int) -> None:
        band = [np.ascontiguousarray(one[top : top + step]) for one in pictures]
        for low, high, lesser, greater in _exchanges(count):
            one, other = band[low], band[high]
            if lesser:
                band[low] = cv2.min(one, other)
            if greater:
                band[high] = cv2.max(one, other)
        found = out[top : top + step]
        found[:] = band[(count - 1) // 2]
        if count % 2 == 0:
            found += band[count // 2]
            found /= 2

    with two_hands() as pool:
        for _ in pool.map(fill, range(0, rows, step)):
            pass
    return out


@lru_cache(maxsize=32)
def _exchanges(count: int) -> list[tuple[int, int, bool, bool]]:
    """Pairs to put in order, one after the other, until the middle of so many is in its place.

    Batcher's merge exchange (Knuth, The Art of Computer Programming, 5.2.2, algorithm M), without
    what the middle does not hang on: whether the lesser of each pair counts, and the greater.
    """
    pairs: list[tuple[int, int]] = []
    first = p = 1 << max((count - 1).bit_length() - 1, 0)
    while p:
        q, r, d = first, 0, p
        while True:
            pairs += [(i, i + d) for i in range(count - d) if i & p == r]
            if q == p:
                break
            d, q, r = q - p, q // 2, p
        p //= 2
    wanted = {(count - 1) // 2, count // 2}
    kept = []
    for low, high in reversed(pairs):
        if low in wanted or high in wanted:
            kept.append((low, high, low in wanted, high in wanted))
            wanted |= {low, high}
    return kept[::-1]
