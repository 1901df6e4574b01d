"""The site: it stands on its own, says the same, and lets nothing through."""

import json
import re
import shutil
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from PIL import Image

from ironlace.dossier.account.record_to_account import account_of
from ironlace.dossier.errors import FolderTakenError
from ironlace.dossier.site.pages import write_site
from ironlace.evidence.grades import Grade

FACES = ("serif-regular", "serif-it", "serif-semibold")
VOID = {"meta", "link", "img", "br", "input", "hr", "line", "path"}


class Page(HTMLParser):
    """Reads a page strictly: every element closed, every id once."""

    def __init__(self, path: Path) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.ids: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(path.read_text(encoding="utf-8"))
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if (identity := dict(attrs).get("id")) is not None:
            self.ids.append(identity)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += data

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]

    def addresses(self) -> list[str]:
        found = []
        for _, attributes in self.elements:
            found += [attributes[key] or "" for key in ("href", "src") if key in attributes]
            if srcset := attributes.get("srcset"):
                found += [part.split()[0] for part in srcset.split(",")]
        return found


def scripts_in(page: Page) -> list[dict[str, str | None]]:
    """What would run; a block of data does not (HTML, 4.12.1)."""
    return [a for a in page.all("script") if a != {"type": "application/ld+json"}]


def told_on(folder: Path) -> str:
    """What all pages of a site say."""
    return " ".join(Page(path).text for path in sorted(folder.glob("*.html")))


def pages_of(folder: Path) -> dict[str, Page]:
    return {path.name: Page(path) for path in sorted(folder.glob("*.html"))}


def drawing_with_evidence() -> str:
    """A square whose sides have three grades."""
    import shapely

    from ironlace.ornament import ClosedPath, Drawing, drawing_svg
    from ironlace.ornament.outline.brush_strokes import area_curves

    curves = area_curves(shapely.box(10, 10, 50, 40))[0]
    grades = (Grade.SEEN, Grade.INFERRED, Grade.INFERRED, Grade.CONJECTURED)
    path = ClosedPath(curves, grades, ("here", "mirror", "mirror", "none"))
    return drawing_svg(Drawing((path,), (0, 0, 60, 50)))


@pytest.fixture(scope="module")
def rich(full_record, pictures, history, tmp_path_factory) -> Path:
    """A site with a map of evidence, stencil sheets and a plot."""
    from ironlace.dossier.account.blocks import FigureShown
    from ironlace.dossier.account.sheets_as_pictures import sheets_shown
    from ironlace.ornament.stencils.sheet_set import FilledDrawing, first_asked, plan_set

    svg = drawing_with_evidence()
    made = plan_set(FilledDrawing("drawing 1", svg), first_asked("drawing 1"))
    plot = (
        '<svg viewBox="0 0 9 9"><style>*{color: red}</style><defs><path id="m"/></defs>'
        '<g style="fill: none; stroke: var(--plot-warm, #b8722c)"><use href="#m"/></g></svg>'
    )
    figure = FigureShown("Odds as reports came in", plot, plot, ("It led.",), (("n",), ("1",)))
    account = account_of(
        full_record,
        {**pictures, "drawing 1": next(iter(pictures.values()))},  # laid under it, to be wiped over
        {"drawing 1": svg},
        changes=history,
        figures={"finding 1": (figure,)},
        sheets={"drawing 1": sheets_shown("drawing 1", "Scroll", made)},
    )
    folder = tmp_path_factory.mktemp("rich") / "site"
    write_site(account, folder)
    return folder


