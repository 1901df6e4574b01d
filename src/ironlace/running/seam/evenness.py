"""Figures of a row of stitch lengths: mean, evenness, drift, and what comes back.

The spread that is seen holds the error of measuring; below some 3 % it is most of it, so its square
is taken off. Periods: the highest line of the periodogram against chance (Fisher 1929, "Tests of
significance in harmonic analysis").
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy  # its parts load when they are first asked for
from scipy.special import gammaln

from ironlace.evidence.arrays import Floats

COVERAGE: Final = 0.9
"""Of all intervals here."""
LEAST_STITCHES: Final = 5
"""Fewer lengths than this give no spread. A judgement."""
SURE_PERIOD: Final = 0.01
"""Chance below which a period is told."""

Range = tuple[float, float, float]
"""Low, value, high."""


@dataclass(frozen=True)
class Evenness:
    """Figures of the single stitches of a seam.

    Attributes
    ----------
    count
        Lengths that were used.
    mean_mm
        Mean length, low, value and high (90 %), of the machine at this setting.
    cv
        Coefficient of variation, measuring error taken off; low, value, high (90 %).
    cv_seen
        The same with the measuring error in it.
    drift
        Change of length from the seam's beginning to its end as a share; low, value, high (90 %).
    period_stitches, period_mm, period_chance
        Stitches in which lengths come back, by how much they swing (mm, half of peak to peak), and
        how likely chance alone does as much; NaN where there are too few stitches.
    """

    count: int
    mean_mm: Range
    cv: Range
    cv_seen: float
    drift: Range
    period_stitches: float
    period_mm: float
    period_chance: float

    @property
    def periodic(self) -> bool:
        """Whether a period is beyond chance."""
        return self.period_chance < SURE_PERIOD


def evenness(
    lengths_mm: Floats, error_mm: Floats, scale_share: float, untold_mm: float = 0.0
) -> Evenness:
    """Figures of stitch lengths in their order.

    Parameters
    ----------
    lengths_mm
        Lengths of single stitches, shape (n,), n at least 2; NaN where one was skipped or is
        doubtful, which keeps the others' places.
    error_mm
        Standard error of each length.
    scale_share
        Standard error of the scale, as a share.
    untold_mm
        What each length may be off by besides, that the picture does not tell (standard error):
        the seam may be more even by as much, so that it widens the lower end.

    Examples
    --------
    >>> found = evenness(np.array([2.0, 2.1, 1.9, 2.0, 2.05, 1.95]), np.full(6, 0.01), 0.0)
    >>> round(found.mean_mm[1], 3), round(found.cv[1], 3)
    (2.0, 0.035)
    """
    known = np.isfinite(lengths_mm)
    x, order = lengths_mm[known], np.flatnonzero(known).astype(np.float64)
    n = len(x)
    mean = float(np.mean(x))
    variance = float(np.var(x, ddof=1)) if n > 1 else math.nan
    noise = float(np.mean(error_mm[known] ** 2))
    if n < LEAST_STITCHES:
        off = (math.nan, math.nan, math.nan)
        return Evenness(n, (math.nan, mean, math.nan), off, math.nan, off, math.nan, math.nan, 1.0)
    # no error of measuring can be larger than the spread that holds it
    noise = min(noise, 0.7 * variance)
    factor = float(scipy.stats.t.ppf(0.5 + COVERAGE / 2.0, n - 1))
    half = factor * math.sqrt(variance / n + (scale_share * mean) ** 2)
    tails = (0.5 + COVERAGE / 2.0, 0.5 - COVERAGE / 2.0)
    bounds = [variance * (n - 1) / float(scipy.stats.chi2.ppf(share, n - 1)) for share in tails]
    low, value, high = (
        math.sqrt(max(v - noise * w - more, 0.0)) / mean
        for v, w, more in (
            (bounds[0], 1.5, untold_mm**2),
            (variance, 1.0, 0.0),
            (bounds[1], 0.5, 0.0),
        )
    )
    return Evenness(
        n,
        (mean - half, mean, mean + half),
        (low, value, high),
        math.sqrt(variance) / mean,
        _drift(order, x, mean),
        *_period(lengths_mm),
    )


def _drift(order: Floats, x: Floats, mean: float) -> Range:
    span = float(np.ptp(order))
    u = (order - order.mean()) / span
    slope = float((u * x).sum() / (u**2).sum())
    rest = x - mean - slope * u
    n = len(x)
    error = math.sqrt(float((rest**2).sum()) / (n - 2) / float((u**2).sum()))
    half = float(scipy.stats.t.ppf(0.5 + COVERAGE / 2.0, n - 2)) * error
    return (slope - half) / mean, slope / mean, (slope + half) / mean


def _period(lengths_mm: Floats) -> tuple[float, float, float]:
    """Period in stitches, swing in mm, and the chance of so high a line without any."""
    known = np.isfinite(lengths_mm)
    n = len(lengths_mm)
    if known.sum() < 12:
        return math.nan, math.nan, 1.0
    at = np.arange(n)
    line = np.polynomial.Polynomial.fit(at[known], lengths_mm[known], 1)
    # a gap is filled with what the line says: it adds nothing at any period
    x = np.where(known, lengths_mm - line(at), 0.0)
    power = np.abs(np.fft.rfft(x)[1:]) ** 2
    if n % 2 == 0:
        power = power[:-1]
    m = len(power)
    # the slope was taken off, and the longest wave with it
    power = power[1:]
    m = len(power)
    g = float(power.max() / max(power.sum(), 1e-30))
    which = int(power.argmax()) + 2
    return n / which, 2.0 * math.sqrt(float(power.max())) / n, _fisher_g(g, m)


def _fisher_g(g: float, m: int) -> float:
    """Chance that the largest of m even periodogram lines has a share of at least g."""
    chance = 0.0
    for j in range(1, int(min(m, math.floor(1.0 / g))) + 1):
        log = gammaln(m + 1) - gammaln(j + 1) - gammaln(m - j + 1)
        rest = 1.0 - j * g
        if rest <= 0:
            break
        chance += (-1.0) ** (j + 1) * math.exp(log + (m - 1) * math.log(rest))
        if j > 30:
            break
    return float(min(max(chance, 0.0), 1.0))
