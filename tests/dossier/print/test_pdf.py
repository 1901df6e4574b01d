"""The printed dossier: what stands in it, how it is tagged, and that nothing breaks it."""

import ctypes
import re

import numpy as np
import pypdfium2 as pdfium
import pytest

from ironlace.dossier.account.record_to_account import account_of
from ironlace.dossier.account.whole import PictureFile
from ironlace.dossier.errors import DossierError, PictureRefusedError
from ironlace.dossier.print.pdf import dossier_pdf

SHA = "cd" * 32


def text_of(pdf: bytes) -> str:
    document = pdfium.PdfDocument(pdf)
    try:
        pages = [page.get_textpage().get_text_bounded() for page in document]
    finally:
        document.close()
    return " ".join(" ".join(pages).replace("\u200b", "").replace("\ufffe", "").split())


def pages_of(pdf: bytes) -> list[tuple[float, float]]:
    document = pdfium.PdfDocument(pdf)
    try:
        return [page.get_size() for page in document]
    finally:
        document.close()


@pytest.fixture(scope="module")
def full_pdf(full_account, made) -> bytes:
    return dossier_pdf(full_account, made=made)


def test_everything_told_can_be_read(full_pdf) -> None:
    told = text_of(full_pdf)
    for words in (
        "Calder Vane No. 2",
        "Family lockstitch machine with a long shuttle",
        "castings were sold between works",
        "B, ring, 9, 3, dot, 2, 1, 7",
        "Between April 1893 and February 1894",
        "Perished rubber, no earth.",
        "31.6 ± 0.1",
        "1.2441 ± 0.0039",
        "No abrasive was used",
        "Slide it out. Nothing was cut",
        "Vapours burn and are harmful",
        "L°95·61?",
        "What does the L stand for?",
        "Steel: report 2 shows one with rust.",
        "Price list of the Calder Vane Works",
        "after 45 changes",
        "Drawn at true scale",
    ):
        assert words in told, words


def test_grades_stand_in_words(full_pdf) -> None:
    told = text_of(full_pdf).lower()
    for grade in ("seen", "measured", "inferred", "conjectured"):
        assert told.count(grade) >= 2


def test_public_dossier_holds_no_secret(full_pdf, secret) -> None:
    assert secret not in text_of(full_pdf)
    assert secret.split()[1].encode() not in full_pdf


def test_file_says_it_is_pdf_a_tagged_and_in_english(full_pdf) -> None:
    assert b"<pdfaid:part>2</pdfaid:part>" in full_pdf
    assert b"<pdfaid:conformance>A</pdfaid:conformance>" in full_pdf
    assert b"<pdfuaid:part>1</pdfuaid:part>" in full_pdf
    assert re.search(rb"/Lang\s*\(en-GB\)", full_pdf)
    document = pdfium.PdfDocument(full_pdf)
    assert document.get_metadata_value("Title") == "Calder Vane No. 2"
    assert document.get_metadata_value("CreationDate").startswith("D:20260301093000")
    assert document.is_tagged()
    document.close()


def test_pictures_have_words_for_who_cannot_see_them(full_pdf) -> None:
    document = pdfium.PdfDocument(full_pdf)
    raw = pdfium.raw
    alts: set[str] = set()

    def walk(element: object) -> None:
        size = raw.FPDF_StructElement_GetAltText(element, None, 0)
        if size:
            buffer = ctypes.create_string_buffer(size)
            raw.FPDF_StructElement_GetAltText(element, buffer, size)
            alts.add(buffer.raw[:-2].decode("utf-16-le"))
        for n in range(raw.FPDF_StructElement_CountChildren(element)):
            child = raw.FPDF_StructElement_GetChildAtIndex(element, n)
            if child:
                walk(child)

    for page in document:
        tree = raw.FPDF_StructTree_GetForPage(page.raw)
        for n in range(raw.FPDF_StructTree_CountChildren(tree)):
            walk(raw.FPDF_StructTree_GetChildAtIndex(tree, n))
        raw.FPDF_StructTree_Close(tree)
    document.close()
    assert "Photograph, mark: The number under raking light from the left" in alts
    assert "Drawing of the ornament: Scroll of the bed, left" in alts


def test_signs_of_the_trade_have_glyphs_in_the_embedded_fonts(make_record, made) -> None:
    signs = "· ° ± × ½ ″ ′ – — … “ ” ★ ✚ ◆ ⁄ € £ µ Ω é ß ł"
    record = make_record(
        [
            {"kind": "question", "asks": signs},
            {"kind": "mark", "reads": "B°9·{star}{cross}{diamond}", "where": "x", "grade": "seen"},
        ]
    )
    told = text_of(dossier_pdf(account_of(record, {}, {}), made=made))
    assert "U+" not in told
    for sign in signs.split():
        assert sign in told, sign


