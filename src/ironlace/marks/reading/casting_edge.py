"""Whether a casting's edge runs through a digit, and how much of the digit lies beyond it.

What is struck goes down and comes up again; at an edge the metal goes down and stays down. So the
height about a place, integrated from its slopes, is parted by a straight line in every direction:
where nearly all that lies beyond the line is lower than most of what lies before it, an edge (or a
large hole) runs there. Ends of castings were ground round, which the relief shows; metal beyond
that is not known is told by `other_signs.unseen`.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.numeral_styles import TALL
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.marks.reading.wear import height_of

_SIDE = 85
"""Rows and columns looked at, steps of the reading grid: 0.9 mm beyond a digit on every side."""
_WAYS = 16
"""Directions in which an edge may lie."""
_ROUND = 8
"""Steps that an edge's rounding takes at least, left out on both sides together: 0.4 mm."""
_BEFORE = 24
"""Steps before the edge whose height is compared."""
_BEYOND = 9
"""Steps that must lie beyond an edge at least, 0.45 mm: a narrower one is a stroke or a groove."""
_FALL_MM = 0.1
"""Fall at an edge from which it is one. A plate bent to 45 mm falls by 0.04 within what is looked
at, and a relief's slopes may be 0.02 wrong throughout (judged)."""
_MOST, _FEW = 0.85, 0.35
"""Of what lies beyond, so much is lower than all but so little of what lies before."""
_STEP = 2
"""Every so-many-th step is compared: heights are smooth."""
_BOX = (TALL, 30)
"""Rows and columns that a figure takes up, as `other_signs.unseen` has it."""


class _Line(NamedTuple):
    """Places before a line, beyond it and just beyond it, and the figure's share beyond it."""

    before: NDArray[np.intp]
    beyond: NDArray[np.intp]
    strip: NDArray[np.intp]
    share: float


@lru_cache(maxsize=1)
def _parted() -> tuple[tuple[_Line, ...], ...]:
    """Lines by direction, the nearest first."""
    at = np.arange(0, _SIDE, _STEP) - (_SIDE - 1) / 2
    x, y = np.meshgrid(at, at)
    box = (np.abs(x) <= _BOX[1] / 2) & (np.abs(y) <= _BOX[0] / 2)
    ways = []
    for way in np.arange(_WAYS) * 2 * np.pi / _WAYS:
        along = x * np.cos(way) + y * np.sin(way)
        lines = []
        for line in range(-_SIDE // 4, _SIDE // 2 - _BEYOND - _ROUND // 2, 2):
            beyond = along > line + _ROUND / 2
            strip = (along > line) & (along <= line + _STEP)
            before = (along < line - _ROUND / 2) & (along > line - _ROUND / 2 - _BEFORE)
            share = float((box & (along > line)).sum() / box.sum())
            at_line = np.flatnonzero(before), np.flatnonzero(beyond), np.flatnonzero(strip)
            lines.append(_Line(*at_line, share))
        ways.append(tuple(lines))
    return tuple(ways)


def edges_through(
    relief: ReliefSlopes, digits: Sequence[Place]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Share of each digit that lies beyond an edge, 0 to 1, and how far the metal falls there, mm.

    Both are 0 where there is none; of a single photograph, which has no heights, nothing is told.
    """
    beyond, falls = np.zeros(len(digits)), np.zeros(len(digits))
    if relief.along is not None:
        return beyond, falls
    for k, d in enumerate(digits):
        per = d.height_px / TALL
        slopes = relief.patch(d.x_px, d.y_px, per, (_SIDE, _SIDE))
        height = height_of(slopes, per * relief.mm_per_px)[::_STEP, ::_STEP]
        known = np.abs(slopes).max(axis=0)[::_STEP, ::_STEP] > 0
        beyond[k], falls[k] = _edge(height.ravel(), known.ravel())
    return beyond, falls


def _edge(height: NDArray[np.float64], known: NDArray[np.bool_]) -> tuple[float, float]:
    """Share of the figure beyond the edge where the height falls most, and that fall, mm."""
    best, fewest = (0.0, 0.0), _SIDE * _BEYOND / 2 / _STEP**2
    for lines in _parted():
        most, at, level = max(_fall(height, known, line, k, fewest) for k, line in enumerate(lines))
        if most > max(best[1], _FALL_MM):
            # a figure on the rounding is no longer itself: the edge is where that begins
            while at and _high(height, lines[at - 1]) < level - most / 4:
                at -= 1
            best = lines[at].share, most
    return best


def _fall(
    height: NDArray[np.float64], known: NDArray[np.bool_], line: _Line, k: int, fewest: float
) -> tuple[float, int, float]:
    """How far the metal falls beyond a line, mm, its number, and the height before it."""
    before, after = line.before[known[line.before]], line.beyond[known[line.beyond]]
    if min(len(before), len(after)) < fewest:
        return 0.0, k, 0.0
    level = _quantile(height[before], _FEW)
    return level - _quantile(height[after], _MOST), k, level


def _high(height: NDArray[np.float64], line: _Line) -> float:
    return _quantile(height[line.strip], 1 - _FEW)


def _quantile(values: NDArray[np.float64], share: float) -> float:
    """The nearest value to a quantile: a tenth of the time of `np.quantile`, which interpolates."""
    k = int(share * (len(values) - 1))
    return float(np.partition(values, k)[k])
