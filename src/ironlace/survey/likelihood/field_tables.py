"""What each field of a scheme makes of the figures it would have to cover.

A field without anything unknown (month, week, constant) gives one chance for each span of figures.
One with something unknown (the limit of a count, the years of making, the letters in use, how idle
dots fall) gives a table: a row for each distinct span, a column for each value of the unknown.
An unknown has one continuous part (`low` to `high`) with a prior and a few options with weights.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats, Ints
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.reading_errors import CHARACTERS
from ironlace.survey.likelihood.running_numbers import (
    Counts,
    CountsInPieces,
    at_levels,
    counts_of,
    near_weights,
    series_at_levels,
    up_to_rungs,
    within_cells,
)
from ironlace.survey.schemes.scheme import Counted, Field, FieldKind

SHARP = 0.1
"""Spread of the limit of one long series: a tenth, so that sums over limits are smooth."""

LETTERS = CHARACTERS[10:]
MONTHS = 12
"""Months of a year."""

WEEKS = 53
"""Weeks of a year by ISO 8601: 52 or 53."""


ONE_YEAR = 0.1
"""Scale of years, of machines that are all of one year: another year has one in 400, or as much
as that one where the middle lies at the turn of both."""


class Unknown(Protocol):
    """Something unknown that a field's chances hang on."""

    name: str
    low: float
    high: float
    option_weights: Floats
    finest: Floats
    """For each option the width of the finest detail along the continuous part."""

    def table(self, nodes: Floats, option: int) -> Floats:
        """Likelihoods of the spans under one option at some nodes, shape (t, nodes)."""
        ...

    def prior(self, nodes: Floats, option: int) -> Floats:
        """Prior density at some nodes over that of a flat one, shape (nodes,)."""
        ...


class FlatPrior:
    """What has no reason to be at one place rather than another."""

    def prior(self, nodes: Floats, option: int) -> Floats:  # noqa: ARG002
        """Prior density over that of a flat one, shape (nodes,)."""
        return np.ones(len(nodes))


@dataclass(frozen=True)
class Spans:
    """Distinct spans of one field, by length, in the order of their rows in a table."""

    by_length: tuple[Ints, ...]

    @property
    def count(self) -> int:
        """How many rows."""
        return sum(len(spans) for spans in self.by_length)


def distinct(pieces: Sequence[Ints]) -> tuple[Spans, list[Ints]]:
    """Find the distinct spans among pieces of shape (r, length); return them and row numbers."""
    lengths = sorted({piece.shape[1] for piece in pieces})
    rows: list[Ints] = [np.zeros(0, dtype=np.int64)] * len(pieces)
    found: list[Ints] = []
    offset = 0
    for length in lengths:
        which = [i for i, piece in enumerate(pieces) if piece.shape[1] == length]
        stacked = np.concatenate([pieces[i] for i in which])
        base = int(stacked.max(initial=0)) + 1
        if base ** max(length, 1) < 2**62:
            code = stacked @ (base ** np.arange(length, dtype=np.int64))
            _, first, inverse = np.unique(code, return_index=True, return_inverse=True)
            spans = stacked[first]
        else:
            spans, inverse = np.unique(stacked, axis=0, return_inverse=True)
        inverse = (inverse.ravel() + offset).astype(np.int32)
        at = 0
        for i in which:
            rows[i] = inverse[at : at + len(pieces[i])]
            at += len(pieces[i])
        found.append(spans.astype(np.int64))  # of a million marks the pieces are kept smaller
        offset += len(spans)
    return Spans(tuple(found)), rows


def lengths_of(part: Field, assumptions: Assumptions) -> tuple[int, ...]:
    """How many characters a field may take."""
    if part.kind in (FieldKind.NUMBER, FieldKind.CODE, FieldKind.BATCH):
        most = len(str(assumptions.highest_number + (part.start or 1) - 1))
        return tuple(range(part.figures or 1, max(most, part.figures or 1) + 1))
    return tuple(sorted({len(text) for text, _ in _texts(part, assumptions)}))


