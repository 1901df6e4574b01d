"""A photograph laid flat, against what the renderer was told to paint."""

from __future__ import annotations

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon

from darkroom import Ornament, Shot, photograph
from ironlace.photographs import (
    Lens,
    SurfaceError,
    find_strip,
    flatten,
    place_surface,
    strip_sheet,
)
from ironlace.photographs.flat_picture import UNSEEN_FRAME, UNSEEN_STRIP
from ironlace.photographs.flattening import LEAST_FACING, seen_bounds

DISCS = ((70.0, 50.0, 6.0), (120.0, 60.0, 9.0), (100.0, 85.0, 4.0))
"""What is painted: x, y and radius in mm."""


@pytest.fixture(scope="module")
def case():
    """Three gilt discs in a strip, photographed askew, and where the camera was found."""
    sheet = strip_sheet("wrap")
    shot = Shot(
        width=1500,
        height=1050,
        focal_px=1650,
        aim_mm=(100.0, 65.0),
        distance_mm=262,
        tilt_deg=18.0,
        reflections=0.0,
        scratches=0,
        glare=False,
        gold_mottle=0.0,
    )
    painted = shapely.union_all([shapely.Point(x, y).buffer(r, 64) for x, y, r in DISCS])
    ornament = Ornament(MultiPolygon(shapely.get_parts(painted).tolist()))
    image = photograph(ornament, sheet, shot, np.random.default_rng(2))
    sighting = find_strip(image, sheet.layout)
    lens = Lens.from_json(json.dumps(shot.lens))
    return image, sheet.layout, place_surface(image, sighting, sheet.layout, lens=lens)


@pytest.fixture(scope="module")
def flat(case):
    image, layout, placing = case
    return flatten(image, placing, layout, px_per_mm=8.0, bounds_mm=(50.0, 30.0, 150.0, 100.0))


def test_the_flat_has_the_bounds_and_the_scale_asked_for(flat):
    assert flat.light.shape == (560, 800, 3)
    assert flat.light.dtype == np.uint16
    assert (flat.px_per_mm, flat.origin_mm) == (8.0, (50.0, 30.0))


@pytest.mark.parametrize(("x", "y", "radius"), DISCS)
def test_a_disc_is_round_where_it_was_painted_and_as_large(flat, x, y, radius):
    # seen from aside a disc is an ellipse; laid flat its middle, area and axes are the painted ones
    red = flat.light[:, :, 0].astype(float)
    rows, columns = np.mgrid[0 : red.shape[0], 0 : red.shape[1]]
    mm_x, mm_y = (columns + 0.5) / 8.0 + 50.0, (rows + 0.5) / 8.0 + 30.0
    near = np.hypot(mm_x - x, mm_y - y) < radius + 2.5
    gilt, japan = np.percentile(red[near], 90), np.percentile(red[near], 3)
    inside = near & (red > (gilt + japan) / 2)
    assert mm_x[inside].mean() == pytest.approx(x, abs=0.05)
    assert mm_y[inside].mean() == pytest.approx(y, abs=0.05)
    assert np.sqrt(inside.sum() / 64.0 / np.pi) == pytest.approx(radius, abs=0.06)
    spread = np.sqrt(np.linalg.eigvalsh(np.cov(mm_x[inside], mm_y[inside])))
    assert 2.0 * spread == pytest.approx([radius, radius], abs=0.08)


def test_light_is_linear_and_not_lost_on_the_way(case, flat):
    # the flat holds the photograph's light, not its coded values: decoded here by the standard
    image, _, placing = case
    x, y, _ = DISCS[1]
    u, v = placing.to_pixels(np.array([[x, y]]))[0]
    patch = image[round(v) - 4 : round(v) + 5, round(u) - 4 : round(u) + 5].astype(float) / 255.0
    decoded = np.where(patch <= 0.04045, patch / 12.92, ((patch + 0.055) / 1.055) ** 2.4)
    row, column = round((y - 30.0) * 8.0), round((x - 50.0) * 8.0)
    laid = flat.light[row - 4 : row + 5, column - 4 : column + 5] / 65535.0
    assert laid.mean(axis=(0, 1)) == pytest.approx(decoded.mean(axis=(0, 1)), rel=0.03)


