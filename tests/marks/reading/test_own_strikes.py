import numpy as np
import pytest

from ironlace.marks.errors import MarksError
from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, shapes_from_pictures
from ironlace.marks.reading.own_strikes import own_shapes, strike_shape
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of
from struck_plates import face


def _struck(glyph, deep):
    shapes = shapes_from_pictures(face("book serif"))
    depth = depth_left(shapes[glyph][0], Blow(deep, 2.0, 0.0, planed=False, blur=0.6))
    slopes = slopes_of(placed(depth, shape=(100, 100)))
    noise = np.random.default_rng(1).normal(0, 0.02, slopes.shape)
    return ReliefSlopes((slopes + noise).astype(np.float32), 0.05)


_PLACE = Place("digit", 0, 0, 49.5, 49.5, 48)


@pytest.mark.parametrize("glyph", list("234579"))
def test_a_clear_strike_shows_its_punch(glyph):
    shape = strike_shape(_struck(glyph, 2.0), _PLACE)
    reader = ShapeReader({glyph: (shape,), "0": shapes_from_pictures(face("book serif"))["0"]})
    worn = _struck(glyph, 0.4).patch(49.5, 49.5, 1.0, WIDE)
    fits = reader.fits(worn, 0.02)
    assert fits[glyph] > fits["0"] + 0.1


def test_bare_metal_shows_none():
    noise = np.random.default_rng(1).normal(0, 0.02, (2, 100, 100)).astype(np.float32)
    flat = ReliefSlopes(np.zeros_like(noise), 0.05)
    with pytest.raises(MarksError, match="does not stand out"):
        strike_shape(flat, _PLACE)


def test_a_label_without_a_place_is_refused():
    with pytest.raises(MarksError, match="not among the places"):
        own_shapes(_struck("3", 2.0), [_PLACE], {(0, 7): "3"})
    assert list(own_shapes(_struck("3", 2.0), [_PLACE], {(0, 0): "3"})) == ["3"]
