"""The account as a small web site: plain pages, their own style sheet, no script, relative links.

It can be put on any web space, or opened from a disk, and be read in forty years' time.
"""

import json
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from ironlace.dossier.account.blocks import Plate
from ironlace.dossier.account.whole import Account
from ironlace.dossier.folder_in_place import folder_in_place
from ironlace.dossier.linked_art import linked_art
from ironlace.dossier.pictures import copies
from ironlace.dossier.print.ink_window import trimmed_svg
from ironlace.dossier.words import capital
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Progress, unheard

EDGES_PX = (480, 960, 1920)
"""Longer edges of the copies: a phone, a page's column, the whole of a screen."""

_ON_FIRST_PAGE = 12
"""Small pictures on the first page: some three rows; the rest have a page of their own."""

_OVERRIDES = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Signs that turn the reading of a whole line."""


@dataclass(frozen=True, slots=True)
class _Copy:
    """A picture file of the site: its address and its size in pixels."""

    file: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class _Site:
    """What the blocks of a page need to know of the site's files."""

    plates: Mapping[str, Plate]
    album: tuple[Plate, ...]
    shown: Mapping[str, list[_Copy]]
    drawn: Mapping[str, str]
    known: frozenset[str]


def write_site(account: Account, folder: Path, *, progress: Progress | None = None) -> Path:
    """Write the site into a folder, whole or not at all, and return its first page.

    Raises
    ------
    FolderTakenError
        When the folder holds anything but such a site.
    PictureRefusedError
        When a viewing copy cannot be read.
    """
    with folder_in_place(folder, is_site, "a site written by Ironlace") as making:
        build_site(account, making, progress or unheard)
    return folder / "index.html"


def build_site(account: Account, folder: Path, progress: Progress) -> None:
    """Write the site's files into an empty folder."""
    shown: dict[str, list[_Copy]] = {}
    (folder / "pictures").mkdir()
    for count, plate in enumerate(account.plates):
        progress("making pictures for the site", count / max(1, len(account.plates)))
        if plate.picture is not None:
            shown[plate.name] = _write_copies(plate, folder / "pictures")
    drawn: dict[str, str] = {}
    for one in account.drawings:
        if one.drawing is not None and one.ink is not None:
            (folder / "drawings").mkdir(exist_ok=True)
            drawn[one.name] = f"drawings/{_anchor(one.name)}.svg"
            (folder / drawn[one.name]).write_text(one.drawing.svg, encoding="utf-8")
            (folder / drawn[one.name].replace(".svg", "-shown.svg")).write_text(
                trimmed_svg(one.drawing, one.ink), encoding="utf-8"
            )
    environment = _environment()
    words = {
        "account": account,
        "grades": list(Grade),
        "site": _Site(
            account.plates_by_name,
            account.plates[:_ON_FIRST_PAGE],
            shown,
            drawn,
            account.anchors,
        ),
    }
    pages = ["index.html"] + (["photographs.html"] if account.plates else [])
    for page in pages:
        text = environment.get_template(page).render(words, page=page)
        (folder / page).write_text(text, encoding="utf-8")
    style = files("ironlace.dossier").joinpath("templates", "site", "style.css").read_text("utf-8")
    (folder / "style.css").write_text(style, encoding="utf-8")
    _write_json(folder / "machine.jsonld", linked_art(account))
    _write_json(folder / "record.json", account.document)
    progress("the site is written", 1.0)


def is_site(folder: Path) -> bool:
    """Whether a folder holds a site that this module wrote."""
    return all((folder / name).is_file() for name in ("index.html", "machine.jsonld", "style.css"))


def _write_json(path: Path, value: Any) -> None:
    text = json.dumps(value, ensure_ascii=False, indent=1)
    path.write_text(text.encode("utf-8", "replace").decode("utf-8") + "\n", encoding="utf-8")


def _write_copies(plate: Plate, folder: Path) -> list[_Copy]:
    assert plate.picture is not None
    largest = max(plate.picture.width, plate.picture.height)
    edges = [edge for edge in EDGES_PX if edge < largest] or [largest]
    if largest > edges[-1] and edges[-1] < EDGES_PX[-1]:
        edges.append(largest)
    written = []
    for edge, (jpeg, width, height) in sorted(copies(plate.picture, edges).items()):
        name = f"{_anchor(plate.name)}-{edge}.jpg"
        (folder / name).write_bytes(jpeg)
        written.append(_Copy(f"pictures/{name}", width, height))
    return written


def _anchor(name: str) -> str:
    return name.replace(" ", "-")


def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("ironlace.dossier", "templates/site"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=_clean,
    )
    environment.filters |= {
        "paras": _paragraphs,
        "anchor": _anchor,
        "address": _address,
        "capital": capital,
        "kind": lambda block: type(block).__name__.lower(),
        "moment": lambda moment: f"{moment:%Y-%m-%d}",
        "dash": lambda grade: " ".join(f"{mm:g}" for mm in grade.dash_mm) or "none",
    }
    return environment


def _address(name: str) -> str:
    page = "photographs.html" if name.startswith("photograph ") else "index.html"
    return f"{page}#{_anchor(name)}"


def _clean(value: Any) -> Any:
    """Drop what HTML may not hold, and signs that would turn the reading of a whole line."""
    if isinstance(value, str):
        kept = "".join(
            char
            for char in value
            if char in "\n\t" or (unicodedata.category(char) not in ("Cc", "Cs"))
        )
        kept = "".join(char for char in kept if char not in _OVERRIDES)
        return Markup(kept) if isinstance(value, Markup) else kept  # noqa: S704 - marked safe before
    return "" if value is None else value


def _paragraphs(text: str) -> Markup:
    """Plain text as paragraphs: an empty line parts them, a line end stays one."""
    parts = [part.strip() for part in text.replace("\r\n", "\n").split("\n\n")]
    return Markup("").join(
        Markup("<p>{}</p>\n").format(Markup("<br>").join(escape(line) for line in part.split("\n")))
        for part in parts
        if part
    )
