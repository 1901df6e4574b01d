"""The ends of the stitches along a seam that was laid straight.

A lockstitch from one side is a row of thread segments between needle holes. What a hole looks like
is learnt from the seam itself: first from how far the picture departs from the thread's own colour,
then as the mean picture of the holes found so far (matched filter; Turin 1960, "An introduction to
matched filters"). Which departures are holes is chosen for the whole seam at once, by dynamic
programming over candidate places with a length of stitch learnt from the same seam; two lengths in
one are a skipped stitch. Whether it learnt anything is tested on holes that it did not learn from
(cross-validation; Stone 1974).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ironlace.evidence.arrays import Floats
from ironlace.running.seam.ends_placed import (
    by_one_picture,
    by_the_threads_end,
    doubted_if_unlike,
    errors_of,
    first_and_last_placed,
    fraction_at,
    to_the_rim,
)
from ironlace.running.seam.hole_middle import (
    Across,
    across_of,
    departure_about,
    middle_of,
    share_of_every,
)
from ironlace.running.seam.hole_picture import (
    FEWEST_OF_A_KIND,
    foretold,
    kinds_of,
    likeness,
    patches_of,
    spread_of,
)
from ironlace.running.seam.seam_line import local_peaks
from ironlace.running.seam.seam_looks import ROWS_MM, Looks
from ironlace.running.seam.which_are_ends import (
    CLEAR,
    best_ends,
    candidate_places,
    less_where_thread_goes_on,
    scores_elsewhere,
)

SHORTEST_MM: Final = 0.6
"""Shortest stitch that is looked for; below 0.8 mm it is said to be out of reach."""
LONGEST_MM: Final = 7.0
"""Longest stitch that is looked for; over 6 mm it is said to be out of reach."""
SPREAD_AT_FIRST: Final = 0.16
"""Spread of stitch lengths that is allowed before the seam has told its own (share of length)."""
LEAST_SPREAD: Final = 0.05
"""No seam is taken to be more even than this while looking for ends, so that drift is followed."""
PLIES_MM: Final = 0.85
"""The thread's own plies come back within this (common practice, no source), and stitches so short
are out of reach anyway."""
AS_PLIES: Final = 0.25
"""What a length within a ply's is worth against a longer one. A judgement."""
_PASSED_FROM: Final = 0.25
"""Of a stitch, so far from both its ends: nearer, a hole's own rim may look like one."""
_AS_LIKE: Final = 0.7
"""As like a hole as this share of what the usual one is. A judgement."""
WELL_LEARNT: Final = 0.6
"""Share of the holes' look foretold from which no third beginning is tried, to save time."""
MOST_IN_CLOTH: Final = (0.3, 0.6)
"""Share of the marks' departure that the cloth beside them may show: from the first on they speak
less for a seam, from the second on for stripes that cross it (0.27 at most at the holes of drawn
seams, 0.39 and more where others were taken for them; tuned)."""
MOST_BESIDE_MM: Final = (0.35, 0.5)
"""What departs most lies so far from the line: from the first on it is hardly the thread's, from
the second on the cloth's (0.24 at most at the holes of drawn seams, 0.46 and more where ribs and
stripes beside the thread were taken for them; tuned)."""
LEAST_OF_EVERY: Final = 0.3
"""Where every second mark departs less than this share of the others it is no hole (tuned)."""
NO_PLAIN_THREAD: Final = 4.0
"""Where a stitch was skipped the thread departs from its usual look no more than within single
stitches: by so many of their spreads more, something is there, and it may be a hole (a judgement).
"""


