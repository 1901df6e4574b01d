"""Split sheets: bridges of one sheet are covered by openings of another.

The first sheet carries the ornament with its bridges. What they cover is cut as patches into
further sheets, each patch running a little past its bridge so that a small error of register leaves
no gap. Two patches nearer than the least web may not lie on one sheet: the fewest sheets are the
fewest colours of that graph (exact by branch and bound for every connected group up to a size, else
by Brélaz's rule, 1979).
"""

from __future__ import annotations

from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Ints
from ironlace.ornament.stencils.facing import LONG, may_be_narrow
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.regions import (
    as_array,
    grouped_numbers,
    mitred,
    overlaid,
    polygons_of,
    straight_lines,
)
from ironlace.ornament.stencils.remembered import Remembered
from ironlace.ornament.stencils.webs import Web, are_narrow_places, edge_lines

if TYPE_CHECKING:
    import networkx as nx

_Edge = tuple[NDArray[np.float64], NDArray[np.float64], Ints]
"""Stretches of patches' outlines on the ornament's edge, from and to, (n, 2) mm, and the patch of
each."""

MOST_STRAY: Final = 0.0042
"""Share of the ornament that may lie beside it when sheets are off register, by reckoning."""

MOST_BARE: Final = 0.0043
"""Share of the ornament that may be left bare to keep to that."""

_AS_GOOD: Final = 1.02
"""Of widths by which as much strays, to so many times, the wider one is left bare: what is narrow
and stays is grown again to come out clean, which the reckoning does not see (tuned)."""

_STEPS_BACK: Final = 100
"""Patches are drawn back by whole parts of the register error, so many of them: no cutter shows a
step of 2 microns of 0.2 mm, and a change seldom moves the edge of every patch by a hair."""

_WIDTHS: Final = 9
"""Widths tried between laying all that is narrow and none of it (tuned; on what was not kept)."""

EXACT_UP_TO: Final = 40
"""Patches in a group up to which the fewest sheets are proven."""


def sides_to_set_back(webs: list[Web], process: Process) -> list[int]:
    """For every thin web the shore that stays where it is.

    Setting back one side only keeps the patch on that side of the web. Sides are chosen so that
    patches of different webs do not come near one another, as a satisfiability problem with two
    choices per web (Aspvall, Plass and Tarjan 1979); where it has no solution, most conflicts are
    avoided and the patches go on more sheets.
    """
    import networkx as nx

    if not webs:
        return []
    shapes: list[shapely.Geometry] = []
    owner: list[tuple[int, int]] = []
    width = process.least_web_mm
    for n, web in enumerate(webs):
        # of three or more shores meeting in one web, the lowest number stays
        for keep in web.shores[:2] if len(web.shores) == 2 else web.shores[:1]:
            shapes.append(web.set_back(width, keep))
            owner.append((n, keep))
    tree = shapely.STRtree(shapes)
    pairs = tree.query(shapes, predicate="dwithin", distance=width)
    clash = nx.Graph()
    clash.add_nodes_from(range(len(shapes)))
    clash.add_edges_from(
        (int(i), int(j)) for i, j in pairs.T if i < j and owner[i][0] != owner[j][0]
    )
    option: dict[int, list[int]] = {}
    for k, (n, _) in enumerate(owner):
        option.setdefault(n, []).append(k)
    picked = _two_choices(option, clash)
    return [owner[picked[n]][1] for n in range(len(webs))]


def _two_choices(option: dict[int, list[int]], clash: nx.Graph) -> dict[int, int]:
    """One option of each, without a clash if there is such a choice; else with few."""
    import networkx as nx

    implies = nx.DiGraph()
    implies.add_nodes_from(k for ks in option.values() for k in ks)
    other = {}
    for ks in option.values():
        if len(ks) == 2:
            other[ks[0]], other[ks[1]] = ks[1], ks[0]
    for i, j in clash.edges:
        # picking i forbids j, which forces j's other option
        for a, b in ((i, j), (j, i)):
            if b in other:
                implies.add_edge(a, other[b])
            elif a in other:
                implies.add_edge(a, other[a])
    rank: dict[int, int] = {}
    # condensation comes in topological order: the later option of a pair is the true one
    for n, group in enumerate(_in_order(implies)):
        for k in group:
            rank[k] = n
    picked = {n: max(ks, key=lambda k: rank[k]) for n, ks in option.items()}
    for _ in range(8):
        taken = set(picked.values())
        worse = [n for n, k in picked.items() if any(c in taken for c in clash[k])]
        if not worse:
            break
        for n in worse:
            taken.discard(picked[n])
            picked[n] = min(option[n], key=lambda k: sum(c in taken for c in clash[k]))
            taken.add(picked[n])
    return picked


