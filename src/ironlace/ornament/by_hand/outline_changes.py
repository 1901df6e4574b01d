"""Changes to one outline by hand: a node moved, a curve drawn along, a node put in or taken out.

Where two curves run on smoothly through a node they still do so afterwards, as a hand at the
drawing board would have it. A curve that was moved stands on what the person says it stands on.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.grades import weakest
from ironlace.ornament.by_hand.workpiece import DrawnChange, Evidence, Workpiece
from ironlace.ornament.errors import ReworkError
from ironlace.ornament.outline.crossings import crossing_paths
from ironlace.ornament.outline.drawing import ClosedPath, curve_points, split_curve

Point = tuple[float, float]
Side = Literal["in", "out"]

SMOOTH: Final = 0.17
"""Two curves whose directions differ less than this (radians) run on smoothly through a node."""
UNMOVED_MM: Final = 0.02
"""A curve nowhere farther than this from where it lay keeps its evidence."""


def move_node(
    work: Workpiece, number: int, node: int, to: Point, evidence: Evidence
) -> DrawnChange:
    """Move a node, and the handles on both sides of it along with it.

    Raises
    ------
    ReworkError
        When there is no such node, or the outline would cross itself or another.
    """
    path = work.path(number)
    i = _index(path, node)
    curves = path.curves.copy()
    shift = np.asarray(to, np.float64) - curves[i, 0]
    curves[i, :2] += shift
    curves[i - 1, 2:] += shift
    return _changed(work, number, curves, evidence)


def move_handle(
    work: Workpiece, number: int, node: int, side: Side, to: Point, evidence: Evidence
) -> DrawnChange:
    """Move the handle of a node; at a smooth node the other one turns along.

    ``side`` is ``"out"`` for the curve that begins at the node, ``"in"`` for the one that ends.

    Raises
    ------
    ReworkError
        When there is no such node, or the outline would cross itself or another.
    """
    path = work.path(number)
    i = _index(path, node)
    curves = path.curves.copy()
    smooth = _is_smooth(curves, i)
    if side == "out":
        curves[i, 1] = to
    else:
        curves[i - 1, 2] = to
    if smooth:
        _turn_along(curves, i, moved=side)
    return _changed(work, number, curves, evidence)


def pull_curve(
    work: Workpiece, number: int, curve: int, t: float, to: Point, evidence: Evidence
) -> DrawnChange:
    """Pull the place at parameter ``t`` of a curve to a new place; its ends stay.

    Of all movements of the two handles that bring the curve there, the least is taken.

    Raises
    ------
    ReworkError
        When there is no such curve, ``t`` is at its end, or outlines would cross.
    """
    path = work.path(number)
    i = _index(path, curve)
    if not 0.02 <= t <= 0.98:
        raise ReworkError("That is the end of a curve: move the point there instead.")
    curves = path.curves.copy()
    smooth_begin, smooth_end = _is_smooth(curves, i), _is_smooth(curves, (i + 1) % path.nodes)
    at = curve_points(curves[i : i + 1], np.array([t]))[0, 0]
    shift = np.asarray(to, np.float64) - at
    a, b = 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t * t
    curves[i, 1] += a / (a * a + b * b) * shift
    curves[i, 2] += b / (a * a + b * b) * shift
    if path.nodes > 1 and smooth_begin:
        _turn_along(curves, i, moved="out")
    if path.nodes > 1 and smooth_end:
        _turn_along(curves, (i + 1) % path.nodes, moved="in")
    return _changed(work, number, curves, evidence)


def put_node(work: Workpiece, number: int, curve: int, t: float) -> DrawnChange:
    """Put a node into a curve. The shape stays as it is, and so does its evidence.

    Raises
    ------
    ReworkError
        When there is no such curve or ``t`` is at its end.
    """
    path = work.path(number)
    i = _index(path, curve)
    if not 0.02 <= t <= 0.98:
        raise ReworkError("There is a point already: choose a place between two points.")
    pieces = split_curve(path.curves[i], [t])
    curves = np.concatenate([path.curves[:i], pieces, path.curves[i + 1 :]])
    grades = (*path.grades[:i], path.grades[i], *path.grades[i:])
    sources = (*path.sources[:i], path.sources[i], *path.sources[i:])
    return work.replacing(number, ClosedPath(curves, grades, sources, path.layer))


def take_node(work: Workpiece, number: int, node: int, evidence: Evidence) -> DrawnChange:
    """Take a node out; one curve takes the place of two, as near to them as one can lie.

    Raises
    ------
    ReworkError
        When there is no such node, it is one of the last two, or outlines would cross.
    """
    path = work.path(number)
    i = _index(path, node)
    if path.nodes <= 2:
        raise ReworkError("An outline needs two points: take the whole outline away instead.")
    one, two = path.curves[i - 1], path.curves[i]
    joined = _joined(one, two)
    keep = [k for k in range(path.nodes) if k != i]
    curves = path.curves[keep].copy()
    at = keep.index((i - 1) % path.nodes)
    curves[at] = joined
    t = np.linspace(0.0, 1.0, 33)
    old = np.vstack([curve_points(one[None], t)[0], curve_points(two[None], t)[0]])
    away = _apart(curve_points(joined[None], np.linspace(0, 1, 65))[0], old)
    worse = weakest((path.grades[i - 1], path.grades[i]))
    grades = [path.grades[k] for k in keep]
    sources = [path.sources[k] for k in keep]
    if away > UNMOVED_MM:
        grades[at], sources[at] = evidence.grade, evidence.source
    elif worse is not path.grades[i - 1]:
        grades[at], sources[at] = worse, path.sources[i]
    changed = ClosedPath(curves, tuple(grades), tuple(sources), path.layer)
    _must_not_cross(work, number, changed)
    return work.replacing(number, changed)


def take_path(work: Workpiece, number: int) -> DrawnChange:
    """Take a whole outline away.

    Raises
    ------
    ReworkError
        When there is no such outline.
    """
    return DrawnChange({number: work.path(number)}, {})


def take_paths(work: Workpiece, numbers: Sequence[int]) -> DrawnChange:
    """Take several whole outlines away in one change.

    Raises
    ------
    ReworkError
        When none was chosen, or one of them is not there.
    """
    if not numbers:
        raise ReworkError("No outline was chosen: choose what is to go.")
    return DrawnChange({number: work.path(number) for number in numbers}, {})


def vouch(work: Workpiece, number: int, curves: list[int], evidence: Evidence) -> DrawnChange:
    """Say what some curves of an outline stand on; their shape stays.

    Raises
    ------
    ReworkError
        When one of the curves is not there.
    """
    path = work.path(number)
    chosen = {_index(path, c) for c in curves}
    if not chosen:
        raise ReworkError("No stretch was chosen: choose what the evidence stands for.")
    return work.replacing(
        number,
        ClosedPath(
            path.curves,
            tuple(evidence.grade if k in chosen else g for k, g in enumerate(path.grades)),
            tuple(evidence.source if k in chosen else s for k, s in enumerate(path.sources)),
            path.layer,
        ),
    )


def _index(path: ClosedPath, number: int) -> int:
    if not 0 <= number < path.nodes:
        raise ReworkError(
            f"The outline has {path.nodes} points, none of them is number {number}: choose again."
        )
    return number


def _changed(work: Workpiece, number: int, curves: Floats, evidence: Evidence) -> DrawnChange:
    path = work.path(number)
    if not np.isfinite(curves).all():
        raise ReworkError("A place to move to is not a number: choose a place on the drawing.")
    t = np.linspace(0.0, 1.0, 33)
    apart = np.linalg.norm(curve_points(curves, t) - curve_points(path.curves, t), axis=2)
    moved = apart.max(axis=1) > UNMOVED_MM
    changed = ClosedPath(
        curves,
        tuple(evidence.grade if m else g for m, g in zip(moved, path.grades, strict=True)),
        tuple(evidence.source if m else s for m, s in zip(moved, path.sources, strict=True)),
        path.layer,
    )
    _must_not_cross(work, number, changed)
    return work.replacing(number, changed)


def _must_not_cross(work: Workpiece, number: int, changed: ClosedPath) -> None:
    """A cutter follows outlines blindly, and a crossing turns paint inside out."""
    ring = changed.polygon(0.005)
    low, high = ring.min(axis=0), ring.max(axis=0)
    near = [ring]
    for other, path in work.paths.items():
        if other == number or path.layer != changed.layer:
            continue
        hull = path.curves.reshape(-1, 2)
        if np.all(hull.min(axis=0) <= high) and np.all(hull.max(axis=0) >= low):
            near.append(path.polygon(0.005))
    if 0 in crossing_paths(near):
        before = [work.path(number).polygon(0.005), *near[1:]]
        if 0 in crossing_paths(before):
            return  # it was crossed already: any step must be open to mend it
        raise ReworkError(
            "That would make the outline cross itself or its neighbour: move it less, or rub out "
            "and draw the stroke anew."
        )


def _is_smooth(curves: Floats, i: int) -> bool:
    come, go = curves[i, 0] - curves[i - 1, 2], curves[i, 1] - curves[i, 0]
    cross, dot = come[0] * go[1] - come[1] * go[0], float(come @ go)
    return bool(abs(np.arctan2(cross, dot)) < SMOOTH)


def _turn_along(curves: Floats, i: int, moved: Side) -> None:
    """Turn the handle that was not moved into line with the one that was; its length stays."""
    node = curves[i, 0]
    lead = (node - curves[i, 1]) if moved == "out" else (node - curves[i - 1, 2])
    size = float(np.linalg.norm(lead))
    if size < 1e-9:
        return
    if moved == "out":
        curves[i - 1, 2] = node + lead / size * np.linalg.norm(curves[i - 1, 2] - node)
    else:
        curves[i, 1] = node + lead / size * np.linalg.norm(curves[i, 1] - node)


def _joined(one: Floats, two: Floats) -> Floats:
    """The cubic from one's begin to two's end, with their end directions, nearest to both."""
    t = np.linspace(0.0, 1.0, 33)
    points = np.vstack([curve_points(one[None], t)[0], curve_points(two[None], t)[0][1:]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    total = max(float(along[-1]), 1e-9)
    u = along / total
    p0, p3 = one[0], two[3]
    t0, t1 = _unit(one[1] - one[0], points[1] - p0), _unit(two[2] - two[3], points[-2] - p3)
    for _ in range(8):
        s = 1 - u
        b1, b2 = 3 * s * s * u, 3 * s * u * u
        rest = points - ((s**3 + b1)[:, None] * p0 + (b2 + u**3)[:, None] * p3)
        a = np.stack([(b1[:, None] * t0).ravel(), (b2[:, None] * t1).ravel()], axis=1)
        (a0, a1), *_ = np.linalg.lstsq(a, rest.ravel(), rcond=None)
        a0, a1 = max(float(a0), 0.02 * total), max(float(a1), 0.02 * total)
        curve = np.array([p0, p0 + a0 * t0, p3 + a1 * t1, p3])
        fine = curve_points(curve[None], np.linspace(0, 1, 257))[0]
        apart = np.linalg.norm(points[:, None] - fine[None], axis=2)
        u = np.maximum.accumulate(np.argmin(apart, axis=1) / 256)
        u[0], u[-1] = 0.0, 1.0
    return np.asarray(curve, np.float64)


def _unit(way: Floats, instead: Floats) -> Floats:
    size = float(np.linalg.norm(way))
    if size > 1e-9:
        return way / size
    return instead / max(float(np.linalg.norm(instead)), 1e-9)


def _apart(points: Floats, line: Floats) -> float:
    from shapely import LineString, distance
    from shapely import points as to_points

    return float(np.max(distance(to_points(points), LineString(line))))
