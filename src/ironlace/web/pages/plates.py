"""Worn plates: photographs chosen and looked over, the relief under a torch, the reading."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.analyses import AskedError, asked_fields
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.findings import Finding
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import MarkingError, parse_marking
from ironlace.marks import MARK_READING, PLATE_RELIEF, MarksError
from ironlace.marks.capture.capturing import SMALL_BALL_PX
from ironlace.marks.plate_analysis import PlateReliefAsked
from ironlace.marks.reading.own_reading import places_of_own
from ironlace.marks.reading.places import read_places
from ironlace.marks.reading.reading_told import USUAL_DIGIT_MM
from ironlace.marks.reading_analysis import (
    DOUBTS,
    FOR_SURVEY,
    READ_OFF,
    STRINGS,
    MarkReadingAsked,
    as_counted,
    place_name,
)
from ironlace.marks.seeing.looks import LOOK_WORDS, LOOKS, Look
from ironlace.marks.seeing.relighting import (
    EXPOSED,
    LEAST_FACING,
    LOWEST_DEG,
    UNKNOWN,
    Surface,
    Torch,
)
from ironlace.record import FindingEntry, Mark, Measurement, Photograph, PhotographRole, Record
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import Form, FormDep
from ironlace.web.pages.analyses import OWN_PAGES
from ironlace.web.pages.files import attachment
from ironlace.web.pages.jobs import under_way
from ironlace.web.rendering import page
from ironlace.workshop import analyses as kept
from ironlace.workshop.marks import plate_jobs
from ironlace.workshop.marks.plate_views import (
    FIRST_TORCH,
    SCREEN_PX,
    View,
    relief_document,
    relief_is_whole,
    screen_planes,
    surface_of,
    view_of,
    view_on,
)
from ironlace.workshop.marks.plates import marks_named, plate_named, relief_folder
from ironlace.workshop.survey.reports_of_record import serial_of

router = APIRouter()
OWN_PAGES[PLATE_RELIEF.key] = addresses.plates
OWN_PAGES[MARK_READING.key] = addresses.plates
_SERIAL = "serial number"
"""What a mark is for that the survey takes before others."""
_BY_METHOD = "the program, off the relief"
_OTHERS = 60
"""Photographs kept for something else that are offered, the latest."""
_SKY_PX = 90.0
"""Radius of the plan of the sky, in its own units."""
_PRESETS = (
    ("raking", 180, 12, "From the left"),
    ("raking", 0, 12, "From the right"),
    ("raking", 90, 12, "From the top"),
    ("raking", 270, 12, "From the bottom"),
    ("raking", 90, 90, "From overhead"),
    ("relief", 135, 15, "Form alone"),
    ("curvature", 135, 15, "Edges and hollows"),
    ("depth", 135, 15, "Depth"),
)
_QUARTERS = {"upper right": 0, "upper left": 1, "lower left": 2, "lower right": 3}


class PlateFormError(IronlaceError):
    """A field of a plate's page cannot be read."""

    http_status = 422


@router.get(addresses.plates("{slug}"))
def plates(request: Request, bench: BenchDep, slug: str, check: str = "") -> Response:
    """Show the plates whose relief is kept, and the photographs for another."""
    return _plates(request, bench, slug, check=check)


def _plates(
    request: Request,
    bench: Bench,
    slug: str,
    *,
    check: str = "",
    values: Mapping[str, str] | None = None,
    chosen: tuple[str, ...] = (),
    says: str = "",
    at_field: str = "",
) -> Response:
    record = bench.records.read(slug)
    told = plate_jobs.check_kept(bench.workshop, check) if check.isalnum() else None
    if told is not None:
        chosen = tuple(told["photographs"])
    pictures = list(record.of(Photograph))
    of_marks = [x for x in pictures if x[1].role is PhotographRole.MARK or x[0] in chosen]
    return page(
        request,
        "plates.html",
        status=422 if says else 200,
        record=record,
        plates=_kept_plates(record),
        pictures=of_marks,
        others=[x for x in pictures if x not in of_marks][: -_OTHERS - 1 : -1],
        chosen=chosen,
        values=values or {},
        lengths=[(n, m) for n, m in record.of(Measurement) if "mm" in m.reads],
        fields={one.name: one for one in asked_fields(PlateReliefAsked)},
        check=told,
        sky=_sky(told) if told else None,
        smallest=SMALL_BALL_PX,
        says=says,
        at_field=at_field,
        jobs=[
            job
            for task in (plate_jobs.RELIEF, plate_jobs.CHECKING)
            for job in under_way(bench, slug, task)
            if not job.state.ended
        ],
    )


