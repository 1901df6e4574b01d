"""What touches the machine: numbered on a photograph, each told, kept, and printed to stay by."""

from collections.abc import Mapping, Sequence

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.dossier.print.touches_sheet import hazards_called
from ironlace.evidence.analyses import AskedError, typed_of
from ironlace.evidence.errors import IronlaceError
from ironlace.record import FindingEntry, Record
from ironlace.stand.touches import COLUMNS, SCREWS, TOUCHES, rows_of_things, table_of_things
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import FormDep
from ironlace.web.pages.analyses import answer_at, answer_context, just_worked, recalled
from ironlace.web.pages.files import attachment, paper_named
from ironlace.web.pages.place_lists import ONLY_SHOWN, picture_shown, places_sent
from ironlace.web.rendering import page
from ironlace.workshop import analyses as kept
from ironlace.workshop.care.fittings import (
    check_things_on_picture,
    fitted_things,
    sheet_of,
)
from ironlace.workshop.worked_out import WorkedOut

router = APIRouter()
Row = dict[str, str]


@router.get(addresses.touching("{slug}"))
def show(request: Request, bench: BenchDep, slug: str) -> Response:
    """Show the list that is kept, or one begun with what the record tells of."""
    record = bench.records.read(slug)
    standing = kept.kept_finding(record, TOUCHES)
    rows: list[Row] = []
    photograph = ""
    if standing is not None:
        asked = typed_of(TOUCHES.asked_of(standing[1].finding))
        rows, photograph = rows_of_things(asked["things"]), asked["photograph"]
    return _page(request, bench, record, rows, photograph, standing=standing)


@router.post(addresses.touching("{slug}"))
def work(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Tell the list, keep it, or go on with another row or picture."""
    record = bench.records.read(slug)
    do, (rows, photograph) = form.one("do"), places_sent(form, COLUMNS)
    if do in ONLY_SHOWN:
        return _page(request, bench, record, rows, photograph)
    try:
        given = {"things": table_of_things(rows), "photograph": photograph}
        worked = just_worked(bench, record, TOUCHES, kept.asked_for(TOUCHES, record, given))
        check_things_on_picture(bench.workshop, record, worked.found)
        if do != "keep":
            return _page(request, bench, record, rows, photograph, worked=worked)
        name = kept.keep(bench.workshop, slug, worked, hand)
    except IronlaceError as error:
        field = error.field if isinstance(error, AskedError) else ""
        return _page(request, bench, record, rows, photograph, says=str(error), at_field=field)
    return RedirectResponse(addresses.touching(slug, kept=name), 303)


@router.get(addresses.touching_sheet("{slug}", "{at}", "{paper}"))
def sheet(bench: BenchDep, slug: str, at: str, paper: str) -> Response:
    """Hand over the sheet that stays with the machine."""
    record, known = bench.records.read(slug), paper_named(paper)
    made = sheet_of(bench.workshop, record, recalled(bench, slug, TOUCHES.key, at).found, known)
    headers = {"content-disposition": attachment(f"{slug}-touches-{known}.pdf")}
    return Response(made, media_type="application/pdf", headers=headers)


def _page(
    request: Request,
    bench: Bench,
    record: Record,
    rows: Sequence[Mapping[str, str]],
    photograph: str,
    *,
    standing: tuple[str, FindingEntry] | None = None,
    worked: WorkedOut | None = None,
    says: str = "",
    at_field: str = "",
) -> Response:
    context = answer_context(
        request, bench, record, TOUCHES, standing, worked, says=says, at_field=at_field
    )
    named = {row.get("thing", "").casefold() for row in rows}
    told = [
        {"thing": one.thing, "comes_off": one.comes_off, "of": one.source}
        for one in fitted_things(bench.workshop, record, None).things
        if one.thing.casefold() not in named
    ]
    # what was kept can be printed as it stands
    printed = worked if standing is None else _again(bench, record, standing[1])
    blank = {**dict.fromkeys(COLUMNS, ""), "of": ""}
    return page(
        request,
        "touching.html",
        **{
            **context,
            **picture_shown(bench, record, (photograph,)),
            "hazards": hazards_called(printed.found.things) if printed else (),
        },
        rows=[{**blank, **row} for row in (*rows, *told)],
        blank=blank,
        screws=SCREWS,
        printed_at=answer_at(printed) if printed else "",
    )


def _again(bench: Bench, record: Record, entry: FindingEntry) -> WorkedOut | None:
    """A kept list as it comes out today, to print; None where another version kept it."""
    try:
        return just_worked(bench, record, TOUCHES, TOUCHES.asked_of(entry.finding))
    except IronlaceError:
        return None
