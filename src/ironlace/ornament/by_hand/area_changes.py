"""Changes to a drawing by areas: a stroke laid or rubbed out, a place filled from its like.

Stretches that stay where they lay keep their curves and their evidence to the last figure; new ones
stand on what the person says.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from itertools import pairwise
from typing import Any, Final, Literal, TypeVar

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.grades import Grade
from ironlace.ornament.by_hand.fill_likeness import FillLikeness, moved_path
from ironlace.ornament.by_hand.twin_fit import TwinFit, missed_places, twin_fit
from ironlace.ornament.by_hand.workpiece import DrawnChange, Evidence, Workpiece
from ironlace.ornament.errors import ReworkError
from ironlace.ornament.outline.brush_strokes import area_curves, smooth_line, stroke_area
from ironlace.ornament.outline.curve_areas import Piece, cut_at_crossings, filled, middles, strung
from ironlace.ornament.outline.drawing import ClosedPath

Points = Sequence[tuple[float, float]]
Made = TypeVar("Made")
Replaces = Literal["all", "unseen"]
"""What a twin may replace: all that stands in the place, or nothing that is seen there."""

_LEAST_AREA_MM2: Final = 5e-3
"""Areas smaller than this, 0.07 mm square, are crumbs and no change that a hand meant."""
_COARSE_MM: Final = 0.02
"""How coarsely places kept clear, or wanting, are drawn; far below a line's width."""
_OVERLAP_MM: Final = 0.3
"""How far what is laid into a gap runs into what stands, so that both melt together (judged)."""
_SLACK_MM: Final = 0.01
"""Ends of outlines this near may be joined where a twin all but coincides with what stands; a
quarter of the trace's usual tolerance."""
_ASIDE_MM: Final = 0.011
"""How far a twin laid beside what stands is moved: outlines that are the same would never cross. A
quarter of the trace's usual tolerance, and more than chords stray from curves; three times as far
where that does not part them."""


def lay_stroke(
    work: Workpiece,
    places: Points,
    widths: Sequence[float],
    evidence: Evidence,
    layer: str = "gold",
) -> DrawnChange:
    """Lay a smooth stroke; it melts into what it touches.

    Raises
    ------
    ReworkError
        If the line or the widths are unusable, or the stroke lies wholly on what is there.
    """
    area = stroke_area(smooth_line(places), widths)
    change = _a_little_aside(lambda aside: _laid(work, aside(area), evidence, layer))
    if not change.before and not change.after:
        raise ReworkError("The stroke lies wholly on what is drawn already: nothing was changed.")
    return change


def rub_out(
    work: Workpiece, places: Points, width: float, evidence: Evidence, layer: str | None = None
) -> DrawnChange:
    """Rub out along a line, of every colour or of one; the edges left stand on what is said.

    Raises
    ------
    ReworkError
        If the line or the width is unusable, or nothing is drawn there.
    """
    area = stroke_area(smooth_line(places), [width])
    layers = [layer] if layer else work.drawing().layers
    change = _a_little_aside(lambda aside: _rubbed(work, aside(area), evidence, layers))
    if not change.before and not change.after:
        raise ReworkError("Nothing is drawn there: rub over an outline.")
    return change


