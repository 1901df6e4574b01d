"""Evenings of pulls that are not of one screw, one thread or one scale, made here."""

import numpy as np
import pytest

from ironlace.running.tension.one_evening import Amiss, one_evening

SETTINGS = np.repeat(np.arange(0.0, 5.01, 0.5), 2)


def tension(turns, rate=22.0, contact=0.7, floor=9.0):
    return floor + rate * np.maximum(np.asarray(turns) - contact, 0.0)


def scattered(rng, level):
    return np.round(level * (1.0 + 0.03 * rng.normal(size=len(level))), 1)


def told(spoil, seed=3, cases=40):
    rng = np.random.default_rng(seed)
    return [one_evening(*spoil(rng)) for _ in range(cases)]


def test_good_evenings_lie_on_one_curve():
    found = told(lambda rng: (SETTINGS, scattered(rng, tension(SETTINGS, rng.uniform(12, 35)))))
    assert sum(one.amiss is not None for one in found) == 0
    assert sum(one.by_eye for one in found) <= 2
    assert all(one.keep.all() for one in found)


@pytest.mark.parametrize("by", [-1.0, 1.0])
def test_a_turn_counted_once_too_often_is_told_with_its_setting(by):
    struck = np.where(SETTINGS > 2.6, SETTINGS + by, SETTINGS)
    found = told(lambda rng: (SETTINGS, scattered(rng, tension(struck))))
    assert sum(one.amiss is Amiss.CHANGED for one in found) >= 38
    assert sum(one.since == 3.0 for one in found) >= 36


def test_another_thread_from_some_row_on_is_told():
    level = tension(SETTINGS) * np.where(SETTINGS > 2.6, 1.4, 1.0)
    found = told(lambda rng: (SETTINGS, scattered(rng, level)))
    assert sum(one.amiss is Amiss.CHANGED or one.by_eye for one in found) >= 36


def test_at_its_stop_the_screw_moves_nothing_and_what_was_read_there_is_left_out():
    level = tension(np.minimum(SETTINGS, 3.2))
    found = told(lambda rng: (SETTINGS, scattered(rng, level)))
    stood = [one for one in found if one.amiss is Amiss.LEVELS_OFF]
    assert len(stood) >= 30
    assert all(one.keep[SETTINGS < 2.9].all() and not one.keep[-4:].any() for one in stood)


def test_a_scale_at_its_end_is_left_out_and_a_coarse_one_is_not_taken_for_it():
    found = told(lambda rng: (SETTINGS, np.minimum(scattered(rng, tension(SETTINGS)), 70.0)))
    assert all(one.amiss is Amiss.END_OF_SCALE for one in found)
    assert all(one.since >= 3.0 and not one.keep[-2:].any() for one in found)
    coarse = told(
        lambda rng: (SETTINGS, 5.0 * np.round(scattered(rng, tension(SETTINGS, 16.0)) / 5.0))
    )
    assert not any(one.amiss for one in coarse)


def test_settings_by_eye_count_once_each():
    def spoil(rng):
        off = np.repeat(rng.uniform(-0.3, 0.3, 11), 2)
        return SETTINGS, scattered(rng, tension(SETTINGS + off, 30.0))

    found = told(spoil)
    assert sum(one.by_eye for one in found) >= 25


def test_of_few_pulls_nothing_is_said():
    turns = np.repeat([0.0, 2.0, 4.0], 2)
    assert one_evening(turns, np.array([9.0, 9.0, 80.0, 81.0, 20.0, 21.0])).amiss is None


def test_whether_a_setting_was_come_to_again():
    once = one_evening(SETTINGS, tension(SETTINGS))
    again = one_evening(np.append(SETTINGS, 0.0), np.append(tension(SETTINGS), 9.0))
    assert (once.again, again.again) == (False, True)


def test_a_long_record_is_asked_too_and_one_that_shows_nothing_at_most_settings():
    turns = np.linspace(0.0, 5.0, 3_000)
    rng = np.random.default_rng(4)
    good = one_evening(turns, scattered(rng, tension(turns)))
    spoilt = one_evening(turns, scattered(rng, tension(np.where(turns > 2.6, turns - 1.0, turns))))
    assert good.amiss is None
    assert spoilt.amiss is Amiss.CHANGED
    assert abs(spoilt.since - 2.6) < 5.0 / 29  # as near as the rows that are asked lie
    few = np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 10.0, 12.0, 30.0, 33.0])
    assert one_evening(np.repeat([0.0, 0.5, 1.0, 1.5, 2.0, 3.0], 2), few).amiss is None
