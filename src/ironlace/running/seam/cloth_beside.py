"""The cloth's own pattern beside a seam, told by its going on across it, and taken off the thread.

A stripe or a yarn of the cloth runs on from one side of the seam to the other, a needle hole does
not. What both sides show alike, drawn along the slope at which they do, is therefore the cloth's:
rows at the thread's edge hold a share of it, rows within the thread none.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ironlace.evidence.arrays import Floats

SLOPES: Final = np.tan(np.radians(np.linspace(-72.0, 72.0, 49)))
"""Slopes at which stripes are looked for, mm along the seam to one across it."""
ALONG_MM: Final = 3.0
"""Standard deviation of the length over which the slope is told: stripes turn under a curve."""
ALIKE: Final = (0.4, 0.65)
"""Share of the cloth's variance that both sides have alike: from the first on what they show is
taken off, from the second on all of it (a plain weave comes to 0.3 at the best slope; tuned)."""
MEAN_MM: Final = 5.0
"""Standard deviation of the length over which the mean of a row is taken off."""
COARSE_PER_MM: Final = 8.0
"""Places to the millimetre at which slopes are compared."""


CLOTH_FROM_MM: Final = 0.5
"""So far from the seam's line lies cloth, past any sewing thread and its shadow."""
_CLOTH_TO_MM: Final = 1.0
"""And so far it is looked at: what is laid straight reaches little farther."""
_MIDDLE_MM: Final = 0.1
"""Half width of the middle rows that are thread, whichever way it leans. A judgement."""


def middle_and_cloth(
    laid: NDArray[np.float32],
    px_per_mm: float,
    *,
    half_mm: float = _MIDDLE_MM,
    cloth_to_mm: float = _CLOTH_TO_MM,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """The mean of a seam's middle rows, and the median of the cloth on both its sides.

    Parameters
    ----------
    laid
        Lab, shape (rows, places, 3), the line in the middle row.
    px_per_mm
        Its scale.
    half_mm
        Half width of the middle rows.
    cloth_to_mm
        So far from the line the cloth is looked at.

    Returns
    -------
    Both of shape (places, 3).

    >>> laid = np.zeros((21, 3, 3), np.float32)
    >>> laid[9:12], laid[12:] = 60.0, 20.0
    >>> laid[:9] = 20.0
    >>> thread, cloth = middle_and_cloth(laid, 10.0)
    >>> thread[0].tolist(), cloth[0].tolist()
    ([60.0, 60.0, 60.0], [20.0, 20.0, 20.0])
    """
    middle, half = laid.shape[0] // 2, round(half_mm * px_per_mm)
    rows = np.abs(np.arange(laid.shape[0]) - middle)
    beside = (rows > CLOTH_FROM_MM * px_per_mm) & (rows < cloth_to_mm * px_per_mm)
    inner = laid[middle - half : middle + half + 1].mean(axis=0)
    return inner, np.asarray(np.median(laid[beside], axis=0), np.float32)


def without_cloth(
    rows: NDArray[np.float32], at_mm: Floats, cloth_from_mm: float, px_per_mm: float
) -> NDArray[np.float32]:
    """Rows along a seam less the share of the cloth's own pattern that each of them holds.

    Parameters
    ----------
    rows
        Departures from the usual, shape (rows, places, 3).
    at_mm
        Where each row lies across the seam, shape (rows,).
    cloth_from_mm
        So far from the seam's line all is cloth: those rows are handed back as they are.
    px_per_mm
        Places to the millimetre.
    """
    upper, lower = (np.flatnonzero(side > cloth_from_mm) for side in (-at_mm, at_mm))
    if not (len(upper) and len(lower)):
        return rows
    beside = np.concatenate([upper, lower])
    # the usual of evenly striped cloth is either colour: the mean is none of them, in every row
    mean = gaussian_filter1d(rows[beside], MEAN_MM * px_per_mm, axis=1, truncate=2.0)
    level = np.zeros_like(rows)
    level[beside] = rows[beside] - mean
    slope, held = _slopes(level, at_mm, (upper, lower), px_per_mm)
    if not held.any():
        return rows
    out = rows.copy()
    count = np.arange(rows.shape[1])
    for r in np.setdiff1d(np.arange(len(rows)), beside):
        own = np.zeros(rows.shape[1:], np.float32)
        many = np.zeros(rows.shape[1], np.float32)
        for b in beside:
            # where a stripe that crosses this row here crosses that one
            source = count + np.round(slope * (at_mm[b] - at_mm[r]) * px_per_mm).astype(int)
            inside = (source >= 0) & (source < len(count))
            own[inside] += level[b, source[inside]]
            many += inside
        own *= (held / np.maximum(many, 1.0))[:, None]
        share = float((own * rows[r]).sum() / max(float((own**2).sum()), 1e-9))
        out[r] -= np.float32(np.clip(share, 0.0, 1.0)) * own
    return out


def _slopes(
    rows: NDArray[np.float32],
    at_mm: Floats,
    sides: tuple[NDArray[np.int64], NDArray[np.int64]],
    px_per_mm: float,
) -> tuple[Floats, Floats]:
    """Slope of the cloth's pattern at each place, and how much of it is to be taken off."""
    step = max(1, round(px_per_mm / COARSE_PER_MM))
    thin = rows[:, ::step]
    k, n = px_per_mm / step, thin.shape[1]
    count = np.arange(n)

    def smooth(values: Floats) -> Floats:
        return np.asarray(
            gaussian_filter1d(values, ALONG_MM * k, mode="constant", truncate=2.0), np.float64
        )

    alike = []
    for slope in SLOPES:
        means, seen = [], np.ones(n, np.bool_)
        for side in sides:
            source = count + np.round(slope * at_mm[side] * k).astype(int)[:, None]
            inside = (source >= 0) & (source < n)
            seen &= inside.any(axis=0)
            there = thin[side[:, None], np.clip(source, 0, n - 1)] * inside[..., None]
            means.append(there.sum(axis=0) / np.maximum(inside.sum(axis=0), 1)[:, None])
        both = np.where(seen, (means[0] * means[1]).sum(axis=1), 0.0)
        power = np.where(seen, 0.5 * sum((m**2).sum(axis=1) for m in means), 0.0)
        # what is averaged away at a slope speaks against it
        whole = (thin[np.concatenate(sides)] ** 2).sum(axis=2).mean(axis=0)
        whole = smooth(np.where(seen, np.maximum(whole, power), 0.0))
        alike.append(smooth(both) / (whole + 0.5 * smooth(seen.astype(np.float64)) + 1e-3))
    best = np.argmax(alike, axis=0)
    told = np.clip((np.max(alike, axis=0) - ALIKE[0]) / (ALIKE[1] - ALIKE[0]), 0.0, 1.0)
    full = np.arange(rows.shape[1])
    near = np.minimum((full + step // 2) // step, n - 1)
    return np.asarray(SLOPES[best][near]), np.asarray(told[near])
