"""Threading plans on their pages: touched on a photograph, kept, changed, printed."""

import pytest
from PIL import Image

from ironlace.record import PhotographRole, ThreadingEntry
from ironlace.web.pages.threading_plans import FIELDS
from ironlace.workshop import Workshop

from .browsing import DESKTOP, PHONE, keep, serving, violations
from .conftest import jpeg, typed, words

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
def test_a_plan_is_touched_by_mouse_and_by_keyboard_on_a_wide_screen_and_a_phone(
    chromium, workshop, address
):
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
    assert violations(page) == []
    keep(page, "threading-wide")
    # the other photograph, without anything lost
    page.locator("[name=chosen]").select_option("photograph 2")
    page.get_by_role("button", name="Show it").click()
    page.wait_for_load_state()
    assert page.locator("[data-point]").count() == 3
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
    assert violations(page) == []
    keep(page, "threading-phone-dark")
    page.get_by_role("button", name="Keep the plan").click()
    page.wait_for_url("**/entries/threading/1**")
    assert violations(page) == []
    keep(page, "threading-kept-phone-dark")
    (plan,) = plans(workshop).values()
    assert [one.does for one in plan.points] == ["spool", "needle eye", "pin", "bobbin"]
    assert [one.thread for one in plan.points] == ["needle"] * 3 + ["shuttle"]
    spool, eye, pin, _ = plan.points
    assert (spool.x_px, spool.y_px) == pytest.approx((630, 240), abs=200)
    assert spool.x_px > eye.x_px == pytest.approx(450, abs=3)
    assert pin.y_px == pytest.approx(150, abs=90)
    assert plan.grade is None  # three steps do not say how they are known


EMPTY = dict.fromkeys(FIELDS, "")


def sent(*rows, **more):
    """What the form sends: each field once for each point."""
    return {
        "name": "Head",
        "do": "keep",
        **more,
        **{field: [{**EMPTY, **row}[field] for row in rows] for field in FIELDS},
    }


@pytest.fixture
def photographed(bench, slug, tmp_path):
    (tmp_path / "head.jpg").write_bytes(jpeg(size=(90, 60)))
    bench.photographs.take_in_file(slug, tmp_path / "head.jpg", PhotographRole.PART, "head")
    return slug


SPOOL = {"photograph": "photograph 1", "thread": "needle", "x_px": "60", "y_px": "9"}
POINTS = (
    {**SPOOL, "does": "spool", "side": "top", "known": "seen"},
    {**SPOOL, "x_px": "20", "y_px": "50", "does": "needle eye"},
)


def test_a_plan_is_kept_changed_and_handed_out_without_a_script(person, bench, photographed):
    base = f"/machine/{photographed}/threading"
    shown = words(person.post(base, sent(*POINTS)))
    assert "From the spool, the thread coming off the top. (seen on this machine)" in shown
    assert "How it is known is not said at 2." in shown
    text = person.get(f"{base}/1/steps.txt").text
    assert "  2. Through the eye of the needle (from which side is not said)." in text
    card, svg = person.get(f"{base}/1/card.pdf"), person.get(f"{base}/1/diagram.svg")
    assert card.content.startswith(b"%PDF")
    assert "data:image/jpeg" in svg.text
    assert "img-src data:" in svg.headers["content-security-policy"]
    standing = person.get(f"{base}?of=threading 1")
    assert typed(standing, "name") == "Head"
    seen = bench.records.last_change_of(photographed, "threading 1")
    turned = ({**POINTS[0], "side": "back"}, POINTS[1])
    person.post(base, sent(*turned, of="threading 1", last_seen=str(seen)))
    person.post(base, sent(*POINTS, name="Another order"))
    against = words(person.get(f"/machine/{photographed}/entries/threading/1"))
    assert "Against threading 2: 1 difference" in against
    assert "Which way round is the thread?" in words(
        person.get(f"/machine/{photographed}/work-out")
    )
    # what was changed meanwhile by another is not written over
    late = person.post(base, sent(*POINTS, of="threading 1", last_seen=str(seen)))
    assert late.status_code == 422
    assert bench.records.read(photographed).named("threading 1").points[0].side == "back"


def test_what_cannot_be_kept_is_told_and_nothing_typed_is_lost(person, bench, photographed):
    for at, change, says in (
        (1, {"does": ""}, "Point 2 does not say what the thread does there: choose."),
        (1, {"x_px": ""}, "Point 2 has no place"),
        (1, {"x_px": "91"}, "lies out of its picture"),
        (0, {"known": "seam"}, "without a source"),
        (0, {"photograph": "photograph 7"}, "photograph 7"),
    ):
        rows = [dict(row) for row in POINTS]
        rows[at] |= change
        rows[0]["what"] = "the tall pin"
        answer = person.post(f"/machine/{photographed}/threading", sent(*rows))
        assert answer.status_code == 422, change
        assert says in words(answer)
        assert 'value="the tall pin"' in answer.text
    assert not list(bench.records.read(photographed).of(ThreadingEntry))


def test_a_point_is_added_by_figures_and_a_machine_without_photographs_is_led_on(
    person, slug, bench, tmp_path
):
    assert "Add a photograph" in words(
        person.get(f"/machine/{slug}/entries/threading/new", follow_redirects=True)
    )
    (tmp_path / "head.jpg").write_bytes(jpeg(size=(90, 60)))
    bench.photographs.take_in_file(slug, tmp_path / "head.jpg", PhotographRole.PART, "head")
    answer = person.post(f"/machine/{slug}/threading", sent(POINTS[0], do="another"))
    assert answer.text.count("data-point ") == 3  # one kept, one empty, one to copy
