"""The package for the next owner: made, taken along; and one from another workshop taken in.

A package is a folder. It is taken in from a folder of this computer, named by its path, and not
sent through the browser: a browser hands a page single files without their folders, and would copy
ten gigabytes twice to bring them to the computer they lie on.
"""

from pathlib import Path
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response

from ironlace.dossier.bag.checking import looks_like_a_bag
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.evidence.grades import Grade
from ironlace.record import parse_entry
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import Form, FormDep
from ironlace.web.pages.files import attachment
from ironlace.web.pages.jobs import under_way
from ironlace.web.pages.pack import changed_since, folder_of, zipped
from ironlace.web.rendering import page

router = APIRouter()
_LONGEST_NAME = 200
"""Characters of a name that is cited."""
_TYPED = ("folder", "happened", "when", "where", "owner", "grade")


class NoPackageError(IronlaceError):
    """What was named as a package is none."""


@router.get(addresses.package("{slug}"))
def package(request: Request, bench: BenchDep, slug: str) -> Response:
    """Show the newest package, and the form for a new one."""
    record = bench.records.read(slug)
    jobs = under_way(bench, slug, "bag")
    made = [(job, at) for job in jobs if (at := folder_of(bench, job, "bag")) is not None]
    return page(
        request,
        "package.html",
        record=record,
        making=next((job for job in jobs if not job.state.ended), None),
        failed=jobs[0] if jobs and jobs[0].state.value == "failed" else None,
        newest=made[0][0] if made else None,
        folder=str(made[0][1]) if made else "",
        changed_since=bool(made) and changed_since(bench, slug, made[0][0]),
        packed_by=str(jobs[0].asked.get("packed_by") or "") if jobs else "",
    )


@router.post(addresses.package("{slug}"))
def make(bench: BenchDep, form: FormDep, slug: str) -> Response:
    """Ask for a package."""
    asked = {
        "private": form.one("whom") != "strangers",
        "hours_and_costs": form.one("hours_and_costs") == "yes",
        "packed_by": " ".join(form.one("packed_by").split())[:_LONGEST_NAME],
    }
    return RedirectResponse(addresses.job(bench.jobs.ask("bag", asked, slug)), 303)


@router.get(addresses.package_whole("{slug}", "{number}"))
def whole(bench: BenchDep, slug: str, number: int) -> Response:
    """Hand over a whole package in one archive."""
    job = bench.jobs.get(number)
    folder = folder_of(bench, job, "bag") if job.slug == slug else None
    if folder is None:
        raise NotFoundError(f"Package {number} of this machine is not at hand: make it again.")
    return FileResponse(
        zipped(bench, folder, f"{slug}-package", f"packages/{number}"),
        media_type="application/zip",
        headers={"content-disposition": attachment(f"{slug}-package.zip")},
    )


@router.get(addresses.take_in())
def door(request: Request) -> Response:
    """Show where a package is taken in."""
    return _door(request, dict.fromkeys(_TYPED, ""))


@router.post(addresses.take_in())
def take_in(request: Request, bench: BenchDep, form: FormDep, hand: HandDep) -> Response:
    """Ask for a package to be taken in; what cannot be one is refused here and now."""
    try:
        number = _asked(bench, form, hand)
    except IronlaceError as error:
        typed = {name: form.one(name) for name in _TYPED}
        return _door(request, typed, says=str(error), status=error.http_status)
    return RedirectResponse(addresses.job(number), 303)


def _asked(bench: Bench, form: Form, hand: str) -> int:
    named = form.one("folder").strip("\"'")
    folder = Path(named).expanduser()
    if not named or not folder.is_absolute():
        raise NoPackageError(
            f"{f'“{named[:100]}” is' if named else 'Nothing is'} no whole path: give the folder "
            "from the top of the disk, as a file manager shows it."
        )
    if folder.suffix.lower() == ".zip":
        raise NoPackageError(
            f"“{folder.name}” is an archive: unpack it first, then give the folder that bagit.txt "
            "lies in."
        )
    if not looks_like_a_bag(folder):
        raise NoPackageError(
            f"“{named[:200]}” holds no package: give the folder that bagit.txt lies in."
        )
    asked = {"folder": str(folder), "step": _step(form), "by": hand}
    return bench.jobs.ask("take in", asked)


def _step(form: Form) -> dict[str, Any] | None:
    """The change of owner as it was typed, None when nothing was."""
    told = {name: form.one(name) for name in _TYPED if name != "folder"}
    if not any(told.values()):
        return None
    if not told["happened"] or not told["grade"]:
        raise NoPackageError(
            "A change of owner needs what happened and how you know it: fill both in, or leave "
            "all of it empty."
        )
    step = {
        "kind": "provenance",
        "event": told["happened"],
        "date": told["when"] or None,
        "place": told["where"],
        "who": told["owner"],
        "grade": told["grade"],
    }
    parse_entry(step)
    return step


def _door(
    request: Request, typed: dict[str, str], *, says: str = "", status: int = 200
) -> Response:
    return page(request, "take_in.html", typed=typed, says=says, grades=list(Grade), status=status)
