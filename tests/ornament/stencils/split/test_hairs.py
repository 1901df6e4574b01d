"""Hairs of film and the crumbs that hang on them go; what is larger than a crumb stays."""

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon, box

from ironlace.ornament.stencils.split.hairs import without_hairs

HAIR_MM, CRUMB_MM2 = 0.05, 0.5


def taken_in(opening):
    out, _ = without_hairs(np.array([opening], dtype=object), HAIR_MM, CRUMB_MM2)
    return shapely.union_all(out)


@pytest.mark.parametrize("slant", [0.0, 0.4, 1.1])
@pytest.mark.parametrize(("width", "goes"), [(0.01, True), (0.04, True), (0.08, False)])
def test_a_hair_of_film_in_an_opening_goes_and_a_wider_slip_stays(slant, width, goes):
    hair = LineString([(-1, 0), (2 * np.cos(slant), 2 * np.sin(slant))]).buffer(width / 2)
    opening = box(0, -4, 5, 4).difference(hair)
    filled = taken_in(opening).intersection(hair).area / box(0, -4, 5, 4).intersection(hair).area
    assert filled > 0.95 if goes else filled < 0.05


def test_a_crumb_on_a_hair_goes_with_it_and_a_disc_of_film_does_not():
    def with_disc(radius):
        held = Point(2.5, 0).buffer(radius).union(box(-1, -0.015, 2.5, 0.015))
        return box(0, -4, 5, 4).difference(held)

    assert taken_in(with_disc(0.2)).equals(Polygon(box(0, -4, 5, 4).exterior))
    large = with_disc(1.5)
    assert taken_in(large).equals(large)
