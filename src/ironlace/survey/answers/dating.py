"""When a machine was made, from its number and the schemes weighted by their odds."""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import Marking
from ironlace.evidence.wording import counted
from ironlace.survey.answers.comparison import (
    DATES_OF_A_FEW,
    IF_NO_DATE_BEARS_IT_OUT,
    Comparison,
    SchemeOdds,
    as_likely,
    percent,
    what_would_settle,
)
from ironlace.survey.answers.dated_evidence import (
    PROBABLY_WRONG,
    doubtful_dates,
    gain_of_running_numbers,
    runs_on,
    wandering_under,
)
from ironlace.survey.answers.one_date import (
    FIXES,
    LEAVES_OUT,
    WithAndWithout,
    hangs_on_few,
    hangs_on_its_own,
    is_near,
    one_of_them_is_wrong,
)
from ironlace.survey.answers.other_readings import (
    HARDLY_AMISS,
    chance_of_another_date,
    other_reading,
)
from ironlace.survey.answers.run_in_time import lies_on_another_run
from ironlace.survey.answers.struck_year import StruckYear, states_year_alone
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.field_tables import WEEKS
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.likelihood.stated_dates import date_alone, dates_in_hand
from ironlace.survey.reports.anchors import Anchor, anchors_of
from ironlace.survey.reports.dates_of_others import names_a_paper
from ironlace.survey.reports.table import DatedEvidence, Report
from ironlace.survey.schemes.face_value import FaceValue, face_value, face_values
from ironlace.survey.schemes.library import Candidate
from ironlace.survey.schemes.scheme import FieldKind, Scheme
from ironlace.survey.time.months import PER_YEAR, MonthDensity, mixture
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


@dataclass(frozen=True)
class Dating:
    """The date of making of one machine.

    Attributes
    ----------
    mark
        The mark dated.
    density
        Probability of each month.
    parts
        What each scheme says, most probable first.
    grade
        Inferred when reports or anchors bear it; conjectured when a reading shown by nothing else
        does, or when it rests on going on beyond what is known.
    why
        What bears it, in a sentence.
    reasons
        Sentences on what it depends on besides, and on dates that do not fit.
    settle
        What to ask for next, in a sentence.
    stated
        The date that the mark states at its face under the leading theory that states one; None
        when it states none, or is not clear throughout.
    not_as_struck
        Why the date given is not the one that the mark states; empty when it is.
    slip
        What else the mark may have been, that nothing but itself speaks for its date, or which
        dates do not fit, in sentences; empty where none is so.
    several
        The dates of which the mark states one, where its year comes round; empty elsewhere.
    of_one
        Whether all that dates it is the date of one machine with this number, perhaps another one.
    struck_year
        Whether the year struck is that of making; None where that is not asked or plain.
    """

    mark: Marking
    density: MonthDensity
    parts: tuple[StatedDate, ...]
    grade: Grade
    why: str
    reasons: tuple[str, ...]
    settle: str = ""
    stated: EdtfDate | None = None
    not_as_struck: str = ""
    slip: str = ""
    several: str = ""
    of_one: bool = False
    struck_year: StruckYear | None = None

    @property
    def interval(self) -> EdtfDate:
        """The 90 % interval as EDTF."""
        return self.density.edtf(0.9)

    @property
    def headline(self) -> str:
        """When it was made and how sure that is, in one line without its full stop."""
        if self.several:
            return f"{self.several}: its year comes round, and the mark fits each"
        if self.not_as_struck:
            return f"{self._when}; {self.not_as_struck}"
        return self._when

    @property
    def _when(self) -> str:
        saying = [part for part in self.parts if part.says]
        silent = [part for part in self.parts if not part.says]
        weight = math.fsum(part.weight for part in saying)
        if not saying or weight < _HARDLY_ANY:
            otherwise = _otherwise(silent)
            if otherwise == _NO_DATE:
                return "No date: the number does not tell when"
            if self.of_one:
                return (
                    f"{otherwise}, {_NINE_IN_TEN}, if it is the very machine that came with that "
                    "date: the number tells none, and others may bear it"
                )
            return (
                f"{otherwise}, {_NINE_IN_TEN}, by the date that came with it: the number tells none"
            )
        if weight >= _NEARLY_ALL:
            return f"{_interval_words(self.density)}, {_NINE_IN_TEN}{self._only_if}"
        told = mixture([(part.weight, part.density) for part in saying])
        return (
            f"{_interval_words(told)}, if the number {saying[0].tells}: {_whole_percent(weight)}; "
            f"otherwise {_otherwise(silent)}"
        )

    @property
    def _only_if(self) -> str:
        """What the date hangs on besides the theories."""
        doubted = self.struck_year is None or self.struck_year.is_doubted
        return "" if doubted else " if the year struck is that of making"

    def sentences(self) -> list[str]:
        """Say the date plainly: when and how sure, why, then what it depends on."""
        said = [f"{self.mark}: {self.headline}; {self.grade}."]
        said += [self.slip] if self.slip else []
        said.append(self.why)
        said += [self.settle] if self.settle else []
        leading = next((part for part in self.parts if part.says), None)
        if leading is not None and leading.weight < _NEARLY_ALL:
            said.append(
                f"If '{leading.called}' holds ({percent(leading.weight)}): made "
                f"{_interval_words(leading.density)}."
            )
        most = _month_words(self.density, self.density.most_probable)
        said.append(
            f"Over all theories together: {_interval_words(self.density)}, {_NINE_IN_TEN}; most "
            f"likely {most}."
        )
        return said + list(self.reasons)

    def as_dict(self) -> dict[str, Any]:
        """Return it by name, as plain values."""
        low, high = self.density.bounds(0.9)
        return {
            "mark": str(self.mark),
            "edtf": self.interval.text,
            "low": self.density.label(low),
            "high": self.density.label(high),
            "median": self.density.label(self.density.middle),
            "most_probable": self.density.label(self.density.most_probable),
            "grade": str(self.grade),
            "stated": self.stated.text if self.stated else None,
            "is_what_the_mark_states": not self.not_as_struck,
            "struck_year_is_of_making": self.struck_year and round(self.struck_year.chance, 4),
            "years": {str(y): p for y, p in self.density.years().items() if p >= 1e-4},
            "months": {
                "first": self.density.label(0),
                "probability": [round(float(p), 8) for p in self.density.mass],
            },
            "schemes": [
                {
                    "name": part.name,
                    "weight": part.weight,
                    "states_date": part.says,
                    "edtf": part.density.edtf(0.9).text,
                }
                for part in self.parts
            ],
            "sentences": self.sentences(),
        }


