"""Height from slopes, with free edges.

Least squares on the steps between neighbours, each step the integral of the slope's cubic through
four pixels (exact to the fourth order in the pixel). The normal equations are Poisson's with free
edges, which the cosine transform solves at once (after Frankot and Chellappa, 1988; Simchony,
Chellappa and Shao, 1990). Places that are unknown are first filled from a coarse solution in which
they have no weight, so that what is known round them is left as it is.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

FILLED_AT = 160
"""Pixels of the longer side of the coarse solution from which unknown places are filled."""
FILLED_BY = 8
"""Pixels of a side of the coarse solution's, of which a mean is made; more tell no more."""
EXACT_PX = 9_000_000
"""Pixels of a picture up to which double precision is used."""

Slopes = NDArray[np.floating]


def height_of_slopes(
    right: Slopes, up: Slopes, known: NDArray[np.bool_] | None = None, *, workers: int = 2
) -> NDArray[np.floating]:
    """Integrate slopes to a height of mean zero over what is known.

    Parameters
    ----------
    right, up
        Rise for one pixel to the right, and for one pixel up; rows x columns. They may be
        overwritten where they are unknown.
    known
        Where they are known; everywhere if not given.
    workers
        Threads of the transform.

    Returns
    -------
    ndarray
        Height in pixels, rows x columns.
    """
    kind = np.float64 if right.size <= EXACT_PX else np.float32
    if known is not None and not known.all():
        if not known.any():
            return np.zeros(right.shape, kind)
        _fill(right, up, known)
    rows, columns = right.shape
    laplacian = np.zeros(right.shape, kind)
    for top in range(0, rows, 256):
        band = slice(top, min(top + 256, rows))
        across = _steps(right[band].astype(kind, copy=False), 1)
        laplacian[band, 1:] += across
        laplacian[band, :-1] -= across
    for left in range(0, columns, 256):
        strip = slice(left, min(left + 256, columns))
        down = -_steps(up[:, strip].astype(kind, copy=False), 0)
        laplacian[1:, strip] += down
        laplacian[:-1, strip] -= down
    transformed = fft.dctn(laplacian, type=2, workers=workers, overwrite_x=True)
    del laplacian
    across_k = (2 - 2 * np.cos(np.pi * np.arange(columns) / columns)).astype(kind)
    down_k = (2 - 2 * np.cos(np.pi * np.arange(rows) / rows)).astype(kind)
    for row in range(rows):
        divisor = across_k + down_k[row]
        if row == 0:
            divisor[0] = 1.0
        transformed[row] /= divisor
    transformed[0, 0] = 0.0
    height = np.asarray(fft.idctn(transformed, type=2, workers=workers, overwrite_x=True))
    seen = None if known is None else np.ascontiguousarray(known).view(np.uint8)
    height -= cv2.mean(height, seen)[0]
    return height


def _steps(slope: NDArray[np.floating], axis: int) -> NDArray[np.floating]:
    """Rise from each pixel to the next along an axis (Newton and Cotes, fourth order)."""
    p = np.moveaxis(slope, axis, 0)
    if len(p) < 4:
        return np.moveaxis((p[1:] + p[:-1]) / 2, 0, axis)
    steps = np.empty((len(p) - 1, *p.shape[1:]), p.dtype)
    steps[1:-1] = (13 * (p[1:-2] + p[2:-1]) - p[:-3] - p[3:]) / 24
    steps[0] = (9 * p[0] + 19 * p[1] - 5 * p[2] + p[3]) / 24
    steps[-1] = (9 * p[-1] + 19 * p[-2] - 5 * p[-3] + p[-4]) / 24
    return np.moveaxis(steps, 0, axis)


def _fill(right: Slopes, up: Slopes, known: NDArray[np.bool_]) -> None:
    """Put slopes of a smooth surface, which fits what is known, where they are unknown."""
    shrink = max(max(right.shape) / FILLED_AT, 1.0)
    size = (max(round(right.shape[1] / shrink), 2), max(round(right.shape[0] / shrink), 2))
    thin = max(int(shrink) // FILLED_BY, 1)
    seen = known[::thin, ::thin]
    share = cv2.resize(seen.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    parts = []
    for slope in (right, up):
        held = np.zeros(seen.shape, np.float32)
        np.copyto(held, slope[::thin, ::thin], where=seen, casting="same_kind")
        small = cv2.resize(held, size, interpolation=cv2.INTER_AREA)
        parts.append((small / np.maximum(share, 1e-3)).astype(np.float64))
    height = _weighted(parts[0], parts[1], share.astype(np.float64))
    down, across = (np.asarray(one, dtype=np.float32) for one in np.gradient(height))
    for slope, coarse in ((right, across), (up, -down)):
        _put_between(slope, coarse, ~known)


def _put_between(slope: Slopes, coarse: NDArray[np.float32], where: NDArray[np.bool_]) -> None:
    """Put a small picture, enlarged (bilinear between the pixels' middles), into some places."""
    rows, columns = slope.shape
    high, wide = coarse.shape
    for top in range(0, rows, 256):  # bands: places would else take more memory than the picture
        y, x = np.nonzero(where[top : top + 256])
        if not len(y):
            continue
        v = np.clip((y + (top + 0.5)) * (high / rows) - 0.5, 0, high - 1)
        u = np.clip((x + 0.5) * (wide / columns) - 0.5, 0, wide - 1)
        j, i = np.minimum(v.astype(int), high - 2), np.minimum(u.astype(int), wide - 2)
        v, u = v - j, u - i
        above = coarse[j, i] * (1 - u) + coarse[j, i + 1] * u
        below = coarse[j + 1, i] * (1 - u) + coarse[j + 1, i + 1] * u
        slope[top : top + 256][y, x] = above * (1 - v) + below * v


def _weighted(
    right: NDArray[np.float64], up: NDArray[np.float64], weight: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Height of a small picture, its steps weighted (sparse normal equations, in pixels)."""
    from scipy.sparse import coo_array, identity
    from scipy.sparse.linalg import spsolve

    rows, columns = right.shape
    place = np.arange(rows * columns).reshape(rows, columns)
    pairs = [
        (place[:, :-1], place[:, 1:], _steps(right, 1), np.minimum(weight[:, :-1], weight[:, 1:])),
        (place[:-1], place[1:], -_steps(up, 0), np.minimum(weight[:-1], weight[1:])),
    ]
    first, last, rise, w = (np.concatenate([p[k].ravel() for p in pairs]) for k in range(4))
    w = np.maximum(w, 1e-4)  # unknown places are bridged as flat as their rim allows
    each = np.arange(len(first))
    ones = np.ones(len(first))
    step = coo_array(
        (np.r_[ones, -ones], (np.r_[each, each], np.r_[last, first])),
        shape=(len(first), rows * columns),
    ).tocsr()
    normal = step.T @ step.multiply(w[:, None]).tocsr() + 1e-9 * identity(rows * columns)
    height = spsolve(normal.tocsc(), step.T @ (w * rise))
    return np.asarray(height, dtype=np.float64).reshape(rows, columns)
