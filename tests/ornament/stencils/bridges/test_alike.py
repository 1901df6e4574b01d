"""Bridges of an ornament that is its own mirror image stand in mirrored pairs."""

import numpy as np
import pytest
import shapely
from shapely import affinity

import ornaments
import other_ornaments as other
from ironlace.ornament.stencils import plan_sheets, read_filled
from ironlace.ornament.stencils.bridges.mirrored import MirrorAxis, mirror_axes
from ironlace.ornament.stencils.parts import shores


def middles(plan):
    lines = [bridge.line for bridge in plan.layers[0].bridges]
    return np.array([((b.ax + b.bx) / 2, (b.ay + b.by) / 2) for b in lines])


def off(at, centre, degrees):
    """How far the farthest bridge lies off the image of another, about an axis; (0, 1) is 90."""
    turn = 2.0 * np.radians(degrees)
    flip = np.array([[np.cos(turn), np.sin(turn)], [np.sin(turn), -np.cos(turn)]])
    image = (at - centre) @ flip + centre
    return np.linalg.norm(image[:, None] - at[None], axis=2).min(axis=1).max()


def turned(svg, degrees):
    begin, end = svg.index(">") + 1, svg.rindex("</svg>")
    return f'{svg[:begin]}<g transform="rotate({degrees} 26 26)">{svg[begin:end]}</g></svg>'


@pytest.mark.parametrize("hold", ["bridges", "split"])
@pytest.mark.parametrize("folds", [5, 7, 8])
def test_a_rosette_has_bridges_in_pairs(folds, hold, laser):
    plan = plan_sheets(other.rosette(folds), laser, hold)
    at = middles(plan)
    assert len(at) > 15 and off(at, 26.0, 90.0) < 0.3
    assert all(sheet["pieces"] == 1 for sheet in plan.report["sheets"])
    if folds == 8:
        # once about both axes; a cost of a sixth of their area is not too much for that
        assert off(at, 26.0, 0.0) < 0.3


def test_a_rosette_of_twelve_has_too(laser):
    at = middles(plan_sheets(other.rosette(12), laser, "bridges"))
    assert min(off(at, 26.0, 90.0), off(at, 26.0, 0.0)) < 0.3


@pytest.mark.parametrize(("folds", "degrees"), [(5, 11.0), (7, 31.0), (8, 9.0)])
def test_so_has_one_that_stands_aslant(folds, degrees, laser):
    at = middles(plan_sheets(turned(other.rosette(folds), degrees), laser, "bridges"))
    # the first axis of a rosette is upright: from one to the next is half a petal
    axes = 90.0 + degrees + 180.0 / folds * np.arange(folds)
    assert min(off(at, 26.0, axis) for axis in axes) < 0.3


@pytest.mark.parametrize("hold", ["bridges", "split"])
def test_a_border_and_its_mirror_image_are_bridged_in_pairs(hold, laser):
    one = read_filled(ornaments.border(np.random.default_rng(41), 3)).region
    right = one.bounds[2] + 2.0
    both = shapely.union_all([one, affinity.scale(one, -1.0, 1.0, origin=(right, 0.0))])
    rings = [r for p in both.geoms for r in (p.exterior, *p.interiors)]
    d = "".join("M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in r.coords[:-1]) + "Z" for r in rings)
    body = f'<path fill-rule="evenodd" d="{d}"/>'
    at = middles(plan_sheets(ornaments.page(2 * right, both.bounds[3] + 3, body), laser, hold))
    assert len(at) >= 8 and off(at, np.array([right, 0.0]), 90.0) < 0.3


def test_what_is_no_mirror_image_keeps_the_lightest_bridges(laser):
    svg = other.maze(3, 30.0)
    region = read_filled(svg).region
    assert mirror_axes(shores(region), laser.bridge_width_mm) == []
    at = middles(plan_sheets(svg, laser, "bridges"))
    assert len(at) and min(off(at, region.centroid.coords[0], d) for d in range(0, 180, 15)) > 1.0


@pytest.mark.parametrize("degrees", [0.0, 7.3, 29.0, 58.0])
def test_a_second_axis_is_square_to_the_first(degrees, laser):
    region = affinity.rotate(read_filled(other.rosette(8)).region, degrees, origin=(26, 26))
    axes = mirror_axes(shores(region), laser.bridge_width_mm)
    assert len(axes) == 2 and abs(axes[0].along @ axes[1].along) < 1e-9
    assert all(isinstance(axis, MirrorAxis) for axis in axes)
