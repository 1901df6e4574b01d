"""Bridges cut by walking shores take what an overlay of polygons takes, and leave no hair."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.ornament.stencils.bridges.ground import Ground
from ironlace.ornament.stencils.regions import as_region

WIDTH = 1.0


def squares(rng):
    """Squares in squares on a grid of half a bridge: corners and edges of bridges lie on shores."""
    out = []
    for n in range(int(rng.integers(1, 4))):
        x = 20.0 * n
        hole = shapely.box(x + 4, 4, x + 4 + rng.integers(1, 16) / 2, 4 + rng.integers(1, 16) / 2)
        inner = hole.buffer(-1.5, join_style="mitre").intersection(shapely.box(x, 0, x + 7.5, 7.5))
        out += [shapely.box(x, 0, x + 16, 16) - hole, inner]
    return as_region(shapely.union_all(out))


def blots(rng):
    """Wobbly openings with wobbly islands, some smaller than a bridge, some beside another."""
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)

    def blot(radius):
        far = radius * (1 + 0.2 * np.cos(rng.integers(2, 7) * turn + rng.uniform(0, 6)))
        at = rng.uniform(-8, 8, 2)
        return shapely.Polygon(at + far[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1))

    whole = shapely.union_all([blot(rng.uniform(4, 9)) for _ in range(3)])
    islands = shapely.union_all([blot(rng.choice([0.3, 1.0, 2.5])) for _ in range(12)])
    return as_region(whole - islands)


def bridges(rng, region, exact):
    """Lines from shore to shore through openings, some crossing, some side by side."""
    rings = shapely.get_rings(shapely.get_parts(region))
    ends = []
    for _ in range(60):
        ring = rings[rng.integers(len(rings))]
        one = shapely.get_coordinates(ring.interpolate(rng.random(), normalized=True))[0]
        two = shapely.get_coordinates(
            rings[rng.integers(len(rings))].interpolate(rng.random(), normalized=True)
        )[0]
        if exact:
            one, two = np.round(2 * one) / 2, np.round(2 * two) / 2
            two[rng.integers(2)] = one[rng.integers(2)] if rng.random() < 0.2 else two[0]
        inner = shapely.LineString([one + 0.01 * (two - one), two + 0.01 * (one - two)])
        if 0.2 < np.linalg.norm(two - one) < 5 and region.covers(inner):
            ends.append((*one, *two))
    return np.array(ends[:8]).reshape(-1, 4)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), exact=st.booleans())
@pytest.mark.filterwarnings("error")
def test_walked_shores_take_and_leave_what_an_overlay_does(seed, exact):
    rng = np.random.default_rng(seed)
    region = squares(rng) if exact else blots(rng)
    if region.is_empty:
        return
    ground = Ground(region, WIDTH)
    lines = bridges(rng, region, exact)
    a, b = lines[:, :2], lines[:, 2:]
    left = ground.without(a, b)
    assert left.is_valid
    shapes = ground.shapes(a, b)
    for shape, (x1, y1, x2, y2) in zip(shapes, lines, strict=True):
        strip = shapely.LineString([(x1, y1), (x2, y2)]).buffer(WIDTH / 2.0, cap_style="square")
        parts = [p for p in shapely.get_parts(strip & region) if p.area > 1e-9]
        middle = shapely.Point((x1 + x2) / 2.0, (y1 + y2) / 2.0)
        most = min(parts, key=middle.distance)
        assert shape.symmetric_difference(most).area < 1e-5
    # by points: overlays of areas that share an edge to rounding go wrong at times
    at = rng.uniform(region.bounds[:2], region.bounds[2:], (2000, 2)).T
    drawn, still = shapely.contains_xy(region, *at), shapely.contains_xy(left, *at)
    taken = np.any([shapely.contains_xy(shape, *at) for shape in shapes], axis=0)
    assert not (still & taken).any() and not (still & ~drawn).any()
    # strips that touch are cut as one, which may take a corner of another opening too
    if all(shapely.dwithin(shapes, s, 1.5 * WIDTH).sum() == 1 for s in shapes):
        assert (drawn == still | taken).all()
        assert abs(region.area - left.area - shapely.area(shapes).sum()) < 1e-5


def test_no_hair_is_left_between_a_bridge_and_a_straight_edge():
    for turn in np.linspace(0.0, 1.5, 16):
        ring = shapely.box(0, 0, 20, 20) - shapely.box(6, 6, 14, 14)
        region = as_region(shapely.affinity.rotate(ring, turn, use_radians=True))
        lines = np.array([[6, 9, 0, 9], [10, 6, 10, 0], [14, 11, 20, 11], [9.3, 14, 9.3, 20.0]])
        turned = shapely.affinity.rotate(
            shapely.MultiPoint(lines.reshape(-1, 2)), turn, origin=ring.centroid, use_radians=True
        )
        ends = shapely.get_coordinates(turned).reshape(-1, 4)
        left = Ground(region, WIDTH).without(ends[:, :2], ends[:, 2:])
        assert len(left.geoms) == 4
        assert not any(part.interiors for part in left.geoms)
        assert abs(left.area - (region.area - 24.0 * WIDTH)) < 1e-9
