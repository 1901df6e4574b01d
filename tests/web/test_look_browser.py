"""How pages look in a real browser: one screen, one family of type, a head of one row, in print."""

import time
from urllib.parse import urlsplit

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from ironlace.evidence import Grade
from ironlace.record import (
    Mark,
    Measurement,
    Part,
    PhotographRole,
    Provenance,
    Question,
    ReportEntry,
    SourceEntry,
    Statement,
    Topic,
    Treatment,
    parse_entry,
)
from ironlace.workshop import Workshop

from .browsing import DESKTOP, PHONE, keep, serving, violations

pytestmark = pytest.mark.browser
MACHINE = "/machine/lapwing-head"
TALLEST_PX = 900


def entries():
    """One of nearly each kind, as a machine has when its job is done once."""
    seen = {"grade": Grade.SEEN}
    yield Statement(
        about=Topic.KIND, says="Lockstitch head for hand or treadle, on a later base", **seen
    )
    yield Statement(about=Topic.MAKER, says="Ambray & Thole, Garrowmere", **seen)
    yield Statement(about=Topic.MADE, says="1894", grade=Grade.INFERRED)
    yield Mark(reads="G°94(·)627", where="slide plate", purpose="serial number", **seen)
    for name in ("bed", "shuttle", "face plate", "hand crank", "needle bar"):
        yield Part(name=name, state="worn but serviceable", **seen)
    yield Measurement(what="needle bar stroke", reads="31.7 ± 0.1 mm", grade=Grade.MEASURED)
    yield Treatment(what="oiled, timed and sewn in", aim="restoration", undoing="nothing to undo")
    yield Provenance(event="found in a tailor's loft", **seen)
    yield SourceEntry(sort="advertisement", title="Trade list with a cut of the Lapwing, of 1896")
    for name, reads in (("R1", "G°93·94"), ("R2", "G°95·7"), ("R3", "K°96·58"), ("R4", "G°94 902")):
        yield ReportEntry(name=name, reads=reads, **seen)
    yield parse_entry({"kind": "outlay", "what": "oil and felt", "hours": "3"})
    yield Question(asks="Did this head have a hand crank?")


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    folder = tmp_path_factory.mktemp("look") / "my-workshop"
    with Workshop.create(folder) as workshop:
        slug = workshop.records.create("Lapwing head")
        rng = np.random.default_rng(4)
        for number in range(14):
            rows = rng.integers(0, 255, (60, 80, 3), dtype=np.uint8)
            file = folder.parent / f"{number}.jpg"
            Image.fromarray(rows).resize((1600, 1200)).save(file)
            role = PhotographRole.PART if number else PhotographRole.AS_FOUND
            workshop.photographs.take_in_file(slug, file, role)
        workshop.records.add_all(slug, entries())
    with serving(folder, foreman=False) as at:
        yield at


@pytest.fixture
def look(chromium, address):
    opened = []

    def at(path, **options):
        context = chromium.new_context(base_url=address, **options)
        opened.append(context)
        page = context.new_page()
        page.asked = []
        page.on("request", lambda request: page.asked.append(request.url))
        page.goto(path, wait_until="networkidle")
        # `font-display: optional`: letters brought late by a busy machine serve from the next page
        page.reload(wait_until="networkidle")
        return page

    yield at
    for context in opened:
        context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_machine_is_taken_in_at_a_glance(look, scheme):
    page = look(MACHINE, viewport=DESKTOP, color_scheme=scheme)
    keep(page, f"look-machine-{scheme}")
    assert page.evaluate("document.documentElement.scrollHeight") <= TALLEST_PX
    for what in (
        ".glance-photograph img",
        ".glyph-row",
        ".made-when",
        ".tag-head",
        ".job",
        ".kinds",
    ):
        assert page.locator(what).first.is_visible(), what
    assert page.locator(".glance-photograph img").evaluate("i => i.naturalWidth") > 300


