"""Reports of other machines, as a table: read, set aside with a reason, written again.

Only two columns are needed: an id and the mark as read. The rest may be left out or empty.

=============  ==================================================================================
``id``         any short name, unique in the table
``mark``       the mark as read, glyph by glyph (`ironlace.evidence.markings`): ``4.96.217``
``seen``       how it is known: handled, photograph, told, listing, print (or photo, advert, book)
``sighted``    when it was seen (EDTF, or as people write it: 12 June 1886)
``variant``    which model or variant, in the survey's own words
``place``      where, as coarse as wanted; the country last: Redham, Northland
``reporter``   who reported it, by a name or a sign of your own (A, B): which reports are one
               person's bears on what they show; it is never published
``machine``    id of the report of the same machine, when it is known to be a second sighting; its
               own id when it is known to be none, though another report reads the same
``dated``      dated evidence that came with it (as ``sighted``)
``dated_kind`` what that date says of the making: at, not before, not after, sold; when left
               empty it is judged by the evidence, and said
``evidence``   what that evidence is: receipt, patent date, advertisement
``note``       anything else that may be published
``strings``    where the reading tells several, each with its chance:
               ``4.96.217 0.62; 4.96.211 0.2`` (`ironlace.survey.reports.strings_read`); the mark
               then holds all its doubts
``rest_p``     the chance of all strings but those; without it what they leave to 1
=============  ==================================================================================

Columns of other names are kept in `Report.other`. Addresses and other personal data have no
column: keep them out of the table that is shared.
"""

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.markings import GlyphKind, Marking, MarkingError
from ironlace.evidence.wording import counted
from ironlace.evidence.written_dates import read_date
from ironlace.survey.errors import ReportsError, RowError
from ironlace.survey.reports.as_struck import Struck, as_struck
from ironlace.survey.reports.spreadsheet import KEPT_AS_NUMBERS, SHOWN_FILLED_UP
from ironlace.survey.reports.strings_read import StringRead, read_strings_of, written


class Seen(StrEnum):
    """How a report is known, best first."""

    HANDLED = "handled"
    PHOTOGRAPH = "photograph"
    TOLD = "told"
    LISTING = "listing"
    PRINT = "print"


class DatedKind(StrEnum):
    """What a date found with a machine says of its making."""

    AT = "at"
    NOT_BEFORE = "not before"
    NOT_AFTER = "not after"
    SOLD = "sold"


@dataclass(frozen=True, slots=True)
class DatedEvidence:
    """A date that came with a machine, and what it says of its making."""

    date: EdtfDate
    kind: DatedKind = DatedKind.AT
    what: str = ""


MADE_IN = (1830, 1960)
"""Years within which such machines were made. Common practice, no source: before the first, nobody
made them in number, and by the second nobody cast and japanned them any more."""


def is_out_of_time(date: EdtfDate, kind: DatedKind) -> bool:
    """Whether a date would have a machine made, or sold new, when none was: a slip of the pen.

    That it was not made before some early year, or not after some late one, says nothing wrong.
    """
    ends_before = date.latest is not None and date.latest.year < MADE_IN[0]
    begins_after = date.earliest is not None and date.earliest.year > MADE_IN[1]
    return (ends_before and kind is not DatedKind.NOT_BEFORE) or (
        begins_after and kind is not DatedKind.NOT_AFTER
    )


@dataclass(frozen=True, slots=True)
class Report:
    """One report of one machine.

    `other` holds columns this room has no name for. `entry` names the entry of a record that it
    was read from, empty for a table's. `counts` is False when a person set it not to count.
    `reporter` tells persons apart and is named in no answer. `strings` holds the ways in which a
    reading with chances tells the mark, likeliest first; none where the mark alone says how it
    reads.
    """

    id: str
    mark: Marking
    seen: Seen | None = None
    sighted: EdtfDate | None = None
    variant: str = ""
    place: str = ""
    machine: str = ""
    dated: DatedEvidence | None = None
    note: str = ""
    other: tuple[tuple[str, str], ...] = ()
    entry: str = ""
    counts: bool = True
    strings: tuple[StringRead, ...] = ()
    reporter: str = ""


