import numpy as np
import pytest

import turned_heads
from ironlace.running.errors import RunningError
from ironlace.running.motion.curves import CamCurve, CrankCurve
from ironlace.running.motion.joint_fit import Readings, fit_motions
from ironlace.running.motion.meeting import meeting


def fitted(made, rng, turns, alone=0, **how):
    read, _ = turned_heads.readings(made, turns, ("needle bar", "shuttle"), rng, **how)
    height = np.column_stack((read["needle bar"], read["shuttle"]))
    height[:alone, 1] = np.nan
    readings = Readings(np.radians(read["wheel"]), height, 0.1, np.radians(2.0))
    return fit_motions(readings, (CrankCurve(), CamCurve()))


def plan(made, rng):
    near = np.array([-10, -6, -2, 2, 6, 10.0])
    low = made.lowest("needle bar") + rng.uniform(-3, 3)
    turns = [low + near, low + np.array([-90.0, 90.0]), made.meets_at + rng.uniform(-3, 3) + near]
    return np.concatenate(turns)


def test_fourteen_settings_tell_the_rise_to_a_tenth_of_a_millimetre():
    rng = np.random.default_rng(12)
    errors, held = [], []
    refused = 0
    for _ in range(14):
        made = turned_heads.head("cranked", rng)
        try:
            fit = fitted(made, rng, plan(made, rng), 8, misread=0.0)
            found = meeting(fit, 0, 1, made.meeting, 0.0)
        except RunningError:  # the shuttle turns there, or is too slow to be known
            refused += 1
            continue
        errors.append(found.rise.value - made.rise)
        held.append(found.rise.low <= made.rise <= found.rise.high)
    assert np.sqrt(np.mean(np.square(errors))) < 0.13  # 0.09 in long runs, see bench/
    assert np.mean(held) > 0.75
    assert refused < 5


def test_a_meeting_where_the_shuttle_turns_is_refused():
    rng = np.random.default_rng(3)
    made = turned_heads.head("cranked", rng)
    turn = made.lowest("shuttle")
    low = turn - 25.0
    at = np.concatenate((low + np.arange(0.0, 360.0, 20.0), turn + np.array([-9, -3, 3, 9.0])))
    angle = np.radians(at)
    bar = 15.0 * (1.0 - np.cos(np.radians(at - low))) + rng.normal(0.0, 0.05, len(at))
    shuttle = made.at("shuttle", at) + rng.normal(0.0, 0.05, len(at))
    readings = Readings(angle, np.column_stack((bar, shuttle)), 0.1, np.radians(1.0))
    fit = fit_motions(readings, (CrankCurve(), CamCurve()))
    with pytest.raises(RunningError, match="turns back within"):
        meeting(fit, 0, 1, float(made.at("shuttle", turn + 4.0)), 0.05)


def test_a_place_that_the_shuttle_never_reaches_is_refused():
    rng = np.random.default_rng(7)
    made = turned_heads.head("cranked", rng)
    fit = fitted(made, rng, np.arange(0.0, 360.0, 15.0), misread=0.0)
    with pytest.raises(RunningError, match="never reads 900 mm"):
        meeting(fit, 0, 1, 900.0, 0.1)


def test_pairs_far_from_the_meeting_tell_nothing_of_it():
    rng = np.random.default_rng(7)
    made = turned_heads.head("cranked", rng)
    turns = made.meets_at + np.array([40, 55, 70, 90, 120, 150, 180, 210, 240, 270, 300, 330.0])
    fit = fitted(made, rng, turns, misread=0.0)
    with pytest.raises(RunningError, match="on both sides of it are needed"):
        meeting(fit, 0, 1, made.meeting, 0.1)
