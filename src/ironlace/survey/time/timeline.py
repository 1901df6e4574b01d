"""When a running number was reached, between and beyond numbers whose dates are known.

Numbers rise with time at a rate that nobody recorded and that changes. Going from number to
number, the chain below carries the joint probability of the month reached and of the rate there
(numbers a month). The logarithm of the rate wanders (Wiener 1923), with a restlessness that the
anchors themselves show; now and then it jumps, work stops for a while, or a block of numbers is
passed over at once. Each anchor may be a blunder. Month and rate lie on grids and everything is
summed, forward and back (Baum et al. 1970, *Annals of Mathematical Statistics* 41, 164-171), so
nothing is drawn at random. Beyond the last anchor the same wandering widens the answer.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from itertools import pairwise
from typing import Protocol

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.survey.errors import SurveyError
from ironlace.survey.reports.table import DatedKind
from ironlace.survey.time.months import PER_YEAR, MonthDensity, mixture
from ironlace.survey.time.season import season_of


@dataclass(frozen=True, slots=True)
class DatedNumber:
    """A running number with a date, and what the date says of its making.

    `wrong` is the chance that it is wrong, where that is not the one taken for all.
    """

    number: int
    kind: DatedKind
    date: EdtfDate
    wrong: float | None = None


@dataclass(frozen=True, slots=True)
class Wandering:
    """What is taken for granted of how output changes. Judgements: common practice, no source.

    Attributes
    ----------
    restlessness, bursts, weights
        Possible ways to be uneven, with prior weights: variance of the logarithm of the rate that
        builds up in a year, and months of output that come at once (work in lots).
    jumps_a_year, stops_a_year
        For each of these ways, how often the rate jumps and how often work stops.
    jump_size, stop_years
        Standard deviation of a jump of the logarithm of the rate; how long a stop lasts on average.
    skips
        Chance that a stretch between two anchors holds a block of numbers never used.
    blunder
        Chance that an anchor is wrong.
    uncertain_blunder
        The same of one whose date is written with a query (`1890?`).
    lag_months, lag_spread
        Median time from making to sale, and standard deviation of its logarithm.
    lag_least
        Months that every machine lay unsold before that.
    """

    restlessness: tuple[float, ...] = (0.003, 0.02, 0.1, 0.4, 0.03)
    bursts: tuple[float, ...] = (0.0, 0.0, 0.3, 1.0, 3.0)
    weights: tuple[float, ...] = (0.25, 0.3, 0.2, 0.1, 0.15)
    jumps_a_year: tuple[float, ...] = (0.01, 0.03, 0.1, 0.1, 0.05)
    stops_a_year: tuple[float, ...] = (0.01, 0.02, 0.08, 0.08, 0.05)
    jump_size: float = 1.2
    stop_years: float = 1.5
    skips: float = 0.04
    blunder: float = 0.03
    uncertain_blunder: float = 0.3
    lag_months: float = 5.0
    lag_spread: float = 1.1
    lag_least: float = 0.0

    def blunder_of(self, date: EdtfDate) -> float:
        """Chance that a date is wrong: more where it is written with a query."""
        return max(self.blunder, self.uncertain_blunder) if date.uncertain else self.blunder

    def wrong_chance_of(self, anchor: DatedNumber) -> float:
        """The same of a number's date, where nothing else is said of that one."""
        return self.blunder_of(anchor.date) if anchor.wrong is None else anchor.wrong


@dataclass(frozen=True)
class Timeline:
    """Dates of numbers.

    Attributes
    ----------
    numbers
        The numbers asked for, rising, shape (q,).
    densities
        When each was reached.
    beyond
        For each whether it lies beyond the anchors (below the first or above the last dated one).
    doubtful_anchors
        Chance of each anchor to be a blunder, in the order given.
    log_gain
        Natural logarithm of how much more probable the anchors' dates are along a rising line
        than thrown over the same months without order.
    out_of_step
        Probability that machines were made out of step with their numbers; 0 when no number was
        asked for.
    seasonal, in_stock
        Probability of a works with a busy season; of goods that stood in stock for years.
    """

    numbers: tuple[int, ...]
    densities: tuple[MonthDensity, ...]
    beyond: tuple[bool, ...]
    doubtful_anchors: tuple[float, ...]
    log_gain: float
    out_of_step: float
    seasonal: float = 0.0
    in_stock: float = 0.0

    def of(self, number: int) -> MonthDensity:
        """The density of one of the numbers asked for."""
        return self.densities[self.numbers.index(number)]


