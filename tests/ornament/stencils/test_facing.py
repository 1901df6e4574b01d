"""The quick look for narrow places lets none pass that opening the whole area would find."""

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon

import ornaments
import other_ornaments as other
from ironlace.ornament.stencils import facing
from ironlace.ornament.stencils.facing import LONG, may_be_narrow, where_narrow
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


def _long_places(area: Polygon, width: float) -> float:
    """Area of the places longer than wide, by drawing it in and out again."""
    reach = 0.985 * width / 2.0
    opened = area.buffer(-reach, quad_segs=8).buffer(1.004 * reach, quad_segs=8)
    rest = shapely.get_parts(area.difference(opened))
    long = (shapely.length(rest) > 4.0 * width) & (shapely.area(rest) > 0.06 * width**2)
    return float(shapely.area(rest[long]).sum())


@pytest.mark.parametrize("seed", range(4))
def test_long_places_are_all_found_without_the_holes_that_lie_apart(seed):
    rng, width = np.random.default_rng(seed), 0.8
    cell = np.stack(np.meshgrid(np.arange(12), np.arange(8)), axis=-1).reshape(-1, 2) * 5.0
    middle = shapely.points(cell + rng.uniform(-0.6, 0.6, cell.shape))
    holes = shapely.buffer(middle, rng.uniform(1.0, 1.4, len(cell)))
    # by some of the holes stands a bar, so near that what is left between is narrow
    few = rng.choice(len(cell), 5, replace=False)
    off = shapely.get_coordinates(middle[few]) + rng.uniform(1.4, 2.6, (5, 1))
    half = np.array([2.0, 0.2])
    bars = shapely.box(*(off - half).T, *(off + half).T)
    plate = shapely.box(-6, -6, 62, 42).difference(shapely.union_all([*holes, *bars]))
    areas = np.array([_largest(plate), shapely.box(80, 0, 90, 9)], dtype=object)
    asked, looked_at = where_narrow(areas, width, LONG)
    assert asked.tolist() == [0]
    assert shapely.get_num_interior_rings(looked_at) < len(cell) * 0.7
    assert _long_places(looked_at[0], width) > 0.1
    assert _long_places(looked_at[0], width) == pytest.approx(
        _long_places(areas[0], width), abs=1e-9
    )


def _largest(shape: shapely.Geometry) -> Polygon:
    return max(shapely.get_parts(shape), key=shapely.area)


def test_no_long_place_is_passed_over_in_drawings():
    drawings = [ornaments.net(np.random.default_rng(6), 12), other.lettering(), other.maze(2)]
    found = 0.0
    for areas in map(_areas, drawings):
        for width in (0.5, 1.2):
            asked, looked_at = where_narrow(areas, width, LONG)
            there = np.zeros(len(areas))
            there[asked] = [_long_places(p, width) for p in looked_at]
            assert there == pytest.approx([_long_places(p, width) for p in areas], abs=1e-9)
            found += there.sum()
    assert found > 0.1


def test_a_round_end_faces_nothing_and_a_slot_does():
    bar = shapely.LineString([(0, 0), (9, 0)]).buffer(0.6)
    ends = shapely.union(bar, shapely.box(2, -3, 7, 3))
    slot = shapely.union(shapely.LineString([(0, 0), (9, 0)]).buffer(0.4), shapely.box(4, -3, 7, 3))
    assert may_be_narrow(np.array([ends, slot], dtype=object), 1.0).tolist() == [False, True]


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


def test_pieces_left_out_along_an_outline_would_face_nothing(monkeypatch):
    """Asked or not, neighbours on an outline that hardly turns change no answer."""
    drawings = (other.lettering(), other.maze(3), ornaments.net(np.random.default_rng(7), 20))
    areas = [_areas(svg) for svg in drawings]
    asked = [(some, width) for some in areas for width in (0.175, 0.7, 2.5)]
    told = [may_be_narrow(some, width) for some, width in asked]
    # nothing turns by less than nothing: every piece is asked
    monkeypatch.setattr(facing, "_HARDLY", -1.0)
    every = [may_be_narrow(some, width) for some, width in asked]
    assert all(map(np.array_equal, told, every))
    assert any(t.any() for t in told)
    assert not all(t.all() for t in told)
