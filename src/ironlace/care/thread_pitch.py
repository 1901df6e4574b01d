"""Pitch of a thread from both its edges: spectrum first, then the place of every thread.

The edges' common spectrum names the pitch; each thread's place is then read from the phase of the
edge within a window of two pitches about it, and a straight line through the places of both edges
(in which a dented thread counts little) gives the pitch and its doubt.
"""

from dataclasses import dataclass

import numpy as np

from ironlace.care.errors import CareError
from ironlace.care.huber_fit import huber_fit
from ironlace.care.thread_edges import ThreadEdges
from ironlace.evidence.arrays import Floats

LEAST_THREADS = 5.0
"""Fewer tell no pitch that could be trusted (as the contract has it)."""
_FINEST_MM, _COARSEST_MM = 0.12, 2.2
"""Pitches that screws of a sewing machine may have, with room to spare (judged)."""
HEAD_WIDER = 1.13
"""Of the caliper's diameter: what is wider is head."""
_SYSTEMATIC = 2.5e-4
"""Share of the pitch that stays in doubt after the fit: card, paper, lens (a judgement)."""
_HUBER = 1.5
"""Standard deviations beyond which a thread counts less (Huber 1964; the usual figure)."""
_APART_SHARE = 0.006
"""Of the pitch: both edges apart by more than this, beyond their errors, contradict each other."""
_FACING = 0.12
"""Of a pitch, within which a crest of one edge faces a crest of the other (judged)."""
DOUBT_SHARE = 0.0045
"""One standard deviation as a share of the pitch above which it is called unreliable: one over a
hundred out then lies beyond two of them."""


@dataclass(frozen=True)
class ThreadPitch:
    """The pitch in mm of the card's plane, with what it rests on.

    Attributes
    ----------
    pitch_mm, sd_mm
        The pitch and one standard deviation.
    threads
        How many threads are seen.
    from_mm, to_mm
        Where along the axis the thread begins and ends.
    phase_mm
        Place of a crest on either edge, mm along the axis.
    width_mm
        Over the crests, in mm of the card's plane.
    widening, widening_sd
        By how much that grows a mm of axis, as a share of it, and its standard deviation.
    doubts
        Why it should not be relied on; empty when it may be.
    """

    pitch_mm: float
    sd_mm: float
    threads: float
    from_mm: float
    to_mm: float
    phase_mm: tuple[float, float]
    width_mm: float
    widening: float
    widening_sd: float
    doubts: tuple[str, ...]

    @property
    def starts(self) -> int:
        """Threads cut side by side: of one, crests of the edges alternate; of two, they face."""
        apart = (self.phase_mm[1] - self.phase_mm[0]) / self.pitch_mm
        return 2 if abs(apart - round(apart)) < _FACING else 1


def thread_pitch(edges: ThreadEdges, caliper_mm: float) -> ThreadPitch:
    """Pitch and extent of a thread.

    Raises
    ------
    CareError
        When no thread, or fewer than five threads are seen.
    """
    along, step = edges.along_mm, float(edges.along_mm[1] - edges.along_mm[0])
    low, high = _body(edges.edges_mm, caliper_mm, step)
    bent = _without_trend(edges.edges_mm[:, low:high], caliper_mm, step)
    frequency = _dominant(bent, step)
    strength = np.abs([_carried(one, frequency, along[low:high], step) for one in bent])
    joint = strength.mean(axis=0)
    held = joint > 0.5 * np.quantile(joint, 0.8)
    begin, end = _longest(held)
    # the windows reach a pitch beyond the thread on either side
    first, last = low + begin, low + end
    span = (last - first) * step
    threads = span * frequency
    if threads < LEAST_THREADS:
        raise CareError(
            f"{threads:.1f} threads are seen and {LEAST_THREADS:g} are needed: photograph it "
            "nearer, its whole thread in the picture and no hard shadow beside it, or type the "
            "readings of a thread gauge."
        )
    return _fitted(edges, frequency, (first, last), caliper_mm, step)


def _body(both: Floats, caliper_mm: float, step: float) -> tuple[int, int]:
    """Where the screw is no wider than its thread, and there."""
    width = np.nanmax(np.where(np.isfinite(both), both, -1.0), axis=0)
    body = (width < HEAD_WIDER * caliper_mm / 2) & (both > 0.3 * caliper_mm / 2).all(axis=0)
    begin, end = _longest(body)
    if (end - begin) * step < max(1.0, 0.3 * caliper_mm):
        raise CareError(
            f"No shaft about {caliper_mm:g} mm thick is seen: the caliper's figure does not agree "
            "with the picture, a hard shadow lies beside it, or the card is not to scale (in mm, "
            "printed at 100 %)."
        )
    return begin, end


def _longest(flags: np.ndarray) -> tuple[int, int]:
    """Begin and end of the longest run of true."""
    padded = np.concatenate([[False], flags, [False]]).astype(np.int8)
    starts, ends = np.flatnonzero(np.diff(padded) == 1), np.flatnonzero(np.diff(padded) == -1)
    if not len(starts):
        return 0, 0
    n = int(np.argmax(ends - starts))
    return int(starts[n]), int(ends[n])


def _without_trend(both: Floats, caliper_mm: float, step: float) -> Floats:
    """The edges less their slow course, bounded so that a dent counts like any thread."""
    from scipy.ndimage import uniform_filter1d

    size = max(3, int(1.2 * max(0.5, 0.3 * caliper_mm) / step))
    found = both - uniform_filter1d(both, size, axis=1, mode="nearest")
    bound = 2.5 * np.median(np.abs(found), axis=1, keepdims=True) + 1e-6
    return np.clip(found, -bound, bound)


