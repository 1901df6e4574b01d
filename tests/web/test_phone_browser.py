"""The phone at the bench in a real browser: two phones, a lost network, light and dark."""

import re

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect

from ironlace.record import EntryKind, Measurement, Photograph
from ironlace.web.phone.house_network import house_addresses
from ironlace.workshop import Workshop

from .browsing import DESKTOP, PHONE, keep, serving, violations

pytestmark = [pytest.mark.browser, pytest.mark.slow]
TITLE = "The long-shuttle head"
SLUG = "the-long-shuttle-head"


@pytest.fixture
def at_bench(chromium, tmp_path):
    """A bench, its page of the phone's door at the computer, and its folder."""
    folder = tmp_path / "workshop"
    with Workshop.create(folder) as made:
        made.records.create(TITLE)
    with serving(folder, foreman=False) as address:
        context = chromium.new_context(base_url=address, viewport=DESKTOP)
        page = context.new_page()
        yield page, folder
        context.close()


def knows_of_phone(page):
    """Wait until the computer's page has loaded itself anew because a phone joined."""
    expect(page.locator("#door-stands")).to_have_attribute("data-was", "JOINED")


def open_door(page, wanted=""):
    """Open the door by the page; at this machine's own address where it has one."""
    page.goto("/phone")
    page.get_by_text("Another address, or another port").click()
    inside = [one.address for one in house_addresses() if ":" not in one.address]
    page.get_by_label("Address in figures").fill(inside[0] if inside else "127.0.0.1")
    page.get_by_label("Port").fill("0")
    if wanted:
        page.get_by_text("Things to read now").click()
        page.get_by_label("One a line").fill(wanted)
    page.get_by_role("button", name="Open the door").click()
    page.locator(".pair-code").wait_for()
    return page.locator(".door-url").inner_text(), page.locator(".pair-code").inner_text()


def a_phone(chromium, **options):
    context = chromium.new_context(
        viewport=PHONE, has_touch=True, is_mobile=True, device_scale_factor=2, **options
    )
    page = context.new_page()
    page.complaints = []
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on(
        "console",
        lambda said: (
            page.complaints.append(said.text)
            if said.type == "error" and "Failed to load resource" not in said.text
            else None
        ),
    )
    return page


def join(page, url, code):
    page.goto(url)
    page.get_by_label("The code").fill(code)
    page.get_by_role("button", name="Join", exact=True).click()
    expect(page.locator("#net")).to_contain_text("Joined to the computer")


def photograph(folder, megabytes=12):
    """A photograph as large as a camera's."""
    rng = np.random.default_rng(int(megabytes))
    path = folder / f"IMG_{megabytes:04}.jpg"
    Image.fromarray(rng.integers(0, 255, (480, 640, 3), dtype=np.uint8)).save(path, quality=85)
    content = path.read_bytes()
    path.write_bytes(content + b"\0" * max(0, megabytes * 1_000_000 - len(content)))
    return path


def record_of(folder):
    with Workshop.open(folder) as workshop:
        return workshop.records.read(SLUG)


def set_reading(page, what="needle bar stroke", unit="mm", instrument="caliper"):
    page.locator("#show-readings").click()
    page.get_by_label("What is read").fill(what)
    page.get_by_label("Unit").fill(unit)
    page.get_by_label("With what").fill(instrument)
    page.get_by_role("button", name="Begin reading").click()


def press(page, keys):
    for key in keys:
        page.locator(f'.key[value="{key}"]').tap()
    page.get_by_role("button", name="Keep", exact=True).tap()


