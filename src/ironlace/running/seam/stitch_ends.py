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

import itertools
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d, median_filter

from ironlace.evidence.arrays import Floats
from ironlace.running.seam.cloth_beside import without_cloth
from ironlace.running.seam.hole_middle import (
    Across,
    across_of,
    departure_about,
    middle_of,
    share_of_every,
)
from ironlace.running.seam.seam_line import local_peaks
from ironlace.running.seam.thread_end import first_hole, last_hole

ROWS_MM: Final = 0.1
"""Height of the rows that a hole's picture is made of; a third of a thread."""
HALF_ROWS: Final = 4
"""Rows on either side of the middle one: 0.45 mm, past the edge of any sewing thread."""
CLOTH_FROM_MM: Final = 0.5
"""So far from the seam's line lies cloth, past any sewing thread and its shadow."""
CLOTH_ROWS: Final = 9
"""Rows on either side that are looked at for what the cloth does: 0.95 mm."""
HALF_WINDOW_MM: Final = 0.42
"""Half length of a hole's picture; two neighbours 0.84 mm apart do not share a place."""
USUAL_MM: Final = 8.0
"""Length over which the thread's usual look is taken: several stitches, less than a lamp's fall."""
SHORTEST_MM: Final = 0.6
"""Shortest stitch that is looked for; below 0.8 mm it is said to be out of reach."""
LONGEST_MM: Final = 7.0
"""Longest stitch that is looked for; over 6 mm it is said to be out of reach."""
SKIP_LOG_CHANCE: Final = (0.0, -3.0, -6.0)
"""Log chance of one, two and three stitches in one, roughly: a skip in thirty. A judgement."""
SPREAD_AT_FIRST: Final = 0.16
"""Spread of stitch lengths that is allowed before the seam has told its own (share of length)."""
LEAST_SPREAD: Final = 0.05
"""No seam is taken to be more even than this while looking for ends, so that drift is followed."""
EVIDENCE_LIMITS: Final = (-5.0, 4.0)
"""No one place speaks more than this for or against a hole: lint may lie on it, or look like it."""


FAINT: Final = (0.1, 0.3)
"""A hole's mean picture, squared and in units of the noise, counts from the first on and in full
beyond their sum. Peaks picked from thread alone give 0.05 to 0.15 (sewn pictures; tuned)."""
CLEAR: Final = 1.5
"""What a peak's standing out from its near surroundings says at most."""


PLIES_MM: Final = 0.85
"""The thread's own plies come back within this (common practice, no source), and stitches so short
are out of reach anyway."""
AS_PLIES: Final = 0.25
"""What a length within a ply's is worth against a longer one. A judgement."""
LEAST_OF_RMS: Final = 0.5
"""Least spread of a row as a share of its root mean square (a judgement)."""
_FEWEST_OF_A_KIND: Final = 6
"""Holes of a kind from which the middle of that kind is told by itself. A judgement."""
THREAD_GOES_ON: Final = 0.25
"""A place that departs from the thread's usual look less than this share of what the fainter holes
do, mean of all ways that tell holes from it, is thread (0.12 at most at skipped stitches, 0.37 and
more at holes; tuned)."""
_SAME_PICTURE_MM: Final = 0.1
"""An end is moved no farther by the one picture of all (a judgement)."""
_NEAR_MM: Final = 0.12
"""A place's departure is the greatest so near to it: half a thread."""
_DISAGREE_MM: Final = 0.1
"""Distance from which an end at the seam's end is placed by its inner side. A judgement."""
_MOST_MM: Final = 0.5
"""And no farther off than this."""
_RIM_MM: Final = 1.0
"""An end so near to the rim is half seen: a hole's picture is 0.84 mm long."""
_UNLIKE: Final = (5.0, 0.12)
"""Spreads, and share of its length, from which a stitch is unlike the others (a judgement)."""
_PASSED_FROM: Final = 0.25
"""Of a stitch, so far from both its ends: nearer, a hole's own rim may look like one."""
_AS_LIKE: Final = 0.7
"""As like a hole as this share of what the usual one is. A judgement."""
_ALL_BUT_LINT: Final = 0.995
"""Of the thread's places, so many depart no more than a hole may. A judgement."""
_STILL_RISING: Final = 0.05
"""Share by which departures still rise above that, so that their peaks stay peaks."""
_LEAST_LAST: Final = 0.5
"""Of the usual length, a last stitch that ends with its thread may be no shorter (judged)."""
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
DEPARTS: Final = 1.0
"""What a departure from the thread's look says at most where the hole looks unlike the others."""


