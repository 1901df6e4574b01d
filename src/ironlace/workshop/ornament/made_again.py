"""A drawing of a record made again from what it was made of, to compare with what is kept."""

from typing import Any

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.progress import Steps
from ironlace.ornament import (
    Drawing,
    brought_back,
    drawing_from_svg,
    reworked,
    same_drawing,
    trace_photographs,
)
from ironlace.record.entries import DrawingEntry
from ironlace.workshop.ornament.rework import BROUGHT_BACK, BY_HAND
from ironlace.workshop.ornament.tracing import photographs_to_trace, trace_asked
from ironlace.workshop.store.folder import Workshop


def made_again(
    workshop: Workshop, slug: str, name: str, entry: DrawingEntry, steps: Steps | None = None
) -> Drawing:
    """Make a drawing again: trace it, carry its changes by hand out, or read its edited copy.

    The record is read as it stood when the drawing was kept, and stays as it is.

    Raises IronlaceError when that cannot be done; the sentence says why.
    """
    finding = entry.finding
    parameters: Any = finding.method.parameters
    if finding.method.name == BROUGHT_BACK:
        return brought_back(
            _drawing(workshop, entry, "drawing"), _drawing(workshop, entry, "edited")
        )
    if finding.method.name == BY_HAND:
        original = _drawing(workshop, entry, "drawing")
        return reworked(original, parameters.get("orders") or [], parameters.get("bridges") or [])
    if not isinstance(parameters.get("asked"), dict):
        raise IronlaceError("It was not traced here, so it cannot be traced again.")
    written = workshop.records.changes(slug, name)[-1].made_at
    asked = trace_asked(parameters["asked"])
    given = photographs_to_trace(workshop, workshop.records.read(slug, written), asked)
    return trace_photographs(given, asked, steps or Steps()).drawing


def differs_made_again(
    workshop: Workshop, slug: str, name: str, entry: DrawingEntry, steps: Steps | None = None
) -> str:
    """Make a drawing again and compare: empty when it is the same, else what differs.

    Raises IronlaceError when it cannot be made again.
    """
    kept = workshop.photographs.original(entry.svg).path.read_text(encoding="utf-8")
    return same_drawing(drawing_from_svg(kept), made_again(workshop, slug, name, entry, steps))


def _drawing(workshop: Workshop, entry: DrawingEntry, which: str) -> Drawing:
    sha256 = entry.finding.inputs.get(which)
    if sha256 is None:
        raise NotFoundError(f"Its finding does not say which {which} it was made from.")
    return drawing_from_svg(workshop.photographs.original(sha256).path.read_text(encoding="utf-8"))
