"""Reports that come in: as a table of any headings, or as text with numbers in it.

Nothing is written before the last press. What a page needs to go on goes with it in its form, so
each step works without a script and can be gone back from.
"""

from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.errors import ConflictError, IronlaceError
from ironlace.evidence.written_dates import read_date
from ironlace.record import Channel, EntryKind, Record, ReportEntry
from ironlace.survey.reports.table import DatedEvidence, DatedKind
from ironlace.web import addresses
from ironlace.web.bench import BenchDep, HandDep
from ironlace.web.entry_forms import FORMS
from ironlace.web.incoming import Form, FormDep
from ironlace.web.pages.dating import dating_page
from ironlace.web.rendering import page
from ironlace.workshop.survey.reports_in import (
    COLUMN_MEANS,
    Incoming,
    IncomingTable,
    amiss,
    cells_put_right,
    columns_of,
    look_over,
    put_right,
    remarked_cells,
    table_of,
    taken_over,
    text_of_file,
)
from ironlace.workshop.survey.reports_of_record import own_report, told_entry
from ironlace.workshop.survey.tables_in import TableError

router = APIRouter()
_MOST_TABLE_BYTES = 2_000_000
"""Of a table sent by a page: some 20,000 reports; larger ones go by the command."""

_MOST_ROWS = 10_000
"""Reports looked over at once by a page: it takes some 6 s, and grows with the square."""

_SHOWN_ROWS = 1_000
"""Rows that are looked over one by one; the rest is taken or left as a whole (a judgement)."""

_SHOWN_NUMBERS = 400
"""Numbers found in a text that are shown: more is no thread but a book (a judgement)."""

DATE_KINDS: tuple[tuple[str, str], ...] = (
    ("", "do not keep it"),
    (DatedKind.SOLD.value, "a date of sale"),
    (DatedKind.AT.value, "its date of making"),
    (DatedKind.NOT_BEFORE.value, "a date it is not older than"),
    (DatedKind.NOT_AFTER.value, "a date it was there by"),
)
"""What a date said beside a number may be kept as; nothing is, until a person chooses."""

_REST = "rest"
_RIGHT = "right-"
_CELL = "cell-"


@router.post(addresses.report_table("{slug}"))
def take_table(request: Request, bench: BenchDep, form: FormDep, slug: str) -> Response:
    """Show a table before any of it counts; asking first what its columns are if need be."""
    record = bench.records.read(slug)
    text, says = form.one("table"), ""
    taken_as = form.each("taken_as")
    try:
        text, cited = _table_text(form, bench.limits.fields)
        table = _bounded(text)
        if not taken_as and table.plain():
            taken_as = list(table.columns)
        if taken_as and form.one("ask") != "columns":
            text = _righted(text, taken_as, form)
            return _review(request, record, text, taken_as, cited)
    except IronlaceError as error:
        if not taken_as:
            return dating_page(request, record, table=text, table_says=str(error), status=422)
        table, cited, says = _bounded(text), form.one("cited"), str(error)
    return _ask_columns(request, record, text, table, taken_as, cited, says)


def _bounded(text: str) -> IncomingTable:
    """A table that came to a page; raises TableError when it has more rows than are looked over."""
    table = table_of(text)
    if len(table.rows) > _MOST_ROWS:
        raise TableError(
            f"The table has {len(table.rows)} rows: take it in in parts of at most {_MOST_ROWS}."
        )
    return table


def _ask_columns(
    request: Request,
    record: Record,
    text: str,
    table: IncomingTable,
    taken_as: list[str],
    cited: str,
    says: str,
) -> Response:
    columns = columns_of(table)
    chosen = taken_as if len(taken_as) == len(columns) else [c.guess for c in columns]
    return page(
        request,
        "report_columns.html",
        status=422 if says else 200,
        record=record,
        table=text,
        cited=cited,
        columns=list(zip(columns, chosen, strict=True)),
        rows=len(table.rows),
        means=COLUMN_MEANS,
        says=says,
    )


def _review(
    request: Request,
    record: Record,
    text: str,
    taken_as: list[str],
    cited: str,
    again: bool = False,
) -> Response:
    table = _bounded(text)
    found = look_over(table, taken_as, record)
    shown = found.reports[:_SHOWN_ROWS]
    further = [row for row in found.reports[_SHOWN_ROWS:] if not row.standing]
    return page(
        request,
        "report_table.html",
        record=record,
        rows=shown,
        further=len(further),
        aside=amiss(table, taken_as, found),
        mark_at=taken_as.index("mark"),
        cells=remarked_cells(table, found),
        again=again,
        remarks=found.remarks,
        table=text,
        taken_as=taken_as,
        cited=cited,
        date_in_words=date_in_words,
        labels={field.name: field.label for field in FORMS[EntryKind.REPORT].fields},
    )


