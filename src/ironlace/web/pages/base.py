"""A base for the machine: outline and silhouettes from photographs, height, leans, drawings."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from ironlace.care.cautions import Hazard
from ironlace.evidence.analyses import AskedError, asked_fields
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.record import FindingEntry, Photograph, Record
from ironlace.stand.base_analysis import BASE, BaseAnswered
from ironlace.stand.base_moved import (
    base_in_view,
    base_moved,
    feet_in_words,
    feet_of_words,
    turning_in_view,
    view_boxes,
)
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import FormDep
from ironlace.web.manners import FILE_POLICY, PICTURED_POLICY
from ironlace.web.pages.analyses import answer_at, as_typed, just_worked, recalled
from ironlace.web.pages.files import attachment, paper_named
from ironlace.web.pages.machines import kept_lines
from ironlace.web.rendering import page
from ironlace.workshop import analyses as kept
from ironlace.workshop.worked_out import WorkedOut

router = APIRouter()
Row = dict[str, str]

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("What you mean to build", ("ledge", "overhang", "wall", "floor", "below", "beside", "feet_in",
                                "feet", "density", "friction")),
    ("The bed's outline", ("strip", "rim_above", "seen_from", "outline", "layout")),
    ("The works below the seat", ("works",)),
    ("The weighing", ("left", "right", "apart_x", "front", "back", "apart_y", "tilt", "tilted",
                      "scatter")),
    ("Or mass and centre, where they are known", ("mass", "centre_x", "centre_y", "centre_z")),
    ("The crank", ("crank_radius", "crank_height", "crank_x", "crank_y", "handle_radius",
                   "knuckles", "force", "turning")),
    ("A second base beside it", ("other_overhang", "other_below")),
)  # fmt: skip
"""The fields of the form, by what one has in hand."""
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
    try:
        found = base_moved(first.found, overhang, below, feet_of_words(feet))
    except IronlaceError as error:
        return JSONResponse({"refused": str(error)}, 422)
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


def _recalled(bench: Bench, slug: str, at: str) -> BaseAnswered:
    found: BaseAnswered = recalled(bench, slug, BASE.key, at, "base").found
    return found


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
    photographs = list(record.of(Photograph))
    known = dict(photographs)
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
        status=422 if says else 200,
        record=record,
        analysis=BASE,
        values=filled,
        groups=[
            (words, [asked[name] for name in names], at_field in names or _open(names, values))
            for words, names in GROUPS
        ],
        views=views,
        photographs=photographs,
        worked=worked,
        answer_at=answer_at(worked) if worked else "",
        moves=_moves(worked.found) if worked else None,
        standing=standing,
        stale=kept.stale(bench.workshop, record, standing[1].finding) if standing else "",
        hazards=[Hazard(key) for key in BASE.hazards],
        says=says,
        at_field=at_field,
        kept=kept_lines(record, request.query_params.get("kept", "")),
    )


def _open(names: tuple[str, ...], values: Mapping[str, str]) -> bool:
    """Whether a group of fields stands open: what to build, and what is needed and not there."""
    if "ledge" in names:
        return True
    if "outline" in names:
        return not values.get("outline") and not values.get("rim_above")
    return "works" in names and not values.get("works")
