"""Stencil sheets of a drawing: planned, looked at, their bridges moved, taken along."""

import math
import re
from dataclasses import replace
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response, StreamingResponse

from ironlace import __version__
from ironlace.care.cautions import process_cautions
from ironlace.dossier.print.laying_pdf import laying_pdf
from ironlace.dossier.print.true_scale import true_scale_pdf
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.ornament.stencils import (
    BridgeLine,
    Hold,
    ProcessError,
    SheetsAsked,
    SheetSet,
    film_png,
    first_asked,
    known_process,
    known_processes,
    places_for,
    process_from_card,
    process_toml,
    read_filled,
    sheet_set,
    surface_of,
)
from ironlace.ornament.stencils.cut.trial_card import CardReading, trial_card_svg
from ironlace.ornament.stencils.files import MEDIA_TYPES, files_of, tiled, zipped
from ironlace.ornament.stencils.process import OWN_CARD, VALUE_RULES, Process
from ironlace.record import DrawingEntry
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import Form, FormDep
from ironlace.web.manners import FILE_POLICY
from ironlace.web.pages.analyses import OWN_PAGES
from ironlace.web.pages.files import attachment, paper_named
from ironlace.web.pages.jobs import under_way
from ironlace.web.rendering import page
from ironlace.workshop.ornament.drawings import drawing_named, drawing_svg
from ironlace.workshop.stencils import bridge_edits
from ironlace.workshop.stencils.sheets_kept import filled_drawing, finding_of
from ironlace.workshop.stencils.stencilling import (
    gone_through,
    keep_asked,
    kept_sheets,
    planned,
    remembered_as,
    step_back,
    takes_long,
)

router = APIRouter()
OWN_PAGES["sheets"] = addresses.machine
HOLDS: dict[Hold, str] = {
    "bridges": "bridges: one sheet for each colour; what they cover is touched in by hand",
    "split": "split sheets: what the bridges of one cover is laid through the next",
    "mask": "a mask stuck down: film with adhesive, carried over by transfer tape, no bridges",
}
SURFACES = {
    "plane": "flat",
    "cylinder": "round and even, such as a pillar",
    "cone": "round and tapering, such as an arm",
}
MEASURES = {
    "radius_mm": "the radius",
    "axis_deg": "the direction of the axis",
    "half_angle_deg": "the half angle",
    "x_mm": "the place of the radius across",
    "y_mm": "the place of the radius down",
    "crown_mm": "the radius of the curve along the axis",
}
JUDGED = "own judgement"
SOURCES = {OWN_CARD: "my own test card", JUDGED: "my own judgement"}
CARD = {
    "finest_line_mm": "finest line clean, mm",
    "finest_web_mm": "finest web whole, mm",
    "longest_tongue_mm": "longest tongue flat, mm",
    "finest_disc_mm": "finest disc round (its diameter), mm",
    "square_hole_mm": "hole of the 20 mm square, mm",
    "square_piece_mm": "piece that fell out of it, mm",
    "paint_spread_mm": "paint crept under the edge, mm (if measured)",
}
SECTIONS = {
    "material": "Material",
    "cut": "Cutting",
    "hold": "Holding",
    "laying": "Laying",
    "times": "Times",
    "mesh": "Mesh",
}
PAPERS = {"a4": "A4", "letter": "Letter"}
FILM_DPI = (1200, 2400)
"""What film setters and good laser printers put out (common practice, no source)."""

_SHOWN = 150
"""Rows of a table that stand open on the page; the CSV has all (judged; no source)."""

MOST_ISLANDS = 600
"""Up to so many a change to one bridge is awaited; the drawing was looked at before."""
_NUMBER = re.compile(r"-?\d+(?:[.,]\d+)?(?:e-?\d+)?\Z", re.IGNORECASE)


class SheetFormError(IronlaceError):
    """A field of the page cannot be read."""

    http_status = 422


