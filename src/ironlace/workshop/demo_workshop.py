"""The demo workshop: an invented machine's record, photographs and reports, and its pack.

The material in `demo/` goes through the same doors as a person's: photographs are taken in, entries
added and changed at their dates, reports read from their table, the ornament traced and the pack
made by the jobs that the bench asks for.
"""

import json
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path
from threading import Event
from typing import Any

from ironlace.evidence.errors import ConflictError
from ironlace.evidence.progress import Progress
from ironlace.ornament.stencils.sheet_set import first_asked
from ironlace.record import DrawingEntry, FindingEntry, parse_entry
from ironlace.record.entries import Photograph
from ironlace.survey import DATE
from ironlace.workshop.analyses import work_out
from ironlace.workshop.ornament.rework import keep_rework, make_change, on_the_bench
from ironlace.workshop.store.folder import DATABASE_NAME, Workshop
from ironlace.workshop.store.originals import throw_away
from ironlace.workshop.survey.reports_of_record import read_report_entries
from ironlace.workshop.work.foreman import work_off
from ironlace.workshop.work.jobs import Jobs, JobState, worker_name

TITLE = "Lapwing head, Ambray & Thole"
_MARKER = "this-is-the-demo.txt"
_REPORTS_AT = datetime(2025, 4, 5, 19, 30, tzinfo=UTC)
_ORNAMENT = "ornament-on-bed.jpg"
_ORNAMENT_NAME = "Filigree of the bed"
_FLECK_MM2 = 0.25
"""Outlines that enclose less are flecks and pinholes; the smallest dot of the ornament has 0.44."""
_CUT_BY = "foil-etched"
"""How the sheets are made: the ornament's hairlines are finer than knife or laser cuts clean."""
_BY = "restorer"


@dataclass(frozen=True, slots=True)
class Demo:
    """The demo workshop as made: its folder, its machine, its pack."""

    folder: Path
    slug: str
    pack: Path


def make_demo(folder: Path, *, fresh: bool = False, progress: Progress | None = None) -> Demo:
    """Make the demo workshop with its pack, unless it is there already.

    What a person changed in it stays; a pack that was thrown away is made again.

    Raises
    ------
    ConflictError
        When something else is in the folder, or `fresh` would throw away more than a demo.
    """
    folder = folder.absolute()
    report = progress or (lambda _stage, _fraction: None)
    if fresh and folder.exists():
        if not (folder / _MARKER).is_file():
            raise ConflictError(f"{folder} is not the demo workshop: nothing was thrown away.")
        throw_away(folder)
    if not (folder / DATABASE_NAME).is_file():
        if folder.exists() and any(folder.iterdir()):
            raise ConflictError(f"{folder} is not empty: choose another place for the demo.")
        _build(folder, report)
    with Workshop.open(folder) as workshop:
        slug = workshop.records.all()[-1].slug
        jobs = Jobs(workshop.database)
        _finish_waiting(workshop)
        packs = [job for job in jobs.of_record(slug, 500) if job.task == "pack" and job.result]
        made = next(
            (
                place
                for job in packs
                if job.result and (place := workshop.derived / job.result["pack"]).is_dir()
            ),
            None,
        )
        if made is None:
            made = _pack(workshop, slug)
        return Demo(folder, slug, made)


