"""The printed dossier: what stands in it, how it is tagged, and that nothing breaks it."""

import ctypes
import re
from io import BytesIO

import numpy as np
import pikepdf
import pypdfium2 as pdfium
import pytest

from ironlace.dossier.account.record_to_account import account_of
from ironlace.dossier.account.whole import PictureFile
from ironlace.dossier.errors import DossierError, PictureRefusedError
from ironlace.dossier.print.pdf import dossier_pdf
from pdf_kept_long import faults_of

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
        "1.244 ± 0.004",
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


def drawn_width_mm(make_record, made, width: float, paper: str) -> tuple[float, str]:
    """How wide a bar of so many mm is set, and what the page says of its scale."""
    bar = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width + 80}mm" height="186mm" '
        f'viewBox="0 0 {width + 80} 186"><rect x="40" y="60" width="{width}" height="70"/></svg>'
    )
    drawing = {
        "kind": "drawing", "name": "Plate", "svg": SHA, "width_mm": 256, "height_mm": 186,
        "grade": "seen",
        "finding": {"about": "outline", "value": 1, "method": {"name": "m"}, "version": "1"},
    }  # fmt: skip
    account = account_of(make_record([drawing]), {}, {"drawing 1": bar})
    pdf = dossier_pdf(account, made=made, paper=paper)
    document = pdfium.PdfDocument(pdf)
    widths = []
    for page in document:
        dark = np.asarray(page.render(scale=300 / 72, grayscale=True).to_pil()) < 128
        columns = np.flatnonzero(dark.sum(axis=0) > 50 / 25.4 * 300)
        if len(columns):
            widths.append((columns[-1] - columns[0] + 1) / 300 * 25.4)
    document.close()
    (found,) = widths
    return found, text_of(pdf)


def test_a_drawing_that_fits_the_text_is_set_at_true_scale(make_record, made) -> None:
    width, told = drawn_width_mm(make_record, made, 155.0, "a4")
    assert width == pytest.approx(155.0, abs=0.2)
    assert "Drawn at true scale" in told


@pytest.mark.parametrize(("paper", "text"), [("a4", 166.0), ("letter", 171.9)])
def test_a_wider_drawing_stays_within_the_margins(make_record, made, paper, text) -> None:
    width, told = drawn_width_mm(make_record, made, 176.0, paper)
    # the bar and the 2 mm of air on either side fill the text's width
    assert width == pytest.approx(text * 176.0 / 180.0, abs=0.3)
    assert "Drawn at 9" in told


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


# ---- composed pages


def many(rng: np.random.Generator, readings: int, reports: int) -> list[dict[str, object]]:
    """A long record of another kind: many parts and reports, long words, other scripts."""
    parts = ["bed", "vorderseitige Nadelstangenführungsbüchse", "", "梭子", "מחט", "feed"]
    known = ["calliper", "rule", "micrometer"]
    shot = {"kind": "photograph", "sha256": SHA, "role": "part", "caption": "c " * 20}
    return [
        shot | {"role": "whole machine"}, shot, shot, shot,
        *[{"kind": "statement", "about": topic, "says": "s " * int(rng.integers(5, 90)),
           "grade": "seen", "sources": [{"kind": "object", "says": "o " * 8}]}
          for topic in ("kind of machine", "maker", "drive", "finish and ornament")],
        *[{"kind": "mark", "reads": "1234", "where": f"place {n}", "grade": "seen",
           "photographs": ["photograph 2"]} for n in range(4)],
        *[{"kind": "report", "name": f"r{n}", "reads": f"{5000 + n}", "grade": "seen",
           "how": "handled", "variant": "v " * int(rng.integers(0, 4))} for n in range(reports)],
        *[{"kind": "part", "name": f"part {n}", "grade": "seen",
           "there": "t " * int(rng.integers(10, 160)),
           "state": "sound"} for n in range(12)],
        *[{"kind": "measurement", "what": "width " + "w " * int(rng.integers(0, 12)),
           "reads": f"{1000 + n}.5 ± 0.2 mm", "part": parts[int(rng.integers(0, len(parts)))],
           "instrument": known[int(rng.integers(0, 3))], "grade": "measured"}
          for n in range(readings)],
        *[{"kind": "treatment", "what": f"treatment {n}", "aim": "examination",
           "done": "d " * int(rng.integers(20, 200)), "undoing": "nothing to undo",
           "before": ["photograph 1"], "hazards": ["lifting"]} for n in range(5)],
        {"kind": "treatment", "what": "the last", "aim": "examination",
         "undoing": "nothing to undo", "before": ["photograph 1", "photograph 3"],
         "after": ["photograph 4"]},
        {"kind": "question", "asks": "Who? " * 12},
    ]  # fmt: skip