def _dominant(bent: Floats, step: float) -> float:
    """The frequency, 1/mm, at which both edges carry most."""
    n = bent.shape[1]
    long = 1 << int(np.ceil(np.log2(16 * n)))
    power = (np.abs(np.fft.rfft(bent * np.hanning(n), long, axis=1)) ** 2).sum(axis=0)
    frequency = np.fft.rfftfreq(long, step)
    allowed = (frequency > max(1 / _COARSEST_MM, 2.5 / (n * step))) & (frequency < 1 / _FINEST_MM)
    if not allowed.any():
        raise CareError("The shaft is too short for its thread to be told.")
    peak = int(np.argmax(np.where(allowed, power, 0.0)))
    around = np.abs(frequency - frequency[peak]) > 3.0 / (n * step)
    noise = float(np.median(power[allowed & around])) if (allowed & around).any() else 0.0
    amplitude = float(np.abs(bent).mean())
    if power[peak] < 8 * noise or amplitude < 0.12 * step:
        raise CareError(
            "No thread is seen on the shaft's edges: photograph it nearer and sharper, against "
            "white paper."
        )
    return float(frequency[peak])


def _carried(one: Floats, frequency: float, along: Floats, step: float) -> np.ndarray:
    """The edge's oscillation about each place: a complex amplitude, by a window of two pitches."""
    from scipy.signal import fftconvolve

    window = np.hanning(max(5, int(2 / frequency / step) | 1))
    turned = one * np.exp(-2j * np.pi * frequency * along)
    return np.asarray(fftconvolve(turned, window / window.sum(), mode="same"))


def _fitted(
    edges: ThreadEdges, frequency: float, extent: tuple[int, int], caliper_mm: float, step: float
) -> ThreadPitch:
    first, last = extent
    along = edges.along_mm[first:last]
    bent = _without_trend(edges.edges_mm[:, first:last], caliper_mm, step)
    for _ in range(3):
        hop = max(1, int(1 / frequency / step))
        at = np.arange(hop, len(along) - hop, hop)
        if len(at) < 3:
            raise CareError("Too few threads are seen to tell their pitch.")
        carried = [_carried(one, frequency, along, step)[at] for one in bent]
        places = [-np.unwrap(np.angle(c)) / (2 * np.pi * frequency) for c in carried]
        fits = [_line(along[at], place) for place in places]
        slope, sd = _both(along[at], places)
        # a crest that comes later by `slope` a mm means a pitch longer by that share
        frequency /= 1.0 + slope
    pitch = 1.0 / frequency
    apart = abs(fits[0][0] - fits[1][0])
    apart_sd = float(np.hypot(fits[0][1], fits[1][1]))
    relative = float(np.hypot(sd, _SYSTEMATIC))
    # what both edges disagree on is in doubt even where each lies even
    relative = float(np.hypot(relative, 0.5 * max(0.0, apart - apart_sd)))
    doubts = []
    if apart > _APART_SHARE + 2.5 * apart_sd:
        doubts.append(
            f"its two edges give pitches {100 * apart:.1f} % apart: a bent or dented thread"
        )
    if relative > DOUBT_SHARE:
        doubts.append(
            f"its threads lie so unevenly that the pitch is known to {165 * relative:.1f} % only"
        )
    phases = tuple(float(fit[2]) for fit in fits)
    tops = [_upper(one, max(3, int(pitch / step))) for one in edges.edges_mm[:, first:last]]
    width = float(np.median(tops[0]) + np.median(tops[1]))
    widening, widening_sd = _widening(along, tops[0] + tops[1], pitch)
    return ThreadPitch(
        pitch,
        relative * pitch,
        (last - first) * step * frequency,
        float(along[0]),
        float(along[-1]),
        (phases[0], phases[1]),
        width,
        widening / width,
        widening_sd / width,
        tuple(doubts),
    )


def _line(at: Floats, place: Floats) -> tuple[float, float, float]:
    """Slope, its standard deviation and height of a line; what lies far off counts little."""
    middle = at.mean()
    design = np.column_stack([at - middle, np.ones(len(at))])
    fit, off, weight = huber_fit(design, place, _HUBER)
    dof = max(1.0, weight.sum() - 2)
    spread = float(np.sqrt((weight * off**2).sum() / dof))
    # neighbouring windows share half of what they see
    sd = 1.25 * spread / float(np.sqrt((weight * (at - middle) ** 2).sum()))
    return float(fit[0]), sd * (1 + 2.0 / dof), float(fit[1])


def _both(at: Floats, places: list[Floats]) -> tuple[float, float]:
    """One slope through both edges, each with a height of its own."""
    middle = at.mean()
    centred = [place - np.median(place - _line(at, place)[0] * (at - middle)) for place in places]
    slope, sd, _ = _line(np.concatenate([at, at]), np.concatenate(centred))
    return slope, sd


def _upper(one: Floats, size: int) -> Floats:
    from scipy.ndimage import maximum_filter1d

    return np.asarray(maximum_filter1d(one, size, mode="nearest"))


def _widening(along: Floats, width: Floats, pitch: float) -> tuple[float, float]:
    """By how much the width over the crests grows a mm of axis, and its standard deviation."""
    step = float(along[1] - along[0])
    at = np.arange(0, len(along), max(1, int(pitch / step)))
    slope, sd, _ = _line(along[at], width[at])
    return slope, sd