@router.get(addresses.sheets("{slug}", "{key}"))
def sheets(request: Request, bench: BenchDep, slug: str, key: int) -> Response:
    """Show what was asked of a drawing's sheets and what came of it."""
    asked = _asked_now(bench, slug, key)
    offered = asked or first_asked(f"drawing {key}")
    both = bool(request.query_params.get("both"))
    if asked is not None:
        _ahead_of_a_change(bench, slug, asked)
    return _page(request, bench, slug, key, asked, offered, both=both)


@router.post(addresses.sheets("{slug}", "{key}"))
def plan(
    request: Request, bench: BenchDep, hand: HandDep, form: FormDep, slug: str, key: int
) -> Response:
    """Plan the sheets as the form asks."""
    before = _asked_now(bench, slug, key)
    offered = before or first_asked(f"drawing {key}")
    try:
        asked = _asked(form, offered)
        surface_of(asked.surface)
        if takes_long(bench.workshop, slug, asked):
            number = bench.jobs.ask("sheets", {**asked.as_dict(), "by": hand}, slug)
            if form.one("hold") == "both":
                _ask_beside(bench, slug, asked, hand)
            return RedirectResponse(addresses.job(number), 303)
        made = _planned(bench, slug, asked)
    except IronlaceError as error:
        values = {name: value for name, value in form.fields if name != "token"}
        return _page(
            request, bench, slug, key, before, offered, says=str(error), values=values, status=422
        )
    keep_asked(bench.workshop, slug, made, hand)
    if form.one("hold") == "both":
        return _beside(bench, slug, key, asked, hand)
    return RedirectResponse(addresses.sheets(slug, key) + "#plan", 303)


def _beside(bench: Bench, slug: str, key: int, asked: SheetsAsked, by: str) -> Response:
    """Show the other way beside the one asked for; a large one is planned as work first."""
    number = _ask_beside(bench, slug, asked, by)
    if number:
        return RedirectResponse(addresses.job(number), 303)
    return RedirectResponse(addresses.sheets(slug, key, both="yes") + "#plan", 303)


def _ask_beside(bench: Bench, slug: str, asked: SheetsAsked, by: str) -> int | None:
    """Ask for the other way to be planned, only to be looked at; None when it is quickly done."""
    other = _other(asked)
    if not takes_long(bench.workshop, slug, other):
        return None
    standing = _looking_at(bench, slug, other)
    if standing is not None:
        return standing
    told = {**other.as_dict(), "by": by, "only_look": True}
    return int(bench.jobs.ask("sheets", told, slug))


def _looking_at(bench: Bench, slug: str, other: SheetsAsked) -> int | None:
    """The work under way that plans exactly these sheets to be looked at, if there is any."""
    wanted = other.as_dict()
    for job in under_way(bench, slug, "sheets"):
        told = {name: job.asked.get(name) for name in wanted}
        if not job.state.ended and job.asked.get("only_look") and told == wanted:
            return job.id
    return None


@router.post(addresses.sheets_do("{slug}", "{key}"))
def do(bench: BenchDep, hand: HandDep, form: FormDep, slug: str, key: int) -> Response:
    """Pin, move or forbid a bridge, take a change back, or show the other way beside this one."""
    asked = _asked_now(bench, slug, key)
    if asked is None:
        raise NotFoundError(f"Drawing {key} has no sheets yet: plan them first.")
    back = RedirectResponse(addresses.sheets(slug, key) + "#plan", 303)
    what = form.one("do")
    if what in ("back", "undo"):  # as earlier pages called it
        step_back(bench.workshop, slug, f"drawing {key}", hand)
        return back
    if what == "both":
        return _beside(bench, slug, key, asked, hand)
    if what == "hold":
        changed = replace(asked, hold=_hold_of(form), kept=())
    else:
        changed = _edited(form, what, asked, _planned(bench, slug, asked))
    if takes_long(bench.workshop, slug, changed, MOST_ISLANDS):
        number = bench.jobs.ask("sheets", {**changed.as_dict(), "by": hand}, slug)
        return RedirectResponse(addresses.job(number), 303)
    made = _planned(bench, slug, changed)
    keep_asked(bench.workshop, slug, made, hand)
    return back