@pytest.fixture(scope="module", params=[("a4", 1), ("letter", 1), ("a4", 2), ("letter", 3)])
def long_pdf(request, make_record, pictures, made) -> bytes:
    paper, seed = request.param
    rng = np.random.default_rng(seed)
    record = make_record(many(rng, 20 + 17 * seed, 9 + 11 * seed), title="梭子 and מחט, a head")
    return dossier_pdf(account_of(record, pictures, {}), paper=paper, made=made)


def page_texts(pdf: bytes) -> list[str]:
    document = pdfium.PdfDocument(pdf)
    texts = [page.get_textpage().get_text_bounded() for page in document]
    document.close()
    return texts


def rows_on_pages(pdf: bytes, pattern: str) -> list[int]:
    """How many rows of a table, known by what only they hold, stand on each page that has any."""
    counts = [len(set(re.findall(pattern, text))) for text in page_texts(pdf)]
    return [count for count in counts if count]


@pytest.mark.parametrize("pattern", [r"\b10\d\d\.5 ±", r"\b50\d\d\b"])
def test_no_table_begins_or_ends_with_a_row_alone(long_pdf, pattern) -> None:
    counts = rows_on_pages(long_pdf, pattern)
    assert sum(counts) >= 20
    assert min(counts) >= 3, counts


def test_a_part_has_its_heading_on_the_page_of_its_first_reading(make_record, made) -> None:
    for before in range(0, 60, 4):
        entries = [{"kind": "part", "name": "p", "grade": "seen", "there": "x " * (40 * before)}]
        entries += [
            {"kind": "measurement", "what": f"w{n}", "reads": f"{1000 + n} mm", "grade": "measured",
             "part": f"Part{n // 3}"} for n in range(9)
        ]  # fmt: skip
        for text in page_texts(dossier_pdf(account_of(make_record(entries), {}, {}), made=made)):
            for n in range(3):
                first = re.search(rf"\b{1000 + 3 * n}\b", text)
                assert (first is None) == (f"Part{n}" not in text), (before, n)


def fill_of_pages(pdf: bytes) -> list[float]:
    """How far down its text area the ink of each page reaches, 0 to 1."""
    document = pdfium.PdfDocument(pdf)
    filled = []
    for page in document:
        height_mm = page.get_height() / 72 * 25.4
        ink = np.asarray(page.render(scale=1.0, grayscale=True).to_pil()) < 200
        top = round(27 / height_mm * len(ink))
        bottom = round((height_mm - 26) / height_mm * len(ink))
        rows = np.flatnonzero(ink[top:bottom].any(axis=1))
        filled.append((rows[-1] + 1) / (bottom - top) if len(rows) else 0.0)
    document.close()
    return filled


def test_no_page_but_the_last_is_nearly_half_empty(long_pdf) -> None:
    filled = fill_of_pages(long_pdf)
    assert len(filled) > 5
    assert min(filled[:-1]) >= 0.55, [round(share, 2) for share in filled]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_pages_of_the_full_account_are_filled(full_account, made, paper) -> None:
    filled = fill_of_pages(dossier_pdf(full_account, made=made, paper=paper))
    assert min(filled[:-1]) >= 0.55, [round(share, 2) for share in filled]


