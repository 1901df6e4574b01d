"""Numbers whose date is known, or bounded, from records.

A table with the columns serial, kind (at, not before, not after, sold) and date (EDTF, or as
people write it); `source` and any others may follow. Dated evidence that came with reports gives
anchors too.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.markings import Marking
from ironlace.evidence.written_dates import read_date
from ironlace.survey.errors import ReportsError
from ironlace.survey.reports.as_struck import struck_mark
from ironlace.survey.reports.table import (
    MADE_IN,
    DatedKind,
    Report,
    SetAside,
    is_out_of_time,
    read_rows,
)

ANCHOR_COLUMNS = ("serial", "kind", "date", "source")


@dataclass(frozen=True, slots=True)
class Anchor:
    """A machine with a date: the mark, what the date says of its making, and the date."""

    mark: Marking
    kind: DatedKind
    date: EdtfDate
    source: str = ""

    def in_words(self) -> str:
        """Say it."""
        said = {
            DatedKind.AT: "made",
            DatedKind.NOT_BEFORE: "not made before",
            DatedKind.NOT_AFTER: "not made after",
            DatedKind.SOLD: "sold",
        }[self.kind]
        return f"{self.mark} {said} {self.date.in_words()}"


@dataclass(frozen=True, slots=True)
class AnchorTable:
    """Anchors as read, and rows set aside with the reason."""

    anchors: tuple[Anchor, ...]
    set_aside: tuple[SetAside, ...] = ()

    def sentences(self) -> list[str]:
        """Say what was read and what was not."""
        count = len(self.anchors)
        said = [f"{count} dated example{'' if count == 1 else 's'} read."]
        return said + [f"Line {row.line} set aside: {row.reason}" for row in self.set_aside]


def read_anchors(text: str, *, headers: Mapping[str, str] | None = None) -> AnchorTable:
    r"""Read a table of anchors.

    Raises
    ------
    ReportsError
        When a needed column is missing or the table cannot be read.

    >>> table = read_anchors("serial,kind,date\n4.96.217,sold,1896-07\n12,maybe,1896\n")
    >>> table.anchors[0].in_words()
    '4·96·217 sold July 1896'
    >>> table.set_aside[0].line
    3
    """
    columns, rows = read_rows(text)
    mapped = {k.strip().lower(): v for k, v in (headers or {}).items()}
    names = [mapped.get(c.strip().lower(), c.strip().lower()) for c in columns]
    for needed in ("serial", "kind", "date"):
        if needed not in names:
            raise ReportsError(
                f"The table of dated examples has no '{needed}' column, only {', '.join(columns)}: "
                "it needs serial, kind and date."
            )
    anchors: list[Anchor] = []
    aside: list[SetAside] = []
    for line, cells in rows:
        values = dict(zip(names, [*cells, *[""] * (len(names) - len(cells))], strict=False))
        try:
            anchors.append(_anchor(values))
        except IronlaceError as error:
            aside.append(SetAside(line, tuple(values.items()), str(error)))
    return AnchorTable(tuple(anchors), tuple(aside))


def _anchor(values: Mapping[str, str]) -> Anchor:
    kinds = {str(kind): kind for kind in DatedKind}
    kind = kinds.get(values["kind"].strip().lower().replace("_", " "))
    if kind is None:
        raise ReportsError(f"The kind is '{values['kind']}'; it must be one of {', '.join(kinds)}.")
    date = read_date(values["date"])
    if date.earliest is None and date.latest is None:
        raise ReportsError(f"The date '{values['date']}' is open at both ends and says nothing.")
    if is_out_of_time(date, kind):
        raise ReportsError(
            f"The date '{values['date']}' lies outside {MADE_IN[0]} to {MADE_IN[1]}, when such "
            "machines were made: mend it, or say what else it tells."
        )
    return Anchor(struck_mark(values["serial"]), kind, date, values.get("source", ""))


def anchors_of(reports: Iterable[Report]) -> tuple[Anchor, ...]:
    """Anchors from the dated evidence that came with reports."""
    return tuple(
        Anchor(report.mark, report.dated.kind, report.dated.date, report.dated.what or report.id)
        for report in reports
        if report.dated is not None
    )