def _edited(form: Form, what: str, asked: SheetsAsked, made: SheetSet) -> SheetsAsked:
    """What is asked after one change to the bridges."""
    match what:
        case "lock":
            return bridge_edits.locked(asked, made, _line(form.one("bridge")))
        case "move":
            return bridge_edits.moved(
                asked, made, _line(form.one("bridge")), _line(form.one("place"))
            )
        case "forbid":
            return bridge_edits.forbidden(asked, made, _line(form.one("bridge")))
        case "forbid-place":
            told = {"x": "the place across", "y": "the place down", "radius": "its radius"}
            x, y, radius = (_float(form.one(n), words) for n, words in told.items())
            return bridge_edits.forbidden_place(asked, made, x, y, radius)
        case "allow":
            return bridge_edits.allowed_again(asked, made, form.number("number") or 0)
        case "anew":
            return bridge_edits.chosen_anew(asked)
    raise SheetFormError(f"'{what[:20]}' cannot be done to a bridge: use the buttons of the page.")


@router.get(addresses.sheets_places("{slug}", "{key}"))
def places(bench: BenchDep, slug: str, key: int, line: str = "") -> dict[str, Any]:
    """Tell a script where a bridge could be moved to, in order along its island's outline."""
    asked = _asked_now(bench, slug, key)
    if asked is None:
        raise NotFoundError(f"Drawing {key} has no sheets yet: plan them first.")
    text = drawing_svg(bench.workshop, slug, asked.drawing)
    drawing = bench.remembered(("filled", text), lambda: read_filled(text))
    here = BridgeLine(*_line(line))
    for layer in drawing.layers:
        found = places_for(layer.region, asked.of_process, here)
        if found:
            return {
                "places": [
                    {"line": [b.ax, b.ay, b.bx, b.by], "area_mm2": area} for b, area in found
                ]
            }
    return {"places": []}


@router.get(addresses.test_card())
def test_card() -> Response:
    """Hand over the test card."""
    headers = {
        "content-security-policy": FILE_POLICY,
        "content-disposition": attachment("test-card.svg"),
    }
    return Response(trial_card_svg(), media_type=MEDIA_TYPES["svg"], headers=headers)


@router.get(addresses.sheets_file("{slug}", "{key}", "{hold}", "{file}"))
def file(
    bench: BenchDep, slug: str, key: int, hold: str, file: str, film: int = 0, bed: str = ""
) -> Response:
    """Hand over one file of the sheets; all with film positives and parts for a bed if asked."""
    asked = _asked_now(bench, slug, key)
    if asked is None or hold not in HOLDS:
        raise NotFoundError(f"Drawing {key} has no such sheets: plan them first.")
    if hold != asked.hold:
        asked = _other(asked)
    made = _planned(bench, slug, asked)
    kind = file.rpartition(".")[2]
    headers = {"content-security-policy": FILE_POLICY}
    if kind != "svg":
        headers["content-disposition"] = attachment(f"{slug}-drawing-{key}-{hold}-{file}")
    media_type = MEDIA_TYPES.get(kind)
    if kind == "png":
        stem, _, dpi = file.removesuffix(".png").rpartition("-")
        if dpi not in map(str, FILM_DPI):
            raise NotFoundError(f"There is no film '{file[:30]}': use 1200 or 2400 dpi.")
        sheet = made.sheet(stem.removeprefix("sheet-"))
        return StreamingResponse(film_png(sheet, int(dpi)), media_type=media_type, headers=headers)
    content = _content(bench, slug, key, made, file, film, bed)
    return Response(content, media_type=media_type, headers=headers)


def _content(
    bench: Bench, slug: str, key: int, made: SheetSet, file: str, film: int, bed: str
) -> bytes:
    """One file of the set, all of it as the ZIP holds it, or a page at true scale."""
    files = list(
        files_of(
            made,
            film_dpi=film,
            tiles=tiled(made.sheets, bed),
            laying_pdf=lambda: _pdf(bench, slug, key, made, "laying-a4"),
        )
    )
    if file == "all.zip":
        return zipped(files)
    for one in files:
        if one.name == file:
            return one.content()
    stem, _, kind = file.rpartition(".")
    if kind != "pdf":
        made.sheet(stem.removeprefix("sheet-"))
        raise NotFoundError(f"There is no file '{file[:40]}' of these sheets.")
    return _pdf(bench, slug, key, made, stem)


