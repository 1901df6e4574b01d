import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ironlace.evidence.markings import parse_marking
from ironlace.survey import Assumptions, Report, compare
from ironlace.survey.errors import SchemeError
from ironlace.survey.likelihood.simulated_marks import draw_marks, draw_unknowns
from ironlace.survey.schemes.face_value import face_value
from ironlace.survey.schemes.form import as_form, from_form
from ironlace.survey.schemes.library import (
    candidates_for,
    known_patterns,
    read_schemes,
    rivals_without_meaning,
)
from ironlace.survey.schemes.scheme import FieldKind, Scheme

FIELDS = st.sampled_from(
    [
        "month",
        "month of 2 figures",
        "month as letter",
        "week",
        "week of 2 figures",
        "year",
        "year of 4 figures",
        "year of 1 figure",
        "year counted from 1880",
        "year as letter from 1880",
        "number overall",
        "number in month of 4 figures",
        "number in year from 1001",
        "number in batch",
        "batch",
        "code",
        "code near one value",
        "code of 3 figures",
        "letter",
        "letter A B C",
        "constant 7B",
    ]
)
SEPARATORS = st.sampled_from(["dot", "ring", "space", "hyphen", "stroke", "dot sometimes", "star"])


@given(FIELDS, st.lists(SEPARATORS, max_size=3), FIELDS, st.booleans())
def test_a_scheme_written_out_reads_back_the_same(first, between, second, idle):
    text = ", ".join([first, *between, second]) + ("; dots without meaning" if idle else "")
    try:
        scheme = Scheme.parse(text)
    except SchemeError as error:
        assert "twice" in str(error) or "two running" in str(error)
        return
    assert Scheme.parse(str(scheme)) == scheme
    assert str(scheme) == text


def test_case_and_spacing_do_not_matter():
    assert Scheme.parse(" Month ,DOT,  year , dot, Number In  Month") == Scheme.parse(
        "month, dot, year, dot, number in month"
    )


def test_gaps_stand_before_between_and_after():
    scheme = Scheme.parse("ring, year, dot, number in year, star")
    assert [[s.name for s in gap] for gap in scheme.gaps] == [["ring"], ["dot"], ["star"]]
    assert scheme.tells_date


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is no part of a mark"),
        ("dot", "no part that says anything"),
        ("month, month", "twice"),
        ("number overall, number in year", "two running numbers"),
        ("moon, dot", "'moon'"),
        ("year; nonsense", "after the semicolon"),
        ("code of 12 figures", "1 to 8"),
        ("number in year from 0", "from 1"),
        ("week as letter", "no letters"),
        ("code, code, code, code, code, code, code", "at most 6"),
        ("month, dot, dot, dot, dot, year", "three separators"),
    ],
)
def test_what_cannot_be_read_is_said(text, says):
    with pytest.raises(SchemeError, match=says):
        Scheme.parse(text)


def test_every_known_pattern_reads_and_is_unique():
    schemes = [str(c.scheme) for c in known_patterns("ring")]
    assert len(set(schemes)) == len(schemes)
    assert all("dot," not in text for text in schemes)


def test_rivals_have_as_many_groups_as_most_marks():
    marks = [parse_marking(t) for t in ("B°93°4", "B°91°217", "7")]
    rival = rivals_without_meaning(marks)[0]
    assert str(rival.scheme) == "letter, ring, code, ring, code"
    assert rival.rival and not rival.hindsight


def test_rivals_are_always_among_the_candidates():
    names = {c.name for c in candidates_for([parse_marking("12345")])}
    assert "arbitrary codes" in names


def test_scheme_file_with_names_weights_and_remarks():
    found = read_schemes(
        "# ours\nmine: month, dot, year | weight 3\nnumber overall | thought of before\n"
        "code, dot, code\n"
    )
    assert [c.name for c in found] == ["mine", "number overall", "code, dot, code"]
    assert [c.weight for c in found] == [3.0, 1.0, 1.0]
    assert [c.hindsight for c in found] == [True, False, True]
    assert [c.rival for c in found] == [False, False, True]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("month, dut, year", "Line 1.*'dut'"),
        ("a: month\na: year", "Line 2.*twice"),
        ("month | heavy", "Line 1.*'heavy'"),
        ("# nothing", "No theory is named"),
        ("month | weight 0", "above nought"),
    ],
)
def test_scheme_file_errors_name_the_line(text, says):
    with pytest.raises(SchemeError, match=says):
        read_schemes(text)


def test_in_words_reads_as_a_phrase():
    said = Scheme.parse("letter A B, ring, year counted from 1880; dots without meaning").in_words()
    assert said == (
        "letter (A, B), then a ring, then year counted from 1880, with dots that mean nothing"
    )
    assert Scheme.parse("constant 7").fields[0].kind is FieldKind.CONSTANT


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
