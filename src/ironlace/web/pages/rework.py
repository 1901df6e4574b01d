"""A drawing at the bench: changed by hand, each change kept as it is made and open to be undone."""

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Depends
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from ironlace.evidence.grades import Grade
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep, bench_of, hand_of
from ironlace.web.incoming import FormDep, FormError, read_json, token_in_header
from ironlace.web.rendering import page
from ironlace.workshop.ornament.drawings import drawing_named, flat_place
from ironlace.workshop.ornament.rework import (
    OnTheBench,
    bring_back,
    find_mirror_axis,
    give_up,
    keep_rework,
    make_again,
    make_change,
    on_the_bench,
    preview_twin,
    take_back,
)

router = APIRouter()
_MOST_SVG_BYTES = 40_000_000
"""Of a drawing that comes back edited. A bound on what is read at once."""


@router.get(addresses.rework("{slug}", "{key}"))
def rework(request: Request, bench: BenchDep, slug: str, key: int) -> Response:
    """Show a drawing at the bench."""
    from ironlace.ornament.gather.flecks import FLECK

    name = f"drawing {key}"
    entry = drawing_named(bench.workshop, slug, name)
    stands = _stands(bench, slug, name)
    return page(
        request,
        "rework.html",
        record=bench.records.read(slug),
        name=name,
        key=key,
        entry=entry,
        stands=stands,
        layers=list(stands.work.colours) or ["gold"],
        has_flat=flat_place(bench.workshop, entry.svg).is_file(),
        bridges=_bridges(stands),
        fleck=FLECK,
        Grade=Grade,
    )


@router.get(addresses.rework_state("{slug}", "{key}"))
def state(bench: BenchDep, slug: str, key: int) -> Response:
    """Hand over the drawing with all its changes, for the page's script."""
    from ironlace.ornament.by_hand.workpiece import path_as_dict

    stands = _stands(bench, slug, f"drawing {key}")
    return JSONResponse(
        {
            **_how_it_stands(stands),
            "bounds": list(stands.work.bounds_mm),
            "colours": {k: list(v) for k, v in stands.work.colours.items()},
            "dashes": {str(g): list(g.dash_mm) for g in Grade},
            "axis": stands.axis,
            "bridges": [dict(b) for b in stands.bridges],
            "blind": [place.told() for place in stands.work.blind],
            "filled": [place.told() for place in stands.work.filled],
            "paths": {str(n): path_as_dict(p) for n, p in stands.work.paths.items()},
        }
    )


@router.post(addresses.rework_change("{slug}", "{key}"), dependencies=[Depends(token_in_header)])
async def change(request: Request, slug: str, key: int) -> Response:
    """Carry out one order; answer with what changed."""
    bench, by = bench_of(request), hand_of(request)
    asked = await read_json(request, bench.limits)
    name, serial = f"drawing {key}", str(asked.get("serial", ""))
    order = asked.get("order")
    if not isinstance(order, dict):
        raise FormError("An order is missing: reload the page, then do it again.")

    def make() -> Any:
        now = _remembered(bench, slug, name, serial)
        return make_change(bench.workshop, slug, name, order, serial, by=by, now=now)

    return await run_in_threadpool(_answer, bench, slug, name, make)


@router.post(addresses.rework_twin("{slug}", "{key}"), dependencies=[Depends(token_in_header)])
async def twin(request: Request, slug: str, key: int) -> Response:
    """Show what would be laid into a place from its like, and how it lies to what is seen."""
    bench = bench_of(request)
    asked = await read_json(request, bench.limits)
    name, serial = f"drawing {key}", str(asked.get("serial", ""))
    order = asked.get("order")
    if not isinstance(order, dict):
        raise FormError("An order is missing: reload the page, then do it again.")
    return await run_in_threadpool(_shown_twin, bench, slug, name, order, serial)


def _shown_twin(
    bench: Bench, slug: str, name: str, order: dict[str, Any], serial: str
) -> JSONResponse:
    from ironlace.ornament.by_hand.workpiece import path_as_dict

    now = _remembered(bench, slug, name, serial)
    shown, stands = preview_twin(bench.workshop, slug, name, order, serial, now)
    _remember(bench, slug, name, stands)
    return JSONResponse(
        {
            "outlines": [path_as_dict(p)["curves"] for p in shown.outlines],
            "misses": shown.fit.misses,
            "inferred": shown.fit.inferred,
            "says": shown.fit.says,
        }
    )


