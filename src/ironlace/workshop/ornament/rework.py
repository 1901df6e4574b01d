"""Drawings worked on by hand: every change kept as it is made, taken back in turn, kept at the end.

The changes of a drawing on the bench stand in a table of their own until the person keeps the
result, which becomes a new drawing beside the first, or gives it up. What was asked goes with the
new drawing, so that the same changes on the same drawing can be made again.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import JsonValue
from sqlalchemy import delete, select
from sqlalchemy.orm import Session, defer, undefer

from ironlace import __version__
from ironlace.evidence.errors import ConflictError, IronlaceError
from ironlace.evidence.findings import Finding, Method, checksum_of
from ironlace.record.entries import DrawingEntry
from ironlace.record.history import key_of
from ironlace.workshop.ornament.drawings import (
    camera_of,
    drawing_named,
    drawing_svg,
    keep_same_flat,
    keep_svg_in,
)
from ironlace.workshop.store.aside import aside
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.originals import write_whole
from ironlace.workshop.store.tables import HandChangeRow, RecordRow

if TYPE_CHECKING:
    from ironlace.ornament import Drawing, DrawnChange, Workpiece
    from ironlace.ornament.by_hand.orders import TwinPreview

BY_HAND = "ironlace.ornament: changes by hand"
BROUGHT_BACK = "ironlace.ornament: edited elsewhere, evidence by place"
_READING_S = 9.0
"""Time for reading a drawing that came back: one of 100,000 points takes 4 s. A judgement."""
MOST_CHANGES = 5_000
"""Changes by hand to one drawing before it must be kept. A bound on how long it takes to open."""


@dataclass(frozen=True)
class OnTheBench:
    """A drawing as it stands with the changes made to it so far.

    `serial` changes with every change; one that was made on another serial is refused.
    """

    name: str
    work: "Workpiece"
    serial: str
    done: int
    undone: int
    bridges: Sequence[Mapping[str, Any]]
    axis: Mapping[str, Any] | None


def on_the_bench(workshop: Workshop, slug: str, name: str) -> OnTheBench:
    """Return a drawing with all changes by hand that stand.

    Raises NotFoundError when there is no such drawing.
    """
    from ironlace.ornament import DrawnChange

    entry = drawing_named(workshop, slug, name)
    with workshop.database.reading() as session:
        rows = _rows(session, slug, name, entry.svg, with_changes=True)
        standing = [row for row in rows if not row.taken_back]
        work = _base(workshop, slug, name)
        for row in standing:
            work = work.with_change(DrawnChange.from_dict(row.change))
        return _told(workshop, name, entry, work, rows)


def make_change(
    workshop: Workshop,
    slug: str,
    name: str,
    order: Mapping[str, Any],
    serial: str,
    *,
    by: str = "",
    now: OnTheBench | None = None,
) -> tuple["DrawnChange", OnTheBench]:
    """Carry out an order on a drawing and keep it; return what changed, and how it stands now.

    `now` is how it stood under `serial`, where the caller still knows; it spares reading it.

    Raises ConflictError when the drawing was changed since `serial`, ReworkError when the order
    cannot be carried out; nothing is changed then.
    """
    from ironlace.ornament import ReworkError, carry_out
    from ironlace.ornament.by_hand.orders import by_present_rules

    now = _known(workshop, slug, name, serial, now)
    if now.done >= MOST_CHANGES:
        raise ReworkError(f"{MOST_CHANGES} changes are enough for one go: keep the drawing first.")
    plain = json.loads(json.dumps(by_present_rules(order)))
    change = carry_out(now.work, plain, now.bridges)
    entry = drawing_named(workshop, slug, name)
    with workshop.database.writing() as session:
        rows = _rows(session, slug, name, entry.svg)
        _must_be(serial, _serial(rows))
        session.execute(
            delete(HandChangeRow).where(
                HandChangeRow.id.in_([row.id for row in rows if row.taken_back])
            )
        )
        session.add(
            HandChangeRow(
                record_id=_record_id(session, slug),
                drawing=key_of(name)[1],
                svg=entry.svg,
                asked=plain,
                change=change.as_dict(),
                taken_back=False,
                made_at=datetime.now(UTC),
                made_by=by,
            )
        )
        session.flush()
        work = now.work.with_change(change)
        return change, _told(workshop, name, entry, work, _rows(session, slug, name, entry.svg))


def preview_twin(
    workshop: Workshop,
    slug: str,
    name: str,
    order: Mapping[str, Any],
    serial: str,
    now: OnTheBench | None = None,
) -> tuple["TwinPreview", OnTheBench]:
    """Show what would be laid into a place from its like; nothing is changed.

    Raises ConflictError when the drawing was changed since `serial`, ReworkError when the order
    lacks the place or the likeness.
    """
    from ironlace.ornament.by_hand.orders import preview_like

    now = _known(workshop, slug, name, serial, now)
    return preview_like(now.work, order), now


def find_mirror_axis(workshop: Workshop, slug: str, name: str) -> Mapping[str, Any] | None:
    """Look for the mirror axis of a drawing as it was kept; None if it has none.

    What was found is kept in `derived/`, for it takes seconds and never comes out otherwise.
    """
    from ironlace.ornament import drawing_from_svg
    from ironlace.ornament.by_hand.drawn_axis import find_axis

    entry = drawing_named(workshop, slug, name)
    found = find_axis(drawing_from_svg(drawing_svg(workshop, slug, name)))
    told = found.as_dict() if found else None
    write_whole(_axis_place(workshop, entry.svg), json.dumps(told).encode("utf-8"))
    return told


def _axis_found(workshop: Workshop, svg: str) -> Mapping[str, Any] | None:
    try:
        told = json.loads(_axis_place(workshop, svg).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        # what is derived can be thrown away or spoilt: it is looked for again when asked
        return None
    return told if isinstance(told, dict) and "at" in told else None


def _axis_place(workshop: Workshop, svg: str) -> Path:
    key = checksum_of([svg, __version__])
    return workshop.derived / "axes" / key[:2] / f"{key}.json"


def _known(
    workshop: Workshop, slug: str, name: str, serial: str, now: OnTheBench | None
) -> OnTheBench:
    """How the drawing stands under a serial: as the caller still knows, else as it is kept."""
    if now is None or now.serial != serial:
        now = on_the_bench(workshop, slug, name)
        _must_be(serial, now.serial)
    return now


def take_back(
    workshop: Workshop, slug: str, name: str, serial: str, now: OnTheBench | None = None
) -> tuple["DrawnChange", OnTheBench]:
    """Take the last standing change back, one at a time to the very first."""
    return _turned(workshop, slug, name, serial, now, back=True)


def make_again(
    workshop: Workshop, slug: str, name: str, serial: str, now: OnTheBench | None = None
) -> tuple["DrawnChange", OnTheBench]:
    """Make the change again that was taken back last."""
    return _turned(workshop, slug, name, serial, now, back=False)


def give_up(workshop: Workshop, slug: str, name: str) -> int:
    """Forget all changes by hand to a drawing; return how many there were."""
    with workshop.database.writing() as session:
        return _forget(session, slug, name)


def _forget(session: Session, slug: str, name: str) -> int:
    found = session.execute(
        delete(HandChangeRow).where(
            HandChangeRow.record_id == _record_id(session, slug),
            HandChangeRow.drawing == key_of(name)[1],
        )
    )
    return int(getattr(found, "rowcount", 0))


def keep_rework(
    workshop: Workshop, slug: str, name: str, serial: str, *, called: str = "", by: str = ""
) -> str:
    """Keep a drawing as it stands on the bench, as a new drawing; return its name.

    Raises ConflictError when it was changed since `serial`, IronlaceError when nothing was changed
    or nothing is left of it.
    """
    now = on_the_bench(workshop, slug, name)
    _must_be(serial, now.serial)
    if not now.done:
        raise IronlaceError("Nothing was changed by hand: there is nothing new to keep.")
    drawing = now.work.drawing()
    if not drawing.paths:
        raise IronlaceError("Nothing is left of the drawing: take a change back first.")
    entry = drawing_named(workshop, slug, name)
    with workshop.database.reading() as session:
        rows = _rows(session, slug, name, entry.svg)
        orders = [row.asked for row in rows if not row.taken_back]
    parameters: dict[str, JsonValue] = {
        "orders": json.loads(json.dumps(orders)),
        "bridges": json.loads(json.dumps([dict(b) for b in now.bridges])),
        "axis": dict(now.axis) if now.axis else None,
        "camera": camera_of(entry),
    }
    changes = f"{len(orders)} changes" if len(orders) > 1 else "1 change"
    with workshop.database.writing() as session:
        _must_be(serial, _serial(_rows(session, slug, name, entry.svg)))
        kept, added = _keep_beside(
            workshop,
            session,
            slug,
            entry,
            drawing,
            came_as=f"{name} changed by hand.svg",
            called=called.strip()[:300] or f"{entry.name}, by hand",
            told=f"{name} with {changes} by hand",
            inputs={"drawing": entry.svg, "orders": checksum_of(orders)},
            method=Method(name=BY_HAND, parameters=parameters),
            by=by,
        )
        _forget(session, slug, name)
    keep_same_flat(workshop, entry.svg, kept)
    return added


def bring_back(workshop: Workshop, slug: str, name: str, text: str, *, by: str = "") -> str:
    """Take in a drawing that was edited elsewhere; return the name of the new drawing.

    What still lies where it lay keeps its evidence; the rest is conjectured.

    Raises DrawingError when the text is no drawing, NotFoundError when there is no such drawing.
    """
    entry = drawing_named(workshop, slug, name)
    drawing, said = aside(
        _came_back,
        drawing_svg(workshop, slug, name),
        text,
        what="The drawing",
        instead="simplify its outlines in the editor, and take out what is no ornament",
        seconds=_READING_S,
    )
    notices = " ".join(said).rstrip(".")
    with workshop.database.writing() as session:
        came = keep_svg_in(workshop, session, text, f"{name} edited elsewhere.svg")
        kept, added = _keep_beside(
            workshop,
            session,
            slug,
            entry,
            drawing,
            came_as=f"{name} brought back.svg",
            called=f"{entry.name}, edited",
            told=f"{name} as it came back edited" + (f" ({notices})" if notices else ""),
            inputs={"drawing": entry.svg, "edited": came},
            method=Method(name=BROUGHT_BACK, parameters={"camera": camera_of(entry)}),
            by=by,
        )
    keep_same_flat(workshop, entry.svg, kept)
    return added


def _came_back(kept: str, edited: str) -> tuple["Drawing", tuple[str, ...]]:
    """An edited drawing with the evidence of the kept one where it still lies; what was said."""
    from ironlace.ornament import brought_back, drawing_from_svg
    from ironlace.ornament.files.drawing_svg import read_drawing_svg

    read, said = read_drawing_svg(edited)
    return brought_back(drawing_from_svg(kept), read), said


def _keep_beside(
    workshop: Workshop,
    session: Session,
    slug: str,
    entry: DrawingEntry,
    drawing: "Drawing",
    *,
    came_as: str,
    called: str,
    told: str,
    inputs: dict[str, str],
    method: Method,
    by: str,
) -> tuple[str, str]:
    """Keep a drawing that was made from another as a new entry; return its SVG's SHA and name."""
    from ironlace.ornament import drawing_svg as svg_of

    kept = keep_svg_in(workshop, session, svg_of(drawing, evidence=True), came_as)
    finding = Finding(
        about="ornament",
        value={"svg": kept, "outline_mm": drawing.length_mm},
        grade=drawing.grade(),
        sentence=(
            f"{len(drawing.paths)} outlines, {drawing.length_mm:.0f} mm long: {told}; "
            f"{drawing.shares_in_words()}."
        ),
        inputs=inputs,
        method=method,
        version=__version__,
    )
    width, height = drawing.painted_mm
    new = entry.model_copy(
        update={
            "name": called[:300],
            "width_mm": round(width, 3),
            "height_mm": round(height, 3),
            "svg": kept,
            "grade": finding.grade,
            "finding": finding,
            "note": "",
        }
    )
    return kept, workshop.records.add_in(session, slug, new, by)


