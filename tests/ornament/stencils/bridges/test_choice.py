import networkx as nx
import numpy as np
import pytest
import shapely

import hung_sheets
import optimum
import ornaments
from ironlace.ornament.stencils import HoldingError, known_process, plan_sheets, read_filled
from ironlace.ornament.stencils.bridges import choice
from ironlace.ornament.stencils.bridges.choice import (
    HoldWanted,
    _neighbours,
    _Search,
    _Ways,
    choose_spans,
    single_links,
)
from ironlace.ornament.stencils.bridges.ground import Ground
from ironlace.ornament.stencils.bridges.spans import BridgeSpans, find_spans
from ironlace.ornament.stencils.parts import shores
from ironlace.ornament.stencils.planning.falling import extents


def spans_of(a, b, at_a, at_b, weight):
    return BridgeSpans(np.array(a), np.array(b), np.array(at_a), np.array(at_b), weight, weight)


def random_spans(rng, parts, count):
    """A connected graph of spans with made-up places and weights."""
    middle = rng.uniform(0, 30, (parts, 2))
    pairs = [(i, int(rng.integers(0, i))) for i in range(1, parts)]
    while len(pairs) < count:
        i, j = rng.integers(0, parts, 2)
        if i != j:
            pairs.append((int(i), int(j)))
    a, b = np.array(pairs).T
    turn = rng.uniform(0, 2 * np.pi, (2, len(a)))
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=2) * 3
    return spans_of(a, b, middle[a] + ring[0], middle[b] + ring[1], rng.uniform(0.5, 4, len(a)))


def problem(svg, process):
    region = read_filled(svg).region
    shore = shores(region)
    extent = extents(shore.outlines)
    count = np.array([0, *(process.bridges_wanted(e) for e in extent)])
    spans = find_spans(region, shore, process.bridge_width_mm)
    return region, spans, count, np.concatenate([[0.0], extent * process.anchor_spread])


def test_a_bridge_to_islands_that_hang_on_each_other_alone_is_no_hold():
    # 1 and 2 hang on each other; the light span from 3 to 2 would leave all three loose
    ends = np.array([[0.0, 0.0], [9.0, 0.0], [18.0, 0.0]])
    spans = spans_of([1, 3, 3], [2, 2, 0], ends, ends + 3.0, np.array([1.0, 1.0, 5.0]))
    search = _Search(spans, HoldWanted(np.array([0, 1, 1, 1]), np.zeros(4), 0.0), None)
    search.add(0)
    assert search.complete(3) == {2}


@pytest.mark.parametrize("seed", range(8))
def test_the_choice_is_the_optimum_of_all_subsets(seed):
    rng = np.random.default_rng(seed)
    spans = random_spans(rng, parts=5, count=13)
    count = np.array([0, 1, 1, 2, 1])
    wanted = HoldWanted(count, np.zeros(5), 0.0)
    apart = [0.0, 0.0, 0.0, 0.0, 0.0]
    least = optimum.least_by_enumeration(
        spans.part_a, spans.part_b, spans.at_a, spans.at_b, spans.weight, count, apart
    )
    if np.isinf(least):
        pytest.skip("this graph has no solution at all")
    chosen = choose_spans(spans, wanted)
    assert spans.weight[chosen].sum() == pytest.approx(least)


@pytest.mark.parametrize(
    "svg",
    [
        *(ornaments.net(np.random.default_rng(s), 10 + s % 3) for s in range(3)),
        ornaments.border(np.random.default_rng(1), 6),
        ornaments.rings(np.random.default_rng(2), 3),
    ],
)
def test_up_to_twelve_islands_are_within_five_percent_of_the_optimum(svg, laser):
    _, spans, count, apart = problem(svg, laser)
    assert len(count) <= 13
    chosen = choose_spans(spans, HoldWanted(count, apart, laser.bridge_width_mm + 0.4))
    reach = _Search(spans, HoldWanted(count, apart, 0.0), None).apart
    least, _ = optimum.least_weight(
        spans.part_a, spans.part_b, spans.at_a, spans.at_b, spans.weight, count, reach
    )
    assert spans.weight[chosen].sum() <= 1.05 * least
    assert optimum.fulfilled(
        chosen, spans.part_a, spans.part_b, spans.at_a, spans.at_b, count, reach
    )


def test_the_search_for_larger_drawings_does_all_that_is_asked(laser):
    region, spans, count, apart = problem(ornaments.net(np.random.default_rng(4), 90), laser)
    wanted = HoldWanted(count, apart, 1.2)
    chosen = choose_spans(spans, wanted)
    reach = _Search(spans, wanted, None).apart
    assert optimum.fulfilled(
        chosen, spans.part_a, spans.part_b, spans.at_a, spans.at_b, count, reach
    )
    shapes = Ground(region, 0.8).shapes(spans.at_a[chosen], spans.at_b[chosen])
    assert np.allclose(shapely.area(shapes), spans.area[chosen], rtol=0.01)
    held = region.difference(shapely.union_all(shapes))
    assert all(len(p.interiors) == 0 for p in shapely.get_parts(held))


def test_the_search_stays_near_the_optimum_where_it_can_still_be_found(laser):
    _, spans, count, apart = problem(ornaments.net(np.random.default_rng(11), 20), laser)
    wanted = HoldWanted(count, apart, 0.0)
    chosen = choose_spans(spans, wanted)
    reach = _Search(spans, wanted, None).apart
    least, _ = optimum.least_weight(
        spans.part_a, spans.part_b, spans.at_a, spans.at_b, spans.weight, count, reach, gap=0.01
    )
    assert spans.weight[chosen].sum() <= 1.10 * least