def _in_order(graph: nx.DiGraph) -> list[set[int]]:
    import networkx as nx

    condensed = nx.condensation(graph)
    return [set(condensed.nodes[n]["members"]) for n in nx.topological_sort(condensed)]


def patches_over(
    covered: list[Polygon],
    pieces: NDArray[np.object_],
    process: Process,
    remembered: Remembered | None = None,
) -> list[Polygon]:
    """Openings of the further sheets: what is covered, and a tail on either side of it.

    Tails keep a registration error's distance from the edges of the ornament, so that a sheet laid
    a little off paints nothing beyond them; the first sheet has painted there already. Their
    corners are as round as comes out clean, so that patches lie no nearer than they must.

    Parameters
    ----------
    pieces
        The ornament cut into tiles.
    remembered
        The patches over the same shapes of the same ornament before.
    """
    if not covered:
        return []
    limits = (process.overlap_mm, process.registration_mm, process.least_opening_mm)
    remembered = remembered or Remembered()
    found = remembered.each(
        ("patches over", *limits, *remembered.numbers(pieces)),
        as_array(covered),
        lambda new: _patches_over_each(new, pieces, process),
    )
    return [patch for own in found for patch in own]


def _patches_over_each(
    shapes: NDArray[np.object_], pieces: NDArray[np.object_], process: Process
) -> list[list[Polygon]]:
    """The patches over each shape, by itself."""
    inset = process.registration_mm
    # right angles stay square; where a bridge ends in a point the tail does not
    wide = mitred(shapes, process.overlap_mm + inset, limit=1.5)
    which, piece = shapely.STRtree(pieces).query(wide, predicate="intersects")
    shared = overlaid(shapely.intersection, wide[which], pieces[piece])
    # tiles meet along cuts; a hair of overlap heals them without moving an outline that shows
    own = _beside(_united(shared, which, len(shapes)), shapes, 1e-6)
    tails = shapely.buffer(own, -inset, quad_segs=6)
    round_mm = 0.5 * process.least_opening_mm
    rounded = shapely.buffer(shapely.buffer(tails, -round_mm, quad_segs=4), round_mm, quad_segs=4)
    tails = np.where(shapely.is_empty(rounded), tails, rounded)
    held = _beside(tails, shapes, inset + 1e-3)
    hair = mitred(shapes, 1e-4)
    whole = np.asarray(overlaid(shapely.union, hair, held), dtype=object)
    # a strip along the edge, narrower than the error, and its tail are one opening: the slit
    # between them would leave a web no knife can
    strip = 2.0 * shapely.area(shapes) < 2.2 * inset * shapely.length(shapes)
    for n in np.flatnonzero(strip) if inset > 0 else ():
        close = 0.51 * inset
        closed = whole[n].buffer(close, quad_segs=4).buffer(-close, quad_segs=4)
        slits = [p for p in polygons_of(closed.difference(whole[n])) if p.length > 6.0 * inset]
        if slits:
            whole[n] = shapely.union_all([whole[n], *(p.buffer(1e-4) for p in slits)])
    within = overlaid(shapely.union, own, shapes)
    cut = _beside(overlaid(shapely.intersection, whole, within), shapes, 1e-6)
    parts, of = shapely.get_parts(cut, return_index=True)
    kept = shapely.area(parts) > 1e-5
    return _by_owner(parts[kept], of[kept], len(shapes))


def _by_owner(parts: NDArray[np.object_], of: Ints, owners: int) -> list[list[Polygon]]:
    """Parts in lists, one for each owner; ``of`` rises."""
    ends = np.searchsorted(of, np.arange(owners + 1)).tolist()
    told = list(parts)
    return [told[a:b] for a, b in pairwise(ends)]


