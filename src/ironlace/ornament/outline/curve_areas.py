"""Areas bounded by curves, cut by one another and joined again, with every piece kept as it was.

All outlines are cut where they cross; of the pieces those are kept that bound the result; they are
strung together again where they met. So whatever is kept is exactly the old curve, with its own
evidence, and outlines that are not crossed are not touched at all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.evidence.grades import Grade
from ironlace.ornament.errors import ReworkError
from ironlace.ornament.outline.drawing import (
    ClosedPath,
    curve_points,
    each_derivative,
    each_point,
    split_curve,
)

Inside = Callable[[Floats], NDArray[np.bool_]]

_CHORD_MM: Final = 0.003
"""Farthest a chord may lie from its curve where crossings are looked for; they are made exact
afterwards."""
_MET_MM: Final = 1e-5
"""Two curves this near have met: ten nanometres, far below any cut and far above rounding."""
_CRUMB_MM: Final = 1e-4
"""Pieces shorter than this are left over from rounding and are dropped."""


@dataclass(frozen=True)
class Piece:
    """A piece of one curve (4, 2) with its evidence."""

    curve: Floats
    grade: Grade
    source: str


def cut_at_crossings(
    one: Sequence[ClosedPath], two: Sequence[ClosedPath]
) -> tuple[list[list[Piece]], list[list[Piece]]]:
    """Every path of both sides as pieces, cut wherever a path of one side crosses the other's.

    Returns
    -------
    tuple
        For each path of ``one``, and for each of ``two``, its pieces in order.
    """
    flat_one, flat_two = _Flat(one), _Flat(two)
    cuts_one: dict[int, list[tuple[float, Floats]]] = {}
    cuts_two: dict[int, list[tuple[float, Floats]]] = {}
    if one and two:
        for i, t, j, u, place in _crossings(flat_one, flat_two):
            cuts_one.setdefault(i, []).append((t, place))
            cuts_two.setdefault(j, []).append((u, place))
    return _cut(one, flat_one, cuts_one), _cut(two, flat_two, cuts_two)


def filled(paths: Sequence[ClosedPath]) -> Inside:
    """A function that says of points (n, 2) whether they are inside the paths, filled even-odd."""
    from shapely import STRtree, points, polygons

    # a speck no larger than the chords' error has no corners left, and no inside
    corners = [c for c in (p.polygon(_CHORD_MM) for p in paths) if len(c) >= 3]
    if not corners:
        return lambda places: np.zeros(len(places), np.bool_)
    rings = np.array([polygons(c) for c in corners], dtype=object)
    tree = STRtree(rings)

    def inside(places: Floats) -> NDArray[np.bool_]:
        asked, _ = tree.query(points(places), predicate="within")
        return np.asarray(np.bincount(asked, minlength=len(places)) % 2 == 1)

    return inside


def middles(pieces: Sequence[Piece]) -> Floats:
    """The middle of each piece, (n, 2)."""
    if not pieces:
        return np.zeros((0, 2))
    return curve_points(np.array([p.curve for p in pieces]), np.array([0.5]))[:, 0]


def strung(pieces: Sequence[Piece], layer: str, slack_mm: float = 0.0) -> list[ClosedPath]:
    """Pieces strung together where their ends meet, into closed paths.

    Parameters
    ----------
    slack_mm
        Ends that meet no other may be joined to the nearest within this: between outlines that all
        but coincide a piece shorter than chords can tell is sometimes on the wrong side.

    Raises
    ------
    ReworkError
        If they do not close: outlines touched without crossing.
    """
    from scipy.spatial import cKDTree

    left = [p for p in pieces if _extent(p.curve) > _CRUMB_MM]
    if not left:
        return []
    ends = np.array([p.curve[k] for p in left for k in (0, 3)])
    tree = cKDTree(ends)
    used = np.zeros(len(left), np.bool_)
    paths = []
    for first in range(len(left)):
        if used[first]:
            continue
        ring, at = [left[first]], left[first].curve[3]
        used[first] = True
        start = left[first].curve[0]
        while np.abs(at - start).max() > 3 * _CRUMB_MM or len(ring) == 1:
            if len(ring) == 1 and np.abs(at - start).max() <= _MET_MM:
                break
            following = _nearest_free(tree, at, used, 3 * _CRUMB_MM)
            if following is None and slack_mm:
                following = _nearest_free(tree, at, used, slack_mm)
                home = float(np.abs(at - start).max())
                away = np.inf if following is None else np.abs(tree.data[following] - at).max()
                if home <= min(slack_mm, away):
                    break
            if following is None:
                raise ReworkError(
                    "The line only grazes an outline there: draw it a little to one side."
                )
            n, flip = divmod(following, 2)
            used[n] = True
            piece = left[n]
            if flip:
                piece = Piece(piece.curve[::-1].copy(), piece.grade, piece.source)
            ring.append(piece)
            at = piece.curve[3]
        paths.append(_closed(ring, layer))
    return paths


def _nearest_free(tree: Any, at: Floats, used: NDArray[np.bool_], reach_mm: float) -> int | None:
    near = [e for e in tree.query_ball_point(at, reach_mm) if not used[e // 2]]
    if not near:
        return None
    return int(min(near, key=lambda e: float(np.abs(tree.data[e] - at).max())))


def _closed(ring: Sequence[Piece], layer: str) -> ClosedPath:
    curves = np.array([p.curve for p in ring])
    curves[:, 3] = np.roll(curves[:, 0], -1, axis=0)
    if len(curves) == 1:  # one curve that closes on itself is halved, so that it has two nodes
        curves = split_curve(curves[0], [0.5])
        ring = [ring[0], ring[0]]
    return ClosedPath(curves, tuple(p.grade for p in ring), tuple(p.source for p in ring), layer)


def _extent(curve: Floats) -> float:
    return float(np.ptp(curve, axis=0).max())


class _Flat:
    """All curves of some paths as short chords that know their curve and parameter."""

    def __init__(self, paths: Sequence[ClosedPath]) -> None:
        if not paths:
            self.curves = np.zeros((0, 4, 2))
            return
        self.curves = np.concatenate([p.curves for p in paths])
        self.first = np.concatenate([[0], np.cumsum([p.nodes for p in paths])])
        second = np.linalg.norm(np.diff(self.curves, n=2, axis=1), axis=2).max(axis=1)
        counts = np.clip(np.ceil(np.sqrt(0.75 * second / _CHORD_MM)), 1, 400).astype(np.int64)
        self.curve = np.repeat(np.arange(len(self.curves)), counts)
        begin = np.concatenate([[0], np.cumsum(counts)[:-1]])
        local = np.arange(len(self.curve)) - begin[self.curve]
        self.t0 = local / counts[self.curve]
        self.t1 = (local + 1) / counts[self.curve]
        own = self.curves[self.curve]
        self.chords = np.stack([each_point(own, self.t0), each_point(own, self.t1)], axis=1)


def _crossings(one: _Flat, two: _Flat) -> list[tuple[int, float, int, float, Floats]]:
    """Where curves of both sides cross: curve, parameter, curve, parameter, place."""
    from shapely import STRtree, linestrings

    a = np.asarray(linestrings(one.chords))
    b = np.asarray(linestrings(two.chords))
    second, first = STRtree(a).query(b, predicate="intersects")
    if len(first) == 0:
        return []
    p, q = one.chords[first, 0], two.chords[second, 0]
    r, s = one.chords[first, 1] - p, two.chords[second, 1] - q
    cross = r[:, 0] * s[:, 1] - r[:, 1] * s[:, 0]
    safe = np.where(np.abs(cross) > 1e-15, cross, 1.0)
    gap = q - p
    x = np.clip((gap[:, 0] * s[:, 1] - gap[:, 1] * s[:, 0]) / safe, 0, 1)
    y = np.clip((gap[:, 0] * r[:, 1] - gap[:, 1] * r[:, 0]) / safe, 0, 1)
    i, j = one.curve[first], two.curve[second]
    t = one.t0[first] + x * (one.t1 - one.t0)[first]
    u = two.t0[second] + y * (two.t1 - two.t0)[second]
    for _ in range(12):
        f = each_point(one.curves[i], t) - each_point(two.curves[j], u)
        dt, du = each_derivative(one.curves[i], t), -each_derivative(two.curves[j], u)
        det = dt[:, 0] * du[:, 1] - dt[:, 1] * du[:, 0]
        det = np.where(np.abs(det) > 1e-15, det, np.inf)
        t = np.clip(t - (f[:, 0] * du[:, 1] - f[:, 1] * du[:, 0]) / det, 0.0, 1.0)
        u = np.clip(u - (dt[:, 0] * f[:, 1] - dt[:, 1] * f[:, 0]) / det, 0.0, 1.0)
    place = each_point(one.curves[i], t)
    met = np.abs(place - each_point(two.curves[j], u)).max(axis=1) < _MET_MM
    out: list[tuple[int, float, int, float, Floats]] = []
    seen: set[tuple[int, int, int, int]] = set()
    for k in np.flatnonzero(met):
        # the same crossing is met once for each chord that ends there
        key = (int(i[k]), int(j[k]), round(float(t[k]) * 1e5), round(float(u[k]) * 1e5))
        beside = {
            (key[0], key[1], key[2] + dx, key[3] + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)
        }
        if beside & seen:
            continue
        seen.add(key)
        out.append((key[0], float(t[k]), key[1], float(u[k]), place[k]))
    return out


def _cut(
    paths: Sequence[ClosedPath], flat: _Flat, cuts: dict[int, list[tuple[float, Floats]]]
) -> list[list[Piece]]:
    out = []
    for k, path in enumerate(paths):
        pieces: list[Piece] = []
        for n in range(path.nodes):
            here = sorted(cuts.get(int(flat.first[k]) + n, ()), key=lambda c: c[0])
            inner = [(t, place) for t, place in here if 1e-7 < t < 1 - 1e-7]
            parts = split_curve(path.curves[n], [t for t, _ in inner])
            for m, (_, place) in enumerate(inner):
                parts[m, 3] = parts[m + 1, 0] = place
            pieces += [Piece(part, path.grades[n], path.sources[n]) for part in parts]
        out.append(pieces)
    return out
