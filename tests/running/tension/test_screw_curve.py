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
        found = screw_curve(turns, pulled_threads.pulls(made, turns, rng, 0.03), stated).slope_gf
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
