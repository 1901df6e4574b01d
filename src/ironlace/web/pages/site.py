"""The public site, of a machine or of the whole workshop: asked for, looked at, taken along."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response

from ironlace.dossier.call_page import page_policy
from ironlace.dossier.site.pages import CALL_PAGE
from ironlace.dossier.site.published import base_address
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.survey.sharing.call import call_of
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep
from ironlace.web.incoming import Form, FormDep
from ironlace.web.pages.files import attachment
from ironlace.web.pages.jobs import under_way
from ironlace.web.pages.pack import OF_SITE, folder_of, pack_page, served, site_stands, zipped
from ironlace.web.rendering import page
from ironlace.workshop.hand_over.publishing import site_place
from ironlace.workshop.store.records import RecordSummary

router = APIRouter()
_LONGEST = 400
"""Characters of an address or a name."""


def _typed(form: Form) -> dict[str, str]:
    return {name: form.one(name).strip()[:_LONGEST] for name in OF_SITE}


def _refuse(typed: dict[str, str], about: str) -> None:
    """Raise IronlaceError for an address or a mailbox that cannot be one."""
    base_address(typed["base"])
    call_of(about, "", None, mail=typed["mail"])


def _machines(bench: Bench) -> list[RecordSummary]:
    """Those on the whole workshop's site."""
    return [one for one in bench.records.all() if one.put_away is None]


def _refuse_without_machines(bench: Bench) -> None:
    if not _machines(bench):
        raise IronlaceError("There is no machine to tell of yet: begin its record first.")


@router.post(addresses.site("{slug}"))
def make_of_machine(request: Request, bench: BenchDep, form: FormDep, slug: str) -> Response:
    """Ask for a machine's site; an address that cannot be one is refused here and now."""
    typed = _typed(form)
    try:
        _refuse(typed, bench.records.read(slug).title)
    except IronlaceError as error:
        return pack_page(request, bench, slug, str(error), typed)
    return RedirectResponse(addresses.job(bench.jobs.ask("site", typed, slug)), 303)


@router.get(addresses.site_file("{slug}", "{file:path}"))
def file_of_machine(request: Request, bench: BenchDep, slug: str, file: str) -> Response:
    """Serve one file of a machine's site as it was written last."""
    slug = bench.records.read(slug).slug
    return _file(request, bench, slug, file, slug)


@router.get(addresses.site_whole("{slug}", "{number}"))
def archive_of_machine(bench: BenchDep, slug: str, number: int) -> Response:
    """Hand over a machine's site in one archive."""
    return _archive(bench, slug, number, f"{slug}-site")


@router.get(addresses.whole_site())
def whole(request: Request, bench: BenchDep) -> Response:
    """Show the whole workshop's site, and the form for it."""
    return _whole_page(request, bench)


def _whole_page(
    request: Request, bench: Bench, says: str = "", typed: dict[str, str] | None = None
) -> Response:
    return page(
        request,
        "whole_site.html",
        status=422 if says else 200,
        machines=_machines(bench),
        site=site_stands(bench, under_way(bench, None, "site"), says, typed),
    )


@router.post(addresses.whole_site())
def make_whole(request: Request, bench: BenchDep, form: FormDep) -> Response:
    """Ask for the whole workshop's site."""
    typed = _typed(form)
    try:
        _refuse_without_machines(bench)
        _refuse(typed, typed["title"] or "the workshop")
    except IronlaceError as error:
        return _whole_page(request, bench, str(error), typed)
    return RedirectResponse(addresses.job(bench.jobs.ask("site", typed)), 303)


@router.get(addresses.whole_site_file("{file:path}"))
def file_of_whole(request: Request, bench: BenchDep, file: str) -> Response:
    """Serve one file of the whole workshop's site as it was written last."""
    return _file(request, bench, "", file, "workshop")


@router.get(addresses.whole_site_archive("{number}"))
def archive_of_whole(bench: BenchDep, number: int) -> Response:
    """Hand over the whole workshop's site in one archive."""
    return _archive(bench, None, number, "workshop-site")


def _file(request: Request, bench: Bench, slug: str, file: str, name: str) -> Response:
    folder = (bench.workshop.derived / site_place(slug)).resolve()
    call = file.rpartition("/")[2] == CALL_PAGE
    policy = f"{page_policy()}; frame-ancestors 'none'" if call else ""
    return served(request, folder, file, name, policy)


def _archive(bench: Bench, slug: str | None, number: int, name: str) -> Response:
    job = bench.jobs.get(number)
    folder = folder_of(bench, job, "site") if job.slug == slug else None
    if folder is None:
        raise NotFoundError("This site is not at hand: make it again.")
    return FileResponse(
        zipped(bench, folder, name, f"sites/{number}"),
        media_type="application/zip",
        headers={"content-disposition": attachment(f"{name}.zip")},
    )
