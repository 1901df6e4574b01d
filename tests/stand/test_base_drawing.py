"""The drawing of a base, reread by libraries that did not write it."""

import re
from io import BytesIO
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
import resvg_py
import shapely
from PIL import Image

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


def strokes(svg, left, top, wide, high):
    """Where a window of a drawing has strokes, at 600 dpi by an outside renderer: by row, mm."""
    head = f'width="{wide}mm" height="{high}mm" viewBox="{left} {top} {wide} {high}"'
    cut = re.sub(r'width="[^"]*" height="[^"]*"\s+viewBox="[^"]*"', head, svg, count=1)
    assert head in cut
    drawn = resvg_py.svg_to_bytes(svg_string=cut, dpi=600, background="white")
    page = np.asarray(Image.open(BytesIO(bytes(drawn))).convert("L"))
    assert page.shape[1] == pytest.approx(wide * 600 / 25.4, abs=1.0)
    return page < 128


def middles(line):
    """The middles of the dark runs of a line of pixels, mm from its beginning."""
    dark = np.flatnonzero(line)
    runs = np.split(dark, np.flatnonzero(np.diff(dark) > 1) + 1)
    return np.array([(run[0] + run[-1] + 1) / 2.0 for run in runs if len(run)]) * 25.4 / 600


def crossings(area, level, axis):
    """Where a straight across crosses the edge of an area, mm along it, by an outside library."""
    ends = [(-999.0, level), (999.0, level)] if axis == 0 else [(level, -999.0), (level, 999.0)]
    met = shapely.LinearRing(area.exterior).intersection(shapely.LineString(ends))
    return np.sort(shapely.get_coordinates(met)[:, axis])


def test_rendered_at_600_dpi_outline_opening_and_bar_measure_what_they_should(found):
    svg, left, high = base_svg(found), *np.array(found.shape.outside.bounds)[[0, 3]]
    root, rings = svg_rings(svg)
    across = float(root.get("viewBox").split()[2])
    shift = rings["outside"].min(axis=0) - [left, -high]  # where the plan lies on the page
    for level in (-20.0, 0.0, 31.0):
        row = middles(strokes(svg, 0.0, shift[1] - level - 0.5, across, 1.0)[12])
        for area in (found.shape.outside, found.shape.opening, found.shape.within):
            want = crossings(area, level, 0) + shift[0]
            assert max(np.abs(row - one).min() for one in want) < 0.05
    column = middles(strokes(svg, shift[0] - 0.5, 0.0, 1.0, 2.0 * high + 60.0)[:, 12])
    for area in (found.shape.outside, found.shape.opening):
        want = shift[1] - crossings(area, 0.0, 1)
        assert max(np.abs(column - one).min() for one in want) < 0.05
    bar = re.search(r'id="bar" d="M([\d.]+) ([\d.]+)h', svg)
    ticks = middles(strokes(svg, 0.0, float(bar[2]) + 0.9, across, 1.0)[12])
    assert np.ptp(ticks) == pytest.approx(100.0, abs=0.05)


def test_the_dxf_drawn_by_another_hand_measures_the_same(found, tmp_path):
    from ezdxf.addons.drawing import Frontend, RenderContext, layout, svg

    file = tmp_path / "base.dxf"
    file.write_text(base_dxf(found), encoding="utf-8")
    document = ezdxf.readfile(file)
    backend = svg.SVGBackend()
    Frontend(RenderContext(document), backend).draw_layout(document.modelspace())
    page = layout.Page(0, 0, layout.Units.mm)
    drawn = backend.get_string(page, settings=layout.Settings(fit_page=False, scale=1.0))
    wide, units = re.search(r'width="([\d.]+)mm".*?viewBox="0 0 ([\d.]+)', drawn, re.S).groups()
    per = float(units) / float(wide)
    high = found.shape.outside.bounds[3]  # the plan stands at the top, the page's edge at its own
    cut = f'width="{wide}mm" height="1mm" viewBox="0 {(high - 0.5) * per} {units} {per}"'
    cut = re.sub(r'width="[^"]*" height="[^"]*"\s+viewBox="[^"]*"', cut, drawn, count=1)
    image = Image.open(BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=cut, dpi=600))))
    row = np.asarray(image.convert("L")).astype(int)[12]
    met = middles(np.abs(row - np.bincount(row).argmax()) > 60)
    areas = (found.shape.opening, found.shape.within)
    wanted = np.concatenate([crossings(area, 0.0, 0) for area in areas])
    wanted -= found.shape.outside.bounds[0]
    near = np.array([met[np.abs(met - one).argmin()] for one in wanted])
    # the page's edge halves the outermost line, so that the others tell where it begins
    assert np.abs(near - wanted - np.median(near - wanted)).max() < 0.05
    assert np.abs(near - wanted).max() < 0.3
    assert met[-1] - met[0] == pytest.approx(
        np.ptp(crossings(found.shape.outside, 0.0, 0)), abs=0.3
    )


def test_elevation_cutting_list_and_answer_agree(found):
    _, rings = svg_rings(base_svg(found))
    wall = cutting_list(found)[0]
    front = np.ptp(rings["front-elevation"], axis=0)
    assert (wall.length_mm, wall.width_mm) == pytest.approx(tuple(front), abs=1e-3)
    assert wall.width_mm == found.height_mm
    assert cutting_told(found)[0]["length_mm"] == wall.length_mm
    assert f"{wall.length_mm:.1f} x {wall.width_mm:.1f}" in base_svg(found)