_NINE_IN_TEN = "in 9 cases out of 10"

_HARDLY_ANY = 0.02
"""Theories that state a date have no place in the first line below this weight; a judgement."""

_NEARLY_ALL = 0.95
"""A weight from which the little that is left is not told in the first line; a judgement."""

_NO_DATE = "no date"


def _otherwise(silent: Sequence[StatedDate]) -> str:
    """What holds if the number states no date: what came with the machine, or nothing."""
    weighed = [(part.weight, part.density) for part in silent if part.weight > 0]
    if not weighed:
        return _NO_DATE
    density = mixture(weighed)
    open_ = MonthDensity.flat(density.first_year, density.last_year)
    return _NO_DATE if density.bounds(0.9) == open_.bounds(0.9) else _interval_words(density)


def _interval_words(density: MonthDensity) -> str:
    return density.edtf(0.9).in_words()


def _month_words(density: MonthDensity, month: int) -> str:
    return EdtfDate.parse(density.label(month)).in_words()


def _whole_percent(p: float) -> str:
    return f"{p * 100:.0f} %" if p >= 0.01 else "less than 1 %"


def _tells(scheme: Scheme) -> str:
    """What of a number states the date, as the end of "if the number ..."."""
    kinds = {field.kind for field in scheme.fields}
    for kind in (FieldKind.MONTH, FieldKind.WEEK, FieldKind.YEAR):
        if kind in kinds:
            return f"tells the {kind}"
    return "runs on"


def _why(found: Comparison, known: Sequence[Anchor], leads: str) -> str:
    """What bears the date, in a sentence, and that no dated machine does where that is so."""
    said = _borne_by(found, known)
    if leads == found.best.name and found.no_date_bears_it_out(known):
        return f"{said[:-1]}; {IF_NO_DATE_BEARS_IT_OUT}."
    return said