@router.post(addresses.rework_axis("{slug}", "{key}"), dependencies=[Depends(token_in_header)])
def axis(bench: BenchDep, slug: str, key: int) -> Response:
    """Look for the mirror axis; answer with it, or with none."""
    found = find_mirror_axis(bench.workshop, slug, f"drawing {key}")
    return JSONResponse({"axis": found})


@router.post(addresses.rework_back("{slug}", "{key}"), dependencies=[Depends(token_in_header)])
async def back(request: Request, slug: str, key: int) -> Response:
    """Take the last change back."""
    return await _turn(request, slug, key, take_back)


@router.post(addresses.rework_again("{slug}", "{key}"), dependencies=[Depends(token_in_header)])
async def again(request: Request, slug: str, key: int) -> Response:
    """Make the change again that was taken back."""
    return await _turn(request, slug, key, make_again)


@router.post(addresses.rework_keep("{slug}", "{key}"))
def keep(bench: BenchDep, hand: HandDep, form: FormDep, slug: str, key: int) -> Response:
    """Keep the drawing as it stands, as a new drawing."""
    name = f"drawing {key}"
    serial = form.one("serial") or on_the_bench(bench.workshop, slug, name).serial
    kept = keep_rework(bench.workshop, slug, name, serial, called=form.one("called"), by=hand)
    return RedirectResponse(addresses.entry(slug, kept), 303)


@router.post(addresses.rework_give_up("{slug}", "{key}"))
def forget(bench: BenchDep, form: FormDep, slug: str, key: int) -> Response:  # noqa: ARG001
    """Give up all changes by hand."""
    name = f"drawing {key}"
    drawing_named(bench.workshop, slug, name)
    give_up(bench.workshop, slug, name)
    return RedirectResponse(addresses.entry(slug, name), 303)


@router.post(addresses.drawing_back("{slug}", "{key}"))
def brought_back(bench: BenchDep, hand: HandDep, form: FormDep, slug: str, key: int) -> Response:
    """Take in a drawing that was edited elsewhere."""
    files = [f for f in form.files if f.incoming is not None]
    if not files:
        refused = next((f.refused for f in form.files), "")
        raise FormError(refused or "No file came: choose the SVG that you saved.")
    incoming = files[0].incoming
    assert incoming is not None
    if incoming.size > _MOST_SVG_BYTES:
        raise FormError("The file is larger than 40 MB: save it without pictures in it.")
    try:
        text = incoming.path.read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        raise FormError("The file is no SVG text: save it as plain SVG.") from error
    kept = bring_back(bench.workshop, slug, f"drawing {key}", text, by=hand)
    return RedirectResponse(addresses.entry(slug, kept), 303)


async def _turn(request: Request, slug: str, key: int, turn: Callable[..., Any]) -> Response:
    bench = bench_of(request)
    asked = await read_json(request, bench.limits)
    name, serial = f"drawing {key}", str(asked.get("serial", ""))

    def make() -> Any:
        return turn(bench.workshop, slug, name, serial, _remembered(bench, slug, name, serial))

    return await run_in_threadpool(_answer, bench, slug, name, make)


def _answer(bench: Bench, slug: str, name: str, make: Callable[[], Any]) -> Response:
    made, stands = make()
    _remember(bench, slug, name, stands)
    return JSONResponse({**_how_it_stands(stands), "change": made.as_dict()})


def _how_it_stands(stands: OnTheBench) -> dict[str, Any]:
    drawing = stands.work.drawing()
    return {
        "serial": stands.serial,
        "done": stands.done,
        "undone": stands.undone,
        "nodes": drawing.nodes,
        "lengths": {str(g): length for g, length in drawing.length_by_grade().items()},
    }


def _stands(bench: Bench, slug: str, name: str) -> OnTheBench:
    stands = on_the_bench(bench.workshop, slug, name)
    _remember(bench, slug, name, stands)
    return stands


def _remember(bench: Bench, slug: str, name: str, stands: OnTheBench) -> None:
    bench.remember(("rework", slug, name, stands.serial), stands)


def _remembered(bench: Bench, slug: str, name: str, serial: str) -> OnTheBench | None:
    held = bench.recall(("rework", slug, name, serial))
    return held if isinstance(held, OnTheBench) else None


def _bridges(stands: OnTheBench) -> list[dict[str, Any]]:
    return [
        {"number": n, "gap_mm": float(b.get("gap_mm", 0.0)), "at_mm": b.get("at_mm", [0, 0])}
        for n, b in enumerate(stands.bridges)
    ]
