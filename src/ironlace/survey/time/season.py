"""The season of a works, as the months of dated machines show it.

Where most was made in one half of the year, machines that come with a date come from that half. A
season is a stretch of months in which more was made than in the others: where it begins, how long
it is and how little was made outside it are unknown, and summed out (a periodic rate, as for events
that come and go with the year: Vere-Jones 1982, *Geophysical Journal* 69, 67-76).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.survey.time.months import PER_YEAR

_LENGTHS = (4, 5, 6, 7, 8)
"""Months that a busy season lasts, each as likely; a judgement."""

_OUTSIDE = (0.04, 0.15, 0.4)
"""Output outside it, as a part of that within, each as likely; a judgement."""


@dataclass(frozen=True, slots=True)
class Season:
    """A season learned from months.

    Attributes
    ----------
    rate
        Output of each month of the year, January first, with a mean of 1, shape (12,): the mean
        over all seasons by what the months make of them.
    gain
        How much more probable the months are with some season than without any.
    """

    rate: Floats
    gain: float


def season_of(months: Sequence[int]) -> Season:
    """Learn the season from the months in which machines were made.

    Parameters
    ----------
    months
        Month of the year of each dated machine, 0 for January.

    >>> season_of([4, 5, 6, 4, 7, 5, 6, 6]).gain > 5.0 > 1.0 > season_of([0, 3, 6, 9]).gain
    True
    """
    rates = _every_season()
    chances = np.prod(rates[:, list(months)], axis=1)
    weights = chances / chances.sum()
    return Season(np.asarray(weights @ rates), float(chances.mean()))


def _every_season() -> Floats:
    """Rates of each season that is thought of, each row with a mean of 1, shape (seasons, 12)."""
    found = []
    for begins in range(PER_YEAR):
        for length in _LENGTHS:
            busy = (np.arange(PER_YEAR) - begins) % PER_YEAR < length
            for outside in _OUTSIDE:
                rate = np.where(busy, 1.0, outside)
                found.append(rate / rate.mean())
    return np.array(found)
