"""A running number beside a date: it must rise with the date.

Two accounts of it are weighed. A regular works: the number keeps near a curve that rises with the
date. A works of any habits: the number is thrown up to some limit, and only its order against the
dates is asked (`order_of_numbers`).
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from ironlace.evidence.arrays import Floats, Ints
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.field_tables import (
    MONTHS,
    SHARP,
    WEEKS,
    Spans,
    cell_counts,
    count_tables,
    values_as_read,
)
from ironlace.survey.likelihood.order_of_numbers import (
    MOST_IN_ORDER,
    Line,
    log_gain_beside_lines,
    log_gain_of_order,
)
from ironlace.survey.likelihood.running_numbers import (
    Counts,
    CountsInPieces,
    levels,
    near_weights,
    series_at_levels,
    series_weights,
)
from ironlace.survey.likelihood.usual_output import density
from ironlace.survey.likelihood.within_year import WEIGHTS, parts_of_year
from ironlace.survey.schemes.scheme import Counted, Field, FieldKind, Scheme

_ALONG_A_CURVE = (
    (0.03, 0.1),
    (0.08, 0.1),
    (0.08, 0.25),
    (0.2, 0.1),
    (0.2, 0.25),
    (0.5, 0.1),
    (0.5, 0.25),
)
"""Growth a year of a number that runs on, of the logarithm (3 to 65 in a hundred), and spread about
that curve. No spread is worth more than three years or so of growth: numbers that far out of step
would say nothing of the order; a judgement."""

_WITHIN_A_YEAR = (
    (12.0, 0.15, 0.2),
    (12.0, 0.25, 0.2),
    (2.5, 0.25, 0.2),
    (2.5, 0.6, 0.15),
    (0.6, 0.25, 0.15),
    (0.6, 0.6, 0.1),
)
"""Habits of works that begin again each year: shape of a month's output (12 is even, 2.5 uneven,
0.6 in lots, with months without work), spread of the logarithm of a year's output (0.15 even, 0.6
doubling or halving), and how often a works has both; a judgement."""

_TRENDS = (0.0, 0.1, 0.25)
"""Growth a year of what a works makes in a year or a month: none, a tenth, a quarter; a judgement.
A fall is left to the spread."""

_LOST_SPREAD = 1.5
"""Spread where no date is read beside the number: a factor of 4.5 either way; a judgement."""

LATE_STARTS = (0.25, 0.06)
"""How far a year may lag behind: it was the works' first, or begins with a war."""

LATE = 0.04
"""Chance that a year lags so at a machine, both of `LATE_STARTS` together: one year in 25, which is
seldom beside what uneven months do; a judgement."""

_MOST_GAIN = 600.0
"""Most gain of an order, of the logarithm: e to the 600 is a number that a double still holds."""


@dataclass(frozen=True)
class DatesBeside:
    """Dates read beside numbers, cut by cut; NaN where none is read, each of shape (e,).

    Attributes
    ----------
    year
        The year.
    within
        The middle of the month or week as a part of the year; a half where neither is struck.
    part
        How much of the year that month or week is.
    """

    year: Floats
    within: Floats
    part: float


def dates_beside(
    scheme: Scheme,
    spans: tuple[Spans, ...],
    span_row: tuple[Ints, ...],
    emission: Floats,
    assumptions: Assumptions,
) -> DatesBeside:
    """Read the dates beside a running number at their face.

    Were one misread the number would look out of step, as it would to a person.
    """
    read: dict[FieldKind, Floats] = {}
    for f, other in enumerate(scheme.fields):
        if other.kind in (FieldKind.YEAR, FieldKind.MONTH, FieldKind.WEEK):
            read[other.kind] = values_as_read(other, spans[f], emission, assumptions)[span_row[f]]
    count = len(span_row[0])
    within, part = np.full(count, 0.5), 1.0
    for kind, most in ((FieldKind.MONTH, MONTHS), (FieldKind.WEEK, WEEKS)):
        if kind in read:
            within, part = (read[kind] - 0.5) / most, 1.0 / most
            break
    return DatesBeside(read.get(FieldKind.YEAR, np.full(count, np.nan)), within, part)


def follows_date(part: Field, scheme: Scheme) -> bool:
    """Whether a number must rise with a date that the mark states."""
    kinds = {f.kind for f in scheme.fields}
    if part.kind is not FieldKind.NUMBER:
        return False
    if part.counted is Counted.OVERALL:
        return FieldKind.YEAR in kinds
    return part.counted is Counted.YEAR and bool(kinds & {FieldKind.MONTH, FieldKind.WEEK})


