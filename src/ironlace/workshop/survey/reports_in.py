"""Reports of other machines that come in as a table of any headings, looked over before any counts.

A table's own columns are laid to ours by a person; the first guess is made here. Columns that look
as if they named people are left out of the guess: nobody needs to be known for a number to count.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.markings import parse_marking
from ironlace.record import Record, ReportEntry
from ironlace.record.surveyed import OWN
from ironlace.survey.reports.as_struck import struck_mark
from ironlace.survey.reports.table import (
    COLUMNS,
    REPORTER_COLUMN,
    Report,
    ReportTable,
    SetAside,
    read_rows,
    reports_from_rows,
)
from ironlace.survey.sharing.open_data import merge
from ironlace.survey.sharing.same_machine import likely_pairs
from ironlace.survey.sharing.survey_zip import is_survey_zip, unzipped
from ironlace.workshop.store.aside import aside
from ironlace.workshop.survey.reports_of_record import entry_of, report_of
from ironlace.workshop.survey.tables_in import (
    TableError,
    csv_by_lines,
    is_spreadsheet,
    spreadsheet_text,
)

NOTE = "as a note"
LEAVE = "not taken"
REPORTER = REPORTER_COLUMN
ROW_NAMES = "line"
COLUMN_MEANS: tuple[tuple[str, str], ...] = (
    ("mark", "the number, as read"),
    ("id", "what the report is called"),
    ("seen", "how it is known"),
    ("sighted", "when it was seen"),
    ("variant", "variant or model"),
    ("place", "place"),
    ("dated", "a date known for it"),
    ("dated_kind", "what that date says"),
    ("evidence", "what that date is known by"),
    ("machine", "the same machine as"),
    ("note", "remarks"),
    ("strings", "its strings, each with a chance"),
    ("rest_p", "the chance of all other strings"),
    (NOTE, "a note on the report"),
    (REPORTER, "who reported it (stays private)"),
    (LEAVE, "do not take it"),
)
"""What a column of a table may be taken as, and words for a person."""

_ONCE = set(COLUMNS)
_PEOPLE = re.compile(
    r"\b(?:e ?mail|mail|phone|telephone|tel|mobile|user|user ?name|login|nick ?name|owner|seller|"
    r"collector|reporter|reported by|submitted by|submitter|sender|author|contact|address|street|"
    r"post ?code|zip|surname|first ?name|last ?name|full ?name|name|profile|account|member)\b",
)
_FROM_WHOM = re.compile(r"(?:from|by|who|whom|told by|sent by|sent in by|sender)")
"""Headings that in full ask for a person, though each word may stand elsewhere."""
_NAME = re.compile(
    r"(?:(?:Mr|Mrs|Miss|Ms|Dr)\.? )?[^\W\d_a-z][\w'’.-]*"
    r"(?: (?:[^\W\d_a-z][\w'’.-]*|v[ao]n|de|of)){1,3}"
)
"""What may be a person's name: two to four words, each with a capital."""
_MOSTLY = 0.6
"""Share of a column's cells that look like names before it is taken for one of people (judged)."""
_OURS = frozenset(column.replace("_", " ") for column in COLUMNS if column != REPORTER)
_MAIL = re.compile(r"[^\s@]+@[^\s@]+\.[a-z]{2,}", re.I)
_CALLED: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (column, re.compile(pattern))
    for column, pattern in (
        ("mark", r"\b(?:serial|mark|marking|s ?/? ?n|sn|number read|as read|stamped|nummer)\b"),
        ("mark", r"^reads$"),
        ("id", r"^(?:id|ref|reference|key|record|entry|report|no|nr|#)$"),
        ("dated_kind", r"\b(?:kind of date|date kind|dated kind|dated is)\b"),
        ("evidence", r"\bdated by\b"),
        ("dated", r"\b(?:dated|receipt date|date of (?:making|manufacture|sale)|made|year made)\b"),
        ("evidence", r"\b(?:evidence|receipt|document|proof)\b"),
        ("sighted", r"\b(?:sighted|seen on|date seen|date sighted|when|timestamp|date|listed)\b"),
        ("seen", r"^(?:seen|how|how known|source|source type)$"),
        ("variant", r"\b(?:variant|model|type|version|style)\b"),
        ("place", r"\b(?:place|location|where|town|city|country|region|county|state)\b"),
        ("note", r"^(?:notes?|remarks?|comments?|description)$"),
        ("mark", r"\b(?:number|no)\b"),
    )
)
_HOLDS_A_YEAR = re.compile(r"(?<!\d)1[89]\d\d(?!\d)")
_LOOKED_AT = 200
"""Cells of a column that its kind is guessed from (a judgement)."""

