"""Ornament: the strip to print, tracing a photograph, the drawings that came of it."""

import json
import re
from collections.abc import Iterable, Sequence
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.analyses import AskedError, asked_as_dict, asked_from
from ironlace.evidence.errors import NotFoundError
from ironlace.evidence.quantities import Measured
from ironlace.ornament.trace_asked import (
    ASKED_SURFACE_WORDS,
    HOW_WORDS,
    SHOWS_WORDS,
    TraceAsked,
    check_asked,
    check_inside,
)
from ironlace.photographs import Lens
from ironlace.photographs.scale_strip import PIECE_WORDS
from ironlace.record import DrawingEntry, EntryKind, Photograph, PhotographRole
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep
from ironlace.web.incoming import Form, FormDep
from ironlace.web.manners import FILE_POLICY
from ironlace.web.pages.files import attachment, paper_named, tagged
from ironlace.web.pages.jobs import under_way
from ironlace.web.rendering import page
from ironlace.workshop.ornament.lenses import kept_lens, kept_lenses
from ironlace.workshop.ornament.tracing import strip_in
from ironlace.workshop.store.photographs import Original

router = APIRouter()
COLOURS = ("red", "green", "blue", "white")
POINTED = ("gilt", "ground", "region", "axis", "step", "card")
"""Fields of places pointed at, one a line."""
BY_ITS_MARKERS = "by its markers"
"""Which strip lies in the picture is told by the numbers of its markers."""
PAPERS = {"a4": "A4", "letter": "Letter"}
_SHOWN = 60
"""Photographs of ornament shown on the page, the latest."""
_OTHERS = 40
"""Further photographs offered to a trace, the latest."""


@router.get(addresses.ornament("{slug}"))
def ornament(request: Request, bench: BenchDep, slug: str) -> Response:
    """Show how to photograph ornament, what can be traced, what was drawn."""
    record = bench.records.read(slug)
    pictures = [(n, p) for n, p in record.of(Photograph)]
    of_ornament = [x for x in pictures if x[1].role is PhotographRole.ORNAMENT]
    return page(
        request,
        "ornament.html",
        record=record,
        pieces=PIECE_WORDS,
        papers=PAPERS,
        pictures=of_ornament[: -_SHOWN - 1 : -1],
        others=[x for x in pictures[::-1] if x[1].role is not PhotographRole.ORNAMENT][:12],
        drawings=list(record.of(DrawingEntry))[::-1],
        jobs=[job for job in under_way(bench, slug, "trace") if not job.state.ended],
    )


@router.get(addresses.strip("{piece}", "{paper}"))
def strip(piece: str, paper: str) -> Response:
    """Hand over a scale strip, or the lens chart, to print at true scale."""
    if piece not in (*PIECE_WORDS, "chart") or paper not in PAPERS:
        raise NotFoundError(f"There is no strip '{piece[:20]}' on '{paper[:20]}'.")
    from ironlace import __version__
    from ironlace.dossier import strip_pdf
    from ironlace.photographs.scale_strip import strip_sheet, strip_svg

    sheet = strip_sheet(piece)  # type: ignore[arg-type]  # it was looked up above
    svg = strip_svg(sheet, "Letter" if paper == "letter" else "A4")
    pdf = strip_pdf(
        svg,
        paper="letter" if paper == "letter" else "a4",
        made=f"Ironlace {__version__}",
        chart=piece == "chart",
    )
    return Response(
        pdf,
        media_type="application/pdf",
        headers={
            "content-disposition": attachment(
                f"{'lens' if piece == 'chart' else 'scale-strip'}-{piece}-{paper}.pdf"
            ),
            "content-security-policy": FILE_POLICY,
        },
    )


@router.get(addresses.trace("{slug}", "{key}"))
def trace_form(request: Request, bench: BenchDep, slug: str, key: int, after: int = 0) -> Response:
    """Show the photograph to be traced; after a refused trace with what was said of it."""
    name, photograph = _photograph(bench, slug, key)
    piece = photograph.strip if photograph.strip in PIECE_WORDS else BY_ITS_MARKERS
    values, refused = {"strip": piece, "mirror": "yes", "upright": "yes"}, ""
    if after:
        job = bench.jobs.get(after)
        if job.slug == slug and job.task == "trace" and job.asked.get("photograph") == name:
            values |= _values_of(job.asked) | _values_of_others(job.asked, bench)
            refused = job.error
    return _trace_page(request, bench, slug, key, values, says=refused, no_strip=bool(refused))


