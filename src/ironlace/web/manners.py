"""What holds for every request: whose it is, where it may come from, what an answer may do."""

import asyncio
import logging
from http.cookies import CookieError, SimpleCookie
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ironlace.evidence.errors import IronlaceError
from ironlace.web.failures import failure
from ironlace.web.tokens import Gate
from ironlace.workshop.store.faults import in_words

PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'; trusted-types 'none'"
)
FILE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox"
PICTURED_POLICY = f"{FILE_POLICY}; img-src data:"
"""For a drawing that has a photograph in it."""
SITE_POLICY = (
    "default-src 'none'; img-src 'self' data:; style-src 'self'; font-src 'self'; "
    "form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
ALWAYS = {
    "content-security-policy": PAGE_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # 'no-referrer' would make browsers send 'Origin: null' with our own forms
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), interest-cohort=()",
    # 'no-store' would lose what is typed into a form when a person goes back to it
    "cache-control": "private, no-cache",
}
SAFE = ("GET", "HEAD", "OPTIONS")
"""Methods that change nothing."""
_STANDSTILL_S = 60.0
"""How long a body may stand still on its way in: longer than any pause of a house network."""
_YEAR_S = 365 * 24 * 3600
"""Seconds that a browser keeps its cookie."""

_log = logging.getLogger("ironlace.web")


class Manners:
    """The outermost layer: checks what comes in and dresses what goes out."""

    def __init__(self, app: ASGIApp, gate: Gate) -> None:
        self.app = app
        self.gate = gate

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope, receive)
        known = self.gate.known_visitor(cookie_of(request.headers, self.gate.cookie))
        visitor = known or self.gate.new_visitor()
        scope.setdefault("state", {})["visitor"] = visitor
        scope["state"]["token"] = self.gate.token_for(visitor)
        scope["state"]["hand"] = cookie_of(request.headers, self.gate.hand_cookie) or ""
        begun = False

        async def dressed(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                headers = MutableHeaders(scope=message)
                for name, value in ALWAYS.items():
                    headers.setdefault(name, value)
                if known is None and "immutable" not in headers["cache-control"]:
                    headers.append(
                        "set-cookie",
                        f"{self.gate.cookie}={visitor}; Path=/; Max-Age={_YEAR_S}; "
                        "HttpOnly; SameSite=Strict",
                    )
            await send(message)

        refused = self._refused(request)
        if refused is not None:
            await failure(request, *refused)(scope, receive, dressed)
            return
        try:
            await self.app(scope, _impatient(receive), dressed)
        except Exception as error:
            says = "A fault in the program: nothing was changed by this request. The log has more."
            told = fault_told(request, error, says, begun=begun)
            if told is None:
                raise
            await failure(request, *told)(scope, receive, dressed)

    def _refused(self, request: Request) -> tuple[int, str] | None:
        """Status and sentence when a request is not let in."""
        host = request.headers.get("host", "")
        if not self.gate.answers_to(host):
            return 421, (
                f"This bench does not answer to the host '{host[:100]}': open it by the address "
                "that 'ironlace serve' printed."
            )
        from_site = request.headers.get("sec-fetch-site")
        if request.method in SAFE:
            # a picture or a script of another site's page may not set the bench to work
            led_here = request.headers.get("sec-fetch-mode") in (None, "navigate")
            if from_site in (None, "none", "same-origin") or led_here:
                return None
            return 403, "A page that is not of this bench asked for this: follow a link to it."
        if came_from_elsewhere(request.headers):
            return 403, (
                "This came from a page that is not of this bench, so nothing was changed: "
                "do it from the bench itself."
            )
        return None


def fault_told(
    request: Request, error: Exception, says: str, *, begun: bool
) -> tuple[int, str] | None:
    """Log a fault while answering; its status and sentence, None where an answer has begun.

    ``says`` is the sentence for a fault of the program; disk and database have their own.
    """
    refusal = in_words(error)
    if refusal is not None and not begun:
        _log.warning("%s %s: %s", request.method, request.url.path, error)
        return refusal.http_status, str(refusal)
    _log.exception(
        "a fault while answering %s %s", request.method, request.url.path, exc_info=error
    )
    return None if begun else (500, says)


class StalledError(IronlaceError):
    """What was being sent stopped coming."""

    http_status = 408


def _impatient(receive: Receive) -> Receive:
    """Receive a request whose body may not stand still; after it, wait as long as it takes."""
    more = True

    async def received() -> Message:
        nonlocal more
        if not more:
            return await receive()
        try:
            message = await asyncio.wait_for(receive(), _STANDSTILL_S)
        except TimeoutError as error:
            raise StalledError(
                f"Nothing more came for {_STANDSTILL_S:.0f} seconds, so nothing was kept: send it "
                "again."
            ) from error
        more = message["type"] == "http.request" and bool(message.get("more_body"))
        return message

    return received


def came_from_elsewhere(headers: Headers) -> bool:
    """Whether a browser says that a page of another site, or of none, made it send a request."""
    from_site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if from_site not in (None, "same-origin"):
        return True
    host = headers.get("host", "").lower()
    return origin is not None and urlsplit(origin).netloc.lower() != host


def cookie_of(headers: Headers, name: str) -> str | None:
    """The value of a cookie, None when there is none."""
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return None
    return found.value if found else None
