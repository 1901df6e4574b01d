import numpy as np
import pytest

import turned_heads
from ironlace.running.motion.curves import CamCurve, CrankCurve
from ironlace.running.motion.figures import figure_of, stroke_taken, turning_taken, unguarded
from ironlace.running.motion.joint_fit import Readings, fit_motions, widest_gap


def fitted(made, rng, motion, count, **how):
    turns = np.arange(count) * 360.0 / count + rng.uniform(0.0, 15.0)
    read, wrong = turned_heads.readings(made, turns, (motion,), rng, **how)
    curve = CrankCurve() if motion == "needle bar" else CamCurve()
    readings = Readings(np.radians(read["wheel"]), read[motion][:, None], 0.1, np.radians(2.0))
    return fit_motions(readings, (curve,)), wrong


@pytest.mark.parametrize("law", ["normal", "triangular"])
def test_ninety_per_cent_intervals_hold_the_truth_about_so_often(law):
    rng = np.random.default_rng(21)
    held, strokes = [], []
    for _ in range(24):
        made = turned_heads.head("cranked", rng)
        fit, _ = fitted(made, rng, "needle bar", 24, law=law, misread=0.0)
        found, true = figure_of(fit, stroke_taken(fit, 0)), made.stroke("needle bar")
        strokes.append(found.value - true)
        held.append(found.low <= true <= found.high)
        low = figure_of(fit, turning_taken(fit, 0, top=False))
        off = np.radians(made.lowest("needle bar")) - low.value
        off = (off + np.pi) % (2.0 * np.pi) - np.pi
        held.append(low.low <= low.value + off <= low.high)
    assert 0.78 <= np.mean(held) <= 1.0  # 48 intervals: long runs stand in bench/
    assert np.sqrt(np.mean(np.square(strokes))) < 0.15


def test_misread_values_are_left_out_and_good_ones_kept():
    rng = np.random.default_rng(5)
    found = good = missed = false = 0
    for _ in range(12):
        made = turned_heads.head("cranked", rng)
        fit, wrong = fitted(made, rng, "needle bar", 24, misread=0.06)
        out = {int(row) for row, _ in np.argwhere(fit.left_out)}
        bad = {row for row, _ in wrong}
        found, good = found + len(bad), good + 24 - len(bad)
        missed, false = missed + len(bad - out), false + len(out - bad)
    assert found > 8
    assert missed <= 1
    assert false <= 0.02 * good


def test_a_wrong_stated_scatter_is_put_right_by_the_readings():
    rng = np.random.default_rng(9)
    made = turned_heads.head("cranked", rng)
    turns = np.arange(0.0, 360.0, 6.0)
    read, _ = turned_heads.readings(made, turns, ("needle bar",), rng, misread=0.0)
    height = read["needle bar"][:, None]
    readings = Readings(np.radians(read["wheel"]), height, 0.03, np.radians(0.7))
    fit = fit_motions(readings, (CrankCurve(),))
    assert 1.3 < np.degrees(fit.angle_scatter) < 2.7


def test_a_reading_that_no_other_checks_is_found():
    angle = np.radians([-20, -15, -10, -5, 0, 5, 10, 15, 20, 180.0])
    height = (15.0 * (1.0 - np.cos(angle)))[:, None]
    rng = np.random.default_rng(1)
    readings = Readings(angle, height + rng.normal(0, 0.05, height.shape), 0.1, np.radians(2.0))
    fit = fit_motions(readings, (CrankCurve(),))
    assert (9, 0) in unguarded(fit, stroke_taken(fit, 0))


def test_the_widest_gap_goes_over_the_start():
    assert np.degrees(widest_gap(np.radians([10.0, 100.0, 200.0]))) == pytest.approx(170.0)
