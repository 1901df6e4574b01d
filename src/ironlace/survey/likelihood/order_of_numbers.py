"""How probable the order of running numbers is against the dates that their marks state.

A number that runs on rises with the date beside it. Numbers and dates are each taken as they are;
what is judged is which number stands beside which date. Were the two unconnected, each way of
pairing them off would be as probable as any other. Under a running number those in line stand in
one order; each report is out of line by a small chance, the same for a whole survey (misread,
finished late, of another works), and then stands anywhere. The ratio of the two is summed over
every choice of those in line, so that its mean over all pairings is 1: what one order gains the
others lose (ranks as data: Kendall 1938, *Biometrika* 30, 81-93; the noise after Mallows 1957,
*Biometrika* 44, 114-130).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np

from ironlace.evidence.arrays import Floats

OUT_OF_LINE = (0.01, 0.05, 0.15)
"""Chances of a report to be out of line: hardly any, one in twenty, one in seven; a judgement.
Figures misread alone put up to one in twenty out of line."""

HOW_OFTEN = (0.5, 0.35, 0.15)
"""How often a works has each of them: one for a whole survey. That one in seven is out of line is
seldom; were it as usual as any, numbers thrown without order would pass for such; a judgement."""

MOST_IN_ORDER = 48
"""Most reports whose order is judged, taken evenly: time grows with the square, and the order of so
many settles it either way (48 factorial is e to the 140)."""


@dataclass(frozen=True)
class Line:
    """Reports of one series, each array of shape (n,).

    Logarithms of `numbers` lie about `centres` with standard deviations `spreads`.
    """

    dates: Sequence[float] | Floats
    centres: Sequence[float] | Floats
    spreads: Sequence[float] | Floats
    numbers: Sequence[float] | Floats


def log_gain_of_order(dates: Sequence[float] | Floats, numbers: Sequence[float] | Floats) -> float:
    """Log of how much more probable the pairing is under numbers that rise than under any order.

    Equal dates leave the order open. Nought for fewer than two.

    >>> round(math.exp(log_gain_of_order([1, 2, 3], [10, 20, 30])), 1)
    5.5
    >>> log_gain_of_order([1, 2, 3, 4], [40, 30, 20, 10]) < -1
    True
    """
    count = len(dates)
    if count < 2:
        return 0.0
    ways = _weighed_lines(np.asarray(dates, dtype=float), np.asarray(numbers, dtype=float))
    size = np.arange(count + 1)
    logs = np.log(np.maximum(ways, 1e-300)) + np.array([math.lgamma(k + 1.0) for k in size])
    return _over_rates(logs)


def _over_rates(logs: Floats) -> float:
    """Log of the sum over sizes, 0 to all reports, and over the rates of those out of line."""
    count = len(logs) - 1
    size = np.arange(count + 1)
    by_rate = [
        math.log(often)
        + np.logaddexp.reduce(logs + size * math.log(1.0 - rate) + (count - size) * math.log(rate))
        for rate, often in zip(OUT_OF_LINE, HOW_OFTEN, strict=True)
    ]
    return float(np.logaddexp.reduce(by_rate))


def _weighed_lines(dates: Floats, numbers: Floats) -> Floats:
    """For each size the rising lines of so many reports, over the orders that ties leave open."""
    order = np.lexsort((numbers, dates))
    date, number = dates[order], numbers[order]
    count = len(date)
    ties = int(np.unique(date, return_counts=True)[1].max())
    # lines[i, k, m]: of k reports, the last is i, and it is the m-th of its date
    lines = np.zeros((count, count + 1, ties + 1))
    for i in range(count):
        lines[i, 1, 1] = 1.0
        before = np.flatnonzero((date[:i] < date[i]) & (number[:i] <= number[i]))
        lines[i, 1:, 1] += lines[before, :-1].sum(axis=(0, 2))
        beside = np.flatnonzero(date[:i] == date[i])
        if len(beside):
            lines[i, 1:, 2:] += lines[beside, :-1, 1:-1].sum(axis=0) / np.arange(2, ties + 1)
    ways = np.asarray(lines.sum(axis=(0, 2)))
    ways[0] = 1.0
    return ways


def log_gain_beside_lines(lines: Sequence[Line]) -> float:
    """The same where numbers already keep near a line, so that order is probable without it.

    Each line is a series of its own (a year), and all share one rate of reports out of line. What
    being in order gains is the chance that numbers would have had by keeping near the line alone.
    Of each at most `_MOST_BESIDE` reports are taken.

    >>> tight = Line((1, 2), (0.0, 3.0), (0.1, 0.1), (10, 200))
    >>> wide = Line((1, 2), (0.0, 0.1), (1.0, 1.0), (10, 11))
    >>> log_gain_beside_lines([tight]) < log_gain_beside_lines([wide]) < math.log(2.0)
    True
    """
    ways = np.ones(1)
    for line in lines:
        ways = np.convolve(ways, _ways_beside(line))
    return _over_rates(np.log(np.maximum(ways, 1e-300)))


def _ways_beside(line: Line) -> Floats:
    """For each size the choices of those in line, each over its chance to be so anyhow."""
    order = np.lexsort((np.asarray(line.numbers), np.asarray(line.dates)))
    if len(order) > _MOST_BESIDE:
        order = order[np.linspace(0, len(order) - 1, _MOST_BESIDE).astype(np.int64)]
    date = [float(line.dates[i]) for i in order]
    number = [float(line.numbers[i]) for i in order]
    beside = [
        (date[k], float(line.centres[i]), float(line.spreads[i])) for k, i in enumerate(order)
    ]
    count = len(order)
    ways = np.zeros(count + 1)
    for chosen in product((False, True), repeat=count):
        here = [i for i in range(count) if chosen[i]]
        rises = all(number[i] <= number[j] for i in here for j in here if date[i] < date[j])
        if rises:
            ways[len(here)] += 1.0 / _chance_in_order(tuple(beside[i] for i in here))
    return ways


_MOST_BESIDE = 5
"""Most numbers of one year whose order is judged beside a line: every choice of them is tried."""

_PLACES = 61
"""Places of the grid on which the chance of an order is summed: a twelfth of the narrowest spread
over a year, or less."""


@lru_cache(maxsize=4096)
def _chance_in_order(line: tuple[tuple[float, float, float], ...]) -> float:
    """Chance that independent normal values (date, centre, spread) rise with their dates."""
    from scipy.special import ndtr

    days = sorted({day for day, _, _ in line})
    if len(days) < 2:
        return 1.0
    low = min(centre - 4.0 * spread for _, centre, spread in line)
    high = max(centre + 4.0 * spread for _, centre, spread in line)
    grid = np.linspace(low, high, _PLACES)
    reached = np.ones(1)  # chance that all before are in order, and their highest is at each place
    place = np.array([-np.inf])
    for day in days:
        between = np.ones((len(grid), len(place)))
        for when, centre, spread in line:
            if when == day:
                below = ndtr((grid - centre) / spread)[:, None]
                between *= np.maximum(below - ndtr((place - centre) / spread)[None, :], 0.0)
        upto = between @ reached
        # what is reached between two places stands in their middle
        reached, place = np.diff(upto), (grid[:-1] + grid[1:]) / 2.0
    return max(float(reached.sum()), 1e-6)
