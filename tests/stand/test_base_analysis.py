"""A base as an analysis: the figures of its command, elevations to scale, what is refused."""

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from ironlace.evidence.analyses import AskedError, Known
from ironlace.evidence.progress import Steps
from ironlace.stand.base import work_out_base
from ironlace.stand.base_analysis import BASE, BaseAsked, BedPicture, base_case
from ironlace.stand.base_drawing import base_svg, cutting_list
from ironlace.stand.bed_outline import BedOutline, in_bed_axes
from ironlace.stand.elevations import VIEWS, base_ends
from ironlace.stand.errors import StandError
from ironlace.stand.outline_doubt import RimDoubt

OUTLINE = "x_mm,y_mm\n-110,-70\n110,-70\n110,70\n-110,70\n"
WORKS = "point,wheel_deg,x_mm,y_mm,z_mm\n" + "".join(
    f"lever,{a},40,10,{-35 - 6 * np.cos(np.deg2rad(a)):.3f}\n" for a in range(0, 360, 30)
)
TOUCHES = "what,x_px,y_px\nseat,0,500\nseat,440,500\nheight,9,500\nheight,9,100\n" + "".join(
    f"round,{x},{y}\n" for x, y in ((0, 500), (0, 80), (440, 80), (440, 500))
)


def mm(value, error=1.0):
    return Known(value, error, "mm")


ASKED = BaseAsked(
    WORKS,
    OUTLINE,
    mass=Known(12_000.0, 20.0, "g"),
    centre_x=mm(10.0),
    centre_y=mm(-4.0),
    centre_z=mm(120.0),
    front_touches=TOUCHES,
    front_upright=mm(200.0),
)


def worked(**changes):
    return BASE.work(BedPicture(), replace(ASKED, **changes), Steps())


def test_it_is_what_the_command_works_out():
    found = worked()
    points = np.array([[-110, -70], [110, -70], [110, 70], [-110, 70.0]])
    straight = work_out_base(base_case(ASKED, points), np.random.default_rng(ASKED.seed))
    assert found.found.height_mm == straight.height_mm
    assert found.found.edges == straight.edges
    answer = BASE.answer(found)
    assert answer.figures["height_mm"] == pytest.approx(41.0 + 8.0 + 6.0, abs=0.3)
    assert answer.sentences[0].startswith("The base must be 5")
    assert "degrees more" in answer.sentences[2]


def test_what_was_not_said_of_holes_and_crank_is_not_told():
    held = worked(ledge=16.0, holes="name,x_mm,y_mm,diameter_mm\nfront left,-100,-60,5\n")
    answer = BASE.answer(held)
    usable = next(one for one in answer.results if one.name.startswith("holes of the bed"))
    assert usable.value == "front left"
    assert "Hole 1, front left: 5.0 mm" in base_svg(held.found)
    leans = next(one for one in answer.tables if one.title.startswith("Lean"))
    assert {row[2] for row in leans.rows} == {"no crank given"}
    for bad in ("name,x_mm,y_mm,diameter_mm\n,1,2,5\n", "name,x_mm,y_mm,diameter_mm\na,1,2,0\n"):
        with pytest.raises(AskedError, match="lacks its name or its diameter"):
            worked(holes=bad)


def test_elevations_cutting_list_and_figures_agree_and_both_views_have_one_scale():
    found = worked()
    answer = BASE.answer(found)
    walls = cutting_list(found.found)[0]
    left, right = base_ends(found.found, "front")
    assert right - left == pytest.approx(walls.length_mm)
    assert walls.width_mm == answer.figures["height_mm"]
    boxes = {ElementTree.fromstring(one.svg).get("viewBox") for one in answer.plots}
    assert len(answer.plots) == len(VIEWS)
    assert len(boxes) == 1
    # 420 px high by a scale of 0.5 mm: 210 mm
    assert "under a head of 210 mm, 21 % of the whole height" in answer.plots[0].sentences[0]


def test_a_second_base_stands_beside_the_first():
    found = worked(other_overhang=40.0, other_below=20.0)
    first, second = found.machines
    assert second.found.height_mm == pytest.approx(first.found.height_mm + 12.0, abs=0.01)
    answer = BASE.answer(found)
    assert answer.tables[0].title == "Two bases side by side"
    assert answer.plots[0].svg.count("<g ") == 2


