"""A base moved by hand gives what the same base worked out anew would give."""

import numpy as np
import pytest

from ironlace.evidence.analyses import AskedError, asked_from
from ironlace.stand.base import work_out_base
from ironlace.stand.base_analysis import BaseAsked, BedPicture, base
from ironlace.stand.base_moved import (
    base_in_view,
    base_moved,
    feet_in_words,
    feet_of_words,
    turning_in_view,
    view_boxes,
)
from ironlace.stand.errors import StandError

WORKS = "point,wheel_deg,x_mm,y_mm,z_mm\n" + "\n".join(
    f"lever,{a},40,{10 + 8 * np.sin(np.deg2rad(a)):.3f},{-35 - 6 * np.cos(np.deg2rad(a)):.3f}"
    for a in range(0, 360, 30)
)
GIVEN = {
    "outline": "x_mm,y_mm\n-140,-80\n140,-80\n140,80\n-140,80",
    "works": WORKS,
    "mass": "12.7 ± 0.02 kg",
    "centre_x": "10 ± 1 mm",
    "centre_y": "-4 ± 1 mm",
    "centre_z": "118 ± 3 mm",
    "crank_radius": "55 mm",
    "crank_height": "119 mm",
    "crank_x": "150 mm",
    "crank_y": "0 mm",
    "force": "14.6 N",
    "turning": "top away from the sewer",
}
FEET = ((-150.0, -90.0), (150.0, -90.0), (170.0, 120.0), (-150.0, 90.0))


@pytest.fixture(scope="module")
def worked():
    return base(BedPicture(), asked_from(BaseAsked, GIVEN), lambda *_: None)


def test_moved_it_is_what_the_same_base_worked_out_anew_is(worked):
    moved = base_moved(worked.found, 30.0, 21.0, FEET)
    anew = work_out_base(moved.case, np.random.default_rng(worked.asked.seed))
    assert moved.height_mm == pytest.approx(anew.height_mm, abs=1e-9)
    assert moved.edges == anew.edges
    assert moved.answers == anew.answers
    assert moved.side_least == anew.side_least
    with pytest.raises(StandError, match="falls over by itself"):
        base_moved(worked.found, 30.0, 21.0, [(-90, 20), (90, 20), (0, 90)])
    with pytest.raises(StandError, match="1000 mm"):
        base_moved(worked.found, float("nan"), 21.0, FEET)


def test_what_is_seen_stands_where_the_figures_say(worked):
    first = worked.machines[0]
    view = base_in_view(first)
    assert view["outlines"]["front-base"].startswith("M-154.0 -0.0L154.0 -0.0L154.0 -55.")
    cloud = np.array(
        [one.split() for one in view["outlines"]["front-centre"][1:-1].split("L")], float
    )
    middle = (cloud.max(axis=0) + cloud.min(axis=0)) / 2.0
    assert middle == pytest.approx([10.0, -118.0 - first.found.height_mm], abs=0.11)
    # 90 % of two normal places lie within 2.146 standard deviations
    assert np.ptp(cloud, axis=0) / 2.0 == pytest.approx([2.146, 3 * 2.146], abs=0.11)
    places = np.array(turning_in_view(first)["works"][0]["places"])
    assert places[:, 2].min() == pytest.approx(-41.0, abs=0.4)
    left, top, wide, high = view_boxes(first)["front"]
    assert left < -154 and left + wide > 161 and top < -(55 + 119 + 66) and top + high > 0


def test_feet_are_read_as_they_are_written_and_refused_where_they_cannot_be(worked):
    assert feet_of_words(feet_in_words(FEET)) == FEET
    for text, says in (
        ("1,2\n3,4", "three to"),
        ("1,2\nx,4\n5,6", "Foot 2 reads"),
        ("1\n2\n3", "Foot 1 reads"),
    ):
        with pytest.raises(AskedError, match=says):
            feet_of_words(text)
    asked = asked_from(BaseAsked, {**GIVEN, "feet": feet_in_words(FEET)})
    assert base(BedPicture(), asked, lambda *_: None).found.case.base.feet == FEET
