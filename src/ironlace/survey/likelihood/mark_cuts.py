"""Every way in which a mark can be cut into the fields of a scheme, with its chance.

A report's probability under a scheme is a sum over cuts: known chances (months, wear of
separators, idle dots) times tables of what is unknown (limits, years of making).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats, Ints
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.dated_counts import (
    LimitWithTrend,
    TrackedCount,
    dates_beside,
    follows_date,
    gain_of_order,
    years_from_middle,
)
from ironlace.survey.likelihood.field_tables import (
    HabitOfDots,
    LettersInUse,
    LimitOfCount,
    Neighbourhood,
    Spans,
    Unknown,
    YearsOfMaking,
    distinct,
    known_chances,
    lengths_of,
    spread_of,
)
from ironlace.survey.likelihood.marks_as_arrays import ReadMarks, lexical_code
from ironlace.survey.likelihood.month_in_year import states_month, within_year
from ironlace.survey.likelihood.reading_errors import CHARACTERS, FIGURES, gap_probability
from ironlace.survey.schemes.scheme import Counted, Field, FieldKind, Scheme, Separator

_GROWS_WITH = (Counted.YEAR, Counted.MONTH, Counted.WEEK)
"""Series whose length grows as the works does."""

_NEGLIGIBLE = 1e-5
"""A cut that cannot reach this part of the junk term is left out."""


@dataclass(frozen=True)
class Cuts:
    """All reports under one scheme, as sums of products.

    Report r has the probability ``junk[r] + sum over its cuts e of known[e] * product over
    unknowns d of table_d[row[d][e]]``; the chance of not being junk is already in `known`, and that
    of the string which is cut where a reading tells several.

    Attributes
    ----------
    count
        How many reports that differ.
    weight
        How many reports each of them stands for, shape (count,).
    report
        Report of each cut, rising, shape (e,).
    known
        Known part of each cut's chance, shape (e,).
    unknowns
        The unknowns, in order.
    row
        For each unknown the row of each cut in its table, each of shape (e,).
    junk
        Junk term of each report (rate included), shape (count,).
    spans, span_row
        For each field its distinct spans, and the row of each cut among them.
    """

    count: int
    report: Ints
    known: Floats
    unknowns: tuple[Unknown, ...]
    row: tuple[Ints, ...]
    junk: Floats
    spans: tuple[Spans, ...]
    span_row: tuple[Ints, ...]
    weight: Floats

    @property
    def reports(self) -> int:
        """How many reports there are, equal ones counted as often as they came."""
        return round(float(self.weight.sum()))

    def some(self, first: int, last: int) -> "Cuts":
        """The cuts of the reports from `first` up to but without `last`; tables stay whole."""
        a, b = np.searchsorted(self.report, (first, last))
        return replace(
            self,
            count=last - first,
            report=self.report[a:b] - first,
            known=self.known[a:b],
            row=tuple(rows[a:b] for rows in self.row),
            junk=self.junk[first:last],
            span_row=tuple(rows[a:b] for rows in self.span_row),
            weight=self.weight[first:last],
        )

    def only(self, keep: NDArray[np.bool_]) -> "Cuts":
        """Some of the cuts of the same reports, without what they read at their face."""
        return replace(
            self,
            report=self.report[keep],
            known=self.known[keep],
            row=tuple(rows[keep] for rows in self.row),
            spans=(),
            span_row=(),
        )


def cut(marks: ReadMarks, scheme: Scheme, assumptions: Assumptions) -> Cuts:
    """Cut every mark in every way that the scheme's fields allow."""
    if scheme.counts_dots:
        marks = marks.with_dots_counted(scheme, assumptions)
    junk = marks.not_of_the_numbering(assumptions.junk_rate)
    found = _Pieces.of(marks, scheme, assumptions, junk)
    if not found.report:
        empty: Ints = np.zeros(0, dtype=np.int64)
        return Cuts(marks.count, empty, np.zeros(0), (), (), junk, (), (), marks.weights)
    order = np.argsort(np.concatenate(found.report), kind="stable")
    told = [distinct(p) for p in found.glyphs]
    spans = tuple(t[0] for t in told)
    span_row = tuple(np.concatenate(t[1])[order] for t in told)
    known = np.concatenate(found.known)[order]
    reports = np.concatenate(found.report)[order]
    habits = found.habits
    del found, told  # of a million reports they hold as much as what is made of them
    weight, unknowns, rows = _unknowns(marks, scheme, assumptions, reports, known, spans, span_row)
    if habits:
        all_habits = np.concatenate(habits)[order]
        distinct_habits, which = np.unique(all_habits, axis=0, return_inverse=True)
        unknowns.append(HabitOfDots(distinct_habits))
        rows.append(which.ravel())
    if marks.dated:
        weight = _with_dates(
            marks, scheme, assumptions, reports, weight, spans, span_row, unknowns, rows
        )
    # Cuts whose known part vanished (a month of 17 read clearly) only cost time.
    live = weight > 0.0
    every = bool(live.all())
    return Cuts(
        marks.count,
        reports if every else reports[live],
        weight if every else weight[live],
        tuple(unknowns),
        tuple(row if every else row[live] for row in rows),
        junk,
        spans,
        tuple(row if every else row[live] for row in span_row),
        marks.weights,
    )