def _borne_by(found: Comparison, known: Sequence[Anchor]) -> str:
    count = len(found.reports)
    if count == 1 and not known:
        return "It rests on a reading that one report suggested and cannot show."
    by = "By one report" if count == 1 else f"By {count} reports"
    called = found.called(found.best.name)
    if len(found.results) == 1:
        return f"{by}, '{called}' was the only theory put up."
    if beside := found.beside(found.best.name):
        others = " and ".join(f"'{found.called(name)}'" for name in beside)
        return f"{by}, '{called}' fits best; no mark can tell it from {others}."
    return f"{by}, '{called}' is {as_likely(found.odds, found.against)}."


def date_of(
    mark: Marking,
    found: Comparison,
    anchors: Sequence[Anchor] = (),
    *,
    wandering: Wandering | None = None,
) -> Dating:
    """Date a mark by the schemes of a comparison, and by numbers whose dates are known.

    Parameters
    ----------
    mark
        The mark as read; it need not be among the reports.
    found
        The comparison whose schemes and odds are used.
    anchors
        Dated numbers beside those that came with the reports. They date a running number that
        never starts again, and they speak for or against schemes that state a date of their own.
    wandering
        What is taken for granted of how output changes.
    """
    return date_all([mark], found, anchors, wandering=wandering)[0]


def date_all(
    marks: Sequence[Marking],
    found: Comparison,
    anchors: Sequence[Anchor] = (),
    *,
    wandering: Wandering | None = None,
) -> tuple[Dating, ...]:
    """Date several marks at once; see `date_of`."""
    given = found.assumptions
    how = wandering or wandering_under(given)
    asking = _Asking.of(marks, found, anchors, how)
    said = [_asked(result, asking) for result in found.results]
    gains = np.array([s.log_gain for s in said])
    weights = np.array([s.weight for s in said]) * np.exp(gains - gains.max())
    weights /= weights.sum()
    weights = _given_what_remains(found, said, weights)
    best = said[int(np.argmax(weights))]
    unordered = _against_the_run(asking)
    # where nothing but codes explain the marks, dates are judged by the line they would lie on
    telling = best if best.dates or best.doubtful else _likeliest_line(said, weights) or best
    misfits = _Misfits(
        _doubtful(found, telling, asking),
        len(set(asking.known)),
        given,
        telling,
    )
    told = (
        _one(mark, found, said, weights, asking, misfits, unordered=unordered) for mark in marks
    )

    @cache
    def doubted(name: str) -> StruckYear | None:
        return found.doubted_year(found.of(name).candidate.scheme, asking.known)

    return tuple(_as_the_year_is_borne_out(one, found, asking.known, doubted) for one in told)


def _likeliest_line(said: Sequence["_Said"], weights: Floats) -> "_Said | None":
    """What the likeliest theory says that lays dates along a line; None where none does so."""
    lines = [i for i, one in enumerate(said) if one.on_a_line and weights[i] >= _HARDLY_ANY]
    return said[max(lines, key=lambda i: weights[i])] if lines else None


def _given_what_remains(found: Comparison, said: Sequence["_Said"], weights: Floats) -> Floats:
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


