"""Thin webs, tongues and crowded gaps: where the sheet is narrower than the process can leave it.

The sheet is opened by a disc as wide as the least web (Serra 1982, "Image analysis and mathematical
morphology"). What the disc cannot reach is a web if it joins two reaches of the sheet, a tip if it
hangs on one, and a loose sliver if on none. Tips are as thin as the drawing has them pointed, and
are left alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.facing import (
    LONG,
    may_be_narrow,
    narrow_rings,
    small_for,
    where_narrow,
)
from ironlace.ornament.stencils.parts import shores
from ironlace.ornament.stencils.regions import (
    areas_of,
    as_array,
    as_region,
    clipped_to_box,
    clusters,
    cut_from,
    lines_between,
    polygons_of,
    ring_lines,
    together,
)
from ironlace.ornament.stencils.remembered import Remembered

_SLACK: Final = 0.985
"""A web exactly as wide as asked for is not thin: chords and rounding take about this much."""

_AT_A_POINT: Final = 0.8
"""Share of the least web under which a place that is narrow at one point only, between two tips,
counts as a thin web: it widens to both sides, and bears more than a strip (tuned)."""

_CUT_BEYOND_MM: Final = 0.02
"""How far a cut through a narrow place runs on beyond its shores, to be sure to part them."""

_CHORDS: Final = 0.03
"""Share of a disc's width up to which what it does not reach along an edge is a matter of chords:
they come to 0.013 at most on nets, and a narrow place to a third (tuned)."""

_EROSIONS: Final = 4
"""Steps in which a sheet is drawn in to find its tongues; each drops corners (tuned)."""

_WIDER: Final = 1.03
"""Thin webs are made this much wider than asked, since rungs do not stand quite square."""


@dataclass(frozen=True, eq=False)
class Web:
    """A thin place of the sheet between two openings or two turns of one.

    Attributes
    ----------
    shape
        The thin part of the sheet.
    width_mm
        Where it is thinnest.
    length_mm
        How long it stays thin.
    rungs
        Crossings from shore to shore, (n, 2, 2), in pairs of neighbours: rungs 2k and 2k + 1.
    sides
        Number of the shore each rung's ends stand on, (n, 2).
    between_tips
        Whether two tips or bows face each other, and the disc covers what lies between.
    """

    shape: Polygon
    width_mm: float
    length_mm: float
    rungs: Floats
    sides: Ints
    between_tips: bool = False
    _set_back: dict[tuple[float, int], shapely.Geometry] = field(
        default_factory=dict, init=False, repr=False
    )

    @property
    def where(self) -> tuple[float, float]:
        """Where it is thinnest."""
        gaps = np.linalg.norm(self.rungs[:, 1] - self.rungs[:, 0], axis=1)
        x, y = self.rungs[gaps.argmin()].mean(axis=0)
        return (float(x), float(y))

    @property
    def shores(self) -> tuple[int, ...]:
        """Numbers of the shores it lies between."""
        return tuple(int(s) for s in np.unique(self.sides))

    def widened(self, width_mm: float) -> shapely.Geometry:
        """Material that makes it as wide as asked, taken alike from both sides."""
        middle = self.rungs.mean(axis=1)
        along, gap = _directions(self.rungs)
        half = np.maximum(width_mm * _WIDER, gap)[:, None] / 2.0
        ladder = _ladder(np.stack([middle - along * half, middle + along * half], axis=1))
        # discs round off the ladder's ends, where corners would be left standing as teeth
        # of the many that nearly coincide on a long web one is enough
        cell = np.round(middle * (24.0 / width_mm)).astype(np.int64)
        apart = middle[np.unique(cell, axis=0, return_index=True)[1]]
        discs = shapely.buffer(shapely.multipoints(apart), width_mm * _WIDER / 2.0, quad_segs=12)
        # and the web itself grown, for the corners at its mouth that no rung stands on
        grown = self.shape.buffer(max(0.0, width_mm * _WIDER - float(gap.max())) / 2.0)
        return shapely.union_all([ladder, discs, grown])

    def set_back(self, width_mm: float, keep: int) -> shapely.Geometry:
        """Material that makes it as wide as asked while shore ``keep`` stays where it is.

        Both shores are tried, one is taken, and a web that is remembered is tried again with every
        change: each is worked out once.
        """
        asked = (width_mm, keep)
        if asked not in self._set_back:
            self._set_back[asked] = self._made_by_setting_back(width_mm, keep)
        return self._set_back[asked]

    def _made_by_setting_back(self, width_mm: float, keep: int) -> shapely.Geometry:
        rungs = self.rungs.copy()
        turn = self.sides[:, 1] == keep
        # between two shores that both give way, the lower number stays
        turn |= (self.sides != keep).all(axis=1) & (self.sides[:, 1] < self.sides[:, 0])
        rungs[turn] = rungs[turn][:, ::-1]
        along, gap = _directions(rungs)
        reach = np.maximum(width_mm, gap)[:, None]
        # grown a little, so that no tooth is left at its ends; never as far as the shore that stays
        grow = min(0.12 * width_mm, 0.9 * float(gap.min()))
        start = rungs[:, 0] + along * (grow + 0.02 * gap[:, None])
        # what it is grown by counts towards its width: set back further, more would stray
        end = rungs[:, 0] + along * np.maximum(reach - grow, grow + 0.03 * gap[:, None])
        ladder = shapely.buffer(_ladder(np.stack([start, end], axis=1)), grow, quad_segs=6)
        if not self.between_tips:
            return ladder
        # what lies round a tip that stays is as near to it: else teeth would be left standing
        n = int(gap.argmin())
        aside = np.array([-along[n][1], along[n][0]]) * width_mm
        corners = [start[n] - aside, start[n] + aside]
        ahead = Polygon([*corners, *(c + along[n] * width_mm for c in corners[::-1])])
        round_it = shapely.Point(start[n]).buffer(width_mm - grow, quad_segs=12)
        return shapely.union(ladder, round_it.intersection(ahead))


_FEW: Final = 12
"""Openings up to which all are looked at together for thin webs: cluster by cluster is quicker for
more (tuned; on what was not kept)."""


@dataclass(frozen=True, eq=False)
class Tongue:
    """A part of the sheet held at one end only.

    Attributes
    ----------
    shape
        The tongue.
    length_mm
        From its root to its farthest point.
    width_mm
        Its area over its length.
    """

    shape: Polygon
    length_mm: float
    width_mm: float


def sheet_polygons(openings: MultiPolygon, margin_mm: float) -> list[Polygon]:
    """The sheet and its islands as polygons, the sheet first."""
    return list(_parts_around(openings, margin_mm)[0])


def _parts_around(openings: MultiPolygon, margin_mm: float) -> tuple[NDArray[np.object_], Ints]:
    """As of `sheet_polygons`, and of each outline, then of each hole, on which of them it is."""
    left, top, right, bottom = openings.bounds
    frame = shapely.box(left - margin_mm, top - margin_mm, right + margin_mm, bottom + margin_mm)
    shore = shores(openings)
    around = [r for r, part in zip(shore.rings, shore.part, strict=True) if part == 0]
    sheet = Polygon(frame.exterior, around)
    return np.asarray([sheet, *shore.island_shapes()], dtype=object), shore.part


def thin_webs(
    openings: MultiPolygon,
    least_mm: float,
    *,
    near: Sequence[Polygon] | None = None,
    remembered: Remembered | None = None,
    between_tips: bool = True,
) -> list[Web]:
    """Webs of the sheet thinner than ``least_mm``, and slivers of it that are thin all over.

    Parameters
    ----------
    near
        Look only around these places: the rest was looked at, and has not changed since.
    remembered
        What was found around the same openings before.
    between_tips
        Whether two tips may face each other. Openings that were set as far apart as a web is wide
        have none, and looking for them takes time.
    """
    if openings.is_empty or (near is not None and len(near) == 0):
        return []
    if len(openings.geoms) > _FEW:
        # what did not change is remembered by its cluster
        return _webs_by_clusters(openings, least_mm, between_tips, remembered or Remembered())
    reach = least_mm * _SLACK / 2.0
    sheet = MultiPolygon(sheet_polygons(openings, 3.0 * least_mm + 1.0))
    if near is not None:
        around = shapely.union_all([p.envelope.buffer(2.0 * least_mm) for p in near])
        sheet = _clipped(sheet, around.buffer(4.0 * least_mm, join_style="mitre"))
    # half a hundredth of the web: far below what is looked for, and quicker
    lighter = with_fewer_corners(sheet, least_mm * 0.005)
    if near is None:
        parts = np.asarray(shapely.get_parts(lighter), dtype=object)
        lighter = MultiPolygon(list(parts[may_be_narrow(parts, least_mm)]))
    core = lighter.buffer(-reach, quad_segs=12)
    opened = core.buffer(reach * 1.004, quad_segs=12)
    rest = polygons_of(lighter.difference(opened))
    rest = [p for p in rest if p.area > 1e-3 * least_mm**2]
    if near is not None:
        # beyond, the sheet was only cut off
        rest = [p for p in rest if p.intersects(around)]
    found = [web for _, web in _webs_of(rest, as_region(opened), least_mm)] if rest else []
    if not between_tips:
        return found
    rings = _facing(np.asarray([lighter], dtype=object), least_mm * _AT_A_POINT)[0]
    between = _between_tips(lighter, rings, core, found, least_mm)
    if near is not None:
        between = [web for web in between if web.shape.intersects(around)]
    return found + between


def _webs_by_clusters(
    openings: MultiPolygon, least_mm: float, between_tips: bool, remembered: Remembered
) -> list[Web]:
    """As `thin_webs`, cluster by cluster of openings: none is thin between two clusters."""
    fine, tolerance = remembered.parts(openings), least_mm * 0.005
    light = as_array(
        remembered.each(
            ("fewer corners", tolerance),
            fine,
            lambda new: _with_fewer_corners(new, tolerance),
        )
    )
    near = clusters(light, 1.02 * least_mm, remembered)

    def webs_of(new: list[int]) -> list[list[Web]]:
        shapes = together(light, [near[n] for n in new])
        # what was thinned may cross its neighbours
        for n in np.flatnonzero(~shapely.is_valid(shapes)).tolist():
            shapes[n] = shapely.multipolygons(fine[near[new[n]]])
        return _webs_of_clusters(shapes, least_mm, between_tips)

    found = remembered.groups(("thin webs", least_mm, between_tips), fine, near, webs_of)
    return [web for webs in found for web in webs]


def _webs_of_clusters(
    shapes: NDArray[np.object_], least_mm: float, between_tips: bool
) -> list[list[Web]]:
    """Thin webs of each cluster, by itself."""
    out: list[list[Web]] = [[] for _ in shapes]
    at, sheets = _sheets_asked(shapes, least_mm)
    if len(at) == 0:
        return out
    reach = least_mm * _SLACK / 2.0
    core = shapely.buffer(sheets, -reach, quad_segs=12)
    opened = np.asarray(shapely.buffer(core, reach * 1.004, quad_segs=12), dtype=object)
    thin = np.asarray(shapely.difference(sheets, opened), dtype=object)
    # without the frames and their corners, which lie across the clusters beside theirs
    held = shapely.bounds(shapes[at]) + least_mm * np.array([-2.0, -2.0, 2.0, 2.0])
    rings, part = shapely.get_rings(shapely.get_parts(opened), return_index=True)
    owner = np.repeat(np.arange(len(opened)), shapely.get_num_geometries(opened))[part]
    own = _within(shapely.bounds(rings), held[owner])
    shore = MultiPolygon(list(np.asarray(shapely.polygons(rings[own]), dtype=object)))
    bits, of = shapely.get_parts(thin, return_index=True)
    kept = _within(shapely.bounds(bits), held[of]) & (shapely.area(bits) > 1e-3 * least_mm**2)
    pieces = [(n, p) for n, bit in zip(of[kept], bits[kept], strict=True) for p in polygons_of(bit)]
    if pieces:
        for piece, web in _webs_of([p for _, p in pieces], shore, least_mm):
            out[at[pieces[piece][0]]].append(web)
    if not between_tips:
        return out
    facing = _facing(sheets, least_mm * _AT_A_POINT)
    for n, (k, rings) in enumerate(zip(at.tolist(), facing, strict=True)):
        between = _between_tips(sheets[n], rings, core[n], out[k], least_mm)
        out[k] += [web for web in between if _within(np.array([web.shape.bounds]), held[[n]])[0]]
    return out


def _between_tips(
    sheet: MultiPolygon,
    rings: NDArray[np.object_],
    core: BaseGeometry,
    found: Sequence[Web],
    least_mm: float,
) -> list[Web]:
    """Webs where tips or bows face each other: the disc goes not through, but covers them.

    From either side the disc reaches beyond the middle between two tips, so that opening leaves
    nothing there. The narrowest places between shores are the edges of a triangulation of the
    shores whose circle holds no third point (Gabriel and Sokal 1969).

    Parameters
    ----------
    sheet
        What is looked at.
    rings
        Its outlines that face one another; see `_facing`.
    core
        The sheet drawn in by half the least web: a web joins two places of it.
    found
        Webs that are known; none is told twice.
    """
    ends = _narrowest(sheet, rings, least_mm * _AT_A_POINT)
    middle = ends.mean(axis=1)
    if len(found) and len(ends):
        known = shapely.union_all([web.shape for web in found])
        new = ~np.asarray(shapely.dwithin(known, shapely.points(middle), 0.3 * least_mm), np.bool_)
        ends, middle = ends[new], middle[new]
    out: list[Web] = []
    parts = np.asarray(shapely.get_parts(sheet), dtype=object)
    gap = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    taken = np.zeros((0, 2))
    for n in np.argsort(gap, kind="stable").tolist():
        if len(taken) and np.hypot(*(taken - middle[n]).T).min() < least_mm:
            continue
        near = _around(parts, middle[n], 2.0 * least_mm)
        if not _joins_two(near, core, ends[n]):
            continue
        web = _web_around(near, middle[n], least_mm)
        if web is not None and web.width_mm < least_mm * _AT_A_POINT:
            taken = np.concatenate([taken, middle[n : n + 1]])
            out.append(replace(web, between_tips=True))
    return out


def _around(parts: NDArray[np.object_], middle: Floats, radius_mm: float) -> Polygon:
    """The sheet, in its parts, around a point of it, as far as it hangs together there."""
    point = shapely.Point(middle)
    disc = point.buffer(radius_mm, quad_segs=12)
    near = [clipped_to_box(p, disc.bounds) for p in parts[shapely.intersects(parts, disc)]]
    # where corners lie on the box, clipping may leave what is no polygon
    whole = shapely.union_all([shapely.make_valid(p) for p in near]).intersection(disc)
    return min(polygons_of(whole), key=point.distance)


def _joins_two(near: Polygon, core: BaseGeometry, ends: Floats) -> bool:
    """Whether the disc finds room on both sides of a narrow place, cut through there.

    Beside an opening that is small the sheet goes round it, and the cut leaves one side: it is
    then cut along the whole line through the place.
    """
    along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    across = ends + np.stack([-along, along]) * _CUT_BEYOND_MM
    beside = shapely.LineString(across).buffer(_CUT_BEYOND_MM / 2.0, cap_style="flat")
    whole = float(np.hypot(*np.ptp(np.reshape(near.bounds, (2, 2)), axis=0)))
    for beyond in (_CUT_BEYOND_MM, whole):
        line = shapely.LineString(ends + np.stack([-along, along]) * beyond)
        slit = line.buffer(_CUT_BEYOND_MM / 4.0, cap_style="flat")
        sides = [p for p in polygons_of(near.difference(slit)) if p.intersects(beside)]
        if len(sides) > 1:
            return sum(bool(core.intersects(p)) for p in sides) > 1
    return False


def _web_around(near: Polygon, middle: Floats, least_mm: float) -> Web | None:
    """The sheet around the middle of a narrow place as a web."""
    piece = _around(np.asarray([near], dtype=object), middle, least_mm)
    ring = shapely.get_coordinates(shapely.segmentize(piece.exterior, least_mm / 8.0))
    away = np.hypot(*((ring[:-1] + ring[1:]) / 2.0 - middle).T)
    side = _free_runs(ring, np.asarray(away > 0.98 * least_mm), 0.0)
    return _web(piece, ring, side, loose=False) if side.max(initial=-1) > 0 else None


def _facing(sheets: NDArray[np.object_], within_mm: float) -> list[NDArray[np.object_]]:
    """Of each sheet the outlines that face another, or themselves, across it."""
    parts, sheet = shapely.get_parts(sheets, return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    inward = np.where(np.diff(part, prepend=-1) != 0, 1.0, -1.0)
    of = sheet[part]
    asked = narrow_rings(rings, of, inward, within_mm)
    own = np.searchsorted(of[asked], np.arange(len(sheets) + 1))
    return np.split(rings[asked], own[1:-1])


def _narrowest(sheet: MultiPolygon, rings: NDArray[np.object_], within_mm: float) -> Floats:
    """Where such outlines of a sheet come nearest to each other across it, (n, 2, 2), mm."""
    from scipy.spatial import Delaunay

    # a third point that would be in a circle lies as near, and is of one of these rings too
    if len(rings) == 0:
        return np.zeros((0, 2, 2))
    xy, ring = shapely.get_coordinates(
        shapely.segmentize(rings, within_mm / 6.0), return_index=True
    )
    last = np.flatnonzero(np.diff(ring, append=-1) != 0)
    xy, ring = np.delete(xy, last, axis=0), np.delete(ring, last)
    if len(xy) < 4:
        return np.zeros((0, 2, 2))
    # the step from the last corner of each ring to its first too
    first = np.flatnonzero(np.diff(ring, prepend=-1) != 0)
    after = np.arange(1, len(xy) + 1)
    after[np.append(first[1:], len(xy)) - 1] = first
    beside = np.minimum(after, np.arange(len(xy))) * len(xy) + np.maximum(after, np.arange(len(xy)))
    triangles = Delaunay(xy - xy.mean(axis=0)).simplices.astype(np.int64)
    one, two = triangles[:, [0, 1, 2]].ravel(), triangles[:, [1, 2, 0]].ravel()
    third = triangles[:, [2, 0, 1]].ravel()
    a, b = xy[one] - xy[third], xy[two] - xy[third]
    # across a strip of even width angles are right ones, but for rounding
    blunt = (a * b).sum(axis=1) < -0.2 * np.hypot(*a.T) * np.hypot(*b.T)
    short = np.hypot(*(xy[one] - xy[two]).T) < within_mm
    key = np.minimum(one, two) * len(xy) + np.maximum(one, two)
    edges = np.setdiff1d(key[short], np.concatenate([key[blunt], beside]))
    ends = np.stack([xy[edges // len(xy)], xy[edges % len(xy)]], axis=1)
    # drawn in a little at both ends, which lie on the edge only to rounding
    inner = shapely.linestrings(0.98 * ends + 0.02 * ends[:, ::-1])
    shapely.prepare(sheet)
    return ends[np.asarray(shapely.contains_properly(sheet, inner), np.bool_)]


def _sheets_asked(shapes: NDArray[np.object_], least_mm: float) -> tuple[Ints, NDArray[np.object_]]:
    """Of the sheet around and in each cluster the parts that may be thin anywhere.

    Returns
    -------
    at
        Numbers of the clusters that have any, rising.
    sheets
        Those parts of each.
    """
    parts, cluster = shapely.get_parts(shapes, return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    # the sheet lies on the outer side of an opening's outline, and within its holes
    inward = np.where(np.diff(part, prepend=-1) != 0, -1.0, 1.0)
    faces = narrow_rings(rings, cluster[part], inward, least_mm)
    faces |= _small_holes(rings, inward, least_mm)
    asked = np.zeros(len(shapes), np.bool_)
    asked[cluster[part[faces]]] = True
    # a web of one opening alone, and without a hole, shuts in a place where the disc has room
    lone = (np.bincount(cluster, minlength=len(shapes)) == 1) & asked
    lone[cluster[shapely.get_num_interior_rings(parts) > 0]] = False
    asked[lone] = _shuts_in(shapes[lone], least_mm * _SLACK / 2.0, 12)
    at = np.flatnonzero(asked)
    sheets = np.empty(len(at), dtype=object)
    first = np.searchsorted(cluster[part], np.arange(len(shapes) + 1))
    for n, k in enumerate(at.tolist()):
        own, of_ring = _parts_around(shapes[k], 3.0 * least_mm + 1.0)
        some = small_for(own, least_mm)
        # `part` of rings that follow each other, outlines first
        ring = np.arange(first[k], first[k + 1])
        outer = inward[ring] < 0
        ring = np.concatenate([ring[outer], ring[~outer]])
        some[of_ring[faces[ring]]] = True
        sheets[n] = MultiPolygon(list(own[some])) if some.any() else MultiPolygon(list(own))
    return at, sheets


def _shuts_in(shapes: NDArray[np.object_], reach_mm: float, quad_segs: int) -> NDArray[np.bool_]:
    """Around which openings, grown by a reach, lies a place that they shut in."""
    parts, of = shapely.get_parts(
        shapely.buffer(shapes, reach_mm, quad_segs=quad_segs), return_index=True
    )
    found = np.zeros(len(shapes), np.bool_)
    found[of[shapely.get_num_interior_rings(parts) > 0]] = True
    return found


def _small_holes(rings: NDArray[np.object_], inward: Floats, least_mm: float) -> NDArray[np.bool_]:
    """Holes so small that no disc of the least web may go into them."""
    holes = np.flatnonzero(inward > 0)
    found = np.zeros(len(rings), np.bool_)
    if len(holes):
        found[holes] = small_for(np.asarray(shapely.polygons(rings[holes])), least_mm)
    return found


def _within(inner: Floats, outer: Floats) -> NDArray[np.bool_]:
    """Whether boxes (left, top, right, bottom) lie within others, row by row."""
    return np.asarray(
        (inner[:, :2] >= outer[:, :2]).all(axis=1) & (inner[:, 2:] <= outer[:, 2:]).all(axis=1)
    )


def hanging_by_threads(
    openings: MultiPolygon, thread_mm: float, remembered: Remembered | None = None
) -> list[Polygon]:
    """Bits of the sheet that hang on it by less than ``thread_mm``: a knob on a pointed tip.

    They are no webs, since nothing lies beyond them, and tear off with the first touch. A thread
    runs between two shores of one opening, or of several that lie no farther apart than it is wide:
    each such cluster is looked at by itself. ``remembered`` is what was found around the same
    openings before.
    """
    remembered = remembered or Remembered()
    parts = remembered.parts(openings)
    near = clusters(parts, 1.1 * thread_mm, remembered)
    found = remembered.groups(
        ("threads", thread_mm),
        parts,
        near,
        lambda new: _hanging_of_clusters(together(parts, [near[n] for n in new]), thread_mm),
    )
    return [bit for bits in found for bit in bits]


def _hanging_of_clusters(shapes: NDArray[np.object_], thread_mm: float) -> list[list[Polygon]]:
    """What hangs by threads in each cluster, by itself."""
    parts, cluster = shapely.get_parts(shapes, return_index=True)
    rings = np.asarray(shapely.get_exterior_ring(parts), dtype=object)
    asked = np.bincount(cluster, minlength=len(shapes)) > 1
    asked[cluster[shapely.get_num_interior_rings(parts) > 0]] = True
    asked[cluster[narrow_rings(rings, cluster, -np.ones(len(rings)), thread_mm)]] = True
    # of the sheet drawn in by half a thread a bit is loose where the openings, grown, shut it in
    asked[asked] = _shuts_in(shapes[asked], thread_mm / 2.0, 4)
    return [
        _hanging_of(shape, thread_mm) if ask else []
        for shape, ask in zip(shapes, asked.tolist(), strict=True)
    ]


def _hanging_of(openings: MultiPolygon, thread_mm: float) -> list[Polygon]:
    sheet = MultiPolygon(sheet_polygons(openings, 3.0 * thread_mm + 1.0))
    lighter = with_fewer_corners(sheet, thread_mm * 0.03)
    parts = polygons_of(lighter.buffer(-thread_mm / 2.0, quad_segs=4))
    if len(parts) < 2:
        return []
    largest = max(parts, key=lambda p: p.area)
    loose = [p for p in parts if p is not largest and p.area > 0.01 * thread_mm**2]
    # back to the size they had, and what is left of the thread with them
    grown = shapely.union_all([p.buffer(thread_mm * 0.55, quad_segs=4) for p in loose])
    return polygons_of(grown)


def _clipped(sheet: MultiPolygon, windows: shapely.Geometry) -> MultiPolygon:
    """The sheet within windows, each taken as its box."""
    pieces: list[Polygon] = []
    boxes = shapely.union_all([w.envelope for w in polygons_of(windows)])
    for window in polygons_of(boxes):
        # boxes that overlap make a window of another shape
        rough = [clipped_to_box(p, window.bounds) for p in sheet.geoms]
        for part in rough:
            if not part.is_empty:
                whole = part if part.is_valid else part.buffer(0)
                pieces += polygons_of(whole.intersection(window))
    return as_region(MultiPolygon(pieces)) if pieces else MultiPolygon()


def with_fewer_corners(region: MultiPolygon, tolerance_mm: float) -> MultiPolygon:
    """The region with no corner that a straight line would pass within ``tolerance_mm``.

    Every ring is thinned by itself (Douglas and Peucker 1973), which costs n log n; where rings
    then cross, the region is handed back as it came.
    """
    parts = np.asarray(shapely.get_parts(region), dtype=object)
    lighter = MultiPolygon(_with_fewer_corners(parts, tolerance_mm))
    return lighter if lighter.is_valid else region


def _with_fewer_corners(parts: NDArray[np.object_], tolerance_mm: float) -> list[Polygon]:
    """Each polygon thinned by itself; as it came where its rings would cross."""
    rings, part = shapely.get_rings(parts, return_index=True)
    if len(rings) == 0:
        return list(parts)
    sizes = shapely.get_num_coordinates(rings)
    start = np.concatenate([[0], np.cumsum(sizes)])
    middle = start[:-1] + sizes // 2
    # two open lines to a ring: a closed one has no chord to measure from
    halves = lines_between(
        shapely.get_coordinates(rings),
        np.stack([start[:-1], middle], axis=1).ravel(),
        np.stack([middle, start[1:] - 1], axis=1).ravel(),
    )
    thinned, half = shapely.get_coordinates(
        shapely.simplify(halves, tolerance_mm, preserve_topology=False), return_index=True
    )
    ring = half // 2
    # the second half begins where the first ends
    again = np.flatnonzero((np.diff(half, prepend=-1) != 0) & (half % 2 == 1))
    thinned, ring = np.delete(thinned, again, axis=0), np.delete(ring, again)
    few = np.bincount(ring, minlength=len(rings)) < 4
    loops = rings.copy()
    whole = ~few[ring]
    loops[~few] = shapely.linearrings(thinned[whole], indices=(np.cumsum(~few) - 1)[ring[whole]])
    lighter = np.empty(len(parts), dtype=object)
    lighter[:] = _shapes(loops, part)
    return list(np.where(shapely.is_valid(lighter), lighter, parts))


def edge_lines(region: MultiPolygon, edges: int = 24) -> NDArray[np.object_]:
    """The region's outlines in short lines, so that a tree of them answers quickly."""
    return ring_lines(shapely.get_rings(shapely.get_parts(region)), edges)[0]


