import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, zoom

from ironlace.marks.capture.outlines import Circle, blur_of, fitted, outline_of, refined


def disc(x, y, r, *, blur=0.7, limb=0.0, size=160):
    """A bright disc, drawn eight times finer and averaged down."""
    fine = 8
    v, u = (np.mgrid[: size * fine, : size * fine] + 0.5) / fine - 0.5
    inner = np.maximum(1 - ((u - x) ** 2 + (v - y) ** 2) / r**2, 0)
    picture = np.where(inner > 0, 0.3 + limb * np.sqrt(inner), 0.12)
    small = picture.reshape(size, fine, size, fine).mean((1, 3))
    return gaussian_filter(small, blur).astype(np.float32)


@pytest.mark.parametrize("limb", [0.0, 0.4])
def test_centre_and_radius_to_a_few_hundredths(limb):
    picture = disc(80.37, 77.81, 50.23, limb=limb)
    circle, spread, seen = refined(picture, Circle(81.4, 77.0, 49.2))
    assert np.hypot(circle.x - 80.37, circle.y - 77.81) < 0.03
    assert circle.r == pytest.approx(50.23, abs=0.08)
    assert spread < 0.1
    assert seen > 0.9


def test_the_blur_is_told():
    picture = disc(80.0, 80.0, 50.0, blur=1.25)
    assert blur_of(picture, Circle(80.0, 80.0, 50.0)) == pytest.approx(1.25, abs=0.12)


def test_nothing_round_gives_no_circle():
    picture = zoom(np.random.default_rng(0).normal(size=(20, 20)), 8).astype(np.float32)
    circle = Circle(80.0, 80.0, 50.0)
    _, spread, seen = fitted(outline_of(picture, circle), circle)
    assert spread > 0.4 or seen < 0.5