def _one(
    mark: Marking,
    found: Comparison,
    said: Sequence["_Said"],
    weights: Floats,
    asking: "_Asking",
    misfits: "_Misfits",
    *,
    unordered: Sequence[str],
) -> Dating:
    parts = _parts(mark, found, said, weights, asking.date_alone(mark))
    density = mixture([(part.weight, part.density) for part in parts])
    beyond = (
        b for x, w in zip(said, weights, strict=True) if w > 0.1 and (b := x.beyond.get(mark))
    )
    side = next(beyond, 0)
    grade, reasons = _grade(found, parts, asking.known, beyond=side != 0), list[str]()
    if side:
        reasons.insert(0, _one_sided(parts, side))
    leads = said[int(np.argmax(weights))]
    if mark in leads.dates and leads.out_of_step > _LIKELY and not side:
        grade = Grade.CONJECTURED
        reasons.append(_OUT_OF_STEP_SAID)
    if mark in leads.dates:
        reasons += _how_good_the_dates_are(asking.known, leads, beyond=side != 0)
    own = [a for a in asking.known if a.mark == mark and a.kind in FIXES]
    another = bool(own) and bool(unordered) and mark not in leads.dates
    alone = bool(own) and not another and _told_by(parts) < _HARDLY_ANY
    if another:
        reasons.append(_may_be_another(own[0]))
    elif own and not side:
        reasons.append(f"It rests on what came with this very machine: {own[0].in_words()}.")
        grade = Grade.INFERRED
    few = hangs_on_its_own(own[0]) if alone else misfits.on_few if mark in misfits.by.dates else ""
    if few and not (alone and names_a_paper(own[0].source)):
        grade = Grade.CONJECTURED
    stated, against = _against_the_mark(mark, found, parts)
    several = "" if against or side else _one_of_several(mark, found, parts)
    slip = "" if own else _beyond_the_reports(mark, stated, found, parts)
    if against:
        grade = Grade.CONJECTURED
        slip = _may_have_been(mark, found, parts)
    why, settle = _why(found, asking.known, leads.name), what_would_settle(found)
    if several:
        settle = "Ask for a machine that came with a date: it tells which of these years."
    if turned := _turned_by_dates(found, asking, leads.name, float(weights.max())):
        grade = Grade.CONJECTURED
        why = f"{why[:-1]} by the marks alone; {turned}"
        settle = "Ask next for more machines that came with a date, and for clear marks."
    if misfits.too_many or misfits.by.begun_again:
        grade = Grade.CONJECTURED
    slip = " ".join(filter(None, (few, slip, misfits.sentence)))
    reasons += unordered
    return Dating(
        mark, density, parts, grade, why, tuple(reasons), settle, stated, against, slip, several,
        another,
    )  # fmt: skip


def _as_the_year_is_borne_out(
    told: Dating,
    found: Comparison,
    known: Sequence[Anchor],
    doubted: Callable[[str], StruckYear | None],
) -> Dating:
    """A date that a struck year tells, as far as anything shows that year to be of the making.

    `doubted` tells what else the year may be under the scheme of a name.
    """
    leading = next((part for part in told.parts if part.says), None)
    own = any(a.mark == told.mark and a.kind in FIXES for a in known)
    if leading is None or leading.weight < _HARDLY_ANY or own:
        return told
    year = doubted(leading.name)
    if year is None:
        return told
    parts = tuple(
        replace(part, density=year.spread(part.density))
        if part.says and states_year_alone(found.of(part.name).candidate.scheme)
        else part
        for part in told.parts
    )
    stated = told.stated.in_words() if told.stated else "the year that it states"
    return replace(
        told,
        parts=parts,
        density=mixture([(part.weight, part.density) for part in parts]),
        grade=Grade.CONJECTURED,
        slip=" ".join(filter(None, (year.sentence(stated), told.slip))),
        settle=told.settle if told.several else DATES_OF_A_FEW,
        struck_year=year,
    )


_OUT_OF_STEP_SAID = (
    "The dated examples do not keep to one line: machines were probably finished months earlier or "
    "later than their numbers say, so this date stays wide and is conjectured."
)
"""What is said where machines are out of step with their numbers."""


def _told_by(parts: Sequence[StatedDate]) -> float:
    """How probable it is that the number tells a date."""
    return math.fsum(part.weight for part in parts if part.says)


def _may_be_another(own: Anchor) -> str:
    """That the machine whose date is known may not be the one asked about.

    Where numbers do not rise with dates the count may begin again, and several machines bear each.
    """
    return (
        f"{own.in_words()}; but where dates do not rise with the numbers the count may begin "
        "again, and several machines may bear that number: it holds if this is that very machine."
    )


def _how_good_the_dates_are(known: Sequence[Anchor], leads: "_Said", *, beyond: bool) -> list[str]:
    """What the interval allows for: a season, dates 'about', in doubt, or of sales alone."""
    about = sum(a.date.approximate for a in known)
    query = sum(a.date.uncertain for a in known)
    said = []
    if leads.seasonal > _LIKELY and not beyond:
        said.append(
            "The dated machines come from one part of the year: the works probably made less in "
            "the other, and the date allows for that."
        )
    if about:
        said.append(
            f"{counted(about, 'date')} {'is' if about == 1 else 'are'} 'about': a year is taken "
            "to be off by two either way, seldom by more than five."
        )
    if query:
        said.append(
            f"{counted(query, 'date')} {'has' if query == 1 else 'have'} a query: of such three in "
            "ten are taken to be wrong."
        )
    if leads.in_stock > HARDLY_AMISS:
        said.append(
            "Nearly all dates are of sales, which cannot show how long the goods lay unsold: the "
            f"early end allows for years in stock ({_whole_percent(leads.in_stock)}). A machine "
            "with its date of making would tell."
        )
    return said