def _shapes(loops: NDArray[np.object_], owner: Ints) -> list[Polygon]:
    """Polygons of rings, the first of each owner its outline."""
    first = np.flatnonzero(np.diff(owner, prepend=-1))
    return [
        shapely.polygons(loops[a], holes=loops[a + 1 : b])
        for a, b in zip(first, [*first[1:], len(loops)], strict=True)
    ]


def _webs_of(pieces: list[Polygon], opened: MultiPolygon, least_mm: float) -> list[tuple[int, Web]]:
    """Which of the thin pieces join two reaches of the sheet: their numbers, and the webs."""
    shapes = np.asarray(pieces, dtype=object)
    rings = shapely.segmentize(shapely.get_exterior_ring(shapes), least_mm / 8.0)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    # of the last corner, which is the first again, no edge begins
    begins = np.flatnonzero(np.diff(ring) == 0)
    touching = np.zeros(len(begins), dtype=np.bool_)
    if not opened.is_empty:
        # the thin pieces lie outside the opened sheet: only its edge can be touched
        middle = (xy[begins] + xy[begins + 1]) / 2.0
        hit = shapely.STRtree(edge_lines(opened)).query(
            shapely.points(middle), predicate="dwithin", distance=0.012 * least_mm
        )
        touching[hit[0]] = True
    owner = ring[begins]
    corner = np.searchsorted(ring, np.arange(len(pieces) + 1))
    edge = np.searchsorted(owner, np.arange(len(pieces) + 1))
    out: list[tuple[int, Web]] = []
    for n in np.flatnonzero(_joins(touching, owner, len(pieces))).tolist():
        contact, around = touching[edge[n] : edge[n + 1]], xy[corner[n] : corner[n + 1]]
        side = _free_runs(around, contact, least_mm * 0.25)
        if contact.any() and side.max(initial=-1) < 1:
            continue
        if not contact.any() and len(pieces[n].interiors) == 0:
            side = _two_sides(around)
        web = _web(pieces[n], around, side, loose=not contact.any())
        if web is not None and web.width_mm < least_mm * _SLACK:
            out.append((n, web))
    return out


