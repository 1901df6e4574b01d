"""The mirror axis of a drawing, looked for on what it fills.

A drawing may have come without one: traced without its mirror, edited elsewhere, read from a file.
The search is that of the tracer (`laying_over.find_mirror`), on the drawing's areas as a picture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.ornament.gather.laying_over import find_mirror
from ironlace.ornament.outline.drawing import Drawing

_PX_PER_MM: Final = 8.0
"""Of the picture: outlines are read from it every 0.2 mm, to a tenth of a pixel."""
_MOST_PX: Final = 4000
"""Longest side of the picture. A bound on time; half a metre of ornament at the scale above."""
_POLYGON_MM: Final = 0.02
"""How closely polygons follow the curves; a sixth of a pixel."""
_FINER: Final = 4
"""Places looked up in a pixel along each side, so that its shade says how full it is."""


@dataclass(frozen=True)
class FoundAxis:
    """A mirror axis and how the drawing lies to itself across it.

    Attributes
    ----------
    at_mm
        The place on it nearest the middle of the drawing.
    direction_deg
        Its direction, over -90 up to 90, x towards y (which runs down).
    matched
        Share of the outline that finds its like within a third of a millimetre.
    residual_mm
        Half of that lies no farther off than this.
    """

    at_mm: tuple[float, float]
    direction_deg: float
    matched: float
    residual_mm: float

    def as_dict(self) -> dict[str, Any]:  # dict: plain JSON for the page
        """The axis as a likeness in an order, with how well it holds."""
        return {
            "at": [round(v, 4) for v in self.at_mm],
            "direction_deg": round(self.direction_deg, 4),
            "matched": round(self.matched, 4),
            "residual_mm": round(self.residual_mm, 4),
        }


def find_axis(drawing: Drawing) -> FoundAxis | None:
    """The mirror axis of a drawing, None if it has none that is more than chance."""
    left, top, right, bottom = drawing.bounds_mm
    scale = min(_PX_PER_MM, _MOST_PX / max(right - left, bottom - top))
    picture = _painted(drawing, scale)
    laying = find_mirror(picture, scale, (left, top))
    if laying is None:
        return None
    (x, y), angle = laying.axis
    way = np.array([math.cos(angle), math.sin(angle)])
    foot = np.array([x, y])
    middle = np.array([(left + right) / 2.0, (top + bottom) / 2.0])
    at = foot + way * float((middle - foot) @ way)
    degrees = -((90.0 - math.degrees(angle)) % 180.0 - 90.0)
    return FoundAxis((float(at[0]), float(at[1])), degrees, laying.matched, laying.residual_mm)


def _painted(drawing: Drawing, px_per_mm: float) -> NDArray[np.uint8]:
    """What the drawing fills, all colours as one, 0 to 255."""
    left, top, right, bottom = drawing.bounds_mm
    size = (
        max(8, round((right - left) * px_per_mm)),
        max(8, round((bottom - top) * px_per_mm)),
    )
    fine = np.zeros((size[1] * _FINER, size[0] * _FINER), np.uint8)
    for layer in drawing.layers:
        rings = [p.polygon(_POLYGON_MM) for p in drawing.paths if p.layer == layer]
        corners = [
            np.round((r - (left, top)) * px_per_mm * _FINER - 0.5).astype(np.int32)
            for r in rings
            if len(r) >= 3
        ]
        one = np.zeros_like(fine)
        cv2.fillPoly(one, corners, 255)  # several rings at once are filled even-odd
        fine |= one
    return np.asarray(cv2.resize(fine, size, interpolation=cv2.INTER_AREA), np.uint8)
