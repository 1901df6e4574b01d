"""A place as its pattern of slopes: which way the metal falls, pooled over small cells.

Depth says little (it is worn, and relief exaggerates it by a factor of its own); where the flanks
run and which way they face says which figure it is. So each slope counts by its direction and by
how far it stands out of the plate's grain, never by more than one, so that a pit weighs no more
than a stroke. Histograms of directions over cells: after Dalal and Triggs (2005).
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.strikes import PATCH, Slopes

WAYS = 8
"""Directions told apart."""
_CELL = 4.5
"""Distance of the cells, pixels of the reading grid."""
_POOL = 2.4
"""Standard width over which a cell gathers, pixels."""
_ROWS = np.arange(_CELL / 2 + 0.5, PATCH[0], _CELL)
_COLS = np.arange(_CELL / 2 - 0.5, PATCH[1], _CELL)
SIZE = WAYS * len(_ROWS) * len(_COLS)
"""Numbers of a pattern."""


def pattern(slopes: Slopes, grain: float) -> NDArray[np.float32]:
    """The pattern of one patch.

    Parameters
    ----------
    slopes
        Shape (2, 60, 48), along x and y.
    grain
        Median size of a slope where nothing is struck.

    Returns
    -------
    ndarray of shape (SIZE,), unit length
    """
    x, y = slopes
    size = np.hypot(x, y)
    weight = size / np.sqrt(size**2 + (2.5 * grain) ** 2)
    way = (np.arctan2(y, x) / (2 * np.pi) * WAYS) % WAYS
    low = np.floor(way).astype(np.int64)
    part = (way - low).astype(np.float32)
    planes = np.zeros((WAYS, *size.shape), np.float32)
    rows, cols = np.indices(size.shape)
    planes[low % WAYS, rows, cols] = weight * (1 - part)
    planes[(low + 1) % WAYS, rows, cols] += weight * part
    pooled = cv2.GaussianBlur(
        planes.transpose(1, 2, 0), (0, 0), _POOL, borderType=cv2.BORDER_REFLECT
    )
    grid_x, grid_y = np.meshgrid(_COLS.astype(np.float32), _ROWS.astype(np.float32))
    cells = np.stack(
        [
            cv2.remap(np.ascontiguousarray(pooled[..., k]), grid_x, grid_y, cv2.INTER_LINEAR)
            for k in range(WAYS)
        ]
    )
    cells = np.sqrt(np.clip(cells, 0, None)).ravel()
    return np.asarray(cells / max(float(np.linalg.norm(cells)), 1e-9), dtype=np.float32)
