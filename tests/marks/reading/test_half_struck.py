import cv2
import numpy as np
import pytest

from eaten_plates import inked
from ironlace.marks.reading.bare_metal import BareMetal, overlaid
from ironlace.marks.reading.half_struck import falling_off, half_struck
from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, held_down, shapes_from_pictures
from ironlace.marks.reading.struck_over import strike_height

FIGURES = "0123456789"
CELLS = (("4", "left"), ("7", "head"), ("8", ""), ("4", ""), ("1", ""), ("7", ""), ("3", "light"))


def struck(rng, figure, lacking):
    """Depth of a figure by a V-nosed punch, held askew or struck lightly, and its slopes."""
    ink = inked("roman bold", figure)
    per = 48 / (ink.shape[0] - 40)
    move = cv2.getRotationMatrix2D((ink.shape[1] / 2, ink.shape[0] / 2), 1.0, per)
    move[:, 2] += np.array(WIDE[::-1]) / 2 - np.array(ink.shape[::-1]) / 2
    laid = cv2.warpAffine(ink, move, WIDE[::-1]) > 0.5
    deep = np.minimum(cv2.distanceTransform(laid.astype(np.uint8), cv2.DIST_L2, 3), 3.0) / 3
    rows, columns = np.nonzero(deep)
    down, right = np.mgrid[: WIDE[0], : WIDE[1]]
    if lacking == "left":
        deep = np.maximum(deep - (columns.max() - right) / (0.55 * np.ptp(columns)), 0)
    if lacking == "head":
        deep = np.maximum(deep - (rows.max() - down) / (0.6 * np.ptp(rows)), 0)
    if lacking == "light":
        deep = 0.4 * deep
    ground = cv2.GaussianBlur(deep, (0, 0), 1.0) + rng.normal(0, 0.01, WIDE)
    down, right = np.gradient(-ground)
    return float(np.percentile(deep[laid], 60)), np.stack([right, down]).astype(np.float32)


@pytest.fixture(scope="module")
def told():
    rng = np.random.default_rng(11)
    depths, slopes = zip(*(struck(rng, *cell) for cell in CELLS), strict=True)
    held = [held_down(one, 0.02) for one in slopes]
    reader = ShapeReader(shapes_from_pictures({g: inked("roman bold", g) for g in FIGURES}))
    over = overlaid(reader.strikes, held, BareMetal((), np.ones(24)))
    return half_struck(held, over.places, reader.strikes, reader.glyph_of, depths, 200.0)


def test_a_figure_struck_on_one_side_is_told_with_what_it_lacks(told):
    assert [one.chance > 0.9 for one in told[:2]] == [True, True]
    assert "left" in told[0].lacking
    assert "head" in told[1].lacking


def test_its_figures_are_those_of_half_a_figure_and_not_sure(told):
    assert [int(one.p.argmax()) for one in told[:2]] == [4, 7]
    assert max(one.p.max() for one in told[:2]) < 0.95


def test_whole_figures_are_not_told_deep_or_shallow(told):
    assert max(one.chance for one in told[2:]) < 0.01


def test_few_digits_have_no_usual_depth(told):
    rng = np.random.default_rng(12)
    depths, slopes = zip(*(struck(rng, *cell) for cell in CELLS[1:4]), strict=True)
    held = [held_down(one, 0.02) for one in slopes]
    reader = ShapeReader(shapes_from_pictures({g: inked("roman bold", g) for g in FIGURES}))
    over = overlaid(reader.strikes, held, BareMetal((), np.ones(24)))
    few = half_struck(held, over.places, reader.strikes, reader.glyph_of, depths, 200.0)
    assert [one.chance for one in few] == [0.0, 0.0, 0.0]


def test_depth_falls_off_to_eight_sides():
    ink = np.zeros((60, 48))
    ink[8:52, 20:28] = 1
    deep = cv2.GaussianBlur(ink, (0, 0), 1.0)
    down, right = np.gradient(-deep)
    height = strike_height(np.stack([right, down]).astype(np.float32))
    templates = falling_off(height)
    assert templates.shape == (32, 2, 60, 48)
    assert np.linalg.norm(templates.reshape(32, -1), axis=1) == pytest.approx(1.0, abs=1e-5)
    foot = templates[2 * 4 + 1]  # falls off downwards, gone at half
    assert np.abs(foot[:, 40:]).max() < 0.02 < np.abs(foot[:, 10:20]).max()