@dataclass(frozen=True, slots=True)
class SetAside:
    """A row that could not be used: its line in the file, what it held, and why.

    `brief` is the reason in the same few words for all rows of which it is true; without it the
    reason stands for it.
    """

    line: int
    row: tuple[tuple[str, str], ...]
    reason: str
    brief: str = ""

    @property
    def why(self) -> str:
        """The reason in a few words."""
        return self.brief or self.reason.rstrip(".")


@dataclass(frozen=True, slots=True)
class ReportTable:
    """A table as read: the reports, and the rows set aside.

    Attributes
    ----------
    reports
        In the order of the file.
    set_aside
        Rows that could not be used; nothing is dropped without standing here.
    remarks
        Sentences on cells that could not be read while the row still counts.
    ahead
        Of these what changes an answer: dates that do not count, kinds of date that were taken for
        granted, marks read otherwise than they stand. It is told before anything else.
    columns
        The headers as they stood.
    """

    reports: tuple[Report, ...]
    set_aside: tuple[SetAside, ...] = ()
    remarks: tuple[str, ...] = ()
    columns: tuple[str, ...] = field(default=())
    ahead: tuple[str, ...] = ()

    def sentences(self) -> list[str]:
        """Say what was read and what was not."""
        said = [f"{counted(len(self.reports), 'report')} read."]
        said += [f"Line {row.line} set aside: {row.reason}" for row in self.set_aside]
        return said + list(self.remarks)


REPORT_COLUMNS = (
    "id",
    "mark",
    "seen",
    "sighted",
    "variant",
    "place",
    "machine",
    "dated",
    "dated_kind",
    "evidence",
    "note",
)
CHANCE_COLUMNS = ("strings", "rest_p")
"""Columns of a reading with chances: a table has them only where some report has such a reading."""

REPORTER_COLUMN = "reporter"
"""Column of who reported it: a table has it only where some report says so."""

COLUMNS = (*REPORT_COLUMNS, REPORTER_COLUMN, *CHANCE_COLUMNS)
"""All columns that a table of reports may have."""

_ALSO_CALLED = {
    "mark": ("marking", "serial", "serial number", "number", "as read", "mark as read", "reads"),
    "id": ("report", "no", "no."),
    "sighted": ("date sighted", "date seen"),
    "seen": ("how", "seen how"),
    "evidence": ("dated evidence", "dated by"),
    "dated_kind": ("dated kind", "kind", "dated is"),
    REPORTER_COLUMN: ("reported by",),
}


_Choice = TypeVar("_Choice", bound=StrEnum)
_Cells = list[tuple[str, str]]


