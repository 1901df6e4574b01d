"""Reports laid out as arrays: characters, the gaps round them, and what each admits.

All marks with the same number of figures and letters lie in one block, so that every way of
cutting them into fields is worked out for the whole block at once.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

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
    """

    rows: NDArray[np.int64]
    glyphs: NDArray[np.int64]
    gaps: NDArray[np.int64]


@dataclass(frozen=True)
class ReadMarks:
    """Marks as arrays, with what each kind of glyph and gap admits.

    Attributes
    ----------
    count
        How many marks.
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
        The marks themselves, for schemes that count dots.
    """

    count: int
    blocks: tuple[Block, ...]
    emission: NDArray[np.float64]
    figure: NDArray[np.int64]
    gap_readings: tuple[GapReading, ...]
    junk: NDArray[np.float64]
    dated: Mapping[int, NDArray[np.float64]] = field(default_factory=dict)
    marks: tuple[Marking, ...] = ()

    def evenly(self, most: int) -> "ReadMarks":
        """At most so many marks, spread evenly over all."""
        chosen = np.unique(np.linspace(0, self.count - 1, most).astype(np.int64))
        number = np.full(self.count, -1)
        number[chosen] = np.arange(len(chosen))
        blocks = []
        for block in self.blocks:
            take = np.flatnonzero(number[block.rows] >= 0)
            if len(take):
                blocks.append(Block(number[block.rows[take]], block.glyphs[take], block.gaps[take]))
        dated = {int(number[row]): told for row, told in self.dated.items() if number[row] >= 0}
        return replace(
            self,
            count=len(chosen),
            blocks=tuple(blocks),
            junk=self.junk[chosen],
            dated=dated,
            marks=tuple(self.marks[i] for i in chosen.tolist()),
        )

    def with_dots_counted(self, scheme: Scheme, assumptions: Assumptions) -> "ReadMarks":
        """The same marks with the dots that count a month taken for a letter of their own.

        Each mark keeps its chance as junk: it is the same mark, written otherwise.
        """
        counted = lay_out([dots_as_letter(mark, scheme) for mark in self.marks], assumptions)
        return replace(counted, junk=self.junk, dated=self.dated, marks=self.marks)


def lay_out_reports(reports: Sequence[Report], assumptions: Assumptions) -> ReadMarks:
    """Lay reports out as arrays: their marks, and the dates that came with them."""
    return lay_out(
        [report.mark for report in reports],
        assumptions,
        {row: [report.dated] for row, report in enumerate(reports) if report.dated is not None},
    )


def lay_out(
    marks: Sequence[Marking],
    assumptions: Assumptions,
    dated: Mapping[int, Sequence[DatedEvidence]] | None = None,
) -> ReadMarks:
    """Lay marks out as arrays, with what is known of the dates of some of them."""
    # One look-up a glyph: a character has its number, a separator is counted down from -1.
    known: dict[Glyph, int] = {}
    glyphs: list[Glyph] = []
    separators: list[Glyph] = []
    gap_ids: dict[tuple[int, ...], int] = {}
    by_length: dict[int, tuple[list[int], list[list[int]], list[list[int]]]] = {}
    for row, mark in enumerate(marks):
        characters: list[int] = []
        gaps: list[int] = []
        gap: tuple[int, ...] = ()
        for glyph in mark.glyphs:
            number = known.get(glyph)
            if number is None:
                held = separators if glyph.is_separator else glyphs
                held.append(glyph)
                number = -len(held) if glyph.is_separator else len(held) - 1
                known[glyph] = number
            if number < 0:
                gap = (*gap, number)
            else:
                characters.append(number)
                gaps.append(gap_ids.setdefault(gap, len(gap_ids)))
                gap = ()
        gaps.append(gap_ids.setdefault(gap, len(gap_ids)))
        rows, all_characters, all_gaps = by_length.setdefault(len(characters), ([], [], []))
        rows.append(row)
        all_characters.append(characters)
        all_gaps.append(gaps)
    blocks = tuple(
        Block(
            np.asarray(rows, dtype=np.int64),
            np.asarray(characters, dtype=np.int64).reshape(len(rows), n),
            np.asarray(gaps, dtype=np.int64).reshape(len(rows), n + 1),
        )
        for n, (rows, characters, gaps) in sorted(by_length.items())
    )
    weights = np.array([reading_weights(g, assumptions.doubt) for g in glyphs] or [np.ones(SIZE)])
    figure = np.array(
        [
            int(c) if (c := g.certain) is not None and c in CHARACTERS[:FIGURES] else -1
            for g in glyphs
        ]
        or [-1],
        dtype=np.int64,
    )
    readings = tuple(
        _gap_reading(tuple(separators[-number - 1] for number in gap), assumptions.doubt)
        for gap in gap_ids
    )
    junk = _junk_chances(len(marks), blocks, weights, readings)
    emission = weights @ confusion(assumptions).T
    told = {row: _date_told(evidence, assumptions) for row, evidence in (dated or {}).items()}
    return ReadMarks(len(marks), blocks, emission, figure, readings, junk, told, tuple(marks))


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
        shapes, which = np.unique(block.gaps, axis=0, return_inverse=True)
        by_shape = np.array([_junk_shape(tuple(s), readings, shape_cache) for s in shapes.tolist()])
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
