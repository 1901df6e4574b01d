import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point

import ornaments
from ironlace.ornament.stencils import cut_plan, for_kerf, plan_sheets, read_filled
from ironlace.ornament.stencils.cut.cutting import cut_length, nearest_order, shorter_order


@pytest.mark.parametrize("radius", [0.5, 2.0, 10.0, 40.0])
@pytest.mark.parametrize("kerf", [0.05, 0.15, 0.4])
def test_the_kerf_is_taken_off_circles_to_five_microns(radius, kerf):
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
        f'viewBox="0 0 100 100"><circle cx="50" cy="50" r="{radius}"/></svg>'
    )
    driven = for_kerf(read_filled(svg).region, kerf)
    away = [Point(50, 50).distance(Point(p)) for p in driven.geoms[0].exterior.coords]
    assert np.abs(np.array(away) - (radius - kerf / 2)).max() < 0.005
    edge = driven.geoms[0].exterior
    assert abs(Point(50, 50).distance(edge) - (radius - kerf / 2)) < 0.005


def test_the_worked_hole_of_ten_millimetres_is_driven_at_9_85():
    # F4 of the check values: a hole of 10.00 with kerf 0.15 is drawn 9.85 (common practice)
    driven = for_kerf(Point(0, 0).buffer(5.0, 256), 0.15)
    left, _, right, _ = driven.bounds
    assert right - left == pytest.approx(9.85, abs=0.002)


def rings_at(points):
    turn = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    return [np.asarray(p) + 0.5 * np.stack([np.cos(turn), np.sin(turn)], 1) for p in points]


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 40))
def test_the_way_is_never_longer_than_to_the_nearest(seed, count):
    rings = rings_at(np.random.default_rng(seed).uniform(0, 100, (count, 2)))
    home = np.zeros(2)

    def length(order, starts):
        p = np.array([home, *(rings[r][s] for r, s in zip(order, starts, strict=True)), home])
        return np.linalg.norm(np.diff(p, axis=0), axis=1).sum()

    plain = nearest_order(rings, home)
    better = shorter_order(rings, *plain, home)
    assert sorted(better[0]) == list(range(count))
    assert length(*better) <= length(*plain) + 1e-9


def test_seven_cuts_are_near_the_shortest_way_of_all():
    points = np.random.default_rng(5).uniform(0, 60, (7, 2))
    rings = [np.tile(p, (3, 1)) for p in points]
    home = np.zeros(2)
    best = min(
        np.linalg.norm(np.diff([home, *points[list(o)], home], axis=0), axis=1).sum()
        for o in itertools.permutations(range(7))
    )
    order, _ = shorter_order(rings, *nearest_order(rings, home), home)
    found = np.linalg.norm(np.diff([home, *points[order], home], axis=0), axis=1).sum()
    assert found <= 1.05 * best


def test_the_edge_is_cut_last_and_everything_once(laser):
    sheet = plan_sheets(ornaments.ornament(2), laser, "bridges").sheets[0]
    plan = cut_plan(sheet, laser)
    assert len(plan.cuts) == len(sheet.openings.geoms) + len(sheet.register_mm) + 1
    spans = [np.ptp(c[:, 0]) for c in plan.cuts]
    assert spans[-1] == max(spans)
    assert plan.travel_mm <= plan.nearest_travel_mm + 1e-9
    told = cut_length(sheet, laser)
    assert (told.cut_mm, told.lost) == (plan.cut_mm, plan.lost)
    assert told.seconds == pytest.approx(plan.seconds - plan.travel_mm / laser.travel_mm_s)
    assert plan.seconds > plan.cut_mm / laser.cut_mm_s
