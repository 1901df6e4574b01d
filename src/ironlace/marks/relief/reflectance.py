"""How worn metal throws light back: a matt share and a lobe, fitted from the photographs.

A place of albedo a and normal n sends a (n·l + k (n·h)^s) to the camera, l the direction to the
torch, h the one halfway between torch and camera (Blinn, 1977). Taken for matt, such a place has
its slopes too steep by about (tan z + lobe) / tan z. The light is homogeneous of the first degree
in a n, so a step of Gauss and Newton is a linear solution with directions that the lobe has bent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ironlace.marks.relief.gentle import PAIRS
from ironlace.marks.relief.stereo import F32, solved

LIT = 0.02
"""Cosine to the torch, or to what lies halfway, below which a place counts as turned away."""


@dataclass(frozen=True)
class Lobe:
    """Strength of the lobe against the matt share, and its exponent."""

    strength: float
    exponent: float


@dataclass(frozen=True)
class Samples:
    """Places for the fit, each with its own directions.

    Attributes
    ----------
    light
        Torches x n, against what an upright place sends back (1 there).
    towards, half
        3 x torches x n, unit vectors.
    dark
        Torches: light at or below which a place is taken to be in shadow.
    beside
        Torches x n: share of an upright place's light that is not the torch's.
    """

    light: F32
    towards: F32
    half: F32
    dark: F32
    beside: F32


def fitted_places(
    samples: Samples, strength: F32, exponent: F32, *, rounds: int = 5
) -> tuple[F32, F32]:
    """Surface of places under a given lobe, and what is left unexplained.

    Parameters
    ----------
    strength, exponent
        n: of each place's lobe.

    Returns
    -------
    tuple
        Scaled normals a n, 3 x n; what is left over a, torches x n, nan where a torch does not
        count.
    """
    towards, half = samples.towards, samples.half
    torch = towards[2] + strength * half[2] ** exponent
    even = samples.beside / (1 - samples.beside) * torch  # as if from straight above
    upright = torch + even
    lit = samples.light > samples.dark[:, None]
    scaled = np.zeros((3, samples.light.shape[1]), np.float32)
    scaled[2] = np.median(samples.light, axis=0)
    off = np.zeros_like(samples.light)
    weight = lit.astype(np.float32)
    for turn in range(rounds):
        size = np.sqrt((scaled * scaled).sum(0))
        unit = scaled / np.maximum(size, 1e-9)
        facing = towards[0] * unit[0] + towards[1] * unit[1] + towards[2] * unit[2]
        glance = half[0] * unit[0] + half[1] * unit[1] + half[2] * unit[2]
        glance = np.maximum(glance, 1e-3)
        power = np.exp((exponent - 1) * np.log(glance))
        on = lit & (facing > LIT)
        told = np.where(facing > 0, facing + strength * power * glance, 0) + even * unit[2]
        told /= upright
        off = samples.light / np.maximum(size, 1e-9) - told
        if turn:
            spread = np.sqrt((on * np.minimum(off * off, 0.04)).sum(0) / np.maximum(on.sum(0), 1))
            scale = np.maximum(spread, 0.01)
            weight = on / (1 + (off / scale) ** 2)
        else:
            weight = on.astype(np.float32)
        gloss = strength * exponent * power / upright
        along = strength * (1 - exponent) * power * glance / upright
        bent = [towards[k] / upright + gloss * half[k] + along * unit[k] for k in range(3)]
        bent[2] += even / upright
        weighed = [weight * one for one in bent]
        sums = [(weighed[i] * bent[j]).sum(0) for i, j in PAIRS]
        for k in (0, 3, 5):
            sums[k] = sums[k] + np.float32(1e-5)
        right = np.stack([(one * samples.light).sum(0) for one in weighed])
        scaled = solved(np.stack(sums), right)
        scaled[2] = np.maximum(scaled[2], 1e-3)
    return scaled, np.where(on, off, np.nan)


def cost_of(off: F32, spread: float) -> F32:
    """Robust cost of each place: Cauchy's, mean over the torches that count."""
    seen = np.isfinite(off)
    cost = np.where(seen, np.log1p((np.where(seen, off, 0) / spread) ** 2), 0).sum(0)
    return np.asarray(cost / np.maximum(seen.sum(0), 1))


