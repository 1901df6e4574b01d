"""Colour kept coarsely is told by the picture itself, and hairlines are given theirs back."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ironlace.ornament.gilt.coarse_colour import colour_spread_mm, with_fine_colour
from ironlace.ornament.gilt.gilt_map import find_standing_ground
from ironlace.photographs.linear_light import decode, encode

SCALE, SIZE = 5.0, (400, 600)
GOLD, GREY = np.array([0.45, 0.32, 0.13]), np.array([0.3, 0.3, 0.3])
SEEN = np.ones(SIZE, np.bool_)


def painted(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Light of hairlines and wider strokes of gilt, some of grey, and where each lies."""
    gilt, grey = (np.zeros((SIZE[0] * 4, SIZE[1] * 4), np.float32) for _ in range(2))
    for n, x in enumerate(range(80, 2320, 110)):
        cv2.line(gilt if n % 5 else grey, (x, 0), (x + 60, 1600), 1.0, (8, 30)[n % 2])
    gilt, grey = (cv2.resize(one, SIZE[::-1], interpolation=cv2.INTER_AREA) for one in (gilt, grey))
    bare = (1.0 - gilt - grey)[..., None]
    light = gilt[..., None] * GOLD + grey[..., None] * GREY + bare * 0.012
    light += rng.normal(0, 0.002, light.shape)
    return np.clip(light, 0, None).astype(np.float32), gilt, grey


def coarsened(light: np.ndarray, mm: float) -> np.ndarray:
    """The same with its colour kept in squares so wide."""
    code = (encode(light) * 255).astype(np.float32)
    ycc = cv2.cvtColor(np.clip(code, 0, 255).astype(np.uint8), cv2.COLOR_RGB2YCrCb)
    few = (round(SIZE[1] / mm / SCALE), round(SIZE[0] / mm / SCALE))
    small = cv2.resize(ycc[..., 1:], few, interpolation=cv2.INTER_AREA)
    ycc[..., 1:] = cv2.resize(small, SIZE[::-1], interpolation=cv2.INTER_LINEAR)
    return decode(cv2.cvtColor(ycc, cv2.COLOR_YCrCb2RGB) / 255.0).astype(np.float32)


def ground_of(values: np.ndarray) -> np.ndarray:
    return find_standing_ground(values, SEEN, SCALE)


def test_coarse_colour_is_told_and_usual_colour_is_not():
    light, _, _ = painted(np.random.default_rng(1))
    assert colour_spread_mm(light, SEEN, SCALE, ground_of) == 0.0
    assert colour_spread_mm(coarsened(light, 0.3), SEEN, SCALE, ground_of) == 0.0
    found = colour_spread_mm(coarsened(light, 1.2), SEEN, SCALE, ground_of)
    assert found == pytest.approx(0.5, abs=0.21)


def test_hairlines_are_given_their_colour_and_grey_strokes_stay_grey():
    light, gilt, grey = painted(np.random.default_rng(2))
    coarse = coarsened(light, 1.2)
    fine = with_fine_colour(coarse, 0.5, SCALE, ground_of)
    for paint, least, most in ((gilt, 0.6, 1.2), (grey, -0.2, 0.3)):
        core = paint > 0.35
        apart = (light[..., 0] - light[..., 2])[gilt > 0.35].mean()
        found = (fine[..., 0] - fine[..., 2])[core].mean() / apart
        assert least < found < most
    strokes = (gilt > 0.5).astype(np.uint8)
    wide = cv2.morphologyEx(strokes, cv2.MORPH_OPEN, np.ones((4, 4), np.uint8))
    hair = (strokes > 0) & (cv2.dilate(wide, np.ones((5, 5), np.uint8)) == 0)
    before, after, true = (
        (one[..., 0] - one[..., 2])[hair].mean() for one in (coarse, fine, light)
    )
    assert before < 0.5 * true
    assert after > 0.7 * true


def test_light_stays_as_it_is():
    coarse = coarsened(painted(np.random.default_rng(3))[0], 1.2)
    fine = with_fine_colour(coarse, 0.5, SCALE, ground_of)
    luma = np.array([0.299, 0.587, 0.114])
    assert np.abs(encode(fine) @ luma - encode(coarse) @ luma).max() < 0.05
    assert np.median(np.abs(encode(fine) @ luma - encode(coarse) @ luma)) < 1e-3


def test_where_nothing_is_seen_or_nothing_stands_out_no_colour_is_called_coarse():
    light = np.full((*SIZE, 3), 0.01, np.float32)
    assert colour_spread_mm(light, SEEN, SCALE, ground_of) == 0.0
    assert colour_spread_mm(light, ~SEEN, SCALE, ground_of) == 0.0


def test_on_coloured_japan_nothing_is_told_of_it():
    light, gilt, grey = painted(np.random.default_rng(4))
    light += (1.0 - gilt - grey)[..., None] * np.float32([0.15, 0.0, 0.0])
    assert colour_spread_mm(coarsened(light, 1.2), SEEN, SCALE, ground_of) == 0.0
