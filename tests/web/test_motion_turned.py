"""A head seen turning in a real browser: by slider, keys, the drawn wheel, and at its own pace."""

import re

import numpy as np
import pytest

import turned_heads
from ironlace.record import parse_entry
from ironlace.running.motion.motion_told import MOTION
from ironlace.workshop import Workshop
from ironlace.workshop import analyses as analyses_kept

from .browsing import DESKTOP, PHONE, keep, serving, violations
from .conftest import words

MACHINE = "/machine/lapwing-head"
NAMES = ("needle bar", "shuttle", "take-up")


def kept_motion(folder, **asked):
    """A workshop with a motion kept, of a head that other code made."""
    rng = np.random.default_rng(14)
    made = turned_heads.head("cranked", rng)
    turns = np.concatenate((np.arange(0.0, 360.0, 15.0), made.meets_at + np.arange(-10.0, 11, 4)))
    read, _ = turned_heads.readings(made, turns, NAMES, rng, misread=0.0)
    lines = ["wheel [deg];" + ";".join(f"{name} [mm]" for name in NAMES)]
    lines += [
        ";".join(f"{read[name][row]:.1f}" for name in ("wheel", *NAMES))
        for row in range(len(turns))
    ]
    with Workshop.create(folder / "my-workshop") as workshop:
        slug = workshop.records.create("Lapwing head")
        table = {"kind": "readings", "what": "motion", "table": "\n".join(lines)}
        workshop.records.add(slug, parse_entry(table | {"grade": "measured"}))
        record = workshop.records.read(slug)
        given = {"readings": "readings 1", "turning": "rise", "meeting": f"{made.meeting:.2f} mm"}
        values = analyses_kept.asked_for(MOTION, record, given | asked)
        analyses_kept.keep(workshop, slug, analyses_kept.work_out(workshop, record, MOTION, values))
    return folder / "my-workshop", made


def stands(page, part):
    """Height of a part as it stands on the page, mm."""
    return float(page.locator(f"[data-height='{part}']").inner_text().split()[0])


def at_degrees(page):
    return int(page.locator("[data-disc]").inner_text().rstrip("°"))


@pytest.mark.browser
def test_a_head_is_turned_by_slider_wheel_and_touch(chromium, tmp_path):
    folder, made = kept_motion(tmp_path, wheel_top="towards")
    with serving(folder, foreman=False) as address:
        page = chromium.new_context(viewport=DESKTOP).new_page()
        page.goto(f"{address}{MACHINE}/work-out/motion")
        assert abs(at_degrees(page) - made.meets_at % 360.0) < 3.0
        slider = page.get_by_label("Turn the wheel as it sews")
        slider.fill("120")
        assert at_degrees(page) == 120
        for part in NAMES:
            assert abs(stands(page, part) - made.at(part, 120.0)) < 0.6
        moved = page.locator("[data-moves='needle bar']").get_attribute("transform")
        slider.press("ArrowRight")
        assert at_degrees(page) == 121
        assert page.locator("[data-moves='needle bar']").get_attribute("transform") != moved
        assert "needle bar" in slider.get_attribute("aria-valuetext")
        # its top comes towards the sewer: anticlockwise, seen from its end
        wheel = page.locator("[data-wheel]")
        assert float(re.search(r"rotate\((\S+)", wheel.get_attribute("transform"))[1]) == -121.0
        slider.hover()
        page.mouse.wheel(0, 100)
        assert at_degrees(page) == 123
        page.get_by_role("button", name="Needle lowest").click()
        assert abs(stands(page, "needle bar") - made.motions["needle bar"].min()) < 0.3
        before = at_degrees(page)
        page.get_by_role("button", name="Turn", exact=True).click()
        page.wait_for_function(
            "from => document.querySelector('[data-disc]').textContent != from", arg=f"{before}°"
        )
        page.get_by_role("button", name="Stop").click()
        still = at_degrees(page)
        page.wait_for_timeout(120)
        assert at_degrees(page) == still
        assert violations(page) == []
        keep(page, "motion-turning")

        narrow = chromium.new_context(
            viewport=PHONE, has_touch=True, color_scheme="dark", reduced_motion="reduce"
        )
        phone = narrow.new_page()
        phone.goto(f"{address}{MACHINE}/work-out/motion")
        assert not phone.get_by_role("button", name="Turn", exact=True).is_visible()
        phone.get_by_role("button", name="Needle highest").tap()
        assert abs(stands(phone, "needle bar") - made.motions["needle bar"].max()) < 0.3
        assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        assert violations(phone) == []
        keep(phone, "motion-turning-phone-dark")


@pytest.fixture
def without_script(tmp_path):
    from ironlace.web import create_app

    from .conftest import Person

    folder, made = kept_motion(tmp_path)
    app = create_app(folder, foreman=False)
    yield Person(app), made
    app.state.bench.workshop.close()


def test_without_a_script_the_plot_stands_still_with_a_table(without_script):
    person, made = without_script
    page = person.get(f"{MACHINE}/work-out/motion")
    said = words(page)
    assert "it is drawn going away from you" in said
    assert "feed, mm" not in said  # it was not read
    row = re.search(r"<tr><td>90°</td><td>(-?[\d.]+) ±", page.text)
    assert abs(float(row[1]) - made.at("needle bar", 90.0)) < 0.5
    assert page.text.count("data-needs-script hidden") == 2
    # the first three sentences come before the picture, the rest after it
    first = said.index("When the shuttle's point meets")
    assert first < said.index("The same every 30 degrees") < said.index("The shuttle moves")