_UNPACKING_S = 9.0
"""Time for unpacking a file of at most some thousand reports. A judgement."""
_SMALLER = "save its table as CSV (UTF-8), in parts"

_SHOWN = 3
"""Cells of a column shown as examples."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table that came in: its heading, some cells, what it is first taken as."""

    heading: str
    samples: tuple[str, ...]
    guess: str
    about_people: bool


@dataclass(frozen=True, slots=True)
class IncomingTable:
    """A table as it came: headings, and rows with the line each begins on."""

    columns: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]

    def plain(self) -> bool:
        """Whether every column has one of our own names, so that nothing need be asked."""
        return set(self.columns) <= set(COLUMNS) and {"id", "mark"} <= set(self.columns)


@dataclass(frozen=True, slots=True)
class Difference:
    """A field of which a table says something else than the entry kept; `ours` may be empty."""

    field: str
    ours: str
    theirs: str


@dataclass(frozen=True, slots=True)
class Incoming:
    """One report of a table, and how it stands to what is kept.

    `standing` names the entry that is the same report already, `differs` holds what the table says
    otherwise. `like` names another that may be the same machine, and why.
    """

    line: int
    entry: ReportEntry
    standing: str = ""
    like: str = ""
    differs: tuple[Difference, ...] = ()


@dataclass(frozen=True, slots=True)
class LookedOver:
    """A table that was read under a laying-out of its columns; nothing of it counts yet."""

    reports: tuple[Incoming, ...]
    set_aside: tuple[SetAside, ...]
    remarks: tuple[str, ...]


def text_of_file(data: bytes, came_as: str) -> tuple[str, str]:
    """Text of a table that came as a file, and what it says of itself (a citation line or nothing).

    Parameters
    ----------
    data
        CSV, TSV or semicolon-separated text in UTF-8, XLSX, or a published survey (zip).
    came_as
        The file's name, for the sentence when it cannot be read.

    Raises
    ------
    IronlaceError
        When it is none of these.
    """
    if is_spreadsheet(data):  # or any other zip
        return aside(_unpacked, data, what=came_as, instead=_SMALLER, seconds=_UNPACKING_S)
    try:
        return data.decode("utf-8-sig"), ""
    except UnicodeDecodeError as error:
        raise TableError(
            f"{came_as} is no table in UTF-8 text, no XLSX and no published survey: save it as "
            "CSV (UTF-8) and try again."
        ) from error


def _unpacked(data: bytes) -> tuple[str, str]:
    """Text of the table in a published survey or a spreadsheet, and its citation line."""
    if is_survey_zip(data):
        table, about, count = unzipped(data)
        return table, about.citation(count)
    return spreadsheet_text(data), ""


def table_of(text: str) -> IncomingTable:
    """Read delimited text as a table; every column gets a heading of its own.

    Raises ReportsError when there is no heading line or the quoting is broken.
    """
    columns, rows = read_rows(text)
    named: list[str] = []
    for number, heading in enumerate(columns, 1):
        name = heading or f"column {number}"
        named.append(name if name not in named else f"{name} ({number})")
    return IncomingTable(tuple(named), tuple((line, tuple(cells)) for line, cells in rows))


