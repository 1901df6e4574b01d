"""When a machine was made, from its number and the schemes weighted by their odds."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import Marking
from ironlace.evidence.wording import counted
from ironlace.survey.answers.comparison import (
    DATES_OF_A_FEW,
    IF_NO_DATE_BEARS_IT_OUT,
    Comparison,
    as_likely,
    percent,
    what_would_settle,
)
from ironlace.survey.answers.date_at_its_face import (
    NEARLY_ALL,
    against_the_mark,
    beyond_the_reports,
    may_have_been,
    one_of_several,
    whole_percent,
)
from ironlace.survey.answers.dated_evidence import wandering_under
from ironlace.survey.answers.dates_by_theory import (
    HARDLY_ANY,
    DatesAsked,
    SaidByTheory,
    StatedDate,
    given_what_remains,
    likeliest_line,
    parts_of,
    said_by,
    told_by,
)
from ironlace.survey.answers.misfits import (
    Misfits,
    against_the_run,
    dates_that_do_not_fit,
    turned_by_dates,
)
from ironlace.survey.answers.one_date import FIXES, hangs_on_its_own
from ironlace.survey.answers.other_readings import HARDLY_AMISS
from ironlace.survey.answers.struck_year import StruckYear, states_year_alone
from ironlace.survey.reports.anchors import Anchor
from ironlace.survey.reports.dates_of_others import names_a_paper
from ironlace.survey.time.months import MonthDensity, mixture
from ironlace.survey.time.timeline import Wandering


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
        if not saying or weight < HARDLY_ANY:
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
        if weight >= NEARLY_ALL:
            return f"{_interval_words(self.density)}, {_NINE_IN_TEN}{self._only_if}"
        told = mixture([(part.weight, part.density) for part in saying])
        return (
            f"{_interval_words(told)}, if the number {saying[0].tells}: {whole_percent(weight)}; "
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
        if leading is not None and leading.weight < NEARLY_ALL:
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
    asking = DatesAsked.of(marks, found, anchors, how)
    said = [said_by(result, asking) for result in found.results]
    gains = np.array([s.log_gain for s in said])
    weights = np.array([s.weight for s in said]) * np.exp(gains - gains.max())
    weights /= weights.sum()
    weights = given_what_remains(found, said, weights)
    best = said[int(np.argmax(weights))]
    unordered = against_the_run(asking)
    # where nothing but codes explain the marks, dates are judged by the line they would lie on
    telling = best if best.dates or best.doubtful else likeliest_line(said, weights) or best
    misfits = Misfits(
        dates_that_do_not_fit(found, telling, asking),
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


def _one(
    mark: Marking,
    found: Comparison,
    said: Sequence[SaidByTheory],
    weights: Floats,
    asking: DatesAsked,
    misfits: Misfits,
    *,
    unordered: Sequence[str],
) -> Dating:
    parts = parts_of(mark, found, said, weights, asking.date_alone(mark))
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
    alone = bool(own) and not another and told_by(parts) < HARDLY_ANY
    if another:
        reasons.append(_may_be_another(own[0]))
    elif own and not side:
        reasons.append(f"It rests on what came with this very machine: {own[0].in_words()}.")
        grade = Grade.INFERRED
    few = hangs_on_its_own(own[0]) if alone else misfits.on_few if mark in misfits.by.dates else ""
    if few and not (alone and names_a_paper(own[0].source)):
        grade = Grade.CONJECTURED
    stated, against = against_the_mark(mark, found, parts)
    several = "" if against or side else one_of_several(mark, found, parts)
    slip = "" if own else beyond_the_reports(mark, stated, found, parts)
    if against:
        grade = Grade.CONJECTURED
        slip = may_have_been(mark, found, parts)
    why, settle = _why(found, asking.known, leads.name), what_would_settle(found)
    if several:
        settle = "Ask for a machine that came with a date: it tells which of these years."
    if turned := turned_by_dates(found, asking, leads.name, float(weights.max())):
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
    if leading is None or leading.weight < HARDLY_ANY or own:
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


def _may_be_another(own: Anchor) -> str:
    """That the machine whose date is known may not be the one asked about.

    Where numbers do not rise with dates the count may begin again, and several machines bear each.
    """
    return (
        f"{own.in_words()}; but where dates do not rise with the numbers the count may begin "
        "again, and several machines may bear that number: it holds if this is that very machine."
    )


def _how_good_the_dates_are(
    known: Sequence[Anchor], leads: SaidByTheory, *, beyond: bool
) -> list[str]:
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
            f"early end allows for years in stock ({whole_percent(leads.in_stock)}). A machine "
            "with its date of making would tell."
        )
    return said


_LIKELY = 0.5
"""A chance from which machines out of step with their numbers are the likelier account."""


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


def _grade(
    found: Comparison, parts: Sequence[StatedDate], anchors: Sequence[Anchor], *, beyond: bool
) -> Grade:
    weight = sum(part.weight for part in parts if part.says)
    sure = (len(found.reports) > 1 or bool(anchors)) and weight >= 0.9 and not beyond
    return Grade.INFERRED if sure else Grade.CONJECTURED
