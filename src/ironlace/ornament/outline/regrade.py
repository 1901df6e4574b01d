"""Evidence given back to a drawing that was edited elsewhere.

A vector editor keeps shapes but not their evidence. What still lies where the evidence put it
keeps its grade; what was moved or drawn anew is conjecture until the user points at evidence.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.evidence.grades import Grade
from ironlace.ornament.outline.drawing import (
    ClosedPath,
    Drawing,
    curve_derivative,
    curve_points,
    split_curve,
)

DRAWN = "drawn"
"""Source of stretches that lie on no earlier one."""


def regrade(
    edited: Drawing, original: Drawing, *, tolerance_mm: float = 0.02, least_mm: float = 0.3
) -> Drawing:
    """The edited drawing with the evidence of the original wherever it still lies on it.

    Parameters
    ----------
    edited
        Drawing as it came back.
    original
        Drawing as it was handed out.
    tolerance_mm
        How far a stretch may lie off the original and still count as untouched; an editor's
        rounding stays far below it.
    least_mm
        Shorter untouched pieces within a changed stretch (where lines merely cross) do not count.

    Returns
    -------
    Drawing
        Same shapes; curves are cut where the evidence changes.
    """
    if not original.paths:
        return edited.with_paths([_all_drawn(p) for p in edited.paths])
    known = _Known(original)
    graded = [_regraded(p, known, tolerance_mm, least_mm) for p in edited.paths]
    # what a photograph cannot show is no matter of drawing: shading that was taken out comes back
    return replace(
        edited.with_paths(graded),
        blind=original.blind or edited.blind,
        filled=original.filled or edited.filled,
    )


class _Known:
    """The original's outline as short segments with their evidence, ready to be asked."""

    def __init__(self, original: Drawing) -> None:
        from shapely import STRtree, linestrings

        segments, evidence = [], []
        for path in original.paths:
            for i, length in enumerate(path.lengths):
                count = int(np.clip(np.ceil(length / 0.1), 4, 400))
                t = np.linspace(0.0, 1.0, count + 1)
                points = curve_points(path.curves[i : i + 1], t)[0]
                segments.append(np.stack([points[:-1], points[1:]], axis=1))
                evidence += [(path.layer, path.grades[i], path.sources[i])] * count
        self.ends = np.concatenate(segments)
        self.evidence = evidence
        self.tree = STRtree(np.asarray(linestrings(self.ends)))

    def ask(self, points: Floats, tangents: Floats, tolerance: float) -> NDArray[np.int64]:
        """For each point the segment it lies on, along its direction; -1 if none."""
        from shapely import points as to_points

        found, distance = self.tree.query_nearest(
            to_points(points), return_distance=True, all_matches=False
        )
        out = np.full(len(points), -1, dtype=np.int64)
        near = distance <= tolerance
        asked, segment = found[0][near], found[1][near]
        way = self.ends[segment, 1] - self.ends[segment, 0]
        cross = np.abs(way[:, 0] * tangents[asked, 1] - way[:, 1] * tangents[asked, 0])
        size = np.linalg.norm(way, axis=1) * np.linalg.norm(tangents[asked], axis=1)
        along = cross <= 0.5 * size + 1e-12
        out[asked[along]] = segment[along]
        return out


def _all_drawn(path: ClosedPath) -> ClosedPath:
    n = path.nodes
    return ClosedPath(path.curves, (Grade.CONJECTURED,) * n, (DRAWN,) * n, path.layer)


def _regraded(path: ClosedPath, known: _Known, tolerance: float, least: float) -> ClosedPath:
    nothing = (Grade.CONJECTURED, DRAWN)
    curve_all, told = [], []
    for i, length in enumerate(path.lengths):
        count = int(np.clip(np.ceil(length / 0.08), 3, 400))
        t = (np.arange(count) + 0.5) / count
        points = curve_points(path.curves[i : i + 1], t)[0]
        tangents = curve_derivative(path.curves[i : i + 1], t)[0]
        for segment in known.ask(points, tangents, tolerance):
            layer, grade, source = known.evidence[segment] if segment >= 0 else ("", *nothing)
            told.append((grade, source) if layer == path.layer else nothing)
        curve_all.append(np.full(count, i))
    step = float(path.lengths.sum()) / max(len(told), 1)
    told = _without_short_runs(told, max(1, round(least / max(step, 1e-9))), nothing)
    curve = np.concatenate(curve_all)
    curves, grades, sources = [], [], []
    for i in range(path.nodes):
        here = np.flatnonzero(curve == i)
        count = len(here)
        mine = [told[k] for k in here]
        change = [k for k in range(1, count) if mine[k] != mine[k - 1]]
        for piece, k in zip(
            split_curve(path.curves[i], [k / count for k in change]), [0, *change], strict=True
        ):
            curves.append(piece)
            grades.append(mine[k][0])
            sources.append(mine[k][1])
    ring = np.array(curves)
    ring[:, 3] = np.roll(ring[:, 0], -1, axis=0)
    return ClosedPath(ring, tuple(grades), tuple(sources), path.layer)


def _without_short_runs(
    told: list[tuple[Grade, str]], least: int, nothing: tuple[Grade, str]
) -> list[tuple[Grade, str]]:
    """Runs of evidence shorter than ``least`` between stretches without any are no evidence."""
    n = len(told)
    if all(v != nothing for v in told) or all(v == nothing for v in told):
        return told
    start = next(k for k in range(n) if told[k] == nothing)
    turned = told[start:] + told[:start]
    out = list(turned)
    k = 0
    while k < n:
        end = k
        while end < n and turned[end] != nothing:
            end += 1
        if end > k and end - k < least:
            out[k:end] = [nothing] * (end - k)
        k = max(end, k + 1)
    return out[n - start :] + out[: n - start]