def _united(shapes: NDArray[np.object_], group: Ints, groups: int) -> NDArray[np.object_]:
    """The union of the shapes of each group."""
    order = np.argsort(group, kind="stable")
    count = np.bincount(group, minlength=groups)
    rows = np.full((groups, max(1, int(count.max(initial=0)))), None, dtype=object)
    first = np.repeat(np.cumsum(count) - count, count)
    rows[group[order], np.arange(len(group)) - first] = shapes[order]
    return np.asarray(overlaid(partial(shapely.union_all, axis=1), rows), dtype=object)


def _beside(
    areas: NDArray[np.object_], shapes: NDArray[np.object_], within_mm: float
) -> NDArray[np.object_]:
    """Of each area the polygons that lie within a distance of its own shape."""
    parts, of = shapely.get_parts(areas, return_index=True)
    bits, part = shapely.get_parts(parts, return_index=True)
    of = of[part]
    kept = (shapely.get_type_id(bits) == shapely.GeometryType.POLYGON) & (shapely.area(bits) > 1e-9)
    kept[kept] = shapely.dwithin(bits[kept], shapes[of[kept]], within_mm)
    out = np.empty(len(areas), dtype=object)
    out[:] = [MultiPolygon() for _ in areas]
    there = np.unique(of[kept])
    number = np.searchsorted(there, of[kept])
    out[there] = shapely.multipolygons(np.asarray(bits[kept]), indices=number)
    return out


def worth_laying(
    covered: list[Polygon],
    openings: MultiPolygon,
    process: Process,
    pieces: NDArray[np.object_],
    remembered: Remembered | None = None,
) -> tuple[list[Polygon], list[Polygon]]:
    """What the bridges and webs of the first sheet cover, without slivers best left bare.

    A strip narrower than the register error, laid through a further sheet along the ornament's
    edge, strays by more than it covers as soon as that sheet is off. Where too much would stray,
    such strips are left bare, the narrowest first: they give most for the area they cost, of which
    there is no more than `MOST_BARE`. ``pieces`` are the openings cut into tiles; ``remembered`` is
    what was found about single shapes before.

    Returns
    -------
    covered
        What is to be laid.
    patches
        The openings to lay it through, drawn back from the edge; see `patches_over` and
        `kept_off_edges`.
    """
    remembered = remembered or Remembered()
    patches = patches_over(covered, pieces, process, remembered)
    error, area = process.registration_mm, float(openings.area)
    if not covered or error <= 0:
        return covered, patches
    edge = _on_edge(patches, openings, remembered)
    a, b, _ = edge
    best, least = None, _drawn_back(b - a, area, process, 0.0)[1]
    if least <= MOST_STRAY:
        return covered, kept_off_edges(patches, openings, process, remembered=remembered)
    shapes = as_array(covered)
    clear = 1.2 * (process.least_web_mm + 2.0 * (process.overlap_mm + error))
    middle = shapely.points((a + b) / 2.0)
    for narrow in np.linspace(0.0, min(error, process.bridge_width_mm / 2.0), _WIDTHS)[1:]:
        rest = _wider_than(shapes, float(narrow), clear, remembered)
        bare = float(shapely.area(shapes).sum() - shapely.area(rest).sum())
        if bare > MOST_BARE * area:
            break
        # what is left bare no longer stands on the edge
        tree = shapely.STRtree(rest)
        on = np.unique(tree.query(middle, predicate="dwithin", distance=process.overlap_mm / 8)[0])
        run = (b - a)[on]
        _, stray = _drawn_back(run, area, process, bare)
        if stray < (least if best is None else _AS_GOOD * least) - 1e-9:
            best, least = rest, min(least, stray)
        if _strays(run, error, 0.0) <= MOST_STRAY * area:
            # no more is left bare than is needed
            break
    if best is None:
        return covered, kept_off_edges(patches, openings, process, remembered=remembered)
    laid = [q for p in best for q in polygons_of(p)]
    bare = float(shapely.area(shapes).sum() - shapely.area(laid).sum())
    patches = patches_over(laid, pieces, process, remembered)
    return laid, kept_off_edges(patches, openings, process, bare, remembered)


def _wider_than(
    shapes: NDArray[np.object_], width_mm: float, clear_mm: float, remembered: Remembered
) -> NDArray[np.object_]:
    """Every shape without the places in it narrower than a width.

    A narrow place shorter than ``clear_mm`` between wider ones stays: the parts on either side of
    it would be too near each other for one sheet.
    """
    found = remembered.each(
        ("wider than", width_mm, clear_mm),
        shapes,
        lambda new: _wider_each(new, width_mm, clear_mm),
    )
    return as_array(found)


