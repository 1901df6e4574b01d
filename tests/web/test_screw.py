"""A screw on its page: read in its photograph, kept by its name, judged beside the others."""

import pytest
from PIL import Image

from ironlace.record import PhotographRole
from ironlace.workshop import Workshop
from photographed_screws import photographed_m5

from .browsing import DESKTOP, PHONE, amiss, in_first_screen, keep, serving
from .conftest import words

MACHINE = "/machine/lapwing-head"


@pytest.mark.browser
def test_a_screw_is_read_looked_at_and_kept(chromium, tmp_path):
    shot = photographed_m5()
    Image.fromarray(shot.image).save(tmp_path / "screw.png")
    with Workshop.create(tmp_path / "workshop") as made:
        slug = made.records.create("Lapwing head")
        made.photographs.take_in_file(slug, tmp_path / "screw.png", PhotographRole.PART, "screw")
    with serving(tmp_path / "workshop", foreman=False) as address:
        page = chromium.new_context(viewport=DESKTOP).new_page()
        page.goto(f"{address}{MACHINE}/work-out/screw")
        page.get_by_label("Photograph").select_option(index=1)
        page.get_by_label("Diameter over the thread").fill(f"{shot.caliper_mm:.3f} ± 0.02 mm")
        page.get_by_label("From the card to").fill(f"{shot.distance_mm:.0f}")
        page.get_by_label("Which screw").fill("needle plate")
        page.get_by_text("The lens, if it was measured").click()
        page.get_by_label("Another card's markers").fill(shot.layout_csv)
        assert amiss(page, "form") == []
        page.get_by_label("Which screw").press("Enter")  # the first button: by keyboard
        page.get_by_role("button", name="Which is it?").click()
        page.get_by_text("M5 metric").first.wait_for()
        seen = page.locator(".screw-seen")
        seen.scroll_into_view_if_needed()
        assert seen.evaluate("image => image.decode().then(() => image.naturalWidth)") == 1500
        in_first_screen(page, page.locator("#answer p").first)
        assert amiss(page, "answer") == []
        keep(page, "screw-wide")
        laid = page.locator("[data-comb-shows]")
        assert 0.798 < float(laid.inner_text()) < 0.802
        box = page.locator(".comb svg").bounding_box()
        page.mouse.move(box["x"] + 0.9 * box["width"], box["y"] + 20)
        page.mouse.down()
        page.mouse.move(box["x"] + 0.87 * box["width"], box["y"] + 20)
        page.mouse.up()
        assert 0.74 < float(laid.inner_text()) < 0.79
        page.locator("[data-comb-pitch]").focus()
        dragged = laid.inner_text()
        page.keyboard.press("ArrowRight")
        assert float(laid.inner_text()) > float(dragged)
        page.get_by_role("button", name="Judge by this comb").click()
        page.get_by_text("The pitch is that of a comb").wait_for()
        assert amiss(page, "comb") == []
        page.get_by_role("button", name="Keep this").click()
        page.wait_for_url("**kept=**")
        narrow = chromium.new_context(viewport=PHONE, color_scheme="dark").new_page()
        narrow.goto(page.url)
        narrow.get_by_role("button", name="Which is it?").focus()
        narrow.keyboard.press("Enter")
        narrow.get_by_text("The pitch is that of a comb").wait_for()
        assert amiss(narrow, "phone") == []
        keep(narrow, "screw-phone-dark")


def gauge(name, pitch, diameter, do="keep"):
    return {"name": name, "pitch": pitch, "diameter": diameter, "photograph": "", "do": do}


def test_screws_read_by_a_gauge_are_kept_by_name_and_judged_together(person, slug):
    address = f"/machine/{slug}/screw"
    said = words(person.post(address, gauge("left", "0.8 ± 0.002 mm", "4.9 ± 0.02 mm", "work")))
    assert "M5 metric" in said
    person.post(address, gauge("left", "0.8 ± 0.002 mm", "4.9 ± 0.02 mm"))
    assert "Judge them together" not in words(person.get(address))
    person.post(address, gauge("right", "0.7 ± 0.002 mm", "3.9 ± 0.02 mm"))
    page = person.get(address)
    assert "Judge them together" in words(page)
    assert "left,0.8,0.002,4.9,0.02" in page.text
    assert 'value="0.8 ± 0.002 mm"' in person.get(f"{address}?of=left").text


def test_what_cannot_be_is_refused_and_nothing_is_lost(person, slug):
    answer = person.post(f"/machine/{slug}/screw", gauge("left", "", "4.9 mm"))
    assert answer.status_code == 422
    assert "neither a photograph nor a pitch" in words(answer)
    assert 'value="4.9 mm"' in answer.text


def test_the_card_is_handed_over_and_no_other_paper(person):
    assert person.get("/screw-card/a4.pdf").content.startswith(b"%PDF")
    assert person.get("/screw-card/a9.pdf").status_code == 404


def test_a_picture_that_is_no_longer_at_hand_is_said(person, slug):
    gone = person.get(f"/machine/{slug}/screw/at/abc/picture.svg")
    assert gone.status_code == 404


def test_the_spare_is_handed_over_on_paper(person, slug):
    address = f"/machine/{slug}/work-out/spare-screw"
    asked = {"diameter": "5 mm", "pitch": "0.8 mm", "length": "12 mm", "head": "none"}
    page = person.post(address, asked)
    at = page.text.split("/at/")[1].split("/")[0]
    assert f"/at/{at}/file/spare-a4.pdf" in page.text
    assert person.get(f"{address}/at/{at}/file/spare-a4.pdf").content.startswith(b"%PDF")
    assert person.get(f"{address}/at/{at}/file/spare-a9.pdf").status_code == 404
