"""How paint ends along an outline: how unevenly, and how sharply.

A brush draws an edge that is smoother than a tear's, and as sharp as the camera shows anything;
gilt that was rubbed off thins out. How uneven a tear is differs from piece to piece, so that these
measures say nothing by themselves: `known_edges` learns what they mean on the piece at hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats, Ints
from ironlace.photographs.looked_up import looked_up

U8 = NDArray[np.uint8]

REACH_MM: Final = 0.16
"""So far to either side of an outline its paint is looked at: half of a hairline."""
_APART_MM: Final = 0.02
"""Between the places across an outline at which it is looked at; a third of a usual pixel."""
_BESIDE: Final = 2
"""Points along the outline, before and after, from whose middle an edge's bumps are measured: a
tenth of a millimetre each, the width of the smallest tooth that a camera shows."""
_LEAST_BUMP_MM: Final = 0.003
"""Added to the unevenness before its logarithm: what noise alone makes."""


def paint_measures(
    parts: Sequence[Ints],
    points: Floats,
    gilt_side: int,
    picture: U8,
    px_per_mm: float,
    origin_mm: tuple[float, float] = (0.0, 0.0),
) -> Floats:
    """How the paint ends along stretches of a ring.

    Parameters
    ----------
    parts
        Indices of each stretch's points.
    points
        The ring, (n, 2) mm, evenly spaced.
    gilt_side
        1 where the gilt lies on the side to which a turn from x towards y bends, else -1.
    picture
        Coverage, 0..255.
    px_per_mm, origin_mm
        Of the picture.

    Returns
    -------
    Floats
        (m, 2): logarithm of the unevenness in mm; steepest fall of the coverage across the edge,
        shares per mm, on average.
    """
    if not parts:
        return np.zeros((0, 2))
    way = np.roll(points, -2, axis=0) - np.roll(points, 2, axis=0)
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
    inwards = np.stack([-way[:, 1], way[:, 0]], axis=1) * gilt_side
    across = np.arange(-REACH_MM, REACH_MM + _APART_MM / 2, _APART_MM)
    places = points[:, None] + inwards[:, None] * across[:, None]
    px = (places - np.asarray(origin_mm)) * px_per_mm - 0.5
    share = looked_up(picture, px, beyond=cv2.BORDER_CONSTANT).astype(np.float64) / 255.0
    edge = points - inwards * (share.sum(axis=1) * _APART_MM)[:, None]
    bump = np.roll(edge, _BESIDE, axis=0) + np.roll(edge, -_BESIDE, axis=0) - 2.0 * edge
    uneven = np.sum(bump * inwards, axis=1)
    sharp = np.abs(np.diff(share, axis=1)).max(axis=1) / _APART_MM
    out = []
    for part in parts:
        inner = part if len(part) < 6 else part[1:-1]  # without the corners themselves
        out.append((np.log(np.std(uneven[inner]) + _LEAST_BUMP_MM), np.mean(sharp[inner])))
    return np.array(out)