# Tuned; on what was not kept. Coverage of the dates they lead to is measured by
# `bench/survey_calibration.py` and stands in the manual.

_LEVELS = 28
"""Levels of the rate of output on a grid of its logarithm."""

_CELLS = 560
"""Most cells of the time axis: single months over 46 years, several together beyond."""

_YEARS_BEFORE = 10
"""The axis begins so long before the first dated number, and half their spread more."""

_YEARS_AFTER = 20
"""And ends so long after the last: goods were sold, and numbers went on, for longer after."""

_PIECES = 6
"""Most pieces into which a stretch between two numbers is cut."""

_LONG_YEARS = 1.5
"""A stretch that takes longer at the usual rate is cut, since the rate wanders meanwhile."""


def timeline(
    anchors: Sequence[DatedNumber],
    numbers: Sequence[int],
    *,
    first_year: int,
    last_year: int,
    wandering: Wandering | None = None,
) -> Timeline:
    """Date running numbers by anchors.

    Parameters
    ----------
    anchors
        At least two, of different numbers.
    numbers
        The numbers to date.
    first_year, last_year
        The period outside which nothing was made.

    Raises
    ------
    SurveyError
        When there are fewer than two anchors of different numbers.
    """
    if len({anchor.number for anchor in anchors}) < 2:
        raise SurveyError(
            f"{len(anchors)} dated number{'' if len(anchors) == 1 else 's'} given; at least two "
            "different ones are needed to date others between and beyond them."
        )
    given = wandering or Wandering()
    axis = _TimeAxis.around(anchors, first_year, last_year)
    chain = _Chain(anchors, sorted(set(numbers)), axis, given)
    ways = _ways(chain, axis, given, asked=bool(numbers))
    asked = sorted(set(numbers))
    dated = [a.number for a in anchors if a.kind in (DatedKind.AT, DatedKind.SOLD)]
    dated = dated or [a.number for a in anchors]
    blunders = tuple(
        math.fsum(
            way.weight * _blunder_chance(way.posterior[chain.place[anchor.number]], anchor, way)
            for way in ways
        )
        for anchor in anchors
    )

    at_random = sum(math.log(float(axis.likelihood(anchor, given).mean())) for anchor in anchors)
    return Timeline(
        tuple(asked),
        tuple(_density_of(n, dated, ways, chain) for n in asked),
        tuple(not min(dated) <= n <= max(dated) for n in asked),
        blunders,
        ways[0].log_evidence - at_random,
        math.fsum(way.weight for way in ways if way.spread),
        math.fsum(way.weight for way in ways if isinstance(way.axis, _SeasonalAxis)),
        math.fsum(way.weight for way in ways if way.given.lag_least),
    )


@dataclass(frozen=True)
class _Way:
    """How far machines may be out of step with their numbers, and what then follows.

    `spread` in months, `axis` with or without a season, `given` with how long goods lay unsold,
    `weight` the probability, `posterior` of the cell at each node.
    """

    spread: float
    axis: "_TimeAxis"
    given: Wandering
    weight: float
    posterior: list[Floats]
    log_evidence: float


def _density_of(
    n: int, dated: Sequence[int], ways: Sequence[_Way], chain: "_Chain"
) -> MonthDensity:
    """When a number was reached, over all ways of being out of step."""
    parts = []
    for way in ways:
        axis = way.axis
        reached = axis.density(way.posterior[chain.place[n]])
        if not min(dated) <= n <= max(dated):
            pivot = min(dated) if n < min(dated) else max(dated)
            reached = _stretched(reached, axis.density(way.posterior[chain.place[pivot]]).middle)
        parts.append((way.weight, _out_of_step(reached, way.spread)))
    return mixture(parts)


