"""The reports of a record as anyone may see them: no people, places as coarse as wanted."""

from dataclasses import replace
from enum import StrEnum

from ironlace.record import Allowed, Record, ReportEntry
from ironlace.record.surveyed import OWN
from ironlace.survey import Report
from ironlace.survey.reports.table import Seen
from ironlace.workshop.survey.reports_of_record import own_report, report_of


class Places(StrEnum):
    """How much of a place is published."""

    NONE = "none"
    LAST = "last part"
    WHOLE = "as written"


def open_reports(
    record: Record, *, places: Places = Places.NONE, notes: bool = False
) -> tuple[Report, ...]:
    """Make the reports of a record ready to be published.

    What a person calls a machine may name its owner, so each report is called by its number in the
    record; who reported it is never in it. A report that does not count is left out, unless it is
    a second sighting, which tells how many survive.

    Parameters
    ----------
    record
        The machine's record; its own mark comes first, under the record's short name.
    places
        Whether places go out, and how much: the last part is what stands after the last comma.
        Only those go out whose owner allowed it.
    notes
        Whether remarks go out: they may hold anything.
    """
    own = own_report(record)
    told = [replace(own, id=record.slug, seen=Seen.HANDLED)] if own else []
    entries = list(record.of(ReportEntry))
    called = {entry.name: name for name, entry in reversed(entries)}
    called |= {name: name for name, _ in entries}
    called[OWN] = record.slug
    for name, entry in entries:
        if entry.counts or entry.same_as:
            report = report_of(name, entry, id_=name, machine=called.get(entry.same_as, ""))
            shown = places if _place_allowed(entry) else Places.NONE
            told.append(without_people(replace(report, note=entry.note), shown, notes=notes))
    return tuple(told)


def without_people(report: Report, places: Places, *, notes: bool) -> Report:
    """A report as anyone may see it: nobody who reported it, its place as coarse as wanted.

    Without `notes` neither its remarks nor its further columns, which may hold anything.
    """
    return replace(
        report,
        place=coarse_place(report.place, places),
        note=report.note if notes else "",
        other=report.other if notes else (),
        reporter="",
    )


def _place_allowed(entry: ReportEntry) -> bool:
    return entry.allowed in (Allowed.PLACE, Allowed.NAMED)


def coarse_place(place: str, places: Places) -> str:
    """A place as it goes out.

    >>> coarse_place("Mill Lane, Northport, Coastland", Places.LAST)
    'Coastland'
    """
    if places is Places.NONE:
        return ""
    return place.rpartition(",")[2].strip() if places is Places.LAST else place
