"""Lens files, scaling, projection against OpenCV's."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ironlace.photographs import Lens, LensError, guessed_lens


def test_lens_survives_its_file() -> None:
    lens = Lens((3000.0, 3010.0), (1999.0, 1502.0), (-0.1, 0.02, 1e-4, -2e-4, 0.01), (4000, 3000))
    assert Lens.from_json(lens.to_json()) == lens


def test_projection_agrees_with_opencv() -> None:
    lens = Lens((3000.0, 3010.0), (1999.0, 1502.0), (-0.1, 0.02, 1e-3, -2e-3, 0.01))
    points = np.random.default_rng(0).uniform((-0.5, -0.4, 0.9), (0.5, 0.4, 1.5), (200, 3))
    expected, _ = cv2.projectPoints(
        points, np.zeros(3), np.zeros(3), lens.matrix, np.array(lens.distortion)
    )
    assert np.allclose(lens.project(points), expected.reshape(-1, 2), atol=1e-8)


def test_scaling_keeps_directions() -> None:
    lens = Lens((3000.0, 3000.0), (1999.5, 1499.5), (-0.1, 0, 0, 0, 0), (4000, 3000))
    half = lens.scaled_to(2000, 1500)
    point = np.array([[0.2, 0.1, 1.0]])
    assert np.allclose((lens.project(point) + 0.5) / 2, half.project(point) + 0.5)


def test_cropped_photographs_are_refused() -> None:
    lens = Lens((3000.0, 3000.0), (1999.5, 1499.5), image_size=(4000, 3000))
    with pytest.raises(LensError, match="another shape"):
        lens.scaled_to(3000, 3000)
    with pytest.raises(LensError, match="far from the middle"):
        Lens((3000.0, 3000.0), (1999.5, 1499.5)).scaled_to(1200, 900)


@pytest.mark.parametrize(
    "text",
    [
        "nonsense",
        "[]",
        "{}",
        '{"matrix": [[1, 2], [3, 4]], "distortion": []}',
        '{"matrix": [[0, 0, 1], [0, 1, 1], [0, 0, 1]], "distortion": []}',
        '{"matrix": [[1, 0, 1], [0, 1, 1], [0, 0, 1]], "distortion": [1, 2, 3, 4, 5, 6]}',
        '{"matrix": [[1, 0, "x"], [0, 1, 1], [0, 0, 1]], "distortion": []}',
    ],
)
def test_bad_lens_files_are_refused(text: str) -> None:
    with pytest.raises(LensError):
        Lens.from_json(text)


def test_exif_focal_length_sets_the_guess() -> None:
    # 43.27 mm is the diagonal of 24 x 36 mm: such a lens sees the diagonal under 2 atan(1/2)
    lens = guessed_lens(4000, 3000, focal_35mm=43.27)
    assert lens.focal_px[0] == pytest.approx(5000.0)