@dataclass
class _Pieces:
    """Cuts as they are found, block by block: report, chance of the gaps, glyphs of each field."""

    report: list[Ints]
    known: list[Floats]
    glyphs: list[list[Ints]]
    habits: list[Floats]

    @classmethod
    def of(
        cls, marks: ReadMarks, scheme: Scheme, assumptions: Assumptions, junk: Floats
    ) -> "_Pieces":
        """Find those that can reach a part of their report's junk term worth keeping."""
        fields = scheme.fields
        lengths = [lengths_of(part, assumptions) for part in fields]
        tables = _GapTables(marks, assumptions)
        negligible = _NEGLIGIBLE * junk
        # A date that came with a mark can raise a cut of it by as much as there are months.
        negligible[list(marks.dated)] *= 1e-3
        found = cls([], [], [[] for _ in fields], [])
        bound = [_bound(part) for part in fields]
        for block in marks.blocks:
            for sizes in _compositions(block.glyphs.shape[1], lengths):
                ends = np.cumsum((0, *sizes))
                chance, habit = tables.chances(scheme, block.gaps, ends)
                chance = chance * (1.0 - assumptions.junk_rate)
                if block.chance is not None:
                    chance = chance * block.chance
                most = math.prod(b(size) for b, size in zip(bound, sizes, strict=True))
                best = chance * most * (habit.max(axis=1) if habit is not None else 1.0)
                keep = np.flatnonzero(best > negligible[block.rows])
                if not len(keep):
                    continue
                found.report.append(block.rows[keep].astype(np.int32))
                found.known.append(chance[keep])
                if habit is not None:
                    found.habits.append(habit[keep])
                for f in range(len(fields)):
                    found.glyphs[f].append(block.glyphs[keep, ends[f] : ends[f + 1]])
        return found


def _unknowns(
    marks: ReadMarks,
    scheme: Scheme,
    assumptions: Assumptions,
    reports: Ints,
    known: Floats,
    spans: tuple[Spans, ...],
    span_row: tuple[Ints, ...],
) -> tuple[Floats, list[Unknown], list[Ints]]:
    """The unknowns of the fields with their rows; fields without one go into the known part."""
    unknowns: list[Unknown] = []
    rows: list[Ints] = []
    weight = known
    for f, part in enumerate(scheme.fields):
        if part.parity:
            weight = weight * _parity_chances(scheme, part, spans, span_row, marks.emission)
        made = _unknown(part, spans[f], marks.emission, assumptions)
        if made is None:
            chances = known_chances(part, spans[f], marks.emission, assumptions)
            weight = weight * chances[span_row[f]]
        elif follows_date(part, scheme):
            tracked, row = _tracked(
                scheme, part, f, reports, known, spans, span_row, marks, assumptions
            )
            unknowns.append(tracked)
            rows.append(row)
        elif part.counted in _GROWS_WITH and scheme.tells_date:
            trended, row = _trended(scheme, part, f, spans, span_row, marks, assumptions)
            unknowns.append(trended)
            rows.append(row)
        else:
            unknowns.append(made)
            rows.append(span_row[f])
    return weight, unknowns, rows


