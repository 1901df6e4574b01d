"""Photographs joined into one flat: exposure matched, no seam, each place where it is sharp."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ironlace.photographs import PhotographsError
from ironlace.photographs.flat_picture import UNSEEN_FRAME, UNSEEN_GLARE, Flat, coarse_places
from ironlace.photographs.photographs_joined import joined

PPM, H, W = 10.0, 400, 900


def texture(rng):
    small = rng.normal(0, 1, (H // 40 + 3, W // 40 + 3)).astype(np.float32)
    slow = cv2.resize(small, (W, H), interpolation=cv2.INTER_CUBIC) * 900 + 9000
    lines = np.zeros((H, W), np.float32)
    for _ in range(60):
        p, q = rng.uniform(0, (W, H), (2, 2)).astype(int)
        cv2.line(lines, tuple(map(int, p)), tuple(map(int, q)), 12000.0, 4, cv2.LINE_AA)
    return np.dstack([slow + lines] * 3)


def part(truth, left, right, gain, blur=0.0, resolution=12.0):
    light = truth * gain
    if blur:
        light = cv2.GaussianBlur(light, (0, 0), blur)
    hidden = np.full((H, W), UNSEEN_FRAME, np.uint8)
    hidden[:, left:right] = 0
    columns, rows = coarse_places(H, W)
    shape = (len(rows), len(columns))
    return Flat(
        np.clip(light, 0, 65535).astype(np.uint16),
        PPM,
        (0.0, 0.0),
        hidden,
        np.full(shape, resolution, np.float32),
        np.full(shape, 0.9, np.float32),
        np.ones((*shape, 3), np.float32),
    )


def test_the_join_cannot_be_seen_and_exposure_is_matched():
    truth = texture(np.random.default_rng(1))
    made = joined([part(truth, 0, 560, 1.0), part(truth, 340, W, 0.6)])
    assert not made.hidden.any()
    apart = np.abs(made.light.astype(float) - truth)[:, :, 0]
    # 1 % of the light, and no step where the photographs end
    assert np.percentile(apart, 99) < 0.012 * truth.max()
    columns = (made.light[:, :, 0] / truth[:, :, 0]).mean(axis=0)
    assert np.abs(np.diff(columns)).max() < 0.004


def test_each_place_is_taken_from_where_it_is_sharp():
    truth = texture(np.random.default_rng(2))
    made = joined([part(truth, 0, W, 1.0, blur=4.0), part(truth, 200, 700, 1.0)])
    middle = np.s_[60:-60, 320:580]
    assert np.abs(made.light[middle] - truth[middle]).mean() < 150  # blurred alone: 1100


def test_glare_in_one_is_filled_from_the_other():
    truth = texture(np.random.default_rng(3))
    one = part(truth, 0, W, 1.0, resolution=14.0)
    one.light[100:200, 300:420] = 65535
    one.hidden[100:200, 300:420] = UNSEEN_GLARE
    made = joined([one, part(truth, 0, W, 0.8)])
    place = np.s_[120:180, 330:390]
    assert not made.hidden[place].any()
    assert np.abs(made.light[place] - truth[place]).mean() < 900


def test_other_grids_are_refused():
    truth = texture(np.random.default_rng(4))
    one = part(truth, 0, W, 1.0)
    other = Flat(
        one.light[:, :800],
        PPM,
        (0.0, 0.0),
        one.hidden[:, :800],
        one.resolution,
        one.facing,
        one.white,
    )
    with pytest.raises(PhotographsError, match="different grids"):
        joined([one, other])
    with pytest.raises(PhotographsError, match="at least one"):
        joined([])
