"""How many were made: from the running numbers that turned up.

The highest number seen is a floor, and how thickly the numbers lie below it says how far above it
the last one can be (the method applied to captured equipment: Ruggles & Brodie 1947, *Journal of
the American Statistical Association* 42, 72-91; Goodman 1952, *Journal of the American Statistical
Association* 47, 622-634). Intervals are exact and frequentist where a single series is certain,
and Bayesian where several series share what they tell.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.intervals import NINETY
from ironlace.survey.answers.comparison import times
from ironlace.survey.errors import SurveyError


@dataclass(frozen=True, slots=True)
class Total:
    """A total with its interval.

    Attributes
    ----------
    middle
        Best value.
    low, high
        Ends of the interval.
    share
        Probability that the interval is meant to hold.
    method
        How it was found, in words, with its source.
    """

    middle: float
    low: float
    high: float
    share: float
    method: str

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "middle": self.middle,
            "low": self.low,
            "high": self.high,
            "share": self.share,
            "method": self.method,
        }


def _numbers(numbers: Sequence[int], least: int) -> list[int]:
    found = sorted(set(numbers))
    if len(found) < least:
        raise SurveyError(
            f"{len(found)} distinct number{'' if len(found) == 1 else 's'} given; "
            f"at least {least} are needed for a total."
        )
    if found[0] < 1:
        raise SurveyError(f"A running number starts from 1; {found[0]} was given.")
    return found


def total_from_one(numbers: Sequence[int], *, start: int = 1, share: float = 0.9) -> Total:
    """Total of one series that starts at a known number, each one as likely to survive.

    The best value is the minimum-variance unbiased one, m (1 + 1/k) - 1 for k distinct numbers the
    highest of which is m (Goodman 1952). The interval is exact: drawn without replacement, the
    chance that the highest is at most m among N is C(m, k) / C(N, k).

    >>> total_from_one([19, 40, 42, 60]).middle
    74.0
    """
    found = [n - start + 1 for n in _numbers(numbers, 1)]
    if found[0] < 1:
        raise SurveyError(f"The series starts at {start}, but {found[0] + start - 1} was given.")
    k, m = len(found), found[-1]
    middle = m * (1.0 + 1.0 / k) - 1.0
    tail = (1.0 - share) / 2.0
    low = _limit_at(m - 1, k, 1.0 - tail)
    high = _limit_at(m, k, tail)
    return Total(
        middle,
        max(low, m),
        high,
        share,
        "one series from a known start, without replacement (Goodman 1952)",
    )


def _log_at_most(m: float, k: int, n: float) -> float:
    """Log of the chance that the highest of k drawn from n is at most m."""
    from scipy.special import gammaln

    if m < k:
        return -math.inf
    return float(gammaln(m + 1) - gammaln(m - k + 1) - gammaln(n + 1) + gammaln(n - k + 1))


def _limit_at(m: int, k: int, chance: float) -> float:
    """The total at which the highest number seen or less would have just this chance."""
    from scipy.optimize import brentq

    target = math.log(chance)
    if _log_at_most(m, k, m) <= target:
        return float(m)
    top = 2.0 * m + 2.0
    while _log_at_most(m, k, top) > target:
        top *= 4.0
    return float(brentq(lambda n: _log_at_most(m, k, n) - target, m, top))


def total_with_unknown_start(numbers: Sequence[int], *, share: float = 0.9) -> Total:
    """Total of one series whose first number is not known either.

    From the range R between lowest and highest of k: the best value is R (k + 1) / (k - 1) - 1
    (Goodman 1952), the interval from the distribution of the range, exact for a finite series.

    >>> total_with_unknown_start([1019, 1040, 1042, 1060]).middle
    67.33...
    """
    from scipy.optimize import brentq
    from scipy.special import gammaln

    found = _numbers(numbers, 2)
    k, r = len(found), found[-1] - found[0]
    middle = r * (k + 1.0) / (k - 1.0) - 1.0
    tail = (1.0 - share) / 2.0

    def at_most(n: float, r: int) -> float:
        # Sum over ranges d <= r of (n - d) C(d - 1, k - 2) / C(n, k), closed by hockey sticks.
        log_all = gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1)
        first = math.log(max(n - r, 1e-300)) + log_choose(r, k - 1) - log_all
        rest = log_choose(r, k) - log_all
        return float(math.exp(first) + math.exp(rest)) if n > r + 1 else 1.0

    def solve(chance: float, r: int) -> float:
        top = 2.0 * r + 4.0
        if at_most(r + 1.5, r) <= chance:
            return r + 1.0
        while at_most(top, r) > chance:
            top *= 4.0
        return float(brentq(lambda n: at_most(n, r) - chance, r + 1.5, top))

    return Total(
        middle,
        max(solve(1.0 - tail, r - 1), r + 1.0),
        solve(tail, r),
        share,
        "one series, start unknown, from the range (Goodman 1952)",
    )


def log_choose(n: float, k: float) -> float:
    """Logarithm of how many ways there are to choose k of n; -inf where there is none."""
    from scipy.special import gammaln

    if k > n:
        return -math.inf
    return float(gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1))


@dataclass(frozen=True, slots=True)
class Blocks:
    """Whether the numbers fall into two blocks.

    Attributes
    ----------
    found
        Whether two blocks are the better account.
    odds
        Odds of two blocks against one series, priors even.
    first, second
        Lowest and highest number of each.
    gap
        First and last number of the empty stretch between.
    total
        Both blocks together, with its interval, when found.
    """

    found: bool
    odds: float
    first: tuple[int, int]
    second: tuple[int, int]
    gap: tuple[int, int]
    total: Total | None

    def sentence(self) -> str:
        """Say it."""
        if not self.found:
            return "The numbers show no sign of two blocks."
        return (
            f"The numbers fall into two blocks, {self.first[0]} to {self.first[1]} and "
            f"{self.second[0]} to {self.second[1]}, with nothing between (odds "
            f"{times(self.odds)} to 1): two works, or a block of numbers passed over. "
            "The total counts them apart."
        )


def two_blocks(numbers: Sequence[int], *, share: float = 0.9) -> Blocks | None:
    """Ask whether numbers come from two blocks with an unused stretch between.

    One series from 1 to N against 1 to A and B to N, ends log-uniform, summed over a grid; None
    when there are fewer than six numbers, which cannot show it.
    """
    from scipy.special import logsumexp

    found = np.array(_numbers(numbers, 1), dtype=float)
    k = len(found)
    if k < 6:
        return None
    highest = found[-1]
    ends = np.geomspace(highest, 50.0 * highest, 240)
    one = float(logsumexp(-k * np.log(ends))) - math.log(len(ends))
    # Two blocks: the unused stretch lies within one of the empty stretches seen. Its ends are
    # uniform over 0 to the highest number, so that a length s within a stretch of length g has
    # the density 2 (g - s) / highest^2; what is used shrinks by s.
    best, split, parts = -math.inf, 0, []
    lower = np.concatenate([[0.0], found[:-1]])
    for i in range(1, k):
        g = found[i] - lower[i] - 1.0
        if g < 4:
            continue
        s = (np.arange(64) + 0.5) / 64 * g
        used = logsumexp(-k * np.log(ends[None, :] - s[:, None]), axis=1) - math.log(len(ends))
        density = np.log(2.0 * (g - s) / highest**2 * (g / 64))
        part = float(logsumexp(used + density))
        parts.append(part)
        if part > best:
            best, split = part, i
    if not parts:
        return None
    odds = math.exp(min(float(logsumexp(parts)) - one, 700.0))
    first = (int(found[0]), int(found[split - 1]))
    second = (int(found[split]), int(found[-1]))
    gap = (first[1] + 1, second[0] - 1)
    total = _both_blocks(found, split, share) if odds > _CONVINCING else None
    return Blocks(odds > _CONVINCING, odds, first, second, gap, total)


_CONVINCING = 10.0
"""Odds from which two blocks are told: as `CONVINCING` in `two_densities`. At most 5 of 100 even
series are taken for two blocks, and 9 of 10 that are two are found (`test_totals`)."""

_QUANTILES = 61
"""Quantiles of each block's total whose sums are taken: their steps are far below the interval."""


