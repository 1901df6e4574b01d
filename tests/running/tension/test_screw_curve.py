import numpy as np
import pytest

import pulled_threads
from ironlace.running.errors import RunningError
from ironlace.running.tension.screw_curve import screw_curve


@pytest.mark.parametrize("wrong", [None, 1 / 3, 3.0], ids=["none", "third", "thrice"])
def test_nine_pulls_tell_the_slope_whatever_scatter_was_stated(wrong):
    rng = np.random.default_rng(4)
    errors, held = [], []
    for _ in range(12):
        made = pulled_threads.tensioner("even", rng)
        turns = np.linspace(0.0, 4.0, 9)
        stated = None if wrong is None else 3.0 * wrong
        found = screw_curve(turns, pulled_threads.pulls(made, turns, rng, 0.03), stated)
        found = found.slope_at(3.0)
        true = float(made.slope(3.0))
        errors.append((found.value - true) / 8.0)
        held.append(found.low <= true <= found.high)
    assert np.sqrt(np.mean(np.square(errors))) < 0.75
    assert np.mean(held) > 0.65


def test_readings_above_contact_leave_floor_and_contact_together():
    rng = np.random.default_rng(2)
    made = pulled_threads.tensioner("even", rng)
    turns = np.repeat([2.0, 3.0, 4.0], 3)
    found = screw_curve(turns, pulled_threads.pulls(made, turns, rng, 0.03))
    assert not found.apart
    low = np.array([0, 0, 0, 1, 1, 2, 3, 4, 4.0])
    assert screw_curve(low, pulled_threads.pulls(made, low, rng, 0.02)).apart


def test_a_setting_for_a_tension_gives_that_tension():
    turns = np.array([0, 0, 1, 1, 2, 2, 3, 3, 4.0])
    pull = 10.0 + 30.0 * np.maximum(turns - 0.5, 0.0) + np.array([0.5, -0.5] * 4 + [0.2])
    found = screw_curve(turns, pull)
    assert found.tension_at(found.turns_at(70.0).value).value == pytest.approx(70.0, abs=1.5)
    assert found.turns_between(60.0, 90.0).value == pytest.approx(1.0, abs=0.1)


def test_two_settings_are_no_curve():
    with pytest.raises(RunningError, match="3 settings"):
        screw_curve(np.repeat([0.0, 1.0], 4), np.arange(8.0) + 10.0)


def test_a_slope_that_may_grow_is_held_whether_it_grows_or_not():
    rng = np.random.default_rng(8)
    turns = np.linspace(0.0, 4.0, 9)
    for family in ("even", "stiffening"):
        held = []
        for _ in range(12):
            made = pulled_threads.tensioner(family, rng)
            found = screw_curve(turns, pulled_threads.pulls(made, turns, rng, 0.03))
            bound = found.slope_at(3.0)
            held.append(bound.low <= float(made.slope(3.0)) <= bound.high)
        assert np.mean(held) > 0.7


@pytest.mark.parametrize(("share", "bends"), [(0.12, 1), (0.0, 0), (-0.08, -1)])
def test_a_curve_that_surely_bends_is_told_to_and_no_other(share, bends):
    turns = np.repeat(np.linspace(0.0, 4.0, 9), 2)
    over = np.maximum(turns - 0.5, 0.0)
    pull = 10.0 + 20.0 * over * (1.0 + share * over) + np.tile([0.6, -0.6], 9)
    found = screw_curve(turns, pull)
    assert found.bends == bends
    ends = found.slope_at(1.5), found.slope_at(4.0)
    for bound, at in zip(ends, (1.5, 4.0), strict=True):
        assert bound.low < 20.0 * (1.0 + 2.0 * share * (at - 0.5)) < bound.high
    assert found.tension_at(found.turns_at(60.0).value).value == pytest.approx(60.0, abs=1.0)


def test_where_the_spring_takes_hold_is_told_as_wide_as_it_is_known():
    rng = np.random.default_rng(8)
    turns = np.repeat(np.arange(0.0, 5.01, 0.5), 2)
    held = []
    for _ in range(16):
        contact, rate, floor = rng.uniform(0.3, 1.2), rng.uniform(14, 34), rng.uniform(5, 14)
        pull = floor + rate * np.maximum(turns - contact, 0.0)
        found = screw_curve(turns, pull * (1.0 + 0.035 * rng.normal(size=len(turns))))
        held.append(found.contact_turns.low <= contact <= found.contact_turns.high)
    assert np.mean(held) > 0.75
