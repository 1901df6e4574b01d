"""Threading plans on their pages: touched on a photograph, kept, changed, printed."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image

from ironlace.record import PhotographRole, ThreadingEntry
from ironlace.workshop import Workshop

from .browsing import DESKTOP, PHONE, browser, keep, serving

MACHINE = "/machine/lapwing-head"


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("threading")
    with Workshop.create(folder / "my-workshop") as made:
        slug = made.records.create("Lapwing head")
        for name, tint in (("head", 60), ("shuttle", 90)):
            Image.new("RGB", (900, 600), (tint, tint, tint)).save(folder / f"{name}.jpg")
            made.photographs.take_in_file(slug, folder / f"{name}.jpg", PhotographRole.PART, name)
    return folder / "my-workshop"


@pytest.fixture(scope="module")
def address(workshop):
    with serving(workshop, foreman=False) as found:
        yield found


def plans(workshop):
    with Workshop.open(workshop) as opened:
        return dict(opened.records.read("lapwing-head").of(ThreadingEntry))


def last_row(page):
    return page.locator("[data-point]").last


@pytest.mark.browser
def test_a_plan_is_touched_by_mouse_and_by_keyboard_on_a_wide_screen_and_a_phone(workshop, address):
    with browser() as chromium:
        context = chromium.new_context(viewport=DESKTOP)
        page = context.new_page()
        page.goto(f"{address}{MACHINE}/threading")
        page.fill("#f-name", "Head of 1894")
        frame = page.locator(".picture-frame")
        box = frame.bounding_box()
        for share, word, side in ((0.7, "spool", "back"), (0.3, "pin", "left")):
            page.mouse.click(box["x"] + share * box["width"], box["y"] + 0.4 * box["height"])
            last_row(page).get_by_label("What the thread does there").select_option(word)
            last_row(page).get_by_label("From or round which side").select_option(side)
        # the third point by keyboard alone: the picture's middle lies under the crosshair
        frame.focus()
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.name") == "does"
        last_row(page).get_by_label("What the thread does there").select_option("needle eye")
        last_row(page).get_by_label("How you know it").select_option("seen")
        assert Axe().run(page).violations_count == 0
        keep(page, "threading-wide")
        # the other photograph, without anything lost
        page.get_by_label("Photograph", exact=True).select_option(label="photograph 2: shuttle")
        page.get_by_role("button", name="Show it").click()
        assert page.locator("[data-point]").count() == 3
        page.keyboard.press("Tab")
        frame.focus()
        page.keyboard.press("Enter")
        last_row(page).get_by_label("What the thread does there").select_option("bobbin")
        page.get_by_role("button", name="Keep the plan").click()
        page.wait_for_url("**/entries/threading/1**")
        image = page.locator(".threading-diagram")
        assert image.evaluate("image => image.decode().then(() => image.naturalWidth)") > 300
        keep(page, "threading-kept")

        narrow = chromium.new_context(viewport=PHONE, has_touch=True, color_scheme="dark")
        page = narrow.new_page()
        page.goto(f"{address}{MACHINE}/threading?of=threading 1")
        page.get_by_label("moves the point chosen").check()
        page.locator("[data-point]").nth(1).get_by_label("Source").focus()
        page.evaluate("window.scrollTo(0, 0)")
        box = page.locator(".picture-frame").bounding_box()
        page.touchscreen.tap(box["x"] + 0.5 * box["width"], box["y"] + 0.25 * box["height"])
        page.locator("[data-point]").nth(2).get_by_role("button", name="Earlier").click()
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        assert Axe().run(page).violations_count == 0
        keep(page, "threading-phone-dark")
        page.get_by_role("button", name="Keep the plan").click()
        page.wait_for_url("**/entries/threading/1**")
        assert Axe().run(page).violations_count == 0
        keep(page, "threading-kept-phone-dark")
    (plan,) = plans(workshop).values()
    assert [one.does for one in plan.points] == ["spool", "needle eye", "pin", "bobbin"]
    assert [one.thread for one in plan.points] == ["needle"] * 3 + ["shuttle"]
    spool, eye, pin, _ = plan.points
    assert (spool.x_px, spool.y_px) == pytest.approx((630, 240), abs=200)
    assert spool.x_px > eye.x_px == pytest.approx(450, abs=3)
    assert pin.y_px == pytest.approx(150, abs=90)
    assert plan.grade is None  # two steps do not say how they are known