@router.post(addresses.plates("{slug}"))
def choose(request: Request, bench: BenchDep, hand: HandDep, form: FormDep, slug: str) -> Response:
    """Look chosen photographs over, or have their relief worked out."""
    record = bench.records.read(slug)
    chosen = tuple(form.many("photograph"))
    values = {name: form.one(name) for name in ("name", "ball", "ball-from", "encoding")}
    try:
        if form.one("do") == "check":
            return _look_over(bench, record, chosen)
        given = {
            "photographs": list(chosen),
            "name": values["name"],
            "ball": values["ball-from"] or values["ball"],
            "encoding": values["encoding"] or "told",
        }
        asked = kept.asked_for(PLATE_RELIEF, record, given)
        kept.takes_long(bench.workshop, record, PLATE_RELIEF, asked)  # refuses what is not there
    except IronlaceError as error:
        field = error.field if isinstance(error, AskedError) else ""
        return _plates(
            request, bench, slug, values=values, chosen=chosen, says=str(error), at_field=field
        )
    number = bench.jobs.ask(plate_jobs.RELIEF, plate_jobs.asked_relief(asked, hand), slug)
    return RedirectResponse(addresses.job(number), 303)


def _look_over(bench: Bench, record: Record, chosen: tuple[str, ...]) -> Response:
    key = plate_jobs.check_key(record, chosen)
    at_hand = plate_jobs.check_kept(bench.workshop, key) is not None
    if not at_hand and plate_jobs.check_takes_long(bench.workshop, record, chosen):
        asked = {"photographs": list(chosen)}
        number = bench.jobs.ask(plate_jobs.CHECKING, asked, record.slug)
        return RedirectResponse(addresses.job(number), 303)
    plate_jobs.check(bench.workshop, record, chosen)
    return RedirectResponse(addresses.plates(record.slug, key) + "#looked-over", 303)


@dataclass(frozen=True, slots=True)
class KeptPlate:
    """A plate in the list: the number of its finding, what it is called, its reading if any."""

    key: str
    words: str
    grade: Grade
    read: bool


def _kept_plates(record: Record) -> list[KeptPlate]:
    found = []
    for name, entry in record.of(FindingEntry):
        if entry.finding.about == PLATE_RELIEF.about:
            read = kept.kept_finding(record, MARK_READING, name) is not None
            key = name.removeprefix("finding ")
            found.append(KeptPlate(key, _called(name, entry), entry.finding.grade, read))
    return found[::-1]


def _called(name: str, entry: FindingEntry) -> str:
    asked = entry.finding.method.parameters.get("asked")
    called = asked.get("name") if isinstance(asked, dict) else ""
    return str(called or f"Plate of {name}")


def _sky(told: Mapping[str, Any]) -> dict[str, Any]:  # dict: a picture for one template
    """Where each torch stood as seen from the plate: its middle overhead, its rim the horizon."""
    torches = []
    for number, one in enumerate(told["frames"], 1):
        if one["torch"] is None:
            continue
        azimuth = math.radians(one["torch"]["azimuth_deg"])
        out = _SKY_PX * (1 - one["torch"]["elevation_deg"] / 90)
        torches.append(
            {
                "number": number,
                "x": round(100 + out * math.cos(azimuth), 1),
                "y": round(100 - out * math.sin(azimuth), 1),
                "file": one["file"],
            }
        )
    return {
        "torches": torches,
        "missing": [(name, 90 * _QUARTERS[name]) for name in told["missing_quadrants"]],
    }


@router.get(addresses.plate("{slug}", "{key}"))
def plate(
    request: Request,
    bench: BenchDep,
    slug: str,
    key: int,
    look: str = "raking",
    azimuth: float = FIRST_TORCH.azimuth_deg,
    elevation: float = FIRST_TORCH.elevation_deg,
) -> Response:
    """Show a plate under a torch, and its reading; without script a form moves the torch."""
    view = _view(look, azimuth, elevation, SCREEN_PX)
    return _plate(request, bench, slug, key, view)


