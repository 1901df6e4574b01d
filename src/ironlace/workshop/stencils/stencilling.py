"""Stencil sheets of a drawing in the workshop: what was asked is kept, the sheets are derived.

What a person chose (process, how islands are held, bridges locked, places forbidden) is a fact of
the record and stands in a finding; the sheets come out of it again every time, so they lie in
`derived/`.
"""

import json
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from ironlace import __version__
from ironlace.evidence.errors import ConflictError
from ironlace.evidence.findings import checksum_of
from ironlace.evidence.progress import Steps
from ironlace.ornament.stencils import (
    SHEETS,
    FilledDrawing,
    Prepared,
    Sheet,
    SheetsAsked,
    SheetSet,
    plan_set,
    sheet_set,
)
from ironlace.ornament.stencils.sheets_analysis import sheets_answer
from ironlace.record import FindingEntry
from ironlace.workshop import analyses
from ironlace.workshop.ornament.drawings import drawing_named
from ironlace.workshop.stencils.prepared_drawings import prepared_drawing
from ironlace.workshop.stencils.sheets_kept import filled_drawing, finding_of
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.originals import write_whole
from ironlace.workshop.work.in_hand import Tell, Work
from ironlace.workshop.worked_out import WorkedOut

Remember = Callable[[tuple[str, str], Callable[[], Prepared]], Prepared]


def takes_long(
    workshop: Workshop, slug: str, asked: SheetsAsked, islands: int | None = None
) -> bool:
    """Whether sheets that are not kept yet are better planned as a job.

    ``islands`` is how many may be awaited; of a drawing that was looked at already, more.
    """
    if kept_sheets(workshop, slug, asked) is not None:
        return False
    drawing = filled_drawing(workshop, workshop.records.read(slug), asked.drawing)
    return sheet_set.takes_long(drawing, asked, islands)


def planned(
    workshop: Workshop,
    slug: str,
    asked: SheetsAsked,
    steps: Steps | None = None,
    *,
    remember: Remember | None = None,
) -> SheetSet:
    """The sheets that come of what is asked: from where they are kept, else planned and kept.

    ``remember`` keeps what does not change while bridges are moved: called with a key and what
    makes it, it returns what was made.

    Raises
    ------
    StencilError
        When they cannot be made so; the sentence says why.
    NotFoundError
        When there is no such drawing.
    """
    found = kept_sheets(workshop, slug, asked)
    if found is not None:
        return found
    drawing = filled_drawing(workshop, workshop.records.read(slug), asked.drawing)

    made = plan_set(drawing, asked, steps, prepared=_prepared(workshop, drawing, asked, remember))
    place = _place(workshop, slug, asked)
    write_whole(place.with_suffix(".npz"), _packed(made.sheets))
    plain = {
        "report": made.report,
        "bridges": list(made.bridges),
        "flaws": list(made.flaws),
        "falls_svg": made.falls_svg,
    }
    # written last: its being there says that all is there
    write_whole(place.with_suffix(".json"), json.dumps(plain).encode("utf-8"))
    return made


def remembered_as(drawing: FilledDrawing, asked: SheetsAsked) -> tuple[str, str]:
    """The key under which `planned` has remembered what does not change with the bridges."""
    told = [drawing.svg, asked.process, asked.hold, asked.trap_mm]
    return ("prepared", checksum_of(told))


def gone_through(
    workshop: Workshop, drawing: FilledDrawing, asked: SheetsAsked, remember: Remember
) -> None:
    """Plan kept sheets once more for what is remembered of it, so that a change costs what it is.

    Sheets that another process planned, or an earlier day, leave nothing in memory: the first
    change would work out the whole ornament.
    """
    plan_set(drawing, asked, prepared=_prepared(workshop, drawing, asked, remember))


def _prepared(
    workshop: Workshop, drawing: FilledDrawing, asked: SheetsAsked, remember: Remember | None
) -> Prepared:
    def made() -> Prepared:
        return prepared_drawing(workshop, drawing.svg, asked.process, asked.hold, asked.trap_mm)

    return remember(remembered_as(drawing, asked), made) if remember else made()


