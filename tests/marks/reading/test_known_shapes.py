import numpy as np
import pytest

from ironlace.marks.errors import MarksError
from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, shapes_from_pictures
from ironlace.marks.reading.numeral_styles import EDGE, TALL
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of
from struck_plates import face


def test_shapes_share_one_scale_and_low_ones_come_twice():
    shapes = shapes_from_pictures(face("old style"))
    assert [len(shapes[g]) for g in "018"] == [2, 2, 1]
    assert shapes["8"][0].shape[0] == pytest.approx(TALL + 2 * EDGE, abs=1)
    assert shapes["0"][0].shape[0] < 0.8 * shapes["8"][0].shape[0]
    assert shapes["0"][1].shape[0] == pytest.approx(TALL + 2 * EDGE, abs=1)


def test_margins_of_the_pictures_do_not_matter():
    plain = shapes_from_pictures(face("grotesque"))
    wide = shapes_from_pictures({g: np.pad(ink, 40) for g, ink in face("grotesque").items()})
    assert all(np.array_equal(plain[g][0], wide[g][0]) for g in plain)


def test_no_shapes_and_empty_ones_are_refused():
    with pytest.raises(MarksError, match="no shapes"):
        shapes_from_pictures({})
    with pytest.raises(MarksError, match="'4' has no ink"):
        shapes_from_pictures({"4": np.zeros((20, 20))})


@pytest.mark.parametrize("shift", [(0, 0), (5, -4), (-6, 3)])
def test_a_strike_is_known_wherever_it_lies(shift):
    shapes = shapes_from_pictures(face("book serif"))
    reader = ShapeReader({g: shapes[g] for g in "0378"})
    rng = np.random.default_rng(1)
    for glyph in "0378":
        depth = depth_left(shapes[glyph][0], Blow(1.5, 2.0, 0.3, planed=False, blur=0.6))
        wide = slopes_of(placed(depth, shift, turn=0.02, scale=1.03, shape=WIDE))
        wide = wide + rng.normal(0, 0.03, wide.shape).astype(np.float32)
        fits = reader.fits(wide, 0.03)
        assert max(fits, key=fits.get) == glyph
        assert all(0 <= fit <= 1.0001 for fit in fits.values())


def test_bare_metal_fits_nothing_well():
    shapes = shapes_from_pictures(face("book serif"))
    reader = ShapeReader({g: shapes[g] for g in "0378"})
    noise = np.random.default_rng(2).normal(0, 0.03, (2, *WIDE)).astype(np.float32)
    assert max(reader.fits(noise, 0.03).values()) < 0.3
