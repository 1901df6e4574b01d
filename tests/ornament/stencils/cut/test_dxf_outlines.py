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


def test_the_same_text_but_for_the_digits():
    xy = np.random.default_rng(1).normal(0, 100, (500, 2))
    xy[0] = (0.0, -0.0)
    xy[1] = (1e-9, 1e16)
    one, two = (told.splitlines() for _, told in (written(OutlinePoints.of(xy)), written(xy=xy)))
    assert one[1::2] == two[1::2]
    said, meant = (
        [
            float(value)
            for tag, value in zip(told[::2], told[1::2], strict=False)
            if tag.strip() in ("10", "20")
        ]
        for told in (one[1:], two[1:])
    )
    assert len(said) == 2 * len(xy)
    assert np.allclose(said, meant, rtol=0, atol=5e-7)


def test_the_library_reads_it_back():
    xy = np.random.default_rng(2).normal(0, 100, (50, 2))
    text, _ = written(OutlinePoints.of(xy))
    (line,) = read(StringIO(text)).modelspace()
    assert np.allclose(np.array(line.get_points("xy")), xy, rtol=0, atol=5e-7)
    assert line.closed
