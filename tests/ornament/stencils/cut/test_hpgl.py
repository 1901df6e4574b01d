"""HP-GL read back by another library's reader, and by its bare instructions."""

import re

import ezdxf.addons.hpgl2.api as reader
import numpy as np
import pytest
import shapely

import ornaments
from ironlace.ornament.stencils import cut_plan, known_process, plan_sheets, sheet_hpgl


@pytest.fixture(scope="module")
def sheet():
    return plan_sheets(ornaments.ornament(1), known_process("film-knife"), "bridges").sheets[0]


def test_another_library_reads_the_same_areas(sheet):
    process = known_process("film-knife")
    # its reader wants the switch from the printer language first
    text = b"\x1b%1B" + sheet_hpgl(sheet, process).encode()
    document = reader.to_dxf(text, rotation=0, mirror_x=False)
    rings = [
        shapely.Polygon([(v[0], v[1]) for v in line.get_points("xy")]).area
        for line in document.modelspace()
        if line.dxftype() == "LWPOLYLINE"
    ]
    wanted = [shapely.Polygon(ring).area for ring in cut_plan(sheet, process).cuts]
    assert len(rings) == len(wanted)
    # the reader's own unit is the plotter's: 1/40 mm
    assert np.array(rings) / 1600 == pytest.approx(np.array(wanted), rel=1e-2)


def test_another_library_makes_the_page_as_large_as_the_sheet_in_mm(sheet):
    # ezdxf 1.4.5 sets its page up in mm, 40 plotter units to each
    process = known_process("film-knife")
    page = reader.to_dxf(b"\x1b%1B" + sheet_hpgl(sheet, process).encode()).layouts.get("Layout1")
    wide, high = np.ptp(np.concatenate(cut_plan(sheet, process).cuts), axis=0)
    assert page.dxf.paper_width == pytest.approx(wide, abs=0.026)
    assert page.dxf.paper_height == pytest.approx(high, abs=0.026)


def test_only_the_oldest_instructions_in_the_order_of_the_cuts(sheet):
    process = known_process("film-knife")
    text = sheet_hpgl(sheet, process)
    assert set(re.findall(r"[A-Z]{2}", text)) == {"IN", "PA", "SP", "PU", "PD"}
    cuts = cut_plan(sheet, process).cuts
    everything = np.concatenate(cuts)
    corner = np.array([everything[:, 0].min(), everything[:, 1].max()])
    starts = np.array(re.findall(r"PU(-?\d+),(-?\d+);\nPD", text), float) / 40.0
    wanted = np.array([(c[0] - corner) * (1, -1) for c in cuts])
    assert np.abs(starts - wanted).max() <= 0.0126


def test_loops_close_and_stay_within_a_hundredth_of_their_outline(sheet):
    process = known_process("film-knife")
    loops = re.findall(r"PU(-?\d+),(-?\d+);\nPD([-\d,]+);", sheet_hpgl(sheet, process))
    cuts = cut_plan(sheet, process).cuts
    everything = np.concatenate(cuts)
    corner = np.array([everything[:, 0].min(), everything[:, 1].max()])
    for (x, y, rest), cut in zip(loops, cuts, strict=True):
        points = np.array([x, y, *rest.split(",")], float).reshape(-1, 2)
        assert np.array_equal(points[0], points[-1])
        outline = shapely.LinearRing((cut - corner) * (1, -1))
        away = shapely.hausdorff_distance(shapely.LineString(points / 40.0), outline)
        # a chord's hundredth, and half of the diagonal of a plotter unit
        assert away <= 0.01 + 0.018
