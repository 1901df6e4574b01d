"""Numbers beside a picture, each joined to its point by a straight line; no two lines meet.

Every point is joined to a place on the left or the right edge. Points are parted by a vertical
line, and on each side the places are given so that all lines together are shortest. Were two of
them to meet, exchanging their places would make both together shorter (triangle inequality), so
shortest lines do not meet (Bekos, Kaufmann, Symvonis and Wolff 2007, "Boundary labeling: models
and efficient algorithms for rectangular maps"). That holds for any places on the edge, used or not.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

from ironlace.evidence.arrays import Floats, Ints


@dataclass(frozen=True, slots=True)
class Leader:
    """A line from a point to its place on the edge, same unit as came; `side` is left or right."""

    index: int
    start: tuple[float, float]
    end: tuple[float, float]
    side: str


def leaders(
    points: Sequence[tuple[float, float]], wide: float, high: float, pitch: float, away: float
) -> tuple[Leader, ...]:
    """Join points to places on the edges of their picture.

    Parameters
    ----------
    points
        Shape (n, 2), all different, within ``0..wide`` by ``0..high``.
    wide, high
        Of the picture.
    pitch
        Least distance of two places on one edge.
    away
        How far outside the picture the places stand.

    Returns
    -------
    tuple of Leader
        In the order of the points. Should a side want more places than its edge has at that pitch,
        they stand beyond its ends, so that the height needed is ``max(high, n * pitch)`` at most.
    """
    at = np.asarray(points, np.float64).reshape(-1, 2)
    order = np.lexsort((at[:, 1], at[:, 0]))
    places = _places(high, pitch, (len(at) + 1) // 2)
    best: tuple[float, tuple[Leader, ...]] | None = None
    fewest = max(0, len(at) - len(places))
    for left in range(fewest, min(len(at), len(places)) + 1):
        found = (
            *_side(at, order[:left], places, -away, "left"),
            *_side(at, order[left:], places, wide + away, "right"),
        )
        length = sum(_length(one) for one in found)
        if best is None or length < best[0]:
            best = (length, found)
    assert best is not None
    return tuple(sorted(best[1], key=lambda one: one.index))


def _places(high: float, pitch: float, needed: int) -> Floats:
    """Heights of the places on an edge, evenly spaced about its middle."""
    count = max(needed, int(high // pitch), 1)
    spacing = max(pitch, high / count)
    return np.asarray(high / 2.0 + (np.arange(count) - (count - 1) / 2.0) * spacing, np.float64)


def _side(at: Floats, chosen: Ints, places: Floats, x: float, side: str) -> list[Leader]:
    own = at[chosen]
    cost = np.hypot(own[:, :1] - x, own[:, 1:] - places[None, :])
    rows, columns = linear_sum_assignment(cost)
    return [
        Leader(
            int(chosen[row]),
            (float(own[row, 0]), float(own[row, 1])),
            (x, float(places[column])),
            side,
        )
        for row, column in zip(rows, columns, strict=True)
    ]


def _length(one: Leader) -> float:
    return float(np.hypot(one.end[0] - one.start[0], one.end[1] - one.start[1]))