def _plate(
    request: Request,
    bench: Bench,
    slug: str,
    key: int,
    view: View,
    *,
    values: Mapping[str, str] | None = None,
    says: str = "",
    at_field: str = "",
) -> Response:
    record = bench.records.read(slug)
    name = f"finding {key}"
    entry, asked = plate_named(record, name)
    folder = _at_hand(bench, record, asked)
    shown = None if folder is None else _surface(bench, folder)
    reading = kept.kept_finding(record, MARK_READING, name)
    words = {one.name: one for one in asked_fields(MarkReadingAsked)}
    return page(
        request,
        "plate.html",
        status=422 if says else 200,
        record=record,
        key=key,
        called=_called(name, entry),
        entry=entry,
        stale=kept.stale(bench.workshop, record, entry.finding),
        at_hand=shown is not None,
        surface=None if shown is None else shown[0],
        made=None if shown is None else view_on(*shown, view).told,
        view=view,
        presets=_PRESETS,
        looks=[(one, LOOK_WORDS[one]) for one in LOOKS],
        shown_px=SCREEN_PX,
        lowest=LOWEST_DEG,
        lit={"exposed": EXPOSED, "least": LEAST_FACING, "unknown": UNKNOWN},
        grid=None if folder is None else _grid(folder),
        reading=reading,
        rows_read=_rows_read(record, reading) if reading else [],
        in_survey=_in_survey(record),
        sentences=_sentences(reading[1].finding) if reading else (),
        reading_stale=kept.stale(bench.workshop, record, reading[1].finding) if reading else "",
        beside=_beside(record, reading[1].finding) if reading else [],
        marks=[x for x in record.of(Mark) if not x[1].read_by.startswith(_BY_METHOD)],
        words=words,
        values=_asked_before(reading) if values is None else values,
        says=says,
        at_field=at_field,
        jobs=[
            job
            for job in under_way(bench, slug, "work out")
            if not job.state.ended and (job.asked.get("asked") or {}).get("plate") == name
        ],
    )


@dataclass(frozen=True, slots=True)
class Grid:
    """The relief's own pixels, in which places are told, and how tall a digit is likely in them."""

    columns: int
    rows: int
    tall: int


def _grid(folder: Path) -> Grid:
    told, (columns, rows) = relief_document(folder)
    scale = told.get("mm_per_px") if told.get("scale_known") else None
    return Grid(columns, rows, round(USUAL_DIGIT_MM / scale if scale else rows / 10))


def _sentences(finding: Finding) -> tuple[str, str]:
    """What must be known first of a reading and how much is in doubt, and the rest."""
    first, read_off, rest = finding.sentence.partition(READ_OFF)
    return (first.rstrip(), read_off + rest)


def _asked_before(reading: tuple[str, FindingEntry] | None) -> dict[str, str]:
    """What the last reading was asked with, so that reading again does not lose it."""
    asked = reading[1].finding.method.parameters.get("asked") if reading else None
    if not isinstance(asked, dict):
        return {}
    return {name: str(asked.get(name) or "") for name in ("places", "base_rate")}


def _surface(bench: Bench, folder: Path) -> tuple[Surface, dict[str, Any]]:
    """A plate's surface as the screen shows it; the one looked at last is held."""
    held = bench.recall("plate surface")
    if isinstance(held, tuple) and held[0] == folder:
        return held[1], held[2]
    surface, told = surface_of(folder, SCREEN_PX)
    bench.remember("plate surface", (folder, surface, told))
    return surface, told


def _view(look: str, azimuth: float, elevation: float, most_px: int | None) -> View:
    named: dict[str, Look] = {one: one for one in LOOKS}
    if look not in named:
        raise PlateFormError(f"There is no look '{look[:20]}': use one of {', '.join(LOOKS)}.")
    return View(named[look], Torch(azimuth, elevation), most_px)


