"""Which stretches of an outline are the edge of a loss, and no outline of the ornament.

Where paint is gone from every source, the drawing closes along the edge of what is left. Two
sources worn independently do not end at the same place by chance, so an edge that two of them show
is an outline. Of the rest, a loss's edge runs across a stroke or around a bite: it meets the true
outline at a corner on both ends, and between them it is short and uneven, where an outline runs on
smoothly. The odds by length and unevenness are a logistic regression (Cox 1958) on ornaments worn
and joined by rendering, whose truth is known; what they cost in rightly graded outline shows in
``bench/ornament_truth.py``.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.ornament.outline.drawing import sample_curves

U8 = NDArray[np.uint8]

EDGE_OF_A_LOSS: Final = "edge of a loss"
"""Name of the source that such stretches are given."""
WITNESS_MM: Final = 0.12
"""How far apart two sources' edges may lie and still be one."""
NEAR_WEAR_MM: Final = 0.6
"""Only outlines so near a disputed place are asked whether they are the edge of a loss."""
STEP_MM: Final = 0.05
"""Between points along an outline; the steps below are counted in it."""
_TURN_OVER: Final = 7
"""Steps (0.35 mm) before and after a point between which a corner turns."""
_CORNER: Final = np.deg2rad(38.0)
"""Turn from which a place is a corner, as for the nodes of fitted curves."""
_LONGEST_MM: Final = 3.0
"""A longer stretch between corners is outline: losses are bites and breaks. Tuned; on what was not
kept."""
_TWICE_SEEN: Final = 0.34
"""Share of a stretch that two sources may show before it is outline beyond question."""
_ODDS: Final = (4.15, -1.01, -3.02, -0.2, 0.88)
"""Of 1, log length, its square, the share seen twice, and the log of unevenness."""
LIKELY: Final = 0.95
"""Log odds from which a stretch is called the edge of a loss: somewhat under a sixth of them are
then told, for about a thousandth of the outline less rightly graded; at 0 it is three fifths, but
for two percent of the true outline miscalled."""


def edge_band(coverage: U8, px_per_mm: float) -> U8:
    """1 within `WITNESS_MM` of a source's own edge."""
    size = 2 * max(1, round(WITNESS_MM * px_per_mm)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    inside = (coverage > 127).astype(np.uint8)
    return np.asarray(cv2.dilate(inside, disc) - cv2.erode(inside, disc), np.uint8)


def near_wear(disputed: U8, px_per_mm: float) -> U8:
    """1 within `NEAR_WEAR_MM` of a disputed place."""
    size = 2 * round(NEAR_WEAR_MM * px_per_mm) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    return np.asarray(cv2.dilate(disputed, disc), np.uint8)


def along_ring(curves: Floats) -> tuple[Floats, Floats]:
    """Points about `STEP_MM` apart along a ring, and where on it each lies (curve + parameter)."""
    counts = np.full(len(curves), 64, dtype=np.int64)
    fine, index = sample_curves(curves, counts)
    at = index + np.tile(np.arange(64) / 64.0, len(curves))
    closed = np.vstack([fine, fine[:1]])
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    n = max(8, round(float(way[-1]) / STEP_MM))
    s = (np.arange(n) + 0.5) * way[-1] / n
    points = np.stack([np.interp(s, way, closed[:, k]) for k in range(2)], axis=1)
    return points, np.interp(s, way, np.append(at, float(len(curves))))


def loss_edges(
    points: Floats, twice: NDArray[np.bool_], worn: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which points of an evenly spaced ring lie on the edge of a loss.

    Parameters
    ----------
    points
        The ring, (n, 2) mm, `STEP_MM` apart.
    twice
        Whether two sources show an edge there.
    worn
        Whether it is near a place of wear.
    """
    n, k = len(points), _TURN_OVER
    out = np.zeros(n, np.bool_)
    if n < 3 * k or not worn.any():
        return out
    back, ahead = points - np.roll(points, k, axis=0), np.roll(points, -k, axis=0) - points
    cross = back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]
    turn = np.abs(np.arctan2(cross, np.sum(back * ahead, axis=1)))
    peak = np.max([np.roll(turn, j) for j in range(-k, k + 1)], axis=0)
    corners = np.flatnonzero((turn >= peak) & (turn > _CORNER))
    for i, begin in enumerate(corners):
        last = i == len(corners) - 1
        end = int(corners[0]) + n if last else int(corners[i + 1])
        if not 3 <= end - begin < _LONGEST_MM / STEP_MM:
            continue
        part = np.arange(begin, end) % n
        seen = float(np.mean(twice[part]))
        if seen >= _TWICE_SEEN or np.mean(worn[part]) <= 0.5:
            continue
        out[part] = _log_odds(points[part], seen) > LIKELY
    return out


def _log_odds(stretch: Floats, seen: float) -> float:
    """Log odds that a stretch between two corners is the edge of a loss."""
    t = np.linspace(-1.0, 1.0, len(stretch))
    basis = np.stack([np.ones_like(t), t, t * t], axis=1)
    fit, *_ = np.linalg.lstsq(basis, stretch, rcond=None)
    off = float(np.sqrt(np.mean(np.sum((stretch - basis @ fit) ** 2, axis=1))))
    length = float(np.log(len(stretch) * STEP_MM))
    told = (1.0, length, length**2, seen, float(np.log(off + 0.005)))
    return float(np.dot(_ODDS, told))
