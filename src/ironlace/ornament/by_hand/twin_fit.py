"""How a twin lies to what is seen, measured before it may replace anything or be called inferred.

Two things are told apart. Gilt that is seen and that the twin leaves bare would be lost by filling:
that is refused. Gilt of the twin where none is seen is what filling is for. Whether the twin is
evidence at all is read off the seen outlines in and around the place; where there are none, off how
the whole drawing lies to itself under the same likeness.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bools, Floats
from ironlace.evidence.grades import Grade
from ironlace.ornament.by_hand.fill_likeness import FillLikeness
from ironlace.ornament.by_hand.workpiece import Workpiece
from ironlace.ornament.gather.laying_over import LEAST_MATCH
from ironlace.ornament.outline.curve_areas import filled
from ironlace.ornament.outline.drawing import ClosedPath, each_derivative, each_point

AROUND_MM: Final = 4.0
"""How far around a place seen outlines still tell how its twin lies. A judgement, no source."""
REACH_MM: Final = 3.0
"""Farther from the twin than this a seen outline has no counterpart; what is told stops here."""
LEAST_COMPARED_MM: Final = 5.0
"""Seen outline from which a fit is told at all: less is a corner that fits many ways (judged)."""
LEAST_MISSED_MM: Final = 1.0
"""Seen outline that may lie beside the twin before it counts: less is a speck (judged)."""
LEAST_MISSED_SHARE: Final = 0.05
"""The same as a share of what is seen in the place (judged)."""
BOUNDS_MM: Final = (0.1, 0.5)
"""Least and most that the bound of half a line's width may be, mm: a trace's own softness, and what
a transfer laid by hand strays (as in `laying_over`)."""
_NO_LINE_BOUND_MM: Final = 0.3
"""The bound where the twin draws no line to take the width of: half a line of 0.6 mm."""
_NEAR_MM: Final = 0.34
"""Distance within which the whole drawing finds its like, as in `laying_over`."""
_STEP_MM: Final = 0.1
"""Between places compared along an outline in and around the place."""
_WIDE_STEP_MM: Final = 0.5
"""The same over the whole drawing, a share of which is all that is wanted."""
_ALIKE: Final = 0.75
"""Cosine from which two outlines run alike, as in `laying_over`."""
_MOST_PLACES: Final = 20_000
"""Places at which the gilt of a place is looked up. A bound on time."""

SURE: Final = (Grade.SEEN, Grade.MEASURED)


@dataclass(frozen=True)
class TwinFit:
    """How a twin lies to the seen outlines in and around the place it is to fill.

    Attributes
    ----------
    compared_mm
        Seen outline in and around the place.
    apart_mm
        Half of it lies no farther than this from an outline of the twin that runs alike; infinite
        when half has none within reach.
    seen_mm, missed_mm
        Seen outline in the place itself, and what of it the twin leaves bare by more than the
        bound.
    farthest_mm
        The farthest of that from the twin's gilt, up to `REACH_MM`.
    line_mm
        Mean width of the twin's lines there; nan without any.
    whole
        Whether the drawing as a whole matches itself under this likeness.
    """

    compared_mm: float
    apart_mm: float
    seen_mm: float
    missed_mm: float
    farthest_mm: float
    line_mm: float
    whole: bool

    @property
    def bound_mm(self) -> float:
        """How far beside the twin seen gilt may lie: half a line, for beyond it is another line."""
        if not math.isfinite(self.line_mm):
            return _NO_LINE_BOUND_MM
        return bound_for(self.line_mm)

    @property
    def misses(self) -> bool:
        """Whether filling would take away gilt that is seen and that the twin has not."""
        return self.missed_mm > max(LEAST_MISSED_MM, LEAST_MISSED_SHARE * self.seen_mm)

    @property
    def compared(self) -> bool:
        """Whether enough is seen in and around the place to tell how the twin lies."""
        return self.compared_mm >= LEAST_COMPARED_MM

    @property
    def fits(self) -> bool:
        """Whether half of what is seen in and around the place lies within half the bound."""
        return self.compared and self.apart_mm <= self.bound_mm / 2.0

    @property
    def inferred(self) -> bool:
        """Whether what is filled is inferred; else it is conjectured."""
        return self.fits or (not self.compared and self.whole)

    @property
    def says(self) -> str:
        """The fit in a sentence or two, with its figures and its bound."""
        if not self.compared:
            what = "matches itself" if self.whole else "does not match itself"
            first = (
                f"Only {self.compared_mm:.0f} mm of outline are seen in and around the place, too "
                f"little to measure the twin by; the drawing as a whole {what} that way."
            )
        elif not math.isfinite(self.apart_mm):
            first = (
                f"Most of the {self.compared_mm:.0f} mm of outline seen in and around the place "
                f"have no counterpart in the twin within {REACH_MM:g} mm."
            )
        else:
            first = (
                f"Half of the {self.compared_mm:.0f} mm of outline seen in and around the place "
                f"lie within {self.apart_mm:.2f} mm of the twin; {self.bound_mm / 2:.2f} mm are "
                "allowed."
            )
        return f"{first} {self._missed_in_words} What is filled is {self._grade_in_words}."

    @property
    def _missed_in_words(self) -> str:
        if self.seen_mm <= 0:
            return "No gilt is seen in the place itself."
        if self.missed_mm <= 0:
            return "It covers all gilt that is seen in the place."
        far = f"{self.farthest_mm:.1f} mm"
        far = f"{far} or more" if self.farthest_mm >= REACH_MM else far
        width = f", half a line of {self.line_mm:.1f} mm" if math.isfinite(self.line_mm) else ""
        return (
            f"{self.missed_mm:.1f} of {self.seen_mm:.1f} mm of outline seen in the place lie up to "
            f"{far} beside its gilt, where {self.bound_mm:.2f} mm are allowed{width}."
        )

    @property
    def _grade_in_words(self) -> str:
        return "inferred" if self.inferred else "conjectured"


def bound_for(line_mm: float) -> float:
    """Half a line's width within `BOUNDS_MM`.

    >>> bound_for(0.7), bound_for(4.0)
    (0.35, 0.5)
    """
    return min(max(line_mm / 2.0, BOUNDS_MM[0]), BOUNDS_MM[1])


@dataclass(frozen=True, eq=False)
class _Outline:
    """Places along outlines with their normals out of the gilt, length each, and if they are seen.

    Shapes (n, 2), (n, 2), (n,), (n,).
    """

    points: Floats
    normals: Floats
    lengths: Floats
    sure: Bools

    def those(self, held: Bools) -> _Outline:
        return _Outline(self.points[held], self.normals[held], self.lengths[held], self.sure[held])

    def moved(self, by: FillLikeness) -> _Outline:
        return _Outline(by.apply(self.points), self.normals @ by.linear.T, self.lengths, self.sure)


@dataclass(frozen=True, eq=False)
class _Layer:
    """What one layer has in and around a place: its outlines, its twin's, and what both fill."""

    ours: _Outline
    twin: _Outline
    in_gilt: Any


