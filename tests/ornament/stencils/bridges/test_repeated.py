"""What is alike is bridged alike; what is not, or could not bear it, keeps its own bridges."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import Point, affinity

import ornaments
from ironlace.ornament.stencils import Wishes, known_process, plan_sheets, read_filled

LEAF = shapely.Polygon([(-4, 0), (-2, -2.2), (1, -2.6), (4, 0), (1.5, 2.4), (-2.5, 1.6)])
VEIN = affinity.scale(LEAF, 0.45, 0.45, origin=(0, 0))
PROCESS = known_process("film-laser")


def svg(shapes, wide=120.0, high=60.0):
    rings = [r for s in shapes for p in shapely.get_parts(s) for r in (p.exterior, *p.interiors)]
    d = "".join("M" + "L".join(f"{x:.5f} {y:.5f}" for x, y in r.coords[:-1]) + "Z" for r in rings)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" '
        f'viewBox="0 0 {wide} {high}"><path fill-rule="evenodd" d="{d}"/></svg>'
    )


def placed(shape, x, y, turn=0.0, size=1.0, flip=False):
    shape = affinity.scale(shape, size, -size if flip else size, origin=(0, 0))
    return affinity.translate(affinity.rotate(shape, turn, origin=(0, 0)), x, y)


def back(xy, x, y, turn=0.0, size=1.0, flip=False):
    """Points as they lie on the shape before it was placed; shares nothing with the planner."""
    turned = np.radians(-turn)
    c, s = np.cos(turned), np.sin(turned)
    xy = (np.asarray(xy) - (x, y)) @ np.array([[c, s], [-s, c]]) / size
    return xy * (1.0, -1.0) if flip else xy


PLACES = [
    (15, 15, 0.0, 1.0, False),
    (42, 17, 71.0, 1.0, False),
    (70, 14, -140.0, 1.0, True),
    (98, 19, 23.0, 1.25, False),
    (20, 43, 190.0, 0.9, True),
]


def feet(bridges, place):
    """Middles of the bridges near a place, brought back, in order."""
    middles = np.array([((b.ax + b.bx) / 2, (b.ay + b.by) / 2) for b in bridges])
    near = np.hypot(*(middles - place[:2]).T) < 8.0
    found = back(middles[near], *place)
    return found[np.lexsort(found.T)]


def test_turned_mirrored_and_larger_leaves_are_bridged_alike_but_what_is_locked_stays():
    rings = [placed(LEAF.difference(VEIN), *place) for place in PLACES]
    # another shape of the same area, and a round one, are no leaves of this kind
    other = placed(Point(0, 0).buffer(4.0).difference(Point(0.8, 0).buffer(1.6)), 60, 44)
    drawing = svg([*rings, other])
    plan = plan_sheets(drawing, PROCESS, "bridges")
    bridges = [b.line for b in plan.layers[0].bridges]
    assert [s["pieces"] for s in plan.report["sheets"]] == [1]
    first = feet(bridges, PLACES[0])
    assert len(first) == 2 and len(bridges) >= 2 * len(PLACES) + 1
    for place in PLACES[1:]:
        assert feet(bridges, place) == pytest.approx(first, abs=0.05)
    gone = bridges[0]
    moved = replace(gone, ax=gone.ax + 0.5, bx=gone.bx + 0.5)
    wishes = Wishes(locked=(moved,), kept=tuple(bridges[1:]))
    changed = plan_sheets(drawing, PROCESS, "bridges", wishes=wishes)
    again = [b.line for b in changed.layers[0].bridges]
    assert set(bridges[1:]) < set(again)
    assert sum(np.hypot(b.ax - moved.ax, b.ay - moved.ay) < 0.3 for b in again) == 1


def test_a_leaf_that_is_thicker_where_the_others_are_thin_keeps_its_own():
    thin = LEAF.difference(affinity.translate(VEIN, -0.9, 0.0))
    thick = LEAF.difference(affinity.translate(VEIN, 1.1, 0.0))
    places = [(15, 15), (42, 15), (70, 15)]
    rings = [placed(thin, *at) for at in places[:2]] + [placed(thick, *places[2])]
    plan = plan_sheets(svg(rings), PROCESS, "bridges")
    bridges = [b.line for b in plan.layers[0].bridges]
    one, two, odd = (feet(bridges, (*at, 0.0, 1.0, False)) for at in places)
    assert one == pytest.approx(two, abs=0.05)
    lengths = {
        n: sum(np.hypot(b.ax - b.bx, b.ay - b.by) for b in bridges if abs(b.ax - at[0]) < 8)
        for n, at in enumerate(places)
    }
    assert len(one) == len(odd) == 2
    # nowhere is a bridge longer than it need be, for the sake of looking like its neighbours
    assert lengths[2] < 1.2 * lengths[0] + 0.1
    assert [s["pieces"] for s in plan.report["sheets"]] == [1]


@pytest.mark.parametrize("turn", [0.0, 71.0, 133.0])
def test_a_bridge_that_ends_on_a_straight_edge_leaves_no_hair(turn):
    # a square in a square: the ends of all bridges lie in the middle of edges
    frame = shapely.box(-7, -7, 7, 7).difference(shapely.box(-5, -5, 5, 5))
    plan = plan_sheets(svg([placed(frame, 30, 30, turn)], 60.0), PROCESS, "bridges")
    lengths = [b.length_mm for b in plan.layers[0].bridges]
    assert min(lengths) > 1.9 and len(lengths) <= 4
    # every opening ends where the bridge begins: nothing is as fine as a hair
    openings = shapely.get_parts(plan.sheets[0].openings)
    assert shapely.area(openings).min() > 1.0
    assert not shapely.get_num_interior_rings(openings).any()


def test_a_net_and_its_mirror_image_are_bridged_in_pairs():
    # islands of a net hang on one another: the lightest half of each pair would lengthen the ways
    net = read_filled(ornaments.net(np.random.default_rng(3), 30)).region
    left, _, right, high = net.bounds
    axis = right + 2.0
    both = [net, affinity.scale(net, -1.0, 1.0, origin=(axis, 0.0))]
    plan = plan_sheets(svg(both, 2.0 * axis - left + 5.0, high + 5.0), PROCESS, "bridges")
    lines = [b.line for b in plan.layers[0].bridges]
    middles = np.array([((b.ax + b.bx) / 2, (b.ay + b.by) / 2) for b in lines])
    mirrored = middles * (-1.0, 1.0) + (2.0 * axis, 0.0)
    away = np.hypot(*(middles[:, None] - mirrored[None]).T).min(axis=0)
    assert len(lines) > 60 and away.max() < 0.1