def test_the_head_of_a_phone_is_one_row_with_every_page_behind_it(look):
    page = look(f"{MACHINE}/photographs", viewport=PHONE)
    assert page.locator("header").bounding_box()["height"] < 64
    assert not page.get_by_role("link", name="Dating").is_visible()
    page.get_by_role("button", name="Pages").click()
    for words in ("The job", "Dating", "History", "Machines", "Care of the workshop"):
        link = page.get_by_role("link", name=words, exact=True)
        assert link.is_visible() and link.bounding_box()["height"] >= 44
    keep(page, "look-phone-pages")
    page.keyboard.press("Escape")
    assert not page.get_by_role("link", name="Dating").is_visible()
    page.get_by_role("button", name="Pages").press("Enter")
    page.get_by_role("link", name="History").press("Enter")
    page.wait_for_url(f"**{MACHINE}/history")


def test_every_letter_is_of_our_type_and_nothing_is_asked_of_another_host(look, address):
    page = look(MACHINE, viewport=DESKTOP)
    loaded = page.evaluate(
        "[...document.fonts].filter(f => f.status == 'loaded').map(f => f.family)"
    )
    assert {name.strip('"') for name in loaded} == {"Source Serif Pro", "Source Sans Pro"}
    first = page.evaluate(
        "[...document.querySelectorAll('main :not(.glyph, .glyphs, .example, svg *), header *')]"
        ".map(e => getComputedStyle(e).fontFamily.split(',')[0].replaceAll('\"', ''))"
    )
    assert set(first) == {"Source Serif Pro", "Source Sans Pro"}
    assert {urlsplit(url).netloc for url in page.asked} == {urlsplit(address).netloc}


@pytest.mark.parametrize("late", ["otf", "jpg"])
def test_nothing_jumps_when_type_or_pictures_come_late(chromium, address, late):
    context = chromium.new_context(base_url=address, viewport=DESKTOP)
    page = context.new_page()
    held_back = []

    def hold_back(route):
        held_back.append(route.request.url)
        time.sleep(0.4)  # one after the other, as over a poor wireless
        route.continue_()

    page.route(f"**/*.{late}*", hold_back)
    page.goto(MACHINE, wait_until="networkidle")
    shifted = page.evaluate(
        "new Promise(done => { let sum = 0; new PerformanceObserver(list => {"
        " for (const e of list.getEntries()) sum += e.value; })"
        ".observe({type: 'layout-shift', buffered: true}); setTimeout(() => done(sum), 300); })"
    )
    context.close()
    assert held_back
    assert shifted < 0.02


def test_pictures_far_down_are_there_when_the_page_is_printed(look):
    page = look(f"{MACHINE}/photographs", viewport={"width": 600, "height": 400})
    page.wait_for_timeout(1500)
    printed = pypdfium2.PdfDocument(page.pdf(format="A4"))
    pictures = sum(
        1
        for leaf in printed
        for thing in leaf.get_objects()
        if thing.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE
    )
    printed.close()
    assert pictures >= 14


def test_a_picture_has_no_bars_beside_it(look):
    page = look(f"{MACHINE}/entries/photograph/1", viewport=DESKTOP)
    frame = page.locator(".picture-frame").bounding_box()
    image = page.locator(".picture-sheet img").bounding_box()
    assert frame["width"] == pytest.approx(image["width"], abs=3)
    assert frame["height"] == pytest.approx(image["height"], abs=3)


def test_a_folders_name_is_not_written_otherwise(look):
    page = look("/", viewport=DESKTOP)
    heading = page.locator("h1")
    assert heading.inner_text() == "my-workshop"
    assert (
        page.evaluate(
            "getComputedStyle(document.querySelector('h1'), '::first-letter').textTransform"
        )
        == "none"
    )


@pytest.mark.parametrize(
    ("viewport", "scheme"), [(DESKTOP, "dark"), (PHONE, "light")], ids=["desktop", "phone"]
)
def test_the_new_pages_are_accessible_and_fit(look, scheme, viewport):
    found = []
    for path in ("/", MACHINE, f"{MACHINE}?step=marks", f"{MACHINE}/whole"):
        page = look(path, viewport=viewport, color_scheme=scheme, bypass_csp=True)
        if page.evaluate("document.documentElement.scrollWidth") > viewport["width"]:
            found.append(f"{path}: too wide")
        if viewport is PHONE and path == MACHINE:
            page.get_by_role("button", name="Pages").click()
        found += [f"{path}: {v['id']}: {v['nodes'][0]['html'][:150]}" for v in violations(page)]
    assert found == []
