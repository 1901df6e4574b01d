"""Reports laid out as arrays: characters, the gaps round them, and what each admits.

All marks with the same number of figures and letters lie in one block, so that every way of
cutting them into fields is worked out for the whole block at once. Reports that are equal in all
that a theory can tell of them, the mark with its doubts and what its date says, are one row with a
weight: they are independent, so that a sum over them is that often the same term.

A report whose reading tells several strings with chances has a line for each of them in the blocks,
all of the same row: its probability is that of a mixture. What the reading leaves to other strings
stands with the junk, on the same scale, so that it speaks for no theory.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, product

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats, Ints
from ironlace.evidence.markings import Glyph, Marking
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.reading_errors import (
    CHARACTERS,
    FIGURES,
    SIZE,
    confusion,
    reading_weights,
)
from ironlace.survey.reports.table import DatedEvidence, Report
from ironlace.survey.schemes.face_value import dots_as_letter
from ironlace.survey.schemes.scheme import Scheme
from ironlace.survey.time.months import PER_YEAR
from ironlace.survey.time.timeline import Wandering, month_likelihood

GapReading = tuple[tuple[tuple[str, ...], float], ...]
"""What a gap may hold, with weights: a doubtful dot is there or not."""


@dataclass(frozen=True)
class Block:
    """Marks that have the same number of figures and letters.

    Attributes
    ----------
    rows
        Which reports, shape (r,).
    glyphs
        Numbers of the kinds of glyph, shape (r, n).
    gaps
        Numbers of the kinds of gap before, between and after, shape (r, n + 1).
    chance
        Chance that the mark reads so, shape (r,); None where every report has one string.
    """

    rows: NDArray[np.int64]
    glyphs: NDArray[np.int64]
    gaps: NDArray[np.int64]
    chance: Floats | None = None

    def some(self, take: Ints, number: Ints) -> "Block":
        """Some of the lines, their rows numbered anew."""
        chance = None if self.chance is None else self.chance[take]
        return Block(number[self.rows[take]], self.glyphs[take], self.gaps[take], chance)


@dataclass(frozen=True)
class Mixtures:
    """Which strings the rows of a layout are mixtures of.

    Attributes
    ----------
    row
        The row of each string, shape (s,).
    chance
        The chance of each string by its reading, shape (s,).
    rest
        For each row what its reading leaves to all other strings, shape (count,).
    """

    row: Ints
    chance: Floats
    rest: Floats

    @property
    def sure(self) -> NDArray[np.bool_]:
        """Rows of which one string is read nearly for sure, shape (count,)."""
        most = np.zeros(len(self.rest))
        np.maximum.at(most, self.row, self.chance)
        return np.asarray(most >= _SURE)

    def some(self, number: Ints, count: int) -> "tuple[Ints, Mixtures]":
        """Which strings are of the rows that are numbered anew, -1 for none, and those rows'."""
        kept = np.flatnonzero(number[self.row] >= 0)
        rest = np.zeros(count)
        rest[number[number >= 0]] = self.rest[number >= 0]
        return kept, Mixtures(number[self.row[kept]], self.chance[kept], rest)


_SURE = 0.9
"""Chance from which a string is taken at its face where only order is asked: of plain reports one
in ten has a figure misread too; a judgement."""