def test_same_account_gives_same_bytes(full_account, made, full_pdf) -> None:
    assert dossier_pdf(full_account, made=made) == full_pdf


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.28, 841.89)), ("letter", (612.0, 792.0))])
def test_pages_have_the_paper_asked_for(full_account, made, paper, size) -> None:
    for width, height in pages_of(dossier_pdf(full_account, paper=paper, made=made)):
        assert (width, height) == pytest.approx(size, abs=0.1)


def test_unknown_paper_is_refused(full_account, made) -> None:
    with pytest.raises(DossierError, match="no paper"):
        dossier_pdf(full_account, paper="a5", made=made)


def test_date_without_zone_is_refused(full_account, made) -> None:
    with pytest.raises(DossierError, match="time zone"):
        dossier_pdf(full_account, made=made.replace(tzinfo=None))


def test_empty_record_makes_a_dossier_that_says_so(make_record, made) -> None:
    told = text_of(dossier_pdf(account_of(make_record([]), {}, {}), made=made))
    assert "The record holds nothing yet." in told
    assert "nothing to tell under: what it is, the marks" in told


def test_awkward_signs_are_set_as_they_are_or_as_code_points(
    awkward_record, pictures, drawings, made
) -> None:
    told = text_of(dossier_pdf(account_of(awkward_record, pictures, drawings), made=made))
    assert '#panic("x") $x$ *b* _u_ `c` @l <lab> [x] \\ / "q" & &amp;' in told
    assert "<script>alert(1)</script>" in told
    assert "⟨U+6F22⟩" in told
    assert "they stand as their code points (U+6F22, U+1F642)" in told


def test_very_long_text_breaks_over_pages(make_record, made) -> None:
    text = ("Found under the bed, " * 900)[:19_000] + "the very end."
    record = make_record(
        [
            {"kind": "treatment", "what": "W" * 300, "aim": "restoration", "done": text,
             "undoing": "nothing to undo", "note": text},
            {"kind": "part", "name": "Bed", "grade": "seen", "there": "x" * 20_000},
            {"kind": "mark", "reads": "7" * 64, "where": "bed", "grade": "seen"},
        ]
    )  # fmt: skip
    pdf = dossier_pdf(account_of(record, {}, {}), made=made)
    assert text_of(pdf).count("the very end.") == 2
    assert len(pages_of(pdf)) > 10


@pytest.mark.slow
def test_two_hundred_photographs(make_record, pictures, made) -> None:
    record = make_record(
        [
            {"kind": "photograph", "sha256": SHA, "role": "part", "caption": f"Part {n}"}
            for n in range(200)
        ]
    )
    files = {f"photograph {n}": pictures[f"photograph {1 + n % 7}"] for n in range(1, 201)}
    pdf = dossier_pdf(account_of(record, files, {}), made=made)
    assert "Photograph 200. Part 199" in text_of(pdf)
    assert len(pdf) < 30_000_000


def test_drawing_is_set_at_true_scale_even_a_little_wider_than_the_text(make_record, made) -> None:
    square = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="256mm" height="186mm" '
        'viewBox="0 0 256 186"><rect x="40" y="60" width="176" height="70"/></svg>'
    )
    drawing = {
        "kind": "drawing", "name": "Plate", "svg": SHA, "width_mm": 256, "height_mm": 186,
        "grade": "seen",
        "finding": {"about": "outline", "value": 1, "method": {"name": "m"}, "version": "1"},
    }  # fmt: skip
    pdf = dossier_pdf(account_of(make_record([drawing]), {}, {"drawing 1": square}), made=made)
    document = pdfium.PdfDocument(pdf)
    widths = []
    for page in document:
        dark = np.asarray(page.render(scale=300 / 72, grayscale=True).to_pil()) < 128
        columns = np.flatnonzero(dark.sum(axis=0) > 65 / 25.4 * 300)
        if len(columns):
            widths.append((columns[-1] - columns[0] + 1) / 300 * 25.4)
    document.close()
    assert widths == [pytest.approx(176.0, abs=0.2)]


def test_drawing_too_large_for_the_page_is_set_smaller_and_says_so(make_record, made) -> None:
    frame = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="300mm" '
        'viewBox="0 0 400 300"><rect width="400" height="300"/></svg>'
    )
    drawing = {
        "kind": "drawing", "name": "Frame", "svg": SHA, "width_mm": 400, "height_mm": 300,
        "grade": "seen",
        "finding": {"about": "outline", "value": 1, "method": {"name": "m"}, "version": "1"},
    }  # fmt: skip
    account = account_of(make_record([drawing]), {}, {"drawing 1": frame})
    told = text_of(dossier_pdf(account, made=made))
    assert "Drawn at 42 % of its size" in told.replace("\u00a0", " ")


def test_unreadable_picture_is_refused_by_name(make_record, made, tmp_path) -> None:
    broken = tmp_path / "7.jpg"
    broken.write_bytes(b"not a picture")
    record = make_record([{"kind": "photograph", "sha256": SHA, "role": "part"}])
    account = account_of(record, {"photograph 1": PictureFile(broken, 10, 10)}, {})
    with pytest.raises(PictureRefusedError, match=r"7\.jpg"):
        dossier_pdf(account, made=made)
