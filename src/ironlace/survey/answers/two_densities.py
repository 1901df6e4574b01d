"""Whether the numbers lie more thickly below some number than above it.

Two works that shared a range, or machines of one time that survive better than those of another,
leave numbers that are dense in one stretch and thin in the next. A total that takes them for one
even series is then wrong, and surer than it should be. One even series is weighed against two
stretches with a break somewhere between (a change-point, after Raftery & Akman 1986, *Biometrika*
73, 85-89), break, shares and end all summed out.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.survey.answers.totals import Total

CONVINCING = 10.0
"""Odds from which the break is told: strong evidence after Jeffreys 1939 (10 to 32). With it fewer
than 3 of 100 even series are taken for broken ones (`test_two_densities`)."""

_FEWEST = 8
"""Fewer numbers cannot show a break of any likely size; tuned, on what was not kept."""

_ENDS = 160
"""Cells for the end of the series: fine enough that a plain sum agrees to 4 % (the tests)."""

_REACH = 50.0
"""The end lies at most this many times above the highest number; a judgement, as in `totals`."""

_PLACES = 1_500
"""Places of the break tried; as for `_ENDS`."""


@dataclass(frozen=True, slots=True)
class TwoDensities:
    """Two stretches of numbers, one thicker than the other.

    Attributes
    ----------
    found
        Whether they are the better account.
    odds
        Odds of two stretches against one even series, priors even.
    after, before
        The break lies after the one number and before the other, both of them seen.
    times
        How many times as thickly the numbers lie below the break as above it.
    total
        How many were made, with its interval, the break allowed for.
    """

    found: bool
    odds: float
    after: int
    before: int
    times: float
    total: Total

    def sentence(self) -> str:
        """Say it."""
        if not self.found:
            return "The numbers lie evenly enough to be one series."
        more, less = ("below", "above") if self.times > 1 else ("above", "below")
        ratio = float(f"{max(self.times, 1.0 / self.times):.2g}")
        odds = f"{self.odds:,.0f} to 1" if self.odds < 1e6 else "more than a million to 1"
        return (
            f"The numbers lie about {ratio:,.0f} times as thickly {more} a break between "
            f"{self.after:,} and {self.before:,} as {less} it (odds {odds}): "
            "two works, a change of output, or machines of one time that survive better."
        )

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "found": self.found,
            "odds": min(self.odds, 1e12),
            "break_after": self.after,
            "break_before": self.before,
            "times_as_thick_below": self.times,
            "total": self.total.as_dict(),
        }


def two_densities(numbers: Sequence[int], *, share: float = 0.9) -> TwoDensities | None:
    """Ask whether running numbers are thicker in one stretch than in another.

    None when there are fewer than eight different numbers, which cannot show it.

    >>> two_densities(range(100, 2000, 100)).found
    False
    >>> two_densities([*range(7, 1000, 40), *range(1400, 9000, 900)]).found
    True
    """
    from scipy.special import betaln, logsumexp

    found = np.array(sorted(set(numbers)), dtype=float)
    k = len(found)
    if k < _FEWEST or found[0] < 1:
        return None
    highest = found[-1]
    # The end is log-uniform above the highest number, in cells that are finest close above it.
    edges = highest * np.concatenate([[1.0], 1.0 + np.geomspace(1e-3, _REACH - 1.0, _ENDS)])
    ends = np.sqrt(edges[1:] * edges[:-1])
    cell = np.log(np.diff(np.log(edges)) / math.log(_REACH))
    one = float(logsumexp(cell - k * np.log(ends)))
    # The break is uniform up to the highest number seen: beyond it nothing could show it.
    places = (np.arange(_PLACES) + 0.5) / _PLACES * highest
    under = np.searchsorted(found, places)  # numbers seen below the break
    shares = betaln(under + 1.0, k - under + 1.0) - under * np.log(places) - math.log(_PLACES)
    logs = shares[:, None] + cell - (k - under)[:, None] * np.log(ends - places[:, None])
    two = float(logsumexp(logs))
    odds = math.exp(min(two - one, 700.0))
    weight = np.exp(logs - two)
    by_gap = np.bincount(under, weight.sum(axis=1), k)
    at = int(np.argmax(by_gap[1:])) + 1
    thick = (under + 1.0) / places
    thin = (k - under + 1.0)[:, None] / (ends - places[:, None] + 1.0)
    times = float(np.exp((weight * (np.log(thick)[:, None] - np.log(thin))).sum()))
    low, middle, high = _quantiles(edges, weight.sum(axis=0), share)
    total = Total(middle, low, high, share, "two stretches, one thicker than the other")
    return TwoDensities(odds > CONVINCING, odds, int(found[at - 1]), int(found[at]), times, total)


def _quantiles(edges: Floats, weight: Floats, share: float) -> tuple[float, float, float]:
    reached = np.concatenate([[0.0], np.cumsum(weight)])
    tail = (1.0 - share) / 2.0
    low, middle, high = np.exp(np.interp([tail, 0.5, 1.0 - tail], reached, np.log(edges)))
    return float(low), float(middle), float(high)
