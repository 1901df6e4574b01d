"""Whether the year struck on machines is that of their making, or of a model, a patent, a mould.

A theory takes it for the year of making, and no mark can contradict that: under a model's year the
marks are as orderly. Two things can. A machine that came with a date was made in the year struck on
it, or some years later. And a works strikes each year as it comes, a new model's every few years.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.markings import Marking
from ironlace.evidence.wording import counted
from ironlace.survey.reports.anchors import Anchor
from ironlace.survey.reports.table import DatedKind
from ironlace.survey.schemes.face_value import face_values
from ironlace.survey.schemes.scheme import FieldKind, Scheme
from ironlace.survey.time.months import PER_YEAR, MonthDensity

_FOR_MAKING = 3.0
"""Odds that a struck year is that of making, before anything is known. Common practice, no source:
dates cast or struck in a bed are of a patent or a model often enough to be asked about."""

_SOONEST_NEW, _LATEST_NEW = 4, 16
"""Years from one model to the next: all alike from the first to the last, sooner ones seldom, in
proportion. A judgement."""

_UNSOLD_YEARS = (0.6, 0.25, 0.08, 0.04, 0.03)
"""Chances that a machine is sold in the year of its making, the next, and so on. A judgement."""

_FAR_APART = math.log(2.0)
"""Log odds against the making from which the gaps are told; a judgement."""

_SURELY = 500.0
"""Log odds beyond which nothing is surer: e to the 500 is a number still."""

_BORNE_OUT = 0.95
"""Chance from which the year is taken for that of making without a word; a judgement."""

_AGAINST = 0.5
"""Chance below which the other meaning is the likelier one, and the date is spread by it."""


@dataclass(frozen=True)
class StruckYear:
    """What a struck year probably is.

    Attributes
    ----------
    chance
        That it is the year of making.
    later
        Dated machines that were made after the year struck on them.
    apart
        Whether the years struck lie as far apart as those of models.
    over
        Over how many years they run, where that is so many that they are perhaps no years; else 0.
    """

    chance: float
    later: tuple[Anchor, ...] = ()
    apart: bool = False
    over: int = 0

    @property
    def is_borne_out(self) -> bool:
        """Whether it can be taken for the year of making without a word."""
        return self.chance >= _BORNE_OUT

    @property
    def is_doubted(self) -> bool:
        """Whether another meaning is the likelier one."""
        return self.chance < _AGAINST

    @property
    def why(self) -> str:
        """What speaks for and against it, as the beginning of a sentence."""
        if self.later:
            said = f"{self.later[0].in_words()}, after the year struck on it"
            if len(self.later) > 1:
                said += f", and {counted(len(self.later) - 1, 'other dated machine')} likewise"
            return said
        if self.over:
            return (
                f"The years struck would run over {self.over} years, longer than works strike "
                "them, and no machine that came with a date bears them out: they may be figures of "
                "a number that runs on"
            )
        if self.apart:
            return (
                "The years struck lie as far apart as those of models, and no date that came with "
                "a machine says otherwise"
            )
        return (
            "That the year struck is the year of making is taken for granted, since no machine "
            "that came with a date bears it out"
        )

    def sentence(self, year: str) -> str:
        """Say why it is in question and what follows for one machine.

        Parameters
        ----------
        year
            What its mark states.
        """
        then = f"{year} or any of the fifteen years after"
        if self.over and not self.later:
            return f"{self.why}, and then tell no date."
        if self.later:
            return (
                f"{self.why}: it may be the year of a model or a patent, and this machine made in "
                f"{then}."
            )
        if self.apart:
            return f"{self.why}: this one may have been made in {then}."
        return f"{self.why}: were it a model's or a patent's, this one was made in {year} or later."

    def sentence_of_all(self) -> str:
        """Say why it is in question and what follows for how many were made."""
        if self.over and not self.later:
            return f"{self.why}, and then this is no total."
        if self.is_doubted:
            return f"{self.why}: it may be a model's, so only the series seen are counted."
        return (
            f"{self.why}: were it a model's or a patent's, the years between those seen had no "
            "numbers of their own, which the lower end allows for."
        )

    def spread(self, density: MonthDensity) -> MonthDensity:
        """A date told by a struck year, where it is the likelier that machines were made later."""
        if not self.is_doubted:
            return density
        months = np.repeat(_years_after(), PER_YEAR) / PER_YEAR
        later = np.convolve(density.mass, months)[: len(density.mass)]
        mass = self.chance * density.mass + (1.0 - self.chance) * later / later.sum()
        return MonthDensity(density.first_year, mass)


def meaning_of_year(
    scheme: Scheme,
    marks: Sequence[Marking],
    anchors: Sequence[Anchor],
    *,
    period: tuple[int, int],
    wrong_date: float,
) -> StruckYear | None:
    """Weigh whether the year that a scheme's marks state is the year of making.

    Parameters
    ----------
    scheme
        The scheme under which marks are read.
    marks
        All marks reported.
    anchors
        Machines that came with a date.
    period
        First and last year in which they can have been made.
    wrong_date
        Chance that a date is another machine's.

    Returns
    -------
    StruckYear or None
        None where the marks state no year, or a month or week as well: no model has those.
    """
    if not states_year_alone(scheme):
        return None
    log_odds = math.log(_FOR_MAKING)
    borne_out = 0.0
    later = []
    known = tuple(dict.fromkeys(anchors))
    for anchor in (known[i] for i in _some_of(len(known))):
        year = _year_of(anchor.mark, scheme, period)
        if year is None or (told := _told_by(anchor, year, wrong_date)) is None:
            continue
        log_odds += told
        borne_out += told
        if told < 0 and anchor.date.earliest is not None and anchor.date.earliest.year > year:
            later.append(anchor)
    struck = [_year_of(marks[i], scheme, period) for i in _some_of(len(marks))]
    apart = _told_by_gaps(struck)
    log_odds += apart
    chance = 1.0 / (1.0 + math.exp(min(-log_odds, _SURELY)))
    over = _run_over(struck)
    if over <= _LONGEST or borne_out > 0.0:
        return StruckYear(chance, tuple(later), apart < -_FAR_APART)
    return StruckYear(min(chance, _IF_SO_LONG), tuple(later), apart < -_FAR_APART, over)


_LONGEST = 45
"""Years through which a works strikes its years alike; common practice, no source. Two figures that
mean nothing run through all years of the period."""

_IF_SO_LONG = 0.6
"""Chance of years that run on longer to be years of making; a judgement."""


def _run_over(struck: Sequence[int | None]) -> int:
    """Years from the first struck to the last, both included.

    One in twenty at either end is left aside, of twenty marks or more: a misread year stands alone.
    """
    years = sorted(year for year in struck if year is not None)
    if not years:
        return 0
    aside = len(years) // 20
    return years[len(years) - 1 - aside] - years[aside] + 1


def states_year_alone(scheme: Scheme) -> bool:
    """Whether marks state a year, and no month or week: no model has those."""
    kinds = {field.kind for field in scheme.fields}
    return FieldKind.YEAR in kinds and not kinds & {FieldKind.MONTH, FieldKind.WEEK}


_MOST_ASKED = 2_000
"""Marks and dates that are read for it: more tell it no better."""


def _some_of(count: int) -> Sequence[int]:
    """Which of so many are read, spread over all and by no step that a list may have itself."""
    if count <= _MOST_ASKED:
        return range(count)
    spread = np.modf(np.arange(_MOST_ASKED) * (math.sqrt(5.0) - 1.0) / 2.0)[0]
    return [int(i) for i in np.unique((spread * count).astype(int))]


def _year_of(mark: Marking, scheme: Scheme, period: tuple[int, int]) -> int | None:
    """The year a mark states at its face, None where it states none or one of several."""
    faces = face_values(mark, scheme, first_year=period[0], last_year=period[1])
    years = {face.year for face in faces if face.year is not None}
    return years.pop() if len(years) == 1 else None


def _told_by(anchor: Anchor, struck: int, wrong_date: float) -> float | None:
    """Log of how much likelier a date is if the year struck on its machine is that of making.

    None for a date that is open or 'about': it lies on both sides.
    """
    date = anchor.date
    first, last = date.earliest, date.latest
    if first is None or last is None or date.approximate:
        return None
    of_model = _years_after()
    of_making = np.zeros(len(of_model))
    of_making[0] = 1.0
    if anchor.kind is DatedKind.SOLD:
        of_making, of_model = (np.convolve(by, _UNSOLD_YEARS) for by in (of_making, of_model))
    years = struck + np.arange(len(of_model))
    if anchor.kind is DatedKind.NOT_BEFORE:
        fits = years >= first.year
    elif anchor.kind is DatedKind.NOT_AFTER:
        fits = years <= last.year
    else:
        fits = (years >= first.year) & (years <= last.year)
    wrong = wrong_date / len(years)
    return math.log(
        ((1 - wrong_date) * of_making[fits].sum() + wrong)
        / ((1 - wrong_date) * of_model[fits].sum() + wrong)
    )


def _years_to_the_next() -> Floats:
    """Chance that the next model comes after 1, 2, ... years."""
    chances = np.minimum(np.arange(1, _LATEST_NEW + 1) / _SOONEST_NEW, 1.0)
    return np.asarray(chances / chances.sum())


def _years_after() -> Floats:
    """Chance that a machine with a model's year is made 0, 1, ... years after it.

    Made alike in each year until the next model comes, by which long-lived models bear most.
    """
    kept = np.cumsum(_years_to_the_next()[::-1])[::-1]
    return np.asarray(kept / kept.sum())


_ASTRAY, _FARTHEST = 0.05, 40
"""Chance that the next year is a misread one, or comes after a standstill, and within how many
years it then lies anywhere. A judgement."""


def _told_by_gaps(struck: Sequence[int | None]) -> float:
    """Log of how much likelier the gaps between the years struck are if those are of making.

    Of a works that strikes each year as it comes, each year between the first and the last seen
    is among the reports with about the same chance; a model's years lie years apart.
    """
    years = [year for year in struck if year is not None]
    seen = sorted(set(years))
    if len(seen) < 2:
        return 0.0
    among = 1.0 - (1.0 - 1.0 / (seen[-1] - seen[0] + 1)) ** len(years)
    gaps = np.array([later - one for one, later in pairwise(seen)])
    next_seen = among * (1.0 - among) ** (gaps - 1)
    making = np.log((1.0 - _ASTRAY) * next_seen + _ASTRAY / _FARTHEST)
    model = np.log(_years_to_the_next()[np.minimum(gaps, _LATEST_NEW) - 1])
    return float((making - model).sum())
