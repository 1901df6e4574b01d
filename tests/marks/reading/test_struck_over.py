import cv2
import numpy as np
import pytest

from eaten_plates import inked
from ironlace.marks.reading.bare_metal import BareMetal, overlaid
from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, held_down, shapes_from_pictures
from ironlace.marks.reading.struck_over import Pairs

FIGURES = "0123456789"
CELLS = ("38", "47", "61", "25", "3", "8", "6", "0", "4")


@pytest.fixture(scope="module")
def told():
    """What fits each place, struck by a V-nosed punch that no template of the reader is made by."""
    rng = np.random.default_rng(7)
    held = []
    for cell in CELLS:
        ground = np.zeros(WIDE)
        for n, figure in enumerate(cell):
            ink = inked("roman bold", figure)
            per = 48 / (ink.shape[0] - 40)
            move = cv2.getRotationMatrix2D((ink.shape[1] / 2, ink.shape[0] / 2), 3.0 * n, per)
            move[:, 2] += np.array(WIDE[::-1]) / 2 - np.array(ink.shape[::-1]) / 2
            move[:, 2] += n * np.array([2.0, -3.0])
            laid = cv2.warpAffine(ink, move, WIDE[::-1]) > 0.5
            away = cv2.distanceTransform(laid.astype(np.uint8), cv2.DIST_L2, 3)
            ground = np.maximum(ground, np.minimum(away, 3.0) * (0.8 + 0.3 * n) / 3)
        ground = cv2.GaussianBlur(ground, (0, 0), 1.0) + rng.normal(0, 0.01, WIDE)
        down, right = np.gradient(-ground)
        held.append(held_down(np.stack([right, down]).astype(np.float32), 0.02))
    reader = ShapeReader(shapes_from_pictures({g: inked("roman bold", g) for g in FIGURES}))
    over = overlaid(reader.strikes, held, BareMetal((), np.ones(24)))
    pairs = Pairs(reader.strikes, reader.glyph_of, reader.upright)
    return [pairs.best(*one) for one in zip(held, over.places, strict=True)]


def test_a_pair_is_named_whichever_was_struck_last(told):
    named = ["".join(sorted(FIGURES[k] for k in one.figures)) for one in told[:4]]
    assert named == ["38", "47", "16", "25"]


def test_two_figures_fit_better_than_one_only_where_two_were_struck(told):
    gain = np.array([one.gain for one in told])
    assert gain[:4].min() > 0 > gain[4:].max()  # an 8 holds most of a 3


def test_what_the_first_leaves_is_fitted_by_another_where_two_were_struck(told):
    second = np.array([one.second for one in told])
    assert second[:4].min() > second[4:].max()
