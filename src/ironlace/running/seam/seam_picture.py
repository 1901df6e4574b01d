"""The picture of a seam with its scale, and the working copy that everything is measured on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.running.errors import RunningError

WORKING_PX_PER_MM: Final = 24.0
"""A sewing thread of 0.25 mm is then six pixels wide; what is finer is averaged down to it."""
LEAST_PX_PER_MM: Final = 8.0
"""Below about 200 dots to the inch a needle hole is one pixel and nothing is told apart."""
LEAST_MM: Final = 8.0
"""Shortest side along which a seam can be followed: a few stitches. A judgement."""
MOST_MM: Final = 320.0
"""Longest side that is taken: an A4 page. A larger one is cut to the seam first."""


@dataclass(frozen=True)
class SeamPicture:
    """A picture of a seam laid flat.

    Attributes
    ----------
    pixels
        sRGB, uint8, shape (height, width, 3).
    px_per_mm
        Pixels to one millimetre of cloth, alike in both directions.
    origin_mm
        Place of the outer upper left corner of pixel (0, 0).
    hidden
        True where no cloth is seen (paper, outside of the photograph); shape (height, width), or
        None where all of it is cloth.
    blocks_mm
        Side of the blocks in which the picture was roughly stored; 0 where none are seen.
    """

    pixels: NDArray[np.uint8]
    px_per_mm: float
    origin_mm: tuple[float, float] = (0.0, 0.0)
    hidden: NDArray[np.bool_] | None = None
    blocks_mm: float = 0.0


@dataclass(frozen=True)
class Working:
    """The copy that is measured on.

    Attributes
    ----------
    lab
        Lightness 0 to 100 and the two colour axes (CIE 1976 L*a*b*), float32, shape (h, w, 3).
    px_per_mm
        Its scale.
    origin_mm
        Place of the outer upper left corner of pixel (0, 0).
    hidden
        As in `SeamPicture`, or None.
    blocks_mm
        As in `SeamPicture`.
    """

    lab: NDArray[np.float32]
    px_per_mm: float
    origin_mm: tuple[float, float]
    hidden: NDArray[np.bool_] | None
    blocks_mm: float

    def to_mm(self, px: Floats) -> Floats:
        """Places in mm of pixel places, shape (..., 2); whole numbers are pixel centres."""
        return np.asarray((px + 0.5) / self.px_per_mm + np.asarray(self.origin_mm), np.float64)


def working_copy(picture: SeamPicture) -> Working:
    """Lightness and colour of a picture at no more than `WORKING_PX_PER_MM`.

    Raises
    ------
    RunningError
        If the scale is no number, too coarse for stitches, or the picture too small or too large.
    """
    scale, pixels = picture.px_per_mm, picture.pixels
    if not (math.isfinite(scale) and scale >= LEAST_PX_PER_MM):
        raise RunningError(
            f"The picture has {scale * 25.4:.0f} dots to the inch of cloth; at least "
            f"{LEAST_PX_PER_MM * 25.4:.0f} are needed to see needle holes, 600 are better."
        )
    height, width = pixels.shape[0] / scale, pixels.shape[1] / scale
    if max(height, width) < LEAST_MM or min(height, width) < 2.0:
        raise RunningError(
            f"The picture shows {width:.3g} by {height:.3g} mm at this scale; at least "
            f"{LEAST_MM:.0f} mm of seam with 1 mm of cloth on both sides are needed."
        )
    if max(height, width) > MOST_MM:
        raise RunningError(
            f"The picture shows {width:.0f} by {height:.0f} mm at this scale; cut it to the seam, "
            f"at most {MOST_MM:.0f} mm, or check the scale."
        )
    shrink = min(1.0, WORKING_PX_PER_MM / scale)
    hidden = picture.hidden
    if shrink < 0.9:
        size = (max(1, round(pixels.shape[1] * shrink)), max(1, round(pixels.shape[0] * shrink)))
        used = scale * size[0] / pixels.shape[1]
        pixels = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
        if hidden is not None:
            small = cv2.resize(hidden.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
            hidden = np.asarray(small) > 0
    else:
        used = scale
    lab = cv2.cvtColor(pixels.astype(np.float32) / np.float32(255.0), cv2.COLOR_RGB2LAB)
    lab32 = np.asarray(lab, np.float32)
    return Working(lab32, used, picture.origin_mm, hidden, picture.blocks_mm)