def _with_dates(
    marks: ReadMarks,
    scheme: Scheme,
    assumptions: Assumptions,
    reports: Ints,
    weight: Floats,
    spans: tuple[Spans, ...],
    span_row: tuple[Ints, ...],
    unknowns: list[Unknown],
    rows: list[Ints],
) -> Floats:
    """Bring in the dates that came with reports: given the year and month that each cut states.

    Where a year is stated, the rows of the years of making are multiplied by what the date says of
    each year (`rows` is changed); where only a month is, the known chance of the cut. The answer is
    that known chance. A scheme that states neither leaves every date as probable as any.
    """
    here = np.flatnonzero(np.isin(reports, np.fromiter(marks.dated, np.int64, len(marks.dated))))
    if not len(here) or not (scheme.tells_date or states_month(scheme)):
        return weight
    # many machines came with the same date and state the same: each such case is worked out once
    number: dict[int, int] = {}
    told: list[Floats] = []
    for one in marks.dated.values():
        if number.setdefault(id(one), len(told)) == len(told):
            told.append(one)
    date = np.array([number[id(marks.dated[r])] for r in reports[here].tolist()])
    which = next((i for i, u in enumerate(unknowns) if isinstance(u, YearsOfMaking)), None)
    beside = [
        span_row[f][here]
        for f, part in enumerate(scheme.fields)
        if part.kind in (FieldKind.MONTH, FieldKind.WEEK)
    ]
    case = [date, *beside, *([] if which is None else [rows[which][here]])]
    _, first, back = np.unique(
        lexical_code(np.column_stack(case)), return_index=True, return_inverse=True
    )
    months = within_year(scheme, spans, span_row, marks.emission, assumptions, here[first])
    by_year = np.stack(
        [told[d] @ month for d, month in zip(date[first].tolist(), months, strict=True)]
    )
    if which is None:
        weight = weight.copy()
        weight[here] *= by_year.mean(axis=1)[back.ravel()]
        return weight
    years = unknowns[which]
    assert isinstance(years, YearsOfMaking)
    stated = years.likelihood[case[-1][first]] * by_year[:, years.values - assumptions.first_year]
    rows[which] = rows[which].copy()
    rows[which][here] = years.add_rows(stated)[back.ravel()]
    return weight


def _unknown(
    part: Field, spans: Spans, emission: Floats, assumptions: Assumptions
) -> Unknown | None:
    if part.kind is FieldKind.YEAR:
        return YearsOfMaking(part, spans, emission, assumptions)
    if part.kind is FieldKind.LETTER:
        return LettersInUse(part, spans, emission, assumptions)
    if part.kind is FieldKind.CODE and part.near:
        return Neighbourhood(part, spans, emission, assumptions)
    if part.kind in (FieldKind.NUMBER, FieldKind.CODE, FieldKind.BATCH):
        spread = spread_of(part, assumptions)
        name = "how high codes go" if part.kind is FieldKind.CODE else f"highest {part.kind}"
        return LimitOfCount(part, spans, emission, assumptions, spread, name)
    return None


