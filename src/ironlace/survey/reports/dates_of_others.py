"""Dates that came with machines and are of something else than their making.

Each date is weighed as if it might be wrong by itself, one in thirty. Some are wrong together, and
then no weighing helps: a patent's day cast in every bed, a fair's medal, a list that reckoned years
from the numbers. These are found by what they share, named, and not counted until a person says
what they tell:

* one day on three machines or more whose numbers no day's work could span;
* one month or year on three or more between whose numbers stand machines of other years;
* one month or year on all that are dated, five or more, where no paper of theirs is named: nothing
  tells the year in which a works made them all from that of a patent;
* by its own evidence a patent's or a design's, and said to be of the making all the same;
* by its own evidence out of a list, a table or an estimate: it was reckoned from the number, so
  the number cannot be tested by it;
* later than the day on which the machine was seen.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.markings import Marking
from ironlace.survey.reports.table import DatedEvidence, DatedKind


class OfOther(StrEnum):
    """Of what a date probably is, as the end of "... and does not count"."""

    ONE_DAY = (
        "is one day on machines whose numbers lie far apart, so it is of a patent, a model or a "
        "fair, not of their making"
    )
    AMONG_OTHERS = (
        "stands on machines between whose numbers are others of other years: it is of a patent or "
        "a model, or the numbers begin again"
    )
    ON_ALL = (
        "is one year on all machines that are dated, and no paper is named for it: it may be a "
        "patent's, or the works made all of them in it"
    )
    PATENT = "is a patent's or a design's, which tells no more than 'not before'"
    RECKONED = "is out of a list or an estimate, so it was reckoned from the number itself"
    NOT_YET = "is later than the day on which the machine was seen"


@dataclass(frozen=True, slots=True)
class Dated:
    """A mark with the date that came with it, and when the machine was seen."""

    mark: Marking
    dated: DatedEvidence
    sighted: EdtfDate | None = None


def of_others(found: Sequence[Dated]) -> list[OfOther | None]:
    """Say of each date of what else it is than of the making; None where nothing says so.

    >>> from ironlace.evidence.markings import parse_marking
    >>> day = DatedEvidence(EdtfDate.parse("1886-03-02"))
    >>> rows = [Dated(parse_marking(n), day) for n in ("217", "4005", "9120")]
    >>> {str(one)[:10] for one in of_others(rows)}
    {'is one day'}
    >>> of_others(rows[:2])
    [None, None]
    """
    said = [_by_itself(one) for one in found]
    making = [
        i
        for i, one in enumerate(found)
        if said[i] is None and one.dated.kind in (DatedKind.AT, DatedKind.SOLD)
    ]
    machines = {(found[i].dated.date.text, found[i].mark) for i in making}
    often = Counter(text for text, _ in machines)
    shared = [text for text, many in often.items() if many >= _FEWEST]
    if not shared:
        return said
    where = {i: _place(found[i].mark) for i in making}
    among: list[list[int]] = []
    for text in shared:
        group = [i for i in making if found[i].dated.date.text == text]
        date = found[group[0]].dated.date
        if date.earliest is not None and date.earliest == date.latest:
            if not _of_one_day([where[i] for i in group]):
                for i in group:
                    said[i] = OfOther.ONE_DAY
        elif _others_between(group, [i for i in making if i not in group], found, where):
            among.append(group)
        elif len(group) == len(making) and _is_on_all(group, found, where):
            for i in group:
                said[i] = OfOther.ON_ALL
    if len(among) == 1:
        # where several dates do so the numbers begin again with the year
        for i in among[0]:
            said[i] = OfOther.AMONG_OTHERS
    return said


_FEWEST = 3
"""Two machines may be of one day by chance, or of one receipt; a judgement."""

_ONE_DAYS_WORK = 300
"""Numbers that one day's making, or one day's delivery, may span; common practice, no source: nine
works in ten made 2,400 a month or fewer."""

_YEAR = timedelta(days=366)

_FEWEST_OF_ALL = 5
"""So many dated machines of a works of ten years are of one year by chance once in ten thousand."""

_ONE_YEARS_WORK = 500
"""Numbers that even a small works made in a year: nearer ones do not count as on all. A judgement;
works that made fewer are known, and works that made 50,000."""

_PAPER = re.compile(
    r"\b(?:receipt|invoice|bill|letter|ledger|diary|order|warrant|guarantee|label|slip|tag|"
    r"inscription|engrav|gift|wedding|photograph|newspaper|advert|inventory|probate|works|daybook)",
    re.I,
)
"""What dates one machine by itself; common practice, no source."""


def names_a_paper(what: str) -> bool:
    """Whether the evidence of a date names what dates one machine by itself.

    >>> names_a_paper("receipt in the drawer"), names_a_paper("owner's word")
    (True, False)
    """
    return _PAPER.search(what) is not None


_Place = tuple[str, int]


def _by_itself(one: Dated) -> OfOther | None:
    date, kind = one.dated.date, one.dated.kind
    if kind in (DatedKind.AT, DatedKind.SOLD):
        if _RECKONED.search(one.dated.what):
            return OfOther.RECKONED
        if kind is DatedKind.AT and _PATENT.search(one.dated.what):
            return OfOther.PATENT
    seen = one.sighted.latest if one.sighted else None
    if seen is not None and date.earliest is not None and kind is not DatedKind.NOT_AFTER:
        return OfOther.NOT_YET if date.earliest > seen else None
    return None


_RECKONED = re.compile(
    r"\b(?:dating|date|year|serial|serial number|number)s? (?:list|table|chart|guide|look ?up)s?\b"
    r"|\b(?:estimat|attribut|guess|reckon|calculat|interpolat|suppos|presum)"
    r"|\b(?:from|by|after) (?:the |its )?(?:serial|number)|\b(?:website|web site|database)\b",
    re.I,
)
_PATENT = re.compile(r"\b(?:patent|design|registered)", re.I)


def _place(mark: Marking) -> _Place:
    """What stands before the last figures of a mark, and these as a number."""
    runs = list(re.finditer(r"[0-9]+", str(mark)))
    if not runs:
        return str(mark), 0
    return str(mark)[: runs[-1].start()], int(runs[-1][0])


def _of_one_day(places: Sequence[_Place]) -> bool:
    """Whether numbers lie so close that one day may have made or sold them."""
    numbers = [number for _, number in places]
    return len({head for head, _ in places}) == 1 and max(numbers) - min(numbers) <= _ONE_DAYS_WORK


def _is_on_all(group: Sequence[int], found: Sequence[Dated], where: dict[int, _Place]) -> bool:
    """Whether nothing but one year on machines numbered far apart dates any of them."""
    if len({found[i].mark for i in group}) < _FEWEST_OF_ALL:
        return False
    if any(names_a_paper(found[i].dated.what) for i in group):
        return False
    if len({where[i][0] for i in group}) != 1:
        return False
    numbers = [where[i][1] for i in group]
    return max(numbers) - min(numbers) > _ONE_YEARS_WORK


def _others_between(
    group: Sequence[int], others: Sequence[int], found: Sequence[Dated], where: dict[int, _Place]
) -> bool:
    """Whether as many machines of other years as half the group stand between its numbers."""
    if len({where[i][0] for i in (*group, *others)}) != 1:
        return False
    numbers = [where[i][1] for i in group]
    date = found[group[0]].dated.date
    between = [
        i
        for i in others
        if min(numbers) < where[i][1] < max(numbers) and _years_apart(found[i].dated.date, date)
    ]
    return len(between) >= max(2, len(group) / 2)


def _years_apart(one: EdtfDate, other: EdtfDate) -> bool:
    ends = (one.earliest, one.latest, other.earliest, other.latest)
    if any(end is None for end in ends) or one.approximate or other.approximate:
        return False
    a, b, c, d = ends
    assert a and b and c and d
    return a - d > _YEAR or c - b > _YEAR