def read_rows(
    text: str, delimiter: str | None = None
) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Read delimited text: headers, and rows with the line each begins on.

    The delimiter is taken from the header line (tab, semicolon or comma) unless given.

    Raises
    ------
    ReportsError
        When there is no header or the quoting is broken.
    """
    rows = list(_rows(text, delimiter))
    if not rows:
        raise ReportsError(_EMPTY)
    return rows[0][1], rows[1:]


_EMPTY = "The table is empty: its first line must name the columns."


def _rows(text: str, delimiter: str | None) -> Iterator[tuple[int, list[str]]]:
    """The rows that hold something, headers first, each with the line it begins on."""
    begin = int(text.startswith("\ufeff"))
    lines = (line[0] for line in _LINE.finditer(text, begin))
    first = next((one for line in lines for one in line.splitlines() if one.strip()), "")
    if not first:
        raise ReportsError(_EMPTY)
    mark = delimiter or max("\t;,", key=lambda c: (first.count(c), c == ","))
    lines = (line[0] for line in _LINE.finditer(text, begin))
    reader = csv.reader(lines, delimiter=mark, strict=True)
    begins = 1
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells):
                if any(cell[:1] == "'" for cell in cells):
                    cells = [_as_written(cell) for cell in cells]
                yield begins, cells
            begins = reader.line_num + 1
    except csv.Error as error:
        raise ReportsError(
            f"The table cannot be read near line {reader.line_num}: {error}. "
            "Check that every quotation mark is closed."
        ) from error


_LINE = re.compile(r"[^\n]*\n|[^\n]+")


def read_reports(
    text: str, *, headers: Mapping[str, str] | None = None, delimiter: str | None = None
) -> ReportTable:
    r"""Read a table of reports.

    Parameters
    ----------
    text
        Comma, semicolon or tab separated, first line the headers.
    headers
        From a header in the file to a column name of this module, when they differ.
    delimiter
        To force one.

    Raises
    ------
    ReportsError
        When the table has no id or no mark column, or cannot be read at all.

    >>> table = read_reports("id,mark\nA,4.96.217\nB,\n")
    >>> str(table.reports[0].mark), table.set_aside[0].line
    ('4·96·217', 3)
    """
    # twice through, so that no more than the reports of a long table is held at once
    looked_at = _rows(text, delimiter)
    _, columns = next(looked_at, (0, None))
    if columns is None:
        raise ReportsError(_EMPTY)
    at = _column_of_marks(columns, headers or {})
    marks = [cells[at] for _, cells in looked_at if at < len(cells)]
    _refuse_no_numbers(marks)
    rows = _rows(text, delimiter)
    next(rows)
    return _reports_of(columns, rows, headers or {}, _WithoutDecimals.of(marks))


def reports_from_rows(
    columns: list[str],
    rows: Iterable[tuple[int, list[str]]],
    *,
    headers: Mapping[str, str] | None = None,
) -> ReportTable:
    """Make reports of rows with line numbers; for tables that do not come as text."""
    rows = list(rows)
    at = _column_of_marks(columns, headers or {})
    marks = [cells[at] for _, cells in rows if at < len(cells)]
    _refuse_no_numbers(marks)
    return _reports_of(columns, rows, headers or {}, _WithoutDecimals.of(marks))


def _named(columns: Sequence[str], headers: Mapping[str, str]) -> tuple[list[str], list[str]]:
    """The headers, none of them empty, and the column name of each."""
    # Spreadsheets leave empty headings behind, often several.
    columns = [column or f"column {i}" for i, column in enumerate(columns, 1)]
    return columns, column_names(columns, headers)


def _column_of_marks(columns: Sequence[str], headers: Mapping[str, str]) -> int:
    """Where the marks stand. Raises ReportsError where a needed column is missing."""
    columns, names = _named(columns, headers)
    for needed in ("id", "mark"):
        if needed not in names:
            raise ReportsError(
                f"The table has no '{needed}' column, only {', '.join(columns) or 'none'}: "
                "name it so, or say which column it is."
            )
    return names.index("mark")


def _reports_of(  # long: each way a row can be wrong
    columns: list[str],
    rows: Iterable[tuple[int, list[str]]],
    headers: Mapping[str, str],
    plain: "_WithoutDecimals",
) -> ReportTable:
    columns, names = _named(columns, headers)
    reports: list[Report] = []
    aside: list[SetAside] = []
    remarks: list[str] = []
    taken: dict[str, int] = {}
    written: list[str] = []
    filled_up: list[tuple[int, str]] = []
    # rows with a group that may be a year written out: they may be set aside at the end
    may_be_years: dict[int, tuple[int, _Held]] = {}
    understood = _Understood(names)
    for line, cells in rows:
        if len(cells) > len(columns):
            aside.append(
                SetAside(
                    line,
                    (*_held(columns, cells), ("", " ".join(cells[len(columns) :]))),
                    f"{len(cells)} cells under {len(columns)} headers; quote cells with commas.",
                    "more cells than headers",
                )
            )
            continue
        padded = [*cells, *[""] * (len(columns) - len(cells))]
        values = dict(zip(names, padded, strict=True))
        values["mark"] = plain.mark(values["mark"])
        try:
            report, said = _report(values, line, understood)
        except IronlaceError as error:
            aside.append(SetAside(line, _held(columns, cells), str(error), _brief(error)))
            continue
        if report.id in taken:
            aside.append(
                SetAside(
                    line,
                    _held(columns, cells),
                    f"The id '{report.id}' stands already on line {taken[report.id]}; "
                    "give each report an id of its own.",
                    "an id that stands already",
                )
            )
            continue
        taken[report.id] = line
        if _may_hold_a_year(values["mark"]):
            may_be_years[len(reports)] = (line, _held(columns, cells))
        reports.append(report)
        remarks += said
        if (shown := values.get(SHOWN_FILLED_UP)) and values["mark"] in shown.split("; "):
            filled_up.append((line, values["mark"]))
        if report.sighted is not None or report.dated is not None:
            written += _written_dates(values, report)
    if written:
        more = f" and {len(written) - 3} more" if len(written) > 3 else ""
        remarks.insert(0, f"Dates read as they were written: {'; '.join(written[:3])}{more}.")
    if filled_up:
        line, mark = filled_up[0]
        remarks.insert(
            0,
            f"{counted(len(filled_up), 'number')} of the spreadsheet, such as {mark} on line "
            f"{line}, {'is' if len(filled_up) == 1 else 'are'} read as shown there, with noughts "
            "or signs that only the format of the cell adds: check that they are struck.",
        )
    unweighed = [*_counted_rows(reports), *_dates_not_weighed(columns, names, reports)]
    marks = [report.mark for report in reports]
    if may_be_years and (years := _years_written_out(marks)):
        aside += [SetAside(*may_be_years[i], reason, _YEAR_BRIEF) for i, reason in years.items()]
        aside.sort(key=lambda row: row.line)
        reports = [report for i, report in enumerate(reports) if i not in years]
    ahead = (*plain.sentences(), *unweighed, *understood.sentences())
    return ReportTable(tuple(reports), tuple(aside), tuple(remarks), tuple(columns), ahead)


_Held = tuple[tuple[str, str], ...]
"""The cells of a row under their headers."""


def _held(columns: Sequence[str], cells: Sequence[str]) -> _Held:
    padded = [*cells, *[""] * (len(columns) - len(cells))]
    return tuple(zip(columns, padded, strict=False))


class _Understood:
    """What cells of a table were understood as: most words and dates stand in many rows.

    What was said of a cell names its line, so only those of which nothing is said are kept.
    """

    def __init__(self, names: Sequence[str]) -> None:
        self.further = tuple(name for name in names if name not in COLUMNS)
        self.dates: dict[str, EdtfDate] = {}
        self.choices: dict[tuple[str, str], StrEnum] = {}
        self._words: dict[str, str] = {}
        self.unread: list[tuple[int, str]] = []
        self.taken: dict[DatedKind, list[int]] = {}

    def word(self, text: str) -> str:
        """The same text, one object for all rows that hold it."""
        return self._words.setdefault(text, text) if text else text

    def sentences(self) -> list[str]:
        """Which dates do not count, and of which it was taken for granted what they say."""
        said = []
        if self.unread:
            count = len(self.unread)
            shown = "; ".join(f"line {line}, '{text}'" for line, text in self.unread[:_MOST_SHOWN])
            said.append(
                f"{counted(count, 'date')} that came with machines "
                f"{'is' if count == 1 else 'are'} not read and "
                f"{'does' if count == 1 else 'do'} not count: {shown}{_more(count)}."
            )
        for kind, lines in self.taken.items():
            count = len(lines)
            said.append(
                f"What {counted(count, 'date')} say{'s' if count == 1 else ''} of the making is "
                f"not given and is taken as '{kind}': line{'' if count == 1 else 's'} "
                f"{', '.join(map(str, lines[:_MOST_SHOWN]))}{_more(count)}."
            )
        return said


_MOST_SHOWN = 3
"""So many lines are named in one sentence; the remarks hold them all."""


def _more(count: int) -> str:
    return f" and {count - _MOST_SHOWN} more" if count > _MOST_SHOWN else ""


_DECIMAL = re.compile(r"([0-9]+)\.0", re.ASCII)


@dataclass(frozen=True, slots=True)
class _WithoutDecimals:
    """Numbers that a program kept as decimal fractions: every one of them ends in '.0'.

    One mark or two may be struck so; that all of a table are is what a column of numbers with an
    empty cell in it becomes when a program writes it out.
    """

    found: int = 0

    @classmethod
    def of(cls, column: Iterable[str]) -> "_WithoutDecimals":
        """Look through the column of marks."""
        marks = {cell.strip() for cell in column} - {""}
        every = len(marks) >= _FEW_DECIMALS and all(map(_DECIMAL.fullmatch, marks))
        return cls(len(marks) if every else 0)

    def mark(self, text: str) -> str:
        """The number as it was before."""
        found = _DECIMAL.fullmatch(text.strip()) if self.found else None
        return found[1] if found else text

    def sentences(self) -> list[str]:
        """Say it, since it bears on every number."""
        if not self.found:
            return []
        return [
            f"All {self.found} numbers end in '.0', as a program writes whole numbers of a column "
            "with gaps: it is left off; if it is struck, write the marks with a ring or a space."
        ]


_FEW_DECIMALS = 3
"""So many marks that all end in '.0' are a program's; a judgement."""


