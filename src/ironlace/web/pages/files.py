"""Files: the bench's own, photographs in handy sizes, originals as they came."""

from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from ironlace.evidence.errors import NotFoundError
from ironlace.web import addresses
from ironlace.web.bench import BenchDep
from ironlace.web.manners import FILE_POLICY
from ironlace.web.rendering import static_files

if TYPE_CHECKING:
    from ironlace.dossier.print.typesetting import Paper

router = APIRouter()
_FOR_EVER = "private, max-age=31536000, immutable"


@router.get(addresses.static("{digest}", "{name}"))
def own_file(digest: str, name: str) -> Response:
    """Serve a style sheet, script or picture of the bench."""
    current, files = static_files()
    if name not in files:
        raise NotFoundError(f"The bench has no file {name[:60]}.")
    content, media_type = files[name]
    caching = _FOR_EVER if digest == current else "private, no-cache"
    return Response(content, media_type=media_type, headers={"cache-control": caching})


@router.get(addresses.icon())
def icon() -> Response:
    """Serve the emblem to a page that names none, such as a pack's site."""
    content, media_type = static_files()[1]["emblem.svg"]
    return Response(content, media_type=media_type, headers={"cache-control": "max-age=86400"})


@router.get(addresses.view("{sha256}", "{size}"))
def view(request: Request, bench: BenchDep, sha256: str, size: str) -> Response:
    """Serve a photograph in a handy size; it never changes under its checksum."""
    _be_checksum(sha256)
    edge = int(size) if size.isdecimal() and len(size) < 6 else 0
    tag = f'"{sha256}-{edge}"'
    headers = {"cache-control": _FOR_EVER, "etag": tag}
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    with bench.making(sha256):
        path = bench.photographs.view(sha256, edge)
    return FileResponse(path, media_type="image/jpeg", headers=headers)


@router.get(addresses.original("{sha256}"))
def original(request: Request, bench: BenchDep, sha256: str) -> Response:
    """Hand over an original, under the name it came by."""
    _be_checksum(sha256)
    found = bench.photographs.original(sha256)
    tag = f'"{sha256}"'
    headers = {
        "cache-control": _FOR_EVER,
        "etag": tag,
        "content-security-policy": FILE_POLICY,
        "content-disposition": attachment(found.came_as),
    }
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    return FileResponse(found.path, media_type=found.media_type, headers=headers)


def attachment(name: str) -> str:
    """A header that has a file saved under a name (RFC 6266)."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_. ") else "_" for c in name)
    return f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"


def tagged(path: Path, request: Request, media_type: str, **headers: str) -> Response:
    """Serve a file that may be made again: asked anew each time, sent only when it changed."""
    stat = path.stat()
    tag = f'"{stat.st_mtime_ns:x}-{stat.st_size:x}"'
    told = {"etag": tag, **{name.replace("_", "-"): value for name, value in headers.items()}}
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=told)
    return FileResponse(path, media_type=media_type, headers=told)


def _be_checksum(text: str) -> None:
    if len(text) != 64 or not set(text) <= set("0123456789abcdef"):
        raise NotFoundError(f"'{text[:20]}' is not the checksum of a photograph.")


def paper_named(paper: str) -> "Paper":
    """The paper that an address names; raises NotFoundError when there is no such paper."""
    from ironlace.dossier.print.typesetting import PAPER_MM

    known = next((one for one in PAPER_MM if one == paper), None)
    if known is None:
        raise NotFoundError(f"There is no paper '{paper[:20]}': use {' or '.join(PAPER_MM)}.")
    return known
