"""Depths of dots whose depth is known, by slopes written place by place."""

import cv2
import numpy as np
import pytest

from ironlace.marks.reading.dot_depth import dot_depth
from ironlace.marks.reading.dot_features import bowl_fit
from ironlace.marks.reading.read_marks import depth_kind
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.workshop.marks.reading_files import learned

MM = 0.022


def relief_of_a_dot(wide, deep, power, noise=0.0, at=(60.0, 60.0), seed=0):
    """Slopes of one bowl on a plane as a relief shows them, and noise laid over them."""
    ys, xs = (np.mgrid[:484, :484] - 1.5) / 4
    x, y = (xs - at[0]) * MM, (ys - at[1]) * MM
    r = np.maximum(np.hypot(x, y), 1e-9)
    steep = np.where(r < wide / 2, deep * power * (2 * r / wide) ** power / r, 0.0)
    slopes = np.stack([steep * x / r, steep * y / r])
    slopes = np.stack([cv2.GaussianBlur(one, (0, 0), 3.2) for one in slopes])
    slopes = slopes.reshape(2, 121, 4, 121, 4).mean(axis=(2, 4))
    slopes += noise * np.random.default_rng(seed).standard_normal(slopes.shape)
    return ReliefSlopes(slopes.astype(np.float32), MM)


@pytest.mark.parametrize("power", [1.6, 2.4, 3.5])
@pytest.mark.parametrize("wide", [0.22, 0.27, 0.33, 0.41])
def test_a_dot_is_as_deep_as_it_was_made_whatever_its_width(wide, power):
    found = dot_depth(relief_of_a_dot(wide, 0.06, power), 60.0, 60.0, 0.3)
    assert found.deep_mm == pytest.approx(0.06, rel=0.07)
    assert found.width_mm == pytest.approx(wide, rel=0.07)


def test_depths_move_no_further_than_widths_do():
    # the judge's bowl jumps from one of its eight widths to the next, and depths with it
    wides = np.linspace(0.24, 0.36, 13)
    reliefs = [relief_of_a_dot(w, 0.06, 2.4, noise=0.01, seed=7) for w in wides]
    told = np.array([dot_depth(one, 60.0, 60.0, 0.3).deep_mm for one in reliefs])
    judged = np.array([bowl_fit(one, 60.0, 60.0, 0.012).deep_mm for one in reliefs])
    assert np.abs(np.diff(np.log(told))).max() < 0.08 < np.abs(np.diff(np.log(judged))).max()


def test_a_middle_that_lies_a_little_off_costs_nothing():
    relief = relief_of_a_dot(0.3, 0.06, 2.4, at=(61.7, 58.6))
    assert dot_depth(relief, 60.0, 60.0, 0.3).deep_mm == pytest.approx(0.06, rel=0.07)


def test_what_lies_beyond_the_window_does_not_count():
    relief = relief_of_a_dot(0.3, 0.06, 2.4)
    other = relief_of_a_dot(0.3, 0.09, 2.0, at=(90.0, 60.0))
    both = ReliefSlopes(relief.slopes + other.slopes, MM)
    assert dot_depth(both, 60.0, 60.0, 0.3).deep_mm == pytest.approx(0.06, rel=0.1)


def test_of_one_photograph_slopes_along_the_light_tell_as_much():
    relief = relief_of_a_dot(0.3, 0.06, 2.4)
    alone = np.stack([relief.slopes[0], np.zeros_like(relief.slopes[1])])
    found = dot_depth(ReliefSlopes(alone, MM, (1.0, 0.0)), 60.0, 60.0, 0.3)
    assert found.deep_mm == pytest.approx(0.06, rel=0.1)


def test_where_nothing_is_known_no_depth_is_told():
    nothing = ReliefSlopes(np.zeros((2, 121, 121), np.float32), MM)
    assert dot_depth(nothing, 60.0, 60.0, 0.3) is None


def test_what_is_deeper_than_digits_or_stands_beside_worn_ones_may_be_a_pit():
    assert depth_kind(0.9, 0.06, 0.05) == "clear"
    assert depth_kind(0.9, 0.06, 0.02) == "pitted"
    assert depth_kind(0.6, 0.02, 0.015) == "pitted"
    assert depth_kind(0.6, 0.02, 0.025) == "fair"
    assert depth_kind(0.3, 0.06, 0.01) == "faint"


@pytest.mark.parametrize("kind", ["clear", "fair", "faint", "pitted"])
def test_intervals_hold_the_value_and_go_lowest_where_pits_are(kind):
    settings = learned().settings
    low, high = settings[f"depth_low_{kind}"], settings[f"depth_high_{kind}"]
    assert 0 < low < 1 < high
    assert low >= settings["depth_low_pitted"]
