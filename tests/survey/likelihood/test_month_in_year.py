import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.mark_cuts import cut
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.likelihood.month_in_year import states_month, within_year
from ironlace.survey.schemes.scheme import Scheme

GIVEN = Assumptions()


def months(mark, text):
    scheme = Scheme.parse(text)
    read = lay_out([parse_marking(mark)], GIVEN)
    found = cut(read, scheme, GIVEN)
    best = found.known.argmax(keepdims=True)
    return within_year(scheme, found.spans, found.span_row, read.emission, GIVEN, best)[0]


def test_a_month_is_stated_and_misreadings_are_left_room():
    chances = months("4.96.217", "month, dot, year, dot, number in month")
    assert chances.argmax() == 3
    assert 0.9 < chances[3] < 1.0
    assert chances.sum() == pytest.approx(1.0)


def test_a_week_falls_into_its_month():
    assert months("27.96.4", "week, dot, year, dot, number in week").argmax() == 6


def test_without_a_month_all_are_alike():
    chances = months("96.217", "year, dot, number in year")
    assert chances == pytest.approx(1 / 12)
    assert not states_month(Scheme.parse("year, dot, number in year"))
