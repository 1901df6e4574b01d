"""What the markers say against surface, lens and paper, on photographs cast by rays or thrown."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

import strip_thrown
from ironlace.photographs import Lens, Placing, find_strip, place_surface, strip_sheet
from ironlace.photographs.errors import LensError, SurfaceError
from ironlace.photographs.strip_evidence import SideRows, StripEvidence, left_out
from ray_cast import Scene, photograph
from strip_thrown import close
from thrown_light import Setting

SMALL = Scene(size=(1500, 1060), focal=2000, distance=300)
ROUND = Setting(kind="cylinder", radius=60)


def thrown_strip(scene: Setting, kind=None) -> Placing:
    """Of the markers' edges alone, without a picture."""
    rng = np.random.default_rng(1)
    over = close(np.array([200.0, 130.0]), rng)
    return strip_thrown.placed(scene, over, rng, own_lens=True, kind=kind)[0]


def placed(scene: Scene, *, kind=None, lens_of=lambda told: told) -> Placing:
    photo = photograph(scene, np.random.default_rng(1))
    layout = strip_sheet("wrap").layout
    lens = Lens.from_json(json.dumps(lens_of(photo.lens)))
    return place_surface(photo.image, find_strip(photo.image, layout), layout, kind=kind, lens=lens)


@pytest.fixture(scope="module")
def flat() -> Placing:
    return placed(SMALL)


def test_flat_work_is_a_plane_and_its_markers_agree(flat):
    assert flat.surface.kind == "plane"
    assert flat.evidence.left_out_mm < 0.01
    assert not flat.evidence.lens_contradicted


def test_round_work_is_told_by_its_markers():
    found = thrown_strip(ROUND)
    assert found.surface.kind == "cylinder"
    assert found.surface.numbers()["radius_mm"] == pytest.approx(60, rel=0.01)


def test_a_shape_that_the_markers_contradict_is_refused_and_the_better_one_named():
    with pytest.raises(SurfaceError, match="choose 'cylinder'"):
        thrown_strip(ROUND, kind="plane")


def test_flat_work_said_to_be_round_is_a_plane_after_all():
    found = thrown_strip(Setting(), kind="cylinder")
    assert found.surface.kind == "plane"
    assert found.evidence.flat_after_all


def test_a_lens_that_is_not_the_photographs_is_refused():
    def shorter(told):
        matrix = np.array(told["matrix"])
        matrix[[0, 1], [0, 1]] *= 0.8
        return {**told, "matrix": matrix.tolist()}

    with pytest.raises(LensError, match="not the lens of this photograph"):
        placed(replace(SMALL, slant=15), lens_of=shorter)


def test_a_moved_end_widens_the_doubt_and_is_named(flat):
    moved = placed(replace(SMALL, moved=(0.0, 0.43)), kind="plane")
    assert moved.evidence.left_out_mm > 0.05 > flat.evidence.left_out_mm
    assert moved.evidence.widened > 2 * flat.evidence.widened
    assert moved.evidence.end in ("left", "right")


def test_blur_is_measured_from_the_printed_edges(flat):
    # a disc of radius r has a standard deviation of r / 2
    blurred = placed(replace(SMALL, defocus=3.0))
    wanted = math.hypot(flat.evidence.blur_px, 1.5)
    assert blurred.evidence.blur_px == pytest.approx(wanted, rel=0.15)


def test_evidence_comes_back_from_json():
    told = StripEvidence(left_out_mm=0.01, end="left", rivals={"plane": 0.1})
    again = StripEvidence.from_json(told.to_json())
    assert again.left_out_mm == 0.01 and again.rivals == {"plane": 0.1}
    assert math.isnan(again.blur_px)


def test_left_out_equals_a_fit_without_the_marker():
    rng = np.random.default_rng(4)
    marker = np.repeat(np.arange(8), 4)
    xy = rng.uniform(0, 100, (8, 2))[marker]
    normal = np.tile(np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]]), (8, 1))
    # a shift and a scale, seen square to each side
    jacobian = np.stack([normal[:, 0], normal[:, 1], np.sum(normal * xy, axis=1)], axis=1)
    miss = rng.normal(0, 0.1, 32)
    full = np.linalg.lstsq(jacobian, miss, rcond=None)[0]
    rows = SideRows(
        miss - jacobian @ full, jacobian, normal, 0.1, np.ones(32), marker, xy, np.zeros((3, 3))
    )
    rest = marker != 3
    without = np.linalg.lstsq(jacobian[rest], miss[rest], rcond=None)[0]
    predicted = (miss - jacobian @ without)[~rest]
    j = jacobian[~rest]
    cover = np.eye(4) + j @ np.linalg.inv(jacobian[rest].T @ jacobian[rest]) @ j.T
    n, w = normal[~rest], np.linalg.inv(cover)
    shift = np.linalg.solve(n.T @ w @ n, n.T @ w @ predicted)
    assert left_out(rows).marker_mm[3] == pytest.approx(np.linalg.norm(shift), rel=1e-6)
