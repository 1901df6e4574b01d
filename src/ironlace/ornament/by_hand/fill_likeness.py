"""Where a place to be filled finds its like: across a mirror axis, or at a repeat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.ornament.errors import ReworkError
from ironlace.ornament.outline.drawing import ClosedPath

MIRROR: Final = "mirror"
REPEAT: Final = "repeat"


@dataclass(frozen=True)
class FillLikeness:
    """Where a place finds its like: ``x -> linear @ x + shift``, mm."""

    linear: Floats
    shift: Floats

    @classmethod
    def across(cls, at: tuple[float, float], direction: float) -> FillLikeness:
        """The mirror image across a line through ``at`` running in ``direction`` (radians)."""
        c, s = np.cos(2 * direction), np.sin(2 * direction)
        linear = np.array([[c, s], [s, -c]])
        point = np.asarray(at, np.float64)
        return cls(linear, point - linear @ point)

    @classmethod
    def along(cls, way: tuple[float, float]) -> FillLikeness:
        """The repeat that lies ``way`` mm on."""
        return cls(np.eye(2), np.asarray(way, np.float64))

    @property
    def name(self) -> str:
        """What stretches taken from there give as their source."""
        return MIRROR if float(np.linalg.det(self.linear)) < 0 else REPEAT

    def apply(self, points: Floats) -> Floats:
        """Places (..., 2) moved."""
        return np.asarray(points @ self.linear.T + self.shift, np.float64)

    @property
    def back(self) -> FillLikeness:
        """The way back."""
        inverse = np.asarray(np.linalg.inv(self.linear), np.float64)
        return FillLikeness(inverse, -inverse @ self.shift)


def likeness_of(told: Mapping[str, Any]) -> FillLikeness:
    """A likeness from plain figures: ``{"at": [x, y], "direction_deg": d}`` or ``{"way": [x, y]}``.

    Raises
    ------
    ReworkError
        If neither is there.
    """
    try:
        if "way" in told:
            x, y = (float(v) for v in told["way"])
            return FillLikeness.along((x, y))
        x, y = (float(v) for v in told["at"])
        return FillLikeness.across((x, y), float(np.radians(float(told["direction_deg"]))))
    except (KeyError, TypeError, ValueError) as error:
        raise ReworkError(
            "Say where the like is: an axis with a place and a direction, or a way to go."
        ) from error


def moved_path(path: ClosedPath, by: FillLikeness) -> ClosedPath:
    """A path carried to its like, with its evidence."""
    return ClosedPath(by.apply(path.curves), path.grades, path.sources, path.layer)
