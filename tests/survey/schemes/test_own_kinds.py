"""Kinds of numbering that the library does not hold, as a line of text and as a form."""

import numpy as np
import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey import Assumptions, Report, Scheme, compare
from ironlace.survey.errors import SchemeError
from ironlace.survey.likelihood.simulated_marks import draw_marks, draw_unknowns
from ironlace.survey.schemes.face_value import face_value
from ironlace.survey.schemes.form import as_form, from_form

OWN = (
    "year as letter from 1880 going round, number in year",
    "year, month as dots, number in month",
    "letter A B, number in letter",
    "letter, dot, number in letter of 4 figures",
    "number overall odd",
    "number overall of 5 figures from 1001 even",
    "letter A B, number overall odd for A",
)


@pytest.mark.parametrize("text", OWN)
def test_a_line_and_a_form_say_the_same(text):
    scheme = Scheme.parse(text)
    assert str(scheme) == text
    assert from_form(as_form(scheme)) == scheme
    assert scheme.in_words() and scheme.in_brief()


@pytest.mark.parametrize("text", OWN)
def test_marks_struck_so_speak_for_it(text):
    given = Assumptions(highest_number=20_000, first_year=1870, last_year=1905)
    rng = np.random.default_rng(17)
    gains = []
    for _ in range(3):
        scheme = Scheme.parse(text)
        places = draw_unknowns(scheme, given, rng)
        marks = draw_marks(scheme, places, 12, given, rng, junk=False)
        found = compare([Report(str(i), m) for i, m in enumerate(marks)], [scheme], given)
        mine = found.of(text).log_evidence
        rivals = max(r.log_evidence for r in found.results if r.candidate.rival)
        gains.append(mine - rivals)
    # half of all numbers is a gain of 8 nats on 12 reports; by letter it costs nothing to be wrong
    assert np.mean(gains) > -1.0


def test_letters_that_go_round_leave_two_years_open():
    scheme = Scheme.parse("year as letter from 1860 going round, number in year")
    assert face_value(parse_marking("C217"), scheme, first_year=1850, last_year=1880).year == 1862
    # C is 1862 and 1888 and 1914
    assert face_value(parse_marking("C217"), scheme) is None


@pytest.mark.parametrize("dots", range(1, 13))
def test_dots_are_counted(dots):
    scheme = Scheme.parse("year, month as dots, number in month")
    value = face_value(parse_marking("96" + "." * dots + "217"), scheme)
    assert (value.year, value.month, value.number) == (1896, dots, 217)


def test_thirteen_dots_state_no_month():
    scheme = Scheme.parse("year, month as dots, number in month")
    assert face_value(parse_marking("96" + "." * 13 + "217"), scheme) is None


def test_odd_numbers_beside_one_letter_are_told_from_even_ones():
    marks = ["A217", "A1031", "B4412", "B218", "A77", "B904", "A3305", "B1650"]
    text = "letter A B, number overall odd for A"
    found = compare(
        [Report(m, parse_marking(m)) for m in marks], [text, "letter A B, number overall"]
    )
    gain = found.of(text).log_evidence - found.of("letter A B, number overall").log_evidence
    assert gain == pytest.approx(8 * np.log(2), abs=1.0)


def test_each_letter_has_a_run_of_its_own():
    value = face_value(parse_marking("B217"), Scheme.parse("letter, number in letter"))
    assert (value.letter, value.number, value.series) == ("B", 217, "letter B")
    assert value.in_words() == "letter B, number 217 of that letter"
    assert Scheme.parse("letter, number in letter").tells_machines_apart


@pytest.mark.parametrize(
    "text",
    [
        "number in letter",
        "number overall odd for A",
        "week as dots, year",
        "month as dots, year; dots without meaning",
        "year of 2 figures going round",
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(text):
    with pytest.raises(SchemeError) as refused:
        Scheme.parse(text)
    assert str(refused.value).count(". ") == 0