@router.get(addresses.plate_view("{slug}", "{key}"))
def picture(
    bench: BenchDep,
    slug: str,
    key: int,
    look: str = "raking",
    azimuth: float = FIRST_TORCH.azimuth_deg,
    elevation: float = FIRST_TORCH.elevation_deg,
    px: int | None = None,
    save: str = "",
) -> Response:
    """Hand over a plate's picture: the bytes that `ironlace marks view` writes."""
    view = _view(look, azimuth, elevation, px)
    folder = _folder(bench, slug, key)
    made = view_on(*_surface(bench, folder), view) if px == SCREEN_PX else view_of(folder, view)
    headers = {}
    if save:
        torch = f"-{azimuth:g}-{elevation:g}" if made.told["torch_azimuth_deg"] is not None else ""
        headers["content-disposition"] = attachment(f"{slug}-plate-{key}-{look}{torch}.png")
    return Response(made.png, media_type="image/png", headers=headers)


@router.get(addresses.plate_surface("{slug}", "{key}"))
def surface(bench: BenchDep, slug: str, key: int) -> Response:
    """Hand a script what it lights the plate from."""
    planes = screen_planes(_surface(bench, _folder(bench, slug, key))[0])
    return Response(planes, media_type="application/octet-stream")


def _at_hand(bench: Bench, record: Record, asked: PlateReliefAsked) -> Path | None:
    """Where a plate's relief lies whole; None where it does not, or a photograph was withdrawn."""
    try:
        folder = relief_folder(bench.workshop, record, asked)
    except NotFoundError:
        return None
    return folder if relief_is_whole(folder) else None


def _folder(bench: Bench, slug: str, key: int) -> Path:
    record = bench.records.read(slug)
    _, asked = plate_named(record, f"finding {key}")
    folder = _at_hand(bench, record, asked)
    if folder is None:
        raise NotFoundError("This plate's relief is no longer at hand: make it again on its page.")
    return folder


@router.post(addresses.plate_again("{slug}", "{key}"))
def again(bench: BenchDep, hand: HandDep, form: FormDep, slug: str, key: int) -> Response:
    """Have a relief made again that was thrown away, or that went out of date."""
    del form  # its token was read
    _, asked = plate_named(bench.records.read(slug), f"finding {key}")
    number = bench.jobs.ask(plate_jobs.RELIEF, plate_jobs.asked_relief(asked, hand), slug)
    return RedirectResponse(addresses.job(number), 303)


@router.post(addresses.plate_read("{slug}", "{key}"))
def read(
    request: Request, bench: BenchDep, hand: HandDep, form: FormDep, slug: str, key: int
) -> Response:
    """Keep a person's own reading first, then have the method's worked out."""
    record = bench.records.read(slug)
    name = f"finding {key}"
    entry, asked = plate_named(record, name)
    values = {n: form.one(n) for n in ("rows", "read_by", "waived", "places", "base_rate")}
    try:
        marks = _own(form, asked, _called(name, entry))
        chosen = form.many("own")
        if marks and chosen:
            raise AskedError("A reading was typed and others ticked: give one of both.", "rows")
        marks_named(record, chosen)
        given = {
            "plate": name,
            "own": chosen or [mark.reads for mark in marks],
            "waived": bool(values["waived"]),
            "places": form.one("places"),
            "base_rate": values["base_rate"],
        }
        kept.asked_for(MARK_READING, record, given)  # refused before anything is kept
        _refuse_places(_at_hand(bench, record, asked), form.one("places"))
        if marks:
            given["own"] = bench.records.add_all(slug, marks, hand)
        wanted = kept.asked_for(MARK_READING, record, given)
    except IronlaceError as error:
        field = error.field if isinstance(error, AskedError) else ""
        view = View(most_px=SCREEN_PX)
        return _plate(
            request, bench, slug, key, view, values=values, says=str(error), at_field=field
        )
    number = bench.jobs.ask("work out", kept.as_job(MARK_READING, wanted, hand), slug)
    return RedirectResponse(addresses.job(number), 303)


