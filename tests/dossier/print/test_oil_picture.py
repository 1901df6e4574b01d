"""The photograph of an oiling plan: a shape and a number for each place that was pointed at."""

import re

from ironlace.care.oiling_analysis import OilingAsked, places_of
from ironlace.dossier.print.oil_picture import oil_picture

ROWS = "place,kind,every_months,last,x_px,y_px\n" + "\n".join(
    f"place {n},{kind},3,1894-01-31,{100 * n},{50 * n}"
    for n, kind in enumerate(("hole", "cup", "felt", "face", ""), 1)
)


def test_each_place_has_its_number_once_and_kinds_differ_in_shape():
    drawn = oil_picture(places_of(OilingAsked(ROWS)), (900, 600), "", (89.0, 62.0))
    assert re.findall(r">(\d+)</text>", drawn.svg) == ["1", "2", "3", "4", "5"]
    assert drawn.width_mm <= 89.001
    shapes = re.findall(r'stroke-width="0.5" fill="[^"]+">(<[^>]+>)', drawn.svg)
    assert len(set(shapes)) == 5
    assert "3 place 3" in drawn.says


def test_two_places_in_one_spot_are_both_numbered():
    same = "place,every_months,last,x_px,y_px\na,3,1894-01-31,5,5\nb,3,1894-01-31,5,5\n"
    drawn = oil_picture(places_of(OilingAsked(same)), (900, 600), "", (89.0, 62.0))
    assert drawn.svg.count("</text>") == 2


def test_places_that_nobody_pointed_at_make_no_picture():
    bare = "place,every_months,last\na,3,1894-01-31\n"
    assert oil_picture(places_of(OilingAsked(bare)), (900, 600), "", (89.0, 62.0)) is None