@dataclass(frozen=True)
class Looks:
    """A laid seam, row by row, freed of what is usual along it.

    Attributes
    ----------
    features
        Departures from the usual in units of their own spread; shape (features, places).
    departures
        How far the middle rows depart from the thread's usual look, shape (places,), told in two
        ways: by the row that is likest, and by the mean of the middle ones.
    rows
        The same row by row, the cloth on both sides with it, shape (rows, places, 3).
    px_per_mm
        Places to the millimetre.
    """

    features: NDArray[np.float32]
    departures: tuple[Floats, ...]
    rows: NDArray[np.float32]
    px_per_mm: float

    @cached_property
    def inner(self) -> NDArray[np.float32]:
        """The features of the rows that a hole lies in, a quarter of a mm to either side."""
        rows = np.arange(HALF_ROWS - 2, HALF_ROWS + 3)
        count = 2 * HALF_ROWS + 1
        signed = (3 * rows[:, None] + np.arange(3)).ravel()
        return np.asarray(self.features[np.concatenate([signed, 3 * count + rows])], np.float32)

    @cached_property
    def ways(self) -> tuple[Floats, ...]:
        """All the ways in which a departure is told, shape (places,) each."""
        return (*self.departures, gaussian_filter1d(self.strength, 0.04 * self.px_per_mm))

    @cached_property
    def strength(self) -> Floats:
        """How far all of those rows together depart from the usual, shape (places,)."""
        return np.asarray(np.sqrt((self.inner**2).sum(axis=0)), np.float64)


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


def looks_of(laid: NDArray[np.float32], px_per_mm: float, threaded: slice = slice(None)) -> Looks:
    """Rows and departures of a laid seam (Lab, shape (rows, places, 3), line in the middle row).

    Spreads are those of the ``threaded`` places: bare cloth beyond the ends departs most of all.
    """
    k = px_per_mm
    middle = laid.shape[0] // 2
    edges = np.round((np.arange(-CLOTH_ROWS, CLOTH_ROWS + 2) - 0.5) * ROWS_MM * k).astype(int)
    rows = [
        laid[middle + a : middle + max(b, a + 1)].mean(axis=0) for a, b in itertools.pairwise(edges)
    ]
    table = np.stack(rows)  # (rows, places, 3)
    smooth = gaussian_filter1d(table, max(0.35, 0.03 * k), axis=1, mode="nearest")
    smooth = smooth - _usual(smooth, round(USUAL_MM * k))
    own = slice(CLOTH_ROWS - HALF_ROWS, CLOTH_ROWS + HALF_ROWS + 1)
    at_mm = np.asarray(np.arange(-CLOTH_ROWS, CLOTH_ROWS + 1) * ROWS_MM, np.float64)
    thread = without_cloth(smooth, at_mm, CLOTH_FROM_MM, k)[own]
    rows_white, white = _in_spreads(smooth, threaded), _in_spreads(thread, threaded)
    inner = thread[HALF_ROWS - 1 : HALF_ROWS + 2].mean(axis=0)
    departures = (
        _no_more_than_holes(_departure(laid, k), threaded, k),
        _no_more_than_holes(_departure_of_middle(inner, k), threaded, k),
    )
    features = white.transpose(0, 2, 1).reshape(-1, laid.shape[1])
    # a hole may be dark, show the cloth or a loop of the other thread: how far it departs is alike
    far = np.sqrt((white**2).sum(axis=2))
    far = far - np.median(far, axis=1, keepdims=True)
    far = far / (1.4826 * np.median(np.abs(far), axis=1, keepdims=True) + 0.3)
    extra = np.stack(departures)
    extra = extra - np.median(extra, axis=1, keepdims=True)
    extra = extra / (1.4826 * np.median(np.abs(extra), axis=1, keepdims=True) + 0.2)
    features = np.concatenate([features, np.clip(far, -8, 8), 2.0 * np.clip(extra, -8, 8)])
    return Looks(features.astype(np.float32), departures, rows_white.astype(np.float32), k)


