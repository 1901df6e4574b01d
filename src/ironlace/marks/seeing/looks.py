"""The looks that a plate's surface can be given, each one picture that says how it was made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.marks.errors import MarksError
from ironlace.marks.relief.reflectance import Lobe
from ironlace.marks.seeing.relighting import F32, UNKNOWN, Surface, Torch, relit

Look = Literal["raking", "relief", "curvature", "depth"]
LOOKS: tuple[Look, ...] = get_args(Look)
"""In the order in which they are offered."""
LOOK_WORDS: dict[Look, str] = {
    "raking": "the metal, stains and shine",
    "relief": "the form alone, in one colour",
    "curvature": "edges and hollows",
    "depth": "depth: deeper is darker",
}
MODELS: dict[Look, str] = {
    "raking": "matt share and halfway lobe from the relief (Lambert 1760, Blinn 1977)",
    "relief": "matt share from the relief, one albedo (Lambert 1760)",
    "curvature": "mean curvature from the relief's slopes",
    "depth": "height of the relief less its broad form",
}
_MATT = Lobe(0.0, 10.0)
_EDGE_MM = 0.05
"""Curvature is smoothed over so much: a stroke's edge, not the grain (judged)."""
_FORM_MM = 1.6
"""What is broader than this is the plate's form, and no mark: two thirds of a digit (judged)."""
_EDGE_PX, _FORM_PX = 2.0, 64.0
"""The same where there is no scale."""
_ENDS = (1.0, 99.0)
"""Per cent of the plate between black and white: single pits and burrs may be cut off."""


@dataclass(frozen=True)
class Seen:
    """A picture of a surface.

    Attributes
    ----------
    grey
        Rows x columns.
    black, white
        What the ends of the grey stand for, in `unit`; None for a look by torchlight.
    unit
        Of those.
    """

    grey: NDArray[np.uint8]
    black: float | None = None
    white: float | None = None
    unit: str = ""


def seen(surface: Surface, look: Look, torch: Torch) -> Seen:
    """A plate's surface in one of its looks; curvature and depth need no torch.

    Raises MarksError when there is no such look, or nothing of the plate is known.
    """
    known = surface.normals[..., 2] > 0
    if not known.any():
        raise MarksError("Nothing of this plate's relief is known: make it anew.")
    if look == "raking":
        middling = surface.middling()
        return Seen(relit(surface.normals, surface.albedo, middling, surface.lobe, torch))
    if look == "relief":
        return Seen(relit(surface.normals, None, 1.0, _MATT, torch))
    scale = surface.mm_per_px
    if look == "curvature":
        value, unit = _curvature(surface, known), "per mm" if scale else "per px"
    elif look == "depth":
        value, unit = _above_the_form(surface, known), "mm" if scale else "px"
    else:
        raise MarksError(f"There is no look '{look}': use one of {', '.join(LOOKS)}.")
    low, high = (float(end) for end in np.percentile(value[known], _ENDS))
    if look == "curvature":  # flat metal is the middle grey
        high = max(-low, high)
        low = -high
    grey = np.clip((value - low) / max(high - low, 1e-12), 0, 1) * 255
    shown = np.asarray(np.round(grey), dtype=np.uint8)
    shown[~known] = UNKNOWN
    return Seen(shown, round(low, 5), round(high, 5), unit)


def _curvature(surface: Surface, known: NDArray[np.bool_]) -> F32:
    """Mean curvature, raised positive: minus half the divergence of the slopes."""
    normals, scale = surface.normals, surface.mm_per_px
    z = np.where(known, normals[..., 2], np.float32(1))
    # slopes of the height, to the right and up
    right, up = (cv2.GaussianBlur(-normals[..., k] / z, (0, 0), _edge(scale)) for k in (0, 1))
    value = np.gradient(right, axis=1) - np.gradient(up, axis=0)
    return np.asarray(-0.5 * value / (scale or 1.0), dtype=np.float32)


def _edge(scale: float | None) -> float:
    return max(_EDGE_MM / scale, 0.6) if scale else _EDGE_PX


def _above_the_form(surface: Surface, known: NDArray[np.bool_]) -> F32:
    """Height over a broad mean of the known height round about."""
    scale = surface.mm_per_px
    sigma = max(_FORM_MM / scale, 2.0) if scale else _FORM_PX
    step = max(int(sigma / 6), 1)  # a broad mean needs few pixels
    rows, columns = known.shape
    size = (max(columns // step, 1), max(rows // step, 1))
    held = np.where(known, surface.height, np.float32(0)).astype(np.float32)
    total, weight = (
        np.asarray(cv2.resize(one, size, interpolation=cv2.INTER_AREA), dtype=np.float32)
        for one in (held, known.astype(np.float32))
    )
    bend = _bend_of(total, weight)
    parts = (total - bend * weight, weight)
    blurred = [cv2.GaussianBlur(one, (0, 0), sigma / step) for one in parts]
    form = bend + blurred[0] / np.maximum(blurred[1], 1e-6)
    wide = cv2.resize(form, (columns, rows), interpolation=cv2.INTER_LINEAR)
    return np.asarray(surface.height - wide, dtype=np.float32)


def _bend_of(total: F32, weight: F32) -> F32:
    """The plate's lean and even bend: a broad mean alone would leave them at its edges."""
    rows, columns = total.shape
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : columns * 1j]
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], -1).reshape(-1, 6)
    by = weight.reshape(-1, 1)
    solved = np.linalg.lstsq(terms * by, total.reshape(-1), rcond=None)[0]
    return np.asarray((terms @ solved).reshape(rows, columns), dtype=np.float32)
