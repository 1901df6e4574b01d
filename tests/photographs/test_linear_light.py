"""Numbers of a picture and its light."""

import numpy as np

from ironlace.photographs.linear_light import summed


def test_colours_are_summed_as_numpy_sums_them_to_the_bit():
    rng = np.random.default_rng(3)
    for width in (np.float32, np.float64):
        light = rng.normal(size=(40, 50, 3)).astype(width)
        assert np.array_equal(summed(light), light.sum(axis=2))
        assert summed(light).dtype == width
