"""Evidence survives an editor where the outline was left alone."""

from __future__ import annotations

import numpy as np
import pytest

from ironlace.evidence.grades import Grade
from ironlace.ornament import ClosedPath, Drawing, drawing_from_svg, drawing_svg, regrade
from small_drawings import circle, sample

WINDOW = (0.0, 0.0, 40.0, 20.0)


def stripped(svg: str) -> str:
    """What an editor leaves: no evidence, coordinates rounded."""
    import re

    return re.sub(
        r' data-evidence="[^"]*"', "", svg.split('<g id="evidence"', maxsplit=1)[0] + "</svg>"
    )


def test_an_untouched_drawing_gets_all_its_evidence_back() -> None:
    original = sample()
    edited = drawing_from_svg(stripped(drawing_svg(original, decimals=3)))
    assert {g for p in edited.paths for g in p.grades} == {Grade.CONJECTURED}
    again = regrade(edited, original)
    before, after = original.length_by_source(), again.length_by_source()
    for source, length in before.items():
        assert after[source] == pytest.approx(length, abs=0.2)


def test_a_moved_shape_is_conjectured_and_its_neighbour_is_not() -> None:
    original = Drawing((circle(10, 10, 4), circle(30, 10, 4)), WINDOW)
    edited = Drawing((circle(10, 10, 4), circle(30.3, 10, 4)), WINDOW)
    again = regrade(edited, original)
    assert set(again.paths[0].grades) == {Grade.SEEN}
    assert again.length_by_grade()[Grade.CONJECTURED] == pytest.approx(8 * np.pi, rel=0.05)


def test_one_dragged_curve_changes_only_itself() -> None:
    path = circle(10, 10, 5)
    original = Drawing((path,), WINDOW)
    curves = path.curves.copy()
    curves[1, 1:3] += (1.5, 1.0)
    edited = Drawing((ClosedPath.of(curves, Grade.CONJECTURED, "drawn"),), WINDOW)
    again = regrade(edited, original)
    lengths = again.length_by_grade()
    assert lengths[Grade.SEEN] == pytest.approx(path.lengths[[0, 2, 3]].sum(), abs=0.5)
    assert lengths[Grade.CONJECTURED] == pytest.approx(edited.paths[0].lengths[1], abs=0.5)


def test_without_an_original_all_is_conjecture() -> None:
    again = regrade(Drawing((circle(10, 10, 4),), WINDOW), Drawing((), WINDOW))
    assert set(again.paths[0].grades) == {Grade.CONJECTURED}


def test_another_colour_keeps_no_evidence() -> None:
    original = Drawing((circle(10, 10, 4),), WINDOW)
    red = ClosedPath.of(circle(10, 10, 4).curves, Grade.SEEN, "here", "red")
    assert set(regrade(Drawing((red,), WINDOW), original).paths[0].grades) == {Grade.CONJECTURED}