def _wider_each(
    shapes: NDArray[np.object_], width_mm: float, clear_mm: float
) -> list[shapely.Geometry]:
    core = shapely.buffer(shapes, -width_mm / 2.0, quad_segs=4)
    # a little more than it lost, so that corners stay what they were
    out = np.asarray(shapely.intersection(shapes, shapely.buffer(core, width_mm * 0.75)))
    for n in np.flatnonzero(shapely.get_num_geometries(out) > 1):
        parts = np.array(polygons_of(out[n]), dtype=object)
        between = [
            gap
            for gap in polygons_of(shapes[n].difference(out[n]))
            if gap.length / 2.0 < clear_mm
            and np.count_nonzero(shapely.dwithin(parts, gap, 1e-6)) > 1
        ]
        out[n] = shapely.union_all([*parts, *(gap.buffer(1e-6) for gap in between)])
    return list(out)


def _strays(run: NDArray[np.float64], error_mm: float, back_mm: float) -> float:
    """Area that strays if further sheets are off, in the worst direction, by reckoning.

    Every stretch of the patches' edge on the ornament's edge strays, as it faces a direction, by
    the register error less what it is drawn back.
    """
    if len(run) == 0:
        return 0.0
    # outlines run left about, so that outside lies to the right
    turn = np.arange(16) * np.pi / 8
    facing = np.stack([run[:, 1], -run[:, 0]], axis=1) @ np.stack([np.cos(turn), np.sin(turn)])
    length = np.linalg.norm(run, axis=1)[:, None]
    return float(np.maximum(facing * error_mm - back_mm * length, 0.0).sum(axis=0).max())


def _drawn_back(
    run: NDArray[np.float64], drawn_mm2: float, process: Process, bare_mm2: float
) -> tuple[float, float]:
    """How far patches are drawn back from the edge, and the share that strays even so."""
    error = process.registration_mm
    stray = _strays(run, error, 0.0) / drawn_mm2
    spare = MOST_BARE * drawn_mm2 - bare_mm2
    if stray <= MOST_STRAY or spare <= 0:
        return 0.0, stray
    length = float(np.linalg.norm(run, axis=1).sum())
    back = min(error * (1.0 - MOST_STRAY / stray), spare / length)
    return back, _strays(run, error, back) / drawn_mm2


def kept_off_edges(
    patches: list[Polygon],
    openings: MultiPolygon,
    process: Process,
    bare_mm2: float = 0.0,
    remembered: Remembered | None = None,
) -> list[Polygon]:
    """Patches drawn back from the ornament's edge where, off register, too much would stray.

    Drawn back, they leave a line bare that is too fine to be seen; with ``bare_mm2`` left bare
    already, it takes no more than `MOST_BARE` of the ornament. ``remembered`` is what was found
    about single patches before.
    """
    if not patches or process.registration_mm <= 0:
        return patches
    remembered = remembered or Remembered()
    a, b, _ = _on_edge(patches, openings, remembered)
    back, _ = _drawn_back(b - a, float(openings.area), process, bare_mm2)
    # no more bare than may be: rounded down, never up
    step = process.registration_mm / _STEPS_BACK
    back = float(np.floor(back / step)) * step
    if back <= 0:
        return patches
    found = remembered.each(
        ("off the edge", back, *remembered.numbers(as_array([openings]))),
        as_array(patches),
        lambda new: _off_edges_each(new, back, openings, remembered),
    )
    return [patch for own in found for patch in own]


def _off_edges_each(
    patches: NDArray[np.object_], back_mm: float, openings: MultiPolygon, remembered: Remembered
) -> list[list[Polygon]]:
    """Each patch drawn back from the edge, by itself."""
    a, b, owner = _on_edge(list(patches), openings, remembered)
    lines = straight_lines(a, b)
    out: list[list[Polygon]] = []
    bounds = np.searchsorted(owner, np.arange(len(patches) + 1))
    for n, patch in enumerate(patches):
        here = lines[bounds[n] : bounds[n + 1]]
        if len(here) == 0:
            out.append([patch])
            continue
        # stretches strung together: one by one they take many times longer to buffer
        strung = shapely.line_merge(shapely.MultiLineString(list(here)))
        strip = strung.buffer(back_mm, quad_segs=4)
        left = overlaid(shapely.difference, patch, strip)
        out.append([q for q in polygons_of(left) if q.area > 1e-4])
    return out


