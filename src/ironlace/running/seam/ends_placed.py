"""Where the ends of stitches lie to a fraction of a pixel, and how surely."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ironlace.evidence.arrays import Floats
from ironlace.running.seam.hole_picture import (
    FEWEST_OF_A_KIND,
    UsualBetween,
    away_from,
    filter_for,
    kinds_of,
    spread_of,
    usual_between,
)
from ironlace.running.seam.seam_looks import HALF_ROWS, MOST_OFF_MM, Looks
from ironlace.running.seam.thread_end import first_hole, last_hole
from ironlace.running.seam.which_are_ends import NEAR_MM, SKIP_LOG_CHANCE

_SAME_PICTURE_MM: Final = 0.1
"""An end is moved no farther by the one picture of all (a judgement)."""
_DISAGREE_MM: Final = 0.1
"""Distance from which an end at the seam's end is placed by its inner side. A judgement."""
_RIM_MM: Final = 1.0
"""An end so near to the rim is half seen: a hole's picture is 0.84 mm long."""
_UNLIKE: Final = (5.0, 0.12)
"""Spreads, and share of its length, from which a stitch is unlike the others (a judgement)."""
_LEAST_LAST: Final = 0.5
"""Of the usual length, a last stitch that ends with its thread may be no shorter (judged)."""


