"""Small islands told by their light: dots of gilt, flecks of rust, and a person's word."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.affinity import translate

from ironlace.evidence.grades import Grade
from ironlace.ornament.gather.flecks import FLECK, _of_two_kinds, flecks_conjectured
from ironlace.ornament.outline.drawing import ClosedPath, Drawing
from ironlace.photographs.flat_picture import COARSE_STEP, Flat

PX = 12.0
SIDE = 70.0
GILT = np.array([0.34, 0.2, 0.1])
GROUND = np.array([0.02, 0.02, 0.022])
STROKE = shapely.box(5.0, 5.0, 65.0, 8.0)


def _ring(shape: shapely.Polygon) -> ClosedPath:
    corners = shapely.get_coordinates(shapely.normalize(shape).exterior)[:-1][::-1]
    if not shapely.LinearRing(corners).is_ccw:
        corners = corners[::-1]
    ends = np.roll(corners, -1, axis=0)
    share = np.linspace(0, 1, 4)[None, :, None]
    return ClosedPath.of(corners[:, None] * (1 - share) + ends[:, None] * share)


def scene(spots: list[shapely.Polygon], light: np.ndarray) -> tuple[Drawing, Flat]:
    """A gilt stroke and spots, each of its own share of the gilt's light."""
    n = round(SIDE * PX)
    at = (np.arange(n) + 0.5) / PX
    x, y = np.meshgrid(at, at)
    amount = np.where(shapely.contains_xy(STROKE, x, y), 1.0, 0.0)
    for spot, share in zip(spots, light, strict=True):
        amount = np.where(shapely.contains_xy(spot, x, y), share, amount)
    picture = GROUND + amount[..., None] * GILT
    coarse = (n // COARSE_STEP + 4, n // COARSE_STEP + 4)
    flat = Flat(
        (np.clip(picture, 0, 1) * 65535).astype(np.uint16),
        PX,
        (0.0, 0.0),
        np.zeros((n, n), np.uint8),
        np.full(coarse, 12.0, np.float32),
        np.ones(coarse, np.float32),
        np.ones((*coarse, 3), np.float32),
    )
    paths = tuple(_ring(shape) for shape in (STROKE, *spots))
    return Drawing(paths, (0.0, 0.0, SIDE, SIDE), {"gold": (200, 160, 60)}), flat


def spots(rng: np.random.Generator, count: int) -> list[shapely.Polygon]:
    return [
        translate(
            shapely.Point(0, 0).buffer(rng.uniform(0.3, 0.8)), 7 + 4 * (k % 15), 14 + 5 * (k // 15)
        )
        for k in range(count)
    ]


@pytest.mark.parametrize("thin", [1.0, 0.75])
def test_dots_of_one_leaf_are_believed_also_where_it_lies_thin(thin: float):
    rng = np.random.default_rng(1)
    drawing, flat = scene(spots(rng, 40), thin * rng.uniform(0.93, 1.07, 40))
    told, found = flecks_conjectured(drawing, flat)
    assert told is drawing
    assert (found.unlike, found.small, found.length_mm) == (0, 40, 0.0)


def test_where_many_shine_unlike_all_small_islands_are_conjectured_but_those_vouched_for():
    rng = np.random.default_rng(2)
    shapes = spots(rng, 40)
    light = np.r_[np.ones(15), rng.uniform(0.3, 0.9, 25)]
    drawing, flat = scene(shapes, light)
    dot = shapes[3].centroid
    told, found = flecks_conjectured(drawing, flat, [(dot.x, dot.y)])
    assert found.small == 39
    assert found.unlike >= 8
    assert set(told.paths[0].grades) == set(told.paths[4].grades) == {Grade.SEEN}
    assert all(set(path.sources) == {FLECK} for n, path in enumerate(told.paths) if n not in (0, 4))
    assert found.length_mm == pytest.approx(told.length_by_source()[FLECK], rel=1e-6)


def test_a_few_odd_spots_are_left_to_the_eye():
    rng = np.random.default_rng(3)
    drawing, flat = scene(spots(rng, 40), np.r_[np.ones(35), np.full(5, 0.3)])
    assert flecks_conjectured(drawing, flat)[1].length_mm == 0.0


@pytest.mark.parametrize(("dull", "told"), [(0.75, True), (0.93, False)])
def test_islands_of_two_kinds_of_light_are_doubted_and_of_one_that_varies_are_not(dull, told):
    rng = np.random.default_rng(7)
    drawing, flat = scene(spots(rng, 40), np.r_[np.full(20, dull), np.ones(20)])
    found = flecks_conjectured(drawing, flat)[1]
    assert (found.unlike, found.length_mm > 0.0) == ((20, True) if told else (0, False))


def test_drops_whose_light_spreads_evenly_are_of_one_kind():
    # as drops of a brush under a hand's shadow: as wide a spread as of two kinds, and none apart
    evenly = np.linspace(0.85, 1.3, 60)
    apart = np.concatenate([np.linspace(0.86, 0.93, 30), np.linspace(1.17, 1.28, 30)])
    known = np.ones(60, bool)
    assert not _of_two_kinds(evenly, known).any()
    assert _of_two_kinds(apart, known).sum() == 30


def test_two_kinds_are_not_looked_for_in_a_handful():
    rng = np.random.default_rng(8)
    drawing, flat = scene(spots(rng, 20), np.r_[np.full(10, 0.75), np.ones(10)])
    assert flecks_conjectured(drawing, flat)[0] is drawing
