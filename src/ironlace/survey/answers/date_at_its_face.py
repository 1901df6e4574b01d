"""The date that a mark states at its face, beside the one that is told of it."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.markings import Marking
from ironlace.survey.answers.comparison import Comparison
from ironlace.survey.answers.dates_by_theory import HARDLY_ANY, StatedDate
from ironlace.survey.answers.other_readings import (
    HARDLY_AMISS,
    chance_of_another_date,
    other_reading,
)
from ironlace.survey.likelihood.field_tables import WEEKS
from ironlace.survey.schemes.face_value import FaceValue, face_value, face_values
from ironlace.survey.time.months import PER_YEAR, MonthDensity

NEARLY_ALL = 0.95
"""A weight from which the little that is left is not told in the first line; a judgement."""


def whole_percent(p: float) -> str:
    """A chance in whole percent, and the least of them as less than one."""
    return f"{p * 100:.0f} %" if p >= 0.01 else "less than 1 %"


_AS_STATED = 0.9
"""What the month or year that a mark states must have of the probability, under its theory, for the
answer to be called what the mark states: as in the grade; a judgement."""


def against_the_mark(
    mark: Marking, found: Comparison, parts: Sequence[StatedDate]
) -> tuple[EdtfDate | None, str]:
    """The date a mark states at its face, and why the date given is another; '' when it is not."""
    leading = next((part for part in parts if part.says), None)
    if leading is None or leading.weight < HARDLY_ANY:
        return None, ""
    scheme, given = found.of(leading.name).candidate.scheme, found.assumptions
    if not scheme.tells_date or any(g.certain is None for g in mark.glyphs):
        return None, ""
    period = {"first_year": given.first_year, "last_year": given.last_year}
    faces = [face for face in face_values(mark, scheme, **period) if face.year is not None]
    if not faces:
        return None, "the mark as it stands cannot be read so, unless it is misread or worn"
    held = [float(leading.density.mass[_months_of(f, leading.density)].sum()) for f in faces]
    stated = _face_date(faces[int(np.argmax(held))])
    if max(held) >= _AS_STATED:
        return stated, ""
    if sum(held) >= _AS_STATED:  # its year comes round: it states one of several
        return None, ""
    said = " or ".join(_face_date(face).in_words() for face in faces)
    return stated, f"the mark itself, as it stands, says {said}"


def one_of_several(mark: Marking, found: Comparison, parts: Sequence[StatedDate]) -> str:
    """The dates between which a mark leaves the choice, where its year comes round; '' elsewhere.

    An interval from the first to the last would hold mostly years in which it was not made.
    """
    leading = parts[0]
    if not leading.says or leading.weight < NEARLY_ALL:
        return ""
    given, scheme = found.assumptions, found.of(leading.name).candidate.scheme
    if not scheme.tells_date or any(g.certain is None for g in mark.glyphs):
        return ""
    faces = face_values(mark, scheme, first_year=given.first_year, last_year=given.last_year)
    held = [
        (float(leading.density.mass[_months_of(face, leading.density)].sum()), face)
        for face in faces
        if face.year is not None
    ]
    told = [(share, face) for share, face in held if share >= _WORTH_NAMING]
    if len(told) < 2 or sum(share for share, _ in told) < _AS_STATED:
        return ""
    return " or ".join(
        f"{_face_date(face).in_words()} ({whole_percent(share)})" for share, face in told
    )


_WORTH_NAMING = 0.03
"""Chance from which one of several dates is named; a judgement."""


def _face_date(face: FaceValue) -> EdtfDate:
    month = f"-{face.month:02d}" if face.month else ""
    return EdtfDate.parse(f"{face.year}{month}")


def _months_of(face: FaceValue, density: MonthDensity) -> NDArray[np.int64]:
    """The months of a density that a mark states: one, those about a week, or a whole year."""
    assert face.year is not None
    first = (face.year - density.first_year) * PER_YEAR
    if face.month:
        return np.array([first + face.month - 1])
    if face.week:
        middle = min(int((face.week - 0.5) / WEEKS * PER_YEAR), PER_YEAR - 1)
        return first + np.arange(max(middle - 1, 0), min(middle + 2, PER_YEAR))
    return first + np.arange(PER_YEAR)


def beyond_the_reports(
    mark: Marking, stated: EdtfDate | None, found: Comparison, parts: Sequence[StatedDate]
) -> str:
    """Say that a mark states a date years away from all reports; empty where some lie near."""
    leading = next((part for part in parts if part.says), None)
    if (
        stated is None
        or stated.lower is None
        or leading is None
        or len(found.reports) > _MANY_REPORTS
    ):
        return ""
    scheme, given = found.of(leading.name).candidate.scheme, found.assumptions
    faces = (
        face_value(report.mark, scheme, first_year=given.first_year, last_year=given.last_year)
        for report in found.reports
        if report.mark != mark
    )
    years = [face.year for face in faces if face is not None and face.year is not None]
    year = stated.lower[0]
    if not years or min(abs(year - one) for one in years) < _YEARS_AWAY:
        return ""
    nearest = min(years, key=lambda one: abs(year - one))
    side = "after" if year > max(years) else "before" if year < min(years) else "away from"
    return (
        f"It lies {abs(year - nearest)} years {side} the nearest report ({nearest}): nothing but "
        "the mark itself speaks for that date, so look at its figures again in raking light."
    )


def may_have_been(mark: Marking, found: Comparison, parts: Sequence[StatedDate]) -> str:
    """What else the mark may have been under the theory that leads; '' where nothing is offered.

    Read with care it may fit better by one slip. Else a mark whose date lies far from the reports
    is told with its likeliest slip: another's reading may be worse than one's own.
    """
    leading = next(part for part in parts if part.says)
    result = found.of(leading.name)
    scheme, given = result.candidate.scheme, found.assumptions
    if other := other_reading("The mark", mark, scheme, result.state, given.in_hand()):
        return other.sentence(leading.called)
    if chance_of_another_date(mark, scheme, result.state, given) <= HARDLY_AMISS:
        return ""
    other = other_reading("The mark", mark, scheme, result.state, given, least=HARDLY_AMISS)
    if other is None:
        return ""
    value = face_value(other.mark, scheme, first_year=given.first_year, last_year=given.last_year)
    says = f" ({value.in_words()})" if value is not None else ""
    return (
        f"The mark lies far from the reports. The likeliest slip, {other.slip}, would make it "
        f"{other.mark}{says}: look at it again."
    )


_YEARS_AWAY = 4
"""Years from the nearest report from which a mark is told to stand alone: a works that made so few
that none came to light in so long is told apart from a misread figure by the mark alone."""


_MANY_REPORTS = 2_000
"""Reports up to which every one is read at its face for that: of more, some lie near."""
