"""Sheets at true scale: the bar, the drawing's size on paper, the parts and their marks."""

import re
from itertools import pairwise

import numpy as np
import pypdfium2 as pdfium
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ironlace.dossier.errors import DrawingRefusedError
from ironlace.dossier.print.true_scale import OVERLAP_MM, page_plan, strip_pdf, true_scale_pdf
from ironlace.dossier.print.typesetting import PAPER_MM
from ironlace.photographs.scale_strip import strip_sheet, strip_svg

DPI = 600
PX_PER_MM = DPI / 25.4


def drawing(width: float, height: float, inner: str = "") -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">{inner}</svg>'
    )


def page_at_600_dpi(pdf: bytes, page: int = 0) -> np.ndarray:
    document = pdfium.PdfDocument(pdf)
    try:
        bitmap = document[page].render(scale=DPI / 72, grayscale=True)
        return np.asarray(bitmap.to_pil(), dtype=np.uint8)
    finally:
        document.close()


def words(pdf: bytes, page: int) -> str:
    document = pdfium.PdfDocument(pdf)
    try:
        return " ".join(document[page].get_textpage().get_text_bounded().split())
    finally:
        document.close()


def bar_length_mm(grey: np.ndarray) -> float:
    """Distance between the middles of the end strokes of the one level line of about 100 mm.

    An end stroke reaches 3 mm above and below the line; a tick 1.6 mm at most.
    """
    dark = grey < 128
    reach = int(2.4 * PX_PER_MM)
    found = []
    for row in range(reach, len(dark) - reach):
        if dark[row].sum() < 90 * PX_PER_MM:
            continue
        ends = np.flatnonzero(np.diff(np.r_[False, dark[row], False].astype(int)))
        for start, stop in zip(ends[::2], ends[1::2], strict=True):
            if not 90 < (stop - start) / PX_PER_MM < 110:
                continue
            tall = dark[row - reach, start:stop] & dark[row + reach, start:stop]
            columns = np.flatnonzero(tall)
            strokes = np.split(columns, np.flatnonzero(np.diff(columns) > 1) + 1)
            if len(strokes) == 2:
                found.append((strokes[1].mean() - strokes[0].mean()) / PX_PER_MM)
    assert found, "no bar with end strokes on this page"
    return float(np.median(found))


@pytest.mark.parametrize("paper", PAPER_MM)
def test_bar_measures_100_mm_on_every_page(paper) -> None:
    pdf = true_scale_pdf(drawing(300, 60), paper=paper, title="Bed", made="2026-03-01")
    pages = len(pdfium.PdfDocument(pdf))
    assert pages == 3
    for page in range(pages):
        assert bar_length_mm(page_at_600_dpi(pdf, page)) == pytest.approx(100.0, abs=0.1)


def test_every_page_says_what_the_bar_may_measure_and_the_plan_what_the_whole_must() -> None:
    frame = '<rect x="5" y="5" width="350" height="50" fill="none" stroke="#000"/>'
    pdf = true_scale_pdf(drawing(360, 60, frame), paper="a4", title="T", made="2026-03-01")
    for page in range(len(pdfium.PdfDocument(pdf))):
        told = words(pdf, page).replace("\u00a0", " ")
        assert "shorter than 99.5 mm or longer than 100.5 mm" in told
    whole = re.search(r"across, over the joined pages: it should be ([\d.]+) mm", words(pdf, 0))
    assert whole is not None
    assert float(whole[1]) == pytest.approx(351.0, abs=0.11)


@pytest.mark.parametrize(("paper", "page"), [("a4", "A4"), ("letter", "Letter")])
def test_strip_keeps_its_size_and_how_to_page_has_a_bar(paper, page) -> None:
    sheet = strip_sheet("frame")
    pdf = strip_pdf(strip_svg(sheet, page), paper=paper, made="2026-03-01")
    grey = page_at_600_dpi(pdf)
    assert bar_length_mm(grey) == pytest.approx(100.0, abs=0.1)
    # the first and last marker of the top row: outer edges as the layout has them
    corners = sheet.layout.corners_mm
    wide = corners[..., 0].max() - corners[..., 0].min()
    black = np.flatnonzero((grey < 60).sum(axis=0) > 5 * PX_PER_MM)
    assert (black[-1] - black[0] + 1) / PX_PER_MM == pytest.approx(wide, abs=0.1)
    assert bar_length_mm(page_at_600_dpi(pdf, 1)) == pytest.approx(100.0, abs=0.1)


def test_strip_for_the_other_paper_is_refused() -> None:
    with pytest.raises(DrawingRefusedError, match="draw it for that paper"):
        strip_pdf(strip_svg(strip_sheet("frame"), "A4"), paper="letter", made="today")


@pytest.mark.parametrize("paper", PAPER_MM)
def test_drawing_lies_at_true_scale(paper) -> None:
    square = '<rect x="20" y="10" width="120" height="40" fill="#000"/>'
    grey = page_at_600_dpi(
        true_scale_pdf(drawing(160, 60, square), paper=paper, title="Square", made="2026-03-01")
    )
    dark = grey < 128
    across = np.flatnonzero(dark.sum(axis=0) > 39 * PX_PER_MM)
    down = np.flatnonzero(dark.sum(axis=1) > 119 * PX_PER_MM)
    assert (across[-1] - across[0] + 1) / PX_PER_MM == pytest.approx(120.0, abs=0.1)
    assert (down[-1] - down[0] + 1) / PX_PER_MM == pytest.approx(40.0, abs=0.1)


