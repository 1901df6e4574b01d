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
    alike,
    otherwise,
    places_otherwise,
    places_said,
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


def held_of(struck, *rows):
    """Slopes of digits laid into noise another way than struck: the picture of the height."""
    _, depths = struck
    rng = np.random.default_rng(1)
    held = []
    for lay, glyph in [(lay, glyph) for text, lay in rows for glyph in text]:
        slopes = slopes_of(lay(depths[glyph])) + rng.normal(0, 0.03, (2, *WIDE))
        held.append(held_down(slopes.astype(np.float32), 0.03))
    return held


def rows_of(struck, *rows):
    reader, held = struck[0], held_of(struck, *rows)
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


def lies_of(struck, *rows):
    reader, held = struck[0], held_of(struck, *rows)
    bare = np.zeros((0, 10, int(reader.way_of.max()) + 1, len(TOLD)))

    def logs(places):
        over = overlaid(reader.strikes, places, BareMetal((), np.ones(24)))
        return logs_by_ways(reader, over.places, 120.0)

    other = {}
    for way in (TURNED, MIRRORED):
        told = logs([otherwise(p, way) for p in held])
        unlike = [k for k, g in enumerate(reader.glyphs) if not alike(g, way)]
        best = told.reshape(len(held), 10, -1).max(axis=2).argmax(axis=1)
        other[way] = lain(told[:, unlike], bare), [reader.glyphs[k] for k in best]
    return places_otherwise(lain(logs(held), bare), other)


@pytest.mark.parametrize(
    ("lay", "way"), [(turn, TURNED), (lambda d: np.ascontiguousarray(d[:, ::-1]), MIRRORED)]
)
def test_one_figure_struck_the_other_way_is_told_among_its_fellows(struck, lay, way):
    """Half of the row: the plate as a whole lies as it was given."""
    lies = lies_of(struck, ("06918", lambda d: d), ("245", lay))
    assert [one.chance > 0.99 for one in lies] == [True] * 5 + [False] * 3
    assert [(one.way, one.glyph, one.told) for one in lies[5:]] == [(way, g, True) for g in "245"]
    said = places_said(lies[5], "Row 1 from the top, digit 6")
    assert said.startswith("Row 1 from the top, digit 6: fits much better as 2")


def test_figures_that_are_others_the_other_way_round_are_left_as_they_are(struck):
    """A 6 held upside down is a 9: nothing in the metal tells, so nothing is taken from either."""
    assert all(one.chance > 0.99 for one in lies_of(struck, ("23457", lambda d: d), ("069", turn)))


def test_no_place_is_told_to_lie_another_way_where_none_is_laid():
    assert [one.chance for one in places_otherwise(np.zeros((2, 3)), {})] == [1.0, 1.0]
