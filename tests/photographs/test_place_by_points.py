"""Measured places instead of a strip: camera and surface from a handful of them."""

from __future__ import annotations

import numpy as np
import pytest

from ironlace.photographs import Lens, SurfaceError, flatten
from ironlace.photographs.place_by_points import place_by_points
from ironlace.photographs.surfaces import Round


def seen(rng, xy, *, radius=None, tilt=0.3, focal=2400.0, size=(2400, 1800), slip=0.0):
    """Pixels of surface places under a pinhole camera, written here from the geometry alone."""
    middle = xy.mean(axis=0)
    x, y = (xy - middle).T
    z = np.zeros_like(x)
    if radius:  # a cylinder whose axis runs along y
        angle = x / radius
        x, z = radius * np.sin(angle), radius * (1 - np.cos(angle))
    c, s = np.cos(tilt), np.sin(tilt)
    point = np.stack([x, c * y - s * z, s * y + c * z + 300.0], axis=1)
    px = focal * point[:, :2] / point[:, 2:] + np.array(size) / 2
    return px + rng.normal(0, slip, px.shape)


def blank(size=(2400, 1800)):
    return np.full((size[1], size[0], 3), 120, np.uint8)


def test_four_corners_of_a_measured_rectangle_place_a_flat_bed():
    rng = np.random.default_rng(1)
    corners = np.array([[0, 0], [180, 0], [180, 110], [0, 110]], float)
    lens = Lens((2400.0, 2400.0), (1200.0, 900.0), image_size=(2400, 1800))
    placing = place_by_points(blank(), seen(rng, corners), corners, lens=lens)
    inside = rng.uniform((10, 10), (170, 100), (50, 2))
    truth = seen(rng, corners_and(corners, inside))[4 : 4 + len(inside)]
    apart = np.linalg.norm(placing.to_pixels(inside) - truth, axis=1)
    assert apart.max() < 0.3
    assert placing.residual_px < 0.05
    flat = flatten(blank(), placing, (0.0, 0.0, 180.0, 110.0))
    assert (flat.hidden == 0).mean() > 0.4


def corners_and(corners, inside):
    """Both, kept about the corners' own middle, as the camera was aimed at that."""
    pad = 2 * corners.mean(axis=0) - inside
    return np.vstack([corners, inside, pad])


def test_a_lens_nobody_calibrated_is_estimated_from_more_places():
    rng = np.random.default_rng(2)
    grid = np.stack(np.meshgrid(np.linspace(0, 200, 4), np.linspace(0, 120, 3)), -1).reshape(-1, 2)
    placing = place_by_points(blank(), seen(rng, grid, slip=0.5, tilt=0.6), grid)
    assert placing.lens.focal_px[0] == pytest.approx(2400, rel=0.12)
    assert placing.residual_px < 1.5
    assert 0 < placing.residual_mm < 0.3


def test_a_round_arm_takes_its_measured_radius():
    rng = np.random.default_rng(3)
    grid = np.stack(np.meshgrid(np.linspace(-40, 40, 4), np.linspace(0, 90, 3)), -1).reshape(-1, 2)
    lens = Lens((2400.0, 2400.0), (1200.0, 900.0), image_size=(2400, 1800))
    px = seen(rng, grid, radius=45.0, slip=0.8)
    placing = place_by_points(blank(), px, grid, kind="cylinder", lens=lens, radius_mm=45.0)
    assert isinstance(placing.surface, Round)
    assert placing.surface.radius_mm == pytest.approx(45.0, rel=0.02)
    free = place_by_points(blank(), px, grid, kind="cylinder", lens=lens)
    assert free.surface.radius_mm == pytest.approx(45.0, rel=0.1)


@pytest.mark.parametrize(
    ("xy", "says"),
    [
        ([[0, 0], [10, 0], [10, 10]], "at least 4"),
        ([[0, 0], [10, 0], [20, 0], [30, 0.1]], "one line"),
        ([[0, 0], [180, 0], [180, 110], [0, 900], [90, 50], [20, 60]], "check its measure"),
    ],
)
def test_places_that_cannot_be_are_said(xy, says):
    rng = np.random.default_rng(4)
    true = np.array([[0, 0], [180, 0], [180, 110], [0, 110], [90, 50], [20, 60]][: len(xy)], float)
    lens = Lens((2400.0, 2400.0), (1200.0, 900.0), image_size=(2400, 1800))
    with pytest.raises(SurfaceError, match=says):
        place_by_points(blank(), seen(rng, true), xy, lens=lens)
