"""Small islands that one copy alone shows, where too many are alone to be paint.

Filings and sawdust that lie on the work are as bright and as sharp as dots of gilt, on the japan
and beside strokes alike. But no other copy shows them. A dot of the ornament may stand alone too,
where wear took the other copy's: then of the dots a part is alone that is no greater than the part
of all strokes that the other copy lacks. So where far more small islands stand alone than wear of
the rest makes of those that are shown twice, those that do are more likely dirt than paint.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.ornament.gather.loss_edges import picture_at, ring_length

U8 = NDArray[np.uint8]

LONE_SPECK: Final = "a speck that no other copy shows"
"""Source of the outline of a small island that is more likely dirt than paint."""
LARGEST_MM: Final = 4.0
"""Islands with more outline are no filings: a millimetre across and more is seen for what it is."""
FULL: Final = 0.5
"""Share of an island that another copy shows gilt on from which both show it. A judgement."""
BARE: Final = 0.1
"""The same under which the other copy shows none of it: what blur and layings carry over."""
MOST_WORN: Final = 0.7
"""Wear of the rest counts as so much at most, beyond which nothing is told of islands."""
LEAST_ALONE: Final = 6
"""Fewer lone islands of a size than these are single odd places. A judgement."""
_BESIDE_MM: Final = 0.25
"""Another copy's stroke lies so near where it is the same one: what layings and wear leave."""
_LEAST_MM: Final = 0.25
"""Islands with less outline are of one size: a pixel or two of most photographs."""


def dirt_among(
    rings: Sequence[Floats],
    islands: Sequence[bool],
    own: U8,
    others: U8,
    missing: U8,
    px_per_mm: float,
) -> list[bool]:
    """Which rings are small islands that are more likely dirt than paint.

    Parameters
    ----------
    rings
        Outlines, (n, 2) mm from the pictures' corner, evenly spaced.
    islands
        Which of them enclose gilt.
    own
        Coverage as our own photographs show it, 0..255: what was taken from another is not judged.
    others
        The most that other copies show, 1..255; 0 where none is known.
    missing
        1 where a copy has gilt and another surely none.
    px_per_mm
        Of all.
    """
    around = [ring_length(ring) for ring in rings]
    small = [
        on and long < LARGEST_MM and _shown(ring, own, px_per_mm) >= FULL
        for ring, on, long in zip(rings, islands, around, strict=True)
    ]
    large = [ring for ring, long in zip(rings, around, strict=True) if long >= LARGEST_MM]
    shown = [
        _shown(ring, others, px_per_mm) if one else 0.0
        for ring, one in zip(rings, small, strict=True)
    ]
    lone = [
        one and share < BARE and bool((picture_at(others, ring, px_per_mm) > 0).all())
        for ring, one, share in zip(rings, small, shown, strict=True)
    ]
    out = [False] * len(rings)
    if sum(lone) < LEAST_ALONE or not large:
        return out
    points = np.concatenate(large)
    near = np.asarray(cv2.dilate(others, _disc(_BESIDE_MM, px_per_mm)), np.uint8)
    gone = (picture_at(near, points, px_per_mm) < 128) & (
        picture_at(missing, points, px_per_mm) > 0
    )
    worn = float(gone.mean())
    if worn > MOST_WORN:
        return out
    # dots of a size are alike, and filings of another
    size = np.floor(np.log2(LARGEST_MM / np.maximum(around, _LEAST_MM))).astype(int)
    for kind in np.unique(size[np.array(lone)]):
        alone = np.array(lone) & (size == kind)
        twice = np.array(small) & (np.array(shown) >= FULL) & (size == kind)
        # one more than was counted of either, so that a single lone dot is no dirt
        paint = (np.count_nonzero(twice) + 1) * worn / (1.0 - worn) + 1.0
        if np.count_nonzero(alone) >= LEAST_ALONE and paint < 0.5 * np.count_nonzero(alone):
            out = [bool(one) for one in alone | np.array(out)]
    return out


def pointed_at(
    rings: Sequence[Floats],
    islands: Sequence[bool],
    places: Sequence[tuple[float, float, float]],
) -> set[int]:
    """Which islands the places (x, y, radius mm) point at: the nearest to each, if in reach.

    Of those that hold a place the smallest: a speck may lie in a hole of a stroke.
    """
    found = set()
    around = [ring_length(ring) for ring in rings]
    for x, y, reach in places:
        # how deep within each ring the place lies, less than 0 outside it
        depth = [
            cv2.pointPolygonTest(ring.astype(np.float32).reshape(-1, 1, 2), (x, y), True)
            if on
            else -np.inf
            for ring, on in zip(rings, islands, strict=True)
        ]
        holding = [n for n, deep in enumerate(depth) if deep >= 0.0]
        if holding:
            found.add(min(holding, key=lambda n: around[n]))
        elif depth and max(depth) >= -reach:
            found.add(int(np.argmax(depth)))
    return found


def _shown(ring: Floats, others: U8, px_per_mm: float) -> float:
    """Share of an island on which other copies show gilt."""
    px = ring * px_per_mm - 0.5
    left, top = np.floor(px.min(axis=0)).astype(int) - 1
    right, bottom = np.ceil(px.max(axis=0)).astype(int) + 2
    left, top = max(left, 0), max(top, 0)
    part = others[top:bottom, left:right]
    if not part.size:
        return 0.0
    inside = np.zeros(part.shape, np.uint8)
    corners = np.round((px - (left, top)) * 16).astype(np.int32)
    cv2.fillPoly(inside, [corners], 1, cv2.LINE_8, 4)
    return float((part[inside > 0] > 127).mean()) if inside.any() else 0.0


def _disc(radius_mm: float, px_per_mm: float) -> U8:
    wide = 2 * max(1, round(radius_mm * px_per_mm)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (wide, wide)), np.uint8)
