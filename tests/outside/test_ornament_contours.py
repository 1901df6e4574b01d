"""Contours against scikit-image's."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from skimage.measure import find_contours

from ironlace.ornament import contours


@pytest.mark.parametrize("seed", range(4))
def test_areas_agree_with_scikit_image(seed: int) -> None:
    rng = np.random.default_rng(seed)
    noise = cv2.GaussianBlur(rng.uniform(0, 255, (120, 160)).astype(np.float32), (0, 0), 4)
    picture = np.clip((noise - noise.mean()) * 12 + 128, 0, 255).astype(np.uint8)
    found = np.sort(contours(picture, 127.5, least_area_px=3, step_px=None).areas)
    lines = find_contours(np.pad(picture, 1).astype(float), 127.5, fully_connected="high")
    areas = []
    for line in lines:
        y, x = line[:-1].T
        areas.append(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    expected = np.abs(np.array([a for a in areas if abs(a) >= 3]))
    assert np.sort(np.abs(found)) == pytest.approx(np.sort(expected), rel=1e-6)