@dataclass(frozen=True)
class ReadMarks:
    """Marks as arrays, with what each kind of glyph and gap admits.

    Attributes
    ----------
    count
        How many rows: marks, or marks that differ.
    blocks
        By number of figures and letters.
    emission
        For each kind of glyph the likelihood of each struck character, shape (g, 37).
    figure
        For each kind of glyph the figure read without doubt, -1 when none, shape (g,).
    gap_readings
        For each kind of gap what it may hold.
    junk
        Probability of each mark were it junk, shape (count,).
    dated
        For each mark that came with a date: how much more probable that date is for a making in
        each month than for one at random, shape (years, 12), mean 1.
    marks
        The marks themselves, for schemes that count dots; of mixtures their strings.
    mixtures
        Which marks are strings of which row; None where each row has one.
    weight
        How many reports each row stands for, shape (count,); every one once when left out.
    group
        The row of each report in the order in which they came, shape (reports,).
    """

    count: int
    blocks: tuple[Block, ...]
    emission: NDArray[np.float64]
    figure: NDArray[np.int64]
    gap_readings: tuple[GapReading, ...]
    junk: NDArray[np.float64]
    dated: Mapping[int, NDArray[np.float64]] = field(default_factory=dict)
    marks: tuple[Marking, ...] = ()
    weight: Floats | None = None
    group: Ints | None = None
    mixtures: Mixtures | None = None

    def not_of_the_numbering(self, junk_rate: float) -> Floats:
        """Chance of each row were it junk, or read as none of its strings, shape (count,)."""
        if self.mixtures is None:
            return junk_rate * self.junk
        return (1.0 - (1.0 - junk_rate) * (1.0 - self.mixtures.rest)) * self.junk

    @property
    def weights(self) -> Floats:
        """How many reports each row stands for, shape (count,)."""
        return np.ones(self.count) if self.weight is None else self.weight

    @property
    def reports(self) -> int:
        """How many reports all rows stand for."""
        return self.count if self.weight is None else round(float(self.weight.sum()))

    def of_reports(self, by_row: Floats) -> Floats:
        """What each row has, for each report in the order in which they came."""
        return by_row if self.group is None else np.asarray(by_row[self.group])

    def evenly(self, most: int) -> "ReadMarks":
        """At most so many reports, spread evenly over all in the order of their rows."""
        reached = np.cumsum(self.weights)
        places = np.unique(np.linspace(0, reached[-1] - 1, most).astype(np.int64))
        chosen, times = np.unique(
            np.searchsorted(reached, places, side="right"), return_counts=True
        )
        number = np.full(self.count, -1)
        number[chosen] = np.arange(len(chosen))
        blocks = []
        for block in self.blocks:
            take = np.flatnonzero(number[block.rows] >= 0)
            if len(take):
                blocks.append(block.some(take, number))
        kept, mixtures = chosen, None
        if self.mixtures is not None:
            kept, mixtures = self.mixtures.some(number, len(chosen))
        dated = {int(number[row]): told for row, told in self.dated.items() if number[row] >= 0}
        return replace(
            self,
            count=len(chosen),
            blocks=tuple(blocks),
            junk=self.junk[chosen],
            dated=dated,
            marks=tuple(self.marks[i] for i in kept.tolist()),
            mixtures=mixtures,
            weight=times.astype(float),
            group=None,
        )

    def with_dots_counted(self, scheme: Scheme, assumptions: Assumptions) -> "ReadMarks":
        """The same marks with the dots that count a month taken for a letter of their own.

        Each mark keeps its chance as junk: it is the same mark, written otherwise.
        """
        counted = lay_out([dots_as_letter(mark, scheme) for mark in self.marks], assumptions)
        blocks = counted.blocks
        if (of := self.mixtures) is not None:
            blocks = tuple(
                replace(b, rows=of.row[b.rows], chance=of.chance[b.rows]) for b in blocks
            )
        return replace(
            counted,
            count=self.count,
            blocks=blocks,
            mixtures=self.mixtures,
            junk=self.junk,
            dated=self.dated,
            marks=self.marks,
            weight=self.weight,
            group=self.group,
        )


