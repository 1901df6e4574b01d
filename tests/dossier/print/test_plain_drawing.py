"""Drawings are vectors in mm with nothing active in them, or they are refused."""

import pytest

from ironlace.dossier.errors import DrawingRefusedError
from ironlace.dossier.print.plain_drawing import read_drawing
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
        'viewBox="0 0 40 30"',
        'width="40mm" viewBox="0 0 40 30"',
        'width="100%" height="100%" viewBox="0 0 40 30"',
        'width="40mm" height="30mm" viewBox="0 0 60 60"',
        'width="40mm" height="30mm" viewBox="0 0 60 60" preserveAspectRatio="none"',
        'width="0mm" height="30mm" viewBox="0 0 0 30"',
        'width="nanmm" height="30mm" viewBox="0 0 40 30"',
        'width="4000mm" height="30mm" viewBox="0 0 4000 30"',
    ],
)
def test_a_drawing_of_unknown_or_uneven_scale_is_refused(size: str) -> None:
    with pytest.raises(DrawingRefusedError):
        read_drawing(svg(size=size))


@pytest.mark.parametrize(
    ("size", "unit"),
    [
        ('width="400px" height="300px" viewBox="0 0 400 300"', 25.4 / 96),
        ('width="400" height="300" viewBox="0 0 40 30"', 254 / 96),
        ('width="40mm" height="30mm" viewBox="-8 -6 80 60"', 0.5),
        ('width="40mm" height="30mm"', 25.4 / 96),
    ],
)
def test_a_drawing_in_another_unit_has_its_size_in_mm(size: str, unit: float) -> None:
    drawing = read_drawing(svg(size=size))
    px = "400" in size
    assert drawing.width_mm == pytest.approx(400 * 25.4 / 96 if px else 40.0)
    assert drawing.height_mm == pytest.approx(300 * 25.4 / 96 if px else 30.0)
    assert drawing.unit_mm == pytest.approx(unit)
    assert drawing.origin == ((-4.0, -3.0) if unit == 0.5 else (0.0, 0.0))
    assert bool(drawing.notices) == px


@pytest.mark.parametrize(
    "text", ["", "<svg", "<html/>", '<!DOCTYPE svg [<!ENTITY a "b">]><svg/>', "<svg/>"]
)
def test_what_is_not_svg_is_refused(text: str) -> None:
    with pytest.raises(DrawingRefusedError):
        read_drawing(text)


def test_metadata_in_other_vocabularies_may_stay() -> None:
    assert read_drawing(svg('<metadata><d xmlns="urn:notes">x</d></metadata>')).width_mm == 40.0
