"""Curves through contours: tolerance, corners, holes, hairlines, few nodes."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import MultiPolygon, Point, Polygon, box

from darkroom import Ornament, outline_errors, raster
from ironlace.ornament import DrawingError, trace


def drawn(shape: Polygon | MultiPolygon, ppm: float = 16.0, size: float = 20.0):
    parts = shape.geoms if isinstance(shape, MultiPolygon) else [shape]
    rings = []
    for p in parts:
        outer = np.asarray(p.exterior.coords)[:-1]
        inner = [np.asarray(i.coords)[:-1] for i in p.interiors]
        sign = 1 if p.exterior.is_ccw else -1
        rings.append(
            [
                outer,
                *(
                    i if sign != (1 if r.is_ccw else -1) else i[::-1]
                    for i, r in zip(inner, p.interiors, strict=True)
                ),
            ]
        )
    return raster(rings, (size, size), ppm, (0.0, 0.0))


def test_circle_takes_few_nodes_and_keeps_its_area() -> None:
    disc = Point(10, 10).buffer(5, quad_segs=200)
    drawing = trace(drawn(disc), 16.0, (0.0, 0.0))
    (path,) = drawing.paths
    assert path.nodes <= 6
    assert abs(path.area) == pytest.approx(np.pi * 25, rel=0.002)
    radius = np.hypot(*(path.points() - 10.0).T)
    assert np.abs(radius - 5).max() < 0.03


def test_corners_of_a_square_are_kept() -> None:
    square = box(4, 5, 14, 15)
    drawing = trace(drawn(square), 16.0, (0.0, 0.0))
    (path,) = drawing.paths
    assert path.nodes <= 8
    for corner in [(4, 5), (14, 5), (14, 15), (4, 15)]:
        gap = np.hypot(*(path.curves[:, 0] - corner).T).min()
        assert gap < 0.06


def test_hole_lies_inside_its_island() -> None:
    ring = Point(10, 10).buffer(6).difference(Point(10, 10).buffer(3))
    drawing = trace(drawn(ring), 16.0, (0.0, 0.0))
    assert len(drawing.paths) == 2
    assert sorted(str(p) for p in drawing.nesting()) == ["0", "None"] or sorted(
        str(p) for p in drawing.nesting()
    ) == ["1", "None"]
    assert sum(p.area for p in drawing.paths) == pytest.approx(np.pi * 27, rel=0.01)


@pytest.mark.parametrize("width", [0.3, 0.4, 0.5])
def test_hairline_keeps_an_even_width(width: float) -> None:
    t = np.linspace(0, 1, 300)
    line = np.column_stack([2 + 16 * t, 10 + 3 * np.sin(4 * t)])
    from shapely import LineString

    hair = LineString(line).buffer(width / 2, quad_segs=16)
    drawing = trace(drawn(hair), 16.0, (0.0, 0.0))
    (path,) = drawing.paths
    outline = Polygon(path.polygon(0.002))
    inner = line[20:-20]
    d = np.gradient(inner, axis=0)
    normal = np.column_stack([-d[:, 1], d[:, 0]]) / np.linalg.norm(d, axis=1, keepdims=True)
    widths = np.array(
        [
            LineString([p - n, p + n]).intersection(outline).length
            for p, n in zip(inner, normal, strict=True)
        ]
    )
    assert np.abs(widths - width).mean() < 0.02
    assert widths.std() < 0.025


def test_tolerance_holds_against_the_shape() -> None:
    rng = np.random.default_rng(3)
    from darkroom import scrollwork

    ornament = scrollwork(rng, (2, 2, 58, 38), scrolls=4)
    parts = []
    for p in ornament.gilt.geoms:
        parts.append(p)
    coverage = drawn(MultiPolygon(parts), 16.0, 60.0)
    drawing = trace(coverage, 16.0, (0.0, 0.0), tolerance_mm=0.025)
    forth, back = outline_errors([p.polygon(0.002) for p in drawing.paths], Ornament(ornament.gilt))
    assert forth.mean() < 0.012 and back.mean() < 0.015
    assert np.percentile(forth, 99) < 0.05


def test_nothing_covered_is_refused() -> None:
    with pytest.raises(DrawingError, match="No outline"):
        trace(np.zeros((10, 10), np.uint8), 16.0, (0.0, 0.0))
