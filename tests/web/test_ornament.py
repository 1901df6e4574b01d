"""Tracing asked for, followed, stopped; strips and drawings handed over."""

import re

import numpy as np
import pytest
from PIL import Image

from ironlace.evidence.analyses import Known
from ironlace.ornament import OtherPhotograph, TraceAsked
from ironlace.photographs import strip_sheet
from ironlace.record import PhotographRole
from ironlace.workshop.ornament.tracing import trace_asked
from ironlace.workshop.work.jobs import JobState

from .conftest import jpeg, words


@pytest.fixture
def photograph(person, slug):
    person.post(
        f"/machine/{slug}/photographs",
        {"role": "ornament"},
        files={"files": ("a.jpg", jpeg(1, (300, 200)))},
    )
    return f"/machine/{slug}/ornament/trace/1"


def test_the_ornament_page_offers_first_what_is_there(person, slug, photograph, bench, add_drawing):
    add_drawing(bench.workshop, slug)
    page = person.get(f"/machine/{slug}/ornament").text
    offered = ["Open drawing 1", "Trace photograph 1", '/strip/frame-a4.pdf"']
    assert sorted(offered, key=page.index) == offered


def test_before_there_is_a_photograph_of_ornament_the_strip_is_offered_first(person, slug):
    page = person.get(f"/machine/{slug}/ornament").text
    assert page.index('/strip/frame-a4.pdf"') < page.index("Take one in")
    assert "Drawings" not in page


@pytest.mark.parametrize("piece", ["frame", "corner", "wrap", "strip"])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_strip_is_handed_over_as_pdf(person, piece, paper):
    answer = person.get(f"/strip/{piece}-{paper}.pdf")
    assert answer.content.startswith(b"%PDF")
    assert "attachment" in answer.headers["content-disposition"]


def test_a_trace_is_asked_for_with_its_points(person, slug, photograph, bench):
    page = person.post(
        photograph,
        {
            "strip": "wrap",
            "strip_mm": "193.6 ± 0.2",
            "gilt": "10, 20\n30.5 40",
            "ground": "1,1; 2,2",
            "region": "",
            "upright": "yes",
        },
    )
    assert "Tracing the ornament" in words(page)
    assert trace_asked(bench.jobs.get(1).asked) == TraceAsked(
        photograph="photograph 1",
        strip="wrap",
        strip_mm=Known(193.6, 0.2, "mm"),
        gilt=((10.0, 20.0), (30.5, 40.0)),
        ground=((1.0, 1.0), (2.0, 2.0)),
    )
    assert "Tracing the ornament" in words(person.get(f"/machine/{slug}"))


def test_the_mirror_is_tried_first_and_the_strip_known_by_its_markers(
    person, slug, photograph, bench, darkroom, tmp_path
):
    page = person.get(photograph)
    assert 'name="mirror" value="yes" checked' in page.text
    assert 'name="upright" value="yes" checked' in page.text
    assert "the one whose markers are read in it" in words(page)
    # no strip lies in this one: nothing is begun, and the way without a strip stands open
    refused = person.post(photograph, {"strip": "by its markers", "gilt": "7, 7"})
    assert refused.status_code == 422
    assert "No strip's markers could be read" in words(refused)
    assert "open><summary>Without a strip" in refused.text
    assert "7, 7" in refused.text
    assert bench.jobs.of_record(slug) == []
    shot = darkroom.Shot(
        width=1200, height=850, focal_px=1300, aim_mm=(100.0, 65.0), distance_mm=265
    )
    image = darkroom.photograph(None, strip_sheet("wrap"), shot, np.random.default_rng(7))
    Image.fromarray(image).save(tmp_path / "b.png")
    bench.photographs.take_in_file(slug, tmp_path / "b.png", PhotographRole.ORNAMENT)
    second = f"/machine/{slug}/ornament/trace/2"
    unticked = person.post(second, {"strip": "none", "mirror": "yes"})
    assert 'name="upright" value="yes" aria' in unticked.text  # it stays as it was left
    begun = person.post(second, {"strip": "by its markers", "mirror": "yes"})
    assert begun.status_code == 200, words(begun)
    asked = trace_asked(bench.jobs.get(1).asked)
    assert (asked.strip, asked.mirror, asked.upright) == ("wrap", True, False)


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"gilt": "here"}, "is not a point"),
        ({"gilt": "301, 5"}, "lies outside the photograph"),
        ({"region": "1,1"}, "two corners at least"),
        ({"strip": "ribbon"}, "no choice for 'Strip in the picture'"),
        ({"tolerance_mm": "2"}, "give 0.001 to 1 mm"),
    ],
)
def test_points_that_cannot_be_used_are_told_and_kept(person, photograph, bench, fields, says):
    answer = person.post(photograph, {"strip": "frame", "ground": "7, 7", **fields})
    assert answer.status_code == 422
    assert says in words(answer)
    assert "7, 7" in answer.text


