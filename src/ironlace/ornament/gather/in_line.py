"""Which known edges an edge is in line with: a scratch runs straight on over many strokes.

A straight loss that crosses several strokes ends each of them on one and the same line, with the
gilt on one side of it. So an edge that carries on the line of edges that are known to be losses'
is likely a loss's, whatever it looks like by itself; a fret's edges are in line as well, but with
known outlines. What is counted is how many known edges lie on the best line through an edge, an
accumulation as Hough's (1962), done pair by pair so that bent lines count as far as they are
straight nearby. A scratch's two edges also face one another over bare ground, close and parallel.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from ironlace.evidence.arrays import Floats, Ints

REACH_MM: Final = 10.0
"""Farthest edge that is asked whether it lies on one line with another: a scratch that is bent by a
fiftieth of its length strays by 0.03 mm over so much."""
ON_LINE_MM: Final = 0.05
"""How far two edges' middles may lie off one line: half a pixel of most photographs."""
LEAST_TURN: Final = np.deg2rad(3.0)
"""How far the way of an edge is from that of its line even if it is long."""
_APART_MM: Final = 0.15
"""Between ends of edges that are two: a gap that a stroke's neighbour is beyond."""
_WIDEST: Final = np.deg2rad(20.0)
"""Farthest way of a short edge from its line's that is looked at."""


FACING_MM: Final = 1.3
"""Farthest that two edges face one another: what is wider is no scratch. A judgement."""
_LEAST_FACING_MM: Final = 0.08
"""A narrower gap is none: blur closes it."""
_PARALLEL: Final = np.deg2rad(4.0)
"""How far long edges that face one another are from parallel."""
_MOST_ASKEW: Final = np.deg2rad(15.0)
"""The farthest that is looked at of short ones."""
_BESIDE_ONE_ANOTHER: Final = 0.8
"""Share of the mean length by which the middles of edges that face one another lie apart along
them, at the most."""


@dataclass(frozen=True)
class Edges:
    """Pieces of outlines, n of them, that may lie on lines."""

    way: Floats
    """(n,) radians; the gilt lies a quarter turn from x towards y."""
    middle: Floats
    """(n, 2) mm."""
    length: Floats
    """(n,) mm."""
    straight: Floats
    """(n,) how straight each is, 0 to 1; so much it counts."""


def in_line(asked: Edges, known: Edges, is_loss: Floats) -> tuple[Floats, Floats]:
    """Known losses' edges, and known outlines, on the line through each edge on which most are.

    Parameters
    ----------
    asked
        Edges whose lines are looked at.
    known
        Edges that are counted.
    is_loss
        Share by which each of the known is a loss's edge and no outline, (n,).

    Returns
    -------
    tuple
        Two counts, each (n,); no edge counts for itself.
    """
    i, j, bearing, blur = _pairs(asked, known)
    counts = np.zeros((2, len(asked.way)))
    if not len(i):
        return counts[0], counts[1]
    # each pair proposes a line, and those of the same edge that lie on it are counted
    first, second = _with_each_other(i)
    off = (bearing[second] - bearing[first] + np.pi / 2) % np.pi - np.pi / 2
    on = np.abs(off) < blur[first] + blur[second]
    weight = known.straight[j[second]] * on
    lost = is_loss[j[second]]
    told = np.stack(
        [np.bincount(first, weight * of, minlength=len(i)) for of in (lost, 1.0 - lost)]
    )
    order = np.lexsort((told.sum(axis=0), i))
    best = order[np.append(np.flatnonzero(np.diff(i[order])), len(order) - 1)]
    counts[:, i[best]] = told[:, best] * asked.straight[i[best]]
    return counts[0], counts[1]


def faced(asked: Edges, others: Edges) -> Floats:
    """How surely a parallel edge faces each over ground no wider than a scratch, (n,) 0 to 1."""
    about = Edges(asked.way + np.pi, asked.middle, asked.length, asked.straight)
    long = 2.0 * FACING_MM
    i, j = _near(about, others, long, _MOST_ASKEW)
    apart = others.middle[j] - asked.middle[i]
    along = np.column_stack([np.cos(asked.way[i]), np.sin(asked.way[i])])
    gap = along[:, 1] * apart[:, 0] - along[:, 0] * apart[:, 1]
    fits = (gap > _LEAST_FACING_MM) & (gap < FACING_MM)
    mean = (asked.length[i] + others.length[j]) / 2.0
    fits &= np.abs(np.sum(apart * along, axis=1)) < _BESIDE_ONE_ANOTHER * mean
    turn = np.abs((others.way[j] - about.way[i] + np.pi) % (2.0 * np.pi) - np.pi)
    fits &= turn < _PARALLEL + ON_LINE_MM * (1.0 / asked.length[i] + 1.0 / others.length[j])
    weight = (asked.straight[i] * others.straight[j])[fits]
    return np.minimum(np.bincount(i[fits], weight, minlength=len(asked.way)), 1.0)


def _near(asked: Edges, others: Edges, reach_mm: float, turn: float) -> tuple[Ints, Ints]:
    """Pairs of edges within reach of one another that run one way within ``turn``, or nearly so."""
    trees = []
    for of in (asked, others):
        turned = np.column_stack([np.cos(of.way), np.sin(of.way)]) / (2.0 * np.sin(turn))
        trees.append(cKDTree(np.column_stack([of.middle / reach_mm, turned])))
    found = trees[0].sparse_distance_matrix(trees[1], 1.0, output_type="ndarray")
    return found["i"].astype(np.int64), found["j"].astype(np.int64)


def _pairs(asked: Edges, known: Edges) -> tuple[Ints, Ints, Floats, Floats]:
    """Pairs of an edge asked and one known that may lie on one line; its way and its blur."""
    i, j = _near(asked, known, REACH_MM, _WIDEST)
    apart = known.middle[j] - asked.middle[i]
    far = np.linalg.norm(apart, axis=1)
    bearing = np.arctan2(apart[:, 1], apart[:, 0])
    fits = far > (asked.length[i] + known.length[j]) / 2.0 + _APART_MM
    blur = ON_LINE_MM / np.maximum(far, 1e-9)
    for of, at in ((asked, i), (known, j)):
        turn = (bearing - of.way[at] + np.pi / 2) % np.pi - np.pi / 2
        most = np.minimum(LEAST_TURN + ON_LINE_MM / of.length[at], _WIDEST)
        fits &= np.abs(turn) < most + blur
    return i[fits], j[fits], bearing[fits], blur[fits]


def _with_each_other(i: Ints) -> tuple[Ints, Ints]:
    """All pairs of places of a sequence whose values are equal, each with itself too."""
    order = np.argsort(i, kind="stable")
    _, first, count = np.unique(i[order], return_index=True, return_counts=True)
    begin, many = np.repeat(first, count), np.repeat(count, count)
    one = np.repeat(np.arange(len(i)), many)
    other = np.arange(len(one)) - np.repeat(np.cumsum(many) - many, many) + np.repeat(begin, many)
    return order[one], order[other]
