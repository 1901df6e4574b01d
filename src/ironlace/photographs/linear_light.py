"""Between the numbers in a photograph and the light that made them.

Edges lie where half the light is, not where half the number is: in sRGB numbers a marker's corner
moves by about half a pixel and gold lines grow wider. Everything that measures therefore works in
linear light (transfer function of IEC 61966-2-1, sRGB).
"""

from __future__ import annotations

from typing import Any, Final, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

_Width = TypeVar("_Width", bound="np.floating[Any]")

LUMINANCE: Final = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
"""Weights of linear red, green and blue in luminance (IEC 61966-2-1)."""


def decode(values: NDArray[np.floating]) -> NDArray[np.float64]:
    """Linear light 0..1 of sRGB values 0..1."""
    v = np.asarray(values, dtype=np.float64)
    return np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0.0) + 0.055) / 1.055) ** 2.4)


def encode(light: NDArray[np.floating]) -> NDArray[np.float64]:
    """SRGB values 0..1 of linear light 0..1 (clipped)."""
    x = np.clip(np.asarray(light, dtype=np.float64), 0.0, 1.0)
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-12) ** (1 / 2.4) - 0.055)


_TABLE: Final = decode(np.arange(256) / 255.0)
_TABLE16: Final = np.round(_TABLE * 65535.0).astype(np.uint16)
_TABLE32: Final = _TABLE.astype(np.float32)
_BACK: Final = np.round(encode(np.arange(65536) / 65535.0) * 255.0).astype(np.uint8)


def to_linear16(
    image: NDArray[np.uint8], out: NDArray[np.uint16] | None = None
) -> NDArray[np.uint16]:
    """8-bit sRGB to 16-bit linear light (65535 is white), any shape up to four channels.

    ``out`` of the same shape is filled where it is given.
    """
    made = cv2.LUT(np.ascontiguousarray(image), _TABLE16, dst=out)
    return np.asarray(made, dtype=np.uint16).reshape(image.shape)


def to_linear(image: NDArray[np.uint8]) -> NDArray[np.float32]:
    """8-bit sRGB to float32 linear light 0..1."""
    return np.take(_TABLE32, image)


def to_srgb8(light: NDArray[np.uint16]) -> NDArray[np.uint8]:
    """16-bit linear light to 8-bit sRGB, for looking at."""
    return np.take(_BACK, light)


def summed(light: NDArray[_Width]) -> NDArray[_Width]:
    """Red, green and blue of a picture (h, w, 3) added up, (h, w).

    As `light.sum(axis=2)` to the last bit: numpy sums a last side of three twelve times as slowly.
    """
    total: NDArray[_Width] = (light[..., 0] + light[..., 1]) + light[..., 2]
    return total
