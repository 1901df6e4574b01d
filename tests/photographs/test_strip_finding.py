"""Markers read and edges measured, on pictures painted or rendered by other code."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from darkroom import Shot, _camera, _rays, _unroll, photograph
from ironlace.photographs import StripNotFoundError, find_strip, strip_sheet
from ironlace.photographs.strip_finding import StripSighting, edge_offsets, piece_in


@pytest.fixture(scope="module")
def seen():
    """The strip alone, photographed askew."""
    sheet = strip_sheet("wrap")
    shot = Shot(
        width=1200, height=850, focal_px=1300, aim_mm=(100.0, 65.0), distance_mm=265, jpeg=95
    )
    return shot, sheet, photograph(None, sheet, shot, np.random.default_rng(7))


def test_every_marker_is_read_to_about_a_pixel_of_where_the_camera_put_it(seen):
    shot, sheet, image = seen
    sighting = find_strip(image, sheet.layout)
    assert len(sighting.indices) == len(sheet.layout.markers)
    assert sighting.image_size == (1200, 850)
    corners = sighting.corners_px.reshape(-1, 2)
    axes, place = _camera(shot)
    x, y = _rays(shot, corners[:, 0], corners[:, 1])
    rays = np.stack([x, y, np.ones_like(x)], -1) @ axes
    found_x, found_y, _ = _unroll(shot, place, rays)
    truth = np.array([sheet.layout.markers[i].corners_mm for i in sighting.indices])
    off_mm = np.hypot(*(np.stack([found_x, found_y], -1) - truth.reshape(-1, 2)).T)
    px_per_mm = shot.focal_px / shot.distance_mm
    # a detector's corners are only where the edges are then looked for (reach: several px)
    assert np.median(off_mm) * px_per_mm < 1.2
    assert off_mm.max() * px_per_mm < 2.5


def test_a_sighting_comes_back_from_its_arrays(seen):
    _, sheet, image = seen
    sighting = find_strip(image, sheet.layout)
    again = StripSighting.from_arrays(sighting.to_arrays())
    assert again.image_size == sighting.image_size
    assert np.array_equal(again.indices, sighting.indices)
    assert np.array_equal(again.corners_px, sighting.corners_px)


def test_markers_of_another_strip_are_not_taken_for_this_one(seen):
    _, _, image = seen
    with pytest.raises(StripNotFoundError, match=r"0 of the strip's \d+ markers .* at least 2"):
        find_strip(image, strip_sheet("chart").layout)


def test_the_piece_is_told_by_its_markers_and_a_refusal_names_it(seen):
    _, _, image = seen
    assert piece_in(image) == "wrap"
    assert piece_in(np.full((400, 600, 3), 90, np.uint8)) is None
    with pytest.raises(StripNotFoundError, match="the markers of the wrap lie in it"):
        find_strip(image, strip_sheet("frame").layout)


def test_a_picture_turned_over_or_in_negative_is_told_as_such(seen):
    _, sheet, image = seen
    for changed, told in ((image[:, ::-1], "left and right"), (255 - image, "light and dark")):
        with pytest.raises(StripNotFoundError, match=f"read with {told} exchanged"):
            find_strip(np.ascontiguousarray(changed), sheet.layout)


def test_a_covered_strip_says_how_many_were_read_and_how_many_are_needed(seen):
    _, sheet, image = seen
    covered = image.copy()
    covered[:, 300:] = 30
    read = len(find_strip(covered, sheet.layout, least=1).indices)
    assert 1 <= read < len(sheet.layout.markers)
    with pytest.raises(StripNotFoundError, match=rf"{read} of .* at least {read + 1} are needed"):
        find_strip(covered, sheet.layout, least=read + 1)


def stripe(edge_px, blur_px, size=(80, 120)):
    """Black left of `edge_px`, paper right of it, blurred in linear light, as an sRGB photograph.

    The edge lies in the coordinates of pixel middles: 40 is the middle of column 40.
    """
    fine = 16
    columns = (np.arange(size[1] * fine) + 0.5) / fine - 0.5
    row = np.where(columns > edge_px, 0.6, 0.02)[None].astype(np.float64)
    row = cv2.GaussianBlur(row, (0, 0), blur_px * fine, borderType=cv2.BORDER_REPLICATE)
    light = row.reshape(size[1], fine).mean(axis=1)
    # the sRGB curve of IEC 61966-2-1, written out here
    value = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.repeat(
        np.repeat((np.round(value * 255)).astype(np.uint8)[None, :, None], size[0], 0), 3, 2
    )


@pytest.mark.parametrize("blur", [0.4, 1.0, 2.0])
@pytest.mark.parametrize("edge", [58.0, 58.27, 58.5, 59.81])
def test_an_edge_is_placed_to_a_few_hundredths_whatever_the_blur(edge, blur):
    points = np.array([[58.8, 30.0], [58.8, 40.0]])
    outward = np.array([[1.0, 0.0], [1.0, 0.0]])
    reach = np.full(2, 8.0)
    found = edge_offsets(stripe(edge, blur), points, outward, reach, np.zeros(2, int))
    # the paper's light is known too: 0.6 in each colour, to a step of 8 bits
    assert found.offset_px == pytest.approx(edge - 58.8, abs=0.05)
    assert found.paper == pytest.approx(np.full((2, 3), 0.6), abs=0.006)


def test_where_there_is_no_edge_none_is_made_up():
    plain = np.full((80, 120, 3), 120, np.uint8)
    points, outward = np.array([[58.0, 30.0]]), np.array([[1.0, 0.0]])
    found = edge_offsets(plain, points, outward, np.array([8.0]), np.zeros(1, int))
    assert np.isnan(found.offset_px).all()
    # nor where paper is on the wrong side, nor outside the picture
    turned = edge_offsets(stripe(58.0, 0.6), points, -outward, np.array([8.0]), np.zeros(1, int))
    assert np.isnan(turned.offset_px).all()
    off = edge_offsets(stripe(58.0, 0.6), points - 70, outward, np.array([8.0]), np.zeros(1, int))
    assert np.isnan(off.offset_px).all()
