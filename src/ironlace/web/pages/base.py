"""A base for the machine: outline and silhouettes from photographs, height, leans, drawings."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from fastapi import APIRouter, Depends
from numpy.typing import NDArray
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from ironlace.evidence.analyses import AskedError, asked_fields
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.record import FindingEntry, Record
from ironlace.stand.base_analysis import BASE, BaseAnswered
from ironlace.stand.base_moved import (
    base_in_view,
    base_moved,
    feet_in_words,
    feet_of_words,
    turning_in_view,
    view_boxes,
)
from ironlace.stand.base_shape import bed_polygon
from ironlace.stand.bed_outline import mended, points_csv, simplified
from ironlace.stand.errors import StandError
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import FormDep, read_json, token_in_header
from ironlace.web.manners import FILE_POLICY, PICTURED_POLICY
from ironlace.web.pages.analyses import answer_context, as_typed, just_worked, recalled
from ironlace.web.pages.files import attachment, paper_named
from ironlace.web.pages.lenses import lens_choices
from ironlace.web.rendering import page
from ironlace.workshop import analyses as kept
from ironlace.workshop.worked_out import WorkedOut

router = APIRouter()
Row = dict[str, str]

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("What you mean to build", ("ledge", "overhang", "wall", "floor", "below", "beside", "feet_in",
                                "feet", "density", "friction")),
    ("The bed's outline", ("strip", "rim_above", "seen_from", "outline", "holes", "lens",
                            "layout")),
    ("The works below the seat", ("works",)),
    ("The weighing", ("left", "right", "apart_x", "front", "back", "apart_y", "tilt", "tilted",
                      "other_tilt", "other_tilted", "whole", "scatter")),
    ("Or mass and centre, where they are known", ("mass", "centre_x", "centre_y", "centre_z")),
    ("The crank", ("crank_radius", "crank_height", "crank_x", "crank_y", "handle_radius",
                   "knuckles", "force", "turning")),
    ("A second base beside it", ("other_overhang", "other_below")),
)  # fmt: skip
"""The fields of the form, by what one has in hand."""
_LEAST_NODES, _MOST_NODES = 8, 20_000
"""Places of an outline that a script may send: a photograph's has some thousand."""
_MOST_PX = 100_000.0
"""Of a photograph (a judgement)."""
VIEWS = (("front", "From the front"), ("side", "From the sewer's right"))
"""The views in which a silhouette is touched."""


@router.get(addresses.base("{slug}"))
def show(request: Request, bench: BenchDep, slug: str) -> Response:
    """Show the form, filled in with what the kept base was worked out from."""
    record = bench.records.read(slug)
    standing = kept.kept_finding(record, BASE)
    values = as_typed(BASE, standing[1]) if standing is not None else {}
    return _page(request, bench, record, values, standing=standing)