def _parts(
    mark: Marking,
    found: Comparison,
    said: Sequence["_Said"],
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


def _turned_by_dates(found: Comparison, asking: "_Asking", leads: str, weight: float) -> str:
    """That dated examples turn what the marks say; '' where they do not.

    Two kinds of evidence that contradict each other bear no date that is more than conjectured.
    """
    if not asking.further or leads in (found.best.name, *found.beside(found.best.name)):
        return ""
    if found.odds < _MARKS_DECIDE:
        return ""
    return (
        f"with the dated examples '{found.called(leads)}' leads, {percent(weight)}: marks and "
        "dates contradict each other, so look at both again."
    )


_MARKS_DECIDE = 10.0
"""Odds by the marks alone from which it is a contradiction when dates favour another theory; a
judgement: below, it is only that few marks say little."""


_LIKELY = 0.5
"""A chance from which machines out of step with their numbers are the likelier account."""

_AS_STATED = 0.9
"""What the month or year that a mark states must have of the probability, under its theory, for the
answer to be called what the mark states: as in the grade; a judgement."""


def _against_the_mark(
    mark: Marking, found: Comparison, parts: Sequence[StatedDate]
) -> tuple[EdtfDate | None, str]:
    """The date a mark states at its face, and why the date given is another; '' when it is not."""
    leading = next((part for part in parts if part.says), None)
    if leading is None or leading.weight < _HARDLY_ANY:
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


def _one_of_several(mark: Marking, found: Comparison, parts: Sequence[StatedDate]) -> str:
    """The dates between which a mark leaves the choice, where its year comes round; '' elsewhere.

    An interval from the first to the last would hold mostly years in which it was not made.
    """
    leading = parts[0]
    if not leading.says or leading.weight < _NEARLY_ALL:
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
        f"{_face_date(face).in_words()} ({_whole_percent(share)})" for share, face in told
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


def _beyond_the_reports(
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


def _may_have_been(mark: Marking, found: Comparison, parts: Sequence[StatedDate]) -> str:
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


@dataclass(frozen=True)
class _Asking:
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
    ) -> "_Asking":
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


def _one_sided(parts: Sequence[StatedDate], side: int) -> str:
    """Say the bound on the side of the known dates, where the answer still has ground."""
    density = next(part.density for part in parts if part.says)
    low, high = density.bounds(0.9)
    bound = (
        f"not before {_month_words(density, low)}"
        if side > 0
        else f"not after {_month_words(density, high)}"
    )
    return (
        "It lies beyond the dated examples, where only the habit of the past speaks; even "
        f"'{bound}' fails where the output changed or numbers were passed over."
    )


@dataclass(frozen=True)
class _Said:
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


def _asked(result: SchemeOdds, asking: _Asking) -> _Said:
    scheme = result.candidate.scheme
    name, weight = result.name, result.posterior
    if weight < _WORTH_ASKING:
        return _Said(name, weight, 0.0, {}, {})
    if scheme.tells_date:
        return _stated(result, asking)
    if runs_on(scheme):
        return _on_a_line(result, asking) or _Said(name, weight, 0.0, {}, {})
    return _Said(name, weight, 0.0, {}, {})


def _stated(result: SchemeOdds, asking: _Asking) -> _Said:
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
    return _Said(result.name, result.posterior, gain, dates, {}, tuple(doubtful))


def _on_a_line(result: SchemeOdds, asking: _Asking) -> _Said | None:
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
    return _Said(
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
    if len(wrong) != 1 or len(dated) <= _BOTH:
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


def _doubtful(found: Comparison, best: _Said, asking: _Asking) -> tuple[Anchor, ...]:
    """Dates that do not fit the scheme that leads, those that came with reports by its odds."""
    wrong = [anchor for anchor, chance in best.doubtful if chance > PROBABLY_WRONG]
    came = {
        id_ for id_, _ in doubtful_dates(found.of(best.name).candidate, found.reports, asking.given)
    }
    wrong += [
        anchor
        for report in found.reports
        if report.id in came
        for anchor in anchors_of([report])
        if anchor not in wrong
    ]
    return tuple(dict.fromkeys(wrong))


@dataclass(frozen=True)
class _Misfits:
    """Dates that do not fit the theory that leads, of how many, and what that theory says."""

    wrong: tuple[Anchor, ...]
    of: int
    given: Assumptions
    by: "_Said"

    @property
    def on_few(self) -> str:
        """That a date between numbers hangs on one date or two; '' where it does not."""
        if not self.by.on_a_line:
            return ""
        fixed = [anchor for anchor, _ in self.by.doubtful if anchor.kind in FIXES]
        agree = [anchor for anchor in fixed if anchor not in self.wrong]
        return hangs_on_few(agree if len(fixed) > _BOTH else fixed)

    @property
    def too_many(self) -> bool:
        """Whether so many are seldom wrong by chance, at the rate that is taken for granted."""
        from scipy.special import bdtrc

        rate = self.given.wrong_date_rate
        return len(self.wrong) > 1 and bool(bdtrc(len(self.wrong) - 1, self.of, rate) < _SELDOM)

    @property
    def sentence(self) -> str:
        """Name them; '' where there is none."""
        if not self.wrong:
            return one_of_them_is_wrong(self.by.doubtful)
        if self.on_few and self.of <= _BOTH:
            return "They do not rise with the numbers."
        if len(self.wrong) == 1:
            both = self.by.apart.sentence() if self.by.apart else ""
            if self.by.begun_again:
                return (
                    f"{self.wrong[0].in_words()}: this does not fit the other dates, but lies "
                    "where it would had the numbers begun again; then this date holds for one of "
                    f"two machines of that number. {both}"
                ).rstrip()
            return (
                f"{self.wrong[0].in_words()}: this does not fit the other dates and is probably "
                f"wrong, or of a machine of another series. {both}"
            ).rstrip()
        named = "; ".join(anchor.in_words() for anchor in self.wrong[:_NAMED])
        more = f"; and {len(self.wrong) - _NAMED} more" if len(self.wrong) > _NAMED else ""
        said = f"{len(self.wrong)} of {self.of} dates do not fit the others ({named}{more})"
        if self.too_many:
            return (
                f"{said}: too many to be slips, so the numbers may have begun again, or two series "
                "be among them; then this date holds for one of them alone."
            )
        return f"{said}: they are probably wrong, or of machines of another series."


_BOTH = 2
"""Of two dates that contradict each other neither is the one that does not fit."""

_SELDOM = 0.05
"""Chance of so many wrong dates or more from which the theory is doubted instead; a judgement."""

_NAMED = 3
"""Dates named in one sentence."""


_OUT_OF_STEP = -math.log(4.0)
"""Dates four times less probable along a rising line than without order are pointed out; tuned, on
what was not kept."""


def _against_the_run(asking: _Asking) -> list[str]:
    """Say so when dates do not rise with the numbers: then no line through them can date any."""
    plain = Scheme.parse("number overall")
    if len(asking.known) < 2 or not all(_PLAIN_NUMBER.fullmatch(str(a.mark)) for a in asking.known):
        return []
    read = [Report(a.source, a.mark, dated=DatedEvidence(a.date, a.kind)) for a in asking.known]
    if gain_of_running_numbers(Candidate("", plain), read, asking.given) > _OUT_OF_STEP:
        return []
    return [
        "The dates of the dated examples do not rise with the numbers: look at those dates again, "
        "or the number does not run on."
    ]


_PLAIN_NUMBER = re.compile(r"[0-9]+")


def _grade(
    found: Comparison, parts: Sequence[StatedDate], anchors: Sequence[Anchor], *, beyond: bool
) -> Grade:
    weight = sum(part.weight for part in parts if part.says)
    sure = (len(found.reports) > 1 or bool(anchors)) and weight >= 0.9 and not beyond
    return Grade.INFERRED if sure else Grade.CONJECTURED
