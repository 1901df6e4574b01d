"""Slopes and albedo of many places from their light under several torches.

Light of a place that faces the camera is taken as one unit: what comes in is divided by what an
upright place would send back under each torch, so that near torches, uneven beams and exposures are
gone and one set of directions serves a small tile. Least squares (Woodham, 1980); the robust method
leaves out, place by place, the torches from which its own surface turns away, and weighs down what
the rest contradict (Cauchy's weights, with a spread of each place's own).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]


@dataclass(frozen=True)
class Found:
    """Surface of n places.

    Attributes
    ----------
    normals
        3 x n unit vectors; zero where unknown.
    albedo
        n; light of the place if it faced the torch.
    rest
        n; robust spread of what is left unexplained, as a share of the albedo.
    """

    normals: F32
    albedo: F32
    rest: F32


def least_squares(light: NDArray[np.floating], directions: NDArray[np.floating]) -> Found:
    """Lambert's law by plain least squares, in the precision of the light.

    Parameters
    ----------
    light
        Torches x places.
    directions
        Torches x 3, unit vectors times each torch's strength.
    """
    kind = light.dtype if light.dtype == np.float64 else np.float32
    solver = np.linalg.pinv(directions.astype(np.float64)).astype(kind)
    scaled = solver @ light
    albedo = np.sqrt((scaled * scaled).sum(0))
    scaled /= np.maximum(albedo, 1e-12)
    return Found(scaled, albedo, np.zeros(0, np.float32))


def robust(light: F32, directions: F32, *, dark: float | F32 = 0.0, rounds: int = 6) -> Found:
    """Lambert's law with shadows and highlights as outliers.

    Parameters
    ----------
    light
        Torches x places.
    directions
        Torches x 3, unit vectors times each torch's strength.
    dark
        Light at or below which a place is taken to be in shadow; one, or one for each torch.
    """
    torches = len(directions)
    products = _products(directions)
    weight = (light > (dark if np.isscalar(dark) else np.asarray(dark)[:, None])).astype(np.float32)
    lit = weight.copy()
    few = weight.sum(0) < 3
    weight[:, few] = 1.0
    scaled = _weighted(light, directions, products, weight)
    rest = np.zeros(light.shape[1], np.float32)
    for turn in range(rounds):
        told = directions @ scaled
        off = light - told
        size = np.sqrt((scaled * scaled).sum(0))
        weight = lit * (told > 0.01 * size)
        count = np.maximum(weight.sum(0), 1.0)
        # the spread of the better half: outliers do not widen it
        rest = np.sqrt((weight * np.minimum(off * off, 9 * rest * rest if turn else np.inf)).sum(0)
                       / count)  # fmt: skip
        scale = np.maximum(rest, 0.004 * size + 1e-9)
        weight /= 1.0 + (off / scale) ** 2
        few = (weight > 0.05).sum(0) < 3
        weight[:, few] = lit[:, few] + 0.01
        scaled = _weighted(light, directions, products, weight)
    albedo = np.sqrt((scaled * scaled).sum(0))
    normals = scaled / np.maximum(albedo, 1e-12)
    unknown = ((lit.sum(0) < 3) & (torches > 3)) | (normals[2] <= 0.05) | (albedo <= 1e-9)
    normals[:, unknown] = 0.0
    return Found(normals, albedo, rest / np.maximum(albedo, 1e-9))


_PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))


def _products(directions: F32) -> F32:
    """The six products of each direction's parts, 6 x torches."""
    return np.stack([directions[:, i] * directions[:, j] for i, j in _PAIRS])


def _weighted(light: F32, directions: F32, products: F32, weight: F32) -> F32:
    """Weighted least squares at each place, 3 x places (normal equations, Cramer's rule)."""
    a, b, c, d, e, f = products @ weight
    x, y, z = directions.T @ (weight * light)
    ridge = 1e-6 * (a + d + f) + 1e-12
    a, d, f = a + ridge, d + ridge, f + ridge
    # symmetric matrix [[a b c] [b d e] [c e f]]
    m00, m01, m02 = d * f - e * e, c * e - b * f, b * e - c * d
    m11, m12, m22 = a * f - c * c, b * c - a * e, a * d - b * b
    scale = 1.0 / (a * m00 + b * m01 + c * m02)
    return np.stack(
        [
            (m00 * x + m01 * y + m02 * z) * scale,
            (m01 * x + m11 * y + m12 * z) * scale,
            (m02 * x + m12 * y + m22 * z) * scale,
        ]
    ).astype(np.float32)
