"""Where a bridge could stand: short spans across an opening, from one part of the sheet to another.

The shores are sampled and triangulated (Delaunay 1934): an edge of the triangulation that crosses
an opening joins shores that see each other, and the shortest edges lie where the opening's medial
axis is narrowest. Everything costs n log n.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.stencils.parts import Shores
from ironlace.ornament.stencils.regions import clipped_to_box, straight_lines

SECTORS: Final = 12
"""Directions around an island among which its candidates are kept."""

PER_SECTOR: Final = 2
"""Candidates kept in each, the shortest (tuned; on what was not kept)."""

TILE_CORNERS: Final = 160
"""Corners of the pieces that openings are cut into for local questions, at most (tuned)."""

_AREA_REACH: Final = 9
"""Shore points to either side looked at for a bridge's area: well over half its width."""

_ROUNDING_MM: Final = 0.02
"""Nearer than this to a line that none may cross, a span counts as crossing it."""

MEETING_REACH_MM: Final = 3.0
"""Nearer than this a bridge counts as standing where strokes meet (tuned; on what was not kept)."""

MEETING_SHARE: Final = 0.03
"""A bridge far from where strokes meet counts as this much larger: enough to choose among equals,
too little to cost area that shows."""


@dataclass(frozen=True, eq=False)
class BridgeSpans:
    """Places for bridges.

    Attributes
    ----------
    part_a, part_b
        The parts joined, (n,).
    at_a, at_b
        The span's ends on either shore in mm, (n, 2).
    area
        Area of opening the bridge takes, mm^2.
    weight
        Its area, a little more where strokes do not meet nearby.
    """

    part_a: Ints
    part_b: Ints
    at_a: Floats
    at_b: Floats
    area: Floats
    weight: Floats

    def __len__(self) -> int:
        return len(self.part_a)

    @cached_property
    def middle(self) -> Floats:
        """Middle of each span, (n, 2)."""
        return (self.at_a + self.at_b) / 2.0

    @cached_property
    def length(self) -> Floats:
        """Length of each span in mm, (n,)."""
        return np.asarray(np.linalg.norm(self.at_b - self.at_a, axis=1))

    def kept(self, which: Ints | Bools) -> BridgeSpans:
        """Some of the spans."""
        return BridgeSpans(
            self.part_a[which],
            self.part_b[which],
            self.at_a[which],
            self.at_b[which],
            self.area[which],
            self.weight[which],
        )


@dataclass(frozen=True, eq=False)
class ShorePoints:
    """The shores as evenly spaced points.

    ``start[r]`` is the first point of ring r, ``start[-1]`` the number of points.
    """

    xy: Floats
    ring: Ints
    part: Ints
    start: Ints

    def around(self, index: Ints, away: Ints) -> Ints:
        """Indices ``away`` steps along the same ring, shape (len(index), len(away))."""
        ring = self.ring[index]
        base = self.start[ring][:, None]
        size = (self.start[ring + 1] - self.start[ring])[:, None]
        return np.asarray(base + (index[:, None] + away[None, :] - base) % size)


def shore_points(shores: Shores, step_mm: float, least: int = 12) -> ShorePoints:
    """Points about ``step_mm`` apart along every ring, at least ``least`` on each."""
    sizes = np.array([len(r) for r in shores.rings])
    closed = np.concatenate([np.concatenate([r, r[:1]]) for r in shores.rings])
    first = np.concatenate([[0], np.cumsum(sizes + 1)])
    step = np.linalg.norm(np.diff(closed, axis=0), axis=1)
    step[first[1:-1] - 1] = 0.0
    run = np.concatenate([[0.0], np.cumsum(step)])
    begin, end = run[first[:-1]], run[first[1:] - 1]
    counts = np.maximum(least, np.ceil((end - begin) / step_mm)).astype(np.int64)
    start = np.concatenate([[0], np.cumsum(counts)])
    ring = np.repeat(np.arange(len(sizes)), counts)
    share = (np.arange(start[-1]) - start[ring]) / counts[ring]
    where = begin[ring] + share * (end - begin)[ring]
    # the joint between two rings has no length, so interpolation never runs across it
    segment = np.clip(
        np.searchsorted(run, where, side="right") - 1, first[ring], first[ring + 1] - 2
    )
    length = np.maximum(step[segment], 1e-300)
    t = np.clip((where - run[segment]) / length, 0.0, 1.0)
    xy = closed[segment] + t[:, None] * (closed[segment + 1] - closed[segment])
    return ShorePoints(xy, ring, shores.part[ring], start)