def _brief(error: IronlaceError) -> str:
    if isinstance(error, RowError):
        return error.brief
    return "signs that are no part of a mark" if isinstance(error, MarkingError) else ""


_FEW_COUNTED = 4
"""Fewer rows may be numbered 1, 2, 3 by chance, or by a works that made no more."""


def _counted_rows(reports: Sequence[Report]) -> list[str]:
    """Ask whether 'id' and 'mark' were changed round: the marks count the rows, the ids do not.

    Rows that were set aside leave gaps in the count.
    """
    count = len(reports)
    if count < _FEW_COUNTED:
        return []
    marks = ["".join(filter(str.isdecimal, report.mark.plain)) for report in reports]
    ids = ["".join(filter(str.isdecimal, report.id)) for report in reports]
    numbers = {int(figures) for figures in marks if figures}
    if len(numbers) < count or max(numbers) > count + count // _FEW_COUNTED:
        return []
    longer = sum(len(one) > len(other) for one, other in zip(ids, marks, strict=True))
    if longer < _MOSTLY_LONGER * count:
        return []
    return [
        f"Under 'mark' the rows are counted from {min(numbers)} to {max(numbers)}, and under 'id' "
        "stand longer numbers: look whether the two headings were changed round."
    ]


_MOSTLY_LONGER = 0.8
"""Part of the rows whose id has more figures than its mark; both are judgements."""

