"""Refusals and faults: one sentence on a page for a person, one shape in JSON for a script.

The shape, held by a test: ``{"error": {"status": 422, "says": "One sentence."}}``.
"""

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from ironlace.web.rendering import page

_TITLES = {
    403: "Not let in",
    404: "Not here",
    405: "Not done here",
    408: "Broken off",
    409: "Changed meanwhile",
    413: "Too large",
    415: "Not a photograph",
    421: "Another address",
    422: "That cannot be used yet",
    500: "A fault in the program",
    503: "Not at the moment",
    507: "No room",
}


def wants_json(request: Request) -> bool:
    """Whether a script asks rather than a person."""
    accept = request.headers.get("accept", "")
    return "application/json" in accept and "text/html" not in accept


def failure(request: Request, status: int, says: str) -> Response:
    """Answer with what went wrong, in the form in which it was asked."""
    if wants_json(request):
        return JSONResponse({"error": {"status": status, "says": says}}, status)
    title = _TITLES.get(status, "That did not work")
    return page(request, "error.html", status=status, code=status, title=title, says=says)
