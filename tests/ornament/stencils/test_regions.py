import io

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from shapely import MultiPolygon, Point, Polygon, box

from ironlace.ornament.stencils.regions import (
    clipped_to_box,
    cut_from,
    filled_region,
    grouped,
    overlaid,
)

BOX = (2.0, 2.0, 6.0, 5.0)
PLACES = st.tuples(
    st.integers(0, 8), st.integers(0, 8)
)  # whole ones, so that corners lie on the box


@given(st.lists(PLACES, min_size=3, max_size=12))
def test_what_lies_within_the_box_has_the_area_that_the_exact_cut_has(corners):
    shape = shapely.convex_hull(shapely.MultiPoint(corners))
    if not isinstance(shape, shapely.Polygon):
        return
    found = clipped_to_box(shape, BOX)
    assert found.area == pytest.approx(shape.intersection(shapely.box(*BOX)).area)


def test_where_the_quick_cut_refuses_the_exact_one_is_made(monkeypatch):
    def refuses(*_args):
        raise shapely.GEOSException("Invalid number of points in LinearRing found 3")

    monkeypatch.setattr(shapely, "clip_by_rect", refuses)
    found = clipped_to_box(shapely.box(0, 0, 4, 4), BOX)
    assert found.equals(shapely.box(2, 2, 4, 4))


@pytest.mark.parametrize("rule", ["evenodd", "nonzero"])
def test_rings_that_touch_or_overlap_fill_as_another_renderer_fills_them(rule):
    """Corners on a coarse grid, so that rings share corners, edges and themselves; by resvg."""
    resvg = pytest.importorskip("resvg_py")
    rng = np.random.default_rng(12)
    for _ in range(120):
        rings = [
            rng.integers(0, 9, (int(rng.integers(3, 6)), 2)).astype(float)
            for _ in range(int(rng.integers(1, 5)))
        ]
        path = "".join("M" + "L".join(f"{x:g} {y:g}" for x, y in ring) + "Z" for ring in rings)
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="320" height="320" viewBox="0 0 8 8">'
            f'<path fill-rule="{rule}" d="{path}"/></svg>'
        )
        png = bytes(resvg.svg_to_bytes(svg_string=svg, background="white"))
        drawn = 1 - np.asarray(Image.open(io.BytesIO(png)).convert("L"), float) / 255
        region = filled_region(rings, rule)
        assert region.is_valid
        assert region.area == pytest.approx(drawn.sum() / 1600, abs=0.08), path


@pytest.mark.parametrize("first", range(4))
@pytest.mark.parametrize("hole", [[(0, 0), (1, 2), (2, 1)], [(0, 0), (2, 0), (2, 2)]])
def test_a_hole_that_touches_its_outline_anywhere_is_a_hole(first, hole):
    square = np.roll(np.array([(0, 0), (4, 0), (4, 4), (0, 4)], float), first, axis=0)
    for turned in range(3):
        ring = np.roll(np.array(hole, float), turned, axis=0)
        area = filled_region([square, ring], "evenodd").area
        assert area == pytest.approx(16 - Polygon(ring).area)


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_a_region_is_cut_as_a_whole_or_part_by_part(seed):
    rng = np.random.default_rng(seed)
    discs = [Point(x, y).buffer(rng.uniform(0.5, 1.9)) for x in range(0, 20, 4) for y in (0, 4, 8)]
    region = MultiPolygon(discs)
    cuts = [box(x, y, x + rng.uniform(0.2, 5), y + 0.5) for x, y in rng.uniform(-2, 20, (12, 2))]
    whole = region.difference(shapely.union_all(cuts))
    assert cut_from(region, cuts).symmetric_difference(whole).area < 1e-9


def test_an_overlay_of_a_shape_that_crosses_itself_is_mended_not_refused():
    bow = Polygon([(0, 0), (4, 4), (4, 0), (0, 4)])
    window = shapely.box(1, -1, 3, 5)
    with pytest.raises(shapely.GEOSException):
        shapely.intersection(bow, window)
    assert abs(overlaid(shapely.intersection, bow, window).area - 2.0) < 1e-5


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_few_shapes_are_grouped_as_many_are(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 20))
    one, two = rng.integers(0, count, (2, int(rng.integers(0, 25))))
    few = np.empty(count, dtype=object)
    few[:] = range(count)
    # the same beside forty that stand alone
    many = np.empty(count + 40, dtype=object)
    many[:] = range(count + 40)
    told = [group.tolist() for group in grouped(few, one, two)]
    assert told == [group.tolist() for group in grouped(many, one, two)][: len(told)]
    assert sorted(n for group in told for n in group) == list(range(count))