def _turned(
    workshop: Workshop,
    slug: str,
    name: str,
    serial: str,
    now: OnTheBench | None,
    *,
    back: bool,
) -> tuple["DrawnChange", OnTheBench]:
    from ironlace.ornament import DrawnChange, ReworkError

    now = _known(workshop, slug, name, serial, now)
    entry = drawing_named(workshop, slug, name)
    with workshop.database.writing() as session:
        rows = _rows(session, slug, name, entry.svg)
        _must_be(serial, _serial(rows))
        able = [row for row in rows if row.taken_back != back]
        if not able:
            raise ReworkError(
                "This is the drawing as it was traced: there is nothing to take back."
                if back
                else "Nothing was taken back that could be made again."
            )
        row = able[-1] if back else able[0]
        row.taken_back = back
        session.flush()
        change = DrawnChange.from_dict(row.change)
        change = change.back if back else change
        return change, _told(workshop, name, entry, now.work.with_change(change), rows)


def _told(
    workshop: Workshop,
    name: str,
    entry: DrawingEntry,
    work: "Workpiece",
    rows: Sequence[HandChangeRow],
) -> OnTheBench:
    done = sum(not row.taken_back for row in rows)
    bridges, axis = _offered(entry)
    axis = axis or _axis_found(workshop, entry.svg)
    return OnTheBench(name, work, _serial(rows), done, len(rows) - done, bridges, axis)


