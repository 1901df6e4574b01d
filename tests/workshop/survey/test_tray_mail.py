"""A mail that came in: made by Python's own writer of mail in its many ways, or by an enemy."""

import io
import re
import zipfile
from contextlib import suppress
from email.message import EmailMessage
from email.policy import SMTP
from html import escape

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.survey.sharing.report_block import compose, reports_in, written_values
from ironlace.workshop.survey.tray_mail import (
    MailError,
    letter_of,
    looks_like_mail,
    text_of_page,
)

REPORT = {
    "reads": "C°95·1164",
    "place": "Müllheim, “by the river”",
    "remarks": "It’s under the slide - one dot > two? a=b, =C2=B0 & <x> " * 4,
    "sender": "Anna Åkerö",
    "sender_as": "by my name",
}


def mail(text=None, page=None, cte=None, subject="Report"):
    made = EmailMessage()
    made["From"] = "Anna <anna@owner.example>"
    made["To"] = "keeper@owner.example"
    made["Subject"] = subject
    if text is not None:
        made.set_content(text, cte=cte)
    if page is not None and text is not None:
        made.add_alternative(page, subtype="html", cte=cte)
    elif page is not None:
        made.set_content(page, subtype="html", cte=cte)
    return made


def as_page(text):
    rows = "</div>\r\n<div>".join(escape(line) or "<br>" for line in text.split("\n"))
    style = "<style>+ The number reads: 1</style>"
    return (
        f"<html><head>{style}</head><body><blockquote><div>{rows}</div></blockquote></body></html>"
    )


def only(data):
    (found,) = reports_in(letter_of(data, "a mail").words)
    return found


@pytest.mark.parametrize("cte", ["quoted-printable", "base64", "8bit"])
@pytest.mark.parametrize("shape", ["text", "page", "both"])
def test_a_report_comes_whole_out_of_every_dress_of_mail(cte, shape):
    text = compose(REPORT)
    made = mail(
        None if shape == "page" else text, None if shape == "text" else as_page(text), cte=cte
    )
    data = made.as_bytes(policy=SMTP)
    assert looks_like_mail(data)
    found = only(data)
    assert found.whole is True
    assert found.values == written_values(REPORT)
    assert "anna@owner.example" not in letter_of(data, "a mail").words


@settings(max_examples=40)
@given(
    st.fixed_dictionaries({"remarks": st.text(max_size=200), "sender": st.text(max_size=40)}),
    st.sampled_from(["quoted-printable", "base64"]),
    st.booleans(),
)
def test_whatever_was_written_comes_back(sent, cte, page):
    sent = {"reads": "C°95·1164", **sent}
    text = compose(sent)
    made = mail(None, as_page(text), cte=cte) if page else mail(text, cte=cte)
    found = only(made.as_bytes(policy=SMTP))
    assert found.whole is True
    assert found.values == written_values(sent)


def test_forwarded_twice_as_an_attachment_it_is_found():
    inner = mail(compose(REPORT))
    for _ in range(2):
        outer = mail("Look at this.")
        outer.add_attachment(inner)
        inner = outer
    assert only(inner.as_bytes(policy=SMTP)).values == written_values(REPORT)


def test_the_text_file_and_the_photograph_attached_are_taken():
    made = mail("My report is in the file.")
    made.add_attachment(compose(REPORT), filename="report.txt")
    made.add_attachment(b"\xff\xd8\xff", "image", "jpeg", filename="../../etc/x.jpg")
    letter = letter_of(made.as_bytes(policy=SMTP), "a mail")
    assert reports_in(letter.words)[0].whole is True
    assert letter.photographs == (("x.jpg", b"\xff\xd8\xff"),)


def test_a_zip_is_named_and_never_opened():
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("a", b"\0" * 3_000_000)
    made = mail("C°92·38")
    made.add_attachment(bomb.getvalue(), "application", "zip", filename="photos.zip")
    letter = letter_of(made.as_bytes(policy=SMTP), "a mail")
    assert letter.left == ("photos.zip was not taken: save it, and take it in by itself.",)


def nested(depth):
    head = b"From: a@b.example\r\nSubject: x\r\nMIME-Version: 1.0\r\n"
    parts = b"".join(
        b'Content-Type: multipart/mixed; boundary="b%d"\r\n\r\n--b%d\r\n' % (n, n)
        for n in range(depth)
    )
    return head + parts + b"Content-Type: text/plain\r\n\r\nC 92 38\r\n"


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"From: a@b.example\r\nSubject: x\r\n\r\n" + b"x" * 10_000_000, "a mail may have 8"),
        (nested(1000), "mails within mails"),
        (
            b'From: a\r\nContent-Type: multipart/mixed; boundary="b"\r\n\r\n'
            + b"--b\r\n\r\nx\r\n" * 9000,
            "more parts",
        ),
        (nested(30), "deeper than a letter"),
        (b"From: a@b.example\r\nSubject: " + b"x" * 100_000 + b"\r\n\r\nhi", "headers of more"),
        (b"From: a@b.example\r\nSubject: x\r\n\r\n" + b"word " * 60_000, "200 are read"),
    ],
    ids=["large", "nested", "parts", "deep", "headers", "words"],
)
def test_hostile_mail_is_refused_with_one_sentence(data, says):
    with pytest.raises(MailError, match=says) as refused:
        letter_of(data, "enemy.eml")
    assert str(refused.value).startswith("enemy.eml ")
    assert "\n" not in str(refused.value)


@settings(max_examples=60)
@given(st.binary(max_size=400), st.integers(0, 400))
def test_spoilt_mail_is_read_or_refused(noise, at):
    data = mail(compose(REPORT), as_page("x")).as_bytes(policy=SMTP)
    with suppress(MailError):
        letter_of(data[:at] + noise + data[at:], "a mail")


def test_a_letter_is_told_from_text():
    assert looks_like_mail(b"Received: x\nFrom: a\nSubject: y\n\nhi")
    assert not looks_like_mail(compose(REPORT).encode())
    assert not looks_like_mail(b"From: what I know: it reads 4.96.217.\nMore follows here.")


def test_hidden_words_of_a_page_are_not_read():
    assert re.sub(r"\s+", " ", text_of_page("a<script>b</script><title>c</title><p>d")) == "a d"
