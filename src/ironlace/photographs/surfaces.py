"""Shapes an ornament lies on, and how each unrolls to a plane without stretch.

A surface maps unrolled millimetres (x right, y down) to space. Its frame touches the unrolled
plane at the reference point: there space x and y run as on the sheet and z points into the work,
away from the viewer. Cylinder and cone are developable, so lengths along the sheet are lengths on
the work (do Carmo 1976, "Differential geometry of curves and surfaces", 3-5).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
SurfaceKind = Literal["plane", "cylinder", "cone"]
SURFACE_WORDS: Final[dict[SurfaceKind, str]] = {
    "plane": "flat, such as a bed or a slide plate",
    "cylinder": "round and even, such as a pillar",
    "cone": "round and tapering, such as an arm",
}
"""What has each shape, to choose by."""


class Surface(Protocol):
    """What flattening needs to know of a shape."""

    @property
    def kind(self) -> SurfaceKind:
        """Its name."""

    def to_space(self, xy: Points) -> Points:
        """Space points (..., 3) of unrolled points (..., 2)."""

    def normals(self, xy: Points) -> Points:
        """Outward unit normals (..., 3), towards the viewer at the reference point."""

    def covers(self, xy: Points) -> NDArray[np.bool_]:
        """Whether unrolled points lie on it: a sheet cannot go round more than once."""

    def numbers(self) -> dict[str, float]:
        """Its measures, for reports: mm and degrees."""


@dataclass(frozen=True)
class Plane:
    """A flat surface."""

    @property
    def kind(self) -> SurfaceKind:
        """``"plane"``."""
        return "plane"

    def to_space(self, xy: Points) -> Points:
        """Unrolled points with z = 0."""
        return np.concatenate([xy, np.zeros_like(xy[..., :1])], axis=-1)

    def normals(self, xy: Points) -> Points:
        """(0, 0, -1) everywhere."""
        return np.broadcast_to(np.array([0.0, 0.0, -1.0]), (*xy.shape[:-1], 3)).copy()

    def covers(self, xy: Points) -> NDArray[np.bool_]:
        """Everywhere."""
        return np.ones(xy.shape[:-1], dtype=np.bool_)

    def numbers(self) -> dict[str, float]:
        """Nothing: a plane has no measure."""
        return {}


@dataclass(frozen=True)
class Round:
    """A cylinder (``taper`` 0) or cone.

    Attributes
    ----------
    reference_mm
        The unrolled point where the sheet touches the frame's plane z = 0.
    radius_mm
        Radius square to the axis at the reference point.
    axis_rad
        Direction of the axis in the unrolled plane at the reference point, from x towards y.
    taper
        Sine of the cone's half angle; positive where the radius grows along the axis.
    """

    reference_mm: tuple[float, float]
    radius_mm: float
    axis_rad: float
    taper: float = 0.0

    @property
    def kind(self) -> SurfaceKind:
        """``"cylinder"`` or ``"cone"``."""
        return "cone" if self.taper != 0.0 else "cylinder"

    def _polar(self, xy: Points) -> tuple[Points, Points, Points]:
        """Angle around the axis, radius there, and height along the axis.

        Written so that the taper may go through zero: the cone's apex then lies at infinity.
        """
        rel = xy - np.asarray(self.reference_mm)
        c, s = math.cos(self.axis_rad), math.sin(self.axis_rad)
        along = rel[..., 0] * c + rel[..., 1] * s
        across = -rel[..., 0] * s + rel[..., 1] * c
        q, r0 = self.taper, self.radius_mm
        near = r0 + q * along
        radius = np.sqrt(near**2 + (q * across) ** 2)
        angle = across / near if abs(q) < 1e-9 else np.arctan2(q * across, near) / q
        height = (2.0 * along * r0 + q * (along**2 + across**2)) / (radius + r0)
        return angle, radius, height * math.sqrt(1.0 - q * q)

    def axes(self) -> tuple[Points, Points, Points]:
        """Axis direction, direction across, and outward radial direction at the reference point."""
        c, s = math.cos(self.axis_rad), math.sin(self.axis_rad)
        q = self.taper
        cos_half = math.sqrt(1.0 - q * q)
        generator = np.array([c, s, 0.0])
        towards = np.array([0.0, 0.0, -1.0])
        axis = cos_half * generator - q * towards
        outward = cos_half * towards + q * generator
        return axis, np.array([-s, c, 0.0]), outward

    def to_space(self, xy: Points) -> Points:
        """Roll the sheet up again."""
        angle, radius, height = self._polar(xy)
        axis, across, outward = self.axes()
        origin = np.array([*self.reference_mm, 0.0]) - self.radius_mm * outward
        return (
            origin
            + height[..., None] * axis
            + (radius * np.cos(angle))[..., None] * outward
            + (radius * np.sin(angle))[..., None] * across
        )

    def normals(self, xy: Points) -> Points:
        """Outward normals: radial, leaning towards the narrow end on a cone."""
        angle, _, _ = self._polar(xy)
        axis, across, outward = self.axes()
        radial = np.cos(angle)[..., None] * outward + np.sin(angle)[..., None] * across
        return math.sqrt(1.0 - self.taper**2) * radial - self.taper * axis

    def covers(self, xy: Points) -> NDArray[np.bool_]:
        """Up to half way round to either side, and short of a cone's apex."""
        along = (xy - np.asarray(self.reference_mm)) @ (
            math.cos(self.axis_rad),
            math.sin(self.axis_rad),
        )
        angle, _, _ = self._polar(xy)
        on_it = (np.abs(angle) < math.pi) & (self.radius_mm + self.taper * along > 0.0)
        return np.asarray(on_it, dtype=np.bool_)

    def numbers(self) -> dict[str, float]:
        """Radius, axis direction, and half angle for a cone."""
        found = {"radius_mm": self.radius_mm, "axis_deg": math.degrees(self.axis_rad)}
        if self.taper != 0.0:
            found["half_angle_deg"] = math.degrees(math.asin(self.taper))
        return found
