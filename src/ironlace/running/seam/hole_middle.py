"""Where about the marks of a seam the needle holes lie: in the middle of what departs from thread.

A matched filter learns whatever stands at the same distance from every hole, so that marks that all
lie beside the holes find one another as well as marks upon them. What the seam looks like on
average about its marks tells: a hole is where that mean look departs most from the thread's usual
one, and about its middle the departure is alike on both sides, whichever way the thread leans.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ironlace.evidence.arrays import Floats

HOLE_MM: Final = 0.45
"""What belongs to one hole lies this near to its middle: two threads' ends and the gap."""
LEAST_HEIGHT: Final = 0.3
"""Share of the greatest departure below which nothing belongs to the hole (tuned)."""
THREAD_MM: Final = 0.36
"""What belongs to the thread across the seam lies this near to where most departs."""
CLOTH_MM: Final = (0.55, 0.9)
"""So far to either side lies cloth, past the thread and its shadow."""
FEWEST: Final = 4
"""Fewer marks have no mean look."""


@dataclass(frozen=True)
class Middle:
    """Where the holes lie about their marks.

    Attributes
    ----------
    off_px
        How far the holes' middle lies behind the marks.
    beside
        Greatest departure more than `HOLE_MM` from that middle, as a share of what it is there:
        near 0 where the holes alone depart from the thread, near 1 where something else in each
        stitch does as much.
    """

    off_px: float
    beside: float


def departure_about(
    features: NDArray[np.float32], places: NDArray[np.int64], half_px: int
) -> Floats:
    """How far the mean look about some places departs from what is usual within it.

    Parameters
    ----------
    features
        Departures from the usual in units of their spread, shape (features, places).
    places
        Marks.
    half_px
        Places to either side that are looked at.

    Returns
    -------
    Squared departure less what chance gives, summed over the features, shape (2 half + 1,).
    """
    window = np.arange(-half_px, half_px + 1)
    inside = places[(places >= half_px) & (places < features.shape[1] - half_px)]
    if len(inside) < FEWEST:
        return np.zeros(len(window))
    about = features[:, inside[:, None] + window]
    mean, chance = about.mean(axis=1), about.var(axis=1) / len(inside)
    mean = mean - np.median(mean, axis=1, keepdims=True)
    return np.asarray(np.maximum(mean**2 - 2.0 * chance, 0.0).sum(axis=0), np.float64)


def middle_of(departure: Floats, px_per_mm: float) -> Middle:
    """The middle of what departs, by where it is most alike on both sides.

    ``departure`` is that of `departure_about`: the marks lie in its middle.
    """
    half = len(departure) // 2
    smooth = gaussian_filter1d(departure, 0.04 * px_per_mm, mode="nearest")
    top = float(smooth.max())
    if top <= 0.0:
        return Middle(0.0, 1.0)
    high = np.clip(smooth / top - LEAST_HEIGHT, 0.0, None)
    reach = round(HOLE_MM * px_per_mm)
    padded = np.pad(high, reach)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    alike = (windows * windows[:, ::-1]).sum(axis=1)
    at = int(alike.argmax())
    fraction = 0.0
    if 0 < at < len(alike) - 1:
        left, mid, right = alike[at - 1 : at + 2]
        curve = left - 2.0 * mid + right
        fraction = float(np.clip(0.5 * (left - right) / curve, -0.5, 0.5)) if curve < 0 else 0.0
    away = np.abs(np.arange(len(smooth)) - at) > reach
    here = float(smooth[max(0, at - reach) : at + reach + 1].max())
    beside = float(smooth[away].max()) / here if away.any() else 0.0
    return Middle(at + fraction - half, beside)


@dataclass(frozen=True)
class Across:
    """Where across the seam its marks depart from what is usual.

    Attributes
    ----------
    off_mm
        How far the middle of what departs lies to the right of the line.
    sides
        Departure of the cloth on that side where it departs less, as a share of the greatest: near
        0 at needle holes, near 1 where stripes cross the seam. 0 where nothing departs.
    """

    off_mm: float
    sides: float


def across_of(
    rows: NDArray[np.float32], places: NDArray[np.int64], length_px: float, row_mm: float
) -> Across:
    """Where across the seam the marks depart from the usual: holes do at the thread alone.

    Parameters
    ----------
    rows
        Departures from the usual in units of their spread, shape (rows, places, 3), the seam's line
        in the middle row.
    places
        Marks.
    length_px, row_mm
        Stitch length, and how far one row lies from the next.
    """
    half = int(0.5 * length_px)
    inside = places[(places >= half) & (places < rows.shape[1] - half)]
    if len(inside) < FEWEST:
        return Across(0.0, 0.0)
    about = rows[:, inside[:, None] + np.arange(-half, half + 1)]
    mean, chance = about.mean(axis=1), about.var(axis=1) / len(inside)
    mean = mean - np.median(mean, axis=1, keepdims=True)
    departure = np.maximum(mean**2 - 2.0 * chance, 0.0).sum(axis=(1, 2))
    smooth = gaussian_filter1d(departure, 1.0, mode="nearest")
    top = float(smooth.max())
    if top <= 0.0:
        return Across(0.0, 0.0)
    at = (np.arange(len(smooth)) - len(smooth) // 2) * row_mm
    high = np.clip(smooth / top - LEAST_HEIGHT, 0.0, None)
    high[np.abs(at - at[int(smooth.argmax())]) > THREAD_MM] = 0.0
    middle = float(high @ at / high.sum())
    sides = [
        float(smooth[part].mean()) / top
        for part in (
            (at - middle > CLOTH_MM[0]) & (at - middle < CLOTH_MM[1]),
            (middle - at > CLOTH_MM[0]) & (middle - at < CLOTH_MM[1]),
        )
        if part.any()
    ]
    return Across(middle, min(sides, default=0.0))


def share_of_every(
    features: NDArray[np.float32],
    places: NDArray[np.int64],
    stitches: NDArray[np.int64],
    length_px: float,
    px_per_mm: float,
) -> tuple[float, int]:
    """Whether only every second or third mark is a hole.

    Returns
    -------
    Departure at the marks that depart least, as a share of that at those that depart most, and in
    how many they were parted (2 or 3): near 1 where all of them are holes.
    """
    number = np.concatenate([[0], np.cumsum(stitches)])
    near = max(2, round(0.25 * length_px))
    least, by = 1.0, 2
    for parts in (2, 3):
        half = int(0.5 * parts * length_px)
        found = []
        for part in range(parts):
            own = places[number % parts == part]
            departure = departure_about(features, own, half)
            middle = departure[half - near : half + near + 1]
            found.append(float(gaussian_filter1d(middle, 0.04 * px_per_mm).max()))
        rest = sorted(found)
        # all but one have to be nothing, or it is another difference between neighbours
        share = rest[-2] / rest[-1] if rest[-1] > 0.0 else 1.0
        if min(np.bincount(number % parts, minlength=parts)) >= FEWEST and share < least:
            least, by = share, parts
    return least, by