def _tracked(
    scheme: Scheme,
    part: Field,
    f: int,
    reports: Ints,
    weight: Floats,
    spans: tuple[Spans, ...],
    span_row: tuple[Ints, ...],
    marks: ReadMarks,
    assumptions: Assumptions,
) -> tuple[TrackedCount, Ints]:
    """Rows for a number that follows the date: a span together with the date beside it."""
    beside = dates_beside(scheme, spans, span_row, marks.emission, assumptions)
    number = _numbers_as_read(spans[f], marks.figure)[span_row[f]]
    if marks.mixtures is not None:
        number = np.where(marks.mixtures.sure[reports], number, np.nan)
    gain = gain_of_order(part, beside, reports, weight, number, marks.weights)
    years = years_from_middle(beside, assumptions)
    pair, first, row = _pairs(span_row[f], years, beside.within)
    return (
        TrackedCount(
            part,
            spans[f],
            pair,
            years[first],
            beside.within[first],
            marks.emission,
            assumptions,
            beside.part if part.counted is Counted.YEAR else None,
            gain,
        ),
        row.ravel(),
    )


def _trended(
    scheme: Scheme,
    part: Field,
    f: int,
    spans: tuple[Spans, ...],
    span_row: tuple[Ints, ...],
    marks: ReadMarks,
    assumptions: Assumptions,
) -> tuple[LimitWithTrend, Ints]:
    """Rows for a number that starts again: a span together with the year beside it."""
    beside = dates_beside(scheme, spans, span_row, marks.emission, assumptions)
    years = years_from_middle(beside, assumptions)
    pair, first, row = _pairs(span_row[f], years)
    made = LimitWithTrend(part, spans[f], pair, years[first], marks.emission, assumptions)
    return made, row


def _pairs(span_row: Ints, *dates: Floats) -> tuple[Ints, Ints, Ints]:
    """Different spans with dates beside them: span of each, a cut of each, and which a cut has."""
    code = span_row.astype(np.int64)
    for date in dates:
        values, which = np.unique(date, return_inverse=True)
        code = code * len(values) + which.ravel()
    _, first, row = np.unique(code, return_index=True, return_inverse=True)
    return span_row[first], first, row.ravel().astype(np.int32)


def _parity_chances(
    scheme: Scheme,
    part: Field,
    spans: tuple[Spans, ...],
    span_row: tuple[Ints, ...],
    emission: Floats,
) -> Floats:
    """How much more probable a cut is when only odd or even numbers are struck, shape (e,).

    The last figure decides, so the chance of a number doubles or vanishes with it.
    """
    f = scheme.fields.index(part)
    last = np.concatenate([emission[group[:, -1], :FIGURES] for group in spans[f].by_length])
    odd = last[:, 1::2].sum(axis=1) / np.maximum(last.sum(axis=1), 1e-300)
    odd = odd[span_row[f]]
    if part.parity in ("odd", "even"):
        return np.asarray(2.0 * (odd if part.parity == "odd" else 1.0 - odd))
    g = next(i for i, other in enumerate(scheme.fields) if other.kind is FieldKind.LETTER)
    first = np.concatenate([emission[group[:, 0], FIGURES:-1] for group in spans[g].by_length])
    named = first[:, CHARACTERS[FIGURES:].index(part.parity[-1])]
    named = (named / np.maximum(first.sum(axis=1), 1e-300))[span_row[g]]
    return np.asarray(2.0 * (named * odd + (1.0 - named) * (1.0 - odd)))


def _numbers_as_read(spans: Spans, figure: Ints) -> Floats:
    """The number each span shows, NaN where a figure is in doubt or stands for none, shape (t,)."""
    found = []
    for group in spans.by_length:
        figures = figure[group]
        value = figures @ (10.0 ** np.arange(group.shape[1] - 1, -1, -1))
        found.append(np.where((figures >= 0).all(axis=1), value, np.nan))
    return np.concatenate(found) if found else np.zeros(0)


def _bound(part: Field) -> "_Bound":
    many = part.kind in (FieldKind.NUMBER, FieldKind.CODE, FieldKind.BATCH)
    return _Bound(many and part.figures is None)


@dataclass(frozen=True)
class _Bound:
    """The most that a field can give a span of some length."""

    counts: bool

    def __call__(self, size: int) -> float:
        # A number v has at most about 14 / v: a code kept within 3 % of its value.
        return min(1.0, 14.0 * 10.0 ** (1 - size)) if self.counts else 1.0