def test_a_phone_sends_photographs_and_readings_and_the_computer_says_what_for(
    chromium, at_bench, tmp_path
):
    computer, folder = at_bench
    url, code = open_door(computer, "needle bar stroke\nneedle rise")
    keep(computer, "phone-door-open")
    phone = a_phone(chromium)
    # as the camera opens what the picture says
    phone.goto(f"{url}#{code.replace(' ', '')}")
    expect(phone.locator("#net")).to_contain_text("Joined to the computer")
    assert phone.url == url  # the code stays in no address
    expect(computer.locator("#door-stands")).to_have_text("A phone is joined.")
    phone.locator("#f-choose").set_input_files([photograph(tmp_path, 1), photograph(tmp_path, 2)])
    expect(phone.locator("#sent")).to_contain_text("kept as photograph 1")
    expect(phone.locator("#sent")).to_contain_text("kept as photograph 2")
    keep(phone, "phone-photographs")

    phone.locator("#show-readings").tap()
    phone.locator("#wanted-keys").get_by_text("needle rise").tap()
    assert phone.get_by_label("What is read").input_value() == "needle rise"
    keep(phone, "phone-readings-about")
    set_reading(phone, what="needle rise")
    press(phone, "2.35")
    expect(phone.locator("#sent li").first).to_contain_text("Take it back")
    phone.locator("#sent").get_by_role("button", name="Take it back").first.tap()
    expect(phone.locator("#f-number")).to_have_value("2.35")
    for _ in range(2):
        phone.get_by_label("take the last figure off").tap()
    press(phone, "40")  # 2.40
    # by voice: the phone's own keyboard writes words
    phone.locator("#f-number").fill("two point three five")
    phone.get_by_role("button", name="Keep", exact=True).tap()
    expect(phone.locator("#number-says")).to_contain_text("is taken for 2.35")
    keep(phone, "phone-readings-number")
    phone.get_by_role("button", name="Keep", exact=True).tap()
    expect(phone.locator("#sent")).to_contain_text("kept as measurement 2")
    phone.locator("#f-number").fill("one two three four five six seven eight nine ten")
    phone.get_by_role("button", name="Keep", exact=True).tap()
    expect(phone.locator("#number-says")).to_contain_text("is not one number")
    assert phone.complaints == []

    kept = [entry for _, entry in record_of(folder).of(Measurement)]
    assert [(one.what, one.reads, one.grade.value) for one in kept] == [
        ("needle rise", "2.40 mm", "measured"),
        ("needle rise", "2.35 mm", "measured"),
    ]
    assert kept[1].note == "Called out as 'two point three five'."

    computer.goto("/phone")
    computer.get_by_role("link", name="Say what the photographs are for").click()
    computer.wait_for_url("**/photographs/together*")
    # what only a script can do is not shown before the script is there
    plain = chromium.new_context(java_script_enabled=False, viewport=DESKTOP).new_page()
    plain.goto(computer.url)
    expect(plain.locator("#tick-all")).to_be_hidden()
    plain.context.close()
    computer.get_by_role("button", name="Tick all of these").click()
    expect(computer.get_by_role("checkbox").first).to_be_checked()
    computer.get_by_label("What they are for").select_option("part")
    computer.get_by_label("Caption").fill("The shuttle race")
    keep(computer, "photographs-together")
    computer.get_by_role("button", name="Say it of those ticked").click()
    # the whole page, so that a failure prints what it says instead
    expect(computer.locator("main")).to_contain_text("Kept, 2 entries")
    shown = [entry for _, entry in record_of(folder).of(Photograph)]
    assert {(one.role.value, one.caption) for one in shown} == {("part", "The shuttle race")}

    # a second phone, and the end of the session
    second = a_phone(chromium)
    second.goto(url)
    expect(second.locator("main")).to_contain_text("Another phone is joined")
    keep(second, "phone-second")
    computer.goto("/phone")
    computer.get_by_role("button", name="Another phone instead").click()
    join(second, url, computer.locator(".pair-code").inner_text())
    knows_of_phone(computer)
    expect(phone.locator("#trouble")).to_contain_text("no longer")
    keep(phone, "phone-shown-out")
    computer.get_by_role("button", name="Close the door").click()
    computer.get_by_text("The door is closed").wait_for()
    expect(second.locator("#net")).to_contain_text("cannot be reached")
    phone.context.close()
    second.context.close()


def test_what_is_taken_without_network_waits_and_goes_once(chromium, at_bench, tmp_path):
    computer, folder = at_bench
    url, code = open_door(computer)
    phone = a_phone(chromium)
    join(phone, url, code)
    phone.context.set_offline(True)
    phone.locator("#f-choose").set_input_files([photograph(tmp_path, 12), photograph(tmp_path, 1)])
    set_reading(phone)
    press(phone, "31.6")
    press(phone, "31.7")
    phone.locator("#f-number").fill("thirty one point eight")  # words wait as they were said
    phone.get_by_role("button", name="Keep", exact=True).tap()
    expect(phone.locator("#net")).to_contain_text("cannot be reached. 5 wait")
    keep(phone, "phone-offline")
    assert list(record_of(folder).entries) == []
    phone.context.set_offline(False)
    expect(phone.locator("#net")).to_have_text("Joined to the computer")
    record = record_of(folder)
    assert record.count(EntryKind.PHOTOGRAPH) == 2
    reads = [entry.reads for _, entry in record.of(Measurement)]
    assert reads == ["31.6 mm", "31.7 mm", "31.8 mm"]
    assert phone.complaints == []
    phone.context.close()