def _ways(chain: "_Chain", axis: "_TimeAxis", given: Wandering, *, asked: bool) -> list[_Way]:
    """The line under each way of being out of step, weighed by what the anchors show.

    Where no number is asked for only the first is taken: the odds of theories rest on it.
    """
    found: list[tuple[float, float, _TimeAxis, Wandering]] = [
        (math.log(prior), spread, axis, given)
        for prior, spread in (_OUT_OF_STEP if asked else _OUT_OF_STEP[:1])
    ]
    if asked and (season := _season(chain.anchors, axis)) is not None:
        # the mean season has seen the months: what it makes of them is put back to what all do
        log_prior = math.log(_WITH_A_SEASON) + season.log_handicap
        found.append((log_prior, 0.0, season, given))
    if asked and _mostly_sales(chain.anchors):
        found += [
            (math.log(prior), 0.0, axis, replace(given, lag_least=months))
            for prior, months in _IN_STOCK
        ]
    ways = [
        (
            log_prior,
            spread,
            seen,
            how,
            *chain.run([seen.likelihood(a, how, spread) for a in chain.anchors]),
        )
        for log_prior, spread, seen, how in found
    ]
    logs = np.array([log_prior + log_evidence for log_prior, *_, log_evidence in ways])
    weights = np.exp(logs - logs.max())
    return [
        _Way(spread, seen, how, float(weight), posterior, log_evidence)
        for (_, spread, seen, how, posterior, log_evidence), weight in zip(
            ways, weights / weights.sum(), strict=True
        )
    ]


def _mostly_sales(anchors: Sequence[DatedNumber]) -> bool:
    """Whether most of the dates are of sales, so that nothing else tells how long goods lay."""
    sales = sum(a.kind is DatedKind.SOLD for a in anchors)
    made = sum(a.kind is DatedKind.AT for a in anchors)
    return sales > 1 and sales > made


_IN_STOCK: tuple[tuple[float, float], ...] = ((0.1, 24.0), (0.1, 48.0))
"""Prior weights of works or agents with whom every machine lay so many months at least, beside
those of `_OUT_OF_STEP`; a judgement. Sales alone cannot show it: all lie that much later."""

_WITH_A_SEASON = 0.15
"""Prior weight of a works with a busy season, beside those of `_OUT_OF_STEP`; a judgement."""

_FEWEST_MONTHS = 4
"""Fewer dated months tell nothing of a season."""


_FURTHER = 0.5
"""Standard deviation of the logarithm of how much further from the dated numbers a number beyond
them lies than the habit of the past says: works grow from nothing and fall away. A judgement; the
coverage with it is published for histories it was not chosen on."""

_OUT_OF_STEP: tuple[tuple[float, float], ...] = ((0.6, 0.0), (0.2, 3.0), (0.2, 9.0))
"""Prior weights of works whose machines are made so many months (Laplace) out of step with their
numbers: numbers given out beforehand, two works on one ledger, frames finished later. The anchors
speak for or against each by how well they keep to a line. As for `_FURTHER`."""

_OUT_OF_STEP_SHARE = 0.8
"""So many of the machines of such a works are out of step, the others in it. As for `_FURTHER`."""


def _stretched(density: MonthDensity, pivot: int) -> MonthDensity:
    """Distances from a month stretched and shrunk, as the output beyond it may have changed."""
    quantiles = np.linspace(-2.0, 2.0, 17)
    weights = np.exp(-0.5 * quantiles**2)
    mass = np.zeros(len(density.mass))
    away = np.arange(len(mass)) - pivot
    for z, weight in zip(quantiles, weights / weights.sum(), strict=True):
        there = np.rint(pivot + away * math.exp(_FURTHER * z)).astype(np.int64)
        inside = (there >= 0) & (there < len(mass))
        mass += weight * np.bincount(there[inside], density.mass[inside], len(mass))
    return MonthDensity(density.first_year, mass / mass.sum())


