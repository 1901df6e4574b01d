"""Outlines written whole are what the library writes one by one and tag by tag."""

from io import StringIO
from itertools import pairwise

import numpy as np
from ezdxf.filemanagement import new, read

from ironlace.ornament.stencils.cut.dxf_outlines import add_outlines


def written(rings, whole):
    document = new("R2010")
    space = document.modelspace()
    document.layers.add("CUT")
    if whole:
        add_outlines(space, "CUT", rings)
    else:
        for xy in rings:
            space.add_lwpolyline(xy.tolist(), close=True, dxfattribs={"layer": "CUT"})
    space.add_circle((0, 0), 3.0)
    stream = StringIO()
    document.write(stream)
    text = stream.getvalue()
    return text, text[text.index("AcDbPolyline") : text.index("OBJECTS")]


def test_the_same_text_but_for_the_digits():
    rng = np.random.default_rng(1)
    rings = [rng.normal(0, 100, (count, 2)) for count in (500, 3, 40)]
    rings[0][0] = (0.0, -0.0)
    rings[0][1] = (1e-9, 1e16)
    one, two = (told.splitlines() for _, told in (written(rings, True), written(rings, False)))
    # handles, layers and numbers of corners too: all but the coordinates to the byte
    place = {" 10", " 20"}
    rest, same = ([v for t, v in pairwise(told) if t not in place] for told in (one, two))
    assert rest == same
    said, meant = ([float(v) for t, v in pairwise(told) if t in place] for told in (one, two))
    assert len(said) > 2 * 543
    assert np.allclose(said, meant, rtol=0, atol=5e-7)


def test_the_library_reads_them_back_each_by_a_name_of_its_own():
    rng = np.random.default_rng(2)
    rings = [rng.normal(0, 100, (count, 2)) for count in (50, 7)]
    text, _ = written(rings, True)
    document = read(StringIO(text))
    *lines, circle = document.modelspace()
    assert circle.dxftype() == "CIRCLE" and len({line.dxf.handle for line in lines}) == 2
    for line, xy in zip(lines, rings, strict=True):
        assert np.allclose(np.array(line.get_points("xy")), xy, rtol=0, atol=5e-7)
        assert line.closed and line.dxf.layer == "CUT"
    assert not document.audit().errors


def test_no_outlines_are_nothing():
    assert written([np.zeros((3, 2))], True)[0].count("LWPOLYLINE") == 1
    document = new("R2010")
    add_outlines(document.modelspace(), "CUT", [])
    assert len(document.modelspace()) == 0
