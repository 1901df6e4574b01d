"""Pose, surface and lens as one vector, against OpenCV's own camera."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from ironlace.photographs import Lens
from ironlace.photographs.camera_model import (
    CameraModel,
    canonical,
    fit_points,
    parameter_scales,
    prior_information,
)
from ironlace.photographs.errors import SurfaceError
from ironlace.photographs.surfaces import Round

SIZE = (2000, 1500)
LENS = Lens((2100.0, 2100.0), (1010.0, 740.0), (-0.08, 0.03, 0.0, 0.0, 0.0), SIZE)
REFERENCE = (100.0, 60.0)
TURN, MOVE = np.array([0.15, -0.22, 0.05]), np.array([4.0, -3.0, 300.0])
GRID = np.stack(np.meshgrid(np.linspace(20, 180, 9), np.linspace(10, 110, 7)), -1).reshape(-1, 2)


def on_cylinder(xy, radius):
    """Unrolled places in space: the axis along y, touching z = 0 below the reference point."""
    angle = (xy[:, 0] - REFERENCE[0]) / radius
    x = REFERENCE[0] + radius * np.sin(angle)
    return np.column_stack([x, xy[:, 1], radius * (1.0 - np.cos(angle))])


def seen(space, turn=TURN, move=MOVE):
    """Pixels by OpenCV; the pose turns about the reference point."""
    about = space - np.array([*REFERENCE, 0.0])
    matrix = np.array([[2100.0, 0, 1010.0], [0, 2100.0, 740.0], [0, 0, 1]])
    distortion = np.array([-0.08, 0.03, 0.0, 0.0, 0.0])
    return cv2.projectPoints(about, turn, move, matrix, distortion)[0].reshape(-1, 2)


def test_a_plane_is_seen_where_opencv_sees_it():
    model = CameraModel("plane", REFERENCE, LENS, False, SIZE)
    assert model.names == ("turn_x", "turn_y", "turn_z", "move_x", "move_y", "move_z", *INK)
    found = model.pixels(np.array([*TURN, *MOVE, 0.0]), GRID)
    flat = np.column_stack([GRID, np.zeros(len(GRID))])
    assert found == pytest.approx(seen(flat), abs=1e-6)


INK = ("ink_spread_mm",)


def test_a_cylinder_is_seen_where_opencv_sees_it():
    model = CameraModel("cylinder", REFERENCE, LENS, False, SIZE)
    vector = np.array([*TURN, *MOVE, math.log(60.0), math.pi / 2, 0.0])
    found = model.pixels(vector, GRID)
    assert found == pytest.approx(seen(on_cylinder(GRID, 60.0)), abs=1e-6)


def test_a_cone_that_does_not_taper_is_a_cylinder():
    cone = CameraModel("cone", REFERENCE, LENS, False, SIZE)
    vector = np.array([*TURN, *MOVE, math.log(60.0), math.pi / 2, 0.0, 0.0])
    found = cone.pixels(vector, GRID)
    assert found == pytest.approx(seen(on_cylinder(GRID, 60.0)), abs=1e-5)


def test_a_free_lens_is_the_given_one_when_nothing_is_moved():
    model = CameraModel("plane", REFERENCE, LENS, True, SIZE)
    vector = np.array([*TURN, *MOVE, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    assert len(model.names) == len(vector) == len(parameter_scales(model))
    flat = np.column_stack([GRID, np.zeros(len(GRID))])
    assert model.pixels(vector, GRID) == pytest.approx(seen(flat), abs=1e-6)
    # a focal length a tenth longer shows everything a tenth farther from the middle
    longer = vector.copy()
    longer[6] = math.log(1.1)
    middle = np.array([1010.0, 740.0])
    expected = middle + 1.1 * (seen(flat) - middle)
    assert model.pixels(longer, GRID) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("kind", ["plane", "cylinder"])
def test_the_fit_finds_the_pose_and_the_radius_that_made_the_picture(kind):
    radius = 60.0
    space = on_cylinder(GRID, radius) if kind == "cylinder" else np.pad(GRID, ((0, 0), (0, 1)))
    noise = np.random.default_rng(3).normal(0, 0.2, GRID.shape)
    model = CameraModel(kind, REFERENCE, LENS, False, SIZE)
    found = fit_points(model, GRID, seen(space) + noise)
    # the turn and the place of the reference point, whatever branch the vector took
    surface, _, rotation, move, _ = model.split(found)
    assert rotation == pytest.approx(cv2.Rodrigues(TURN)[0], abs=0.005)
    at = rotation @ np.array([*REFERENCE, 0.0]) + move
    assert at == pytest.approx(MOVE, abs=1.0)
    if kind == "cylinder":
        assert surface.radius_mm == pytest.approx(radius, rel=0.02)
        assert abs(math.sin(surface.axis_rad)) == pytest.approx(1.0, abs=0.01)


def test_places_that_fit_no_camera_are_refused():
    model = CameraModel("plane", REFERENCE, LENS, False, SIZE)
    with pytest.raises(SurfaceError, match="fit no camera position"):
        fit_points(model, GRID[:2], np.zeros((2, 2)))


def test_the_same_cone_has_one_name():
    turned = canonical(Round(REFERENCE, 40.0, math.radians(200.0), 0.1))
    assert turned.axis_rad == pytest.approx(math.radians(20.0))
    assert turned.taper == pytest.approx(-0.1)
    same = canonical(Round(REFERENCE, 40.0, math.radians(-30.0), 0.1))
    assert (same.axis_rad, same.taper) == pytest.approx((math.radians(-30.0), 0.1))


def test_what_is_believed_beforehand_is_the_curve_of_its_own_errors():
    # the information is half the second difference of the sum of squares, term by term
    model = CameraModel("cone", REFERENCE, LENS, True, SIZE)
    count = len(model.names)
    step = 1e-3

    def squares(p):
        return float((model.priors(p) ** 2).sum())

    curve = [
        (squares(step * row) + squares(-step * row) - 2 * squares(np.zeros(count))) / step**2 / 2
        for row in np.eye(count)
    ]
    assert np.diag(prior_information(model)) == pytest.approx(curve, rel=1e-6)
