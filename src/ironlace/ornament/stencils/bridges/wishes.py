"""What a person wants of the bridges: here, never there, and these left as they are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.bridges.ground import Ground
from ironlace.ornament.stencils.bridges.spans import BridgeSpans, every_span
from ironlace.ornament.stencils.errors import StencilError
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.regions import straight_lines

_BEYOND_MM: Final = 0.5
"""How far an end is looked for beyond where it was: outlines move when webs are widened."""

_ON_SHORE_MM: Final = 1e-3
"""Nearer than this an end stands on a shore: a file's decimals are ten times finer."""

_MOST: Final = 20_000
"""Bridges or places that may be wished for: more than any drawing has islands."""


@dataclass(frozen=True)
class BridgeLine:
    """The middle line of a bridge from shore to shore, mm."""

    ax: float
    ay: float
    bx: float
    by: float


@dataclass(frozen=True)
class Forbidden:
    """A round place in which no bridge may stand, mm."""

    x: float
    y: float
    radius: float


@dataclass(frozen=True)
class Wishes:
    """What is wanted of the bridges.

    Attributes
    ----------
    locked
        Bridges that must be built.
    kept
        Bridges of an earlier plan that stay unless forbidden, so that one change does not move all
        the others.
    forbidden
        Places without a bridge.
    """

    locked: tuple[BridgeLine, ...] = ()
    kept: tuple[BridgeLine, ...] = ()
    forbidden: tuple[Forbidden, ...] = ()

    def __post_init__(self) -> None:
        if max(len(self.locked), len(self.kept), len(self.forbidden)) > _MOST:
            raise StencilError(f"More than {_MOST} bridges or places are asked for: use fewer.")
        numbers = [
            *(v for b in (*self.locked, *self.kept) for v in (b.ax, b.ay, b.bx, b.by)),
            *(v for f in self.forbidden for v in (f.x, f.y, f.radius)),
        ]
        if not np.isfinite(numbers).all():
            raise StencilError("A bridge or place has a number that is not finite: mend it.")


@dataclass(frozen=True, eq=False)
class BridgeChoice:
    """Places for bridges with wishes worked in.

    Attributes
    ----------
    spans
        Places allowed, the wanted ones last.
    must
        Numbers of the spans that must be built.
    locked
        Numbers of those that a person locked.
    """

    spans: BridgeSpans
    must: Ints
    locked: Ints


def with_wishes(ground: Ground, wishes: Wishes) -> BridgeChoice:
    """Work wishes into the places for bridges."""
    none = np.zeros(0, dtype=np.int64)
    spans, width_mm = ground.spans, ground.width_mm
    if not (wishes.locked or wishes.kept or wishes.forbidden):
        return BridgeChoice(spans, none, none)
    spans = spans.kept(np.flatnonzero(~_barred(spans.at_a, spans.at_b, wishes, width_mm)))
    lines = rows_of((*wishes.locked, *wishes.kept))
    is_locked = np.arange(len(lines)) < len(wishes.locked)
    # a person's lock outweighs a place forbidden before; what is only kept does not
    allowed = is_locked | ~_barred(lines[:, :2], lines[:, 2:], wishes, width_mm)
    lines, is_locked = lines[allowed], is_locked[allowed]
    ends, parts, ok = snapped(ground, lines)
    # one that stands on its shores but for a file's decimals stays as it is, and so all beside it
    stands = np.abs(ends - lines).max(axis=1, initial=0.0) < _ON_SHORE_MM
    ends = np.where(stands[:, None], lines, ends)[ok]
    parts, is_locked = parts[ok], is_locked[ok]
    # a bridge both locked and kept is one bridge
    middle = np.round((ends[:, :2] + ends[:, 2:]) / 2.0, 2)
    _, once = np.unique(middle, axis=0, return_index=True)
    ends, parts, is_locked = ends[np.sort(once)], parts[np.sort(once)], is_locked[np.sort(once)]
    if len(ends) == 0:
        return BridgeChoice(spans, none, none)
    area = np.asarray(shapely.area(ground.shapes(ends[:, :2], ends[:, 2:])))
    whole = BridgeSpans(
        np.concatenate([spans.part_a, parts[:, 0]]),
        np.concatenate([spans.part_b, parts[:, 1]]),
        np.concatenate([spans.at_a, ends[:, :2]]),
        np.concatenate([spans.at_b, ends[:, 2:]]),
        np.concatenate([spans.area, area]),
        np.concatenate([spans.weight, area]),
    )
    must = np.arange(len(spans), len(whole))
    return BridgeChoice(whole, must, must[is_locked])


