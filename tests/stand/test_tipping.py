"""Leans at which it goes over, against a machine really turned about its edge."""

import numpy as np
import pytest

from ironlace.stand.errors import StandError
from ironlace.stand.tipping import Hand, feet_edges, tipping_leans, worst_moment
from standing_heads import leans

FEET = np.array([[-125.0, -85], [125, -85], [125, 85], [-125, 85]])


@pytest.mark.parametrize("sense", [1, -1])
@pytest.mark.parametrize("force", [0.0, 12.0, 60.0, 900.0])
def test_leans_are_those_of_a_machine_that_is_turned(sense, force):
    centre = np.array([12.0, -4.0, 175.0])
    truth = leans(12_500, centre, FEET, force, (55, (-1.0, 185.0), 150.0, sense))
    turning = "top away from the sewer" if sense > 0 else "top toward the sewer"
    hand = Hand(55, -1.0, 185.0, 150.0, force, turning)
    for edge, true in zip(feet_edges(FEET), truth, strict=True):
        moment = worst_moment(edge, hand)
        found = tipping_leans(edge, np.array([12_500.0]), centre[None], moment)[0]
        assert found == pytest.approx(true, abs=0.03)


def test_without_a_hand_it_is_the_textbooks():
    # atan(80 / 133.148) = 30.999 degrees (statics, from memory)
    edge = feet_edges(np.array([[-80.0, -80], [80, -80], [80, 80], [-80, 80]]))[0]
    found = tipping_leans(edge, np.array([13_500.0]), np.array([[0.0, 0.0, 133.148]]), 0.0)
    assert found[0] == pytest.approx(30.999, abs=1e-3)


def test_feet_inside_the_hull_bear_no_edge():
    assert len(feet_edges(np.vstack([FEET, [[0.0, 0.0]]]))) == 4


@pytest.mark.parametrize("feet", [[[0, 0], [10, 0]], [[0, 0], [10, 0], [20, 0]], [[1, 1]]])
def test_feet_on_one_line_are_refused(feet):
    with pytest.raises(StandError, match="do not span an area"):
        feet_edges(np.array(feet, float))
