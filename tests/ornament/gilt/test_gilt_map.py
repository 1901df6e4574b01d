"""Of the map of gilt, what its photographs elsewhere do not show by themselves."""

import cv2
import numpy as np
import pytest

from ironlace.ornament.gilt.gilt_map import _at_share, find_gilt
from ironlace.photographs.flat_picture import Flat, coarse_places


@pytest.mark.parametrize("count", [60, 61, 97, 2_400])
def test_a_share_of_a_window_is_numpys_percentile(count):
    values = np.random.default_rng(count).normal(size=count).astype(np.float32)
    for share in (0.08, 0.4, 1.0):
        assert _at_share(np.sort(values), share) == pytest.approx(
            np.percentile(values, 100 * share), rel=1e-12, abs=1e-12
        )


def test_however_many_hands_the_answer_is_the_same_to_the_bit():
    light = np.full((500, 420, 3), 900, np.uint16)
    cv2.circle(light, (210, 250), 150, (30_000, 21_000, 6_000), 24)
    light += np.random.default_rng(3).integers(0, 400, light.shape, np.uint16)
    columns, rows = coarse_places(500, 420)
    even = np.ones((len(rows), len(columns)), np.float32)
    white = np.repeat(even[..., None], 3, axis=2)
    hidden = np.zeros((500, 420), np.uint8)
    flat = Flat(light, 12.0, (0.0, 0.0), hidden, 12 * even, even, white)
    before = cv2.getNumThreads()
    found = []
    try:
        for hands in (1, 3):
            cv2.setNumThreads(hands)
            found.append(find_gilt(flat))
    finally:
        cv2.setNumThreads(before)
    one, three = (f.to_arrays() for f in found)
    assert 0.09 < one["coverage"].mean() / 255 < 0.12
    for name, values in one.items():
        np.testing.assert_array_equal(values, three[name], err_msg=name)
