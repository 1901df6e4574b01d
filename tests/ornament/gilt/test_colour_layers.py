"""Ornament in several colours: each found where it is, edges true, its colour measured."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely

from ironlace.ornament import GiltError, trace
from ironlace.ornament.gilt.colour_layers import ColourTouch, difference, find_colours, lab_of
from ironlace.ornament.gilt.gilt_map import BLIND_GLARE
from ironlace.photographs.flat_picture import Flat, coarse_places

PPM, W, H = 16.0, 80, 50
COLOURS = {
    "gold": (0.46, 0.33, 0.09),
    "red": (0.30, 0.03, 0.025),
    "green": (0.03, 0.17, 0.06),
    "pearl": (0.62, 0.64, 0.62),
}
CARD = (70.0, 42.0)


def shapes(darkroom):
    """A gold scroll with a red leaf laid against it, a green ring, and pearl dots."""
    curl = darkroom.spiral(np.array([12.0, 30.0]), -0.5, 34.0, 0.02, 0.3)
    gold = darkroom.stroke(curl, 0.6 + 2.0 * np.sin(np.pi * np.linspace(0, 1, len(curl))))
    leaf = shapely.Point(24, 16).buffer(5) & shapely.Point(28, 20).buffer(5)
    ring = shapely.Point(58, 18).buffer(7) - shapely.Point(58, 18).buffer(6.3)
    dots = shapely.union_all([shapely.Point(44 + 4 * k, 38).buffer(0.9) for k in range(4)])
    return {"gold": gold - leaf, "red": leaf, "green": ring, "pearl": dots}


def picture(darkroom, rng, found):
    scale = 4
    size = (W * PPM * scale, H * PPM * scale)
    light = np.full((int(H * PPM), int(W * PPM), 3), 0.015, np.float32)
    for name, shape in found.items():
        big = np.zeros((int(size[1]), int(size[0])), np.uint8)
        for part in shapely.get_parts(shape):
            rings = [np.asarray(r.coords) for r in (part.exterior, *part.interiors)]
            at = [np.round(r * PPM * scale * 16 - 8).astype(np.int32) for r in rings]
            cv2.fillPoly(big, at, 255, cv2.LINE_8, 4)
        cover = cv2.resize(big, light.shape[1::-1], interpolation=cv2.INTER_AREA)[..., None] / 255.0
        light = light * (1 - cover) + cover * np.float32(COLOURS[name])
    x, y = (int(v * PPM) for v in CARD)
    light[y - 60 : y + 60, x - 80 : x + 80] = 0.18
    v, u = np.mgrid[0 : light.shape[0], 0 : light.shape[1]].astype(np.float32)
    lamp = 0.75 + 0.25 * u / light.shape[1] - 0.1 * v / light.shape[0]
    light = cv2.GaussianBlur(light * lamp[..., None] * 0.8, (0, 0), 0.8)
    light += rng.normal(0, 1, light.shape) * 0.004 * np.sqrt(np.clip(light, 0, 1) + 0.02)
    columns, rows = coarse_places(*light.shape[:2])
    nodes = np.meshgrid(columns / light.shape[1], rows / light.shape[0])
    # the paper throws back 0.86 of the lamp's light
    white = (0.75 + 0.25 * nodes[0] - 0.1 * nodes[1]) * 0.8 * 0.86
    return Flat(
        (np.clip(light, 0, 1) * 65535).astype(np.uint16),
        PPM,
        (0.0, 0.0),
        np.zeros(light.shape[:2], np.uint8),
        np.full(white.shape, PPM, np.float32),
        np.ones(white.shape, np.float32),
        np.dstack([white] * 3).astype(np.float32),
    )


TOUCHES = [
    ColourTouch(16, 26.6, "gold"),
    ColourTouch(26, 18, "red"),
    ColourTouch(58, 11.35, "green", 0.3),
    ColourTouch(44, 38, "pearl"),
    ColourTouch(70, 25, ""),
]


@pytest.fixture(scope="module")
def found(darkroom):
    rng = np.random.default_rng(2)
    truth = shapes(darkroom)
    # the touch must lie on the gold wherever its curl runs
    near = shapely.get_coordinates(truth["gold"].representative_point())[0]
    touches = [ColourTouch(*near, "gold"), *TOUCHES[1:]]
    flat = picture(darkroom, rng, truth)
    return truth, {c.name: c for c in find_colours(flat, touches, grey_card=(*CARD, 3.0))}


@pytest.mark.parametrize("name", list(COLOURS))
def test_each_colour_is_found_with_its_true_outline(found, name):
    truth, layers = found
    drawing = trace(layers[name].found.coverage, PPM, (0.0, 0.0))
    lines = truth[name].boundary
    points = np.vstack([p.points(0.1) for p in drawing.paths])
    if name == "pearl":  # the grey card is as grey as pearl: that is for the person to rub out
        points = points[(points[:, 0] < 62) | (points[:, 1] < 34)]
    apart = shapely.distance(shapely.points(points), lines)
    assert apart.mean() < 0.05
    assert np.percentile(apart, 95) < 0.16
    missed = shapely.distance(
        shapely.points(shapely.get_coordinates(shapely.segmentize(lines, 0.2))),
        shapely.MultiLineString([np.vstack([p.polygon(), p.polygon()[:1]]) for p in drawing.paths]),
    )
    assert np.percentile(missed, 95) < 0.2


@pytest.mark.parametrize("name", list(COLOURS))
def test_the_colour_is_measured_against_the_grey_card(found, name):
    _, layers = found
    true = lab_of(np.array(COLOURS[name]))
    assert difference(np.array(layers[name].lab), true) < 2.5


def test_what_cannot_be_told_is_said(darkroom):
    flat = picture(darkroom, np.random.default_rng(1), shapes(darkroom))
    with pytest.raises(GiltError, match="one place at least"):
        find_colours(flat, [ColourTouch(3, 3, "")])
    with pytest.raises(GiltError, match="stands out"):
        find_colours(flat, [ColourTouch(3, 3, "red")])
    with pytest.raises(GiltError, match="outside the flat"):
        find_colours(flat, [ColourTouch(300, 3, "red")])


def test_where_a_window_is_mirrored_no_colour_is_told_and_elsewhere_every_one(darkroom):
    flat = picture(darkroom, np.random.default_rng(3), shapes(darkroom))
    light = flat.light.astype(np.float32)
    x, y = (int(v * PPM) for v in (2, 36))  # off every colour, wider than any stroke
    light[y : y + 192, x : x + 208] += 0.93 * 65535
    flat = replace(flat, light=np.clip(light, 0, 65535).astype(np.uint16))
    near = shapely.get_coordinates(shapes(darkroom)["gold"].representative_point())[0]
    for layer in find_colours(flat, [ColourTouch(*near, "gold"), *TOUCHES[1:]]):
        blind = layer.found.blind
        scale = blind.shape[1] / flat.shape[1]
        rows, columns = (slice(int((v + 16) * scale), int((v + 176) * scale)) for v in (y, x))
        assert (blind[rows, columns] & BLIND_GLARE > 0).mean() > 0.95
        assert (blind > 0).mean() < 0.1