def _in_spreads(rows: NDArray[np.float32], threaded: slice) -> NDArray[np.float32]:
    """Rows in units of their own spread; colour is blurred and says less than lightness.

    Stripes that take up less than half of a row leave its median spread as it is.
    """
    own = rows[:, threaded]
    spread = 1.4826 * np.median(np.abs(own), axis=1, keepdims=True) + 0.4
    spread = np.maximum(spread, LEAST_OF_RMS * own.std(axis=1, keepdims=True))
    return np.asarray(np.clip(rows / spread, -8.0, 8.0), np.float32)


def _no_more_than_holes(departure: Floats, threaded: slice, k: float) -> Floats:
    """The departure, beyond the most of the thread's own places hardly rising any more.

    What a hole's height is learnt from would otherwise be the bare cloth beyond both ends.
    """
    rim = round(_MOST_MM * k)
    own = departure[threaded]
    inner = own[rim:-rim] if len(own) > 4 * rim else own
    most = float(np.quantile(inner, _ALL_BUT_LINT))
    return np.minimum(departure, most + _STILL_RISING * (departure - most))


def _departure(laid: NDArray[np.float32], k: float) -> Floats:
    """How far the likest of the middle rows is from the thread's own colour, shape (places,).

    The likest, because a leaning thread leaves the middle row before it ends; where it dives into
    the cloth no row is like it.
    """
    middle = laid.shape[0] // 2
    reach = round(0.26 * k)
    thread = laid[middle - round(0.07 * k) : middle + round(0.07 * k) + 1].mean(axis=0)[None]
    usual = _usual(gaussian_filter1d(thread, 0.04 * k, axis=1), round(USUAL_MM * k))
    band = gaussian_filter1d(laid[middle - reach : middle + reach + 1], 0.04 * k, axis=0)
    band = gaussian_filter1d(band, 0.04 * k, axis=1)
    core = band[reach - 1 : reach + 2] - usual
    spread = 1.4826 * np.median(np.abs(core), axis=(0, 1)) + 0.8
    away = np.minimum(np.abs(band - usual) / spread, 10.0)
    away = np.sqrt((away**2).sum(axis=2))
    # by a soft least, so that one speck does not decide
    few = np.sort(away, axis=0)[: max(2, round(0.1 * k))].mean(axis=0)
    darker = np.clip(
        (usual - band[reach - 1 : reach + 2])[..., 0].mean(axis=0) / spread[0], 0.0, 8.0
    )
    return np.asarray(gaussian_filter1d(few + 0.35 * darker, 0.05 * k, mode="nearest"), np.float64)


def _departure_of_middle(inner: NDArray[np.float32], k: float) -> Floats:
    """How far the middle of the line is from its own usual colour, shape (places,)."""
    spread = 1.4826 * np.median(np.abs(inner), axis=0, keepdims=True) + 0.6
    away = np.sqrt((np.clip(inner / spread, -8.0, 8.0) ** 2).sum(axis=1))
    darker = np.clip(-inner[:, 0] / spread[0, 0], 0.0, 8.0)
    smooth = gaussian_filter1d(away + 0.5 * darker, 0.06 * k, mode="nearest")
    return np.asarray(smooth, np.float64)


