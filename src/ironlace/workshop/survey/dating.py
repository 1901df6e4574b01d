"""From the reports in a machine's record to the survey room, and back as a finding of its date."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from ironlace import __version__
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding, Interval, Method, checksum_of
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import parse_marking
from ironlace.record import (
    Channel,
    FindingEntry,
    Mark,
    Record,
    ReportEntry,
)
from ironlace.record.job import DATE_FINDING
from ironlace.survey import (
    Assumptions,
    Comparison,
    Dating,
    Report,
    compare,
    date_of,
    read_reports,
    read_schemes,
)
from ironlace.survey.reports.anchors import anchors_of
from ironlace.survey.reports.table import DatedEvidence, DatedKind, ReportTable, Seen
from ironlace.survey.sharing.same_machine import Pair, likely_pairs

_SEEN = {
    Channel.PHOTOGRAPH: Seen.PHOTOGRAPH,
    Channel.TOLD: Seen.TOLD,
    Channel.LISTING: Seen.LISTING,
    Channel.HANDLED: Seen.HANDLED,
}
_ANSWER = {seen: answer for answer, seen in _SEEN.items()} | {Seen.PRINT: Channel.LISTING}
_GRADE = {Seen.TOLD: Grade.CONJECTURED}
OWN = "this machine"


@dataclass(frozen=True, slots=True)
class FirstDate:
    """What the reports say of a numbering, and of one machine's date."""

    comparison: Comparison
    dating: Dating | None
    own_mark: str
    pairs: tuple[Pair, ...] = ()

    def sentences(self) -> list[str]:
        """The result in plain words, the date first."""
        said = list(self.dating.sentences() if self.dating else [])
        said += self.comparison.sentences()
        return said + [pair.sentence() for pair in self.pairs]


def serial_of(record: Record) -> str:
    """The mark that numbers the machine: the first whose purpose says so, else the first mark.

    Returns an empty text when the record has no mark.
    """
    marks = [mark for _, mark in record.of(Mark)]
    serial = [mark for mark in marks if "serial" in mark.purpose.lower()]
    return (serial or marks)[0].reads if marks else ""


def own_report(record: Record) -> Report | None:
    """The machine's own mark as a report, None while it has not been read."""
    own = serial_of(record)
    return Report(OWN, parse_marking(own), seen=Seen.HANDLED) if own else None


def reports_of(record: Record) -> tuple[Report, ...]:
    """The reports that count, with the machine's own mark as the first of them.

    A report of this machine's own mark is not counted again, nor is a second sighting; a date that
    came only with one of these goes to the report that counts.
    """
    own = serial_of(record)
    first = own_report(record)
    reports = [first] if first else []
    entries = list(record.of(ReportEntry))
    place = {OWN: 0} if first else {}
    for name, entry in entries:
        if entry.counts and entry.reads != own:
            place[entry.name] = place[name] = len(reports)
            reports.append(report_of(name, entry))
    for name, entry in entries:
        # A receipt that turned up with a second sighting is evidence on the machine all the same.
        at = place.get(OWN if entry.reads == own else entry.same_as)
        if at is not None and name not in place and entry.dated and reports[at].dated is None:
            reports[at] = replace(reports[at], dated=report_of(name, entry).dated)
    return tuple(reports)


def sightings_of(record: Record) -> tuple[Report, ...]:
    """Every report with this machine's own mark, second sightings too: for counting survivors."""
    own = own_report(record)
    reports = [own] if own else []
    entries = list(record.of(ReportEntry))
    ids = {OWN: OWN} if own else {}
    ids |= {entry.name: f"{entry.name} ({name})" for name, entry in entries}
    for name, entry in entries:
        report = report_of(name, entry)
        reports.append(replace(report, machine=ids.get(entry.same_as, "")))
    return tuple(reports)


def first_date(
    record: Record,
    schemes: str = "",
    own_mark: str = "",
    assumptions: Assumptions | None = None,
) -> FirstDate:
    """Compare theories of the numbering on a record's reports, and date the machine.

    Parameters
    ----------
    record
        The machine's record.
    schemes
        Theories, one a line (`survey.schemes`); empty takes the patterns known of the period.
    own_mark
        The mark to date; empty takes the record's own.
    assumptions
        The rates and limits to compare under; None takes those that stand in the survey room.

    Raises
    ------
    IronlaceError
        When there is nothing to compare, or a scheme cannot be read.
    """
    reports = reports_of(record)
    if not reports:
        raise IronlaceError(
            "There is no mark and no report to compare: read this machine's mark first."
        )
    found = compare(reports, read_schemes(schemes) if schemes.strip() else None, assumptions)
    mark = own_mark or serial_of(record)
    dating = date_of(parse_marking(mark), found, anchors_of(reports)) if mark else None
    return FirstDate(found, dating, mark, likely_pairs(reports))


