"""How much a works makes in a month, before any number is seen.

One works has one output whatever way it numbers: were 217 a number within the year and not within
the month, the works made a twelfth as much. So one density stands behind all numbers that a date
stands beside. It is wide: what it forbids is a works that made one machine in two years.
"""

import math
from functools import lru_cache

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.survey.schemes.scheme import Counted

_USUAL = math.log(100.0)
"""Machines a month in the middle (logarithm): foundries made from some dozens a year to tens of
thousands a month. Common practice, no source."""

_SCALE = 1.5
"""Scale of its logarithm: half of all works make 33 to 304 a month, nine in ten 4 to 2,400; a
judgement."""

_FREEDOM = 4.0
"""Degrees of freedom of Student's t, so that the largest works are not forbidden; a judgement."""

_YEARS_ON = 10.0
"""Years for which a works has been at it when a machine with a number that runs on is made."""

_YEARS_ON_SCALE = 0.8
"""Scale of the logarithm of these years: a factor of two either way and more; a judgement."""

_YEARS_AWAY = 12.0
"""How far from the middle of the period machines were made, as a standard deviation; a judgement.
Were it read off the reports, the prior would change with how they are read."""

_MONTHS = {
    Counted.MONTH: 1.0,
    Counted.WEEK: 12.0 / 53.0,
    Counted.YEAR: 12.0,
    Counted.OVERALL: 12.0 * _YEARS_ON,
}
"""Months of output in a series, by where its count starts again."""

_STEPS = 400
"""Steps of the sum that makes the density whole: each far below its scale."""


def density(
    counted: Counted | None, growth: float, log_count: Floats, ends: tuple[float, float]
) -> Floats:
    """Prior density of how high a series goes, over that of a flat one between its ends.

    Parameters
    ----------
    counted
        Where the count starts again.
    growth
        Growth a year, of the logarithm; the more, the less the middle of the period says of others.
    log_count
        Logarithms of what one series holds in the middle of the period, any shape.
    ends
        Least and most of them, between which the density has the mean 1.

    >>> two = density(Counted.MONTH, 0.0, np.log([100.0, 1.0]), (0.0, 16.0))
    >>> bool(two[0] > 1.0 > two[1])
    True
    """
    return np.asarray(_bare(counted, growth, log_count) / _mean(counted, growth, ends))


def _bare(counted: Counted | None, growth: float, log_count: Floats) -> Floats:
    months = _MONTHS[counted or Counted.OVERALL]
    on = _YEARS_ON_SCALE if counted is Counted.OVERALL else 0.0
    scale = math.hypot(_SCALE, on, growth * _YEARS_AWAY)
    z = (log_count - _USUAL - math.log(months)) / scale
    return np.asarray((1.0 + z * z / _FREEDOM) ** (-(_FREEDOM + 1.0) / 2.0))


@lru_cache(maxsize=64)
def _mean(counted: Counted | None, growth: float, ends: tuple[float, float]) -> float:
    steps = np.linspace(ends[0], ends[1], _STEPS + 1)
    return float(_bare(counted, growth, (steps[:-1] + steps[1:]) / 2.0).mean())
