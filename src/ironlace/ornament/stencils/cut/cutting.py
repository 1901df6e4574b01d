"""From openings to the way a cutter goes: kerf, order, travel, time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.regions import areas_of, polygons_of
from ironlace.ornament.stencils.remembered import Remembered
from ironlace.ornament.stencils.sheets import Sheet

_NEIGHBOURS: Final = 8
"""Nearest rings among which a shorter way is looked for (tuned; on what was not kept)."""

_STARTS: Final = 48
"""Places of a ring at which a cut may begin, at most (tuned; on what was not kept)."""

_PLACES: Final = 6
"""Places of a ring by which the nearest ring is found: of 6 to 48 all led to ways as long within
2 %, the fewest soonest (tuned; on the ornaments and nets of the tests)."""

_NEAR: Final = 20
"""Places looked at first for the nearest that is not cut yet: mostly it is among them (tuned)."""


@dataclass(frozen=True, eq=False)
class CutPlan:
    """The way a cutter goes over one sheet.

    Attributes
    ----------
    cuts
        Closed rings in the order of cutting, each beginning where the cutter comes down; the
        sheet's own edge is last.
    cut_mm
        Length cut.
    travel_mm
        Length of the ways between, from the lower left corner and back.
    nearest_travel_mm
        The same if the cutter always went to the nearest cut, as far as a few places of each tell.
    seconds
        Time by the process's speeds.
    lost
        Openings no wider than the cut itself, which are left out.
    """

    cuts: tuple[Floats, ...]
    cut_mm: float
    travel_mm: float
    nearest_travel_mm: float
    seconds: float
    lost: int


@dataclass(frozen=True, slots=True)
class CutLength:
    """How much there is to cut of one sheet, whatever the way the cutter goes.

    Attributes
    ----------
    cut_mm
        Length cut, the sheet's own edge too.
    seconds
        Time by the process's speeds, without the ways between.
    lost
        Openings no wider than the cut itself, which are left out.
    """

    cut_mm: float
    seconds: float
    lost: int


def for_kerf(openings: MultiPolygon, kerf_mm: float) -> MultiPolygon:
    """Path of the tool's middle: openings drawn in by half the kerf, which the cut gives back.

    An opening of 10.00 mm with a kerf of 0.15 mm is driven at 9.85 mm.
    """
    drawn_in = _drawn_in(np.asarray(shapely.get_parts(openings), dtype=object), kerf_mm)
    return MultiPolygon([part for piece in drawn_in for part in polygons_of(piece)])


def _drawn_in(parts: NDArray[np.object_], kerf_mm: float) -> NDArray[np.object_]:
    """Each opening drawn in by half the kerf; empty where nothing of it is left."""
    if kerf_mm <= 0:
        return parts
    return np.asarray(shapely.buffer(parts, -kerf_mm / 2.0, quad_segs=48), dtype=object)


def cut_length(sheet: Sheet, process: Process, remembered: Remembered | None = None) -> CutLength:
    """Length and time of the cuts of a sheet; ``remembered`` is that of its openings before."""
    kerf = process.kerf_mm
    remembered = remembered or Remembered()
    lengths = remembered.each(
        ("cut", kerf),
        remembered.parts(sheet.openings),
        lambda new: [[ring.length for ring in own] for own in _driven(_drawn_in(new, kerf))],
    )
    rings, outer = _about_the_openings(sheet, kerf)
    every = [mm for own in lengths for mm in own] + [ring.length for ring in (*rings, outer)]
    cut = math.fsum(every)
    seconds = cut / process.cut_mm_s + len(every) * process.start_s
    return CutLength(cut, seconds, sum(not own for own in lengths))


def _about_the_openings(sheet: Sheet, kerf_mm: float) -> tuple[list[_Ring], _Ring]:
    """The register holes, and the sheet's own edge."""
    turn = np.linspace(0, 2 * np.pi, 64, endpoint=False)
    radius = (sheet.register_hole_mm - kerf_mm) / 2.0
    circle = radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    edge = sheet.edge.buffer(kerf_mm / 2.0, join_style="mitre") if kerf_mm > 0 else sheet.edge
    outer = _ring(shapely.get_coordinates(edge.exterior)[:-1])
    return [_ring(np.asarray(at) + circle) for at in sheet.register_mm], outer


