"""A drawing that was misread is found out by the renderer, whatever it was misread for."""

import pytest
import shapely
from shapely import MultiPolygon, Point, box

import ornaments
from ironlace.ornament.stencils import OutlineError, plan_sheets, read_filled
from ironlace.ornament.stencils.planning.drawn_again import Difference, read_again

BOUNDS = (0.0, 0.0, 60.0, 40.0)


def svg(body, head='width="60mm" height="40mm" viewBox="0 0 60 40"'):
    return f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>'


def read(*shapes):
    return MultiPolygon([part for shape in shapes for part in shapely.get_parts(shape)])


RECT = '<rect x="10" y="10" width="20" height="12"/>'
DRAWN = box(10, 10, 30, 22)


@pytest.mark.parametrize(
    ("body", "as_read", "missing", "added"),
    [
        # a hole that was filled in, and one that was not there
        ('<path fill-rule="evenodd" d="M10 10H30V22H10ZM14 13H18V17H14Z"/>', DRAWN, 0, 16),
        (RECT, DRAWN.difference(box(14, 13, 18, 17)), 16, 0),
        # a stroke, a clip, paint one can see through, and none at all
        (RECT.replace("/>", ' stroke="black" stroke-width="2"/>'), DRAWN, 68, 0),
        (
            '<clipPath id="c"><rect x="10" y="10" width="10" height="12"/></clipPath>'
            f'<g clip-path="url(#c)">{RECT}</g>',
            DRAWN,
            0,
            120,
        ),
        (f'<g opacity="0.3">{RECT}</g>', DRAWN, 0, 240),
        (f'<g transform="translate(3 0)">{RECT}</g>', DRAWN, 36, 36),
        # a small flaw in a large drawing
        (RECT + '<circle cx="45" cy="30" r="0.4"/>', DRAWN, 0.5, 0),
    ],
)
def test_what_was_misread_is_found_where_it_is(body, as_read, missing, added):
    found = read_again(svg(body), read(as_read), BOUNDS)
    assert found.missing_mm2 == pytest.approx(missing, abs=0.02 * missing + 0.15)
    assert found.added_mm2 == pytest.approx(added, abs=0.02 * added + 0.15)
    assert found.sentence.startswith("A SECOND READER SEES THE DRAWING OTHERWISE")
    x, y = found.where_mm
    place = Point(x, y).buffer(0.5)
    assert place.intersects(as_read.symmetric_difference(DRAWN)) or place.intersects(
        box(9, 9, 46, 31)
    )


@pytest.mark.parametrize(
    "head",
    [
        'width="60mm" height="40mm" viewBox="0 0 60 40"',
        'width="6cm" height="4cm" viewBox="0 0 60 40"',
        'viewBox="0 0 60 40"',
        # a page that its viewBox leaves room on, and one that it overfills
        'width="90mm" height="40mm" viewBox="0 0 60 40"',
        'width="6cm" height="5cm" viewBox="0 0 60 40" preserveAspectRatio="xMaxYMax"',
        'width="60mm" height="36mm" viewBox="0 0 60 40" preserveAspectRatio="xMidYMid slice"',
    ],
)
def test_a_drawing_that_was_read_rightly_passes(head):
    text = svg(RECT + '<circle cx="45" cy="30" r="0.4"/>', head)
    found = read_filled(text)
    again = read_again(text, found.region, found.bounds_mm)
    assert again.sentence == "" and again.where_mm is None


@pytest.mark.parametrize(
    ("role", "style"),
    [("evidence", ""), ("filled", 'style="stroke-width:1; "'), ("photograph", 'style=";x:1"')],
)
def test_what_stands_beside_the_ornament_is_no_paint(role, style):
    line = 'd="M10 10H30V22H10Z" fill="none" stroke="#204060" stroke-width="0.4"'
    text = svg(f'{RECT}<g data-role="{role}" {style}><path {line}/></g>')
    assert read_again(text, read(DRAWN), BOUNDS).sentence == ""
    # a role that stands for nothing beside the ornament hides nothing
    assert read_again(text.replace(role, "gilding"), read(DRAWN), BOUNDS).missing_mm2 > 5.0


@pytest.mark.parametrize("seed", range(4))
def test_whole_ornaments_pass(seed):
    text = ornaments.ornament(seed)
    found = read_filled(text)
    assert read_again(text, found.region, found.bounds_mm).sentence == ""


def test_what_no_renderer_draws_is_refused():
    with pytest.raises(OutlineError, match="second reader"):
        read_again("<svg", read(DRAWN), BOUNDS)


def test_a_plan_begins_with_what_the_second_reader_saw(laser):
    from ironlace.ornament.stencils.planning.in_words import plan_faults

    body = RECT + '<g opacity="0.2"><rect x="40" y="10" width="10" height="8"/></g>'
    plan = plan_sheets(svg(body), laser, "bridges")
    told = plan.report["read_otherwise"]
    assert told["added_mm2"] == pytest.approx(80.0, rel=0.02)
    assert plan_faults(plan)[0] == told["sentence"]


@pytest.mark.parametrize(
    ("area", "told"), [(0.123, "0.12 mm²"), (9.6, "9.6 mm²"), (157.4, "157 mm²")]
)
def test_an_area_is_told_in_plain_figures(area, told):
    assert f": {told} are not planned for" in Difference(area, 0.0, (1.0, 2.0)).sentence