@pytest.fixture(scope="module")
def site(full_account, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("public") / "site"
    assert write_site(full_account, folder) == folder / "index.html"
    return folder


def test_says_what_the_record_says(site, secret) -> None:
    told = told_on(site)
    for words in (
        "Calder Vane No. 2",
        "Transverse long shuttle",
        "castings were sold between works",
        "Between April 1893 and February 1894",
        "1 17/32 ± 1/64",
        "Vapours burn",
        "What does the L stand for?",
        "Slide it out.",
    ):
        assert words in told, words
    for path in site.rglob("*"):
        if path.is_file():
            assert secret.encode() not in path.read_bytes(), path


def test_every_address_is_relative_and_leads_somewhere(site) -> None:
    pages = pages_of(site)
    assert list(pages) == [
        "condition.html",
        "index.html",
        "marks.html",
        "measurements.html",
        "ornament.html",
        "photographs.html",
        "sources.html",
    ]
    for name, page in pages.items():
        for address in page.addresses():
            parts = urlsplit(address)
            assert not parts.scheme and not parts.netloc and not parts.path.startswith("/"), address
            target = unquote(parts.path) or name
            assert (site / target).is_file(), address
            if parts.fragment:
                assert parts.fragment in pages[target].ids, address


def test_its_type_lies_beside_it_with_its_licence(site) -> None:
    style = (site / "style.css").read_text(encoding="utf-8")
    named = re.findall(r"url\(([^)]*)\)", style)
    assert named == [f'"fonts/{face}.woff"' for face in FACES]
    for face in FACES:
        assert (site / "fonts" / f"{face}.woff").read_bytes()[:4] == b"wOFF"
    assert "SIL OPEN FONT LICENSE" in (site / "fonts/ironlace-serif-licence.txt").read_text()


def test_pages_need_no_script_and_allow_none(site) -> None:
    for page in pages_of(site).values():
        assert scripts_in(page) == []
        assert all(not key.startswith("on") for _, a in page.elements for key in a)
        policies = [m["content"] for m in page.all("meta") if m.get("http-equiv")]
        assert any("script-src 'none'" in (policy or "") for policy in policies)


def test_pages_are_built_for_everyone(site) -> None:
    for page in pages_of(site).values():
        assert len(page.ids) == len(set(page.ids))
        assert page.all("html")[0]["lang"] == "en-GB"
        assert all(image.get("alt") for image in page.all("img"))
        assert all(image.get("width") and image.get("height") for image in page.all("img"))
        assert len(page.all("h1")) == len(page.all("main")) == 1
        levels = [int(tag[1]) for tag, _ in page.elements if re.fullmatch(r"h[1-6]", tag)]
        assert all(after <= before + 1 for before, after in pairwise(levels))


def test_grades_stand_as_words_and_as_their_own_line_pattern(site) -> None:
    page = (site / "index.html").read_text(encoding="utf-8")
    for grade in Grade:
        pattern = " ".join(f"{mm:g}" for mm in grade.dash_mm) or "none"
        line = f'stroke-dasharray="{pattern}"/></svg><span class="grade-word">{grade.value}</span>'
        assert line in page


def test_pictures_come_in_several_sizes(site) -> None:
    sizes = {}
    for path in (site / "pictures").glob("photograph-1-*.jpg"):
        with Image.open(path) as opened:
            sizes[path.name] = opened.size
            assert not opened.getexif()
    assert sizes == {
        "photograph-1-320.jpg": (320, 240),
        "photograph-1-800.jpg": (800, 600),
        "photograph-1-1600.jpg": (1600, 1200),
    }


def test_nothing_written_by_a_person_becomes_markup(
    awkward_record, pictures, drawings, tmp_path
) -> None:
    write_site(account_of(awkward_record, pictures, drawings), tmp_path / "site")
    pages = pages_of(tmp_path / "site")
    for page in pages.values():
        assert scripts_in(page) == []
        assert page.all("lab") == []
        assert "\u202e" not in page.text and "\u0007" not in page.text
    for name in ("index.html", "photographs.html", "condition.html"):
        assert "<script>alert(1)</script>" in pages[name].text
        assert "&amp;" in pages[name].text
        assert "\u6f22\U0001f642" in pages[name].text


def test_an_old_address_on_the_first_page_still_leads_there(site, full_account) -> None:
    """What was once one page had every section and entry of this name on it."""
    pages = pages_of(site)
    first = pages["index.html"]
    once = {section.key for section in full_account.sections} - {"method"}
    once |= {"machine", "how-to-read", "about", "photographs"}
    once |= {
        name.replace(" ", "-")
        for name in full_account.anchors
        if not name.startswith(("photograph ", "note on"))
    }
    assert once <= set(first.ids)
    links = {a["id"]: a["href"] for a in first.all("a") if a.get("id")}
    assert links["mark-1"] == "marks.html#mark-1"
    for anchor, address in links.items():
        page, _, place = (address or "").partition("#")
        assert place == anchor and place in pages[page].ids


def test_every_page_leads_to_every_other(site) -> None:
    pages = pages_of(site)
    for name, page in pages.items():
        links = [a.get("href") for a in page.all("a")]
        assert set(pages) <= set(links) | {name}
        current = [a["href"] for a in page.all("a") if a.get("aria-current") == "page"]
        assert current == [name]


def test_the_first_page_tells_what_when_and_what_is_asked(site) -> None:
    told = Page(site / "index.html").text
    for words in ("Between April 1893 and February 1894", "Family lockstitch machine",
                  "What does the L stand for?", "How to read it"):  # fmt: skip
        assert words in told
    for elsewhere in ("Needle-bar stroke", "Vapours burn", "Fingerprint"):
        assert elsewhere not in told


def test_a_plot_brings_no_style_of_its_own_and_keeps_its_names_to_itself(rich) -> None:
    page = Page(rich / "marks.html")
    assert page.all("style") == []
    assert not [a for _, a in page.elements if "style" in a]
    assert {"id": "odds-as-reports-came-in-m"} in page.all("path")
    assert {"href": "#odds-as-reports-came-in-m"} in page.all("use")
    (stroked,) = [a for a in page.all("g") if a.get("stroke", "").startswith("var(--plot-warm")]
    assert stroked["fill"] == "none"
    style = (rich / "style.css").read_text(encoding="utf-8")
    assert style.count("--plot-warm:") == 2


def test_the_map_of_evidence_tells_its_shares_in_words(rich) -> None:
    page = Page(rich / "ornament.html")
    told = page.text.replace("\u00a0", " ").split()
    for words in ("50.0 % inferred, its mirror image (70 mm)", "28.6 % seen, on this machine"):
        assert words in " ".join(told), " ".join(told)
    (alt,) = [i["alt"] for i in page.all("img") if str(i["alt"]).startswith("Map of evidence")]
    assert "inferred, its mirror image" in str(alt)
    svg = (rich / "drawings" / "drawing-1-map.svg").read_text(encoding="utf-8")
    assert 'stroke-dasharray="1.6 0.9"' in svg
    assert (rich / "drawings" / "drawing-1-sheet-1.svg").is_file()
    for name, one in pages_of(rich).items():
        for address in one.addresses():
            parts = urlsplit(address)
            assert not parts.scheme and (rich / (unquote(parts.path) or name)).is_file(), address


def test_nothing_is_fetched_from_elsewhere(rich) -> None:
    for path in rich.rglob("*"):
        if path.suffix in (".html", ".css", ".svg"):
            text = path.read_text(encoding="utf-8").replace("http://www.w3.org/", "")
            assert "//" not in text.replace("<!--//", ""), path
            assert "@import" not in text


def test_an_empty_record_makes_a_page(make_record, tmp_path) -> None:
    write_site(account_of(make_record([]), {}, {}), tmp_path / "site")
    assert "The record holds nothing yet." in Page(tmp_path / "site" / "index.html").text
    assert not (tmp_path / "site" / "photographs.html").exists()


def test_machines_can_read_it(site) -> None:
    described = json.loads((site / "machine.jsonld").read_text(encoding="utf-8"))
    assert described["type"] == "HumanMadeObject"
    assert described["produced_by"]["timespan"]["begin_of_the_begin"] == "1893-04-01T00:00:00Z"
    assert described["produced_by"]["timespan"]["end_of_the_end"] == "1894-02-28T23:59:59Z"
    record = json.loads((site / "record.json").read_text(encoding="utf-8"))
    assert record["entries"]["mark 1"]["reads"] == "B°93·217"


def test_same_account_makes_the_same_files(site, full_account, tmp_path) -> None:
    write_site(full_account, tmp_path / "again")
    first, second = (
        {str(p.relative_to(root)): p.read_bytes() for p in root.rglob("*") if p.is_file()}
        for root in (site, tmp_path / "again")
    )
    assert first == second


def test_another_folder_is_not_overwritten(full_account, tmp_path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "dear.txt").write_text("x")
    with pytest.raises(FolderTakenError, match="letters"):
        write_site(full_account, tmp_path / "letters")
    assert [p.name for p in tmp_path.iterdir()] == ["letters"]


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_colours_have_the_contrast_of_level_aa_in_light_and_dark(site) -> None:
    style = (site / "style.css").read_text(encoding="utf-8")
    schemes = [
        dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", block))
        for block in re.findall(r":root \{(.*?)\}", style, re.DOTALL)[:2]
    ]
    for scheme in schemes:
        for name in ("ink", "quiet", "link"):
            one, two = sorted((luminance(scheme[name]), luminance(scheme["paper"])))
            assert (two + 0.05) / (one + 0.05) >= 4.5, (name, scheme)


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_in_a_browser_it_fits_and_breaks_no_rule_of_accessibility(rich, width, scheme) -> None:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        pytest.skip("no Chromium on this machine")
    from axe_playwright_python.sync_playwright import Axe
    from playwright.sync_api import sync_playwright

    flags = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
    flags += ["--disable-background-networking", "--disable-component-update", "--disable-sync"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=flags)
        # the page forbids scripts; the checker is one, so the policy is lifted for it alone
        context = browser.new_context(
            viewport={"width": width, "height": 850}, color_scheme=scheme, bypass_csp=True
        )
        page = context.new_page()
        for name in sorted(path.name for path in rich.glob("*.html")):
            page.goto((rich / name).as_uri())
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            found = Axe().run(page, options={"resultTypes": ["violations"]})  # half the time
            assert found.violations_count == 0, found.generate_report()
        browser.close()


@pytest.mark.browser
def test_on_a_phone_a_reading_takes_two_lines_and_nothing_is_lost(rich) -> None:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        pytest.skip("no Chromium on this machine")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
        page.goto((rich / "measurements.html").as_uri())
        lines = page.evaluate(
            "[...document.querySelectorAll('table.folds tr[id]')].map((row) => new Set("
            "[...row.cells].map((cell) => Math.round(cell.getBoundingClientRect().top))).size)"
        )
        assert lines and max(lines) <= 2
        hidden = page.evaluate(
            "[...document.querySelectorAll('table.folds td')]"
            ".filter((cell) => cell.getBoundingClientRect().height === 0).length"
        )
        assert hidden == 0
        tallest = page.evaluate("document.documentElement.scrollHeight")
        assert tallest < 4000
        browser.close()