@dataclass(frozen=True)
class FittedLobe:
    """A plate's lobe, and by how much slopes would be too steep without it.

    Attributes
    ----------
    lobe
        The one that leaves least unexplained.
    gain, low, high
        Slopes read as matt against slopes read with the lobe; the interval spans the lobes that
        explain the photographs nearly as well.
    """

    lobe: Lobe
    gain: float
    low: float
    high: float


STRENGTHS = (0.0, 0.15, 0.3, 0.6, 1.0, 1.6, 2.5, 4.0)
"""Lobes tried at first; between them a parabola serves."""
EXPONENTS = (5.0, 9.0, 15.0, 25.0, 45.0)
"""The same of the exponent."""
NEARLY = 0.012
"""Share by which the cost of a lobe may lie above the least for its slopes to count as possible.

Set so that the interval held the true gain on plates made for tuning; noise alone would allow far
less, but no metal follows the formula exactly.
"""
AT_LEAST = 0.04
"""Share by which a gain is doubted even where one lobe alone serves."""
EQUALLY = 0.004
"""Share by which a cost may lie above the least to be as good; of such a weak lobe is taken."""
SPREAD = 0.03
"""Share of the albedo within which the formula is taken to hold."""


def fitted_lobe(samples: Samples) -> FittedLobe:
    """Fit one lobe to places of a plate."""
    count = samples.light.shape[1]
    one = np.ones(count, np.float32)
    costs: dict[tuple[float, float], float] = {}
    slopes: dict[tuple[float, float], F32] = {}

    def tried(strength: float, exponent: float) -> float:
        key = (round(strength, 4), round(exponent, 3))
        if key not in costs:
            scaled, off = fitted_places(
                samples, np.float32(strength) * one, np.float32(exponent) * one, rounds=4
            )
            costs[key] = float(cost_of(off, SPREAD).mean())
            slopes[key] = scaled[:2] / scaled[2]
        return costs[key]

    plain = tried(0.0, 10.0)
    for strength in STRENGTHS[1:]:
        for exponent in EXPONENTS:
            tried(strength, exponent)
    best = min(costs, key=costs.__getitem__)
    step = 1.35
    for _ in range(3):  # finer about the best
        strength, exponent = best
        if strength == 0.0:
            break
        for a, b in ((step, 1.0), (1 / step, 1.0), (1.0, step), (1.0, 1 / step)):
            tried(strength * a, min(max(exponent * b, EXPONENTS[0]), 90.0))
        best = min(costs, key=costs.__getitem__)
        step = step**0.5
    matt = slopes[0.0, 10.0]
    weight = np.abs(matt).max(0) < 0.35

    def steeper(key: tuple[float, float]) -> float:
        # gentle both ways: a place that few torches lit may come out as a cliff
        gentle = weight & (np.abs(slopes[key]).max(0) < 0.5)
        told = slopes[key][:, gentle]
        return float((told * matt[:, gentle]).sum() / max(float((told * told).sum()), 1e-9))

    possible = [steeper(key) for key, cost in costs.items() if cost <= costs[best] * (1 + NEARLY)]
    least = costs[best]
    if plain <= least * (1 + EQUALLY):
        best = (0.0, 10.0)  # matt, as far as can be told
    else:
        equal = [key for key, cost in costs.items() if cost <= least * (1 + EQUALLY)]
        best = sorted(equal, key=steeper)[len(equal) // 4]  # of equals one of the weaker
    return FittedLobe(
        Lobe(*best), steeper(best), min(possible) * (1 - AT_LEAST), max(possible) * (1 + AT_LEAST)
    )