def wide_enough(
    patches: list[Polygon],
    needed: list[Polygon],
    pieces: NDArray[np.object_],
    process: Process,
    remembered: Remembered | None = None,
) -> list[Polygon]:
    """Patches whose every place comes out clean.

    Narrow tails go, for what they cover is painted already. Where what is ``needed`` is narrow, the
    patch grows under what is painted, at the register error's distance from the ornament's edge, so
    that nothing more strays. ``pieces`` are the ornament in tiles; ``remembered`` is what came
    of the same patches over the same needs before.
    """
    if not patches:
        return patches
    remembered = remembered or Remembered()
    reach, error = 0.5 * process.least_opening_mm, process.registration_mm
    shapes = as_array(patches)
    # most are wide everywhere, and stay to the corner what they are
    narrow = np.asarray(
        remembered.each(("tailed", reach), shapes, lambda new: _are_narrow(new, reach)), np.bool_
    )
    tailed, must = shapes[narrow], as_array(needed)
    # nothing that is needed farther off is ever asked: a patch grows by less
    beyond = 2.0 * (2.1 * reach + error)
    boxes = shapely.box(*(shapely.bounds(tailed) + beyond * np.array([-1, -1, 1, 1])).T)
    of, near = shapely.STRtree(must).query(boxes)
    both = [
        np.append(n, len(tailed) + np.sort(near[of == n])).astype(np.int64)
        for n in range(len(tailed))
    ]
    widened = remembered.groups(
        ("wide enough", reach, error, *remembered.numbers(pieces)),
        np.concatenate([tailed, must]),
        both,
        lambda new: _wide_enough_each(tailed[new], needed, pieces, process),
    )
    out: list[list[Polygon]] = [[patch] for patch in patches]
    for n, parts in zip(np.flatnonzero(narrow).tolist(), widened, strict=True):
        out[n] = parts
    return [part for parts in out for part in parts]


def _are_narrow(shapes: NDArray[np.object_], reach: float) -> list[bool]:
    """Whether each shape has a place narrower than twice a reach."""
    found = set(_narrow_places(shapes, reach)[0].tolist())
    return [n in found for n in range(len(shapes))]


def _wide_enough_each(
    shapes: NDArray[np.object_],
    needed: list[Polygon],
    pieces: NDArray[np.object_],
    process: Process,
) -> list[list[Polygon]]:
    """What each patch with narrow places becomes, by itself."""
    reach = 0.5 * process.least_opening_mm
    shapes = _without_narrow_tails(shapes, needed, reach)
    asked, narrow = _narrow_places(shapes, reach)
    if len(asked):
        grown = shapely.buffer(narrow, 2.1 * reach + process.registration_mm, quad_segs=6)
        which, piece = shapely.STRtree(pieces).query(grown, predicate="intersects")
        for n, at in enumerate(asked.tolist()):
            near = overlaid(shapely.union_all, pieces[piece[which == n]])
            own = overlaid(shapely.intersection, near, grown[n])
            own = own.buffer(-process.registration_mm, quad_segs=6)
            wider = overlaid(shapely.union_all, [shapes[at], own.buffer(1e-4)])
            # a strip along the edge, narrower than the error, and what it grows by are one opening
            close = 0.51 * process.registration_mm
            closed = wider.buffer(close, quad_segs=4).buffer(-close, quad_segs=4)
            slits = overlaid(shapely.intersection, closed, near)
            parts = polygons_of(overlaid(shapely.union_all, [wider, slits]))
            shapes[at] = shapely.union_all([p for p in parts if p.intersects(shapes[at])])
        shapes[asked] = _without_narrow_tails(shapes[asked], needed, reach)
    return [polygons_of(shape) for shape in shapes]


def _narrow_places(shapes: NDArray[np.object_], reach: float) -> tuple[Ints, NDArray[np.object_]]:
    """Numbers of shapes that have a place narrower than twice a reach, and those places of each."""
    parts, of = shapely.get_parts(shapes, return_index=True)
    at = np.unique(of[may_be_narrow(np.asarray(parts, dtype=object), 2.0 * reach, LONG)])
    narrow = np.asarray(shapely.difference(shapes[at], _opened(shapes[at], reach)), dtype=object)
    # what is no longer than it is wide is the rounding off of a corner
    bits, owner = shapely.get_parts(narrow, return_index=True)
    long = are_narrow_places(bits, 2.0 * reach)
    found = np.unique(owner[long])
    return at[found], narrow[found]