def twin_fit(work: Workpiece, area: Any, likeness: FillLikeness) -> TwinFit:
    """Measure how the twin of a place lies to what is seen in and around it.

    Parameters
    ----------
    work
        The drawing on the bench.
    area
        The place, a shapely geometry in mm.
    likeness
        Where the place finds its like.
    """
    from shapely import prepare

    zone = area.buffer(AROUND_MM)
    wide = zone.buffer(REACH_MM)
    for shape in (area, zone, wide):
        prepare(shape)
    outward = _outward(work)
    layers = [_layer(work, name, zone, wide, likeness, outward) for name in work.drawing().layers]
    gilt = sum(_gilt_mm2(zone, layer, likeness) for layer in layers)
    drawn = sum(float(_in(zone, layer.twin).lengths.sum()) for layer in layers)
    line = 2.0 * gilt / drawn if drawn > LEAST_MISSED_MM and gilt > 0 else math.nan
    bound = bound_for(line) if math.isfinite(line) else _NO_LINE_BOUND_MM
    apart, weights = [np.zeros(0)], [np.zeros(0)]
    seen = missed = farthest = 0.0
    for layer in layers:
        ours = layer.ours.those(layer.ours.sure)
        apart.append(_apart(ours, layer.twin))
        weights.append(ours.lengths)
        here = _in(area, ours)
        off = _beside(here, layer, likeness)
        seen += float(here.lengths.sum())
        missed += float(here.lengths[off > bound].sum())
        farthest = max(farthest, float(off[off > bound].max(initial=0.0)))
    return TwinFit(
        float(np.concatenate(weights).sum()),
        _median(np.concatenate(apart), np.concatenate(weights)),
        seen,
        missed,
        farthest,
        line,
        _whole(work, likeness, outward),
    )