def lay_out_reports(
    reports: Sequence[Report], assumptions: Assumptions, *, join: bool = True
) -> ReadMarks:
    """Lay reports out as arrays: their marks, and the dates that came with them.

    Rows stand in an order of their own, the same in whatever order the reports came. Equal reports
    are one row with a weight, unless `join` is False.
    """
    dated = {row: [report.dated] for row, report in enumerate(reports) if report.dated is not None}
    dates = _numbered_dates(len(reports), dated)
    told = _told(dated, assumptions)
    mixed = [row for row, report in enumerate(reports) if _is_mixture(report)]
    # a report whose reading is sure of one string is as any other
    plain = [report.strings[0].mark if report.strings else report.mark for report in reports]
    if not mixed:
        return _joined(lay_out(plain, assumptions), dates, told, join=join)
    return _with_mixtures(reports, plain, mixed, assumptions, dates, told, join=join)


def _is_mixture(report: Report) -> bool:
    strings = report.strings
    return bool(strings) and (len(strings) > 1 or strings[0].chance < 1.0)


def _joined(
    read: ReadMarks, dates: Ints, told: Mapping[int, Floats], *, join: bool = True
) -> ReadMarks:
    """Marks in an order of their own, equal ones with equal dates as one row with a weight."""
    new = np.zeros(read.count, dtype=np.int64)
    first: list[Ints] = []
    blocks: list[Block] = []
    at = 0
    for block in read.blocks:
        code = _code_of([dates[block.rows], *block.gaps.T, *block.glyphs.T])
        if join:
            _, place, number = np.unique(code, return_index=True, return_inverse=True)
        else:
            place = np.argsort(code, kind="stable")
            number = np.empty(len(place), dtype=np.int64)
            number[place] = np.arange(len(place))
        new[block.rows] = number.ravel() + at
        first.append(block.rows[place])
        rows = np.arange(at, at + len(place))
        blocks.append(Block(rows, block.glyphs[place], block.gaps[place]))
        at += len(place)
    kept = np.concatenate(first)
    return replace(
        read,
        count=at,
        blocks=tuple(blocks),
        junk=read.junk[kept],
        dated={int(new[row]): one for row, one in told.items()},
        marks=tuple(read.marks[row] for row in kept.tolist()),
        weight=np.bincount(new, minlength=at).astype(float),
        group=new,
    )


def _with_mixtures(
    reports: Sequence[Report],
    plain: Sequence[Marking],
    mixed: Sequence[int],
    assumptions: Assumptions,
    dates: Ints,
    told: Mapping[int, Floats],
    *,
    join: bool,
) -> ReadMarks:
    """The same where some reports are mixtures: each string a line, equal mixtures one row."""
    rows = set(mixed)
    alone = [row for row in range(len(reports)) if row not in rows]
    marks = [plain[row] for row in alone]
    mixture, new = _equal_mixtures([reports[row] for row in mixed], dates[mixed], join=join)
    of_string = np.array([i for i, (strings, _) in enumerate(mixture) for _ in strings])
    chance = np.array([p for strings, _ in mixture for p in strings.values()])
    strings = [mark for held, _ in mixture for mark in held]
    # all in one layout, so that glyphs and gaps have the same numbers
    whole = lay_out([*marks, *strings], assumptions)
    at = len(alone)
    lone = _joined(_of_rows(whole, at), dates[alone], {}, join=join) if alone else None
    count = lone.count if lone else 0
    row = np.concatenate([lone.group if lone and lone.group is not None else [], count + of_string])
    row = row.astype(np.int64)
    blocks = [] if lone is None else list(lone.blocks)
    for block in whole.blocks:
        take = np.flatnonzero(block.rows >= at)
        if len(take):
            here = block.some(take, row)
            blocks.append(replace(here, chance=chance[block.rows[take] - at]))
    total = np.bincount(of_string, chance, len(mixture))
    junk = np.bincount(of_string, chance * whole.junk[at:], len(mixture)) / total
    group = np.zeros(len(reports), dtype=np.int64)
    group[alone] = row[:at]
    group[mixed] = count + new
    lone_marks = () if lone is None else lone.marks
    return replace(
        whole,
        count=count + len(mixture),
        blocks=tuple(blocks),
        junk=np.concatenate([[] if lone is None else lone.junk, junk]),
        dated={int(group[r]): one for r, one in told.items()},
        marks=(*lone_marks, *strings),
        weight=np.bincount(group, minlength=count + len(mixture)).astype(float),
        group=group,
        mixtures=Mixtures(
            np.concatenate([np.arange(count), count + of_string]).astype(np.int64),
            np.concatenate([np.ones(count), chance]),
            np.concatenate([np.zeros(count), np.maximum(1.0 - total, 0.0)]),
        ),
    )


