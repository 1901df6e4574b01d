"""The account as pages: plain, with their own style sheet, without a script, with relative links.

They can be put on any web space, or opened from a disk, and be read in forty years' time. What was
once a single page is several; an address on the first page that led to a section or an entry still
leads there, by a link that bears its name.
"""

import json
import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date
from importlib.resources import files
from pathlib import Path
from typing import Any

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from ironlace.dossier.account.blocks import (
    Block,
    DrawingShown,
    EvidenceMap,
    FigureShown,
    Item,
    PictureFile,
    Plate,
    Section,
    SheetsShown,
    Tabular,
    all_blocks,
)
from ironlace.dossier.account.drawing_in_words import GRADE_COLOURS
from ironlace.dossier.account.whole import Account
from ironlace.dossier.faces import write_for_site
from ironlace.dossier.folder_in_place import folder_in_place
from ironlace.dossier.linked_art import linked_art
from ironlace.dossier.pictures import copies, cut_out
from ironlace.dossier.print.ink_window import trimmed_svg
from ironlace.dossier.site.corrections import Correction
from ironlace.dossier.site.feed import atom, canonical, news_of, sitemap
from ironlace.dossier.site.front import front_of
from ironlace.dossier.site.published import Published
from ironlace.dossier.site.schema_org import as_data_block, described
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Progress, unheard
from ironlace.evidence.wording import capital

EDGES_PX = (320, 800, 1600)
"""Longer edges of the copies: a phone, a page's column, the whole of a screen."""

_ON_FIRST_PAGE = 12
"""Small pictures on the first page: some three rows; the rest have a page of their own."""

_FIRST, _PHOTOGRAPHS, _SOURCES = "index.html", "photographs.html", "sources.html"
_OTHERWISE = "condition.html"
_CORRECTIONS, CALL_PAGE = "corrections.html", "call.html"
_PAGES: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    (_FIRST, "The machine", ("what-it-is", "questions")),
    ("marks.html", "Marks and dating", ("marks", "date", "reports")),
    ("ornament.html", "The ornament", ("ornament",)),
    (_OTHERWISE, "Condition and treatment", ("condition", "treatments", "care", "hours-and-costs")),
    ("measurements.html", "Measurements", ("measurements", "running", "stand", "worked-out")),
    (_PHOTOGRAPHS, "Photographs", ("photographs",)),
    (_SOURCES, "Sources and method", ("provenance", "sources", "method")),
)
"""The pages in the order of reading, with the sections each tells; others go with the condition."""

