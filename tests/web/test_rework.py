"""A drawing changed by hand in the browser: by script, by keyboard, by figures, and refusals."""

import numpy as np
import pytest
import shapely
from shapely.affinity import scale as mirrored

from ironlace.ornament import ClosedPath, Drawing
from ironlace.ornament.outline.brush_strokes import area_curves
from ironlace.ornament.outline.drawing import BlindPlace, FilledPlace
from ironlace.workshop import Workshop

from .browsing import DESKTOP, PHONE, in_first_screen, keep, serving, violations
from .conftest import words

AT = "/machine/test-head-no-1/drawing/1/bench"


@pytest.fixture
def drawing(bench, slug, add_drawing):
    return add_drawing(bench.workshop, slug)


def send(person, where, body):
    return person.client.post(
        f"{AT}/{where}",
        json=body,
        headers={"x-ironlace-token": person.token, "accept": "application/json"},
    )


def test_a_change_is_made_taken_back_and_kept(person, slug, drawing):
    assert "change it by hand" in words(person.get(AT))
    state = person.get(f"{AT}/state.json").json()
    order = {"do": "stroke", "places": [[5, 30], [12, 31]], "widths": [0.5]}
    made = send(person, "change", {"serial": state["serial"], "order": order})
    assert made.status_code == 200
    assert made.json()["done"] == 1
    assert len(made.json()["change"]["after"]) == 1
    stale = send(person, "change", {"serial": state["serial"], "order": order})
    assert stale.status_code == 409
    taken = send(person, "back", {"serial": made.json()["serial"]}).json()
    assert (taken["done"], taken["undone"]) == (0, 1)
    again = send(person, "again", {"serial": taken["serial"]}).json()
    kept = person.post(f"{AT}/keep", {"serial": again["serial"], "called": "By me"})
    assert "By me" in words(kept)
    assert person.get("/machine/test-head-no-1/drawing/2/bench").status_code == 200


def hiding():
    """A drawing of which one place could not be seen and one was closed by conjecture."""
    paths = tuple(ClosedPath.of(c) for c in area_curves(shapely.box(28, 8, 44, 14)))
    glare = BlindPlace("glare", np.array([[5.0, 5.0], [22.0, 6.0], [14.0, 20.0]]))
    closed = FilledPlace("closed", np.array([[33.0, 9.0], [33.3, 9.0], [33.3, 13.0], [33.0, 13.0]]))
    return Drawing(paths, (0.0, 0.0, 60.0, 34.0), blind=(glare,), filled=(closed,))


def test_the_bench_is_told_what_could_not_be_seen_and_what_was_closed(
    person, bench, slug, add_drawing
):
    add_drawing(bench.workshop, slug, hiding())
    state = person.get(f"{AT}/state.json").json()
    assert [(p["why"], len(p["corners_mm"])) for p in state["blind"]] == [("glare", 3)]
    assert [(p["why"], len(p["corners_mm"])) for p in state["filled"]] == [("closed", 4)]


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"serial": "0-0"}, 400),
        ({"serial": "0-0", "order": {"do": "conjure"}}, 422),
        ({"serial": "0-0", "order": {"do": "move-node", "path": 0, "node": 0}}, 422),
        ({"serial": "9-9", "order": {"do": "take-path", "path": 0}}, 409),
    ],
)
def test_a_bad_order_is_refused_in_one_sentence(person, drawing, body, status):
    answer = send(person, "change", body)
    assert answer.status_code == status
    assert answer.json()["error"]["says"].endswith(".") or ":" in answer.json()["error"]["says"]
    assert person.get(f"{AT}/state.json").json()["done"] == 0


def test_a_script_without_the_token_is_not_let_in(person, drawing):
    assert person.client.post(f"{AT}/change", json={}).status_code == 403
    assert person.get("/machine/test-head-no-1/drawing/9/bench").status_code == 404


def test_a_drawing_without_a_camera_is_laid_on_no_photograph(person, slug, drawing):
    answer = person.get("/machine/test-head-no-1/drawing/1/proof")
    assert answer.status_code == 404
    assert "whose camera is known" in words(answer)
    assert "Does it fall" not in words(person.get("/machine/test-head-no-1/entries/drawing/1"))


def test_an_edited_drawing_comes_back_by_the_form(person, slug, drawing):
    text = person.get("/machine/test-head-no-1/drawing/1/drawing.svg").content
    answer = person.post(
        "/machine/test-head-no-1/drawing/1/edited", files={"edited": ("mine.svg", text)}
    )
    assert "Filigree of the bed, edited" in words(answer)
    bad = person.post(
        "/machine/test-head-no-1/drawing/1/edited", files={"edited": ("mine.svg", b"\xff\xfe")}
    )
    assert bad.status_code == 400