def _kernel(cells: int, spread: float) -> Floats:
    """Chances to be so many cells out of step, shape (2 cells - 1,), the middle being in step."""
    apart = np.abs(np.arange(-cells + 1, cells))
    kernel = np.exp(-apart / spread)
    return np.asarray(
        _OUT_OF_STEP_SHARE * kernel / kernel.sum() + (1.0 - _OUT_OF_STEP_SHARE) * (apart == 0)
    )


def _out_of_step(density: MonthDensity, spread: float) -> MonthDensity:
    """A density with machines allowed to be out of step with their numbers by so many months."""
    if not spread:
        return density
    months = len(density.mass)
    mass = np.convolve(density.mass, _kernel(months, spread))[months - 1 : 2 * months - 1]
    return MonthDensity(density.first_year, mass / mass.sum())


_ABOUT_UNITS = 2.0
"""An 'about' is off by so many of the units it is given in (Laplace): a year by two, a month by
two. Memory and catalogues name years that end in 0 and 5; a judgement."""

_ABOUT_LONG = 24.0
"""Months by which an 'about' of more than a year is off at least; of a decade it is half of it."""


def months_about(date: EdtfDate) -> float:
    """How far the truth lies from what is called 'about', months (Laplace); 0 where it is not.

    >>> [round(months_about(EdtfDate.parse(date))) for date in ("1890~", "1890-04~", "1890")]
    [24, 2, 0]
    """
    if not date.approximate:
        return 0.0
    low, high = date.earliest, date.latest
    if low is None or high is None:
        return _ABOUT_LONG
    months = ((high - low).days + 1) / 365.25 * PER_YEAR
    return min(_ABOUT_UNITS * months, max(_ABOUT_LONG, months / 2.0))


def _about(within: Floats, spread: float, *, goes_on: bool) -> Floats:
    """What a date says, for one that is off by so many cells; `goes_on`: beyond the ends too."""
    if not spread:
        return within
    cells = len(within)
    kernel = np.exp(-np.abs(np.arange(-cells + 1, cells)) / spread)
    padded = np.pad(within, cells - 1, mode="edge" if goes_on else "constant")
    return np.convolve(padded, kernel / kernel.sum(), mode="valid")