def _usual(table: NDArray[np.float32], window: int) -> NDArray[np.float32]:
    """Running median along the places, worked out at every eighth and drawn out."""
    n = table.shape[1]
    step = 8
    thin = table[:, ::step]
    size = min(max(3, window // step) | 1, 2 * thin.shape[1] - 1)
    # the cloth beyond a seam's end is not to be taken for thread by going on past the rim
    middle = median_filter(thin, size=(1, size, 1), mode="reflect")
    at = np.arange(0, n, step)
    out = np.empty_like(table)
    for r in range(table.shape[0]):
        for c in range(table.shape[2]):
            out[r, :, c] = np.interp(np.arange(n), at, middle[r, :, c])
    return out


def ends_in(looks: Looks, lengths_px: tuple[float, ...] = ()) -> Ends | None:
    """The ends of the stitches along a laid seam; None where nothing repeats.

    ``lengths_px`` are lengths of stitch to try; without them those that the departures repeat at.
    """
    patches = _patches(looks)
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


def _patches(looks: Looks) -> NDArray[np.float32]:
    """What stands within the window around each place: shape (places, features * window)."""
    half = round(HALF_WINDOW_MM * looks.px_per_mm)
    step = max(1, round(looks.px_per_mm / 16.0))
    padded = np.pad(looks.features, ((0, 0), (half, half)), mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1, axis=1)[..., ::step]
    n = looks.features.shape[1]
    return np.ascontiguousarray(windows.transpose(1, 0, 2).reshape(n, -1))


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
        peaks, evidence = _candidates(looks, scores, found, length)
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
        scores = _scored(patches, found, length)
    assert found is not None
    gain, learnt = _foretold(patches, found, length)
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
    kinds = _kinds(patches, places)
    if min(map(len, kinds)) < _FEWEST_OF_A_KIND:
        kinds = (places,)
    for kind in kinds:
        off = middle_of(departure_about(inner, kind, half), looks.px_per_mm).off_px
        found[np.isin(places, kind)] += round(off)
    return np.unique(np.clip(found, 0, looks.features.shape[1] - 1))


def _away_from(places: NDArray[np.int64], count: int, length: float) -> NDArray[np.bool_]:
    """Places between the ends, farther from each of them than a third of a stitch."""
    near = np.ones(count, np.bool_)
    near[int(places[0]) : int(places[-1]) + 1] = False
    reach = max(2, int(length / 3.0))
    for place in places:
        near[max(0, place - reach) : place + reach + 1] = True
    return ~near


def _scored(patches: NDArray[np.float32], places: NDArray[np.int64], length: float) -> Floats:
    """How like a hole each place is, 1 at a usual hole; an end's own score is learnt from others.

    Holes may look two ways (with and without a loop of the other thread): where they fall into two
    kinds, the better of both scores counts.
    """
    kinds = _kinds(patches, places)
    between = _between(patches, places, length)
    scores = [_scored_as_one(patches, of_kind, between, length) for of_kind in kinds]
    return np.asarray(np.max(scores, axis=0), np.float64)


def _kinds(
    patches: NDArray[np.float32], places: NDArray[np.int64]
) -> tuple[NDArray[np.int64], ...]:
    """The holes by kinds of look: two where their main difference falls into two heaps."""
    z = patches[places]
    if len(places) < 10:
        return (places,)
    z = z - z.mean(axis=0)
    # along the first principal axis; a patch has far more parts than there are holes
    powers, axes = np.linalg.eigh((z @ z.T).astype(np.float64))
    along = axes[:, -1] * np.sqrt(max(float(powers[-1]), 0.0))
    order = np.sort(along)
    # the split that leaves least within (Fisher 1958, "On grouping for maximum homogeneity")
    n = len(order)
    total = float(((order - order.mean()) ** 2).sum())
    best, cut = total, 0
    for i in range(4, n - 3):
        left, right = order[:i], order[i:]
        within = float(((left - left.mean()) ** 2).sum() + ((right - right.mean()) ** 2).sum())
        if within < best:
            best, cut = within, i
    # one heap of a normal distribution split in two keeps 0.36 of its sum of squares
    if cut == 0 or best > 0.22 * total:
        return (places,)
    high = along >= order[cut]
    return places[high], places[~high]


def _scored_as_one(
    patches: NDArray[np.float32], own_kind: NDArray[np.int64], between: _Between, length: float
) -> Floats:
    weights = _filter(patches, own_kind, between)
    out = np.asarray(patches @ weights - between.mean @ weights, np.float64)
    for part in (0, 1):
        own, others = own_kind[part::2], own_kind[1 - part :: 2]
        if len(others) < 2:
            continue
        w = _filter(patches, others, between)
        usual = between.mean @ w
        for place in own:
            reach = max(2, int(length / 4.0))
            a, z = max(0, place - reach), min(len(out), place + reach + 1)
            out[a:z] = patches[a:z] @ w - usual
    return out / max(float(np.median(out[own_kind])), 1e-6)


@dataclass(frozen=True)
class _Between:
    """What is usual between the ends: mean and variance of each part of a patch."""

    mean: NDArray[np.float32]
    noise: NDArray[np.float32]


def _between(patches: NDArray[np.float32], places: NDArray[np.int64], length: float) -> _Between:
    away = np.flatnonzero(_away_from(places, len(patches), length))
    if len(away) < 8:
        away = np.arange(len(patches))
    thin = patches[away[:: max(1, len(away) // 300)]]
    return _Between(np.mean(thin, axis=0), np.var(thin, axis=0))


def _filter(
    patches: NDArray[np.float32], places: NDArray[np.int64], between: _Between
) -> NDArray[np.float32]:
    """Weights of a matched filter for the holes at some places."""
    noise = between.noise
    hole = np.mean(patches[places], axis=0) - between.mean
    # a mean of few holes is noisy itself: what does not rise above that counts for nothing
    own = np.var(patches[places], axis=0) / max(len(places), 1)
    shrunk = hole * np.clip(1.0 - own / np.maximum(hole**2, 1e-9), 0.0, 1.0)
    weights = shrunk / (noise + np.median(noise) + 0.05)
    norm = float(np.sqrt((weights**2 * (noise + 0.05)).sum()))
    return np.asarray(weights / max(norm, 1e-6), np.float32)


def _candidates(
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
    rim = max(2, round(_NEAR_MM * k))
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


def _less_where_thread_goes_on(
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
    size = 2 * max(1, round(_NEAR_MM * k)) + 1
    shares, weights = [], []
    for way in looks.ways:
        strength = maximum_filter1d(way - np.median(way), size, mode="nearest")
        away = strength[_away_from(ends, len(strength), length)]
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
        elsewhere = _elsewhere(scores, values[~near], ends, length)
        high, here = float(np.median(values[near])), _spread(values[near])
        low, there = float(np.median(elsewhere)), _spread(elsewhere)
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


def _elsewhere(scores: Floats, peaks: Floats, ends: NDArray[np.int64], length: float) -> Floats:
    """Scores of what is no hole: the peaks between, and where there are few, the best around."""
    if len(peaks) >= max(6, len(ends)):
        return peaks
    away = scores[_away_from(ends, len(scores), length)]
    if len(away) < 8:
        away = scores
    upper = np.sort(away)[len(away) // 2 :]
    return np.concatenate([peaks, upper[:: max(1, len(upper) // max(6, len(ends)))]])


def _spread(values: Floats) -> float:
    return float(1.4826 * np.median(np.abs(values - np.median(values))))


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


def _foretold(
    patches: NDArray[np.float32], places: NDArray[np.int64], length: float
) -> tuple[float, float]:
    """What other holes foretell of each hole's picture: summed, and as a share."""
    between = patches[_away_from(places, len(patches), length)]
    if len(between) < 8:
        between = patches
    base, noise = between.mean(axis=0), between.var(axis=0) + 0.3
    gain = told = whole = 0.0
    for kind in _kinds(patches, places):
        z = np.clip((patches[kind] - base) / np.sqrt(noise), -6.0, 6.0)
        whole += float((z**2).sum())
        for part in (0, 1):
            own, others = z[part::2], z[1 - part :: 2]
            if not (len(own) and len(others)):
                continue
            picture = others.mean(axis=0)
            energy = float((picture**2).sum())
            each = 2.0 * own @ picture - energy
            told += float(each.sum())
            # no hole counts for more than one, or a few with loops would outweigh all the rest
            # and a picture that hardly rises above the noise is what any row of peaks would give
            plain = float(np.clip((energy / z.shape[1] - FAINT[0]) / FAINT[1], 0.0, 1.0))
            gain += plain * float(np.clip(each / max(energy, 1e-9), -1.0, 1.0).sum())
    return gain, told / max(whole, 1e-9)


def _finished(looks: Looks, patches: NDArray[np.float32], best: _Learnt, rival: float) -> Ends:
    """Ends to a fraction of a pixel, each with its error and its evidence."""
    k = looks.px_per_mm
    scores = gaussian_filter1d(best.scores, max(0.6, 0.03 * k))
    peaks, evidence = _candidates(looks, scores, best.at, best.length)
    between = np.diff(best.at) / best.stitches
    off = 1.4826 * np.median(np.abs(between / best.length - 1.0))
    spread = float(np.clip(1.3 * off, LEAST_SPREAD, SPREAD_AT_FIRST))
    evidence = _less_where_thread_goes_on(looks, peaks, evidence, best.at, best.length)
    length = best.length
    index, stitches = best_ends(peaks.astype(np.float64), evidence, length, spread)
    if len(stitches) and np.median(stitches) > 1.0:
        # no machine skips most of its stitches: they are as long as two or three were taken to be
        length *= int(np.median(stitches))
        index, stitches = best_ends(peaks.astype(np.float64), evidence, length, spread)
    index, stitches = _to_the_rim(looks, peaks, evidence, index, stitches, length, spread)
    at = peaks[index]
    told = evidence[index]
    fine, told = _terminal(looks, at, at + _fraction(scores, at), told, length)
    fine, told, stitches = _by_the_threads_end(looks, fine, told, stitches, length)
    told = _doubted_if_unlike(looks, fine, told, stitches)
    at = np.round(fine).astype(np.int64)
    sd = _errors(looks, patches, at, length)
    others = np.setdiff1d(peaks, at)
    inside = others[(others > at[0]) & (others < at[-1])]
    there = _elsewhere(scores, scores[inside], at, length)
    wide = np.sqrt(_spread(scores[at]) ** 2 + _spread(there) ** 2) + 0.02
    apart = float((np.median(scores[at]) - np.quantile(there, 0.9)) / wide)
    length = float(np.median(np.diff(fine) / stitches)) if len(fine) > 1 else length
    middle = middle_of(departure_about(looks.inner, at, int(0.5 * length)), k)
    return Ends(
        _by_one_picture(looks, patches, fine, at, length),
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
    if len(single) < _FEWEST_OF_A_KIND:
        return found
    usual = float(np.median(np.diff(at)[single]))
    reach = int(0.25 * usual)
    for way in looks.ways:
        smooth = gaussian_filter1d(way, 0.04 * looks.px_per_mm)

        def highest(middle: float, smooth: Floats = smooth) -> float:
            here = round(middle)
            return float(smooth[max(0, here - reach) : here + reach + 1].max())

        plain = np.array([highest(0.5 * (at[i] + at[i + 1])) for i in single])
        most = float(np.median(plain)) + NO_PLAIN_THREAD * max(_spread(plain), 0.05)
        most = max(most, float(np.quantile(plain, 0.9)))
        for i in np.flatnonzero(stitches > 1):
            shares = np.arange(1, stitches[i]) / stitches[i]
            found[i] |= any(highest(at[i] + s * (at[i + 1] - at[i])) > most for s in shares)
    return found


def _to_the_rim(
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


def _terminal(
    looks: Looks, at: NDArray[np.int64], fine: Floats, told: Floats, length: float
) -> tuple[Floats, Floats]:
    """The first and the last end, placed by what lies within the seam where both sides disagree.

    Beyond them the picture or the thread ends, so that they look otherwise than the rest. One that
    looks from within more like thread than like the other holes is doubted.
    """
    k, n = looks.px_per_mm, looks.features.shape[1]
    long, short = round(min(0.5 * length, 0.8 * k)), round(_NEAR_MM * k)
    most = round(_MOST_MM * k)
    out, evidence = fine.copy(), told.copy()
    for which, window in (
        (0, np.arange(-short, long + 1)),
        (-1, np.arange(-long, short + 1)),
    ):
        inside = at[1:-1]
        inside = inside[(inside >= long) & (inside < n - long)]
        shifts = int(at[which]) + np.arange(-most, most + 1)
        shifts = shifts[(shifts + window[0] >= 0) & (shifts + window[-1] < n)]
        if len(inside) < _FEWEST_OF_A_KIND or len(shifts) < 3:
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


def _doubted_if_unlike(
    looks: Looks, fine: Floats, told: Floats, stitches: NDArray[np.int64]
) -> Floats:
    """The evidence, against a half seen end that makes a stitch unlike all the others.

    Near the rim half of a hole is cut off, and the rim of something beyond passes for one; where
    the thread alone was seen to end, what hides it may.
    """
    rim, last = _RIM_MM * looks.px_per_mm, looks.features.shape[1] - 1
    each = np.diff(fine) / stitches
    if len(each) < _FEWEST_OF_A_KIND:
        return told
    usual = float(np.median(each))
    far = max(_UNLIKE[0] * _spread(each), _UNLIKE[1] * usual)
    out = told.copy()
    for which, beyond, own in ((0, fine[0], each[0]), (-1, last - fine[-1], each[-1])):
        half_seen = beyond < rim or told[which] <= 0.0
        if half_seen and abs(own - usual) > far:
            out[which] = min(out[which], SKIP_LOG_CHANCE[1])
    return out


def _by_the_threads_end(
    looks: Looks, fine: Floats, told: Floats, stitches: NDArray[np.int64], length: float
) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """The first and the last hole where the thread is seen to end: moved there, or added."""
    # what tells holes best from what lies between them shows the thread's end best
    at = np.round(fine).astype(np.int64)
    away = _away_from(at, looks.features.shape[1], length)
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
            if abs(off) < _MOST_MM * k or (off < 0.0 and inner > _LEAST_LAST * length):
                fine[which] = place
                told[which] = max(told[which], 0.0)
                break
            if 0.75 * length < off < 1.25 * length:
                fine = np.r_[place, fine] if first else np.r_[fine, place]
                told = np.r_[0.0, told] if first else np.r_[told, 0.0]
                stitches = np.r_[1, stitches] if first else np.r_[stitches, 1]
                break
    return fine, told, stitches


def _by_one_picture(
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
    between = _between(patches, at, length)
    kinds = _kinds(patches, at)
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
    between: _Between,
) -> Floats:
    """Places near `at` that are likest the mean picture of some ends."""
    weights = _filter(patches, learnt, between)
    k = looks.px_per_mm
    own = np.asarray(patches @ weights - between.mean @ weights, np.float64)
    score = gaussian_filter1d(own, max(0.6, 0.03 * k))
    reach = max(2, round(_SAME_PICTURE_MM * k))
    window = np.clip(at[:, None] + np.arange(-reach, reach + 1), 0, len(score) - 1)
    best = window[np.arange(len(at)), score[window].argmax(axis=1)]
    return np.asarray(best + _fraction(score, best), np.float64)


def _fraction(scores: Floats, at: NDArray[np.int64]) -> Floats:
    """Where between the pixels a parabola through three scores is highest."""
    a = np.clip(at, 1, len(scores) - 2)
    left, mid, right = scores[a - 1], scores[a], scores[a + 1]
    curve = left - 2 * mid + right
    shift = np.where(curve < -1e-9, 0.5 * (left - right) / np.minimum(curve, -1e-9), 0.0)
    return np.clip(shift, -0.5, 0.5)


def _errors(
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
    kinds = _kinds(patches, at)
    for parts, widened in ((halves, 1.0), (turns, 1.5)):
        one, other = (_placed(looks, patches[:, part], at, length) for part in parts)
        apart = one - other
        # a leaning thread parts holes with a loop and those without by another amount
        for kind in kinds:
            own = np.isin(at, kind)
            apart[own] -= np.median(apart[own])
        usual = max(_spread(apart) / 2.0, 0.1)
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
    between = _between(own, at, length)
    weights = _filter(own, at, between)
    scores = gaussian_filter1d(np.asarray(own @ weights - between.mean @ weights, np.float64), 1.0)
    window = np.clip(at[:, None] + np.arange(-reach, reach + 1), 0, len(scores) - 1)
    best = window[np.arange(len(at)), scores[window].argmax(axis=1)]
    return np.asarray(best + _fraction(scores, best), np.float64)
