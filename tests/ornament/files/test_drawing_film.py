"""Films at true scale."""

from __future__ import annotations

import math
from io import BytesIO

import numpy as np
import pytest
import shapely
from PIL import Image

from ironlace.ornament import ClosedPath, Drawing, DrawingError
from ironlace.ornament.files.drawing_film import film_of_drawing
from ironlace.ornament.outline.brush_strokes import area_curves
from ironlace.ornament.stencils.errors import StencilError


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
