"""Medians by exchanges are those of NumPy, for any number of pictures."""

import numpy as np
import pytest

from ironlace.marks.capture.middles import BAND, middle, middle_picture, share_below


@pytest.mark.parametrize("kind", [np.uint8, np.uint16, np.float32])
def test_middle_of_pictures(kind):
    rng = np.random.default_rng(4)
    for count in (*range(1, 14), 24, 25):
        pictures = (200 * rng.random((count, 7, 9))).astype(kind)
        told = np.median(pictures.astype(np.float64), axis=0)
        assert np.abs(middle_picture(list(pictures)) - told).max() < 1e-4, count


def test_middle_of_wide_pictures_goes_by_bands():
    rng = np.random.default_rng(5)
    pictures = rng.integers(0, 60_000, (6, 5, BAND // 2 + 3)).astype(np.uint16)
    before = pictures.copy()
    assert np.array_equal(middle_picture(pictures), np.median(pictures, axis=0))
    assert np.array_equal(pictures, before)


def test_middle_and_share_of_numbers():
    rng = np.random.default_rng(6)
    for count in range(1, 30):
        values = rng.normal(size=count).astype(np.float32)
        assert middle(values) == np.float32(np.median(values))
        assert share_below(values, 0.9) == pytest.approx(np.percentile(values, 90), abs=1e-6)
    assert np.isnan(middle(np.empty(0)))