def columns_of(table: IncomingTable) -> tuple[Column, ...]:
    """Show each column with some of its cells, and what it is first taken as."""
    cells = [_cells(table, at) for at in range(len(table.columns))]
    people = [_about_people(h, c) for h, c in zip(table.columns, cells, strict=True)]
    guesses: list[str] = []
    for heading, private, held in zip(table.columns, people, cells, strict=True):
        plain = re.sub(r"[\s_.:-]+", " ", heading).strip().lower()
        guess = next(
            (c for c in COLUMNS if c.replace("_", " ") == plain and c != REPORTER),
            LEAVE if private else "",
        ) or next((c for c, known in _CALLED if known.search(plain) and c not in guesses), NOTE)
        if guess == "dated_kind" and any(_HOLDS_A_YEAR.search(cell) for cell in held):
            guess = "dated"  # a heading that only resembles it; the person looks and says
        guesses.append(guess if guess not in guesses or guess not in _ONCE else NOTE)
    if "mark" not in guesses:
        _likeliest_mark(cells, guesses)
    return tuple(
        Column(heading, tuple(c[:80] for c in held[:_SHOWN]), guess, private)
        for heading, held, guess, private in zip(table.columns, cells, guesses, people, strict=True)
    )


def _cells(table: IncomingTable, at: int) -> list[str]:
    held = [cells[at] for _, cells in table.rows[:_LOOKED_AT] if at < len(cells) and cells[at]]
    return held[:_LOOKED_AT]


def _about_people(heading: str, cells: Sequence[str]) -> bool:
    plain = re.sub(r"[\s_.:-]+", " ", heading).strip().lower()
    if _PEOPLE.search(plain) or _FROM_WHOM.fullmatch(plain):
        return True
    if any(_MAIL.search(cell) for cell in cells):
        return True
    if any(known.search(plain) for _, known in _CALLED) or plain in _OURS:
        return False
    # an unknown heading over what looks like names: not taken unless a person says so
    named = sum(_NAME.fullmatch(cell) is not None for cell in cells)
    return bool(cells) and named >= _MOSTLY * len(cells)


def _likeliest_mark(cells: list[list[str]], guesses: list[str]) -> None:
    """Take as the mark the column whose cells most look like one: figures, and all different."""
    best, most = -1, 0.5
    for at, held in enumerate(cells):
        if guesses[at] not in (NOTE, "id") or not held:
            continue
        like = sum(_like_mark(cell) for cell in held) / len(held) * len(set(held)) / len(held)
        if like > most:
            best, most = at, like
    if best >= 0:
        guesses[best] = "mark"


def _like_mark(cell: str) -> bool:
    if len(cell) > 24 or sum(c in "0123456789?" for c in cell) < 3:
        return False
    try:
        parse_marking(cell)
    except IronlaceError:
        return False
    return True


def look_over(
    table: IncomingTable, taken_as: Sequence[str], record: Record | None = None
) -> LookedOver:
    """Read a table with each column taken as something, and lay it beside what is kept.

    Parameters
    ----------
    table
        The table as it came.
    taken_as
        For each column one of `COLUMN_MEANS`.
    record
        The record whose reports it is compared with.

    Raises
    ------
    TableError
        When a column is taken as nothing known, two as the same thing, or none as the mark.
    """
    _check(table, taken_as)
    kept = [at for at, means in enumerate(taken_as) if means != LEAVE]
    names = [taken_as[at] if taken_as[at] in _ONCE else table.columns[at] for at in kept]
    # a column left as a note must not take the place of one of ours by its heading
    names = [
        f"{name} (as in the file)" if name in _ONCE and taken_as[at] == NOTE else name
        for name, at in zip(names, kept, strict=True)
    ]
    rows, aside = [], []
    for line, cells in table.rows:
        if len(cells) > len(table.columns):
            held = tuple(zip(table.columns, cells, strict=False))
            says = f"{len(cells)} cells under {len(table.columns)} headings; quote cells with"
            aside.append(SetAside(line, held, f"{says} commas."))
            continue
        rows.append((line, [cells[at] if at < len(cells) else "" for at in kept]))
    if called := "id" not in names:
        names = ["id", *names]
        rows = [(line, [f"{ROW_NAMES} {line}", *cells]) for line, cells in rows]
    found = reports_from_rows(names, rows)
    lines = _lines_of(found, rows, names.index("id"))
    known = {report.id for report in found.reports}
    if record:
        known |= {called for name, kept in record.of(ReportEntry) for called in (name, kept.name)}
    entries = [entry_of(report, known | {OWN}) for report in found.reports]
    aside += [replace(lost, row=lost.row[1:]) if called else lost for lost in found.set_aside]
    return LookedOver(
        _beside(record, found, entries, lines),
        tuple(sorted(aside, key=lambda row: row.line)),
        (*found.ahead, *found.remarks),
    )