def _pdf(bench: Bench, slug: str, key: int, made: SheetSet, stem: str) -> bytes:
    what, _, paper = stem.rpartition("-")
    on = paper_named(paper)
    title = f"{bench.records.read(slug).title}: drawing {key}"
    day = bench.records.changes(slug, f"drawing {key}")[-1].made_at
    printed = f"{day:%Y-%m-%d}, Ironlace {__version__}"
    if what == "laying":
        return laying_pdf(
            made.sheets,
            made.report,
            material=made.asked.of_process.material,
            falls_svg=made.falls_svg,
            flaws=made.flaws,
            surface=made.asked.surface,
            paper=on,
            title=f"{title}, laying sheet",
            made=printed,
        )
    if what == "falls":
        return true_scale_pdf(
            made.falls_svg, paper=on, title=f"{title}, what falls out", made=printed
        )
    sheet = made.sheet(what.removeprefix("sheet-"))
    return true_scale_pdf(sheet.svg(), paper=on, title=f"{title}, {sheet.title}", made=printed)


def _planned(bench: Bench, slug: str, asked: SheetsAsked) -> SheetSet:
    """The sheets, with the drawing as it was looked at kept in memory for the next change."""
    return planned(bench.workshop, slug, asked, remember=bench.remembered)


def _ahead_of_a_change(bench: Bench, slug: str, asked: SheetsAsked) -> None:
    """While large sheets are looked at that this process did not plan, go through them.

    Of the largest a change is work for another process, which this one cannot spare.
    """
    drawing = filled_drawing(bench.workshop, bench.records.read(slug), asked.drawing)
    key = remembered_as(drawing, asked)
    if bench.recall(key) is not None or not sheet_set.takes_long(drawing, asked):
        return
    if sheet_set.takes_long(drawing, asked, MOST_ISLANDS):
        return
    if kept_sheets(bench.workshop, slug, asked) is None:
        return  # they are to be planned first
    bench.ahead(key, lambda: gone_through(bench.workshop, drawing, asked, bench.remembered))


def _asked_now(bench: Bench, slug: str, key: int) -> SheetsAsked | None:
    drawing_named(bench.workshop, slug, f"drawing {key}")
    found = finding_of(bench.workshop, slug, f"drawing {key}")
    return None if found is None else found[1]


def _other(asked: SheetsAsked) -> SheetsAsked:
    """The same held the other way, its bridges chosen by the program but for those pinned."""
    return replace(asked, hold="bridges" if asked.hold == "split" else "split", kept=())


def _page(
    request: Request,
    bench: Bench,
    slug: str,
    key: int,
    asked: SheetsAsked | None,
    offered: SheetsAsked,
    *,
    both: bool = False,
    says: str = "",
    values: dict[str, str] | None = None,
    status: int = 200,
) -> Response:
    name = f"drawing {key}"
    record = bench.records.read(slug)
    entry = record.named(name)
    assert isinstance(entry, DrawingEntry)
    made, lost = None, False
    if asked is not None:
        lost = takes_long(bench.workshop, slug, asked)
        made = None if lost else _planned(bench, slug, asked)
    other, looking = None, None
    if made is not None and asked is not None:
        beside = _other(asked)
        if both and not takes_long(bench.workshop, slug, beside):
            other = _planned(bench, slug, beside)
        else:
            other = kept_sheets(bench.workshop, slug, beside)
        looking = None if other else _looking_at(bench, slug, beside)
    process = offered.of_process
    return page(
        request,
        "sheets.html",
        status=status,
        record=record,
        name=name,
        key=key,
        entry=entry,
        asked=asked,
        offered=offered,
        process=process,
        limits=_limits(process, values or {}),
        processes={n: known_process(n).name for n in known_processes()},
        matching=next((n for n in known_processes() if known_process(n).name == process.name), ""),
        sections=SECTIONS,
        holds=HOLDS,
        surfaces=SURFACES,
        sources=SOURCES,
        card=CARD,
        **_told(made),
        lost=lost,
        other=other,
        looking=looking,
        shown=_SHOWN,
        version=asked.fingerprint(entry.svg, __version__)[:16] if asked and made else "",
        values=values or {},
        says=says,
        papers=PAPERS,
        cautions=process_cautions(process.cautions),
    )