@router.post(addresses.trace("{slug}", "{key}"))
def start_trace(request: Request, bench: BenchDep, form: FormDep, slug: str, key: int) -> Response:
    """Ask for the ornament of a photograph to be traced."""
    name, photograph = _photograph(bench, slug, key)
    original = bench.photographs.original(photograph.sha256)
    try:
        asked = _asked(bench, form, name, photograph, original)
    except AskedError as error:
        values = {field: value for field, value in form.fields if field != "token"}
        values["other"] = "\n".join(form.many("other"))
        return _trace_page(
            request,
            bench,
            slug,
            key,
            values,
            says=str(error),
            status=422,
            no_strip=error.field == "strip",
        )
    number = bench.jobs.ask("trace", asked_as_dict(asked), slug)
    return RedirectResponse(addresses.job(number), 303)


@router.get(addresses.drawing_flat("{slug}", "{key}"))
def flat(request: Request, bench: BenchDep, slug: str, key: int) -> Response:
    """Serve the flattened photograph under a drawing."""
    from ironlace.workshop.ornament.drawings import flat_view

    return tagged(flat_view(bench.workshop, slug, f"drawing {key}"), request, "image/jpeg")


@router.get(addresses.drawing_film("{slug}", "{key}", "{kind}"))
def film(request: Request, bench: BenchDep, slug: str, key: int, kind: str) -> Response:
    """Hand over a drawing as a film positive."""
    from ironlace.ornament import drawing_from_svg
    from ironlace.ornament.files.drawing_film import film_of_drawing
    from ironlace.workshop.ornament.drawings import drawing_svg

    if kind not in ("png", "tiff"):
        raise NotFoundError(f"There is no film '{kind[:10]}': use png or tiff.")
    asked = request.query_params.get("dpi", "1200")
    dpi = int(asked) if asked.isdecimal() and len(asked) < 6 else 0
    drawing = drawing_from_svg(drawing_svg(bench.workshop, slug, f"drawing {key}"))
    return Response(
        b"".join(film_of_drawing(drawing, dpi, kind=kind)),
        media_type=f"image/{kind}",
        headers={
            "content-disposition": attachment(f"{slug}-drawing-{key}-{dpi}dpi.{kind}"),
            "content-security-policy": FILE_POLICY,
        },
    )


@router.get(addresses.drawing_wrapped("{slug}", "{key}"))
def wrapped(request: Request, bench: BenchDep, slug: str, key: int) -> Response:
    """Show a drawing as it will look on its arm or pillar."""
    from ironlace.ornament import drawing_from_svg
    from ironlace.ornament.files.wrapped import wrapped_svg
    from ironlace.photographs import Placing, Round
    from ironlace.workshop.ornament.drawings import camera_of, drawing_named, drawing_svg

    name = f"drawing {key}"
    camera = camera_of(drawing_named(bench.workshop, slug, name))
    surface = Placing.of_camera(camera).surface if isinstance(camera, dict) else None
    if not isinstance(surface, Round):
        raise NotFoundError(f"{name} lies on no arm or pillar: there is nothing to wrap it on.")
    asked = request.query_params.get("turn", "0")
    turn = float(asked) if re.fullmatch(r"-?\d{1,3}", asked) else 0.0
    text = wrapped_svg(drawing_from_svg(drawing_svg(bench.workshop, slug, name)), surface, turn)
    return Response(
        text, media_type="image/svg+xml", headers={"content-security-policy": FILE_POLICY}
    )


@router.get(addresses.proof("{slug}", "{key}"))
def proof(request: Request, bench: BenchDep, slug: str, key: int) -> Response:
    """Show a drawing laid back on its photograph."""
    from ironlace.workshop.ornament.drawings import drawing_named, proof_of

    name = f"drawing {key}"
    entry = drawing_named(bench.workshop, slug, name)
    with bench.making(entry.svg):
        told, _ = proof_of(bench.workshop, slug, name)
    return page(
        request,
        "proof.html",
        record=bench.records.read(slug),
        name=name,
        key=key,
        entry=entry,
        told=told,
    )