def _lines_of(found: ReportTable, rows: Sequence[tuple[int, list[str]]], at: int) -> dict[str, int]:
    lost = {row.line for row in found.set_aside}
    return {cells[at]: line for line, cells in rows if line not in lost}


def _check(table: IncomingTable, taken_as: Sequence[str]) -> None:
    known = dict(COLUMN_MEANS)
    if len(taken_as) != len(table.columns):
        raise TableError(
            f"The table has {len(table.columns)} columns and {len(taken_as)} were laid out: "
            "say for each what it is."
        )
    for means in taken_as:
        if means not in known:
            raise TableError(
                f"'{means}' is nothing a column can be taken as: choose from the list."
            )
    for means in _ONCE:
        twice = [h for h, m in zip(table.columns, taken_as, strict=True) if m == means]
        if len(twice) > 1:
            raise TableError(
                f"'{twice[0]}' and '{twice[1]}' are both taken as {known[means]}: choose one, and "
                "leave the other as a note."
            )
    if "mark" not in taken_as:
        raise TableError("No column is taken as the number: say which one holds it.")


def _beside(
    record: Record | None,
    found: ReportTable,
    entries: Sequence[ReportEntry],
    lines: Mapping[str, int],
) -> tuple[Incoming, ...]:
    """Lay each report beside the entry that is the same one, or may be the same machine."""
    ours = list(record.of(ReportEntry)) if record else []
    same = {(called, e.reads): (name, e) for name, e in ours for called in (e.name, name)}
    new = [r for r, e in zip(found.reports, entries, strict=True) if (r.id, e.reads) not in same]
    merged = merge([report_of(name, entry, id_=name) for name, entry in ours], new)
    now_called = dict(merged.renamed)
    like: dict[str, str] = {}
    for first, second, likeness in merged.same_machine:
        like.setdefault(second, f"{first}: {likeness}")
    for pair in likely_pairs(new):
        told_as = f"line {lines[pair.first]} of this table: {pair.likeness}"
        like.setdefault(now_called.get(pair.second, pair.second), told_as)
    told = []
    for report, entry in zip(found.reports, entries, strict=True):
        line = lines[report.id]
        standing = same.get((report.id, entry.reads))
        if standing is None:
            told.append(
                Incoming(line, entry, like=like.get(now_called.get(report.id, report.id), ""))
            )
        else:
            name, here = standing
            told.append(Incoming(line, entry, name, differs=_differences(here, entry, report)))
    return tuple(told)


@dataclass(frozen=True, slots=True)
class Amiss:
    """A line that was set aside: its text, why, its mark where that can be put right, its cells.

    `cells` hold column (counted from 0), heading and text of each; empty where the line has more
    cells than the table has columns.
    """

    line: int
    text: str
    reason: str
    mark: str | None = None
    cells: tuple[tuple[int, str, str], ...] = ()


