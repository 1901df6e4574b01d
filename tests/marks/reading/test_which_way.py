import numpy as np
import pytest

from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, held_down, shapes_from_pictures
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of
from ironlace.marks.reading.which_way import (
    MIRRORED,
    RAISED,
    TURNED,
    as_given,
    of_the_plate,
    other_ways,
    rows_otherwise,
    ways_said,
)
from struck_plates import face


def turn(depth):
    return np.ascontiguousarray(depth[::-1, ::-1])


@pytest.fixture(scope="module")
def struck():
    shapes = shapes_from_pictures(face("grotesque"))
    depths = {
        g: placed(depth_left(shapes[g][0], Blow(0.5, 2.0, 0.0, planed=False, blur=0.6)), shape=WIDE)
        for g in "0123456789"
    }
    return ShapeReader(shapes), depths


def rows_of(struck, *rows):
    """Rows of digits laid into noise another way than struck: the picture of the height."""
    reader, depths = struck
    rng = np.random.default_rng(1)
    held, best = [], []
    for lay, glyph in [(lay, glyph) for text, lay in rows for glyph in text]:
        slopes = slopes_of(lay(depths[glyph])) + rng.normal(0, 0.03, (2, *WIDE))
        held.append(held_down(slopes.astype(np.float32), 0.03))
        best.append(max(reader.fits(slopes.astype(np.float32), 0.03).values()))
    line = [k for k, (text, _) in enumerate(rows) for _ in text]
    return other_ways(reader.strikes, held, np.array(best), 120.0, line)


def ways_of(struck, text, lay):
    return of_the_plate(rows_of(struck, (text, lay)))


@pytest.mark.parametrize(
    ("lay", "way", "says"),
    [
        (turn, TURNED, "upside down"),
        (lambda d: np.ascontiguousarray(d[:, ::-1]), MIRRORED, "mirrored"),
        (lambda d: -d, RAISED, "raised"),
    ],
)
def test_a_plate_that_lies_another_way_is_told_so(struck, lay, way, says):
    ways = ways_of(struck, "23457", lay)
    assert max(ways, key=ways.get) == way
    assert as_given(ways) < 0.05
    assert says in ways_said(ways, 5)[0]


def test_a_plate_as_it_was_struck_is_not_doubted(struck):
    ways = ways_of(struck, "23457", lambda d: d)
    assert as_given(ways) > 0.99
    assert ways_said(ways, 5) == []


def test_figures_that_read_both_ways_up_are_told_so(struck):
    said = ways_said(ways_of(struck, "0690", lambda d: d), 4)
    assert "6 and 9 change places" in said[0]


def test_a_row_that_lies_another_way_than_the_plate_is_told(struck):
    ways = rows_of(struck, ("23457", lambda d: d), ("2345", turn))
    ((row, (way, chance)),) = rows_otherwise(ways, [0] * 5 + [1] * 4).items()
    assert (row, way) == (1, TURNED)
    assert chance < 0.2
