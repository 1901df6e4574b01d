"""Path data to curves, against what SVG says of them."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.ornament.files.svg_curves import arc_curves, ellipse_ring, rings_of_path
from ironlace.ornament.files.svg_root import SvgFault
from ironlace.ornament.outline.drawing import curve_points


@settings(max_examples=60, deadline=None)
@given(
    st.floats(1, 50), st.floats(1, 50), st.floats(-180, 180), st.booleans(), st.booleans(),
    st.floats(-30, 30), st.floats(5, 30),
)  # fmt: skip
def test_an_arc_lies_on_its_ellipse_and_turns_as_asked(rx, ry, turn, large, sweep, x, y):
    curves = arc_curves(np.zeros(2), np.array([x, y]), (rx, ry), turn, large, sweep)
    assert np.allclose(curves[0, 0], 0)
    assert np.allclose(curves[-1, 3], (x, y))
    points = curve_points(curves, np.linspace(0, 1, 5)).reshape(-1, 2)
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    unit = points @ np.array([[c, -s], [s, c]]) / (rx, ry)
    half = np.hypot(*(unit[-1] / 2))
    grown = max(1.0, half)
    # the middle is as far from all of them; two of the four arcs share it, the flags tell which
    a = np.stack([2 * unit[:, 0], 2 * unit[:, 1], np.ones(len(unit))], axis=1)
    middle, *_ = np.linalg.lstsq(a, (unit**2).sum(axis=1), rcond=None)
    away = np.hypot(unit[:, 0] - middle[0], unit[:, 1] - middle[1])
    assert away == pytest.approx(np.full(len(away), grown), rel=1e-4)
    angle = np.unwrap(np.arctan2(unit[:, 1] - middle[1], unit[:, 0] - middle[0]))
    over = angle[-1] - angle[0]
    assert (over > 0) == sweep
    if half < 0.99:
        assert (abs(over) > math.pi) == large


def test_an_ellipse_is_round_to_a_millionth():
    points = curve_points(ellipse_ring(3, 4, 100, 50), np.linspace(0, 1, 9)).reshape(-1, 2)
    away = np.hypot((points[:, 0] - 3) / 100, (points[:, 1] - 4) / 50)
    assert np.abs(away - 1).max() < 1e-6


@pytest.mark.parametrize(
    ("d", "same"),
    [
        ("M0 0H9V9Z", "M0,0 9,0 9,9z"),
        ("M1 1h8v8z", "m1 1 8 0 0 8z"),
        ("M0 0C1 2 3 4 5 6S9 10 11 0Z", "M0 0c1 2 3 4 5 6s4 4 6-6z"),
        ("M0 0C1 2 3 4 5 6S9 10 11 0Z", "M0 0C1 2 3 4 5 6C7 8 9 10 11 0Z"),
        ("M0 0Q3 6 6 0T12 0Z", "M0 0q3 6 6 0t6 0z"),
        ("M0 0Q3 6 6 0T12 0Z", "M0 0Q3 6 6 0Q9-6 12 0Z"),
        ("M0 0A5 5 0 0 1 10 0Z", "M0 0a5 5 0 0110 0z"),
        ("M.5.5L1e1 5e-1 10 9Z", "M0.5 0.5L10 0.5L10 9Z"),
        ("M0 0L9 0 9 9", "M0 0L9 0L9 9Z"),
        ("M0 0H4V4ZM20 20H24V24Z", "M0 0H4V4Zm20 20h4v4z"),
        ("M0 0H4V4ZM0 0H-4V-4Z", "M0 0H4V4ZH-4V-4Z"),
    ],
)
def test_ways_of_writing_the_same(d, same):
    one, other = rings_of_path(d), rings_of_path(same)
    assert len(one) == len(other)
    for a, b in zip(one, other, strict=True):
        assert np.allclose(a, b, atol=1e-12)


@pytest.mark.parametrize("d", ["", "M5 5", "M5 5L5 5Z", "M1 1Z"])
def test_what_has_no_extent_is_no_ring(d):
    assert rings_of_path(d) == []


@pytest.mark.parametrize(
    "d", ["H9", "5 5L9 9", "M0 0L9", "M0 0C1 2 3 4Z", "M0 0Z9", "M0 0Lnan 3", "M0 0L1_0 3", "MM"]
)
def test_what_the_grammar_does_not_allow_is_refused(d):
    with pytest.raises(SvgFault, match="cannot be read"):
        rings_of_path(d)
