import pytest
from hypothesis import given
from hypothesis import strategies as st

from ironlace.evidence.markings import parse_marking
from ironlace.survey.errors import SchemeError
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