_OVERRIDES = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Signs that turn the reading of a whole line."""


@dataclass(frozen=True, slots=True)
class _Copy:
    """A picture file of the site: its address and its size in pixels."""

    file: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class _SitePage:
    """A page: its file, its title, the sections on it."""

    file: str
    title: str
    sections: tuple[Section, ...]


@dataclass(frozen=True, slots=True)
class _Site:
    """What the pages need to know of the site: its files, its pages, where every entry stands.

    `corrected` holds, by finding, its latest correction.
    """

    plates: Mapping[str, Plate]
    album: tuple[Plate, ...]
    shown: Mapping[str, list[_Copy]]
    drawn: Mapping[str, str]
    pages: tuple[_SitePage, ...]
    places: Mapping[str, str]
    published: Published | None
    corrected: Mapping[str, Correction]

    def canonical(self, page: _SitePage) -> str:
        """The one address of a page, empty where nobody said where the site stands."""
        return canonical(self.published.base, page.file) if self.published else ""

    def address(self, name: str) -> str:
        """Where an entry stands: a page and a place on it."""
        return f"{self.places[name]}#{_anchor(name)}"

    def page_of(self, key: str) -> str:
        """The page that a section stands on."""
        return next(p.file for p in self.pages if any(s.key == key for s in p.sections))

    def moved(self) -> list[str]:
        """Names of entries that stand on another page than the first, in order."""
        return [name for name, page in self.places.items() if page != _FIRST]

    def sheet(self, shown: SheetsShown, at: int) -> str:
        """The file of a stencil sheet shown small."""
        return f"drawings/{_anchor(shown.name)}-sheet-{at + 1}.svg"

    def map(self, known: EvidenceMap) -> str:
        """The file of a map of evidence."""
        return f"drawings/{_anchor(known.name)}-map.svg"


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


def build_site(
    account: Account, folder: Path, progress: Progress, published: Published | None = None
) -> None:
    """Write the site's files into an empty folder.

    `published` is what goes onto the web with it; a pack's copy, which goes from hand to hand, has
    no call, no list of corrections and no feed.
    """
    shown: dict[str, list[_Copy]] = {}
    (folder / "pictures").mkdir()
    for count, plate in enumerate(account.plates):
        progress("making pictures for the site", count / max(1, len(account.plates)))
        if plate.picture is not None:
            shown[plate.name] = _write_copies(plate, folder / "pictures")
    site = _site(account, shown, _write_drawings(account, folder), published)
    environment = _environment(site)
    words = {
        "account": account,
        "grades": list(Grade),
        "site": site,
        "front": front_of(account),
        "published": published,
        "schema_org": Markup(as_data_block(described(account, published))),  # noqa: S704 - escaped
    }
    texts = []
    for page in site.pages:
        own = page.file in (_FIRST, _PHOTOGRAPHS, _CORRECTIONS)
        template = page.file if own else "page.html"
        texts.append(environment.get_template(template).render(words, page=page))
        (folder / page.file).write_text(texts[-1], encoding="utf-8")
    style = style_sheet()
    style = write_for_site(folder, style, texts) + style
    (folder / "style.css").write_text(style, encoding="utf-8")
    _write_json(folder / "machine.jsonld", linked_art(account))
    _write_json(folder / "record.json", account.document)
    if published:
        _write_published(account, published, folder)
    progress("the site is written", 1.0)


def style_sheet() -> str:
    """The style sheet of all pages, without their type."""
    return files("ironlace.dossier").joinpath("templates", "site", "style.css").read_text("utf-8")


def _write_published(account: Account, published: Published, folder: Path) -> None:
    """Write what goes onto the web beside the pages: call, feed and, where it stands, sitemap."""
    if published.call:
        (folder / CALL_PAGE).write_text(published.call, encoding="utf-8")
    if not published.up:  # else the whole workshop's feed and sitemap hold it
        feed = atom(account.title, published, news_of(published, account.title))
        (folder / "feed.atom").write_text(feed, encoding="utf-8")
        if published.base:
            text = sitemap(published.base, pages_listed(account, folder))
            (folder / "sitemap.xml").write_text(text, encoding="utf-8")


def pages_listed(account: Account, folder: Path) -> list[tuple[str, date | None]]:
    """The pages of a site that was written, the first one first, and the day of the last change."""
    changed = account.colophon.last_change
    day = changed.astimezone(UTC).date() if changed else None
    names = sorted(path.name for path in folder.glob("*.html") if path.name != _FIRST)
    return [(name, day) for name in (_FIRST, *names)]


def _site(
    account: Account,
    shown: Mapping[str, list[_Copy]],
    drawn: Mapping[str, str],
    published: Published | None,
) -> _Site:
    page_of_key = {key: file for file, _, keys in _PAGES for key in keys}
    on: dict[str, list[Section]] = {file: [] for file, _, _ in _PAGES}
    for section in account.sections:
        on[page_of_key.get(section.key, _OTHERWISE)].append(section)
    if not account.plates:
        on[_PHOTOGRAPHS] = []
    always = {_FIRST, _SOURCES} | ({_PHOTOGRAPHS} if account.plates else set())
    pages = tuple(
        _SitePage(file, title, tuple(on[file]))
        for file, title, _ in _PAGES
        if on[file] or file in always
    )
    if published:
        pages += (_SitePage(_CORRECTIONS, "Corrections and additions", ()),)
    places = {
        name: page.file
        for page in pages
        for section in page.sections
        for name in _names_in(section.blocks)
    }
    places |= {plate.name: _PHOTOGRAPHS for plate in account.plates}
    corrections = published.corrections if published else ()
    return _Site(
        account.plates_by_name,
        account.plates[:_ON_FIRST_PAGE],
        shown,
        drawn,
        pages,
        places,
        published,
        {one.name: one for one in reversed(corrections)},
    )


def _names_in(blocks: tuple[Block, ...]) -> Iterator[str]:
    for block in all_blocks(blocks):
        if isinstance(block, Item):
            yield block.name
        elif isinstance(block, Tabular):
            yield from (row.name for row in block.rows if row.name)


def _write_drawings(account: Account, folder: Path) -> dict[str, str]:
    """Write the drawings, their maps and their sheets; return the file of each drawing."""
    drawn: dict[str, str] = {}
    files_: dict[str, str] = {}
    for block in account.blocks():
        match block:
            case EvidenceMap():
                files_[f"{_anchor(block.name)}-map.svg"] = trimmed_svg(block.drawing, block.ink)
            case SheetsShown():
                for at, sheet in enumerate(block.sheets):
                    files_[f"{_anchor(block.name)}-sheet-{at + 1}.svg"] = sheet.svg
    for one in account.drawings:
        if one.drawing is not None and one.bare is not None and one.ink is not None:
            drawn[one.name] = f"drawings/{_anchor(one.name)}.svg"
            files_[f"{_anchor(one.name)}.svg"] = one.drawing.svg
            files_[f"{_anchor(one.name)}-shown.svg"] = trimmed_svg(one.bare, one.ink)
    if files_:
        (folder / "drawings").mkdir(exist_ok=True)
    for name, text in files_.items():
        (folder / "drawings" / name).write_text(text, encoding="utf-8")
    for one in account.drawings:
        if one.name in drawn and one.ground is not None:
            ground = folder / "drawings" / f"{_anchor(one.name)}-ground.jpg"
            ground.write_bytes(_ground(one, one.ground))
    return drawn


def _ground(one: DrawingShown, picture: PictureFile) -> bytes:
    """What of the flattened photograph lies under the part of a drawing that is shown."""
    assert one.drawing is not None and one.ink is not None
    ink, wide, high = one.ink, one.drawing.width_mm, one.drawing.height_mm
    left, top = max(ink.left, 0.0) / wide, max(ink.top, 0.0) / high
    right = min((ink.left + ink.width) / wide, 1.0)
    bottom = min((ink.top + ink.height) / high, 1.0)
    return cut_out(picture, (left, top, right, bottom), EDGES_PX[-1])[0]


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


def picture_copies(account: Account, folder: Path) -> list[_Copy]:
    """The copies of an account's first picture in a site that was written, the smallest first."""
    from PIL import Image

    if not account.lead:
        return []
    found = []
    for path in folder.glob(f"pictures/{_anchor(account.lead)}-*.jpg"):
        with Image.open(path) as opened:
            found.append(_Copy(f"pictures/{path.name}", opened.width, opened.height))
    return sorted(found, key=lambda copy: copy.width)