def cut_plan(sheet: Sheet, process: Process) -> CutPlan:
    """Order the cuts of a sheet: openings and register holes first, the edge last.

    The nearest-neighbour order is improved by reversing stretches (2-opt; Croes 1958) and by
    beginning each ring where it lies best between its neighbours.
    """
    kerf = process.kerf_mm
    openings = np.asarray(shapely.get_parts(sheet.openings), dtype=object)
    driven = _driven(_drawn_in(openings, kerf))
    holes, outer = _about_the_openings(sheet, kerf)
    rings = [*(ring for own in driven for ring in own), *holes]
    left, _, _, bottom = sheet.edge.bounds
    home = np.array([left, bottom])
    order, starts = nearest_order([ring.starts for ring in rings], home)
    plain = _travel([ring.starts for ring in rings], order, starts, home)
    order, starts = shorter_order([ring.starts for ring in rings], order, starts, home)
    travel = _travel([ring.starts for ring in rings], order, starts, home)
    cuts = [
        np.concatenate([xy[at:], xy[:at]])
        for xy, at in (
            (rings[r].xy, s * rings[r].stride) for r, s in zip(order, starts, strict=True)
        )
    ]
    cut = math.fsum([*(ring.length for ring in rings), outer.length])
    cuts.append(outer.xy)
    seconds = cut / process.cut_mm_s + travel / process.travel_mm_s + len(cuts) * process.start_s
    lost = sum(not own for own in driven)
    return CutPlan(tuple(cuts), cut, travel, plain, seconds, lost)


@dataclass(frozen=True, eq=False)
class _Ring:
    """A closed cut: its corners (n, 2) in mm, how long it is, and where it may begin, (m, 2).

    It may begin at every so many corners, its ``stride``.
    """

    xy: Floats
    length: float
    stride: int
    starts: Floats


