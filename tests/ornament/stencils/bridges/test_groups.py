"""What holds a group, by cutting and looking; and bridges that stand as the ornament does."""

import networkx as nx
import numpy as np
import pytest

import other_ornaments as other
from ironlace.ornament.stencils import plan_sheets
from ironlace.ornament.stencils.bridges.groups import holding
from ironlace.ornament.stencils.bridges.mirrored import MirrorAxis, mirror_axes
from ironlace.ornament.stencils.filled_svg import read_filled
from ironlace.ornament.stencils.parts import shores


@pytest.mark.parametrize("seed", range(20))
def test_what_holds_a_part_is_what_must_be_cut_before_it_falls_with_all_that_hangs_on_it(seed):
    graph = nx.gnm_random_graph(11, 13, seed=seed)
    graph.add_edge(0, 1)
    graph = graph.subgraph(nx.node_connected_component(graph, 0))
    part_a, part_b = np.array(graph.edges).T
    for part, held in enumerate(holding(part_a, part_b, 11)):
        if part == 0 or part not in graph:
            assert len(held) == 0
            continue
        rest = graph.copy()
        rest.remove_node(part)
        others = nx.node_connected_component(rest, 0)
        true = [
            e
            for e, (a, b) in enumerate(graph.edges)
            if (a == part and b in others) or (b == part and a in others)
        ]
        assert held.tolist() == true


def middles(plan):
    lines = [bridge.line for bridge in plan.layers[0].bridges]
    return np.array([((b.ax + b.bx) / 2, (b.ay + b.by) / 2) for b in lines])


def test_a_medallion_is_held_by_mirrored_pairs_and_every_disc_all_round(laser):
    svg = other.rosette(4)
    at = middles(plan_sheets(svg, laser, "bridges"))
    for axis in (0, 1):
        turned = at.copy()
        turned[:, axis] = 52.0 - turned[:, axis]
        away = np.linalg.norm(turned[:, None] - at[None], axis=2).min(axis=1)
        assert away.max() < 0.3
    # the outer ring and the disc within want three bridges each, two of them far apart
    radius = np.hypot(*(at - 26.0).T)
    for low, high, extent in ((20.0, 23.0, 40.8), (18.0, 20.0, 37.0)):
        own = at[(radius > low) & (radius < high)]
        assert len(own) >= 3
        gaps = np.linalg.norm(own[:, None] - own[None], axis=2)
        assert gaps.max() >= 0.45 * extent


def test_an_axis_is_found_where_there_is_one_and_only_there(laser):
    round_one = shores(read_filled(other.rosette()).region)
    assert len(mirror_axes(round_one, laser.bridge_width_mm)) == 2
    for svg in (other.maze(0, 26.0), other.lettering("Jab", 12.0), other.vine(1, 12)):
        assert mirror_axes(shores(read_filled(svg).region), laser.bridge_width_mm) == []
    axis = MirrorAxis(np.array([3.0, 4.0]), np.array([0.6, 0.8]))
    points = np.random.default_rng(1).uniform(-9, 9, (20, 2))
    assert axis.mirrored(axis.mirrored(points)) == pytest.approx(points)
    assert axis.aside(axis.mirrored(points)) == pytest.approx(-axis.aside(points))


@pytest.mark.parametrize("seed", range(5))
def test_what_is_loose_is_held_by_nothing_and_two_bridges_side_by_side_are_both_counted(seed):
    graph = nx.gnm_random_graph(14, 12, seed=seed)
    ends = np.array([*graph.edges, (0, 13), (13, 0)])
    loose = set(range(14)) - nx.node_connected_component(nx.Graph(ends.tolist()), 0)
    held = holding(*ends.T, 14)
    assert loose
    assert all(len(held[part]) == 0 for part in loose)
    assert {12, 13} <= set(held[13].tolist())