def _of_rows(read: ReadMarks, count: int) -> ReadMarks:
    """The first so many marks of a layout."""
    number = np.where(np.arange(read.count) < count, np.arange(read.count), -1)
    blocks = []
    for block in read.blocks:
        take = np.flatnonzero(block.rows < count)
        if len(take):
            blocks.append(block.some(take, number))
    return replace(
        read,
        count=count,
        blocks=tuple(blocks),
        junk=read.junk[:count],
        marks=read.marks[:count],
    )


_SAME_CHANCE = 12
"""Places after the point to which chances must agree to be the same: sums in another order differ
in the last of a double only."""


def _equal_mixtures(
    reports: Sequence[Report], dates: Ints, *, join: bool
) -> tuple[list[tuple[dict[Marking, float], int]], Ints]:
    """Different mixtures with their dates in an order of their own, and which each report is."""
    held: list[tuple[dict[Marking, float], int]] = []
    keys = []
    for report, date in zip(reports, dates.tolist(), strict=True):
        strings: dict[Marking, float] = {}
        for one in report.strings:
            strings[one.mark] = strings.get(one.mark, 0.0) + one.chance
        ordered = dict(sorted(strings.items(), key=lambda pair: str(pair[0])))
        held.append((ordered, date))
        keys.append((date, tuple((str(m), round(p, _SAME_CHANCE)) for m, p in ordered.items())))
    order = sorted(range(len(keys)), key=keys.__getitem__)
    new = np.zeros(len(keys), dtype=np.int64)
    kept: list[tuple[dict[Marking, float], int]] = []
    last = None
    for i in order:
        if not join or keys[i] != last:
            kept.append(held[i])
            last = keys[i]
        new[i] = len(kept) - 1
    return kept, new


def _numbered_dates(count: int, dated: Mapping[int, Sequence[DatedEvidence]]) -> Ints:
    """A number for what the date of each report says, 0 where it has none, shape (count,)."""
    keys = {row: _key(evidence) for row, evidence in dated.items()}
    number = {key: i for i, key in enumerate(sorted(set(keys.values())), 1)}
    found = np.zeros(count, dtype=np.int64)
    for row, key in keys.items():
        found[row] = number[key]
    return found


def _key(evidence: Sequence[DatedEvidence]) -> tuple[tuple[str, str], ...]:
    """What dates say of a making, whatever they are called."""
    return tuple((str(one.kind), one.date.text) for one in evidence)


def lexical_code(table: Ints) -> Ints:
    """One number a row that orders the rows as their entries from left to right do, shape (r,).

    >>> lexical_code(np.array([[1, 0], [0, 5], [1, 0]])).tolist()
    [6, 5, 6]
    """
    return _code_of(list(table.T)) if table.shape[1] else np.zeros(len(table), dtype=np.int64)


def _code_of(columns: Sequence[Ints]) -> Ints:
    """The same of columns, each of shape (r,)."""
    code = np.zeros(len(columns[0]), dtype=np.int64)
    size = 1
    for column in columns:
        base = int(column.max(initial=0)) + 1
        if size * base >= 2**62:
            code = np.unique(code, return_inverse=True)[1].ravel()
            size = int(code.max(initial=0)) + 1
        code = code * base + column
        size *= base
    return code


