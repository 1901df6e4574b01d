"""The reports in a machine's record as the survey room reads them, and back as entries."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import NotFoundError
from ironlace.evidence.findings import Sha256, checksum_of
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import parse_marking
from ironlace.record import Channel, Record, ReportEntry
from ironlace.record.surveyed import OWN, SEEN_BY, serial_mark
from ironlace.survey import Report, Reports, read_reports
from ironlace.survey.reports.strings_read import read_strings, written
from ironlace.survey.reports.table import (
    DatedEvidence,
    DatedKind,
    ReportTable,
    Seen,
    report_cells,
)
from ironlace.workshop.survey.tables_in import table_text

_ANSWER = {seen: answer for answer, seen in SEEN_BY.items()} | {Seen.PRINT: Channel.LISTING}
_GRADE = {Seen.TOLD: Grade.CONJECTURED, None: Grade.CONJECTURED}


def serial_of(record: Record) -> str:
    """What the mark that numbers the machine reads, empty when the record has no mark."""
    found = serial_mark(record)
    return found[1].reads if found else ""


def own_report(record: Record) -> Report | None:
    """The machine's own mark as a report, None while it has not been read."""
    found = serial_mark(record)
    if not found or not found[1].reads:
        return None
    mark = found[1]
    strings = read_strings(mark.strings)
    return Report(OWN, parse_marking(mark.reads), seen=Seen.HANDLED, strings=strings)


def reports_of(record: Record) -> Reports:
    """All reports of a record, the machine's own mark first.

    A report is called by the name a person gave it, and by its entry's name too where two have the
    same.
    """
    own = own_report(record)
    entries = list(record.of(ReportEntry))
    ids = _ids(entries)
    # what `same_as` may name: an entry, or a report by its own name, the first if several have it
    named = {entry.name: ids[name] for name, entry in reversed(entries)} | ids
    sightings = [own] if own else []
    for name, entry in entries:
        machine = named.get(entry.same_as, entry.same_as)
        sighting = report_of(name, entry, id_=ids[name], machine=machine)
        sightings.append(sighting if entry.counts else replace(sighting, counts=False))
    return Reports(tuple(sightings), own.mark if own else None)


def _ids(entries: Sequence[tuple[str, ReportEntry]]) -> dict[str, str]:
    """What each report is called, by the name of its entry; no two are called the same."""
    shared = Counter(entry.name for _, entry in entries)
    taken = {OWN}
    ids: dict[str, str] = {}
    for name, entry in entries:
        called = entry.name if shared[entry.name] == 1 else f"{entry.name} ({name})"
        while called in taken:
            called = f"{called} ({name})"
        taken.add(called)
        ids[name] = called
    return ids


def as_named(record: Record, name: str) -> str:
    """What `ReportEntry.same_as` says to name a report: its own name, its entry's if shared.

    Raises NotFoundError when there is no such report.
    """
    if name == OWN:
        return OWN
    entry = record.named(name)
    if not isinstance(entry, ReportEntry):
        raise NotFoundError(f"{name} is no report of this record.")
    alike = [other for _, other in record.of(ReportEntry) if other.name == entry.name]
    return entry.name if len(alike) == 1 and entry.name != OWN else name


def read_report_entries(text: str) -> tuple[list[ReportEntry], ReportTable]:
    """Read a table of reports (CSV) as entries; nothing is added to any record yet."""
    table = read_reports(text)
    ids = {report.id for report in table.reports}
    return [entry_of(report, ids) for report in table.reports], table


def told_entry(
    name: str, reads: str, how: Channel, note: str = "", dated: DatedEvidence | None = None
) -> ReportEntry:
    """A report that a person made of a number found in running text, and of a date beside it.

    Its grade follows from how it is known, as for a table's. Raises MarkingError when the number
    does not read.
    """
    mark = parse_marking(reads)
    return entry_of(Report(name, mark, seen=SEEN_BY[how], dated=dated, note=note))


