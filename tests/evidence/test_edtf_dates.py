from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ironlace.evidence.edtf_dates import EdtfDate, EdtfError, End

days = st.dates(date(1500, 1, 1), date(2100, 12, 31))


@given(days, days)
def test_between_spans_exactly_its_days(one, other):
    earliest, latest = sorted((one, other))
    told = EdtfDate.between(earliest, latest)
    assert (told.earliest, told.latest) == (earliest, latest)
    assert EdtfDate.parse(told.text) == told


def test_an_open_end_is_not_an_unknown_one():
    opened, unknown = EdtfDate.parse("1885/.."), EdtfDate.parse("1885/")
    assert opened.upper is unknown.upper is None
    assert (opened.upper_end, unknown.upper_end) == (End.OPEN, End.UNKNOWN)


def test_about_does_not_widen_a_date():
    assert EdtfDate.parse("1893~").upper == EdtfDate.parse("1893").upper
    assert EdtfDate.parse("1893~").approximate
    assert EdtfDate.parse("1893%").approximate
    assert EdtfDate.parse("1893%").uncertain
    assert not EdtfDate.parse("1893?").approximate


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("1893", "1893"),
        ("1893-04", "April 1893"),
        ("1893-04-12?", "12 April 1893, uncertain"),
        ("1893~", "about 1893"),
        ("189X", "some year in the 1890s"),
        ("18XX", "some year from 1800 to 1899"),
        ("1893-21", "spring 1893"),
        ("1893/1896", "between 1893 and 1896"),
        ("../1893", "1893 or earlier"),
        ("1893/", "from 1893 to an unknown date"),
        ("/1893", "from an unknown date to 1893"),
    ],
)
def test_in_words(written, words):
    assert EdtfDate.parse(written).in_words() == words


@pytest.mark.parametrize(
    "written",
    [
        *("", "1893-13", "1893-02-30", "1899-02-29", "April 1893", "93", "1896/1893", "/", "../.."),
        *("/..", "1893/1894/1895", "1893-1X", "[1893/1894]", "1893-4", "1950S5"),
    ],
)
def test_what_is_not_a_date_is_refused(written):
    with pytest.raises(EdtfError):
        EdtfDate.parse(written)


@given(st.text("0123456789-/.X?~%[]{},SYT", max_size=14))
def test_any_text_is_read_or_refused(text):
    try:
        told = EdtfDate.parse(text)
    except EdtfError:
        return
    assert told.lower is None or told.upper is None or told.lower <= told.upper


def test_a_year_no_machine_has_is_read_but_gives_no_day():
    told = EdtfDate.parse("Y170000002")
    assert told.lower == (170000002, 1, 1)
    with pytest.raises(EdtfError, match="outside the years"):
        _ = told.earliest