def kept_sheets(workshop: Workshop, slug: str, asked: SheetsAsked) -> SheetSet | None:
    """The sheets that come of what is asked if they were made before, else None."""
    place = _place(workshop, slug, asked)
    try:
        told = json.loads(place.with_suffix(".json").read_text(encoding="utf-8"))
        sheets = _unpacked(place.with_suffix(".npz").read_bytes())
        return SheetSet(
            asked,
            sheets,
            told["report"],
            tuple(told["bridges"]),
            tuple(told["flaws"]),
            told["falls_svg"],
        )
    except (OSError, ValueError, KeyError):
        # what is derived can be thrown away or spoilt: it is made again
        return None


def keep_asked(workshop: Workshop, slug: str, made: SheetSet, by: str = "") -> str:
    """Keep what was asked, with what came of it, as a finding of the record; returns its name."""
    record = workshop.records.read(slug)
    inputs = analyses.input_checksums(workshop, record, SHEETS, made.asked)
    worked = WorkedOut(SHEETS, made.asked, made, sheets_answer(made), inputs)
    return analyses.keep(workshop, slug, worked, by)


def step_back(workshop: Workshop, slug: str, drawing: str, by: str = "") -> SheetsAsked:
    """Take the last change back: keep again what was asked before it; returns that.

    Raises ConflictError when there is nothing to go back to.
    """
    now = finding_of(workshop, slug, drawing)
    if now is None or now[1].before == 0:
        raise ConflictError("There is no earlier plan to go back to.")
    name, asked = now
    for change in workshop.records.changes(slug, name):
        if change.number == asked.before and isinstance(change.entry, FindingEntry):
            workshop.records.change(slug, name, change.entry, by=by)
            return SHEETS.asked_of(change.entry.finding)
    raise ConflictError("The earlier plan is no longer in the history of this record.")


def plan_as_job(work: Work) -> Tell:
    """Plan what a job asks for, and keep it in the record."""
    asked = SheetsAsked.from_dict(work.job.asked)
    made = planned(work.workshop, work.slug, asked, work.stages)
    drawing = asked.drawing
    if work.job.asked.get("only_look"):
        return lambda _session: {"sheets": drawing}
    keep_asked(work.workshop, work.slug, made, str(work.job.asked.get("by") or ""))
    return lambda _session: {"sheets": drawing}


def _place(workshop: Workshop, slug: str, asked: SheetsAsked) -> Path:
    key = asked.fingerprint(drawing_named(workshop, slug, asked.drawing).svg, __version__)
    return workshop.derived / "sheets" / key[:2] / key


def _packed(sheets: tuple[Sheet, ...]) -> bytes:
    out = BytesIO()
    arrays: dict[str, Any] = {"count": np.array(len(sheets))}
    for n, s in enumerate(sheets):
        shapes = np.frombuffer(shapely.to_wkb(s.openings), np.uint8)
        arrays |= {
            f"{n}.words": np.array([s.name, s.colour, *(word for _, word in s.notes)]),
            f"{n}.openings": shapes,
            f"{n}.edge": shapely.get_coordinates(s.edge.exterior),
            f"{n}.register": s.register_mm,
            f"{n}.hole": np.array(s.register_hole_mm),
            f"{n}.mirrored": np.array(s.mirrored),
            f"{n}.notes": np.array([line for line, _ in s.notes]).reshape(-1, 2, 2),
        }
    np.savez_compressed(out, allow_pickle=False, **arrays)
    return out.getvalue()


def _unpacked(content: bytes) -> tuple[Sheet, ...]:
    with np.load(BytesIO(content), allow_pickle=False) as kept:
        out = []
        for n in range(int(kept["count"])):
            name, colour, *words = (str(w) for w in kept[f"{n}.words"])
            openings = shapely.from_wkb(kept[f"{n}.openings"].tobytes())
            assert isinstance(openings, shapely.MultiPolygon)
            notes = tuple(zip(kept[f"{n}.notes"], words, strict=True))
            out.append(
                Sheet(
                    name,
                    colour,
                    openings,
                    shapely.Polygon(kept[f"{n}.edge"]),
                    kept[f"{n}.register"],
                    float(kept[f"{n}.hole"]),
                    notes,
                    bool(kept[f"{n}.mirrored"]),
                )
            )
        return tuple(out)
