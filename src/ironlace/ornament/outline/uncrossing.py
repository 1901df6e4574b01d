"""Outlines that cross are drawn anew, with the same area inside and the evidence they had."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Final

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.ornament.outline.brush_strokes import area_curves
from ironlace.ornament.outline.crossings import crossings
from ironlace.ornament.outline.drawing import ClosedPath, Drawing, filled_area

SLIVER_MM: Final = 0.01
"""What is thinner than this throughout is no outline, and a neck so thin is cut through first."""


def uncrossed(drawing: Drawing, tolerance_mm: float = 0.002) -> Drawing:
    """The same filled area with no crossings; untouched paths stay as they are.

    Crossed paths are resolved by skia-pathops' even-odd simplification; their new stretches take
    the evidence of the nearest old ones. Where outlines merely touch themselves that leaves them as
    they are: there a neck thinner than a hundredth of a millimetre is cut through.
    """
    bad = crossings(drawing, tolerance_mm)
    if not bad:
        return drawing
    drawing = _resolved(drawing, bad, _simplified)
    for neck_mm in (SLIVER_MM, 3 * SLIVER_MM, 9 * SLIVER_MM):
        bad = crossings(drawing, tolerance_mm)
        if not bad:
            break
        drawing = _resolved(drawing, bad, partial(_parted, neck_mm=neck_mm))
    return drawing


def _resolved(
    drawing: Drawing, bad: set[int], resolve: Callable[[Sequence[ClosedPath]], list[Floats]]
) -> Drawing:
    paths = [p for i, p in enumerate(drawing.paths) if i not in bad]
    for layer in drawing.layers:
        crossed = [drawing.paths[i] for i in sorted(bad) if drawing.paths[i].layer == layer]
        if crossed:
            rings = (_with_evidence(c, crossed, layer) for c in resolve(crossed))
            # two outlines that all but coincide leave slivers between their crossings
            paths += [ring for ring in rings if _mean_width(ring) >= SLIVER_MM]
    return drawing.with_paths(paths)


def _mean_width(path: ClosedPath) -> float:
    return 2.0 * abs(path.area) / float(path.lengths.sum())


def _simplified(crossed: Sequence[ClosedPath]) -> list[Floats]:
    import pathops

    shape = pathops.Path(fillType=pathops.FillType.EVEN_ODD)
    pen = shape.getPen()
    for path in crossed:
        pen.moveTo(tuple(path.curves[0, 0]))
        for curve in path.curves:
            pen.curveTo(*(tuple(p) for p in curve[1:]))
        pen.closePath()
    shape.simplify(fix_winding=True, keep_starting_points=False)
    return _closed_curves(shape)


def _parted(crossed: Sequence[ClosedPath], neck_mm: float) -> list[Floats]:
    """The filled area without its thinnest necks and slits, drawn anew."""
    half = neck_mm / 2.0
    opened = filled_area(crossed, 0.001).buffer(-half).buffer(2 * half).buffer(-half)
    return area_curves(opened, tolerance_mm=0.004)


def _closed_curves(shape: object) -> list[Floats]:
    rings: list[Floats] = []
    curves: list[Floats] = []
    at = start = np.zeros(2)
    for verb, points in shape.segments:  # type: ignore[attr-defined]
        p = [np.asarray(q, np.float64) for q in points]
        if verb == "moveTo":
            at = start = p[0]
            curves = []
        elif verb == "lineTo":
            curves.append(np.array([at, at + (p[0] - at) / 3, at + (p[0] - at) * 2 / 3, p[0]]))
            at = p[0]
        elif verb == "qCurveTo":
            for n, control in enumerate(p[:-1]):
                end = p[-1] if n == len(p) - 2 else (control + p[n + 1]) / 2
                curves.append(
                    np.array([at, at + (control - at) * 2 / 3, end + (control - end) * 2 / 3, end])
                )
                at = end
        elif verb == "curveTo":
            curves.append(np.array([at, *p]))
            at = p[-1]
        else:
            if np.abs(at - start).max() > 1e-9:
                curves.append(
                    np.array([at, at + (start - at) / 3, at + (start - at) * 2 / 3, start])
                )
            if curves:
                rings.append(np.array(curves))
            curves = []
    return rings


def _with_evidence(curves: Floats, old: Sequence[ClosedPath], layer: str) -> ClosedPath:
    from scipy.spatial import cKDTree

    marks = [(p, i) for p in old for i in range(p.nodes)]
    middle = np.array([p.curves[i].T @ np.array([0.125, 0.375, 0.375, 0.125]) for p, i in marks])
    new = np.einsum("k,nkd->nd", np.array([0.125, 0.375, 0.375, 0.125]), curves)
    near = np.atleast_1d(cKDTree(middle).query(new)[1])
    return ClosedPath(
        curves,
        tuple(marks[int(n)][0].grades[marks[int(n)][1]] for n in near),
        tuple(marks[int(n)][0].sources[marks[int(n)][1]] for n in near),
        layer,
    )
