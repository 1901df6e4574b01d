"""Lenses: the chart to print, photographs of it taken in, what was measured."""

import json
from pathlib import Path

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError
from ironlace.photographs import Lens
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep
from ironlace.web.incoming import FormDep
from ironlace.web.rendering import page
from ironlace.workshop.ornament.lenses import (
    forget_lens,
    keep_lens,
    keep_lens_file,
    kept_lenses,
    measure_lens,
)

router = APIRouter()


@router.get(addresses.lenses())
def lenses(request: Request, bench: BenchDep) -> Response:
    """Show the lenses kept and how to measure one."""
    return _page(request, bench)


@router.post(addresses.lenses())
def measure(request: Request, bench: BenchDep, form: FormDep) -> Response:
    """Measure a lens from photographs of the chart, or take one in from its file; keep it."""
    name = form.one("name")
    refused = [f.refused for f in form.files if f.incoming is None]
    if refused:
        return _page(request, bench, says=refused[0], name=name)
    files = [(f.incoming.path, f.came_as) for f in form.files if f.incoming is not None]
    if not files:
        return _page(request, bench, says="No photograph came: choose those of the chart.")
    if not name.strip():
        says = "A lens needs a name: write the camera and the focal length."
        return _page(request, bench, says=says)
    try:
        if len(files) == 1 and files[0][1].lower().endswith(".json"):
            keep_lens_file(bench.workshop, name, _text_in(*files[0]))
        else:
            found, focal = measure_lens(files)
            keep_lens(bench.workshop, name, found, focal)
    except IronlaceError as error:
        return _page(request, bench, says=str(error), name=name)
    return RedirectResponse(addresses.lenses(), 303)


@router.post(addresses.lens_forget("{number}"))
def forget(bench: BenchDep, form: FormDep, number: int) -> Response:  # noqa: ARG001
    """Forget a lens."""
    forget_lens(bench.workshop, number)
    return RedirectResponse(addresses.lenses(), 303)


def lens_choices(bench: Bench) -> list[tuple[str, str]]:
    """The lenses kept, to choose one in a form: its text as an analysis reads it, and its name."""
    return [
        (Lens.from_json(json.dumps(one.told)).to_json().strip(), one.name)
        for one in kept_lenses(bench.workshop)
    ]


def _text_in(path: Path, came_as: str) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise IronlaceError(
            f"{came_as} is no lens file: choose the JSON that was written when it was measured."
        ) from error


def _page(request: Request, bench: Bench, *, says: str = "", name: str = "") -> Response:
    return page(
        request,
        "lenses.html",
        status=422 if says else 200,
        lenses=kept_lenses(bench.workshop),
        says=says,
        name=name,
    )
