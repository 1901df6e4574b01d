"""The drawing as it looks on an arm."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely

from ironlace.ornament import ClosedPath, Drawing
from ironlace.ornament.files.wrapped import wrapped_svg
from ironlace.ornament.outline.brush_strokes import area_curves
from ironlace.photographs import SurfaceError
from ironlace.photographs.surfaces import Round


def drawing_of(**areas):
    paths = [
        ClosedPath.of(c, layer=layer) for layer, area in areas.items() for c in area_curves(area)
    ]
    return Drawing(tuple(paths), (0.0, 0.0, 40.0, 30.0), dict.fromkeys(areas, (10, 20, 30)))


DISC = shapely.Point(20, 15).buffer(8, quad_segs=64) - shapely.Point(20, 15).buffer(3, quad_segs=64)


def bounds(svg, number=1):
    d = re.findall(r' d="([^"]*)"', svg)[number]
    points = np.array(re.findall(r"-?[\d.]+", d), float).reshape(-1, 2)
    return points.min(axis=0), points.max(axis=0)


def test_on_a_cylinder_what_lies_across_is_foreshortened_and_what_lies_along_is_not():
    bar = shapely.box(10, 5, 30, 25)
    drawing = drawing_of(gold=bar)
    surface = Round((20.0, 15.0), 12.0, math.pi / 2)
    low, high = bounds(wrapped_svg(drawing, surface))
    # the axis runs along y: 20 mm stay; across, 10 mm of arc are 12 sin(10 / 12)
    assert high[1] - low[1] == pytest.approx(20.0, abs=0.02)
    assert high[0] - low[0] == pytest.approx(2 * 12 * math.sin(10 / 12), abs=0.05)
    turned_low, turned_high = bounds(wrapped_svg(drawing, surface, 90))
    assert turned_high[0] - turned_low[0] < high[0] - low[0]
    rim_low, rim_high = bounds(wrapped_svg(drawing, surface), 0)
    assert rim_high[0] - rim_low[0] == pytest.approx(24.0, abs=0.2)


def test_on_a_cone_the_silhouette_tapers():
    drawing = drawing_of(gold=DISC)
    surface = Round((20.0, 15.0), 14.0, math.pi / 2, 0.15)
    svg = wrapped_svg(drawing, surface)
    d = re.findall(r' d="([^"]*)"', svg)[0]
    points = np.array(re.findall(r"-?[\d.]+", d), float).reshape(-1, 2)
    upper = np.ptp(points[points[:, 1] < points[:, 1].mean(), 0])
    lower = np.ptp(points[points[:, 1] > points[:, 1].mean(), 0])
    assert lower > upper * 1.2
    with pytest.raises(SurfaceError, match="cone's point"):
        wrapped_svg(drawing, Round((20.0, 15.0), 2.0, math.pi / 2, 0.5))
