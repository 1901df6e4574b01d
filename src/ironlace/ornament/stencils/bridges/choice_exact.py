"""The lightest set of bridges for a small drawing, exactly, as an integer program.

What joins and what holds twice is not written down beforehand (there are exponentially many such
rules) but added whenever a solution breaks one (Dantzig, Fulkerson and Johnson 1954), until none is
broken: that solution is the optimum.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.bridges.spans import BridgeSpans

EXACT_PARTS: Final = 13
"""Parts (the sheet counted) up to which the optimum is sought. On 13 generated ornaments it took
0.2 to 0.7 s up to 19 parts and 21 to 42 s from 26 on; 13 stays, since a plan that was kept must
come out the same again."""

_MOST_SOLVED: Final = 60
"""Programs solved one after another, each with what the last one lacked (tuned)."""

_SECONDS: Final = 4.0
"""For each of them: a page waits for it (tuned; on what was not kept)."""


def lightest_spans(
    spans: BridgeSpans,
    count: Ints,
    apart_mm: Sequence[float],
    near: Mapping[int, Sequence[int]],
    locked: set[int],
) -> set[int] | None:
    """The optimal set, or None if it was not proven in the time allowed or there is none.

    Parameters
    ----------
    count, apart_mm
        As in `holding.Wanted`, distances already cut down to what can be reached.
    near
        For a span, those that may not be built beside it.
    locked
        Spans that must be built.
    """
    rules: list[tuple[list[int], float, float]] = []
    for part in range(1, len(count)):
        here = np.flatnonzero((spans.part_a == part) | (spans.part_b == part))
        rules.append((here.tolist(), float(count[part]), np.inf))
        if count[part] >= 2:
            at = np.where((spans.part_a[here] == part)[:, None], spans.at_a[here], spans.at_b[here])
            rules += _apart(here, at, apart_mm[part])
    for e, others in near.items():
        rules += [([e, f], -np.inf, 1.0) for f in others if e < f]
    for _ in range(_MOST_SOLVED):
        chosen = _solved(spans.weight, rules, locked)
        if chosen is None:
            return None
        broken = _broken(spans, chosen, count)
        if not broken:
            return chosen
        for group, least in broken:
            across = np.isin(spans.part_a, list(group)) != np.isin(spans.part_b, list(group))
            rules.append((np.flatnonzero(across).tolist(), least, np.inf))
    return None


def _apart(here: Ints, at: Floats, least: float) -> list[tuple[list[int], float, float]]:
    """Not all bridges of an island stand near together: one is outside every such cluster."""
    import networkx as nx

    away = np.linalg.norm(at[:, None] - at[None], axis=2)
    close = nx.Graph()
    close.add_nodes_from(range(len(here)))
    close.add_edges_from((int(i), int(j)) for i, j in np.argwhere(away < least) if i < j)
    out = []
    for cluster in nx.find_cliques(close):
        outside = np.delete(here, cluster)
        out.append(([int(e) for e in outside], 1.0, np.inf))
    return out


def _solved(
    weight: Floats, rules: list[tuple[list[int], float, float]], locked: set[int]
) -> set[int] | None:
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    rows = np.repeat(np.arange(len(rules)), [len(r) for r, _, _ in rules])
    columns = np.concatenate([np.asarray(r, dtype=np.int64) for r, _, _ in rules])
    matrix = coo_array(
        (np.ones(len(rows)), (rows, columns)), shape=(len(rules), len(weight))
    ).tocsr()
    low = np.zeros(len(weight))
    low[list(locked)] = 1.0
    found = milp(
        weight,
        constraints=LinearConstraint(
            matrix, np.array([r[1] for r in rules]), np.array([r[2] for r in rules])
        ),
        bounds=Bounds(low, np.ones(len(weight))),
        integrality=np.ones(len(weight), dtype=np.int64),
        options={"mip_rel_gap": 1e-4, "time_limit": _SECONDS},
    )
    if found.status != 0 or found.x is None:
        return None
    return {int(e) for e in np.flatnonzero(found.x > 0.5)}


def _broken(spans: BridgeSpans, chosen: set[int], count: Ints) -> list[tuple[set[int], float]]:
    """Groups that are loose, or hang on one bridge, and how many bridges each needs."""
    import networkx as nx

    graph = nx.MultiGraph()
    graph.add_nodes_from(range(len(count)))
    graph.add_edges_from((int(spans.part_a[e]), int(spans.part_b[e])) for e in chosen)
    pieces = list(nx.connected_components(graph))
    if len(pieces) > 1:
        return [(set(p), 1.0) for p in pieces if 0 not in p]
    single = nx.Graph(graph)
    out: list[tuple[set[int], float]] = []
    for u, v in list(nx.bridges(single)):
        if graph.number_of_edges(u, v) > 1:
            continue
        single.remove_edge(u, v)
        group = next(c for c in nx.connected_components(single) if 0 not in c)
        single.add_edge(u, v)
        if len(group) > 1 or count[next(iter(group))] > 1:
            out.append((set(group), 2.0))
    small = {p for p in graph if count[p] == 1 and graph.degree[p] == 1}
    for part in graph:
        # small islands that only hang on a part do not hold it
        hangs = {p for p in graph[part] if p in small} - {part}
        if part not in small and hangs and graph.degree[part] - len(hangs) < count[part]:
            out.append(({part, *hangs}, float(count[part])))
    return out
