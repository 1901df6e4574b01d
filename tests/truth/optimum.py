"""The optimum, by means that have nothing in common with the planner's search.

`least_weight` is an integer program with cuts for what is not joined; `least_by_enumeration` tries
every subset and is only for very few spans.
"""

from __future__ import annotations

import itertools

import networkx as nx
import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array


def hanging(chosen, a, b, count) -> list[set[int]]:
    """Groups of islands, other than a single small one, that hang on one bridge."""
    out = []
    for e in chosen:
        graph = nx.MultiGraph()
        graph.add_nodes_from(range(len(count)))
        graph.add_edges_from((int(a[f]), int(b[f])) for f in chosen if f != e)
        for piece in nx.connected_components(graph):
            if 0 not in piece and not (len(piece) == 1 and count[next(iter(piece))] == 1):
                out.append(set(piece))
    return out


def fulfilled(chosen, a, b, at_a, at_b, count, apart) -> bool:
    """Whether a set of spans does what is asked."""
    graph = nx.MultiGraph()
    graph.add_nodes_from(range(len(count)))
    graph.add_edges_from((int(a[e]), int(b[e])) for e in chosen)
    if not nx.is_connected(graph) or hanging(chosen, a, b, count):
        return False
    for part in range(1, len(count)):
        here = [at_a[e] if a[e] == part else at_b[e] for e in chosen if part in (a[e], b[e])]
        if len(here) < count[part]:
            return False
        if count[part] >= 2 and not any(
            np.hypot(*(p - q)) >= apart[part] - 1e-9 for p, q in itertools.combinations(here, 2)
        ):
            return False
    return True


def least_by_enumeration(a, b, at_a, at_b, weight, count, apart) -> float:
    best = np.inf
    n = len(a)
    for mask in range(1 << n):
        chosen = [e for e in range(n) if mask >> e & 1]
        total = float(sum(weight[e] for e in chosen))
        if total < best and fulfilled(chosen, a, b, at_a, at_b, count, apart):
            best = total
    return best


def least_weight(
    a, b, at_a, at_b, weight, count, apart, gap: float = 1e-6
) -> tuple[float, list[int]]:
    """Least weight of a set of spans that does what is asked, and the set."""
    n = len(a)
    rows, cols, vals, low = [], [], [], []

    def rule(terms, least):
        r = len(low)
        for c, v in terms:
            rows.append(r)
            cols.append(c)
            vals.append(v)
        low.append(least)

    for part in range(1, len(count)):
        here = [e for e in range(n) if part in (a[e], b[e])]
        rule([(e, 1.0) for e in here], count[part])
        if count[part] >= 2:
            place = {e: at_a[e] if a[e] == part else at_b[e] for e in here}
            # two stand apart unless all stand in one set of spans near one another
            near = nx.Graph()
            near.add_nodes_from(here)
            near.add_edges_from(
                (e, f)
                for e, f in itertools.combinations(here, 2)
                if np.hypot(*(place[e] - place[f])) < apart[part] - 1e-9
            )
            for together in nx.find_cliques(near):
                rule([(e, 1.0) for e in here if e not in set(together)], 1.0)
    while True:
        matrix = coo_array((vals, (rows, cols)), shape=(len(low), n)).tocsr()
        found = milp(
            np.asarray(weight),
            constraints=LinearConstraint(matrix, lb=np.array(low), ub=np.inf),
            bounds=Bounds(0, 1),
            integrality=np.ones(n),
            options={"mip_rel_gap": gap},
        )
        assert found.x is not None, found.message
        chosen = [e for e in range(n) if found.x[e] > 0.5]
        graph = nx.Graph()
        graph.add_nodes_from(range(len(count)))
        graph.add_edges_from((int(a[e]), int(b[e])) for e in chosen)
        pieces = list(nx.connected_components(graph))
        if len(pieces) == 1:
            alone = hanging(chosen, a, b, count)
            if not alone:
                return float(found.fun), chosen
            for piece in alone:
                rule([(e, 1.0) for e in range(n) if (a[e] in piece) != (b[e] in piece)], 2.0)
            continue
        for piece in pieces:
            if 0 in piece and len(pieces) == 2:
                continue
            rule([(e, 1.0) for e in range(n) if (a[e] in piece) != (b[e] in piece)], 1.0)
