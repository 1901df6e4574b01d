"""Drawings are vectors in mm with nothing active in them, or they are refused."""

import pytest

from ironlace.dossier.errors import DrawingRefusedError
from ironlace.dossier.plain_drawing import InkWindow, ink_window, read_drawing, trimmed_svg
from ironlace.evidence.grades import Grade


def svg(inner: str = "", size: str = 'width="40mm" height="30mm" viewBox="0 0 40 30"') -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{inner}</svg>'


def test_size_and_grades_are_read() -> None:
    drawing = read_drawing(
        svg('<g class="outline grade-conjectured"/><path data-grade="seen" d="M0 0"/><!-- x -->')
    )
    assert (drawing.width_mm, drawing.height_mm) == (40.0, 30.0)
    assert drawing.grades == (Grade.SEEN, Grade.CONJECTURED)


@pytest.mark.parametrize(
    "inner",
    [
        "<script>alert(1)</script>",
        '<image href="data:image/png;base64,xx"/>',
        "<foreignObject/>",
        '<path onload="x()"/>',
        '<use href="https://example.org/a.svg#b"/>',
        '<a href="x"/>',
        "<style>@import 'x'</style>",
        '<rect fill="url(https://example.org/#a)"/>',
        '<metadata><b xmlns="http://www.w3.org/1999/xhtml"/></metadata>',
        '<x xmlns="urn:x"/>',
    ],
)
def test_anything_but_plain_vectors_is_refused(inner: str) -> None:
    with pytest.raises(DrawingRefusedError):
        read_drawing(svg(inner))


@pytest.mark.parametrize(
    "size",
    [
        'width="40" height="30" viewBox="0 0 40 30"',
        'width="40px" height="30px" viewBox="0 0 40 30"',
        'width="40mm" height="30mm" viewBox="0 0 80 60"',
        'width="40mm" height="30mm"',
        'width="0mm" height="30mm" viewBox="0 0 0 30"',
        'width="nanmm" height="30mm" viewBox="0 0 40 30"',
        'width="4000mm" height="30mm" viewBox="0 0 4000 30"',
    ],
)
def test_a_drawing_not_in_mm_is_refused(size: str) -> None:
    with pytest.raises(DrawingRefusedError):
        read_drawing(svg(size=size))


@pytest.mark.parametrize(
    "text", ["", "<svg", "<html/>", '<!DOCTYPE svg [<!ENTITY a "b">]><svg/>', "<svg/>"]
)
def test_what_is_not_svg_is_refused(text: str) -> None:
    with pytest.raises(DrawingRefusedError):
        read_drawing(text)


def test_metadata_in_other_vocabularies_may_stay() -> None:
    assert read_drawing(svg('<metadata><d xmlns="urn:notes">x</d></metadata>')).width_mm == 40.0


def edges(ink: InkWindow) -> tuple[float, float, float, float]:
    return ink.left, ink.top, ink.width, ink.height


@pytest.mark.parametrize(
    ("inner", "window"),
    [
        ('<rect x="10" y="8" width="12" height="6"/>', (8.0, 6.0, 16.0, 10.0)),
        (
            '<g transform="translate(5 5) scale(2)"><rect width="4" height="3"/></g>',
            (3.0, 3.0, 12.0, 10.0),
        ),
        ('<rect width="40" height="30" fill="#fff"/>', (0.0, 0.0, 40.0, 30.0)),
        ('<rect x="-5" y="-5" width="60" height="50"/>', (0.0, 0.0, 40.0, 30.0)),
        ("", (0.0, 0.0, 40.0, 30.0)),
    ],
)
def test_window_holds_what_is_drawn_with_2_mm_of_air(inner, window) -> None:
    assert edges(ink_window(read_drawing(svg(inner)))) == pytest.approx(window, abs=0.05)


def test_size_of_what_is_drawn_is_told_without_the_air() -> None:
    at_the_edge = ink_window(read_drawing(svg('<rect width="12" height="6"/>')))
    assert at_the_edge.size == "12.0 × 6.0 mm"
    assert edges(at_the_edge) == pytest.approx((0.0, 0.0, 14.0, 8.0), abs=0.05)


def test_window_of_a_drawing_whose_frame_does_not_begin_at_nought() -> None:
    drawing = read_drawing(
        svg(
            '<rect x="10" y="8" width="12" height="6"/>',
            'width="40mm" height="30mm" viewBox="5 5 40 30"',
        )
    )
    assert edges(ink_window(drawing)) == pytest.approx((3.0, 1.0, 16.0, 10.0), abs=0.05)


def test_trimmed_drawing_keeps_its_scale_and_shows_the_window() -> None:
    drawing = read_drawing(
        svg(
            '<rect x="10" y="8" width="12" height="6"/>',
            """width='40mm' data-x="a > b" height="30mm" viewBox="5 5 40 30" """,
        )
    )
    trimmed = read_drawing(trimmed_svg(drawing, ink_window(drawing)))
    assert (trimmed.width_mm, trimmed.height_mm) == pytest.approx((16.0, 10.0), abs=0.05)
    assert trimmed.origin == pytest.approx((8.0, 6.0), abs=0.05)
    assert 'data-x="a > b"' in trimmed.svg
