"""Which places along a seam are ends of stitches: the evidence for each, and the best choice."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from ironlace.evidence.arrays import Floats
from ironlace.running.seam.hole_picture import away_from, spread_of
from ironlace.running.seam.seam_line import local_peaks
from ironlace.running.seam.seam_looks import Looks

SKIP_LOG_CHANCE: Final = (0.0, -3.0, -6.0)
"""Log chance of one, two and three stitches in one, roughly: a skip in thirty. A judgement."""
EVIDENCE_LIMITS: Final = (-5.0, 4.0)
"""No one place speaks more than this for or against a hole: lint may lie on it, or look like it."""
CLEAR: Final = 1.5
"""What a peak's standing out from its near surroundings says at most."""
THREAD_GOES_ON: Final = 0.25
"""A place that departs from the thread's usual look less than this share of what the fainter holes
do, mean of all ways that tell holes from it, is thread (0.12 at most at skipped stitches, 0.37 and
more at holes; tuned)."""
NEAR_MM: Final = 0.12
"""A place's departure is the greatest so near to it: half a thread."""
DEPARTS: Final = 1.0
"""What a departure from the thread's look says at most where the hole looks unlike the others."""


def candidate_places(
    looks: Looks, scores: Floats, ends: NDArray[np.int64] | None, length: float
) -> tuple[NDArray[np.int64], Floats]:
    """Places that may be ends, rising, and the evidence for each.

    Peaks of the score and, once there are ends to compare with, those of the departures: where the
    cloth below changes colour a hole looks otherwise, but it still departs from the thread.
    """
    k = looks.px_per_mm
    apart = max(2, round(0.2 * k))
    peaks = local_peaks(scores, apart)
    # what is highest at the rim itself may be the flank of something beyond it
    rim = max(2, round(NEAR_MM * k))
    peaks = peaks[(peaks >= rim) & (peaks < len(scores) - rim)]
    evidence = _evidence(scores, peaks, ends, length, k)
    if ends is None:
        return peaks, evidence
    for departure in looks.ways:
        usual = float(np.median(departure))
        height = float(np.median(departure[ends])) - usual
        if height <= 0:
            continue
        values = (departure - usual) / height
        places = local_peaks(values, apart)
        told = np.minimum(_above_what_is_near(values, places, length, k), DEPARTS)
        near = np.abs(places[:, None] - peaks[None])
        own, far = near.argmin(axis=1), near.min(axis=1)
        for place, evident, peak, off in zip(places, told, own, far, strict=True):
            if off <= apart:
                evidence[peak] = max(evidence[peak], evident)
            elif evident > 0.0:
                peaks, evidence = np.append(peaks, place), np.append(evidence, evident)
        order = np.argsort(peaks)
        peaks, evidence = peaks[order], evidence[order]
    return peaks, evidence


def less_where_thread_goes_on(
    looks: Looks,
    peaks: NDArray[np.int64],
    evidence: Floats,
    ends: NDArray[np.int64],
    length: float,
) -> Floats:
    """The evidence, with none where the thread looks as it always does, however regular that is.

    No needle went in there: a skipped stitch, which regular lengths alone would fill.
    """
    k = looks.px_per_mm
    size = 2 * max(1, round(NEAR_MM * k)) + 1
    shares, weights = [], []
    for way in looks.ways:
        strength = maximum_filter1d(way - np.median(way), size, mode="nearest")
        away = strength[away_from(ends, len(strength), length)]
        faint = float(np.quantile(strength[ends], 0.2))
        # where what lies between departs as much as holes do, nothing is told by it
        if len(away) >= size and faint > float(np.quantile(away, 0.95)):
            shares.append(np.clip(strength[peaks] / faint, 0.0, 1.0))
            # and little where it departs nearly as much: by lint beside a plain thread
            weights.append(np.log(faint / max(float(np.quantile(away, 0.95)), 0.05 * faint)))
    if not shares:
        return evidence
    told = np.average(shares, axis=0, weights=weights)
    return np.where(told < THREAD_GOES_ON, EVIDENCE_LIMITS[0], evidence)


