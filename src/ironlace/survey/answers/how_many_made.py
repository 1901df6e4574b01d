"""How many were made: totals from the running numbers under the likeliest theory."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from ironlace.evidence.analyses import Analysis, Ask
from ironlace.evidence.progress import Steps
from ironlace.survey.answers.asked import UnderTheories, asked_before
from ironlace.survey.answers.comparison import SchemeOdds
from ironlace.survey.answers.dates_at_the_ends import dates_amiss, learned_of, spans_of
from ironlace.survey.answers.end_of_run import perhaps_of_others, thins_out
from ironlace.survey.answers.made_found import MadeFound, Totals
from ironlace.survey.answers.made_told import totals_told
from ironlace.survey.answers.one_series import Grounds, one_series, steps_used
from ironlace.survey.answers.other_readings import HARDLY_AMISS
from ironlace.survey.answers.rounded_numbers import rounding_of
from ironlace.survey.answers.run_in_time import run_in_time
from ironlace.survey.answers.struck_year import StruckYear
from ironlace.survey.answers.totals import (
    Total,
    total_from_one,
    total_with_unknown_start,
    totals_by_series,
    two_blocks,
)
from ironlace.survey.answers.two_densities import two_densities
from ironlace.survey.answers.which_numbering import compared
from ironlace.survey.errors import SurveyError
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import DatedKind, Report
from ironlace.survey.reports.where_from import WhereFrom
from ironlace.survey.schemes.face_value import FaceValue, face_value, face_values
from ironlace.survey.schemes.scheme import Scheme

_WORTH_COUNTING = 0.01
"""Under a theory less probable than this a total would mean nothing; a judgement."""


@dataclass(frozen=True)
class CountAsked(UnderTheories):
    """What is asked for when totals are estimated."""

    scheme: Annotated[
        str,
        Ask(
            "Theory to count under",
            "Left empty, the likeliest with a running number.",
            example="month, dot, year, dot, number in month",
        ),
    ] = ""
    once: Annotated[
        bool,
        Ask(
            "Numbered once through, none left out",
            "Only if a ledger, a catalogue or the like says so: the count never began again, and "
            "no batch of numbers was passed over. The numbers themselves cannot show it.",
        ),
    ] = False


def _why_none(reports: Sequence[Report], scheme: Scheme, given: Assumptions) -> str:
    """Why no mark can be counted, and what to do."""
    period = {"first_year": given.first_year, "last_year": given.last_year}
    for report in reports:
        years = [str(v.year) for v in face_values(report.mark, scheme, **period) if v.year]
        if len(years) > 1:
            return (
                f"The year of {report.id} ({report.mark}) comes round and may be "
                f"{' or '.join(years)}: narrow the first and the last year of making until one "
                "is left."
            )
    return f"No mark reads clearly as '{scheme}': check the theory or the marks."


def _work(reports: Reports, asked: CountAsked, steps: Steps) -> MadeFound:
    counted, given = reports.to_compare(), asked.assumptions()
    steps("comparing theories", 0.0)
    if named := bool(asked.scheme.strip()):
        scheme, probability = Scheme.parse(asked.scheme), 1.0
        state, year = None, None
    else:
        likeliest, year = _likeliest(reports, asked)
        scheme, probability = likeliest.candidate.scheme, likeliest.posterior
        state = likeliest.state
    steps("counting", 0.8)
    read = _read(counted, scheme, given)
    start = _start(scheme)
    used = [(r, value) for r, value in read if value is not None and _counts(value, start)]
    values = [value for _, value in used]
    not_read = tuple(r.id for r, value in read if value is None or not _counts(value, start))
    if not values:
        raise SurveyError(_why_none(counted, scheme, given))
    amiss = [0.0] * len(used)
    if values[0].series:
        amiss = dates_amiss(used, scheme, state or learned_of(counted, scheme, given), given)
    when = [_when(r, value) for r, value in used]
    totals = totals_of(
        values,
        scheme,
        given.misread_rate,
        when=when,
        once=asked.once,
        amiss=amiss,
    )
    year = None if totals.all_series is None else year
    where_from = WhereFrom.of([report for report, _ in used])
    totals = replace(totals, of_one=where_from.nearly_all)
    return MadeFound(
        reports,
        scheme,
        probability,
        named,
        len(values),
        totals.as_the_year_is_borne_out(year, len(values)),
        not_read,
        tuple(
            (report, chance)
            for (report, _), chance in zip(used, amiss, strict=True)
            if chance > HARDLY_AMISS
        ),
        year,
        tuple(value.number for value in values if value.number is not None),
        max((w for w in when if w is not None), default=None),
        where_from,
    )


def _start(scheme: Scheme) -> int:
    """The first number of a scheme's running number."""
    return next((f.start for f in scheme.fields if f.counted and f.start), None) or 1


def _counts(value: FaceValue, start: int) -> bool:
    """Whether it has a running number that the run can hold: one below its start is misread."""
    return value.number is not None and (value.series != "" or value.number >= start)


def _when(report: Report, value: FaceValue) -> float | None:
    """When a machine was made, by its mark or by a date that came with it; years and parts."""
    if value.year is not None:
        within = value.week / 53 if value.week else ((value.month or 6.5) - 0.5) / 12
        return value.year + within
    dated = report.dated
    if dated is None or dated.kind not in (DatedKind.AT, DatedKind.SOLD):
        return None
    if dated.date.approximate or dated.date.uncertain:
        # 'about 1890' shows no order
        return None
    ends = [
        day.year + (day.month - 0.5) / 12
        for day in (dated.date.earliest, dated.date.latest)
        if day is not None
    ]
    return sum(ends) / len(ends) if len(ends) == _TWO and ends[1] - ends[0] <= _TWO else None


