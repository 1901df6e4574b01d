"""Contours against contourpy, and their order and direction."""

from __future__ import annotations

import contourpy
import cv2
import numpy as np
import pytest

from ironlace.ornament import contours


@pytest.mark.parametrize("seed", range(12))
def test_crossings_are_those_of_a_general_library(seed: int) -> None:
    rng = np.random.default_rng(seed)
    noise = cv2.GaussianBlur(
        rng.uniform(0, 255, (40, 50)).astype(np.float32), (0, 0), 0.3 + seed / 8
    )
    picture = np.clip(noise * 3 - 255, 0, 255).astype(np.uint8)
    found = contours(picture, 127.5, least_area_px=0, step_px=None)
    lines = contourpy.contour_generator(z=np.pad(picture, 1).astype(float)).lines(127.5)
    expected = np.unique(np.round(np.vstack([r[:-1] for r in lines]) - 1, 6), axis=0)
    assert np.allclose(np.unique(np.round(found.points, 6), axis=0), expected)
    for a, b in zip(found.starts[:-1], found.starts[1:], strict=True):
        ring = found.points[a:b]
        assert np.abs(np.roll(ring, -1, axis=0) - ring).max() <= 1.0 + 1e-9


def test_islands_are_positive_and_holes_negative() -> None:
    y, x = np.mgrid[0:60, 0:60]
    r = np.hypot(x - 30, y - 30)
    picture = np.clip((np.minimum(20 - r, r - 8) + 0.5) * 255, 0, 255).astype(np.uint8)
    areas = np.sort(contours(picture, 127.5).areas)
    assert areas == pytest.approx([-np.pi * 64, np.pi * 400], rel=0.01)


def test_shapes_cut_by_the_border_are_closed_and_specks_left_out() -> None:
    picture = np.zeros((20, 20), np.uint8)
    picture[:10, :10] = 255
    picture[15, 15] = 255
    found = contours(picture, 127.5, least_area_px=4)
    assert len(found.starts) == 2
    assert found.areas[0] == pytest.approx(100, abs=1.0)


def test_nothing_covered_gives_no_ring() -> None:
    assert len(contours(np.zeros((5, 5), np.uint8)).points) == 0