def to_the_rim(
    looks: Looks,
    peaks: NDArray[np.int64],
    evidence: Floats,
    index: NDArray[np.int64],
    stitches: NDArray[np.int64],
    length: float,
    spread: float,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The ends with one more at either side, where the seam runs on to the picture's rim.

    Near the rim half of what tells a hole is cut off. A stitch that does not end there either would
    be a skipped one, so an end that speaks against itself by less than that is taken, and doubted.
    """
    wide = spread * length
    for first in (True, False):
        last = int(peaks[index[0 if first else -1]])
        rim = last if first else looks.features.shape[1] - 1 - last
        if not 0.6 * length <= rim <= 1.5 * length:
            continue
        apart = (last - peaks) if first else (peaks - last)
        misfit = (apart - length) / wide
        worth = np.where(np.abs(misfit) < 3.0, evidence - 2.5 * np.log1p(misfit**2 / 4.0), -np.inf)
        pick = int(np.argmax(worth))
        if worth[pick] > SKIP_LOG_CHANCE[1]:
            index = np.r_[pick, index] if first else np.r_[index, pick]
            stitches = np.r_[1, stitches] if first else np.r_[stitches, 1]
    return index, stitches


def first_and_last_placed(
    looks: Looks, at: NDArray[np.int64], fine: Floats, told: Floats, length: float
) -> tuple[Floats, Floats]:
    """The first and the last end, placed by what lies within the seam where both sides disagree.

    Beyond them the picture or the thread ends, so that they look otherwise than the rest. One that
    looks from within more like thread than like the other holes is doubted.
    """
    k, n = looks.px_per_mm, looks.features.shape[1]
    long, short = round(min(0.5 * length, 0.8 * k)), round(NEAR_MM * k)
    most = round(MOST_OFF_MM * k)
    out, evidence = fine.copy(), told.copy()
    for which, window in (
        (0, np.arange(-short, long + 1)),
        (-1, np.arange(-long, short + 1)),
    ):
        inside = at[1:-1]
        inside = inside[(inside >= long) & (inside < n - long)]
        shifts = int(at[which]) + np.arange(-most, most + 1)
        shifts = shifts[(shifts + window[0] >= 0) & (shifts + window[-1] < n)]
        if len(inside) < FEWEST_OF_A_KIND or len(shifts) < 3:
            continue
        others = looks.inner[:, inside[:, None] + window]
        mean = others.mean(axis=1)
        there = looks.inner[:, shifts[:, None] + window]
        # by correlation: plain thread is like nothing, not like a faint hole
        weight = mean / (others.var(axis=1) + 0.5)
        alike = np.einsum("fsw,fw->s", there - 0.5 * mean[:, None], weight)
        moved = shifts[int(alike.argmax())]
        if alike.max() < 0.0:
            evidence[which] = min(evidence[which], SKIP_LOG_CHANCE[1])
        elif abs(moved - out[which]) > _DISAGREE_MM * k:
            out[which] = moved
    return out, evidence


def doubted_if_unlike(
    looks: Looks, fine: Floats, told: Floats, stitches: NDArray[np.int64]
) -> Floats:
    """The evidence, against a half seen end that makes a stitch unlike all the others.

    Near the rim half of a hole is cut off, and the rim of something beyond passes for one; where
    the thread alone was seen to end, what hides it may.
    """
    rim, last = _RIM_MM * looks.px_per_mm, looks.features.shape[1] - 1
    each = np.diff(fine) / stitches
    if len(each) < FEWEST_OF_A_KIND:
        return told
    usual = float(np.median(each))
    far = max(_UNLIKE[0] * spread_of(each), _UNLIKE[1] * usual)
    out = told.copy()
    for which, beyond, own in ((0, fine[0], each[0]), (-1, last - fine[-1], each[-1])):
        half_seen = beyond < rim or told[which] <= 0.0
        if half_seen and abs(own - usual) > far:
            out[which] = min(out[which], SKIP_LOG_CHANCE[1])
    return out


def by_the_threads_end(
    looks: Looks, fine: Floats, told: Floats, stitches: NDArray[np.int64], length: float
) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """The first and the last hole where the thread is seen to end: moved there, or added."""
    # what tells holes best from what lies between them shows the thread's end best
    at = np.round(fine).astype(np.int64)
    away = away_from(at, looks.features.shape[1], length)
    if not away.any() or len(fine) < 2:
        return fine, told, stitches
    departures = sorted(
        looks.departures,
        key=lambda d: -np.quantile(d[at], 0.3) / max(float(np.quantile(d[away], 0.9)), 1e-6),
    )
    k = looks.px_per_mm
    for first in (True, False):
        which, holes = (0 if first else -1), fine
        for departure in departures:
            place = (first_hole if first else last_hole)(departure, holes, k)
            if place is None:
                continue
            off = (fine[which] - place) if first else (place - fine[which])
            # a hole told where no thread lies any more is none, however far beyond it was told
            inner = fine[1] - place if first else place - fine[-2]
            if abs(off) < MOST_OFF_MM * k or (off < 0.0 and inner > _LEAST_LAST * length):
                fine[which] = place
                told[which] = max(told[which], 0.0)
                break
            if 0.75 * length < off < 1.25 * length:
                fine = np.r_[place, fine] if first else np.r_[fine, place]
                told = np.r_[0.0, told] if first else np.r_[told, 0.0]
                stitches = np.r_[1, stitches] if first else np.r_[stitches, 1]
                break
    return fine, told, stitches


def by_one_picture(
    looks: Looks,
    patches: NDArray[np.float32],
    fine: Floats,
    at: NDArray[np.int64],
    length: float,
) -> Floats:
    """The ends to a fraction of a pixel, each by the picture of its kind of hole.

    The first and the last stay where they are: they were placed by what lies within the seam.

    Each end's score is learnt from every other end, so that even and odd ones are placed by two
    pictures that need not agree on where the hole lies; lengths would then alternate. Nor need the
    pictures of two kinds agree, which may differ in nothing but where their marks stand (even and
    odd ones again, in a shaken photograph): one picture of all says where each kind lies.
    """
    between = usual_between(patches, at, length)
    kinds = kinds_of(patches, at)
    out = _by_picture(looks, patches, at, at, between)
    if len(kinds) > 1:
        by_all = out.copy()
        for kind in kinds:
            own = np.isin(at, kind)
            placed = _by_picture(looks, patches, kind, kind, between)
            out[own] = placed + float(np.median(by_all[own] - placed))
    out[[0, -1]] = fine[[0, -1]]
    return out


def _by_picture(
    looks: Looks,
    patches: NDArray[np.float32],
    learnt: NDArray[np.int64],
    at: NDArray[np.int64],
    between: UsualBetween,
) -> Floats:
    """Places near `at` that are likest the mean picture of some ends."""
    weights = filter_for(patches, learnt, between)
    k = looks.px_per_mm
    own = np.asarray(patches @ weights - between.mean @ weights, np.float64)
    score = gaussian_filter1d(own, max(0.6, 0.03 * k))
    reach = max(2, round(_SAME_PICTURE_MM * k))
    window = np.clip(at[:, None] + np.arange(-reach, reach + 1), 0, len(score) - 1)
    best = window[np.arange(len(at)), score[window].argmax(axis=1)]
    return np.asarray(best + fraction_at(score, best), np.float64)


def fraction_at(scores: Floats, at: NDArray[np.int64]) -> Floats:
    """Where between the pixels a parabola through three scores is highest."""
    a = np.clip(at, 1, len(scores) - 2)
    left, mid, right = scores[a - 1], scores[a], scores[a + 1]
    curve = left - 2 * mid + right
    shift = np.where(curve < -1e-9, 0.5 * (left - right) / np.minimum(curve, -1e-9), 0.0)
    return np.clip(shift, -0.5, 0.5)


def errors_of(
    looks: Looks, patches: NDArray[np.float32], at: NDArray[np.int64], length: float
) -> Floats:
    """Standard error of each end, from parts of the thread told apart.

    The rows above the line and those below it, or every other row, place each end by themselves;
    half the spread of their difference is the error of their mean. A leaning thread ends elsewhere
    above than below, rows side by side share their weave: the lesser of both is taken, the second
    widened by half for what is shared.
    """
    window = patches.shape[1] // looks.features.shape[0]
    rows = 2 * HALF_ROWS + 1
    feature = np.arange(patches.shape[1]) // window
    row = np.where(feature < 3 * rows, feature // 3, feature - 3 * rows)
    whole = feature < 4 * rows
    halves = (whole & (row < HALF_ROWS), whole & (row > HALF_ROWS))
    turns = (whole & (row % 2 == 0), whole & (row % 2 == 1))
    found = []
    kinds = kinds_of(patches, at)
    for parts, widened in ((halves, 1.0), (turns, 1.5)):
        one, other = (_placed(looks, patches[:, part], at, length) for part in parts)
        apart = one - other
        # a leaning thread parts holes with a loop and those without by another amount
        for kind in kinds:
            own = np.isin(at, kind)
            apart[own] -= np.median(apart[own])
        usual = max(spread_of(apart) / 2.0, 0.1)
        found.append(widened * np.sqrt(0.8 * (usual**2 + (apart / 4.0) ** 2)))
    return np.asarray(np.minimum(*found), np.float64)


def _placed(
    looks: Looks,
    patches: NDArray[np.float32],
    at: NDArray[np.int64],
    length: float,
) -> Floats:
    """The ends' places by some of the rows alone, near where all of them put them."""
    reach = max(2, round(0.2 * looks.px_per_mm))
    own = np.ascontiguousarray(patches)
    between = usual_between(own, at, length)
    weights = filter_for(own, at, between)
    scores = gaussian_filter1d(np.asarray(own @ weights - between.mean @ weights, np.float64), 1.0)
    window = np.clip(at[:, None] + np.arange(-reach, reach + 1), 0, len(scores) - 1)
    best = window[np.arange(len(at)), scores[window].argmax(axis=1)]
    return np.asarray(best + fraction_at(scores, best), np.float64)