def _opened(shapes: NDArray[np.object_], reach: float) -> NDArray[np.object_]:
    """Shapes without what is narrower than twice a reach; a hair more, so that edges stay."""
    inner = shapely.buffer(shapes, -0.99 * reach, quad_segs=8)
    return np.asarray(shapely.buffer(inner, reach, quad_segs=8), dtype=object)


def _without_narrow_tails(
    shapes: NDArray[np.object_], needed: list[Polygon], reach: float
) -> NDArray[np.object_]:
    """Shapes without narrow places, but with all that is needed of them."""
    must = np.array(needed, dtype=object)
    kept = _opened(shapes, reach)
    which, part = shapely.STRtree(must).query(shapes, predicate="intersects")
    for at in np.unique(which).tolist():
        # in the order they were given, whichever way the tree tells them
        own = overlaid(shapely.union_all, must[np.sort(part[which == at])])
        own = overlaid(shapely.intersection, own, shapes[at])
        kept[at] = overlaid(shapely.union_all, [kept[at], own])
    return np.asarray(overlaid(shapely.intersection, kept, shapes), dtype=object)


def _on_edge(patches: list[Polygon], openings: MultiPolygon, remembered: Remembered) -> _Edge:
    """Stretches of the patches' outlines on the edge of the openings, and the patch of each."""
    if not patches:
        none = np.zeros((0, 2))
        return none, none, np.zeros(0, dtype=np.int64)
    (key,) = remembered.numbers(as_array([openings]))
    (tree,) = remembered.by(("edges",), [key], lambda _: [shapely.STRtree(edge_lines(openings))])
    found = remembered.each(
        ("on the edge", key), as_array(patches), lambda new: _on_edge_each(new, tree)
    )
    a, b = (np.concatenate([own[n] for own in found]) for n in (0, 1))
    return a, b, np.repeat(np.arange(len(patches)), [len(own[0]) for own in found])


def _on_edge_each(
    patches: NDArray[np.object_], edges: shapely.STRtree
) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Stretches of each patch's outline on some edges, from and to."""
    # normalize turns outlines clockwise
    outlines = shapely.get_exterior_ring(shapely.normalize(patches))
    rings = [shapely.get_coordinates(ring)[::-1] for ring in np.atleast_1d(np.asarray(outlines))]
    a = np.concatenate([r[:-1] for r in rings])
    b = np.concatenate([r[1:] for r in rings])
    owner = np.repeat(np.arange(len(rings)), [len(r) - 1 for r in rings])
    middle = shapely.points((a + b) / 2.0)
    which = np.unique(edges.query(middle, predicate="dwithin", distance=3e-4)[0])
    ends = np.searchsorted(owner[which], np.arange(len(rings) + 1)).tolist()
    return [(a[which[i:j]], b[which[i:j]]) for i, j in pairwise(ends)]


def shared_out(
    patches: list[Polygon], least_web_mm: float, remembered: Remembered | None = None
) -> list[MultiPolygon]:
    """Patches on as few sheets as can be, none nearer to another than the least web.

    Patches that overlap become one, unless that would close a ring. Every cluster of near patches
    is shared out by itself; ``remembered`` is how the same clusters were before.
    """
    remembered = remembered or Remembered()
    merged = _merged(patches, remembered)
    if len(merged) == 0:
        return []
    near = 0.999 * least_web_mm
    pairs = shapely.STRtree(merged).query(merged, predicate="dwithin", distance=near)
    groups = grouped_numbers(len(merged), *pairs)
    colours = remembered.groups(
        ("colours", near),
        merged,
        groups,
        lambda new: [_colours_of(merged[groups[n]], near) for n in new],
    )
    colour = np.zeros(len(merged), dtype=np.int64)
    for group, own in zip(groups, colours, strict=True):
        colour[group] = own
    return [remembered.region(merged[colour == c]) for c in range(colour.max() + 1)]


