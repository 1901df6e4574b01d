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
            np.percentile(values.astype(np.float64), 100 * share), rel=1e-12, abs=1e-12
        )


def laid_flat(light):
    """A picture of 12 pixels to the mm, all of it seen squarely under even light."""
    height, width = light.shape[:2]
    columns, rows = coarse_places(height, width)
    even = np.ones((len(rows), len(columns)), np.float32)
    white = np.repeat(even[..., None], 3, axis=2)
    hidden = np.zeros((height, width), np.uint8)
    return Flat(light, 12.0, (0.0, 0.0), hidden, 12 * even, even, white)


@pytest.mark.parametrize("japan", [(0.17, 0.019, 0.017), (0.012, 0.1, 0.03), (0.01, 0.02, 0.12)])
def test_hairlines_are_found_on_coloured_japan(japan):
    fine = np.zeros((1600, 1600), np.float32)
    cv2.circle(fine, (800, 800), 330, 1.0, -1)
    cv2.rectangle(fine, (120, 120), (1480, 1480), 1.0, 16)  # 0.33 mm, four times as fine
    share = cv2.GaussianBlur(cv2.resize(fine, (400, 400), interpolation=cv2.INTER_AREA), (0, 0), 1)
    gold = np.array([0.6, 0.42, 0.15])
    light = share[..., None] * gold + (1 - share[..., None]) * np.array(japan)
    light += np.random.default_rng(5).normal(0, 0.004, light.shape)
    found = find_gilt(laid_flat(np.clip(light * 65535, 0, 65535).astype(np.uint16)))
    lines = np.concatenate([found.coverage[30, 40:360], found.coverage[40:360, 370]])
    assert (lines > 127).mean() > 0.98
    assert (found.coverage[60:90, 60:340] > 60).mean() < 0.01


def test_however_many_hands_the_answer_is_the_same_to_the_bit():
    light = np.full((500, 420, 3), 900, np.uint16)
    cv2.circle(light, (210, 250), 150, (30_000, 21_000, 6_000), 24)
    light += np.random.default_rng(3).integers(0, 400, light.shape, np.uint16)
    flat = laid_flat(light)
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
