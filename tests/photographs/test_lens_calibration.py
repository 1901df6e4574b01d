"""A lens measured from photographs of the chart, against the lens that took them."""

from __future__ import annotations

import json

import numpy as np
import pytest

from ironlace.photographs import Lens, LensError, strip_sheet
from ironlace.photographs.lens_calibration import LensCalibration, calibrate_lens

VIEWS = [(4, 0), (24, 10), (28, 130), (26, 250), (32, 60), (30, 190), (22, 310)]


@pytest.fixture(scope="module")
def views(darkroom):
    rng = np.random.default_rng(6)
    sheet = strip_sheet("chart")
    shots = [
        darkroom.Shot(
            width=1600,
            height=1200,
            focal_px=1750,
            tilt_deg=tilt,
            tilt_way_deg=way,
            roll_deg=float(rng.uniform(-20, 20)),
            aim_mm=(128.0, 93.0),
            distance_mm=330.0,
            glare=False,
            reflections=0.0,
            scratches=0,
            jpeg=95,
        )
        for tilt, way in VIEWS
    ]
    blank = np.zeros((64, 64), np.uint8)
    images = [
        darkroom.photograph(None, sheet, s, rng, coverage=(blank, 1.0, (-900.0, -900.0)))
        for s in shots
    ]
    return images, Lens.from_json(json.dumps(shots[0].lens))


def test_focal_length_and_distortion_are_found(views):
    images, true = views
    found = calibrate_lens(images)
    assert found.lens.focal_px[0] == pytest.approx(true.focal_px[0], rel=0.004)
    assert abs(found.lens.focal_px[0] - true.focal_px[0]) < 4 * found.lens.focal_sd_px + 4
    assert found.rms_px < 0.8
    # where it sends points matters, not which figures do it
    u, v = np.meshgrid(np.linspace(-0.42, 0.42, 9), np.linspace(-0.31, 0.31, 7))
    rays = np.stack([u, v, np.ones_like(u)], -1).reshape(-1, 3)
    apart = np.linalg.norm(found.lens.project(rays) - true.project(rays), axis=1)
    assert np.median(apart) < 1.5
    assert np.nanmax(found.tilts_deg) > 20


def test_a_bow_is_told_where_it_stands_out_of_its_error():
    lens = Lens((1750.0, 1750.0), (800.0, 600.0), focal_sd_px=2.0)

    def told(rise, sd):
        return LensCalibration(lens, 0.5, (0.5,), (20.0,), rise, sd)

    assert "bowed by about 4.0 mm" in told(-4.0, 0.2).bowed
    assert told(0.3, 0.01).bowed == ""  # no more than paper glued by hand
    assert told(2.0, 1.0).bowed == ""
    assert told(2.0, 0.1).as_dict()["focal_90_px"] == pytest.approx([1746.71, 1750.0, 1753.29])


def test_too_few_or_all_alike_are_refused(views):
    images, _ = views
    with pytest.raises(LensError, match="5 are needed"):
        calibrate_lens(images[:3])
    with pytest.raises(LensError, match="nearly one side"):
        calibrate_lens([images[0]] * 6)
    with pytest.raises(LensError, match="different sizes"):
        calibrate_lens([images[0], images[1][:1000]])
    with pytest.raises(LensError, match="No photograph"):
        calibrate_lens([])
    plain = np.full((1200, 1600, 3), 90, np.uint8)
    with pytest.raises(LensError, match="0 of 6"):
        calibrate_lens([plain] * 6)


def test_the_chart_shares_no_marker_with_the_strips():
    numbers = {m.id for m in strip_sheet("chart").layout.markers}
    for piece in ("frame", "corner", "wrap", "strip"):
        assert not numbers & {m.id for m in strip_sheet(piece).layout.markers}
