"""The order of weeding: nothing is pulled out from around what is still to be pulled out."""

import numpy as np
from shapely import MultiPolygon, Point, Polygon, box

from ironlace.ornament.stencils.planning.weeding import weeding_order


def test_inner_parts_go_before_the_one_around_them():
    ring = Polygon(box(10, 0, 50, 40).exterior, [box(15, 5, 45, 35).exterior])
    inner = box(20, 30, 30, 33)
    far, near = box(0, 0, 5, 5), box(0, 60, 5, 65)
    order = weeding_order(MultiPolygon([near, ring, inner, far]))
    places = [Point(part.where_mm) for part in order]
    ranks = {
        name: next(n for n, at in enumerate(places) if shape.contains(at))
        for name, shape in (("far", far), ("inner", inner), ("ring", ring), ("near", near))
    }
    assert ranks["inner"] < ranks["ring"] < ranks["near"]
    assert ranks["far"] < ranks["near"]
    assert [part.number for part in order] == [1, 2, 3, 4]
    assert next(part for part in order if part.area_mm2 > 500).islands == 1


def test_every_part_is_weeded_once_and_bands_go_down():
    rng = np.random.default_rng(4)
    at = np.stack(np.meshgrid(np.arange(12) * 9.0, np.arange(10) * 9.0), -1).reshape(-1, 2)
    discs = [Point(x, y).buffer(rng.uniform(1, 4)) for x, y in rng.permutation(at)]
    order = weeding_order(MultiPolygon(discs))
    assert len(order) == len(discs)
    y = np.array([part.where_mm[1] for part in order])
    assert (np.maximum.accumulate(y) - y).max() < 20.0 + 8.0
    assert weeding_order(MultiPolygon()) == ()
