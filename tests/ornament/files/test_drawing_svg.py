"""Drawings to SVG and back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ironlace.evidence.grades import Grade
from ironlace.ornament import (
    Drawing,
    DrawingError,
    compare,
    drawing_from_svg,
    drawing_svg,
)
from ironlace.ornament.by_hand.workpiece import Workpiece
from ironlace.ornament.outline.drawing import BlindPlace, FilledPlace
from ironlace.ornament.outline.regrade import regrade
from small_drawings import sample

BLIND = (
    BlindPlace("glare", np.array([[3.0, 4.0], [9.5, 4.0], [8.25, 7.0]])),
    BlindPlace('too dark & "dim"', np.array([[20.0, 5.0], [30.0, 5.0], [30.0, 9.0], [20.0, 9.0]])),
)


FILLED = (FilledPlace("closed", np.array([[5.0, 5.0], [6.0, 5.0], [6.0, 5.2]])),)


def marked():
    return replace(sample(), blind=BLIND, filled=FILLED)


def told(drawing):
    return [(b.why, b.corners_mm.tolist()) for b in (*drawing.blind, *drawing.filled)]


def test_geometry_evidence_and_window_survive() -> None:
    drawing = sample()
    again = drawing_from_svg(drawing_svg(drawing))
    assert again.bounds_mm == drawing.bounds_mm
    assert compare(again, drawing).mean_mm < 1e-3
    assert [p.grades for p in again.paths] == [p.grades for p in drawing.paths]
    assert again.paths[0].sources == drawing.paths[0].sources
    assert again.colours == dict(drawing.colours)


def test_holes_share_their_island_path_and_grades_show_as_dashes() -> None:
    svg = drawing_svg(sample())
    shapes = svg.split('<g id="evidence"')[0]
    assert shapes.count("<path") == 2 and 'fill-rule="evenodd"' in shapes
    assert 'viewBox="-2 1 42 19"' in svg and 'width="42mm"' in svg
    assert 'data-grade="conjectured"' in svg and "stroke-dasharray" in svg


def test_an_editors_lines_arcs_and_transforms_are_read() -> None:
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="4cm" height="20mm" viewBox="0 0 400 200">'
        '<g id="layer-red" transform="translate(10 20) scale(2)" style="fill:#a01020">'
        '<path d="m0 0h10v10h-10z"/><circle cx="30" cy="30" r="5"/></g>'
        '<g style="display:none"><path d="M0 0h1v1z"/></g></svg>'
    )
    drawing = drawing_from_svg(svg)
    assert [p.layer for p in drawing.paths] == ["red", "red"]
    assert drawing.colours == {"red": (160, 16, 32)}
    square, disc = drawing.paths
    assert abs(square.area) == pytest.approx(4.0)
    assert np.allclose(square.curves[0, 0], (1.0, 2.0))
    assert abs(disc.area) == pytest.approx(np.pi, rel=1e-3)
    assert set(square.grades) == {Grade.CONJECTURED}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("not xml", "cannot be read"),
        ("<html/>", "not <svg>"),
        ('<svg xmlns="http://www.w3.org/2000/svg"/>', "scale is unknown"),
        ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"/>', "no closed shape"),
        ('<!DOCTYPE svg [<!ENTITY a "b">]><svg/>', "entities"),
        ('<svg viewBox="0 0 1 1"><path d="M0 0 C bad"/></svg>', "cannot be read"),
        ('<svg viewBox="0 0 1 1"><path transform="fold(1)" d="M0 0h1v1z"/></svg>', "transform"),
    ],
)
def test_bad_files_are_refused(text: str, said: str) -> None:
    with pytest.raises(DrawingError, match=said):
        drawing_from_svg(text)


def test_drawing_survives_its_arrays() -> None:
    drawing = sample()
    again = Drawing.from_arrays(drawing.to_arrays())
    assert [p.grades for p in again.paths] == [p.grades for p in drawing.paths]
    assert [p.sources for p in again.paths] == [p.sources for p in drawing.paths]
    assert all(
        np.array_equal(a.curves, b.curves) for a, b in zip(again.paths, drawing.paths, strict=True)
    )
    assert again.colours == dict(drawing.colours)


@pytest.mark.parametrize("before", ["", f"<!-- {'x' * 9000} -->"])
def test_entities_are_refused_wherever_they_stand(before):
    svg = (
        f'<?xml version="1.0"?>{before}<!DOCTYPE svg [<!ENTITY a "aaaa">]>'
        '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
        '<path d="M1 1H8V8Z"/></svg>'
    )
    with pytest.raises(DrawingError, match="own entities"):
        drawing_from_svg(svg)


def test_what_could_not_be_seen_goes_with_the_drawing_wherever_it_goes():
    drawing = marked()
    again = drawing_from_svg(drawing_svg(drawing))
    assert told(again) == told(drawing)
    assert len(again.paths) == len(drawing.paths)  # shading is no ornament
    dotted = drawing_svg(drawing).split('data-role="filled"')[1]
    assert 'data-filled="closed"' in dotted and "stroke-dasharray" in dotted.split(">")[0]
    assert told(Drawing.from_arrays(drawing.to_arrays())) == told(drawing)
    assert told(Workpiece.of(again).drawing()) == told(drawing)


def test_an_editors_group_around_the_shading_moves_it_along():
    svg = drawing_svg(replace(sample(), blind=BLIND))
    svg = svg.replace(
        '<g id="blind" data-role="blind"',
        '<g id="blind" data-role="blind" transform="translate(2 1) scale(2)"',
    )
    (first, _) = drawing_from_svg(svg).blind
    assert np.allclose(first.corners_mm, BLIND[0].corners_mm * 2 + (2, 1))


def test_shading_taken_out_by_an_editor_comes_back():
    drawing = marked()
    bare = drawing_from_svg(drawing_svg(drawing, evidence=False))
    assert not bare.blind and not bare.filled
    assert told(regrade(bare, drawing)) == told(drawing)
