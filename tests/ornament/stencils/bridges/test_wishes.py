"""Bridges locked, kept and forbidden; checked by geometry alone."""

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import ornaments
from ironlace.ornament.stencils import (
    BridgeLine,
    Forbidden,
    StencilError,
    Wishes,
    forbidden_at,
    places_for,
    plan_sheets,
)

DRAWING = ornaments.ornament(2)


@pytest.fixture(scope="module")
def first(laser_once):
    return plan_sheets(DRAWING, laser_once, "bridges")


@pytest.fixture(scope="module")
def laser_once():
    from ironlace.ornament.stencils import known_process

    return known_process("film-laser")


def lines(plan):
    return [b.line for layer in plan.layers for b in layer.bridges]


def line_string(line):
    return shapely.LineString([(line.ax, line.ay), (line.bx, line.by)])


def near(line, others, within=0.05):
    return any(
        np.hypot(
            (line.ax + line.bx - o.ax - o.bx) / 2, (line.ay + line.by - o.ay - o.by) / 2
        ) < within
        for o in others
    )  # fmt: skip


def test_what_is_kept_stays(first, laser_once):
    again = plan_sheets(DRAWING, laser_once, "bridges", wishes=Wishes(kept=tuple(lines(first))))
    assert all(near(line, lines(first)) for line in lines(again))
    assert len(lines(again)) == len(lines(first))


@settings(
    max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(number=st.integers(0, 40), share=st.floats(0, 0.999))
def test_a_bridge_may_be_locked_at_any_of_its_places(first, laser_once, number, share):
    before = lines(first)
    bridge = before[number % len(before)]
    drawn = first.layers[0].drawn
    places = places_for(drawn, laser_once, bridge)
    assert near(bridge, [p for p, _ in places], within=2.0)
    place, area = places[int(share * len(places))]
    assert area > 0
    middle = shapely.Point((place.ax + place.bx) / 2, (place.ay + place.by) / 2)
    assert drawn.buffer(1e-6).contains(middle)
    plan = plan_sheets(DRAWING, laser_once, "bridges", wishes=Wishes(locked=(place,)))
    locked = [b for b in plan.layers[0].bridges if b.locked]
    assert len(locked) == 1
    # where its end meets a corner, mending thin webs takes a tenth of a millimetre off it
    assert near(locked[0].line, [place], within=0.3)
    assert plan.report["sheets"][0]["pieces"] == 1


def test_a_bridge_to_a_tip_that_its_line_runs_past_is_built(laser_once):
    # one of the places offered: from it the line goes on through the opening, past the tip
    place = BridgeLine(12.194, 3.5079, 13.1767, 2.9827)
    plan = plan_sheets(DRAWING, laser_once, "bridges", wishes=Wishes(locked=(place,)))
    assert near(place, [b.line for b in plan.layers[0].bridges if b.locked], within=0.3)


def test_no_bridge_stands_in_a_forbidden_place_and_the_others_stay(first, laser_once):
    before = lines(first)
    place = forbidden_at(before[0], laser_once)
    wishes = Wishes(kept=tuple(before), forbidden=(place,))
    plan = plan_sheets(DRAWING, laser_once, "bridges", wishes=wishes)
    reach = place.radius + laser_once.bridge_width_mm / 2
    away = [line_string(b).distance(shapely.Point(place.x, place.y)) for b in lines(plan)]
    assert min(away) >= reach - 1e-3
    assert sum(near(b, lines(plan)) for b in before[1:]) == len(before) - 1
    assert plan.report["sheets"][0]["pieces"] == 1


def test_a_line_that_crosses_nothing_is_left_out(laser_once):
    plan = plan_sheets(
        DRAWING, laser_once, "bridges", wishes=Wishes(locked=(BridgeLine(-9, -9, -8, -9),))
    )
    assert not any(b.locked for b in plan.layers[0].bridges)
    assert places_for(plan.layers[0].drawn, laser_once, BridgeLine(-9, -9, -8, -9)) == []


def test_numbers_that_are_not_finite_are_refused():
    with pytest.raises(StencilError, match="not finite"):
        Wishes(locked=(BridgeLine(0, 0, float("nan"), 1),))
    with pytest.raises(StencilError, match="not finite"):
        Wishes(forbidden=(Forbidden(float("inf"), 0, 1),))
