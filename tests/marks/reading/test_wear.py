import numpy as np
import pytest

from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.marks.reading.wear import depth_of_place, height_of, wear_of


def test_height_comes_back_from_its_slopes():
    ys, xs = np.mgrid[0:60, 0:48].astype(float)
    height = 0.3 * np.exp(-((xs - 20) ** 2 + (ys - 30) ** 2) / 60)
    down, right = np.gradient(height)
    found = height_of(np.stack([right, down]).astype(np.float32), 1.0)
    off = (found - found.mean()) - (height - height.mean())
    assert np.abs(off).max() < 0.02


@pytest.mark.parametrize("deep", [0.05, 0.1, 0.2])
def test_depth_of_a_stroke(deep):
    """A ring of a V-shaped stroke on a plane."""
    ys, xs = np.mgrid[0:160, 0:160] * 0.025
    r = np.hypot(xs - 2, (ys - 2) * 0.6)
    height = -deep * np.clip(1 - np.abs(r - 0.6) / 0.12, 0, None)
    down, right = np.gradient(height, 0.025)
    relief = ReliefSlopes(np.stack([right, down]).astype(np.float32), 0.025)
    assert depth_of_place(relief, 80, 80, 96) == pytest.approx(deep, rel=0.5)


def test_shallower_digits_are_more_worn():
    settings = {"wear_start": 0.0, "wear_deep": -1.0, "wear_stands": 0.0, "wear_fit": 0.0,
                "wear_spread": 0.5}  # fmt: skip
    deep, shallow = wear_of(0.2, 0.01, 0.5, settings), wear_of(0.01, 0.01, 0.5, settings)
    assert deep[0] < shallow[0]
    assert 0 <= shallow[1] < shallow[0] < shallow[2] <= 1