def _both_blocks(found: Floats, split: int, share: float) -> Total | None:
    """Sum of the totals of two blocks, all pairs of their quantiles taken together."""
    if len(found) - split < 2 or split < 2:
        return None
    low = found[:split].astype(int).tolist()
    high = found[split:].astype(int).tolist()
    shares = 1.0 - 2.0 * (np.arange(_QUANTILES // 2) + 0.5) / _QUANTILES
    values: list[Floats] = []
    for numbers, total in ((low, total_from_one), (high, total_with_unknown_start)):
        ends = [total(numbers, share=float(s)) for s in shares]
        values.append(np.array([t.low for t in ends] + [t.high for t in ends]))
    sums = np.add.outer(*values).ravel()
    tail = (1.0 - share) / 2.0
    bottom, middle, top = np.quantile(sums, [tail, 0.5, 1.0 - tail])
    return Total(
        float(middle), float(bottom), float(top), share, "two blocks counted apart and added"
    )


@dataclass(frozen=True, slots=True)
class SeriesTotals:
    """Totals of a count that starts again each month, year, week or lot.

    Attributes
    ----------
    each
        By series (the month or year), its total given what all series show.
    typical
        The middle total of a series.
    unevenness
        Standard deviation of the logarithm of the totals.
    mean
        Mean total of a series, over all series, seen or not.
    """

    each: Mapping[str, Total]
    typical: Total
    unevenness: Total
    mean: Total

    def by_steps(self, steps: Mapping[int, float]) -> "SeriesTotals":
        """The same where perhaps only every so many-th number was used.

        Parameters
        ----------
        steps
            Probability of each step; one that is not ruled out widens the interval to its side.
        """
        # numbers that all end in 0 or 5 were rounded, as a rule: the lower end allows for steps
        likely = max(steps, key=lambda step: steps[step])
        likely = 1 if likely % 5 == 0 else likely
        possible = [step for step, chance in steps.items() if chance > _NOT_RULED_OUT]
        possible.append(likely)

        def thinned(total: Total) -> Total:
            return replace(
                total,
                middle=total.middle / likely,
                low=total.low / max(possible),
                high=total.high / min(possible),
            )

        return SeriesTotals(
            {name: thinned(total) for name, total in self.each.items()},
            thinned(self.typical),
            self.unevenness,
            thinned(self.mean),
        )

    def sum_over(self, count: int, *, least: int = 0) -> Total:
        """Made in all over so many series, those without a survivor included.

        `least` is how many machines are known.
        """
        if count < 1:
            raise SurveyError(f"A sum over {count} series has no meaning: give 1 or more.")
        # Series vary about the mean; over many the variation averages out.
        wander = (math.exp(self.unevenness.middle**2) - 1.0) / count
        step = math.sqrt(wander)
        half_low = math.hypot(math.log(self.mean.middle / self.mean.low), NINETY * step)
        half_high = math.hypot(math.log(self.mean.high / self.mean.middle), NINETY * step)
        middle = self.mean.middle * count
        # those seen were surely made; their lower ends, each held by itself, hold together
        seen = max(math.fsum(total.low for total in self.each.values()), float(least))
        return Total(
            max(middle, seen),
            max(middle * math.exp(-half_low), seen),
            max(middle * math.exp(half_high), seen),
            self.mean.share,
            f"mean of the series times {count}",
        )


def totals_by_series(  # long: the docstring is half of it
    series: Mapping[str, Sequence[int]],
    *,
    share: float = 0.9,
    highest: float = 1e7,
    misread_rate: float = 0.0,
) -> SeriesTotals:
    """Totals of a count that starts again, from the numbers that survive of each series.

    A survivor comes from a series in proportion to what that series made, so series are met
    size-biased: for one survivor, P(v) = P(U >= v) / E[U], U a series' total. With several from
    one series: U is log-normal with unknown middle and unevenness; of a series of U machines a
    Poisson number survives at an unknown rate each, numbers uniform; series of which none survives
    are not met. Middle, unevenness and rate are summed out on a grid, so that each series borrows
    strength from the others (partial pooling) no more than they agree.

    Parameters
    ----------
    series
        Numbers by series; only series with at least one number count.
    share
        Probability that the intervals are to hold.
    highest
        No series is larger.
    misread_rate
        Chance that a figure of the highest number of a series is another one than was struck.

    Raises
    ------
    SurveyError
        When there is no number at all.
    """
    kept = {name: _numbers(found, 1) for name, found in series.items() if found}
    if not kept:
        raise SurveyError("No number was given, so no total can be said.")
    top = np.array([found[-1] for found in kept.values()], dtype=float)
    count = sum(len(found) for found in kept.values())
    grid = _TotalsGrid.about(top, highest)
    thinned = np.exp(-np.outer(grid.u, grid.rate))  # (u, rate): none more survives than was met
    masks = [grid.allowed(found, misread_rate) for found in kept.values()]
    post = grid.posterior(count, thinned, masks)
    likely = np.argwhere(post > _WORTH_SUMMING * post.max())
    weight = post[likely[:, 0], likely[:, 1]]
    base = grid.made[likely[:, 0]] * thinned[:, likely[:, 1]].T
    each = {}
    for name, m, mask in zip(kept, top, masks, strict=True):
        mass = base * mask
        mass = weight @ (mass / np.maximum(mass.sum(axis=1, keepdims=True), 1e-300))
        found = _from_grid(grid.u, mass, share, "this series, pooled with all")
        # where figures may be misread even the highest number is no floor
        least = len(kept[name]) if misread_rate else float(m)
        ends = [max(end, least) for end in (found.middle, found.low, found.high)]
        each[name] = Total(ends[0], ends[1], ends[2], share, found.method)
    by_node = post.sum(axis=1)
    by_both = by_node.reshape(len(grid.sigma), len(grid.mu))
    return SeriesTotals(
        each,
        _from_grid(
            np.exp(grid.mu), by_both.sum(axis=0), share, "middle total, the rest summed out"
        ),
        _from_grid(grid.sigma, by_both.sum(axis=1), share, "spread of the logarithm of totals"),
        _from_grid(grid.made @ grid.u, by_node, share, "mean total, survivors size-biased"),
    )


_NOT_RULED_OUT = 0.05
"""Steps with a smaller probability are out; the intervals hold nine in ten, five at each side."""

_WORTH_SUMMING = 1e-6
"""Nodes with no more than this part of the heaviest one's weight are left out."""


@dataclass(frozen=True)
class _TotalsGrid:
    """Where the unknowns behind the totals of series are looked at.

    Attributes
    ----------
    mu, sigma, rate
        Middle and spread of the logarithm of totals, and the rate of survival.
    log_u
        Logarithms of totals, in even steps.
    made
        Chance of each total for each spread and middle, shape (sigma x mu, u).
    """

    mu: Floats
    sigma: Floats
    rate: Floats
    log_u: Floats
    made: Floats

    @classmethod
    def about(cls, top: Floats, highest: float) -> "_TotalsGrid":
        """A grid that reaches a factor of twelve below the middle highest number and twenty above.

        Numbers of nodes and reach were tuned; on what was not kept. `bench/survey_calibration.py`
        measures the coverage of the intervals.
        """
        middle = math.log(float(np.median(top)))
        most = min(math.log(top.max()) + 3.0, math.log(highest))
        mu = np.linspace(max(middle - 2.5, 0.0), most, 90)
        sigma = np.geomspace(0.05, 2.0, 18)
        rate = np.geomspace(1e-3, 10.0, 24) / math.exp(middle)
        log_u = np.linspace(max(mu[0] - 2.5, 0.0), mu[-1] + 3.0, 240)
        z = (log_u[None, None, :] - mu[None, :, None]) / sigma[:, None, None]
        made = np.exp(-0.5 * z * z)
        made /= made.sum(axis=2, keepdims=True)
        return cls(mu, sigma, rate, log_u, made.reshape(-1, len(log_u)))

    @property
    def u(self) -> Floats:
        """The totals, rising."""
        return np.exp(self.log_u)

    def allowed(self, found: Sequence[int], misread_rate: float) -> Floats:
        """How far each cell of totals admits the highest number of a series, misread or not.

        A cell counts in part when the number falls into it.
        """
        rest = found[-2] if len(found) > 1 else 1
        right = 1.0 - misread_rate * len(str(found[-1]))
        admits = right * self._not_below(found[-1])
        if misread_rate:
            for other in one_figure_off(found[-1]):
                admits += misread_rate / 9.0 * self._not_below(max(other, rest))
        return admits

    def _not_below(self, number: float) -> Floats:
        step = self.log_u[1] - self.log_u[0]
        return np.asarray(np.clip((self.log_u - _floor(number)) / step + 0.5, 0.0, 1.0))

    def posterior(self, count: int, thinned: Floats, masks: Sequence[Floats]) -> Floats:
        """Weight of each node of spread and middle with each rate, shape (sigma x mu, rate)."""
        # the chance that a series is met at all
        met = self.made @ -np.expm1(-np.outer(self.u, self.rate))
        log_post = count * np.log(self.rate)[None, :] - len(masks) * np.log(met)
        for mask in masks:
            log_post = log_post + np.log(self.made @ (mask[:, None] * thinned) + 1e-300)
        post = np.exp(log_post - log_post.max())
        return np.asarray(post / post.sum())


def one_figure_off(number: int) -> list[int]:
    """Numbers that differ from one in one figure, or have one of its figures only once.

    >>> len(one_figure_off(217)), 27 in one_figure_off(217)
    (29, True)
    """
    text = str(number)
    changed = {int(text[:i] + c + text[i + 1 :]) for i in range(len(text)) for c in "0123456789"}
    shorter = {int(text[:i] + text[i + 1 :] or 0) for i in range(len(text))}
    return sorted((changed | shorter) - {number, 0})


def _floor(highest: float) -> float:
    """Logarithm of the least total that rounds to the highest number seen."""
    return math.log(max(highest - 0.5, 0.5))


def _from_grid(values: Floats, mass: Floats, share: float, method: str) -> Total:
    order = np.argsort(values)
    reached = np.cumsum(mass[order])
    reached /= reached[-1]
    tail = (1.0 - share) / 2.0
    low, middle, high = np.interp([tail, 0.5, 1.0 - tail], reached, values[order])
    return Total(float(middle), float(low), float(high), share, method)
