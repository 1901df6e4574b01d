import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.ornament.stencils import OutlineError, read_filled, trapped


def svg(body, head='width="100mm" height="80mm" viewBox="0 0 100 80"'):
    return f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>'


def area(body, **how):
    return read_filled(svg(body, **how)).region.area


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ('<rect x="1" y="2" width="10" height="5"/>', 50.0),
        ('<rect x="1" y="2" width="10" height="6" rx="2"/>', 60.0 - (4 - math.pi) * 4),
        ('<circle cx="20" cy="20" r="10"/>', math.pi * 100),
        ('<ellipse cx="20" cy="20" rx="10" ry="4"/>', math.pi * 40),
        ('<polygon points="0,0 10,0 10,10"/>', 50.0),
        ('<polyline points="0,0 10,0 10,10"/>', 50.0),
        ('<path d="M0 0H10V10H0Z"/>', 100.0),
        ('<path d="m5 5h10v10h-10z"/>', 100.0),
        ('<path d="M0 0L10 0 10 10"/>', 50.0),
        # a cubic and its mirror by S; area 2/3 of a box by quadratics
        ('<path d="M0 0Q5 10 10 0Z"/>', 2 / 3 * 10 * 5),
        ('<path d="M0 0Q5 10 10 0T20 0Z"/>', 2 * 2 / 3 * 10 * 5),
        ('<path d="M0 0C0 10 10 10 10 0Z"/>', 0.6 * 10 * 10),
        ('<path d="M0 0C0 10 10 10 10 0S20 -10 20 0Z"/>', 2 * 0.6 * 10 * 10),
        ('<path d="M10 20A10 10 0 0 1 30 20Z"/>', math.pi * 50),
        ('<path d="M10 20a10 10 0 1 0 20 0a10 10 0 1 0 -20 0"/>', math.pi * 100),
    ],
)
def test_shapes_have_their_area(body, expected):
    assert area(body) == pytest.approx(expected, rel=1e-3)


def test_fill_rules_differ_where_rings_run_the_same_way():
    d = "M0 0H30V30H0Z M10 10H20V20H10Z"
    assert area(f'<path d="{d}"/>') == pytest.approx(900)
    assert area(f'<path fill-rule="evenodd" d="{d}"/>') == pytest.approx(800)
    assert area(f'<path style="fill-rule:evenodd" d="{d}"/>') == pytest.approx(800)


def test_rings_that_cross_are_filled_by_their_winding():
    d = "M0 0H20V20H0Z M10 10H30V30H10Z"
    assert area(f'<path d="{d}"/>') == pytest.approx(700)
    assert area(f'<path fill-rule="evenodd" d="{d}"/>') == pytest.approx(600)


def test_a_pentagram_by_both_rules():
    turn = np.pi / 2 + np.arange(5) * 4 * np.pi / 5
    points = " ".join(f"{30 + 20 * np.cos(t):.6f},{30 - 20 * np.sin(t):.6f}" for t in turn)
    inner = 20 * math.sin(math.radians(18)) / math.sin(math.radians(54))
    core = 2.5 * inner**2 * math.sin(2 * math.pi / 5)
    star = 5 * 20 * inner * math.sin(math.pi / 5)
    assert area(f'<polygon points="{points}"/>') == pytest.approx(star, rel=1e-3)
    assert area(f'<polygon fill-rule="evenodd" points="{points}"/>') == pytest.approx(
        star - core, rel=1e-4
    )


def test_transforms_of_groups_multiply():
    body = (
        '<g transform="translate(10 10)"><g transform="rotate(30) scale(2,3)">'
        '<rect width="4" height="5" transform="skewX(20)"/></g></g>'
    )
    assert area(body) == pytest.approx(4 * 5 * 6)


@settings(max_examples=25, deadline=None)
@given(st.floats(-180, 180), *[st.floats(0.3, 3)] * 2, *[st.floats(-20, 20)] * 2)
def test_a_transform_changes_area_by_its_determinant(turn, sx, sy, x, y):
    body = (
        f'<rect width="6" height="5" '
        f'transform="translate({x:.4f},{y:.4f}) rotate({turn:.4f} 3 2) scale({sx:.4f} {sy:.4f})"/>'
    )
    assert area(body) == pytest.approx(30 * round(sx, 4) * round(sy, 4), rel=1e-6)


