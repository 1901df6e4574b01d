"""A film positive: a one-bit PNG, written strip by strip so that no page is ever whole in memory.

PNG is told by ISO/IEC 15948 (W3C Recommendation, 2003); the strips go through one zlib stream.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ironlace.ornament.stencils.errors import StencilError
from ironlace.ornament.stencils.planning.raster_proof import filled
from ironlace.ornament.stencils.planning.runs import Raster

if TYPE_CHECKING:
    from ironlace.ornament.stencils.sheets import Sheet

STRIP_ROWS: Final = 256
"""Rows drawn at a time: a strip 60,000 dots wide then takes 15 MB."""

_MOST_SIDE: Final = 120_000
"""Dots along a side at most: 1.27 m at 2400 dpi, wider than films are (common practice)."""

_SHIFT: Final = 4
"""Lines are drawn to a sixteenth of a dot: so many binary places the drawing routine is given."""


def film_png(
    sheet: Sheet, dpi: int = 1200, *, progress: Callable[[float], None] | None = None
) -> Iterator[bytes]:
    """Parts of a PNG file, one after another.

    Openings are black on clear (white), with register holes and the sheet's edge as thin lines.

    Raises
    ------
    StencilError
        If the resolution is not between 300 and 4800 dpi or the picture would be too large.
    """
    return _chunks(sheet, dpi, film_size(sheet, dpi), progress)


def film_size(sheet: Sheet, dpi: int) -> tuple[int, int]:
    """Width and height of a film in pixels.

    Raises
    ------
    StencilError
        If the resolution is not between 300 and 4800 dpi or the picture would be too large.
    """
    if not 300 <= dpi <= 4800:
        raise StencilError(f"{dpi} dpi is no resolution for film: give 300 to 4800.")
    left, top, right, bottom = sheet.edge.bounds
    scale = dpi / 25.4
    width, height = int(np.ceil((right - left) * scale)), int(np.ceil((bottom - top) * scale))
    if max(width, height) > _MOST_SIDE:
        raise StencilError(
            f"The film would be {width} by {height} pixels: take a lower resolution, or tile it."
        )
    return width, height


def _chunks(
    sheet: Sheet, dpi: int, size: tuple[int, int], progress: Callable[[float], None] | None
) -> Iterator[bytes]:
    width, height = size
    yield b"\x89PNG\r\n\x1a\n"
    yield _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0))
    per_metre = round(dpi / 0.0254)
    yield _chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1))
    packer = zlib.compressobj(6)
    for first, rows in film_strips(sheet, dpi, size):
        plain = np.packbits(rows, axis=1)
        raw = np.concatenate([np.zeros((len(plain), 1), np.uint8), plain], axis=1)
        data = packer.compress(raw.tobytes())
        if data:
            yield _chunk(b"IDAT", data)
        if progress is not None:
            progress((first + len(rows)) / height)
    yield _chunk(b"IDAT", packer.flush())
    yield _chunk(b"IEND", b"")


def film_strips(
    sheet: Sheet, dpi: int, size: tuple[int, int]
) -> Iterator[tuple[int, NDArray[np.bool_]]]:
    """First row and pixels (True is clear) of every strip, top down.

    A dot is black where its middle lies in an opening: as many stand out over an edge as stay
    short of it, so that areas come out without bias.
    """
    import cv2

    left, top, _, _ = sheet.edge.bounds
    scale = dpi / 25.4
    width, height = size
    rings = [
        shapely.get_coordinates(ring)[:-1]
        for p in sheet.openings.geoms
        for ring in (p.exterior, *p.interiors)
    ]
    tops = np.array([ring[:, 1].min() for ring in rings])
    bottoms = np.array([ring[:, 1].max() for ring in rings])
    whole = 2**_SHIFT

    def fixed(points: NDArray[np.float64], first: int) -> NDArray[np.int32]:
        # a pixel's middle has whole coordinates in this drawing routine
        xy = (points - (left, top)) * scale - 0.5
        xy[:, 1] -= first
        return np.rint(xy * whole).astype(np.int32)

    for first in range(0, height, STRIP_ROWS):
        count = min(STRIP_ROWS, height - first)
        low, high = top + first / scale, top + (first + count) / scale
        here = [rings[n] for n in np.flatnonzero((bottoms >= low) & (tops <= high))]
        black = filled(here, Raster(left, low, scale, count, width))
        strip = np.where(black, np.uint8(0), np.uint8(255))
        for x, y in sheet.register_mm:
            at = fixed(np.array([[x, y]]), first)[0]
            radius = round(sheet.register_hole_mm / 2 * scale * whole)
            cv2.circle(strip, (int(at[0]), int(at[1])), radius, 0, 2, cv2.LINE_8, _SHIFT)
        edge = fixed(shapely.get_coordinates(sheet.edge.exterior), first)
        cv2.polylines(strip, [edge], True, 0, 2, cv2.LINE_8, _SHIFT)
        yield first, strip > 127


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
