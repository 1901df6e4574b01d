"""Outlines must not cross themselves or one another: the check, and the mending.

A cutter follows outlines blindly, and a crossing turns paint inside out. Touching is a crossing
here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.ornament.outline.drawing import ClosedPath, Drawing, filled_area, sample_curves


def crossing_paths(polygons: Sequence[Floats]) -> set[int]:
    """Numbers of closed polygons that cross themselves or another one of the list."""
    from shapely import Polygon, STRtree, is_valid

    usable = [i for i, p in enumerate(polygons) if len(p) >= 3]
    found = {i for i, p in enumerate(polygons) if len(p) < 3}
    if not usable:
        return found
    shapes = np.array([Polygon(polygons[i]) for i in usable], dtype=object)
    fine = is_valid(shapes)
    found |= {i for i, good in zip(usable, fine, strict=True) if not good}
    sound = [(i, s) for i, s, good in zip(usable, shapes, fine, strict=True) if good]
    if not sound:
        return found
    kept = np.array([s for _, s in sound], dtype=object)
    for a, b in STRtree(kept).query(kept, predicate="overlaps").T:
        found |= {sound[int(a)][0], sound[int(b)][0]}
    return found


def crossing_curves(curves: Floats, tolerance: float) -> NDArray[np.int64]:
    """Numbers of cubic curves (n, 4, 2) that cross another one or loop over themselves.

    Curves that only share an end do not count.
    """
    from shapely import STRtree, is_simple, linestrings

    second = np.linalg.norm(np.diff(curves, n=2, axis=1), axis=2).max(axis=1)
    counts = np.clip(np.ceil(np.sqrt(0.75 * second / tolerance)), 1, 200).astype(np.int64)
    points, index = sample_curves(curves, counts)
    # each line ends exactly where its curve does
    ends = np.cumsum(counts)
    points = np.insert(points, ends, curves[:, 3], axis=0)
    index = np.insert(index, ends, np.arange(len(curves)))
    lines = np.asarray(linestrings(points, indices=index))
    bad = set(np.flatnonzero(~is_simple(lines)).tolist())
    for a, b in STRtree(lines).query(lines, predicate="crosses").T:
        bad |= {int(a), int(b)}
    return np.array(sorted(bad), dtype=np.int64)


def crossings(drawing: Drawing, tolerance_mm: float = 0.002) -> set[int]:
    """Numbers of the drawing's paths that cross themselves or another path of their layer."""
    found: set[int] = set()
    for layer in drawing.layers:
        numbers = [i for i, p in enumerate(drawing.paths) if p.layer == layer]
        bad = crossing_paths([drawing.paths[i].polygon(tolerance_mm) for i in numbers])
        found |= {numbers[i] for i in bad}
    return found


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
    for neck_mm in (0.01, 0.03, 0.09):
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
            paths += [_with_evidence(c, crossed, layer) for c in resolve(crossed)]
    return drawing.with_paths(paths)


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
    from ironlace.ornament.outline.brush_strokes import area_curves

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
