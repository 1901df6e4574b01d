"""How a punch looks in the metal: the depth it leaves, what wear leaves of that, and its slopes.

All on the reading grid: figures `TALL` pixels high, slopes without unit (mm down per mm), x right,
y down. A slope is that of the height: inside the left flank of a stroke it falls to the right.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Ink = NDArray[np.float32]
Slopes = NDArray[np.float32]

PATCH = (60, 48)
"""Rows and columns of a place on the reading grid: a figure of 48 with room for 0.3 mm about it."""


@dataclass(frozen=True, slots=True)
class Blow:
    """How a punch was struck and worn, lengths in pixels of the reading grid.

    Attributes
    ----------
    deep
        Depth as struck.
    flank
        How far from the outline the full depth is reached.
    wear
        Share of the depth that is gone, 0 to 1.
    planed
        Whether the ground around was taken down (the bottom alone is left) or all shrank.
    blur
        Standard width of the softening, by wear and by the camera.
    askew
        By which share of the depth a punch held askew goes deeper at the right, and at the foot.
    rounded
        Whether flanks run out into the bottom rather than meet it at an edge.
    """

    deep: float
    flank: float
    wear: float
    planed: bool
    blur: float
    askew: tuple[float, float] = (0.0, 0.0)
    rounded: bool = False


def depth_left(ink: Ink, blow: Blow) -> NDArray[np.float32]:
    """Depth that a blow leaves of a figure's ink, shape of the ink."""
    large = cv2.resize(ink, None, fx=2, fy=2, interpolation=cv2.INTER_LINEAR)
    inside = cv2.distanceTransform((large > 0.5).astype(np.uint8), cv2.DIST_L2, 5) / 2
    along = inside / max(blow.flank, 0.3)
    depth = 1 - np.exp(-along) if blow.rounded else np.minimum(along, 1.0)
    if any(blow.askew):
        ys, xs = np.mgrid[-1 : 1 : depth.shape[0] * 1j, -1 : 1 : depth.shape[1] * 1j]
        depth = depth * np.clip(1 + blow.askew[0] * xs + blow.askew[1] * ys, 0, None)
    depth = np.clip(depth / max(float(depth.max()), 1e-6), 0, 1)
    left = np.maximum(depth - blow.wear, 0) if blow.planed else (1 - blow.wear) * depth
    left = cv2.GaussianBlur(left.astype(np.float32), (0, 0), max(2 * blow.blur, 0.4))
    small = cv2.resize(left, (ink.shape[1], ink.shape[0]), interpolation=cv2.INTER_AREA)
    return (small * blow.deep).astype(np.float32)


def placed(
    depth: NDArray[np.float32],
    shift: tuple[float, float] = (0.0, 0.0),
    turn: float = 0.0,
    scale: float = 1.0,
    shape: tuple[int, int] = PATCH,
) -> NDArray[np.float32]:
    """A depth laid into the middle of a patch; shift x, y in pixels, turn in radians."""
    c, s = np.cos(turn) * scale, np.sin(turn) * scale
    mx, my = (depth.shape[1] - 1) / 2, (depth.shape[0] - 1) / 2
    tx = (shape[1] - 1) / 2 + shift[0] - c * mx + s * my
    ty = (shape[0] - 1) / 2 + shift[1] - s * mx - c * my
    move = np.array([[c, -s, tx], [s, c, ty]], np.float32)
    laid = cv2.warpAffine(depth, move, (shape[1], shape[0]), flags=cv2.INTER_LINEAR)
    return np.asarray(laid, dtype=np.float32)


def slopes_of(depth: NDArray[np.float32]) -> Slopes:
    """Slopes of the height over a depth: shape (2, rows, columns), first along x."""
    down, right = np.gradient(-depth)
    return np.stack([right, down]).astype(np.float32)
