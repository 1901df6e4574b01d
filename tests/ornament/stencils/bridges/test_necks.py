"""What hangs on one narrow place of the drawing's own, by cutting and looking."""

import networkx as nx
import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon, box

import judged_sheets as judge
import other_ornaments as other
from ironlace.ornament.stencils import Forbidden, Wishes, places_for, plan_sheets, read_filled
from ironlace.ornament.stencils.bridges.ground import Ground
from ironlace.ornament.stencils.bridges.necks import (
    _falls,
    cut_through,
    hanging_on_one,
    narrow_places,
)
from ironlace.ornament.stencils.planning.in_words import plan_faults

PAGE = '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">'


def ring_with_a_gap(gap, width=3.0):
    """A square ring, open by a gap: the field in it hangs there."""
    ring = box(8, 8, 32, 32).difference(box(8 + width, 8 + width, 32 - width, 32 - width))
    return MultiPolygon([ring.difference(box(28, 20 - gap / 2, 33, 20 + gap / 2))])


def svg_of(region):
    d = " ".join(
        "M" + " L".join(f"{x} {y}" for x, y in r.coords) + "Z"
        for p in region.geoms
        for r in (p.exterior, *p.interiors)
    )
    return f'{PAGE}<path fill-rule="evenodd" d="{d}"/></svg>'


@pytest.mark.parametrize(("gap", "hangs"), [(0.75, True), (0.85, True), (1.0, False)])
def test_a_field_in_a_ring_with_a_gap_hangs_there_if_that_is_no_wider_than_a_bridge(gap, hangs):
    reaches = cut_through(ring_with_a_gap(gap), narrow_places(ring_with_a_gap(gap), 0.8))
    found = hanging_on_one(reaches, 2.5, 0.8)
    assert len(found) == hangs
    for hung in found:
        assert hung.extent_mm == pytest.approx(18 * np.sqrt(2), abs=3.0)


@pytest.mark.parametrize(("gap", "hold"), [(0.3, "bridges"), (0.75, "split"), (0.85, "bridges")])
def test_the_field_gets_a_bridge_away_from_the_gap(gap, hold, laser):
    plan = plan_sheets(svg_of(ring_with_a_gap(gap)), laser, hold)
    (bridge,) = plan.layers[0].bridges
    assert np.hypot((bridge.line.ax + bridge.line.bx) / 2 - 30, bridge.line.ay - 20) > 8
    window = (0, 0, 40, 40)
    film = judge.film_of(plan.sheets[0].svg(), window)
    assert max((extent for extent, *_ in judge.hung_on_one(film, 0.8)), default=0.0) < 3.5


def test_it_stays_when_planned_again_can_be_moved_and_is_told_where_it_may_not_stand(laser):
    svg = svg_of(ring_with_a_gap(0.8))
    (bridge,) = plan_sheets(svg, laser, "bridges").layers[0].bridges
    (again,) = (
        plan_sheets(svg, laser, "bridges", wishes=Wishes(kept=(bridge.line,))).layers[0].bridges
    )
    assert again.line == bridge.line
    places = places_for(read_filled(svg).region, laser, bridge.line)
    assert len(places) > 40
    other_place = places[len(places) // 2][0]
    moved = plan_sheets(svg, laser, "bridges", wishes=Wishes(locked=(other_place,)))
    (one,) = moved.layers[0].bridges
    assert one.locked
    assert np.hypot(one.line.ax - other_place.ax, one.line.ay - other_place.ay) < 0.1
    nowhere = Wishes(forbidden=(Forbidden(20, 20, 19),))
    left = plan_sheets(svg, laser, "bridges", wishes=nowhere)
    assert left.layers[0].bridges == ()
    (weak,) = [w for w in left.report["weak"] if w["kind"] == "neck"]
    assert weak["where_mm"] == pytest.approx([30.5, 20], abs=2.0)
    assert weak["width_mm"] == pytest.approx(0.8, abs=0.02)
    assert weak["length_mm"] > 20
    (told,) = [line for line in plan_faults(left) if "narrow place" in line]
    assert told.startswith("1 field of film hangs on one narrow place")


@pytest.mark.parametrize("seed", [4, 6])
def test_cut_one_by_one_nothing_large_falls(seed, laser):
    ground = Ground(read_filled(other.maze(seed)).region, laser.bridge_width_mm)
    reaches = ground.reaches()
    assert len(reaches.cuts) > 2
    outlines = reaches.shore.outlines
    graph = nx.MultiGraph()
    graph.add_nodes_from(range(reaches.shore.parts))
    graph.add_edges_from(reaches.sides.tolist())
    told = {hung.cut: hung for hung in hanging_on_one(reaches, 2.5, 0.8)}
    held = nx.node_connected_component(graph, 0)
    for n, (a, b) in enumerate(reaches.sides.tolist()):
        rest = graph.copy()
        rest.remove_edge(a, b)
        fallen = sorted(held - nx.node_connected_component(rest, 0))
        wide = [p for p in fallen if not outlines[p - 1].buffer(-0.56 * 0.8).is_empty]
        across = (
            2 * shapely.minimum_bounding_radius(MultiPolygon(list(outlines[np.array(fallen) - 1])))
            if fallen
            else 0.0
        )
        assert (n in told) == (across > 2.5 and bool(wide))
        if n in told:
            assert told[n].parts.tolist() == fallen


def test_where_nothing_is_narrow_nothing_is_cut():
    whole = MultiPolygon([Polygon([(0, 0), (9, 0), (9, 9), (0, 9)])])
    assert len(narrow_places(whole, 0.8)) == 0
    assert hanging_on_one(cut_through(whole, np.zeros((0, 2, 2))), 2.5, 0.8) == []


@pytest.mark.parametrize("seed", range(10))
def test_what_falls_with_a_cut_is_what_a_graph_library_no_longer_reaches_without_it(seed):
    graph = nx.gnm_random_graph(12, 14, seed=seed)
    sides = np.array([*graph.edges, next(iter(graph.edges))])
    found = {cut: parts.tolist() for cut, parts in _falls(sides, 12)}
    whole = nx.node_connected_component(graph, 0)
    true = {}
    for cut in range(len(sides)):
        rest = nx.Graph(np.delete(sides, cut, axis=0).tolist())
        rest.add_node(0)
        if fallen := whole - nx.node_connected_component(rest, 0):
            true[cut] = sorted(fallen)
    assert found == true
