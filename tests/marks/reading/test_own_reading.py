import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.marks.reading.own_reading import OwnReading, compared, places_of_own
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.read_marks import DigitRead, GapRead, Interval, MarksRead, PlateRead
from ironlace.marks.reading.strings import strings_of
from rows_apart import row_apart


def method(digits, struck):
    read = tuple(
        DigitRead(Place("digit", 0, k, 0, 0, 96), 2.4, 0.05, p) for k, p in enumerate(digits)
    )
    gaps = tuple(
        GapRead(Place("gap", 0, k, 0, 0, 96), 0, 0, p, Interval(0.02, 0.01, 0.03), 0.35)
        for k, p in enumerate(struck)
    )
    plate = PlateRead(Interval(0.5, 0.3, 0.7), 0.8, 0.4, base_rate_given=False, outside_tuning=0.0)
    row = row_apart(digits, struck)
    return MarksRead(read, gaps, (strings_of(0, row),), {0: row}, plate)


def own(text):
    return [OwnReading("mark 1", parse_marking(text))]


def test_dots_belong_to_the_figure_before_them_and_gaps_are_no_places():
    read = places_of_own(2, parse_marking("G°9 4·(·)?"))
    digits = {index: glyph for (kind, _, index), glyph in read.items() if kind == "digit"}
    assert digits == {0: "G", 1: "9", 2: "4", 3: "?"}
    dots = {index: glyph for (kind, _, index), glyph in read.items() if kind == "gap"}
    assert dots == {0: "-", 1: "-", 2: "?"}
    assert {row for _, row, _ in read} == {2}


def test_what_one_reader_leaves_open_is_counted_not_compared():
    sure = [{"1": 0.9, "7": 0.1}, {"8": 0.4, "3": 0.3, "9": 0.3}, {"5": 1.0}]
    found = compared(own("1[38]5."), method(sure, [0.01, 0.5]))
    assert found.untold == 2
    assert found.agreement.n == 3
    assert found.agreement.agree == 1.0


def test_rows_of_other_lengths_are_not_compared():
    found = compared(own("12"), method([{"1": 1.0}] * 3, [0.0, 0.0]))
    assert found.agreement is None
    assert "yours has 2 in row 1, the plate 3 in row 1" in found.says


@pytest.mark.parametrize("text", ["?", "?(·)?"])
def test_too_little_told_is_said(text):
    count = len([g for g in parse_marking(text).glyphs if g.kind.value == "unread"])
    found = compared(own(text), method([{"1": 1.0}] * count, [0.0] * (count - 1)))
    assert found.agreement is None
    assert "Too few places" in found.says