_A_YEAR = re.compile(r"(?<![\d.])1[89]\d\d(?!\d)")

_FEW_YEARS = 2
"""So many years in a column that is not weighed are asked about; one stands in many a remark."""

_FREE_TEXT = ("note", "notes", "remark", "remarks", "comment", "comments")
"""Columns of free text: a year in them is no answer to when a machine was made."""


def _dates_not_weighed(
    columns: Sequence[str], names: Sequence[str], reports: Sequence[Report]
) -> list[str]:
    """Name columns that hold years of making and are read as something else, or not at all.

    A heading that only resembles one of ours is asked about and never silently taken.
    """
    if any(report.dated is not None for report in reports):
        return []
    asked = []
    for column, name in zip(columns, names, strict=True):
        if name == "dated" or column.lower() in _FREE_TEXT:
            continue
        held = (text for r in reports for of, text in r.other if of == name)
        count = sum(any(map(_is_of_making, _A_YEAR.findall(text))) for text in held)
        if count < _FEW_YEARS:
            continue
        read_as = (
            f"is read as what a date says ({', '.join(DatedKind)})"
            if name == "dated_kind"
            else "is kept but not weighed"
        )
        asked.append(
            f"The column '{column}' has {counted(count, 'year')} and {read_as}: if it tells when "
            "machines were made or sold, head it 'dated'; no date counts as it is."
        )
    return asked


def _is_of_making(year: str) -> bool:
    return MADE_IN[0] <= int(year) <= MADE_IN[1]


_YEAR_BRIEF = "a year written out where the others have two figures"
_FULL_YEAR = re.compile(r"1[7-9]\d\d")


def _may_hold_a_year(cell: str) -> bool:
    """Whether a mark may have a group that reads as a year, in brackets or another script too."""
    return bool(_FULL_YEAR.search(cell)) or "[" in cell or not cell.isascii()


def _years_written_out(marks: Sequence[Marking]) -> dict[int, str]:
    """Marks in which somebody wrote 1896 for the 96 that was struck: their places, and why.

    Where most marks of as many groups have two figures in a place, four that make a year are a
    reporter's; where all have four they may be struck.
    """
    of_two: Counter[tuple[int, int]] = Counter()
    full_years: dict[tuple[int, int], list[tuple[int, str]]] = {}
    for i, texts in enumerate(_group_texts(marks)):
        if len(texts) < 2:
            continue
        for at, text in enumerate(texts):
            if len(text) == 2:
                of_two[len(texts), at] += 1
            elif len(text) == 4 and _FULL_YEAR.fullmatch(text):
                full_years.setdefault((len(texts), at), []).append((i, text))
    found: dict[int, str] = {}
    for place, full in full_years.items():
        if len(full) > of_two[place]:
            continue
        for i, text in full:
            found[i] = (
                f"'{marks[i]}' has the year written out ({text}) where the others have two "
                "figures: write only what is struck."
            )
    return found