def test_a_tolerance_is_asked_for(person, photograph, bench):
    person.post(photograph, {"strip": "wrap", "tolerance_mm": "0,1"})
    assert trace_asked(bench.jobs.get(1).asked).tolerance_mm == pytest.approx(0.1)


def test_a_job_is_followed_stopped_and_started_again(person, photograph, bench):
    person.post(photograph, {"strip": "frame"})
    progress = person.get("/job/1/progress.json").json()
    assert (progress["state"], progress["ended"]) == ("waiting", False)
    assert 'http-equiv="refresh"' in person.get("/job/1").text
    stopped = person.post("/job/1/stop")
    assert "Stopped." in words(stopped)
    assert 'http-equiv="refresh"' not in stopped.text
    assert person.post("/job/1/stop").status_code == 409
    person.post("/job/1/again")
    assert bench.jobs.get(1).state is JobState.WAITING


def test_a_machine_without_drawings_has_none_to_hand_over(person, slug):
    for name in ("flat.jpg", "drawing.svg", "true-scale-a4.pdf"):
        assert person.get(f"/machine/{slug}/drawing/1/{name}").status_code == 404


def test_a_photograph_that_is_not_there_cannot_be_traced(person, slug):
    assert person.get(f"/machine/{slug}/ornament/trace/7").status_code == 404


def test_other_photographs_are_asked_for_with_what_they_show(bench, person, slug, photograph):
    person.post(
        f"/machine/{slug}/photographs",
        {"role": "ornament"},
        files={"files": ("b.jpg", jpeg(2, (300, 200)))},
    )
    assert "Other photographs that show the same ornament" in words(person.get(photograph))
    fields = {
        "strip": "wrap",
        "surface": "cone",
        "other": "photograph 2",
        "shows photograph 2": "example",
        "called photograph 2": "the mill's machine",
    }
    bad = person.post(photograph, fields | {"shows photograph 2": "a cow"}, follow=False)
    assert bad.status_code == 422
    assert 'value="photograph 2" checked' in bad.text
    person.post(photograph, fields, follow=False)
    assert trace_asked(bench.jobs.get(1).asked).others == (
        OtherPhotograph("photograph 2", "example", "the mill's machine"),
    )


def test_measures_without_a_strip_and_colours_are_asked_for(bench, person, slug, photograph):
    fields = {
        "strip": "frame",
        "surface": "plane",
        "how": "points",
        "measured": "10, 10, 0, 0\n200,10 , 60 0\n200 150 60 40\n10 150 0 40",
        "colour-red": "30, 40; 31, 44",
    }
    for bad, says in (
        ({"measured": "10, 10, 0"}, "four figures a line"),
        ({"measured": "10 10 0 0"}, "at least 4"),
        ({"measured": "900 10 0 0\n" * 4}, "outside the photograph"),
        ({"how": "guess"}, "no choice for 'Source of the measure'"),
        ({"radius_mm": "wide"}, "is not a quantity"),
        ({"colour-red": "3000, 40"}, "outside the photograph"),
        ({"axis": "30, 40"}, "needs two places, not 1"),
        ({"card": "30, 40; 3, 4"}, "needs one place, not 2"),
    ):
        answer = person.post(photograph, fields | bad, follow=False)
        assert answer.status_code == 422
        assert says in words(answer)
    person.post(photograph, fields | {"axis": "150, 10; 150, 180"}, follow=False)
    asked = bench.jobs.get(1).asked
    assert asked["axis"] == [[150, 10], [150, 180]]
    assert asked["how"] == "points"
    assert asked["measured"][1] == [200, 10, 60, 0]
    assert asked["colours"] == {"red": [[30, 40], [31, 44]]}
    person.post(photograph, {"strip": "frame", "surface": "plane", "how": "scan", "dpi": "600"})
    assert bench.jobs.get(2).asked["dpi"] == 600


