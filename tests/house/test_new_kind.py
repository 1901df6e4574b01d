"""A kind of entry is complete once it is declared: here one that the program has never seen."""

import re
from datetime import UTC, datetime
from enum import StrEnum
from typing import Annotated, Literal

import pypdfium2
import pytest

from ironlace.dossier import account_of, dossier_pdf, write_site
from ironlace.evidence.grades import Grade
from ironlace.record import ENTRY_KINDS, Record
from ironlace.record.entries_in_manual import entries_as_markdown
from ironlace.record.entry_fields import Control, InAccount, KindWords, Words, words_of
from ironlace.record.entry_types import (
    GradedEntry,
    HowKnown,
    MaybeDate,
    MaybeLine,
    Reading,
    Text,
)
from ironlace.web import entries_in_words
from ironlace.web.entry_forms import entry_from, form_of
from ironlace.web.pages.choosing import Choice
from ironlace.web.rendering import _environment

MADE = datetime(2031, 5, 4, tzinfo=UTC)


class Kinds(StrEnum):
    LAMP = "lamp"


class Shade(StrEnum):
    GLASS = "pressed glass"
    TIN = "japanned tin"


class Lamp(GradedEntry):
    """A lamp that came with the machine."""

    words = KindWords(
        "lamp",
        "lamps",
        "A lamp that lit the work.",
        section="lamps",
        title="The lamps that came with it",
        opening="Each lamp as it came.",
    )

    kind: Literal["lamp"] = "lamp"
    called: Annotated[MaybeLine, Words("What it is called", account=InAccount.HEADING)]
    shade: Annotated[Shade, Words("Its shade")] = Shade.TIN
    grade: HowKnown
    stands: Annotated[Reading, Words("How high it stands", "With its unit.", "210 mm")]
    lit: Annotated[MaybeDate, Words("Last lit", more=True)] = None
    soot: Annotated[Text, Words("Soot on it", more=True)] = ""
    seller: Annotated[MaybeLine, Words("Bought from", more=True, private=True)] = ""


LAMP = Lamp(
    called="The gooseneck lamp",
    shade=Shade.GLASS,
    grade=Grade.SEEN,
    stands="8 1/4 in",
    lit="1911~",
    soot="Thick at the rim.",
    seller="Quillfeather & Daughters",
)


@pytest.fixture
def record(monkeypatch) -> Record:
    monkeypatch.setitem(ENTRY_KINDS, Kinds.LAMP, Lamp)
    return Record("m", "A machine", {(Kinds.LAMP, 1): LAMP}, MADE)


def test_it_has_a_form_that_reads_back_what_was_typed(monkeypatch):
    spec = form_of(Lamp)
    page = (
        _environment()
        .from_string(
            '{% import "_fields.html" as f with context %}'
            "{{ f.fields(spec, values, none, choice, 'm') }}"
        )
        .render(spec=spec, values=spec.begins, choice=Choice(), token="", path="/")
    )
    for words in ("Its shade", "How high it stands", "210 mm", "Last lit", "Soot on it", "Note"):
        assert words in page
    assert re.search(r'<option value="japanned tin" selected>', page)
    assert 'name="grade" value="seen" required>' in page  # nothing is chosen beforehand
    assert page.index("How high it stands") < page.index("More to say")
    assert [field.control for field in spec.fields][:5] == [
        Control.LINE,
        Control.CHOICE,
        Control.GRADE,
        Control.QUANTITY,
        Control.DATE,
    ]
    # the kind is not one of the program's: the fault is told, and told as a sentence
    assert "no entry of that kind" in entry_from(spec, {"called": "x"}).says


def test_it_has_its_lines_on_a_page():
    assert entries_in_words.headline(LAMP) == "The gooseneck lamp"
    assert [(line.label, line.text) for line in entries_in_words.details(LAMP)] == [
        ("What it is called", "The gooseneck lamp"),
        ("Its shade", "pressed glass"),
        ("How high it stands", "8.25 in (209.55 mm)"),
        ("Last lit", "about 1911 (1911~)"),
        ("Soot on it", "Thick at the rim."),
        ("Bought from", "Quillfeather & Daughters"),
    ]


def test_it_has_its_section_of_the_account_and_keeps_its_secret(record, tmp_path):
    account = account_of(record, {}, {})
    (section,) = account.sections
    assert (section.key, section.title) == ("lamps", "The lamps that came with it")
    write_site(account, tmp_path / "site")
    pages = sorted((tmp_path / "site").glob("*.html"))
    site = "\n".join(page.read_text(encoding="utf-8") for page in pages)
    pdf = pypdfium2.PdfDocument(dossier_pdf(account, made=MADE))
    print_ = "\n".join(page.get_textpage().get_text_range() for page in pdf)
    for words in (
        "Each lamp as it came.",
        "The gooseneck lamp",
        "pressed glass",
        "8.25 in",
        "about 1911",
        "Soot on it.",
        "Thick at the rim.",
    ):
        assert words in site
        assert words in print_
    assert "Quillfeather" not in site + print_ + repr(account.document)
    assert "Quillfeather" in repr(account_of(record, {}, {}, private=True).sections)


def test_it_has_its_table_in_the_manual(record):
    assert "| `stands` | How high it stands | a quantity" in entries_as_markdown()


def test_a_kind_without_words_is_refused():
    class Bare(GradedEntry):
        kind: Literal["bare"] = "bare"

    with pytest.raises(TypeError, match="Bare needs its KindWords"):
        words_of(Bare)
