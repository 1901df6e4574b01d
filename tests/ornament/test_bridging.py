"""Strokes carried on over gaps, as conjecture only."""

from __future__ import annotations

import numpy as np
import pytest
from darkroom import Ornament, outline_errors, painted, spiral, stroke
from shapely import MultiPolygon

from ironlace.evidence.grades import Grade
from ironlace.ornament import Gathered, healed, propose_bridges, trace, with_bridges

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


@pytest.mark.parametrize("gap", [1.0, 2.5, 4.0])
def test_a_cut_scroll_is_carried_on_along_its_curve(scroll, gap: float) -> None:
    ornament, paint = scroll
    cut = paint.copy()
    left = round(18 * PPM)
    cut[:, left : left + round(gap * PPM)] = 0
    upper = slice(0, round(16 * PPM))
    cut[round(16 * PPM) :] = paint[round(16 * PPM) :]
    assert (cut[upper] != paint[upper]).any()
    start = gathered(cut)
    bridges = propose_bridges(start, everywhere=True)
    assert len(bridges) == 1 and bridges[0].gap_mm == pytest.approx(gap, abs=0.5)
    done = with_bridges(start, bridges)
    drawing = done.graded(trace(done.coverage, PPM, (0.0, 0.0)))
    assert len(drawing.paths) == 1
    forth, back = outline_errors([drawing.paths[0].polygon(0.005)], ornament)
    assert forth.max() < 0.15 and back.max() < 0.15
    assert drawing.length_by_grade()[Grade.CONJECTURED] == pytest.approx(2 * gap, rel=0.5)


def test_strokes_that_were_meant_to_end_are_left_alone(scroll) -> None:
    _, paint = scroll
    assert propose_bridges(gathered(paint)) == ()
    cut = paint.copy()
    cut[: round(16 * PPM), round(18 * PPM) : round(20 * PPM)] = 0
    assert propose_bridges(gathered(cut)) == ()  # nothing says it was worn there


def test_crossing_directions_are_not_joined() -> None:
    a = stroke(np.column_stack([np.linspace(4, 14, 40), np.full(40, 10.0)]), np.full(40, 1.2))
    b = stroke(np.column_stack([np.full(40, 17.0), np.linspace(11, 24, 40)]), np.full(40, 1.2))
    paint = painted(Ornament(MultiPolygon([a, b])), (30.0, 30.0), PPM)
    assert propose_bridges(gathered(paint), everywhere=True) == ()


def test_a_crack_beside_wear_is_closed_and_says_so(scroll) -> None:
    _, paint = scroll
    cracked = paint.copy()
    at = round(18 * PPM)
    cracked[: round(16 * PPM), at : at + 3] = 0
    worn = np.zeros_like(paint)
    worn[:, at : at + 3] = 1
    done = healed(gathered(cracked, worn))
    drawing = done.graded(trace(done.coverage, PPM, (0.0, 0.0)))
    assert len(drawing.paths) == 1
    untouched = healed(gathered(cracked))
    assert np.array_equal(untouched.coverage, cracked)
