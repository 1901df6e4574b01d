"""The survey of a machine: who shares it, how it stood on a day, and its releases."""

from collections.abc import Sequence
from datetime import UTC, datetime

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.record import ReportEntry
from ironlace.record.entries import EntryError
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import Form, FormDep
from ironlace.web.pages.files import attachment
from ironlace.web.pages.reports_out import LICENCES, PLACES
from ironlace.web.rendering import page
from ironlace.workshop.club import exchange as club
from ironlace.workshop.survey.releases import (
    Release,
    ReleaseAsked,
    drafted,
    release,
    release_numbered,
    releases,
)
from ironlace.workshop.survey.reports_out import Places
from ironlace.workshop.survey.surveys import Survey, share, survey_named, surveys
from ironlace.workshop.survey.then import end_of

router = APIRouter()
_SHOWN = 200
"""Reports shown of a survey as it stood; the record's own pages hold all (a judgement)."""


@router.get(addresses.survey_record("{slug}"))
def survey_record(
    request: Request, bench: BenchDep, slug: str, as_of: str = "", kept: str = ""
) -> Response:
    """Show a survey: its machines, its reports now or on a day, its releases."""
    try:
        return _page(request, bench, slug, as_of=as_of, kept=kept)
    except IronlaceError as error:
        if not as_of:
            raise
        return _page(request, bench, slug, says=str(error))


@router.post(addresses.survey_shared("{slug}"))
def shared(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Let the machine have another survey."""
    try:
        brought = share(
            bench.workshop, slug, form.one("survey"), bring=form.one("bring") == "yes", by=hand
        )
    except IronlaceError as error:
        return _page(request, bench, slug, says=str(error))
    return RedirectResponse(addresses.survey_record(slug, kept=f"shared-{len(brought)}"), 303)


@router.post(addresses.survey_named("{slug}"))
def named(request: Request, bench: BenchDep, form: FormDep, slug: str) -> Response:
    """Call the survey otherwise; its address stays."""
    try:
        bench.records.rename(survey_named(bench.workshop, slug).slug, form.one("title"))
    except EntryError as error:
        return _page(request, bench, slug, says=str(error))
    return RedirectResponse(addresses.survey_record(slug, kept="named"), 303)


@router.post(addresses.survey_releases("{slug}"))
def made(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Show what would be released, or release it."""
    try:
        asked = _asked(form)
        if form.one("do") != "release":
            draft = drafted(bench.workshop, slug, asked, datetime.now(UTC))
            return _page(request, bench, slug, typed=form, draft=draft)
        done = release(bench.workshop, slug, asked, by=hand)
    except IronlaceError as error:
        return _page(request, bench, slug, typed=form, says=str(error))
    return RedirectResponse(addresses.survey_record(slug, kept=f"release-{done.number}"), 303)


@router.post(addresses.survey_club("{slug}"))
def with_club(
    request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str
) -> Response:
    """Keep the survey together with a club, exchange with it, or keep it at home alone again."""
    workshop, done = bench.workshop, form.one("do")
    try:
        match done:
            case "join":
                club.join(workshop, slug, form.one("address").strip(), by=hand)
            case "leave":
                club.leave(workshop, slug)
            case _:
                told = club.exchange(workshop, slug, by=hand)
                return _page(request, bench, slug, heard=told.sentences())
    except IronlaceError as error:
        return _page(request, bench, slug, says=str(error), typed=form)
    return RedirectResponse(f"{addresses.survey_record(slug)}#club", 303)


@router.get(addresses.survey_release("{slug}", "{number}"))
def one_release(bench: BenchDep, slug: str, number: int) -> Response:
    """Hand over a release as it was published."""
    found = release_numbered(bench.workshop, slug, number)
    name = f"{found.survey}-release-{number}.zip"
    headers = {"content-disposition": attachment(name)}
    return Response(found.zip, media_type="application/zip", headers=headers)


def _asked(form: Form) -> ReleaseAsked:
    licence = form.one("licence")
    places = form.one("places")
    return ReleaseAsked(
        " ".join(form.one("compiled_by").split())[:500],
        licence if licence in dict(LICENCES) else LICENCES[0][0],
        Places(places) if places in set(Places) else Places.NONE,
        " ".join(form.one("note").split())[:500],
    )


def _page(
    request: Request,
    bench: Bench,
    slug: str,
    *,
    as_of: str = "",
    kept: str = "",
    says: str = "",
    typed: Form | None = None,
    draft: Release | None = None,
    heard: Sequence[str] = (),
) -> Response:
    workshop = bench.workshop
    record = bench.records.read(slug)
    of = bench.records.survey_of(slug)
    survey: Survey | None = None
    entries: list[tuple[str, ReportEntry]] = []
    made: list[Release] = []
    link: club.Link | None = None
    goes: list[club.ToSend] = []
    if of is not None:
        survey = survey_named(workshop, of)
        # seen from the machine where it is asked from one: its own report is "this machine" there
        entries = list(bench.records.read(of, end_of(as_of)).of(ReportEntry))
        made = releases(workshop, of)
        link, goes = _club(bench, of)
    others = [one for one in surveys(workshop) if one.slug != of]
    return page(
        request,
        "survey_record.html",
        status=422 if says else 200,
        record=None if of == slug else record,
        slug=slug,
        survey=survey,
        entries=entries[:_SHOWN],
        total=len(entries),
        releases=list(reversed(made)),
        others=others,
        as_of=as_of,
        kept=kept,
        says=says,
        draft=draft,
        link=link,
        goes=[one.in_words() for one in goes],
        heard=heard,
        typed={
            name: (typed.one(name) if typed else "")
            for name in ("compiled_by", "licence", "places", "note", "address")
        },
        licences=LICENCES,
        places=PLACES,
    )


def _club(bench: Bench, survey: str) -> tuple[club.Link | None, list[club.ToSend]]:
    """With which club a survey is kept, and what goes with the next exchange."""
    try:
        link = club.link_of(bench.workshop, survey)
    except NotFoundError:
        return None, []
    return link, club.to_send(bench.workshop, survey)
