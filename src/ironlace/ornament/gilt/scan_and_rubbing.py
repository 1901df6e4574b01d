"""A scan or a rubbing at a known resolution: flat already, its scale known.

A flatbed scan of a loose part shows gilt on japan like a photograph. A rubbing (graphite or
heelball on thin paper) or an inked tracing shows the ornament dark on light, or light on dark where
paint stands proud; what is read of it is the mark, whatever its colour.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.ornament.errors import GiltError, OrnamentError
from ironlace.ornament.gilt.gilt_map import GiltMap
from ironlace.photographs.flat_picture import Flat, coarse_places
from ironlace.photographs.linear_light import LUMINANCE, to_linear16

F32 = NDArray[np.float32]

DPI: Final = (50.0, 9600.0)
"""Least and most dots to the inch: below, no ornament can be read; no flatbed resolves more."""
_FINEST: Final = 24.0
"""Pixels to the mm of the flat at most, as for photographs: outlines gain nothing from more."""
_PATCH_MM: Final = 12.0
"""Over so much paper and mark are told apart afresh: a hand rubs unevenly over a few
centimetres."""
_LEAST_CONTRAST: Final = 0.12
"""Share of the paper's light by which a mark must be darker (or lighter) than it."""


def flat_from_scan(image: NDArray[np.uint8], dpi: float, *, px_per_mm: float | None = None) -> Flat:
    """A flat from a scan.

    Parameters
    ----------
    image
        The scan, HxWx3 uint8 sRGB.
    dpi
        Its resolution, dots to the inch; the scan's own corner becomes (0, 0) mm.
    px_per_mm
        Resolution of the flat; the scan's, at most 24, when left out.

    Raises
    ------
    OrnamentError
        If the resolution is not usable.
    """
    if not DPI[0] <= dpi <= DPI[1]:
        raise OrnamentError(
            f"{dpi:g} dpi is no resolution of a scan: give {DPI[0]:g} to {DPI[1]:g}."
        )
    own = dpi / 25.4
    scale = px_per_mm or min(own, _FINEST)
    light = to_linear16(image)
    height, width = light.shape[:2]
    if scale != own:
        size = (max(8, round(width * scale / own)), max(8, round(height * scale / own)))
        how = cv2.INTER_AREA if scale < own else cv2.INTER_CUBIC
        light = np.asarray(cv2.resize(light, size, interpolation=how), np.uint16)
        scale = own * size[0] / width
    h, w = light.shape[:2]
    columns, rows = coarse_places(h, w)
    coarse = (len(rows), len(columns))
    return Flat(
        light=light,
        px_per_mm=scale,
        origin_mm=(0.0, 0.0),
        hidden=np.zeros((h, w), np.uint8),
        resolution=np.full(coarse, own, np.float32),
        facing=np.ones(coarse, np.float32),
        white=np.ones((*coarse, 3), np.float32),
    )


def find_marks(flat: Flat) -> GiltMap:
    """Coverage of what is marked on a rubbing or tracing, dark on light or light on dark.

    Paper and mark are told apart afresh every 12 mm (Otsu 1979 on the spot's own light), because a
    rubbing is never rubbed evenly.

    Raises
    ------
    GiltError
        If nothing stands out from the paper.
    """
    grey = (flat.light.astype(np.float32) @ LUMINANCE) / 65535.0
    calm = cv2.GaussianBlur(grey, (0, 0), max(0.6, 0.05 * flat.px_per_mm))
    step = max(1.0, flat.px_per_mm / 4.0)
    h, w = grey.shape
    size = (max(4, round(w / step)), max(4, round(h / step)))
    small = np.asarray(cv2.resize(calm, size, interpolation=cv2.INTER_AREA), np.float32)
    high, low = float(np.percentile(small, 97)), float(np.percentile(small, 3))
    middle = _threshold(small)
    if high - low < _LEAST_CONTRAST * high:
        raise GiltError("Nothing is marked on this sheet: scan it darker, or rub it again.")
    # the paper is what there is more of
    dark = float(np.mean(small < middle)) <= 0.5
    levels = _levels(small, middle, dark, flat.px_per_mm / step)
    paper, mark = (
        np.asarray(cv2.resize(level, (w, h), interpolation=cv2.INTER_LINEAR), np.float32)
        for level in levels
    )
    fine = cv2.GaussianBlur(grey, (0, 0), 0.6)
    gap = np.where(np.abs(paper - mark) < 1e-3, 1e-3, paper - mark)
    share = np.clip((paper - fine) / gap, 0.0, 1.0)
    # in a spot without any mark both levels are paper, and its grain is no mark
    plain = np.abs(paper - mark) < 0.5 * _LEAST_CONTRAST * high
    share[plain] = 0.0
    certainty = np.clip(0.5 + np.abs(cv2.resize(share, size) - 0.5), 0.76, 1.0)
    ink = tuple(float(np.median(mark)) for _ in range(3))
    bare = tuple(float(np.median(paper)) for _ in range(3))
    return GiltMap(
        coverage=np.round(share * 255.0).astype(np.uint8),
        certainty=certainty.astype(np.float32),
        px_per_mm=flat.px_per_mm,
        origin_mm=flat.origin_mm,
        hidden=flat.hidden,
        gilt_colour=(ink[0], ink[1], ink[2]),
        ground_colour=(bare[0], bare[1], bare[2]),
        noise=0.02,
        resolution=flat.resolution,
    )


def _threshold(values: NDArray[np.generic]) -> float:
    from skimage.filters import threshold_otsu

    return float(threshold_otsu(np.asarray(values, np.float32)))  # type: ignore[no-untyped-call]


def _levels(small: F32, middle: float, dark: bool, scale: float) -> tuple[F32, F32]:
    """Light of the paper and of the mark around each place, from what is surely either."""
    is_mark = small < middle if dark else small > middle
    kernel = np.ones((3, 3), np.uint8)
    core = cv2.erode(is_mark.astype(np.uint8), kernel) > 0
    bare = cv2.erode((~is_mark).astype(np.uint8), kernel) > 0
    fields = []
    for where, other in ((bare, ~is_mark), (core, is_mark)):
        mask = where if where.any() else other
        weight = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), _PATCH_MM / 2 * scale)
        level = cv2.GaussianBlur(small * mask, (0, 0), _PATCH_MM / 2 * scale)
        usual = float(np.median(small[mask])) if mask.any() else middle
        fields.append(np.asarray((level + 1e-3 * usual) / (weight + 1e-3), np.float32))
    return fields[0], fields[1]