def _told(
    dated: Mapping[int, Sequence[DatedEvidence]], assumptions: Assumptions
) -> dict[int, Floats]:
    """What the dates of each dated row say of the month of making; one array for equal dates."""
    by_key: dict[tuple[tuple[str, str], ...], Floats] = {}
    told: dict[int, Floats] = {}
    for row, evidence in dated.items():
        key = _key(evidence)
        if key not in by_key:
            by_key[key] = _date_told(evidence, assumptions)
        told[row] = by_key[key]
    return told


def lay_out(
    marks: Sequence[Marking],
    assumptions: Assumptions,
    dated: Mapping[int, Sequence[DatedEvidence]] | None = None,
) -> ReadMarks:
    """Lay marks out as arrays, a row each, with what is known of the dates of some of them."""
    kinds, number, lengths = _numbered_glyphs(marks)
    glyphs = [glyph for glyph in kinds if not glyph.is_separator]
    gaps, blocks = _blocks(kinds, number, lengths)
    weights = np.array([reading_weights(g, assumptions.doubt) for g in glyphs] or [np.ones(SIZE)])
    figure = np.array(
        [
            int(c) if (c := g.certain) is not None and c in CHARACTERS[:FIGURES] else -1
            for g in glyphs
        ]
        or [-1],
        dtype=np.int64,
    )
    readings = tuple(_gap_reading(gap, assumptions.doubt) for gap in gaps)
    junk = _junk_chances(len(marks), blocks, weights, readings)
    emission = weights @ confusion(assumptions).T
    told = _told(dated or {}, assumptions)
    return ReadMarks(len(marks), blocks, emission, figure, readings, junk, told, tuple(marks))


def _numbered_glyphs(marks: Sequence[Marking]) -> tuple[list[Glyph], Ints, Ints]:
    """Kinds of glyph, separators last; the kind of each glyph of all marks; lengths of the marks.

    Kinds are numbered by what they are, so that the order of the marks has no part in it.
    """
    lengths = np.fromiter((len(mark.glyphs) for mark in marks), np.int64, len(marks))
    objects: list[Glyph] = []
    number: dict[int, int] = {}
    pieces = [np.zeros(0, dtype=_NUMBER)]
    for start in range(0, len(marks), _MARKS_AT_ONCE):
        some, long = marks[start : start + _MARKS_AT_ONCE], lengths[start : start + _MARKS_AT_ONCE]
        # an object has one number while its mark is held: far quicker to look up than the glyph
        glyphs = chain.from_iterable(mark.glyphs for mark in some)
        held = np.fromiter(map(id, glyphs), np.int64, int(long.sum()))
        ids, first, which = np.unique(held, return_index=True, return_inverse=True)
        end = np.cumsum(long)
        mark_of = np.searchsorted(end, first, side="right")
        within = first - (end[mark_of] - long[mark_of])
        for one, m, g in zip(ids.tolist(), mark_of.tolist(), within.tolist(), strict=True):
            if number.setdefault(one, len(objects)) == len(objects):
                objects.append(some[m].glyphs[g])
        here = np.array([number[one] for one in ids.tolist()], dtype=_NUMBER)
        pieces.append(here[which.ravel()])
    kinds = sorted(set(objects), key=lambda g: (g.is_separator, g.options, g.doubtful))
    of_kind = {glyph: i for i, glyph in enumerate(kinds)}
    renamed = np.array([of_kind[glyph] for glyph in objects], dtype=_smallest(len(kinds)))
    numbered: Ints = renamed[np.concatenate(pieces)] if objects else np.zeros(0, dtype=np.int64)
    return kinds, numbered, lengths


_MARKS_AT_ONCE = 100_000
"""Marks of which the glyphs are numbered at once. No part in the result."""

_NUMBER = np.int32
"""What an object of a glyph is numbered by."""


def _smallest(count: int) -> type[np.signedinteger]:
    """What so many kinds are numbered by: of a million marks there are many million numbers."""
    return np.int16 if count < 2**15 else np.int32