def test_locked_spans_stay(laser):
    _, spans, count, apart = problem(ornaments.net(np.random.default_rng(6), 8), laser)
    heavy = np.argsort(spans.weight)[-2:]
    chosen = choose_spans(spans, HoldWanted(count, apart, 1.2), locked=heavy)
    assert set(heavy.tolist()) <= set(chosen.tolist())


def test_an_island_out_of_reach_is_told():
    spans = spans_of([1], [0], [[0.0, 0]], [[1.0, 0]], np.array([1.0]))
    with pytest.raises(HoldingError, match=r"1 islands .* cannot be reached"):
        choose_spans(spans, HoldWanted(np.array([0, 1, 1]), np.zeros(3), 0.0))


def test_no_group_hangs_on_one_bridge_in_a_large_plan(laser):
    _, spans, count, apart = problem(ornaments.net(np.random.default_rng(8), 150), laser)
    chosen = choose_spans(spans, HoldWanted(count, apart, 1.2))
    graph = nx.MultiGraph()
    graph.add_edges_from((int(spans.part_a[e]), int(spans.part_b[e])) for e in chosen)
    single = [(u, v) for u, v in nx.bridges(nx.Graph(graph)) if graph.number_of_edges(u, v) == 1]
    assert all(min(graph.degree(u), graph.degree(v)) == 1 for u, v in single)
    assert all(count[u if graph.degree(u) == 1 else v] == 1 for u, v in single)


def test_the_narrowest_place_between_two_discs_is_found():
    from shapely import MultiPolygon, Point, box

    gap = 0.7
    discs = [Point(10, 10).buffer(3, 64), Point(16 + gap, 10).buffer(3, 64)]
    region = MultiPolygon([box(0, 0, 27, 20).difference(shapely.union_all(discs))])
    spans = find_spans(region, shores(region), 0.8)
    between = (spans.part_a > 0) & (spans.part_b > 0)
    assert spans.length[between].min() == pytest.approx(gap, abs=0.01)


def hung_on_one(svg, made_for):
    """Numbers of the bridges on which more hangs than the process allows."""
    plan = plan_sheets(svg, made_for, "bridges")
    film, corner, scale = hung_sheets.film_of(plan.sheets[0].svg())
    lines = [bridge.line for layer in plan.layers for bridge in layer.bridges]
    fallen = hung_sheets.what_falls(film, corner, scale, lines, made_for.bridge_width_mm)
    # half of the bridge falls with what hung on it
    stub = np.array([np.hypot(b.bx - b.ax, b.by - b.ay) for b in lines]) / 2
    return np.flatnonzero(fallen > made_for.one_bridge_up_to_mm + stub + 0.2).tolist()


@pytest.mark.parametrize(
    ("seed", "process"), [(3, "film-laser"), (13, "film-laser"), (0, "film-knife")]
)
def test_nothing_larger_than_the_process_allows_hangs_on_one_bridge(seed, process):
    assert hung_on_one(ornaments.ornament(seed), known_process(process)) == []


@pytest.mark.parametrize(("seed", "groups"), [(2, 2), (3, 4)])
def test_a_small_island_that_hangs_on_a_large_one_does_not_hold_it(seed, groups):
    svg = ornaments.islands_with_small_ones_beside(seed, groups)
    assert hung_on_one(svg, known_process("film-laser")) == []


@pytest.mark.parametrize("seed", range(8))
def test_single_links_are_those_that_another_library_finds(seed):
    rng = np.random.default_rng(seed)
    links = [(int(u), int(v)) for u, v in rng.integers(0, 40, (45 + seed, 2)) if u != v]
    graph = nx.MultiGraph(links)
    single = {tuple(sorted(c)) for c in nx.bridges(nx.Graph(graph)) if links_between(graph, c) == 1}
    assert set(single_links(links, 40)) == single


def links_between(graph, link):
    return graph.number_of_edges(*link)


def test_where_locked_bridges_hold_everything_nothing_is_searched(laser, monkeypatch):
    _, spans, count, apart = problem(ornaments.net(np.random.default_rng(5), 64), laser)
    wanted = HoldWanted(count, apart, 1.2)
    chosen = choose_spans(spans, wanted)
    assert choose_spans(spans, wanted, locked=chosen).tolist() == chosen.tolist()
    but_one = choose_spans(spans, wanted, locked=np.delete(chosen, 3))
    monkeypatch.setattr(choice, "_locked_hold", lambda *_: False)
    assert choose_spans(spans, wanted, locked=chosen).tolist() == chosen.tolist()
    assert choose_spans(spans, wanted, locked=np.delete(chosen, 3)).tolist() == but_one.tolist()


@pytest.mark.parametrize("clear_mm", [0.0, 0.8, 2.5])
def test_what_stands_in_the_way_is_the_same_asked_one_by_one(clear_mm):
    spans = Ground(read_filled(ornaments.ornament(7)).region, 0.8).spans
    ways, every = _Ways(spans, clear_mm), _neighbours(spans, clear_mm)
    assert len(spans) > 20
    assert [sorted(ways.of(e)) for e in range(len(spans))] == [
        every.get(e, []) for e in range(len(spans))
    ]
    given, others = set(range(0, len(spans), 9)), set(range(4, len(spans), 7))
    ways = _Ways(spans, clear_mm, given)
    for e in sorted(set(range(len(spans))) - given):
        assert ways.beside_given(e) == (not given.isdisjoint(every.get(e, [])))
        assert ways.beside(e, others) == (not others.isdisjoint(every.get(e, [])))