@dataclass(frozen=True)
class _TimeAxis:
    """Cells of one or more whole months over that part of the period that the anchors concern.

    It reaches ten years before them and twenty after, and half their own spread more at each end.
    """

    first_year: int
    last_year: int
    start: int
    months: int
    count: int

    @classmethod
    def around(cls, anchors: Sequence[DatedNumber], first_year: int, last_year: int) -> "_TimeAxis":
        whole = (last_year - first_year + 1) * PER_YEAR
        days = [d for a in anchors for d in (a.date.earliest, a.date.latest) if d is not None]
        spread = (max(days).year - min(days).year) // 2
        start = (min(days).year - _YEARS_BEFORE - spread - first_year) * PER_YEAR
        start = min(max(start, 0), whole - PER_YEAR)
        stop = (max(days).year + _YEARS_AFTER + spread - first_year) * PER_YEAR
        stop = max(min(stop, whole), start + PER_YEAR)
        months = max(1, -(-(stop - start) // _CELLS))
        return cls(first_year, last_year, start, months, -(-(stop - start) // months))

    def cell(self, day: date) -> float:
        """A day on the axis, in cells from its start."""
        months = (day.year - self.first_year) * PER_YEAR + day.month - 1 + (day.day - 1) / 31.0
        return (months - self.start) / self.months

    def at(self, cell: float) -> float:
        """Where a place in even months lies on the axis."""
        return cell

    def likelihood(self, anchor: DatedNumber, given: Wandering, spread: float = 0.0) -> Floats:
        """Likelihood of an anchor for each cell of making, blunders included, shape (cells,)."""
        good = self.good_likelihood(anchor, given, spread)
        wrong = given.wrong_chance_of(anchor)
        return np.asarray((1.0 - wrong) * good + wrong * good.mean())

    def good_likelihood(self, anchor: DatedNumber, given: Wandering, spread: float = 0.0) -> Floats:
        """Likelihood of an anchor that is right; sums to 1 unless it is a bound.

        `spread`: months by which machines may be out of step with their numbers.
        """
        low, high = anchor.date.earliest, anchor.date.latest
        begin = self.cell(low) if low else 0.0
        end = self.cell(high) + 1.0 / 31.0 / self.months if high else float(self.count)
        lasts = max(end - begin, 1e-9)
        begin, end = self.at(begin), self.at(end)
        edges = np.arange(self.count + 1, dtype=float)
        off = months_about(anchor.date) / self.months
        if anchor.kind is DatedKind.NOT_BEFORE:
            return _about(np.clip(edges[1:] - begin, 0.0, 1.0), off, goes_on=True) + 1e-12
        if anchor.kind is DatedKind.NOT_AFTER:
            return _about(np.clip(end - edges[:-1], 0.0, 1.0), off, goes_on=True) + 1e-12
        within = np.maximum(np.minimum(edges[1:], end) - np.maximum(edges[:-1], begin), 0.0)
        within = _about(within / lasts, off, goes_on=False)
        if anchor.kind is DatedKind.SOLD:
            lags = (np.arange(self.count) + 0.5) * self.months
            z = np.log(lags / given.lag_months) / given.lag_spread
            lag = np.exp(-0.5 * z * z) / lags
            lag /= lag.sum()
            unsold = round(given.lag_least / self.months)
            lag = np.concatenate([np.zeros(unsold), lag])
            within = np.convolve(within[::-1], lag)[: self.count][::-1]
        if spread:
            kernel = _kernel(self.count, spread / self.months)
            within = np.convolve(within, kernel)[self.count - 1 : 2 * self.count - 1]
        return np.asarray(within + 1e-12)

    def density(self, cells: Floats) -> MonthDensity:
        """Spread probabilities of cells over their months."""
        whole = (self.last_year - self.first_year + 1) * PER_YEAR
        mass = np.zeros(whole)
        spread = np.repeat(cells / self.months, self.months)[: whole - self.start]
        mass[self.start : self.start + len(spread)] = spread
        return MonthDensity(self.first_year, mass / mass.sum())


@dataclass(frozen=True)
class _SeasonalAxis(_TimeAxis):
    """The same in months of mean output: a busy month is long, an idle one short."""

    season: tuple[float, ...] = (1.0,) * PER_YEAR
    log_handicap: float = 0.0

    @cached_property
    def _edges(self) -> Floats:
        """Where each month of the axis begins, and the last one ends, in cells."""
        month = np.arange(self.count * self.months)
        rate = np.array(self.season)[(self.start + month) % PER_YEAR]
        return np.concatenate([[0.0], np.cumsum(rate)]) / self.months

    def at(self, cell: float) -> float:
        """Where a place in even cells lies on the axis."""
        return float(np.interp(cell * self.months, np.arange(len(self._edges)), self._edges))

    def density(self, cells: Floats) -> MonthDensity:
        """Spread probabilities of cells over their months."""
        whole = (self.last_year - self.first_year + 1) * PER_YEAR
        reached = np.concatenate([[0.0], np.cumsum(cells)])
        upto = np.interp(self._edges, np.arange(len(reached)), reached)
        mass = np.zeros(whole)
        here = np.diff(upto)[: whole - self.start]
        mass[self.start : self.start + len(here)] = here
        return MonthDensity(self.first_year, mass / mass.sum())


def _season(anchors: Sequence[DatedNumber], axis: _TimeAxis) -> _SeasonalAxis | None:
    """The axis by the season that the anchors' months show, where there are enough of them."""
    months = [
        a.date.earliest.month - 1
        for a in anchors
        if a.kind is DatedKind.AT
        and a.date.earliest is not None
        and a.date.latest is not None
        and (a.date.earliest.year, a.date.earliest.month)
        == (a.date.latest.year, a.date.latest.month)
    ]
    if len(months) < _FEWEST_MONTHS:
        return None
    season = season_of(months)
    handicap = math.log(season.gain) - float(np.log(season.rate[months]).sum())
    return _SeasonalAxis(
        axis.first_year,
        axis.last_year,
        axis.start,
        axis.months,
        axis.count,
        tuple(season.rate.tolist()),
        handicap,
    )


def anchor_likelihood(
    anchor: "HasDate", density: MonthDensity, given: Wandering | None = None
) -> float:
    """How much more probable an anchor's date is under a density of months than at random."""
    return float(
        month_likelihood(anchor, density.first_year, density.last_year, given) @ density.mass
    )


def month_likelihood(
    dated: "HasDate", first_year: int, last_year: int, given: Wandering | None = None
) -> Floats:
    """How much more probable a date is for a making in each month than for one at random.

    Shape (months,), with a mean of 1 over the period; blunders are in it.
    """
    how = given or Wandering()
    axis = _TimeAxis(first_year, last_year, 0, 1, (last_year - first_year + 1) * PER_YEAR)
    likelihood = axis.likelihood(DatedNumber(1, dated.kind, dated.date), how)
    return np.asarray(likelihood / likelihood.mean())


class HasDate(Protocol):
    """Anything with a date and what it says."""

    @property
    def kind(self) -> DatedKind:
        """What the date says of the making."""
        ...

    @property
    def date(self) -> EdtfDate:
        """The date."""
        ...


def _blunder_chance(posterior: Floats, anchor: DatedNumber, way: _Way) -> float:
    good = way.axis.good_likelihood(anchor, way.given, way.spread)
    chance = way.given.wrong_chance_of(anchor)
    wrong = chance * good.mean()
    return float(np.sum(posterior * wrong / ((1.0 - chance) * good + wrong)))


class _Chain:
    """Numbers in order, with the steps between them."""

    def __init__(
        self,
        anchors: Sequence[DatedNumber],
        numbers: Sequence[int],
        axis: _TimeAxis,
        given: Wandering,
    ) -> None:
        self.anchors = anchors
        self.axis = axis
        self.given = given
        known = sorted({a.number for a in anchors} | set(numbers))
        self.log_rate = _rate_levels(anchors, axis)
        typical = float(np.exp(np.median(self.log_rate)))
        self.nodes: list[int | float] = []
        for left, right in pairwise(known):
            years = (right - left) / typical * axis.months / PER_YEAR
            pieces = int(np.clip(math.ceil(years / _LONG_YEARS), 1, _PIECES))
            self.nodes += list(np.linspace(left, right, pieces + 1)[:-1])
        self.nodes.append(known[-1])
        self.place = {n: self.nodes.index(n) for n in known}
        dated = sorted({a.number for a in anchors})
        # Chances of a skipped block belong to stretches between anchors, whatever is asked there.
        self.skip = [
            given.skips / max(1, _nodes_between(self.nodes, dated, i))
            for i in range(len(self.nodes) - 1)
        ]

    @cached_property
    def _steps(self) -> list["_Step"]:
        return [
            _Step(float(b - a), self.log_rate, self.axis, self.given, skip)
            for a, b, skip in zip(self.nodes[:-1], self.nodes[1:], self.skip, strict=True)
        ]

    def run(self, says: Sequence[Floats]) -> tuple[list[Floats], float]:
        """Posterior of the cell at each node, shape (cells,) each; log-evidence of the anchors."""
        shape = (len(self.given.restlessness), self.axis.count, len(self.log_rate))
        seen = [np.ones(self.axis.count) for _ in self.nodes]
        for anchor, likelihood in zip(self.anchors, says, strict=True):
            seen[self.place[anchor.number]] = seen[self.place[anchor.number]] * likelihood
        weights = np.array(self.given.weights) / sum(self.given.weights)
        forward = [np.full(shape, 1.0 / (shape[1] * shape[2])) * weights[:, None, None]]
        forward[0] = forward[0] * seen[0][None, :, None]
        log_evidence = math.log(float(forward[0].sum()))
        forward[0] = forward[0] / forward[0].sum()
        steps = self._steps
        for step, likelihood in zip(steps, seen[1:], strict=True):
            state = step.forward(forward[-1]) * likelihood[None, :, None]
            # What runs off the end of the axis counts against the anchors: it is not scaled away.
            log_evidence += math.log(max(float(state.sum()), 1e-300))
            forward.append(state / state.sum())
        back = np.ones(shape)
        found = [forward[-1].sum(axis=(0, 2))]
        for i in range(len(steps) - 1, -1, -1):
            back = steps[i].backward(back * seen[i + 1][None, :, None])
            back /= back.max()
            joint = forward[i] * back
            found.append(joint.sum(axis=(0, 2)))
        return [cells / cells.sum() for cells in reversed(found)], log_evidence


def _nodes_between(nodes: Sequence[float], dated: Sequence[int], step: int) -> int:
    left = max((d for d in dated if d <= nodes[step]), default=nodes[0])
    right = min((d for d in dated if d > nodes[step]), default=nodes[-1])
    return sum(1 for n in nodes if left <= n < right)


def _rate_levels(anchors: Sequence[DatedNumber], axis: _TimeAxis) -> Floats:
    """Levels of the logarithm of the rate (numbers a cell), wide about what the anchors show."""
    points = sorted(
        (a.number, axis.cell(a.date.latest or a.date.earliest or date(axis.first_year, 1, 1)))
        for a in anchors
    )
    rates = [(n1 - n0) / max(t1 - t0, 1.0) for (n0, t0), (n1, t1) in pairwise(points) if n1 > n0]
    whole = (points[-1][0] - points[0][0]) / max(points[-1][1] - points[0][1], 1.0)
    low = min([*rates, whole])
    high = max([*rates, whole])
    middle = math.log(whole)
    reach_low = max(middle - math.log(low) + 2.0, 3.0)
    reach_high = max(math.log(high) - middle + 2.0, 3.0)
    return np.linspace(middle - min(reach_low, 6.0), middle + min(reach_high, 6.0), _LEVELS)


class _Step:
    """From one number to the next: how month and rate move together."""

    def __init__(
        self, numbers: float, log_rate: Floats, axis: _TimeAxis, given: Wandering, skip: float
    ) -> None:
        self._skip = skip
        step = float(log_rate[1] - log_rate[0])
        apart = log_rate[None, :] - log_rate[:, None]
        # Mean of 1/rate along a straight path of the logarithm.
        half = np.where(np.abs(apart) < 1e-9, 1e-9, apart / 2.0)
        lean = np.sinh(half) / half
        cells = numbers * lean * np.exp(-(log_rate[None, :] + log_rate[:, None]) / 2.0)
        years = cells * axis.months / PER_YEAR
        self._shift = np.minimum(cells, axis.count + 1.0)
        # Work in lots: over a stretch the time taken varies by the root of lot times stretch.
        own = np.maximum(np.diagonal(self._shift), 1e-9)
        self._burst = [
            np.minimum(1.2 * np.sqrt(b / axis.months / own), 0.95) if b else None
            for b in given.bursts
        ]
        wide = np.exp(-0.5 * (apart / given.jump_size) ** 2)
        wide /= wide.sum(axis=1, keepdims=True)
        self._jumps: list[Floats] = []
        self._kernels: list[Floats] = []
        self._reach = []
        for v, often in zip(given.restlessness, given.jumps_a_year, strict=True):
            jump = 1.0 - np.exp(-often * np.diagonal(years))
            self._jumps.append(jump[:, None] * wide)
            near = _wander(apart, v * years, step)
            near /= near.sum(axis=1, keepdims=True)
            kernel = (1.0 - jump[:, None]) * near
            self._kernels.append(kernel)
            self._reach.append(
                [
                    j
                    for j in range(-len(log_rate) + 1, len(log_rate))
                    if np.diagonal(kernel, j).max() > 1e-4
                ]
            )
        lasts = np.arange(axis.count) * axis.months / PER_YEAR / given.stop_years
        tail = np.exp(-lasts)
        stop = 1.0 - np.exp(-np.array(given.stops_a_year) * np.median(years))
        self._stop = stop[:, None] * tail / tail.sum()
        self._stop[:, 0] += 1.0 - stop

    def forward(self, state: Floats) -> Floats:
        """Move probabilities (v, cells, levels) one step on."""
        moved = self._move(state, later=True)
        moved = (1.0 - self._skip) * moved + self._skip * _skipped(state, moved)
        return _convolve(moved, self._stop)

    def backward(self, values: Floats) -> Floats:
        """Carry likelihoods one step back."""
        values = _convolve(values[:, ::-1], self._stop)[:, ::-1]
        moved = self._move(values, later=False)
        return np.asarray((1.0 - self._skip) * moved + self._skip * _skipped(values, moved))

    def _move(self, state: Floats, *, later: bool) -> Floats:
        levels = state.shape[2]
        out = np.empty_like(state)  # one level's cells lie beside one another: shifts copy rows
        every = np.arange(levels)
        direction = -1 if later else 1
        own = np.diagonal(self._shift)
        for v in range(len(state)):
            here = np.ascontiguousarray(state[v].T)
            burst = self._burst[v]
            if burst is not None and not later:
                here = self._blurred(here, burst, direction)
            if later:
                total = self._jumps[v].T @ _taken(here, own, direction)
            else:
                total = _taken(self._jumps[v] @ here, own, direction)
            for j in self._reach[v]:
                source = every[max(0, -j) : min(levels, levels - j)]
                target = source + j
                shift = self._shift[source, target]
                weight = self._kernels[v][source, target][:, None]
                if later:
                    total[target] += weight * _taken(here[source], shift, direction)
                else:
                    total[source] += weight * _taken(here[target], shift, direction)
            if burst is not None and later:
                total = self._blurred(total, burst, direction)
            out[v] = total.T
        return out

    def _blurred(self, state: Floats, burst: Floats, direction: int) -> Floats:
        """Earlier or later by a share of the stretch, a third each way."""
        moved = np.diagonal(self._shift) * burst
        return np.asarray(
            (state + _taken(state, moved, direction) + _taken(state, moved, -direction)) / 3.0
        )


def _taken(state: Floats, shift: Floats, direction: int) -> Floats:
    """State (levels, cells) at places a fractional shift away; nothing comes from outside."""
    levels, count = state.shape
    whole = np.floor(shift).astype(np.int64)
    part = (shift - whole)[:, None]
    reach = min(int(whole.max()) + 1, count)
    padded = np.zeros((levels, count + reach + 2))
    if direction < 0:
        padded[:, reach + 1 : reach + 1 + count] = state
        first = reach + 1 - np.minimum(whole, reach)
    else:
        padded[:, :count] = state
        first = np.minimum(whole, reach)
    windows = np.lib.stride_tricks.sliding_window_view(padded, count, axis=1)
    every = np.arange(levels)
    return np.asarray(
        windows[every, first] * (1.0 - part) + windows[every, first + direction] * part
    )


def _skipped(before: Floats, after: Floats) -> Floats:
    """A block of numbers passed over: about half the time that the numbers would have taken."""
    return 0.5 * before + 0.5 * after


def _convolve(state: Floats, kernel: Floats) -> Floats:
    """Spread along the cells toward later ones."""
    from scipy.signal import fftconvolve

    spread = fftconvolve(state, kernel[:, :, None], axes=1)[:, : state.shape[1]]
    return np.maximum(spread, 0.0)


def _wander(apart: Floats, variance: Floats, step: float) -> Floats:
    """Chances of moving between levels with a given variance, on the lattice of levels.

    Below the lattice's step only neighbours are reached, with chances that keep the variance.
    """
    wide = np.exp(-0.5 * apart**2 / np.maximum(variance, (0.6 * step) ** 2))
    wide /= wide.sum(axis=1, keepdims=True)
    share = np.minimum(variance / step**2, 1.0)
    hops = np.abs(np.rint(apart / step))
    narrow = np.where(hops == 0, 1.0 - share, np.where(hops == 1, share / 2.0, 0.0))
    return np.where(variance < (0.6 * step) ** 2, narrow, wide)