def report_of(name: str, entry: ReportEntry, *, id_: str = "", machine: str = "") -> Report:
    """An entry as the survey room's report, called by the person's name for it unless one is given.

    Which machine it is of is for those to say who know the other reports (`reports_of`).
    """
    dated = None
    if entry.dated:
        dated = DatedEvidence(
            EdtfDate.parse(entry.dated), DatedKind(entry.dated_is or "at"), entry.dated_by
        )
    return Report(
        id=id_ or entry.name,
        mark=parse_marking(entry.reads),
        seen=SEEN_BY[entry.how],
        sighted=EdtfDate.parse(entry.sighted) if entry.sighted else None,
        variant=entry.variant,
        place=entry.place,
        machine=machine,
        dated=dated,
        entry=name,
        strings=read_strings(entry.strings),
        reporter=entry.reporter,
    )


def entry_of(report: Report, known: Collection[str] = ()) -> ReportEntry:
    """A report of a table as an entry; who reported it stays apart from what is published.

    Parameters
    ----------
    known
        What the other reports are called. A second sighting of one of them does not count; one of
        a machine that is named so only here does.
    """
    other = dict(report.other)
    return ReportEntry(
        name=report.id,
        reads=str(report.mark),
        strings=written(report.strings),
        how=_ANSWER[report.seen],
        sighted=report.sighted.text if report.sighted else None,
        dated=report.dated.date.text if report.dated else None,
        dated_is=report.dated.kind.value if report.dated else "",
        dated_by=report.dated.what if report.dated else "",
        variant=report.variant,
        place=report.place,
        reporter=report.reporter,
        same_as=report.machine,
        counts=report.machine == report.id or report.machine not in known,
        grade=_GRADE.get(report.seen, Grade.SEEN),
        note=_note(report.note, other),
    )


def _note(note: str, other: Mapping[str, str]) -> str:
    others = "; ".join(f"{column}: {value}" for column, value in other.items() if value)
    return " ".join(part for part in (note, others) if part)


def reports_in_file(file: Path | str, columns: Mapping[str, str]) -> Reports:
    """The reports of a table in a file, with columns renamed.

    Raises IronlaceError when it cannot be read.
    """
    return Reports.from_table(read_reports(table_text(file, columns)))


def report_checksums(record: Record) -> dict[str, Sha256]:
    """The checksums by which a later change of a record's reports is noticed.

    `sightings` holds everything that the survey room reads. `reports` is what version 0.1 kept
    with a date: those that counted by its rule, so that dates kept then can still be verified.
    """
    reports = reports_of(record)
    everything = [
        [{**report_cells(report), "note": ""}, report.counts] for report in reports.sightings
    ]
    return {
        "sightings": checksum_of([str(reports.own or ""), everything]),
        "reports": checksum_of(_counted_in_0_1(record)),
    }


def _counted_in_0_1(record: Record) -> list[list[str]]:
    """Id, mark and date of each report that version 0.1 counted: it joined none by its mark."""
    own = serial_of(record)
    entries = list(record.of(ReportEntry))
    rows = [[OWN, str(parse_marking(own)), ""]] if own else []
    place = {OWN: 0} if own else {}
    for name, entry in entries:
        if entry.counts and entry.reads != own:
            place[entry.name] = place[name] = len(rows)
            rows.append([f"{entry.name} ({name})", entry.reads, _date_in_0_1(entry)])
    for name, entry in entries:
        at = place.get(OWN if entry.reads == own else entry.same_as)
        if at is not None and name not in place and entry.dated and not rows[at][2]:
            rows[at][2] = _date_in_0_1(entry)
    return rows


def _date_in_0_1(entry: ReportEntry) -> str:
    kind = "" if entry.dated_is in ("", "at") else f" {entry.dated_is}"
    return f"{entry.dated}{kind}" if entry.dated else ""