def _colours_of(patches: NDArray[np.object_], near_mm: float) -> list[int]:
    """The sheet of each patch of a cluster, numbered within it: the rest makes no difference."""
    import networkx as nx

    if len(patches) == 1:
        return [0]
    pairs = shapely.STRtree(patches).query(patches, predicate="dwithin", distance=near_mm)
    graph = nx.Graph()
    graph.add_nodes_from(range(len(patches)))
    graph.add_edges_from(sorted((int(i), int(j)) for i, j in pairs.T if i < j))
    colour = fewest_colours(graph)
    return [colour[n] for n in range(len(patches))]


def _merged(patches: list[Polygon], remembered: Remembered) -> NDArray[np.object_]:
    if not patches:
        return np.zeros(0, dtype=object)
    shapes = as_array(patches)
    pairs = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    groups = grouped_numbers(len(shapes), *pairs)
    found = remembered.groups(
        ("merged",), shapes, groups, lambda new: [_merged_group(shapes[groups[n]]) for n in new]
    )
    return as_array([patch for own in found for patch in own])


def _merged_group(members: NDArray[np.object_]) -> list[Polygon]:
    """Overlapping patches as one, or as they were where that would close a ring."""
    if len(members) == 1:
        return list(members)
    whole = polygons_of(shapely.union_all(members))
    if any(_real_holes(p) for p in whole):
        return list(members)
    return [Polygon(p.exterior) for p in whole]


def cut_open(patch: Polygon, overlap_mm: float, speck_mm2: float = 1e-6) -> list[Polygon]:
    """A patch that closes a ring cut into parts that do not, which overlap a little.

    What a ring surrounds would fall out of the further sheet in its turn; its parts go on two.
    Where that is no more than a speck, it is let go.
    """
    holes = [h for h in map(Polygon, patch.interiors) if h.area > speck_mm2]
    if len(holes) < len(patch.interiors):
        patch = Polygon(patch.exterior, [h.exterior for h in holes])
    if not holes:
        return [patch]
    largest = max(holes, key=lambda h: h.area)
    left, top, right, bottom = patch.bounds
    # never so wide that the hole lies in both parts whole
    wide = largest.bounds[2] - largest.bounds[0]
    at, half = largest.centroid.x, min(overlap_mm / 2.0, wide / 8.0)
    sides = (
        shapely.box(left - 1.0, top - 1.0, at + half, bottom + 1.0),
        shapely.box(at - half, top - 1.0, right + 1.0, bottom + 1.0),
    )
    parts = [part for side in sides for part in polygons_of(patch.intersection(side))]
    return [piece for part in parts for piece in cut_open(part, overlap_mm, speck_mm2)]


def _real_holes(shape: Polygon) -> bool:
    return any(Polygon(h).area > 1e-6 for h in shape.interiors)


def fewest_colours(graph: nx.Graph) -> dict[int, int]:
    """A colouring with the fewest colours, proven for groups up to `EXACT_UP_TO`.

    >>> import networkx as nx
    >>> max(fewest_colours(nx.cycle_graph(5)).values()) + 1
    3
    """
    import networkx as nx

    colour: dict[int, int] = {}
    for group in nx.connected_components(graph):
        part = graph.subgraph(group)
        found = dict(nx.greedy_color(part, strategy="DSATUR"))
        if len(part) <= EXACT_UP_TO:
            clique = max((len(c) for c in nx.find_cliques(part)), default=1)
            used = max(found.values()) + 1
            while used > clique:
                better = _coloured(part, used - 1)
                if better is None:
                    break
                found, used = better, used - 1
        colour |= {int(n): int(c) for n, c in found.items()}
    return colour


def _coloured(graph: nx.Graph, colours: int) -> dict[int, int] | None:
    """A colouring with so many colours, or None if there is none (branch and bound)."""
    chosen: dict[int, int] = {}

    def place() -> bool:
        if len(chosen) == len(graph):
            return True
        node, used = max(
            ((n, {chosen[m] for m in graph[n] if m in chosen}) for n in graph if n not in chosen),
            key=lambda told: (len(told[1]), graph.degree(told[0])),
        )
        # a colour not yet used anywhere is as good as any other such colour
        for c in range(min(colours, max(chosen.values(), default=-1) + 2)):
            if c not in used:
                chosen[node] = c
                if place():
                    return True
                del chosen[node]
        return False

    return chosen if place() else None