@dataclass(frozen=True)
class Ends:
    """Ends found along one laid line.

    Attributes
    ----------
    at_px
        Places along the line, rising, shape (n,).
    sd_px
        Standard error of each.
    evidence
        Log of how much likelier its picture is at a hole than elsewhere, not learnt from itself.
    stitches
        How many stitches lie between an end and the next: 1, or more where one was skipped.
    length_px
        The stitch's usual length.
    learnt
        Share of what the holes look like that was foretold by other holes; near 0 is nothing.
    gain
        The same summed over the seam: what lengths and lines are compared by.
    apart
        Standard deviations between the scores of ends and of the best places between them.
    rival
        Gain of the best rival length of stitch as a share of `gain`; 0 where there is none.
    not_plain
        Between an end and the next, whether something other than thread lies where stitches were
        told to be skipped.
    passed_px
        Places within stitches that look as holes do and were passed over, shape (m,).
    aside_px, beside
        How far the middle of what departs from the thread lies behind the marks, and how much
        departs elsewhere in each stitch as a share of that; see `hole_middle`.
    """

    at_px: Floats
    sd_px: Floats
    evidence: Floats
    stitches: NDArray[np.int64]
    length_px: float
    learnt: float
    gain: float
    apart: float
    rival: float
    not_plain: NDArray[np.bool_]
    passed_px: Floats
    aside_px: float
    beside: float
    across: Across


def ends_in(looks: Looks, lengths_px: tuple[float, ...] = ()) -> Ends | None:
    """The ends of the stitches along a laid seam; None where nothing repeats.

    ``lengths_px`` are lengths of stitch to try; without them those that the departures repeat at.
    """
    patches = patches_of(looks)
    tried: list[tuple[float, _Learnt]] = []
    for departure in looks.ways:
        if tried and departure is looks.ways[-1] and _well_learnt(tried):
            break
        for length in lengths_px or _repeats(departure, looks.px_per_mm):
            learnt = _learn(looks, departure, patches, length)
            if learnt is not None:
                tried.append((_worth(looks, learnt, departure), learnt))
    if not tried:
        return None
    tried.sort(key=lambda pair: -pair[0])
    best = tried[0][1]
    rivals = [g for g, other in tried[1:] if abs(other.length / best.length - 1) > 0.2]
    rival = max(0.0, rivals[0] / tried[0][0]) if rivals and tried[0][0] > 0 else 0.0
    return _finished(looks, patches, best, rival)


def _well_learnt(tried: list[tuple[float, _Learnt]]) -> bool:
    """Whether the best of some tries needs no other beginning."""
    return max(tried, key=lambda pair: pair[0])[1].learnt > WELL_LEARNT


def _worth(looks: Looks, learnt: _Learnt, departure: Floats) -> float:
    """What a guess at the length explains, less for uneven stitches and for what it passes over.

    And next to nothing where every second mark is no hole: it is foretold by the holes about it; or
    where the cloth beside departs with the marks: stripes cross the seam there.
    """
    k = looks.px_per_mm
    between = np.diff(learnt.at) / learnt.stitches
    uneven = float(np.std(between)) / learnt.length
    peaks = local_peaks(departure, max(2, round(0.2 * k)))
    others = peaks[np.abs(peaks[:, None] - learnt.at[None]).min(axis=1) > 0.25 * learnt.length]
    usual = float(np.median(departure[learnt.at]))
    passed = np.searchsorted(learnt.at, others[departure[others] > 0.6 * usual])
    over = len(np.unique(passed)) / max(len(between), 1)
    even = float(np.clip(1.0 - 4.0 * max(0.0, uneven - 0.1), 0.1, 1.0))
    of_every, _ = share_of_every(looks.inner, learnt.at, learnt.stitches, learnt.length, k)
    all_holes = float(np.clip(of_every / LEAST_OF_EVERY, 0.1, 1.0))
    local = of_the_thread(across_of(looks.rows, learnt.at, learnt.length, ROWS_MM))
    ply = AS_PLIES if learnt.length < PLIES_MM * k else 1.0
    return learnt.gain * even * (1.0 - 0.3 * min(over, 1.0)) * all_holes * local * ply


def of_the_thread(across: Across) -> float:
    """How far what departs is the thread's and not the cloth's: 1 where it is the thread's."""
    told = (across.sides, MOST_IN_CLOTH), (abs(across.off_mm), MOST_BESIDE_MM)
    shares = [(high - much) / (high - low) for much, (low, high) in told]
    return float(np.clip(shares, 0.02, 1.0).prod())


