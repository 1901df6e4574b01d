import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, Polygon, box

import ornaments
from ironlace.ornament.stencils import read_filled
from ironlace.ornament.stencils.regions import as_region
from ironlace.ornament.stencils.webs import (
    hanging_by_threads,
    long_tongues,
    narrow_openings,
    thin_webs,
    widened,
    with_fewer_corners,
)


def two_bars(gap):
    return MultiPolygon([box(0, 0, 20, 5), box(0, 5 + gap, 20, 10 + gap)])


@pytest.mark.parametrize("gap", [0.1, 0.3, 0.5, 0.65])
def test_a_thin_web_is_found_with_its_width_and_length(gap):
    (web,) = thin_webs(two_bars(gap), 0.7)
    assert web.width_mm == pytest.approx(gap, abs=0.01)
    assert web.length_mm == pytest.approx(20, abs=3.5)
    assert 5 <= web.where[1] <= 5 + gap


@pytest.mark.parametrize("gap", [0.7, 0.75, 2.0])
def test_a_web_as_wide_as_asked_is_not_thin(gap):
    assert thin_webs(two_bars(gap), 0.7) == []


def test_the_pointed_tip_of_a_gap_is_no_web():
    wedge = Polygon([(0, 0), (20, 0), (20, 10), (0, 10)]).difference(
        Polygon([(5, 5), (25, 3), (25, 7)])
    )
    assert thin_webs(as_region(wedge), 0.7) == []


def test_a_disc_near_a_bar_is_a_short_web():
    region = MultiPolygon([box(0, 0, 20, 5), Point(10, 8.3).buffer(3, 64)])
    (web,) = thin_webs(region, 0.7)
    assert web.width_mm == pytest.approx(0.3, abs=0.02)
    # a disc stays within 0.4 mm more of a line along a chord of 2 sqrt(2 r h)
    assert web.length_mm < 2 * np.sqrt(2 * 3 * 0.4) * 1.6


@pytest.mark.parametrize("gap", [0.15, 0.4, 0.6])
def test_widening_makes_a_web_as_wide_as_asked_from_both_sides(gap):
    region = two_bars(gap)
    after = widened(region, thin_webs(region, 0.7), 0.7)
    upper, lower = sorted(after.geoms, key=lambda p: p.centroid.y)
    assert upper.distance(lower) >= 0.7 - 1e-9
    assert upper.distance(lower) < 0.75
    lost = [box(0, 0, 20, 5).difference(after).area, region.geoms[1].difference(after).area]
    assert lost[0] == pytest.approx(lost[1], rel=0.2)
    assert thin_webs(after, 0.7) == []


def facing(half_angle, gap):
    """Two lozenges, tip to tip: a disc covers what lies between from either side."""
    wide = 4 * np.tan(np.radians(half_angle))
    lozenge = Polygon([(0, 0), (wide, 4), (0, 8), (-wide, 4)])
    upper = shapely.transform(lozenge, lambda xy: xy + np.array([0.05, gap / 2]))
    return MultiPolygon([upper, shapely.transform(lozenge, lambda xy: xy * [1, -1] - [0, gap / 2])])


@pytest.mark.parametrize("half_angle", [10, 25, 45, 70])
@pytest.mark.parametrize("gap", [0.1, 0.3, 0.5])
def test_a_web_between_two_tips_is_found_and_widened_from_both_sides_or_one(half_angle, gap):
    region = facing(half_angle, gap)
    (web,) = thin_webs(region, 0.7)
    assert web.width_mm == pytest.approx(np.hypot(0.05, gap), abs=0.01)
    assert shapely.Point(web.where).distance(shapely.Point(0.025, 0)) < 0.1
    for keep in (None, 0, 1):
        after, left = region, [web]
        for n in range(5):
            # as a plan does: what is left thin at the rim of the first cut is mended in its turn
            wide = 0.7 * (1.0 + 0.08 * n)
            more = [w.widened(wide) if keep is None else w.set_back(wide, keep) for w in left]
            after = as_region(after.difference(shapely.union_all(more)))
            left = thin_webs(after, 0.7)
            if not left:
                break
        assert after.geoms[0].distance(after.geoms[1]) > 0.8 * 0.7


@pytest.mark.parametrize("half_angle", [10, 45])
def test_tips_well_apart_and_a_knob_beyond_a_neck_are_no_web(half_angle):
    assert thin_webs(facing(half_angle, 0.75), 0.7) == []
    # the neck leads to a place no wider than the web: nothing is held there
    bulb = Point(5, 5).buffer(0.3).union(box(5, 4.85, 9, 5.15))
    solid = box(0, 0, 7, 10).difference(bulb)
    assert not any(web.between_tips for web in thin_webs(MultiPolygon([solid]), 0.7))


