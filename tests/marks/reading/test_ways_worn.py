import numpy as np
import pytest

from ironlace.marks.reading.bare_metal import BareMetal, overlaid
from ironlace.marks.reading.known_shapes import (
    WIDE,
    ShapeReader,
    held_down,
    shapes_from_pictures,
    shift_logs,
)
from ironlace.marks.reading.read_together import TOLD, read_together
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of
from ironlace.marks.reading.ways_worn import COUNT, EVEN, logs_by_ways
from struck_plates import face

GRAIN = 0.03


@pytest.fixture(scope="module")
def reader():
    shapes = shapes_from_pictures(face("modern"))
    return shapes, ShapeReader({g: shapes[g] for g in "0247"})


def read(reader, blow, only="0247"):
    """Each figure once, so struck and worn, in fine noise."""
    shapes, by = reader
    rng = np.random.default_rng(6)

    def seen(depth=None):
        slopes = rng.normal(0, GRAIN, (2, *WIDE)).astype(np.float32)
        if depth is not None:
            slopes = slopes + slopes_of(placed(depth, (1, -1), shape=WIDE))
        return held_down(slopes, GRAIN)

    bare = BareMetal(tuple(seen() for _ in range(8)), np.ones(24))
    digits = [seen(None if g == " " else depth_left(shapes[g][0], blow)) for g in only]
    over = overlaid(by.strikes, digits, bare, even=EVEN)
    slopes = COUNT * over.slopes
    return read_together(logs_by_ways(by, over.places, slopes), logs_by_ways(by, over.bare, slopes))


@pytest.mark.parametrize(
    "blow",
    [
        Blow(0.6, 3.0, 0.0, planed=False, blur=1.0),
        Blow(4.0, 5.0, 0.8, planed=True, blur=0.5, askew=(0.12, -0.06)),
    ],
)
def test_what_is_left_is_read_whichever_way_the_plate_was_worn(reader, blow):
    found = read(reader, blow)
    assert found.left > 0.99
    assert (found.shared.each().argmax(axis=1) == np.arange(4)).all()
    assert found.empty.max() < 0.01


def test_where_nothing_is_left_all_figures_are_alike(reader):
    found = read(reader, Blow(0.0, 3.0, 0.0, planed=False, blur=1.0))
    assert found.left < 0.9
    assert np.ptp(found.shared.each(), axis=1).max() < 0.35


def test_a_place_where_nothing_was_struck_is_empty_among_clear_ones(reader):
    found = read(reader, Blow(0.6, 3.0, 0.0, planed=False, blur=1.0), only="02 7 4")
    assert (found.empty > 0.5).tolist() == [False, False, True, False, True, False]
    assert found.shared.each()[[2, 4]].max() < 0.6
    assert found.shared.each().argmax(axis=1)[[0, 1, 3, 5]].tolist() == [0, 1, 3, 2]


def test_places_are_good_to_a_sixth_of_a_millimetre():
    side = WIDE[0] - 60 + 1
    logs = shift_logs().reshape(side, side)
    middle = side // 2
    assert np.exp(logs).sum() == pytest.approx(1)
    assert logs[middle, middle] == logs[middle, middle + 1]
    # 0.15 mm, as places are given where no row draws them nearer, costs less than one
    assert logs[middle, middle + 3] > logs[middle, middle] - 1
    assert logs[middle, middle + 3] > logs[middle, middle + 5] + 1
    assert logs[0, 0] < logs[middle, middle] - 10


def test_one_clear_digit_is_read_alone(reader):
    found = read(reader, Blow(0.6, 3.0, 0.0, planed=False, blur=1.0), only="4")
    assert found.left > 0.9
    assert found.shared.each()[0].argmax() == 2


def test_moderated_places_are_told_less_and_what_is_shared_is_not():
    clear = np.full((3, 10, 2, len(TOLD)), -5.0)
    clear[:, 4, 0] = 4.0
    full = read_together(clear, clear[:0])
    half = read_together(clear, clear[:0], heat=np.array([1.0, 0.5, 0.0]))
    p = half.shared.each()
    assert p[0] == pytest.approx(full.shared.each()[0])
    assert p[0, 4] > p[1, 4] > p[2, 4]
    assert p[2] == pytest.approx(np.full(10, 0.1))
    assert half.left == pytest.approx(full.left)