def fill_from_like(
    work: Workpiece, around: Points, likeness: FillLikeness, replaces: Replaces | None = None
) -> DrawnChange:
    """Fill an area with what stands at its like: across a mirror axis, or at a repeat.

    Parameters
    ----------
    around
        Corners of the area, mm.
    replaces
        ``"all"``: the twin takes the place of all that stands there; refused where it leaves gilt
        bare that is seen. ``"unseen"``: what stands there stays, the twin is laid beside it and
        kept clear of seen gilt that it misses. Both grade what is filled by how the twin fits (see
        `TwinFit`). None is how the versions before these rules filled, whose orders are still
        carried out as they were: nothing is measured, and what is seen at its like is inferred.

    Raises
    ------
    ReworkError
        If the area is no area, nothing is drawn in it nor at its like, or the twin misses what is
        seen; the sentence says by how much.
    """
    area = _area_of(around)
    if replaces is None:
        change = _a_little_aside(lambda aside: _filled_from(work, aside(area), likeness))
    else:
        fit = twin_fit(work, area, likeness)
        if replaces == "all":
            if fit.misses:
                raise ReworkError(
                    f"The twin misses gilt that is seen. {fit.says} Set the axis or the way right, "
                    "or fill only where nothing is seen."
                )
            change = _or_with_slack(
                lambda slack: _a_little_aside(
                    lambda aside: _filled_from(work, aside(area), likeness, fit.inferred, slack)
                )
            )
        else:
            change = _filled_beside(work, area, likeness, fit)
    if not change.before and not change.after:
        raise ReworkError("Nothing is drawn there nor at its like: choose another place.")
    return change


def fit_of_like(work: Workpiece, around: Points, likeness: FillLikeness) -> TwinFit:
    """How the twin of an area lies to what is seen in and around it.

    Raises
    ------
    ReworkError
        If the area is no area.
    """
    return twin_fit(work, _area_of(around), likeness)


def twin_outlines(work: Workpiece, around: Points, likeness: FillLikeness) -> list[ClosedPath]:
    """The twin's gilt in an area as closed paths: what filling would lay there.

    Raises
    ------
    ReworkError
        If the area is no area.
    """
    area = _area_of(around)
    out: list[ClosedPath] = []
    for name in work.drawing().layers:

        def cut(slack: float, layer: str = name) -> list[ClosedPath]:
            return _a_little_aside(
                lambda aside: _twin_in(work, aside(area), likeness, layer, slack=slack)
            )

        out += _or_with_slack(cut)
    return out


def _area_of(around: Points) -> Any:
    from shapely import Polygon, make_valid

    corners = np.asarray(around, np.float64).reshape(-1, 2)
    if len(corners) < 3 or not np.isfinite(corners).all():
        raise ReworkError("An area needs three corners or more: go round the place to be filled.")
    area: Any = Polygon(corners)
    area = area if area.is_valid else make_valid(area)
    if area.area < _LEAST_AREA_MM2:
        raise ReworkError("The area is too small: go round the whole place to be filled.")
    return area


def _filled_beside(work: Workpiece, area: Any, likeness: FillLikeness, fit: TwinFit) -> DrawnChange:
    """The twin laid where its gilt is wanting, clear of seen gilt it misses; what stands stays."""
    from shapely import MultiPoint, Point

    missed = missed_places(work, area, likeness, fit.bound_mm)
    if len(missed):
        line = fit.line_mm if np.isfinite(fit.line_mm) else 0.0
        clear = MultiPoint(missed).buffer(line + fit.bound_mm).simplify(_COARSE_MM)
        area = area.difference(clear)
    change = DrawnChange({}, {})
    for name in work.drawing().layers:
        wanting = _wanting(work, area, likeness, name, fit.bound_mm / 2.0)

        def lay(slack: float, layer: str = name, window: Any = wanting) -> DrawnChange:
            off = _ASIDE_MM * (3.0 if slack else 1.0)

            def one(aside: Callable[[Any], Any]) -> DrawnChange:
                x, y = np.asarray(aside(Point(off, 0.6 * off)).coords)[0]
                like = FillLikeness(likeness.linear, likeness.shift - likeness.linear @ (x, y))
                laid = _twin_in(work, aside(window), like, layer, fit.inferred, slack)
                return _melted(work, laid, layer, slack)

            return _a_little_aside(one)

        change = _both(work, change, _or_with_slack(lay))
    return change


