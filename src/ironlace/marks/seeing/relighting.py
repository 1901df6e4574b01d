"""A plate lit anew by a torch at any place, from its slopes and how its metal throws light back.

A place of albedo a and normal n sends a (n·l + k (n·h)^s) to the camera: a matt share (Lambert,
1760) and a lobe about the halfway direction h (Blinn, 1977), both fitted to the photographs when
the relief was made. Polynomials fitted to each pixel's light (Malzbender, Gelb and Wolters, 2001)
came less near to photographs left out of the fit (bench/marks_relief.py, `relighting`): they smear
what shines and what is in shadow, and cannot rake lower than the torch ever stood. Cast shadows are
not drawn.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.errors import MarksError
from ironlace.marks.relief.reflectance import Lobe
from ironlace.photographs.linear_light import to_srgb8

F32 = NDArray[np.float32]
LOWEST_DEG = 3.0
"""Elevation below which a torch grazes the plate and lights noise alone."""
EXPOSED = 0.22
"""Share of white that an upright place of middling albedo is shown at: the torch's height changes
what stands out, not how bright the whole is."""
LEAST_FACING = 0.12
"""Cosine of an upright place to the torch below which the exposure rises no further."""
_BAND = 256
"""Rows lit at once, so that a large plate takes little more memory than its picture."""
UNKNOWN = 60
"""Grey of what the relief does not know, such as under the balls."""


@dataclass(frozen=True, slots=True)
class Torch:
    """Where a torch stands, far off: azimuth from the right by way of up, elevation; degrees."""

    azimuth_deg: float
    elevation_deg: float

    def __post_init__(self) -> None:
        numbers = (self.azimuth_deg, self.elevation_deg)
        if not (np.isfinite(numbers).all() and LOWEST_DEG <= self.elevation_deg <= 90):
            raise MarksError(
                f"A torch at azimuth {self.azimuth_deg:g}, elevation {self.elevation_deg:g} "
                f"degrees cannot be shown: an elevation from {LOWEST_DEG:g} to 90 is needed."
            )

    @property
    def direction(self) -> tuple[float, float, float]:
        """Unit vector to it: X right, Y up, Z to the camera."""
        a, e = np.radians(self.azimuth_deg), np.radians(self.elevation_deg)
        return (float(np.cos(e) * np.cos(a)), float(np.cos(e) * np.sin(a)), float(np.sin(e)))


@dataclass(frozen=True)
class Surface:
    """What of a relief is shown.

    Attributes
    ----------
    normals
        Rows x columns x 3, unit; zero where unknown.
    height
        Rows x columns, mm, or pixels where there is no scale.
    albedo
        Rows x columns, 0 to 255, in proportion to light.
    lobe
        How the metal shines; strength 0 for matt.
    mm_per_px
        Scale; None where it is not known.
    """

    normals: F32
    height: F32
    albedo: NDArray[np.uint8]
    lobe: Lobe
    mm_per_px: float | None

    def middling(self) -> float:
        """Median albedo of what is known, 1 where nothing is."""
        known = self.albedo[self.normals[..., 2] > 0]
        return max(float(np.median(known)), 1.0) if known.size else 1.0


def relit(
    normals: F32, albedo: NDArray[np.uint8] | None, middling: float, lobe: Lobe, torch: Torch
) -> NDArray[np.uint8]:
    """How a plate looks under a torch.

    Parameters
    ----------
    normals
        Rows x columns x 3.
    albedo
        None for a plate of one colour: its form alone is then lit, without stains.
    middling
        Albedo that is shown at `EXPOSED`.
    torch
        Taken as far off, so that it shines alike on all of the plate.

    Returns
    -------
    NDArray
        Rows x columns, 0 to 255, on the sRGB curve.
    """
    to = np.array(torch.direction, np.float32)
    half = to + np.array([0, 0, 1], np.float32)
    half /= np.linalg.norm(half)
    upright = max(float(to[2]), LEAST_FACING) + lobe.strength * float(half[2]) ** lobe.exponent
    gain = EXPOSED / upright / (1.0 if albedo is None else middling)
    shown = np.empty(normals.shape[:2], np.uint8)
    for top in range(0, len(shown), _BAND):
        band = normals[top : top + _BAND]
        facing = band @ to
        light = np.maximum(facing, 0)
        if lobe.strength > 0:
            glance = np.maximum(band @ half, np.float32(1e-3)) ** np.float32(lobe.exponent)
            light += np.where(facing > 0, np.float32(lobe.strength) * glance, 0)
        if albedo is not None:
            light *= albedo[top : top + _BAND]
        light *= np.float32(gain)
        np.clip(light, 0, 1, out=light)
        grey = to_srgb8(np.round(light * np.float32(65535)).astype(np.uint16))
        shown[top : top + _BAND] = np.where(band[..., 2] > 0, grey, UNKNOWN)
    return shown
