"""What each theory says of the dates of several marks, and what dated numbers say of the theory."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ironlace.evidence.arrays import Floats
from ironlace.evidence.markings import Marking
from ironlace.survey.answers.comparison import Comparison, SchemeOdds
from ironlace.survey.answers.dated_evidence import PROBABLY_WRONG, gain_of_running_numbers, runs_on
from ironlace.survey.answers.one_date import FIXES, LEAVES_OUT, WithAndWithout, is_near
from ironlace.survey.answers.run_in_time import lies_on_another_run
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.likelihood.stated_dates import date_alone, dates_in_hand
from ironlace.survey.reports.anchors import Anchor, anchors_of
from ironlace.survey.reports.table import DatedEvidence, Report
from ironlace.survey.schemes.face_value import face_value
from ironlace.survey.schemes.scheme import FieldKind, Scheme
from ironlace.survey.time.months import PER_YEAR, MonthDensity
from ironlace.survey.time.timeline import (
    DatedNumber,
    Timeline,
    Wandering,
    month_likelihood,
    timeline,
)

_WORTH_ASKING = 1e-4
"""A theory less probable than this moves no end of a 90 % interval."""


@dataclass(frozen=True)
class StatedDate:
    """What one scheme says of the date.

    Attributes
    ----------
    name
        Name of the scheme.
    weight
        Its probability.
    density
        What it says; flat over the period when it says nothing.
    says
        Whether the mark states a date under it.
    called
        What the scheme is called before a person.
    tells
        What of the number states the date under it, as the end of "if the number ...".
    """

    name: str
    weight: float
    density: MonthDensity
    says: bool
    called: str = ""
    tells: str = "tells a date"


HARDLY_ANY = 0.02
"""Theories that state a date have no place in the first line below this weight; a judgement."""


def _tells(scheme: Scheme) -> str:
    """What of a number states the date, as the end of "if the number ..."."""
    kinds = {field.kind for field in scheme.fields}
    for kind in (FieldKind.MONTH, FieldKind.WEEK, FieldKind.YEAR):
        if kind in kinds:
            return f"tells the {kind}"
    return "runs on"


def likeliest_line(said: Sequence["SaidByTheory"], weights: Floats) -> "SaidByTheory | None":
    """What the likeliest theory says that lays dates along a line; None where none does so."""
    lines = [i for i, one in enumerate(said) if one.on_a_line and weights[i] >= HARDLY_ANY]
    return said[max(lines, key=lambda i: weights[i])] if lines else None


def given_what_remains(
    found: Comparison, said: Sequence["SaidByTheory"], weights: Floats
) -> Floats:
    """Weights of theories once those that marks never part are told apart by dates where they can.

    Dates that rise with their numbers are what a running number foretells and a code without
    meaning does not; where they do, the codes beside it are set aside. Without, they stay.
    """
    place = {one.name: i for i, one in enumerate(said)}
    weights = weights.copy()
    for names in found.never_parted:
        here = [place[name] for name in names]
        lines = [i for i in here if said[i].on_a_line and said[i].log_gain_of_line > _RISES]
        silent = [i for i in here if not said[i].dates]
        if lines and silent:
            leading = max(lines, key=lambda i: weights[i])
            weights[leading] += weights[silent].sum()
            weights[silent] = 0.0
    return weights


_RISES = math.log(3.0)
"""Dates along a rising line that are three times as probable as without order, or more, speak for
a number that runs on; a judgement: three dates in order by chance are one in six."""


def told_by(parts: Sequence[StatedDate]) -> float:
    """How probable it is that the number tells a date."""
    return math.fsum(part.weight for part in parts if part.says)


def parts_of(
    mark: Marking,
    found: Comparison,
    said: Sequence["SaidByTheory"],
    weights: Floats,
    alone: MonthDensity,
) -> tuple[StatedDate, ...]:
    """What each scheme says of a mark, likeliest first; `alone` where one says nothing of it."""
    return tuple(
        StatedDate(
            s.name,
            float(weight),
            s.dates.get(mark, alone),
            mark in s.dates,
            found.called(s.name),
            _tells(found.of(s.name).candidate.scheme),
        )
        for s, weight in sorted(zip(said, weights, strict=True), key=lambda pair: -pair[1])
    )


@dataclass(frozen=True)
class DatesAsked:
    """The marks asked about and all that is known of dates, laid out once for every scheme.

    `known` are all dated marks; of them `further` did not come with the reports, so that their
    weight is not in the odds yet. `evidence` is what came with the reports, by mark.
    """

    marks: Sequence[Marking]
    reports: Sequence[Report]
    known: Sequence[Anchor]
    further: Sequence[Anchor]
    given: Assumptions
    how: Wandering
    evidence: Mapping[Marking, DatedEvidence]

    @classmethod
    def of(
        cls, marks: Sequence[Marking], found: Comparison, anchors: Sequence[Anchor], how: Wandering
    ) -> "DatesAsked":
        """Lay out marks and the dates beside them; `how` is what is granted of changing output."""
        came = anchors_of(found.reports)
        counted = {(a.mark, a.kind, a.date) for a in came}
        further = [a for a in anchors if (a.mark, a.kind, a.date) not in counted]
        evidence: dict[Marking, DatedEvidence] = {}
        # Of several reports of one mark the first that came with a date speaks for it.
        for report in found.reports:
            if report.dated is not None:
                evidence.setdefault(report.mark, report.dated)
        return cls(
            tuple(dict.fromkeys(marks)),
            found.reports,
            [*came, *further],
            further,
            found.assumptions,
            how,
            evidence,
        )

    def stated(
        self, result: SchemeOdds, marks: Sequence[Marking], given: Assumptions
    ) -> list[tuple[MonthDensity, bool]]:
        """What one scheme says of marks, each by itself, read with the rates of `given`."""
        rows = {i: [self.evidence[m]] for i, m in enumerate(marks) if m in self.evidence}
        reported = {report.mark for report in self.reports}
        return dates_in_hand(
            result.candidate,
            result.state,
            lay_out(marks, given, rows),
            [mark in reported for mark in marks],
            given,
        )

    def date_alone(self, mark: Marking) -> MonthDensity:
        """What dated evidence says of a mark whose number says nothing."""
        rows = {0: [self.evidence[mark]]} if mark in self.evidence else {}
        density = date_alone(lay_out([mark], self.given, rows), 0, self.given)
        for anchor in self.further:
            if anchor.mark == mark:
                density = self.after(density, anchor)[0]
        return density

    def after(self, density: MonthDensity, anchor: Anchor) -> tuple[MonthDensity, float]:
        """A density once a date is known of it, and how much more probable it made that date."""
        told = month_likelihood(anchor, self.given.first_year, self.given.last_year, self.how)
        mass = density.mass * told
        ratio = float(mass.sum())
        return MonthDensity(density.first_year, mass / ratio), ratio


@dataclass(frozen=True)
class SaidByTheory:
    """What one scheme says of several marks, and how the anchors speak for it."""

    name: str
    weight: float
    log_gain: float
    dates: dict[Marking, MonthDensity]
    beyond: dict[Marking, int]
    doubtful: tuple[tuple[Anchor, float], ...] = ()
    on_a_line: bool = False
    log_gain_of_line: float = 0.0
    out_of_step: float = 0.0
    seasonal: float = 0.0
    in_stock: float = 0.0
    apart: WithAndWithout | None = None
    begun_again: bool = False


def said_by(result: SchemeOdds, asking: DatesAsked) -> SaidByTheory:
    """Date the marks by one theory, and weigh it by the dates that did not come with reports."""
    scheme = result.candidate.scheme
    name, weight = result.name, result.posterior
    if weight < _WORTH_ASKING:
        return SaidByTheory(name, weight, 0.0, {}, {})
    if scheme.tells_date:
        return _said_by_codes(result, asking)
    if runs_on(scheme):
        return _said_by_a_line(result, asking) or SaidByTheory(name, weight, 0.0, {}, {})
    return SaidByTheory(name, weight, 0.0, {}, {})


def _said_by_codes(result: SchemeOdds, asking: DatesAsked) -> SaidByTheory:
    """A scheme whose marks state a date, and how further dates agree with it."""
    # a mark asked about is in hand; one that only came with a date was passed on, like a report
    passed_on = list(dict.fromkeys(a.mark for a in asking.further if a.mark not in asking.marks))
    density: dict[Marking, MonthDensity] = {}
    says: set[Marking] = set()
    for marks, given in ((asking.marks, asking.given.in_hand()), (passed_on, asking.given)):
        for mark, (told, speaks) in zip(marks, asking.stated(result, marks, given), strict=True):
            density[mark] = told
            says |= {mark} if speaks else set()
    gain = 0.0
    doubtful = []
    for anchor in asking.further:
        density[anchor.mark], ratio = asking.after(density[anchor.mark], anchor)
        gain += math.log(ratio)
        doubtful.append((anchor, asking.how.blunder_of(anchor.date) / ratio))
    dates = {m: density[m] for m in asking.marks if m in says}
    return SaidByTheory(result.name, result.posterior, gain, dates, {}, tuple(doubtful))


def _said_by_a_line(result: SchemeOdds, asking: DatesAsked) -> SaidByTheory | None:
    """A running number that never starts again, dated between and beyond dated numbers."""
    span = {"first_year": asking.given.first_year, "last_year": asking.given.last_year}
    scheme = result.candidate.scheme
    numbers = {
        m: v.number
        for m in asking.marks
        if (v := face_value(m, scheme, **span)) is not None and v.number is not None
    }
    named = [
        (a, DatedNumber(v.number, a.kind, a.date))
        for a in asking.known
        if (v := face_value(a.mark, scheme, **span)) is not None and v.number is not None
    ]
    dated = [number for _, number in named]
    if not numbers or len({d.number for d in dated}) < 2:
        return None
    line = timeline(dated, list(numbers.values()), wandering=asking.how, **span)
    counted = gain_of_running_numbers(result.candidate, asking.reports, asking.given)
    last = max(d.number for d in dated)
    beyond = {
        m: (1 if n > last else -1) if line.beyond[line.numbers.index(n)] else 0
        for m, n in numbers.items()
    }
    chances = line.doubtful_anchors
    doubtful = tuple((anchor, chance) for (anchor, _), chance in zip(named, chances, strict=True))
    apart = None
    if len(numbers) == 1:
        # asked of one mark alone: it takes as long again
        apart = _apart(next(iter(numbers.values())), dated, line, asking.how, span)
    return SaidByTheory(
        result.name,
        result.posterior,
        line.log_gain - counted,
        {m: line.of(n) for m, n in numbers.items()},
        beyond,
        doubtful,
        on_a_line=True,
        log_gain_of_line=line.log_gain,
        out_of_step=line.out_of_step,
        seasonal=line.seasonal,
        in_stock=line.in_stock,
        apart=apart,
        begun_again=_may_have_begun_again(dated, chances),
    )


def _may_have_begun_again(dated: Sequence[DatedNumber], chances: Sequence[float]) -> bool:
    """Whether the one date that does not fit lies where it would had the numbers begun again."""
    wrong = [i for i, chance in enumerate(chances) if chance > PROBABLY_WRONG]
    if len(wrong) != 1:
        return False
    known = {
        i: (day.year + (day.month - 0.5) / PER_YEAR, one.number)
        for i, one in enumerate(dated)
        if one.kind in FIXES and (day := one.date.earliest) is not None
    }
    order = sorted(known, key=lambda i: known[i])
    points = [known[i] for i in order]
    return wrong[0] in known and lies_on_another_run(points, order.index(wrong[0]))


def _apart(
    number: int,
    dated: Sequence[DatedNumber],
    line: Timeline,
    how: Wandering,
    span: Mapping[str, int],
) -> WithAndWithout | None:
    """A number's date with and without the one date that does not fit, where it stands near."""
    chances = line.doubtful_anchors
    wrong = [i for i, chance in enumerate(chances) if chance > PROBABLY_WRONG]
    if len(wrong) != 1 or len(dated) <= BOTH:
        return None
    (i,) = wrong
    if not is_near(number, dated[i].number, [d.number for d in dated]):
        return None
    surely = 1.0 - _AS_GOOD_AS_NONE if chances[i] < LEAVES_OUT else _AS_GOOD_AS_NONE
    taken = [*dated[:i], replace(dated[i], wrong=surely), *dated[i + 1 :]]
    other = timeline(taken, [number], wandering=how, **span)
    return WithAndWithout.parted(line.of(number), chances[i], other.of(number))


_AS_GOOD_AS_NONE = 1e-9
"""Chance of a date that is taken for right, or for wrong, to be the other."""


BOTH = 2
"""Of two dates that contradict each other neither is the one that does not fit."""
