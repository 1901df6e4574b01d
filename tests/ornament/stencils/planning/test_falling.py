import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, box

import ornaments
from ironlace.ornament.stencils import StencilError, read_filled, what_falls_out
from ironlace.ornament.stencils.planning.falling import (
    checked_euler,
    extents,
    without_small_islands,
)
from ironlace.ornament.stencils.planning.raster_proof import filled, raster_over


@pytest.mark.parametrize("seed", range(6))
def test_islands_agree_with_the_euler_number_of_a_picture(seed, laser):
    from skimage.measure import euler_number, label

    region = read_filled(ornaments.ornament(seed)).region
    found = what_falls_out(region, laser)
    left, top, right, bottom = region.bounds
    raster = raster_over((left - 1, top - 1, right + 1, bottom + 1), 25.0)
    rings = [np.array(r.coords)[:-1] for p in region.geoms for r in (p.exterior, *p.interiors)]
    painted = filled(rings, raster)
    assert euler_number(painted, connectivity=2) == found.euler
    assert label(~painted, connectivity=1).max() - 1 == len(found.islands)


def test_islands_within_islands_are_counted_and_measured(laser):
    rings = [
        Point(0, 0).buffer(20, 64).difference(Point(0, 0).buffer(15, 64)),
        Point(0, 0).buffer(10, 64).difference(Point(0, 0).buffer(5, 64)),
    ]
    found = what_falls_out(MultiPolygon(rings), laser)
    assert [round(p.area) for p in found.islands] == [
        round(np.pi * (15**2 - 10**2)),
        round(np.pi * 25),
    ]
    assert found.euler == 0


def test_numbers_that_do_not_add_up_are_refused():
    with pytest.raises(StencilError, match="do not fit"):
        checked_euler(MultiPolygon([box(0, 0, 1, 1)]), 1)


def test_small_islands_are_filled_and_told():
    region = MultiPolygon(
        [box(0, 0, 20, 20).difference(box(2, 2, 2.3, 2.3)).difference(box(8, 8, 12, 12))]
    )
    after, gone = without_small_islands(region, 0.25)
    assert [round(p.area, 3) for p in gone] == [0.09]
    assert after.area == pytest.approx(400 - 16)


def test_extents_that_are_known_are_taken_over_and_others_are_measured(laser):
    before = box(0, 0, 40, 20).difference(box(5, 5, 8, 9)).difference(box(20, 5, 26, 13))
    known = what_falls_out(MultiPolygon([before]), laser)
    moved = np.array([box(5, 5, 8, 9), box(20, 5, 25, 17)], dtype=object)
    moved[0] = shapely.Polygon(known.islands[1].exterior)
    assert extents(moved, known).tolist() == pytest.approx([5.0, 13.0])
    assert known.extents.tolist() == pytest.approx([10.0, 5.0])
    known.extents[1] = 7.0
    assert extents(moved, known).tolist() == pytest.approx([7.0, 13.0])
