"""A numbered photograph: a shape and a number for each place that was pointed at."""

import re

from ironlace.dossier.print.numbered_picture import NumberedPlace, numbered_picture

ROWS = [
    NumberedPlace(n, f"place {n}", (100.0 * n, 50.0 * n), kind)
    for n, kind in enumerate(("hole", "cup", "felt", "face", ""), 1)
]


def test_each_place_has_its_number_once_and_kinds_differ_in_shape():
    drawn = numbered_picture(ROWS, (900, 600), "", (89.0, 62.0))
    assert re.findall(r">(\d+)</text>", drawn.svg) == ["1", "2", "3", "4", "5"]
    assert drawn.width_mm <= 89.001
    shapes = re.findall(r'stroke-width="0.5" fill="[^"]+">(<[^>]+>)', drawn.svg)
    assert len(set(shapes)) == 5
    assert "3 place 3" in drawn.says


def test_two_places_in_one_spot_are_both_numbered():
    same = [NumberedPlace(1, "a", (5.0, 5.0)), NumberedPlace(2, "b", (5.0, 5.0))]
    drawn = numbered_picture(same, (900, 600), "", (89.0, 62.0))
    assert drawn.svg.count("</text>") == 2


def test_places_that_nobody_pointed_at_make_no_picture():
    bare = [NumberedPlace(1, "a", None)]
    assert numbered_picture(bare, (900, 600), "", (89.0, 62.0)) is None
