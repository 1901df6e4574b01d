import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey.schemes.face_value import face_value
from ironlace.survey.schemes.scheme import Scheme


@pytest.mark.parametrize(
    ("scheme", "mark", "year", "month", "number", "series"),
    [
        ("month, dot, year, dot, number in month", "4.96.217", 1896, 4, 217, "1896-04"),
        ("month, dot, year, dot, number in month", "1196.30", 1896, 11, 30, "1896-11"),
        ("letter, ring, year counted from 1880, number in year of 4 figures", "B°170412",
         1896, None, 412, "B 1896"),
        ("month as letter, year of 4 figures, number overall", "D18960217", 1896, 4, None, None),
        ("number overall; dots without meaning", "4.96.217", None, None, 496217, ""),
        ("week, dot, year, dot, number in week", "44.96.3", 1896, None, 3, "1896-W44"),
        ("batch, dot, number in batch", "12.7", None, None, 7, "lot 12"),
    ],
)  # fmt: skip
def test_marks_read_at_their_face(scheme, mark, year, month, number, series):
    found = face_value(parse_marking(mark), Scheme.parse(scheme))
    if series is None:  # a running number does not begin with a nought
        assert found is None
        return
    assert (found.year, found.month, found.number, found.series) == (year, month, number, series)


@pytest.mark.parametrize("mark", ["13.96.217", "4.9?.217", "4.(9)6.217", "4.96", "4.20.1"])
def test_what_is_not_clear_or_does_not_fit_is_none(mark):
    scheme = Scheme.parse("month, dot, year, dot, number in month")
    found = face_value(parse_marking(mark), scheme, first_year=1870, last_year=1915)
    assert found is None
