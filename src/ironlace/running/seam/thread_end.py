"""Where a seam's first and last hole lies, by the edge of the thread that ends in it.

The other side of such a hole shows the cloth or the picture's rim instead of a next stitch. Its
inner edge looks like that of every hole: it lies as far from the hole as theirs do.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter, uniform_filter1d

from ironlace.evidence.arrays import Floats
from ironlace.running.seam.cloth_beside import middle_and_cloth

LEAST_MM: Final = 0.3
"""Thread is seen where it departs little over this length; a hole's middle is shorter (judged)."""
BEYOND_MM: Final = 0.8
"""So far beyond its end no thread is seen, or it was a wide hole."""
LEAST_BEYOND_MM: Final = 0.4
"""With less of the picture left beyond it an end of the thread is not told from its rim."""
LEAST_GONE: Final = 0.85
"""Share of what lies beyond that has to depart from the thread."""
MOST_SPREAD_MM: Final = 0.1
"""Edges that scatter more about their holes say nothing of one (a judgement)."""
FEWEST: Final = 4
"""From fewer holes no distance of the edge is told."""

LEFT_BARE_MM: Final = 1.5
"""So much bare cloth is left beyond a thread's end: more than the search for the last hole looks
at, and less than would pass for the thread's usual look near the rim (half of the 8 mm)."""
_BARE: Final = (0.35, 0.5)
"""Bare is where the line is nearer to the cloth beside it than the first share of the thread's
usual distance and farther from the thread's colour than the second. A judgement."""
_NEAR_MM: Final = 0.5
"""Where no thread lies so near to the line either. A judgement."""
_RIBBON_MM: Final = 0.35
"""A thread and its shadow lie so near to the line."""
_RIBBON: Final = 2.0
"""There a row must differ by so many times as much as any row beside does. A judgement."""
_LEAST_OFF: Final = 0.7
"""And by no less than that of this (L*a*b*), which no eye sees."""
_BARE_OVER_MM: Final = 1.0
"""Over this length, so that neither a hole nor a fleck of the cloth decides."""


def with_thread(laid: NDArray[np.float32], px_per_mm: float) -> tuple[slice, slice]:
    """The places of a laid line that have thread, with a little bare cloth beyond each end.

    Also which of those places have the thread. Along bare cloth of more than a stitch the cloth
    itself becomes what is usual, so that neither the thread's end nor the hole in it stands out.

    Parameters
    ----------
    laid
        Lab, shape (rows, places, 3), the line in the middle row, 1 mm to either side.
    px_per_mm
        Its scale.
    """
    k, count = px_per_mm, laid.shape[1]
    inner, cloth = middle_and_cloth(laid, k)
    rows = np.abs(np.arange(laid.shape[0]) - laid.shape[0] // 2)
    off_cloth = np.linalg.norm(inner - cloth, axis=1)
    clear = off_cloth >= np.median(off_cloth)
    thread = np.median(inner[clear], axis=0)
    usual = float(np.median(off_cloth[clear]))
    size = round(_BARE_OVER_MM * k) | 1
    # the line may have left a thread that goes on beside it
    near = uniform_filter1d(laid[rows <= _NEAR_MM * k], round(0.15 * k), axis=0)
    off_thread = np.linalg.norm(near - thread, axis=2).min(axis=0)
    off_cloth, off_thread = (
        median_filter(one, size, mode="nearest") for one in (off_cloth, off_thread)
    )
    bare = (off_cloth < _BARE[0] * usual) & (off_thread > _BARE[1] * usual)
    threaded = np.flatnonzero(~bare)
    if not len(threaded):
        return slice(0, count), slice(0, count)
    left, first, stop = round(LEFT_BARE_MM * k), int(threaded[0]), int(threaded[-1]) + 1
    if _has_a_ribbon(laid[:, : max(0, first - size)], rows / k, size):
        first = 0
    if _has_a_ribbon(laid[:, stop + size :], rows / k, size):
        stop = count
    start = max(0, first - left)
    return slice(start, min(count, stop + left)), slice(first - start, stop - start)


def _has_a_ribbon(part: NDArray[np.float32], off_mm: Floats, least: int) -> bool:
    """Whether rows near the line differ from those beside it: a thread of the cloth's own colour.

    Its shadow and its edges run along it, where bare cloth is alike from row to row.
    """
    if part.shape[1] < least:
        return False
    profile = np.median(part, axis=1)
    beside = off_mm > _NEAR_MM
    off = np.linalg.norm(profile - np.median(profile[beside], axis=0), axis=1)
    most = float(off[off_mm < _RIBBON_MM].max())
    return most > _RIBBON * max(float(off[beside].max()), _LEAST_OFF)


def last_hole(departure: Floats, at_px: Floats, px_per_mm: float) -> float | None:
    """Place of the hole in which the thread ends for good, None where no such end is seen.

    Parameters
    ----------
    departure
        How far each place departs from the thread's usual look, shape (places,).
    at_px
        Holes found, rising.
    px_per_mm
        Places to the millimetre.
    """
    k, n = px_per_mm, len(departure)
    holes = np.round(at_px).astype(int)
    usual = float(np.median(departure))
    height = float(np.quantile(departure[holes], 0.3)) - usual
    low = departure < usual + 0.5 * height
    back: list[int] = []
    for hole in holes[1:-1]:
        near = np.flatnonzero(low[max(0, hole - round(0.6 * k)) : hole])
        if len(near):
            back.append(min(hole, round(0.6 * k)) - int(near[-1]) - 1)
    if len(back) < FEWEST or height <= 0.0:
        return _clear_end(departure, k)
    spread = 1.4826 * float(np.median(np.abs(np.asarray(back) - np.median(back))))
    if spread > MOST_SPREAD_MM * k:
        return _clear_end(departure, k)
    run = round(LEAST_MM * k)
    whole = np.convolve(low.astype(np.float64), np.ones(run), "valid") > run - 0.5
    if not whole.any():
        return None
    end = int(np.flatnonzero(whole)[-1]) + run  # the first place past the thread
    beyond = ~low[end : end + round(BEYOND_MM * k)]
    if n - end < LEAST_BEYOND_MM * k or float(beyond.mean()) < LEAST_GONE:
        return None
    place = float(end - 1 + np.median(back))
    return place if place <= n - 1 else None


def _clear_end(departure: Floats, k: float) -> float | None:
    """Where the thread ends if what lies beyond departs more from it than all that lies within.

    Threads that lean beside one another leave no gap whose edge could be learnt: their hole lies
    at the edge.
    """
    beyond = round(LEAST_BEYOND_MM * k)
    usual, tail = float(np.median(departure)), float(departure[-beyond:].min())
    level = usual + 0.5 * (tail - usual)
    end = len(departure) - int(np.argmax(departure[::-1] < level))
    within = departure[: max(1, end - beyond)]
    if not (departure < level).any() or float(within.max()) > level or end > len(departure) - 1:
        return None
    return float(end)


def first_hole(departure: Floats, at_px: Floats, px_per_mm: float) -> float | None:
    """The same at the seam's beginning."""
    rim = len(departure) - 1.0
    found = last_hole(departure[::-1], rim - at_px[::-1], px_per_mm)
    return None if found is None else rim - found
