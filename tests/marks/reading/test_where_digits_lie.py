from dataclasses import replace

import numpy as np
import pytest

from ironlace.marks.errors import MarksError
from ironlace.marks.reading.known_shapes import plain_strikes, shapes_from_pictures
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.marks.reading.strikes import Blow, depth_left, slopes_of
from ironlace.marks.reading.where_digits_lie import moved_to_digits
from struck_plates import face

STRUCK = [Place("digit", 0, k, 110.0 + 60 * k, 120.0, 48.0) for k in range(5)]


@pytest.fixture(scope="module")
def struck():
    """A row of figures in noise, a step of the reading grid to the pixel; and their shapes."""
    shapes = shapes_from_pictures(face("modern"))
    slopes = np.random.default_rng(3).normal(0, 0.03, (2, 240, 460)).astype(np.float32)
    for place, glyph in zip(STRUCK, "25837", strict=True):
        depth = depth_left(shapes[glyph][0], Blow(0.8, 2.5, 0.0, planed=False, blur=0.8))
        laid = slopes_of(depth)
        y, x = (round(m - n / 2) for m, n in zip((120.0, place.x_px), depth.shape, strict=True))
        slopes[:, y : y + laid.shape[1], x : x + laid.shape[2]] += laid
    return ReliefSlopes(slopes, 0.05), plain_strikes(shapes)


def off(by):
    return [replace(p, x_px=p.x_px + by[0], y_px=p.y_px + by[1]) for p in STRUCK]


@pytest.mark.parametrize("by", [(0, 0), (2, -1)])
def test_places_that_are_good_enough_stay(struck, by):
    relief, shapes = struck
    assert moved_to_digits(relief, off(by), 0.03, shapes, known=True) == (tuple(off(by)), "")


@pytest.mark.parametrize(("by", "says"), [((10, 0), "too far right"), ((-4, 24), "too low")])
def test_places_all_off_alike_are_moved_and_it_is_said(struck, by, says):
    relief, shapes = struck
    moved, said = moved_to_digits(relief, off(by), 0.03, shapes, known=True)
    assert says in said
    for place, truth in zip(moved, STRUCK, strict=True):
        assert abs(place.x_px - truth.x_px) <= 2
        assert abs(place.y_px - truth.y_px) <= 2


@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize(("tall", "says"), [(33.0, r"1\.[45]\d?"), (67.0, r"0\.(69|7\d?)")])
def test_another_height_is_refused(struck, known, tall, says):
    relief, shapes = struck
    wrong = [replace(p, height_px=tall) for p in STRUCK]
    with pytest.raises(MarksError, match=rf"about {says} times as high"):
        moved_to_digits(relief, wrong, 0.03, shapes, known=known)


def test_bare_metal_moves_nothing(struck):
    _, shapes = struck
    bare = ReliefSlopes(
        np.random.default_rng(8).normal(0, 0.03, (2, 240, 460)).astype(np.float32), 0.05
    )
    assert moved_to_digits(bare, STRUCK, 0.03, shapes, known=True)[1] == ""


@pytest.mark.parametrize(("pitted", "refused"), [((0, 2), False), (range(6), True)])
def test_a_few_large_pits_are_no_height_of_digits(struck, pitted, refused):
    _, shapes = struck
    rng = np.random.default_rng(7)
    slopes = rng.normal(0, 0.03, (2, 240, 520)).astype(np.float32)
    places = [Place("digit", 0, k, 110.0 + 60 * k, 120.0, 48.0) for k in range(6)]
    for k in pitted:
        x = round(places[k].x_px)
        slopes[:, 86:154, x - 20 : x + 20] += rng.normal(0, 0.3, (2, 68, 40))
    relief = ReliefSlopes(slopes, 0.05)
    if refused:
        with pytest.raises(MarksError, match=r"about 1\.\d\d? times as high"):
            moved_to_digits(relief, places, 0.03, shapes, known=False)
    else:
        assert moved_to_digits(relief, places, 0.03, shapes, known=False)[1] == ""
