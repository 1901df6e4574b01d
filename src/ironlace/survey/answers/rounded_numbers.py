"""Whether some of those who passed numbers on rounded them: "about 2,400" written as 2400.

Where nobody rounds, one number in ten ends in 0 and one in a hundred in 00. A share of readers who
round makes more of them, and leaves the others as they are: digit preference, which demographers
call heaping (Camarda, Eilers & Gampe 2008, *Statistical Modelling* 8, 385-401). A works that used
only every tenth number leaves none between.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

_UNITS = (5, 10, 50, 100, 500, 1000)
"""What people round to; common practice, no source."""

_SOME_ROUND = 0.1
"""Prior chance that some of those who report do; a judgement."""

_SHARES = (np.arange(50) + 0.5) / 50
"""Shares of readers who round, each as probable."""

_BETWEEN = 0.15
"""With so large a part of numbers that end in neither 0 nor 5 a works did not pass those over, and
not everybody rounded; misread last figures make a fiftieth."""

_SHOWN = 0.5
"""Chance from which it is told, and allowed for."""


@dataclass(frozen=True, slots=True)
class Rounding:
    """How some numbers were rounded.

    Attributes
    ----------
    chance
        Probability that some of those who report round.
    unit
        What they then round to, most probably.
    share
        Which part of the numbers they rounded, where they did.
    partly
        Whether others are told as they were struck: numbers enough end in neither 0 nor 5.
    """

    chance: float
    unit: int
    share: float
    partly: bool

    @property
    def told(self) -> bool:
        """Whether some rounded, and others did not."""
        return self.partly and self.chance > _SHOWN

    def least(self, number: int) -> int:
        """The least number that may have been struck where this one was passed on.

        >>> Rounding(0.9, 100, 0.5, True).least(2400), Rounding(0.9, 100, 0.5, True).least(2417)
        (2350, 2417)
        """
        round_one = self.told and number % self.unit == 0
        return max(number - self.unit // 2, 1) if round_one else number


def rounding_of(numbers: Sequence[int]) -> Rounding:
    """Say whether some of those who passed numbers on rounded them.

    Parameters
    ----------
    numbers
        As they were passed on, one for each machine.

    >>> rounding_of([217, 300, 461, 500, 800, 903, 1400, 1600, 1877, 2000]).unit
    100
    >>> rounding_of([217, 318, 461, 522, 800, 903, 1431, 1617, 1877, 2059]).told
    False
    """
    read = np.asarray(numbers, dtype=np.int64)
    logs, shares = [], []
    for unit in _UNITS:
        kept = int(np.sum(read % unit == 0))
        each = kept * np.log1p(_SHARES * (unit - 1)) + (len(read) - kept) * np.log1p(-_SHARES)
        weight = np.exp(each - each.max())
        logs.append(float(each.max()) + math.log(float(weight.mean())))
        shares.append(float(weight @ _SHARES / weight.sum()))
    best = int(np.argmax(logs))
    gain = float(np.logaddexp.reduce(logs)) - math.log(len(_UNITS))
    odds = gain + math.log(_SOME_ROUND / (1.0 - _SOME_ROUND))
    between = float(np.mean(read % 5 != 0))
    return Rounding(
        1.0 / (1.0 + math.exp(-max(min(odds, 500.0), -500.0))),
        _UNITS[best],
        shares[best],
        between >= _BETWEEN,
    )
