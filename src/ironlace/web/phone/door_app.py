"""What answers at the phone's door: a page, and what comes in by it; nothing of the record.

It is an application of its own with ten addresses, none of which is the bench's. Each request is
looked at before its body is read: the host must be the door's own, a write must not come from
another site, and all but the page itself and the joining need the token of the one phone.
"""

import asyncio
import re
from urllib.parse import parse_qs, parse_qsl

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ironlace.dossier.faces import FACES
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.record import PhotographRole
from ironlace.web import addresses
from ironlace.web.bench import Bench
from ironlace.web.failures import wants_json
from ironlace.web.incoming import Form, FormError, read_json, receive_body
from ironlace.web.manners import ALWAYS, SAFE, came_from_elsewhere, cookie_of, fault_told
from ironlace.web.phone.called_motion import CalledMotion, called_context
from ironlace.web.phone.called_readings import measurement_from
from ironlace.web.phone.pairing import PairingError, PairingState
from ironlace.web.phone.sessions import Session
from ironlace.web.phone.spoken_numbers import read_number
from ironlace.web.rendering import rendered, static_files
from ironlace.workshop.store.originals import TooLargeError
from ironlace.workshop.store.receipts import Sending, keep_once

COOKIE = "ironlace-phone"
KEY_HEADER = "x-ironlace-key"
STALLED_S = 30.0
"""Seconds without a byte after which a sender is taken for gone: twice what a phone needs to change
from one mast of the house network to another. A judgement."""
_LONGEST_CODE = 2000
"""Bytes of the form with the code."""
_LONGEST_READING = 6000
"""Bytes of the form with a reading of the motion, and all that goes along with it."""
_KEY = re.compile(r"[0-9a-f]{32}\Z")
_OWN_FILES = re.compile(r"(?:phone\.js|calling\.js|emblem\.svg|[a-z-]+\.(?:css|woff2)|lace\.svg)\Z")
_FACES = frozenset(face.file for face in FACES)
"""Of the program's own files, those that the phone's page and its style sheets name."""
_NOT_HERE = frozenset({"cross-origin-opener-policy"})
"""Browsers heed it on encrypted pages and loopback only, and complain elsewhere."""


def door_app(session: Session, bench: Bench, *, stalled_s: float = STALLED_S) -> Starlette:
    """Make the application that answers at the door for one session."""
    pages = _Pages(session, bench)
    app = Starlette(
        # within the library's own layer for faults, which would answer first
        middleware=[Middleware(_DoorManners, session=session, stalled_s=stalled_s)],
        routes=[
            Route(addresses.door_home(), pages.home),
            Route(addresses.door_join(), pages.join, methods=["POST"]),
            Route(addresses.door_leave(), pages.leave, methods=["POST"]),
            Route(addresses.door_state(), pages.state),
            Route(addresses.door_photograph(), pages.photograph, methods=["PUT"]),
            Route(addresses.door_reading(), pages.reading, methods=["POST"]),
            Route(addresses.door_reads(), pages.reads),
            Route(addresses.door_motion(), pages.motion),
            Route(addresses.door_motion(), pages.motion_entered, methods=["POST"]),
            Route(addresses.static("{digest}", "{name}"), pages.own_file),
            Route(addresses.icon(), pages.icon),
        ],
        exception_handlers={IronlaceError: _refused, HTTPException: _no_such},
    )
    app.router.redirect_slashes = False
    return app