def _blocks(
    kinds: Sequence[Glyph], number: Ints, lengths: Ints
) -> tuple[list[tuple[Glyph, ...]], tuple[Block, ...]]:
    """The kinds of gap, and the marks block by block."""
    letters = sum(not glyph.is_separator for glyph in kinds)
    struck = number < letters
    apart = np.flatnonzero(~struck)
    end = np.cumsum(lengths)
    mark_of = np.searchsorted(end, apart, side="right")
    characters = lengths - np.bincount(mark_of, minlength=len(lengths))
    # a mark of n characters has n + 1 gaps; a separator lies in the one behind those before it
    first_slot = np.cumsum(characters + 1) - (characters + 1)
    first_character = np.cumsum(characters) - characters
    before = apart - np.arange(len(apart))
    slot = first_slot[mark_of] + before - first_character[mark_of]
    gaps, gap_of_slot = _gaps(kinds, number[apart], slot, int((characters + 1).sum()))
    character = number[struck]
    blocks = []
    for n in np.unique(characters).tolist():
        rows = np.flatnonzero(characters == n)
        blocks.append(
            Block(
                rows,
                character[first_character[rows][:, None] + np.arange(n)].reshape(len(rows), n),
                gap_of_slot[first_slot[rows][:, None] + np.arange(n + 1)],
            )
        )
    return gaps, tuple(blocks)


def _gaps(
    kinds: Sequence[Glyph], separator: Ints, slot: Ints, slots: int
) -> tuple[list[tuple[Glyph, ...]], Ints]:
    """The kinds of gap, and which each slot holds, shape (slots,)."""
    held = np.full(slots, -1, dtype=_smallest(len(kinds)))
    # slots rise, so that those of one gap lie side by side
    alone = np.ones(len(slot), dtype=bool)
    alone[1:] &= slot[1:] != slot[:-1]
    alone[:-1] &= slot[1:] != slot[:-1]
    held[slot[alone]] = separator[alone]
    several: dict[int, tuple[int, ...]] = {}
    for where, what in zip(slot[~alone].tolist(), separator[~alone].tolist(), strict=True):
        several[where] = (*several.get(where, ()), what)
    contents = {(), *((int(one),) for one in np.unique(separator[alone])), *several.values()}
    order = sorted(contents)
    number = {content: i for i, content in enumerate(order)}
    of_single = np.zeros(
        len(kinds) + 1, dtype=_smallest(len(order))
    )  # the last entry is an empty gap
    for content, i in number.items():
        if len(content) == 1:
            of_single[content[0]] = i
    of_single[-1] = number[()]
    found = of_single[held]
    for where, content in several.items():
        found[where] = number[content]
    return [tuple(kinds[i] for i in content) for content in order], found


def _junk_chances(
    count: int,
    blocks: Sequence[Block],
    weights: NDArray[np.float64],
    readings: tuple[GapReading, ...],
) -> NDArray[np.float64]:
    """Chance of each mark were it junk, shape (count,)."""
    junk = np.zeros(count)
    junk_character = weights @ _junk_characters()
    shape_cache: dict[tuple[int, ...], float] = {}
    for block in blocks:
        by_character = np.prod(junk_character[block.glyphs], axis=1)
        _, first, which = np.unique(
            lexical_code(block.gaps), return_index=True, return_inverse=True
        )
        shapes = block.gaps[first].tolist()
        by_shape = np.array([_junk_shape(tuple(s), readings, shape_cache) for s in shapes])
        junk[block.rows] = by_character * by_shape[which.ravel()]
    return junk


def _date_told(evidence: Sequence[DatedEvidence], assumptions: Assumptions) -> NDArray[np.float64]:
    """What dates say of the month of making, shape (years, 12), relative to dates at random."""
    first, last = assumptions.first_year, assumptions.last_year
    how = Wandering(blunder=assumptions.wrong_date_rate)
    told = np.ones((last - first + 1) * PER_YEAR)
    for one in evidence:
        told = told * month_likelihood(one, first, last, how)
    return told.reshape(-1, PER_YEAR)