def test_the_strips_paper_and_what_lies_outside_the_frame_are_hidden(case):
    image, layout, placing = case
    wide = flatten(image, placing, layout, px_per_mm=4.0, bounds_mm=(-80.0, -80.0, 280.0, 210.0))
    middle_of_a_marker = layout.corners_mm[0].mean(axis=0)
    column, row = ((middle_of_a_marker + 80.0) * 4.0).astype(int)
    assert wide.hidden[row, column] & UNSEEN_STRIP
    assert wide.hidden[0, 0] & UNSEEN_FRAME
    x, y, _ = DISCS[1]
    assert wide.hidden[round((y + 80.0) * 4.0), round((x + 80.0) * 4.0)] == 0


def test_how_finely_and_how_squarely_each_place_is_seen_is_told(case, flat):
    _, _, placing = case
    x, y, _ = DISCS[1]
    # by plain differences of the camera: the worse of the two directions on the surface
    step = 0.01
    at = placing.to_pixels(np.array([[x, y], [x + step, y], [x, y + step]]))
    jacobian = np.column_stack([at[1] - at[0], at[2] - at[0]]) / step
    coarser = np.linalg.svd(jacobian, compute_uv=False)[-1]
    nodes = flat.resolution
    assert nodes.min() < coarser * 1.15
    assert nodes.max() > coarser * 0.85
    assert np.median(nodes) == pytest.approx(coarser, rel=0.1)
    # tilted 18 degrees and spread by the angle of view
    assert np.median(flat.facing) == pytest.approx(np.cos(np.deg2rad(18.0)), abs=0.05)
    assert flat.facing.min() > LEAST_FACING


def test_bounds_left_out_cover_what_is_seen_and_no_more(case):
    image, layout, placing = case
    left, top, right, bottom = seen_bounds(placing, layout, image.shape, reach=0.5)
    strip_left, strip_top, strip_right, strip_bottom = layout.bounds_mm
    assert left < strip_left < strip_right < right
    assert top < strip_top < strip_bottom < bottom
    corners = np.array([[0, 0], [1499, 0], [1499, 1049], [0, 1049]], dtype=np.float64)
    # by the homography of the markers alone, without lens: the frame's corners in mm, to 7 mm
    # (the grid that is looked at has steps of 2.5 mm)
    sighting = find_strip(image, layout)
    to_mm, _ = cv2.findHomography(
        sighting.corners_px.reshape(-1, 2), layout.corners_mm[sighting.indices].reshape(-1, 2)
    )
    frame = cv2.perspectiveTransform(corners[None], to_mm)[0]
    margin = 0.5 * max(strip_right - strip_left, strip_bottom - strip_top)
    assert left == pytest.approx(max(frame[:, 0].min(), strip_left - margin), abs=7.0)
    assert bottom == pytest.approx(min(frame[:, 1].max(), strip_bottom + margin), abs=7.0)


def test_where_nothing_is_seen_it_is_told(case):
    image, _, placing = case
    with pytest.raises(SurfaceError, match="Nothing of the surface around the strip is seen"):
        flatten(image, placing, (5000.0, 5000.0, 5100.0, 5100.0))


def test_paper_lit_by_two_colours_of_light_is_white_on_both_sides(case):
    image, layout, placing = case

    def light_at(mm):
        share = placing.to_pixels(mm)[:, :1] / image.shape[1]
        return np.array([0.5, 0.9, 1.0]) * (1 - share) + np.array([1.0, 0.8, 0.3]) * share

    lit = placing.paper_light * light_at(placing.paper_points_mm)
    mixed = replace(placing, paper_light=lit.astype(np.float32))
    flat = flatten(image, mixed, layout, px_per_mm=6.0, bounds_mm=(20.0, 40.0, 180.0, 60.0))
    white = flat.spread(flat.white, *flat.shape)
    usual = np.median(placing.paper_light, axis=0)
    for mm in np.array([[[30.0, 50.0]], [[100.0, 50.0]], [[170.0, 50.0]]]):
        column, row = np.round(flat.to_px(mm)[0]).astype(int)
        found, wanted = white[row, column], (usual * light_at(mm))[0]
        assert found[0] / found[2] == pytest.approx(wanted[0] / wanted[2], rel=0.1)