@dataclass
class LimitWithTrend:
    """Unknown: how high a number goes that starts again each year, month or week, and its growth.

    A row stands for a span together with the year read beside it (`years`, from the middle of the
    period; NaN when none is read, which is then taken for the middle).
    """

    part: Field
    spans: Spans
    span_of_row: Ints
    years: Floats
    emission: Floats
    assumptions: Assumptions
    name: str = "highest number"

    def __post_init__(self) -> None:
        self.low, self.high = 0.0, math.log(self.assumptions.highest_number)
        self.spread = self.assumptions.uneven_output
        self.option_weights = np.full(len(_TRENDS), 1.0 / len(_TRENDS))
        self.finest = np.full(len(_TRENDS), self.spread)
        self._counts = count_tables(self.part, self.spans, self.emission, self.assumptions)
        self._held = _Levels(self._counts)
        self._years = np.nan_to_num(self.years, nan=0.0)

    def prior(self, nodes: Floats, option: int) -> Floats:
        """Prior density over a flat one: what a works usually makes."""
        return density(self.part.counted, _TRENDS[option], nodes, (self.low, self.high))

    def growth(self, option: int) -> float:
        """Growth a year under an option."""
        return _TRENDS[option]

    def usual_limits(self, places: Floats) -> Floats:
        """Limits in the middle one of the years read, for options and values, shape (c, 2)."""
        read = self.years[np.isfinite(self.years)]
        middle = float(np.median(read)) if len(read) else 0.0
        return np.exp(places[:, 1] + np.array(_TRENDS)[places[:, 0].astype(np.int64)] * middle)

    def table(self, nodes: Floats, option: int) -> Floats:
        """Likelihoods, shape (t, nodes)."""
        if not _TRENDS[option]:
            weights = series_at_levels(self.assumptions.highest_number, self.spread, nodes)
            by_span = np.concatenate([counts.against(weights) for counts in self._counts])
            return np.asarray(by_span[self.span_of_row])
        whole = series_weights(self.assumptions.highest_number, self.spread)
        shifts = [(1.0, _TRENDS[option] * self._years)]
        return _between_levels(self._held, whole, self.spread, nodes, shifts, self.span_of_row)


class _Levels:
    """Likelihoods of spans at the levels of a lattice, worked out once where they are few."""

    def __init__(self, tables: Sequence[Counts | CountsInPieces]) -> None:
        self._tables = tables
        self._count = sum(len(counts) for counts in tables)
        self._held: dict[float, Floats] = {}

    def within(
        self, weights: Floats, spread: float, first: int, last: int
    ) -> Iterator[tuple[int, Floats]]:
        """The levels from `first` up to but without `last`, in pieces of spans.

        Each piece comes with the number of its first span, shape (spans, last - first).
        """
        if self._count * weights.shape[1] <= _MOST_HELD:
            if spread not in self._held:
                self._held[spread] = np.concatenate([c.against(weights) for c in self._tables])
            yield 0, self._held[spread][:, first:last]
            return
        used, at = weights[:, first:last], 0
        for counts in self._tables:
            for start in range(0, len(counts), _SPANS_AT_ONCE):
                piece = counts.some(slice(start, start + _SPANS_AT_ONCE)).against(used)
                yield at, piece
                at += len(piece)


_MOST_HELD = 200_000
"""Entries of a table held for a spread: of few reports, where each look costs more than its sum."""

_SPANS_AT_ONCE = 1_024
"""Spans whose likelihoods at all levels are held at once: 11 MB. No part in the result."""


