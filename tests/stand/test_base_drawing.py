"""The drawing of a base, reread by libraries that did not write it."""

import re
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
import shapely

from ironlace.stand.base_drawing import base_dxf, base_svg, cutting_list, cutting_told
from standing_base import worked


@pytest.fixture(scope="module")
def found():
    return worked()


def svg_rings(text):
    root = ElementTree.fromstring(text)
    rings = {}
    for path in root.iter("{http://www.w3.org/2000/svg}path"):
        numbers = re.findall(r"-?\d+\.\d+", path.get("d"))
        if path.get("id") and path.get("d").endswith("Z"):
            rings[path.get("id")] = np.array(numbers, float).reshape(-1, 2)
    return root, rings


def test_svg_gives_areas_and_outline_back(found):
    root, rings = svg_rings(base_svg(found))
    assert root.get("width").endswith("mm")
    assert root.get("viewBox").split()[2] == root.get("width").removesuffix("mm")
    for name in ("outside", "within", "opening"):
        true = getattr(found.shape, name).area
        assert shapely.Polygon(rings[name]).area == pytest.approx(true, rel=1e-4)
    offset = shapely.distance(shapely.LinearRing(rings["bed"]), shapely.points(rings["outside"]))
    assert np.abs(offset - found.case.base.overhang_mm).max() < 0.02


def test_dxf_gives_areas_and_sizes_back(found, tmp_path):
    file = tmp_path / "base.dxf"
    file.write_text(base_dxf(found), encoding="utf-8")
    space = ezdxf.readfile(file).modelspace()
    rings = {one.dxf.layer: np.array(one.get_points("xy")) for one in space.query("LWPOLYLINE")}
    assert shapely.Polygon(rings["OUTSIDE"]).area == pytest.approx(
        found.shape.outside.area, rel=1e-4
    )
    assert np.allclose(rings["OUTSIDE"], found.shape.outside.exterior.coords[:-1])
    assert np.ptp(rings["FRONT_ELEVATION"], axis=0)[1] == pytest.approx(found.height_mm)
    bar = space.query("LINE")[0]
    assert (bar.dxf.end - bar.dxf.start).magnitude == pytest.approx(100.0)


def test_elevation_cutting_list_and_answer_agree(found):
    _, rings = svg_rings(base_svg(found))
    wall = cutting_list(found)[0]
    front = np.ptp(rings["front-elevation"], axis=0)
    assert (wall.length_mm, wall.width_mm) == pytest.approx(tuple(front), abs=1e-3)
    assert wall.width_mm == found.height_mm
    assert cutting_told(found)[0]["length_mm"] == wall.length_mm
    assert f"{wall.length_mm:.1f} x {wall.width_mm:.1f}" in base_svg(found)