PLACE = [[8, 10], [24, 10], [24, 24], [8, 24]]


def bars(worn):
    """Leaning bars on both sides of x = 30; on the left one is lost between two heights."""
    left = [
        shapely.Polygon([(x - 0.5, 4), (x + 0.5, 4), (x + 1.5, 30), (x + 0.5, 30)])
        for x in (10.0, 15.5, 22.0)
    ]
    area = shapely.union_all([*left, *(mirrored(bar, -1, origin=(30, 0)) for bar in left)])
    area = area - shapely.box(14, 12, 17, 20) if worn else area
    return Drawing(tuple(ClosedPath.of(c) for c in area_curves(area)), (0.0, 0.0, 60.0, 34.0))


def test_a_twin_is_shown_before_it_is_laid_and_an_axis_looked_for(person, bench, slug, add_drawing):
    add_drawing(bench.workshop, slug, bars(worn=True), axis=False)
    state = person.get(f"{AT}/state.json").json()
    assert state["axis"] is None
    order = {"around": PLACE, "like": {"at": [31, 0], "direction_deg": 90}}
    shown = send(person, "twin", {"serial": state["serial"], "order": order}).json()
    assert shown["misses"] is True
    assert "2.0 mm beside its gilt" in shown["says"]
    assert shown["outlines"]
    assert person.get(f"{AT}/state.json").json()["done"] == 0
    fill = order | {"do": "from-like", "replaces": "all"}
    refused = send(person, "change", {"serial": state["serial"], "order": fill})
    assert refused.status_code == 422
    assert "misses gilt that is seen" in refused.json()["error"]["says"]
    found = send(person, "axis", {}).json()["axis"]
    assert person.get(f"{AT}/state.json").json()["axis"] == found
    right = fill | {"like": {"at": found["at"], "direction_deg": found["direction_deg"]}}
    made = send(person, "change", {"serial": state["serial"], "order": right})
    assert made.status_code == 200
    assert send(person, "twin", {"serial": "0-0"}).status_code == 400
    stale = send(person, "twin", {"serial": "9-9", "order": order})
    assert stale.status_code == 409
    assert 'value=""' in person.get(AT).text.split('id="w-axis"')[1][:60]


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.parametrize(("size", "scheme"), [(DESKTOP, "light"), (PHONE, "dark")])
def test_a_place_is_filled_from_its_like_only_as_it_was_shown(
    chromium, tmp_path, add_drawing, size, scheme
):
    workshop = Workshop.create(tmp_path / "w")
    slug = workshop.records.create("Test head no. 1")
    add_drawing(workshop, slug, bars(worn=True), axis=False)
    workshop.close()
    with serving(tmp_path / "w") as base:
        context = chromium.new_context(base_url=base, viewport=size, color_scheme=scheme)
        page = context.new_page()
        faults = []
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.goto(AT)
        page.locator(".rework-frame .line").first.wait_for(state="attached")
        page.get_by_label("fills from its like").check()
        axis, count = page.get_by_label("Mirror axis: x, y"), page.locator(".rework-count")
        assert axis.input_value() == ""
        page.get_by_text("By figures, and all keys").click()
        places = "\n".join(f"{x}, {y}" for x, y in PLACE)
        page.get_by_label("Places of a line").fill(places)
        use = page.get_by_role("button", name="Do it with these places")
        use.click()
        page.get_by_role("alert").filter(has_text="Say where the mirror axis is").wait_for()
        # set by two touches, a little off: what is seen is not replaced
        page.get_by_role("button", name="Set it by two touches").click()
        frame = page.locator(".rework-frame")
        frame.scroll_into_view_if_needed()
        box = frame.bounding_box()
        scale = min(box["width"] / 60, box["height"] / 34)
        for y in (4, 30):
            frame.click(
                position={
                    "x": box["width"] / 2 + (31 - 30) * scale,
                    "y": box["height"] / 2 + (y - 17) * scale,
                }
            )
        page.get_by_text("Set by two touches.").wait_for()
        assert abs(float(axis.input_value().split(",")[0]) - 31) < 0.3
        assert page.locator(".rework-frame .axis.shown").count() == 1
        use.click()
        page.get_by_text("The twin misses gilt that is seen").wait_for()
        assert page.get_by_role("button", name="Fill the place with it").is_hidden()
        assert count.inner_text() == "0"
        keep(page, f"twin-missing-{scheme}")
        assert violations(page) == []
        # found, it fits, and then it is laid
        page.get_by_role("button", name="Find the axis").click()
        page.get_by_text("of the outline finds its like across it").wait_for()
        use.click()
        page.get_by_text("It covers all gilt that is seen").wait_for()
        keep(page, f"twin-shown-{scheme}")
        page.get_by_role("button", name="Fill the place with it").click()
        page.get_by_text("Filled from its like.").wait_for()
        assert count.inner_text() == "1"
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        assert not faults


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.parametrize(
    ("size", "scheme"), [(DESKTOP, "dark"), (DESKTOP, "light"), (PHONE, "light"), (PHONE, "dark")]
)
def test_picture_hand_evidence_and_status_fill_one_screen(
    chromium, tmp_path, add_drawing, size, scheme
):
    workshop = Workshop.create(tmp_path / "w")
    slug = workshop.records.create("Test head no. 1")
    add_drawing(workshop, slug)
    workshop.close()
    with serving(tmp_path / "w") as base:
        page = chromium.new_context(
            base_url=base, viewport=size, color_scheme=scheme, reduced_motion="reduce"
        ).new_page()
        page.goto(AT)
        page.locator(".rework-frame .line").first.wait_for(state="attached")
        frame, says = page.locator(".rework-frame"), page.locator(".rework-says")
        stood = frame.bounding_box()
        for hand, own in (
            ("shapes an outline", page.get_by_role("button", name="Next outline")),
            ("draws a stroke", page.get_by_label("In the middle")),
            ("rubs out", page.get_by_label("Its width, mm")),
            ("fills from its like", page.get_by_role("button", name="Find the axis")),
            ("clears specks", page.get_by_role("button", name="Take all away")),
            ("goes over", page.get_by_role("button", name="Accept it")),
        ):
            page.get_by_label(hand).check()
            stands = page.get_by_label("I see it on this machine")
            back = page.get_by_role("button", name="Take back")
            in_first_screen(page, frame, says, own, stands, back, page.get_by_label(hand))
            assert frame.bounding_box() == stood
            assert violations(page) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        # the frame is mostly picture, also on a phone
        drawn = page.locator(".rework-frame .ground").bounding_box()
        assert drawn["width"] * drawn["height"] > 0.6 * stood["width"] * stood["height"]
        # what is chosen by name is in the frame; keys are told on the buttons they stand for
        page.get_by_label("shapes an outline").check()
        frame.focus()
        page.keyboard.press("n")
        page.keyboard.press("]")
        page.get_by_text("Point 2 of").wait_for()
        pin = page.locator(".pin-chosen").bounding_box()
        assert stood["x"] <= pin["x"] <= stood["x"] + stood["width"]
        assert stood["y"] <= pin["y"] <= stood["y"] + stood["height"]
        assert says.bounding_box()["y"] < size["height"]
        told = page.get_by_role("button", name="Take back")
        assert told.get_attribute("aria-keyshortcuts") == "u"
        keep(page, f"one-screen-by-hand-{size['width']}-{scheme}")