def _texts(part: Field, assumptions: Assumptions) -> list[tuple[str, int]]:
    """What a field of few values may show, and the value behind it."""
    width = part.figures or 1
    if part.kind is FieldKind.MONTH:
        values = range(1, MONTHS + 1)
        lettered = part.as_letter or part.as_dots  # dots are counted before a mark is cut
        return [(LETTERS[v - 1] if lettered else f"{v:0{width}d}", v) for v in values]
    if part.kind is FieldKind.WEEK:
        return [(f"{v:0{width}d}", v) for v in range(1, WEEKS + 1)]
    if part.kind is FieldKind.YEAR:
        years = range(assumptions.first_year, assumptions.last_year + 1)
        if part.start is None:
            return [(f"{y:04d}"[-(part.figures or 2) :], y) for y in years]
        counted = [(y - part.start + 1, y) for y in years if y >= part.start]
        if part.goes_round:
            return [(LETTERS[(k - 1) % len(LETTERS)], y) for k, y in counted]
        if part.as_letter:
            return [(LETTERS[k - 1], y) for k, y in counted if k <= len(LETTERS)]
        return [(str(k), y) for k, y in counted]
    if part.kind is FieldKind.LETTER:
        return [(letter, i) for i, letter in enumerate(part.text or LETTERS)]
    return [(part.text, 0)]


def text_likelihood(
    spans: Spans, emission: Floats, texts: Sequence[str], transposed: float = 0.0
) -> Floats:
    """Likelihood of each span for each text struck, shape (t, texts); lengths must agree.

    `transposed` is the chance of each two neighbours to be reported changed round.
    """
    table = np.zeros((spans.count, len(texts)))
    at = 0
    for group in spans.by_length:
        length = group.shape[1]
        fitting = [i for i, text in enumerate(texts) if len(text) == length]
        if fitting:
            struck = np.array([[CHARACTERS.index(c) for c in texts[i]] for i in fitting])

            def of(rows: Ints, struck: Ints = struck) -> Floats:
                here = np.ones((len(rows), len(struck)))
                for place in range(rows.shape[1]):
                    here *= emission[rows[:, place]][:, struck[:, place]]
                return here

            table[at : at + len(group), fitting] = with_transposed(group, transposed, of)
        at += len(group)
    return table


def with_transposed(group: Ints, rate: float, of: Callable[[Ints], Floats]) -> Floats:
    """Likelihoods of spans as read, and with each two neighbours changed round; shape as of `of`.

    Changing round only renames what is read, so the chances of all readings still sum to 1.
    """
    found = of(group)
    pairs = group.shape[1] - 1
    if pairs < 1 or rate <= 0.0 or not len(group):
        return found
    rate = min(rate, 0.5 / pairs)
    mixed = (1.0 - rate * pairs) * found
    for left in range(pairs):
        turned = group.copy()
        turned[:, [left, left + 1]] = group[:, [left + 1, left]]
        mixed += rate * of(turned)
    return np.asarray(mixed)


def known_chances(part: Field, spans: Spans, emission: Floats, assumptions: Assumptions) -> Floats:
    """Chances of spans for a field without unknowns, shape (t,)."""
    texts = [text for text, _ in _texts(part, assumptions)]
    table = text_likelihood(spans, emission, texts, assumptions.transposed_rate)
    return np.asarray(table.mean(axis=1))


def value_likelihood(
    part: Field, spans: Spans, emission: Floats, assumptions: Assumptions
) -> tuple[Floats, Ints]:
    """Likelihood of spans for each month, week or year, shape (t, values); the values."""
    texts = _texts(part, assumptions)
    read = [text for text, _ in texts]
    table = text_likelihood(spans, emission, read, assumptions.transposed_rate)
    return table, np.array([value for _, value in texts], dtype=np.int64)


def values_as_read(part: Field, spans: Spans, emission: Floats, assumptions: Assumptions) -> Floats:
    """The month, week or year each span shows at its face, NaN when it shows none; shape (t,)."""
    table, values = value_likelihood(part, spans, emission, assumptions)
    best = np.argmax(table, axis=1)
    clear = table[np.arange(len(table)), best]
    length = np.concatenate([[g.shape[1]] * len(g) for g in spans.by_length] or [[]])
    sure = clear > 0.5**length
    # A two-figure year that fits two centuries is no date.
    unique = np.sum(table >= 0.5 * clear[:, None], axis=1) == 1
    return np.where(sure & unique, values[best].astype(float), np.nan)


