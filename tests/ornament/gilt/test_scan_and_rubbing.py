"""Scans and rubbings: flat already, true to the dots of the scanner."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely

from ironlace.ornament import GiltError, OrnamentError, find_gilt, trace
from ironlace.ornament.gilt.scan_and_rubbing import find_marks, flat_from_scan

DPI = 400.0


def sheet(darkroom, rng, *, ink=0.12, paper=0.75, uneven=0.3):
    ornament = darkroom.scrollwork(rng, (6, 6, 94, 64), scrolls=6)
    paint = darkroom.painted(ornament, (100.0, 70.0), DPI / 25.4).astype(np.float32) / 255.0
    slope = 1.0 - uneven * np.linspace(0, 1, paint.shape[1])[None, :]
    light = paper * slope * (1 - paint) + ink * paint
    light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 0.9)
    light += rng.normal(0, 0.012, light.shape)
    srgb = np.clip(
        np.where(
            light <= 0.0031308, light * 12.92, 1.055 * np.maximum(light, 1e-6) ** (1 / 2.4) - 0.055
        ),
        0,
        1,
    )
    grey = np.round(srgb * 255).astype(np.uint8)
    return ornament, np.dstack([grey] * 3)


def apart(drawing, ornament):
    lines = ornament.gilt.boundary
    points = np.vstack([p.points(0.1) for p in drawing.paths])
    return shapely.distance(shapely.points(points), lines)


@pytest.mark.parametrize(("ink", "paper"), [(0.12, 0.75), (0.7, 0.1)])
def test_a_rubbing_gives_the_outline_to_a_few_hundredths(darkroom, ink, paper):
    ornament, image = sheet(darkroom, np.random.default_rng(3), ink=ink, paper=paper)
    found = find_marks(flat_from_scan(image, DPI))
    drawing = trace(found.coverage, found.px_per_mm, found.origin_mm)
    off = apart(drawing, ornament)
    assert off.mean() < 0.04
    assert np.percentile(off, 95) < 0.1


def test_a_scan_of_gilt_is_traced_like_a_photograph(darkroom):
    rng = np.random.default_rng(5)
    ornament = darkroom.scrollwork(rng, (6, 6, 94, 64), scrolls=6)
    paint = darkroom.painted(ornament, (100.0, 70.0), DPI / 25.4)[..., None] / 255.0
    light = 0.012 * (1 - paint) + np.array([0.42, 0.3, 0.08]) * paint
    light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 0.9)
    light += rng.normal(0, 0.004, light.shape)
    srgb = 1.055 * np.clip(light, 1e-4, 1) ** (1 / 2.4) - 0.055
    image = np.round(np.clip(srgb, 0, 1) * 255).astype(np.uint8)
    found = find_gilt(flat_from_scan(image, DPI))
    off = apart(trace(found.coverage, found.px_per_mm, found.origin_mm), ornament)
    assert off.mean() < 0.03


def test_a_fine_scan_is_brought_down_and_keeps_its_scale(darkroom):
    image = np.zeros((2400, 3600, 3), np.uint8)
    flat = flat_from_scan(image, 1200.0)
    assert flat.px_per_mm <= 24.01
    left, top, right, bottom = flat.bounds_mm
    assert right - left == pytest.approx(3600 / 1200 * 25.4, abs=0.03)
    assert bottom - top == pytest.approx(2400 / 1200 * 25.4, abs=0.03)
    assert (left, top) == (0.0, 0.0)


def test_an_empty_sheet_and_an_impossible_resolution_are_said():
    rng = np.random.default_rng(1)
    blank = np.clip(rng.normal(225, 2, (300, 300, 3)), 0, 255).astype(np.uint8)
    with pytest.raises(GiltError, match="Nothing is marked"):
        find_marks(flat_from_scan(blank, 300))
    with pytest.raises(OrnamentError, match="no resolution"):
        flat_from_scan(blank, 3)
