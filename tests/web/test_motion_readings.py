"""Readings called out at the bench in a real browser, by keys, keyboard and touch; the disc."""

import re
from io import BytesIO

import numpy as np
import pypdfium2
import pytest
from playwright.sync_api import expect

import turned_heads
from ironlace.record import ReadingsEntry
from ironlace.record.readings import ReadingTable
from ironlace.web import addresses
from ironlace.workshop import Workshop

from .browsing import DESKTOP, PHONE, in_first_screen, keep, serving, violations
from .conftest import words

MACHINE = "/machine/lapwing-head"
LEAST_PX = 56


@pytest.fixture
def workshop(tmp_path):
    with Workshop.create(tmp_path / "my-workshop") as made:
        made.records.create("Lapwing head")
    return tmp_path / "my-workshop"


def entered(page, text, *, by_keys=False):
    if by_keys:
        for sign in text:
            page.locator(f".key[value='{sign}']").click()
        with page.expect_navigation():
            page.get_by_role("button", name="Next").click()
    else:
        field = page.locator("#f-number")
        expect(field).to_be_focused()  # which a busy browser does a little after the page is there
        page.keyboard.type(text)
        expect(field).to_have_value(text)
        with page.expect_navigation():
            page.keyboard.press("Enter")


ASKED = r"Wheel at ([\d.]+)°: ([a-z ]+), mm"


def read_the_rest(folder, made, rng):
    """The settings between the second and the last, read as the page would ask for them."""
    low, near = made.lowest("needle bar"), np.arange(-10.0, 11.0, 4.0)
    rows = [
        (f"{at % 360.0:.1f}", f"{made.at('needle bar', at + off) + slip:.1f}", shuttle(at + off))
        for turns, shuttle in (
            (low + near[1:], lambda _: ""),
            (made.meets_at + near, lambda at: f"{made.at('shuttle', at):.1f}"),
        )
        for at, off, slip in zip(turns, rng.normal(0, 0.5, 6), rng.normal(0, 0.05, 6), strict=False)
    ]
    with Workshop.open(folder) as opened:
        ((name, entry),) = opened.records.read("lapwing-head").of(ReadingsEntry)
        wheel, bar = entry.table.columns
        shuttle = bar.model_copy(update={"name": "shuttle"})
        table = {
            "columns": [one.model_dump() for one in (wheel, bar, shuttle)],
            "rows": [*((*row, "") for row in entry.table.rows), *rows],
        }
        more = entry.model_copy(update={"table": ReadingTable.model_validate(table)})
        opened.records.change("lapwing-head", name, more)


@pytest.mark.browser
def test_readings_are_called_out_by_keys_and_keyboard_until_the_rise_is_told(chromium, workshop):
    rng = np.random.default_rng(6)
    made = turned_heads.head("cranked", rng)
    first = [made.lowest("needle bar"), made.meets_at % 360.0, made.meeting]
    with serving(workshop, foreman=False) as address:
        page = chromium.new_context(viewport=DESKTOP).new_page()
        page.goto(f"{address}{MACHINE}/work-out/motion")
        page.get_by_role("link", name="Call the readings out").click()
        page.get_by_label("Whether the timing").check()
        page.get_by_label("Only as it sews").check()
        page.get_by_label("One", exact=True).check()
        page.get_by_label("As it sews, the disc").select_option("rise")
        page.get_by_label("Heights are read with").fill("calliper with a depth rod")
        assert violations(page) == []
        keep(page, "motion-begin")
        page.get_by_role("button", name="Begin").click()
        for number, value in enumerate(first):
            entered(page, f"{value:.1f}", by_keys=number == 0)
        for number in range(2):
            asked = re.search(ASKED, page.locator("h1").inner_text())
            entered(page, f"{made.at(asked[2], float(asked[1])):.1f}", by_keys=number == 0)
        read_the_rest(workshop, made, rng)
        page.reload()
        asked = re.search(ASKED, page.locator("h1").inner_text())
        entered(page, f"{made.at(asked[2], float(asked[1])):.1f}")
        page.get_by_text("the needle has risen").wait_for()
        assert page.locator(".call-curves svg").is_visible()
        assert "of the rise’s doubt" in page.locator(".call-step").inner_text()
        assert violations(page) == []
        in_first_screen(page, page.locator(".key").first, page.get_by_text("Cannot read"))
        keep(page, "motion-called")
        before = page.locator(".call-last").inner_text()
        with page.expect_navigation():
            page.get_by_role("button", name="Back one").press("Enter")
        assert page.locator(".call-last").inner_text() != before

        narrow = chromium.new_context(viewport=PHONE, has_touch=True, color_scheme="dark")
        phone = narrow.new_page()
        phone.goto(page.url)  # nothing is lost where the page is opened again
        assert phone.locator("h1").inner_text() == page.locator("h1").inner_text()
        for key in phone.locator(".call-ask button").all():
            assert key.bounding_box()["height"] >= LEAST_PX
        in_first_screen(phone, phone.locator("h1"), phone.get_by_role("button", name="Next"))
        assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        assert violations(phone) == []
        keep(phone, "motion-called-phone-dark")
        with phone.expect_navigation():
            phone.get_by_role("button", name="Done").tap()
        phone.locator("[data-turning]").wait_for()
    with Workshop.open(workshop) as opened:
        ((_, entry),) = opened.records.read("lapwing-head").of(ReadingsEntry)
    assert len(entry.table.rows) == 13  # the last of fourteen was taken back
    assert [column.name for column in entry.table.columns] == ["wheel", "needle bar", "shuttle"]


def test_before_the_first_reading_it_is_asked_what_for(person, slug):
    page = person.get(addresses.motion_readings(slug))
    assert page.status_code == 200
    assert "What do you want to know?" in words(page)
    assert " checked" not in page.text  # nothing is taken for said
    refused = person.get(addresses.motion_readings(slug, aim="strokes"))
    assert refused.status_code == 422
    assert "tick at least one part" in words(refused)


def test_a_disc_is_printed_at_true_scale(person):
    answer = person.get(addresses.degree_disc(), params={"diameter": "100", "hole": "6,5"})
    assert answer.headers["content-type"] == "application/pdf"
    width, height = pypdfium2.PdfDocument(BytesIO(answer.content))[0].get_size()
    assert (width / 72.0 * 25.4, height / 72.0 * 25.4) == pytest.approx((210.0, 297.0), abs=0.2)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"diameter": "large"}, "give both in mm"),
        ({"diameter": "nan"}, "cannot be printed so"),
        ({"diameter": "900"}, "cannot be printed so"),
        ({"hole": "100"}, "leaves no room"),
        ({"numbered": "up"}, "clockwise or anticlockwise"),
    ],
)
def test_a_disc_that_cannot_be_is_refused(person, asked, says):
    answer = person.get(addresses.degree_disc(), params=asked)
    assert answer.status_code == 422
    assert says in words(answer)