def missed_places(work: Workpiece, area: Any, likeness: FillLikeness, bound_mm: float) -> Floats:
    """Places (n, 2) of seen outline in an area that lie beside the twin by more than a bound."""
    from shapely import prepare

    zone = area.buffer(AROUND_MM)
    wide = zone.buffer(REACH_MM)
    for shape in (area, zone, wide):
        prepare(shape)
    outward = _outward(work)
    out = [np.zeros((0, 2))]
    for name in work.drawing().layers:
        layer = _layer(work, name, zone, wide, likeness, outward)
        here = _in(area, layer.ours.those(layer.ours.sure))
        out.append(here.points[_beside(here, layer, likeness) > bound_mm])
    return np.concatenate(out)


def _layer(
    work: Workpiece,
    name: str,
    zone: Any,
    wide: Any,
    likeness: FillLikeness,
    outward: dict[int, float],
) -> _Layer:
    numbers = [n for n, p in work.paths.items() if p.layer == name]
    low, high = np.array(zone.bounds[:2]), np.array(zone.bounds[2:])
    near = [n for n in numbers if _meets(work.paths[n].curves, low, high)]
    low, high = np.array(wide.bounds[:2]), np.array(wide.bounds[2:])
    back = likeness.back
    there = [n for n in numbers if _meets(back.apply(work.paths[n].curves), low, high)]
    ours = _sampled((work.paths[n], outward[n]) for n in near)
    twin = _sampled((work.paths[n], outward[n]) for n in there).moved(back)
    return _Layer(_in(zone, ours), _in(wide, twin), filled([work.paths[n] for n in numbers]))


def _meets(curves: Floats, low: Floats, high: Floats) -> bool:
    at = curves.reshape(-1, 2)
    return bool(np.all(at.min(axis=0) <= high) and np.all(at.max(axis=0) >= low))


def _outward(work: Workpiece) -> dict[int, float]:
    """For each path 1 or -1: what turns the left of its way out of the gilt."""
    numbers = sorted(work.paths)
    parents = work.drawing().nesting()
    out = {}
    for index, number in enumerate(numbers):
        depth, at = 0, parents[index]
        while at is not None:
            depth, at = depth + 1, parents[at]
        # a path that runs clockwise as seen has its inside to the right of its way
        clockwise = work.paths[number].area > 0
        out[number] = 1.0 if clockwise == (depth % 2 == 0) else -1.0
    return out


def _sampled(paths: Iterable[tuple[ClosedPath, float]], step_mm: float = _STEP_MM) -> _Outline:
    points, normals, lengths = [np.zeros((0, 2))], [np.zeros((0, 2))], [np.zeros(0)]
    sure = [np.zeros(0, np.bool_)]
    for path, outward in paths:
        counts = np.maximum(1, np.ceil(path.lengths / step_mm)).astype(np.int64)
        index = np.repeat(np.arange(path.nodes), counts)
        first = np.concatenate([[0], np.cumsum(counts)[:-1]])
        t = (np.arange(len(index)) - first[index] + 0.5) / counts[index]
        curves = path.curves[index]
        way = each_derivative(curves, t)
        way = way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-12)
        points.append(each_point(curves, t))
        normals.append(outward * np.stack([way[:, 1], -way[:, 0]], axis=1))
        lengths.append((path.lengths / counts)[index])
        sure.append(np.array([g in SURE for g in path.grades], np.bool_)[index])
    return _Outline(
        np.concatenate(points),
        np.concatenate(normals),
        np.concatenate(lengths),
        np.concatenate(sure),
    )


