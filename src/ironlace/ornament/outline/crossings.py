"""Outlines must not cross themselves or one another: the check.

A cutter follows outlines blindly, and a crossing turns paint inside out. Touching is a crossing
here.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.ornament.outline.drawing import Drawing, sample_curves


def crossing_paths(polygons: Sequence[Floats]) -> set[int]:
    """Numbers of closed polygons that cross themselves or another one of the list."""
    from shapely import Polygon, STRtree, get_exterior_ring, is_valid, overlaps

    usable = [i for i, p in enumerate(polygons) if len(p) >= 3]
    found = {i for i, p in enumerate(polygons) if len(p) < 3}
    if not usable:
        return found
    shapes = np.array([Polygon(polygons[i]) for i in usable], dtype=object)
    fine = is_valid(shapes)
    found |= {i for i, good in zip(usable, fine, strict=True) if not good}
    sound = [(i, s) for i, s, good in zip(usable, shapes, fine, strict=True) if good]
    if not sound:
        return found
    kept = np.array([s for _, s in sound], dtype=object)
    # of two that overlap the outlines meet, which is told far quicker of a frame round thousands
    lines = get_exterior_ring(kept)
    one, two = STRtree(lines).query(lines, predicate="intersects")
    one, two = one[one < two], two[one < two]
    for n in np.unique(np.concatenate([one, two])[np.tile(overlaps(kept[one], kept[two]), 2)]):
        found.add(sound[int(n)][0])
    return found


def crossing_curves(curves: Floats, tolerance: float) -> NDArray[np.int64]:
    """Numbers of cubic curves (n, 4, 2) that cross another one or loop over themselves.

    Curves that only share an end do not count.
    """
    from shapely import STRtree, is_simple, linestrings

    second = np.linalg.norm(np.diff(curves, n=2, axis=1), axis=2).max(axis=1)
    counts = np.clip(np.ceil(np.sqrt(0.75 * second / tolerance)), 1, 200).astype(np.int64)
    points, index = sample_curves(curves, counts)
    # each line ends exactly where its curve does
    ends = np.cumsum(counts)
    points = np.insert(points, ends, curves[:, 3], axis=0)
    index = np.insert(index, ends, np.arange(len(curves)))
    lines = np.asarray(linestrings(points, indices=index))
    bad = set(np.flatnonzero(~is_simple(lines)).tolist())
    for a, b in STRtree(lines).query(lines, predicate="crosses").T:
        bad |= {int(a), int(b)}
    return np.array(sorted(bad), dtype=np.int64)


def crossings(drawing: Drawing, tolerance_mm: float = 0.002) -> set[int]:
    """Numbers of the drawing's paths that cross themselves or another path of their layer."""
    found: set[int] = set()
    for layer in drawing.layers:
        numbers = [i for i, p in enumerate(drawing.paths) if p.layer == layer]
        bad = crossing_paths([drawing.paths[i].polygon(tolerance_mm) for i in numbers])
        found |= {numbers[i] for i in bad}
    return found