class _DoorManners:
    """The outermost layer: who is answered at all, and how an answer is dressed."""

    def __init__(self, app: ASGIApp, session: Session, stalled_s: float) -> None:
        self.app, self.session, self.stalled_s = app, session, stalled_s

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            return
        request = Request(scope, receive)
        token = cookie_of(request.headers, COOKIE) or ""
        scope.setdefault("state", {})["token"] = token
        begun = False

        async def dressed(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                headers = MutableHeaders(scope=message)
                for name, value in ALWAYS.items():
                    if name not in _NOT_HERE:
                        headers.setdefault(name, value)
                if "immutable" not in headers["cache-control"]:
                    headers["cache-control"] = "no-store"
                if message["status"] >= 400:
                    # what is refused is not read to its end, so nothing else can follow it
                    headers["connection"] = "close"
            await send(message)

        async def unless_stalled() -> Message:
            try:
                return await asyncio.wait_for(receive(), self.stalled_s)
            except TimeoutError:
                return {"type": "http.disconnect"}

        try:
            refused = self._refused(request)
            if refused is not None:
                await _failure(request, *refused)(scope, receive, dressed)
            else:
                await self.app(scope, unless_stalled, dressed)
        except ClientDisconnect:
            return  # the phone has gone; what had come of its sending is gone too
        except Exception as error:
            says = "A fault in the program: nothing of this was kept. The computer's log has more."
            told = fault_told(request, error, says, begun=begun)
            if told is None:
                raise
            await _failure(request, *told)(scope, receive, dressed)

    def _refused(self, request: Request) -> tuple[int, str] | None:
        host = request.headers.get("host", "").strip().lower()
        if host != self.session.where.host.lower():
            return 421, "This door answers to its own address only: type the one on the computer."
        if self.session.ended:
            return 410, "The door is closed: open it again on the computer."
        if request.method not in SAFE and came_from_elsewhere(request.headers):
            return 403, "This came from a page that is not of this door, so nothing was changed."
        return None


class _Pages:
    """What the addresses of the door do."""

    def __init__(self, session: Session, bench: Bench) -> None:
        self.session, self.bench = session, bench
        self.by = f"{session.hand}, by phone" if session.hand else "by phone"

    async def home(self, request: Request) -> Response:
        """The page of the joined phone; for any other the field for the code."""
        if not self.session.pairing.admits(request.state.token):
            return self._joining()
        motion = self.session.motion is not None
        return HTMLResponse(rendered("phone.html", work=self.session.work, motion=motion))

    async def join(self, request: Request) -> Response:
        """Let a phone in by its code, and give it its token."""
        form = parse_qs((await _text_of(request, _LONGEST_CODE)).decode("ascii", "replace"))
        try:
            token = self.session.pairing.join(form.get("code", [""])[-1])
        except PairingError as error:
            return self._joining(str(error), error.http_status)
        answer = RedirectResponse(addresses.door_home(), 303)
        answer.set_cookie(COOKIE, token, httponly=True, samesite="strict")
        return answer

    async def leave(self, request: Request) -> Response:
        """Let the phone go."""
        self._welcome(request)
        self.session.pairing.part(request.state.token)
        answer = RedirectResponse(addresses.door_home(), 303)
        answer.delete_cookie(COOKIE, httponly=True, samesite="strict")
        return answer

    async def state(self, request: Request) -> Response:
        """What the phone works for now, which also tells it that the network is there."""
        self._welcome(request)
        work = self.session.work
        return JSONResponse(
            {
                "for": work.key,
                "machine": work.title,
                "wanted": work.wanted,
                "motion": self.session.motion is not None,
            }
        )

    async def photograph(self, request: Request) -> Response:
        """Take in one photograph; what it is for is said later, on the computer."""
        sending, slug = self._sending(request)
        name = request.query_params.get("came_as", "")[:200].replace("\\", "/").rpartition("/")[2]
        came_as = name or "the photograph"
        limit = self.bench.limits.photograph
        length = request.headers.get("content-length", "")
        if length.isdecimal() and int(length[:16]) > limit:
            raise TooLargeError(
                f"{came_as} is larger than {limit // 1_000_000} MB: take it smaller."
            )
        held = await receive_body(request, self.bench.workshop.store, limit, came_as)

        def keep() -> tuple[str, bool]:
            with held as incoming:
                taken = self.bench.photographs.take_in(
                    slug, incoming, came_as, PhotographRole.UNSAID, by=self.by, sending=sending
                )
            self.session.came(slug, taken.name)
            return taken.name, taken.again

        kept, again = await run_in_threadpool(keep)
        return JSONResponse({"name": kept, "again": again})

    async def reading(self, request: Request) -> Response:
        """Keep one reading as a measurement."""
        sending, slug = self._sending(request)
        entry = measurement_from(await read_json(request, self.bench.limits))

        def keep() -> str:
            receipt = keep_once(
                self.bench.workshop.database, self.bench.records, slug, entry, sending, self.by
            )
            self.session.came(slug, receipt.entry)
            return receipt.entry

        kept = await run_in_threadpool(keep)
        return JSONResponse({"name": kept, "reads": entry.in_brief()})

    async def reads(self, request: Request) -> Response:
        """How a number called out is understood."""
        self._welcome(request)
        return JSONResponse({"reads": read_number(request.query_params.get("number", ""))})

    async def motion(self, request: Request) -> Response:
        """Ask for the next reading of the motion that the computer turned this phone to."""
        self._welcome(request)
        return await run_in_threadpool(self._motion_page, {}, "", 200)

    async def motion_entered(self, request: Request) -> Response:
        """Keep a reading of the motion, pass one, or go back one."""
        self._welcome(request)
        body = await _text_of(request, _LONGEST_READING)
        form = Form(parse_qsl(body.decode("utf-8", "replace"), keep_blank_values=True))

        def enter() -> Response:
            called = self._calling()
            try:
                if form.one("do") == "paste":
                    raise FormError("A table is pasted on the computer.")
                calling = called.act(form, self.by)
            except IronlaceError as error:
                typed = {name: form.one(name) for name in ("number", "wheel")}
                return self._motion_page(typed, str(error), error.http_status)
            self.session.call_motion(called.slug, calling)
            if calling.of:
                self.session.came(called.slug, calling.of)
            return RedirectResponse(addresses.door_motion(), 303)

        return await run_in_threadpool(enter)

    def _calling(self) -> CalledMotion:
        calling = self.session.motion
        if calling is None:
            raise NotFoundError(
                "No motion readings are asked for here: begin them on the computer, and choose "
                "there that they are read on the phone."
            )
        return CalledMotion(self.bench, self.session.work.slug, calling)

    def _motion_page(self, typed: dict[str, str], says: str, status: int) -> Response:
        shown = rendered(
            "phone_motion.html",
            work=self.session.work,
            typed=typed,
            says=says,
            **called_context(self._calling()),
        )
        return HTMLResponse(shown, status)

    async def own_file(self, request: Request) -> Response:
        """A file of the program that the phone's page names."""
        current, files = static_files()
        name = request.path_params["name"]
        if name not in files or not (name in _FACES or _OWN_FILES.match(name)):
            raise NotFoundError("There is no such file at this door.")
        content, media_type = files[name]
        fresh = request.path_params["digest"] == current
        headers = {"cache-control": "private, max-age=31536000, immutable"} if fresh else {}
        return Response(content, media_type=media_type, headers=headers)

    async def icon(self, request: Request) -> Response:  # noqa: ARG002
        """The emblem."""
        content, media_type = static_files()[1]["emblem.svg"]
        return Response(content, media_type=media_type)

    def _welcome(self, request: Request) -> None:
        self.session.welcome(request.state.token)

    def _sending(self, request: Request) -> tuple[Sending, str]:
        """Under which key something comes and for which machine; refused before it is read."""
        self._welcome(request)
        key = request.headers.get(KEY_HEADER, "")
        if not _KEY.match(key):
            raise FormError("This carries no key of its own: reload the page and send it again.")
        token = request.state.token
        slug = self.session.slug_of(request.query_params.get("for", ""))
        return Sending(key, lambda: self.session.welcome(token)), slug

    def _joining(self, says: str = "", status: int = 200) -> Response:
        state = self.session.pairing.state
        taken = state is PairingState.JOINED
        page = rendered("phone_join.html", says=says, taken=taken, state=state)
        return HTMLResponse(page, status)


async def _text_of(request: Request, limit: int) -> bytes:
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > limit:
            raise TooLargeError("That is too long to be a code: type the one on the computer.")
    return bytes(body)


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, IronlaceError)
    return _failure(request, error.http_status, str(error))


async def _no_such(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return _failure(request, error.status_code, "There is nothing at this address of the door.")


def _failure(request: Request, status: int, says: str) -> Response:
    if wants_json(request):
        return JSONResponse({"error": {"status": status, "says": says}}, status)
    return HTMLResponse(rendered("phone_refused.html", says=says), status)
