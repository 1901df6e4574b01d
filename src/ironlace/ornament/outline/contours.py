"""Sub-pixel contours of a large picture, found only where something crosses the level.

Marching squares (Lorensen and Cline 1987, in the plane) without visiting the empty cells: grid
edges crossed by the contour are found by comparing neighbours, each cell hands the line on from
one edge to the next, and the chains are put in order by pointer doubling (list ranking, Wyllie
1979). The work after the first comparison grows with the length of the outline, not with the
picture.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats, Ints

STEP_PX: Final = 0.75
"""Spacing of contour points in pixels; finer adds nothing a pixel grid has seen."""


@dataclass(frozen=True)
class Outlines:
    """Closed contours, all in one array.

    ``points`` has shape (n, 2), pixels of the picture; ring i is ``points[starts[i]:starts[i +
    1]]`` and does not repeat its first point. Islands run clockwise as seen (y down), holes the
    other way.
    """

    points: Floats
    starts: Ints

    @property
    def areas(self) -> Floats:
        """Signed area of each ring: positive for islands, negative for holes."""
        return ring_areas(self.points, self.starts)


def contours(
    picture: NDArray[np.generic],
    level: float = 127.5,
    *,
    least_area_px: float = 8.0,
    least_hole_px: float | None = None,
    step_px: float | None = STEP_PX,
) -> Outlines:
    """Closed lines where ``picture`` crosses ``level``; islands and holes below an area left out.

    Outside the picture nothing is covered, so a shape cut by the border is closed along it. Where
    four pixels meet crosswise, the covered ones count as joined.

    Parameters
    ----------
    picture
        Values, shape (height, width).
    level
        Value on the line.
    least_area_px, least_hole_px
        Smaller islands and holes are dropped (square pixels).
    step_px
        Spacing of the points returned; None leaves the crossings as they are.
    """
    z = np.pad(np.asarray(picture), 1)
    inside = z > level
    width = z.shape[1]
    flat = z.ravel()
    # edges: 2 * pixel for the one to the right of a pixel, 2 * pixel + 1 for the one below it
    right = np.flatnonzero((inside[:, :-1] != inside[:, 1:]).ravel())
    row, column = np.divmod(right, width - 1)
    right = row * width + column
    down = np.flatnonzero((inside[:-1] != inside[1:]).ravel())
    if len(right) == 0:
        return Outlines(np.zeros((0, 2)), np.zeros(1, np.int64))
    edges = np.concatenate([2 * right, 2 * down + 1])
    edges.sort()
    pixel = edges >> 1
    below = (edges & 1).astype(bool)
    other = pixel + np.where(below, width, 1)
    a, b = flat[pixel].astype(np.float64), flat[other].astype(np.float64)
    share = (level - a) / (b - a)
    y, x = np.divmod(pixel, width)
    points = np.stack([x + np.where(below, 0.0, share), y + np.where(below, share, 0.0)], axis=1)

    follow = np.searchsorted(edges, _handed_on(pixel, below, inside.ravel(), width))
    root, rank = _ranked(follow)
    order = np.lexsort((rank, root))
    points = points[order] - 1.0
    starts = np.concatenate([[0], np.flatnonzero(np.diff(root[order])) + 1, [len(order)]])
    areas = ring_areas(points, starts)
    hole_px = least_area_px if least_hole_px is None else least_hole_px
    keep = np.where(areas > 0, areas >= least_area_px, -areas >= hole_px)
    rings = np.flatnonzero(keep)
    if step_px is None:
        sizes = np.diff(starts)[rings]
        new = np.concatenate([[0], np.cumsum(sizes)])
        ring = np.repeat(np.arange(len(rings)), sizes)
        return Outlines(points[starts[rings][ring] + np.arange(new[-1]) - new[ring]], new)
    return _evenly(points, starts, rings, step_px)


def _handed_on(
    pixel: Ints, below: NDArray[np.bool_], inside: NDArray[np.bool_], width: int
) -> Ints:
    """The grid edge to which each edge's line goes on; the covered side is on its right hand.

    An edge between a pixel and its right neighbour is crossed downwards if the pixel is covered,
    else upwards; one between a pixel and the one below it is crossed leftwards if the pixel is
    covered, else rightwards. That says which cell the line enters and from where. In the cell it
    turns left if the far left corner is covered, else goes straight on if the far right one is,
    else turns right.
    """
    covered = inside[pixel]
    up, right = ~below & ~covered, below & ~covered
    down, left = ~below & covered, below & covered
    cell = pixel - np.where(up, width, 0) - np.where(left, 1, 0)
    nw, ne = inside[cell], inside[cell + 1]
    sw, se = inside[cell + width], inside[cell + width + 1]
    top, bottom = 2 * cell, 2 * (cell + width)
    west, east = 2 * cell + 1, 2 * cell + 3
    far_left = np.select([down, up, right], [se, nw, ne], sw)
    far_right = np.select([down, up, right], [sw, ne, se], nw)
    to_left = np.select([down, up, right], [east, west, top], bottom)
    ahead = np.select([down, up, right], [bottom, top, east], west)
    to_right = np.select([down, up, right], [west, east, bottom], top)
    return np.where(far_left, to_left, np.where(far_right, ahead, to_right))


def _ranked(follow: Ints) -> tuple[Ints, Ints]:
    """For every link of closed chains: the chain's lowest link, and the steps from it to here."""
    n = len(follow)
    root, ahead = np.arange(n), follow.copy()
    while True:
        lower = np.minimum(root, root[ahead])
        if np.array_equal(lower, root):
            break
        root, ahead = lower, ahead[ahead]
    is_root = root == np.arange(n)
    ahead = np.where(is_root, np.arange(n), follow)
    to_root = (~is_root).astype(np.int64)
    while not np.array_equal(ahead, root):
        to_root, ahead = to_root + to_root[ahead], ahead[ahead]
    return root, np.where(is_root, -n, -to_root)


def ring_areas(points: Floats, starts: Ints) -> Floats:
    """Signed area of rings laid end to end; positive clockwise as seen (y down)."""
    if len(starts) < 2:
        return np.zeros(0)
    following = np.arange(1, len(points) + 1)
    following[starts[1:] - 1] = starts[:-1]
    base = np.repeat(points[starts[:-1]], np.diff(starts), axis=0)
    p, q = points - base, points[following] - base
    return np.asarray(np.add.reduceat(p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1], starts[:-1]) / 2.0)


def _evenly(points: Floats, starts: Ints, rings: Ints, step: float) -> Outlines:
    """Chosen rings resampled at even arc length, all together."""
    if len(rings) == 0:
        return Outlines(np.zeros((0, 2)), np.zeros(1, np.int64))
    following = np.arange(1, len(points) + 1)
    following[starts[1:] - 1] = starts[:-1]
    hop = np.linalg.norm(points[following] - points, axis=1)
    before = np.concatenate([[0.0], np.cumsum(hop)])
    begin, end = before[starts[rings]], before[starts[rings + 1]]
    counts = np.maximum(8, np.round((end - begin) / step).astype(np.int64))
    new = np.concatenate([[0], np.cumsum(counts)])
    ring = np.repeat(np.arange(len(rings)), counts)
    at = begin[ring] + (np.arange(new[-1]) - new[ring]) * ((end - begin) / counts)[ring]
    index = np.searchsorted(before, at, side="right") - 1
    index = np.clip(index, starts[rings][ring], starts[rings + 1][ring] - 1)
    share = (at - before[index]) / np.maximum(hop[index], 1e-12)
    target = points[following[index]]
    return Outlines(points[index] + share[:, None] * (target - points[index]), new)
