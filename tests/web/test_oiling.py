"""The oiling plan on its page: touched on a photograph, worked out, kept, carried on, printed."""

import re

import pypdfium2
import pytest
from PIL import Image

from ironlace.care.oiling_analysis import COLUMNS, OILING
from ironlace.record import FindingEntry, PhotographRole, Treatment
from ironlace.workshop import Workshop

from .browsing import DESKTOP, PHONE, keep, serving, violations
from .conftest import words

MACHINE = "/machine/lapwing-head"


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("oiling")
    with Workshop.create(folder / "my-workshop") as made:
        slug = made.records.create("Lapwing head")
        Image.new("RGB", (900, 600), (120, 110, 100)).save(folder / "head.jpg")
        made.photographs.take_in_file(slug, folder / "head.jpg", PhotographRole.PART, "head")
    return folder / "my-workshop"


def kept(workshop):
    """The one plan that is kept, as it was asked for, and the oilings in the record."""
    with Workshop.open(workshop) as opened:
        record = opened.records.read("lapwing-head")
        (plan,) = (e for _, e in record.of(FindingEntry) if e.finding.about == OILING.about)
        return OILING.asked_of(plan.finding), [one for _, one in record.of(Treatment)]


@pytest.mark.browser
def test_a_plan_is_touched_worked_out_kept_and_carried_on(chromium, workshop):
    with serving(workshop, foreman=False) as address:
        page = chromium.new_context(viewport=DESKTOP).new_page()
        page.goto(f"{address}{MACHINE}/work-out/oiling")
        frame = page.locator(".picture-frame")
        box = frame.bounding_box()
        page.mouse.click(box["x"] + 0.3 * box["width"], box["y"] + 0.4 * box["height"])
        assert page.evaluate("document.activeElement.name") == "place"
        page.keyboard.type("needle bar, upper bush")
        frame.focus()
        page.keyboard.press("Enter")  # the second by keyboard alone, under the crosshair
        page.keyboard.type("shuttle race")
        for n, (kind, months) in enumerate((("hole", "3"), ("felt", "1"))):
            row = page.locator("[data-point]").nth(n)
            row.get_by_label("What takes the oil").select_option(kind)
            row.get_by_label("or months").fill(months)
            row.get_by_label("Last oiled").fill("1894-01-31")
        assert violations(page) == []
        keep(page, "oiling-wide")
        page.get_by_role("button", name="Work it out").click()
        page.get_by_text("Oil first: 2 shuttle race, 1 drop. Due 1894-02-28.").wait_for()
        assert violations(page) == []
        keep(page, "oiling-answer")
        page.get_by_role("button", name="Keep the plan").click()
        page.wait_for_url("**kept=**")
        keep(page, "oiling-kept")

        narrow = chromium.new_context(viewport=PHONE, has_touch=True, color_scheme="dark")
        page = narrow.new_page()
        page.goto(f"{address}{MACHINE}/oiling")
        page.get_by_label("2 shuttle race").check()
        page.get_by_label("Hours sewn since").fill("3,5")
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        assert violations(page) == []
        keep(page, "oiling-phone-dark")
        page.get_by_role("button", name="Put it in the record").click()
        page.get_by_text("Running log").wait_for()
        assert violations(page) == []
        keep(page, "oiling-log-phone-dark")
    asked, (treatment,) = kept(workshop)
    first, second = asked.places.splitlines()[1:]
    assert first.startswith('"needle bar, upper bush",hole,1,,3,1894-01-31')
    assert "1894" not in second
    assert treatment.what == "oiled: shuttle race"
    assert "3.5 h" in treatment.done


def sent(*rows, **more):
    """What the form sends: each field once for each place."""
    blank = {"kind": "hole", "drops": "2", "every_months": "3", "last": "1894-01-31"}
    rows = [{**dict.fromkeys(COLUMNS, ""), **blank, **row} for row in rows]
    return {**{c: [row[c] for row in rows] for c in COLUMNS}, "do": "keep", **more}


def test_a_plan_without_a_photograph_or_script_gives_its_card_and_calendar(person, slug):
    address = f"/machine/{slug}/oiling"
    assert person.get(f"{address}/card.pdf").status_code == 404
    more = person.post(address, sent({"place": "bush"}, do="another"))
    assert more.text.count("data-point tabindex") == 3  # two rows and the blank one
    answer = person.post(address, sent({"place": "bush"}, do="work"))
    assert "Oil first: 1 bush, 2 drops. Due 1894-04-30." in words(answer)
    person.post(address, sent({"place": "bush"}))
    assert "due since 1894-04-30" in words(person.get(address))
    calendar = person.get(f"{address}/due.ics")
    assert "DTSTART;VALUE=DATE:18940430" in calendar.text
    wall = pypdfium2.PdfDocument(person.get(f"{address}/wall-card.pdf").content)[0]
    assert [round(one * 25.4 / 72) for one in wall.get_size()] == [210, 297]
    said = wall.get_textpage().get_text_bounded()
    assert "Oiling card, " in said and "Oil (not said):" in said
    card = person.get(f"{address}/card.pdf")
    assert card.content.startswith(b"%PDF")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"last": ""}, "last oiled"),
        ({"every_months": ""}, "has no rule"),
        ({"kind": "spout"}, "spout"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_lost(person, slug, change, says):
    answer = person.post(f"/machine/{slug}/oiling", sent({"place": "bush", **change}))
    assert answer.status_code == 422
    assert says in words(answer)
    assert 'value="bush"' in answer.text


def test_no_place_and_no_tick_are_refused(person, slug):
    address = f"/machine/{slug}/oiling"
    assert "There is no place yet" in words(person.post(address, {"do": "work"}))
    person.post(address, sent({"place": "bush"}))
    none = person.post(address, {"do": "oiled", "day": "1894-03-01"})
    assert "Nothing is ticked" in words(none)
    early = person.post(address, {"do": "oiled", "oiled": "1", "day": "1893-03-01"})
    assert "was last oiled 1894-01-31" in words(early)
    strange = {"do": "oiled", "oiled": "1", "day": "1894-03-01", "hours": "many"}
    assert "'many' is no number of hours" in words(person.post(address, strange))


def test_cells_that_are_left_empty_keep_their_place(person, slug):
    cells = {
        "place": ["needle bar", "shuttle race"],
        "kind": ["", "felt"],
        "drops": ["1", "1"],
        "every_hours": ["", "2"],
        "every_months": ["3", "1"],
        "last": ["1894-01-31", "1894-01-31"],
        "holds_ml": ["", ""],
    }
    person.post(f"/machine/{slug}/oiling", {**cells, "do": "keep"})
    page = person.get(f"/machine/{slug}/oiling")
    points = page.text.split("data-point ")[1:3]
    assert [one.count("selected") for one in points] == [0, 1]
    assert [re.search(r'name="every_hours"[^>]*value="([^"]*)"', one)[1] for one in points] == [
        "",
        "2",
    ]