def _righted(text: str, taken_as: list[str], form: Form) -> str:
    """The table with what was put right on the page that showed it: marks, and other cells."""
    righted = cells_put_right(text, _cells_typed(form))
    return put_right(righted, taken_as, _marks_typed(form))


def _cells_typed(form: Form) -> dict[tuple[int, int], str]:
    """The cells put right on the page that showed them, by line and column."""
    typed = {}
    for name, text in form.fields:
        line, _, column = name.removeprefix(_CELL).partition("-")
        if name.startswith(_CELL) and line.isdecimal() and column.isdecimal():
            typed[int(line), int(column)] = text
    return typed


def _marks_typed(form: Form) -> dict[int, str]:
    """The marks put right on the page that showed them, by line."""
    return {
        int(line): text
        for name, text in form.fields
        if name.startswith(_RIGHT) and (line := name.removeprefix(_RIGHT)).isdecimal()
    }


@router.post(addresses.report_table_keep("{slug}"))
def keep_table(
    request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str
) -> Response:
    """Keep the ticked lines of a table as reports, and the chosen differences, all or none.

    A mark put right just now is looked over again before anything of the table is kept.
    """
    record = bench.records.read(slug)
    text = form.one("table")
    table = _bounded(text)
    taken_as = form.each("taken_as") or list(table.columns)
    righted = _righted(text, taken_as, form)
    if righted != text:
        return _review(request, record, righted, taken_as, form.one("cited"), again=True)
    found = look_over(table, taken_as, record)
    ticked = set(form.many("line"))
    with bench.workshop.database.writing() as session:
        names = [
            bench.records.add_in(session, slug, entry, by=hand)
            for entry in _chosen(found.reports, ticked)
        ]
        standing = bench.records.read(slug)  # nobody else writes from here on
        for name, entry in _changed(record, found.reports, set(form.many("take"))):
            if standing.by_name.get(name) != record.named(name):
                raise ConflictError(f"{name} was changed meanwhile: look the table over again.")
            bench.records.change_in(session, slug, name, entry, by=hand)
            names.append(name)
    return RedirectResponse(addresses.dating(slug, kept=",".join(names[-40:])), 303)


def _chosen(rows: tuple[Incoming, ...], ticked: set[str]) -> list[ReportEntry]:
    return [
        row.entry
        for number, row in enumerate(rows)
        if str(number) in ticked or (number >= _SHOWN_ROWS and _REST in ticked and not row.standing)
    ]


def _changed(
    record: Record, rows: tuple[Incoming, ...], taken: set[str]
) -> list[tuple[str, ReportEntry]]:
    """Entries that take something over from the table; `taken` holds 'row field'."""
    changed = []
    for number, row in enumerate(rows):
        fields = [d.field for d in row.differs if f"{number} {d.field}" in taken]
        here = record.named(row.standing) if fields else None
        if isinstance(here, ReportEntry):
            changed.append((row.standing, taken_over(here, row.entry, fields)))
    return changed


def _table_text(form: Form, most: int) -> tuple[str, str]:
    """The table that was chosen as a file, or else pasted; and the line to cite it by, if any."""
    text, cited = form.one("table"), form.one("cited")
    for file in form.files:
        if file.incoming is None:
            raise TableError(file.refused)
        if file.incoming.size > _MOST_TABLE_BYTES:
            raise TableError(f"{file.came_as} is larger than 2 MB: a table of reports is small.")
        text, cited = text_of_file(file.incoming.path.read_bytes(), file.came_as)
    if not text.strip():
        raise TableError("There is no table: choose a file, or paste its lines.")
    # it goes from page to page in a form, so it must fit into one
    if len(text.encode()) > 0.9 * most:
        raise TableError(
            f"The table is {len(text.encode()) / 1e6:.1f} MB of text: take it in in parts of at "
            f"most {0.9 * most / 1e6:.1f} MB."
        )
    return text, cited


