"""A worn plate from its photographs to its reading, without script and in a real browser."""

import csv
import re
import threading
from base64 import b64decode
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from ironlace.dossier.account.blocks import FigureShown, Says, Tabular, all_blocks
from ironlace.evidence import Grade
from ironlace.evidence.analyses import asked_as_dict
from ironlace.evidence.markings import parse_marking
from ironlace.marks import MARK_READING, PLATE_RELIEF
from ironlace.marks.reading.places import read_places
from ironlace.marks.reading_analysis import MarkReadingAsked
from ironlace.marks.seeing.relighting import Torch
from ironlace.record import Mark, PhotographRole
from ironlace.web import create_app
from ironlace.workshop import Workshop
from ironlace.workshop.hand_over.packing import account_from
from ironlace.workshop.hand_over.verify import verify_record
from ironlace.workshop.marks.plate_views import View, view_of
from ironlace.workshop.marks.plates import plate_to_read
from ironlace.workshop.survey.reports_of_record import reports_of, serial_of
from ironlace.workshop.work.foreman import work_off
from struck_plates import small_plate

from .browsing import DESKTOP, PHONE, in_first_screen, keep, serving, violations
from .conftest import Person, words

PLATES = "/machine/lapwing-head/plates"
COUNT = 8
HEADERS = {"origin": "http://127.0.0.1:8765", "sec-fetch-site": "same-origin"}


def work(bench):
    work_off(bench.workshop, "test", threading.Event(), once=True)


@pytest.fixture(scope="module")
def struck(tmp_path_factory):
    """A workshop with a plate whose relief was asked for by the page, and the truth of it."""
    base = tmp_path_factory.mktemp("plate")
    plate = small_plate(base / "shots", count=COUNT)
    with Workshop.create(base / "workshop") as workshop:
        slug = workshop.records.create("Lapwing head")
        for file in sorted((base / "shots").glob("*.jpg")):
            workshop.photographs.take_in_file(slug, file, PhotographRole.MARK)
    app = create_app(base / "workshop", foreman=False)
    app.plate = plate
    app.places = (base / "shots" / "places.csv").read_text(encoding="utf-8")
    yield app
    app.state.bench.workshop.close()


@pytest.fixture(scope="module")
def visitor(struck):
    person = Person(struck)
    chosen = [f"photograph {n}" for n in range(1, COUNT + 1)]
    asked = {"photograph": chosen, "name": "slide plate", "ball": "6 mm", "do": "relief"}
    assert send(person, PLATES, **asked).status_code == 303
    work(struck.state.bench)
    return person


def send(person, address, **fields):
    data = {"token": person.token, **fields}
    return person.client.post(address, data=data, headers=HEADERS)


def test_photographs_are_looked_over_with_a_plan_of_the_sky(struck, visitor):
    names = [f"photograph {n}" for n in (1, 2, 6)]
    answer = send(visitor, PLATES, photograph=names, do="check")
    page = visitor.get(answer.headers["location"])
    assert "They will not do yet" in words(page)
    assert page.text.count('class="torch"') == 3
    assert "Overexposed: photograph 6" in words(page)
    assert 'class="missing"' in page.text
    assert "No torch shone from the" in words(page)
    assert page.text.count("checked") >= 3


def test_two_photographs_or_a_ball_of_a_metre_are_refused_with_what_was_chosen(visitor):
    answer = send(visitor, PLATES, photograph=["photograph 1", "photograph 2"], do="relief")
    assert answer.status_code == 422
    assert "2 photographs were chosen" in words(answer)
    assert answer.text.count("checked") == 2
    names = [f"photograph {n}" for n in (1, 2, 3)]
    answer = send(visitor, PLATES, photograph=names, ball="1 m", do="relief")
    assert "'Diameter of the balls' of 1000 mm cannot be" in words(answer)


def test_the_relief_is_a_finding_bound_to_its_photographs(struck, visitor):
    record = struck.state.bench.records.read("lapwing-head")
    finding = record.named("finding 1").finding
    assert set(finding.inputs) == {f"photograph {n}" for n in range(1, COUNT + 1)}
    assert finding.results[1].grade is Grade.CONJECTURED  # the balls' size was typed, not measured
    assert "slide plate, not read yet" in words(visitor.get(PLATES))


