"""Numbers called out: every one of them, said as people say them, and what is asked about."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ironlace.evidence.quantities import parse_measured
from ironlace.web.phone.spoken_numbers import SpokenNumberError, read_number

# written out here once more, another way round than in the program: by the figures of the number
FIGURES = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
TEENS = {10: "ten", 11: "eleven", 12: "twelve", 13: "thirteen", 15: "fifteen", 18: "eighteen"}
TENTHS = {2: "twenty", 3: "thirty", 4: "forty", 5: "fifty", 8: "eighty"}


def said(number, joined=" ", and_=""):
    hundreds, rest = divmod(number, 100)
    words = [f"{FIGURES[hundreds]} hundred"] if hundreds else []
    if hundreds and rest and and_:
        words.append(and_)
    tens, ones = divmod(rest, 10)
    if rest in TEENS:
        words.append(TEENS[rest])
    elif tens == 1:
        words.append(f"{FIGURES[ones]}teen")
    elif tens:
        ten = TENTHS.get(tens, f"{FIGURES[tens]}ty")
        words.append(ten + (joined + FIGURES[ones] if ones else ""))
    elif ones or not hundreds:
        words.append(FIGURES[ones])
    return " ".join(words)


@pytest.mark.parametrize("joined", [" ", "-"])
@pytest.mark.parametrize("and_", ["", "and"])
def test_every_whole_number_up_to_999_is_read(joined, and_):
    wrong = {
        words: read_number(words)
        for number in range(1000)
        if read_number(words := said(number, joined, and_)) != str(number)
    }
    assert wrong == {}


@given(
    st.integers(0, 999),
    st.lists(st.integers(0, 9), min_size=1, max_size=4),
    st.sampled_from(["point", "comma", "dot"]),
    st.sampled_from(["", "minus ", "negative ", "-", "plus "]),
    st.booleans(),
)
def test_what_follows_the_point_is_read_figure_by_figure(whole, part, point, sign, mixed):
    front = str(whole) if mixed else said(whole)
    text = f"{sign}{front} {point} {' '.join(FIGURES[one] for one in part)}"
    minus = "-" if sign.strip() in ("minus", "negative", "-") else ""
    assert read_number(text) == f"{minus}{whole}.{''.join(map(str, part))}"
    assert read_number(text.upper()) == read_number(text)


@pytest.mark.parametrize(
    ("text", "reads"),
    [
        ("12.5", "12.5"),
        ("12,5", "12.5"),
        ("12.50", "12.50"),
        ("0,125", "0.125"),
        (".5", "0.5"),
        ("point five", "0.5"),
        ("−3.2", "-3.2"),
        ("one two point five", "12.5"),
        ("oh point oh five", None),
        ("twelve point oh five", "12.05"),
        ("twelve point twenty five", "12.25"),
        ("a hundred and one", "101"),
        ("1 1/4", "1 1/4"),
        ("-3/16", "-3/16"),
        ("1,234.5", "1234.5"),
        ("1.234,5", "1234.5"),
        ("12 point 75", "12.75"),
    ],
)
def test_everyday_ways(text, reads):
    if reads is None:
        with pytest.raises(SpokenNumberError):
            read_number(text)
    else:
        assert read_number(text) == reads


@pytest.mark.parametrize(
    "text",
    [
        *("", "   ", "twelve mm", "12 mm", "twelve five", "twenty twelve", "ten hundred"),
        *("point", "minus", "five point", "one point two point three", "1.2.3", "--3", "1e5"),
        *("hundred", "zero hundred", "two hundred and", "two hundred zero", "for", "won", "1/0"),
        *("two thousand", "twelve and a half", "٣", "²", "nan", "inf", "9" * 99, "1 2", "12-13"),
    ],
)
def test_what_is_not_one_number_is_told_in_one_sentence(text):
    with pytest.raises(SpokenNumberError, match="give the number alone"):
        read_number(text)


def test_what_could_be_two_numbers_is_asked_about():
    with pytest.raises(SpokenNumberError, match=r"could be 1234 or 1\.234"):
        read_number("1,234")


@given(st.text(max_size=60))
def test_whatever_is_read_is_a_number_the_record_can_read(text):
    try:
        reads = read_number(text)
    except SpokenNumberError:
        return
    value = parse_measured(f"{reads} mm").value
    sign, pieces = (-1 if reads.startswith("-") else 1), reads.lstrip("-").split()
    assert value == pytest.approx(float(sign * sum(map(Fraction, pieces))))
