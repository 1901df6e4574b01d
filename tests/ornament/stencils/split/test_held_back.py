import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon

import ornaments
from ironlace.ornament.stencils import read_filled
from ironlace.ornament.stencils.split import held_back as room
from ironlace.ornament.stencils.split.held_back import held_back

SPECK = 1e-3


@pytest.fixture(autouse=True)
def walks_of_any_size(monkeypatch):
    monkeypatch.setattr(room, "_MANY", 0)


def region(shape):
    return MultiPolygon([p for p in shapely.get_parts(shape) if isinstance(p, Polygon)])


def cut(drawing, rng, count):
    """A drawing less strips across it, of which some lie on its edges but for rounding."""
    xy = shapely.get_coordinates(drawing)
    begin = xy[rng.integers(0, len(xy) - 1, count)] + rng.normal(0, 0.3, (count, 2))
    end = begin + rng.normal(0, 3.0, (count, 2))
    strips = shapely.buffer(
        shapely.linestrings(np.stack([begin, end], axis=1)), 0.4, cap_style="flat"
    )
    return region(shapely.difference(drawing, shapely.union_all(strips)))


def whole(pieces):
    """How many there are, where hairs of rounding join none."""
    parts = shapely.get_parts(shapely.buffer(pieces, -1e-5, join_style="mitre"))
    return int((shapely.area(parts) > 0.9 * SPECK).sum())


def same(pieces, drawing, sheet):
    """Compared with an overlay of both, by areas."""
    expected = [p for p in region(shapely.difference(drawing, sheet)).geoms if p.area > SPECK]
    assert whole(pieces) == whole(expected)
    assert all(p.is_valid and not p.exterior.is_ccw for p in pieces)
    ours, theirs = shapely.union_all(pieces), shapely.union_all(expected)
    assert shapely.symmetric_difference(ours, theirs).area < 1e-6


@pytest.mark.parametrize("seed", range(4))
def test_tells_what_an_overlay_tells(seed):
    rng = np.random.default_rng(seed)
    drawing = read_filled(ornaments.net(rng, 25)).region
    for count in (1, 30, 200):
        sheet = cut(drawing, rng, count)
        same(held_back(drawing, sheet, SPECK), drawing, sheet)
        # kept the other way round
        turned = shapely.reverse(drawing)
        same(held_back(turned, sheet, SPECK), drawing, sheet)


def test_an_island_within_and_an_opening_without_its_own():
    ring = shapely.Point(0, 0).buffer(10).difference(shapely.Point(0, 0).buffer(6))
    drawing = MultiPolygon([ring, shapely.box(20, 0, 30, 10)])
    hole = shapely.box(23, 3, 26, 6)
    inner = MultiPolygon([shapely.box(20, 0, 30, 10).difference(hole)])
    # the ring is not laid at all, and a square within the box is not
    same(held_back(drawing, inner, SPECK), drawing, inner)
    assert [len(p.interiors) for p in held_back(drawing, inner, SPECK)] == [1, 0]


def test_corners_on_edges_and_on_corners():
    drawing = MultiPolygon([shapely.box(0, 0, 9, 9)])
    for left in (
        shapely.box(0, 0, 4, 9),
        shapely.box(0, 0, 9, 4),
        shapely.box(2, 0, 5, 9),
        shapely.Polygon([(0, 0), (9, 0), (4.5, 4.5), (9, 9), (0, 9)]),
        shapely.Polygon([(0, 0), (9, 0), (0, 9)]),
        MultiPolygon([shapely.box(0, 0, 3, 3), shapely.box(3, 3, 9, 9)]),
    ):
        sheet = region(left)
        same(held_back(drawing, sheet, SPECK), drawing, sheet)


def test_what_is_laid_whole_and_what_lies_beyond():
    drawing = MultiPolygon([shapely.box(0, 0, 9, 9)])
    assert held_back(drawing, drawing, SPECK) == []
    assert held_back(drawing, MultiPolygon([shapely.box(-1, -1, 10, 10)]), SPECK) == []
    assert held_back(drawing, MultiPolygon(), SPECK)[0].equals(drawing)


def test_large_nets_to_the_byte():
    """From so many corners on an overlay puts corners into edges as well."""
    drawing = read_filled(ornaments.net(np.random.default_rng(5), 450)).region
    sheet = cut(drawing, np.random.default_rng(6), 600)
    assert shapely.get_num_coordinates([drawing, sheet]).sum() > 60_000
    expected = [p for p in region(shapely.difference(drawing, sheet)).geoms if p.area > SPECK]
    found = held_back(drawing, sheet, SPECK)
    outlines = [shapely.to_wkb(shapely.get_exterior_ring(p)).tolist() for p in (found, expected)]
    assert outlines[0] == outlines[1]
