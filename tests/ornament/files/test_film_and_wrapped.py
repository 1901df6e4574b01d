"""Films at true scale, and the drawing as it looks on an arm."""

from __future__ import annotations

import math
import re
from io import BytesIO

import numpy as np
import pytest
import shapely
from PIL import Image

from ironlace.ornament import ClosedPath, Drawing, DrawingError
from ironlace.ornament.files.drawing_film import film_of_drawing
from ironlace.ornament.files.wrapped import wrapped_svg
from ironlace.ornament.outline.brush_strokes import area_curves
from ironlace.ornament.stencils.errors import StencilError
from ironlace.photographs import SurfaceError
from ironlace.photographs.surfaces import Round


def drawing_of(**areas):
    paths = [
        ClosedPath.of(c, layer=layer) for layer, area in areas.items() for c in area_curves(area)
    ]
    return Drawing(tuple(paths), (0.0, 0.0, 40.0, 30.0), dict.fromkeys(areas, (10, 20, 30)))


DISC = shapely.Point(20, 15).buffer(8, quad_segs=64) - shapely.Point(20, 15).buffer(3, quad_segs=64)


@pytest.mark.parametrize("kind", ["png", "tiff"])
def test_a_film_is_true_to_size_and_area(kind):
    drawing = drawing_of(gold=DISC, red=shapely.box(2, 2, 6, 6))
    with Image.open(BytesIO(b"".join(film_of_drawing(drawing, 600, kind=kind)))) as film:
        assert film.mode == "1"
        assert film.info["dpi"][0] == pytest.approx(600, abs=0.1)
        pixels = np.asarray(film)
    mm = 25.4 / 600
    assert pixels.shape == (math.ceil(40 / mm), math.ceil(50 / mm))
    inside = pixels[20:-20, 20:-20]
    # an edge may fall half a dot to either side
    half_a_dot = 0.6 * mm * (DISC.length + 16)
    assert np.count_nonzero(~inside) * mm**2 == pytest.approx(DISC.area + 16, abs=half_a_dot)
    rows = np.flatnonzero((~inside[:, 300:]).any(axis=1))
    assert (rows[-1] - rows[0] + 1) * mm == pytest.approx(16.0, abs=0.06)


def test_one_colour_alone_and_what_cannot_be():
    drawing = drawing_of(gold=DISC, red=shapely.box(2, 2, 6, 6))
    with Image.open(BytesIO(b"".join(film_of_drawing(drawing, 300, layer="red")))) as film:
        black = np.count_nonzero(~np.asarray(film)[20:-20, 20:-20])
    assert black * (25.4 / 300) ** 2 == pytest.approx(16.0, abs=0.6 * 25.4 / 300 * 16)
    with pytest.raises(DrawingError, match="no colour 'blue'"):
        film_of_drawing(drawing, 300, layer="blue")
    with pytest.raises(DrawingError, match="png or tiff"):
        film_of_drawing(drawing, 300, kind="gif")
    with pytest.raises(StencilError, match="no resolution"):
        film_of_drawing(drawing, 20)
    with pytest.raises(DrawingError, match="Nothing is drawn"):
        film_of_drawing(Drawing((), (0, 0, 1, 1)), 300)


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
