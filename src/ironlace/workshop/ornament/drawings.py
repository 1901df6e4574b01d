"""Drawings of ornament in a workshop: kept as SVG, shown over their photograph, printed."""

import json
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from pydantic import JsonValue
from sqlalchemy.orm import Session

from ironlace.dossier.print.true_scale import true_scale_pdf
from ironlace.evidence.errors import NotFoundError
from ironlace.record.entries import DrawingEntry, EntryKind, Photograph
from ironlace.record.history import key_of
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.intake import SVG_EXAMINED, pixels
from ironlace.workshop.store.originals import write_whole


def drawing_named(workshop: Workshop, slug: str, name: str) -> DrawingEntry:
    """Return the entry of a drawing.

    Raises NotFoundError when the name is not that of a drawing that stands.
    """
    kind, _ = key_of(name)
    entry = workshop.records.read(slug).named(name)
    if kind is not EntryKind.DRAWING or not isinstance(entry, DrawingEntry):
        raise NotFoundError(f"'{name}' is not a drawing: name one such as 'drawing 1'.")
    return entry


def drawing_svg(workshop: Workshop, slug: str, name: str) -> str:
    """Return a drawing's SVG, in mm."""
    entry = drawing_named(workshop, slug, name)
    return workshop.photographs.original(entry.svg).path.read_text(encoding="utf-8")


def drawing_pdf(workshop: Workshop, slug: str, name: str, paper: str) -> bytes:
    """Return a drawing as a true-scale PDF on A4 or Letter."""
    entry = drawing_named(workshop, slug, name)
    title = workshop.records.read(slug).title
    return true_scale_pdf(
        drawing_svg(workshop, slug, name),
        paper="letter" if paper == "letter" else "a4",
        title=f"{title}: {entry.name}",
        note=entry.note,
        made=(
            f"{workshop.records.changes(slug, name)[-1].made_at:%Y-%m-%d}, "
            f"Ironlace {entry.finding.version}"
        ),
    )


def keep_svg_in(
    workshop: Workshop, session: Session, svg: str, came_as: str, at: datetime | None = None
) -> str:
    """Put a drawing into the store as part of a transaction; return its SHA-256."""
    content = svg.encode("utf-8")
    with workshop.store.receive(len(content), came_as) as receiving:
        receiving.write(content)
        incoming = receiving.whole()
        at = at or datetime.now(UTC)
        workshop.photographs.keep_in(session, incoming, SVG_EXAMINED, came_as, at)
    return incoming.sha256


def flat_place(workshop: Workshop, svg_sha256: str) -> Path:
    """Where the flattened photograph of a drawing is kept; it can be made again."""
    return workshop.derived / "flats" / svg_sha256[:2] / f"{svg_sha256}.jpg"


def keep_flat(workshop: Workshop, svg_sha256: str, picture: NDArray[np.uint8]) -> None:
    """Keep the flattened photograph (rows, columns, 3; sRGB) that lies under a drawing."""
    out = BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=88, progressive=True)
    write_whole(flat_place(workshop, svg_sha256), out.getvalue())


def keep_same_flat(workshop: Workshop, before: str, after: str) -> None:
    """Lay the flattened photograph of one drawing under another that was made from it."""
    place = flat_place(workshop, before)
    if place.is_file():
        write_whole(flat_place(workshop, after), place.read_bytes())


def camera_of(entry: DrawingEntry) -> JsonValue:
    """Return the camera that a drawing's photograph was placed with, None where there is none.

    A drawing changed by hand carries on that of the drawing it came from.
    """
    parameters = entry.finding.method.parameters
    report = parameters.get("report")
    told = report if isinstance(report, dict) else parameters
    return told.get("camera")


def round_kind(entry: DrawingEntry) -> str:
    """Return "cylinder" or "cone" for a drawing of something round, else nothing."""
    camera = camera_of(entry)
    kind = camera.get("kind") if isinstance(camera, dict) else None
    return str(kind) if kind in ("cylinder", "cone") else ""


def proof_of(
    workshop: Workshop, slug: str, name: str
) -> tuple[dict[str, Any], Path]:  # dict: figures as kept in JSON
    """Lay a drawing back on its photograph; return what was measured and where the picture is.

    It is worked out once and kept in `derived/`. Raises NotFoundError when the drawing has no
    photograph with a camera, such as one from a scan.
    """
    entry = drawing_named(workshop, slug, name)
    camera = camera_of(entry)
    if not isinstance(camera, dict) or not entry.photographs:
        raise NotFoundError(
            f"{name} was not traced from a photograph whose camera is known: there is nothing to "
            "lay it on."
        )
    place = workshop.derived / "proofs" / entry.svg[:2] / f"{entry.svg}.jpg"
    figures = place.with_suffix(".json")
    if place.is_file() and figures.is_file():
        return json.loads(figures.read_text(encoding="utf-8")), place
    from ironlace.ornament import drawing_from_svg
    from ironlace.ornament.files.laid_back import proof_picture, prove
    from ironlace.photographs import Placing

    photograph = workshop.records.read(slug).named(entry.photographs[0])
    assert isinstance(photograph, Photograph)
    image = pixels(workshop.photographs.original(photograph.sha256).path)
    drawing = drawing_from_svg(drawing_svg(workshop, slug, name))
    proof = prove(drawing, image, Placing.of_camera(camera))
    told = proof.as_dict()
    out = BytesIO()
    Image.fromarray(proof_picture(image, proof)).save(out, "JPEG", quality=88, progressive=True)
    write_whole(place, out.getvalue())
    write_whole(figures, json.dumps(told).encode("utf-8"))
    return told, place


def flat_view(workshop: Workshop, slug: str, name: str) -> Path:
    """Return the flattened photograph in the drawing's own frame.

    Raises NotFoundError when it was thrown away with `derived/`: tracing again brings it back.
    """
    place = flat_place(workshop, drawing_named(workshop, slug, name).svg)
    if not place.is_file():
        raise NotFoundError(
            f"The flattened photograph of {name} was thrown away: trace it again to see it."
        )
    return place