def _offered(entry: DrawingEntry) -> tuple[list[Mapping[str, Any]], Mapping[str, Any] | None]:
    """Bridges that were proposed and the mirror axis that was found, from the drawing's finding."""
    parameters = entry.finding.method.parameters
    report = parameters.get("report")
    told: Any = report if isinstance(report, dict) else parameters
    bridges: list[Mapping[str, Any]] = [
        b for b in told.get("bridges") or [] if isinstance(b, dict) and "centre_mm" in b
    ]
    axis: Any = told.get("axis")
    for source in told.get("gathered") or []:
        if isinstance(source, dict) and isinstance(source.get("axis"), dict):
            found = source["axis"]
            axis = {"at": [found["x_mm"], found["y_mm"]], "direction_deg": found["direction_deg"]}
    return bridges, axis if isinstance(axis, dict) else None


def _base(workshop: Workshop, slug: str, name: str) -> "Workpiece":
    from ironlace.ornament import Workpiece, drawing_from_svg

    return Workpiece.of(drawing_from_svg(drawing_svg(workshop, slug, name)))


def _rows(
    session: Session, slug: str, name: str, svg: str, *, with_changes: bool = False
) -> list[HandChangeRow]:
    """The changes of a drawing in their order.

    What changed is long, and for every step but the first look only the last one is wanted: it is
    fetched when it is asked for.
    """
    return list(
        session.scalars(
            select(HandChangeRow)
            .options(undefer(HandChangeRow.change) if with_changes else defer(HandChangeRow.change))
            .where(
                HandChangeRow.record_id == _record_id(session, slug),
                HandChangeRow.drawing == key_of(name)[1],
                HandChangeRow.svg == svg,
            )
            .order_by(HandChangeRow.id)
        )
    )


def _record_id(session: Session, slug: str) -> int:
    found = session.scalar(select(RecordRow.id).where(RecordRow.slug == slug))
    if found is None:
        raise IronlaceError(f"There is no machine '{slug}' in this workshop.")
    return int(found)


def _serial(rows: Sequence[HandChangeRow]) -> str:
    standing = [row.id for row in rows if not row.taken_back]
    return f"{standing[-1] if standing else 0}-{len(rows) - len(standing)}"


def _must_be(asked: str, stands: str) -> None:
    if asked != stands:
        raise ConflictError(
            "The drawing was changed in another window meanwhile: reload the page, then go on."
        )
