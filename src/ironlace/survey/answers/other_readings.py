"""What else an ill-fitting mark may have been: its likeliest other reading under one theory.

One slip is tried at a time: a figure taken for another, two neighbours changed round, a separator
worn away or one that was never struck. Each is weighed by how often such a slip happens and by how
probable the mark would be had it been struck so.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.markings import Glyph, Marking
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.further_marks import Posterior, chances_at_cells
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.likelihood.reading_errors import CHARACTERS, STRAY_KINDS, confusion
from ironlace.survey.schemes.face_value import FaceValue, face_value
from ironlace.survey.schemes.scheme import Scheme

_STRUCK_SO = 1e-4
"""Rate of further slips when a mark is weighed as struck: next to none."""

_TOO_SELDOM = 1e-5
"""Misreadings more seldom than this (a figure for a far letter) are not offered."""

_MOST_GLYPHS = 24
"""Marks with more glyphs are left alone: they are several marks, or none."""


HARDLY_AMISS = 0.05
"""A chance of a wrong date that moves no end of an interval which leaves as much beyond it."""


@dataclass(frozen=True, slots=True)
class OtherReading:
    """The likeliest other reading of a mark.

    Attributes
    ----------
    of
        Id of the report.
    mark
        The other reading.
    slip
        What would have gone wrong, in words.
    times
        How many times as likely it is as the reading reported; above 1.
    """

    of: str
    mark: Marking
    slip: str
    times: float

    def sentence(self, called: str) -> str:
        """Say it."""
        return f"{self.of} would fit '{called}' as {self.mark}, {self.slip}: look at it again."

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "id": self.of,
            "mark": str(self.mark),
            "slip": self.slip,
            "times": min(self.times, 1e12),
        }


def other_reading(
    name: str,
    mark: Marking,
    scheme: Scheme,
    state: Posterior,
    given: Assumptions,
    *,
    least: float = 1.0,
) -> OtherReading | None:
    """The likeliest other reading of a mark under a scheme; None when none beats the one reported.

    Parameters
    ----------
    name
        Id of the report, or what the mark is called.
    state
        What the reports have taught of the scheme's unknowns.
    given
        Rates of slips, those of the survey or of a mark in hand.
    least
        How many times as likely as the one reported it must be.
    """
    if len(mark.glyphs) > _MOST_GLYPHS:
        return None
    slips = list(_slips(mark, scheme, given))
    if not slips:
        return None
    told = _as_struck([mark, *(slip[0] for slip in slips)], scheme, state, given)
    score = told[1:] * np.array([chance for _, _, chance in slips])
    best = int(np.argmax(score))
    if not score[best] > least * told[0]:
        return None
    other, words, _ = slips[best]
    return OtherReading(name, other, words, float(score[best] / max(told[0], 1e-300)))


def chances_as_read(
    marks: Sequence[Marking], scheme: Scheme, state: Posterior, given: Assumptions
) -> Floats:
    """Chance that each mark was struck as it is read, dots worn away aside; shape (marks,).

    Where it is small the theory holds the mark for misread: it may take so each mark of a survey,
    and then none of them stands out beside the others.
    """
    sharp = replace(_without_slips(given), worn_rate=given.worn_rate)
    struck, told = (_chances(marks, scheme, state, rates) for rates in (sharp, given))
    return np.minimum(struck / np.maximum(told, 1e-300), 1.0)


def chance_of_another_date(
    mark: Marking, scheme: Scheme, state: Posterior, given: Assumptions
) -> float:
    """Chance that a mark does not bear the date it shows: misread, or of no such machine.

    One slip that changes the date, or a report that has nothing to do with the numbering, is
    weighed against the mark as it is read.
    """
    ends = {"first_year": given.first_year, "last_year": given.last_year}
    shown = face_value(mark, scheme, **ends)
    if shown is None or len(mark.glyphs) > _MOST_GLYPHS:
        return 0.0
    slips = []
    for other, _, chance in _slips(mark, scheme, given):
        meant = face_value(other, scheme, **ends)
        if meant is not None and _date(meant) != _date(shown):
            slips.append((other, chance))
    told = _as_struck([mark, *(other for other, _ in slips)], scheme, state, given)
    amiss = float(told[1:] @ np.array([chance for _, chance in slips]))
    amiss += given.junk_rate * float(lay_out([mark], given).junk[0])
    return amiss / (amiss + float(told[0]))


def _date(value: FaceValue) -> tuple[int | None, int | None, int | None]:
    return value.year, value.month, value.week


def _as_struck(
    marks: Sequence[Marking], scheme: Scheme, state: Posterior, given: Assumptions
) -> Floats:
    """Chance of each mark were it struck so and read without a slip, shape (marks,)."""
    return _chances(marks, scheme, state, _without_slips(given))


def _chances(
    marks: Sequence[Marking], scheme: Scheme, state: Posterior, given: Assumptions
) -> Floats:
    """Chance of each mark as it is read, shape (marks,)."""
    known = state.heaviest()
    return np.asarray(chances_at_cells(lay_out(marks, given), scheme, given, known) @ known.weights)


def _without_slips(given: Assumptions) -> Assumptions:
    return replace(
        given,
        misread_rate=_STRUCK_SO,
        transposed_rate=_STRUCK_SO,
        worn_rate=_STRUCK_SO,
        changed_rate=_STRUCK_SO,
        stray_rate=_STRUCK_SO,
        junk_rate=min(given.junk_rate, _STRUCK_SO),
    )


def _slips(
    mark: Marking, scheme: Scheme, given: Assumptions
) -> Iterator[tuple[Marking, str, float]]:
    """Marks one slip away, what the slip was, and its chance."""
    glyphs = mark.glyphs
    matrix = confusion(given)
    for i, glyph in enumerate(glyphs):
        seen = glyph.certain
        if glyph.is_separator:
            kind = STRAY_KINDS.get(glyph.options[0], 0.0) if glyph.options else 0.0
            words = "one separator being a pit or a slip"
            yield Marking(glyphs[:i] + glyphs[i + 1 :]), words, given.stray_rate * kind
        elif seen is not None and seen in CHARACTERS:
            column = matrix[:, CHARACTERS.index(seen)]
            for struck, chance in zip(CHARACTERS, column.tolist(), strict=False):
                if struck != seen and chance > _TOO_SELDOM:
                    other = (*glyphs[:i], replace(glyph, options=(struck,)), *glyphs[i + 1 :])
                    yield Marking(other), f"a {struck} being taken for a {seen}", chance
    for i, (left, right) in enumerate(pairwise(glyphs)):
        if left.is_separator or right.is_separator:
            continue
        if left.options != right.options:
            turned = Marking((*glyphs[:i], right, left, *glyphs[i + 2 :]))
            yield turned, "two figures being changed round", given.transposed_rate
        for name in dict.fromkeys(s.glyph for gap in scheme.gaps for s in gap):
            worn = Marking((*glyphs[: i + 1], _separator(name), *glyphs[i + 1 :]))
            yield worn, "a separator being worn away", given.worn_rate


def _separator(glyph: str) -> Glyph:
    return Glyph((glyph,))
