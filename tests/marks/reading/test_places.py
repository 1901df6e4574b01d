import numpy as np
import pytest

from ironlace.marks.errors import MarksError
from ironlace.marks.reading.places import found_places, read_places
from ironlace.marks.reading.relief_slopes import ReliefSlopes, slopes_from_normals
from struck_plates import Asked, struck_plate

_HEAD = "kind,row,index,x_px,y_px,height_px\n"


def test_places_are_read_in_order():
    read = read_places(_HEAD + "digit,0,0,50,40,48\ngap,0,0,70.5,40,48\n", (100, 100))
    assert [(p.kind, p.row, p.index, p.x_px) for p in read] == [
        ("digit", 0, 0, 50.0),
        ("gap", 0, 0, 70.5),
    ]


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("begin", ["", "\ufeff"])
def test_places_are_read_however_a_table_is_parted(mark, begin):
    table = (_HEAD + "digit,0,0,50,40,48\ngap,0,0,70.5,40,48\n").replace(",", mark)
    if mark != ",":
        table = table.replace(".", ",")
    read = read_places(begin + table.replace("\n", "\r\n"), (100, 100))
    assert [p.x_px for p in read] == [50.0, 70.5]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty"),
        ("kind,row,x_px\ndigit,0,1\n", "no column index, y_px, height_px"),
        (_HEAD + "dot,0,0,5,5,40\n", "kind 'dot'"),
        (_HEAD + "digit,0,a,5,5,40\n", "whole numbers"),
        (_HEAD + "digit,0,0,5\n", "cannot be read"),
        (_HEAD + "digit,0,0,nan,5,40\n", "from 0 upwards"),
        (_HEAD + "digit,0,0,500,5,40\n", "outside the picture"),
        (_HEAD + "digit,0,0,-1,5,40\n", "outside the picture"),
        (_HEAD + "digit,0,0,5,5,4\n", "pixels high"),
        (_HEAD + "digit,0,0,5,5,40\ndigit,0,0,9,5,40\n", "stands twice"),
        (_HEAD + "gap,0,0,5,5,40\n", "no digit"),
        (_HEAD + "digit,0,0,90,5,40\ndigit,0,1,50,5,40\ndigit,0,2,9,5,40\n", "right to left"),
        (_HEAD + "digit,0,0,9,5,40\ndigit,0,1,90,5,40\ndigit,0,2,50,5,40\n", "digit 2 does not"),
        (_HEAD[:-1] + ",x_px\n", "heading twice"),
        (_HEAD + "digit,0,0,5\0,5,40\n", "cannot be read"),
    ],
)
def test_what_cannot_be_used_is_refused_in_one_sentence(text, says):
    with pytest.raises(MarksError, match=says) as caught:
        read_places(text, (100, 100))
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


def test_rows_of_digits_are_found_and_numbered():
    plate = struck_plate(np.random.default_rng(5), Asked(wear=0.3, face="modern", per_row=7))
    slopes = slopes_from_normals(plate.normals(), plate.mm_per_px)
    found = found_places(slopes, 2.4, np.random.default_rng(1))
    digits = [p for p in found if p.kind == "digit"]
    hit = 0
    for truth in plate.digits:
        near = [p for p in digits if np.hypot(p.x_px - truth.x_px, p.y_px - truth.y_px) < 16]
        hit += any((p.row, p.index) == (truth.row, truth.index) for p in near)
    assert len(digits) == len(plate.digits)
    assert hit == len(plate.digits)
    assert sum(p.kind == "gap" for p in found) == 12


def test_bare_metal_has_no_places():
    slopes = np.random.default_rng(2).normal(0, 0.02, (2, 300, 500)).astype(np.float32)
    with pytest.raises(MarksError, match="give their places"):
        found_places(ReliefSlopes(slopes, 0.05), 2.4, np.random.default_rng(1))