def test_page_and_command_give_the_same_picture(struck, visitor):
    (told,) = (struck.state.bench.workshop.derived / "reliefs").glob("??/*/relief.json")
    for look in ("raking", "depth"):
        shown = visitor.get(f"{PLATES}/1/view.png?look={look}&azimuth=90&elevation=20&save=yes")
        assert "attachment" in shown.headers["content-disposition"]
        assert shown.content == view_of(told.parent, View(look, Torch(90, 20))).png
    with Image.open(BytesIO(shown.content)) as picture:
        assert "Ironlace view" in picture.text
    assert visitor.get(f"{PLATES}/1/view.png?look=upside").status_code == 422
    assert visitor.get(f"{PLATES}/1/view.png?elevation=1").status_code == 422


def test_without_script_a_form_moves_the_torch(visitor):
    page = visitor.get(f"{PLATES}/1?azimuth=0&elevation=30&look=relief")
    assert "azimuth 0, elevation 30" in words(page) + page.text
    assert "azimuth=0.0&amp;elevation=30.0" in page.text
    planes = visitor.get(f"{PLATES}/1/surface.bin").content
    assert len(planes) == 400 * 240 * 8
    x = np.frombuffer(planes[: 400 * 240 * 4], ">u2").reshape(240, 400, 2)[..., 0] / 32767.5 - 1
    assert abs(np.median(x)) < 0.02


@pytest.fixture(scope="module")
def answered(struck, visitor):
    """The pages on the way to an answer: before it, the refusals, and after one's own reading."""
    pages = {"before": visitor.get(f"{PLATES}/1")}
    pages["no reading"] = send(visitor, f"{PLATES}/1/read", places=struck.places)
    pages["no notation"] = send(visitor, f"{PLATES}/1/read", rows="78$", places=struck.places)
    for name, places in (("no index", "kind,row\ndigit,0\n"), ("no column", "a")):
        pages[name] = send(visitor, f"{PLATES}/1/read", rows="78", places=places)
    bench = struck.state.bench
    assert not list(bench.records.read("lapwing-head").of(Mark))  # nothing half kept
    (text,) = struck.plate.texts()
    send(visitor, f"{PLATES}/1/read", rows=text, read_by="R. Bell", places=struck.places)
    pages["not worked out"] = visitor.get(f"{PLATES}/1")
    work(bench)
    return pages


def test_no_answer_before_an_own_reading_then_both_beside_each_other(struck, visitor, answered):
    for name in ("before", "not worked out"):
        assert "Place by place" not in answered[name].text
    assert "Read it yourself first" in words(answered["before"])
    for name, why in (
        ("no reading", "Write your own reading first"),
        ("no notation", "is not part of the notation"),
        ("no index", "has no column index"),
        ("no column", "has no column"),
    ):
        assert answered[name].status_code == 422
        assert why in words(answered[name])
    bench = struck.state.bench
    (text,) = struck.plate.texts()
    record = bench.records.read("lapwing-head")
    mark = record.named("mark 1")
    assert (mark.reads, mark.read_by, mark.grade) == (text.replace(".", "·"), "R. Bell", Grade.SEEN)
    page = visitor.get(f"{PLATES}/1")
    assert "plate-answer" not in answered["before"].text
    assert page.text.index("plate-answer") < page.text.index("data-frame")  # the answer first
    said = words(page)
    assert "Place by place" in said
    assert "row 1 from the top, digit 9" in said  # a person counts from 1
    assert "digit 0" not in said
    assert "1 row read" in said
    assert struck.places.splitlines()[1] in visitor.get(f"{PLATES}/1").text  # for another reading
    assert "Read by eye, before this answer was shown" in said
    finding = record.named("finding 2").finding
    assert finding.value not in ("", text)  # a mark with its doubts, no single string
    assert {"mark 1", "photograph 1"} <= set(finding.inputs)
    alike = next(r for r in finding.results if r.name.startswith("read alike"))
    assert alike.value > 60
    job = bench.jobs.of_record("lapwing-head")[0]
    assert visitor.get(f"/job/{job.id}/progress.json").json()["outcome"] == f"{PLATES}/1#reading"


def undo(bench, name):
    last = bench.records.changes("lapwing-head", name)[-1]
    bench.records.undo("lapwing-head", last.number)


