"""No island hangs on the sheet through a long string of others; by a graph library's own count."""

import networkx as nx
import numpy as np
import pytest
import shapely

import ornaments
from ironlace.ornament.stencils import Wishes, plan_sheets
from ironlace.ornament.stencils.bridges.chains import MOST_HOPS, _LightestFree, hops
from ironlace.ornament.stencils.bridges.spans import BridgeSpans
from ironlace.ornament.stencils.parts import shores


@pytest.mark.parametrize("seed", range(20))
def test_hops_are_those_of_a_graph_library(seed):
    graph = nx.gnm_random_graph(14, 16, seed=seed)
    ends = np.array(graph.edges).T
    found = hops(ends[0], ends[1], 14)
    true = nx.single_source_shortest_path_length(graph, 0)
    assert found.tolist() == [true.get(part, -1) for part in range(14)]


def hung(plan):
    """Bridges from each island to the sheet, over the bridges of a plan as they were drawn."""
    layer = plan.layers[0]
    shore = shores(layer.drawn)
    rings = np.array([shapely.linearrings(ring) for ring in shore.rings], dtype=object)
    graph = nx.Graph()
    for bridge in layer.bridges:
        ends = np.array([[bridge.line.ax, bridge.line.ay], [bridge.line.bx, bridge.line.by]])
        parts = [
            int(shore.part[int(np.argmin(shapely.distance(rings, shapely.Point(end))))])
            for end in ends
        ]
        graph.add_edge(*parts)
    return nx.single_source_shortest_path_length(graph, 0), len(shore.island_shapes())


def test_a_field_of_islands_is_tied_to_the_sheet_on_its_way(laser):
    drawing = ornaments.ornament(4)
    plan = plan_sheets(drawing, laser, "bridges")
    far, islands = hung(plan)
    assert islands > 40
    assert max(far.values()) <= MOST_HOPS
    assert plan.report["sheets"][0]["pieces"] == 1
    # it stays as it is when it is planned again from what was kept
    kept = tuple(bridge.line for bridge in plan.layers[0].bridges)
    again = plan_sheets(drawing, laser, "bridges", wishes=Wishes(kept=kept))
    assert len(again.layers[0].bridges) == len(kept)


def test_of_all_spans_between_two_parts_the_lightest_that_stands_clear_is_offered():
    rng = np.random.default_rng(8)
    ends = np.sort([rng.choice(6, 2, replace=False) for _ in range(120)], axis=1)
    at, weight = rng.uniform(0.0, 10.0, (120, 2)), np.round(rng.uniform(1.0, 3.0, 120), 1)
    spans = BridgeSpans(ends[:, 0], ends[:, 1], at - 0.2, at + 0.2, weight, weight)
    free = _LightestFree(spans, np.arange(120), 6, 1.5)
    left = np.arange(120)
    while len(left):
        lightest = {}
        for n in sorted(left.tolist(), key=lambda n: (weight[n], n)):
            lightest.setdefault(tuple(ends[n].tolist()), n)
        assert sorted(free.span.tolist()) == sorted(lightest.values())
        best = int(rng.choice(free.span))
        free.build(best)
        left = left[np.hypot(*(at[left] - at[best]).T) >= 1.5]
    assert len(free.span) == 0
