"""Camera, surface and lens from the strip, against the renderer's camera."""

from __future__ import annotations

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest

from darkroom import Shot, _camera, _rays, _unroll, photograph
from ironlace.photographs import (
    Lens,
    Placing,
    StripNotFoundError,
    find_strip,
    place_surface,
    place_uncertainty_mm,
    strip_sheet,
)


def placed_errors(placing: Placing, shot: Shot, box: tuple[float, float, float, float]):
    """How far mm places land from the truth when sent through the found and the true camera."""
    left, top, right, bottom = box
    grid = np.stack(np.meshgrid(np.linspace(left, right, 9), np.linspace(top, bottom, 7)), -1)
    grid = grid.reshape(-1, 2)
    px = placing.to_pixels(grid)
    axes, place = _camera(shot)
    x, y = _rays(shot, px[:, 0], px[:, 1])
    d = np.stack([x, y, np.ones_like(x)], -1) @ axes
    d /= np.linalg.norm(d, axis=-1, keepdims=True)
    tx, ty, cosine = _unroll(shot, place, d)
    seen = (cosine > 0.35) & np.all((px > 5) & (px < (shot.width - 5, shot.height - 5)), axis=1)
    return np.hypot(tx - grid[:, 0], ty - grid[:, 1])[seen], grid[seen]


def test_plane_with_known_lens_is_placed_to_hundredths(plane_case) -> None:
    sighting = find_strip(plane_case.image, plane_case.layout)
    placing = place_surface(plane_case.image, sighting, plane_case.layout, lens=plane_case.lens)
    error, grid = placed_errors(placing, plane_case.shot, (5, 5, 195, 125))
    assert error.mean() < 0.012 and error.max() < 0.04
    said = place_uncertainty_mm(placing, grid)
    assert error.mean() < 3.0 * said.mean() + 0.005


def test_plane_with_unknown_lens_is_placed_too_and_says_how_sure(plane_case) -> None:
    sighting = find_strip(plane_case.image, plane_case.layout)
    placing = place_surface(plane_case.image, sighting, plane_case.layout)
    error, _ = placed_errors(placing, plane_case.shot, (15, 15, 185, 115))
    assert error.mean() < 0.03 and error.max() < 0.1
    assert placing.lens.focal_sd_px > 0
    off = abs(placing.lens.focal_px[0] - plane_case.shot.focal_px)
    assert off < 4.0 * placing.lens.focal_sd_px


@pytest.mark.parametrize(
    ("surface", "radius", "taper", "axis"),
    [("cylinder", 45.0, 0.0, 90.0), ("cylinder", 60.0, 0.0, 0.0), ("cone", 50.0, 0.1, 90.0)],
)
def test_round_surfaces_are_measured(surface, radius, taper, axis) -> None:
    rng = np.random.default_rng(5)
    sheet = strip_sheet("wrap")
    shot = Shot(
        width=2400,
        height=1700,
        focal_px=2900,
        aim_mm=(100.0, 65.0),
        distance_mm=320.0,
        tilt_deg=6.0,
        surface=surface,
        radius_mm=radius,
        taper=taper,
        axis_deg=axis,
        scratches=0,
        glare=False,
    )
    image = photograph(None, sheet, shot, rng)
    lens = Lens.from_json(json.dumps(shot.lens))
    sighting = find_strip(image, sheet.layout)
    placing = place_surface(image, sighting, sheet.layout, kind=surface, lens=lens)
    error, _ = placed_errors(placing, shot, (60, 20, 140, 110))
    assert error.mean() < 0.02 and error.max() < 0.08
    if surface == "cylinder":
        assert placing.surface.numbers()["radius_mm"] == pytest.approx(radius, rel=0.01)


def test_placing_survives_its_arrays(plane_case) -> None:
    placing = plane_case.traced.placings[0]
    again = Placing.from_arrays(placing.to_arrays())
    grid = np.array([[10.0, 20.0], [150.0, 90.0]])
    assert np.allclose(again.to_pixels(grid), placing.to_pixels(grid))
    assert again.markers_used == placing.markers_used


def test_one_marker_is_too_few(plane_case) -> None:
    placing = plane_case.traced.placings[0]
    marker = plane_case.layout.corners_mm[0]
    centre = placing.to_pixels(marker.mean(axis=0))
    image = np.full_like(plane_case.image, 30)
    x, y = (int(v) for v in np.clip(centre, 90, None))
    image[y - 90 : y + 90, x - 90 : x + 90] = plane_case.image[y - 90 : y + 90, x - 90 : x + 90]
    with pytest.raises(StripNotFoundError, match="at least 2"):
        find_strip(image, plane_case.layout)


def test_a_marker_pasted_in_the_wrong_place_is_left_out(plane_case) -> None:
    image = plane_case.image.copy()
    placing = plane_case.traced.placings[0]
    a = placing.to_pixels(plane_case.layout.corners_mm[2]).round().astype(int)
    b = placing.to_pixels(plane_case.layout.corners_mm[5]).round().astype(int)
    (x0, y0), (x1, y1) = a.min(0) - 12, a.max(0) + 12
    shift = b.min(0) - a.min(0)
    patch = image[y0:y1, x0:x1].copy()
    cv2.rectangle(image, (int(x0), int(y0)), (int(x1), int(y1)), (220, 220, 215), -1)
    h, w = patch.shape[:2]
    image[y0 + shift[1] : y0 + shift[1] + h, x0 + shift[0] : x0 + shift[0] + w] = patch
    sighting = find_strip(image, plane_case.layout)
    placed = place_surface(image, sighting, plane_case.layout, lens=plane_case.lens)
    error, _ = placed_errors(placed, plane_case.shot, (20, 20, 180, 110))
    assert error.max() < 0.05
    assert replace(placed).markers_used == placed.markers_used
    assert 2 not in placed.markers_used
