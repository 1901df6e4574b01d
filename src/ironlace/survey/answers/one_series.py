"""How many machines one run of numbers holds, whatever shape the run has.

A total taken from the highest number trusts four things that nobody promised: that every number
was used, that machines of all times survive alike, that one works used the numbers, and that each
was read rightly. Here each of them may fail. Several shapes of a run are laid against the numbers:

* even: every number as likely to turn up (Goodman 1952, *Journal of the American Statistical
  Association* 47, 622-634);
* leaning: early or late machines survive more, by an exponential or a power of the number;
* rising and falling: first and last ones are rarer than those between, or the last ones dwindle to
  nothing (a beta density of the number);
* broken: two stretches, one thicker (a change-point, after Raftery & Akman 1986, *Biometrika* 73,
  85-89);
* passed over: one to three stretches of numbers were never used, at the beginning or between
  blocks, of which two may lie as thickly as each other or not;

* ranges filled in part: each shop or each year had a range of one round size, and used the first
  part of it;
* begun again: the count started a second time at 1, and both runs are in the numbers;

in each the highest few numbers may owe a figure to a misreading, only every second, third, fifth or
tenth number may have been used (`steps_used`), and lots of numbers may have been left out all along
(`lots_left_out`). Numbers that turned up in handfuls, as from one shipment, tell less than as many
apart (`handfuls`). Every unknown is summed out, the shapes are weighed by how
probable they made the numbers (Bayesian model averaging: Hoeting et al. 1999, *Statistical Science*
14, 382-417), and what is told is how many numbers were used.

Two of these a few numbers cannot show at all: a count that began again, and lots left out. So
numbers alone give a floor (`Grounds.NUMBERS`); an upper end asks for dates that show one run
(`Grounds.DATES`), or for the word of somebody who knows (`Grounds.WORD`). Where even so the ends
are wide apart, only the lower one is told.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import combinations
from typing import Any

import numpy as np

from ironlace.evidence.arrays import Floats, Ints
from ironlace.survey.answers.rounded_numbers import Rounding, rounding_of
from ironlace.survey.answers.totals import Total, one_figure_off
from ironlace.survey.errors import SurveyError

_SHAPES: Mapping[str, float] = {
    "even": 0.22,
    "leaning": 0.25,
    "rising and falling": 0.08,
    "broken": 0.10,
    "unused at the start": 0.12,
    "passed over": 0.12,
    "passed over more than once": 0.07,
    "ranges filled in part": 0.06,
    "begun again": 0.06,
}
"""Prior weights of the shapes, each beside the others. Judgements: common practice, no source. An
even run is the commonest in print, and each of the others is known from some maker."""

_STEPS: Mapping[int, float] = {2: 0.05, 3: 0.004, 4: 0.004, 5: 0.008, 10: 0.012}
"""Prior chance that only every so many-th number was used; the same kind of judgement."""

_REACH = 50.0
"""The end lies at most this many times above the highest number; a judgement, as in `totals`."""

_MOST_MISREAD = 3
"""So many of the highest numbers may each owe a figure to a misreading, of few numbers."""

_MOST_OF_MANY = 40
"""And so many at most of very many, whose first figures are misread that often."""

_ENDS = 64
"""Cells for the end above each of the highest numbers, finest close above it."""

_FEWEST_ENDS = 16
"""Fewer where there are many of those numbers, since their cells lie between each other's."""

_LEANS = np.linspace(-7.0, 7.0, 43)
"""Logarithm of how much thicker the numbers lie at the beginning than at the end."""

_LEAN_SPREAD = 3.0
"""Prior standard deviation of that logarithm: e to the 3 is twenty times; a judgement."""

_POWERS = np.geomspace(0.3, 3.0, 25)
"""Powers of the number by which survival leans, less one is the exponent of the density."""

_RISES_BY = (0.0, 0.5, 1.0, 2.0, 4.0)
"""Exponents of a beta density less one at the beginning, each as likely: from alike to a bell."""

_FALLS_BY = (0.5, 1.0, 2.0, 4.0)
"""The same at the end, where it always falls to nothing; a steeper fall takes a figure misread for
the last of a long tail. A judgement, as the others."""

_PLACES = 120
"""Places of a break tried."""

_PARTS = 24
"""Parts of an empty stretch at which unused numbers may begin or end."""

_STRETCHES = 6
"""Of the empty stretches the longest so many are tried: a short one hides no block."""

_LOG_CELLS = 1_600
"""Cells of the logarithm of the total; finer than any figure that is told."""

_KEEP_LOG = 40.0
"""Cells this many nats below the heaviest are left out: e to the -40 is 4e-18."""

_CREDIBLE = 0.15
"""The interval reaches as far as that of each shape with more than this probability: where the
shapes disagree, the numbers do not tell which is right. Chosen on works that were looked at."""

