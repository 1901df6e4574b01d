"""A photograph laid out flat: every pixel has its place in surface millimetres.

`Flat` is what all later steps work on, whatever the shape it was unrolled from. Light is linear and
kept in 16 bits; what varies slowly (resolution, direction of view, the paper's white) is kept on a
coarse grid.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

UNSEEN_FRAME: Final = 1
"""Outside the photograph, turned away from the camera, or too coarse to say anything."""
UNSEEN_STRIP: Final = 2
"""Under the scale strip's paper."""
UNSEEN_GLARE: Final = 4
"""Burnt out: all three channels at their end."""

COARSE_STEP: Final = 32
"""Pixels of the flat to one cell of its coarse grids."""


@dataclass(frozen=True)
class Flat:
    """An unrolled photograph.

    Attributes
    ----------
    light
        Linear light, uint16, shape (height, width, 3); 65535 is white.
    px_per_mm
        Pixels of the flat to one surface millimetre.
    origin_mm
        Surface place of the outer upper left corner of pixel (0, 0).
    hidden
        0 where the surface is seen, else a sum of ``UNSEEN_...``; uint8, shape (height, width).
    resolution
        Photograph pixels per mm in the coarser direction, on the coarse grid (float32).
    facing
        Cosine between the surface's normal and the line of sight, on the coarse grid (float32).
    white
        Linear RGB of white paper lying there, on the coarse grid, shape (..., 3) (float32).
    """

    light: NDArray[np.uint16]
    px_per_mm: float
    origin_mm: tuple[float, float]
    hidden: NDArray[np.uint8]
    resolution: NDArray[np.float32]
    facing: NDArray[np.float32]
    white: NDArray[np.float32]

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return self.light.shape[0], self.light.shape[1]

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of the flat in surface mm."""
        h, w = self.shape
        x, y = self.origin_mm
        return x, y, x + w / self.px_per_mm, y + h / self.px_per_mm

    def to_mm(self, px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Surface mm of pixel places (whole numbers are pixel centres), shape (..., 2)."""
        mm = (np.asarray(px) + 0.5) / self.px_per_mm + np.asarray(self.origin_mm)
        return np.asarray(mm, dtype=np.float64)

    def to_px(self, mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Pixel places of surface mm, the inverse of `to_mm`."""
        px = (np.asarray(mm) - np.asarray(self.origin_mm)) * self.px_per_mm - 0.5
        return np.asarray(px, dtype=np.float64)

    def spread(self, coarse: NDArray[np.float32], height: int, width: int) -> NDArray[np.float32]:
        """A coarse grid of this flat drawn out to ``height`` x ``width`` over all of it."""
        return spread_grid(coarse, self.shape, height, width)

    def to_arrays(self) -> dict[str, NDArray[Any]]:
        """Everything as named arrays, for a checkpoint."""
        return {
            "light": self.light,
            "px_per_mm": np.array(self.px_per_mm),
            "origin_mm": np.array(self.origin_mm),
            "hidden": self.hidden,
            "resolution": self.resolution,
            "facing": self.facing,
            "white": self.white,
        }

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, NDArray[Any]]) -> Flat:
        """The inverse of `to_arrays`."""
        x, y = (float(v) for v in arrays["origin_mm"])
        return cls(
            light=np.asarray(arrays["light"], dtype=np.uint16),
            px_per_mm=float(arrays["px_per_mm"]),
            origin_mm=(x, y),
            hidden=np.asarray(arrays["hidden"], dtype=np.uint8),
            resolution=np.asarray(arrays["resolution"], dtype=np.float32),
            facing=np.asarray(arrays["facing"], dtype=np.float32),
            white=np.asarray(arrays["white"], dtype=np.float32),
        )


def coarse_places(height: int, width: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Pixel places (columns, rows) of the coarse grid's nodes; they cover the flat with a rim."""
    columns = np.arange(-1, width // COARSE_STEP + 3) * COARSE_STEP
    rows = np.arange(-1, height // COARSE_STEP + 3) * COARSE_STEP
    return columns.astype(np.float64), rows.astype(np.float64)


def spread_grid(
    coarse: NDArray[np.float32], shape: tuple[int, int], height: int, width: int
) -> NDArray[np.float32]:
    """Values of a coarse grid (nodes as in `coarse_places`) on any even sampling of the flat."""
    fx, fy = shape[1] / width, shape[0] / height
    u = ((np.arange(width) + 0.5) * fx - 0.5) / COARSE_STEP + 1.0
    v = ((np.arange(height) + 0.5) * fy - 0.5) / COARSE_STEP + 1.0
    mu = np.broadcast_to(u.astype(np.float32), (height, width))
    mv = np.broadcast_to(v.astype(np.float32)[:, None], (height, width))
    return np.asarray(
        cv2.remap(
            coarse,
            np.ascontiguousarray(mu),
            np.ascontiguousarray(mv),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        ),
        dtype=np.float32,
    )
