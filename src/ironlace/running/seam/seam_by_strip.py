"""A photograph of a seam with the scale strip beside it, laid flat.

Reading the strip and laying flat are the photographs room's; here is only where the cloth lies.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bounds
from ironlace.photographs import (
    Placing,
    StripLayout,
    StripNotFoundError,
    StripSighting,
    find_strip,
    flatten,
    place_surface,
)
from ironlace.photographs.linear_light import to_srgb8
from ironlace.running.errors import RunningError
from ironlace.running.seam.seam_measured import Scale
from ironlace.running.seam.seam_picture import WORKING_PX_PER_MM, SeamPicture
from ironlace.running.seam.stored_blocks import blocks_px

MARGIN_SHARE: Final = 0.35
"""White paper around a marker, as a share of its side; the printed pieces have a third."""
LEAST_WINDOW_MM: Final = 8.0
"""A frame whose window is smaller than this shows no seam to measure."""
BLURRED_MM: Final = 0.12
"""Blur of the strip's printed edges (standard deviation) from which a needle hole is washed out."""
LIES_OFF_MM: Final = 0.3
"""How far the cloth may lie under or over the strip's paper (standard deviation): the paper's own
thickness, wrinkles and the dip of the holes. Path-traced holes lay 0.2 to 0.8 mm beneath it."""


def seam_by_strip(
    image: NDArray[np.uint8], layout: StripLayout, focal_35mm: float | None = None
) -> tuple[SeamPicture, Scale, tuple[str, ...]]:
    """Lay a photograph flat by its strip.

    Parameters
    ----------
    image
        Photograph, sRGB, shape (height, width, 3).
    layout
        Where the strip's markers lie.
    focal_35mm
        Focal length for 35 mm film by Exif, a better start.

    Returns
    -------
    The flat picture of the cloth, its scale, and reasons why it cannot be relied on.

    Raises
    ------
    RunningError
        If the picture is mirrored.
    PhotographsError
        If the strip is not found or does not fit the photograph.
    """
    try:
        sighting = find_strip(image, layout)
    except StripNotFoundError:
        if _seen_mirrored(image, layout):
            raise RunningError(
                "The photograph is mirrored: its strip can be read only the other way round. Take "
                "the picture as the camera made it."
            ) from None
        raise
    placing = place_surface(image, sighting, layout, kind="plane", focal_35mm=focal_35mm)
    window = _window(layout)
    flat = flatten(
        image,
        placing,
        window or layout,
        px_per_mm=WORKING_PX_PER_MM,
        bounds_mm=window or _around(layout),
    )
    picture = SeamPicture(
        to_srgb8(flat.light),
        flat.px_per_mm,
        flat.origin_mm,
        None if window else flat.hidden > 0,
        blocks_px(image) / _px_per_mm(sighting, layout),
    )
    why: tuple[str, ...] = ()
    blur = placing.evidence.blur_mm
    if np.isfinite(blur) and blur > BLURRED_MM:
        why = (
            f"The photograph is out of focus: the strip's edges are blurred by {blur:.2f} mm, and "
            f"a needle hole is washed out from {BLURRED_MM:g} mm on.",
        )
    return picture, _scale(placing, layout), why


def _scale(placing: Placing, layout: StripLayout) -> Scale:
    """How surely the strip tells the scale, from where, and how sharp it is."""
    off = max(float(np.nan_to_num(placing.evidence.left_out_mm)), placing.residual_mm)
    x, y, z = (float(v) for v in -placing.rotation.T @ placing.translation)
    share = math.hypot(max(0.001, 1.4 * off / _long_mm(layout)), LIES_OFF_MM / abs(z))
    return Scale("strip", share, (x, y, abs(z)), float(placing.evidence.blur_mm))


def _long_mm(layout: StripLayout) -> float:
    left, top, right, bottom = layout.bounds_mm
    return max(right - left, bottom - top)


def _px_per_mm(sighting: StripSighting, layout: StripLayout) -> float:
    """The photograph's scale at the strip, by the sides of its markers."""
    px = sighting.corners_px
    mm = layout.corners_mm[sighting.indices]
    sides = [np.linalg.norm(np.roll(c, 1, axis=1) - c, axis=2) for c in (px, mm)]
    return float(np.median(sides[0] / sides[1]))


def _seen_mirrored(image: NDArray[np.uint8], layout: StripLayout) -> bool:
    try:
        find_strip(np.ascontiguousarray(image[:, ::-1]), layout)
    except StripNotFoundError:
        return False
    return True


def _window(layout: StripLayout) -> Bounds | None:
    """The inside of a frame of markers, without the paper's rim; None where they are no frame."""
    corners = layout.corners_mm
    side = float(np.median([marker.side_mm for marker in layout.markers]))
    margin = MARGIN_SHARE * side
    low, high = corners.min(axis=1), corners.max(axis=1)
    left, top = high.min(axis=0) + margin
    right, bottom = low.max(axis=0) - margin
    centres = corners.mean(axis=1)
    inside = (centres > (left, top)).all(axis=1) & (centres < (right, bottom)).all(axis=1)
    if inside.any() or right - left < LEAST_WINDOW_MM or bottom - top < LEAST_WINDOW_MM / 2.0:
        return None
    # an L of markers has an inside too, but nothing on its other two sides
    for axis, edge in ((0, right), (1, bottom)):
        beyond = centres[:, axis] > edge
        if beyond.sum() < 2:
            return None
    return float(left), float(top), float(right), float(bottom)


def _around(layout: StripLayout) -> Bounds:
    """The strip's bounds and half as much again to every side."""
    left, top, right, bottom = layout.bounds_mm
    reach = 0.25 * _long_mm(layout)
    return left - reach, top - reach, right + reach, bottom + reach