def _joins(touching: NDArray[np.bool_], ring: Ints, rings: int) -> NDArray[np.bool_]:
    """Which of some rings touch nothing, or along two stretches and more: the others hang on one.

    ``touching`` tells it of each edge, ``ring`` its ring, rising.
    """
    before = np.arange(len(ring)) - 1
    first = np.flatnonzero(np.diff(ring, prepend=-1) != 0)
    before[first] = np.append(first[1:], len(ring)) - 1
    begun = np.bincount(ring[touching & ~touching[before]], minlength=rings)
    loose = np.bincount(ring[touching], minlength=rings) == 0
    return np.asarray((begun > 1) | loose)


def _free_runs(ring: Floats, contact: NDArray[np.bool_], least: float) -> Ints:
    """Number of the free run each edge of a ring is in, -1 where it touches the opened sheet."""
    n = len(contact)
    side = np.full(n, -1, dtype=np.int64)
    if not contact.any() or contact.all():
        return side
    first = int(np.flatnonzero(contact)[0])
    order = (np.arange(n) + first) % n
    free = ~contact[order]
    length = np.linalg.norm(np.diff(ring, axis=0), axis=1)[order]
    change = np.flatnonzero(np.diff(free.astype(np.int8)))
    number = 0
    for run in np.split(np.arange(n), change + 1):
        if free[run[0]] and length[run].sum() >= least:
            side[order[run]] = number
            number += 1
    return side