def _compositions(n: int, lengths: list[tuple[int, ...]]) -> Iterator[tuple[int, ...]]:
    """Every way to share n characters among fields of allowed lengths, in order."""
    if not lengths:
        if n == 0:
            yield ()
        return
    least = sum(min(rest) for rest in lengths[1:])
    for size in lengths[0]:
        if size + least > n:
            break
        for rest in _compositions(n - size, lengths[1:]):
            yield (size, *rest)


IDLE_RATES = (0.05, 0.15, 0.3, 0.5, 0.7)
"""Chances of a dot without meaning at any place: a habit is rare, common or the rule; a judgement.
`IDLE_KINDS` says which sign it then is; common practice, no source."""
IDLE_KINDS = {"·": 0.6, " ": 0.25, "°": 0.05, "-": 0.05, "/": 0.05}


def _idle_chance(content: tuple[str, ...], rate: float) -> float:
    if not content:
        return 1.0 - rate
    return rate * IDLE_KINDS.get(content[0], 0.0) if len(content) == 1 else 0.0


class _GapTables:
    """Chances of each kind of gap seen, for each gap meant, worked out once."""

    def __init__(self, marks: ReadMarks, assumptions: Assumptions) -> None:
        self._marks = marks
        self._assumptions = assumptions
        self._meant: dict[tuple[Separator, ...], Floats] = {}
        self._idle: list[Floats] | None = None
        self._third: Floats | None = None

    def meant(self, gap: tuple[Separator, ...]) -> Floats:
        """Chance of each kind of gap seen where `gap` was meant, shape (kinds,)."""
        if gap not in self._meant:
            self._meant[gap] = np.array(
                [
                    sum(weight * self._one(content, gap) for content, weight in reading)
                    for reading in self._marks.gap_readings
                ]
            )
        return self._meant[gap]

    def _one(self, content: tuple[str, ...], gap: tuple[Separator, ...]) -> float:
        total = 0.0
        choices = [((True, 0.5), (False, 0.5)) if s.sometimes else ((True, 1.0),) for s in gap]
        for struck in product(*choices):
            glyphs = tuple(s.glyph for s, (here, _) in zip(gap, struck, strict=True) if here)
            total += math.prod(p for _, p in struck) * gap_probability(
                content, glyphs, self._assumptions
            )
        return total

    def chances(self, scheme: Scheme, gaps: Ints, ends: Ints) -> tuple[Floats, Floats | None]:
        """Chance of all gaps of a block for fields that end at `ends`.

        With idle dots the places where no separator was meant go into a second array with one
        column for each habit.
        """
        chance = np.ones(len(gaps))
        plain = self.meant(())
        at_fields = {int(end): gap for end, gap in zip(ends, scheme.gaps, strict=True)}
        last = gaps.shape[1] - 1
        idle = []
        for place in range(gaps.shape[1]):
            gap = at_fields.get(place, ())
            if scheme.dots_without_meaning and not gap and 0 < place < last:
                idle.append(place)
            else:
                chance = chance * (self.meant(gap) if gap else plain)[gaps[:, place]]
        if not scheme.dots_without_meaning:
            return chance, None
        habit = np.ones((len(gaps), len(IDLE_RATES) + 1))
        rates, thousands = self._idle_tables()
        for place in idle:
            for i, table in enumerate(rates):
                habit[:, i] *= table[gaps[:, place]]
            every_third = (last - place) % 3 == 0
            habit[:, -1] *= (thousands if every_third else plain)[gaps[:, place]]
        return chance, habit

    def _idle_tables(self) -> tuple[list[Floats], Floats]:
        if self._idle is None or self._third is None:
            self._idle = [
                np.array(
                    [
                        sum(weight * _idle_chance(content, rate) for content, weight in reading)
                        for reading in self._marks.gap_readings
                    ]
                )
                for rate in IDLE_RATES
            ]
            self._third = self.meant((Separator("dot"),))
        return self._idle, self._third
