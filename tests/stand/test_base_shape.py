"""A base's outlines and mass."""

import numpy as np
import pytest

from ironlace.stand.base_shape import base_mass, base_shape, bed_polygon
from ironlace.stand.errors import StandError

SQUARE = np.array([[0.0, 0], [200, 0], [200, 100], [0, 100]])


def test_outside_has_round_corners_and_the_opening_sharp_ones():
    shape = base_shape(bed_polygon(SQUARE), 8.0, 14.0, 10.0)
    assert shape.opening.area == pytest.approx(184 * 84)
    assert shape.outside.area == pytest.approx(200 * 100 + 600 * 14 + np.pi * 14**2, rel=1e-5)
    assert shape.within.area == pytest.approx(200 * 100 + 600 * 4 + np.pi * 4**2, rel=1e-4)


def test_mass_and_centre_are_those_of_walls_and_floor():
    shape = base_shape(bed_polygon(SQUARE), 8.0, 0.0, 10.0)
    mass, centre = base_mass(shape, 60.0, 6.0, 500.0)
    walls, floor = (200 * 100 - 180 * 80) * 60.0, 180 * 80 * 6.0
    assert mass == pytest.approx((walls + floor) * 500e-6)
    assert centre == pytest.approx([100, 50, (walls * 30 + floor * 3) / (walls + floor)])


@pytest.mark.parametrize(
    ("outline", "says"),
    [
        ([[0, 0], [200, 100], [200, 0], [0, 100]], "crosses itself near x, y = 100 50"),
        ([[0, 0], [200, 0]], "has 2 points"),
        ([[0, 0], [3, 0], [3, 3], [0, 3]], "holds 9 mm"),
    ],
)
def test_an_outline_that_cannot_be_is_refused(outline, says):
    with pytest.raises(StandError, match=says):
        bed_polygon(np.array(outline, float))


def test_ledge_and_walls_must_leave_room():
    bed = bed_polygon(SQUARE)
    with pytest.raises(StandError, match="ledge of 60 mm leaves no opening"):
        base_shape(bed, 60.0, 10.0, 8.0)
    with pytest.raises(StandError, match="leave no room"):
        base_shape(bed, 8.0, 10.0, 70.0)