def test_an_answer_lost_on_its_way_is_sent_again_and_kept_once(chromium, at_bench, tmp_path):
    """The photograph arrives, its answer does not; then the connection breaks in the middle."""
    computer, folder = at_bench
    url, code = open_door(computer)
    phone = a_phone(chromium)
    join(phone, url, code)
    lost = []

    def lose(route):
        if len(lost) < 2:
            route.fetch()  # the computer has it, and the phone never hears of it
            lost.append(route.request.headers["x-ironlace-key"])
            route.abort("connectionreset")
        else:
            lost.append(route.request.headers["x-ironlace-key"])
            route.continue_()

    phone.context.route(re.compile(r"/(photograph|reading)\?"), lose)
    phone.locator("#f-take").set_input_files(photograph(tmp_path, 2))
    expect(phone.locator("#sent")).to_contain_text("kept as photograph 1")
    assert len(lost) == 3
    assert len(set(lost)) == 1
    lost.clear()
    set_reading(phone)
    press(phone, "12.5")
    expect(phone.locator("#sent")).to_contain_text("kept as measurement 1")
    assert len(set(lost)) == 1
    record = record_of(folder)
    assert [record.count(k) for k in (EntryKind.PHOTOGRAPH, EntryKind.MEASUREMENT)] == [1, 1]
    phone.context.close()


def test_what_waits_outlives_the_page_and_goes_when_the_phone_joins_again(
    chromium, at_bench, tmp_path
):
    computer, folder = at_bench
    url, code = open_door(computer)
    phone = a_phone(chromium)
    phone.on("dialog", lambda dialog: dialog.accept())  # leave, although something waits
    join(phone, url, code)
    phone.context.set_offline(True)
    phone.locator("#f-choose").set_input_files(photograph(tmp_path, 1))
    expect(phone.locator("#net")).to_contain_text("1 waits")
    phone.context.clear_cookies()  # the browser was closed
    phone.context.set_offline(False)
    expect(phone.locator("#trouble")).to_contain_text("What waits here is kept")
    phone.locator("#trouble a").click()
    expect(phone.locator("main")).to_contain_text("Another phone is joined")
    knows_of_phone(computer)
    computer.goto("/phone")
    computer.get_by_role("button", name="Another phone instead").click()
    phone.goto(url)
    expect(phone.locator("#waiting-here")).to_contain_text("1 thing waits here from before")
    join(phone, url, computer.locator(".pair-code").inner_text())
    expect(phone.locator("#sent")).to_contain_text("kept as photograph 1")
    assert record_of(folder).count(EntryKind.PHOTOGRAPH) == 1
    phone.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_every_target_is_large(chromium, at_bench, scheme):
    computer, _ = at_bench
    computer.emulate_media(color_scheme=scheme)
    found = []

    def look(page, name, width):
        keep(page, f"{name}-{scheme}")
        wide = page.evaluate("document.documentElement.scrollWidth")
        if wide > width:
            found.append(f"{name}: {wide} px wide")
        for violation in violations(page):
            nodes = "; ".join(node["html"][:160] for node in violation["nodes"][:3])
            found.append(f"{name}: {violation['id']}: {nodes}")

    bench = chromium.new_context(
        base_url=computer.url and re.match(r"http://[^/]+", computer.goto("/").url)[0],
        color_scheme=scheme,
        bypass_csp=True,
        viewport=PHONE,
    )
    small = bench.new_page()
    small.goto("/phone")
    look(small, "phone-door-closed", 390)
    url, code = open_door(computer, "needle rise\nneedle bar stroke over the whole turn")
    small.goto("/phone")
    look(small, "phone-door-code", 390)
    small.goto("/")
    look(small, "workshop-with-door", 390)
    phone = a_phone(chromium, color_scheme=scheme, bypass_csp=True)
    phone.goto(url)
    look(phone, "at-phone-join", 390)
    join(phone, url, code)
    look(phone, "at-phone-photographs", 390)
    phone.locator("#show-readings").tap()
    look(phone, "at-phone-about", 390)
    set_reading(phone)
    press(phone, "2.35")
    expect(phone.locator("#sent li")).to_have_count(1)
    look(phone, "at-phone-number", 390)
    low = phone.evaluate(
        "[...document.querySelectorAll('button, a, .shutter, input, select')]"
        ".filter((e) => e.checkVisibility() && !e.classList.contains('unseen'))"
        ".map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect().height])"
        ".filter(([, height]) => height < 56)"
    )
    keep_at = phone.locator("#keep-number").bounding_box()
    assert keep_at["y"] + keep_at["height"] <= PHONE["height"], "Keep lies below the fold"
    phone.context.close()
    bench.close()
    assert low == []
    assert found == []
