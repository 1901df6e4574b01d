"""Dates of making as probabilities of months.

A density over the months of a period; its bounds, its EDTF, its words.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.survey.errors import SurveyError

PER_YEAR = 12
"""Months of a year."""


@dataclass(frozen=True)
class MonthDensity:
    """Probability of each month from January of `first_year`.

    Attributes
    ----------
    first_year
        Year of the first month.
    mass
        Probability of each month, shape (m,), m a multiple of 12; sums to 1.
    """

    first_year: int
    mass: NDArray[np.float64]

    def __post_init__(self) -> None:
        if self.mass.ndim != 1 or not len(self.mass) or len(self.mass) % PER_YEAR:
            raise SurveyError(
                f"A density of months needs whole years; {self.mass.shape} is not such a shape."
            )

    @classmethod
    def flat(cls, first_year: int, last_year: int) -> "MonthDensity":
        """Every month of a period alike."""
        months = (last_year - first_year + 1) * PER_YEAR
        return cls(first_year, np.full(months, 1.0 / months))

    @property
    def last_year(self) -> int:
        """Year of the last month."""
        return self.first_year + len(self.mass) // PER_YEAR - 1

    def label(self, month: int) -> str:
        """The month as EDTF.

        >>> MonthDensity.flat(1890, 1891).label(13)
        '1891-02'
        """
        return f"{self.first_year + month // PER_YEAR:04d}-{month % PER_YEAR + 1:02d}"

    def bounds(self, share: float = 0.9) -> tuple[int, int]:
        """First and last month of the central interval that holds `share` of the probability."""
        reached = np.cumsum(self.mass)
        tail = (1.0 - share) / 2.0
        low = int(np.searchsorted(reached, tail * reached[-1], side="right"))
        high = int(np.searchsorted(reached, (1.0 - tail) * reached[-1] - 1e-12))
        last = len(self.mass) - 1
        return min(low, last), min(max(high, low), last)

    @property
    def middle(self) -> int:
        """The median month."""
        return int(np.searchsorted(np.cumsum(self.mass), 0.5))

    @property
    def most_probable(self) -> int:
        """The most probable month, the middle one when several are alike."""
        best = np.flatnonzero(self.mass >= self.mass.max() * (1 - 1e-9))
        return int(best[len(best) // 2])

    def edtf(self, share: float = 0.9) -> EdtfDate:
        """The central interval as an EDTF interval, in years where it spans whole years.

        >>> MonthDensity.flat(1890, 1891).edtf(1.0).text
        '1890/1891'
        """
        low, high = self.bounds(share)
        first, last = self.label(low), self.label(high)
        if low % PER_YEAR == 0 and high % PER_YEAR == PER_YEAR - 1:
            first, last = first[:4], last[:4]
        return EdtfDate.parse(first if first == last else f"{first}/{last}")

    def years(self) -> dict[int, float]:
        """Probability of each year."""
        by_year = self.mass.reshape(-1, PER_YEAR).sum(axis=1)
        return {self.first_year + i: float(p) for i, p in enumerate(by_year)}


def mixture(parts: list[tuple[float, MonthDensity]]) -> MonthDensity:
    """Densities over the same period, mixed with weights."""
    total = math.fsum(weight for weight, _ in parts)
    if not total > 0:
        raise SurveyError("There is nothing to mix: every weight is nought.")
    first = parts[0][1]
    mass = np.zeros(len(first.mass))
    for weight, part in parts:
        if part.first_year != first.first_year or len(part.mass) != len(mass):
            raise SurveyError("Densities over different periods cannot be mixed.")
        mass += weight / total * part.mass
    return MonthDensity(first.first_year, mass / mass.sum())
