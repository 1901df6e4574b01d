"""Days of oiling out of another book, and what they contradict in a plan.

How often a place is oiled is a choice, and no row of a plan contradicts another: one that stands at
the wrong place shows only where the days were written down a second time.
"""

from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from statistics import median
from typing import Final

from ironlace.care.errors import CareError
from ironlace.care.oil_plan import PointDue, day_of
from ironlace.evidence.word_tables import WordTableError, rows_of_words
from ironlace.evidence.wording import counted

_COLUMNS: Final = ("place", "day")
_TIMES: Final = 2.5
"""Times as long, or as short, as the rule from which the days between two oilings contradict it:
people oil by a half late or early as often as not (a judgement)."""
_NAMED: Final = 3
"""So many places are named in a sentence."""


def days_of_log(log: str) -> dict[str, list[date]]:
    r"""The days of each place, by its name in small letters, in their order.

    Raises
    ------
    CareError
        When a heading or a day cannot be.

    >>> days_of_log("place,day\nNeedle bar,1894-03-01\nneedle bar,1893-12-02\n")
    {'needle bar': [datetime.date(1893, 12, 2), datetime.date(1894, 3, 1)]}
    """
    try:
        rows = rows_of_words(log, _COLUMNS, _COLUMNS, ("oiling", "oilings"))
    except WordTableError as error:
        raise CareError(str(error)) from error
    days: dict[str, list[date]] = {}
    for row in rows:
        name = row.get("place", "")
        days.setdefault(name.casefold(), []).append(day_of(row.get("day", ""), name))
    return {name: sorted(set(found)) for name, found in days.items()}


def log_doubts(due: Sequence[PointDue], log: str) -> list[str]:
    """What the days of another book contradict: the day a place was last oiled, and how often.

    Raises CareError as `days_of_log`.
    """
    days = days_of_log(log)
    last: list[str] = []
    often: list[str] = []
    unknown = 0
    for number, one in enumerate(due, 1):
        found = days.get(one.point.name.casefold())
        if found is None:
            unknown += 1
            continue
        row = day_of(one.point.last, one.point.name)
        name = f"place {number} ({one.point.name[:40]})"
        if row != found[-1]:
            last.append(f"{name} on {found[-1].isoformat()}, by its row on {row.isoformat()}")
        gaps = [(b - a).days for a, b in pairwise(found)]
        rule = (one.due - row).days
        if gaps and not rule / _TIMES <= median(gaps) <= rule * _TIMES:
            often.append(f"{name} every {median(gaps):g} days, by its row every {rule}")
    said = []
    for what, which in ((last, "were last oiled"), (often, "are oiled")):
        if what:
            more = f" and {len(what) - _NAMED} more" if len(what) > _NAMED else ""
            said.append(
                f"By the other book {which}: {'; '.join(what[:_NAMED])}{more}. Look again at "
                "the drops, hours, months and last day of those rows: do they stand at their place?"
            )
    if unknown == len(due):
        said.append(
            f"The other book names none of the {counted(unknown, 'place')}: write them alike, and "
            "look whether it is this machine's."
        )
    return said
