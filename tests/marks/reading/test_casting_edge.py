import numpy as np
import pytest

from ironlace.marks.reading.casting_edge import edges_through
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.relief_slopes import ReliefSlopes

STEP = 0.05
"""Millimetres to the pixel: the reading grid itself, for digits of 48 pixels."""


def plate(rng, *, off_mm, way=0.0, fall=0.4, deep=0.25, bend_mm=45.0):
    """Slopes of two crossed grooves on a bent plate that falls away round beyond a line.

    A quarter of the fall is reached 0.26 mm beyond it: shares are told from there.
    """
    y, x = np.mgrid[-60:61, -60:61] * STEP
    height = -(x**2 + y**2) / (2 * bend_mm)
    stroke = np.minimum(np.abs(x + 0.3 * y), np.abs(y - 0.8)) < 0.22
    height = height - deep * (stroke & (np.abs(x) < 0.8) & (np.abs(y) < 1.2))
    beyond = x * np.cos(way) + y * np.sin(way) - off_mm
    height = height - fall * (1 - np.sqrt(1 - np.clip(beyond / 0.4, 0, 1) ** 2))
    down, right = np.gradient(height, STEP)
    noise = rng.normal(0, 0.03, (2, *height.shape))
    return ReliefSlopes((np.stack([right, down]) + noise).astype(np.float32), STEP)


HERE = (Place("digit", 0, 0, 60, 60, 48),)


@pytest.mark.parametrize(("off", "share"), [(0.8, 0.06), (0.5, 0.18), (0.1, 0.35)])
@pytest.mark.parametrize("way", [np.pi / 2, -np.pi / 2, 1.9])
def test_an_edge_is_told_with_what_it_takes(off, share, way):
    beyond, falls = edges_through(plate(np.random.default_rng(1), off_mm=off, way=way), HERE)
    assert beyond[0] == pytest.approx(share, abs=0.09)
    assert falls[0] == pytest.approx(0.4, abs=0.1)


def test_deep_strokes_on_a_bent_plate_are_no_edge():
    beyond, falls = edges_through(plate(np.random.default_rng(2), off_mm=9.0), HERE)
    assert beyond[0] == falls[0] == 0


def test_an_edge_beside_the_digit_takes_nothing():
    beyond, _ = edges_through(plate(np.random.default_rng(3), off_mm=1.45, way=np.pi / 2), HERE)
    assert beyond[0] <= 0.03


def test_one_photograph_tells_no_edge():
    seen = plate(np.random.default_rng(4), off_mm=0.5)
    beyond, _ = edges_through(ReliefSlopes(seen.slopes, STEP, along=(1.0, 0.0)), HERE)
    assert beyond[0] == 0