def pictures_in(pdf: bytes) -> list[bytes]:
    """Every picture as often as it is set."""
    document = pdfium.PdfDocument(pdf)
    found = [
        bytes(one.get_data())
        for page in document
        for one in page.get_objects(filter=[pdfium.raw.FPDF_PAGEOBJ_IMAGE], max_depth=15)
    ]
    document.close()
    return found


def test_each_photograph_is_printed_once_that_of_the_cover_too(long_pdf) -> None:
    found = pictures_in(long_pdf)
    assert len(found) == len(set(found)) == 4
    told = text_of(long_pdf)
    # named where it belongs as well, with the page it stands on: five treatments and the pair
    assert told.count("Before: photograph 1, page 1.") == 6
    assert len(re.findall(r"See photograph 2, page \d+\.", told)) == 3


def test_no_line_of_an_entry_begins_a_page_without_it(long_pdf) -> None:
    for text in page_texts(long_pdf):
        lines = [line.strip() for line in text.splitlines()][:4]
        assert not any(line.startswith(("Before: ", "See photograph")) for line in lines), lines


def test_names_in_other_scripts_do_not_break_a_page(long_pdf) -> None:
    told = text_of(long_pdf)
    assert "⟨U+68AD⟩" in told
    assert "Nadelstangen" in told.replace("\u200b", "").replace("- ", "")


@pytest.mark.parametrize("lead", [True, False])
def test_signs_of_a_mark_stand_evenly(make_record, pictures, made, lead) -> None:
    entries = [{"kind": "mark", "reads": "G°94(·)627", "where": "bed", "grade": "seen"}]
    entries += [{"kind": "photograph", "sha256": SHA, "role": "whole machine"}]
    account = account_of(make_record(entries), pictures if lead else {}, {})
    document = pdfium.PdfDocument(dossier_pdf(account, made=made))
    text = document[0].get_textpage()
    boxes = [(text.get_text_range(n, 1), text.get_charbox(n)) for n in range(text.count_chars())]
    row = [(sign, box) for sign, box in boxes if sign in "G°94·627" and box[3] - box[1] > 0]
    line = max((box for sign, box in row if sign == "G"), key=lambda box: box[3] - box[1])
    signs = [(s, b) for s, b in row if line[1] - 3 < b[1] < line[3] + 3]
    assert "".join(sign for sign, _ in signs) == "G°94·627"
    document.close()
    middles = np.array([(box[0] + box[2]) / 2 for _, box in signs])
    steps = np.diff(middles)
    assert np.ptp(steps) < 0.22 * steps.mean(), steps


def test_nothing_of_programs_stands_before_the_note(full_account, made) -> None:
    told = " ".join(page_texts(dossier_pdf(full_account, made=made)))
    before, _, note = told.rpartition("For whoever wants to work it out again")
    assert "Fingerprint" in note and "Kass and Raftery" in note
    for words in ("ingerprint", "Kass and Raftery", "works year", "record.json"):
        assert words not in before, words
    for words in ("memory", "no source", "schemes: ;", "mm2"):
        assert words not in told, words


def test_its_structure_is_that_of_pdf_a(full_pdf) -> None:
    assert faults_of(BytesIO(full_pdf)) == []


SPOILT = {
    "output intents": lambda pdf: pdf.Root.__delattr__("OutputIntents"),
    "no XMP": lambda pdf: pdf.Root.__delattr__("Metadata"),
    "no structure": lambda pdf: pdf.Root.__delattr__("StructTreeRoot"),
    "not embedded": lambda pdf: [
        one.__delattr__(key)
        for one in pdf.objects
        if hasattr(one, "keys") and one.get("/Type") == "/FontDescriptor"
        for key in ("FontFile2", "FontFile3")
        if f"/{key}" in one
    ],
    "/OpenAction": lambda pdf: pdf.Root.__setattr__("OpenAction", pdf.pages[0].obj),
}


@pytest.mark.parametrize("fault", SPOILT)
def test_a_structure_that_is_spoilt_is_seen(full_pdf, fault) -> None:
    out = BytesIO()
    with pikepdf.open(BytesIO(full_pdf)) as pdf:
        SPOILT[fault](pdf)
        pdf.save(out)
    assert any(fault in one for one in faults_of(out))
