"""Several readings of one mark: who read it, which was given up, and why."""

import pytest

from ironlace.evidence.errors import IronlaceError
from ironlace.record import parse_entry
from ironlace.record.other_readings import misread_glyphs, other_reading

MARK = {"kind": "mark", "reads": "b.93.482", "where": "bed", "grade": "seen"}


@pytest.mark.parametrize(
    ("line", "by", "given_up", "why"),
    [
        ("B·1: R. Bell", "R. Bell", False, ""),
        ("B·1", "", False, ""),
        ("B·1: R. Bell, given up: a burr", "R. Bell", True, "a burr"),
        ("B·1: given up, a burr", "", True, "a burr"),
        ("B·1: R. Bell; Given up - a burr", "R. Bell", True, "- a burr"),
        ("B·1: R. Bell, not given up yet", "R. Bell, not given up yet", False, ""),
    ],
)
def test_a_line_is_read(line, by, given_up, why):
    one = other_reading(line)
    assert (one.by, one.given_up, one.why) == (by, given_up, why)
    assert other_reading(str(one)) == one


def test_the_reading_that_stands_is_none_of_those_given_up():
    kept = parse_entry(
        {**MARK, "other_readings": ["b.93.432: R. Bell, given up: a burr", "b.93.4(8)2: A. Fitter"]}
    )
    assert kept.other_readings == ("B·93·432: R. Bell, given up: a burr", "B·93·4(8)2: A. Fitter")
    assert str(kept.marking) == "B·93·482"
    with pytest.raises(IronlaceError, match="is given up and still stands"):
        parse_entry({**MARK, "other_readings": ["B·93·482: given up: a burr"]})
    with pytest.raises(IronlaceError, match="given up without a reason"):
        parse_entry({**MARK, "other_readings": ["B·93·432: R. Bell, given up"]})


def test_what_was_misread_is_named_glyph_by_glyph():
    assert misread_glyphs("B·93·482", "B·93·432") == "3 misread for 8"
    assert misread_glyphs("B·93·482", "B·93·48") == ""


def test_a_measurement_keeps_its_misread_figures():
    reading = {"kind": "measurement", "what": "stroke", "reads": "31.6 mm", "grade": "measured"}
    kept = parse_entry({**reading, "struck": ["31.9 mm: R. Bell, given up: wrong edge"]})
    assert kept.measured.value == 31.6
    assert kept.struck == ("31.9 mm: R. Bell, given up: wrong edge",)
    for line, says in (("31.9: wrong edge", "has no unit"), ("31.9 mm", "without a reason")):
        with pytest.raises(IronlaceError, match=says):
            parse_entry({**reading, "struck": [line]})
