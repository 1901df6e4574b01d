"""The pack: dossier, site and sheets, made, looked at and taken along."""

import uuid
import zipfile
from pathlib import Path
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response

from ironlace.dossier import left_out
from ironlace.evidence.errors import NotFoundError
from ironlace.record import DrawingEntry
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep
from ironlace.web.incoming import FormDep
from ironlace.web.manners import FILE_POLICY, SITE_POLICY
from ironlace.web.pages.files import attachment, tagged
from ironlace.web.pages.jobs import under_way
from ironlace.web.rendering import page
from ironlace.workshop.hand_over.chosen import choice_for
from ironlace.workshop.stencils.sheets_kept import finding_of
from ironlace.workshop.work.jobs import Job

router = APIRouter()
_SHOWN_PACKS = 8
"""Packs listed; older ones are made again when wanted (a judgement)."""

OF_SITE = ("base", "title", "keeper", "mail")
"""What is asked of a public site; the title of the whole workshop's only."""

# told here, because a system's own table of types may hold anything
_MEDIA = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".txt": "text/plain; charset=utf-8",
    ".csv": "text/csv; charset=utf-8",
    ".json": "application/json",
    ".jsonld": "application/ld+json",
    ".jpg": "image/jpeg",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".pdf": "application/pdf",
    ".woff": "font/woff",
    ".xml": "application/xml",
    ".atom": "application/atom+xml",
}


@router.get(addresses.pack("{slug}"))
def pack(request: Request, bench: BenchDep, slug: str) -> Response:
    """Show the packs made, and the form for a new one."""
    return pack_page(request, bench, slug)


def pack_page(
    request: Request, bench: Bench, slug: str, says: str = "", typed: dict[str, str] | None = None
) -> Response:
    """The page of the packs, and of the public site, with what was refused of a site if anything.

    Parameters
    ----------
    says, typed
        Why a site was refused, and what had been typed for it.
    """
    record = bench.records.read(slug)
    jobs, sites = under_way(bench, slug, "pack"), under_way(bench, slug, "site")
    made = [(job, folder) for job in jobs if (folder := _folder(bench, job)) is not None]
    newest = made[0] if made else None
    return page(
        request,
        "pack.html",
        status=422 if says else 200,
        site=site_stands(bench, sites, says, typed),
        record=record,
        making=next((job for job in jobs if not job.state.ended), None),
        failed=jobs[0] if jobs and jobs[0].state.value == "failed" else None,
        made=[(job, _dossiers(folder)) for job, folder in made[:_SHOWN_PACKS]],
        contents=_contents(newest[1]) if newest else [],
        drawings=list(record.of(DrawingEntry)),
        planned={name for name, _ in record.of(DrawingEntry) if _has_sheets(bench, slug, name)},
        unticked=_unticked(jobs),
        left_out=left_out(record, choice_for(bench.workshop, slug).changed),
        changed_since=newest is not None and changed_since(bench, slug, newest[0]),
    )


@router.post(addresses.pack("{slug}"))
def make(bench: BenchDep, form: FormDep, slug: str) -> Response:
    """Ask for a pack."""
    asked: dict[str, Any] = {
        "private": form.one("private") == "yes",
        "hours_and_costs": form.one("hours_and_costs") == "yes",
    }
    if form.one("choose"):
        taken = set(form.many("drawing"))
        drawings = [name for name, _ in bench.records.read(slug).of(DrawingEntry)]
        asked["without"] = [name for name in drawings if name not in taken]
    number = bench.jobs.ask("pack", asked, slug)
    return RedirectResponse(addresses.job(number), 303)


@router.get(addresses.pack_whole("{slug}", "{number}"))
def whole(bench: BenchDep, slug: str, number: int) -> Response:
    """Hand over a whole pack in one archive."""
    folder = _found(bench, slug, number)
    archive = zipped(bench, folder, slug, f"packs/{number}")
    return FileResponse(
        archive,
        media_type="application/zip",
        headers={"content-disposition": attachment(f"{slug}-pack.zip")},
    )


def zipped(bench: Bench, folder: Path, top: str, name: str) -> Path:
    """A folder in one archive, under a top folder of its own; made once."""
    archive = bench.workshop.derived / "web" / f"{name}.zip"
    if not archive.is_file():
        # a name of its own: several may ask at once, and each makes it whole
        part = archive.with_name(f"{archive.stem}.{uuid.uuid4().hex[:8]}.part")
        archive.parent.mkdir(parents=True, exist_ok=True)
        with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as packed:
            for path in sorted(p for p in folder.rglob("*") if p.is_file()):
                packed.write(path, f"{top}/{path.relative_to(folder).as_posix()}")
        part.replace(archive)
    return archive