def test_a_row_goes_on_to_the_survey_in_its_doubts(struck, visitor, answered):
    del answered  # is there
    bench = struck.state.bench
    page = visitor.get(f"{PLATES}/1")
    assert "The survey takes mark 1" in words(page)
    assert send(visitor, f"{PLATES}/1/survey", row="2").status_code == 404
    for _ in range(2):  # twice is once
        assert send(visitor, f"{PLATES}/1/survey", row="1").status_code == 303
    record = bench.records.read("lapwing-head")
    (mark,) = [m for _, m in record.of(Mark) if m.grade is Grade.INFERRED]
    finding = record.named("finding 2").finding
    assert mark.reads == finding.value
    assert serial_of(record) == mark.reads
    (strings,) = [
        r.value for r in finding.results if r.name == "row 1 from the top, likeliest strings"
    ]
    assert strings in mark.note
    chances = [float(one.rpartition(" ")[2]) for one in strings.split(", ")]
    assert sum(chances) == pytest.approx(1, abs=0.01)
    own = reports_of(record).sightings
    assert len(own) == 1  # it is no machine more
    assert own[0].mark == parse_marking(finding.value)
    assert own[0].strings  # and its chances go with it
    assert "Row 1 is kept as mark 2" in words(visitor.get(f"{PLATES}/1"))
    undo(bench, "mark 2")
    assert serial_of(bench.records.read("lapwing-head")) == record.named("mark 1").reads


