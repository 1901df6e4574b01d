import math
import re

import numpy as np
import pytest
from shapely import LineString, MultiPolygon, box, union_all

import ornaments
from ironlace.ornament.stencils import (
    Feature,
    StencilError,
    known_process,
    plan_sheets,
    sheet_edge,
    tiles,
)
from ironlace.ornament.stencils.files import tiled
from ironlace.photographs.surfaces import Plane, Round

BAR = MultiPolygon([box(10, 10, 50, 30)])
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="380mm" height="40mm" viewBox="0 0 380 40">'
    '<rect x="10" y="10" width="340" height="20"/></svg>'
)


@pytest.fixture(scope="module")
def sheet(laser):
    plan = plan_sheets(SVG, laser, "bridges", features=[Feature("bed edge", 0.0, 40.0)])
    return plan.sheets[0]


def test_a_plane_gives_a_rectangle_with_its_margin():
    assert sheet_edge(BAR, Plane(), 25.0).bounds == pytest.approx((-15, -15, 75, 55))


def test_a_cylinder_gives_a_rectangle_square_to_its_axis():
    edge = sheet_edge(BAR, Round((30.0, 20.0), 60.0, math.radians(30)), 10.0)
    corner = np.array(edge.minimum_rotated_rectangle.exterior.coords)
    sides = np.degrees(np.arctan2(*np.diff(corner, axis=0).T[::-1])) % 90
    assert sides == pytest.approx(30, abs=0.01)
    assert edge.covers(BAR)


def test_a_cylinder_measured_beside_the_drawing_has_its_seam_opposite_all_the_same():
    drawing = SVG.replace('x="10" y="10" width="340"', 'x="300" y="10" width="60"')
    film = known_process("film-knife")
    for at in ((0.0, 0.0), (330.0, 20.0)):
        around = Round(at, 30.0, math.radians(90.0))
        plan = plan_sheets(drawing, film, "bridges", surface=around)
        assert plan.sheets[0].edge.bounds == pytest.approx((275, -15, 385, 55), abs=1e-6)
        assert plan.report["wrapping"]["round_deg"] == pytest.approx(math.degrees(110 / 30.0), 1e-3)


def test_a_cone_gives_a_sector_about_its_point():
    cone = Round((30.0, 20.0), 40.0, 0.0, taper=0.3)
    edge = sheet_edge(BAR, cone, 10.0)
    assert edge.buffer(1e-6).covers(BAR.buffer(9.0))
    apex = np.array([30.0 - 40.0 / 0.3, 20.0])
    away = np.linalg.norm(np.array(edge.exterior.coords) - apex, axis=1)
    # most of its edge lies on the two arcs
    on_arcs = np.isclose(away, away.min(), atol=0.02) | np.isclose(away, away.max(), atol=0.02)
    assert on_arcs.mean() > 0.6


def test_a_sheet_does_not_go_round_more_than_once():
    with pytest.raises(StencilError, match="more than once"):
        sheet_edge(BAR, Round((30.0, 20.0), 10.0, math.pi / 2), 25.0)


def test_sheets_of_a_set_share_register_holes_that_tell_front_from_back(sheet):
    assert len(sheet.register_mm) == 3
    assert all(sheet.edge.covers(box(x - 1, y - 1, x + 1, y + 1)) for x, y in sheet.register_mm)
    turned = sheet.mirror()
    gaps = np.linalg.norm(turned.register_mm[:, None] - sheet.register_mm[None], axis=2)
    assert gaps.min(axis=1).max() > 5.0
    assert "bed edge" in {word for _, word in sheet.notes}
    assert turned.mirror().openings.equals_exact(sheet.openings, 1e-9)


def test_tiles_fit_the_bed_and_cover_everything(sheet):
    parts = tiles(sheet, 200.0, 200.0, margin_mm=15.0, overlap_mm=1.0)
    assert len(parts) > 1
    whole = parts[0].openings
    for part in parts:
        left, top, right, bottom = part.edge.bounds
        assert right - left <= 200.001
        assert bottom - top <= 200.001
        whole = whole.union(part.openings)
    assert whole.symmetric_difference(sheet.openings).area < 1e-6


def test_a_bed_too_small_is_refused(sheet):
    with pytest.raises(StencilError, match="leaves nothing"):
        tiles(sheet, 30.0, 30.0, margin_mm=15.0, overlap_mm=1.0)


@pytest.fixture(scope="module")
def split_set(laser):
    return plan_sheets(ornaments.ornament(3), laser, "split")


@pytest.mark.parametrize("bed", ["120x60", "90x90", "100x50"])
def test_parts_of_all_sheets_of_a_set_lie_on_one_another(split_set, bed):
    plan = split_set
    parts = tiled(plan.sheets, bed)
    assert len(plan.sheets) > 1 and len(parts) > len(plan.sheets)
    places = {}
    for part in parts:
        number = re.fullmatch(r"\d+([a-z]\d+)", part.name)[1]
        places.setdefault(number, []).append(part)
        assert len(part.register_mm) == 3
        assert all(part.edge.covers(LineString(line)) for line, _ in part.notes)
    assert max(len(same) for same in places.values()) > 1
    for same in places.values():
        for other in same[1:]:
            assert other.edge.equals_exact(same[0].edge, 1e-9)
            assert other.register_mm == pytest.approx(same[0].register_mm, abs=1e-9)
    for sheet in plan.sheets:
        own = [p.openings for p in parts if re.match(rf"{sheet.name}[a-z]", p.name)]
        assert union_all(own).symmetric_difference(sheet.openings).area < 1e-6
