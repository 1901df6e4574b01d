"""What shines like gilt beyond the strip, apart from all that it encloses.

A strip laid as a frame says where the work lies, how it is shaped and how bright white is there.
Past its rim all three are carried on, and the work itself may end: what stands behind it is laid
flat as if it belonged to it, and takes on gilt's colour where the light is poor. An ornament that
runs on past the rim is joined to what lies within; islands out there are left out, and told, before
anything is made of them: neither a mirror nor an outline sees them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.ornament.gilt.gilt_map import GiltMap
from ironlace.photographs.scale_strip import StripLayout

APART_MM: Final = 12.0
"""Gilt nearer to each other than this belongs together: about the widest gap between the parts of
one ornament. A judgement, no source."""
CELL_MM: Final = 0.5
"""How finely it is looked where gilt lies."""
FRAME_SIDES: Final = 3.0
"""Sides of a marker that a strip must be wide and high to be a frame: beside a straight one
everything lies beyond it."""
ENCLOSED: Final = 0.1
"""Share of the gilt that a frame must enclose, or it was laid beside the work. A judgement."""
GILDED: Final = 128
"""Coverage from which a pixel lies within an outline."""


def without_beyond(
    layers: Sequence[GiltMap], strip: StripLayout
) -> tuple[tuple[GiltMap, ...], float]:
    """The gilt without islands past a frame's rim, and how long their outlines were, mm.

    Parameters
    ----------
    layers
        The colours of one photograph; what lies near another colour within stays too.
    strip
        How it was laid.
    """
    left, top, right, bottom = strip.bounds_mm
    side = float(np.median([marker.side_mm for marker in strip.markers]))
    if min(right - left, bottom - top) < FRAME_SIDES * side:
        return tuple(layers), 0.0
    one = layers[0]
    h, w = one.coverage.shape
    across = max(round(w / one.px_per_mm / CELL_MM), 1)
    down = max(round(h / one.px_per_mm / CELL_MM), 1)
    gilded = np.logical_or.reduce([layer.coverage >= GILDED for layer in layers])
    # any pixel of gilt in it makes a cell gilt
    cells = _any_in(_any_in(gilded, down).T, across).T
    x = one.origin_mm[0] + (np.arange(across) + 0.5) * w / one.px_per_mm / across
    y = one.origin_mm[1] + (np.arange(down) + 0.5) * h / one.px_per_mm / down
    inner = ((left < x) & (x < right)) & ((top < y) & (y < bottom))[:, None]
    if (cells & inner).sum() < ENCLOSED * cells.sum():
        return tuple(layers), 0.0
    apart = cv2.distanceTransform((~cells).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    near = (apart * CELL_MM <= APART_MM / 2).astype(np.uint8)
    groups = cv2.connectedComponents(near, connectivity=8)[1]
    left_out = (groups > 0) & ~np.isin(groups, np.unique(groups[cells & inner]))
    if not (left_out & cells).any():
        return tuple(layers), 0.0
    there = _drawn_out(left_out, (h, w))
    length = _outline_px((gilded & there).astype(np.uint8)) / one.px_per_mm
    return tuple(_without(layer, left_out, there) for layer in layers), length


def _any_in(rows: NDArray[np.bool_], cells: int) -> NDArray[np.bool_]:
    """Whether anything is set in each of so many even cells of the rows, (cells, columns)."""
    edges = np.arange(cells + 1) * len(rows) / cells
    first, past = np.floor(edges[:-1]).astype(int), np.ceil(edges[1:]).astype(int)
    # a row that two cells share counts for both, so that each has a beginning and an end
    within = np.stack([first, past], axis=1).ravel()[:-1]
    return np.asarray(np.logical_or.reduceat(rows, within, axis=0)[::2], np.bool_)


def _without(layer: GiltMap, left_out: NDArray[np.bool_], there: NDArray[np.bool_]) -> GiltMap:
    """No gilt where it was left out, and nothing known there."""
    unknown = _drawn_out(left_out, layer.certainty.shape)
    return replace(
        layer,
        coverage=np.where(there, np.uint8(0), layer.coverage),
        certainty=np.where(unknown, np.float32(0.0), layer.certainty),
    )


def _drawn_out(cells: NDArray[np.bool_], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    size = (shape[1], shape[0])
    return cv2.resize(cells.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0


def _outline_px(gilded: NDArray[np.uint8]) -> float:
    """Length of the outlines in a mask, pixels."""
    rings = cv2.findContours(gilded, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)[0]
    return float(sum(cv2.arcLength(ring, closed=True) for ring in rings))