def test_sizes_in_other_units_are_millimetres_inside():
    head = 'width="1in" height="1in" viewBox="0 0 100 100"'
    assert area('<rect width="100" height="100"/>', head=head) == pytest.approx(25.4**2)


def test_a_drawing_without_a_size_is_taken_in_mm_and_says_so():
    drawing = read_filled(svg('<rect width="10" height="10"/>', head='viewBox="0 0 50 50"'))
    assert drawing.region.area == pytest.approx(100)
    assert "taken as 1 mm" in drawing.notices[0]


def test_style_sheet_classes_and_use_are_followed():
    body = (
        "<style>.hole{fill:none} .gilt{fill:#b89040}</style>"
        '<defs><rect id="bar" width="10" height="2"/></defs>'
        '<rect class="hole" width="90" height="70"/>'
        '<use href="#bar" class="gilt" x="5" y="5"/><use href="#bar" y="20" class="gilt"/>'
    )
    drawing = read_filled(svg(body))
    assert [layer.colour for layer in drawing.layers] == ["#b89040"]
    assert drawing.region.area == pytest.approx(40)


def test_later_colours_hide_earlier_ones():
    body = (
        '<rect width="20" height="20" fill="#aa0000"/>'
        '<rect x="10" width="20" height="20" fill="#b89040"/>'
    )
    red, gold = read_filled(svg(body)).layers
    assert red.region.area == pytest.approx(200)
    assert gold.region.area == pytest.approx(400)
    under, over = trapped((red, gold), 0.2)
    assert under.region.area == pytest.approx(200 + 0.2 * 20, rel=1e-6)
    assert over.region.area == pytest.approx(400)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("<html/>", "not <svg>"),
        ("no xml", "cannot be read"),
        (svg('<text x="3" y="4">A</text><rect width="3" height="3"/>'), "text into outlines"),
        (svg('<image href="x.png"/>'), "cannot be cut"),
        (svg('<path d="M0 0H10" fill="none" stroke="black"/>'), "strokes into outlines"),
        (svg(""), "nothing filled"),
        (svg('<path d="M0 0 Lx"/>'), "cannot be read"),
        (svg('<use href="#gone"/>'), "not in it"),
        (svg('<rect width="3" height="3" transform="twist(3)"/>'), "twist"),
        (svg('<rect width="3em" height="3"/>'), "without a unit"),
        ('<svg xmlns="http://www.w3.org/2000/svg"><rect width="3" height="3"/></svg>', "scale"),
        ('<!DOCTYPE svg [<!ENTITY a "b">]><svg/>', "entities"),
    ],
)
def test_what_cannot_be_cut_is_refused_with_a_sentence(text, words):
    with pytest.raises(OutlineError, match=words):
        read_filled(text)


RING = '<path fill-rule="evenodd" d="M5 5H35V25H5Z M9 9H31V21H9Z"/>'


def page_of(body, attributes='width="100mm" height="60mm" viewBox="0 0 100 60"'):
    return f'<svg xmlns="http://www.w3.org/2000/svg" {attributes}>{body}</svg>'


@pytest.mark.parametrize(
    ("body", "area"),
    [
        (
            f'<symbol id="s" viewBox="0 0 40 30">{RING}</symbol>'
            '<use href="#s" width="80" height="60"/>',
            4 * 336,
        ),
        (f'<svg x="50" y="10" width="20" height="15" viewBox="0 0 40 30">{RING}</svg>', 336 / 4),
        (f'<svg width="40" height="60" viewBox="0 0 40 30">{RING}</svg>', 336),
        (
            f'<svg width="40" height="60" viewBox="0 0 40 30" preserveAspectRatio="none">{RING}'
            "</svg>",
            2 * 336,
        ),
    ],
)
def test_inner_viewports_are_fitted(body, area):
    assert read_filled(page_of(body)).region.area == pytest.approx(area)


def test_a_page_stretched_on_purpose_is_stretched():
    page = 'width="120mm" height="40mm" viewBox="0 0 60 40" preserveAspectRatio="none"'
    assert read_filled(page_of(RING, page)).region.area == pytest.approx(2 * 336)


def test_a_page_without_any_unit_is_in_px_and_says_so():
    drawing = read_filled(page_of(RING, 'width="100" height="60"'))
    assert drawing.region.area == pytest.approx(336 * (25.4 / 96) ** 2)
    assert "96 px were taken as one inch" in drawing.notices[0]
    assert "26.5 by 15.9 mm" in drawing.notices[0]


