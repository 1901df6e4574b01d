"""Dates as people write them, against what they mean, a peer's reading, and what must be asked."""

from datetime import date

import pytest
from dateutil import parser as peer
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.evidence.edtf_dates import EdtfDate, EdtfError
from ironlace.evidence.written_dates import read_date

DAYS = st.dates(date(1800, 1, 1), date(2099, 12, 31))


@pytest.mark.parametrize(
    ("written", "edtf"),
    [
        ("November 2026", "2026-11"),
        ("Nov. 1889", "1889-11"),
        ("Sept 1889", "1889-09"),
        ("12 June 1886", "1886-06-12"),
        ("25 Dec. 1889", "1889-12-25"),
        ("June 12, 1886", "1886-06-12"),
        ("the 3rd of May 1891", "1891-05-03"),
        ("26.11.1887", "1887-11-26"),
        ("11.12.1887", "1887-12-11"),
        ("11/26/1887", "1887-11-26"),
        ("26/11/1887", "1887-11-26"),
        ("about 1885", "1885~"),
        ("c. 1885", "1885~"),
        ("circa April 1885", "1885-04~"),
        ("1885 or so", "1885~"),
        ("perhaps 1885", "1885?"),
        ("1880s", "188X"),
        ("the 1880s", "188X"),
        ("19th century", "18XX"),
        ("before 1890", "../1889"),
        ("before April 1890", "../1890-03"),
        ("before 12 June 1886", "../1886-06-11"),
        ("after 1885", "1886/.."),
        ("after 31 May 1886", "1886-06/.."),
        ("by 1890", "../1890"),
        ("1890 or earlier", "../1890"),
        ("since 1885", "1885/.."),
        ("from April 1885 on", "1885-04/.."),
        ("1885 or later", "1885/.."),
        ("between 1885 and 1890", "1885/1890"),
        ("from 1885 to 1890", "1885/1890"),
        ("1885 - 1890", "1885/1890"),
        ("1885\N{EN DASH}90", "1885/1890"),
        ("1885-90", "1885/1890"),
        ("March 1885 to June 1886", "1885-03/1886-06"),
        ("spring 1887", "1887-21"),
        ("1887 or 1888", "[1887,1888]"),
        ("week 14 of 1887", "1887-04-04/1887-04-10"),
        ("1887-W14", "1887-04-04/1887-04-10"),
        ("1887 week 14", "1887-04-04/1887-04-10"),
        ("wk 14/1887", "1887-04-04/1887-04-10"),
        ("14th week of 1887", "1887-04-04/1887-04-10"),
        ("week of 6 April 1887", "1887-04-04/1887-04-10"),
        ("the week of April 6, 1887", "1887-04-04/1887-04-10"),
        ("1893-04~", "1893-04~"),
        ("1893/..", "1893/.."),
    ],
)
def test_it_is_understood(written, edtf):
    assert read_date(written).text == edtf


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("11/12/1887", "which is the month"),
        ("11-12-1887", "which is the month"),
        ("31 February 1887", "does not exist"),
        ("Brumaire 1887", "is no month"),
        ("week 54 of 1887", "is no week"),
        ("last summer", "is not a date"),
        ("Ma 1887", "Ma 1887"),
        ("about 1885 to 1890", "give the two ends"),
        ("30.13.1887", "EDTF"),
        ("", "EDTF"),
    ],
)
def test_it_is_asked_about_and_not_guessed(written, says):
    with pytest.raises(EdtfError) as caught:
        read_date(written)
    assert says in str(caught.value) or says == "EDTF"


@settings(deadline=None)
@given(DAYS, st.sampled_from(["%d %B %Y", "%B %d, %Y", "%d %b %Y", "%d %b. %Y", "%b %d %Y"]))
def test_a_day_with_its_month_by_name_is_that_day_as_a_peer_reads_it(day, form):
    # python-dateutil, a general library, reads the same forms by other code
    written = day.strftime(form)
    assert read_date(written).earliest == peer.parse(written).date() == day


@settings(deadline=None)
@given(DAYS)
def test_the_day_before_and_after_are_the_ends(day):
    words = f"{day.day} {day:%B %Y}"
    assert read_date(f"before {words}").latest.toordinal() == day.toordinal() - 1
    assert read_date(f"after {words}").earliest.toordinal() == day.toordinal() + 1


@settings(deadline=None)
@given(DAYS)
def test_edtf_is_read_as_edtf(day):
    assert read_date(day.isoformat()) == EdtfDate.parse(day.isoformat())


@pytest.mark.parametrize("text", ["1894-13", "1894-20", "1896-00-00", "1896-00", "1899-19-04"])
def test_a_month_that_does_not_exist_is_told_in_the_words_typed(text):
    with pytest.raises(EdtfError, match=f"'{text}' names month .*twelve"):
        read_date(text)
    assert read_date("1812-14").text == "1812/1814"
    assert read_date("1894-21").in_words() == "spring 1894"