def _likeliest(reports: Reports, asked: CountAsked) -> tuple[SchemeOdds, StruckYear | None]:
    """How the likeliest theory that has a running number stands, and what its year may be.

    The year is None where it may be taken for that of making, or there is none.
    """
    found = compared(reports, asked)
    runs_on = [
        result
        for result in found.results
        if any(part.counted is not None for part in result.candidate.scheme.fields)
    ]
    # dates speak against one run of numbers where the count began again: that is asked further on
    beside = [result for result in runs_on if result.name in found.beside(found.best.name)]
    if not (runs_on and runs_on[0].posterior >= _WORTH_COUNTING):
        runs_on = beside
    if runs_on:
        return runs_on[0], found.doubted_year(runs_on[0].candidate.scheme)
    raise SurveyError(
        "No theory with a running number has a chance above 1 %; a total would mean "
        "nothing. Name a theory to count under it all the same."
    )


def _read(
    reports: Iterable[Report], scheme: Scheme, given: Assumptions
) -> list[tuple[Report, FaceValue | None]]:
    span = {"first_year": given.first_year, "last_year": given.last_year}
    return [(report, face_value(report.mark, scheme, **span)) for report in reports]


def totals_of(
    values: Sequence[FaceValue],
    scheme: Scheme,
    misread_rate: float = Assumptions().misread_rate,
    *,
    when: Sequence[float | None] | None = None,
    once: bool = False,
    amiss: Sequence[float] | None = None,
) -> Totals:
    """Estimate totals from marks as one theory reads them, each with a running number.

    Parameters
    ----------
    when
        When each machine was made, years and their parts; None for one that nothing dates.
    once
        Whether it is known that each number was used once, from the first on.
    """
    numbers = [value.number for value in values if value.number is not None]
    if values[0].series == "":
        start = _start(scheme)
        rounding = rounding_of(numbers)
        in_time = run_in_time(
            numbers,
            [None] * len(numbers) if when is None else when,
            rounded_to=rounding.unit if rounding.told else 0,
        )
        grounds = Grounds.DATES if in_time.once else Grounds.NUMBERS
        known = one_series(numbers, start=start, misread_rate=misread_rate, grounds=Grounds.WORD)
        blocks = two_blocks(numbers)
        densities = two_densities(numbers) if start == 1 else None
        whole, *more = (
            [known]
            if once
            else [
                one_series(run, start=start, misread_rate=misread_rate, grounds=grounds)
                for run in in_time.without_misread
            ]
        )
        return Totals(
            whole=whole,
            second=more[0] if more else None,
            once_through=known.total,
            in_time=in_time,
            overall=total_from_one(numbers, start=start),
            unknown_start=(total_with_unknown_start(numbers) if len(set(numbers)) > _TWO else None),
            blocks=blocks,
            densities=densities,
            steps=whole.steps,
            thins_out=thins_out(whole, numbers),
            of_others=perhaps_of_others(numbers, densities, blocks, grounds, misread_rate),
        )
    return _totals_by_series(values, numbers, misread_rate, amiss)


def _totals_by_series(
    values: Sequence[FaceValue],
    numbers: Sequence[int],
    misread_rate: float,
    amiss: Sequence[float] | None,
) -> Totals:
    """The same where the count starts again with each series."""
    by_series: dict[str, list[int]] = defaultdict(list)
    for value, number in zip(values, numbers, strict=True):
        by_series[value.series].append(number)
    rounding = rounding_of(numbers)
    rounded_to = rounding.unit if rounding.told else 0
    steps = steps_used(np.array(sorted(numbers)), misread_rate, rounded_to=rounded_to)
    series = totals_by_series(by_series, misread_rate=misread_rate).by_steps(steps)
    spans = spans_of(values, amiss or [0.0] * len(values))
    sums = [(length, series.sum_over(length, least=len(numbers))) for length in spans]
    doubtful = bool(spans) and spans[0] < spans[-1]
    return Totals(
        series=series,
        all_series=_over_spans(sums) if sums else None,
        without_doubted=sums[1] if doubtful else None,
        were_all_right=sums[-1] if doubtful else None,
        steps=steps,
        one_series=_one_series(values[0], dated=bool(sums)),
    )


def _over_spans(sums: Sequence[tuple[int, Total]]) -> tuple[int, Total]:
    """The sum over the likely span, as wide as the spans that are not ruled out ask for."""
    (_, least), (length, likely), (_, most), _ = sums
    return length, replace(likely, low=least.low, high=most.high)


def _one_series(value: FaceValue, *, dated: bool) -> str:
    """What one series of a count is of, as a person would call it."""
    if not dated:
        return "series"
    return "week" if "W" in value.series else "month" if "-" in value.series else "year"


_TWO = 2
"""Two numbers have a range, but no interval that would help anyone."""


COUNT = Analysis(
    key="count",
    about="number made",
    question="How many were made?",
    section="made",
    inputs=Reports,
    asked=CountAsked,
    work=_work,
    answer=totals_told,
    method="totals from the running numbers that turned up, under the likeliest theory",
    published="Ruggles and Brodie 1947; Goodman 1952, J. American Statistical Association 47",
    asked_before=asked_before,
)
