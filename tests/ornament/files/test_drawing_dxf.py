import io
import os
import subprocess
import sys

import ezdxf
import numpy as np
import pytest
from ezdxf.path import make_path

from ironlace.evidence.grades import Grade
from ironlace.ornament import ClosedPath, Drawing, DrawingError
from ironlace.ornament.files.drawing_dxf import drawing_dxf

K = 0.5522847498307936  # a quarter circle by one cubic (Goldapp 1991), error 2.7e-4 of the radius


def circle(x, y, r, grade=Grade.SEEN):
    quarter = np.array([(1, 0), (1, K), (K, 1), (0, 1)], dtype=float)
    turn = np.array([(0, -1), (1, 0)], dtype=float)
    curves = [quarter]
    for _ in range(3):
        curves.append(curves[-1] @ turn.T)
    curves = np.array(curves) * r + (x, y)
    return ClosedPath(curves, (grade,) * 4, ("here",) * 4, "gold")


def reread(drawing):
    document = ezdxf.read(io.StringIO(drawing_dxf(drawing)))
    return document, list(document.modelspace().query("SPLINE"))


def area(spline):
    points = np.array([(p.x, p.y) for p in make_path(spline).flattening(1e-4)])
    x, y = points.T
    return 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def test_areas_are_the_same_when_another_library_reads_it():
    drawing = Drawing(
        (circle(20, 30, 10), circle(40, 30, 2.5)), (0, 0, 60, 60), {"gold": (1, 2, 3)}
    )
    document, splines = reread(drawing)
    assert document.header["$INSUNITS"] == 4
    for path, spline in zip(drawing.paths, splines, strict=True):
        assert area(spline) == pytest.approx(abs(path.area), rel=1e-4)
        assert spline.dxf.layer == "gold"
    box = np.array([(p.x, p.y) for p in make_path(splines[0]).flattening(1e-3)])
    assert box.min(axis=0) == pytest.approx((10, -40), abs=1e-3)  # y up


def test_the_line_type_tells_the_weakest_grade():
    drawing = Drawing(
        (circle(5, 5, 2), circle(15, 5, 2, Grade.CONJECTURED)), (0, 0, 20, 10), {"gold": (0, 0, 0)}
    )
    _, splines = reread(drawing)
    assert [s.dxf.linetype.upper() for s in splines] == ["CONTINUOUS", "IRONLACE_CONJECTURED"]


def test_an_empty_drawing_is_refused():
    with pytest.raises(DrawingError, match="nothing to write"):
        drawing_dxf(Drawing((), (0, 0, 1, 1), {}))


def test_one_drawing_is_one_file_in_whatever_run():
    # sets and dates differ from run to run: each is another process with another seed
    script = (
        "from ironlace.evidence.dxf_document import dxf_text, new_document\n"
        "document = new_document()\n"
        "document.modelspace().add_lwpolyline([(0, 0), (9, 0), (9, 5)], close=True)\n"
        "document.modelspace().add_text('sheet', height=3)\n"
        "document.modelspace().add_circle((1, 1), 2)\n"
        "print(dxf_text(document))"
    )
    one, two = (
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    )
    assert "AcDbCircle" in one
    assert one == two