def _wanting(
    work: Workpiece, area: Any, likeness: FillLikeness, layer: str, slack_mm: float
) -> Any:
    """The part of an area where the twin has gilt and the drawing has none, and a little around.

    A twin that only lies ``slack_mm`` beside a line wants nothing there: it is the same line.
    """
    ours = _of_layer(work, layer)
    twin = _filled_in(area, [moved_path(p, likeness.back) for p in ours])
    lost = twin.difference(_filled_in(area, ours).buffer(slack_mm)).buffer(-_COARSE_MM)
    around = lost.buffer(_COARSE_MM + slack_mm + _OVERLAP_MM).simplify(_COARSE_MM)
    return around.intersection(area)


def _filled_in(area: Any, paths: Sequence[ClosedPath]) -> Any:
    """What paths fill of an area, even-odd; cut to it first, for that is quick."""
    from shapely import Polygon, make_valid

    left, top, right, bottom = area.bounds if not area.is_empty else (0.0, 0.0, 0.0, 0.0)
    out: Any = Polygon()
    for path in paths:
        at = path.curves.reshape(-1, 2)
        if np.any(at.max(axis=0) < (left, top)) or np.any(at.min(axis=0) > (right, bottom)):
            continue
        corners = path.polygon(_COARSE_MM / 2.0)
        if len(corners) >= 3:
            out = out.symmetric_difference(make_valid(Polygon(corners)).intersection(area))
    return out


def _twin_in(
    work: Workpiece,
    area: Any,
    likeness: FillLikeness,
    layer: str,
    inferred: bool = True,
    slack: float = 0.0,
) -> list[ClosedPath]:
    """What the twin fills of an area, as closed paths of one layer."""
    if area.area < _LEAST_AREA_MM2:
        return []
    back = likeness.back
    window = _window_paths(area, likeness, layer)
    there = _near(work, [moved_path(w, likeness) for w in window], layer)
    twins = [_as_like(moved_path(work.paths[n], back), likeness.name, inferred) for n in there]
    theirs, edge = cut_at_crossings(twins, window)
    in_window = filled(window)
    in_twins = filled([moved_path(p, back) for p in _of_layer(work, layer)])
    pieces = [piece for p in theirs for piece in _those(p, in_window, want=True)]
    pieces += [piece for p in edge for piece in _those(p, in_twins, want=True)]
    return [p for p in strung(pieces, layer, slack) if abs(p.area) >= _LEAST_AREA_MM2]


def _window_paths(area: Any, likeness: FillLikeness, layer: str) -> list[ClosedPath]:
    return [
        ClosedPath.of(_straight(r), Grade.CONJECTURED, likeness.name, layer)
        for part in _polygons(area)
        for r in _rings(part)
    ]


def _filled_from(
    work: Workpiece,
    area: Any,
    likeness: FillLikeness,
    inferred: bool = True,
    slack: float = 0.0,
) -> DrawnChange:
    back = likeness.back
    change = DrawnChange({}, {})
    for layer in work.drawing().layers:
        window = _window_paths(area, likeness, layer)
        near = _near(work, window, layer)
        there = _near(work, [moved_path(w, likeness) for w in window], layer)
        twins = [_as_like(moved_path(work.paths[n], back), likeness.name, inferred) for n in there]
        ours, edge_a = cut_at_crossings([work.paths[n] for n in near], window)
        theirs, edge_b = cut_at_crossings(twins, window)
        in_window = filled(window)
        all_here = _of_layer(work, layer)
        in_ours = filled(all_here)
        in_twins = filled([moved_path(p, back) for p in all_here])
        kept = [_those(p, in_window, want=False) for p in ours]
        added = [piece for p in theirs for piece in _those(p, in_window, want=True)]
        # the window's own edge is an outline where one of its sides is filled and the other is not
        edge = _recut(window, edge_a, edge_b)
        at = middles(edge)
        added += [p for p, m in zip(edge, in_ours(at) ^ in_twins(at), strict=True) if m]
        change = _both(work, change, _exchange(work, near, ours, kept, added, layer, slack))
    return change


def _laid(work: Workpiece, area: Any, evidence: Evidence, layer: str) -> DrawnChange:
    return _melted(work, _paths_of(area, evidence, layer), layer)


