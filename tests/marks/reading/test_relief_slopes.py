import numpy as np
import pytest

from ironlace.marks.reading.relief_slopes import (
    ReliefSlopes,
    grain_of,
    seen_along,
    slopes_from_normals,
    slopes_from_photograph,
)


def test_slopes_of_a_plane_by_its_normal():
    """Height falling 0.2 to the right and rising 0.1 downwards: normal (0.2, 0.1, 1), Y up."""
    normals = np.broadcast_to(np.array([0.2, 0.1, 1.0]) / np.sqrt(1.05), (20, 30, 3))
    slopes = slopes_from_normals(normals.astype(np.float32), 0.025).slopes
    assert slopes[0] == pytest.approx(-0.2, abs=1e-6)
    assert slopes[1] == pytest.approx(0.1, abs=1e-6)


def test_unknown_normals_have_no_slope_and_steep_ones_are_held():
    normals = np.zeros((2, 2, 3), np.float32)
    normals[1, 1] = (1.0, 0.0, 0.001)
    slopes = slopes_from_normals(normals, 0.025).slopes
    assert slopes[:, 0, 0].tolist() == [0, 0]
    assert np.abs(slopes).max() <= 4.0


def test_a_patch_is_centred_and_empty_beyond_the_picture():
    slopes = np.zeros((2, 40, 60), np.float32)
    slopes[0, 20, 30] = 1
    relief = ReliefSlopes(slopes, 0.05)
    patch = relief.patch(30, 20, 1.0, (11, 9))
    assert patch[0, 5, 4] == pytest.approx(1)
    assert relief.patch(0, 0, 1.0, (11, 9))[:, :5].max() == 0


def test_grain_is_the_usual_slope():
    rng = np.random.default_rng(1)
    slopes = rng.normal(0, 0.05, (2, 200, 200)).astype(np.float32)
    assert grain_of(ReliefSlopes(slopes, 0.05), 1.0) < 0.06
    assert grain_of(ReliefSlopes(np.zeros_like(slopes), 0.05), 1.0) > 0


def test_what_turns_from_the_light_is_dark():
    """A slope of 0.05 in the light of a torch at the right, 25 degrees high."""
    high = np.radians(25)
    bump = 0.05 * np.sin(np.arange(200) / 200 * 2 * np.pi * 8)
    row = np.sin(high) - bump * np.cos(high)
    light = np.tile(row.astype(np.float32), (100, 1))
    found = slopes_from_photograph(light, 0.0, 25.0, 0.05)
    assert found.along == pytest.approx((1.0, 0.0))
    assert np.corrcoef(found.slopes[0, 50, 30:-30], bump[30:-30])[0, 1] > 0.98
    assert np.abs(found.slopes[1]).max() < 1e-6


def test_slopes_are_seen_along_one_way():
    slopes = np.ones((2, 3, 3), np.float32)
    assert seen_along(slopes, None) is slopes
    assert seen_along(slopes, (0.0, 1.0))[0].max() == 0