@dataclass
class YearsOfMaking(FlatPrior):
    """Unknown: about which year, and over how many, the machines were made."""

    part: Field
    spans: Spans
    emission: Floats
    assumptions: Assumptions
    name: str = "years of making"
    scales: tuple[float, ...] = (ONE_YEAR, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 1e3)
    likelihood: Floats = field(init=False)
    values: Ints = field(init=False)

    def __post_init__(self) -> None:
        self.likelihood, self.values = value_likelihood(
            self.part, self.spans, self.emission, self.assumptions
        )
        self.low = float(self.assumptions.first_year)
        self.high = float(self.assumptions.last_year)
        self.option_weights = np.full(len(self.scales), 1.0 / len(self.scales))
        self.finest = np.array(self.scales)

    def add_rows(self, likelihood: Floats) -> Ints:
        """Add rows for spans whose report came with a date, shape (k, years); their numbers."""
        first = len(self.likelihood)
        self.likelihood = np.concatenate([self.likelihood, likelihood])
        return np.arange(first, len(self.likelihood))

    def year_chances(self, nodes: Floats, option: int) -> Floats:
        """Chance of each year, shape (years, nodes): Student's t with two degrees of freedom.

        A works went on for years before and after those that reports happen to show, so years far
        from the middle must stay possible: a bell would call them misread (Lange, Little and
        Taylor 1989, *Journal of the American Statistical Association* 84, 881-896).
        """
        scale = self.scales[option]
        # A works that made in one year only made all through it: most middles mean a whole year.
        whole = np.sin(2.0 * np.pi * nodes) / (2.0 * np.pi) if scale == ONE_YEAR else 0.0
        middle = nodes - whole
        z = (self.values[:, None] - middle[None, :]) / scale
        wide = 1.0 + 0.5 * z * z
        hump = 1.0 / (wide * np.sqrt(wide))  # to the power -1.5, which takes far longer
        return np.asarray(hump / hump.sum(axis=0))

    def table(self, nodes: Floats, option: int) -> Floats:
        """Likelihoods, shape (t, nodes)."""
        return np.asarray(self.likelihood @ self.year_chances(nodes, option))


def count_tables(
    part: Field, spans: Spans, emission: Floats, given: Assumptions
) -> list[Counts | CountsInPieces]:
    """Spans of each length summed over all numbers up to each rung of the ladder."""
    start = (part.start or 1) if part.kind is FieldKind.NUMBER else 1

    def of(rows: Ints) -> Counts:
        return up_to_rungs(
            rows,
            emission,
            padded=is_padded(part, rows),
            start=start,
            highest=given.highest_number,
        )

    return [counts_of(group, of) for group in spans.by_length]


@dataclass
class LimitOfCount(FlatPrior):
    """Unknown: how high a running number or code goes (natural logarithm)."""

    part: Field
    spans: Spans
    emission: Floats
    assumptions: Assumptions
    spread: float
    name: str = "highest count"

    def __post_init__(self) -> None:
        self.low, self.high = 0.0, math.log(self.assumptions.highest_number)
        self.option_weights = np.ones(1)
        self.finest = np.array([self.spread])
        self._counts = count_tables(self.part, self.spans, self.emission, self.assumptions)

    def table(self, nodes: Floats, option: int) -> Floats:  # noqa: ARG002
        """Likelihoods, shape (t, nodes)."""
        weights = series_at_levels(self.assumptions.highest_number, self.spread, nodes)
        return np.concatenate([counts.against(weights) for counts in self._counts])


_MOST_TRANSPOSED = 5_000
"""Up to so many different numbers of one length are also read with two figures changed round. That
leaves a count up to some limit as probable as before, or nearly, and of many it costs time."""