def _ring(xy: Floats) -> _Ring:
    # a cut may begin at any of some fifty corners of its ring: more shorten no way that counts
    stride = max(1, len(xy) // _STARTS)
    length = float(np.linalg.norm(xy - np.roll(xy, 1, axis=0), axis=1).sum())
    return _Ring(xy, length, stride, xy[::stride])


def _driven(pieces: NDArray[np.object_]) -> list[list[_Ring]]:
    """Rings of each opening drawn in, each hole before what is around it."""
    openings, piece = areas_of(pieces)
    loops, of = shapely.get_rings(openings, return_index=True)
    xy = shapely.get_coordinates(loops)
    ends = np.concatenate([[0], np.cumsum(shapely.get_num_coordinates(loops))]).tolist()
    # the outline comes first, and is cut last
    outer = np.diff(of, prepend=-1) != 0
    order = np.lexsort((np.arange(len(of)), outer, of))
    out: list[list[_Ring]] = [[] for _ in pieces]
    for n, at in zip(order.tolist(), piece[of[order]].tolist(), strict=True):
        out[at].append(_ring(xy[ends[n] : ends[n + 1] - 1]))
    return out


def nearest_order(rings: list[Floats], home: Floats) -> tuple[list[int], list[int]]:
    """The nearest ring next, and where on each ring to begin.

    Nearest by a few places of each ring, all looked up at once: asked for one after another, the
    nearest of all places takes four times as long, and makes no shorter way once it is improved.
    """
    from scipy.spatial import cKDTree

    if not rings:
        return [], []
    strides = [max(1, len(ring) // _PLACES) for ring in rings]
    few = [ring[::stride] for ring, stride in zip(rings, strides, strict=True)]
    points, counts = np.concatenate(few), np.array([len(own) for own in few])
    owner = np.repeat(np.arange(len(rings)), counts)
    first, last = (np.cumsum(counts) - counts).tolist(), (np.cumsum(counts) - 1).tolist()
    tree = cKDTree(points)
    # a ring's own places are among the nearest, and are none to go to
    found = tree.query(points, k=min(_NEAR + _PLACES, len(points)))[1]
    near = owner[found.reshape(len(points), -1)].tolist()
    complexes = [ring[:, 0] + 1j * ring[:, 1] for ring in rings]
    left = _Uncut(points, owner)
    order: list[int] = []
    starts: list[int] = []
    here, beside = complex(*home), list[int]()
    for _ in rings:
        ring = next((r for r in beside if not left.done[r]), -1)
        if ring < 0:
            ring = left.nearest(here)
        start = int(np.abs(complexes[ring] - here).argmin())
        left.done[ring] = True
        order.append(ring)
        starts.append(start)
        here = complex(complexes[ring][start])
        beside = near[min(first[ring] + round(start / strides[ring]), last[ring])]
    return order, starts


class _Uncut:
    """Rings that are not cut yet, by some of their places; ``done`` tells those that are."""

    def __init__(self, points: Floats, owner: Ints) -> None:
        self.points, self.owner = points, owner
        self.done = [False] * (int(owner.max()) + 1)
        self._rebuilt()

    def _rebuilt(self) -> None:
        from scipy.spatial import cKDTree

        alive = np.flatnonzero(~np.array(self.done)[self.owner])
        self.at: list[int] = self.owner[alive].tolist()
        self.tree = cKDTree(self.points[alive])
        self.left = self.done.count(False)

    def nearest(self, here: complex) -> int:
        """The ring nearest to a place, of those that are left."""
        if self.done.count(False) < self.left // 2:
            # a tree full of rings already cut answers slowly
            self._rebuilt()
        k = _NEAR
        while True:
            near = self.tree.query((here.real, here.imag), k=min(k, len(self.at)))[1]
            rings = [self.at[n] for n in np.atleast_1d(near).tolist()]
            ring = next((ring for ring in rings if not self.done[ring]), -1)
            if ring >= 0:
                return ring
            k *= 8


def shorter_order(
    rings: list[Floats], order: list[int], starts: list[int], home: Floats, passes: int = 6
) -> tuple[list[int], list[int]]:
    """A shorter way round than the one given, never a longer one."""
    if len(order) < 2:
        return order, starts
    start_of = dict(zip(order, starts, strict=True))
    # as complex numbers a distance is one call, of which there are ten thousands
    at_home, places = complex(*home), [ring[:, 0] + 1j * ring[:, 1] for ring in rings]
    for _ in range(passes):
        before = _travel(rings, order, [start_of[r] for r in order], home)
        points = np.array([home, *(rings[r][start_of[r]] for r in order)])
        tour = _two_opt(points)
        at = tour.index(0)
        order = [order[n - 1] for n in tour[at + 1 :] + tour[:at]]
        last = at_home
        for r, after in zip(order, [*order[1:], -1], strict=True):
            following = at_home if after < 0 else places[after][start_of[after]]
            own = places[r]
            start_of[r] = int((np.abs(own - last) + np.abs(own - following)).argmin())
            last = own[start_of[r]]
        if _travel(rings, order, [start_of[r] for r in order], home) > before * 0.999:
            break
    return order, [start_of[r] for r in order]


def _two_opt(points: Floats) -> list[int]:
    """A closed tour in which no two edges gain by being swapped, among near neighbours."""
    from scipy.spatial import KDTree

    n = len(points)
    tour = list(range(n))
    if n < 4:
        return tour
    place = list(range(n))
    near = np.asarray(KDTree(points).query(points, k=min(_NEIGHBOURS + 1, n))[1])[:, 1:].tolist()
    xy = [complex(x, y) for x, y in points]
    for _ in range(4):
        changed = False
        for a in range(n):
            i = place[a]
            b = tour[(i + 1) % n]
            whole = abs(xy[a] - xy[b])
            for c in near[a]:
                gain = whole - abs(xy[a] - xy[c])
                if gain <= 1e-9:
                    break
                j = place[c]
                d = tour[(j + 1) % n]
                if c == b or d == a:
                    continue
                if gain + abs(xy[c] - xy[d]) - abs(xy[b] - xy[d]) > 1e-9:
                    low, high = (i + 1, j) if i < j else (j + 1, i)
                    tour[low : high + 1] = tour[low : high + 1][::-1]
                    for k in range(low, high + 1):
                        place[tour[k]] = k
                    changed = True
                    break
        if not changed:
            break
    return tour


def _travel(rings: list[Floats], order: list[int], starts: list[int], home: Floats) -> float:
    points = np.array([home, *(rings[r][s] for r, s in zip(order, starts, strict=True)), home])
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