@router.get(addresses.proof_picture("{slug}", "{key}"))
def proof_picture(request: Request, bench: BenchDep, slug: str, key: int) -> Response:
    """Serve the picture of a drawing on its photograph."""
    from ironlace.workshop.ornament.drawings import drawing_named, proof_of

    name = f"drawing {key}"
    with bench.making(drawing_named(bench.workshop, slug, name).svg):
        _, place = proof_of(bench.workshop, slug, name)
    return tagged(place, request, "image/jpeg")


@router.get(addresses.drawing_svg("{slug}", "{key}"))
def svg(request: Request, bench: BenchDep, slug: str, key: int) -> Response:
    """Serve a drawing in millimetres."""
    from ironlace.workshop.ornament.drawings import drawing_svg

    headers = {"content-security-policy": FILE_POLICY}
    if request.query_params.get("save"):
        headers["content-disposition"] = attachment(f"{slug}-drawing-{key}.svg")
    text = drawing_svg(bench.workshop, slug, f"drawing {key}")
    return Response(text, media_type="image/svg+xml", headers=headers)


@router.get(addresses.drawing_pdf("{slug}", "{key}", "{paper}"))
def pdf(bench: BenchDep, slug: str, key: int, paper: str) -> Response:
    """Hand over a drawing at true scale."""
    from ironlace.workshop.ornament.drawings import drawing_pdf

    content = drawing_pdf(bench.workshop, slug, f"drawing {key}", paper_named(paper))
    return Response(
        content,
        media_type="application/pdf",
        headers={
            "content-disposition": attachment(f"{slug}-drawing-{key}-{paper}.pdf"),
            "content-security-policy": FILE_POLICY,
        },
    )


def _trace_page(
    request: Request,
    bench: Bench,
    slug: str,
    key: int,
    values: dict[str, str],
    *,
    says: str = "",
    no_strip: bool = False,
    status: int = 200,
) -> Response:
    name, photograph = _photograph(bench, slug, key)
    original = bench.photographs.original(photograph.sha256)
    lenses = kept_lenses(bench.workshop)
    return page(
        request,
        "trace.html",
        status=status,
        record=bench.records.read(slug),
        name=name,
        key=key,
        photograph=photograph,
        original=original,
        pieces=PIECE_WORDS,
        by_its_markers=BY_ITS_MARKERS,
        surfaces=ASKED_SURFACE_WORDS,
        hows=HOW_WORDS,
        colours=COLOURS,
        shows=SHOWS_WORDS,
        others=_others(bench, slug, key),
        lenses=lenses,
        lenses_that_fit=[lens.number for lens in lenses if lens.fits(original)],
        chosen_others=set(values.get("other", "").split("\n")) - {""},
        values=values,
        says=says,
        no_strip=no_strip,
    )


def _values_of(asked: dict[str, Any]) -> dict[str, str]:  # dict: as kept in JSON
    """The fields of the form as a request had them, so that nothing is marked twice."""
    values = {
        field: str(asked[field])
        for field in ("how", "surface", "tolerance_mm", "radius_mm", "dpi", "layout_csv")
        if asked.get(field)
    }
    if (strip := asked.get("strip_mm")) is not None:
        values["strip_mm"] = str(Measured(strip["value"], strip["unit"], strip.get("error")))
    if values.get("tolerance_mm") == str(TraceAsked.tolerance_mm):
        del values["tolerance_mm"]
    ticked = ("mirror", "repeat", "upright")
    values |= {field: "yes" if asked.get(field) else "" for field in ticked}
    colours = {f"colour-{name}": places for name, places in (asked.get("colours") or {}).items()}
    for field, places in {
        **{field: asked.get(field) for field in (*POINTED, "measured")},
        **colours,
    }.items():
        if places:
            values[field] = _lines_of(places)
    return values


def _lines_of(places: Iterable[Sequence[float]]) -> str:
    """Places as the form takes them, one a line."""
    return "\n".join(", ".join(f"{v:g}" for v in place) for place in places)


