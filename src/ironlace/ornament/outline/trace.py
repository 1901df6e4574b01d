"""From a picture of what is covered to a drawing: contours, curves fitted to them, uncrossed."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ironlace.ornament.errors import DrawingError
from ironlace.ornament.outline.contours import contours
from ironlace.ornament.outline.curve_fitting import fit_rings
from ironlace.ornament.outline.drawing import ClosedPath, Drawing
from ironlace.ornament.outline.uncrossing import uncrossed


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
        If nothing is covered.
    """
    outlines = contours(
        coverage,
        level,
        least_area_px=least_area_mm2 * px_per_mm**2,
        least_hole_px=least_hole_mm2 * px_per_mm**2,
    )
    if len(outlines.starts) < 2:
        raise DrawingError("No outline was found: nothing in the picture is covered with gilt.")
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
