"""From where and from whom reports come, as far as they say; what is not said is no evidence.

Reports of one country may lack what went elsewhere later, one collector's what he no longer bought,
one dealer's all but a few lots: the numbers alone show none of it. Persons are told apart here and
never named: who reported stays private.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from ironlace.evidence.wording import counted
from ironlace.survey.reports.table import Report

_KNOWN = 5
"""Fewer reports that say where (or by whom) show nothing that they have in common."""

_HALF = 0.5
"""Part of all reports that must say it before anything follows for all."""

_NEARLY_ALL = 0.9
"""Part of those that say it, from which they are taken to be of one; a judgement."""

_MOST = 2 / 3
"""Part from which what the others add is little; a judgement."""

_SPREAD_OVER = 4
"""So many places, none with more than half, are no one place's; a judgement."""

_SPREAD_TOLD = 0.8
"""Part of the reports that must say where before they are called spread; a judgement."""

_WORDS_OF_A_LAND = 3
"""Lands and towns have few words; what has more, or a number, may be an address. A judgement."""


@dataclass(frozen=True)
class Told:
    """What a group of reports says of one thing: by the commonest answer, how many it has.

    Attributes
    ----------
    answers
        The answer of each report that gives one, alike where they are the same.
    reports
        How many reports there are, those that say nothing among them.
    """

    answers: tuple[str, ...]
    reports: int

    @cached_property
    def commonest(self) -> tuple[str, int]:
        """The answer that most give, and how many do; ('', 0) without any."""
        return next(iter(Counter(self.answers).most_common(1)), ("", 0))

    def of_one(self, part: float) -> bool:
        """Whether at least this part of those that say it is of one."""
        told = len(self.answers)
        if told < max(_KNOWN, _HALF * self.reports):
            return False
        return self.commonest[1] >= part * told


@dataclass(frozen=True)
class WhereFrom:
    """From where and from whom reports come.

    Attributes
    ----------
    lands
        What stands last in each place ("Northland" of "Redham, Northland"), in small letters.
    persons
        Who reported each, in small letters; told apart and not told.
    land
        The commonest land as it was written; '' where no place is told.
    """

    lands: Told
    persons: Told
    land: str = ""

    @classmethod
    def of(cls, reports: Sequence[Report]) -> "WhereFrom":
        r"""Take it from reports.

        >>> from ironlace.survey.reports.table import read_reports
        >>> text = "id,mark,place\n" + "".join(f"r{i},{i + 40},Redham\n" for i in range(6))
        >>> WhereFrom.of(read_reports(text).reports).nearly_all
        True
        """
        written = [" ".join(r.place.rsplit(",", 1)[-1].split()) for r in reports]
        lands = [one.casefold() for one in written]
        persons = [" ".join(r.reporter.casefold().split()) for r in reports]
        told = Told(tuple(filter(None, lands)), len(reports))
        land = next((w for w in written if w and w.casefold() == told.commonest[0]), "")
        by_person = Told(tuple(filter(None, persons)), len(reports))
        return cls(told, by_person, land)

    @property
    def spread(self) -> bool:
        """Whether nearly all say where, and from several places, none of them with most."""
        told, whole = len(self.lands.answers), self.lands.reports
        several = len(set(self.lands.answers)) >= _SPREAD_OVER
        return (
            told >= max(_KNOWN, _SPREAD_TOLD * whole)
            and several
            and self.lands.commonest[1] <= _HALF * told
        )

    @property
    def nearly_all(self) -> bool:
        """Whether nearly all are of one place, or one person's who names no several places."""
        return self._of_one(_NEARLY_ALL)

    @property
    def most(self) -> bool:
        """Whether most are."""
        return self._of_one(_MOST)

    @property
    def of_land(self) -> bool:
        """Whether it is a place that most have in common."""
        return self.lands.of_one(_MOST)

    @property
    def of_one_person(self) -> bool:
        """Whether nearly all that say by whom are one person's."""
        return self.persons.of_one(_NEARLY_ALL)

    def _of_one(self, part: float) -> bool:
        return self.lands.of_one(part) or (self.persons.of_one(part) and not self.spread)

    def sentence(self) -> str:
        """Say that most are of one place or one person's, and what is missing then; '' if not."""
        if self.of_land:
            few = _of_those(self.lands.commonest[1], len(self.lands.answers), "say where")
            land = _as_told(self.land)
            return f"{few} are from {land}, and what went elsewhere later is not in them"
        if self._of_one(_MOST):
            few = _of_those(
                self.persons.commonest[1], len(self.persons.answers), "say by whom they are"
            )
            return f"{few} are one person's, and what never came that way is not in them"
        return ""

    def eased(self) -> str:
        """Say that the places told are several; '' where they are not."""
        if not self.spread:
            return ""
        places, most = len(set(self.lands.answers)), self.lands.commonest[1]
        return (
            f"{counted(places, 'place')} are told, none by more than {most} of "
            f"{len(self.lands.answers)} reports, so no one place's end explains the last number"
        )


def _as_told(land: str) -> str:
    """The land, or that it is one place where what was written may be somebody's address.

    >>> _as_told("North Redham"), _as_told("3 Mill Lane"), _as_told("at a shed behind the chapel")
    ('North Redham', 'one place', 'one place')
    """
    of_few_words = len(land.split()) <= _WORDS_OF_A_LAND
    return land if of_few_words and not any(map(str.isdigit, land)) else "one place"


def _of_those(many: int, told: int, what: str) -> str:
    return f"All {told} reports that {what}" if many == told else f"{many} of {told} that {what}"
