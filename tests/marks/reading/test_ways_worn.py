import numpy as np
import pytest

from ironlace.marks.reading.bare_metal import BareMetal, overlaid
from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, held_down, shapes_from_pictures
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of
from ironlace.marks.reading.ways_worn import EVEN, read_by_ways
from struck_plates import face

GRAIN = 0.03


@pytest.fixture(scope="module")
def reader():
    shapes = shapes_from_pictures(face("modern"))
    return shapes, ShapeReader({g: shapes[g] for g in "0247"})


def read(reader, blow, shift=(1, -1)):
    """Each of the reader's figures once, so struck and worn, in fine noise."""
    shapes, by = reader
    rng = np.random.default_rng(6)

    def seen(depth=None):
        slopes = rng.normal(0, GRAIN, (2, *WIDE)).astype(np.float32)
        if depth is not None:
            slopes = slopes + slopes_of(placed(depth, shift, shape=WIDE))
        return held_down(slopes, GRAIN)

    bare = BareMetal(tuple(seen() for _ in range(8)), np.ones(24))
    digits = [seen(depth_left(shapes[g][0], blow)) for g in by.glyphs]
    return read_by_ways(by, overlaid(by.strikes, digits, bare, even=EVEN))


@pytest.mark.parametrize(
    "blow",
    [
        Blow(0.6, 3.0, 0.0, planed=False, blur=1.0),
        Blow(4.0, 5.0, 0.8, planed=True, blur=0.5, askew=(0.12, -0.06)),
    ],
)
def test_what_is_left_is_read_whichever_way_the_plate_was_worn(reader, blow):
    logs, told = read(reader, blow)
    assert told > 0.9
    assert (logs.argmax(axis=1) == np.arange(4)).all()


def test_where_nothing_is_left_all_figures_are_alike(reader):
    logs, told = read(reader, Blow(0.0, 3.0, 0.0, planed=False, blur=1.0))
    assert told < 0.4
    assert np.ptp(logs, axis=1).max() < 1.5


def test_a_fit_that_needs_an_odd_place_is_worth_less(reader):
    blow = Blow(0.35, 3.0, 0.0, planed=False, blur=1.0)
    near, far = (read(reader, blow, shift)[0] for shift in ((1, -1), (6, -4)))
    rise = [np.sort(one, axis=1) for one in (near, far)]
    assert rise[1][:, -1].mean() < rise[0][:, -1].mean() - 2