def find_spans(
    openings: MultiPolygon, shores: Shores, width_mm: float, *, barred: Floats | None = None
) -> BridgeSpans:
    """Places for bridges of ``width_mm`` that between them reach every island from all sides.

    Parameters
    ----------
    openings
        What is cut, mm.
    shores
        Its rings and parts.
    width_mm
        Width of a bridge.
    barred
        Lines (n, 2, 2) that none may cross.
    """
    if shores.parts < 2:
        none = np.zeros(0, dtype=np.int64)
        return BridgeSpans(none, none, np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), np.zeros(0))
    every = 4
    fine = shore_points(shores, width_mm * 0.8 / every, least=12 * every)
    coarse = np.flatnonzero((np.arange(len(fine.xy)) - fine.start[fine.ring]) % every == 0)
    a, b, forks = _crossing_edges(openings, fine, coarse)
    a, b = _slid(fine, a, b, every)
    pair = np.unique(np.stack([a, b], axis=1), axis=0)
    if barred is not None:
        pair = pair[~_crossed(np.stack([fine.xy[pair[:, 0]], fine.xy[pair[:, 1]]], axis=1), barred)]
    a, b = pair[:, 0], pair[:, 1]
    at_a, at_b = fine.xy[a], fine.xy[b]
    part_a, part_b = fine.part[a], fine.part[b]
    chosen = _by_sector(shores, part_a, part_b, at_a, at_b)
    at_a, at_b, part_a, part_b = at_a[chosen], at_b[chosen], part_a[chosen], part_b[chosen]
    area = _shore_areas(fine, a[chosen], b[chosen], width_mm)
    weight = area * (1.0 + MEETING_SHARE * _far_from_meetings((at_a + at_b) / 2.0, forks))
    return BridgeSpans(part_a, part_b, at_a, at_b, area, weight)


def _crossed(ends: Floats, barred: Floats) -> Bools:
    """Which lines (n, 2, 2) come nearer than rounding to others that none may cross."""
    lines = straight_lines(ends[:, 0], ends[:, 1])
    tree = shapely.STRtree(straight_lines(barred[:, 0], barred[:, 1]))
    near = tree.query(lines, predicate="dwithin", distance=_ROUNDING_MM)[0]
    return np.asarray(np.isin(np.arange(len(lines)), near))


def every_span(
    openings: MultiPolygon, shores: Shores, width_mm: float, *, barred: Floats | None = None
) -> BridgeSpans:
    """All places for bridges, about a bridge's width apart along the shores; none left out.

    For moving a bridge along an outline; `find_spans` is what choosing needs.
    """
    every = 4
    fine = shore_points(shores, width_mm * 0.8 / every, least=12 * every)
    coarse = np.flatnonzero((np.arange(len(fine.xy)) - fine.start[fine.ring]) % every == 0)
    a, b, _ = _crossing_edges(openings, fine, coarse)
    if barred is not None:
        free = ~_crossed(np.stack([fine.xy[a], fine.xy[b]], axis=1), barred)
        a, b = a[free], b[free]
    area = _shore_areas(fine, a, b, width_mm)
    return BridgeSpans(fine.part[a], fine.part[b], fine.xy[a], fine.xy[b], area, area)


