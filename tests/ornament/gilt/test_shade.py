"""Gilt in a shadow is found or the place is called too dark; a black field in good light is not."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from ironlace.ornament.gilt.gilt_map import BLIND_COVERED, BLIND_DIM, find_gilt
from ironlace.photographs.flat_picture import COARSE_STEP, Flat
from ironlace.photographs.linear_light import decode, encode

GOLD, JAPAN, PX = np.array([0.36, 0.25, 0.10]), np.array([0.009, 0.008, 0.007]), 10
STROKES = [((40, 60 + 40 * n), (560, 90 + 40 * n), 4 + 3 * (n % 3)) for n in range(7)]


def flat_of(left: float, soft: float, rng: np.random.Generator, bare: float = 1.0) -> Flat:
    """Slanting strokes, 60 mm wide, the right half in a shadow or on ground of its own blackness.

    It is photographed by a camera with noise and 8 bits.
    """
    gilt = np.zeros((400, 600), np.float32)
    for begin, end, wide in STROKES:
        cv2.line(gilt, begin, end if left < 1 else (260, end[1]), 1.0, wide, cv2.LINE_AA)
    half = np.zeros_like(gilt)
    half[:, 300:] = 1
    shadow = cv2.GaussianBlur(half, (0, 0), soft)[..., None]
    japan = JAPAN * (1 - (1 - bare) * shadow)
    gilt = cv2.GaussianBlur(gilt, (0, 0), 0.8)[..., None]
    light = (japan * (1 - gilt) + GOLD * gilt) * (1 - (1 - left) * shadow)
    light += rng.normal(0, 0.0006, light.shape) + rng.normal(0, 0.01, light.shape) * light
    stored = decode(np.round(encode(light) * 255) / 255)
    coarse = (400 // COARSE_STEP + 4, 600 // COARSE_STEP + 4)
    return Flat(
        np.round(stored * 65535).astype(np.uint16),
        float(PX),
        (0.0, 0.0),
        np.zeros((400, 600), np.uint8),
        np.full(coarse, 12.0, np.float32),
        np.ones(coarse, np.float32),
        np.full((*coarse, 3), 0.8, np.float32),
    )


@pytest.mark.parametrize(("left", "soft"), [(0.5, 2), (0.2, 20), (0.06, 2)])
def test_gilt_in_a_shadow_is_found_where_it_lies(left, soft):
    found = find_gilt(flat_of(left, soft, np.random.default_rng(3)))
    dark = found.coverage[:, 340:560] > 127
    truth = np.zeros((400, 600), np.uint8)
    for begin, end, wide in STROKES:
        cv2.line(truth, begin, end, 1, wide, cv2.LINE_AA)
    truth = truth[:, 340:560] > 0
    assert (dark & truth).sum() > 0.93 * truth.sum()
    assert (dark & ~truth).sum() < 0.08 * truth.sum()
    assert not (found.shaded[:, :130] > 0).any()
    assert left < 0.5 or not found.shaded.any()


def test_where_too_little_light_is_left_the_place_is_too_dark_and_the_lit_half_is_not():
    found = find_gilt(flat_of(0.004, 2, np.random.default_rng(3)))
    assert np.mean(found.blind[:, 165:] & BLIND_DIM > 0) > 0.9
    assert not (found.blind[:, :130] & BLIND_DIM > 0).any()


@pytest.mark.parametrize("bare", [0.5, 0.25])
def test_a_bare_field_that_mirrors_something_darker_is_not_called_blind(bare):
    found = find_gilt(flat_of(1.0, 2, np.random.default_rng(3), bare))
    assert not (found.blind > 0).any()
    assert not found.coverage[:, 320:].any()


def test_a_finger_over_the_work_covers_it_and_a_mirrored_grey_sky_does_not():
    """Skin in the light of a window, (0.61, 0.30, 0.19) of white; 20 mm wide."""
    bare = flat_of(1.0, 2, np.random.default_rng(3))
    for colour, covered in (((0.61, 0.30, 0.19), True), ((0.17, 0.17, 0.18), False)):
        light = bare.light.copy()
        light[90:330, 360:560] = np.array(colour) * 0.8 * 65535
        told = find_gilt(replace(bare, light=light)).blind & BLIND_COVERED > 0
        shrunk = told.shape[1] / 600
        inner = told[int(130 * shrunk) : int(290 * shrunk), int(400 * shrunk) : int(520 * shrunk)]
        assert (inner.mean() > 0.95) if covered else not told.any()
        assert not told[:, : int(330 * shrunk)].any()