def _told(made: SheetSet | None) -> dict[str, Any]:
    """The plan, and what is told of it beside its picture."""
    return {
        "made": made,
        "table": made.table if made else [],
        "faults": made.faults if made else [],
    }


def _limits(process: Process, values: dict[str, str]) -> dict[str, list[dict[str, Any]]]:
    """The process's values by section, as the form shows them."""
    out: dict[str, list[dict[str, Any]]] = {}
    for key, rule in VALUE_RULES.items():
        value = getattr(process, key)
        if math.isnan(value):  # a mesh's value, which other processes have not
            continue
        out.setdefault(rule.section, []).append(
            {
                "key": key,
                "value": values.get(f"v-{key}", f"{value:g}"),
                "unit": rule.unit,
                "meaning": rule.meaning,
                "source": process.sources.get(key, "not stated"),
                "own": process.sources.get(key) in (OWN_CARD, JUDGED),
            }
        )
    return out


def _asked(form: Form, before: SheetsAsked) -> SheetsAsked:
    """What the form asks for."""
    shown = before.of_process
    chosen = form.one("process")
    process = shown
    if chosen in known_processes() and (
        form.one("as-shipped") or known_process(chosen).name != shown.name
    ):
        process = known_process(chosen)
    if not form.one("as-shipped"):
        process = _with_fields(form, shown, process)
    process = _with_card(form, process)
    hold = before.hold if form.one("hold") == "both" else _hold_of(form)
    trap = form.one("trap_mm")
    kind = form.one("surface", "plane")
    if kind not in SURFACES:
        raise SheetFormError(f"'{kind[:20]}' is not a shape of surface: choose one of the list.")
    surface: dict[str, float | str] | None = None
    if kind != "plane":
        surface = {"kind": kind}
        for field, words in MEASURES.items():
            if form.one(field):
                surface[field] = _float(form.one(field), words)
    return replace(
        before,
        process=process_toml(process),
        hold=hold,
        trap_mm=_float(trap, "how far colours run under one another") if trap else None,
        surface=surface,
        mirrored=bool(form.one("mirrored")),
        kept=(),
    )


def _hold_of(form: Form) -> Hold:
    """How islands are to be held; by bridges where it is not said."""
    return next((hold for hold in HOLDS if hold == form.one("hold")), "bridges")


def _with_fields(form: Form, shown: Process, process: Process) -> Process:
    """The process with the limits that were changed from those shown, and their source."""
    source = OWN_CARD if form.one("source") == OWN_CARD else JUDGED
    changed = {}
    for key in VALUE_RULES:
        text = form.one(f"v-{key}")
        if text and text != f"{getattr(shown, key):g}":
            changed[key] = _float(text, VALUE_RULES[key].meaning)
    return process.with_values(changed, source) if changed else process


def _with_card(form: Form, process: Process) -> Process:
    """The process with its limits set by a test card, if one was read."""
    told = {key: form.one(f"card-{key}") for key in CARD}
    given = {key: _float(text, CARD[key]) for key, text in told.items() if text}
    if not given:
        return process
    missing = [CARD[k] for k in CARD if k not in given and k != "paint_spread_mm"]
    if missing:
        raise ProcessError(f"The reading of the card lacks: {missing[0]}. Measure it too.")
    return process_from_card(process, CardReading(**given))


def _float(text: str, what: str) -> float:
    text = text.strip().replace("\u2212", "-")
    if not _NUMBER.match(text):
        raise SheetFormError(f"'{text[:20]}' for {what} is not a number: write it like 0.7.")
    return float(text.replace(",", "."))


def _line(text: str) -> list[float]:
    parts = [p for p in re.split(r"[\s,]+", text.strip()) if p]
    if len(parts) != 4:
        raise SheetFormError("A bridge is told by four numbers: its two ends, in mm.")
    return [_float(p, "the bridge") for p in parts]