def _crossing_edges(
    openings: MultiPolygon, fine: ShorePoints, coarse: Ints
) -> tuple[Ints, Ints, Floats]:
    """Triangulation edges that cross an opening between two parts, and where strokes fork."""
    from scipy.spatial import Delaunay

    xy = fine.xy[coarse]
    triangles = Delaunay(xy - xy.mean(axis=0)).simplices.astype(np.int64)
    sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    part = fine.part[coarse]
    other = np.flatnonzero(part[sides[:, 0]] != part[sides[:, 1]])
    one, two = sides[other].T
    low, high = np.minimum(one, two), np.maximum(one, two)
    unique, back = np.unique(low * len(xy) + high, return_inverse=True)
    i, j = coarse[unique // len(xy)], coarse[unique % len(xy)]
    ends = np.stack([fine.xy[i], fine.xy[j]], axis=1)
    # drawn in a little at both ends: samples lie on the shore only to rounding
    inner = 0.98 * ends + 0.02 * ends[:, ::-1]
    shapely.prepare(openings)
    across = np.asarray(shapely.covers(openings, shapely.linestrings(inner)), np.bool_)
    crosses = np.zeros(len(sides), dtype=np.bool_)
    crosses[other] = across[back]
    three = crosses.reshape(3, -1).all(axis=0)
    return i[across], j[across], np.asarray(xy[triangles[three]].mean(axis=1))


def _slid(fine: ShorePoints, a: Ints, b: Ints, reach: int) -> tuple[Ints, Ints]:
    """Both ends slid along their shores to where the span is shortest nearby."""
    away = np.arange(-reach, reach + 1)
    # by themselves: of pairs of numbers little fits into a processor's nearest memory
    x, y = np.ascontiguousarray(fine.xy.T)
    out_a, out_b = a.copy(), b.copy()
    for n in range(0, len(a), 20_000):
        one = fine.around(a[n : n + 20_000], away)
        two = fine.around(b[n : n + 20_000], away)
        away2 = (x[one][:, :, None] - x[two][:, None, :]) ** 2
        away2 += (y[one][:, :, None] - y[two][:, None, :]) ** 2
        best = away2.reshape(len(one), -1).argmin(axis=1)
        rows = np.arange(len(one))
        out_a[n : n + 20_000] = one[rows, best // len(away)]
        out_b[n : n + 20_000] = two[rows, best % len(away)]
    return out_a, out_b


def _by_sector(shores: Shores, part_a: Ints, part_b: Ints, at_a: Floats, at_b: Floats) -> Ints:
    """Spans worth keeping: for every island the shortest ones in each direction."""
    middles = shapely.get_coordinates(shapely.centroid(shores.outlines))
    middle = np.concatenate([[[0.0, 0.0]], middles])
    length = np.linalg.norm(at_b - at_a, axis=1)
    keep = np.zeros(len(part_a), dtype=np.bool_)
    for part, at in ((part_a, at_a), (part_b, at_b)):
        rel = at - middle[part]
        turn = np.arctan2(rel[:, 1], rel[:, 0]) / (2 * np.pi) + 0.5
        sector = np.minimum((turn * SECTORS).astype(np.int64), SECTORS - 1)
        group = part * SECTORS + sector
        order = np.lexsort((length, group))
        sorted_group = group[order]
        first = np.concatenate([[True], sorted_group[1:] != sorted_group[:-1]])
        begin = np.maximum.accumulate(np.where(first, np.arange(len(order)), 0))
        rank = np.arange(len(order)) - begin
        keep[order[(rank < PER_SECTOR) & (part[order] > 0)]] = True
    return np.flatnonzero(keep)


def _far_from_meetings(middle: Floats, forks: Floats) -> Floats:
    from scipy.spatial import KDTree

    if len(forks) == 0:
        return np.zeros(len(middle))
    away = KDTree(forks).query(middle)[0]
    return np.minimum(np.asarray(away) / MEETING_REACH_MM, 1.0)


def strips(at_a: Floats, at_b: Floats, width_mm: float, beyond_mm: float) -> NDArray[np.object_]:
    """Rectangles along spans, ``beyond_mm`` longer at both ends."""
    along = at_b - at_a
    along = along / np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    side = np.stack([-along[:, 1], along[:, 0]], axis=1) * (width_mm / 2.0)
    a, b = at_a - along * beyond_mm, at_b + along * beyond_mm
    corners = np.stack([a + side, b + side, b - side, a - side, a + side], axis=1)
    return np.asarray(shapely.polygons(corners))


def _shore_areas(fine: ShorePoints, a: Ints, b: Ints, width_mm: float) -> Floats:
    """Area of opening between two shores under a bridge from point a to point b.

    The gap between the shores is averaged over lines across the bridge, by Gauss's rule; on the
    smooth shores of ornament that is good to a few parts in a thousand, and a hundred times
    quicker than cutting polygons. What is built in the end is measured exactly.
    """
    nodes, weights = np.polynomial.legendre.leggauss(6)
    aside = nodes * width_mm / 2.0
    reach = width_mm / 2.0
    away = np.arange(-_AREA_REACH, _AREA_REACH + 1)
    out = np.zeros(len(a))
    for n in range(0, len(a), 10_000):
        one, two = a[n : n + 10_000], b[n : n + 10_000]
        span = fine.xy[two] - fine.xy[one]
        length = np.maximum(np.linalg.norm(span, axis=1), 1e-9)
        along = span / length[:, None]
        near = _shore_offsets(fine, one, away, along, aside, reach)
        far = _shore_offsets(fine, two, away, -along, -aside, reach)
        gap = np.maximum(length[:, None] - near - far, 0.0)
        out[n : n + 10_000] = gap @ weights / 2.0 * width_mm
    return out


def _shore_offsets(
    fine: ShorePoints, at: Ints, away: Ints, along: Floats, aside: Floats, reach: float
) -> Floats:
    """How far a shore stands forward of its point, on lines beside the bridge's middle line."""
    rel = fine.xy[fine.around(at, away)] - fine.xy[at][:, None]
    forward = rel[..., 0] * along[:, None, 0] + rel[..., 1] * along[:, None, 1]
    across = rel[..., 1] * along[:, None, 0] - rel[..., 0] * along[:, None, 1]
    s0, s1 = across[:, :-1, None], across[:, 1:, None]
    f0, f1 = forward[:, :-1, None], forward[:, 1:, None]
    line = aside[None, None, :]
    meets = (np.minimum(s0, s1) <= line) & (line < np.maximum(s0, s1))
    share = (line - s0) / np.where(np.abs(s1 - s0) < 1e-12, 1.0, s1 - s0)
    found = np.where(meets, f0 + share * (f1 - f0), -reach)
    return np.asarray(np.clip(found.max(axis=1), -reach, None))


def tiled(region: MultiPolygon, most_corners: int) -> NDArray[np.object_]:
    """The region cut into pieces of few corners, so that local questions cost little."""
    out: list[Polygon] = []
    waiting = list(region.geoms)
    while waiting:
        piece = waiting.pop()
        if shapely.get_num_coordinates(piece) <= most_corners:
            out.append(piece)
            continue
        left, top, right, bottom = piece.bounds
        if right - left > bottom - top:
            cut = (left + right) / 2.0
            boxes = ((left, top, cut, bottom), (cut, top, right, bottom))
        else:
            cut = (top + bottom) / 2.0
            boxes = ((left, top, right, cut), (left, cut, right, bottom))
        for box in boxes:
            half = clipped_to_box(piece, box)
            waiting += [
                p for p in shapely.get_parts(half) if isinstance(p, Polygon) and not p.is_empty
            ]
    pieces = np.empty(len(out), dtype=object)
    pieces[:] = out
    return pieces
