import pytest

from ironlace.survey.schemes.library import read_schemes
from ironlace.survey.schemes.lines import line_of, scheme_lines, with_line


def test_a_line_that_cannot_be_read_does_not_hide_the_others():
    first, second = scheme_lines("# mine\nmoon, tide\n\na: number overall  \n")
    assert (first.number, first.candidate) == (2, None)
    assert "moon" in first.says
    assert (second.number, second.text, second.says) == (4, "a: number overall", "")


@pytest.mark.parametrize(
    "line",
    [
        "number overall",
        "mine: letter, ring, year, dot, number in year | weight 2, thought of before",
        "month, dot, year; dots without meaning | weight 0.5",
    ],
)
def test_a_line_is_written_as_it_is_read(line):
    assert line_of(read_schemes(line)[0]) == line


def test_a_line_goes_in_the_place_of_another_or_to_the_end():
    text = "a: week\n\nb: month"
    assert with_line(text, "c: year", 3) == "a: week\n\nc: year"
    assert with_line(text, "c: year") == "a: week\nb: month\nc: year"
    assert with_line(text, "c: year", 9) == "a: week\nb: month\nc: year"
