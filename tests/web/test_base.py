"""A base on its page: silhouette touched, worked out, looked at, kept, drawn on paper."""

import html
import json
import re

import cv2
import numpy as np
import pytest
import shapely
from PIL import Image, ImageDraw
from playwright.sync_api import expect

from bench_visitor import ADDRESS, Person
from ironlace.record import PhotographRole
from ironlace.stand.base_analysis import BASE
from ironlace.web import create_app
from ironlace.workshop import Workshop, analyses
from photographed_beds import bed, layout_csv, sheet_texture

from .browsing import DESKTOP, PHONE, amiss, in_first_screen, keep, serving
from .conftest import words

MACHINE = "/machine/lapwing-head"
OUTLINE = "x_mm,y_mm\n-140,-80\n140,-80\n140,80\n-140,80"
WORKS = "point,wheel_deg,x_mm,y_mm,z_mm\n" + "\n".join(
    f"lever,{a},40,10,{-35 - 6 * np.cos(np.deg2rad(a)):.3f}" for a in range(0, 360, 30)
)
HEAD = {
    "mass": "12.7 ± 0.02 kg",
    "centre_x": "10 ± 1 mm",
    "centre_y": "-4 ± 1 mm",
    "centre_z": "118 ± 3 mm",
}
WIDE, HIGH = 900, 700
TOUCHED = [
    *((150, 560), (710, 560)),
    *((240, 560), (240, 100)),
    *((150, 560), (150, 90), (640, 90), (640, 520), (710, 520), (710, 560)),
]
"""Ends of the seat, foot and top of the height, then round the machine, in pixels."""


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("base")
    picture = Image.new("RGB", (WIDE, HIGH), (205, 198, 186))
    ImageDraw.Draw(picture).polygon([tuple(one) for one in TOUCHED[4:]], fill=(35, 30, 28))
    picture.save(folder / "front.png")
    with Workshop.create(folder / "workshop") as made:
        slug = made.records.create("Lapwing head")
        made.photographs.take_in_file(slug, folder / "front.png", PhotographRole.PART, "front")
    return folder / "workshop"


def filled(page):
    page.get_by_label("Outline of the bed").fill(OUTLINE)
    page.get_by_label("Readings of the works").fill(WORKS)
    page.locator("summary", has_text="Or mass and centre").click()
    for name, value in HEAD.items():
        page.locator(f"#f-{name}").fill(value)


@pytest.mark.browser
def test_a_silhouette_is_touched_and_the_base_worked_out_and_kept(chromium, workshop):
    with serving(workshop, foreman=False) as address:
        page = chromium.new_context(viewport=DESKTOP).new_page()
        page.goto(f"{address}{MACHINE}/work-out/base")
        page.locator("select[name=front_photograph]").select_option(index=1)
        page.get_by_role("button", name="Show it").first.click()
        frame = page.locator("[data-view=front] .picture-frame")
        frame.scroll_into_view_if_needed()
        box = page.locator("[data-view=front] .picture-sheet img").bounding_box()
        scale = box["width"] / WIDE
        for x, y in TOUCHED:
            page.mouse.click(box["x"] + x * scale, box["y"] + y * scale)
        told = page.locator("[data-view=front] [data-told]")
        assert told.inner_text() == "6 places round the machine."
        frame.focus()
        page.keyboard.press("Enter")  # one more by keyboard, under the crosshair
        assert told.inner_text() == "7 places round the machine."
        page.get_by_role("button", name="Take the last touch away").first.click()
        page.get_by_label("The height touched, front").fill("230 mm")
        filled(page)
        assert amiss(page, "form") == []
        keep(page, "base-form-wide")
        page.get_by_role("button", name="Work it out").click()
        page.get_by_text("under a head of").first.wait_for()
        in_first_screen(page, page.locator("#answer p").first)
        assert "under a head of 235 mm" in page.locator(".elevations").inner_text()
        assert amiss(page, "answer") == []
        keep(page, "base-wide")
        brief = page.locator("[data-brief]")
        foot = page.locator("[data-foot='3']")
        foot.focus()
        page.keyboard.press("Shift+ArrowUp")
        expect(page.locator("#f-feet")).to_have_value(re.compile(r"\n144\.0,94\.0"))
        at = foot.locator("circle").bounding_box()
        page.mouse.move(at["x"] + 8, at["y"] + 8)
        page.mouse.down()
        page.mouse.move(at["x"] + 8, at["y"] - 4)
        page.mouse.up()
        page.locator("[data-slides=below]").fill("30")
        expect(brief).to_contain_text("77.")
        page.locator("[data-slides=wheel]").fill("90")
        assert page.locator("[data-turns=side] .base-dot").count() == 1
        assert amiss(page, "moved") == []
        keep(page, "base-moved-wide")
        page.get_by_role("button", name="Keep this").click()
        page.wait_for_url("**kept=**")
        narrow = chromium.new_context(viewport=PHONE, color_scheme="dark").new_page()
        narrow.goto(page.url)
        narrow.get_by_role("button", name="Work it out").focus()
        narrow.keyboard.press("Enter")
        narrow.get_by_text("under a head of").first.wait_for()
        assert amiss(narrow, "phone") == []
        keep(narrow, "base-phone-dark")
    with Workshop.open(workshop) as opened:
        record = opened.records.read("lapwing-head")
        kept = BASE.asked_of(analyses.kept_finding(record, BASE)[1].finding)
    assert kept.front_photograph == "photograph 1"
    assert kept.front_touches.count("round") == 6
    assert kept.below == 30.0 and kept.feet.count("\n") == 4


