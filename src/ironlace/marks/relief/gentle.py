"""Steps of places that lean so little that no torch turns away from them: most of a plate.

What such a place sends back, and how that answers to its normal, are smooth in the two slopes, so a
polynomial of each torch serves all of a tile: one product of matrices in place of a logarithm and
an exponential for every torch at every place. The polynomials are fitted to the metal's own formula
over as much of the slopes as they hold to within `TRUE`; steeper places go by the formula itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from ironlace.marks.relief.stereo import BentLight

F32 = NDArray[np.float32]

REACHES = (0.3, 0.24, 0.18, 0.12)
"""Sines of lean, the widest first, up to which the polynomials are tried (judged by speed: over 0.3
hardly a place of a plate is left, under 0.12 too few lean so little)."""
TRUE = 0.003
"""Of an upright place's light: by how much a polynomial may miss the formula, a grey level or so;
what metal does off the formula is ten times as much."""
AWAY = 0.03
"""Least matt light of an upright place's, over the whole reach, for no torch to be turned away
from."""
DEGREE = 4
"""Of the polynomials of the light; those of its answer have degree 1, for they only steer."""
PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))
"""The six parts of a symmetric matrix, in their order."""


@dataclass(frozen=True)
class GentleLight:
    """Torches over a tile as polynomials in the slopes of a place.

    Attributes
    ----------
    reach
        Sine of lean up to which they hold.
    told
        Torches x 15: light of a place of albedo 1, on `powers`.
    answers
        9 x torches: the answer's three parts, then what each gains with u, then with v.
    products
        19 x torches: the answer's six products, in the same way; and ones.
    """

    reach: float
    told: F32
    answers: F32
    products: F32


def gentle_light(torches: BentLight) -> GentleLight | None:
    """Polynomials of a tile's torches; None where they hold over too few slopes to be of use."""
    disc = _disc()
    upright, aside = torches.matt[:, 2], np.hypot(torches.matt[:, 0], torches.matt[:, 1])
    for reach in REACHES:
        least = upright * np.sqrt(1 - reach**2) - reach * aside
        if least.min() < AWAY:
            continue
        unit = np.vstack([reach * disc, np.sqrt(1 - reach**2 * (disc**2).sum(0))])
        facing = torches.matt @ unit
        glance = torches.half @ unit
        power = np.maximum(glance, 1e-3) ** (torches.exponent - 1)
        light = facing + torches.sheen[:, None] * power * glance
        told = light @ _solver(DEGREE)
        if np.abs(told @ powers(*disc) - light).max() > TRUE:
            continue
        along = torches.own[:, None] * power * glance
        answer = (
            torches.matt.T[:, :, None]
            + torches.gloss.T[:, :, None] * power
            + along * unit[:, None, :]
        )
        products = np.stack([answer[i] * answer[j] for i, j in PAIRS])
        ones = np.ones((1, len(told)), np.float32)
        return GentleLight(
            reach,
            told.astype(np.float32),
            _steering(answer),
            np.vstack([_steering(products), ones]),
        )
    return None


def _steering(parts: NDArray[np.floating]) -> F32:
    """Polynomials of degree 1 of parts x torches x places of the disc; 3 parts x torches."""
    fitted = parts @ _solver(1)
    return np.ascontiguousarray(
        np.moveaxis(fitted, 2, 0).reshape(-1, parts.shape[1]), dtype=np.float32
    )


@cache
def _disc() -> NDArray[np.float64]:
    """Places of the unit disc, 2 x n, as dense towards its rim as polynomials need them."""
    radii = np.sin(np.pi / 2 * (np.arange(4) + 0.5) / 3.5)
    turns = 2 * np.pi * (np.arange(12)[:, None] + 0.5 * np.arange(4)) / 12
    return np.stack([(radii * np.cos(turns)).ravel(), (radii * np.sin(turns)).ravel()])


@cache
def _solver(degree: int) -> NDArray[np.float64]:
    """Least squares on the disc's places: what is told there, times this, are coefficients."""
    return np.linalg.pinv(powers(*_disc())[: (degree + 1) * (degree + 2) // 2])


def powers(u: NDArray[np.floating], v: NDArray[np.floating]) -> NDArray[np.floating]:
    """1, u, v, u², uv, v², u³ and so on up to the fourth degree, 15 x places."""
    out = np.empty(((DEGREE + 1) * (DEGREE + 2) // 2, len(u)), u.dtype)
    out[0] = 1
    raise_powers(out, u, v)
    return out


def raise_powers(
    out: NDArray[np.floating], u: NDArray[np.floating], v: NDArray[np.floating]
) -> None:
    """Fill what follows on the first row, which is a factor of all."""
    start = 0
    for degree in range(DEGREE):
        end = start + degree + 1
        np.multiply(out[start], u, out=out[end])
        np.multiply(out[start:end], v, out=out[end + 1 : end + 1 + degree + 1])
        start = end