def test_the_account_shows_the_plate_in_four_lights_and_the_reading_with_its_doubts(
    struck, visitor, answered
):
    del visitor, answered  # is there
    workshop = struck.state.bench.workshop
    shown = account_from(workshop, "lapwing-head", private=True)
    blocks = [block for section in shown.sections for block in all_blocks(section.blocks)]
    (figure,) = [block for block in blocks if isinstance(block, FigureShown)]
    pictures = re.findall(r"data:image/jpeg;base64,([^\"]+)", figure.page_svg)
    greys = []
    for one in pictures:
        with Image.open(BytesIO(b64decode(one))) as picture:
            greys.append(np.asarray(picture.convert("L"), float))
    assert len(greys) == 5
    # the left and the right light the two flanks of a stroke: what one brightens, the other darkens
    rows, columns = greys[0].shape
    inner = np.s_[rows // 3 : -rows // 3, columns // 4 : -columns // 4]
    assert np.corrcoef(greys[0][inner].ravel(), greys[1][inner].ravel())[0, 1] < 0
    assert "slide plate in four lights" in figure.title.lower()
    finding = workshop.records.read("lapwing-head").named("finding 2").finding
    said = [block.words for block in blocks if isinstance(block, Says)]
    assert finding.value in said
    cells = {c.words for b in blocks if isinstance(b, Tabular) for r in b.rows for c in r.cells}
    assert "Row 1 from the top, digit 9" in cells
    # a photograph that is not to be published shows no plate to others
    records = workshop.records
    photograph = records.read("lapwing-head").named("photograph 3")
    records.change(
        "lapwing-head", "photograph 3", photograph.model_copy(update={"published": False})
    )
    public = account_from(workshop, "lapwing-head")
    assert not any(
        isinstance(block, FigureShown)
        for section in public.sections
        for block in all_blocks(section.blocks)
    )
    undo(struck.state.bench, "photograph 3")


@pytest.mark.parametrize("name", ["mark 1", "photograph 1"])
def test_a_plate_is_shown_though_what_it_was_made_from_was_withdrawn(
    struck, visitor, answered, name
):
    del answered  # is there
    undo(struck.state.bench, name)
    shown = visitor.get(f"{PLATES}/1")
    assert shown.status_code == 200
    assert "can no longer be read" in words(shown)
    assert "Place by place" in words(shown)
    undo(struck.state.bench, name)  # it stands again


def test_it_comes_out_again_and_a_reading_mended_later_is_no_independent_one(
    struck, visitor, answered
):
    del answered  # is there
    bench = struck.state.bench
    verified = verify_record(bench.workshop, "lapwing-head")
    assert [one.same for one in verified] == [True, True], verified
    record = bench.records.read("lapwing-head")
    asked = MARK_READING.asked_of(record.named("finding 2").finding)
    assert plate_to_read(bench.workshop, record, asked).own[0].independent
    mark = record.named("mark 1")
    changed = mark.model_copy(update={"reads": "1" + mark.reads[1:]})
    bench.records.change("lapwing-head", "mark 1", changed)
    assert "Since this was worked out, mark 1 changed" in words(visitor.get(f"{PLATES}/1"))
    record = bench.records.read("lapwing-head")
    assert not plate_to_read(bench.workshop, record, asked).own[0].independent


def test_the_same_photographs_chosen_otherwise_are_no_plate_unseen(struck, answered):
    del answered  # is shown
    bench = struck.state.bench
    plate = bench.records.read("lapwing-head").named("finding 1")
    asked = PLATE_RELIEF.asked_of(plate.finding)
    other = replace(asked, photographs=asked.photographs[:0:-1])  # another order, and one fewer
    method = plate.finding.method.model_copy(update={"parameters": {"asked": asked_as_dict(other)}})
    finding = plate.finding.model_copy(update={"method": method})
    added = bench.records.add_all(
        "lapwing-head",
        [
            plate.model_copy(update={"finding": finding}),
            Mark(reads="7", where="slide", grade=Grade.SEEN),
        ],
    )
    wanted = MarkReadingAsked(plate=added[0], own=(added[1],))
    record = bench.records.read("lapwing-head")
    assert not plate_to_read(bench.workshop, record, wanted).own[0].independent
    for name in added:
        undo(bench, name)


def lit(page):
    """What the browser itself shows of the plate."""
    url = page.locator("[data-canvas]").evaluate(
        "c => new Promise(done => requestAnimationFrame(() => requestAnimationFrame("
        "() => done(c.toDataURL()))))"
    )
    with Image.open(BytesIO(b64decode(url.partition(",")[2]))) as picture:
        return np.asarray(picture.convert("L"), dtype=int)


@pytest.mark.browser
def test_the_torch_follows_pointer_and_keys_and_the_saved_view_is_the_same(
    chromium, struck, visitor
):
    del visitor  # has the relief made
    folder = struck.state.bench.workshop.folder
    with serving(folder, foreman=False) as address:
        page = chromium.new_context(base_url=address, viewport=DESKTOP).new_page()
        page.goto(f"{PLATES}/1")
        page.wait_for_selector('[data-lit="here"]')
        frame, says = page.locator("[data-frame]"), page.locator("[data-says]")
        in_first_screen(page, frame, says, page.locator("[data-save]"))
        box = page.locator("[data-canvas]").bounding_box()

        def at(x, y):
            return box["x"] + x * box["width"], box["y"] + y * box["height"]

        page.mouse.move(*at(0.1, 0.5))
        assert "Torch from the left" in says.inner_text()
        page.mouse.click(*at(0.5, 0.1))
        page.mouse.move(*at(0.9, 0.5))
        assert "from the top" in says.inner_text()
        assert "held" in says.inner_text()
        frame.focus()
        for _ in range(8):
            page.keyboard.press("Shift+ArrowDown")
        assert "from the bottom" in says.inner_text()
        page.keyboard.press("2")
        assert "Torch from the right, 12° high" in says.inner_text()
        saved = page.locator("[data-save]").get_attribute("href")
        with Image.open(BytesIO(page.request.get(saved).body())) as picture:
            assert '"torch_azimuth_deg": 0.0' in picture.text["Ironlace view"]
            told = np.asarray(picture, dtype=int)
        assert np.abs(lit(page) - told).mean() < 2  # one light, worked out twice
        page.keyboard.press("8")
        page.locator("[data-picture]").wait_for(state="visible")
        assert violations(page) == []
        keep(page, "plate-1280-light")
        phone = chromium.new_context(
            base_url=address, viewport=PHONE, color_scheme="dark", has_touch=True
        ).new_page()
        phone.goto(f"{PLATES}/1")
        phone.wait_for_selector('[data-lit="here"]')
        phone.locator("#f-azimuth").fill("90")
        assert "from the top" in phone.locator("[data-says]").inner_text()
        assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        assert violations(phone) == []
        keep(phone, "plate-390-dark")


def frame_place(page, plate, place):
    """Where on the screen a place of the relief is shown."""
    box = page.locator("[data-canvas]").bounding_box()
    rows, columns = plate.height.shape
    x = (place.x_px + 0.5) / columns * box["width"]
    return box["x"] + x, box["y"] + (place.y_px + 0.5) / rows * box["height"]


def read_table(page):
    table = page.locator("#f-places").input_value()
    return sorted(
        (kind, int(row), int(index), float(x), float(y))
        for kind, row, index, x, y, _ in csv.reader(table.splitlines()[1:])
    )


@pytest.mark.browser
def test_places_are_pointed_at_moved_by_keys_and_counted_from_1(chromium, struck, visitor):
    del visitor  # has the relief made
    folder = struck.state.bench.workshop.folder
    with serving(folder, foreman=False) as address:
        page = chromium.new_context(base_url=address, viewport=DESKTOP).new_page()
        page.goto(f"{PLATES}/1")
        page.wait_for_selector('[data-lit="here"]')
        page.get_by_role("button", name="Point at digits and gaps").click()
        page.get_by_role("button", name="Take all away").click()  # a reading kept has places
        told = page.locator("[data-told]")
        torch = page.locator("#f-azimuth").input_value()
        digits = struck.plate.digits
        for one in (*digits[1:], digits[0]):  # in any order
            page.mouse.click(*frame_place(page, struck.plate, one))
        assert "Row 1, digit 1 of 9" in told.inner_text()
        assert page.locator("#f-azimuth").input_value() == torch  # the torch stands still
        given = read_places(page.locator("#f-places").input_value(), struck.plate.height.shape)
        assert {(p.kind, p.index) for p in given} == {
            *(("digit", n) for n in range(9)),
            *(("gap", n) for n in range(8)),
        }
        for one, true in zip([p for p in given if p.kind == "digit"], digits, strict=True):
            assert abs(one.x_px - true.x_px) < 1
            assert abs(one.y_px - true.y_px) < 1
        before = read_table(page)
        for key in ("PageDown", "ArrowRight", "Shift+ArrowDown"):
            page.keyboard.press(key)
        assert "Row 1, gap after digit 1" in told.inner_text()
        changed = set(read_table(page)) - set(before)
        (old,) = [one for one in before if one[:3] == ("gap", 0, 0)]
        assert changed == {("gap", 0, 0, round(old[3] + 1, 1), round(old[4] + 10, 1))}
        assert page.locator(".place-text").all_inner_texts()  # drawn
        in_first_screen(page, page.locator("[data-frame]"), told)
        keep(page, "plate-places-1280-light")
        assert violations(page) == []
        page.keyboard.press("Delete")
        assert len(read_table(page)) == 16
        page.locator("#f-places").evaluate(
            "(t, v) => { t.value = v; t.dispatchEvent(new Event('input')); }", struck.places
        )
        assert "1 row, 9 digits, 8 gaps." in told.inner_text()  # a table typed is shown as well
        page.locator("[data-frame]").focus()
        page.keyboard.press("Escape")
        assert not told.is_visible()
        phone = chromium.new_context(
            base_url=address, viewport=PHONE, color_scheme="dark", has_touch=True
        ).new_page()
        phone.goto(f"{PLATES}/1")
        phone.wait_for_selector('[data-lit="here"]')
        phone.locator("[data-point]").click()
        phone.get_by_role("button", name="Take all away").click()
        for one in digits[:3]:
            phone.touchscreen.tap(*frame_place(phone, struck.plate, one))
        phone.get_by_role("button", name="Left by two pixels").click()
        assert "digit 3 of 3" in phone.locator("[data-told]").inner_text()
        assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        assert violations(phone) == []
        keep(phone, "plate-places-390-dark")


def test_a_relief_that_was_cut_short_is_made_again(struck, visitor, answered):
    del answered  # its job is done
    bench = struck.state.bench
    (picture,) = (bench.workshop.derived / "reliefs").glob("??/*/albedo.png")
    whole = picture.read_bytes()
    picture.write_bytes(whole[:200])
    assert "The relief is not at hand" in words(visitor.get(f"{PLATES}/1"))
    send(visitor, f"{PLATES}/1/again")
    work(bench)
    assert picture.read_bytes() == whole
    assert "The relief is not at hand" not in words(visitor.get(f"{PLATES}/1"))


def test_a_relief_that_was_thrown_away_is_asked_for_again(struck, visitor):
    bench = struck.state.bench
    for file in (bench.workshop.derived / "reliefs").glob("??/*/*"):
        file.unlink()
    assert "The relief is not at hand" in words(visitor.get(f"{PLATES}/1"))
    assert visitor.get(f"{PLATES}/1/view.png").status_code == 404
    first = bench.jobs.get(1).asked["asked"]
    send(visitor, f"{PLATES}/1/again")
    assert bench.jobs.of_record("lapwing-head")[0].asked["asked"] == first
