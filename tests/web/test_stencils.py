"""Stencil sheets in the browser: planned, changed bridge by bridge, taken along."""

import json
import re
import shutil
import threading
from html import unescape
from io import BytesIO
from zipfile import ZipFile

import pypdfium2
import pytest
import shapely

from ironlace.evidence.findings import Finding, Method
from ironlace.evidence.grades import Grade
from ironlace.ornament.stencils import known_process, process_toml, sheet_set
from ironlace.record import DrawingEntry, FindingEntry
from ironlace.web.pages import stencils
from ironlace.workshop.ornament.drawings import keep_svg_in
from ironlace.workshop.stencils.sheets_kept import filled_drawing, finding_of
from ironlace.workshop.stencils.stencilling import gone_through, planned, remembered_as
from ironlace.workshop.work.foreman import work_off
from sheet_rings import rings_of_sheet

from .conftest import words

RINGS = "".join(
    f'<path fill-rule="evenodd" d="M{x} 5h20v20h-20z M{x + 3} 8h14v14h-14z"/>' for x in (5, 30, 55)
)
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="30mm" viewBox="0 0 80 30">'
    f'<g fill="#b89040">{RINGS}</g></svg>'
)
SHEETS = "/machine/test-head-no-1/drawing/1/sheets"


def draw(bench, slug, svg=SVG):
    finding = Finding(about="ornament", value=1.0, method=Method(name="drawn by hand"), version="1")
    with bench.workshop.database.writing() as session:
        sha = keep_svg_in(bench.workshop, session, svg, "drawn.svg")
        entry = DrawingEntry(
            name="Bed", svg=sha, width_mm=80, height_mm=30, grade=Grade.SEEN, finding=finding
        )
        bench.records.add_in(session, slug, entry)


@pytest.fixture
def drawn(bench, slug):
    draw(bench, slug)
    return slug


@pytest.fixture
def plan_now(bench, drawn):
    def now():
        return planned(bench.workshop, drawn, finding_of(bench.workshop, drawn, "drawing 1")[1])

    return now


def one_piece_of_work(bench):
    work_off(bench.workshop, "worker", threading.Event(), once=True)


def planned_page(person, **fields):
    return person.post(SHEETS, {"process": "film-laser", "hold": "bridges", **fields})


def line_of(bridge):
    return ",".join(str(v) for v in bridge["line"])


def test_the_drawing_leads_to_its_sheets_and_limits_show_their_source(person, drawn):
    assert SHEETS in person.get("/machine/test-head-no-1/entries/drawing/1").text
    page = person.get(SHEETS)
    told = words(page)
    assert "narrowest strip left standing" in told
    assert "common practice, no source" in told
    assert "Plan the sheets" in told


def test_a_plan_is_kept_with_its_inputs_and_shown_again(person, drawn, bench):
    page = planned_page(person)
    told = words(page)
    assert "3 islands would have fallen out" in told
    assert "Every sheet is in one piece" in told
    assert words(person.get(SHEETS)).count("3 islands would have fallen out") == 1
    (name, entry), *rest = bench.records.read(drawn).of(FindingEntry)
    assert not rest
    told_of = {result.name: result.value for result in entry.finding.results}
    assert told_of["bridges"] == len(re.findall(r"data-bridge=", person.get(SHEETS).text))
    assert entry.finding.value == 1
    assert set(entry.finding.inputs) == {"drawing", "process"}
    assert name == "finding 1"


def test_without_derived_files_the_same_plan_comes_again(person, drawn, plan_now, bench):
    planned_page(person)
    before = plan_now()
    for file in (bench.workshop.derived / "sheets").rglob("*.*"):
        file.unlink()
    after = plan_now()
    assert [s.svg() for s in after.sheets] == [s.svg() for s in before.sheets]
    assert after.report == before.report


