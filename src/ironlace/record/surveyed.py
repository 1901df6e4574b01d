"""A survey's reports as one machine's record sees them, and back as the survey keeps them.

A survey serves several machines. What a report says of *this machine*, and the entries it points
to (a photograph, a document), are those of the machine through whose record it came. Seen from
another machine of the survey they are named with that machine; kept again, they are as they were.
"""

from ironlace.record.choices import Channel
from ironlace.record.entries import Mark, ReportEntry
from ironlace.record.history import Record
from ironlace.survey.reports.table import Seen

OWN = "this machine"
"""How `ReportEntry.same_as` names the machine whose record it is."""
SEEN_BY: dict[Channel, Seen | None] = {
    Channel.UNSAID: None,
    Channel.PHOTOGRAPH: Seen.PHOTOGRAPH,
    Channel.TOLD: Seen.TOLD,
    Channel.LISTING: Seen.LISTING,
    Channel.HANDLED: Seen.HANDLED,
}
"""What a survey says of how a report reached us."""
_LONGEST = 80
"""Characters that the name of an entry may have in a source."""


def serial_mark(record: Record) -> tuple[str, Mark] | None:
    """Name and mark that numbers the machine: the first whose purpose says so, else the first."""
    marks = list(record.of(Mark))
    serial = [(name, mark) for name, mark in marks if "serial" in mark.purpose.lower()]
    return next(iter(serial or marks), None)


def named_with(report: ReportEntry, machine: str) -> ReportEntry:
    """A report that came through another machine: the entries it points to named with that one.

    >>> from ironlace.evidence.sources import Source, SourceKind
    >>> seen = Source(kind=SourceKind.PHOTOGRAPH, entry="photograph 3")
    >>> report = ReportEntry(name="a", reads="12", grade="seen", sources=(seen,))
    >>> there = named_with(report, "wick-head")
    >>> there.sources[0].entry
    'photograph 3 of wick-head'
    >>> named_without(there, report, "wick-head") == report
    True
    """
    if not any(source.entry for source in report.sources):
        return report
    sources = tuple(
        source.model_copy(update={"entry": _with(source.entry, machine)})
        if source.entry
        else source
        for source in report.sources
    )
    return report.model_copy(update={"sources": sources})


def named_without(report: ReportEntry, was: ReportEntry, machine: str) -> ReportEntry:
    """Take back what `named_with` did to the report as it `was`; what is new stays as written."""
    plain = {_with(source.entry, machine): source.entry for source in was.sources if source.entry}
    sources = tuple(
        source.model_copy(update={"entry": plain[source.entry]})
        if source.entry in plain
        else source
        for source in report.sources
    )
    return report.model_copy(update={"sources": sources})


def _with(entry: str, machine: str) -> str:
    return f"{entry} of {machine}"[:_LONGEST]
