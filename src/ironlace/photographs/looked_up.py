"""A picture's values at many places between its pixels, however many these are.

OpenCV takes no table of places with more than 32,766 rows or columns, and a ring of an outline has
more than that on a large work: what looks a picture up does so here.
"""

from __future__ import annotations

from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

_COLUMNS: Final = 512
"""Places in a row of the table that OpenCV is given."""

_ROWS: Final = 16_384
"""Rows of such a table at most: half of what OpenCV counts, 8 million places."""


def looked_up(
    picture: NDArray[Any],
    places_px: NDArray[np.floating[Any]],
    how: int = cv2.INTER_LINEAR,
    beyond: int = cv2.BORDER_REPLICATE,
) -> NDArray[Any]:
    """What a picture shows at places between its pixels.

    Parameters
    ----------
    picture
        Of one channel, (h, w), or several, (h, w, c), up to 32,766 pixels high and wide.
    places_px
        Columns and rows, (..., 2); (0, 0) is the middle of the first pixel.
    how
        OpenCV's number for how pixels are weighed.
    beyond
        And for what lies beyond the picture's rim: as at the rim, if nothing else is said.

    Returns
    -------
    values
        (...) or (..., c), of the picture's own type.

    >>> looked_up(np.array([[0.0, 4.0]], np.float32), np.array([[0.25, 0.0], [9.0, 0.0]])).tolist()
    [1.0, 4.0]
    """
    at = np.asarray(places_px, np.float32).reshape(-1, 2)
    channels = picture.shape[2:]
    out = np.empty((len(at), *channels), picture.dtype)
    for begin in range(0, len(at), _ROWS * _COLUMNS):
        some = at[begin : begin + _ROWS * _COLUMNS]
        wide = min(_COLUMNS, len(some))
        rows = -(-len(some) // wide)
        flat = np.zeros((rows * wide, 2), np.float32)
        flat[: len(some)] = some
        table = flat.reshape(rows, wide, 2)
        seen = cv2.remap(picture, table[..., 0], table[..., 1], how, borderMode=beyond)
        out[begin : begin + len(some)] = seen.reshape(-1, *channels)[: len(some)]
    return out.reshape(*np.shape(places_px)[:-1], *channels)