def _gap_reading(gap: tuple[Glyph, ...], doubt: float) -> GapReading:
    """Every way the glyphs of a gap may be there or not; a gap beside a punch says nothing more."""
    held: dict[tuple[str, ...], float] = {}
    choices = []
    for glyph in gap:
        here: list[tuple[tuple[str, ...], float]] = [((option,), 1.0) for option in glyph.options]
        if glyph.doubtful:
            here = [(option, (1.0 - doubt) * weight) for option, weight in here]
            here.append(((), doubt))
        choices.append(here)
    for combination in product(*choices):
        content = tuple(c for option, _ in combination for c in option)
        if any(c != " " for c in content):
            content = tuple(c for c in content if c != " ")
        weight = math.prod(weight for _, weight in combination)
        held[content] = held.get(content, 0.0) + weight
    return tuple(held.items())


# Junk is drawn wide but in the manner of marks: one to many groups of one to six characters,
# mostly figures. Were it thinner, one odd report could outvote all others. The chances that another
# group, another character of a group, a separator at the end and a further separator beside one
# follow: judgements, which give 2.2 groups of 3.1 characters on average.
_GROUPS_GO_ON = 0.55
_CHARACTER_GOES_ON = 0.68
"""Chance that a group goes on by one more character; see above."""

_END_SEPARATOR = 0.05
"""Chance of a separator before or after all groups: seldom, a judgement."""

_SEPARATOR_GOES_ON = 0.05
"""Chance that one separator follows another: seldom, a judgement."""

_JUNK_SEPARATORS = {"·": 0.5, " ": 0.2, "°": 0.1, "-": 0.1, "/": 0.05}
_JUNK_SEPARATORS |= {"★": 0.0125, "✚": 0.0125, "◆": 0.0125, "&": 0.0125}


_UNHEARD_OF = 1e-4
"""A sign that no scheme can hold (a comma, a fraction): its report is then not of this numbering,
and is named as such; a judgement."""


def _junk_characters() -> NDArray[np.float64]:
    chances = np.full(SIZE, 0.0)
    chances[:FIGURES] = 0.90 / FIGURES
    chances[FIGURES:-1] = 0.095 / len(CHARACTERS[FIGURES:])
    chances[-1] = 0.005
    return chances


def _junk_separators(content: tuple[str, ...]) -> float:
    """Probability of one or more separators side by side."""
    chance = 1.0 - _SEPARATOR_GOES_ON
    for i, glyph in enumerate(content):
        kind = _JUNK_SEPARATORS.get(glyph, _UNHEARD_OF)
        chance *= kind * (_SEPARATOR_GOES_ON if i else 1.0)
    return chance


def _junk_shape(
    gaps: tuple[int, ...], readings: tuple[GapReading, ...], cache: dict[tuple[int, ...], float]
) -> float:
    """Probability of the gaps (and of so many characters) for junk, doubts summed."""
    if gaps in cache:
        return cache[gaps]
    total = 1.0
    for at, gap in enumerate(gaps):
        ends = at in (0, len(gaps) - 1)
        here = 0.0
        for content, weight in readings[gap]:
            if ends:
                chance = (
                    _END_SEPARATOR * _junk_separators(content) if content else 1 - _END_SEPARATOR
                )
            elif content:
                chance = (1 - _CHARACTER_GOES_ON) * _GROUPS_GO_ON * _junk_separators(content)
            else:
                chance = _CHARACTER_GOES_ON
            here += weight * chance
        total *= here
    # The last group ends and no other follows.
    total *= (1 - _CHARACTER_GOES_ON) * (1 - _GROUPS_GO_ON) if len(gaps) > 1 else 1e-6
    cache[gaps] = total
    return total
