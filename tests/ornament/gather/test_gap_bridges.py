"""Strokes carried on over gaps, as conjecture only."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely import MultiPolygon, Polygon, box
from shapely.affinity import affine_transform, rotate

from darkroom import Ornament, outline_errors, painted, spiral, stroke
from ironlace.evidence.grades import Grade
from ironlace.ornament import Gathered, graded, healed, propose_bridges, trace, with_bridges
from ironlace.ornament.gather.gap_bridges import filled_places
from ironlace.ornament.gather.laying_over import Laying
from ironlace.ornament.gather.loss_edges import edge_bands, witnessed

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
    down = np.linspace(0, 13, 40)
    b = stroke(np.column_stack([17.0 - 0.7 * down, 11.0 + down]), np.full(40, 1.2))
    paint = painted(Ornament(MultiPolygon([a, b])), (30.0, 30.0), PPM)
    assert propose_bridges(gathered(paint), everywhere=True) == ()


def test_a_crack_beside_wear_is_closed_and_says_so(scroll) -> None:
    _, paint = scroll
    cracked = cut_across(paint, 14.0, 0.15)
    assert len(trace(cracked, PPM, (0.0, 0.0)).paths) == 2
    worn = (cracked != paint).astype(np.uint8)
    done = healed(gathered(cracked, worn))
    assert len(trace(done.coverage, PPM, (0.0, 0.0)).paths) == 1
    (closed,) = filled_places(done)
    assert closed.area_mm2 == pytest.approx(0.15 * 1.4, rel=0.5)
    assert filled_places(gathered(paint)) == ()
    untouched = healed(gathered(cracked))
    assert np.array_equal(untouched.coverage, cracked)


@pytest.mark.parametrize(("gap", "slant"), [(3.0, 0.0), (5.0, 17.0), (7.0, 31.0)])
def test_a_straight_rule_is_carried_on_straight(gap: float, slant: float) -> None:
    line = MultiPolygon([box(4.0, 14.6, 36.0, 15.4)])
    ornament = Ornament(MultiPolygon([rotate(line.geoms[0], slant, origin=(20.0, 15.0))]))
    paint = painted(ornament, (40.0, 30.0), PPM)
    rng = np.random.default_rng(int(slant))
    lost = np.zeros_like(paint)
    ragged = [
        (20 + side * gap / 2 + rng.uniform(-0.4, 0.4), 15 + 0.3 * k)
        for side in (-1, 1)
        for k in (range(-4, 5) if side < 0 else range(4, -5, -1))
    ]
    corners = np.array(rotate(Polygon(ragged), slant, origin=(20.0, 15.0)).exterior.coords)
    cv2.fillPoly(lost, [np.round(corners * PPM - 0.5).astype(np.int32)], 1)
    begin = gathered(np.where(lost > 0, 0, paint).astype(np.uint8), lost)
    (bridge,) = propose_bridges(begin)
    done = with_bridges(begin, [bridge])
    forth, back = outline_errors(
        [p.polygon(0.005) for p in trace(done.coverage, PPM, (0.0, 0.0)).paths], ornament
    )
    # at a ragged end a notch is left; nowhere does the rule bow
    assert forth.max() < 0.3 and back.max() < 0.3 and back.mean() < 0.04


@pytest.mark.parametrize("slant", [0.0, 23.0])
def test_a_lost_corner_of_a_fret_is_square_again(slant: float) -> None:
    bent = MultiPolygon([box(4, 4, 5.2, 20).union(box(4, 18.8, 22, 20))])
    whole = rotate(bent, slant, origin=(12, 12))
    gone = rotate(box(3, 17.8, 6.8, 21), slant, origin=(12, 12))
    at_the_corner = whole.intersection(gone).boundary.difference(gone.boundary.buffer(0.1))
    begin = gathered(
        painted(Ornament(MultiPolygon([*whole.difference(gone).geoms])), (28, 28), PPM)
    )
    (bridge,) = propose_bridges(begin, everywhere=True)
    done = with_bridges(begin, [bridge])
    rings = [p.polygon(0.005) for p in trace(done.coverage, PPM, (0.0, 0.0)).paths]
    forth, back = outline_errors(rings, Ornament(whole))
    assert len(rings) == 1 and at_the_corner.length > 3
    assert forth.max() < 0.15 and back.max() < 0.15
    # two strokes that run at a slant to one another never were a corner
    away = rotate(box(4, 2, 5.2, 16), 55, origin=(4.6, 16)).union(box(8, 18.8, 22, 20))
    apart = gathered(painted(Ornament(MultiPolygon([*away.geoms])), (28, 28), PPM))
    assert propose_bridges(apart, everywhere=True) == ()


def test_a_remnant_in_the_gap_draws_the_bridge_to_it(scroll) -> None:
    ornament, paint = scroll
    cut = cut_across(cut_across(paint, 12.0, 2.0), 15.0, 2.0)
    begin = gathered(cut, (cut != paint).astype(np.uint8))
    done = with_bridges(begin, propose_bridges(begin))
    rings = [p.polygon(0.005) for p in trace(done.coverage, PPM, (0.0, 0.0)).paths]
    forth, back = outline_errors(rings, ornament)
    assert len(rings) == 1
    assert forth.max() < 0.25 and back.max() < 0.25


def test_strokes_that_end_alike_in_two_sources_are_left_apart() -> None:
    motifs = MultiPolygon([box(4.0, 9.4, 16.0, 10.6), box(20.5, 9.4, 32.0, 10.6)])
    paint = painted(Ornament(motifs), (36.0, 20.0), PPM)
    worn = np.zeros_like(paint)
    worn[:, int(15 * PPM) : int(22 * PPM)] = 1
    alone = gathered(paint, worn)
    assert len(propose_bridges(alone)) == 1
    twice = replace(alone, witnesses=witnessed(*[edge_bands(paint, PPM)] * 2))
    assert propose_bridges(twice) == ()


def over_an_axis(half_gap: float, *, bent: bool) -> Gathered:
    """A stroke and its mirror image that stop short of the axis at x = 20, beside wear."""
    x = np.linspace(4.0, 20.0 - half_gap, 200)
    y = 20.0 - (0.03 * (x - 20.0) ** 2 if bent else 0.0 * x)
    half = stroke(np.column_stack([x, y]), np.full(200, 0.8))
    both = MultiPolygon([half, affine_transform(half, (-1, 0, 0, 1, 40, 0))])
    paint = painted(Ornament(both), (40.0, 36.0), PPM)
    over = np.diag([-1.0, 1.0]), np.array([40.0, 0.0])
    axis = Laying(*over, (0.0, 0.0), np.zeros((12, 12, 2)), 0.9, 0.1, 0.01)
    return replace(gathered(paint, np.ones_like(paint)), layings=(None, axis))


@pytest.mark.parametrize("bent", [True, False])
def test_an_end_meets_its_own_mirror_image_over_half_of_what_two_ends_may(bent: bool) -> None:
    near, far = over_an_axis(1.8, bent=bent), over_an_axis(3.6, bent=bent)
    assert len(propose_bridges(near)) == 1
    # a line that strikes the axis square is seldom chance; a bend has many ways to meet its image
    assert len(propose_bridges(far)) == (0 if bent else 1)
    assert len(propose_bridges(replace(far, layings=(None,)))) == 1
