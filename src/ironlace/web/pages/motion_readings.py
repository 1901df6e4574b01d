"""Readings of a head's motion called out at the bench, and the degree disc they are read on."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.dossier.print.disc_pdf import disc_pdf
from ironlace.evidence.errors import IronlaceError
from ironlace.record import ReadingsEntry
from ironlace.running.degree_disc import PAPERS, DegreeDisc
from ironlace.running.errors import RunningError
from ironlace.running.motion.called import AIMS
from ironlace.running.motion.motion_table import MOTIONS, column_holds
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import FormDep
from ironlace.web.pages.files import attachment
from ironlace.web.phone.called_motion import CalledMotion, called_context, calling_from
from ironlace.web.rendering import page

router = APIRouter()
_WAYS = ("clockwise", "anticlockwise")


@router.get(addresses.motion_readings("{slug}"))
def show(request: Request, bench: BenchDep, slug: str) -> Response:
    """Ask for the next reading; before the first, what the readings are for."""
    said = list(request.query_params.multi_items())
    if not any(name == "aim" for name, _ in said):
        return _begin(request, bench, slug, dict(said))
    try:
        called = CalledMotion(bench, slug, calling_from(said))
    except IronlaceError as error:
        return _begin(request, bench, slug, dict(said), says=str(error), status=error.http_status)
    return _call(request, called)


@router.post(addresses.motion_readings("{slug}"))
def enter(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Keep a reading, pass one, go back one, or take a pasted table; then ask for the next."""
    called = CalledMotion(bench, slug, calling_from(form.fields))
    session = request.app.state.door.session
    if form.one("do") == "phone" and session is not None and session.work.slug == slug:
        session.call_motion(slug, called.calling)
        return RedirectResponse(addresses.phone(), 303)
    try:
        calling = called.act(form, hand)
    except IronlaceError as error:
        typed = {name: form.one(name) for name in ("number", "wheel", "pasted")}
        return _call(request, called, typed, says=str(error), status=error.http_status)
    return RedirectResponse(addresses.motion_readings(slug, **calling.as_query()), 303)


@router.get(addresses.degree_disc())
def disc(
    diameter: str = "120", hole: str = "8", numbered: str = "clockwise", paper: str = "a4"
) -> Response:
    """Hand over the degree disc, to print at true scale."""
    try:
        wide, axle = (float(text.replace(",", ".")) for text in (diameter, hole))
    except ValueError as error:
        raise RunningError(
            f"A disc of {diameter[:20]} mm with a hole of {hole[:20]} mm cannot be drawn: give "
            "both in mm, such as 120 and 8."
        ) from error
    if numbered not in _WAYS or paper not in PAPERS:
        raise RunningError("Numbers run clockwise or anticlockwise, and paper is a4 or letter.")
    made = disc_pdf(DegreeDisc(wide, axle, numbered, paper))  # type: ignore[arg-type]
    headers = {"content-disposition": attachment("degree-disc.pdf")}
    return Response(made, media_type="application/pdf", headers=headers)


def _begin(
    request: Request,
    bench: Bench,
    slug: str,
    values: dict[str, str],
    *,
    says: str = "",
    status: int = 200,
) -> Response:
    record = bench.records.read(slug)
    tables = [
        (name, entry)
        for name, entry in record.of(ReadingsEntry)
        if any(column_holds(column.name) == "wheel" for column in entry.table.columns)
    ]
    chosen = [v for n, v in request.query_params.multi_items() if n == "parts"]
    return page(
        request,
        "motion_begin.html",
        status=status,
        record=record,
        values=values,
        chosen=chosen,
        aims=AIMS,
        motions=MOTIONS,
        tables=tables,
        says=says,
    )


def _call(
    request: Request,
    called: CalledMotion,
    typed: dict[str, str] | None = None,
    *,
    says: str = "",
    status: int = 200,
) -> Response:
    return page(
        request,
        "motion_readings.html",
        status=status,
        record=called.record,
        typed=typed or {},
        says=says,
        **called_context(called),
    )