@pytest.mark.browser
@pytest.mark.slow
def test_a_person_changes_a_drawing_with_mouse_and_keys(chromium, tmp_path, add_drawing):
    workshop = Workshop.create(tmp_path / "w")
    slug = workshop.records.create("Test head no. 1")
    add_drawing(workshop, slug)
    workshop.close()
    with serving(tmp_path / "w") as base:
        page = chromium.new_context(base_url=base, viewport=DESKTOP).new_page()
        faults = []
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.goto(AT)
        page.locator(".rework-frame .line").first.wait_for(state="attached")
        count, says = page.locator(".rework-count"), page.locator(".rework-says")
        frame = page.locator(".rework-frame")
        # by keyboard: choose the first outline, move its point, put one in, take back
        frame.focus()
        page.keyboard.press("n")
        page.get_by_text("Outline 1 of").wait_for()
        page.keyboard.press("ArrowLeft")
        page.get_by_text("The point is moved").wait_for()
        assert count.inner_text() == "1"
        page.keyboard.press("Enter")
        page.get_by_text("A point is put in").wait_for()
        page.keyboard.press("u")
        page.locator("#rework-says").get_by_text("Taken back").wait_for()
        page.keyboard.press("0")
        # with the mouse: a stroke over empty ground
        page.get_by_label("draws a stroke").check()
        frame.scroll_into_view_if_needed()
        box = frame.bounding_box()
        page.mouse.move(box["x"] + 0.2 * box["width"], box["y"] + 0.85 * box["height"])
        page.mouse.down()
        for step in range(1, 20):
            page.mouse.move(
                box["x"] + (0.2 + 0.025 * step) * box["width"], box["y"] + 0.85 * box["height"]
            )
        page.mouse.up()
        page.get_by_text("The stroke is laid").wait_for()
        assert count.inner_text() == "2"
        # by figures, standing on evidence
        page.get_by_label("I see it on this machine").check()
        page.get_by_label("Where: which photograph").fill("photograph 2, upper left")
        page.get_by_text("By figures, and all keys").click()
        page.get_by_label("Places of a line").fill("3, 3\n9, 4")
        page.get_by_role("button", name="Do it with these places").click()
        page.get_by_text("388").or_(says).first.wait_for()
        page.locator(".rework-count", has_text="3").wait_for()
        # a bridge refused, then a change that cannot be: said, and nothing lost
        page.get_by_label("goes over").check()
        page.get_by_role("button", name="Refuse").click()
        page.get_by_text("Bridge 1 is taken out").wait_for()
        page.get_by_role("button", name="Refuse").click()
        page.get_by_role("alert").filter(has_text="not drawn any more").wait_for()
        page.reload()
        page.get_by_text("4 changes made before stand").wait_for()
        # what is small is gone over, the smallest first; all of it goes, and comes back, at once
        outlines = page.locator(".rework-frame .halo")
        before = outlines.count()
        page.get_by_label("clears specks").check()
        page.get_by_label("Smaller than").fill("0")
        page.get_by_text("None is so small").wait_for()
        page.get_by_label("Smaller than").fill("30")
        told = page.locator(".rework-speck-told")
        small = [int(n) for n in told.inner_text().split() if n.isdigit()]
        assert small[0] >= 3
        frame.focus()
        page.keyboard.press("s")
        page.get_by_text("It lies in the middle of the picture").wait_for()
        smallest = float(told.inner_text().split(": ")[1].split()[0])
        page.get_by_label("my judgement").check()
        page.get_by_role("button", name="It belongs here").click()
        page.get_by_text("It stays, graded as it was").wait_for()
        assert sum(int(n) for n in told.inner_text().split(".")[0].split() if n.isdigit()) == (
            sum(small) - 1
        )
        assert float(told.inner_text().split(": ")[1].split()[0]) >= smallest
        page.get_by_role("button", name="Take all away").click()
        page.get_by_text("one touch takes them back").wait_for()
        assert outlines.count() == before - sum(small) + 1
        page.get_by_role("button", name="Take back").click()
        page.locator("#rework-says").get_by_text("Taken back").wait_for()
        assert outlines.count() == before
        assert violations(page) == []
        keep(page, "changed-by-hand")
        phone = chromium.new_context(base_url=base, viewport=PHONE, color_scheme="dark").new_page()
        phone.goto(AT)
        phone.locator(".rework-frame .line").first.wait_for(state="attached")
        assert not violations(phone)
        assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        keep(phone, "changed-by-hand-phone")
        page.get_by_role("button", name="Keep it as a new drawing").click()
        page.get_by_role("heading", name="Filigree of the bed, by hand").wait_for()
        assert not faults