def _group_texts(marks: Sequence[Marking]) -> Iterator[list[str]]:
    """The groups of each mark as text, as `Marking.groups` parts them."""
    signs: dict[int, str] = {}  # by object: marks of a table share their glyphs
    for mark in marks:
        for glyph in mark.glyphs:
            if id(glyph) not in signs:
                signs[id(glyph)] = "\n" if glyph.is_separator else str(glyph)
        text = "".join([signs[id(glyph)] for glyph in mark.glyphs])
        yield [group for group in text.split("\n") if group]


_ROWS_LOOKED_AT = 400
"""Rows, evenly over a long table, by which it is known for one that holds no numbers."""

_LONG_TABLE = 2_000
"""A shorter table is read whatever it holds: it takes no time, and each row gets its reason."""

_FEWEST_READ = 0.2
"""A long table of which a smaller part reads as marks has another column for its numbers."""

_KINDS_OF_MARK = 12
"""A works strikes its numbers in a few ways; with wear and slips a dozen cover most of them."""

_COVERED = 0.5
"""The part of a table that those kinds must cover. Both are judgements."""

_LONGEST_GROUP = 9
"""Figures in one group of which more are a telephone number or a code, but no running number."""


def _refuse_no_numbers(cells: Sequence[str]) -> None:
    """Refuse a long table at once when what stands in the column of marks is something else.

    Raises ReportsError.
    """
    if len(cells) <= _LONG_TABLE:
        return
    some = [cells[i * len(cells) // _ROWS_LOOKED_AT] for i in range(_ROWS_LOOKED_AT)]
    kinds: Counter[str] = Counter()
    for cell in some:
        with suppress(IronlaceError):
            kinds[_kind_of_mark(as_struck(cell).mark)] += 1
    read = sum(kinds.values())
    usual = sum(count for kind, count in kinds.most_common(_KINDS_OF_MARK) if kind)
    if read < _FEWEST_READ * len(some):
        raise ReportsError(
            f"Of {len(some)} rows looked at all over the table {read} hold a number: is 'mark' "
            f"the right column? It holds such as '{some[0][:40]}'."
        )
    if usual < _COVERED * read:
        raise ReportsError(
            f"What stands under 'mark' is built in too many ways to be one works' numbers, such as "
            f"'{some[0][:40]}' and '{some[-1][:40]}': is it the right column?"
        )


def _kind_of_mark(mark: Marking) -> str:
    """How a mark is built: letters, figures and separators, however many figures; '' for none."""
    built = ""
    for glyph in mark.glyphs:
        kind = glyph.kind
        sign = str(glyph) if glyph.is_separator else "A" if kind is GlyphKind.LETTER else "9"
        built += sign if glyph.is_separator or not built.endswith(sign) else ""
    too_long = any(len(group) > _LONGEST_GROUP for group in mark.groups)
    return "" if too_long else built


def column_names(columns: Iterable[str], headers: Mapping[str, str]) -> list[str]:
    """Give each header its column name; headers without one keep their own."""
    known = {name: name for name in COLUMNS}
    known |= {other: name for name, others in _ALSO_CALLED.items() for other in others}
    mapped = {_plain(k): v for k, v in headers.items()}
    for target in mapped.values():
        if target not in COLUMNS:
            raise ReportsError(f"'{target}' is not a column of a report: use {', '.join(COLUMNS)}.")
    found: list[str] = []
    for column in columns:
        name = mapped.get(_plain(column)) or known.get(_plain(column), column)
        if name in mapped.values() and _plain(column) not in mapped:
            name = column if column not in COLUMNS else f"{column} (as in the file)"
        if name in found:
            if name in COLUMNS and column != name:
                name = column
            if name in found:
                raise ReportsError(f"Two columns are called '{name}': rename one.")
        found.append(name)
    return found


def _plain(header: str) -> str:
    return re.sub(r"[\s_]+", " ", header.strip().lower()).replace("dated kind", "dated_kind")


def _report(values: dict[str, str], line: int, understood: _Understood) -> tuple[Report, list[str]]:
    if not values["id"]:
        raise RowError("The id is empty; give the report any short name.", "no id")
    if not values["mark"]:
        raise RowError(
            "The mark is empty; write what was read, '?' for an unread glyph.", "no number"
        )
    said: list[str] = []
    other = [(k, understood.word(v)) for k in understood.further if (v := values[k])]
    seen = _choice(Seen, values.get("seen", ""), "seen", line, said, other, understood)
    sighted = _date(values.get("sighted", ""), "sighted", line, said, other, understood)
    dated = _date(values.get("dated", ""), "dated", line, said, other, understood)
    if dated is None and not _SAYS_NO_DATE.fullmatch(told := values.get("dated", "").strip()):
        understood.unread.append((line, told))
    kind = _choice(
        DatedKind, values.get("dated_kind", ""), "dated_kind", line, said, other, understood
    )
    evidence = understood.word(values.get("evidence", ""))
    if dated is None:
        other += [(k, values[k]) for k in ("dated_kind", "evidence") if values.get(k)]
    elif kind is None and values.get("dated_kind"):
        said.append(
            f"Line {line}: the date {dated.in_words()} does not count until its kind is known."
        )
        understood.unread.append((line, values["dated_kind"]))
        other += [(k, values[k]) for k in ("dated", "evidence") if values.get(k)]
        dated = None
    if dated is not None and kind is None:
        kind = kind_by(evidence)
        said.append(
            f"Line {line}: what the date '{dated.in_words()}' says is not given; it is taken as "
            f"'{kind}'."
        )
        understood.taken.setdefault(kind, []).append(line)
    struck = as_struck(values["mark"])
    said += _doubts_of_mark(struck, values, line)
    report = Report(
        values["id"],
        struck.mark,
        seen,
        sighted,
        understood.word(values.get("variant", "")),
        understood.word(values.get("place", "")),
        values.get("machine", ""),
        DatedEvidence(dated, kind or DatedKind.AT, evidence) if dated else None,
        values.get("note", ""),
        tuple(dict(other).items()) if other else (),
        strings=_strings(values, struck.mark),
        reporter=understood.word(values.get(REPORTER_COLUMN, "")),
    )
    return report, said


def _doubts_of_mark(struck: Struck, values: Mapping[str, str], line: int) -> list[str]:
    """What was left out of a cell of marks, and what of it may not be as struck."""
    said: list[str] = []
    if struck.left_out:
        said.append(
            f"Line {line}: '{struck.left_out}' stands before the number and is not taken as struck."
        )
    if struck.may_be_short:
        said.append(
            f"Line {line}: '{struck.may_be_short}' is taken as struck before the figures; if it "
            "only stands for number, leave it off."
        )
    if (kept := values.get(KEPT_AS_NUMBERS)) and values["mark"] in kept.split("; "):
        said.append(
            f"Line {line}: the spreadsheet keeps {values['mark']} as a number, so noughts at its "
            f"end would be lost ({values['mark']}0 looks the same): check it against the machine, "
            "and keep the column as text."
        )
    return said


_SAYS_NO_DATE = re.compile(
    r"[-–—?./*\s]*|n\.?/?\s?a\.?|unknown|undated|not (?:dated|known)|none", re.I
)
"""What stands in a cell of dates for none; nothing is lost by it."""


def _strings(values: Mapping[str, str], mark: Marking) -> tuple[StringRead, ...]:
    """The strings of a reading with chances. Raises RowError where the mark admits none."""
    cell, rest = values.get("strings", ""), values.get("rest_p", "")
    if not cell and not rest:
        return ()
    return read_strings_of(mark, cell, rest)


_KINDS_BY_EVIDENCE: tuple[tuple[DatedKind, re.Pattern[str]], ...] = (
    (DatedKind.SOLD, re.compile(r"\b(?:receipt|bill|sale|sold|invoice|bought|purchase)", re.I)),
    (DatedKind.NOT_BEFORE, re.compile(r"\b(?:patent|design|registered|introduced)", re.I)),
    (
        DatedKind.NOT_AFTER,
        re.compile(r"\b(?:photograph|portrait|letter|diary|inherit|repair|will|wedding)", re.I),
    ),
)


def kind_by(evidence: str) -> DatedKind:
    """What a date most likely says, by what it is known by; a date of making when nothing tells."""
    found = (kind for kind, known in _KINDS_BY_EVIDENCE if known.search(evidence))
    return next(found, DatedKind.AT)


def _choice(
    kind: type[_Choice],
    text: str,
    name: str,
    line: int,
    said: list[str],
    other: _Cells,
    understood: _Understood,
) -> _Choice | None:
    if not text:
        return None
    known = understood.choices.get((name, text))
    if isinstance(known, kind):
        return known
    try:
        plain = " ".join(text.lower().split())
        chosen = kind(_EVERYDAY.get(plain, plain))
        understood.choices[name, text] = chosen
        return chosen
    except ValueError:
        said.append(
            f"Line {line}: '{text}' under {name} is none of {', '.join(kind)}; kept as text."
        )
        other.append((name, text))
        return None


_EVERYDAY: Mapping[str, str] = {
    **dict.fromkeys(
        ("photo", "photos", "photographs", "picture", "pictures", "image", "photograph seen"),
        Seen.PHOTOGRAPH,
    ),
    **dict.fromkeys(("in hand", "inspected", "own", "own machine"), Seen.HANDLED),
    **dict.fromkeys(("word", "by word", "by word of mouth", "heard", "hearsay"), Seen.TOLD),
    **dict.fromkeys(("ad", "advert", "advertisement", "auction"), Seen.LISTING),
    **dict.fromkeys(("book", "magazine", "catalogue", "printed"), Seen.PRINT),
}
"""What people write in a column of how a report is known."""


def _written_dates(values: Mapping[str, str], report: Report) -> list[str]:
    """Each date that was not given as EDTF, and how it was understood."""
    understood = {
        "sighted": report.sighted,
        "dated": report.dated.date if report.dated else None,
    }
    return [
        f"'{values[name]}' as {date.in_words()}"
        for name, date in understood.items()
        if date is not None and values[name].strip() != date.text
    ]


def _date(
    text: str, name: str, line: int, said: list[str], other: _Cells, understood: _Understood
) -> EdtfDate | None:
    if not text:
        return None
    if text in understood.dates:
        return understood.dates[text]
    try:
        found = read_date(text)
        _ = found.earliest, found.latest  # a year that no calendar holds is no date either
        understood.dates[text] = found
        return found
    except IronlaceError as error:
        said.append(f"Line {line}, {name}: {error} Kept as text.")
        other.append((name, text))
        return None


_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the beginning of a formula; an apostrophe before it says text."""


def report_cells(report: Report) -> dict[str, str]:
    """The cells of a report by column name; what was kept as text goes back to its column."""
    cells = {
        "id": report.id,
        "mark": str(report.mark),
        "seen": str(report.seen or ""),
        "sighted": report.sighted.text if report.sighted else "",
        "variant": report.variant,
        "place": report.place,
        "machine": report.machine,
        "dated": report.dated.date.text if report.dated else "",
        "dated_kind": str(report.dated.kind) if report.dated else "",
        "evidence": report.dated.what if report.dated else "",
        "note": report.note,
    }
    if report.reporter:
        cells[REPORTER_COLUMN] = report.reporter
    if report.strings:
        cells["strings"] = written(report.strings)
    return cells | dict(report.other)


def write_reports(reports: Iterable[Report]) -> str:
    """Write reports as comma separated text that `read_reports` reads back to the same."""
    rows = [report_cells(report) for report in reports]
    extra = list(dict.fromkeys(k for row in rows for k in row if k not in REPORT_COLUMNS))
    out = io.StringIO()
    writer = csv.DictWriter(out, [*REPORT_COLUMNS, *extra], restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows({name: _as_text(cell) for name, cell in row.items()} for row in rows)
    return out.getvalue()


def _as_written(cell: str) -> str:
    """A cell without the apostrophe that `_as_text` put before it."""
    return cell[1:] if cell[:1] == "'" and cell[1:].startswith(_FORMULA) else cell


def _as_text(cell: str) -> str:
    """A cell that a spreadsheet does not take for a formula (it might run a stranger's)."""
    return f"'{cell}" if cell.startswith(_FORMULA) else cell
