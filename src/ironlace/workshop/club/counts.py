"""The table of a club's reports, as the database itself counts them: one row for each number.

Reports that read the same clear number, are known in the same way and have the same date are one
machine by the survey's rule (`survey.reports.counted`), so the database groups them. Every study
reads the table as it reads any other; the club's number stands for the name of a report.
"""

import csv
import io

from sqlalchemy import func, select

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.markings import parse_marking
from ironlace.record.choices import Channel
from ironlace.record.surveyed import SEEN_BY
from ironlace.workshop.club.address import address_of
from ironlace.workshop.club.ledger import Ledger
from ironlace.workshop.club.tables import StandingRow

_HEADERS = ("id", "mark", "strings", "seen", "variant", "machine", "dated", "dated_kind")
_BY = ("reads", "strings", "how", "variant", "dated", "dated_is")


def club_table(address: str) -> str:
    """The counted reports of a club as CSV text.

    Raises LostError, NotLetError or ClubError where the database does not answer or is none.
    """
    with Ledger(address_of(address)) as ledger:
        ledger.club()
        return table_of(ledger)


def table_of(ledger: Ledger) -> str:
    """The counted reports of a club's database that is open, as CSV text.

    Those that a person set not to count are left out, but for second sightings, which tell how
    many survive.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_HEADERS)
    columns = [getattr(StandingRow, name) for name in _BY]
    alone = func.coalesce(StandingRow.same_as, "") == ""
    first = func.min(StandingRow.report)
    grouped = (
        select(first, func.count(), *columns)
        .where(StandingRow.told.is_not(None), StandingRow.counts, alone)
        .group_by(*columns)
        .order_by(first)
    )
    doubted: list[tuple[str, ...]] = []
    with ledger.rows(grouped) as rows:
        for number, times, *said in rows:
            if times > 1 and _has_doubts(said[0]):
                doubted.append(tuple(value or "" for value in said))
            else:
                writer.writerow(_cells(number, said))
    apart = select(StandingRow.report, *columns, StandingRow.same_as).where(
        StandingRow.told.is_not(None), ~alone
    )
    with ledger.rows(apart.order_by(StandingRow.report)) as rows:
        for number, *said, same in rows:
            writer.writerow(_cells(number, said, str(same)))
    for one in doubted:
        same = [func.coalesce(c, "") == value for c, value in zip(columns, one, strict=True)]
        each = select(StandingRow.report).where(
            StandingRow.told.is_not(None), StandingRow.counts, alone, *same
        )
        with ledger.rows(each.order_by(StandingRow.report)) as rows:
            for (number,) in rows:
                writer.writerow(_cells(number, one))
    return out.getvalue()


def _has_doubts(reads: str) -> bool:
    try:
        return parse_marking(reads).has_doubts
    except IronlaceError:
        return True  # the reader of the table sets each aside, with its reason


def _cells(number: int, said: list[str] | tuple[str, ...], same: str = "") -> tuple[str, ...]:
    reads, strings, how, variant, dated, kind = (value or "" for value in said)
    seen = SEEN_BY.get(Channel(how)) if how in set(Channel) else None
    kind = (kind or "at") if dated else ""
    return (str(number), reads, strings, str(seen or ""), variant, same, dated, kind)