@router.post(addresses.plate_to_survey("{slug}", "{key}"))
def to_survey(bench: BenchDep, hand: HandDep, form: FormDep, slug: str, key: int) -> Response:
    """Keep a row of the method's reading as a mark in all its doubts, for the survey to take."""
    record = bench.records.read(slug)
    name = f"finding {key}"
    entry, asked = plate_named(record, name)
    reading = kept.kept_finding(record, MARK_READING, name)
    rows = _rows_read(record, reading) if reading else []
    chosen = [one for one in rows if str(one.number) == form.one("row")]
    if reading is None or not chosen:
        raise NotFoundError("This plate has no such row read: have it read on its page first.")
    (row,) = chosen
    if not row.kept:
        strings = f" Strings and their chances: {row.strings}." if row.strings else ""
        mark = Mark(
            reads=row.reads,
            where=f"{_called(name, entry)}, row {row.number} from the top",
            grade=Grade.INFERRED,
            strings=row.for_survey,
            photographs=asked.photographs,
            purpose=_SERIAL,
            read_by=f"{_BY_METHOD}, {reading[0]}",
            note=f"Read off the relief in all its doubts; no single string is preferred.{strings}",
        )
        bench.records.add_all(slug, [mark], hand)
    return RedirectResponse(addresses.plate(slug, key) + "#reading", 303)


@dataclass(frozen=True, slots=True)
class RowRead:
    """A row of the method's reading, counted from 1: its doubts, its strings, its mark if kept."""

    number: int
    reads: str
    strings: str
    for_survey: str
    kept: str


def _rows_read(record: Record, reading: tuple[str, FindingEntry]) -> list[RowRead]:
    results = {as_counted(one.name): str(one.value) for one in reading[1].finding.results}
    by_method = {
        mark.reads: name
        for name, mark in record.of(Mark)
        if mark.read_by == f"{_BY_METHOD}, {reading[0]}"
    }
    return [
        RowRead(
            int(name.split()[1]),
            reads,
            results.get(name.removesuffix(DOUBTS) + STRINGS, ""),
            results.get(name.removesuffix(DOUBTS) + FOR_SURVEY, ""),
            by_method.get(str(parse_marking(reads)), ""),
        )
        for name, reads in results.items()
        if name.endswith(DOUBTS)
    ]


def _in_survey(record: Record) -> tuple[str, str]:
    """The mark that the survey takes for the machine's own, by name, and how it reads."""
    own = serial_of(record)
    return next(((name, m.reads) for name, m in record.of(Mark) if m.reads == own), ("", ""))


def _refuse_places(folder: Path | None, places: str) -> None:
    """Refuse a table of places before a reading is kept; without a relief its job does."""
    if folder is None or not places.strip():
        return
    _, (columns, rows) = relief_document(folder)
    try:
        read_places(places, (rows, columns))
    except MarksError as error:
        raise AskedError(str(error), "places") from error


def _own(form: Form, plate: PlateReliefAsked, called: str) -> list[Mark]:
    """The rows that a person typed, one a line, as marks seen."""
    rows = [line.strip() for line in form.one("rows").splitlines() if line.strip()]
    try:
        marks = [str(parse_marking(line)) for line in rows]
    except MarkingError as error:
        raise AskedError(str(error), "rows") from error
    return [
        Mark(
            reads=reads,
            where=f"{called}, row {number} from the top" if len(marks) > 1 else called,
            grade=Grade.SEEN,
            photographs=plate.photographs,
            read_by=form.one("read_by")[:300],
            note="Read from photographs under a moved torch and their relief.",
        )
        for number, reads in enumerate(marks, 1)
    ]


def _beside(record: Record, finding: Finding) -> list[tuple[str, str, str]]:
    """Each place: what a person read there, and the method's chances."""
    asked = finding.method.parameters.get("asked")
    names = asked.get("own") if isinstance(asked, dict) else []
    marks = dict(record.of(Mark))
    mine: dict[str, str] = {}
    for row, name in enumerate(names if isinstance(names, list) else []):
        mark = marks.get(str(name))  # none where it was withdrawn
        if mark is not None:
            for (kind, _, index), glyph in places_of_own(row, parse_marking(mark.reads)).items():
                place = place_name(kind, row, index)
                mine[place] = {"-": "no dot", ".": "dot"}.get(glyph, glyph)
    named = ((as_counted(one.name), str(one.value)) for one in finding.results)
    return [
        (name, mine.get(name, ""), chances)
        for name, chances in named
        if ", digit " in name or ", gap " in name
    ]
