"""Strokes carried on over gaps, as conjecture only."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from shapely import MultiPolygon

from darkroom import Ornament, outline_errors, painted, spiral, stroke
from ironlace.evidence.grades import Grade
from ironlace.ornament import Gathered, graded, healed, propose_bridges, trace, with_bridges

PPM = 16.0


def gathered(coverage: np.ndarray, disputed: np.ndarray | None = None) -> Gathered:
    nothing = np.zeros_like(coverage)
    return Gathered(
        coverage,
        nothing,
        ("here",),
        (Grade.SEEN,),
        nothing if disputed is None else disputed,
        PPM,
        (0.0, 0.0),
        (None,),
    )


@pytest.fixture(scope="module")
def scroll() -> tuple[Ornament, np.ndarray]:
    centre = spiral(np.array([6.0, 8.0]), 0.1, 30.0, 0.03, 0.16)
    shape = stroke(centre, np.full(len(centre), 1.4))
    ornament = Ornament(MultiPolygon([shape]))
    return ornament, painted(ornament, (36.0, 36.0), PPM)


def cut_across(paint: np.ndarray, start: float, gap: float) -> np.ndarray:
    """The scroll with a piece of its length taken out, square to its run."""
    centre = spiral(np.array([6.0, 8.0]), 0.1, 30.0, 0.03, 0.16, n=601)
    step = 30.0 / 600
    i, j = round(start / step), round((start + gap) / step)
    d = np.gradient(centre, axis=0)
    normal = np.column_stack([-d[:, 1], d[:, 0]]) / np.linalg.norm(d, axis=1, keepdims=True)
    quad = np.vstack([centre[i : j + 1] + normal[i : j + 1], (centre - normal)[i : j + 1][::-1]])
    out = paint.copy()
    cv2.fillPoly(out, [np.round(quad * PPM - 0.5).astype(np.int32)], 0)
    return out


@pytest.mark.parametrize("gap", [1.0, 2.0, 3.0])
@pytest.mark.parametrize("start", [8.0, 14.0])
def test_a_cut_scroll_is_carried_on_along_its_curve(scroll, start: float, gap: float) -> None:
    ornament, paint = scroll
    begin = gathered(cut_across(paint, start, gap))
    bridges = propose_bridges(begin, everywhere=True)
    assert len(bridges) == 1 and bridges[0].gap_mm == pytest.approx(gap, abs=0.5)
    done = with_bridges(begin, bridges)
    drawing = graded(trace(done.coverage, PPM, (0.0, 0.0)), done)
    assert len(drawing.paths) == 1
    forth, back = outline_errors([drawing.paths[0].polygon(0.005)], ornament)
    assert forth.max() < 0.25 and back.max() < 0.25 and forth.mean() < 0.03
    assert drawing.length_by_grade()[Grade.CONJECTURED] == pytest.approx(2 * gap, rel=0.5)


def test_strokes_that_were_meant_to_end_are_left_alone(scroll) -> None:
    _, paint = scroll
    assert propose_bridges(gathered(paint)) == ()
    cut = cut_across(paint, 14.0, 2.0)
    assert propose_bridges(gathered(cut)) == ()  # nothing says it was worn there


def test_crossing_directions_are_not_joined() -> None:
    a = stroke(np.column_stack([np.linspace(4, 14, 40), np.full(40, 10.0)]), np.full(40, 1.2))
    b = stroke(np.column_stack([np.full(40, 17.0), np.linspace(11, 24, 40)]), np.full(40, 1.2))
    paint = painted(Ornament(MultiPolygon([a, b])), (30.0, 30.0), PPM)
    assert propose_bridges(gathered(paint), everywhere=True) == ()


def test_a_crack_beside_wear_is_closed_and_says_so(scroll) -> None:
    _, paint = scroll
    cracked = cut_across(paint, 14.0, 0.15)
    assert len(trace(cracked, PPM, (0.0, 0.0)).paths) == 2
    worn = (cracked != paint).astype(np.uint8)
    done = healed(gathered(cracked, worn))
    assert len(trace(done.coverage, PPM, (0.0, 0.0)).paths) == 1
    untouched = healed(gathered(cracked))
    assert np.array_equal(untouched.coverage, cracked)