def _evidence(
    scores: Floats,
    peaks: NDArray[np.int64],
    ends: NDArray[np.int64] | None,
    length: float,
    k: float,
) -> Floats:
    """Log of how much likelier each peak's score is at a hole than elsewhere."""
    values = scores[peaks]
    if ends is None:
        low, high = float(np.median(values)), float(np.quantile(values, 0.9))
        count = min(max(3, int(len(scores) / length)), len(values))
        high = float(np.mean(np.sort(values)[-count:]))
        if count < len(values):
            low = float(np.median(np.sort(values)[:-count]))
        here = there = max(0.25 * (high - low), 1e-6)
    else:
        near = np.abs(peaks[:, None] - ends[None]).min(axis=1) <= max(2.0, 0.15 * length)
        if near.sum() < 3:
            near = values > np.median(values)
        elsewhere = scores_elsewhere(scores, values[~near], ends, length)
        high, here = float(np.median(values[near])), spread_of(values[near])
        low, there = float(np.median(elsewhere)), spread_of(elsewhere)
        here = max(here, 0.15 * abs(high - low), 1e-6)
        there = max(there, 0.1 * abs(high - low), 1e-6)
    # beyond the means a score says no less than at them
    v = np.clip(values, low - 2 * there, high)
    log = -0.5 * ((v - high) / here) ** 2 - np.log(here)
    log += 0.5 * ((v - low) / there) ** 2 + np.log(there)
    told = np.asarray(np.clip(log, *EVIDENCE_LIMITS), np.float64)
    if ends is None:
        return told
    near_by = _above_what_is_near(scores, peaks, length, k)
    return np.asarray(np.maximum(told, near_by), np.float64)


def _above_what_is_near(
    scores: Floats, peaks: NDArray[np.int64], length: float, k: float
) -> Floats:
    """Evidence of a peak by how clearly it is above all within half a stitch around it.

    A hole where the cloth is of another colour scores low, yet nothing near it scores as high. The
    limits are from sewn pictures: 0.99 of the peaks between holes are below both.
    """
    reach, own = int(0.45 * length), max(2, int(0.25 * k))
    if reach - own < 4:
        return np.full(len(peaks), EVIDENCE_LIMITS[0])
    beside = np.concatenate([np.arange(-reach, -own), np.arange(own, reach)])
    around = scores[np.clip(peaks[:, None] + beside, 0, len(scores) - 1)]
    middle = np.median(around, axis=1)
    usual = 1.4826 * np.median(np.abs(around - middle[:, None]), axis=1) + 0.01
    above = (scores[peaks] - around.max(axis=1) - 0.05) / 0.05
    clear = np.minimum(above, (scores[peaks] - middle) / usual - 4.0)
    return np.asarray(np.clip(clear, EVIDENCE_LIMITS[0], CLEAR), np.float64)


def scores_elsewhere(
    scores: Floats, peaks: Floats, ends: NDArray[np.int64], length: float
) -> Floats:
    """Scores of what is no hole: the peaks between, and where there are few, the best around."""
    if len(peaks) >= max(6, len(ends)):
        return peaks
    away = scores[away_from(ends, len(scores), length)]
    if len(away) < 8:
        away = scores
    upper = np.sort(away)[len(away) // 2 :]
    return np.concatenate([peaks, upper[:: max(1, len(upper) // max(6, len(ends)))]])


def best_ends(
    places: Floats, evidence: Floats, length: float, spread: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Which places are the ends, by the best sum of evidence and likely lengths.

    Parameters
    ----------
    places
        Candidates, rising, shape (n,).
    evidence
        Log likelihood ratio of each being an end, shape (n,).
    length, spread
        Usual length in the same unit, and its spread as a share of it.

    Returns
    -------
    Indices of the ends, and the number of stitches from each to the next (one fewer).

    Examples
    --------
    >>> at = np.array([0.0, 10.0, 14.0, 20.0, 40.0])
    >>> ends, stitches = best_ends(at, np.array([2.0, 2.0, -1.0, 2.0, 6.0]), 10.0, 0.1)
    >>> ends.tolist(), stitches.tolist()
    ([0, 1, 3, 4], [1, 1, 2])
    """
    n = len(places)
    total = evidence.astype(np.float64).copy()
    came = np.full(n, -1, np.int64)
    number = np.ones(n, np.int64)
    counts = np.arange(1, len(SKIP_LOG_CHANCE) + 1)
    # skipped stitches add up as independent lengths do
    wide = spread * length * np.sqrt(counts)
    chance = np.asarray(SKIP_LOG_CHANCE)
    for j in range(1, n):
        first = int(np.searchsorted(places, places[j] - 3.6 * length))
        last = int(np.searchsorted(places, places[j] - 0.45 * length, side="right"))
        if last <= first:
            continue
        apart = places[j] - places[first:last]
        misfit = (apart[:, None] - counts * length) / wide
        # heavy tails (Student, 4 degrees): one odd stitch does not throw the rest
        log = -2.5 * np.log1p(misfit**2 / 4.0) + chance
        pick = log.argmax(axis=1)
        value = total[first:last] + log[np.arange(last - first), pick]
        best = int(value.argmax())
        if value[best] > 0.0:
            total[j] = evidence[j] + value[best]
            came[j], number[j] = first + best, counts[pick[best]]
    at = [int(total.argmax())]
    while came[at[-1]] >= 0:
        at.append(int(came[at[-1]]))
    ends = np.array(at[::-1], np.int64)
    return ends, number[ends][1:]