TOO_OPEN = 3.0
"""An interval whose ends lie further apart than this is no answer but a floor; a judgement."""

_FIGURES_CHANGED = 9
"""A misread figure is one of nine others."""


class Grounds(Enum):
    """What says that the numbers ran once through."""

    NUMBERS = "numbers alone"
    DATES = "dates that rise with the numbers"
    WORD = "the word of a person, that each number was used once from the first on"


_ONCE = tuple(name for name in _SHAPES if name != "begun again")
"""Shapes that are left where dates show that the count did not begin again."""

_EACH_USED = ("even", "leaning", "rising and falling", "broken")
"""Shapes that are left where each number is known to have been used, once: survival alone is
uneven."""


@dataclass(frozen=True, slots=True)
class OneSeries:
    """How many machines one run of numbers holds.

    Attributes
    ----------
    total
        How many, with its interval.
    shapes
        Probability of each shape of the run.
    steps
        Probability that only every so many-th number was used, by that number; 1 is every one.
    misread
        Chance of each of the highest numbers to owe a figure to a misreading, by number.
    left_out
        Probability that lots of numbers were left out all along; before any number was seen it is
        `LEFT_OUT`, and few numbers hardly move it.
    handfuls
        Chance that numbers turned up in handfuls, and how many draws they then are.
    grounds
        What says that the numbers ran once through.
    in_lots
        Whether the numbers lie in so few lots of a round size that others were surely left out.
    rounding
        How some of the numbers were rounded as they were passed on.
    """

    total: Total
    shapes: Mapping[str, float]
    steps: Mapping[int, float]
    misread: Mapping[int, float]
    left_out: float
    handfuls: "Handfuls"
    rounding: Rounding
    grounds: Grounds = Grounds.NUMBERS
    in_lots: bool = False

    @property
    def step(self) -> int:
        """How many numbers lie from one that was used to the next, most probably."""
        return max(self.steps, key=lambda step: self.steps[step])

    @property
    def doubted(self) -> tuple[int, ...]:
        """Numbers that are more probably misread than not."""
        return tuple(number for number, chance in self.misread.items() if chance > 0.5)

    @property
    def bounded(self) -> bool:
        """Whether more than a floor is told."""
        if self.grounds is Grounds.NUMBERS or self.in_lots:
            return False
        return self.total.high <= TOO_OPEN * self.total.low


