"""A worn plate in a real browser: the torch follows the pointer and the keys; views are saved."""

import threading
from base64 import b64decode
from io import BytesIO

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image

from ironlace.evidence.analyses import asked_from
from ironlace.marks import PLATE_RELIEF
from ironlace.record import PhotographRole
from ironlace.workshop import Workshop
from ironlace.workshop.marks.plate_jobs import asked_relief
from ironlace.workshop.work.foreman import work_off
from ironlace.workshop.work.jobs import Jobs
from struck_plates import small_plate

from .browsing import DESKTOP, PHONE, browser, in_first_screen, keep, serving

pytestmark = pytest.mark.browser
PLATE = "/machine/lapwing-head/plates/1"


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    base = tmp_path_factory.mktemp("plate")
    small_plate(base / "shots", count=6)
    with Workshop.create(base / "workshop") as workshop:
        slug = workshop.records.create("Lapwing head")
        names = [
            workshop.photographs.take_in_file(slug, file, PhotographRole.MARK).name
            for file in sorted((base / "shots").glob("*.jpg"))
        ]
        asked = asked_from(PLATE_RELIEF.asked, {"photographs": names, "ball": "6 mm"})
        Jobs(workshop.database).ask("relief", asked_relief(asked, ""), slug)
        work_off(workshop, "test", threading.Event(), once=True)
    with serving(base / "workshop", foreman=False) as at:
        yield at


def shown(page):
    """What the page shows of the plate, by the browser's own light."""
    url = page.locator("[data-canvas]").evaluate(
        "c => new Promise(d => requestAnimationFrame(() => requestAnimationFrame("
        "() => d(c.toDataURL()))))"
    )
    with Image.open(BytesIO(b64decode(url.partition(",")[2]))) as picture:
        return np.asarray(picture.convert("L"), dtype=int)


def test_the_torch_follows_pointer_and_keys_and_the_view_is_the_servers(address):
    with browser() as chromium:
        page = chromium.new_context(base_url=address, viewport=DESKTOP).new_page()
        page.goto(PLATE)
        page.wait_for_selector('[data-lit="here"]')
        frame, says = page.locator("[data-frame]"), page.locator("[data-says]")
        in_first_screen(page, frame, says, page.locator("[data-save]"))
        box = page.locator("[data-canvas]").bounding_box()
        page.mouse.move(box["x"] + 0.1 * box["width"], box["y"] + 0.5 * box["height"])
        assert "Torch from the left" in says.inner_text()
        page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 0.1 * box["height"])
        assert "from the top" in says.inner_text()
        assert "held" in says.inner_text()
        page.mouse.move(box["x"] + 0.9 * box["width"], box["y"] + 0.5 * box["height"])
        assert "from the top" in says.inner_text()
        frame.focus()
        for _ in range(3):
            page.keyboard.press("Shift+ArrowDown")
        assert "high" in says.inner_text()
        page.keyboard.press("2")
        assert "Torch from the right, 12° high" in says.inner_text()
        live = shown(page)
        saved = page.locator("[data-save]").get_attribute("href")
        with Image.open(BytesIO(page.request.get(saved).body())) as picture:
            assert '"torch_azimuth_deg": 0.0' in picture.text["Ironlace view"]
            told = np.asarray(picture, dtype=int)
        assert np.abs(live - told).mean() < 2  # one light, worked out twice
        page.keyboard.press("8")
        page.wait_for_function("!document.querySelector('[data-picture]').hidden")
        assert Axe().run(page).response["violations"] == []
        keep(page, "plate-1280-light")
        phone = chromium.new_context(
            base_url=address, viewport=PHONE, color_scheme="dark", has_touch=True
        ).new_page()
        phone.goto(PLATE)
        phone.wait_for_selector('[data-lit="here"]')
        phone.locator("#f-azimuth").fill("90")
        assert "from the top" in phone.locator("[data-says]").inner_text()
        assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        assert Axe().run(phone).response["violations"] == []
        keep(phone, "plate-390-dark")
