"""Threading plans of a record, with their photographs: the diagram, and the card for the drawer."""

from datetime import UTC, datetime

from ironlace.dossier.print.picture_address import picture_address
from ironlace.dossier.print.threading_card import threading_card_pdf
from ironlace.record import Photograph, Record, ThreadingEntry
from ironlace.running.threading.diagram import threading_svg
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.intake import pixels

_VIEW = 3200
"""Viewing copy that a diagram is drawn on."""


def diagram_of(workshop: Workshop, record: Record, entry: ThreadingEntry) -> str:
    """The diagram of a plan as SVG, over its photographs."""
    return threading_svg(entry.plan(), _under(workshop, record, entry))


def card_of(workshop: Workshop, record: Record, entry: ThreadingEntry) -> bytes:
    """The card of a plan as PDF (A6)."""
    made = datetime.now(UTC).replace(microsecond=0)
    return threading_card_pdf(entry.plan(), _under(workshop, record, entry), made=made)


def _under(workshop: Workshop, record: Record, entry: ThreadingEntry) -> dict[str, str]:
    """The photographs under a plan; one that was withdrawn leaves a bare sheet."""
    known = dict(record.of(Photograph))
    return {
        one.photograph: picture_address(
            pixels(workshop.photographs.view(known[one.photograph].sha256, _VIEW))
        )
        for one in entry.pictures
        if one.photograph in known
    }