def _melted(
    work: Workpiece, laid: Sequence[ClosedPath], layer: str, slack: float = 0.0
) -> DrawnChange:
    """Closed paths laid onto a layer, so that both are one where they meet."""
    near = _near(work, laid, layer)
    ours, theirs = cut_at_crossings([work.paths[n] for n in near], laid)
    in_stroke, in_drawing = filled(laid), filled(_of_layer(work, layer))
    kept = [_those(p, in_stroke, want=False) for p in ours]
    added = [piece for p in theirs for piece in _those(p, in_drawing, want=False)]
    return _exchange(work, near, ours, kept, added, layer, slack)


def _rubbed(work: Workpiece, area: Any, evidence: Evidence, layers: Sequence[str]) -> DrawnChange:
    change = DrawnChange({}, {})
    for name in layers:
        rubbed = _paths_of(area, evidence, name)
        near = _near(work, rubbed, name)
        ours, theirs = cut_at_crossings([work.paths[n] for n in near], rubbed)
        in_rubbed, in_drawing = filled(rubbed), filled(_of_layer(work, name))
        kept = [_those(p, in_rubbed, want=False) for p in ours]
        added = [piece for p in theirs for piece in _those(p, in_drawing, want=True)]
        change = _both(work, change, _exchange(work, near, ours, kept, added, name))
    return change


def _or_with_slack(make: Callable[[float], Made]) -> Made:
    """Make a change of outlines that meet exactly; where they will not, with a little slack."""
    try:
        return make(0.0)
    except ReworkError:
        return make(_SLACK_MM)


def _a_little_aside(make: Callable[[Callable[[Any], Any]], Made]) -> Made:
    """Make a change; where outlines only graze, make it a few thousandths of a mm to one side."""
    from shapely.affinity import translate

    for aside in (0.0, 0.0021, -0.0034):
        try:
            return make(partial(translate, xoff=aside, yoff=-0.7 * aside))
        except ReworkError:
            continue
    return make(partial(translate, xoff=0.0055, yoff=0.0047))


def refuse_bridge(
    work: Workpiece, centre: Points, widths: Sequence[float], layer: str = "gold"
) -> DrawnChange:
    """Take a proposed bridge out again; the ends it joined are left square, as conjecture.

    Parameters
    ----------
    centre, widths
        The bridge's centre line and its width at each place, mm.

    Raises
    ------
    ReworkError
        If nothing is drawn there any more.
    """
    from shapely import Polygon, make_valid

    line, width = np.asarray(centre, np.float64).reshape(-1, 2), np.asarray(widths, np.float64)
    if len(line) < 4 or len(width) != len(line):
        raise ReworkError("The bridge has no line: rub it out by hand.")
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    # it overlaps the paint at both ends by about a third of its width
    held = (along >= 0.35 * width[0]) & (along <= along[-1] - 0.35 * width[-1])
    if int(held.sum()) >= 2:
        line, width = line[held], width[held]
    way = np.gradient(line, axis=0)
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
    side = np.stack([-way[:, 1], way[:, 0]], axis=1) * (0.6 * width[:, None] + 0.05)
    if np.mean(filled(_of_layer(work, layer))(line)) < 0.3:
        raise ReworkError("That bridge is not drawn any more: there is nothing to take out.")
    area: Any = make_valid(Polygon(np.vstack([line + side, (line - side)[::-1]])))
    return _a_little_aside(lambda aside: _rubbed(work, aside(area), Evidence(), [layer]))


def _paths_of(area: Any, evidence: Evidence, layer: str) -> list[ClosedPath]:
    return [ClosedPath.of(c, evidence.grade, evidence.source, layer) for c in area_curves(area)]


def _of_layer(work: Workpiece, layer: str) -> list[ClosedPath]:
    return [p for p in work.paths.values() if p.layer == layer]