@pytest.mark.parametrize("hold", ["bridges", "split"])
def test_locks_places_and_steps_back_hold(person, plan_now, hold):
    planned_page(person, hold=hold)
    first = plan_now()
    bridge = first.bridges[0]
    person.post(f"{SHEETS}/do", {"do": "lock", "bridge": line_of(bridge)})
    assert [b["locked"] for b in plan_now().bridges].count(True) == 1
    others = [b["line"] for b in first.bridges[1:]]

    gone = first.bridges[1]
    page = person.post(f"{SHEETS}/do", {"do": "forbid", "bridge": line_of(gone)})
    assert "Forbidden places" in words(page)
    now = plan_now()
    x, y, radius = now.asked.forbidden[0]
    for b in now.bridges:
        line = shapely.LineString([b["line"][:2], b["line"][2:]])
        assert line.distance(shapely.Point(x, y)) >= radius
    assert bridge["line"] in [b["line"] for b in now.bridges]
    assert sum(line in [b["line"] for b in now.bridges] for line in others[1:]) == len(others) - 1

    person.post(f"{SHEETS}/do", {"do": "undo"})
    assert plan_now().asked.forbidden == ()
    person.post(f"{SHEETS}/do", {"do": "undo"})
    assert [b["line"] for b in plan_now().bridges] == [b["line"] for b in first.bridges]
    assert person.post(f"{SHEETS}/do", {"do": "undo"}).status_code == 409