def test_a_drawing_is_handed_over_on_film(person, slug, drawing):
    at = "/machine/test-head-no-1/drawing/1"
    assert person.get(f"{at}/film.png?dpi=300").content.startswith(b"\x89PNG")
    assert person.get(f"{at}/film.tiff?dpi=300").content[:2] in (b"II", b"MM")
    for bad, status in (("film.png?dpi=3", 422), ("film.gif", 404), ("wrapped.svg", 404)):
        assert person.get(f"{at}/{bad}").status_code == status


def test_a_drawing_of_an_arm_is_shown_on_it(bench, person, slug, add_drawing):
    from ironlace.evidence.findings import Method

    workshop = bench.workshop
    name = add_drawing(workshop, slug)
    entry = workshop.records.read(slug).named(name)
    camera = {
        "kind": "cone",
        "shape": [30, 17, 40, 1.57, 0.05],
        "lens": {"matrix": [[900, 0, 300], [0, 900, 200], [0, 0, 1]]},
        "rotation": [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
        "translation": [0, 0, 200],
    }
    finding = entry.finding.model_copy(
        update={"method": Method(name="by a test", parameters={"report": {"camera": camera}})}
    )
    workshop.records.change(slug, name, entry.model_copy(update={"finding": finding}))
    assert "As it will look on the arm" in words(person.get(f"/machine/{slug}/entries/drawing/1"))
    seen = person.get(f"/machine/{slug}/drawing/1/wrapped.svg?turn=30")
    assert seen.status_code == 200
    assert "<path" in seen.text
