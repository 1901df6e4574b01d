"""Turning what is known into pages: the templates, and the words and figures they use."""

import hashlib
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemBytecodeCache, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from ironlace.care.cautions import called_for, caution_for
from ironlace.dossier.faces import FACES
from ironlace.evidence.analyses import KnownTable
from ironlace.evidence.grades import Grade
from ironlace.web import addresses
from ironlace.web import entries_in_words as telling

_STATIC = Path(__file__).parent / "static"
_MEDIA = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".otf": "font/otf",
}


@cache
def static_files() -> tuple[str, dict[str, tuple[bytes, str]]]:
    """The bench's own files by name, and one checksum over them all.

    One checksum for all lets scripts import each other by a relative address.
    """
    digest = hashlib.sha256()
    files: dict[str, tuple[bytes, str]] = {}
    faces = [face.path for face in FACES]
    for path in sorted([*_STATIC.iterdir(), *faces], key=lambda path: path.name):
        if path.suffix in _MEDIA:
            content = path.read_bytes()
            digest.update(path.name.encode() + b"\0" + content)
            files[path.name] = content, _MEDIA[path.suffix]
    return digest.hexdigest()[:16], files


def static(name: str) -> str:
    """The address of one of the bench's own files."""
    digest, files = static_files()
    if name not in files:
        raise KeyError(name)
    return addresses.static(digest, name)


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("ironlace.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=FileSystemBytecodeCache(),  # in the system's scratch folder, by user
    )
    environment.globals |= {
        "to": addresses,
        "static": static,
        "faces": [face.file for face in FACES],
        "Grade": Grade,
        "caution_for": caution_for,
        "cautions_called_for": called_for,
        "telling": telling,
        "bool_type": bool,
        "table_type": KnownTable,
        "int_type": int,
    }
    environment.tests["same_as"] = lambda one, other: one is other
    environment.filters |= {
        "moment": moment,
        "day": day,
        "bytes": in_bytes,
        "thousands": thousands,
        "dashes": dashes,
    }
    return environment


def warm_up() -> None:
    """Compile the templates ahead of the first request for each."""
    environment = _environment()
    for name in environment.list_templates(filter_func=lambda name: name.endswith(".html")):
        environment.get_template(name)


def page(request: Request, template: str, *, status: int = 200, **context: Any) -> HTMLResponse:
    """Render a template into an answer."""
    text = rendered(
        template,
        token=request.state.token,
        path=request.url.path,
        door=request.app.state.door,
        **context,
    )
    return HTMLResponse(text, status)


def rendered(template: str, **context: Any) -> str:
    """Fill a template."""
    return _environment().get_template(template).render(**context)


def moment(at: datetime) -> str:
    """A moment as this machine's clock tells it.

    >>> from datetime import UTC
    >>> moment(datetime(2024, 5, 4, 12, 0, tzinfo=UTC))[:10]
    '4 May 2024'
    """
    local = at.astimezone()
    return f"{local.day} {local:%B %Y, %H:%M}"


def day(at: datetime) -> str:
    """A moment's day, as a form's date field holds it."""
    return at.astimezone().date().isoformat()


def in_bytes(size: int) -> str:
    """A file's size for a person.

    >>> in_bytes(2_345_678)
    '2.3 MB'
    """
    if size < 1000:
        return f"{size} bytes"
    return f"{size / 1000:.0f} kB" if size < 1_000_000 else f"{size / 1_000_000:.1f} MB"


def thousands(number: int) -> str:
    """A count with thin gaps between thousands."""
    return f"{number:,}".replace(",", "\u202f")


def dashes(grade: Grade) -> str:
    """A grade's line pattern for a stroke, in px (five to the mm, to be told apart on a screen)."""
    return " ".join(f"{length * 5:g}" for length in grade.dash_mm)
