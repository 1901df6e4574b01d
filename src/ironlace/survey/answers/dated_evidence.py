"""How dates that came with reports speak for or against schemes, and which of them look wrong.

A date is evidence on the machine's making. Under a scheme whose marks state a date its probability
is taken given that date (`splitting` does so, cut by cut); under one that says nothing of dates it
is that of a date thrown anywhere into the period, the same for all. What is given here is always
relative to the latter, so the schemes are compared on the same data. Bounds are taken as an answer
to a question asked with their date: was it made before or after? (A patent date says nothing of
how long after.) The chance that a date is wrong stands in all of them.

A running number that never starts again says nothing of one date, but of many: dates must rise
with the numbers. That is the timeline's probability of them.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from ironlace.survey.errors import SurveyError
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.many_reports import MANY
from ironlace.survey.likelihood.marks_as_arrays import lay_out_reports
from ironlace.survey.likelihood.stated_dates import stated_dates
from ironlace.survey.likelihood.summed_unknowns import explain
from ironlace.survey.reports.table import Report
from ironlace.survey.schemes.face_value import face_value
from ironlace.survey.schemes.library import Candidate
from ironlace.survey.schemes.scheme import Counted, Scheme
from ironlace.survey.time.months import MonthDensity
from ironlace.survey.time.timeline import (
    DatedNumber,
    Timeline,
    Wandering,
    anchor_likelihood,
    timeline,
)

PROBABLY_WRONG = 0.5
"""A date is named when it is wrong more probably than not."""

MOST_ON_A_LINE = 24
"""Most dated numbers on one line: more add time with their square, and little else."""


def wandering_under(assumptions: Assumptions) -> Wandering:
    """The usual habits of output and sale, with the chance of a wrong date as assumed."""
    return Wandering(blunder=assumptions.wrong_date_rate)


def runs_on(scheme: Scheme) -> bool:
    """Whether a scheme states no year but numbers on, so that dates must rise with the numbers."""
    return not scheme.tells_date and any(f.counted is Counted.OVERALL for f in scheme.fields)


def gain_of_running_numbers(
    candidate: Candidate, reports: Sequence[Report], given: Assumptions
) -> float:
    """Log-probability of the reports' dates along a rising line, relative to dates without order.

    Nought when the scheme does not run on, or fewer than two different numbers are dated. With
    many dated numbers, those spread most evenly are taken.
    """
    dated = [number for _, number in _dated_numbers(candidate.scheme, reports, given)]
    line = _line_under(dated, given)
    return line.log_gain if line else 0.0


def doubtful_dates(
    candidate: Candidate, reports: Sequence[Report], given: Assumptions
) -> tuple[tuple[str, float], ...]:
    """Reports whose date is probably wrong were a scheme true, each with the chance of it."""
    dated = [(i, report) for i, report in enumerate(reports) if report.dated is not None]
    if not dated:
        return ()
    how = wandering_under(given)
    found: list[tuple[str, float]] = []
    if candidate.scheme.tells_date:
        densities = _told_by_marks(candidate, reports, [i for i, _ in dated], given)
        for (_, report), (density, says) in zip(dated, densities, strict=True):
            if says and report.dated is not None:
                # The likelihood is (1 - wrong) good + wrong, relative to any date at all.
                wrong = how.blunder_of(report.dated.date)
                found.append((report.id, wrong / anchor_likelihood(report.dated, density, how)))
    elif runs_on(candidate.scheme):
        named = _dated_numbers(candidate.scheme, reports, given)
        line = _line_under([number for _, number in named], given)
        if line:
            found = [
                (name, chance)
                for (name, _), chance in zip(named, line.doubtful_anchors, strict=True)
            ]
    return tuple((name, chance) for name, chance in found if chance > PROBABLY_WRONG)


def _told_by_marks(
    candidate: Candidate, reports: Sequence[Report], rows: Sequence[int], given: Assumptions
) -> list[tuple[MonthDensity, bool]]:
    """What a scheme says of the dates of some reports by their marks alone.

    Of very many reports a sample teaches what is needed of its years.
    """
    read = lay_out_reports(without_dates(reports), given)
    taught = None
    if read.reports > MANY:
        _, taught = explain(read.evenly(MANY), candidate.scheme, given)
        read = lay_out_reports(without_dates([reports[i] for i in rows]), given)
        rows = range(len(rows))
    assert read.group is not None
    differing, which = np.unique(read.group[list(rows)], return_inverse=True)
    told = stated_dates(candidate, read, differing.tolist(), given, taught)
    return [told[i] for i in which.tolist()]


def without_dates(reports: Sequence[Report]) -> tuple[Report, ...]:
    """The same reports as if no date had come with them."""
    return tuple(replace(report, dated=None) for report in reports)


def _dated_numbers(
    scheme: Scheme, reports: Sequence[Report], given: Assumptions
) -> list[tuple[str, DatedNumber]]:
    if not runs_on(scheme):
        return []
    found = []
    for report in reports:
        if report.dated is None:
            continue
        value = face_value(
            report.mark, scheme, first_year=given.first_year, last_year=given.last_year
        )
        if value is not None and value.number is not None:
            dated = DatedNumber(value.number, report.dated.kind, report.dated.date)
            found.append((report.id, dated))
    if len(found) > MOST_ON_A_LINE:
        found.sort(key=lambda pair: pair[1].number)
        step = (len(found) - 1) / (MOST_ON_A_LINE - 1)
        found = [found[round(i * step)] for i in range(MOST_ON_A_LINE)]
    return found


def _line_under(dated: Sequence[DatedNumber], given: Assumptions) -> Timeline | None:
    return _line(tuple(dated), given.first_year, given.last_year, given.wrong_date_rate)


# Moving any other assumption leaves the line as it is, and so do most further reports.
@lru_cache(maxsize=256)
def _line(
    dated: tuple[DatedNumber, ...], first_year: int, last_year: int, wrong: float
) -> Timeline | None:
    if len({number.number for number in dated}) < 2:
        return None
    try:
        return timeline(
            dated,
            [],
            first_year=first_year,
            last_year=last_year,
            wandering=Wandering(blunder=wrong),
        )
    except SurveyError:
        return None
