"""Where something is drawn is found, measured, and cut out at the same scale."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.dossier.print.ink_window import InkWindow, ink_window, trimmed_svg
from ironlace.dossier.print.plain_drawing import read_drawing


def svg(inner: str = "", size: str = 'width="40mm" height="30mm" viewBox="0 0 40 30"') -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{inner}</svg>'


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
    assert at_the_edge.drawn_width == pytest.approx(12.0, abs=0.05)
    assert at_the_edge.drawn_height == pytest.approx(6.0, abs=0.05)
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


@given(st.floats(1, 200), st.floats(1, 100), st.floats(5, 300), st.floats(5, 150))
@settings(max_examples=25, deadline=None)
def test_what_is_drawn_is_measured_to_0_15_mm(x, y, width, height) -> None:
    size = 'width="520mm" height="260mm" viewBox="0 0 520 260"'
    rect = f'<rect x="{x}" y="{y}" width="{width}" height="{height}"/>'
    ink = ink_window(read_drawing(svg(rect, size)))
    assert ink.drawn_width == pytest.approx(width, abs=0.15)
    assert ink.drawn_height == pytest.approx(height, abs=0.15)
    assert ink.left <= x and ink.left + ink.width >= min(520, x + width)
    assert ink.top <= y and ink.top + ink.height >= min(260, y + height)