@dataclass(frozen=True)
class _Learnt:
    """A hole's picture and the ends found by it."""

    at: NDArray[np.int64]
    stitches: NDArray[np.int64]
    length: float
    gain: float
    learnt: float
    scores: Floats


def _repeats(departure: Floats, k: float) -> tuple[float, ...]:
    """Lengths at which the departures repeat: the highest peaks of their autocorrelation."""
    x = departure - gaussian_filter1d(departure, 3.0 * k, mode="nearest")
    x = np.clip(x, -3 * x.std(), 3 * x.std())
    n = len(x)
    spectrum = np.fft.rfft(x, 2 * n)
    full = np.fft.irfft(spectrum * np.conj(spectrum), 2 * n)[:n]
    acf = full / np.maximum(n - np.arange(n), 1) / max(full[0] / n, 1e-9)
    low, high = round(SHORTEST_MM * k), min(round(LONGEST_MM * k), n // 3)
    if high <= low + 2:
        return ()
    smooth = gaussian_filter1d(acf, 0.08 * k)
    part = smooth[low:high]
    peaks = local_peaks(part, round(0.25 * k))
    peaks = peaks[np.argsort(-part[peaks])][:4] + low
    tried = [float(p) for p in peaks]
    # the first harmonic or the sub-harmonic may be the higher peak
    for p in tried[:2]:
        tried += [q for q in (p / 2.0, p * 2.0, p / 3.0) if low <= q <= high]
    kept: list[float] = []
    for p in tried:
        if all(abs(p / q - 1.0) > 0.08 for q in kept):
            kept.append(p)
    return tuple(kept[:6])


def _learn(
    looks: Looks, departure: Floats, patches: NDArray[np.float32], length: float
) -> _Learnt | None:
    """Ends and a hole's picture, in turns, from one guess at the length of stitch."""
    k = looks.px_per_mm
    scores = departure
    spread = SPREAD_AT_FIRST
    found: NDArray[np.int64] | None = None
    for _ in range(4):
        peaks, evidence = candidate_places(looks, scores, found, length)
        at, stitches = best_ends(peaks.astype(np.float64), evidence, length, spread)
        if len(at) < 4:
            return None
        places = peaks[at]
        between = np.diff(places) / stitches
        length = float(np.median(between))
        if not SHORTEST_MM * k * 0.9 <= length <= LONGEST_MM * k * 1.05:
            return None
        off = 1.4826 * np.median(np.abs(between / length - 1.0))
        spread = float(np.clip(1.3 * off, LEAST_SPREAD, SPREAD_AT_FIRST))
        found = _centred(looks, patches, places, length)
        scores = likeness(patches, found, length)
    assert found is not None
    gain, learnt = foretold(patches, found, length)
    # half the length explains as much, with every other stitch skipped
    stitches = np.maximum(np.round(np.diff(found) / length), 1).astype(np.int64)
    gain *= len(stitches) / max(int(stitches.sum()), 1)
    return _Learnt(found, stitches, length, gain, learnt, scores)


def _centred(
    looks: Looks, patches: NDArray[np.float32], places: NDArray[np.int64], length: float
) -> NDArray[np.int64]:
    """The places moved onto the middle of the holes: those with a loop and those without apart."""
    inner, half = looks.inner, int(0.5 * length)
    found = places.copy()
    kinds = kinds_of(patches, places)
    if min(map(len, kinds)) < FEWEST_OF_A_KIND:
        kinds = (places,)
    for kind in kinds:
        off = middle_of(departure_about(inner, kind, half), looks.px_per_mm).off_px
        found[np.isin(places, kind)] += round(off)
    return np.unique(np.clip(found, 0, looks.features.shape[1] - 1))


def _finished(looks: Looks, patches: NDArray[np.float32], best: _Learnt, rival: float) -> Ends:
    """Ends to a fraction of a pixel, each with its error and its evidence."""
    k = looks.px_per_mm
    scores = gaussian_filter1d(best.scores, max(0.6, 0.03 * k))
    peaks, evidence = candidate_places(looks, scores, best.at, best.length)
    between = np.diff(best.at) / best.stitches
    off = 1.4826 * np.median(np.abs(between / best.length - 1.0))
    spread = float(np.clip(1.3 * off, LEAST_SPREAD, SPREAD_AT_FIRST))
    evidence = less_where_thread_goes_on(looks, peaks, evidence, best.at, best.length)
    length = best.length
    index, stitches = best_ends(peaks.astype(np.float64), evidence, length, spread)
    if len(stitches) and np.median(stitches) > 1.0:
        # no machine skips most of its stitches: they are as long as two or three were taken to be
        length *= int(np.median(stitches))
        index, stitches = best_ends(peaks.astype(np.float64), evidence, length, spread)
    index, stitches = to_the_rim(looks, peaks, evidence, index, stitches, length, spread)
    at = peaks[index]
    told = evidence[index]
    fine, told = first_and_last_placed(looks, at, at + fraction_at(scores, at), told, length)
    fine, told, stitches = by_the_threads_end(looks, fine, told, stitches, length)
    told = doubted_if_unlike(looks, fine, told, stitches)
    at = np.round(fine).astype(np.int64)
    sd = errors_of(looks, patches, at, length)
    others = np.setdiff1d(peaks, at)
    inside = others[(others > at[0]) & (others < at[-1])]
    there = scores_elsewhere(scores, scores[inside], at, length)
    wide = np.sqrt(spread_of(scores[at]) ** 2 + spread_of(there) ** 2) + 0.02
    apart = float((np.median(scores[at]) - np.quantile(there, 0.9)) / wide)
    length = float(np.median(np.diff(fine) / stitches)) if len(fine) > 1 else length
    middle = middle_of(departure_about(looks.inner, at, int(0.5 * length)), k)
    return Ends(
        by_one_picture(looks, patches, fine, at, length),
        sd,
        told,
        stitches,
        length,
        best.learnt,
        best.gain,
        apart,
        rival,
        _not_plain(looks, fine, stitches),
        _passed_over(scores, evidence, peaks, at, length),
        middle.off_px,
        middle.beside,
        across_of(looks.rows, at, length, ROWS_MM),
    )


def _passed_over(
    scores: Floats,
    evidence: Floats,
    peaks: NDArray[np.int64],
    at: NDArray[np.int64],
    length: float,
) -> Floats:
    """Places well within stitches that are nearly as like a hole as the usual hole is.

    Where nearly every second stitch was skipped the length is taken for twice what it is, and the
    few holes between fit in nowhere.
    """
    apart = np.abs(peaks[:, None] - at[None]).min(axis=1)
    within = (peaks > at[0]) & (peaks < at[-1]) & (apart > _PASSED_FROM * length)
    like = (scores[peaks] > _AS_LIKE * float(np.median(scores[at]))) & (evidence > CLEAR)
    return np.asarray(peaks[within & like], np.float64)


def _not_plain(looks: Looks, at: Floats, stitches: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Where skips are told and yet something departs from the thread at the place of a hole.

    A hole of a rare look, such as the few without a loop, is unlike the others and no thread.
    """
    found = np.zeros(len(stitches), np.bool_)
    single = np.flatnonzero(stitches == 1)
    if len(single) < FEWEST_OF_A_KIND:
        return found
    usual = float(np.median(np.diff(at)[single]))
    reach = int(0.25 * usual)
    for way in looks.ways:
        smooth = gaussian_filter1d(way, 0.04 * looks.px_per_mm)

        def highest(middle: float, smooth: Floats = smooth) -> float:
            here = round(middle)
            return float(smooth[max(0, here - reach) : here + reach + 1].max())

        plain = np.array([highest(0.5 * (at[i] + at[i + 1])) for i in single])
        most = float(np.median(plain)) + NO_PLAIN_THREAD * max(spread_of(plain), 0.05)
        most = max(most, float(np.quantile(plain, 0.9)))
        for i in np.flatnonzero(stitches > 1):
            shares = np.arange(1, stitches[i]) / stitches[i]
            found[i] |= any(highest(at[i] + s * (at[i + 1] - at[i])) > most for s in shares)
    return found