def _two_sides(ring: Floats) -> Ints:
    """A loose sliver's outline in two halves, parted at its far ends."""
    points = ring[:-1]
    gaps = np.linalg.norm(points[:, None] - points[None, ::1], axis=2)
    one, two = sorted(np.unravel_index(gaps.argmax(), gaps.shape))
    side = np.zeros(len(points), dtype=np.int64)
    side[int(one) : int(two)] = 1
    return side


def _web(piece: Polygon, ring: Floats, side: Ints, *, loose: bool) -> Web | None:
    """Rungs from shore to shore of one thin piece."""
    from scipy.spatial import Delaunay, QhullError

    points, label = ring[:-1][side >= 0], side[side >= 0]
    for n, hole in enumerate(piece.interiors):
        extra = shapely.get_coordinates(hole)[:-1]
        points = np.concatenate([points, extra])
        label = np.concatenate([label, np.full(len(extra), 1000 + n)])
    if len(points) < 3 or len(np.unique(label)) < 2:
        return None
    try:
        triangles = Delaunay(points - points.mean(axis=0)).simplices
    except QhullError:
        return None
    centre = points[triangles].mean(axis=1)
    triangles = triangles[shapely.contains_xy(piece, centre[:, 0], centre[:, 1])]
    rungs, sides = [], []
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        # corner i faces j and k across the web: rungs i-j and i-k are neighbours
        t = triangles[
            (label[triangles[:, i]] != label[triangles[:, j]])
            & (label[triangles[:, i]] != label[triangles[:, k]])
        ]
        both = np.stack([t[:, [i, j]], t[:, [i, k]]], axis=1).reshape(-1, 2)
        rungs.append(points[both])
        sides.append(label[both])
    rung, stands = np.concatenate(rungs), np.concatenate(sides)
    if len(rung) == 0:
        return None
    gap = np.linalg.norm(rung[:, 1] - rung[:, 0], axis=1)
    # a loose sliver ends in corners, where its rungs say nothing of its width
    width = float(np.median(gap) if loose else gap.min())
    return Web(piece, width, float(piece.area / max(float(np.median(gap)), 1e-9)), rung, stands)