@router.post(addresses.base("{slug}"))
def work(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Work the base out, or keep what was worked out; or show other photographs."""
    record = bench.records.read(slug)
    values = {one.name: form.one(one.name).strip() for one in asked_fields(BASE.asked)}
    do = form.one("do")
    if do == "show":
        for view, _ in VIEWS:  # touches belong to the photograph that they were made on
            if form.one(f"{view}_touched_on") != values[f"{view}_photograph"]:
                values[f"{view}_touches"] = ""
        return _page(request, bench, record, values)
    try:
        worked = just_worked(bench, record, BASE, kept.asked_for(BASE, record, values))
        if do != "keep":
            return _page(request, bench, record, values, worked=worked)
        name = kept.keep(bench.workshop, slug, worked, hand)
    except IronlaceError as error:
        field = error.field if isinstance(error, AskedError) else ""
        return _page(request, bench, record, values, says=str(error), at_field=field)
    return RedirectResponse(addresses.base(slug, kept=name), 303)


@router.get(addresses.base_sheet("{slug}", "{at}", "{paper}"))
def sheet(bench: BenchDep, slug: str, at: str, paper: str) -> Response:
    """Hand over the true-scale drawing on paper."""
    from ironlace.dossier.print.base_sheet import base_pdf

    known = paper_named(paper)
    made = base_pdf(_recalled(bench, slug, at).found, known)
    headers = {
        "content-disposition": attachment(f"{slug}-base-{known}.pdf"),
        "content-security-policy": FILE_POLICY,
    }
    return Response(made, media_type="application/pdf", headers=headers)


@router.get(addresses.base_moved("{slug}", "{at}"))
def moved(
    bench: BenchDep, slug: str, at: str, overhang: float, below: float, feet: str
) -> Response:
    """Tell what other feet, overhang or height would give: nothing is read again, nothing kept."""
    first = _recalled(bench, slug, at).machines[0]
    found = base_moved(first.found, overhang, below, feet_of_words(feet))
    return JSONResponse(base_in_view(replace(first, found=found)))


@router.get(addresses.base_outline("{slug}", "{at}"))
def outline(bench: BenchDep, slug: str, at: str) -> Response:
    """Show the outline found on its photograph."""
    from ironlace.dossier.print.outline_picture import outline_picture_svg

    found = _recalled(bench, slug, at)
    if found.outline is None or found.picture is None:
        raise NotFoundError("This outline was pasted: there is no photograph of it.")
    body = outline_picture_svg(found.outline, found.picture)
    headers = {"content-security-policy": PICTURED_POLICY}
    return Response(body, media_type="image/svg+xml", headers=headers)


@router.post(addresses.base_mended("{slug}", "{at}"), dependencies=[Depends(token_in_header)])
async def mended_by_hand(request: Request, bench: BenchDep, slug: str, at: str) -> Response:
    """Tell an outline that a hand moved on its photograph, or how far two places lie apart."""
    found = _recalled(bench, slug, at).outline
    if found is None:
        raise NotFoundError("This outline was pasted: there is no photograph of it.")
    told = await read_json(request, bench.limits)
    px = _pixels(told.get("px"))
    places = found.on_sheet(px)
    if told.get("measure") is True:
        return JSONResponse({"mm": float(np.linalg.norm(places[-1] - places[0]))})
    if len(px) < _LEAST_NODES:
        raise StandError(f"An outline of {len(px)} places holds no bed: give it more.")
    ring = mended(found, simplified(places))
    if told.get("mirror") is True:
        ring = ring[::-1] * [-1.0, 1.0]
    bed_polygon(ring)  # refuses one that crosses itself
    return JSONResponse({"outline": points_csv(ring)})


def _pixels(told: object) -> NDArray[np.float64]:
    """Places that a script sent, shape (n, 2); raises StandError when they are none."""
    try:
        px = np.asarray(told, dtype=np.float64)
    except (TypeError, ValueError):
        px = np.empty(0)
    if px.ndim != 2 or px.shape[1] != 2 or not 2 <= len(px) <= _MOST_NODES:
        raise StandError("What was sent is no outline: reload the page and try again.")
    if not np.all(np.abs(px) < _MOST_PX):
        raise StandError("A place lies far outside the photograph: move it back.")
    return px


def _recalled(bench: Bench, slug: str, at: str) -> BaseAnswered:
    found: BaseAnswered = recalled(bench, slug, BASE.key, at, "base").found
    return found


def _nodes(answered: BaseAnswered) -> dict[str, Any] | None:
    """The outline that was found, in pixels, for a hand to move; None where it was pasted."""
    if answered.outline is None or answered.picture is None:
        return None
    high, wide = answered.picture.shape[:2]
    ring = np.round(answered.outline.ring_px, 1).tolist()
    return {"ring": ring, "wide": wide, "high": high}


def _moves(answered: BaseAnswered) -> dict[str, Any]:
    """What the page moves: plan and elevations as they stand, and all round the wheel."""
    first = answered.machines[0]
    view = base_in_view(first)
    return {
        "view": view,
        "boxes": view_boxes(first),
        "turning": turning_in_view(first),
        "feet": feet_in_words(first.found.case.base.feet),
    }


def _page(
    request: Request,
    bench: Bench,
    record: Record,
    values: Mapping[str, str],
    *,
    standing: tuple[str, FindingEntry] | None = None,
    worked: WorkedOut | None = None,
    says: str = "",
    at_field: str = "",
) -> Response:
    context = answer_context(
        request, bench, record, BASE, standing, worked, says=says, at_field=at_field
    )
    known = dict(context["photographs"])
    asked = {one.name: one for one in asked_fields(BASE.asked)}
    filled = {name: one.as_typed(one.default) for name, one in asked.items()} | dict(values)
    views: list[dict[str, Any]] = []
    for view, called in VIEWS:
        name = filled[f"{view}_photograph"]
        shown = known.get(name)
        views.append(
            {
                "key": view,
                "called": called,
                "photograph": shown,
                "name": name,
                "original": bench.photographs.original(shown.sha256) if shown else None,
                "fields": [asked[f"{view}_upright"], asked[f"{view}_seat"]],
                "touches": filled[f"{view}_touches"],
            }
        )
    return page(
        request,
        "base_of_machine.html",
        **context,
        lenses=lens_choices(bench),
        values=filled,
        groups=[
            (words, [asked[name] for name in names], at_field in names or _open(names, values))
            for words, names in GROUPS
        ],
        views=views,
        nodes=_nodes(worked.found) if worked else None,
        moves=_moves(worked.found) if worked else None,
    )


def _open(names: tuple[str, ...], values: Mapping[str, str]) -> bool:
    """Whether a group of fields stands open: what to build, and what is needed and not there."""
    if "ledge" in names:
        return True
    if "outline" in names:
        return not values.get("outline") and not values.get("rim_above")
    return "works" in names and not values.get("works")