def cell_counts(
    part: Field, spans: Spans, emission: Floats, given: Assumptions
) -> list[Counts | CountsInPieces]:
    """Spans of each length summed over the numbers within each cell of the ladder."""
    start = (part.start or 1) if part.kind is FieldKind.NUMBER else 1

    def plain(rows: Ints) -> Counts:
        return within_cells(
            rows,
            emission,
            padded=is_padded(part, rows),
            start=start,
            highest=given.highest_number,
        )

    def turned(rows: Ints) -> Counts:
        mixed = with_transposed(rows, given.transposed_rate, lambda some: plain(some).upto)
        return replace(plain(rows[:1]), upto=mixed)

    return [
        turned(group) if len(group) <= _MOST_TRANSPOSED else counts_of(group, plain)
        for group in spans.by_length
    ]


@dataclass
class Neighbourhood(FlatPrior):
    """Unknown: about which value a code keeps, and how closely."""

    part: Field
    spans: Spans
    emission: Floats
    assumptions: Assumptions
    name: str = "value a code keeps near"
    spreads: tuple[float, ...] = (0.03, 0.1, 0.3, 1.0)

    def __post_init__(self) -> None:
        highest = self.assumptions.highest_number
        self.low, self.high = 0.0, math.log(highest)
        self.option_weights = np.full(len(self.spreads), 1.0 / len(self.spreads))
        self.finest = np.array(self.spreads)
        self._counts = cell_counts(self.part, self.spans, self.emission, self.assumptions)

    def table(self, nodes: Floats, option: int) -> Floats:
        """Likelihoods, shape (t, nodes)."""
        spread = self.spreads[option]
        weights = at_levels(near_weights(self.assumptions.highest_number, spread), spread, nodes)
        return np.concatenate([counts.against(weights) for counts in self._counts])


@dataclass
class LettersInUse(FlatPrior):
    """Unknown: which letters a works used: one, the first few, or any."""

    part: Field
    spans: Spans
    emission: Floats
    assumptions: Assumptions
    name: str = "letters in use"
    low: float = 0.0
    high: float = 0.0

    def __post_init__(self) -> None:
        letters = self.part.text or LETTERS
        n = len(letters)
        chances = [np.eye(n)[i] for i in range(n)]
        weights = [0.4 / n] * n
        first_few = range(2, n)
        for k in first_few:
            chances.append(np.where(np.arange(n) < k, 1.0 / k, 0.0))
            weights.append(0.4 / len(first_few))
        chances.append(np.full(n, 1.0 / n))
        weights.append(0.2)
        self.option_weights = np.array(weights) / sum(weights)
        self.finest = np.ones(len(weights))
        self._chances = np.array(chances)
        self._likelihood = text_likelihood(self.spans, self.emission, list(letters))

    def chances(self, option: int) -> Floats:
        """Chance of each letter, shape (letters,)."""
        return np.asarray(self._chances[option])

    def table(self, nodes: Floats, option: int) -> Floats:
        """Likelihoods, shape (t, nodes): the same at each node."""
        return np.repeat((self._likelihood @ self._chances[option])[:, None], len(nodes), axis=1)


@dataclass
class HabitOfDots(FlatPrior):
    """Unknown: how dots that mean nothing fall; rows hold chances already worked out."""

    chances: Floats
    name: str = "how idle dots fall"
    low: float = 0.0
    high: float = 0.0

    def __post_init__(self) -> None:
        count = self.chances.shape[1]
        self.option_weights = np.full(count, 1.0 / count)
        self.finest = np.ones(count)

    def table(self, nodes: Floats, option: int) -> Floats:
        """Likelihoods, shape (t, nodes)."""
        return np.repeat(self.chances[:, option, None], len(nodes), axis=1)


def is_padded(part: Field, group: NDArray[np.int64]) -> bool:
    """Whether spans of this length are filled up with noughts."""
    return part.figures is not None and group.shape[1] == part.figures


def spread_of(part: Field, assumptions: Assumptions) -> float:
    """How unevenly the totals of a count's series run."""
    if part.kind is FieldKind.NUMBER and part.counted in (
        Counted.MONTH,
        Counted.WEEK,
        Counted.YEAR,
        Counted.LETTER,
    ):
        return assumptions.uneven_output
    return SHARP