def test_a_photographed_outline_lies_in_the_beds_axes():
    # sheet's y runs down; turned by 5 degrees, the wide end toward the photograph's lower edge
    own = np.array([[-110, -70], [110, -70], [90, 70], [-90, 70.0]])
    turn = np.deg2rad(5.0)
    back = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    sheet = (own @ back) * [1.0, -1.0] + [300.0, 200.0]
    found = in_bed_axes(BedOutline(sheet, sheet, 0.1, 9, 0.01, (), None, None, RimDoubt()))
    for point in own:
        assert np.min(np.linalg.norm(found - point, axis=1)) < 0.01


def test_no_outline_is_refused_at_its_field():
    with pytest.raises(AskedError) as caught:
        worked(outline="")
    assert caught.value.field == "outline"


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"centre_z": None}, "given in part"),
        ({"mass": None, "centre_x": None, "centre_y": None, "centre_z": None}, "needed once"),
        ({"crank_radius": mm(55.0)}, "crank is given in part"),
        ({"front_upright": None}, "height that was touched"),
        ({"outline": "x,y\n1,2\n"}, "first line must read"),
        ({"works": WORKS.replace("-41.000", "deep")}, "'deep' under z_mm"),
        ({"feet_in": 200.0}, "meet each other"),
    ],
)
def test_what_cannot_be_is_refused(change, says):
    with pytest.raises((AskedError, StandError), match=says):
        worked(**change)


def test_what_was_not_said_is_asked_for_and_not_assumed():
    crank = {
        "crank_radius": mm(55.0),
        "crank_height": mm(119.0),
        "crank_x": mm(149.0),
        "crank_y": mm(-1.0),
        "force": Known(14.0, 1.0, "N"),
    }
    with pytest.raises(AskedError, match="which way the top of the wheel turns") as caught:
        worked(**crank)
    assert caught.value.field == "turning"
    assert worked(**crank, turning="top toward the sewer").found.height_set_by == "works"
    seen = replace(ASKED, outline="", photograph="photograph 1", rim_above=mm(20.0))
    picture = BedPicture(lambda: np.zeros((8, 8, 3), np.uint8))
    with pytest.raises(AskedError, match="from above or from below") as caught:
        BASE.work(picture, seen, Steps())
    assert caught.value.field == "seen_from"


def grams(value):
    return Known(value, None, "g")


WEIGHED = {
    "left": grams(4117.0),
    "right": grams(8559.0),
    "apart_x": mm(228.0),
    "front": grams(6757.0),
    "back": grams(5906.0),
    "apart_y": mm(152.0),
    "tilt": Known(19.0, None, "deg"),
    "tilted": grams(2442.0),
    "mass": None,
    "centre_x": None,
    "centre_y": None,
    "centre_z": None,
}
CHECKED = {
    "other_tilt": Known(18.0, None, "deg"),
    "other_tilted": grams(3461.0),
    "whole": grams(12_664.0),
}


def test_the_base_asks_for_the_readings_that_check_a_weighing():
    points = np.array([[-110, -70], [110, -70], [110, 70], [-110, 70.0]])
    plain, checked = (
        base_case(replace(ASKED, **WEIGHED, **more), points).weighing for more in ({}, CHECKED)
    )
    assert (plain.tilted_other, plain.whole_g) == (None, None)
    assert (checked.tilted_other.tilt_deg, checked.whole_g) == (18.0, 12_664.0)
    turned = WEIGHED | {"front": WEIGHED["back"], "back": WEIGHED["front"]}
    with pytest.raises(StandError, match="with the front one lifted to"):
        worked(**turned, **CHECKED)
    with pytest.raises(StandError, match="give both, or neither"):
        worked(**WEIGHED, other_tilt=CHECKED["other_tilt"])
    with pytest.raises(AskedError, match="checks a weighing, and none is given"):
        worked(whole=CHECKED["whole"])


@pytest.mark.parametrize(("apart", "doubted"), [(429.0, True), (214.0, False)])
def test_edges_further_apart_than_the_bed_is_long_are_told_first(apart, doubted):
    weighed = {"mass": None, "centre_x": None, "centre_y": None, "centre_z": None}
    grams = {"left": 6000, "right": 6000, "front": 6300, "back": 5700, "tilted": 3900}
    weighed |= {name: Known(float(value), None, "g") for name, value in grams.items()}
    weighed |= {"apart_x": mm(apart), "apart_y": mm(120.0), "tilt": Known(15.0, None, "°")}
    said = BASE.answer(worked(**weighed)).sentences
    assert ("on which it cannot have lain" in said[0]) == doubted
