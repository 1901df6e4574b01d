"""What was cut away is told by the edges that differ; an overlay of the wholes is the truth."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point

import ornaments
from ironlace.ornament.stencils import read_filled
from ironlace.ornament.stencils.regions import as_region
from ironlace.ornament.stencils.remembered import Remembered
from ironlace.ornament.stencils.split.covered import cut_away


def overlay(whole, left):
    return shapely.difference(whole, left)


def cut_at_random(rng, whole):
    """A region less strips and discs, some of them across holes, some of them rings."""
    left, top, right, bottom = whole.bounds
    places = np.array([left, top]) + rng.random((12, 2)) * [right - left, bottom - top]
    cuts = [Point(p).buffer(rng.uniform(0.2, 8.0), quad_segs=6) for p in places]
    cuts[1] = cuts[1].difference(cuts[1].buffer(-0.3))
    cuts[2:6] = [
        shapely.LineString([a, b]).buffer(0.2, cap_style="flat")
        for a, b in zip(places[2:6], places[6:10], strict=True)
    ]
    return as_region(whole.difference(shapely.union_all(cuts)))


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_it_is_the_difference_of_the_wholes(seed):
    rng = np.random.default_rng(seed)
    whole = read_filled(ornaments.ornament(seed)).region
    left = cut_at_random(rng, whole)
    found, truth = cut_away(whole, left), overlay(whole, left)
    assert all(shapely.is_valid(found))
    assert sum(p.area for p in found) == pytest.approx(truth.area, abs=1e-6)
    assert shapely.union_all(found).symmetric_difference(truth).area < 1e-6
    low = [p.bounds[:2] for p in found]
    assert low == sorted(low)


def test_what_held_an_island_goes_without_the_island_and_with_what_lay_in_it():
    # an opening with an island in it, in that an opening again; the cut takes all three
    square, hole, inner = (Point(0, 0).buffer(r, cap_style="square") for r in (6, 4, 2))
    whole = MultiPolygon([square.difference(hole), inner])
    found = cut_away(whole, MultiPolygon([shapely.box(20, 0, 21, 1)]))
    assert sorted(p.area for p in found) == [16.0, 80.0]


def test_what_is_remembered_makes_no_difference():
    rng = np.random.default_rng(5)
    whole, known = read_filled(ornaments.ornament(5)).region, Remembered()
    left = whole
    for change in range(6):
        # all of it otherwise, or only one place
        place = shapely.get_coordinates(whole)[rng.integers(100, 200)]
        one = as_region(left.difference(Point(place).buffer(rng.uniform(0.2, 2.0), quad_segs=6)))
        left = one if change % 3 else cut_at_random(rng, whole)
        again = cut_away(whole, left, known)
        assert shapely.to_wkb(again).tolist() == shapely.to_wkb(cut_away(whole, left)).tolist()


def test_nothing_cut_is_nothing_and_all_cut_is_all():
    region = read_filled(ornaments.ornament(3)).region
    assert cut_away(region, region) == []
    turned = as_region(shapely.reverse(region))
    assert cut_away(region, turned) == []
    assert sum(p.area for p in cut_away(region, MultiPolygon())) == pytest.approx(region.area)


def test_corners_that_only_one_of_them_has_make_no_difference():
    whole = read_filled(ornaments.ornament(5)).region
    finer = as_region(shapely.segmentize(cut_at_random(np.random.default_rng(4), whole), 0.13))
    truth = overlay(whole, finer)
    assert shapely.union_all(cut_away(whole, finer)).symmetric_difference(truth).area < 1e-6
