"""What touches the machine: numbered on a photograph, told, kept, and printed to stay by it."""

import pypdfium2
import pytest
from PIL import Image

from ironlace.record import PhotographRole
from ironlace.workshop import Workshop

from .browsing import DESKTOP, PHONE, amiss, keep, serving
from .conftest import words

MACHINE = "/machine/lapwing-head"


@pytest.mark.browser
def test_things_are_touched_told_kept_and_seen_on_a_phone(chromium, tmp_path):
    Image.new("RGB", (900, 600), (120, 110, 100)).save(tmp_path / "head.jpg")
    with Workshop.create(tmp_path / "workshop") as made:
        slug = made.records.create("Lapwing head")
        made.photographs.take_in_file(slug, tmp_path / "head.jpg", PhotographRole.PART, "head")
    with serving(tmp_path / "workshop", foreman=False) as address:
        page = chromium.new_context(viewport=DESKTOP).new_page()
        page.goto(f"{address}{MACHINE}/work-out/touches")
        box = page.locator(".picture-frame").bounding_box()
        page.mouse.click(box["x"] + 0.3 * box["width"], box["y"] + 0.4 * box["height"])
        assert page.evaluate("document.activeElement.name") == "thing"
        page.keyboard.type("base")
        page.locator(".picture-frame").focus()
        page.keyboard.press("Enter")
        page.keyboard.type("magnets of the crank")
        page.locator("[data-point]").nth(1).get_by_label("How it comes off").fill("pull it off")
        assert amiss(page, "form") == []
        page.get_by_role("button", name="Tell the list").click()
        page.get_by_text("2 things touch the machine").wait_for()
        assert amiss(page, "answer") == []
        keep(page, "touches-wide")
        page.get_by_role("button", name="Keep the list").click()
        page.wait_for_url("**kept=**")
        narrow = chromium.new_context(viewport=PHONE, color_scheme="dark").new_page()
        narrow.goto(page.url)
        assert narrow.locator("[data-point]").count() == 2
        assert amiss(narrow, "phone") == []
        keep(narrow, "touches-phone-dark")


def test_the_record_begins_the_list_and_the_sheet_says_what_is_not_said(person, slug):
    cells = {
        "thing": ["base", "magnets of the crank"],
        "between": ["", "felt 1 mm"],
        "comes_off": ["lift the head off", ""],
        "leaves": ["nothing", ""],
        "screws": ["none", ""],
    }
    address = f"/machine/{slug}/touches"
    page = person.post(address, {**cells, "do": "work"})
    assert "Missing of 'base': what lies between." in words(page)
    assert "implants" in words(page)
    at = page.text.split("/at/")[1].split("/")[0]
    sheet = person.get(f"{address}/at/{at}/touches-letter.pdf").content
    text = pypdfium2.PdfDocument(sheet)[0].get_textpage().get_text_bounded()
    assert "not said" in text and "felt 1 mm" in text
    assert "implants" in text  # the caution that stays with magnets
    assert person.get(f"{address}/at/{at}/touches-a9.pdf").status_code == 404
    off = person.post(address, {**cells, "x_px": ["12", ""], "y_px": ["", ""], "do": "work"})
    assert off.status_code == 422 and "give both pixels" in words(off)
