"""Care of the workshop itself: checked, backed up, and whose hand it is."""

from datetime import datetime
from urllib.parse import quote

from fastapi import APIRouter
from starlette.background import BackgroundTask
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response

from ironlace.web import addresses
from ironlace.web.bench import BenchDep, HandDep
from ironlace.web.incoming import WITH_TOKEN, FormDep
from ironlace.web.pages.files import attachment
from ironlace.web.rendering import page

router = APIRouter()
_YEAR_S = 365 * 24 * 3600
"""Seconds that a browser remembers whose hand it is."""


@router.get(addresses.care())
def care(request: Request, bench: BenchDep, hand: HandDep) -> Response:
    """Show what can be done for the workshop."""
    return page(
        request,
        "care.html",
        folder=str(bench.workshop.folder),
        hand=hand,
        checked=None,
        stale=(),
        record=None,
    )


@router.post(addresses.care_check(), dependencies=WITH_TOKEN)
def check(request: Request, bench: BenchDep, hand: HandDep) -> Response:
    """Check every checksum and reference."""
    from ironlace.workshop.analyses import stale_everywhere
    from ironlace.workshop.store.check import check_workshop

    checked = check_workshop(bench.workshop)
    return page(
        request,
        "care.html",
        folder=str(bench.workshop.folder),
        hand=hand,
        checked=checked,
        stale=stale_everywhere(bench.workshop),
        record=None,
    )


@router.post(addresses.care_backup(), dependencies=WITH_TOKEN)
def backup(bench: BenchDep) -> Response:
    """Make a backup and hand it over; no copy of it stays behind."""
    from ironlace.workshop.store.backup import back_up

    now = datetime.now().astimezone()
    folder = bench.workshop.derived / "web" / "backups"
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / f"{now:%Y%m%d-%H%M%S-%f}.zip"
    back_up(bench.workshop, file)
    name = f"{bench.workshop.folder.name}-{now:%Y-%m-%d-%H%M}.zip"
    return FileResponse(
        file,
        media_type="application/zip",
        headers={"content-disposition": attachment(name), "cache-control": "no-store"},
        background=BackgroundTask(lambda: file.unlink(missing_ok=True)),
    )


@router.post(addresses.care_hand())
def hand(bench: BenchDep, form: FormDep) -> Response:
    """Remember, in this browser, the name that goes with each change."""
    name = " ".join(form.one("hand").split())[:200]
    answer = RedirectResponse(addresses.care(), 303)
    answer.set_cookie(
        bench.gate.hand_cookie,
        quote(name, safe=""),
        max_age=_YEAR_S,
        httponly=True,
        samesite="strict",
    )
    return answer