def amiss(table: IncomingTable, taken_as: Sequence[str], found: LookedOver) -> tuple[Amiss, ...]:
    """The lines set aside, each with its mark where it is the mark that does not read."""
    at = taken_as.index("mark")
    cells = dict(table.rows)
    told = []
    for row in found.set_aside:
        held = cells.get(row.line, ())
        whole = len(held) <= len(table.columns)
        mark = (held[at] if at < len(held) else "") if whole else None
        if mark is not None and _reads(mark):
            mark = None
        text = ", ".join(cell for _, cell in row.row if cell)
        told.append(
            Amiss(row.line, text, row.reason, mark, _cells_of(table, row.line) if whole else ())
        )
    return tuple(told)


def remarked_cells(
    table: IncomingTable, found: LookedOver
) -> dict[int, tuple[tuple[int, str, str], ...]]:
    """By line, the cells of the lines that something is remarked of, or that are like another."""
    lines = {int(n) for remark in found.remarks for n in _LINE_REMARKED.findall(remark)}
    lines |= {row.line for row in found.reports if row.like and not row.standing}
    read = {row.line for row in found.reports}
    return {line: _cells_of(table, line) for line in sorted(lines & read)}


_LINE_REMARKED = re.compile(r"\ALine (\d+):")


def _cells_of(table: IncomingTable, line: int) -> tuple[tuple[int, str, str], ...]:
    held = dict(table.rows).get(line, ())
    return tuple(
        (at, heading, held[at] if at < len(held) else "")
        for at, heading in enumerate(table.columns)
    )


def cells_put_right(text: str, cells: Mapping[tuple[int, int], str]) -> str:
    """The table with some cells put right, by line and column; the same text when none differs."""
    table = table_of(text)
    rows, changed = [], False
    for line, held in table.rows:
        row = [*held, *[""] * (len(table.columns) - len(held))]
        for at in range(len(table.columns)):
            typed = cells.get((line, at))
            if typed is not None and " ".join(typed.split()) != " ".join(row[at].split()):
                row[at], changed = typed.strip(), True
        rows.append((line, row))
    return csv_by_lines(table.columns, rows) if changed else text


def _reads(mark: str) -> bool:
    try:
        struck_mark(mark)
    except IronlaceError:
        return False
    return True


def _same_mark(one: str, other: str) -> bool:
    """Whether two texts are the same mark, however its signs are typed."""
    return one == other or (
        _reads(one) and _reads(other) and struck_mark(one) == struck_mark(other)
    )


def put_right(text: str, taken_as: Sequence[str], marks: Mapping[int, str]) -> str:
    """The table with the marks of some lines put right; the same text when none is another.

    Parameters
    ----------
    marks
        By line of the table, the mark as it should stand.

    Raises
    ------
    TableError
        When no column is taken as the mark.
    """
    table = table_of(text)
    _check(table, taken_as)
    at = taken_as.index("mark")
    rows, changed = [], False
    for line, held in table.rows:
        cells = [*held, *[""] * (at + 1 - len(held))]
        if line in marks and not _same_mark(marks[line].strip(), cells[at]):
            cells[at], changed = marks[line].strip(), True
        rows.append((line, cells))
    return csv_by_lines(table.columns, rows) if changed else text


_COMPARED = ("how", "sighted", "variant", "place", "dated", "dated_is", "dated_by", "note")


def _differences(here: ReportEntry, theirs: ReportEntry, report: Report) -> tuple[Difference, ...]:
    found = []
    for name in _COMPARED:
        ours, other = (str(getattr(entry, name) or "") for entry in (here, theirs))
        silent = not other or (name == "how" and report.seen is None)
        if not silent and ours != other:
            found.append(Difference(name, ours, other))
    return tuple(found)


def taken_over(entry: ReportEntry, theirs: ReportEntry, fields: Iterable[str]) -> ReportEntry:
    """An entry with some fields taken from another survey's report of the same machine."""
    chosen = {field: getattr(theirs, field) for field in fields if field in _COMPARED}
    return entry.model_copy(update=chosen)