def _values_of_others(
    asked: dict[str, Any],  # dict: as kept in JSON
    bench: Bench,
) -> dict[str, str]:
    """The form's fields on the lens and on further photographs, as a request had them."""
    lenses = {
        Lens.from_json(json.dumps(lens.told)).to_json(): str(lens.number)
        for lens in kept_lenses(bench.workshop)
    }

    def number_of(told: Any) -> str:
        return lenses.get(Lens.from_json(json.dumps(told)).to_json(), "")

    values = {"lens": number_of(asked["lens"]) if asked.get("lens") else ""}
    others = asked.get("others") or []
    values["other"] = "\n".join(one["photograph"] for one in others)
    for one in others:
        name, lens = one["photograph"], one.get("lens", "same")
        values |= {
            f"shows {name}": one.get("shows", ""),
            f"called {name}": one.get("called", ""),
            f"lens {name}": lens if isinstance(lens, str) else number_of(lens) or "estimated",
            f"measured {name}": _lines_of(one.get("measured") or ()),
        }
    return values


def _others(bench: Bench, slug: str, key: int) -> list[tuple[str, Photograph]]:
    """Further photographs of ornament, the last taken in first."""
    mine = f"{EntryKind.PHOTOGRAPH.value} {key}"
    found = [
        (name, photograph)
        for name, photograph in bench.records.read(slug).of(Photograph)
        if photograph.role is PhotographRole.ORNAMENT and name != mine
    ]
    return found[: -_OTHERS - 1 : -1]


def _photograph(bench: Bench, slug: str, key: int) -> tuple[str, Photograph]:
    name = f"{EntryKind.PHOTOGRAPH.value} {key}"
    entry = bench.records.read(slug).named(name)
    assert isinstance(entry, Photograph)
    return name, entry


def _lens(bench: Bench, chosen: str) -> dict[str, Any] | None:
    if not chosen:
        return None
    if not chosen.isdecimal():
        raise AskedError("That is no lens: choose one of the list.", "lens")
    return kept_lens(bench.workshop, int(chosen)).told


def _asked(
    bench: Bench, form: Form, name: str, photograph: Photograph, original: Original
) -> TraceAsked:
    """What the form asks for.

    Raises AskedError when something of it cannot be used.
    """
    how, strip = form.one("how", "strip"), form.one("strip")
    layout = form.one("layout_csv") if how == "strip" else ""
    if strip == BY_ITS_MARKERS and layout.strip():
        strip = "frame"  # the layout given stands in its place
    elif strip == BY_ITS_MARKERS:
        # where no strip gives the measure none is looked for; any stands in its place
        strip = strip_in(bench.workshop, photograph) if how == "strip" else "frame"
    given: dict[str, Any] = {
        "photograph": name,
        "how": how,
        "strip": strip,
        "layout_csv": layout.strip(),
        "strip_mm": form.one("strip_mm") if how == "strip" else "",
        "surface": form.one("surface"),
        "mirror": bool(form.one("mirror")),
        "repeat": bool(form.one("repeat")),
        "upright": bool(form.one("upright")),
        "tolerance_mm": form.one("tolerance_mm"),
        "lens": _lens(bench, form.one("lens")),
        "others": [_other(bench, form, one, how) for one in form.many("other") if one != name],
        **{field: form.one(field) for field in POINTED},
        "colours": {
            colour: form.one(f"colour-{colour}")
            for colour in COLOURS
            if form.one(f"colour-{colour}").strip()
        },
    }
    # what belongs to another way to measure may stand in the form, and is not meant
    if how in ("strip", "points"):  # beside a strip they tell whether it is true to its size
        given["measured"] = form.one("measured")
    if how == "points":
        given["radius_mm"] = form.one("radius_mm")
    if how in ("scan", "rubbing"):
        given["dpi"] = form.one("dpi")
    asked = asked_from(TraceAsked, given)
    check_asked(asked)
    check_inside(asked, original.width or 0, original.height or 0)
    return asked


def _other(bench: Bench, form: Form, other: str, how: str) -> dict[str, Any]:
    """What the form says of a further photograph."""
    lens = form.one(f"lens {other}", "same")
    return {
        "photograph": other,
        "shows": form.one(f"shows {other}", "machine"),
        "called": form.one(f"called {other}"),
        "lens": lens if lens in ("same", "estimated") else _lens(bench, lens),
        "measured": form.one(f"measured {other}") if how == "points" else "",
    }
