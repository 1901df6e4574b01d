"""A report survives the mail: quoted, wrapped, forwarded, made smart, signed."""

import re
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from ironlace.survey.sharing.report_block import (
    BEGINS,
    ENDS,
    KNOWN,
    LABELS,
    NAMED,
    compose,
    empty_form,
    folded,
    longest_of,
    reports_in,
    written_values,
)

SIGNED = "\n-- \nA. Person\n12 Mill Lane, Northport\n+ more than this\n"
FORWARDED = (
    "\n\n---------- passed on ----------\nFrom: B. Person <b@owner.example>\nDate: Tue, 3 June\n"
    "Subject: Fwd: Report of a machine: Test head\nTo: c@owner.example\n\n"
)

words = st.text(max_size=90) | st.text(
    alphabet="ab °·.+-–—’'\"“”…><|:=_*\t\u00a0é\u0301\u200b9 ", max_size=300
)
values = st.fixed_dictionaries(
    {
        "reads": st.text(alphabet="BC°·.0123456789 ?[]()", min_size=1, max_size=24).filter(folded),
        "known": st.sampled_from(KNOWN),
        "place": words,
        "remarks": words,
        "sender": words,
        "sender_as": st.sampled_from(NAMED),
    }
)


def quote(text):
    return "\n".join(f"> {line}" for line in text.split("\n"))


def quote_tight(text):
    return "\n".join(f">{line}" for line in text.split("\n"))


def wrap(text, width=76):
    """Break long lines at a blank, as mail programs do: the blank is the break."""
    lines = []
    for whole in text.split("\n"):
        line = whole
        while len(line) > width and (at := line.rfind(" ", 20, width)) > 0:
            lines.append(line[:at])
            line = line[at + 1 :]
        lines.append(line)
    return "\n".join(lines)


def smart(text):
    text = re.sub(r"(^|[\s(])\"", r"\1“", text).replace('"', "”").replace("'", "’")
    return text.replace("...", "…").replace(" - ", " – ")


def forward(text):
    return FORWARDED + text + SIGNED


def windows(text):
    return text.replace("\n", "\r\n")


def spaced(text):
    """Every other blank made unbreakable, blanks at the ends of lines, an empty line after each."""
    return "\n\n".join(f"{line.replace(' ', chr(160), 2)}  " for line in text.split("\n"))


WAYS = (quote, quote_tight, wrap, smart, forward, spaced)


def test_a_report_reads_as_plain_words():
    text = compose({"reads": "C°92·38", "sender_as": NAMED[1], "place": ""})
    assert text.splitlines()[:3] == [
        BEGINS,
        "+ The number reads: C°92·38",
        "+ I may be named: by my initials",
    ]
    (found,) = reports_in(text)
    assert found.whole is True
    assert found.of("reads") == "C°92·38"
    assert found.of("place") == ""


@settings(max_examples=150)
@given(values, st.lists(st.sampled_from(WAYS), max_size=5))
@example({"reads": "C°9", "remarks": "a+ Place: b + My name: c  x" * 9}, [wrap, quote, wrap])
@example({"reads": "C°9", "remarks": "> ".join("abcdefg" * 20)}, [wrap, quote_tight, forward])
def test_it_comes_back_as_it_was_sent(sent, ways):
    text = compose(sent)
    for way in ways:
        text = way(text)
    (found,) = reports_in(windows(text))
    assert found.whole is True
    assert found.values == written_values(sent)


@settings(max_examples=100)
@given(st.text(max_size=120))
def test_what_is_made_alike_stays_so(text):
    once = folded(text)
    assert folded(once) == once


def test_a_word_longer_than_a_line_is_joined_again():
    sent = {"reads": "C°92·38", "remarks": "see " + "x" * 150 + " there " + "y" * 100}
    lines = []
    for line in compose(sent).split("\n"):
        lines += [line[at : at + 76] for at in range(0, max(len(line), 1), 76)]
    (found,) = reports_in(quote("\n".join(lines)))
    assert found.whole is True
    assert found.values == written_values(sent)


def test_quoted_again_and_again_it_is_one_report():
    text = compose({"reads": "C°92·38"})
    assert len(reports_in(text + quote(text) + forward(quote(quote(text))))) == 1


def test_a_mail_made_to_cost_time_is_given_up_soon():
    line = "+ Remarks: " + ("a" * 70 + "\n") * 11
    spoilt = f"{BEGINS}\n+ The number reads: C°9\n{line}{ENDS[:-3]}, check 222222 ==\n"
    found = reports_in("".join(spoilt.replace("a", chr(97 + n % 26)) for n in range(120)))
    assert all(one.whole is False for one in found)
    for endless in (" ", "+ ", "> ", "== "):
        assert reports_in(endless * 60_000) == ()


@settings(max_examples=40)
@given(values)
def test_lines_run_into_one_are_parted_again(sent):
    (found,) = reports_in("Hello, " + compose(sent).replace("\n", " ") + "Yours, A.")
    assert found.whole is True
    assert found.values == written_values(sent)


def test_two_reports_in_one_mail_are_two():
    text = compose({"reads": "C°92·38"}) + "and\n" + quote(compose({"reads": "C°93·94"}))
    assert [one.of("reads") for one in reports_in(text)] == ["C°92·38", "C°93·94"]


def test_a_changed_figure_is_noticed():
    (found,) = reports_in(compose({"reads": "C°92·38"}).replace("38", "83"))
    assert found.whole is False
    assert found.of("reads") == "C°92·83"


def test_a_whole_copy_stands_for_a_damaged_one_of_the_same_number():
    text = compose({"reads": "C°92·38", "remarks": "on the bed"})
    found = reports_in(text.replace("bed", "arm") + text)
    assert [one.whole for one in found] == [True]


def test_lines_filled_in_by_hand_carry_no_check():
    text = empty_form("Test head").replace("+ The number reads:", "+ The number reads: C°92·38")
    (found,) = reports_in(text)
    assert found.whole is None
    assert found.of("reads") == "C°92·38"
    assert found.of("answers") == "Test head"


def test_a_report_whose_end_is_cut_off_is_read_as_far_as_it_goes():
    text = compose({"reads": "C°92·38", "place": "Northport"}).partition("+ Place")[0]
    (found,) = reports_in(text)
    assert found.values == (("reads", "C°92·38"),)
    assert found.whole is None


def test_the_manual_shows_a_report_whose_check_holds():
    page = Path(__file__).parents[3] / "docs" / "call-for-reports.md"
    (found,) = reports_in(page.read_text(encoding="utf-8"))
    assert found.whole is True
    assert [field for field, _ in found.values] == list(LABELS)


def test_nothing_of_ours_is_no_report():
    assert reports_in("Mine reads 4.96.217, what of yours?") == ()
    assert reports_in(f"{BEGINS}\n{ENDS}\n") == ()


@pytest.mark.parametrize("field", LABELS)
def test_a_field_is_cut_at_its_length(field):
    text = compose({"reads": "C°9", field: "z" * 5000})
    (found,) = reports_in(text)
    assert len(found.of(field)) == longest_of(field)
    assert found.whole is True