def _in(area: Any, outline: _Outline) -> _Outline:
    from shapely import contains_xy

    held: NDArray[np.bool_] = np.asarray(contains_xy(area, outline.points), np.bool_)
    return outline.those(held)


def _apart(ours: _Outline, twin: _Outline) -> Floats:
    """How far each place is from the twin's outline that runs alike; infinite without one."""
    from scipy.spatial import cKDTree

    if not len(ours.points) or not len(twin.points):
        return np.full(len(ours.points), np.inf)
    # one that runs alike is wanted, so that unlike ways count as distance too, one mm a unit
    tree = cKDTree(np.hstack([twin.points, twin.normals]))
    _, index = tree.query(np.hstack([ours.points, ours.normals]))
    apart = np.linalg.norm(ours.points - twin.points[index], axis=1)
    alike = np.sum(ours.normals * twin.normals[index], axis=1) > _ALIKE
    return np.where(alike & (apart <= REACH_MM), apart, np.inf)


def _beside(here: _Outline, layer: _Layer, likeness: FillLikeness) -> Floats:
    """How far outside the twin's gilt each place lies; 0 in it, `REACH_MM` at most."""
    from scipy.spatial import cKDTree

    if not len(here.points):
        return np.zeros(0)
    off = np.full(len(here.points), REACH_MM)
    if len(layer.twin.points):
        off = np.minimum(cKDTree(layer.twin.points).query(here.points)[0], REACH_MM)
    return np.where(layer.in_gilt(likeness.apply(here.points)), 0.0, off)


def _gilt_mm2(zone: Any, layer: _Layer, likeness: FillLikeness) -> float:
    """Area of the twin's gilt in and around the place, by looking it up on a grid."""
    from shapely import contains_xy

    left, top, right, bottom = zone.bounds
    step = max(0.15, math.sqrt((right - left) * (bottom - top) / _MOST_PLACES))
    x, y = np.meshgrid(np.arange(left, right, step), np.arange(top, bottom, step))
    at = np.column_stack([x.ravel(), y.ravel()])
    at = at[np.asarray(contains_xy(zone, at), np.bool_)]
    return float(layer.in_gilt(likeness.apply(at)).sum()) * step * step


def _median(values: Floats, weights: Floats) -> float:
    if not len(values):
        return math.inf
    order = np.argsort(values)
    upto = np.cumsum(weights[order])
    return float(values[order][int(np.searchsorted(upto, upto[-1] / 2.0))])


def _whole(work: Workpiece, likeness: FillLikeness, outward: dict[int, float]) -> bool:
    """Whether the seen outline of the whole drawing finds its like, and not by chance."""
    near = total = drawn = 0.0
    for name in work.drawing().layers:
        all_here = [(p, outward[n]) for n, p in work.paths.items() if p.layer == name]
        outline = _sampled(all_here, _WIDE_STEP_MM)
        sure = outline.those(outline.sure)
        apart = _apart(sure.moved(likeness), _sampled(all_here, _STEP_MM))
        near += float(sure.lengths[apart <= _NEAR_MM].sum())
        total += float(sure.lengths.sum())
        drawn += float(outline.lengths.sum())
    left, top, right, bottom = work.bounds_mm
    agree = 2.0 * math.acos(_ALIKE) / (2.0 * math.pi)
    chance = min(1.0, drawn * 2.0 * _NEAR_MM / max((right - left) * (bottom - top), 1.0)) * agree
    share = near / total if total > 0 else 0.0
    return share >= LEAST_MATCH and share > 3.0 * chance
