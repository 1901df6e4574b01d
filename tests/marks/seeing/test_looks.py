import numpy as np
import pytest

from ironlace.marks.errors import MarksError
from ironlace.marks.relief.reflectance import Lobe
from ironlace.marks.seeing.looks import seen
from ironlace.marks.seeing.relighting import Surface, Torch
from lit_surfaces import paraboloid

TORCH = Torch(135, 15)


def surface_of(height, normals, scale=None):
    albedo = np.full(height.shape, 100, np.uint8)
    return Surface(
        normals.astype(np.float32), height.astype(np.float32), albedo, Lobe(0.0, 10.0), scale
    )


def test_a_bowls_curvature_is_that_of_its_formula():
    height, normals = paraboloid((90, 120), 0.004, 0.002)
    bowl = seen(surface_of(height * 0.05, normals, 0.05), "curvature", TORCH)
    # z = a x² + b y² in pixels bends by a + b a pixel in its middle, hollow: over 0.05 mm
    grey = bowl.grey[45, 60] / 255 * (bowl.white - bowl.black) + bowl.black
    assert grey == pytest.approx(-0.006 / 0.05, rel=0.03)
    assert bowl.unit == "per mm"


def test_what_is_struck_is_dark_and_the_plates_bend_is_taken_out():
    height, normals = paraboloid((300, 300), 0.0002, 0.0002)
    height[140:160, 140:160] -= 3
    shown = seen(surface_of(height, normals), "depth", TORCH).grey.astype(int)
    assert shown[150, 150] < shown[150, 190] - 60
    assert abs(shown[150, 230] - shown[150, 70]) < 20


def test_nothing_known_and_no_such_look_are_refused():
    height, normals = paraboloid((20, 20), 0.0, 0.0)
    with pytest.raises(MarksError, match="Nothing of this plate"):
        seen(surface_of(height, 0 * normals), "depth", TORCH)
    with pytest.raises(MarksError, match="There is no look 'x'"):
        seen(surface_of(height, normals), "x", TORCH)
