"""How many were made, told: totals from the running numbers under the likeliest theory."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated, Any, Self

import numpy as np

from ironlace.evidence.analyses import Analysis, Ask
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.arrays import Ints
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.evidence.wording import counted, listed
from ironlace.survey.answers.asked import UnderTheories, asked_before
from ironlace.survey.answers.comparison import SchemeOdds, percent
from ironlace.survey.answers.end_of_run import (
    IF_THE_LAST_TURN_UP,
    PerhapsOthers,
    one_place,
    out_of_line,
    perhaps_of_others,
    sentences_of_the_end,
    thins_out,
)
from ironlace.survey.answers.one_series import (
    MORE_LIKELY,
    TOO_OPEN,
    Grounds,
    OneSeries,
    one_series,
    rounded,
    steps_used,
)
from ironlace.survey.answers.other_readings import HARDLY_AMISS, chance_of_another_date
from ironlace.survey.answers.rounded_numbers import rounding_of
from ironlace.survey.answers.run_in_time import RunInTime, run_in_time
from ironlace.survey.answers.struck_year import StruckYear
from ironlace.survey.answers.totals import (
    Blocks,
    SeriesTotals,
    Total,
    total_from_one,
    total_with_unknown_start,
    totals_by_series,
    two_blocks,
)
from ironlace.survey.answers.two_densities import TwoDensities, two_densities
from ironlace.survey.answers.which_numbering import SURE, compared
from ironlace.survey.errors import SurveyError
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.further_marks import Posterior
from ironlace.survey.likelihood.marks_as_arrays import lay_out_reports
from ironlace.survey.likelihood.summed_unknowns import explain
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import DatedKind, Report
from ironlace.survey.schemes.face_value import FaceValue, face_value, face_values
from ironlace.survey.schemes.scheme import Scheme

_WORTH_COUNTING = 0.01
"""Under a theory less probable than this a total would mean nothing; a judgement."""

_MOST_SERIES = 40
"""So many series are listed in the table; the figures hold them all."""


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


@dataclass(frozen=True)
class Totals:
    """What running numbers say of how many were made.

    Attributes
    ----------
    whole
        For a number that never starts again: how many, with all that may be wrong with the run
        allowed for. This is the answer; the four that follow each take one thing for granted.
    second
        Of a count that began again, as dates show: the second run; `whole` is then the first.
    once_through
        The total were each number used once from the first on, whatever survived.
    in_time
        What the dates beside the numbers show of the run.
    overall, unknown_start, blocks, densities
        The same were it one even run from the first number on; from an unknown first number; and
        whether there are two blocks, or two stretches of different thickness.
    series, all_series
        For one that starts again: totals by series, and over how many series the sum from the
        first to the last seen runs, with the sum.
    without_doubted, were_all_right
        The same without the dates that are probably misread, and with every date as it was read;
        None where none is in doubt.
    steps
        Probability that only every so many-th number was used, by that number; 1 is every one.
    one_series
        What one series is of: a month, a week, a year, or 'series' where it is none of them.
    seen_alone
        Whether only the series seen are summed, since those between may not have been.
    thins_out
        Whether the numbers of one run lie thinner towards its end.
    of_others
        Numbers that lie apart and are perhaps of another series; None where none do.
    """

    whole: OneSeries | None = None
    second: OneSeries | None = None
    once_through: Total | None = None
    in_time: RunInTime | None = None
    overall: Total | None = None
    unknown_start: Total | None = None
    blocks: Blocks | None = None
    densities: TwoDensities | None = None
    series: SeriesTotals | None = None
    all_series: tuple[int, Total] | None = None
    without_doubted: tuple[int, Total] | None = None
    were_all_right: tuple[int, Total] | None = None
    steps: Mapping[int, float] = field(default_factory=lambda: {1: 1.0})
    one_series: str = "series"
    seen_alone: bool = False
    thins_out: bool = False
    of_others: PerhapsOthers | None = None

    @property
    def thicker(self) -> bool:
        """Whether two stretches of different thickness are the best account of the numbers."""
        if self.densities is None or not self.densities.found:
            return False
        return self.blocks is None or self.densities.odds > self.blocks.odds

    @property
    def step(self) -> int:
        """How many numbers lie from one that was used to the next, most probably."""
        return max(self.steps, key=lambda step: self.steps[step])

    @property
    def best(self) -> tuple[str, Total]:
        """The total that holds, and what it is a total of."""
        if self.whole is not None and self.second is not None:
            return "made in all", _of_both(self.whole.total, self.second.total)
        if self.whole is not None and self.of_others is not None and self.of_others.far_thinner:
            return "made in all", self.of_others.floor_of(self.whole.total)
        if self.whole is not None:
            return "made in all", self.whole.total
        if self.all_series is not None:
            over = (
                "in the series seen"
                if self.seen_alone
                else "from the first series seen to the last"
            )
            return f"made {over}", self.all_series[1]
        assert self.series is not None
        return "made in a series, on average", self.series.mean

    @property
    def bounded(self) -> bool:
        """Whether more than a floor is told."""
        if self.second is not None or (self.whole is not None and not self.whole.bounded):
            return False
        if self.of_others is not None and self.of_others.far_thinner:
            return False
        total = self.best[1]
        return total.high <= TOO_OPEN * total.low and not self.seen_alone

    def as_the_year_is_borne_out(self, year: StruckYear | None, known: int) -> Self:
        """Sums over years as far as anything shows the year struck to be that of making.

        `known` is how many machines are known.
        """
        if year is None or self.series is None or self.all_series is None:
            return self
        years = len(self.series.each)
        seen = years, self.series.sum_over(years, least=known)
        if year.is_doubted:
            return replace(
                self, all_series=seen, without_doubted=None, were_all_right=None, seen_alone=True
            )
        length, total = self.all_series
        lowered = replace(total, low=min(total.low, seen[1].low))
        return replace(self, all_series=(length, lowered))


@dataclass(frozen=True)
class MadeFound:
    """How many were made.

    Attributes
    ----------
    reports
        All reports.
    scheme
        The theory under which the numbers were read.
    probability
        Its probability; the totals stand or fall with it. 1 when it was named by a person.
    named
        Whether a person named it.
    used
        How many numbers were read.
    totals
        What they say.
    not_read
        Ids of reports whose mark is not clear or does not fit.
    doubted
        Reports at the ends of the time whose date is perhaps not the one read, with the chance.
    year
        Whether the year struck is that of making, where series are of years and that is in doubt.
    numbers
        The numbers that could be used.
    latest
        When the last of the dated machines was made, years and their parts; None without dates.
    place
        Where nearly all reports are from, when they say so; empty else.
    """

    reports: Reports
    scheme: Scheme
    probability: float
    named: bool
    used: int
    totals: Totals
    not_read: tuple[str, ...] = field(default=())
    doubted: tuple[tuple[Report, float], ...] = field(default=())
    year: StruckYear | None = None
    numbers: tuple[int, ...] = ()
    latest: float | None = None
    place: str = ""


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
        one_place([report for report, _ in used]),
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


def _of_both(first: Total, second: Total) -> Total:
    """Two runs counted apart and added; the lower ends, each held by itself, hold together."""
    return Total(
        first.middle + second.middle,
        first.low + second.low,
        first.high + second.high,
        first.share,
        "two runs, told apart by dates, counted apart and added",
    )


def _one_series(value: FaceValue, *, dated: bool) -> str:
    """What one series of a count is of, as a person would call it."""
    if not dated:
        return "series"
    return "week" if "W" in value.series else "month" if "-" in value.series else "year"


_TWO = 2
"""Two numbers have a range, but no interval that would help anyone."""


def spans_of(values: Sequence[FaceValue], amiss: Sequence[float]) -> tuple[int, ...]:
    """How many months, weeks or years lie from the first to the last seen, both included.

    Four spans: the shortest and the likeliest, the longest that is not ruled out, and that of all
    dates as they were read; none where a series has no date.

    Parameters
    ----------
    amiss
        Chance of each date not to be the one read, shape (values,).
    """
    at = _places_in_time(values)
    if at is None:
        return ()
    chance = np.asarray(amiss)
    found = []
    for most in (HARDLY_AMISS, 0.5, 1.0 - HARDLY_AMISS, 1.0):
        kept = at[chance <= most]
        found.append(int(kept.max() - kept.min()) + 1 if len(kept) else 1)
    return tuple(found)


def _places_in_time(values: Sequence[FaceValue]) -> Ints | None:
    """The month, week or year of each, numbered on; None where one has no year, shape (values,)."""
    if not values or any(v.year is None or v.letter for v in values):
        return None
    years = np.array([v.year for v in values if v.year is not None], dtype=np.int64)
    if "W" in values[0].series:
        return np.asarray(years * 53 + np.array([v.week or 0 for v in values]))
    if "-" in values[0].series:
        return np.asarray(years * 12 + np.array([v.month or 0 for v in values]))
    return years


def dates_amiss(
    used: Sequence[tuple[Report, FaceValue]], scheme: Scheme, state: Posterior, given: Assumptions
) -> list[float]:
    """Chance of each report at either end of the time not to bear the date it shows.

    From both ends inwards, until one is hardly amiss; those between decide nothing and have 0.
    """
    amiss = [0.0] * len(used)
    at = _places_in_time([value for _, value in used])
    if at is None:
        return amiss
    order = np.argsort(at, kind="stable").tolist()
    for inwards in (order, order[::-1]):
        for i in inwards[:_MOST_AMISS]:
            amiss[i] = chance_of_another_date(used[i][0].mark, scheme, state, given)
            if amiss[i] <= HARDLY_AMISS:
                break
    return amiss


_MOST_AMISS = 40
"""So many reports at either end are looked at, some hundredths of a second each. Where all of them
are amiss those behind are taken as read, and the answer stays conjectured."""


def learned_of(reports: Sequence[Report], scheme: Scheme, given: Assumptions) -> Posterior:
    """What reports teach of a theory that a person named."""
    read = lay_out_reports(reports, given)
    some = read if read.reports <= _MOST_LEARNED_FROM else read.evenly(_MOST_LEARNED_FROM)
    _, summed = explain(some, scheme, given)
    return Posterior(summed.places, summed.weights)


_MOST_LEARNED_FROM = 2_000
"""So many reports teach enough of a theory to tell a date far from the others."""


def _sentences(found: MadeFound) -> list[str]:
    numbers = counted(found.used, "number")
    totals = found.totals
    weight = "you named it" if found.named else f"chance {percent(found.probability)}"
    said = [
        _in_one_sentence(totals, numbers) + _unless_read_otherwise(found),
        *([found.year.sentence_of_all()] if found.year is not None else []),
        *_perhaps_misread(found),
        *_may_be_otherwise(found),
        *_rounded(totals),
        *_of_the_end(found),
        *_if_once_through(totals),
        f"The marks are read as '{found.scheme.in_brief()}' ({weight}); {numbers} could be used.",
        *_why(totals),
        *_amiss(totals),
        *_totals_in_words(totals),
    ]
    if found.not_read:
        said.append(f"Not clear or not fitting, so not counted: {', '.join(found.not_read)}.")
    return found.reports.told_with(said)


def _may_be_otherwise(found: MadeFound) -> list[str]:
    """What the answer hangs on that the numbers of one run do not show, the weightiest first."""
    totals, whole = found.totals, found.totals.whole
    if whole is None:
        return []
    said = (
        totals.of_others.sentence(whole.total) if totals.of_others else "",
        out_of_line(totals.in_time) if totals.in_time else "",
    )
    return [sentence for sentence in said if sentence]


def _of_the_end(found: MadeFound) -> list[str]:
    """That the last ones made may be missing, and what would show it, of a two-sided total."""
    totals, whole = found.totals, found.totals.whole
    if whole is None or not totals.bounded:
        return []
    return sentences_of_the_end(
        whole, found.numbers, found.latest, thin=totals.thins_out, place=found.place
    )


def _unless_read_otherwise(found: MadeFound) -> str:
    """That the whole hangs on a reading of the marks which is not sure."""
    if found.named or found.probability >= SURE:
        return "."
    chance = counted(max(min(round(found.probability * 100), 99), 1), "chance")
    return f"; all this if the marks are read rightly, {chance} in 100."


def _in_one_sentence(totals: Totals, numbers: str) -> str:
    """The answer, for someone who reads no further."""
    _, total = totals.best
    of = ""
    if totals.all_series is not None:
        length = totals.all_series[0]
        span = f"the {length} {totals.one_series}s from the first to the last seen"
        of = f" in {span}, if none stood idle"
        if totals.seen_alone:
            of = f" in the {length} series seen"
        if length == 1:
            of = f" in that one {totals.one_series}"
    elif totals.whole is None:
        of = " in each run that starts again at 1, on average"
    elif totals.whole.grounds is Grounds.WORD:
        of = ", if each number was used once, as you say"
    else:
        of = ", with whatever else was numbered in the same series"
    if not totals.bounded:
        return f"At least {total.low:,.0f} were made{of}; how many more, {numbers} cannot tell"
    if_so = "" if totals.whole is None else IF_THE_LAST_TURN_UP
    return (
        f"About {total.middle:,.0f} were made{of}: between {total.low:,.0f} and "
        f"{total.high:,.0f} in 9 cases out of 10{if_so}"
    )


def _perhaps_misread(found: MadeFound) -> list[str]:
    """Dates at the ends of the time that are perhaps misread, and what it would be were they not.

    Before all else that follows: the whole sum hangs on the first and the last date.
    """
    totals = found.totals
    without, right = totals.without_doubted, totals.were_all_right
    if without is None or right is None:
        return []
    out = [f"{r.id} ({r.mark})" for r, chance in found.doubted if chance > MORE_LIKELY]
    held = [f"{r.id} ({r.mark})" for r, chance in found.doubted if chance <= MORE_LIKELY]
    said = []
    if out:
        lies, they = ("lies", "it") if len(out) == 1 else ("lie", "they")
        said.append(
            f"{_some(out)} {lies} so far in time from the others that {they} may be misread: look "
            f"again. Without {'it' if len(out) == 1 else 'them'} the total is about "
            f"{without[1].middle:,.0f} ({_span(without[1])}) in {without[0]} "
            f"{totals.one_series}s; were all dates right, about {right[1].middle:,.0f} in "
            f"{right[0]}."
        )
    if held:
        is_it = "is, as read, the first or last" if len(held) == 1 else "are, as read, at the ends"
        said.append(
            f"{_some(held)} {is_it} of all and may be misread: the lower end allows for it."
        )
    return said


def _some(names: Sequence[str]) -> str:
    """The first few names, and how many more there are."""
    more = len(names) - _MOST_NAMED
    return listed([*names[:_MOST_NAMED], *([f"{more} more"] if more > 0 else [])])


def _if_once_through(totals: Totals) -> list[str]:
    """What it would be for whoever learns that the numbers ran once through, none left out."""
    t, whole = totals.once_through, totals.whole
    if t is None or whole is None or whole.grounds is Grounds.WORD or totals.second is not None:
        return []
    if t.high > TOO_OPEN * t.low:
        return []
    return [
        "If every number was used once, from the first on, it was about "
        f"{t.middle:,.0f}: between {t.low:,.0f} and {t.high:,.0f} in 9 cases out of 10."
    ]


def _why(totals: Totals) -> list[str]:
    """Why no more than a floor is told, or on what the rest is."""
    whole, in_time = totals.whole, totals.in_time
    if whole is None or in_time is None:
        return []
    if whole.grounds is Grounds.WORD:
        return ["That each number was used once, from the first on, is taken on your word."]
    said = []
    if in_time.on_two:
        named = listed([f"{n:,}" for n in in_time.on_two[:_MOST_NAMED]])
        said.append(
            f"More than one machine bears {named}: the count began again, two works used the same "
            "numbers, or a figure is misread."
        )
    if totals.second is not None and in_time.since is not None:
        said.append(
            f"By its dates the count began again at a low number about {in_time.since:.0f}: the "
            "machines before and after are counted apart and added."
        )
    elif whole.grounds is Grounds.DATES:
        said.append(
            f"The numbers rise with the dates of {counted(in_time.dated, 'machine')}, so the count "
            "hardly began again."
        )
    else:
        said.append(
            "Numbers alone do not show whether the count began again at 1, or whether batches were "
            f"never used. {_what_would_tell(in_time)}"
        )
    return said


_MOST_NAMED = 5
"""So many numbers are named in a sentence; the figures hold them all."""


def _what_would_tell(in_time: RunInTime) -> str:
    """What a person could ask for."""
    if in_time.unordered > MORE_LIKELY:
        return (
            f"The numbers of {counted(in_time.dated, 'dated machine')} do not rise with their "
            "dates: works side by side may have shared the numbers, or dates are wrong."
        )
    return (
        "Ask when, and under whom, the numbers began; machines with a number and a date would show "
        "it."
    )


def _rounded(totals: Totals) -> list[str]:
    """That numbers were rounded: all that end in 0 or 5, or some."""
    whole = totals.whole
    if whole is not None and whole.rounding.told:
        unit, in_ten = whole.rounding.unit, min(max(round(whole.rounding.share * 10), 1), 9)
        ends = {5: "0 or 5", 50: "00 or 50", 500: "000 or 500"}.get(unit, str(unit)[1:])
        return [
            f"About {in_ten} in ten numbers were rounded as they were passed on, so that they end "
            f"in {ends}: where the highest is one of them, the lower end allows for it. Ask for "
            "the numbers as they are struck."
        ]
    if not rounded(totals.steps):
        return []
    return [
        f"Nearly every number ends in {'0 or 5' if totals.step % 2 else '0'}: they were "
        f"probably rounded as they were passed on. The lower end allows for a works that used only "
        f"every {totals.step}th number. Ask for the numbers as they are struck."
    ]


def _amiss(totals: Totals) -> list[str]:
    """What looks wrong with the run of numbers, the weightiest first."""
    said = []
    if totals.step > 1 and not rounded(totals.steps):
        every = {2: "second", 3: "third"}.get(totals.step, f"{totals.step}th")
        said.append(
            f"Only every {every} number turned up: either the others were never used, which is "
            "taken for granted here, or they belong to another works."
        )
    whole = totals.whole
    if whole is None:
        return said
    if whole.doubted:
        one = len(whole.doubted) == 1
        said.append(
            f"{listed([f'{number:,}' for number in whole.doubted])} "
            f"{'lies' if one else 'lie'} so far above the rest that a figure is probably misread: "
            f"look at {'that mark' if one else 'those marks'} again."
        )
    # of two things that may be so, the likelier
    if totals.thicker and totals.densities is not None:
        said.append(totals.densities.sentence())
    elif totals.blocks is not None and totals.blocks.found:
        said.append(totals.blocks.sentence())
    if whole.handfuls.chance > MORE_LIKELY:
        said.append(
            "The numbers lie in handfuls close together, as from one shipment or one owner: each "
            "handful counts little more than a single report."
        )
    return [*said, *_left_out(whole)]


def _left_out(whole: OneSeries) -> list[str]:
    """Whether batches of numbers may have been left out, which few numbers can show."""
    if whole.grounds is Grounds.WORD:
        return []
    if whole.in_lots:
        return [
            "The numbers lie in some round hundreds or thousands and in none of the others: "
            "batches were left out, or went elsewhere."
        ]
    if whole.left_out < _HARDLY:
        return ["No batches of numbers seem to have been left out."]
    return [
        "The lower end allows for batches of numbers that were never used, which those seen "
        "cannot rule out."
    ]


_HARDLY = 0.05
"""A chance of lots left out that moves no end of the interval, which leaves as much below it."""


def _totals_in_words(totals: Totals) -> list[str]:
    """Totals that each take something for granted, for whoever knows that it holds."""
    said = []
    if (t := totals.overall) is not None:
        said.append(
            "Had every number been used from the first on and machines of all times survived "
            f"alike: about {t.middle:,.0f} (90 %: {_span(t)})."
        )
    if (t := totals.unknown_start) is not None:
        said.append(
            f"The same were the first number unknown: about {t.middle:,.0f} (90 %: {_span(t)})."
        )
    if totals.series is not None and totals.all_series is not None:
        t = totals.series.mean
        said.append(
            f"Each {totals.one_series} saw about {t.middle:,.0f} made on average "
            f"(90 %: {_span(t)})."
        )
    if totals.series is not None:
        said.append(
            f"More survivors come from a {totals.one_series} that made many, which is allowed for."
        )
    return said


def _span(total: Total) -> str:
    return f"{total.low:,.0f} to {total.high:,.0f}"


def _figures(found: MadeFound) -> dict[str, Any]:
    totals = found.totals
    told: dict[str, Any] = {
        "scheme": str(found.scheme),
        "probability": found.probability,
        "numbers": found.used,
        "not_read": list(found.not_read),
        "best": totals.best[1].as_dict()
        | {"of": totals.best[0], "only_a_floor": not totals.bounded},
        "rounded": (
            {"chance": r.chance, "to": r.unit, "share": r.share, "told": r.told}
            if totals.whole and (r := totals.whole.rounding)
            else None
        ),
        "every_so_many": {str(step): chance for step, chance in totals.steps.items()},
        "shapes": dict(totals.whole.shapes) if totals.whole else None,
        "chance_that_lots_were_left_out": totals.whole.left_out if totals.whole else None,
        "chance_of_handfuls": totals.whole.handfuls.chance if totals.whole else None,
        "perhaps_misread": (
            {str(number): chance for number, chance in totals.whole.misread.items()}
            if totals.whole
            else None
        ),
        "grounds": totals.whole.grounds.value if totals.whole else None,
        "once_through": totals.once_through.as_dict() if totals.once_through else None,
        "second_run": totals.second.total.as_dict() if totals.second else None,
        "in_time": totals.in_time.as_dict() if totals.in_time else None,
        "overall": totals.overall.as_dict() if totals.overall else None,
        "unknown_start": totals.unknown_start.as_dict() if totals.unknown_start else None,
    }
    if (blocks := totals.blocks) is not None:
        told["blocks"] = {
            "found": blocks.found,
            "odds": min(blocks.odds, 1e12),
            "first": list(blocks.first),
            "second": list(blocks.second),
            "gap": list(blocks.gap),
            "total": blocks.total.as_dict() if blocks.total else None,
        }
    told["densities"] = totals.densities.as_dict() if totals.densities else None
    if (series := totals.series) is not None:
        told["series"] = {
            "each": {name: t.as_dict() for name, t in series.each.items()},
            "mean": series.mean.as_dict(),
            "typical": series.typical.as_dict(),
            "unevenness": series.unevenness.as_dict(),
        }
    if totals.all_series is not None:
        told["all_series"] = {
            "series": totals.all_series[0],
            "total": totals.all_series[1].as_dict(),
        }
        told["dates_perhaps_misread"] = {r.id: chance for r, chance in found.doubted}
    return {**told, **found.reports.as_dict()}


def _answer(found: MadeFound) -> Answer:
    # a theory that a person named was not weighed here
    totals = found.totals
    whole = totals.whole
    # nor is a floor, nor what holds on a person's word, shown by the numbers
    shown = whole is None or (totals.bounded and whole.grounds is not Grounds.WORD)
    # nor a span that hangs on a date which may be misread
    shown = shown and totals.were_all_right is None and not rounded(totals.steps)
    # nor years that may not be those of making
    shown = shown and found.year is None
    # nor the end of a run that thins out, or of which one place alone tells
    shown = shown and not totals.thins_out and not (whole is not None and found.place)
    sure = not found.named and found.probability >= SURE and shown
    grade = Grade.INFERRED if sure else Grade.CONJECTURED
    told = dict([totals.best])
    only_floor = not totals.bounded and (whole is not None or totals.seen_alone)
    if totals.series is not None:
        told.setdefault("made in a series, on average", totals.series.mean)
    return Answer(
        results=tuple(
            _result(name, total, grade, only_floor=only_floor) for name, total in told.items()
        ),
        sentences=tuple(_sentences(found)),
        figures=_figures(found),
        tables=(_series_table(totals.series),) if totals.series is not None else (),
    )


def _result(name: str, total: Total, grade: Grade, *, only_floor: bool) -> Result:
    """One total; only its lower end where the upper one is wide open, or not to be told."""
    only_floor = only_floor or total.high > TOO_OPEN * total.low
    return Result(
        name=f"{name}, at least" if only_floor else name,
        value=round(total.low if only_floor else total.middle),
        unit="machines",
        interval=Interval(
            low=float(round(total.low)),
            high=None if only_floor else float(round(total.high)),
            coverage=total.share,
        ),
        grade=grade,
    )


def _series_table(series: SeriesTotals) -> Table:
    """The total of each series, the first of them when there are many."""
    return Table(
        "Made in each series" + (" (the first)" if len(series.each) > _MOST_SERIES else ""),
        ("Series", "About", "90 %"),
        tuple(
            (name, f"{t.middle:,.0f}", _span(t))
            for name, t in sorted(series.each.items())[:_MOST_SERIES]
        ),
    )


COUNT = Analysis(
    key="count",
    about="number made",
    question="How many were made?",
    section="made",
    inputs=Reports,
    asked=CountAsked,
    work=_work,
    answer=_answer,
    method="totals from the running numbers that turned up, under the likeliest theory",
    published="Ruggles and Brodie 1947; Goodman 1952, J. American Statistical Association 47",
    asked_before=asked_before,
)