def test_a_strip_of_ones_own_and_places_in_each_photograph_are_asked_for(
    bench, person, slug, photograph
):
    person.post(
        f"/machine/{slug}/photographs",
        {"role": "ornament"},
        files={"files": ("b.jpg", jpeg(2, (300, 200)))},
    )
    layout = strip_sheet("corner").layout.to_csv()
    person.post(photograph, {"layout_csv": layout, "surface": "plane"}, follow=False)
    asked = trace_asked(bench.jobs.get(1).asked)
    assert asked.layout.corners_mm.tolist() == strip_sheet("corner").layout.corners_mm.tolist()
    places = "10, 10, 0, 0\n200 10 60 0\n200 150 60 40\n10 150 0 40"
    fields = {"how": "points", "surface": "plane", "other": "photograph 2", "measured": places}
    answer = person.post(photograph, fields, follow=False)
    assert answer.status_code == 422
    assert "0 measured places were given in photograph 2" in words(answer)
    answer = person.post(photograph, {"layout_csv": "no, markers"}, follow=False)
    assert answer.status_code == 422
    person.post(photograph, fields | {"measured photograph 2": places}, follow=False)
    asked = trace_asked(bench.jobs.get(2).asked)
    assert asked.measured_in(1) == asked.measured and len(asked.measured) == 4
    again = person.get(f"{photograph}?job=2")
    assert again.status_code == 200
    # once refused, the form still says all of it
    for number in (1, 2):
        bench.jobs.claim("worker")
        bench.jobs.fail(number, "worker", "The places do not fit together.")
    back = person.get(f"{photograph}?after=2").text
    assert 'name="other" value="photograph 2" checked' in back
    assert back.count("200, 10, 60, 0\n200, 150, 60, 40\n10, 150, 0, 40</textarea>") == 2


@pytest.fixture
def refused(person, photograph, bench):
    """A trace that a worker gave up: its page."""
    person.post(photograph, {"how": "strip", "strip": "wrap", "gilt": "10, 20", "mirror": "yes"})
    bench.jobs.claim("worker")
    bench.jobs.fail(1, "worker", "No strip was found in the picture.")
    return "/job/1"


def test_a_refused_trace_leads_back_to_its_photograph_with_what_was_said(
    person, photograph, refused
):
    page = person.get(refused)
    told = words(page)
    assert "Not kept yet" not in told
    first, again = told.index("Back to the photograph"), told.index("Start it again")
    assert first < again
    assert f'{photograph}?after=1"' in page.text
    back = person.get(f"{photograph}?after=1")
    assert "No strip was found in the picture." in words(back)
    assert "Not kept yet" not in words(back)
    assert "10, 20</textarea>" in back.text
    assert '<details class="more" open><summary>Without a strip' in back.text
    # another photograph's work, or none, says nothing here
    assert person.get(f"{photograph}?after=7").status_code == 404


def test_a_failed_tracing_is_put_away(person, slug, refused, bench):
    assert "/job/1/away" in person.get(f"/machine/{slug}").text
    page = person.post("/job/1/away", {})
    assert "/job/1/away" not in page.text
    assert "Under way" not in words(page)
    assert person.post("/job/1/away", {}).status_code == 409
    person.post("/job/1/again", {})
    assert bench.jobs.get(1).state is JobState.WAITING


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_trace_it_stands_beside_the_picture_in_the_first_screen(
    chromium, folder, photograph, scheme
):

    from .browsing import DESKTOP, PHONE, in_first_screen, keep, serving, violations

    with serving(folder) as base:
        for size in (DESKTOP, PHONE):
            page = chromium.new_context(
                base_url=base, viewport=size, color_scheme=scheme
            ).new_page()
            page.goto(photograph)
            frame = page.locator(".picture-frame.live")
            frame.wait_for()
            go = page.get_by_role("button", name="Trace it")
            in_first_screen(page, frame, go, page.get_by_role("radio", name="gilt"))
            if size is DESKTOP:
                beside = (
                    page.get_by_label("What gives the measure"),
                    page.get_by_label("Where the"),
                )
                in_first_screen(page, *beside)
            frame.focus()
            page.keyboard.press("+")
            assert violations(page) == []
            assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
            keep(page, f"one-screen-trace-{size['width']}-{scheme}")


@pytest.mark.browser
@pytest.mark.slow
def test_a_drawing_is_told_by_the_shares_of_its_outline(chromium, folder, bench, slug, add_drawing):

    from .browsing import DESKTOP, PHONE, in_first_screen, keep, serving, violations

    add_drawing(bench.workshop, slug)
    with serving(folder) as base:
        for size, scheme in ((DESKTOP, "light"), (PHONE, "dark")):
            page = chromium.new_context(
                base_url=base, viewport=size, color_scheme=scheme
            ).new_page()
            page.goto(f"/machine/{slug}/entries/drawing/1")
            shares = page.locator(".shares")
            in_first_screen(page, shares, page.locator(".wipe-view"))
            told = " ".join(shares.inner_text().split())
            parts = [float(p) for p in re.findall(r"([\d.]+) %", told.partition("drawing")[0])]
            assert sum(parts) == pytest.approx(100.0, abs=0.15)
            assert "seen" in told
            assert "as a whole is told as" in told
            assert violations(page) == []
            assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
            keep(page, f"one-screen-drawing-{size['width']}-{scheme}")