@router.get(addresses.pack_file("{slug}", "{number}", "{file:path}"))
def file(request: Request, bench: BenchDep, slug: str, number: int, file: str) -> Response:
    """Serve one file of a pack; its pages run under a policy of their own."""
    return served(request, _found(bench, slug, number).resolve(), file, slug)


def served(request: Request, folder: Path, file: str, name: str, policy: str = "") -> Response:
    """One file of a folder, under a policy of its own if one is given.

    `name` begins what it is called when it is saved.
    """
    place = (folder / file).resolve()
    if not place.is_relative_to(folder) or not place.is_file():
        raise NotFoundError(f"There is no file '{file[:100]}' here.")
    media_type = _MEDIA.get(place.suffix, "application/octet-stream")
    headers = {"content_security_policy": FILE_POLICY}
    if policy:
        headers = {"content_security_policy": policy}
    elif place.suffix in (".html", ".css"):
        headers = {"content_security_policy": SITE_POLICY}
    elif place.suffix == ".pdf":
        # a browser's own reader of PDF does not start inside a sandbox
        headers = {"content_security_policy": "default-src 'none'; frame-ancestors 'none'"}
    if request.query_params.get("save"):
        headers["content_disposition"] = attachment(f"{name}-{place.name}")
    return tagged(place, request, media_type, **headers)


def site_stands(
    bench: Bench, jobs: list[Job], says: str, typed: dict[str, str] | None
) -> dict[str, Any]:
    """How a public site stands: what was typed, made, is in making, and what was refused."""
    told = jobs[0].asked if jobs else {}
    return {
        "says": says,
        # what was said of it last is said again unless it is changed
        "typed": typed or {name: str(told.get(name) or "") for name in OF_SITE},
        "made": next((j for j in jobs if folder_of(bench, j, "site") is not None), None),
        "making": next((j for j in jobs if not j.state.ended), None),
        "failed": jobs[0] if jobs and jobs[0].state.value == "failed" else None,
    }


def latest_pack(bench: Bench, slug: str) -> tuple[Job, list[tuple[str, str]]] | None:
    """The newest pack of a machine that is at hand, with its dossiers and their paper."""
    for job in under_way(bench, slug, "pack"):
        folder = _folder(bench, job)
        if folder is not None:
            return job, _dossiers(folder)
    return None


def _has_sheets(bench: Bench, slug: str, name: str) -> bool:
    return finding_of(bench.workshop, slug, name) is not None


def _unticked(jobs: list[Job]) -> list[str]:
    """Drawings left out of the pack asked for last, to be left out again unless said otherwise."""
    told = jobs[0].asked.get("without") if jobs else None
    return [str(name) for name in told] if isinstance(told, list) else []


def folder_of(bench: Bench, job: Job, result: str) -> Path | None:
    """Where what a finished job made lies, None when it was thrown away or never came to be."""
    said = (job.result or {}).get(result)
    if not isinstance(said, str):
        return None
    derived = bench.workshop.derived.resolve()
    folder = (derived / said).resolve()
    return folder if folder.is_relative_to(derived) and folder.is_dir() else None


def _folder(bench: Bench, job: Job) -> Path | None:
    return folder_of(bench, job, "pack")


def _found(bench: Bench, slug: str, number: int) -> Path:
    job = bench.jobs.get(number)
    folder = _folder(bench, job) if job.slug == slug else None
    if folder is None:
        raise NotFoundError(f"Pack {number} of this machine is not at hand: make it again.")
    return folder


def _dossiers(folder: Path) -> list[tuple[str, str]]:
    """The dossiers of a pack with their paper, A4 first."""
    names = sorted(path.name for path in folder.glob("dossier*.pdf"))
    return [(name, "Letter" if "letter" in name else "A4") for name in names]


def _contents(folder: Path) -> list[tuple[str, int]]:
    """The files of a pack that a person opens, with their sizes: documents and sheets first."""
    files = [p for p in folder.rglob("*") if p.is_file()]
    shown = [
        p for p in files if p.suffix in (".pdf", ".svg", ".json", ".csv") and "site" not in p.parts
    ]
    return [
        (p.relative_to(folder).as_posix(), p.stat().st_size)
        for p in sorted(shown, key=lambda p: (len(p.parts), p.name))
    ]


def changed_since(bench: Bench, slug: str, job: Job) -> bool:
    """Whether a record has changed since a job on it ended."""
    latest = bench.records.recent(slug, 1)
    return bool(latest) and job.ended_at is not None and latest[0].made_at > job.made_at
