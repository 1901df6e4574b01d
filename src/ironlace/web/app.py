"""The application: one workshop, its pages, its manners."""

import asyncio
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from ironlace.dossier.faces import SERIF, font_files
from ironlace.evidence.errors import IronlaceError
from ironlace.survey.answers.plots import set_plots_in
from ironlace.web import addresses
from ironlace.web.bench import Bench, Limits
from ironlace.web.failures import failure, wants_json
from ironlace.web.incoming import StaleFormError
from ironlace.web.manners import Manners
from ironlace.web.pages import (
    analyses,
    base,
    call_for_reports,
    club_tray,
    dating,
    entries,
    files,
    film,
    history,
    jobs,
    leaving,
    lenses,
    machines,
    motion_readings,
    oiling,
    ornament,
    pack,
    package,
    phone,
    photographs,
    photographs_together,
    plates,
    reports_in,
    reports_out,
    rework,
    screw,
    seams,
    site,
    stencils,
    surveys,
    theories,
    threading_plans,
    touching,
    trials,
)
from ironlace.web.pages import workshop_care as care
from ironlace.web.phone.phone_door import PhoneDoor
from ironlace.web.rendering import page
from ironlace.web.rendering import warm_up as warm_up_templates
from ironlace.web.tokens import Gate
from ironlace.workshop import Workshop

_WARM_AFTER_S = 0.2
"""So that the first page goes before the templates of the others; judged by the first page's time
in `bench/`."""

_WARMED = 3
"""Machines looked at ahead: those changed last."""

_ROUTERS = (
    machines.router,
    photographs_together.router,
    photographs.router,
    phone.router,
    plates.router,
    ornament.router,
    rework.router,
    lenses.router,
    stencils.router,
    dating.router,
    call_for_reports.router,
    reports_in.router,
    reports_out.router,
    surveys.router,
    club_tray.router,
    theories.router,
    threading_plans.router,
    touching.router,
    oiling.router,
    motion_readings.router,
    seams.router,
    trials.router,
    screw.router,
    base.router,
    analyses.router,
    history.router,
    pack.router,
    site.router,
    package.router,
    leaving.router,
    film.router,
    entries.router,
    jobs.router,
    care.router,
    files.router,
)


def create_app(  # long: the parts of the application
    workshop_folder: Path,
    *,
    foreman: bool = True,
    host: str = "127.0.0.1",
    port: int = 8765,
    limits: Limits | None = None,
) -> FastAPI:
    """Make the application for a workshop.

    Parameters
    ----------
    foreman
        Whether to keep workers for long jobs; without, jobs wait for another program's workers.
    host, port
        Where it will listen, which settles the hosts that it answers to.
    limits
        How much is taken in at once.

    Raises
    ------
    WorkshopError
        When there is no workshop in the folder.
    """
    workshop = Workshop.open(workshop_folder)
    set_plots_in(SERIF, [str(path) for path in font_files()])
    gate = Gate.of(workshop.derived, host)
    bench = Bench(workshop, gate, limits or Limits())
    door = PhoneDoor(bench)

    def warm_up() -> None:
        warm_up_templates()
        for latest in workshop.records.all()[:_WARMED]:
            asyncio.run(_look_at(app, addresses.machine(latest.slug)))

    @asynccontextmanager
    async def while_running(_: FastAPI) -> AsyncIterator[None]:
        warming = threading.Timer(_WARM_AFTER_S, warm_up)  # the first page goes first
        warming.daemon = True
        warming.start()
        at_work = None
        if foreman and not workshop.read_only:
            from ironlace.workshop.work.foreman import Foreman

            at_work = Foreman(workshop.folder)
            at_work.start()
        try:
            yield
        finally:
            door.close()
            warming.cancel()
            if at_work is not None:
                at_work.stop()
            if warming.is_alive():
                warming.join()
            workshop.close()

    app = FastAPI(
        title="Ironlace",
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        lifespan=while_running,
        redirect_slashes=False,
    )
    app.state.bench = bench
    app.state.door = door
    app.state.port = port
    app.add_middleware(Manners, gate=gate)
    app.add_exception_handler(StaleFormError, _send_again)
    app.add_exception_handler(IronlaceError, _refused)
    app.add_exception_handler(RequestValidationError, _unreadable)
    app.add_exception_handler(HTTPException, _no_such)
    for router in _ROUTERS:
        # a router's own routes, worked out once a process: taken in by `include_router`, each would
        # be worked out again for each application, at its first page (half a second for all)
        app.router.routes.extend(router.routes)
    return app


async def _look_at(app: FastAPI, path: str) -> None:
    """Answer a page to nobody: what is made at the first look of a route is then made."""
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "GET",
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "root_path": "",
        "headers": [(b"host", b"127.0.0.1")],
        "client": ("127.0.0.1", 0),
        "server": ("127.0.0.1", 0),
    }

    async def receive() -> dict[str, object]:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(_: object) -> None:
        return

    await app(scope, receive, send)


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, IronlaceError)
    return failure(request, error.http_status, str(error))


async def _send_again(request: Request, error: Exception) -> Response:
    """Hand back what was typed, under a fresh token; a person must press to send it."""
    assert isinstance(error, StaleFormError)
    if wants_json(request):
        return failure(request, error.http_status, str(error))
    return page(
        request,
        "send_again.html",
        status=error.http_status,
        says=str(error),
        fields=error.fields,
    )


async def _unreadable(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    fault = error.errors()[0]
    name = str(fault["loc"][-1])
    return failure(
        request,
        404 if fault["loc"][0] == "path" else 422,
        f"The address holds '{name}' in a form that is not understood: follow a link of the bench.",
    )


async def _no_such(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == 404:
        says = "There is nothing at this address: go back to the workshop and follow its links."
    elif error.status_code == 405:
        says = f"This address does not take {request.method}: use the forms of the bench."
    else:
        says = f"{error.detail}."
    return failure(request, error.status_code, says)
