"""Sheets read back by means other than those that wrote them: areas to 0.01 %, sizes to 0.05 mm.

DXF is read here by its group codes (the published DXF reference: pairs of a code and a value;
LWPOLYLINE corners are codes 10 and 20), SVG by fontTools and skia-pathops, pages by pdfium.
"""

import xml.etree.ElementTree as ET

import numpy as np
import pytest

from ironlace.ornament.stencils import known_process, plan_sheets, sheet_dxf

RING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="60mm" viewBox="0 0 80 60">'
    '<g fill="#b89040"><path fill-rule="evenodd" d="M40 5A25 25 0 0 1 40 55A25 25 0 0 1 40 5Z'
    'M40 12A18 18 0 0 0 40 48A18 18 0 0 0 40 12Z"/>'
    '<path d="M34 26C38 20 44 22 46 28S42 42 34 36Z"/></g></svg>'
)


@pytest.fixture(scope="module", params=["bridges", "split"])
def sheet(request):
    return plan_sheets(RING, known_process("film-laser"), request.param).sheets[-1]


def polylines(dxf):
    """Corners of every LWPOLYLINE with its layer, straight from the group codes."""
    lines = dxf.splitlines()
    pairs = list(zip((int(x) for x in lines[::2]), lines[1::2], strict=False))
    out, current = [], None
    for code, value in pairs:
        if code == 0:
            current = {"layer": "", "x": [], "y": []} if value == "LWPOLYLINE" else None
            if current is not None:
                out.append(current)
        elif current is not None and code == 8:
            current["layer"] = value
        elif current is not None and code in (10, 20):
            current["x" if code == 10 else "y"].append(float(value))
    return out


def shoelace(x, y):
    return abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def test_dxf_has_the_same_area_by_its_group_codes(sheet):
    rings = [p for p in polylines(sheet_dxf(sheet)) if p["layer"] == "OPENINGS"]
    total = sum(shoelace(np.array(p["x"]), np.array(p["y"])) for p in rings)
    assert total == pytest.approx(sheet.area_mm2, rel=1e-4)
    y = np.concatenate([p["y"] for p in rings])
    assert -y.max() == pytest.approx(sheet.openings.bounds[1], abs=1e-4)


def test_dxf_tells_millimetres(sheet):
    lines = [x.strip() for x in sheet_dxf(sheet).splitlines()]
    # header variable $INSUNITS, code 70: 4 is millimetres
    at = lines.index("$INSUNITS")
    assert lines[at + 1 : at + 3] == ["70", "4"]


def test_svg_has_the_same_area_by_another_reader(sheet):
    import pathops
    from fontTools.svgLib.path import parse_path

    path = pathops.Path()
    root = ET.fromstring(sheet.svg())
    group = next(e for e in root.iter() if e.get("id") == "openings")
    for element in group:
        parse_path(element.get("d"), path.getPen())
    path.fillType = pathops.FillType.EVEN_ODD
    assert abs(path.area) == pytest.approx(sheet.area_mm2, rel=1e-4)
    assert root.get("width") == f"{sheet.edge.bounds[2] - sheet.edge.bounds[0]:.4f}mm"


def test_a_page_at_600_dpi_measures_what_the_sheet_does():
    import pypdfium2
    import scipy.ndimage as ndi

    from ironlace.dossier import true_scale_pdf

    sheet = plan_sheets(RING, known_process("film-laser"), "bridges").sheets[0]
    content = true_scale_pdf(sheet.svg(), paper="a4", title="sheet", made="2026-01-01")
    page = pypdfium2.PdfDocument(content)[0]
    image = page.render(scale=600 / 72, grayscale=True).to_numpy()
    marks, count = ndi.label(image.reshape(image.shape[:2]) < 128)
    # the openings are the only shapes with more than 20 mm^2 of black, but for the 100 mm bar
    sizes = ndi.sum_labels(np.ones(marks.shape), marks, np.arange(1, count + 1))
    wide = np.array([s[1].stop - s[1].start for s in ndi.find_objects(marks)])
    kept = (sizes > 20 * (600 / 25.4) ** 2) & (wide < 90 * 600 / 25.4)
    large = np.isin(marks, np.flatnonzero(kept) + 1)
    rows, columns = np.flatnonzero(large.any(axis=1)), np.flatnonzero(large.any(axis=0))
    left, top, right, bottom = sheet.openings.bounds
    scale = 600 / 25.4
    assert (np.ptp(columns) + 1) / scale == pytest.approx(right - left, abs=0.05)
    assert (np.ptp(rows) + 1) / scale == pytest.approx(bottom - top, abs=0.05)
    assert large.sum() / scale**2 == pytest.approx(sheet.area_mm2, rel=0.005)
