"""What a call for reports says, and which addresses it takes."""

import pytest

from ironlace.survey.answers.next_report import KindOfReport, NextReport, Power
from ironlace.survey.errors import ReportsError
from ironlace.survey.sharing.call import call_of
from ironlace.survey.sharing.report_block import reports_in


def found(settled=False, bits=(0.5, 0.2, 0.0), needed=3):
    kinds = ("a mark checked glyph by glyph on a raking-light photograph", "a second", "a third")
    told = tuple(KindOfReport(what, one) for what, one in zip(kinds, bits, strict=True))
    return NextReport("t", "t", 3.0, told, (Power(20.0, (0.5,), needed),), (), settled, "others")


def test_it_says_what_would_tell_most_in_words_for_strangers():
    call = call_of("The green head", "bed, at the front.", found())
    assert call.tells_most[0].startswith("A number checked sign by sign on a photograph")
    assert call.tells_most[1:] == ("A second.",)
    assert "With 3 more we may know." in call.why[0]
    text = call.as_text()
    assert "The number of our machine is struck here: bed, at the front." in text
    assert "or not at all" in " ".join(text.split())
    assert reports_in(text)[0].of("answers") == "The green head"
    assert max(len(line) for line in text.splitlines()) <= 76


def test_without_reports_any_number_is_asked_for_and_no_odds_are_claimed():
    call = call_of("The green head", "", None)
    assert call.tells_most == ("Any number, read with care from a machine before you.",)
    assert "Look for struck figures" in call.as_text()


def test_when_nothing_more_is_needed_it_asks_for_what_speaks_against():
    call = call_of("The green head", "", found(settled=True, bits=(0.0, 0.0, 0.0)))
    assert "dated paper" in call.tells_most[0]
    assert "speaks against it" in call.why[0]


def test_no_address_given_is_said():
    text = call_of("The green head", "", None).as_text()
    assert "Answer whoever gave you this call" in text
    assert "@" not in text


@pytest.mark.parametrize(
    "mail",
    [
        "a@b.example\nBcc: c@d.example",
        "a@b.example?cc=c@d.example",
        "a@b.example&body=x",
        "a@b.example, c@d.example",
        "a%0Ab@",
        "nobody",
        "<a@b.example>",
    ],
)
def test_an_address_that_could_bend_a_mail_is_refused(mail):
    with pytest.raises(ReportsError, match="no address of a mailbox"):
        call_of("The green head", "", None, mail=mail)


@pytest.mark.parametrize(
    "page", ["javascript:alert(1)", "https://a b", "owner.example", "file:///x"]
)
def test_a_page_elsewhere_than_on_the_web_is_refused(page):
    with pytest.raises(ReportsError, match="no address of a page"):
        call_of("The green head", "", None, page=page)
