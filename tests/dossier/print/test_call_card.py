"""The card: one page, its code read by another reader, and nothing guessed."""

from datetime import UTC, datetime

import cv2
import numpy as np
import pypdfium2
import pytest

from ironlace.dossier.errors import DossierError
from ironlace.dossier.print.call_card import call_card_pdf
from ironlace.survey.sharing.call import call_of

MADE = datetime(2031, 5, 4, 3, 2, 1, 12, tzinfo=UTC)
LONG = "the green treadle head with the long arm and the painted wreath, first and second pattern "


def read(pdf):
    """Its pages, the words of the first, and what its code says."""
    pages = pypdfium2.PdfDocument(pdf)
    grey = np.asarray(pages[0].render(scale=4).to_pil().convert("L"))
    said, _, _ = cv2.QRCodeDetector().detectAndDecode(grey)
    words = " ".join(pages[0].get_textpage().get_text_range().split())
    return len(pages), words, said


@pytest.mark.parametrize("size", ["a6", "a5"])
def test_the_code_leads_to_the_page_and_the_mailbox_is_told(size):
    call = call_of(
        "Test head", "bed", None, mail="a@b.example", page="https://owner.example/call.html"
    )
    pages, words, said = read(call_card_pdf(call, None, size=size, made=MADE))
    assert (pages, said) == (1, "https://owner.example/call.html")
    assert "or write to a@b.example" in words


def test_with_a_mailbox_alone_the_code_begins_a_mail():
    call = call_of("Test head", "bed", None, mail="a@b.example")
    assert read(call_card_pdf(call, None, made=MADE))[2] == "mailto:a@b.example"


def test_with_no_address_there_is_no_code_and_it_is_said():
    pages, words, said = read(call_card_pdf(call_of("Test head", "bed", None), None, made=MADE))
    assert (pages, said) == (1, "")
    assert "No address was given with this card" in words


def test_long_words_are_set_smaller_and_too_long_ones_refused():
    call = call_of(LONG, LONG, None, keeper=LONG, mail="a@b.example")
    assert read(call_card_pdf(call, None, made=MADE))[0] == 1
    call = call_of(LONG * 6, LONG * 6, None, keeper=LONG * 6, mail="a@b.example")
    with pytest.raises(DossierError, match="does not fit on a card of A6"):
        call_card_pdf(call, None, made=MADE)


def test_another_size_is_refused():
    with pytest.raises(DossierError, match="no card of size 'a9'"):
        call_card_pdf(call_of("Test head", "bed", None), None, size="a9", made=MADE)
