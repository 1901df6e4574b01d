"""What else the reports in a record say: plots, totals, survivors, what to ask for next."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ironlace.evidence.answers import Plot
from ironlace.evidence.errors import IronlaceError
from ironlace.record import Record
from ironlace.survey.answers.dating import date_all
from ironlace.survey.answers.next_report import next_report
from ironlace.survey.answers.odds_trace import odds_trace
from ironlace.survey.answers.plots import (
    month_year_grid,
    numbers_against_dates,
    odds_as_they_came,
    power_curves,
)
from ironlace.survey.answers.sensitivity import most_telling, sensitivity
from ironlace.survey.answers.studies import count_study, survivors_study
from ironlace.survey.reports.anchors import anchors_of
from ironlace.survey.reports.table import write_reports
from ironlace.survey.schemes.face_value import FaceValue, face_value
from ironlace.survey.schemes.library import read_schemes
from ironlace.survey.schemes.scheme import Counted
from ironlace.survey.time.timeline import DatedNumber
from ironlace.workshop.survey.reports_of_record import FirstDate, reports_of, sightings_of

_SEED = 20250301  # the same record tells the same story each time it is opened


@dataclass(frozen=True, slots=True)
class Told:
    """One question put to the survey, and its answer in sentences (or why there is none)."""

    asks: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SurveyView:
    """The answers and the plots for one record."""

    answers: tuple[Told, ...]
    plots: tuple[Plot, ...]


def survey_view(record: Record, found: FirstDate, schemes: str = "") -> SurveyView:
    """Ask the survey room everything that a page shows of a record's reports."""
    reports = reports_of(record)
    assumed = found.comparison.assumptions
    given = schemes if schemes.strip() else None
    asked = next_report(found.comparison, np.random.default_rng(_SEED))
    answers = (
        _told("How far do the assumptions move the odds?", lambda: _moved(found)),
        _told(
            "How many were made?",
            lambda: count_study(write_reports(reports), _running(found), assumed).sentences(),
        ),
        _told(
            "How many survive, and how rare are they?",
            lambda: survivors_study(write_reports(sightings_of(record))).sentences(),
        ),
        Told("Which report would tell most?", tuple(asked.sentences())),
    )
    candidates = read_schemes(given) if given else None
    plots = [] if asked.settled else [power_curves(asked)]
    if len(reports) > 1:
        plots.append(odds_as_they_came(odds_trace(reports, candidates, assumed)))
    plots += _dated_plots(found)
    return SurveyView(answers, tuple(plots))


def _told(asks: str, answer: Callable[[], list[str]]) -> Told:
    try:
        return Told(asks, tuple(answer()))
    except IronlaceError as error:
        return Told(asks, (str(error),))


def _moved(found: FirstDate) -> list[str]:
    return most_telling(sensitivity(found.comparison))


def _running(found: FirstDate) -> str | None:
    """The likeliest theory, when it has a running number to count by."""
    scheme = found.comparison.best.candidate.scheme
    return str(scheme) if any(field.counted for field in scheme.fields) else None


def _dated_plots(found: FirstDate) -> list[Plot]:
    """The plots that the likeliest theory allows."""
    comparison = found.comparison
    scheme = comparison.best.candidate.scheme
    first, last = comparison.assumptions.first_year, comparison.assumptions.last_year
    values: dict[str, FaceValue] = {}
    for report in comparison.reports:
        value = face_value(report.mark, scheme, first_year=first, last_year=last)
        if value is not None:
            values[report.id] = value
    months = [(v.year, v.month) for v in values.values() if v.year and v.month]
    plots = [month_year_grid(months)] if months else []
    anchors = anchors_of(comparison.reports)
    if anchors and any(field.counted is Counted.OVERALL for field in scheme.fields):
        dated = [
            DatedNumber(value.number, anchor.kind, anchor.date)
            for anchor in anchors
            if (value := face_value(anchor.mark, scheme, first_year=first, last_year=last))
            and value.number is not None
        ]
        marks = {v.number: r.mark for r in comparison.reports if (v := values.get(r.id))}
        numbers = sorted(number for number in marks if number is not None)
        if numbers and dated:
            told = date_all([marks[n] for n in numbers], comparison, anchors)
            densities = {n: d.density for n, d in zip(numbers, told, strict=True)}
            plots.append(numbers_against_dates(dated, densities))
    return plots