def _directions(rungs: Floats) -> tuple[Floats, Floats]:
    across = rungs[:, 1] - rungs[:, 0]
    gap = np.linalg.norm(across, axis=1)
    return across / np.maximum(gap, 1e-12)[:, None], gap


def _ladder(rungs: Floats) -> shapely.Geometry:
    """What a ladder of rungs covers, neighbours 2k and 2k + 1 joined."""
    corners = rungs.reshape(-1, 4, 2)
    points = np.asarray(shapely.points(corners.reshape(-1, 2)))
    clouds = shapely.multipoints(points, indices=np.repeat(np.arange(len(corners)), 4))
    return shapely.union_all(shapely.convex_hull(clouds))


def widened(openings: MultiPolygon, webs: list[Web], least_mm: float) -> MultiPolygon:
    """Openings drawn in so that the given webs are as wide as asked."""
    if not webs:
        return openings
    more = shapely.union_all([w.widened(least_mm) for w in webs])
    return cut_from(openings, polygons_of(more))


def long_tongues(openings: MultiPolygon, longest_mm: float) -> list[Tongue]:
    """Tongues longer than ``longest_mm`` and less than half as wide."""
    around, *islands = sheet_polygons(openings, longest_mm)
    # an island that is no longer has no tongue that is
    across = np.ptp(shapely.bounds(islands).reshape(-1, 2, 2), axis=1)
    large = [p for p, (x, y) in zip(islands, across, strict=True) if x**2 + y**2 > longest_mm**2]
    sheet = with_fewer_corners(MultiPolygon([around, *large]), longest_mm * 0.008)
    reach = longest_mm / 4.0
    # step by step: every step leaves a simpler shape, and a far one of a fine outline is slow
    core: BaseGeometry = sheet
    for _ in range(_EROSIONS):
        core = core.buffer(-reach / _EROSIONS, quad_segs=6).simplify(longest_mm * 0.002)
    opened = core.buffer(reach * 1.004, quad_segs=6)
    pieces = [p for p in polygons_of(sheet.difference(opened)) if p.length > 2.0 * longest_mm]
    out: list[Tongue] = []
    if not pieces or opened.is_empty:
        return out
    edge = opened.buffer(0.01 * longest_mm)
    for piece in pieces:
        roots = [
            part
            for part in shapely.get_parts(shapely.line_merge(piece.exterior.intersection(edge)))
            if part.length > 0.02 * longest_mm
        ]
        if len(roots) != 1:
            continue
        length = float(shapely.hausdorff_distance(shapely.boundary(piece), roots[0]))
        if length > longest_mm:
            out.append(Tongue(piece, length, float(piece.area / length)))
    return out