def one_series(  # long: the docstring is half of it
    numbers: Sequence[int],
    *,
    start: int = 1,
    share: float = 0.9,
    misread_rate: float = 0.02,
    grounds: Grounds = Grounds.NUMBERS,
) -> OneSeries:
    """Say how many machines one run of numbers holds.

    Parameters
    ----------
    numbers
        Running numbers that turned up, one for each machine; the same number twice counts once,
        but no fewer were made than machines are given.
    start
        The number at which the run begins unless its beginning was left unused.
    share
        Probability that the interval is to hold.
    misread_rate
        Chance that a figure is reported as another.
    grounds
        What says that the numbers ran once through; on numbers alone only a floor is told.

    Raises
    ------
    SurveyError
        When there is no number, or one below the start.

    >>> found = one_series([19, 40, 42, 60])
    >>> found.total.low < 60 < found.total.high, found.bounded
    (True, False)
    """
    seen = np.array(sorted(set(numbers)), dtype=np.int64) - (start - 1)
    if not len(seen):
        raise SurveyError("No number was given, so no total can be said.")
    if seen[0] < 1:
        raise SurveyError(f"The series starts at {start}, but {seen[0] + start - 1} was given.")
    shapes = {Grounds.DATES: _ONCE, Grounds.WORD: _EACH_USED}.get(grounds, tuple(_SHAPES))
    ends = _Ends.above(seen, misread_rate)
    found = _Found.of_shapes(ends, shapes)
    lots = Lots(0.0, {1.0: 1.0})
    rounding = rounding_of(numbers)
    steps: Mapping[int, float] = {1: 1.0}
    if grounds is not Grounds.WORD:
        steps = steps_used(seen, misread_rate, rounded_to=rounding.unit if rounding.told else 0)
        lots = lots_left_out(seen // max(steps, key=lambda step: steps[step]))
    in_handfuls = handfuls(seen)
    tail = (1.0 - share) / 2.0
    told = found.told(steps, lots.shares, len(seen), tail)
    if grounds is not Grounds.WORD:
        # nothing but the numbers speaks of lots, and they hardly do: as far as if some were
        low = tail if grounds is Grounds.DATES else _TAIL_OF_LOTS
        told += found.told(steps, lots.were_some(), len(seen), low)[:1]
    if in_handfuls.chance > _CREDIBLE:
        apart = _Found.of_shapes(_Ends.above(in_handfuls.draws, misread_rate), shapes)
        also = apart.told(steps, lots.shares, len(in_handfuls.draws), tail)
        told = also + told if in_handfuls.chance > MORE_LIKELY else told + also
    if rounded(steps):
        # a works that used every tenth number is far rarer than a reader who rounds
        told = found.told({1: 1.0}, lots.shares, len(seen), tail) + told
    if (least_seen := rounding.least(int(seen[-1]) + start - 1) - (start - 1)) < seen[-1]:
        lowered = np.unique(np.minimum(seen, max(least_seen, int(seen[0]))))
        below = _Found.of_shapes(_Ends.above(lowered, misread_rate), shapes)
        told = told + below.told(steps, lots.shares, len(lowered), tail)
    if np.sum(seen > max(high for _, _, high in told)) >= _NOT_ALL_MISREAD:
        as_read = _Found.of_shapes(_Ends.above(seen, misread_rate, 0), shapes)
        told = told + as_read.told(steps, lots.shares, len(seen), tail)
    # where each number was used once, one given twice is one machine met twice
    least = len(seen) if grounds is Grounds.WORD else len(numbers)
    return OneSeries(
        _over_all(told, least, share),
        found.shapes(),
        steps,
        _misread(ends, found, start),
        math.fsum(chance for used, chance in lots.shares.items() if used < 1.0),
        in_handfuls,
        rounding,
        grounds,
        lots.shown > _LOTS_SHOWN,
    )


def rounded(steps: Mapping[int, float]) -> bool:
    """Whether numbers probably all end in 0 or 5: rounded as they were passed on, as a rule.

    >>> rounded({1: 0.1, 10: 0.9}), rounded({1: 0.1, 2: 0.9})
    (True, False)
    """
    return math.fsum(chance for step, chance in steps.items() if step % 5 == 0) > MORE_LIKELY


_NOT_ALL_MISREAD = 2
"""So many numbers above the highest end are not waved away as misread: what they say as they are
read is then told too; a judgement."""


def _over_all(told: Sequence[tuple[float, float, float]], count: int, share: float) -> Total:
    """The middle of the first account with the widest ends of all, of so many machines or more."""
    return Total(
        max(told[0][1], float(count)),
        max(min(low for low, _, _ in told), float(count)),
        max(*(high for _, _, high in told), float(count)),
        share,
        "one run of numbers, its shape summed out",
    )


@dataclass(frozen=True)
class _Ends:
    """Cells for the last number of the run, and what the numbers say at each.

    Attributes
    ----------
    seen
        The numbers, rising from 1 or more, shape (k,).
    end, width
        Last number of the run in each cell, and its prior weight (log-uniform), shape (n,).
    under
        How many of the numbers are not above it, shape (n,).
    slips
        Logarithm of the chance that those above it are misread, shape (n,).
    """

    seen: Ints
    end: Floats
    log_weight: Floats
    under: Ints
    slips: Floats

    @classmethod
    def above(cls, seen: Ints, rate: float, most: int | None = None) -> "_Ends":
        """Ends from the highest number on, or lower were up to `most` of them misread.

        When left out, `most` is as many as have a first figure misread, in 19 cases out of 20.
        """
        if most is None:
            expected = rate * len(seen)
            most = min(
                max(_MOST_MISREAD, math.ceil(expected + 2.0 * math.sqrt(expected))), _MOST_OF_MANY
            )
        most = min(most, (len(seen) - 1) // 3)
        lowest, highest = float(seen[len(seen) - 1 - most]), float(seen[-1])
        cells = _ENDS * (_MOST_MISREAD + 1) // max(most + 1, _MOST_MISREAD + 1)
        steps = np.concatenate([[0.0], np.geomspace(1e-3, _REACH - 1.0, max(cells, _FEWEST_ENDS))])
        edges = np.concatenate([v * (1.0 + steps) for v in seen[len(seen) - 1 - most :].tolist()])
        edges = np.unique(edges[(edges >= lowest) & (edges <= _REACH * highest)])
        edges = edges[np.concatenate([[True], np.diff(np.log(edges)) > 1e-9])]
        end = np.sqrt(edges[1:] * edges[:-1])
        log_weight = np.log(np.diff(np.log(edges)) / math.log(_REACH * highest / lowest))
        under = np.searchsorted(seen, end, side="right")
        slips = np.zeros(len(end))
        for i in range(len(seen) - most, len(seen)):
            above = under <= i
            slips[above] += np.log(_slip_chance(int(seen[i]), end[above], rate))
        return cls(seen, end, log_weight, under, slips)

    def put(self, within: Any, places: Ints | slice = slice(None)) -> Floats:
        """Logarithm of a shape's probability, given the log density of the numbers in the run."""
        return np.asarray(self.log_weight[places] + self.slips[places] + within)


def _slip_chance(number: int, end: Floats, rate: float) -> Floats:
    """Chance of reading a number for some number of an even run up to `end`, shape (n,)."""
    found = np.zeros(len(end))
    for other in one_figure_off(number):
        found += (other <= end) / end
    return np.maximum(found * rate / _FIGURES_CHANGED, 1e-12 / end)


class _Found:
    """Probabilities of totals as the shapes add them."""

    def __init__(self) -> None:
        self._parts: list[tuple[str, Floats, Floats, Floats]] = []
        self._name = ""

    @classmethod
    def of_shapes(cls, ends: _Ends, names: Sequence[str]) -> "_Found":
        """Each of these shapes laid against the numbers."""
        found = cls()
        for name in names:
            found._name = name
            _ADD[name](ends, found)
        return found

    def add(self, log_mass: Floats, used: Floats, ends: Floats, prior: float = 1.0) -> None:
        """Add log-probabilities of so many numbers used, with the last number of each."""
        if not log_mass.size:
            return
        weight = math.log(_SHAPES[self._name] * prior)
        self._parts.append((self._name, (log_mass + weight).ravel(), used.ravel(), ends.ravel()))

    def _all(self, name: str | None = None) -> tuple[Floats, Floats, Floats]:
        parts = [part for part in self._parts if name in (None, part[0])]
        log_mass, used, ends = (np.concatenate([part[i] for part in parts]) for i in (1, 2, 3))
        return log_mass, used, ends

    def shapes(self) -> Mapping[str, float]:
        peak = max(float(part[1].max()) for part in self._parts)
        weight = dict.fromkeys(_SHAPES, 0.0)
        for name, log_mass, _, _ in self._parts:
            weight[name] += float(np.exp(log_mass - peak).sum())
        whole = sum(weight.values())
        return {name: w / whole for name, w in weight.items()}

    def ends_below(self, number: float) -> float:
        """Chance that the run ends below a number."""
        log_mass, _, ends = self._all()
        mass = np.exp(log_mass - log_mass.max())
        return float(mass[ends < number].sum() / mass.sum())

    def told(
        self, steps: Mapping[int, float], shares: Mapping[float, float], count: int, tail: float
    ) -> list[tuple[float, float, float]]:
        """Lower end, middle and upper end of the total: under all shapes, then the credible."""
        names = [None, *(name for name, p in self.shapes().items() if p > _CREDIBLE)]
        used = {
            share / step: chance * held
            for step, chance in steps.items()
            for share, held in shares.items()
        }
        return [self._quantiles(name, used, count, tail) for name in names]

    def _quantiles(
        self, name: str | None, parts: Mapping[float, float], count: int, tail: float
    ) -> tuple[float, float, float]:
        """The same under one shape or all (None), by the part of the numbers that was used."""
        log_mass, used, _ = self._all(name)
        keep = log_mass > log_mass.max() - _KEEP_LOG
        log_mass, log_used = log_mass[keep], np.log(used[keep])
        cells = np.linspace(log_used.min(), log_used.max() + 1e-9, 2 * _LOG_CELLS)
        at = np.searchsorted(cells, log_used)
        weight = np.bincount(at, np.exp(log_mass - log_mass.max()), 2 * _LOG_CELLS)
        cells, weight = cells[weight > 0], weight[weight > 0]
        grid = np.linspace(
            max(math.log(count), float(cells[0]) + math.log(min(parts))) - 1e-3,
            float(cells[-1]) + 1e-3,
            _LOG_CELLS,
        )
        mass = np.zeros(_LOG_CELLS)
        for part, chance in parts.items():
            log_held = cells + math.log(part)
            fits = log_held >= math.log(count) - 1e-9
            held = weight[fits] * np.exp(_drawn_once(np.exp(log_held[fits]), count))
            mass += (
                chance
                * np.bincount(np.searchsorted(grid, log_held[fits]), held, _LOG_CELLS)[:_LOG_CELLS]
            )
        reached = np.cumsum(mass)
        found = np.interp([tail, 0.5, 1.0 - tail], reached / reached[-1], grid)
        low, middle, high = (math.exp(value) for value in found.tolist())
        return low, middle, high


def _drawn_once(held: Floats, count: int) -> Floats:
    """What no machine turning up twice as two adds to the log probability, close to 0 for many."""
    from scipy.special import gammaln

    return np.asarray(count * np.log(held) - gammaln(held + 1.0) + gammaln(held - count + 1.0))


def _even(ends: _Ends, found: _Found) -> None:
    found.add(ends.put(-ends.under * np.log(ends.end)), ends.end, ends.end)


def _leaning(ends: _Ends, found: _Found) -> None:
    """Density that falls or rises exponentially, or as a power of the number."""
    sums = np.concatenate([[0.0], np.cumsum(ends.seen)])[ends.under]
    logs = np.concatenate([[0.0], np.cumsum(np.log(ends.seen - 0.5))])[ends.under]
    prior = np.exp(-0.5 * (_LEANS / _LEAN_SPREAD) ** 2)
    for lean, chance in zip(_LEANS.tolist(), (prior / prior.sum()).tolist(), strict=True):
        scale = math.log(lean / -math.expm1(-lean)) if lean else 0.0
        within = ends.under * (scale - np.log(ends.end)) - lean * sums / ends.end
        found.add(ends.put(within), ends.end, ends.end, 0.6 * chance)
    for power in _POWERS.tolist():
        within = ends.under * (math.log(power) - power * np.log(ends.end)) + (power - 1.0) * logs
        found.add(ends.put(within), ends.end, ends.end, 0.4 / len(_POWERS))


def _rising_and_falling(ends: _Ends, found: _Found) -> None:
    """Density that falls to nothing at the end, and may rise from nothing: a beta density."""
    from scipy.special import betaln

    at = np.log(ends.seen - 0.5)
    low = np.concatenate([[0.0], np.cumsum(at)])[ends.under] - ends.under * np.log(ends.end)
    left = 1.0 - (ends.seen - 0.5)[:, None] / ends.end[None, :]
    inside = np.arange(len(ends.seen))[:, None] < ends.under[None, :]
    high = np.where(inside, np.log(np.maximum(left, 1e-12)), 0.0).sum(axis=0)
    chance = 1.0 / (len(_RISES_BY) * len(_FALLS_BY))
    for rise in _RISES_BY:
        for fall in _FALLS_BY:
            scale = float(betaln(rise + 1.0, fall + 1.0)) + np.log(ends.end)
            within = rise * low + fall * high - ends.under * scale
            found.add(ends.put(within), ends.end, ends.end, chance)


def _broken(ends: _Ends, found: _Found) -> None:
    """Two stretches that lie one after the other, their shares of the numbers free."""
    from scipy.special import betaln

    at = (np.arange(_PLACES) + 0.5) / _PLACES
    place = at[:, None] * ends.end
    below = np.searchsorted(ends.seen, place, side="right")
    above = np.maximum(ends.under - below, 0)
    within = (
        betaln(below + 1.0, above + 1.0)
        - below * np.log(place)
        - above * np.log(ends.end - place)
        - math.log(_PLACES)
    )
    found.add(ends.put(within), np.broadcast_to(ends.end, within.shape), _like(ends, within))


def _unused_start(ends: _Ends, found: _Found) -> None:
    """Even, but numbers below some number were never used."""
    lowest = float(ends.seen[0])
    begins = (np.arange(4 * _PARTS) + 0.5) / (4 * _PARTS) * (lowest - 0.5)
    anywhere = lowest / (4 * _PARTS) / ends.end
    rounded = _round_numbers(0.0, lowest - 0.5)
    for first, chance in ((begins, anywhere), (rounded, _round_chance(ends.end))):
        used = ends.end - first[:, None]
        within = -ends.under * np.log(used) + np.log(chance)
        found.add(ends.put(within), used, _like(ends, within), 0.5)


def _passed_over(ends: _Ends, found: _Found) -> None:
    """Two blocks with a stretch between that was never used."""
    from scipy.special import betaln

    seen = np.concatenate([[0], ends.seen])
    stretches = np.diff(seen) - 1
    longest = np.argsort(stretches)[::-1][:_STRETCHES]
    fraction = (np.arange(_PARTS) + 0.5) / _PARTS
    for i in longest.tolist():
        length = float(stretches[i])
        if i == 0 or length < 4:
            continue
        here = np.flatnonzero(ends.end >= seen[i + 1])  # the upper block must lie in the run
        end = ends.end[here]
        low, high = float(seen[i]), float(seen[i + 1])
        lasts = low + fraction * length
        anywhere = np.full((len(lasts), 1), length / _PARTS) / end
        rounded = _round_numbers(low, high - 0.5)
        for firsts, chance in (
            (lasts, anywhere),
            (rounded, np.broadcast_to(_round_chance(end), (len(rounded), len(end)))),
        ):
            pairs = np.argwhere(lasts[:, None] < firsts[None, :])
            ended, begun = lasts[pairs[:, 0]][:, None], firsts[pairs[:, 1]][:, None]
            used = end - (begun - ended)
            # the lower block ends anywhere below where the upper one begins
            cell = np.log(chance[pairs[:, 1]] * (length / _PARTS) / begun)
            upper = ends.under[here] - i
            alike = -ends.under[here] * np.log(used) + cell
            apart = (
                betaln(i + 1.0, upper + 1.0)
                - i * np.log(ended)
                - upper * np.log(np.maximum(end - begun, 1.0))
                + cell
            )
            for within in (alike, apart):
                found.add(ends.put(within, here), used, np.broadcast_to(end, used.shape), 0.25)


def _passed_over_again(ends: _Ends, found: _Found) -> None:
    """Three or four blocks, as thick as each other, with unused stretches between."""
    seen = np.concatenate([[0], ends.seen])
    stretches = np.diff(seen) - 1
    longest = [i for i in np.argsort(stretches)[::-1][:_STRETCHES].tolist() if stretches[i] >= 4]
    for gaps, parts in ((2, 10), (3, 6)):
        fraction = (np.arange(parts) + 0.5) / parts
        for chosen in combinations(longest, gaps):
            here = np.flatnonzero(ends.end >= seen[max(chosen) + 1])
            end = ends.end[here]
            unused, log_prior = np.zeros((1, 1)), np.zeros((1, len(end)))
            for i in chosen:
                length = float(stretches[i])
                unused = (unused[:, None] + fraction[None, :, None] * length).reshape(-1, 1)
                # both ends of an unused stretch are uniform over the run, as in `_passed_over`
                cell = np.log(2.0 * (1.0 - fraction[:, None]) * (length / end) ** 2 / parts)
                log_prior = (log_prior[:, None] + cell[None]).reshape(-1, len(end))
            used = end - unused
            within = -ends.under[here] * np.log(used) + log_prior + math.log(gaps)
            found.add(ends.put(within, here), used, np.broadcast_to(end, used.shape), 0.5)


def _filled_in_part(ends: _Ends, found: _Found) -> None:
    """Ranges of one round size side by side, each used from its first number up to some degree."""
    seen, k = ends.seen, len(ends.seen)
    highest = int(seen[-1])
    sizes = [size for size in _RANGES.tolist() if _TWO <= -(-highest // size) <= _MOST_RANGES]
    for size in sizes:
        ranges = -(-highest // size)
        which = (seen - 1) // size
        reached = np.zeros(ranges)
        np.maximum.at(reached, which, (seen - which * size) / size)
        # how many numbers all of them used: a sum of degrees, each uniform above what is reached
        mass = np.ones(1)
        for least in reached.tolist():
            edges = np.clip(np.arange(_DEGREES + 1) / _DEGREES, least, 1.0)
            mass = np.convolve(mass, np.diff(edges))
        used = (np.arange(len(mass)) + 0.5 * ranges) / _DEGREES * size
        here = mass > 0.0
        log_prior = -math.log(ranges * math.log(_REACH) * len(sizes))
        within = np.log(mass[here]) - k * np.log(used[here]) + log_prior
        found.add(within, used[here], np.full(int(here.sum()), float(ranges * size)))


_TWO = 2
"""One range filled in part is an even run."""

_MOST_RANGES = 12
"""With more ranges they are lots, which `lots_left_out` allows for."""

_RANGES = np.outer(10 ** np.arange(2, 7), [10, 20, 25, 50]).ravel() // 10
"""Round sizes of a range, each as likely."""

_DEGREES = 40
"""Degrees to which a range may be filled."""


def _begun_again(ends: _Ends, found: _Found) -> None:
    """Two runs from 1, of which the numbers tell only where the shorter ended."""
    at = (np.arange(_PLACES) + 0.5) / _PLACES
    shorter = at[:, None] * ends.end
    below = np.searchsorted(ends.seen, shorter, side="right")
    used = ends.end + shorter
    within = (
        np.minimum(below, ends.under) * math.log(2.0)
        - ends.under * np.log(used)
        - math.log(_PLACES)
    )
    found.add(ends.put(within), used, _like(ends, within))


def _round_numbers(low: float, high: float) -> Floats:
    """Numbers such as 500, 2,000 or 30,000 between two others, after which a block may begin."""
    whole = np.outer(10.0 ** np.arange(2, 9), np.arange(1, 10)).ravel()
    return np.asarray(whole[(whole >= low) & (whole <= high)])


def _round_chance(end: Floats) -> Floats:
    """Chance of each round number below the end of a run, all as likely."""
    return np.asarray(1.0 / np.maximum(9.0 * (np.log10(np.maximum(end, 100.0)) - 2.0), 1.0))


def _like(ends: _Ends, shaped: Any) -> Floats:
    return np.broadcast_to(ends.end, shaped.shape)


_ADD = {
    "even": _even,
    "leaning": _leaning,
    "rising and falling": _rising_and_falling,
    "broken": _broken,
    "unused at the start": _unused_start,
    "passed over": _passed_over,
    "passed over more than once": _passed_over_again,
    "ranges filled in part": _filled_in_part,
    "begun again": _begun_again,
}

LEFT_OUT = 0.2
"""Prior chance that a works left lots of numbers out all along: kept back for a shop, a model or a
year, and never used. A judgement: no run of a few numbers shows it, so it must stand in the answer
before any was seen."""

_SHARES = np.linspace(0.5, 0.975, 20)
"""Share of the lots that was then used, each as likely; fewer than half is another works' habit."""

_LOTS = np.outer(10.0 ** np.arange(1, 6), [1.0, 2.0, 2.5, 5.0]).ravel()
"""How many numbers a lot holds, each as likely: as numbers are given out, by tens and hundreds."""

_FEWEST_LOTS = 4
"""Fewer lots than these are blocks, which `_passed_over` looks for."""


_TAIL_OF_LOTS = 0.15
"""A floor told from numbers alone holds in all but so many of the works that did leave lots out."""

_LOTS_SHOWN = 0.5
"""From this probability on the numbers themselves show that lots were left out."""


@dataclass(frozen=True, slots=True)
class Lots:
    """Whether lots of numbers were left out all along.

    Attributes
    ----------
    shown
        Probability of it as the numbers show it, long gaps and all.
    shares
        Probability of each share of the numbers to have been used; 1 is all of them.
    """

    shown: float
    shares: Mapping[float, float]

    def were_some(self) -> Mapping[float, float]:
        """The shares were it known that some lots were left out."""
        some = {share: chance for share, chance in self.shares.items() if share < 1.0}
        whole = math.fsum(some.values())
        if whole < _HARDLY_LEFT_OUT:
            return self.shares
        return {share: chance / whole for share, chance in some.items()}


_HARDLY_LEFT_OUT = 0.05
"""Below this chance lots left out move no end of the interval, which leaves as much below it."""


def lots_left_out(seen: Ints) -> Lots:
    """Ask whether lots of numbers were left out all along.

    The chance that some were not is at most what it is before any number was seen: numbers can
    speak against it, by lying in every lot. In a run of n lots, of which u were used and m hold one
    of the k numbers, all of them are as probable as (n/u)^k beside an even run; which lots were
    used is summed out. Where lots are smaller than the numbers lie apart this is the prior.

    Parameters
    ----------
    seen
        Running numbers, each once, rising, shape (k,).
    """
    from scipy.special import gammaln, logsumexp

    k, end = len(seen), float(seen[-1])
    sizes = [size for size in _LOTS.tolist() if end / size >= _FEWEST_LOTS]
    if not sizes:
        return Lots(0.0, {1.0: 1.0})
    logs: list[float] = []
    shares: list[float] = []
    each = math.log(LEFT_OUT / len(sizes) / len(_SHARES))
    for size in sizes:
        lots = math.ceil(end / size)
        hit = len(np.unique((seen - 1) // int(size)))
        used = np.arange(max(hit, 1), lots + 1.0)
        ways = gammaln(lots - hit + 1) - gammaln(used - hit + 1) - gammaln(lots - used + 1)
        of_used = ways + k * np.log(lots / used)
        for share in _SHARES.tolist():
            here = of_used + used * math.log(share) + (lots - used) * math.log1p(-share)
            total = float(logsumexp(here))
            logs.append(each + total)
            shares.append(float(np.exp(here - total) @ used) / lots)
    against = math.log(1.0 - LEFT_OUT)
    weights = np.exp(np.array(logs) - max(*logs, against))
    all_used = math.exp(against - max(*logs, against))
    left_out = float(weights.sum()) / (float(weights.sum()) + all_used)
    shown = left_out
    if left_out > LEFT_OUT:
        # what speaks for it are long gaps, and those the shapes that pass numbers over have counted
        left_out = LEFT_OUT
        shares, weights = _SHARES.tolist(), np.ones(len(_SHARES))
    shares, weights = [1.0, *shares], left_out * weights / weights.sum()
    weights = np.concatenate([[1.0 - left_out], weights])
    found: dict[float, float] = {}
    for used_share, weight in zip(shares, weights.tolist(), strict=True):
        rounded = max(round(used_share * 40.0), 1) / 40.0 if used_share < 1.0 else 1.0
        found[rounded] = found.get(rounded, 0.0) + weight
    return Lots(shown, found)


@dataclass(frozen=True, slots=True)
class Handfuls:
    """Whether numbers turned up in handfuls, each of one shipment, one shop or one owner.

    Attributes
    ----------
    chance
        Probability of it.
    draws
        The numbers with each handful taken together to its middle: what then was drawn by chance.
    """

    chance: float
    draws: Ints


_IN_HANDFULS = 0.15
"""Prior chance of it; a judgement, as the settings below, chosen on works that were looked at."""

_FOLLOWERS = (0.15, 0.3, 0.45, 0.6)
"""Parts of the gaps that lie within handfuls."""

_CLOSER = (0.003, 0.01, 0.03, 0.06, 0.1, 0.15)
"""How much shorter these are than the gaps between; nearer to 1 they are not told from chance."""

_FEWEST_GAPS = 5
"""Fewer gaps cannot show it."""

_LONGEST_LEFT = 2
"""So many of the longest gaps count only as long: a block passed over is no handful."""

MORE_LIKELY = 0.5
"""From this probability on handfuls are told, and the middle of the answer is theirs."""


def handfuls(seen: Ints) -> Handfuls:
    """Ask whether the gaps between numbers are of two kinds: a mixture of exponentials or one.

    The numbers are first straightened along an exponential lean, so that machines of one time that
    survive better are not taken for handfuls.

    Parameters
    ----------
    seen
        Running numbers, each once, rising, shape (k,).
    """
    gaps = np.diff(_straightened(seen))
    if len(gaps) < _FEWEST_GAPS:
        return Handfuls(0.0, seen)
    order = np.argsort(gaps)
    short, cut = gaps[order[:-_LONGEST_LEFT]], gaps[order[-_LONGEST_LEFT - 1]]
    means = np.geomspace(gaps.mean() / 20.0, gaps.mean() * 20.0, 120)
    one = np.exp(-short[:, None] / means) / means
    beyond = np.exp(-cut / means)
    alone = np.log(one).sum(axis=0) + _LONGEST_LEFT * np.log(beyond)
    logs, within = [], []
    for part in _FOLLOWERS:
        for closer in _CLOSER:
            near = part * np.exp(-short[:, None] / (closer * means)) / (closer * means)
            both = near + (1.0 - part) * one
            tail = part * np.exp(-cut / (closer * means)) + (1.0 - part) * beyond
            logs.append(np.log(both).sum(axis=0) + _LONGEST_LEFT * np.log(tail))
            within.append(near / both)
    told = np.array(logs)
    peak = max(float(told.max()), float(alone.max()))
    for_one = float(np.exp(alone - peak).mean()) * (1.0 - _IN_HANDFULS)
    weights = np.exp(told - peak)
    for_two = float(weights.mean()) * _IN_HANDFULS
    follows = np.zeros(len(gaps), dtype=bool)
    chances = np.einsum("cm,cgm->g", weights / weights.sum(), np.array(within))
    follows[order[:-_LONGEST_LEFT]] = chances > MORE_LIKELY
    label = np.concatenate([[0], np.cumsum(~follows)])
    middles = np.bincount(label, seen) / np.bincount(label)
    return Handfuls(for_two / (for_one + for_two), np.unique(np.rint(middles).astype(np.int64)))


def _straightened(seen: Ints) -> Floats:
    """The numbers from 0 to 1 as they would lie had machines of all times survived alike."""
    at = seen / (float(seen[-1]) * (1.0 + 1.0 / len(seen)))
    leans = _LEANS[_LEANS != 0.0]
    scale = np.log(leans / -np.expm1(-leans))
    lean = leans[int(np.argmax(len(seen) * scale - leans * at.sum()))]
    return np.asarray(np.expm1(-lean * at) / math.expm1(-lean))


def steps_used(seen: Ints, rate: float, *, rounded_to: int = 0) -> dict[int, float]:
    """Probability that only every so many-th number was used, by that number; 1 is every one.

    Parameters
    ----------
    seen
        Running numbers, each once, shape (k,).
    rate
        Chance that a figure is reported as another.
    rounded_to
        What some were rounded to as they were passed on while others lie between, 0 where none
        were: those that may be rounded say nothing of what the works did.

    >>> used = steps_used(np.array([10, 24, 38, 60, 72, 94, 126, 158]), 0.02, rounded_to=10)
    >>> max(used, key=lambda step: used[step])
    2
    """
    weight = {1: math.log(1.0 - sum(_STEPS.values()))}
    if rounded_to:
        seen = seen[seen % rounded_to != 0]
    for step, prior in _STEPS.items():
        if rounded_to and step % 5 == 0:
            continue
        kept = np.bincount(seen % step, minlength=step)
        logs = kept * math.log(step * (1.0 - rate)) + (len(seen) - kept) * math.log(
            step * rate / 2.0
        )
        weight[step] = math.log(prior / step) + float(np.logaddexp.reduce(logs))
    peak = max(weight.values())
    whole = sum(math.exp(w - peak) for w in weight.values())
    return {step: math.exp(w - peak) / whole for step, w in weight.items()}


def _misread(ends: _Ends, found: _Found, start: int) -> dict[int, float]:
    lowest = ends.end[0]
    return {
        int(number) + start - 1: found.ends_below(float(number))
        for number in ends.seen[-_MOST_MISREAD:].tolist()
        if number > lowest
    }
