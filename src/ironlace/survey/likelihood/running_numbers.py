"""How numbers in a series fall: the chance of each, misreadings summed.

All distributions of numbers live on one ladder of counts (every count up to 30, then steps of
about 5 %, with a rung at 9, 99, 999, ...). Between rungs numbers are equally likely.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ironlace.evidence.arrays import Floats, Ints
from ironlace.survey.likelihood.reading_errors import FIGURES

_STEP = 1.05
"""From rung to rung of the ladder of counts: steps of 5 %, below what any survey resolves (limits
are learned to a tenth at best, `field_tables.SHARP`)."""

_EVERY_COUNT_TO = 30
"""Below it every count is a rung: a step of 5 % would be less than one."""


@lru_cache(maxsize=16)
def ladder(highest: int) -> Ints:
    """Return the rungs (counts) of the ladder, rising, from 1 to `highest`."""
    rungs = set(range(1, _EVERY_COUNT_TO + 1))
    rungs.update(10**k - 1 for k in range(1, 9) if 10**k - 1 < highest)
    steps = int(math.log(highest / _EVERY_COUNT_TO) / math.log(_STEP)) + 1
    rungs.update(round(_EVERY_COUNT_TO * _STEP**k) for k in range(steps))
    found = np.array([*sorted(r for r in rungs if r < highest), highest], dtype=np.int64)
    found.setflags(write=False)
    return found


def chance_up_to(spans: Ints, emission: Floats, upto: Ints, *, padded: bool) -> Floats:
    """Likelihood of reported figures, summed over every number from 1 up to each limit.

    Misreadings are summed exactly, figure by figure: the sum over all struck numbers not above a
    limit needs one term for each place at which a number first falls below it.

    Parameters
    ----------
    spans
        Kinds of glyph of each span of n characters, shape (t, n).
    emission
        Likelihood of each struck character for each kind of glyph, shape (g, 37).
    upto
        Limits, shape (u,).
    padded
        Whether numbers are padded with noughts to n figures. Otherwise only numbers that have
        exactly n figures can fill the span.

    Returns
    -------
    ndarray of shape (t, u)
    """
    if len(spans) * len(upto) > _MOST_KEPT:
        return _summed_up_to(spans, emission, upto, padded)
    return _kept_up_to(
        spans.tobytes(), spans.shape, emission.tobytes(), emission.shape, upto.tobytes(), padded
    )


_MOST_KEPT = 250_000
"""Entries of a table that is kept for the next scheme with the same numbers: 2 MB."""


@lru_cache(maxsize=64)
def _kept_up_to(
    spans: bytes,
    shape: tuple[int, ...],
    emission: bytes,
    kinds: tuple[int, ...],
    upto: bytes,
    padded: bool,
) -> Floats:
    """The same from bytes: most schemes of a list ask for the same numbers one after the other."""
    found = _summed_up_to(
        np.frombuffer(spans, dtype=np.int64).reshape(shape),
        np.frombuffer(emission).reshape(kinds),
        np.frombuffer(upto, dtype=np.int64),
        padded,
    )
    found.setflags(write=False)
    return found


def _summed_up_to(spans: Ints, emission: Floats, upto: Ints, padded: bool) -> Floats:
    found = np.empty((len(spans), len(upto)))
    for first in range(0, len(spans), _SPANS_AT_ONCE):
        here = slice(first, first + _SPANS_AT_ONCE)
        found[here] = _summed_of_some(spans[here], emission, upto, padded)
    return found


_SPANS_AT_ONCE = 1_024
"""Spans summed at once: some hundred thousand entries, which a cache holds. No part in the
result."""


def _summed_of_some(spans: Ints, emission: Floats, upto: Ints, padded: bool) -> Floats:
    n = spans.shape[1]
    place = emission[:, :FIGURES].T[:, spans.T].transpose(1, 0, 2).copy()  # (n, 10, t)
    nought = np.prod(place[:, 0], axis=0) if padded else np.zeros(len(spans))
    if not padded:
        place[0, 0] = 0.0
    whole = place.sum(axis=1)
    after = np.ones((n + 1, len(spans)))
    for j in range(n - 1, -1, -1):
        after[j] = after[j + 1] * whole[j]
    below = np.cumsum(place, axis=1) - place  # chance of a smaller figure
    below *= after[1:, None, :]
    limits = np.minimum(upto, 10**n - 1)
    figures = (limits[:, None] // 10 ** np.arange(n - 1, -1, -1)) % 10  # (u, n)
    total = np.zeros((len(upto), len(spans)))
    same = np.ones((len(upto), len(spans)))
    for j in range(n):
        total += same * below[j, figures[:, j]]
        same *= place[j, figures[:, j]]
    total += same - nought
    return np.where(upto[:, None] >= 1, np.maximum(total, 0.0), 0.0).T


_LOWEST_LEVEL = -8.0
"""Lower end of the lattice of log limits: below one machine."""

_HIGHEST_LEVEL = 26.0
"""Ends of the lattice of log limits: e to the 26 is 2,000 times the highest number that may be
assumed (10 to the 8), and e to the -8 lies four of the widest spreads below 1."""


@lru_cache(maxsize=64)
def levels(spread: float) -> Floats:
    """Logarithms of limits or centres at which distributions are laid down, a lattice.

    Between two of them the distribution is the mixture of both, so every level gives a whole
    distribution of its own and nothing is approximated later.
    """
    step = min(0.05, spread / 4.0)
    return np.arange(_LOWEST_LEVEL, _HIGHEST_LEVEL + step, step)


@lru_cache(maxsize=16)
def series_weights(highest: int, spread: float) -> Floats:
    """Weight of each rung, as the total of a series, in the chance of any number not above it.

    A machine that survives comes from a month in proportion to that month's output, so with U the
    output of a month a number v turns up with P(v) = P(U >= v) / E[U]. U is log-normal about the
    limit with standard deviation `spread` of its logarithm: here P(U = rung) / E[U].

    Returns
    -------
    ndarray of shape (rungs, levels)
    """
    mass = totals_on_ladder(levels(spread), spread, highest)
    return np.asfortranarray(mass / (ladder(highest) @ mass))


@lru_cache(maxsize=16)
def near_weights(highest: int, spread: float) -> Floats:
    """Chance of each single number in each cell of the ladder, for log-normal numbers.

    Returns
    -------
    ndarray of shape (rungs, levels)
    """
    rungs = ladder(highest)
    width = np.diff(np.concatenate([[0], rungs]))
    centres = levels(spread)
    mass = numbers_on_ladder(centres, np.full(len(centres), spread), highest)
    return np.asfortranarray(mass / width[:, None])


@dataclass(frozen=True)
class Counts:
    """Reported figures of one length, summed over the numbers that could stand behind them.

    Attributes
    ----------
    upto
        Likelihood summed over all numbers up to each rung that matters, shape (t, m), or within
        each cell when made by `within_cells`.
    rungs
        Which rungs these are, one after the other, shape (m,).
    all_above
        For sums: whether the last column stands for its rung and all above it.
    """

    upto: Floats
    rungs: Ints
    all_above: bool

    def __len__(self) -> int:
        """How many spans."""
        return len(self.upto)

    def some(self, here: slice) -> "Counts":
        """Some of the spans."""
        return replace(self, upto=self.upto[here])

    def against(self, weights: Floats) -> Floats:
        """Likelihood of each span for columns of weights on rungs, shape (t, k)."""
        if not len(self.rungs):
            return np.zeros((len(self.upto), weights.shape[1]))
        first, last = int(self.rungs[0]), int(self.rungs[-1])
        if not self.all_above:
            return np.asarray(self.upto @ weights[first : last + 1])
        above = weights[last:]
        found = self.upto[:, -1:] * (np.ones(len(above)) @ above)  # a product sums more quickly
        if last > first:
            found += self.upto[:, :-1] @ weights[first:last]
        return np.asarray(found)


@dataclass(frozen=True)
class CountsInPieces:
    """The same of more spans than are held at once: summed anew for each look, piece by piece."""

    spans: Ints
    piece: Callable[[Ints], Counts]

    def __len__(self) -> int:
        """How many spans."""
        return len(self.spans)

    def some(self, here: slice) -> Counts:
        """Some of the spans."""
        return self.piece(self.spans[here])

    def against(self, weights: Floats) -> Floats:
        """Likelihood of each span for columns of weights on rungs, shape (t, k)."""
        found = np.empty((len(self.spans), weights.shape[1]))
        for first in range(0, len(self.spans), _SPANS_IN_A_PIECE):
            here = slice(first, first + _SPANS_IN_A_PIECE)
            found[here] = self.some(here).against(weights)
        return found


_SPANS_IN_A_PIECE = 16_384
"""Spans of a piece: with fifty rungs 7 MB. No part in the result."""

_MOST_SPANS_HELD = 100_000
"""Up to so many spans of one length their sums are held: some 40 MB."""


def counts_of(spans: Ints, piece: Callable[[Ints], Counts]) -> Counts | CountsInPieces:
    """Sums of spans: held where they are few enough, else made anew for each look."""
    return piece(spans) if len(spans) <= _MOST_SPANS_HELD else CountsInPieces(spans, piece)


def up_to_rungs(spans: Ints, emission: Floats, *, padded: bool, start: int, highest: int) -> Counts:
    """Sum reported figures over all numbers up to each rung, for series."""
    rungs = ladder(highest)
    n = spans.shape[1]
    shifted = rungs + (start - 1)
    # Beyond the largest number that fits the span the sum no longer grows.
    past = int(np.searchsorted(shifted, 10**n - 1))
    at = np.arange(min(past, len(rungs) - 1) + 1)
    if start == 1 and not padded:
        at = at[shifted[at] >= 10 ** (n - 1)]
    if not len(at):
        return Counts(np.zeros((len(spans), 0)), at, all_above=True)
    summed = chance_up_to(spans, emission, shifted[at], padded=padded)
    if start > 1:
        before = chance_up_to(spans, emission, np.array([start - 1]), padded=padded)
        summed = np.maximum(summed - before, 0.0)
    return Counts(summed, at, all_above=True)


def within_cells(
    spans: Ints, emission: Floats, *, padded: bool, start: int, highest: int
) -> Counts:
    """Sum reported figures over the numbers within each cell of the ladder."""
    rungs = ladder(highest)
    n = spans.shape[1]
    bounds = np.concatenate([[0], rungs]) + (start - 1)
    fits = bounds[:-1] < 10**n - 1
    if not padded:
        fits &= bounds[1:] >= 10 ** (n - 1)
    at = np.flatnonzero(fits)
    if not len(at):
        return Counts(np.zeros((len(spans), 0)), at, all_above=False)
    summed = chance_up_to(spans, emission, bounds[at[0] : at[-1] + 2], padded=padded)
    return Counts(np.maximum(np.diff(summed, axis=1), 0.0), at, all_above=False)


def at_levels(weights: Floats, spread: float, nodes: Floats) -> Floats:
    """Weights at any levels, each the mixture of its two neighbours, shape (rungs, k)."""
    lattice = levels(spread)
    place = (nodes - lattice[0]) / (lattice[1] - lattice[0])
    left = np.minimum(np.maximum(place.astype(np.int64), 0), len(lattice) - 2)
    by_level = weights.T  # each level lies in one piece, which is taken far more quickly
    below, found = by_level[left], by_level[left + 1]
    found -= below
    found *= (place - left)[:, None]
    found += below
    return np.asarray(found.T)


def series_at_levels(highest: int, spread: float, nodes: Floats) -> Floats:
    """Weights of a series (`series_weights`) at any levels, shape (rungs, k).

    The first look of every theory is at the same levels, so the last few are held.
    """
    return _held_series(highest, spread, nodes.tobytes())


@lru_cache(maxsize=8)
def _held_series(highest: int, spread: float, nodes: bytes) -> Floats:
    found = at_levels(series_weights(highest, spread), spread, np.frombuffer(nodes))
    found.setflags(write=False)
    return found


def totals_on_ladder(log_limit: Floats, spread: float, highest: int) -> Floats:
    """Probability of each rung as the total of a series, shape (u, k); columns sum to 1."""
    from scipy.special import ndtr

    edges = np.log(_edges(ladder(highest)))
    below = ndtr((edges[:, None] - log_limit[None, :]) / spread)
    mass = np.diff(below, axis=0)
    mass += 1e-300
    return np.asarray(mass / mass.sum(axis=0))


def numbers_on_ladder(log_centre: Floats, spread: Floats, highest: int) -> Floats:
    """Probability of each cell of the ladder for log-normal numbers; columns sum to 1."""
    from scipy.special import ndtr

    edges = np.log(np.concatenate([[1e-9], ladder(highest)[:-1] + 0.5, [1e300]]))
    mass = np.diff(ndtr((edges[:, None] - log_centre) / spread), axis=0) + 1e-300
    return np.asarray(mass / mass.sum(axis=0))


def _edges(rungs: Ints) -> Floats:
    """Bounds of the ladder's cells on the scale of a continuous total, from above 0."""
    return np.concatenate([[1e-9], (rungs[:-1] + rungs[1:]) / 2.0, [rungs[-1] * 1e6]])
