"""The quick look for narrow places lets none pass that opening the whole area would find."""

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon

import ornaments
import other_ornaments as other
from ironlace.ornament.stencils.facing import may_be_narrow
from ironlace.ornament.stencils.filled_svg import read_filled
from ironlace.ornament.stencils.webs import sheet_polygons


def _opened_finds(area: Polygon, width: float) -> bool:
    """Whether an area has a neck, or a place longer than wide, by drawing it in and out again."""
    core = area.buffer(-0.985 * width / 2.0, quad_segs=12)
    if core.is_empty or core.geom_type != "Polygon":
        return True
    opened = core.buffer(0.985 * width / 2.0 * 1.004, quad_segs=12)
    rest = [p for p in shapely.get_parts(area.difference(opened)) if p.area > 1e-3 * width**2]
    edge = opened.boundary.buffer(0.012 * width)
    return any(p.length > 4.0 * width or _free_sides(p, edge, 0.25 * width) > 1 for p in rest)


def _free_sides(piece: Polygon, edge: shapely.Geometry, least: float) -> int:
    runs = shapely.get_parts(shapely.line_merge(piece.exterior.difference(edge)))
    return int(np.count_nonzero(shapely.length(runs) >= least))


def _areas(svg: str) -> np.ndarray:
    region = read_filled(svg).region
    return np.array([*region.geoms, *sheet_polygons(region, 3.0)], dtype=object)


def test_no_narrow_place_is_passed_over():
    drawings = [
        ornaments.net(np.random.default_rng(4), 12),
        ornaments.scrolls(np.random.default_rng(5), 2),
        other.lettering(),
        other.maze(3),
    ]
    passed, found = [], 0
    for svg in drawings:
        areas = _areas(svg)
        for width in (0.5, 1.2):
            asked = may_be_narrow(areas, width)
            found += asked.sum()
            passed += [p for p in areas[~asked] if _opened_finds(p, width)]
    assert not passed
    assert found > 20


@pytest.mark.parametrize("turn", np.linspace(0.0, 1.5, 4))
def test_two_corners_that_point_at_each_other_are_found(turn):
    sand_glass = Polygon([(0, 0), (8, 0), (4.3, 4), (8, 8), (0, 8), (3.7, 4)])
    needles = shapely.box(0, 0, 9, 9).difference(
        MultiPolygon([Polygon([(2, 4), (4.4, 4.5), (2, 5)]), Polygon([(7, 4), (4.9, 4.5), (7, 5)])])
    )
    for shape in (sand_glass, needles):
        turned = np.array([shapely.affinity.rotate(shape, turn, use_radians=True)], dtype=object)
        assert may_be_narrow(turned, 0.8).all()


def test_right_angles_round_ends_and_wide_strokes_are_not_asked():
    wide = [shapely.box(0, 0, 9, 1), shapely.Point(0, 0).buffer(0.9), shapely.box(0, 0, 2, 2)]
    assert not may_be_narrow(np.array(wide, dtype=object), 0.7).any()


def test_what_is_small_all_over_is_asked():
    small = [
        shapely.Point(0, 0).buffer(0.3),
        shapely.box(0, 0, 0.5, 0.5),
        shapely.box(0, 0, 9, 0.6),
    ]
    small.append(Polygon([(0, 0), (1, 0), (0.5, 0.87)]))
    assert may_be_narrow(np.array(small, dtype=object), 0.7).all()