def _between_levels(
    held: _Levels,
    weights: Floats,
    spread: float,
    nodes: Floats,
    shifts: Sequence[tuple[float, Floats]],
    row: Ints,
) -> Floats:
    """Likelihoods of spans at nodes shifted for each row, summed over weighted shifts.

    Parameters
    ----------
    shifts
        Weight of each, and how far it moves the nodes for each row, shape (t,).
    row
        The span of each row, rising, shape (t,).

    Returns
    -------
    ndarray of shape (t, nodes)
    """
    found = np.zeros((len(row), len(nodes)))
    if not found.size:
        return found
    lattice = levels(spread)
    step = lattice[1] - lattice[0]
    least = min(float(shift.min()) for _, shift in shifts)
    most = max(float(shift.max()) for _, shift in shifts)
    ends = (np.array([nodes.min() + least, nodes.max() + most]) - lattice[0]) / step
    first, last = np.clip(ends.astype(np.int64), 0, len(lattice) - 2).tolist()
    each = np.array([weight for weight, _ in shifts])
    moved = np.stack([shift for _, shift in shifts], axis=1)
    step_of_rows = max(_ROWS_AT_ONCE // len(shifts), 1)
    for begins, piece in held.within(weights, spread, first, last + 2):
        start, end = np.searchsorted(row, (begins, begins + len(piece))).tolist()
        by_level = np.ascontiguousarray(piece)
        width, entries = by_level.shape[1], by_level.ravel()
        for at in range(start, end, step_of_rows):
            here = slice(at, min(at + step_of_rows, end))
            base = (row[here, None, None].astype(np.int64) - begins) * width - first
            # all shifts of a row at once: of few reports each call costs more than its sum
            place = nodes[None, None, :] + moved[here, :, None]
            place -= lattice[0]
            place /= step
            # np.clip takes as long again as these
            left = np.minimum(np.maximum(place.astype(np.int64), 0), len(lattice) - 2)
            place -= left
            share = np.minimum(np.maximum(place, 0.0), 1.0, out=place)
            left += base
            below = entries[left]
            left += 1
            above = entries[left]
            above -= below
            above *= share
            above += below
            found[here] = np.einsum("s,rsn->rn", each, above)
    return found


_ROWS_AT_ONCE = 4_096
"""Rows of a table worked out at once, so that what it takes beside fits a cache or nearly. No part
in the result."""


@dataclass
class TrackedCount:
    """Unknown: the level of a running number that must rise with the date beside it.

    A row stands for a span together with the date read beside it. Under most options the number is
    log-normal about level + growth * date, or about where its month stands in the output of a year
    of so many machines (`within_year`).
    Of a number that runs on there is one more, `in_order`: it is thrown up to some limit, and only
    its order tells. `order_gain` says what the order of the reports tells (`gain_of_order`).
    """

    part: Field
    spans: Spans
    span_of_row: Ints
    years: Floats
    within: Floats
    emission: Floats
    assumptions: Assumptions
    within_year: float | None = None
    order_gain: tuple[float, ...] = ()
    name: str = "running number against date"
    low: float = field(init=False)
    high: float = field(init=False)
    option_weights: Floats = field(init=False)
    finest: Floats = field(init=False)

    def __post_init__(self) -> None:
        highest = self.assumptions.highest_number
        yearly = self.within_year is not None
        self.low, self.high = (0.0 if yearly else -4.0), math.log(highest) + 4.0
        self._habits = [(growth, spread) for growth, spread in _ALONG_A_CURVE]
        self._shapes = [0.0] * len(self._habits)
        if yearly:
            each = [(trend, habit) for trend in _TRENDS for habit in _WITHIN_A_YEAR]
            self._habits = [(trend, spread) for trend, (_, spread, _) in each]
            self._shapes = [shape for _, (shape, _, _) in each]
        self.series_spread = self.assumptions.uneven_output if yearly else SHARP
        self.option_weights = self._weights(yearly)
        self.finest = np.array([spread for _, spread in self._habits] + [self.series_spread])
        self.finest = self.finest[: len(self.option_weights)]
        self._counts = cell_counts(self.part, self.spans, self.emission, self.assumptions)
        # a number that starts again each year is never thrown without order
        self._series = (
            [] if yearly else count_tables(self.part, self.spans, self.emission, self.assumptions)
        )
        self._held = _Levels(self._counts)
        self._known = np.isfinite(self.years) & np.isfinite(self.within)

    def prior(self, nodes: Floats, option: int) -> Floats:
        """Prior density over a flat one: what a works usually makes."""
        return density(self.part.counted, self.growth(option), nodes, (self.low, self.high))

    def _weights(self, yearly: bool) -> Floats:
        """Prior weight of each option, times what the order of the numbers tells under it."""
        count = len(self._habits)
        told = np.exp(np.minimum(self.order_gain, _MOST_GAIN))
        if yearly:
            often = np.array([often for _, _, often in _WITHIN_A_YEAR])
            by_habit = often * (told if len(told) else 1.0) / len(_TRENDS)
            return np.tile(by_habit, len(_TRENDS))
        in_order = 0.5 * float(told[0]) if len(told) else 0.5
        return np.array([0.5 / count] * count + [in_order])

    @property
    def in_order(self) -> int:
        """The option under which only the order against the dates is asked."""
        return len(self._habits)

    def table(self, nodes: Floats, option: int) -> Floats:
        """Likelihoods, shape (t, nodes)."""
        if option == self.in_order:
            highest = self.assumptions.highest_number
            weights = series_at_levels(highest, self.series_spread, nodes)
            by_span = np.concatenate([counts.against(weights) for counts in self._series])
            return np.asarray(by_span[self.span_of_row])
        growth, spread = self._habits[option]
        years = np.where(self._known, self.years, 0.0)
        within = np.where(self._known, self.within, 0.5)
        rows = self.span_of_row
        if self.within_year is None:
            shifts = [(1.0, growth * (years + within))]
        else:
            shifts = [
                (weight, growth * years + place) for weight, place in self._shifts(option, within)
            ]
        table = self._at(nodes, shifts, rows, spread)
        if not self._known.all():
            lost = np.flatnonzero(~self._known)
            rows = self.span_of_row[lost]
            table[lost] = self._at(nodes, [(1.0, np.zeros(len(lost)))], rows, _LOST_SPREAD)
        return table

    def growth(self, option: int) -> float:
        """Growth a year under an option; nought where only the order is asked."""
        return self._habits[option][0] if option < len(self._habits) else 0.0

    def habit(self, option: int) -> tuple[float, float]:
        """Growth rate and spread of an option that follows a line."""
        return self._habits[option]

    def shape(self, option: int) -> float:
        """Shape of a month's output under an option, of a number that starts each year."""
        return self._shapes[option]

    def places(self, option: int, within: float) -> Floats:
        """Logarithms of where a number may stand in a year's output (`within_year.WEIGHTS`)."""
        assert self.within_year is not None
        return parts_of_year(self._shapes[option], within, self.within_year)

    def _shifts(self, option: int, within: Floats) -> list[tuple[float, Floats]]:
        """How probable each place in a year's output is, and where it is for each row."""
        read, row = np.unique(within, return_inverse=True)
        places = np.array([self.places(option, float(at)) for at in read])[row.ravel()]
        found = [((1.0 - LATE) * weight, places[:, i]) for i, weight in enumerate(WEIGHTS)]
        late = [(LATE / len(LATE_STARTS), np.log(lag * within)) for lag in LATE_STARTS]
        return [*found, *late]

    def _at(
        self, nodes: Floats, shifts: Sequence[tuple[float, Floats]], row: Ints, spread: float
    ) -> Floats:
        weights = near_weights(self.assumptions.highest_number, spread)
        return _between_levels(self._held, weights, spread, nodes, shifts, row)


def years_from_middle(dates: DatesBeside, assumptions: Assumptions) -> Floats:
    """The year beside each number, from the middle of the period, shape (e,)."""
    return np.asarray(dates.year - (assumptions.first_year + assumptions.last_year) / 2.0)


def gain_of_order(
    part: Field,
    dates: DatesBeside,
    reports: Ints,
    weight: Floats,
    number: Floats,
    times: Floats,
) -> tuple[float, ...]:
    """What the order of the numbers against their dates tells, reports taken at their face.

    One figure for a number that runs on; for one that starts each year one for each habit of a
    works, since numbers near a line are mostly in order without more.

    Parameters
    ----------
    reports, weight, number
        For each cut its report, its known chance, and the number it shows (NaN when none).
    times
        How many reports each report stands for.
    """
    clear = np.isfinite(number) & np.isfinite(dates.year) & np.isfinite(dates.within)
    clear &= weight > 0.0
    here = np.flatnonzero(clear)
    # of several ways to cut a report the likeliest speaks for it
    here = here[np.lexsort((-weight[here], reports[here]))]
    here = here[np.unique(reports[here], return_index=True)[1]]
    # in the order of the dates, so that the order in which they came has no part in it
    here = here[np.lexsort((number[here], dates.within[here], dates.year[here]))]
    reached = np.cumsum(times[reports[here]])
    count = int(reached[-1]) if len(reached) else 0
    if count < 2:
        return ()
    places = np.linspace(0, count - 1, min(count, MOST_IN_ORDER)).astype(np.int64)
    here = here[np.searchsorted(reached, places, side="right")]
    year, within = dates.year[here], dates.within[here]
    if part.counted is Counted.OVERALL:
        return (log_gain_of_order(year + within, number[here]),)
    shown = number[here]
    years, often = np.unique(year, return_counts=True)
    several = years[np.argsort(-often)][: int((often > 1).sum())][:_MOST_YEARS]
    return tuple(
        log_gain_beside_lines(
            [
                _line(within[at], shown[at], dates.part, shape, spread)
                for at in (year == one for one in several)
            ]
        )
        for shape, spread, _ in _WITHIN_A_YEAR
    )


def _line(within: Floats, shown: Floats, part: float, shape: float, spread: float) -> Line:
    """Numbers of one year, with where each would stand and how far about it."""
    places = np.array([parts_of_year(shape, float(at), part) for at in within])
    centre = places @ WEIGHTS
    own = (places - centre[:, None]) ** 2 @ WEIGHTS
    return Line(within, centre, np.sqrt(own + spread**2), shown)


_MOST_YEARS = 8
"""Most years in which the order of numbers that start each year is judged, the fullest ones."""