def sent(**changes):
    return {"outline": OUTLINE, "works": WORKS, **HEAD, "do": "work", **changes}


def test_it_is_worked_out_without_a_script_and_drawn_on_paper(person, slug):
    address = f"/machine/{slug}/base"
    page = person.post(address, sent())
    assert "The base must be 5" in words(page)
    assert "To cut, net, mm" in words(page)
    at = page.text.split("/at/")[1].split("/")[0]
    assert person.get(f"{address}/at/{at}/base-a4.pdf").content.startswith(b"%PDF")
    assert person.get(f"{address}/at/{at}/base-a9.pdf").status_code == 404
    feet = "-150,-90\n150,-90\n150,120\n-150,90"
    asked = {"overhang": "20", "below": "18", "feet": feet}
    told = person.get(f"{address}/at/{at}/moved.json", params=asked).json()
    assert 64.0 < told["height"] < 66.0 and told["feet"][2] == [150.0, 120.0]
    bad = asked | {"feet": "1,2\n3,4\n5,6.1"}
    wants = {"accept": "application/json"}
    off = person.get(f"{address}/at/{at}/moved.json", params=bad, headers=wants)
    assert off.status_code == 422 and "do not span an area" in off.json()["error"]["says"]
    assert person.get(f"{address}/at/{at}/outline.svg").status_code == 404  # it was pasted
    assert "<svg" in person.get(f"/machine/{slug}/work-out/base/at/{at}/file/base.svg").text


def test_an_outline_on_its_photograph_is_mended_mirrored_and_measured(tmp_path):
    csv, squares = layout_csv()
    sheet = np.repeat(sheet_texture(squares, per_mm=2)[..., None], 3, axis=2).copy()
    ring = bed(np.random.default_rng(8), 260.0, 160.0)
    cv2.fillPoly(sheet, [np.round(2.0 * ring * 16).astype(np.int32)], (30, 30, 30), cv2.LINE_AA, 4)
    Image.fromarray(sheet).save(tmp_path / "bed.png")
    high, wide = sheet.shape[:2]
    lens = {"matrix": [[3000, 0, wide / 2], [0, 3000, high / 2], [0, 0, 1]], "distortion": []}
    with Workshop.create(tmp_path / "workshop") as made:
        slug = made.records.create("Lapwing head")
        made.photographs.take_in_file(slug, tmp_path / "bed.png", PhotographRole.PART, "bed")
    person = Person(create_app(tmp_path / "workshop", foreman=False, port=8765))
    with person.client:
        address = f"/machine/{slug}/base"
        given = {"layout": csv, "rim_above": "0 mm", "seen_from": "above"}
        given |= {"photograph": "photograph 1"}
        given["lens"] = json.dumps(lens)
        page = person.post(address, sent(outline="", **given))
        at = page.text.split("/at/")[1].split("/")[0]
        shown = json.loads(html.unescape(re.search(r'data-nodes="([^"]*)"', page.text)[1]))["ring"]
        wants = {"accept": "application/json", "x-ironlace-token": person.token}
        wants |= {"origin": ADDRESS, "sec-fetch-site": "same-origin"}

        def asked(**told):
            return person.client.post(f"{address}/at/{at}/mended.json", json=told, headers=wants)

        far = asked(px=[min(shown), max(shown)], measure=True).json()["mm"]
        across = shapely.minimum_bounding_radius(shapely.LinearRing(ring)) * 2.0
        assert 0.9 * across < far < across
        plain, turned = (asked(px=shown, mirror=one).json()["outline"] for one in (False, True))
        first, other = (np.loadtxt(one.splitlines()[1:], delimiter=",") for one in (plain, turned))
        assert np.allclose(first, other[::-1] * [-1.0, 1.0], atol=1e-9)
        assert shapely.Polygon(first).area == pytest.approx(shapely.Polygon(ring).area, rel=1.5e-2)
        for told in ({"px": shown[:5]}, {"px": "no"}, {"px": [[1, 2], [1e9, 3]]}):
            assert asked(**told).status_code == 422
        assert "The base must be" in words(person.post(address, sent(outline=turned)))


def test_what_cannot_be_is_refused_at_its_field_and_nothing_is_lost(person, slug):
    page = person.post(f"/machine/{slug}/base", sent(centre_z=""))
    assert page.status_code == 422
    assert "given in part" in words(page)
    assert "lever,30,40" in page.text


def test_what_it_tells_of_stands_on_the_list_of_what_touches_the_machine(person, slug):
    person.post(f"/machine/{slug}/base", sent(do="keep"))
    things = "thing,between,comes_off,leaves,screws\nbase,felt,lift the head off,nothing,none"
    said = words(person.post(f"/machine/{slug}/work-out/touches", {"things": things}))
    assert "Missing of 'felt of the base': what lies between" in said
    assert "Missing of 'base'" not in said


def test_the_list_is_out_of_date_as_soon_as_another_thing_is_fitted(person, slug):
    things = "thing,between,comes_off,leaves,screws\nmat,felt,lift the head off,nothing,none"
    address = f"/machine/{slug}/work-out/touches"
    person.post(f"{address}/keep", {"things": things})
    page = f"/machine/{slug}/touches"
    assert "Out of date" not in words(person.get(page))
    person.post(f"/machine/{slug}/base", sent(do="keep"))
    assert "Out of date" in words(person.get(page))
