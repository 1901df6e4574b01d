"""An unknown screw: read in its photograph, named with its chances, kept by the screw's name."""

from collections.abc import Iterator, Mapping, Sequence

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace import __version__
from ironlace.care.machine_threads import COLUMNS, rows_of_screws
from ironlace.care.screw_analysis import CALIPER_SD_MM, SCREW, ScrewAsked, ScrewNamed
from ironlace.care.screw_plots import comb_in_view
from ironlace.care.thread_forms import ThreadReadings
from ironlace.evidence.analyses import AskedError, asked_fields
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.findings import Finding, Result
from ironlace.evidence.intervals import NINETY
from ironlace.evidence.word_tables import words_of_rows
from ironlace.record import FindingEntry, Record
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import FormDep
from ironlace.web.manners import PICTURED_POLICY
from ironlace.web.pages.analyses import answer_context, as_typed, just_worked, recalled
from ironlace.web.pages.files import paper_named
from ironlace.web.pages.lenses import lens_choices
from ironlace.web.rendering import page
from ironlace.workshop import analyses as kept
from ironlace.workshop.worked_out import WorkedOut

router = APIRouter()
Row = dict[str, str]


@router.get(addresses.screw("{slug}"))
def show(request: Request, bench: BenchDep, slug: str, of: str = "") -> Response:
    """Show the form, filled in with what a kept screw of that name was worked out from."""
    record = bench.records.read(slug)
    values: Row = {"name": of} if of else {}
    standing = kept.kept_finding(record, SCREW, of)
    if standing is not None:
        values = as_typed(SCREW, standing[1])
    return _page(request, bench, record, values, standing=standing)


@router.post(addresses.screw("{slug}"))
def work(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Read the screw, or keep what was read; or show another photograph."""
    record = bench.records.read(slug)
    values = {one.name: form.one(one.name) for one in asked_fields(SCREW.asked)}
    do = form.one("do")
    if do == "show":
        return _page(request, bench, record, values)
    try:
        worked = just_worked(bench, record, SCREW, kept.asked_for(SCREW, record, values))
        if do != "keep":
            return _page(request, bench, record, values, worked=worked)
        name = kept.keep(bench.workshop, slug, worked, hand)
    except IronlaceError as error:
        field = error.field if isinstance(error, AskedError) else ""
        return _page(request, bench, record, values, says=str(error), at_field=field)
    return RedirectResponse(addresses.screw(slug, values["name"], kept=name), 303)


@router.get(addresses.screw_picture("{slug}", "{at}"))
def picture(bench: BenchDep, slug: str, at: str) -> Response:
    """Show a screw that was just read with its edges and comb on it."""
    from ironlace.dossier.print.screw_picture import screw_picture_svg

    found: ScrewNamed = recalled(bench, slug, SCREW.key, at, "screw").found
    if found.measured is None or found.picture is None:
        raise NotFoundError("This screw is no longer at hand: work it out again.")
    headers = {"content-security-policy": PICTURED_POLICY}
    body = screw_picture_svg(found.measured, found.picture)
    return Response(body, media_type="image/svg+xml", headers=headers)


@router.get(addresses.screw_card("{paper}"))
def card(paper: str) -> Response:
    """Hand over the card to photograph a screw on."""
    from ironlace.dossier.print.screw_card import screw_card_pdf

    known = paper_named(paper)
    made = f"Ironlace {__version__}"
    return Response(screw_card_pdf(known, made), media_type="application/pdf")


def _readings(
    kept_screws: Sequence[tuple[str, Finding, ScrewAsked]],
) -> list[tuple[str, ThreadReadings]]:
    """What kept screws were read as: pitch and angle out of their findings, the caliper's figure.

    One without a pitch, as another version may have kept it, is left out.
    """
    found = []
    for name, finding, asked in kept_screws:
        told = {one.name: one for one in finding.results}
        pitch, sd = _with_sd(told.get("pitch"))
        if pitch is None or sd is None:
            continue
        angle, angle_sd = _with_sd(told.get("angle between the flanks"))
        caliper = asked.diameter
        readings = ThreadReadings(
            pitch, sd, caliper.value, caliper.error or CALIPER_SD_MM, angle, angle_sd or 2.0
        )
        found.append((asked.name or name, readings))
    return found


def _others(record: Record) -> Iterator[tuple[str, Finding, ScrewAsked]]:
    """The screws that are kept; one that this version cannot read is left out."""
    for name, entry in record.of(FindingEntry):
        if entry.finding.about != SCREW.about:
            continue
        try:
            yield name, entry.finding, SCREW.asked_of(entry.finding)
        except AskedError:
            continue


def _with_sd(told: Result | None) -> tuple[float | None, float | None]:
    """A result's value and the standard deviation behind its interval; None where there is none."""
    if told is None or not isinstance(told.value, float) or told.interval is None:
        return None, None
    low, high = told.interval.low, told.interval.high
    if not isinstance(low, float) or not isinstance(high, float):
        return None, None
    return told.value, (high - low) / (2.0 * NINETY)


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
        request, bench, record, SCREW, standing, worked, says=says, at_field=at_field
    )
    known = dict(context["photographs"])
    at = values.get("photograph", "")
    fields = [one for one in asked_fields(SCREW.asked) if not one.ask.pointed]
    others = list(_others(record))
    return page(
        request,
        "screw.html",
        **context,
        lenses=lens_choices(bench),
        values={**{one.name: "" for one in asked_fields(SCREW.asked)}, **values},
        fields=[one for one in fields if not one.ask.more],
        more=[one for one in fields if one.ask.more],
        photograph=known.get(at),
        original=bench.photographs.original(known[at].sha256) if at in known else None,
        comb=comb_in_view(worked.found.measured) if worked and worked.found.measured else None,
        others=others,
        together=words_of_rows(rows_of_screws(_readings(others)), COLUMNS) if others else "",
    )
