import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from ironlace.ornament.stencils.regions import clipped_to_box

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
