"""From a picture of what is covered to a drawing: contours, curves fitted to them, uncrossed."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.ornament.errors import DrawingError
from ironlace.ornament.outline.contours import contours
from ironlace.ornament.outline.curve_fitting import fit_rings
from ironlace.ornament.outline.drawing import ClosedPath, Drawing
from ironlace.ornament.outline.uncrossing import uncrossed

_SPECK_MM2 = 0.15
"""A dot of a brush is larger: some 0.45 mm across. A judgement."""
_MOST_SPECKS = 1_500
"""Photographs of ornaments that bear the answer had some 90 outlines in all, one too dark and
grainy 4,864 (seen on invented ones)."""
_MOSTLY = 2 / 3
"""Share of all outlines that are specks before they are called grain. A judgement."""


def trace(
    coverage: NDArray[np.generic],
    px_per_mm: float,
    origin_mm: tuple[float, float],
    *,
    tolerance_mm: float = 0.04,
    least_area_mm2: float = 0.03,
    least_hole_mm2: float = 0.05,
    layer: str = "gold",
    level: float = 127.5,
    progress: Callable[[float], None] | None = None,
) -> Drawing:
    """Outlines of a coverage picture as a drawing in surface mm.

    Parameters
    ----------
    coverage
        Share covered per pixel, shape (height, width), 0..255.
    px_per_mm, origin_mm
        As in `Flat`.
    tolerance_mm
        Farthest the contour, averaged over some seven pixels to quiet the photograph's noise, may
        lie from its curve; no single point of it lies farther than two and a half times that.
    least_area_mm2, least_hole_mm2
        Smaller specks and pinholes are left out.
    level
        Value on the outline.

    Raises
    ------
    DrawingError
        If nothing is covered, or what is covered is mostly grain.
    """
    outlines = contours(
        coverage,
        level,
        least_area_px=least_area_mm2 * px_per_mm**2,
        least_hole_px=least_hole_mm2 * px_per_mm**2,
    )
    if len(outlines.starts) < 2:
        raise DrawingError("No outline was found: nothing in the picture is covered with gilt.")
    _refuse_grain(outlines.areas / px_per_mm**2)
    if progress is not None:
        progress(0.4)
    rings = fit_rings(outlines, tolerance_mm * px_per_mm)
    if progress is not None:
        progress(0.8)
    origin = np.asarray(origin_mm)
    paths = [ClosedPath.of((c + 0.5) / px_per_mm + origin, layer=layer) for c in rings]
    h, w = coverage.shape
    right, bottom = origin_mm[0] + w / px_per_mm, origin_mm[1] + h / px_per_mm
    drawing = uncrossed(Drawing(tuple(paths), (*origin_mm, right, bottom)))
    if progress is not None:
        progress(1.0)
    return drawing


def _refuse_grain(areas_mm2: Floats) -> None:
    """Refuse a picture that is covered with specks smaller than any dot of a brush."""
    specks = int(np.count_nonzero(np.abs(areas_mm2) < _SPECK_MM2))
    if specks > _MOST_SPECKS and specks > _MOSTLY * len(areas_mm2):
        raise DrawingError(
            f"{specks} specks of less than {_SPECK_MM2} mm² were found among {len(areas_mm2)} "
            "outlines: the photograph is too dark or too grainy to tell gilt from japan; expose it "
            "longer, from a stand, at the camera's lowest sensitivity."
        )
