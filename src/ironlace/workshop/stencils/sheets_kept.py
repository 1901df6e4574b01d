"""Stencil sheets in a record: the drawing they are cut for, and the finding that keeps them."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from sqlalchemy.orm import Session

from ironlace.evidence.errors import NotFoundError
from ironlace.evidence.findings import Sha256, checksum_of
from ironlace.ornament.stencils import SHEETS, FilledDrawing, SheetsAsked
from ironlace.record import DrawingEntry, FindingEntry, Record
from ironlace.workshop.store.folder import Workshop

if TYPE_CHECKING:
    from ironlace.workshop.worked_out import WorkedOut


def filled_drawing(workshop: Workshop, record: Record, name: str) -> FilledDrawing:
    """A drawing of a record as sheets are cut for it.

    Raises NotFoundError when there is no such drawing.
    """
    entry = _drawing(record, name)
    text = workshop.photographs.original(entry.svg).path.read_text(encoding="utf-8")
    return FilledDrawing(name, text, entry.svg)


def drawing_checksums(record: Record, asked: SheetsAsked) -> Mapping[str, Sha256]:
    """The checksums of what sheets are planned from."""
    return {
        "drawing": _drawing(record, asked.drawing).svg,
        "process": checksum_of(asked.process),
    }


def finding_of(workshop: Workshop, slug: str, drawing: str) -> tuple[str, SheetsAsked] | None:
    """The name of the finding that holds what was asked for a drawing's sheets, and that.

    Raises AskedError when another version asked for something that this one does not know.
    """
    kept = _standing(workshop, slug, drawing)
    return None if kept is None else (kept[0], SHEETS.asked_of(kept[1].finding))


def keep_with_way_back(
    workshop: Workshop, session: Session, slug: str, worked: "WorkedOut", by: str
) -> str:
    """Keep worked-out sheets in the place of earlier ones, with the number of the way back."""
    earlier = _standing(workshop, slug, worked.asked.drawing)
    if earlier is None:
        first = replace(worked, asked=replace(worked.asked, before=0))
        return workshop.records.add_in(session, slug, FindingEntry(finding=first.finding()), by)
    name, standing = earlier
    before = SHEETS.asked_of(standing.finding)
    again = replace(worked.asked, before=before.before)
    if again != before:
        number = workshop.records.changes(slug, name)[-1].number
        again = replace(again, before=number)
    finding = replace(worked, asked=again).finding()
    if finding != standing.finding:
        entry = standing.model_copy(update={"finding": finding})
        workshop.records.change_in(session, slug, name, entry, by=by)
    return name


def _standing(workshop: Workshop, slug: str, drawing: str) -> tuple[str, FindingEntry] | None:
    for name, entry in reversed(list(workshop.records.read(slug).of(FindingEntry))):
        asked = entry.finding.method.parameters.get("asked")
        if entry.finding.about != SHEETS.about or not isinstance(asked, dict):
            continue
        if asked.get("drawing") == drawing:
            return name, entry
    return None


def _drawing(record: Record, name: str) -> DrawingEntry:
    entry = record.named(name)
    if not isinstance(entry, DrawingEntry):
        raise NotFoundError(f"'{name}' is not a drawing: name one such as 'drawing 1'.")
    return entry