def _anchor(name: str) -> str:
    return name.replace(" ", "-")


def _environment(site: _Site) -> Environment:
    environment = site_environment()
    environment.filters["address"] = site.address
    return environment


def site_environment() -> Environment:
    """What turns into pages whatever stands on no machine's site alone."""
    environment = account_environment("site")
    environment.globals["colours"] = GRADE_COLOURS
    environment.filters |= {
        "address": str,  # a page that knows no places of entries
        "plot": _plot,
        "dash": lambda grade: " ".join(f"{mm:g}" for mm in grade.dash_mm) or "none",
    }
    return environment


def account_environment(*folders: str) -> Environment:
    """What turns an account into HTML: the templates of some folders, and words cleaned for it."""
    environment = Environment(
        loader=ChoiceLoader(
            [PackageLoader("ironlace.dossier", f"templates/{folder}") for folder in folders]
        ),
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
        "capital": capital,
        "kind": lambda block: type(block).__name__.lower(),
        "moment": lambda moment: f"{moment:%Y-%m-%d}",
    }
    return environment


def _plot(figure: FigureShown) -> Markup:
    """A plot to stand in a page: without style sheets, its inner names its own.

    A page served under a strict policy allows no style within it, and a plot's would reach beyond
    the plot; what it says of each line stands as plain attributes instead.
    """
    own = re.sub(r"[^a-z0-9]+", "-", figure.title.lower()).strip("-") + "-"
    text = re.sub(r"<style\b.*?</style>", "", figure.page_svg, flags=re.DOTALL)
    text = re.sub(r'\sstyle="([^"]*)"', lambda found: _as_attributes(found[1]), text)
    text = re.sub(r'\bid="([^"]+)"', rf'id="{own}\1"', text)
    text = re.sub(r"url\(#([^)]+)\)", rf"url(#{own}\1)", text)
    text = re.sub(r'href="#([^"]+)"', rf'href="#{own}\1"', text)
    return Markup(  # noqa: S704 - drawn by this program, from figures
        text.replace("<svg", '<svg class="plot" stroke-linejoin="round" stroke-linecap="butt"', 1)
    )


def _as_attributes(style: str) -> str:
    pairs = (part.partition(":") for part in style.split(";") if ":" in part)
    told = {key.strip(): value.strip() for key, _, value in pairs}
    return "".join(
        f' {key}="{value}"'
        for key, value in told.items()
        if value != "inherit" and '"' not in value
    )


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
