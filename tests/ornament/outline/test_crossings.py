"""Crossing outlines are found and mended without changing what is filled."""

from __future__ import annotations

import numpy as np
import pytest

from ironlace.evidence.grades import Grade
from ironlace.ornament import ClosedPath, Drawing, crossings, uncrossed
from ironlace.ornament.outline.crossings import crossing_paths
from small_drawings import circle

WINDOW = (0.0, 0.0, 40.0, 20.0)


def straight(*corners: tuple[float, float]) -> ClosedPath:
    at = np.array(corners, float)
    nxt = np.roll(at, -1, axis=0)
    t = np.array([0, 1 / 3, 2 / 3, 1])[:, None]
    curves = np.array([a + (b - a) * t for a, b in zip(at, nxt, strict=True)])
    return ClosedPath.of(curves, Grade.INFERRED, "mirror")


def figure_of_eight() -> ClosedPath:
    return straight((0, 0), (10, 10), (10, 0), (0, 10))


def test_clean_drawing_is_returned_as_it_is() -> None:
    drawing = Drawing((circle(10, 10, 5), circle(10, 10, 2)), WINDOW)
    assert crossings(drawing) == set()
    assert uncrossed(drawing) is drawing


def test_self_crossing_is_found_and_mended() -> None:
    drawing = Drawing((figure_of_eight(), circle(30, 10, 5)), WINDOW)
    assert crossings(drawing) == {0}
    mended = uncrossed(drawing)
    assert crossings(mended) == set() or len(mended.paths) == 3
    assert abs(sum(abs(p.area) for p in mended.paths) - (50 + np.pi * 25)) < 0.1
    assert mended.length_by_grade()[Grade.INFERRED] > 40


def test_a_sliver_between_crossings_is_no_outline() -> None:
    # the last side runs 3 µm past the first: a triangle 3 µm high lies between them
    overshot = straight((0, 0), (10, 0), (10, 10), (0.1, 10), (0.1, -0.003))
    drawing = Drawing((overshot,), WINDOW)
    assert crossings(drawing) == {0}
    (whole,) = uncrossed(drawing).paths
    assert abs(whole.area) == pytest.approx(100, abs=1.1)


def test_two_paths_crossing_are_both_named() -> None:
    drawing = Drawing((circle(10, 10, 5), circle(16, 10, 5), circle(35, 10, 2)), WINDOW)
    assert crossings(drawing) == {0, 1}


def test_an_outline_that_only_touches_itself_is_parted_there():
    # two lobes that meet in one point, as an even-odd simplification leaves them
    lobes = np.array([[0, 0], [4, -2], [4, 2], [0, 0], [-4, 2], [-4, -2]], float)
    ends = np.roll(lobes, -1, axis=0)
    curves = np.stack([lobes, lobes + (ends - lobes) / 3, lobes + (ends - lobes) * 2 / 3, ends], 1)
    drawing = Drawing((ClosedPath.of(curves),), (-5.0, -5.0, 5.0, 5.0))
    assert crossings(drawing)
    parted = uncrossed(drawing)
    assert not crossings(parted)
    assert len(parted.paths) == 2
    assert sum(abs(p.area) for p in parted.paths) == pytest.approx(16.0, abs=0.05)


def test_outlines_cross_where_each_has_area_that_the_other_has_not() -> None:
    turn = np.arange(24) * 2 * np.pi / 24
    rng = np.random.default_rng(4)
    middle, radius = rng.uniform(0.0, 20.0, (60, 2)), rng.uniform(0.3, 2.0, 60)
    discs = [
        at + r * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        for at, r in zip(middle, radius, strict=True)
    ]
    apart = np.linalg.norm(middle[:, None] - middle, axis=2)
    # of corners on a circle, so that near misses are left undecided
    crossing = (apart < 0.98 * (radius[:, None] + radius)) & (
        apart > 1.02 * np.abs(radius[:, None] - radius)
    )
    clear = (apart > radius[:, None] + radius) | (apart < 0.9 * np.abs(radius[:, None] - radius))
    np.fill_diagonal(clear, True)
    np.fill_diagonal(crossing, False)
    decided = np.flatnonzero((crossing | clear).all(axis=1))
    frame = np.array([(-5.0, -5.0), (25.0, -5.0), (25.0, 25.0), (-5.0, 25.0)])
    found = crossing_paths([*discs, frame])
    assert len(decided) > 10
    assert found & set(decided.tolist()) == set(decided[crossing[decided].any(axis=1)].tolist())
    assert 60 not in found


def test_outlines_that_only_share_an_edge_do_not_cross() -> None:
    square = np.array([(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)])
    assert crossing_paths([square, square + np.array([4.0, 0.0]), square / 2.0]) == set()
    assert crossing_paths([square, square + np.array([3.9, 0.0])]) == {0, 1}
