"""Places in a picture, as many as there are, against another library's reader."""

import cv2
import numpy as np
import pytest
from scipy.ndimage import map_coordinates

from ironlace.photographs.looked_up import looked_up


@pytest.mark.parametrize("shape", [(0,), (7,), (40_000, 3), (3, 40_000)])
def test_places_between_pixels_are_read_as_another_library_reads_them(shape):
    # more places in a row or a column than OpenCV counts, and some beyond the rim
    rng = np.random.default_rng(5)
    picture = rng.random((30, 40)).astype(np.float32)
    places = rng.uniform(-3, 43, (*shape, 2))
    there = map_coordinates(picture, np.moveaxis(places, -1, 0)[::-1], order=1, mode="nearest")
    # OpenCV goes from pixel to pixel in 32 steps
    np.testing.assert_allclose(looked_up(picture, places), there, atol=2 / 32)


def test_each_channel_is_read_and_numbers_stay_what_they_are():
    picture = np.arange(24, dtype=np.uint8).reshape(2, 4, 3)
    places = np.array([[[1.0, 1.0]], [[3.0, 0.0]]])
    seen = looked_up(picture, places, cv2.INTER_NEAREST)
    assert seen.dtype == np.uint8
    np.testing.assert_array_equal(seen, picture[[[1], [0]], [[1], [3]]])
