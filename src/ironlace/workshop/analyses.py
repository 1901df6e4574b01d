"""Every analysis in the workshop: worked out, kept in the record, noticed when it goes stale.

A room adds its analyses in one line of `ROOMS`; nothing else here names one.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy.orm import Session

from ironlace import care, marks, ornament, running, stand, survey
from ironlace.evidence.analyses import (
    AskedError,
    Declared,
    asked_as_dict,
    asked_from,
)
from ironlace.evidence.doubtful_figures import answered
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.findings import Checksums, Finding
from ironlace.evidence.progress import Steps
from ironlace.ornament import stencils
from ironlace.record import DrawingEntry, FindingEntry, Record
from ironlace.record.job import DONE_BY
from ironlace.workshop.inputs import (
    binding_of,
    known_sources,
    measurement_checksums,
    measurement_known,
    table_known,
)
from ironlace.workshop.ornament.tracing import keep_drawing
from ironlace.workshop.stencils.sheets_kept import keep_with_way_back
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.worked_out import Keeper, WorkedOut

ROOMS: Mapping[str, tuple[Declared, ...]] = {
    "marks": marks.ANALYSES,
    "survey": survey.ANALYSES,
    "ornament": (*ornament.ANALYSES, *stencils.ANALYSES),
    "running": running.ANALYSES,
    "stand": stand.ANALYSES,
    "care": care.ANALYSES,
}
"""The analyses of each study room, in the order of the job."""

ALL: tuple[Declared, ...] = tuple(one for room in ROOMS.values() for one in room)


def done_by_step() -> dict[str, tuple[str, ...]]:
    """By key of a step of the job: what the findings are about that fulfil it."""
    done = {step: tuple(about) for step, about in DONE_BY.items()}
    for one in ALL:
        if one.step and one.about not in done.get(one.step, ()):
            done[one.step] = (*done.get(one.step, ()), one.about)
    return done


def analysis_named(key: str) -> Declared:
    """Return an analysis by its key.

    Raises NotFoundError when there is none.
    """
    for one in ALL:
        if one.key == key:
            return one
    raise NotFoundError(
        f"There is no analysis '{key[:40]}': use one of {', '.join(one.key for one in ALL)}."
    )


def analysis_about(about: str) -> Declared | None:
    """The analysis whose findings are about something, None when this version knows none."""
    return next((one for one in ALL if one.about == about), None)


def asked_for(analysis: Declared, record: Record, given: Mapping[str, Any]) -> Any:
    """What is asked of an analysis, out of what a form, a command or a file gives.

    Raises AskedError when a value is missing or cannot be.
    """

    def look_up(name: str) -> Any:
        known = table_known if name.startswith("readings ") else measurement_known
        return known(record, name)

    return asked_from(analysis.asked, given, look_up)


def work_out(
    workshop: Workshop,
    record: Record,
    analysis: Declared,
    asked: Any,
    steps: Steps | None = None,
) -> WorkedOut:
    """Work an analysis out on a record as it stands.

    Raises IronlaceError when it cannot be done; the sentence says why.
    """
    inputs = binding_of(analysis).from_record(workshop, record, asked)
    found = analysis.work(inputs, asked, steps or Steps())
    checksums = input_checksums(workshop, record, analysis, asked)
    return WorkedOut(analysis, asked, found, answered(analysis, asked, found), checksums)


def takes_long(workshop: Workshop, record: Record, analysis: Declared, asked: Any) -> bool:
    """Whether working it out is better done as a job."""
    inputs = binding_of(analysis).from_record(workshop, record, asked)
    return analysis.takes_long(inputs, asked)


def input_checksums(
    workshop: Workshop, record: Record, analysis: Declared, asked: Any
) -> Checksums:
    """By name, the checksums of all that an analysis reads of a record as it stands."""
    return {
        **binding_of(analysis).checksums(workshop, record, asked),
        **measurement_checksums(record, asked),
    }


def kept_finding(
    record: Record, analysis: Declared, subject: str = ""
) -> tuple[str, FindingEntry] | None:
    """The finding of an analysis that stands in a record, the latest if there are several."""
    for name, entry in reversed(list(record.of(FindingEntry))):
        if entry.finding.about == analysis.about and _subject_of(analysis, entry) == subject:
            return name, entry
    return None


def keep(workshop: Workshop, slug: str, worked: WorkedOut, by: str = "") -> str:
    """Keep what was worked out, in the place of the earlier finding; return its name."""
    with workshop.database.writing() as session:
        return keep_in(workshop, session, slug, worked, by)


def keep_in(
    workshop: Workshop, session: Session, slug: str, worked: WorkedOut, by: str = ""
) -> str:
    """Keep what was worked out as part of a larger transaction."""
    keeper = KEEPERS.get(worked.analysis.key, _keep_finding)
    return keeper(workshop, session, slug, worked, by)


def _keep_finding(
    workshop: Workshop, session: Session, slug: str, worked: WorkedOut, by: str
) -> str:
    entry = FindingEntry(finding=worked.finding())
    subject = worked.analysis.subject(worked.asked)
    earlier = kept_finding(workshop.records.read(slug), worked.analysis, subject)
    if earlier is None:
        return workshop.records.add_in(session, slug, entry, by)
    name, standing = earlier
    if standing.finding != entry.finding:
        note = standing.note
        workshop.records.change_in(
            session, slug, name, entry.model_copy(update={"note": note}), by=by
        )
    return name


def _keep_trace(workshop: Workshop, session: Session, slug: str, worked: WorkedOut, by: str) -> str:
    """A trace is kept as a drawing, which carries its finding; each one beside the earlier ones."""
    asked, traced = worked.asked, worked.found
    return keep_drawing(workshop, session, slug, asked, traced, worked.inputs, by=by)


KEEPERS: dict[str, Keeper] = {
    ornament.TRACE.key: _keep_trace,
    stencils.SHEETS.key: keep_with_way_back,
}
"""Analyses that are kept otherwise than as one finding each, by key."""


def _subject_of(analysis: Declared, entry: FindingEntry) -> str:
    try:
        return analysis.subject(analysis.asked_of(entry.finding))
    except AskedError:
        return ""  # kept by another version that asked for something else


def stale(workshop: Workshop, record: Record, finding: Finding) -> str:
    """Why a finding no longer follows from the record as it stands; empty while it does.

    Nothing is computed: the checksums of what it was computed from are compared.
    """
    analysis = analysis_about(finding.about)
    if analysis is None or not analysis.asked_before(finding.method.parameters):
        return ""  # a drawing changed by hand stands on the drawing it came of, which is kept
    try:
        asked = analysis.asked_of(finding)
        now = input_checksums(workshop, record, analysis, asked)
        named = known_sources(asked)
    except IronlaceError as error:
        return f"What it was computed from can no longer be read: {error}"
    for name in named:
        if name not in now:
            return f"{name} was withdrawn since this was worked out."
    changed = [
        name for name, checksum in now.items() if finding.inputs.get(name, checksum) != checksum
    ]
    if not changed:
        return ""
    words = " and ".join(sorted(changed))
    return f"Since this was worked out, {words} changed: work it out again."


def stale_findings(workshop: Workshop, record: Record) -> dict[str, str]:
    """By entry name, why each finding of a record that went stale did."""
    said = {name: stale(workshop, record, finding) for name, finding in findings_of(record)}
    return {name: why for name, why in said.items() if why}


def findings_of(record: Record) -> Iterator[tuple[str, Finding]]:
    """The findings that stand in a record: those kept by themselves, and those of drawings."""
    for name, entry in record.of(FindingEntry):
        yield name, entry.finding
    for name, drawing in record.of(DrawingEntry):
        yield name, drawing.finding


def as_job(analysis: Declared, asked: Any, by: str = "") -> dict[str, Any]:
    """What a job that works an analysis out is asked."""
    return {"analysis": analysis.key, "asked": asked_as_dict(asked), "by": by}


def stale_everywhere(workshop: Workshop) -> tuple[str, ...]:
    """A sentence for every finding of a workshop that no longer follows from its record."""
    return tuple(
        f"{name} of {summary.title}: {why}"
        for summary in workshop.records.all()
        for name, why in stale_findings(workshop, workshop.records.read(summary.slug)).items()
    )