def places_for(
    openings: MultiPolygon, process: Process, line: BridgeLine
) -> list[tuple[BridgeLine, float]]:
    """Places a bridge could be moved to: those of its own island, in order along its outline.

    Returns
    -------
    places
        Middle lines with the area in mm^2 that a bridge there would take.
    """
    ground = Ground(openings, process.bridge_width_mm)
    _, parts, ok = snapped(ground, rows_of((line,)))
    if not ok[0]:
        # one that holds what hangs on a neck stands between two reaches of one island
        ground = ground.between_reaches
        _, parts, ok = snapped(ground, rows_of((line,)))
    if not ok[0]:
        return []
    island = int(parts[0].max())
    shore = ground.shore
    spans = every_span(ground.openings, shore, process.bridge_width_mm, barred=ground.barred)
    own = spans.kept(np.flatnonzero((spans.part_a == island) | (spans.part_b == island)))
    here = np.where((own.part_a == island)[:, None], own.at_a, own.at_b)
    ring = shapely.LinearRing(shore.rings[int(shore.islands[island - 1])])
    order = np.argsort(shapely.line_locate_point(ring, shapely.points(here)), kind="stable")
    lines = np.round(np.concatenate([own.at_a, own.at_b], axis=1)[order], 4).tolist()
    areas = own.area[order].tolist()
    return [(BridgeLine(*ends), round(area, 4)) for ends, area in zip(lines, areas, strict=True)]


def rows_of(lines: Iterable[BridgeLine]) -> Floats:
    """Both ends of bridges, (n, 4), mm."""
    return np.array([(b.ax, b.ay, b.bx, b.by) for b in lines], np.float64).reshape(-1, 4)


def _barred(at_a: Floats, at_b: Floats, wishes: Wishes, width_mm: float) -> NDArray[np.bool_]:
    if not wishes.forbidden or len(at_a) == 0:
        return np.zeros(len(at_a), dtype=np.bool_)
    centres = np.asarray(shapely.points([(f.x, f.y) for f in wishes.forbidden]))
    reach = np.array([f.radius for f in wishes.forbidden]) + width_mm / 2.0
    lines = straight_lines(at_a, at_b)
    barred = np.zeros(len(lines), dtype=np.bool_)
    for centre, radius in zip(centres, reach, strict=True):
        barred |= np.asarray(shapely.dwithin(lines, centre, float(radius)), np.bool_)
    return barred


def snapped(ground: Ground, lines: Floats) -> tuple[Floats, Ints, NDArray[np.bool_]]:
    """Lines brought to the shores they cross to, the parts joined, and whether they join any."""
    keys = [line.tobytes() for line in np.ascontiguousarray(lines)]
    known = ground.snapped
    new = [n for n, key in enumerate(keys) if key not in known]
    if new:
        found = _snapped(ground, lines[new])
        known = {
            **known,
            **dict(zip((keys[n] for n in new), zip(*found, strict=True), strict=True)),
        }
        ground.snapped = known
    told = [known[key] for key in keys]
    return (
        np.array([ends for ends, _, _ in told]).reshape(-1, 4),
        np.array([parts for _, parts, _ in told], dtype=np.int64).reshape(-1, 2),
        np.array([ok for _, _, ok in told], dtype=np.bool_),
    )


