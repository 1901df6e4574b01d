"""Outlines written whole are what the library writes tag by tag."""

from io import StringIO

import numpy as np
from ezdxf.filemanagement import new, read

from ironlace.ornament.stencils.cut.dxf_outlines import OutlinePoints


def written(points=None, xy=None):
    document = new("R2010")
    line = document.modelspace().add_lwpolyline([] if xy is None else xy.tolist(), close=True)
    if points is not None:
        line.lwpoints = points
    stream = StringIO()
    document.write(stream)
    text = stream.getvalue()
    return text, text[text.index("AcDbPolyline") : text.index("OBJECTS")]


def test_the_very_same_text():
    xy = np.random.default_rng(1).normal(0, 100, (500, 2)).round(7)
    xy[0] = (0.0, -0.0)
    xy[1] = (1e-9, 1e16)
    _, one = written(OutlinePoints.of(xy))
    _, two = written(xy=xy)
    assert one == two


def test_the_library_reads_it_back():
    xy = np.random.default_rng(2).normal(0, 100, (50, 2))
    text, _ = written(OutlinePoints.of(xy))
    (line,) = read(StringIO(text)).modelspace()
    assert np.array_equal(np.array(line.get_points("xy")), xy)
    assert line.closed
