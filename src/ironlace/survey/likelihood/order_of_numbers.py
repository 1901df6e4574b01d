"""How probable the order of running numbers is against the dates that their marks state.

A number that runs on rises with the date beside it. Numbers and dates are each taken as they are;
what is judged is which number stands beside which date. Were the two unconnected, each way of
pairing them off would be as probable as any other. Under a running number those in line stand in
one order; each report is out of line by a small chance of its own (misread, finished late, of
another works), and then stands anywhere. The ratio of the two is summed over every choice of
those in line, so that its mean over all pairings is 1: what one order gains the others lose
(ranks as data: Kendall 1938, *Biometrika* 30, 81-93; the noise after Mallows 1957, *Biometrika*
44, 114-130).
"""

import math
from collections.abc import Sequence

import numpy as np

from ironlace.evidence.arrays import Floats

OUT_OF_LINE = (0.01, 0.05, 0.15)
"""Chances of a report to be out of line: hardly any, one in twenty, one in seven; a judgement.
Figures misread alone put one in twenty out of line."""

MOST_IN_ORDER = 48
"""Most reports whose order is judged, taken evenly: time grows with the square, and the order of so
many settles it either way (48 factorial is e to the 140)."""


def log_gain_of_order(dates: Sequence[float] | Floats, numbers: Sequence[float] | Floats) -> float:
    """Log of how much more probable the pairing is under numbers that rise than under any order.

    Equal dates leave the order open. Nought for fewer than two.

    >>> round(math.exp(log_gain_of_order([1, 2, 3], [10, 20, 30])), 1)
    4.1
    >>> log_gain_of_order([1, 2, 3, 4], [40, 30, 20, 10]) < -1
    True
    """
    count = len(dates)
    if count < 2:
        return 0.0
    ways = _weighed_lines(np.asarray(dates, dtype=float), np.asarray(numbers, dtype=float))
    size = np.arange(count + 1)
    logs = np.log(np.maximum(ways, 1e-300)) + np.array([math.lgamma(k + 1.0) for k in size])
    by_rate = [
        np.logaddexp.reduce(logs + size * math.log(1.0 - rate) + (count - size) * math.log(rate))
        for rate in OUT_OF_LINE
    ]
    return float(np.logaddexp.reduce(by_rate) - math.log(len(OUT_OF_LINE)))


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