def narrow_openings(
    openings: MultiPolygon, least_mm: float, remembered: Remembered | None = None
) -> list[Polygon]:
    """Openings, or places in them longer than they are wide, too narrow to come out clean."""
    # opening by opening: many small ones are drawn in and out quicker than all at once
    remembered = remembered or Remembered()
    found = remembered.each(
        ("narrow openings", least_mm),
        remembered.parts(openings),
        lambda new: _narrow_of(new, least_mm),
    )
    return [p for places in found for p in places]


def _narrow_of(parts: NDArray[np.object_], least_mm: float) -> list[list[Polygon]]:
    """Narrow places of each opening, by itself."""
    out: list[list[Polygon]] = [[] for _ in parts]
    asked, parts = where_narrow(parts, least_mm, LONG)
    reach = least_mm * _SLACK / 2.0
    inner = shapely.buffer(parts, -reach, quad_segs=8)
    opened = shapely.buffer(inner, reach * 1.004, quad_segs=8)
    # the rounding off of a corner is no narrow place; an opening that is nowhere wider is one whole
    gone = np.asarray(shapely.is_empty(inner))
    rest = shapely.difference(parts, opened)
    bits, of = areas_of(rest)
    narrow = gone[of] | are_narrow_places(bits, least_mm)
    for at, place in zip(asked[of[narrow]].tolist(), bits[narrow], strict=True):
        out[at].append(place)
    return out


def are_narrow_places(rest: NDArray[np.object_], least_mm: float) -> NDArray[np.bool_]:
    """Whether what a disc does not reach is longer than it is wide, and no hair along an edge.

    Chords that stand for the disc leave hairs, on a long edge as long as any narrow place.
    """
    length = shapely.length(rest)
    wide = shapely.area(rest) > _CHORDS * least_mm * length / 2.0
    return np.asarray((length > 4.0 * least_mm) & wide)
