"""Lens and bow of a chart from corners that were laid on a cylinder by its own circle."""

import math

import cv2
import numpy as np
import pytest

from ironlace.photographs.chart_bowed import adjusted

SIZE = (1600.0, 1200.0)


def seen(rng, radius_mm, breathing=0.0, views=8, noise=0.12):
    """Corners on the flat chart, and in each photograph; and the mean focal length."""
    x, y = (one.ravel() for one in np.meshgrid(np.linspace(8, 248, 10), np.linspace(8, 154, 7)))
    flat = np.column_stack([x, y])
    away = flat - (128.0, 81.0)
    along, across = away @ (0.8, 0.6), away @ (-0.6, 0.8)
    if math.isfinite(radius_mm):
        out = radius_mm * np.sin(along / radius_mm)
        rise = radius_mm * (1.0 - np.cos(along / radius_mm))
    else:
        out, rise = along, np.zeros(len(along))
    solid = np.column_stack([0.8 * out - 0.6 * across, 0.6 * out + 0.8 * across, rise])
    pixels, poses, focals = [], [], []
    for n in range(views):
        focal = 1750.0 * (1.0 + breathing * rng.standard_normal())
        tilt, way = math.radians(rng.uniform(18, 36)), 2 * math.pi * n / views
        turn = np.array([tilt * math.cos(way), tilt * math.sin(way), rng.normal(0, 0.2)])
        eye = solid @ cv2.Rodrigues(turn)[0].T + (0.0, 0.0, 420.0)
        u, v = eye[:, 0] / eye[:, 2], eye[:, 1] / eye[:, 2]
        bent = 1.0 - 0.08 * (u * u + v * v)
        px = np.column_stack([focal * u * bent + 790.0, focal * v * bent + 610.0])
        pixels.append(px + noise * rng.standard_normal(px.shape))
        poses.append([*(turn + 0.02 * rng.standard_normal(3)), 0.0, 0.0, 400.0])
        focals.append(focal)
    begun = np.array(poses)
    for pose in begun:  # a place of the chart's upper left corner, as a calibration gives it
        pose[3:] -= cv2.Rodrigues(pose[:3])[0] @ (128.0, 81.0, 0.0)
    return [flat] * views, pixels, begun, float(np.mean(focals))


def found(rng, *case, **more):
    flat, pixels, poses, focal = seen(rng, *case, **more)
    inner = np.array([1700.0, SIZE[0] / 2, SIZE[1] / 2, 0.0, 0.0, 0.0, 0.0])
    return adjusted(flat, pixels, inner, poses), focal


@pytest.mark.parametrize(("radius", "rise"), [(1000.0, 9.9), (-2500.0, -4.0), (math.inf, 0.0)])
def test_a_bow_is_told_and_does_not_go_into_the_focal_length(radius, rise):
    told, focal = found(np.random.default_rng(3), radius)
    assert told.shared[0] == pytest.approx(focal, rel=0.001)
    assert told.rms_px < 0.2
    assert told.rise_mm == pytest.approx(rise, abs=max(0.3, 0.08 * abs(rise)))
    assert abs(told.rise_mm - rise) < 4 * told.rise_sd_mm + 0.02 * abs(rise)


def test_errors_that_a_photographs_corners_share_are_in_the_interval():
    """A focus that breathes: by single corners alone nine in ten would hold in a half of these."""
    held, wide = [], []
    for seed in range(16):
        told, focal = found(np.random.default_rng([seed, 5]), math.inf, breathing=0.006)
        held.append(abs(told.shared[0] - focal) < 1.645 * told.focal_sd_px)
        wide.append(told.focal_sd_px / focal)
    assert np.mean(held) > 0.75
    assert np.median(wide) < 0.006