def _near(work: Workpiece, paths: Sequence[ClosedPath], layer: str) -> list[int]:
    """Numbers of the layer's paths whose extent meets that of any of some paths."""
    if not paths:
        return []
    hulls = np.concatenate([p.curves.reshape(-1, 2) for p in paths])
    low, high = hulls.min(axis=0), hulls.max(axis=0)
    out = []
    for n, path in sorted(work.paths.items()):
        mine = path.curves.reshape(-1, 2)
        if (
            path.layer == layer
            and np.all(mine.min(axis=0) <= high)
            and np.all(mine.max(axis=0) >= low)
        ):
            out.append(n)
    return out


def _those(pieces: Sequence[Piece], inside: Any, *, want: bool) -> list[Piece]:
    """The pieces whose middle is inside, or those whose is not."""
    return [p for p, hit in zip(pieces, inside(middles(pieces)), strict=True) if hit == want]


def _exchange(
    work: Workpiece,
    near: Sequence[int],
    ours: Sequence[Sequence[Piece]],
    kept: Sequence[Sequence[Piece]],
    added: Sequence[Piece],
    layer: str,
    slack: float = 0.0,
) -> DrawnChange:
    """Put new paths in the place of those that lost pieces or were cut; leave the others be."""
    gone: list[int] = []
    loose: list[Piece] = []
    for n, all_pieces, left in zip(near, ours, kept, strict=True):
        if len(left) == len(all_pieces) == work.paths[n].nodes:
            continue
        gone.append(n)
        loose += left
    # the old pieces come first, so that outlines keep the way round they had
    new = [p for p in strung([*loose, *added], layer, slack) if abs(p.area) >= _LEAST_AREA_MM2]
    if not gone and not new:
        return DrawnChange({}, {})
    return work.exchanging(gone, new)


def _both(work: Workpiece, one: DrawnChange, two: DrawnChange) -> DrawnChange:
    """Two changes of different layers as one."""
    before = {**one.before, **two.before}
    return work.exchanging(before, [*one.after.values(), *two.after.values()])


def _recut(window: Sequence[ClosedPath], *cuts: Sequence[Sequence[Piece]]) -> list[Piece]:
    """The window's edge cut wherever either of two cuttings has cut it."""
    out = []
    for k, path in enumerate(window):
        ends = np.concatenate([[p.curve[0] for p in cut[k]] for cut in cuts])
        for n in range(path.nodes):
            a, b = path.curves[n, 0], path.curves[n, 3]
            way = b - a
            size = float(way @ way)
            along = (ends - a) @ way / max(size, 1e-18)
            off = np.abs(ends - (a + along[:, None] * way)).max(axis=1)
            here = (off < 1e-4) & (along > 1e-9) & (along < 1 - 1e-9)
            order = np.argsort(along[here])
            stops = [a, *ends[here][order], b]
            out += [
                Piece(
                    np.array([p, p + (q - p) / 3, p + (q - p) * 2 / 3, q]),
                    path.grades[n],
                    path.sources[n],
                )
                for p, q in pairwise(stops)
                if np.abs(q - p).max() > 1e-9
            ]
    return out


def _as_like(path: ClosedPath, name: str, inferred: bool = True) -> ClosedPath:
    """Evidence at second hand: what is seen there is inferred here, if the twin is evidence."""
    certain = (Grade.SEEN, Grade.MEASURED, Grade.INFERRED) if inferred else ()
    return ClosedPath(
        path.curves,
        tuple(Grade.INFERRED if g in certain else Grade.CONJECTURED for g in path.grades),
        (name,) * path.nodes,
        path.layer,
    )


def _polygons(area: Any) -> list[Any]:
    from shapely import get_parts

    return [p for p in get_parts(area) if p.geom_type == "Polygon"]


def _rings(polygon: Any) -> list[Floats]:
    return [np.asarray(r.coords, np.float64)[:-1] for r in (polygon.exterior, *polygon.interiors)]


def _straight(ring: Floats) -> Floats:
    nxt = np.roll(ring, -1, axis=0)
    return np.stack([ring, ring + (nxt - ring) / 3, ring + (nxt - ring) * 2 / 3, nxt], axis=1)
