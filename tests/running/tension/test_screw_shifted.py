import numpy as np
import pytest

import pulled_threads
from ironlace.running.tension.screw_curve import screw_curve
from ironlace.running.tension.screw_shifted import screw_shift, ways_come

TO_AND_FRO = np.array([0, 1, 2, 3, 4, 3, 2, 1, 0, 1, 2, 3, 4, 3, 2, 1, 0], dtype=float)


def shifts(family, play, cases, turns=TO_AND_FRO):
    rng = np.random.default_rng(5)
    for _ in range(cases):
        made = pulled_threads.tensioner(family, rng)
        read = pulled_threads.pulls(made, pulled_threads.nut(turns, play), rng, 0.03)
        yield screw_shift(turns, read, screw_curve(turns, read))


def test_a_setting_is_come_to_from_the_one_before():
    turns = np.array([0.0, 0.0, 1.0, 2.0, 2.0, 1.0, 1.0, 3.0])
    assert ways_come(turns).tolist() == [0, 0, 1, 1, 1, -1, -1, 1]


@pytest.mark.parametrize("family", ["even", "closing"])
def test_a_screw_with_play_is_told_and_its_play_bounded(family):
    found = list(shifts(family, 0.3, 12))
    assert sum(one.lags for one in found) >= 9
    assert sum(one.lag_most >= 0.3 for one in found) >= 9
    assert not any(one.moved for one in found if one.lags)


def test_a_screw_without_play_is_not_said_to_lag_but_what_would_not_show_is_told():
    found = list(shifts("gripping", 0.0, 12))
    assert sum(one.lags for one in found) <= 1
    assert all(0.0 <= one.lag_most < 0.5 for one in found)


def test_settings_come_to_one_way_tell_nothing_of_play():
    found = list(shifts("even", 0.3, 2, np.repeat([0.0, 1.0, 2.0, 3.0, 4.0], 2)))
    assert all(one.lag_most is None and not one.lags for one in found)