def date_finding(result: FirstDate, schemes: str = "") -> FindingEntry:
    """Make the finding to keep of a date.

    Raises IronlaceError when no mark was dated.
    """
    if result.dating is None:
        raise IronlaceError("No mark was dated: read this machine's mark first.")
    dating, found = result.dating, result.comparison
    interval = dating.interval
    reports = [[report.id, str(report.mark), _date_in_short(report)] for report in found.reports]
    best = found.best
    return FindingEntry(
        finding=Finding(
            about=DATE_FINDING,
            value=interval.text,
            interval=Interval(
                low=_day(interval, first=True), high=_day(interval, first=False), coverage=0.9
            ),
            grade=dating.grade,
            sentence=" ".join(result.sentences()),
            inputs={"reports": checksum_of(reports), "schemes": checksum_of(schemes)},
            method=Method(
                name="ironlace.survey: marginal likelihood of the reports under each scheme",
                published="Bayes factors after Kass and Raftery (1995)",
                parameters={
                    "mark": result.own_mark,
                    "schemes": schemes,
                    "assumptions": dict(found.assumptions.as_dict()),
                    "best": best.name,
                    "posterior": round(best.posterior, 6),
                },
            ),
            version=__version__,
        )
    )


def read_report_entries(text: str) -> tuple[list[ReportEntry], ReportTable]:
    """Read a table of reports (CSV) as entries; nothing is added to any record yet."""
    table = read_reports(text)
    return [entry_of(report) for report in table.reports], table


def told_entry(name: str, reads: str, how: Channel, note: str = "") -> ReportEntry:
    """A report that a person made of a number found in running text.

    Its grade follows from how it is known, as for a table's. Raises MarkingError when the number
    does not read.
    """
    return entry_of(Report(name, parse_marking(reads), seen=_SEEN[how], note=note))


def report_of(name: str, entry: ReportEntry, *, id_: str = "") -> Report:
    """An entry as the survey room's report; its id names both unless one is given."""
    dated = None
    if entry.dated:
        dated = DatedEvidence(
            EdtfDate.parse(entry.dated), DatedKind(entry.dated_is or "at"), entry.dated_by
        )
    return Report(
        id=id_ or f"{entry.name} ({name})",
        mark=parse_marking(entry.reads),
        seen=_SEEN[entry.how],
        sighted=EdtfDate.parse(entry.sighted) if entry.sighted else None,
        variant=entry.variant,
        place=entry.place,
        dated=dated,
    )


def entry_of(report: Report) -> ReportEntry:
    """A report of a table as an entry; who reported it stays apart from what is published."""
    seen = report.seen or Seen.TOLD
    other = dict(report.other)
    reporter = other.pop("reporter", "")
    return ReportEntry(
        name=report.id,
        reads=str(report.mark),
        how=_ANSWER[seen],
        sighted=report.sighted.text if report.sighted else None,
        dated=report.dated.date.text if report.dated else None,
        dated_is=report.dated.kind.value if report.dated else "",
        dated_by=report.dated.what if report.dated else "",
        variant=report.variant,
        place=report.place,
        reporter=reporter,
        same_as=report.machine,
        counts=not report.machine,
        grade=_GRADE.get(seen, Grade.SEEN),
        note=_note(report.note, other),
    )


def _date_in_short(report: Report) -> str:
    """The dated evidence of a report with what it says, as it goes into a checksum."""
    if report.dated is None:
        return ""
    kind = "" if report.dated.kind is DatedKind.AT else f" {report.dated.kind}"
    return f"{report.dated.date.text}{kind}"


def _note(note: str, other: Mapping[str, str]) -> str:
    others = "; ".join(f"{column}: {value}" for column, value in other.items() if value)
    return " ".join(part for part in (note, others) if part)


def _day(interval: EdtfDate, *, first: bool) -> str | None:
    day = interval.earliest if first else interval.latest
    return None if day is None else f"{day:%Y-%m}"