@pytest.mark.parametrize("radius", [0.25, 0.5, 0.8, 2.0])
def test_a_web_beside_an_opening_is_found_however_small_the_opening(radius):
    def beside(gap):
        other = Point(2 * radius + gap, 0).buffer(radius, 32)
        return thin_webs(MultiPolygon([Point(0, 0).buffer(radius, 32), other]), 0.7)

    for gap in (0.3, 0.46, 0.54):
        (web,) = beside(gap)
        assert web.width_mm == pytest.approx(gap, abs=0.01)
    assert beside(0.71) == []


def test_setting_back_leaves_the_other_shore_where_it_is():
    region = two_bars(0.3)
    (web,) = thin_webs(region, 0.7)
    for keep in web.shores:
        after = as_region(region.difference(web.set_back(0.7, keep)))
        gone = [bar.area - bar.intersection(after).area for bar in region.geoms]
        assert min(gone) == pytest.approx(0, abs=1e-6)
        assert max(gone) > 20 * 0.35
        assert thin_webs(after, 0.7) == []


def test_a_sliver_that_is_thin_all_over_is_found():
    ring = box(0, 0, 20, 10).difference(box(5, 4.8, 15, 5.1))
    (web,) = thin_webs(as_region(ring), 0.7)
    assert web.width_mm == pytest.approx(0.3, abs=0.02)


def test_a_long_tongue_is_found_and_measured():
    comb = box(0, 0, 40, 30).difference(box(18, 0, 20, 25))
    (tongue,) = long_tongues(as_region(comb), 15.0)
    assert tongue.length_mm == pytest.approx(25, abs=1.5)
    assert tongue.width_mm == pytest.approx(2, abs=0.3)


def test_an_island_is_no_tongue():
    assert long_tongues(as_region(box(0, 0, 40, 40).difference(box(19, 5, 21, 35))), 15.0) == []


def test_a_slot_too_narrow_is_found_and_a_wide_one_is_not():
    assert len(narrow_openings(MultiPolygon([box(0, 0, 10, 0.3)]), 0.4)) == 1
    assert narrow_openings(MultiPolygon([box(0, 0, 10, 0.5)]), 0.4) == []


def test_a_knob_on_a_thread_is_found_and_a_plain_tip_is_not():
    knob = box(10, 5, 10.02, 6).union(Point(10.01, 6.2).buffer(0.25))
    tip = Polygon([(14, 5), (15, 5), (14.5, 8)])
    sheet = box(0, 0, 20, 5).union(knob).union(tip)
    region = MultiPolygon([box(5, 5, 18, 12).difference(sheet)])
    (found,) = hanging_by_threads(region, 0.15)
    assert found.contains(Point(10.01, 6.2))
    assert not found.intersects(Point(14.5, 7))


def test_looking_near_a_place_finds_what_looking_everywhere_finds_there():
    bars = MultiPolygon([box(20 * n, y, 20 * n + 15, y + 3) for n in range(4) for y in (0, 3.4)])
    everywhere = thin_webs(bars, 0.7)
    assert len(everywhere) == 4
    (near,) = thin_webs(bars, 0.7, near=[everywhere[2].shape])
    assert near.width_mm == pytest.approx(everywhere[2].width_mm)
    assert near.shape.symmetric_difference(everywhere[2].shape).area < 0.05
    assert thin_webs(bars, 0.7, near=[]) == []


@pytest.mark.parametrize("tolerance", [0.003, 0.02])
def test_fewer_corners_stay_within_the_tolerance(tolerance):
    region = read_filled(ornaments.ornament(0)).region
    lighter = with_fewer_corners(region, tolerance)
    assert lighter.is_valid
    assert shapely.get_num_coordinates(lighter) < shapely.get_num_coordinates(region)
    assert shapely.hausdorff_distance(region.boundary, lighter.boundary) <= tolerance + 1e-9
    assert [len(p.interiors) for p in lighter.geoms] == [len(p.interiors) for p in region.geoms]


@pytest.mark.parametrize("seed", [3, 8, 37, 105])
def test_cluster_by_cluster_the_same_webs_are_found(seed, monkeypatch):
    region = read_filled(ornaments.ornament(seed)).region
    told = []
    for few in (10**6, 0):
        monkeypatch.setattr("ironlace.ornament.stencils.webs._FEW", few)
        told.append(sorted(thin_webs(region, 0.7), key=lambda web: web.shape.bounds))
    whole, parted = told
    assert len(whole) == len(parted)
    for one, other in zip(whole, parted, strict=True):
        assert one.shape.symmetric_difference(other.shape).area < 2e-3
        assert one.width_mm == pytest.approx(other.width_mm, abs=5e-3)
