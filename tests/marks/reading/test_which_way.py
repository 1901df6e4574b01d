import numpy as np
import pytest

from ironlace.marks.reading.bare_metal import BareMetal, overlaid
from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, held_down, shapes_from_pictures
from ironlace.marks.reading.read_together import TOLD, lain
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of
from ironlace.marks.reading.ways_worn import logs_by_ways
from ironlace.marks.reading.which_way import (
    MIRRORED,
    RAISED,
    TURNED,
    otherwise,
    rows_otherwise,
    ways_of,
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
    held = []
    for lay, glyph in [(lay, glyph) for text, lay in rows for glyph in text]:
        slopes = slopes_of(lay(depths[glyph])) + rng.normal(0, 0.03, (2, *WIDE))
        held.append(held_down(slopes.astype(np.float32), 0.03))
    bare = np.zeros((0, 10, int(reader.way_of.max()) + 1, len(TOLD)))

    def laid(places):
        over = overlaid(reader.strikes, places, BareMetal((), np.ones(24)))
        return lain(logs_by_ways(reader, over.places, 120.0), bare)

    other = {way: laid([otherwise(p, way) for p in held]) for way in (TURNED, MIRRORED, RAISED)}
    return ways_of(laid(held), other, [k for k, (text, _) in enumerate(rows) for _ in text])


@pytest.mark.parametrize(
    ("lay", "way", "says"),
    [
        (turn, TURNED, "upside down"),
        (lambda d: np.ascontiguousarray(d[:, ::-1]), MIRRORED, "mirrored"),
        (lambda d: -d, RAISED, "raised"),
    ],
)
def test_a_plate_that_lies_another_way_is_told_so(struck, lay, way, says):
    ways = rows_of(struck, ("23457", lay))
    assert max(ways.plate, key=ways.plate.get) == way
    assert ways.chance < 0.05
    assert says in ways_said(ways, 5)[0]


def test_a_plate_as_it_was_struck_is_not_doubted(struck):
    ways = rows_of(struck, ("23457", lambda d: d))
    assert ways.chance > 0.99
    assert ways_said(ways, 5) == []


def test_figures_that_read_both_ways_up_are_told_so(struck):
    said = ways_said(rows_of(struck, ("0690", lambda d: d)), 4)
    assert "6 and 9 change places" in said[0]


def test_a_row_that_lies_another_way_than_the_plate_is_told_also_where_it_tells_more(struck):
    """The second row is longer, so that the plate as a whole fits better upside down."""
    ways = rows_of(struck, ("2347", lambda d: d), ("0234579", turn))
    assert ways.plate[TURNED] > 0
    found = rows_otherwise(ways, [0] * 4 + [1] * 7)
    assert found[1][0] == TURNED
    assert found[1][1] < 0.2
    assert found[0][1] > 0.9
    assert ways.chance == 1.0
    assert not ways_said(ways, 11)