@dataclass(frozen=True, slots=True)
class _Number:
    """A number found in a text, as the page shows it."""

    at: int
    text: str
    before: str
    after: str
    line: int
    doubts: tuple[str, ...]
    like: str
    picked: bool
    reads: str
    name: str
    fits: bool = False
    dated: str = ""
    dated_is: str = ""
    dated_by: str = ""
    says: str = ""

    def date(self) -> DatedEvidence | None:
        """The date that is to be kept with it, None when none is.

        Raises EdtfError when it cannot be read.
        """
        if not self.dated_is:
            return None
        return DatedEvidence(read_date(self.dated), DatedKind(self.dated_is), self.dated_by)


@router.post(addresses.pasted_text("{slug}"))
def look_through(request: Request, bench: BenchDep, form: FormDep, slug: str) -> Response:
    """Show every number in a pasted text with the words about it.

    Picked beforehand are those built like the machine's own, if nothing speaks against them.
    """
    record = bench.records.read(slug)
    thread = form.one("thread")
    if not thread:
        says = "There is no text: paste what people wrote, numbers and all."
        return dating_page(request, record, thread_says=says, status=422)
    numbers = _numbers(record, thread)
    if not numbers:
        says = "No number was found in the text: a serial number needs two figures or more."
        return dating_page(request, record, thread=thread, thread_says=says, status=422)
    return _thread_page(request, record, thread, numbers)


def _thread_page(
    request: Request, record: Record, thread: str, numbers: list[_Number], **more: Any
) -> Response:
    return page(
        request,
        "report_thread.html",
        status=422 if more.get("says") else 200,
        record=record,
        thread=thread,
        numbers=numbers[:_SHOWN_NUMBERS],
        total=len(numbers),
        kinds=DATE_KINDS,
        ways=[answer.value for answer in Channel],
        how=more.get("how", Channel.UNSAID.value),
        source=more.get("source", ""),
        says=more.get("says", ""),
    )


def _numbers(record: Record, thread: str, form: Form | None = None) -> list[_Number]:
    """The numbers of a text, with what a person made of each so far."""
    from ironlace.survey.reports.pasted_text import find_serials

    own = own_report(record)
    kept: dict[str, str] = {}
    for name, entry in record.of(ReportEntry):
        kept.setdefault(entry.reads, name)
    picked = set(form.many("pick")) if form else set()
    found = []
    for at, one in enumerate(find_serials(thread, own.mark if own else None)):
        key = str(at)
        like = kept.get(str(one.mark), "")
        proposed = date_in_words(one.dated.date.text) if one.dated else ""
        found.append(
            _Number(
                at,
                one.text,
                one.before,
                one.after,
                one.line,
                one.doubts,
                like,
                key in picked if form else one.fits and not one.doubts and not like,
                form.one(f"reads-{key}", str(one.mark)) if form else str(one.mark),
                form.one(f"name-{key}") if form else "",
                one.fits,
                form.one(f"dated-{key}", proposed) if form else proposed,
                form.one(f"dated_is-{key}") if form else "",
                one.dated.what if one.dated else "",
            )
        )
    return found


@router.post(addresses.pasted_text_keep("{slug}"))
def keep_numbers(
    request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str
) -> Response:
    """Keep the picked numbers of a text as reports, all or none."""
    record = bench.records.read(slug)
    thread, source = form.one("thread"), form.one("source")
    how = form.one("how", Channel.UNSAID.value)
    numbers = _numbers(record, thread, form)
    entries: list[ReportEntry] = []
    told = []
    for number in numbers:
        if not number.picked:
            told.append(number)
            continue
        try:
            name = number.name or f"pasted text, line {number.line}"
            entries.append(_told(name, number, Channel(how), source))
            told.append(number)
        except (IronlaceError, ValueError) as error:
            told.append(replace(number, says=_first_sentence(error)))
    wrong = [number for number in told if number.says]
    says = ""
    if wrong:
        says = f"'{wrong[0].reads}' cannot be kept: {wrong[0].says}"
    elif not entries:
        says = "No number is picked: tick those that are serial numbers, or leave the text."
    if says:
        return _thread_page(request, record, thread, told, how=how, source=source, says=says)
    with bench.workshop.database.writing() as session:
        names = [bench.records.add_in(session, slug, entry, by=hand) for entry in entries]
    return RedirectResponse(addresses.dating(slug, kept=",".join(names[-40:])), 303)


def _told(name: str, number: _Number, how: Channel, source: str) -> ReportEntry:
    return told_entry(name, number.reads, how, source, number.date())


def _first_sentence(error: Exception) -> str:
    return str(error).partition("\n")[0]