def test_empty_paper_around_the_drawing_takes_no_page() -> None:
    square = '<rect x="60" y="50" width="120" height="40" fill="#000"/>'
    pdf = true_scale_pdf(drawing(256, 186, square), paper="a4", title="T", made="2026-03-01")
    assert len(pdfium.PdfDocument(pdf)) == 1
    dark = page_at_600_dpi(pdf) < 128
    across = np.flatnonzero(dark.sum(axis=0) > 39 * PX_PER_MM)
    assert (across[-1] - across[0] + 1) / PX_PER_MM == pytest.approx(120.0, abs=0.1)
    told = re.search(r"([\d.]+) × ([\d.]+) mm, true scale", words(pdf, 0))
    assert told is not None
    assert (float(told[1]), float(told[2])) == pytest.approx((120.0, 40.0), abs=0.11)


def test_parts_laid_together_give_the_whole() -> None:
    """Two bars, one on each part, are as far apart on the joined sheet as in the drawing."""
    bars = "".join(f'<rect x="{x}" y="20" width="0.5" height="60"/>' for x in (20, 370))
    pdf = true_scale_pdf(drawing(400, 100, bars), paper="a4", title="T", made="2026-03-01")
    plan = page_plan(350.5 + 4, 64, "a4")
    assert len(pdfium.PdfDocument(pdf)) == 1 + len(plan.parts)
    places = []
    for number, part in ((1, plan.parts[0]), (len(plan.parts), plan.parts[-1])):
        dark = page_at_600_dpi(pdf, number) < 128
        column = np.flatnonzero(dark.sum(axis=0) > 59 * PX_PER_MM).mean()
        places.append(column / PX_PER_MM + part.x)
    assert places[1] - places[0] == pytest.approx(350.0, abs=0.1)


def test_pages_hold_no_raster() -> None:
    pdf = true_scale_pdf(drawing(400, 300), paper="a4", title="Frame", made="2026-03-01")
    assert b"/Subtype /Image" not in pdf and b"/Subtype/Image" not in pdf
    document = pdfium.PdfDocument(pdf)
    kinds = {item.type for page in document for item in page.get_objects()}
    assert pdfium.raw.FPDF_PAGEOBJ_IMAGE not in kinds


def test_legend_names_only_the_grades_in_the_drawing() -> None:
    inner = '<path data-grade="conjectured" stroke="#000" d="M1 1h9"/>'
    told = words(
        true_scale_pdf(drawing(40, 40, inner), paper="a4", title="T", made="2026-03-01"), 0
    )
    assert "conjectured" in told
    assert "inferred" not in told
    assert "refuse it" in told and "0.5 %" in told.replace("\u00a0", " ")


def test_title_and_note_are_text_not_markup() -> None:
    pdf = true_scale_pdf(
        drawing(40, 40), paper="a4", title='#panic("x") *b*', note="$x$ @y <z>", made="2026-03-01"
    )
    assert '#panic("x") *b*' in words(pdf, 0)
    assert "$x$ @y <z>" in words(pdf, 0)


def test_long_note_gets_its_own_page() -> None:
    pdf = true_scale_pdf(drawing(40, 40), paper="a4", title="T", note="words " * 60, made="today")
    assert len(pdfium.PdfDocument(pdf)) == 2


def test_same_input_gives_same_bytes() -> None:
    first, second = (
        true_scale_pdf(drawing(300, 60), paper="a4", title="Bed", made="2026-03-01")
        for _ in range(2)
    )
    assert first == second


@given(st.floats(1, 2500), st.floats(1, 2500), st.sampled_from(sorted(PAPER_MM)))
def test_parts_cover_the_drawing_fit_the_window_and_overlap_by_10_mm(width, height, paper) -> None:
    plan = page_plan(width, height, paper)
    for part in plan.parts:
        assert part.width <= plan.window_mm[0] + 1e-6
        assert part.height <= plan.window_mm[1] + 1e-6
    for axis, size, length in (("x", "width", width), ("y", "height", height)):
        starts = sorted({(getattr(p, axis), getattr(p, size)) for p in plan.parts})
        assert starts[0][0] == 0
        assert starts[-1][0] + starts[-1][1] == pytest.approx(length)
        for (one, extent), (two, _) in pairwise(starts):
            assert one + extent - two == pytest.approx(OVERLAP_MM)


@given(st.floats(200, 1500), st.floats(200, 1500))
def test_every_register_mark_is_seen_on_two_parts_at_least(width, height) -> None:
    plan = page_plan(width, height, "a4")
    for x, y in plan.register_mm:
        seen = [p for p in plan.parts if p.x <= x <= p.x + p.width and p.y <= y <= p.y + p.height]
        assert len(seen) >= 2


def test_a_drawing_of_hundreds_of_pages_is_refused() -> None:
    with pytest.raises(DrawingRefusedError, match="at most"):
        page_plan(2900, 20_000, "a4")


@pytest.mark.parametrize("chart", [False, True])
def test_the_chart_says_how_to_measure_a_lens_and_the_strip_how_to_lay_it(chart):
    sheet = strip_sheet("chart" if chart else "frame")
    pdf = strip_pdf(strip_svg(sheet, "A4"), paper="a4", made="today", chart=chart)
    with pdfium.PdfDocument(pdf) as document:
        words = " ".join(document[1].get_textpage().get_text_range().split())
    assert ("do not cut it" in words) is chart
    assert ("Glue it on card" in words) is not chart