def _build(folder: Path, report: Progress) -> None:
    """Build beside the folder and rename, so that a half-made demo is never found."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    building = folder.with_name(f".{folder.name}.{uuid.uuid4().hex[:8]}.making")
    try:
        with Workshop.create(building) as workshop:
            (building / _MARKER).write_text("An invented machine. Change it as you like.\n")
            report("taking in the photographs and the record", 0.05)
            slug = _fill(workshop)
            report("comparing the theories of its numbering", 0.3)
            _date(workshop, slug)
            report("tracing the ornament", 0.45)
            traced = _trace(workshop, slug)
            report("taking the flecks out by hand", 0.65)
            by_hand = _change_by_hand(workshop, slug, traced)
            report("planning its stencil sheets", 0.68)
            _do(workshop, Jobs(workshop.database).ask("sheets", _sheets_of(by_hand), slug))
            report("making the pack", 0.8)
            _pack(workshop, slug)
        if folder.exists():
            folder.rmdir()
        building.rename(folder)
    finally:
        throw_away(building)


def _fill(workshop: Workshop) -> str:
    material = files("ironlace.workshop") / "demo"
    items: list[dict[str, Any]] = json.loads((material / "machine.json").read_text("utf-8"))
    slug = workshop.records.create(TITLE, datetime.fromisoformat(items[0]["made_at"]))
    standing: set[str] = set()
    for item in items:
        name, at, by = item["name"], datetime.fromisoformat(item["made_at"]), item["made_by"]
        if "file" in item and name not in standing:
            given = _take_in(workshop, slug, material, item, at)
        elif name in standing:
            entry = parse_entry(item["entry"])
            workshop.records.change(slug, name, entry, by=by, at=at)
            given = name
        else:
            given = workshop.records.add(slug, parse_entry(item["entry"]), by, at)
        if given != name:
            raise ConflictError(f"The demo's {name} came out as {given}: its material is spoilt.")
        standing.add(name)
    return slug


def _take_in(
    workshop: Workshop, slug: str, material: Any, item: dict[str, Any], at: datetime
) -> str:
    entry = parse_entry({**item["entry"], "sha256": "0" * 64})
    assert isinstance(entry, Photograph)
    path = Path(str(material / item["file"]))
    taken = workshop.photographs.take_in_file(
        slug, path, entry.role, entry.caption, rights=entry.rights, by=item["made_by"], at=at
    )
    told = entry.model_copy(update={"sha256": taken.sha256})
    if workshop.records.read(slug).named(taken.name) != told:
        later = at + timedelta(minutes=1)
        workshop.records.change(slug, taken.name, told, by=item["made_by"], at=later)
    return taken.name


def _date(workshop: Workshop, slug: str) -> None:
    material = files("ironlace.workshop") / "demo"
    entries, _ = read_report_entries((material / "reports.csv").read_text("utf-8"))
    workshop.records.add_all(slug, entries, _BY, _REPORTS_AT)
    schemes = (material / "schemes.txt").read_text("utf-8")
    asked = DATE.asked(schemes=schemes)
    worked = work_out(workshop, workshop.records.read(slug), DATE, asked)
    entry = FindingEntry(finding=worked.finding())
    workshop.records.add(slug, entry, _BY, _REPORTS_AT + timedelta(minutes=20))


def _trace(workshop: Workshop, slug: str) -> str:
    material = files("ironlace.workshop") / "demo"
    pictures = [
        (name, workshop.photographs.original(entry.sha256).came_as)
        for name, entry in workshop.records.read(slug).of(Photograph)
    ]
    name = next(name for name, came_as in pictures if came_as == _ORNAMENT)
    asked = {
        "photograph": name,
        "name": f"{_ORNAMENT_NAME}, as traced",
        "strip": "frame",
        "surface": "plane",
        "mirror": True,
        "upright": True,
        "layout_csv": (material / "frame_layout.csv").read_text("utf-8"),
        "lens": json.loads((material / "lens.json").read_text("utf-8")),
    }
    return str(_do(workshop, Jobs(workshop.database).ask("trace", asked, slug))["drawing"])


def _change_by_hand(workshop: Workshop, slug: str, drawing: str) -> str:
    """Take out what lies by itself and is smaller than any dot of the ornament; keep the rest."""
    stands = on_the_bench(workshop, slug, drawing)
    flecks = [n for n, path in stands.work.paths.items() if abs(path.area) < _FLECK_MM2]
    order = {"do": "take-paths", "paths": flecks}
    _, stands = make_change(workshop, slug, drawing, order, stands.serial, by=_BY, now=stands)
    return keep_rework(workshop, slug, drawing, stands.serial, called=_ORNAMENT_NAME, by=_BY)


def _sheets_of(drawing: str) -> dict[str, Any]:
    return {**first_asked(drawing, _CUT_BY).as_dict(), "by": _BY}


def _pack(workshop: Workshop, slug: str) -> Path:
    drawings = [name for name, _ in workshop.records.read(slug).of(DrawingEntry)]
    # the drawing before it was changed by hand stays in the record, and out of what is published
    asked = {"private": False, "hours_and_costs": False, "without": drawings[:-1]}
    number = Jobs(workshop.database).ask("pack", asked, slug)
    result = _do(workshop, number)
    return workshop.derived / str(result["pack"])


def _do(workshop: Workshop, number: int) -> dict[str, Any]:
    _finish_waiting(workshop)
    job = Jobs(workshop.database).get(number)
    if job.state is not JobState.DONE:
        raise ConflictError(f"The demo could not be made: {job.error or job.state.value}")
    return job.result or {}


def _finish_waiting(workshop: Workshop) -> None:
    work_off(workshop, worker_name(), Event(), once=True)
