"""Where the photograph could not show gilt, kept with the drawing so that nothing reads it as bare.

An outline that ends at a glare or at the picture's edge is the edge of what was seen, not of the
paint; and where it is too dark or too slanting nothing can be said of what is not drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bounds
from ironlace.ornament.gather.gathered import Gathered
from ironlace.ornament.gilt.gilt_map import (
    BLIND_COVERED,
    BLIND_DIM,
    BLIND_FRAME,
    BLIND_GLARE,
    BLIND_SLANT,
    GiltMap,
)
from ironlace.ornament.outline.drawing import BlindPlace

WHY: Final[dict[int, str]] = {
    BLIND_GLARE: "glare",
    BLIND_COVERED: "covered",
    BLIND_FRAME: "outside the photograph",
    BLIND_SLANT: "too slanting",
    BLIND_DIM: "too dark",
}
"""What each kind of blind place is called, that which hides most first."""
NEAR_BLIND_MM: Final = 0.5
"""An outline so near a blind place may be its edge: two pixels of the picture it is told on and
the lens's own spread. A judgement."""
LEAST_BLIND_MM2: Final = 2.0
"""Smaller places hide no stroke for long."""
STRAY_MM: Final = 0.4
"""How far the told edge of a blind place may stray from the pixels'."""


def why_blind(gathered: Gathered) -> dict[str, NDArray[np.bool_]]:
    """For each reason the blind places of a gathered picture, on its reduced grid; none twice."""
    if gathered.blind is None:
        return {}
    left = gathered.blind.copy()
    out = {}
    for bit, why in WHY.items():
        mask = (left & np.uint8(bit)) > 0
        if mask.any():
            out[why] = mask
        left[mask] = 0
    return out


def near_blind(gathered: Gathered, why: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """1 in a blind place and within `NEAR_BLIND_MM` of it, on the reduced grid."""
    reach = max(1, round(NEAR_BLIND_MM * _scale(gathered, why.shape)))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    return np.asarray(cv2.dilate(why.astype(np.uint8), disc), np.uint8)


def blind_places(gatherings: Sequence[Gathered], window: Bounds) -> tuple[BlindPlace, ...]:
    """Blind places within a window, as rings in mm; of several colours those of the first."""
    gathered = gatherings[0]
    out: list[BlindPlace] = []
    for why, mask in why_blind(gathered).items():
        scale = _scale(gathered, mask.shape)
        inside = mask & _in_window(gathered, mask.shape, window)
        # a sieve of small holes is one place
        whole = cv2.morphologyEx(
            inside.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)
        )
        rings, _ = cv2.findContours(whole, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        for ring in rings:
            if cv2.contourArea(ring) < LEAST_BLIND_MM2 * scale**2:
                continue
            fewer = cv2.approxPolyDP(ring, STRAY_MM * scale, closed=True).reshape(-1, 2)
            if len(fewer) >= 3:
                corners = (fewer + 0.5) / scale + np.asarray(gathered.origin_mm)
                out.append(BlindPlace(why, np.asarray(corners, np.float64)))
    return tuple(out)


def blind_shares(gatherings: Sequence[Gathered], window: Bounds) -> dict[str, float]:
    """Share of a window that is blind, by reason."""
    out: dict[str, float] = {}
    for why, mask in why_blind(gatherings[0]).items():
        inside = _in_window(gatherings[0], mask.shape, window)
        out[why] = float(np.mean(mask[inside])) if inside.any() else 0.0
    return out


def shaded_share(maps: Sequence[GiltMap], window: Bounds) -> float:
    """Share of a window that lies in a deep shadow in every one of the photographs."""
    return _share_in_all(maps, [one.shaded for one in maps], window)


def other_paint_share(maps: Sequence[GiltMap], window: Bounds) -> float:
    """Share of a window where strokes of another colour stand out in every photograph."""
    return _share_in_all(maps, [_bit(one.other_paint, 1) for one in maps], window)


def gone_grey_share(maps: Sequence[GiltMap], window: Bounds) -> float:
    """Share of a window where strokes are grey to which gilt pales, in every photograph."""
    return _share_in_all(maps, [_bit(one.other_paint, 2) for one in maps], window)


def _bit(mask: NDArray[np.uint8] | None, bit: int) -> NDArray[np.uint8] | None:
    return None if mask is None else np.asarray(mask & np.uint8(bit), np.uint8)


def _share_in_all(
    maps: Sequence[GiltMap], masks: Sequence[NDArray[np.uint8] | None], window: Bounds
) -> float:
    if not masks or any(mask is None for mask in masks):
        return 0.0
    there = np.all([mask > 0 for mask in masks if mask is not None], axis=0)
    inside = _in_window(maps[0], there.shape, window)
    return float(np.mean(there[inside])) if inside.any() else 0.0


def _scale(gathered: Gathered | GiltMap, shape: tuple[int, ...]) -> float:
    return float(gathered.px_per_mm * shape[1] / gathered.coverage.shape[1])


def _in_window(
    gathered: Gathered | GiltMap, shape: tuple[int, ...], window: Bounds
) -> NDArray[np.bool_]:
    scale = _scale(gathered, shape)
    x = (np.arange(shape[1]) + 0.5) / scale + gathered.origin_mm[0]
    y = (np.arange(shape[0]) + 0.5) / scale + gathered.origin_mm[1]
    left, top, right, bottom = window
    return np.outer((y > top) & (y < bottom), (x > left) & (x < right))