def test_a_bridge_is_moved_along_its_outline(person, plan_now):
    planned_page(person)
    bridge = plan_now().bridges[0]
    places = person.get(f"{SHEETS}/places", params={"line": line_of(bridge)}).json()["places"]
    assert len(places) > 20
    there = places[len(places) // 2]["line"]
    person.post(
        f"{SHEETS}/do",
        {"do": "move", "bridge": line_of(bridge), "place": ",".join(map(str, there))},
    )
    now = plan_now()
    moved = [b for b in now.bridges if b["locked"]]
    assert len(moved) == 1
    assert moved[0]["line"] == pytest.approx(there, abs=0.02)
    assert bridge["line"] not in [b["line"] for b in now.bridges]
    assert now.report["sheets"][0]["pieces"] == 1
    page = person.post(f"{SHEETS}/do", {"do": "anew"})
    assert "Every sheet is in one piece" in words(page)
    assert sum(b["locked"] for b in plan_now().bridges) == 1


def test_a_place_is_forbidden_and_allowed_again(person, plan_now):
    planned_page(person)
    person.post(f"{SHEETS}/do", {"do": "forbid-place", "x": "15", "y": "6,5", "radius": "3"})
    assert plan_now().asked.forbidden == ((15.0, 6.5, 3.0),)
    person.post(f"{SHEETS}/do", {"do": "allow", "number": "1"})
    assert plan_now().asked.forbidden == ()


def test_what_cannot_be_done_is_told_and_changes_nothing(person, plan_now):
    planned_page(person)
    before = plan_now().asked
    for fields, says in (
        ({"do": "lock", "bridge": "1,2,3"}, "four numbers"),
        ({"do": "lock", "bridge": "1,2,3,400"}, "does not stand there any more"),
        ({"do": "forbid-place", "x": "a", "y": "1", "radius": "1"}, "is not a number"),
        ({"do": "forbid-place", "x": "1", "y": "1", "radius": "400"}, "at most 50 mm"),
        ({"do": "glue"}, "cannot be done"),
        ({"do": "allow", "number": "4"}, "no forbidden place 4"),
    ):
        answer = person.post(f"{SHEETS}/do", fields)
        assert answer.status_code in (400, 409, 422), fields
        assert says in words(answer)
        assert plan_now().asked == before


def test_both_ways_are_shown_with_what_is_left_for_the_hand(person, plan_now):
    told = words(planned_page(person, hold="both"))
    assert "Both ways side by side" in told
    assert "To touch in by hand" in told
    assert "Take split sheets instead" in told
    person.post(f"{SHEETS}/do", {"do": "hold", "hold": "split"})
    assert plan_now().asked.hold == "split"


def test_the_other_way_of_a_large_ornament_is_planned_as_work_and_then_shown(
    person, plan_now, bench, drawn, monkeypatch
):
    planned_page(person)
    monkeypatch.setattr(sheet_set, "QUICK_ISLANDS", 2)
    assert "Show both ways side by side" in words(person.get(f"{SHEETS}?both=yes"))
    answer = person.client.post(
        f"{SHEETS}/do", data={"do": "both", "token": person.token}, follow_redirects=False
    )
    assert "/job" in answer.headers["location"]
    # asked again meanwhile, it is not asked for twice, and the page says that it is under way
    person.post(f"{SHEETS}/do", {"do": "both"})
    assert len(bench.jobs.of_record(drawn)) == 1
    assert "The other way is being planned" in words(person.get(SHEETS))
    before = plan_now().asked
    one_piece_of_work(bench)
    told = words(person.get(SHEETS))
    assert "Both ways side by side" in told
    assert "Take split sheets instead" in told
    assert plan_now().asked == before


def test_both_ways_asked_for_at_first_are_both_planned_as_work(
    person, bench, drawn, plan_now, monkeypatch
):
    monkeypatch.setattr(sheet_set, "QUICK_ISLANDS", 2)
    planned_page(person, hold="both")
    one_piece_of_work(bench)
    one_piece_of_work(bench)
    assert "Both ways side by side" in words(person.get(SHEETS))
    assert plan_now().asked.hold == "bridges"


def test_a_mask_shows_its_order_of_weeding_in_place_of_bridges(person, plan_now):
    answer = planned_page(
        person,
        hold="mask",
        surface="cylinder",
        radius_mm="40",
        crown_mm="-900",
        process="film-knife",
    )
    told = words(answer)
    assert "stuck down as a mask" in told and "Order of weeding" in told
    assert "Curved both ways" in told
    assert "Every bridge" not in told and "NOT in one piece" not in told
    rows = person.get(f"{SHEETS}/mask/weeding.csv").text.splitlines()
    assert rows[0].startswith("part,x_mm") and len(rows) == 1 + len(plan_now().report["weeding"])
    assert plan_now().asked.hold == "mask"


def test_a_mask_of_what_cannot_be_stuck_down_is_told(person, drawn):
    answer = planned_page(person, hold="mask", process="foil-etched")
    assert "cannot be stuck down as a mask" in words(answer)


def test_what_is_bad_is_said_in_words_before_the_table(person, bench, slug):
    thin = SVG.replace("</g>", '<path d="M5 27h60v.2h-60z"/></g>')
    draw(bench, slug, thin)
    told = words(planned_page(person))
    assert "narrower than the least opening, " in told
    assert "such lines will not cut clean" in told
    assert told.index("will not cut clean") < told.index("Sheets to cut")
    assert "Weak places" in told


def test_a_refused_plan_is_not_called_kept(person, drawn):
    told = words(planned_page(person, **{"v-bridge_width_mm": "0.1"}))
    assert "Not planned." in told
    assert "Not kept yet" not in told


def test_limits_are_edited_with_their_source(person, plan_now):
    planned_page(person, **{"v-bridge_width_mm": "1,5", "source": "own test card"})
    process = plan_now().asked.of_process
    assert process.bridge_width_mm == 1.5
    assert process.sources["bridge_width_mm"] == "own test card"
    assert process.sources["kerf_mm"] == "common practice, no source"
    page = planned_page(person, **{"v-bridge_width_mm": "0.1"})
    assert page.status_code == 422
    assert "narrower than the least web" in words(page)
    assert 'value="0.1"' in page.text
    assert plan_now().asked.of_process == process


def test_a_test_card_sets_the_limits(person, plan_now):
    card = {
        "card-finest_line_mm": "0.3", "card-finest_web_mm": "0.6", "card-longest_tongue_mm": "10",
        "card-finest_disc_mm": "0.4", "card-square_hole_mm": "20.06",
        "card-square_piece_mm": "19.94",
    }  # fmt: skip
    planned_page(person, **card)
    process = plan_now().asked.of_process
    assert process.least_web_mm == 0.6
    assert process.kerf_mm == pytest.approx(0.06)
    assert process.sources["kerf_mm"] == "own test card"
    page = planned_page(person, **{"card-finest_line_mm": "0.3"})
    assert "reading of the card lacks" in words(page)


def test_a_cone_gives_its_sector_and_a_missing_radius_is_told(person, plan_now):
    planned_page(person, surface="cone", radius_mm="60", half_angle_deg="8", axis_deg="90")
    edge = plan_now().sheets[0].edge
    assert edge.area < edge.envelope.area * 0.995
    page = planned_page(person, surface="cylinder", radius_mm="")
    assert page.status_code == 422
    assert "needs its radius" in words(page)


def test_every_file_is_handed_over(person, plan_now):
    planned_page(person, hold="split")
    sheet = person.get(f"{SHEETS}/split/sheet-1.svg")
    assert len(rings_of_sheet(sheet.text)) > 3
    assert person.get(f"{SHEETS}/split/sheet-2.dxf").text.lstrip().startswith("0")
    assert person.get(f"{SHEETS}/split/sheet-1.hpgl").text.startswith("IN;")
    assert person.get(f"{SHEETS}/split/cutting.csv").text.count("\n") == 3
    assert person.get(f"{SHEETS}/split/falls.csv").text.count("island") == 3
    assert ">3</text>" in person.get(f"{SHEETS}/split/falls.svg").text
    assert person.get(f"{SHEETS}/split/sheet-1-1200.png").content.startswith(b"\x89PNG")
    # the same drawing held by bridges is one sheet
    assert len(rings_of_sheet(person.get(f"{SHEETS}/bridges/sheet-1.svg").text)) > 3
    assert person.get(f"{SHEETS}/bridges/sheet-2.svg").status_code == 404
    for name in ("laying-a4", "sheet-1-letter", "falls-a4"):
        document = pypdfium2.PdfDocument(person.get(f"{SHEETS}/split/{name}.pdf").content)
        assert len(document) >= 1
        document.close()
    archive = ZipFile(BytesIO(person.get(f"{SHEETS}/split/all.zip").content))
    kinds = ("svg", "dxf", "hpgl")
    assert set(archive.namelist()) == {
        *(f"sheet-{n}.{kind}" for n in (1, 2) for kind in kinds),
        *("cutting.csv", "falls.csv", "falls.svg", "laying.pdf", "laying.txt", "process.toml"),
    }
    with_film = person.get(f"{SHEETS}/split/all.zip?film=600&bed=40x300")
    names = ZipFile(BytesIO(with_film.content)).namelist()
    assert "sheet-1.png" in names
    assert any(name.startswith("part-") for name in names)
    for missing in ("sheet-9.svg", "sheet-1-600.png", "laying-a3.pdf", "notes.txt"):
        assert person.get(f"{SHEETS}/split/{missing}").status_code == 404
    assert person.get("/test-card.svg").text.startswith("<svg")


def test_page_and_command_make_the_same_set(person, drawn, plan_now, tmp_path, capsys):
    from ironlace.cli.program import main

    planned_page(person, hold="split")
    file, out, report = tmp_path / "drawing 1", tmp_path / "out", tmp_path / "report.json"
    file.write_text(SVG, encoding="utf-8")
    words_ = ["ornament", "sheets", file, "--process", "film-laser", "--hold", "split"]
    with pytest.raises(SystemExit) as ended:
        main([str(w) for w in (*words_, "--out", out, "--json", report)])
    assert ended.value.code in (0, None)
    made = plan_now()
    by_command = json.loads(report.read_text(encoding="utf-8"))
    assert {k: v for k, v in by_command.items() if k in made.report} == made.report
    archive = ZipFile(BytesIO(person.get(f"{SHEETS}/split/all.zip").content))
    assert set(archive.namelist()) == {p.name for p in out.iterdir()}
    for name in archive.namelist():
        if not name.endswith((".pdf", ".dxf")):  # these tell when they were made
            assert archive.read(name) == (out / name).read_bytes(), name


def test_the_record_is_worked_on_by_command_too(bench, drawn, tmp_path, capsys):
    from ironlace.cli.program import main

    process = tmp_path / "mine.toml"
    process.write_text(process_toml(known_process("film-laser")), encoding="utf-8")
    words_ = ["work-out", "sheets", drawn, "--drawing", "drawing 1", "--process", process, "--keep"]
    with pytest.raises(SystemExit) as ended:
        main([str(w) for w in (*words_, "--workshop", bench.workshop.folder)])
    assert ended.value.code in (0, None)
    said = capsys.readouterr().out
    assert "3 islands would have fallen out" in said
    assert "Kept as finding 1." in said
    assert finding_of(bench.workshop, drawn, "drawing 1")[0] == "finding 1"


def test_a_long_plan_is_a_job(person, drawn, bench, monkeypatch, plan_now):
    monkeypatch.setattr(sheet_set, "QUICK_ISLANDS", 1)
    page = planned_page(person)
    assert "Planning the sheets" in words(page)
    one_piece_of_work(bench)
    assert bench.jobs.get(1).result == {"sheets": "drawing 1"}
    assert "3 islands would have fallen out" in words(person.get(SHEETS))


def test_large_sheets_planned_elsewhere_are_gone_through_while_they_are_looked_at(
    person, drawn, bench, monkeypatch, plan_now
):
    monkeypatch.setattr(sheet_set, "QUICK_ISLANDS", 0)
    planned_page(person)
    one_piece_of_work(bench)  # the worker plans, as another process does
    asked = finding_of(bench.workshop, drawn, "drawing 1")[1]
    drawing = filled_drawing(bench.workshop, bench.records.read(drawn), "drawing 1")
    key = remembered_as(drawing, asked)
    assert bench.recall(key) is None
    begun, go_on = threading.Event(), threading.Event()

    def slowly(*told):
        begun.set()
        assert go_on.wait(30)
        gone_through(*told)

    monkeypatch.setattr(stencils, "gone_through", slowly)
    with monkeypatch.context() as largest:  # whose changes are made by a worker
        largest.setattr(stencils, "MOST_ISLANDS", 0)
        assert words(person.get(SHEETS))
    assert not begun.wait(0.2)
    assert words(person.get(SHEETS))
    assert begun.wait(30)
    begun.clear()
    assert words(person.get(SHEETS))  # looked at again, it is not begun twice
    assert not begun.is_set()
    threading.Timer(0.2, go_on.set).start()
    line = line_of(plan_now().bridges[0])
    answer = person.post(f"{SHEETS}/do", {"do": "lock", "bridge": line})
    assert go_on.is_set()  # the change waited for it
    assert answer.status_code == 200
    assert bench.recall(key) is not None
    # and the sheets are those that come without it
    changed = finding_of(bench.workshop, drawn, "drawing 1")[1]
    assert len(changed.locked) == 1
    told = plan_now()
    shutil.rmtree(bench.workshop.derived / "sheets")
    again = plan_now()
    assert [sheet.svg() for sheet in told.sheets] == [sheet.svg() for sheet in again.sheets]


def test_a_drawing_that_cannot_be_cut_is_told(person, bench, slug):
    draw(bench, slug, SVG.replace('fill="#b89040"', 'fill="none" stroke="#000"'))
    page = planned_page(person)
    assert page.status_code in (400, 422)
    assert "turn strokes into outlines" in words(page)
    assert person.post(f"{SHEETS}/do", {"do": "undo"}).status_code == 404


def test_verifying_plans_again_and_tells_a_changed_drawing(person, drawn, bench, plan_now):
    from ironlace.workshop.hand_over.verify import verify_record

    planned_page(person)
    told = {v.name: v for v in verify_record(bench.workshop, drawn)}
    assert told["finding 1"].same is True
    (name, entry), *_ = bench.records.read(drawn).of(FindingEntry)
    results = tuple(
        one.model_copy(update={"value": 99}) if one.name == "bridges" else one
        for one in entry.finding.results
    )
    changed = entry.model_copy(
        update={"finding": entry.finding.model_copy(update={"results": results})}
    )
    bench.records.change(drawn, name, changed)
    told = {v.name: v for v in verify_record(bench.workshop, drawn)}
    assert told["finding 1"].same is False


@pytest.mark.browser
@pytest.mark.slow
def test_bridges_are_moved_by_keys_and_pointer_in_a_browser(chromium, folder, bench, drawn):
    from playwright.sync_api import expect

    from .browsing import DESKTOP, PHONE, in_first_screen, keep, serving, violations

    complaints = []
    with serving(folder) as address:
        page = chromium.new_context(base_url=address, viewport=DESKTOP).new_page()
        page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(SHEETS)
        page.select_option("#f-process", "film-laser")
        page.get_by_role("button", name="Plan the sheets").click()
        said = page.locator("[data-said]")
        view = page.locator("[data-view]")
        view.focus()
        page.keyboard.press("ArrowDown")
        expect(said).to_contain_text("Bridge 1 of")
        page.keyboard.press("ArrowRight")
        expect(said).to_contain_text("Would take")
        page.keyboard.press("ArrowRight")
        page.keyboard.press("Enter")
        expect(said).to_contain_text("Planned again in")
        expect(said).to_contain_text("pinned")
        expect(view).to_be_focused()
        expect(page.locator(".bridge.pinned")).to_have_count(1)
        page.keyboard.press("p")
        expect(page.locator(".bridge.pinned")).to_have_count(0)

        hold = page.locator(".bridge-hold").nth(1)
        hold.scroll_into_view_if_needed()
        box = hold.bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(x, y)
        page.mouse.down()
        with page.expect_response("**/places*"):
            page.mouse.move(x + 3, y + 3)
        page.mouse.move(x + 14, y + 14, steps=6)
        expect(said).to_contain_text("Would take")
        page.mouse.up()
        expect(page.locator(".bridge.pinned")).to_have_count(1)

        page.locator(".sheet-more").get_by_text("A touch forbids a place").click()
        page.locator(".sheet-plan").click(position={"x": 60, "y": 60})
        expect(page.locator(".forbidden")).to_have_count(1)
        page.get_by_role("button", name="Take the last change back").click()
        expect(page.locator(".forbidden")).to_have_count(0)
        page.reload()
        expect(page.locator(".bridge.pinned")).to_have_count(1)
        for size, scheme in (
            (DESKTOP, "light"),
            (PHONE, "light"),
            (DESKTOP, "dark"),
            (PHONE, "dark"),
        ):
            page.set_viewport_size(size)
            page.emulate_media(color_scheme=scheme)
            table, following = page.locator(".sheet-table"), page.get_by_role("button", name="Next")
            in_first_screen(page, view, table, following, said)
            # the next bridge is chosen, and it stands in the picture
            following.click()
            expect(page.locator(".bridge.chosen")).to_have_count(1)
            box, frame = (
                page.locator(".bridge.chosen .bridge-line").bounding_box(),
                view.bounding_box(),
            )
            assert frame["x"] < box["x"] < frame["x"] + frame["width"]
            assert frame["y"] < box["y"] < frame["y"] + frame["height"]
            keep(page, f"one-screen-sheets-{size['width']}-{scheme}")
            found = violations(page)
            assert not found, [v["id"] for v in found]
            assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        assert not complaints


def test_a_sheet_larger_than_the_bed_is_handed_over_in_parts(bench, slug, person):
    wide = '<rect x="10" y="10" width="400" height="20"/>'
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="420mm" height="40mm" '
        f'viewBox="0 0 420 40">{wide}</svg>'
    )
    draw(bench, slug, svg)
    page = planned_page(person)
    assert "larger than the bed of 300 by 300 mm" in words(page)
    link = unescape(re.search(r'href="([^"]*all\.zip[^"]*bed=[^"]*)"', page.text)[1])
    names = ZipFile(BytesIO(person.get(link).content)).namelist()
    assert {"part-1a1.svg", "part-1a2.svg"} <= set(names)