@pytest.mark.parametrize(
    "told",
    [
        'fill-opacity="0"', 'opacity="0.0"', 'style="fill-opacity:0%"', 'fill="rgba(9,9,9,0)"',
        'fill="rgb(9 9 9 / 0)"', 'fill="#12345600"', 'fill="#1230"',
    ],
)  # fmt: skip
def test_what_is_wholly_transparent_lays_nothing(told):
    body = f'<rect x="1" y="1" width="90" height="50" {told}/>{RING}'
    assert read_filled(page_of(body)).region.area == pytest.approx(336)


@pytest.mark.parametrize(
    "told", ['fill="#123456"', 'fill="rgb(0,0,0)"', 'fill="rgba(9,9,9,0.5)"', 'opacity="0.5"']
)
def test_what_can_be_seen_is_laid(told):
    body = f'<rect x="1" y="1" width="10" height="10" {told}/>'
    assert read_filled(page_of(body)).region.area == pytest.approx(100)


def test_the_paint_at_the_root_and_that_around_have_words():
    body = '<rect width="10" height="5" style="fill:initial"/><path d="M0 9H9V20Z" fill="unset"/>'
    (layer,) = read_filled(page_of(f'<g fill="none">{body}</g>')).layers
    assert (layer.colour, layer.region.area) == ("#000000", pytest.approx(50))


def test_a_colour_is_one_however_it_is_spelt():
    told = [
        "#804100", "rgb(128, 65, 0)", "RGB(128 65 0 / 1)", "rgb(50%,25.5%,0.0%)",
        "hsl(30.5, 100%, 25.1%)", "hsl(30.5deg 100% 25.1%)", "hsl(0.08472turn 100% 25.1%)",
    ]  # fmt: skip
    body = "".join(
        f'<rect x="{9 * n}" width="5" height="5" fill="{fill}"/>' for n, fill in enumerate(told)
    )
    assert [layer.colour for layer in read_filled(page_of(body)).layers] == ["#804100"]


@pytest.mark.parametrize(
    ("drawn", "told"),
    [
        ('<filter id="f"/><rect width="8" height="8" filter="url(#f)"/>', "1 filter left out"),
        ('<path d="M5 5L20 5L20 20Z" marker-end="url(#k)"/>', "1 marker at the ends"),
        ('<rect width="8" height="8"><set attributeName="x" to="9"/></rect>', "1 animation left"),
        ('<path d="M5 5L20 5L20 20Z" style="fill:url(#g)"/>', "a gradient or a pattern"),
        ('<g opacity=".5"><rect width="8" height="8"/></g>', "can be seen through"),
        (
            '<rect width="8" height="8"/><path d="M0 0H5V5Z" opacity="0"/>',
            "1 shape or group not shown",
        ),
        (
            '<rect width="8" height="8"/><g display="none"><path d="M0 0H5V5Z"/></g>',
            "1 shape or group not shown",
        ),
        ('<rect width="8" height="8" fill="#FFF"/>', "1 white shape taken as a colour"),
        ('<rect width="8" height="8" fill="#b89040"/>', ""),
    ],
)
def test_looks_that_have_no_part_in_an_outline_are_told(drawn, told):
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
        f"{drawn}</svg>"
    )
    notices = " ".join(read_filled(svg).notices)
    assert told in notices and bool(told) == bool(notices)


@pytest.mark.parametrize(
    ("inner", "pieces", "expected"),
    [
        ("M8 8H12V12H8Z", 2, 400 - 196 + 16),
        ("M1 1H2V2H1Z", 1, 400 - 196),
        ("M2 8H5V12H2Z", 1, 400 - 196 + 8),
        ("M-1 -1H21V21H-1Z", 1, 484),
    ],
)
def test_a_shape_in_a_hole_stays_by_itself_and_one_in_the_paint_adds_nothing(
    inner, pieces, expected
):
    ring = '<path fill-rule="evenodd" d="M0 0H20V20H0ZM3 3H17V17H3Z"/>'
    for body in (f'{ring}<path d="{inner}"/>', f'<path d="{inner}"/>{ring}'):
        region = read_filled(svg(body)).region
        assert len(region.geoms) == pieces
        assert region.area == pytest.approx(expected)
