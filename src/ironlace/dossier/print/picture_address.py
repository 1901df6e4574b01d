"""A photograph within an SVG: a small copy as a ``data:`` address (RFC 2397)."""

import io
from base64 import b64encode

import numpy as np
from numpy.typing import NDArray
from PIL import Image

_EDGE_PX = 1800
"""Longer edge of the copy: 250 dots to the inch over the width of A4."""

_QUALITY = 84
"""Of JPEG: beyond it files grow and nothing is seen to gain; common practice, no source."""


def picture_address(shown: NDArray[np.uint8]) -> str:
    """A photograph, shape (rows, columns, 3), as the address of a JPEG within a file.

    >>> picture_address(np.zeros((40, 60, 3), np.uint8))[:28]
    'data:image/jpeg;base64,/9j/4'
    """
    copy = Image.fromarray(shown)
    copy.thumbnail((_EDGE_PX, _EDGE_PX), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    copy.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return "data:image/jpeg;base64," + b64encode(out.getvalue()).decode("ascii")
