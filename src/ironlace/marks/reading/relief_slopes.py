"""The relief as slopes, and a place of it on the reading grid."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.numeral_styles import TALL
from ironlace.marks.reading.strikes import PATCH, Slopes

_STEEPEST = 4.0
"""Steepest slope kept (76 degrees): beyond it a normal from photographs says nothing."""


@dataclass(frozen=True, slots=True)
class ReliefSlopes:
    """Slopes of the height on the picture's grid.

    Attributes
    ----------
    slopes
        Along x and y (down), mm per mm, shape (2, rows, columns); 0 where unknown.
    mm_per_px
        Scale of the grid.
    along
        The one direction (x, y down, unit length) along which slopes are known, as from a single
        photograph; None where both are.
    """

    slopes: Slopes
    mm_per_px: float
    along: tuple[float, float] | None = None

    def patch(
        self,
        x_px: float,
        y_px: float,
        per_px: float,
        shape: tuple[int, int] = PATCH,
    ) -> Slopes:
        """Slopes about a place on a grid of `per_px` picture pixels a step, centre in the middle.

        The slopes keep their size; what lies outside the picture is 0.
        """
        soft = 0.4 * per_px if per_px > 1.2 else 0.0
        half = (np.array(shape[::-1]) - 1) / 2
        reach = int(max(half) * per_px + 3 * soft + 3)
        x0, y0 = round(x_px) - reach, round(y_px) - reach
        cut = _cut(self.slopes, x0, y0, 2 * reach + 1)
        if soft:
            cut = np.stack([cv2.GaussianBlur(plane, (0, 0), soft) for plane in cut])
        grid_x, grid_y = np.meshgrid(
            (np.arange(shape[1]) - half[0]) * per_px + x_px - x0,
            (np.arange(shape[0]) - half[1]) * per_px + y_px - y0,
        )
        return np.stack(
            [
                cv2.remap(p, grid_x.astype(np.float32), grid_y.astype(np.float32), cv2.INTER_LINEAR)
                for p in cut
            ]
        ).astype(np.float32)

    def place(self, x_px: float, y_px: float, height_px: float, scale: float = 1.0) -> Slopes:
        """A figure's place on the reading grid; `scale` above 1 shows it smaller."""
        return self.patch(x_px, y_px, height_px / TALL * scale)


def slopes_from_normals(normals: NDArray[np.float32], mm_per_px: float) -> ReliefSlopes:
    """Slopes out of normals (X right, Y up, Z to the camera; zero where unknown)."""
    up = np.where(normals[..., 2] > 0.05, normals[..., 2], 1.0)
    x, y = -normals[..., 0] / up, normals[..., 1] / up
    size = np.hypot(x, y)
    held = np.where(size > _STEEPEST, _STEEPEST / np.maximum(size, 1e-9), 1.0)
    return ReliefSlopes(np.stack([x * held, y * held]).astype(np.float32), mm_per_px)


def slopes_from_photograph(
    light: NDArray[np.float32], azimuth_deg: float, elevation_deg: float, mm_per_px: float
) -> ReliefSlopes:
    """Slopes towards the light from one raking photograph, the metal taken for matt and even.

    Parameters
    ----------
    light
        Linear light of the photograph, shape (rows, columns).
    azimuth_deg
        Of the torch, from X (right) towards Y (up).
    elevation_deg
        Above the plate.

    What is darker than its surroundings turns away from the light, by Lambert's law; slopes across
    the light are not seen at all. Albedo, highlights and shadows pass for slopes.
    """
    azimuth, high = np.radians(azimuth_deg), np.radians(elevation_deg)
    towards = (float(np.cos(azimuth)), float(-np.sin(azimuth)))  # y down
    around = cv2.GaussianBlur(light, (0, 0), 1.0 / mm_per_px) + 1e-4
    slope = np.clip((1 - light / around) * np.tan(high), -1.0, 1.0)
    both = np.stack([slope * towards[0], slope * towards[1]]).astype(np.float32)
    return ReliefSlopes(both, mm_per_px, towards)


def seen_along(slopes: Slopes, along: tuple[float, float] | None) -> Slopes:
    """Slopes as they are seen along one direction; as they are where that is None."""
    if along is None:
        return slopes
    part = slopes[0] * along[0] + slopes[1] * along[1]
    return np.stack([part * along[0], part * along[1]]).astype(np.float32)


def _cut(slopes: Slopes, x0: int, y0: int, side: int) -> Slopes:
    """A square of the picture, zeros where it reaches beyond."""
    out = np.zeros((2, side, side), np.float32)
    rows, cols = slopes.shape[1:]
    top, bottom = max(y0, 0), min(y0 + side, rows)
    left, right = max(x0, 0), min(x0 + side, cols)
    if top < bottom and left < right:
        out[:, top - y0 : bottom - y0, left - x0 : right - x0] = slopes[:, top:bottom, left:right]
    return out


def grain_of(relief: ReliefSlopes, per_px: float) -> float:
    """Median size of a slope on the reading grid: the plate's grain, and the relief's noise."""
    soft = max(0.4 * per_px, 0.3)
    step = max(1, round(per_px))
    x, y = (cv2.GaussianBlur(plane, (0, 0), soft)[::step, ::step] for plane in relief.slopes)
    size = np.hypot(x, y)
    return max(float(np.median(size[size > 0])) if (size > 0).any() else 0.0, 1e-4)
