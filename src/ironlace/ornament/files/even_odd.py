"""Shapes as SVG fills them, told so that an even-odd reading fills the same.

A drawing at the bench fills all outlines of a colour even-odd. SVG fills a shape by its own rule,
and one shape over another leaves no hole. Where the two differ (rings of one shape that run the
same way, shapes that overlap), the outlines are drawn anew around what is filled; all others stay
as they are, to the last figure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import shapely

from ironlace.evidence.arrays import Floats
from ironlace.ornament.files.svg_curves import rings_of_path
from ironlace.ornament.files.svg_shapes import Shape
from ironlace.ornament.outline.drawing import curve_points, ring_polygon

_FINE_MM: Final = 0.002
"""How near chords lie to their curves where two areas are compared, as when sheets are cut."""

_LEAST_MM2: Final = 1e-4
"""Overlap that counts: a hundredth of a millimetre square, under any cutter's step. Outlines that
share an edge overlap by less, by the rounding of their file."""


def even_odd(shapes: Sequence[Shape]) -> list[Shape]:
    """Shapes of one colour of which an even-odd reading fills what SVG fills.

    What is drawn anew has no evidence.
    """
    if not shapes:
        return []
    coarse = _coarse(shapes)
    parent = list(range(len(shapes)))

    def first(n: int) -> int:
        while parent[n] != n:
            n = parent[n]
        return n

    for a, b in _overlapping(shapes, coarse):
        parent[first(b)] = first(a)
    groups: dict[int, list[int]] = {}
    for n in range(len(shapes)):
        groups.setdefault(first(n), []).append(n)
    out = []
    for members in groups.values():
        one = shapes[members[0]]
        if len(members) == 1 and _alike(one, coarse[members[0]]):
            out.append(one)
        else:
            out.append(_together([shapes[n] for n in members]))
    return out


def _coarse(shapes: Sequence[Shape]) -> list[shapely.Polygon]:
    """Each shape roughly, four chords to a curve: only to see which may meet."""
    t = np.arange(4) / 4.0
    every = [ring for shape in shapes for ring in shape.rings]
    corners = curve_points(np.concatenate(every), t).reshape(-1, 2)
    ends = np.cumsum([4 * len(ring) for ring in every])[:-1]
    rings = np.split(corners, ends)
    low, high = _boxes(every)
    wide = (high - low).max(axis=1)
    out, at = [], 0
    for shape in shapes:
        # rings in any order: the widest is the outer one
        first, *holes = at + np.argsort(-wide[at : at + len(shape.rings)])
        out.append(shapely.Polygon(rings[first], [rings[n] for n in holes]))
        at += len(shape.rings)
    return out


def _overlapping(
    shapes: Sequence[Shape], coarse: Sequence[shapely.Polygon]
) -> list[tuple[int, int]]:
    rough = np.array(coarse, dtype=object)
    near, far = shapely.STRtree(rough).query(rough)
    size = shapely.get_num_coordinates(rough)
    # of every pair the larger is asked, since what is prepared answers many times quickly
    asked = (size[near] > size[far]) | ((size[near] == size[far]) & (near < far))
    near, far = near[asked], far[asked]
    shapely.prepare(rough)
    meet = np.array([_may_meet(rough[a], rough[b]) for a, b in zip(near, far, strict=True)], bool)
    out = []
    for a, b in zip(near[meet].tolist(), far[meet].tolist(), strict=True):
        one, other = (
            replace(shapes[n], rings=_parted(shapes[n], [shapes[m]])[0])
            for n, m in ((a, b), (b, a))
        )
        if _region(one).intersection(_region(other)).area > _LEAST_MM2:
            out.append((a, b))
    return out


def _parted(shape: Shape, others: Sequence[Shape]) -> tuple[tuple[Floats, ...], tuple[Floats, ...]]:
    """Rings of a shape that may meet others, and those that lie wholly apart from them.

    What lies apart changes nothing where the others are, so that of a panel with a thousand holes
    only the few in question are worked on.
    """
    low, high = _boxes(shape.rings)
    meets = np.zeros(len(shape.rings), np.bool_)
    for other in others:
        lows, highs = _boxes(other.rings)
        meets |= np.all((low <= highs.max(axis=0)) & (high >= lows.min(axis=0)), axis=1)
    near = tuple(ring for ring, meet in zip(shape.rings, meets, strict=True) if meet)
    return near, tuple(ring for ring, meet in zip(shape.rings, meets, strict=True) if not meet)


def _boxes(rings: Sequence[Floats]) -> tuple[Floats, Floats]:
    """Least and greatest x and y of the control points of each ring, each (n, 2)."""
    every = np.concatenate(rings)
    starts = np.cumsum([0, *(len(ring) for ring in rings[:-1])])
    return (
        np.minimum.reduceat(every.min(axis=1), starts),
        np.maximum.reduceat(every.max(axis=1), starts),
    )


def _may_meet(one: shapely.Polygon, other: shapely.Polygon) -> bool:
    try:
        return bool(one.intersects(other))
    except shapely.errors.GEOSException:
        # rings that cross cannot always be asked: then it is looked at closely
        return True


def _alike(shape: Shape, coarse: shapely.Polygon | None = None) -> bool:
    """Whether a shape's own rule fills what even-odd does."""
    if shape.rule == "evenodd" or (len(shape.rings) == 1 and coarse and coarse.is_valid):
        return True
    even = _region(replace(shape, rule="evenodd"))
    return abs(_region(shape).area - even.area) <= _LEAST_MM2


def _region(shape: Shape) -> shapely.MultiPolygon:
    from ironlace.ornament.stencils.regions import filled_region

    return filled_region([ring_polygon(ring, _FINE_MM) for ring in shape.rings], shape.rule)


def _together(shapes: Sequence[Shape]) -> Shape:
    """One shape that fills even-odd what several fill."""
    near: list[Shape] = []
    apart: list[Floats] = []
    for n, shape in enumerate(shapes):
        others = [*shapes[:n], *shapes[n + 1 :]]
        if others and _alike(shape):
            mine, rest = _parted(shape, others)
            near.append(replace(shape, rings=mine))
            apart += rest
        else:
            near.append(shape)
    rings = (*_outlined([shape for shape in near if shape.rings]), *apart)
    return replace(shapes[0], rings=rings, rule="evenodd", evidence="")


def _outlined(shapes: Sequence[Shape]) -> tuple[Floats, ...]:
    """Rings around what some shapes fill together."""
    import pathops

    whole = pathops.Path()
    for shape in shapes:
        rule = pathops.FillType.EVEN_ODD if shape.rule == "evenodd" else pathops.FillType.WINDING
        one = pathops.Path(fillType=rule)
        pen = one.getPen()
        for ring in shape.rings:
            pen.moveTo(tuple(ring[0, 0]))
            for curve in ring:
                pen.curveTo(*(tuple(place) for place in curve[1:]))
            pen.closePath()
        whole = pathops.op(whole, one, pathops.PathOp.UNION)
    whole.convertConicsToQuads()
    verbs = {
        pathops.PathVerb.MOVE: "M",
        pathops.PathVerb.LINE: "L",
        pathops.PathVerb.QUAD: "Q",
        pathops.PathVerb.CUBIC: "C",
        pathops.PathVerb.CLOSE: "Z",
    }
    d = " ".join(
        verbs[verb] + " ".join(f"{x!r} {y!r}" for x, y in places) for verb, places in whole
    )
    return tuple(rings_of_path(d))
