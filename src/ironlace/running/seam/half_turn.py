"""Where the middle of the needle holes lies: the point about which a seam turns into itself.

A lockstitch seen from above is alike when it is turned by half about a needle hole, whichever way
its thread leans: the stitch before a hole is the stitch behind it, turned. That tells at once how
far marks lie from the holes along the seam and across it, where a line that lies beside a leaning
thread makes both wrong together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ironlace.evidence.arrays import Floats

MOST_MM: Final = 0.36
"""The middle is looked for so far from the mark, along and across."""
ACROSS_MM: Final = 0.55
"""Half width of what is turned: a thread and its lean."""
ALONG_MM: Final = 1.0
"""Half length of what is turned, less where stitches are short."""
THREAD_FROM_MM: Final = 0.35
"""The thread's row is looked for so far from the line."""
CLOTH_AT_MM: Final = 0.45
"""Cloth that the thread's colour is told from lies so far to both sides."""
MOST_UNLIKE: Final = 0.45
"""What differs after the turn, as a share of what is there; with more it is no half turn (0.3 at
most in seams that were found)."""
LEAST_TOLD: Final = 0.3
"""Share by which the best place along must differ less than the worst, or it is not told."""
FEWEST: Final = 4
"""Fewer marks have no mean look."""


@dataclass(frozen=True)
class HalfTurn:
    """Where the holes' middle lies from the marks; NaN where that is not told.

    Attributes
    ----------
    along_px
        How far it lies behind the marks, places.
    across_px
        How far it lies to the right of the line, pixels.
    """

    along_px: float
    across_px: float


NOT_TOLD: Final = HalfTurn(math.nan, math.nan)
"""No half turn was found."""


def threads_row(laid: NDArray[np.float32], px_per_mm: float, within_mm: float) -> tuple[int, float]:
    """Row that stands out most from both sides and changes least along the seam, and how much so.

    Chalk changes along the seam, a stripe's edge is like one of its sides; a thread is one colour.

    Parameters
    ----------
    laid
        Lab, shape (rows, places, 3), the line in the middle row.
    px_per_mm
        Its scale.
    within_mm
        How far from the middle row it may lie.

    Returns
    -------
    Rows below the middle one, and the contrast in units of the row's own spread.
    """
    k, middle = px_per_mm, laid.shape[0] // 2
    thin = laid[:, ::2]
    usual = np.median(thin, axis=1)
    spread = 1.4826 * np.median(np.abs(thin - usual[:, None]), axis=1)
    usual = gaussian_filter1d(usual, 0.04 * k, axis=0)
    far = np.linalg.norm(gaussian_filter1d(spread, 0.04 * k, axis=0), axis=1) + 2.0
    away = round(CLOTH_AT_MM * k)
    rows = np.arange(-round(within_mm * k), round(within_mm * k) + 1)
    rows = rows[(middle + rows >= away) & (middle + rows < len(laid) - away)]
    at = middle + rows
    sides = [np.linalg.norm(usual[at] - usual[at + side], axis=1) for side in (-away, away)]
    told = np.minimum(*sides) / far[at]
    best = int(told.argmax())
    return int(rows[best]), float(told[best])


def half_turn(
    laid: NDArray[np.float32], at_px: Floats, length_px: float, px_per_mm: float
) -> HalfTurn:
    """The point about which the mean look of the seam about its marks is most alike when turned.

    Parameters
    ----------
    laid
        Lab, shape (rows, places, 3), the line in the middle row.
    at_px
        Marks along it.
    length_px, px_per_mm
        Stitch length in places, and places to the millimetre.
    """
    k = px_per_mm
    most = round(MOST_MM * k)
    long = min(round(ALONG_MM * k), int(0.5 * length_px) - most // 2)
    wide = min(round(ACROSS_MM * k), laid.shape[0] // 2 - most)
    middle = laid.shape[0] // 2
    row, _ = threads_row(laid, k, THREAD_FROM_MM)
    alike = _like_row(laid, middle + row)
    reach = long + most
    marks = np.round(at_px).astype(int)
    marks = marks[(marks >= reach) & (marks < laid.shape[1] - reach)]
    if len(marks) < FEWEST or long < 3 or wide < 3:
        return NOT_TOLD
    mean = alike[:, marks[:, None] + np.arange(-reach, reach + 1)].mean(axis=1)
    moves = np.arange(-most, most + 1)
    differs = np.empty((len(moves), len(moves)))
    for i, down in enumerate(moves):
        band = mean[middle + down - wide : middle + down + wide + 1]
        for j in range(len(moves)):
            part = band[:, j : j + 2 * long + 1]
            differs[i, j] = ((part - part[::-1, ::-1]) ** 2).sum() / ((part**2).sum() + 1e-9)
    i, j = divmod(int(differs.argmin()), len(moves))
    if differs[i, j] > MOST_UNLIKE:
        return NOT_TOLD
    along, across = differs[i], differs[:, j]
    told = [
        0 < at < len(moves) - 1 and values.min() < (1.0 - LEAST_TOLD) * values.max()
        for at, values in ((j, along), (i, across))
    ]
    return HalfTurn(
        float(moves[j]) + _lowest(along, int(j)) if all(told) else math.nan,
        float(moves[i]) + _lowest(across, int(i)) if told[1] else math.nan,
    )


def _like_row(laid: NDArray[np.float32], row: int) -> Floats:
    """How like the usual colour of a row each place is, 0 to 1, shape (rows, places)."""
    own = laid[row - 1 : row + 2].reshape(-1, 3)
    colour = np.median(own, axis=0)
    spread = 1.4826 * np.median(np.abs(own - colour), axis=0) + 2.0
    far = (((laid - colour) / (2.0 * spread)) ** 2).sum(axis=2)
    return np.asarray(np.exp(-0.5 * far), np.float64)


def _lowest(values: Floats, at: int) -> float:
    """Where between the places a parabola through three values is lowest."""
    if not 0 < at < len(values) - 1:
        return 0.0
    left, mid, right = values[at - 1 : at + 2]
    curve = left - 2.0 * mid + right
    return float(np.clip(0.5 * (left - right) / curve, -0.5, 0.5)) if curve > 1e-9 else 0.0
