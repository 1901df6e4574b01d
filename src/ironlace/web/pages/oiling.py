"""The oiling plan: places touched on a photograph, when each is due, and what was oiled."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.care.cautions import Hazard
from ironlace.care.oiling_analysis import (
    COLUMNS,
    KINDS,
    OILING,
    OilingFound,
    rows_of_places,
    table_of_places,
)
from ironlace.evidence.analyses import AskedError, asked_fields, typed_of
from ironlace.evidence.errors import IronlaceError
from ironlace.record import Record
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import Form, FormDep
from ironlace.web.pages.analyses import just_worked
from ironlace.web.pages.files import attachment
from ironlace.web.pages.machines import kept_lines
from ironlace.web.pages.place_lists import ONLY_SHOWN, picture_shown, places_sent
from ironlace.web.rendering import page
from ironlace.workshop import analyses as kept
from ironlace.workshop.care.oiling import (
    calendar_of,
    card_of,
    check_on_picture,
    kept_plan,
    log_of,
    oiled,
)
from ironlace.workshop.worked_out import WorkedOut

router = APIRouter()
Row = dict[str, str]
_ASKED = (
    *("hours_per_week", "oil", "grade", "temperature"),
    *("viscosity_at_forty", "viscosity_at_hundred", "log"),
)
"""What is asked beside the places, in the order of the page."""


@router.get(addresses.oiling("{slug}"))
def show(request: Request, bench: BenchDep, slug: str) -> Response:
    """Show the plan that is kept, or an empty one, on its photograph."""
    record = bench.records.read(slug)
    standing = kept_plan(record)
    rows: list[Row] = []
    values: Row = {}
    if standing is not None:
        rows, values = rows_of_places(standing[1].asked.places), _values(standing[1])
    return _page(request, bench, record, rows, values)


@router.post(addresses.oiling("{slug}"))
def work(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Work the plan out, keep it, or say what was oiled; or go on with another row or picture."""
    record = bench.records.read(slug)
    do = form.one("do")
    if do == "oiled":
        return _say_oiled(request, bench, record, form, hand)
    rows, photograph = places_sent(form, COLUMNS)
    values = {name: form.one(name).strip() for name in _ASKED} | {"photograph": photograph}
    if do in ONLY_SHOWN:
        return _page(request, bench, record, rows, values)
    try:
        if not rows:
            raise AskedError("There is no place yet: touch the picture, or add a place by figures.")
        asked = kept.asked_for(OILING, record, {**values, "places": table_of_places(rows)})
        check_on_picture(bench.workshop, record, asked)
        worked = just_worked(bench, record, OILING, asked)
        if do != "keep":
            return _page(request, bench, record, rows, values, worked=worked)
        name = kept.keep(bench.workshop, slug, worked, hand)
    except IronlaceError as error:
        field = error.field if isinstance(error, AskedError) else ""
        return _page(request, bench, record, rows, values, says=str(error), at_field=field)
    return RedirectResponse(addresses.oiling(slug, kept=name), 303)


@router.get(addresses.oiling_card("{slug}"))
def card(bench: BenchDep, slug: str) -> Response:
    """Hand over the card for the drawer."""
    made = card_of(bench.workshop, bench.records.read(slug))
    headers = {"content-disposition": attachment(f"{slug}-oiling-card.pdf")}
    return Response(made, media_type="application/pdf", headers=headers)


@router.get(addresses.oiling_wall_card("{slug}"))
def wall_card(bench: BenchDep, slug: str) -> Response:
    """Hand over the card for the wall."""
    made = card_of(bench.workshop, bench.records.read(slug), for_the_wall=True)
    headers = {"content-disposition": attachment(f"{slug}-oiling-wall-card.pdf")}
    return Response(made, media_type="application/pdf", headers=headers)


@router.get(addresses.oiling_calendar("{slug}"))
def due(bench: BenchDep, slug: str) -> Response:
    """Hand over the calendar file."""
    made = calendar_of(bench.records.read(slug))
    headers = {"content-disposition": attachment(f"{slug}-oiling.ics")}
    return Response(made, media_type="text/calendar", headers=headers)


def _say_oiled(request: Request, bench: Bench, record: Record, form: Form, hand: str) -> Response:
    numbers = {int(one) for one in form.many("oiled") if one.isdecimal()}
    day, hours = form.one("day"), form.one("hours")
    try:
        name = oiled(bench.workshop, record.slug, numbers, day, hours, hand)
    except IronlaceError as error:
        standing = kept_plan(record)
        rows = rows_of_places(standing[1].asked.places) if standing else []
        values = _values(standing[1]) if standing else {}
        return _page(request, bench, record, rows, values, says=str(error))
    return RedirectResponse(addresses.oiling(record.slug, kept=name), 303)


def _values(found: OilingFound) -> Row:
    """What was asked for a plan, as the form holds it."""
    return typed_of(found.asked)


def _when(day: date, today: date) -> str:
    """How far off a day is, in words."""
    days = (day - today).days
    if days < 0:
        return f"due since {day.isoformat()}"
    return "due today" if days == 0 else f"due {day.isoformat()}"


def _page(
    request: Request,
    bench: Bench,
    record: Record,
    rows: Sequence[Row],
    values: Mapping[str, str],
    *,
    worked: WorkedOut | None = None,
    says: str = "",
    at_field: str = "",
) -> Response:
    today = datetime.now().astimezone().date()
    standing, entry = kept_plan(record), kept.kept_finding(record, OILING)
    dues = (
        [
            (place, _when(one.due, today), one.due <= today)
            for place, one in zip(standing[1].places, standing[1].found.points, strict=True)
        ]
        if standing
        else []
    )
    return page(
        request,
        "oiling.html",
        status=422 if says else 200,
        record=record,
        analysis=OILING,
        rows=[{**dict.fromkeys(COLUMNS, ""), **row} for row in rows],
        blank={**dict.fromkeys(COLUMNS, ""), "drops": "1", "last": today.isoformat()},
        values={**dict.fromkeys(_ASKED, ""), **values},
        fields=[one for one in asked_fields(OILING.asked) if one.name in _ASKED],
        kinds=KINDS,
        **picture_shown(bench, record, (values.get("photograph", ""),)),
        worked=worked,
        hazards=[Hazard(key) for key in OILING.hazards],
        standing=standing,
        grade=entry[1].finding.grade if entry else None,
        dues=dues,
        log=log_of(record),
        today=today.isoformat(),
        says=says,
        at_field=at_field,
        kept=kept_lines(record, request.query_params.get("kept", "")),
    )
