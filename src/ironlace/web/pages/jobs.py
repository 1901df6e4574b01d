"""Long jobs: how far they have come, stopped, started again."""

from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep
from ironlace.web.incoming import WITH_TOKEN
from ironlace.web.rendering import page
from ironlace.workshop.work.jobs import Job

router = APIRouter()
TITLES = {
    "trace": "Tracing the ornament",
    "pack": "Making the pack",
    "bag": "Making the package for the next owner",
    "site": "Writing the public site",
    "take in": "Taking a package in",
    "sheets": "Planning the sheets",
    "work out": "Working it out",
    "relief": "Working out the relief",
    "plate check": "Looking the photographs over",
}


@router.get(addresses.job("{number}"))
def job(request: Request, bench: BenchDep, number: int) -> Response:
    """Show a job; without script the page asks again by itself."""
    found = bench.jobs.get(number)
    record = bench.records.read(found.slug) if found.slug else None
    return page(
        request,
        "job.html",
        job=found,
        record=record,
        title=TITLES.get(found.task, found.task),
        outcome=_outcome(found),
    )


@router.get(addresses.job_progress("{number}"))
def progress(bench: BenchDep, number: int) -> dict[str, Any]:
    """Tell a script how far a job has come."""
    found = bench.jobs.get(number)
    return {
        "state": found.state.value,
        "ended": found.state.ended,
        "stage": found.stage,
        "fraction": found.fraction,
        "error": found.error,
        "outcome": _outcome(found),
    }


@router.post(addresses.job_stop("{number}"), dependencies=WITH_TOKEN)
def stop(bench: BenchDep, number: int) -> Response:
    """Stop a job."""
    bench.jobs.stop(number)
    return RedirectResponse(addresses.job(number), 303)


@router.post(addresses.job_away("{number}"), dependencies=WITH_TOKEN)
def away(bench: BenchDep, number: int) -> Response:
    """Put a failed job away: its machine's page no longer tells of it."""
    found = bench.jobs.get(number)
    bench.jobs.put_away(number)
    return RedirectResponse(addresses.machine(found.slug) if found.slug else addresses.home(), 303)


@router.post(addresses.job_again("{number}"), dependencies=WITH_TOKEN)
def again(bench: BenchDep, number: int) -> Response:
    """Start a stopped or failed job again; what it had kept is used."""
    bench.jobs.again(number)
    return RedirectResponse(addresses.job(number), 303)


def _outcome(job: Job) -> str | None:
    """Address of what came of a job."""
    if job.result is None:
        return None
    if isinstance(job.result.get("machine"), str):
        return addresses.machine(job.result["machine"])
    if job.slug is None:
        return addresses.whole_site() if "site" in job.result else None
    if isinstance(job.result.get("drawing"), str):
        return addresses.entry(job.slug, job.result["drawing"])
    if isinstance(job.result.get("sheets"), str):
        return addresses.sheets(job.slug, job.result["sheets"].removeprefix("drawing "))
    if isinstance(job.result.get("plate"), str):
        return addresses.plate(job.slug, job.result["plate"].removeprefix("finding "))
    if isinstance(job.result.get("plate check"), str):
        return addresses.plates(job.slug, job.result["plate check"])
    plate = (job.asked.get("asked") or {}).get("plate")
    if isinstance(plate, str) and plate.startswith("finding "):
        return addresses.plate(job.slug, plate.removeprefix("finding ")) + "#reading"
    if isinstance(job.result.get("kept"), str):
        return addresses.entry(job.slug, job.result["kept"])
    if "pack" in job.result:
        return addresses.pack(job.slug)
    if "site" in job.result:
        return addresses.pack(job.slug) + "#site"
    if "bag" in job.result:
        return addresses.package(job.slug)
    return None


def under_way(bench: Bench, slug: str | None, task: str) -> list[Job]:
    """The jobs of one task of a machine, or of the workshop itself, newest first."""
    return [job for job in bench.jobs.of_record(slug, 40) if job.task == task]
