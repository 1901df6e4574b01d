"""Curves of the drawing against fontTools' Bézier algebra and exact circles."""

from __future__ import annotations

import numpy as np
import pytest
from fontTools.misc.bezierTools import calcCubicArcLength, splitCubicAtT
from fontTools.pens.areaPen import AreaPen

from ironlace.ornament import ClosedPath
from ironlace.ornament.outline.drawing import split_curve

# Handle of a quarter circle whose middle lies on the circle: 4 (sqrt 2 - 1) / 3. Its radius is
# then nowhere more than 0.0273 % too large. Source: Riskus 2006, "Approximation of a cubic Bezier
# curve by circular arcs and vice versa" (from memory).
KAPPA = 4 * (np.sqrt(2) - 1) / 3


def circle(radius: float) -> ClosedPath:
    quarter = np.array([[1, 0], [1, KAPPA], [KAPPA, 1], [0, 1]])
    turn = np.array([[0, 1], [-1, 0]], float)
    curves = []
    for _ in range(4):
        curves.append(quarter * radius)
        quarter = quarter @ turn
    return ClosedPath.of(np.array(curves))


def wild(seed: int) -> ClosedPath:
    rng = np.random.default_rng(seed)
    curves = rng.normal(0, 5, (6, 4, 2))
    curves[:, 3] = np.roll(curves[:, 0], -1, axis=0)
    return ClosedPath.of(curves)


@pytest.mark.parametrize("seed", range(5))
def test_area_agrees_with_fonttools(seed: int) -> None:
    path = wild(seed)
    pen = AreaPen()
    pen.moveTo(tuple(path.curves[0, 0]))
    for curve in path.curves:
        pen.curveTo(*(tuple(p) for p in curve[1:]))
    pen.closePath()
    assert path.area == pytest.approx(pen.value, rel=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_lengths_agree_with_fonttools(seed: int) -> None:
    path = wild(seed)
    expected = [calcCubicArcLength(*(tuple(p) for p in c), tolerance=1e-7) for c in path.curves]
    # near a cusp the speed has a corner, where no quadrature is exact
    assert path.lengths == pytest.approx(expected, rel=0.012)


def test_splitting_agrees_with_fonttools() -> None:
    curve = wild(3).curves[0]
    expected = splitCubicAtT(*(tuple(p) for p in curve), 0.2, 0.65)
    assert np.allclose(split_curve(curve, [0.2, 0.65]), np.array(expected))


def test_the_four_arc_circle_has_its_known_error() -> None:
    path = circle(10.0)
    radius = np.hypot(*path.points(0.01).T)
    assert radius.min() == pytest.approx(10.0, abs=1e-9)
    assert radius.max() == pytest.approx(10.0 * 1.000273, abs=2e-5)
    assert abs(path.area) == pytest.approx(np.pi * 100, rel=3e-4)
    assert path.lengths.sum() == pytest.approx(2 * np.pi * 10, rel=3e-4)
