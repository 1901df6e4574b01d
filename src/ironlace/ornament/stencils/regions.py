"""Rings to areas: what a set of closed rings fills under either fill rule.

Rings that do not cross are sorted by nesting, exactly. Rings that do are noded and polygonised, and
every face is filled by its winding number.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any, Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.remembered import Remembered

FillRule = Literal["nonzero", "evenodd"]

_GRID_MM: Final = 1e-6
"""A hundredth of the last decimal of any file."""

_TOUCHING_MM: Final = 2e-6
"""Corners no farther apart are one: they are told to a millionth of a mm."""


_FEW: Final = 24
"""Shapes up to which groups of them are told without a library (tuned)."""


_NO_AREA_MM2: Final = 1e-9
"""An area up to this is a sliver of rounding."""


def filled_region(rings: Sequence[Floats], rule: FillRule) -> MultiPolygon:
    """Area filled by closed rings.

    Parameters
    ----------
    rings
        Corners of each ring, shape (n, 2), first not repeated.
    rule
        SVG's fill rule (SVG 2, 13.4.2).

    >>> square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    >>> filled_region([square, square / 2 + 1], "evenodd").area
    12.0
    >>> filled_region([square, square / 2 + 1], "nonzero").area
    16.0
    >>> filled_region([], "nonzero").is_empty
    True
    """
    from ironlace.ornament.outline.crossings import crossing_paths

    usable = [r for r in (_distinct(ring) for ring in rings) if len(r) >= 3]
    if not usable:
        return MultiPolygon()
    if crossing_paths(usable):
        return _by_faces(usable, rule)
    nested = _by_nesting(usable, rule)
    # rings that share an edge, or touch twice, do not cross and are not nested either
    return nested if shapely.is_valid(nested) else _by_faces(usable, rule)


def polygons_of(shape: shapely.Geometry) -> list[Polygon]:
    """The polygons of any geometry, without lines, points and slivers of no area."""
    return list(areas_of(np.asarray([shape], dtype=object))[0])


def areas_of(shapes: NDArray[np.object_]) -> tuple[NDArray[np.object_], Ints]:
    """The polygons of many geometries, as of `polygons_of`, and whose each is."""
    parts, of = shapely.get_parts(shapes, return_index=True)
    # what is in a collection may be of several parts in its turn
    while (shapely.get_type_id(parts) > shapely.GeometryType.POLYGON).any():
        parts, part = shapely.get_parts(parts, return_index=True)
        of = of[part]
    kept = (shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & (
        shapely.area(parts) > _NO_AREA_MM2
    )
    return np.asarray(parts[kept], dtype=object), of[kept]


def clipped_to_box(shape: BaseGeometry, box: tuple[float, float, float, float]) -> BaseGeometry:
    """What of a shape lies within a box (left, top, right, bottom, in mm); it may be invalid.

    GEOS clips by the quick way; where a corner lies on the box it sometimes makes a ring of three
    points there and refuses its own work, and then the slow way is gone.
    """
    try:
        return shapely.clip_by_rect(shape, *box)
    except shapely.GEOSException:
        return shapely.intersection(shapely.make_valid(shape), shapely.box(*box))


def overlaid(overlay: Callable[..., shapely.Geometry | NDArray[np.object_]], *shapes: Any) -> Any:
    """What an overlay such as `shapely.difference` makes of shapes.

    A shape drawn in and out again by a disc at times crosses itself, and GEOS refuses it; so it
    does where edges lie on each other but for rounding. Then it is mended, and laid on a grid of a
    millionth of a mm; of arrays, shape by shape, so that the others stay what they are.
    """
    try:
        return overlay(*shapes)
    except shapely.GEOSException:
        if all(isinstance(s, np.ndarray) and len(s) > 1 for s in shapes):
            rows = zip(*([s[n : n + 1] for n in range(len(s))] for s in shapes), strict=True)
            return np.concatenate([overlaid(overlay, *row) for row in rows])
        sound = [shapely.make_valid(s, method="structure", keep_collapsed=False) for s in shapes]
        return overlay(*sound, grid_size=_GRID_MM)


def mitred(areas: NDArray[np.object_], by_mm: float, *, limit: float = 5.0) -> NDArray[np.object_]:
    """Areas drawn out, or in by less than nothing, with their corners kept.

    Those that would run out farther than ``limit`` times as much are cut off.
    """
    # GEOS divides by nothing on its way where edges lie in line, and numpy would warn of it
    with np.errstate(divide="ignore", invalid="ignore"):
        grown = shapely.buffer(areas, by_mm, join_style="mitre", mitre_limit=limit)
    return np.asarray(grown, dtype=object)


def as_region(shape: shapely.Geometry) -> MultiPolygon:
    """Any geometry as a multipolygon of its areas."""
    return MultiPolygon(polygons_of(shape))


def cut_from(
    region: MultiPolygon, shapes: Sequence[Polygon], remembered: Remembered | None = None
) -> MultiPolygon:
    """A region without some shapes; polygons that none of them touches stay as they are.

    ``remembered`` is what was left of the same polygons less the same shapes before.
    """
    remembered = remembered or Remembered()
    parts = remembered.parts(region)
    cuts = np.asarray(shapes, dtype=object)
    touched, cut = shapely.STRtree(cuts).query(parts, predicate="intersects")
    whole = np.ones(len(parts), np.bool_)
    whole[touched] = False
    both = [
        np.append(at, len(parts) + np.sort(cut[touched == at]))
        for at in np.unique(touched).tolist()
    ]
    every = np.concatenate([parts, cuts])
    left = remembered.groups(
        ("less",), every, both, lambda new: [_less(*every[both[n]]) for n in new]
    )
    return remembered.region([*parts[whole], *(part for some in left for part in some)])


def _less(first: Polygon, *others: Polygon) -> list[Polygon]:
    """A polygon less some others."""
    gone = union_by_groups(as_array(others))
    return polygons_of(overlaid(shapely.difference, first, gone))


def union_by_groups(shapes: NDArray[np.object_]) -> shapely.Geometry:
    """Union of areas of which few meet: those that stand alone need no overlay."""
    shapes = np.asarray(shapes, dtype=object)
    members = grouped(shapes, *shapely.STRtree(shapes).query(shapes, predicate="intersects"))
    parts: list[Polygon] = []
    for group in members:
        whole = group[0] if len(group) == 1 else shapely.union_all(group)
        parts += [p for p in shapely.get_parts(whole) if isinstance(p, Polygon)]
    return MultiPolygon(parts)


def as_array(things: Sequence[Any]) -> NDArray[np.object_]:
    """Things in an array, whatever they hold."""
    out = np.empty(len(things), dtype=object)
    out[:] = things
    return out


def grouped(shapes: NDArray[np.object_], one: Ints, two: Ints) -> list[NDArray[np.object_]]:
    """Shapes in groups that hang together by pairs of their numbers, in order of their first."""
    return [shapes[group] for group in grouped_numbers(len(shapes), one, two)]


def grouped_numbers(count: int, one: Ints, two: Ints) -> list[Ints]:
    """Numbers up to ``count`` in groups that hang together by pairs, in order of their first.

    >>> [group.tolist() for group in grouped_numbers(4, np.array([3, 2]), np.array([1, 2]))]
    [[0], [1, 3], [2]]
    """
    label = np.arange(count)
    pairs = one != two
    # mostly few are in any pair: of those alone it is asked who hangs with whom
    some = np.unique(np.concatenate([one[pairs], two[pairs]]))
    if len(some):
        a, b = np.searchsorted(some, one[pairs]), np.searchsorted(some, two[pairs])
        label[some] = some[_first_linked(len(some), a, b)]
    order = np.argsort(label, kind="stable")
    ends = [0, *(np.flatnonzero(np.diff(label[order])) + 1).tolist(), count]
    # cut by hand: `np.split` takes several times as long for many short pieces
    return [order[a:b] for a, b in pairwise(ends)] if count else []


def _first_linked(count: int, one: Ints, two: Ints) -> Ints:
    """For each number the first that it hangs together with by pairs."""
    if count <= _FEW:
        # a graph of a dozen is walked sooner than the library is called
        label = list(range(count))
        for a, b in zip(one.tolist(), two.tolist(), strict=True):
            low, high = sorted((label[a], label[b]))
            if low != high:
                label = [low if n == high else n for n in label]
        return np.array(label, dtype=np.int64)
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    linked = coo_array((np.ones(len(one), np.int8), (one, two)), shape=(count, count))
    number = connected_components(linked, directed=False)[1]
    _, first, which = np.unique(number, return_index=True, return_inverse=True)
    return np.asarray(first[which], np.int64)


def clusters(
    parts: NDArray[np.object_], within_mm: float, remembered: Remembered | None = None
) -> list[Ints]:
    """Numbers of polygons in clusters, none nearer to another than a distance.

    ``remembered`` is whether the same two polygons were so near before.
    """
    boxes = shapely.box(*(shapely.bounds(parts) + within_mm * np.array([-1, -1, 1, 1])).T)
    one, two = shapely.STRtree(parts).query(boxes)
    # of every pair the larger is asked, since what is prepared answers many times quickly
    size = shapely.get_num_coordinates(parts)
    asked = (size[one] > size[two]) | ((size[one] == size[two]) & (one < two))
    one, two = one[asked], two[asked]
    near = np.asarray(
        (remembered or Remembered()).pairs(
            ("within", within_mm), parts, one, two, lambda a, b: _within(a, b, within_mm)
        ),
        np.bool_,
    )
    return grouped_numbers(len(parts), one[near], two[near])


def _within(one: NDArray[np.object_], two: NDArray[np.object_], within_mm: float) -> list[np.bool_]:
    shapely.prepare(one)
    return list(shapely.dwithin(one, two, within_mm))


def opened_at_touches(
    region: MultiPolygon, opening_mm: float = 0.02, remembered: Remembered | None = None
) -> MultiPolygon:
    """Openings that touch in a point joined there by a neck of ``opening_mm``.

    A sheet hangs on a point no better than on nothing: joined, what the openings surround is an
    island, and is held like one. ``remembered`` is what came of the same openings before.
    """
    remembered = remembered or Remembered()
    parts = remembered.parts(region)
    touching = clusters(parts, _TOUCHING_MM, remembered)
    joined = remembered.groups(
        ("touches", opening_mm),
        parts,
        touching,
        lambda new: [
            list(whole.geoms)
            for whole in _joined_each(together(parts, [touching[n] for n in new]), opening_mm)
        ],
    )
    return remembered.region([part for whole in joined for part in whole])


def together(parts: NDArray[np.object_], groups: Sequence[Ints]) -> NDArray[np.object_]:
    """The polygons of each group as one shape."""
    return as_array([shapely.multipolygons(parts[members]) for members in groups])


def _joined_each(shapes: NDArray[np.object_], opening_mm: float) -> list[MultiPolygon]:
    """Each of some clusters joined where it touches itself; most are one outline that does not."""
    rings, shape = shapely.get_rings(shapely.get_parts(shapes), return_index=True)
    shape = np.repeat(np.arange(len(shapes)), shapely.get_num_geometries(shapes))[shape]
    several = np.bincount(shape, minlength=len(shapes)) > 1
    several[shape[np.unique(_corners_twice(rings)[1])]] = True
    return [
        _joined(one, opening_mm) if some else one
        for one, some in zip(shapes, several.tolist(), strict=True)
    ]


def _corners_twice(rings: NDArray[np.object_]) -> tuple[Floats, Ints]:
    """Places (n, 2) to which a ring comes twice, and the numbers of those rings."""
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    corners = np.round(xy, 6)
    # of two corners that are one, and of the first and the last, one is left
    new = (np.diff(corners, axis=0, prepend=np.nan) != 0).any(axis=1)
    new |= np.diff(ring, prepend=-1) != 0
    new[np.flatnonzero(np.diff(ring, append=-1) != 0)] = False
    ring, corners = ring[new], corners[new]
    order = np.lexsort((*corners.T, ring))
    ring, corners = ring[order], corners[order]
    same = np.flatnonzero((np.diff(ring) == 0) & (np.diff(corners, axis=0) == 0).all(axis=1))
    return corners[same], ring[same]


def _joined(region: MultiPolygon, opening_mm: float) -> MultiPolygon:
    rings = shapely.get_rings(shapely.get_parts(region))
    if len(rings) == 0:
        return region
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    # two rings may touch in a corner as well
    corners = np.round(xy, 6)
    order = np.lexsort((ring, *corners.T))
    same = (np.diff(corners[order], axis=0) == 0).all(axis=1) & (np.diff(ring[order]) != 0)
    touching = corners[order[:-1][same]]
    touching = np.concatenate([touching, _corners_twice(rings)[0]])
    lines = np.asarray(shapely.linestrings(xy, indices=ring), dtype=object)
    near, far = _meeting_rings(lines)
    size = shapely.get_num_coordinates(lines)
    asked = (size[near] > size[far]) | ((size[near] == size[far]) & (near < far))
    large, small = lines[near[asked]], lines[far[asked]]
    where = shapely.get_coordinates(shapely.intersection(large, small))
    touching = np.concatenate([touching, where])
    if len(touching) == 0:
        return region
    discs = shapely.buffer(shapely.points(np.unique(touching, axis=0)), opening_mm / 2.0)
    discs = np.atleast_1d(np.asarray(discs, dtype=object))
    parts = np.asarray(shapely.get_parts(region), dtype=object)
    apart = np.ones(len(parts), np.bool_)
    apart[shapely.STRtree(parts).query(discs, predicate="intersects")[1]] = False
    joined = shapely.union_all([*parts[~apart], *discs])
    return MultiPolygon([*parts[apart], *polygons_of(joined)])


def _meeting_rings(lines: NDArray[np.object_]) -> tuple[Ints, Ints]:
    """Numbers of rings that meet another one, both ways round, in the order of a tree of them.

    They are looked for in short lines: the boxes of whole rings lie over one another.
    """
    short, ring = ring_lines(lines)
    one, two = shapely.STRtree(short).query(short)
    other = ring[one] < ring[two]
    one, two = one[other], two[other]
    meet = np.asarray(shapely.intersects(short[one], short[two]), np.bool_)
    pairs = np.unique(ring[one[meet]] * len(lines) + ring[two[meet]])
    if len(pairs) == 0:
        return pairs, pairs
    near, far = shapely.STRtree(lines).query(lines)
    number = np.minimum(near, far) * len(lines) + np.maximum(near, far)
    found = (near != far) & np.isin(number, pairs)
    return near[found], far[found]


def ring_lines(rings: NDArray[np.object_], edges: int = 24) -> tuple[NDArray[np.object_], Ints]:
    """Rings in short lines, so that a tree of them answers quickly, and each one's ring."""
    sizes = shapely.get_num_coordinates(rings)
    start = np.concatenate([[0], np.cumsum(sizes)])
    pieces = -(-(sizes - 1) // edges)
    ring = np.repeat(np.arange(len(rings)), pieces)
    number = np.arange(len(ring)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    first = start[ring] + number * edges
    last = np.minimum(first + edges, start[ring + 1] - 1)
    return lines_between(shapely.get_coordinates(rings), first, last), ring


def straight_lines(at_a: Floats, at_b: Floats) -> NDArray[np.object_]:
    """Straight lines from points a to points b, (n, 2) each."""
    return np.asarray(shapely.linestrings(np.stack([at_a, at_b], axis=1)), dtype=object)


def lines_between(xy: Floats, first: Ints, last: Ints) -> NDArray[np.object_]:
    """Lines through consecutive corners, from ``first`` up to and with ``last``."""
    count = last - first + 1
    corner = np.repeat(first - np.concatenate([[0], np.cumsum(count)[:-1]]), count)
    corner += np.arange(count.sum())
    lines = shapely.linestrings(xy[corner], indices=np.repeat(np.arange(len(count)), count))
    return np.asarray(lines)


def _distinct(ring: Floats) -> Floats:
    step = np.abs(ring - np.roll(ring, 1, axis=0)).max(axis=1)
    return np.asarray(ring[step > 1e-9], np.float64)


def _by_nesting(rings: Sequence[Floats], rule: FillRule) -> MultiPolygon:
    shapes = [Polygon(r) for r in rings]
    turns = np.where([shapely.is_ccw(s.exterior) for s in shapes], 1, -1)
    area = shapely.area(np.array(shapes, dtype=object))
    # a corner may lie on the outline of another ring: what is inside is told by a point within
    whole = np.array([s if s.is_valid else shapely.make_valid(s) for s in shapes], dtype=object)
    inside = shapely.point_on_surface(whole)
    winding = turns.copy() if rule == "nonzero" else np.ones(len(rings), dtype=int)
    outside = np.zeros(len(rings), dtype=int)
    parent = np.full(len(rings), -1)
    least = np.full(len(rings), np.inf)
    tree = shapely.STRtree(shapes)
    for i, j in tree.query(inside, predicate="within").T:
        if i != j and area[j] > area[i]:
            outside[i] += turns[j] if rule == "nonzero" else 1
            if area[j] < least[i]:
                least[i], parent[i] = area[j], j
    winding = outside + winding
    full = winding != 0 if rule == "nonzero" else winding % 2 == 1
    full_outside = outside != 0 if rule == "nonzero" else outside % 2 == 1
    edge = full != full_outside
    holes: dict[int, list[Floats]] = {}
    for i in np.flatnonzero(edge & ~full).tolist():
        up = parent[i]
        while up >= 0 and not (edge[up] and full[up]):
            up = parent[up]
        holes.setdefault(int(up), []).append(rings[i])
    return MultiPolygon(
        [Polygon(rings[i], holes.get(int(i), [])) for i in np.flatnonzero(edge & full).tolist()]
    )


def _by_faces(rings: Sequence[Floats], rule: FillRule) -> MultiPolygon:
    lines = [shapely.linearrings(r) for r in rings]
    noded = shapely.unary_union(np.array(lines, dtype=object))
    faces = polygons_of(shapely.polygonize([noded]))
    if not faces:
        return MultiPolygon()
    where = shapely.get_coordinates(shapely.point_on_surface(np.array(faces, dtype=object)))
    winding = np.zeros(len(faces), dtype=int)
    for ring in rings:
        low, high = ring.min(axis=0), ring.max(axis=0)
        near = np.flatnonzero(np.all((where > low) & (where < high), axis=1))
        if len(near):
            winding[near] += _winding(where[near], ring)
    full = winding != 0 if rule == "nonzero" else winding % 2 == 1
    kept = [f for f, keep in zip(faces, full, strict=True) if keep]
    return as_region(shapely.unary_union(kept)) if kept else MultiPolygon()


def _winding(points: Floats, ring: Floats) -> NDArray[np.int64]:
    """Winding number of a ring about each point (Sunday 2001), y down counts alike."""
    out = np.zeros(len(points), dtype=np.int64)
    a, b = ring, np.roll(ring, -1, axis=0)
    for n in range(0, len(points), 256):
        p = points[n : n + 256]
        y = p[:, None, 1]
        side = (b[None, :, 0] - a[None, :, 0]) * (y - a[None, :, 1]) - (
            p[:, None, 0] - a[None, :, 0]
        ) * (b[None, :, 1] - a[None, :, 1])
        up = (a[None, :, 1] <= y) & (b[None, :, 1] > y) & (side > 0)
        down = (a[None, :, 1] > y) & (b[None, :, 1] <= y) & (side < 0)
        out[n : n + 256] = up.sum(axis=1) - down.sum(axis=1)
    return out