def _snapped(ground: Ground, lines: Floats) -> tuple[Floats, Ints, NDArray[np.bool_]]:
    edges, ring, tree = ground.coast.lines, ground.coast.line_ring, ground.coast.tree
    ends, ok = _crossing(ground.openings, edges, tree, lines)
    near, away = _nearest(tree, edges, ends)
    beyond = away >= _ON_SHORE_MM
    if beyond.any():
        # it grazes the tip it stands on, and runs on past it: the end that was asked for stands
        ends = np.where(np.repeat(beyond, 2, axis=1), lines, ends)
        near, away = _nearest(tree, edges, ends)
    parts = np.where(ok[:, None], ground.shore.part[ring[near]], 0)
    ok &= (away.max(axis=1) < _ON_SHORE_MM) & (parts[:, 0] != parts[:, 1])
    return ends, parts, ok


def _crossing(
    openings: MultiPolygon, edges: NDArray[np.object_], tree: shapely.STRtree, lines: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """What of each line, drawn out a little, lies in an opening at its middle, and whether any.

    Each line is met with the few edges near it: with the openings whole, it takes as long as they
    have corners.
    """
    along = lines[:, 2:] - lines[:, :2]
    size = np.linalg.norm(along, axis=1)
    along = along / np.maximum(size, 1e-9)[:, None]
    first, last = lines[:, :2] - along * _BEYOND_MM, lines[:, 2:] + along * _BEYOND_MM
    longer = straight_lines(first, last)
    which, edge = tree.query(longer, predicate="intersects")
    met = shapely.intersection(longer[which], edges[edge])
    xy, of = shapely.get_coordinates(met, return_index=True)
    xy = np.concatenate([first, last, xy])
    owner = np.concatenate([np.arange(len(lines)), np.arange(len(lines)), which[of]])
    run = ((xy - first[owner]) * along[owner]).sum(axis=1)
    order = np.lexsort((run, owner))
    xy, owner, run = xy[order], owner[order], run[order]
    stretch = np.flatnonzero((owner[:-1] == owner[1:]) & (np.diff(run) > 1e-6))
    middle = (xy[stretch] + xy[stretch + 1]) / 2.0
    shapely.prepare(openings)
    stretch = stretch[np.asarray(shapely.intersects_xy(openings, *middle.T), np.bool_)]
    at = _BEYOND_MM + size[owner[stretch]] / 2.0
    away = np.maximum(np.maximum(run[stretch] - at, at - run[stretch + 1]), 0.0)
    near = np.flatnonzero((away <= _BEYOND_MM) & (size[owner[stretch]] > 0))
    near = near[np.lexsort((away[near], owner[stretch[near]]))]
    of, best = np.unique(owner[stretch[near]], return_index=True)
    best = stretch[near[best]]
    ends, ok = lines.copy(), np.zeros(len(lines), dtype=np.bool_)
    ends[of], ok[of] = np.concatenate([xy[best], xy[best + 1]], axis=1), True
    return ends, ok


def _nearest(
    tree: shapely.STRtree, edges: NDArray[np.object_], ends: Floats
) -> tuple[Ints, Floats]:
    """The edge nearest to both ends of each line, and its distance in mm, (n, 2) each."""
    points = shapely.points(ends.reshape(-1, 2))
    near = np.asarray(tree.nearest(points))
    away = np.asarray(shapely.distance(edges[near], points))
    return near.reshape(-1, 2), away.reshape(-1, 2)


def forbidden_at(line: BridgeLine, process: Process) -> Forbidden:
    """The place a bridge stands in, to be forbidden: as wide as the bridge and its clearance."""
    return Forbidden(
        round((line.ax + line.bx) / 2.0, 4),
        round((line.ay + line.by) / 2.0, 4),
        round(process.bridge_width_mm / 2.0 + process.least_opening_mm, 4),
    )
