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

AGREED = np.float32(0.16)
"""Share of its albedo by which a place's light may be off the formula under every torch, to be
solved by steps shared with its neighbours."""
HOLD = np.float32(0.15)
"""Weight, in torches, of the albedo thereabouts: it decides where shadows leave little to go by."""


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


def robust(light: F32, directions: F32, *, dark: float = 0.0, rounds: int = 6) -> Found:
    """Lambert's law with shadows and highlights as outliers.

    Parameters
    ----------
    light
        Torches x places.
    directions
        Torches x 3, unit vectors times each torch's strength.
    dark
        Light at or below which a place is taken to be in shadow.
    """
    torches = len(directions)
    products = _products(directions)
    weight = (light > dark).astype(np.float32)
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


@dataclass(frozen=True)
class BentLight:
    """Torches over a tile of metal that throws back a lobe beside its matt share.

    Attributes
    ----------
    matt, gloss
        Torches x 3: directions to the torch, and halfway to the camera times the lobe's strength,
        both over what an upright place sends back.
    half
        Torches x 3 unit vectors.
    sheen
        Torches x 1: the lobe's strength over what an upright place sends back.
    upright
        Torches x 3: how the light of an upright place answers to its scaled normal.
    exponent
        Of the lobe.
    """

    matt: F32
    gloss: F32
    half: F32
    sheen: F32
    upright: F32
    exponent: float

    @staticmethod
    def over(towards: F32, strength: float, exponent: float) -> BentLight:
        """From unit directions to the torches, torches x 3, and the lobe (see `reflectance`)."""
        half = towards + np.array([0.0, 0.0, 1.0], np.float32)
        half /= np.linalg.norm(half, axis=1, keepdims=True)
        c = half[:, 2:]
        one = towards[:, 2:] + strength * c**exponent
        matt, gloss = towards / one, strength * half / one
        sheen = strength / one
        bent = matt + exponent * c ** (exponent - 1) * gloss
        bent[:, 2:] += (1 - exponent) * c**exponent * sheen
        parts = [np.asarray(x, dtype=np.float32) for x in (matt, gloss, half, sheen, bent)]
        return BentLight(parts[0], parts[1], parts[2], parts[3], parts[4], exponent)

    def told(self, unit: F32) -> tuple[F32, F32, F32]:
        """Light of places with unit normals 3 x n, their facing, and (n·h)^exponent."""
        glance = self.half @ unit
        np.maximum(glance, 1e-3, out=glance)
        np.log(glance, out=glance)
        glance *= self.exponent
        shine = np.exp(glance, out=glance)
        facing = self.matt @ unit
        told = shine * self.sheen
        told += facing
        return told, facing, shine


def robust_with_lobe(light: F32, torches: BentLight, *, dark: F32, rounds: int = 3) -> Found:
    """As `robust`, for metal that throws back a lobe beside its matt share.

    Places whose light all torches agree on are solved by steps that all places of a tile share; the
    others, in shadows or on steep flanks, each by its own.

    Parameters
    ----------
    light
        Torches x places, against what an upright place of the albedo thereabouts sends back.
    dark
        Torches: light at or below which a place is taken to be in shadow.
    """
    solver = np.linalg.pinv(torches.upright.astype(np.float64)).astype(np.float32)
    scaled = solver @ light
    for turn in range(2):
        np.maximum(scaled[2], 1e-3, out=scaled[2])
        size = np.sqrt(np.einsum("ij,ij->j", scaled, scaled))
        unit = scaled / size
        told, facing, _ = torches.told(unit)
        told *= size
        off = np.subtract(light, told, out=told)
        if turn == 0:
            scaled += solver @ off
    rest = np.sqrt(np.einsum("ij,ij->j", off, off) / len(off)) / size
    worst = np.maximum(off.max(0), -off.min(0))
    easy = (worst < AGREED * size) & (facing.min(0) > 0.05) & (light > dark[:, None]).all(0)
    scaled += solver @ off
    size = np.sqrt(np.einsum("ij,ij->j", scaled, scaled))
    normals = scaled / np.maximum(size, 1e-12)
    hard = np.flatnonzero(~easy)
    if len(hard):
        found = _each_by_itself(np.take(light, hard, axis=1), torches, dark[:, None], rounds)
        normals[:, hard], size[hard], rest[hard] = found.normals, found.albedo, found.rest
    return Found(normals, size, rest)


def _each_by_itself(light: F32, torches: BentLight, dark: F32, rounds: int) -> Found:
    """Weighted steps of Gauss and Newton, each place with weights and directions of its own."""
    matt, gloss = torches.matt, torches.gloss
    lit = light > dark
    # a first step from an upright place, with what can be neither shadow nor highlight
    first = ((light > 0.5) & (light < 2.0) & lit).astype(np.float32)
    few = first.sum(0) < 4
    if few.any():
        first[:, few] = lit[:, few]
    scaled = _weighted(light, torches.upright, _products(torches.upright), first)
    scaled[2] = np.maximum(scaled[2], 1e-3)
    size = np.sqrt((scaled * scaled).sum(0))
    rest = np.zeros(light.shape[1], np.float32)
    bright = light > 0.3
    pairs = _products(matt), _products(gloss), _mixed(matt, gloss)
    for _ in range(rounds):
        unit = scaled / size
        told, facing, shine = torches.told(unit)
        off = light / size
        off -= told
        on = facing > 0.02
        on |= bright  # what is lit has not turned away, whatever the model says
        on &= lit
        square = off * off
        rest = np.sqrt(
            (on * np.minimum(square, 0.04)).sum(0) / np.maximum(on.sum(0, dtype=np.float32), 1.0)
        )
        square *= 1.0 / np.maximum(rest, 0.01) ** 2
        square += 1.0
        weight = on / square
        few = weight.sum(0) < 1.0
        if few.any():
            weight[:, few] = lit[:, few] + np.float32(0.01)
        power = shine / np.maximum(torches.half @ unit, 1e-3)
        power *= torches.exponent  # how the lobe bends a direction towards the halfway one
        shine *= 1 - torches.exponent  # and how far along the normal itself
        shine *= torches.sheen
        scaled = _bent_solution(light, weight, power, shine, unit, (matt, gloss), pairs)
        scaled[2] = np.maximum(scaled[2], 1e-3)
        size = np.sqrt((scaled * scaled).sum(0))
    normals = scaled / np.maximum(size, 1e-12)
    unknown = (lit.sum(0) < 3) | (normals[2] <= 0.05) | (size <= 2e-3)
    normals[:, unknown] = 0.0
    return Found(normals, size, rest)


def _mixed(matt: F32, gloss: F32) -> F32:
    """The six parts of m gᵀ + g mᵀ, 6 x torches."""
    return np.stack([matt[:, i] * gloss[:, j] + matt[:, j] * gloss[:, i] for i, j in PAIRS])


def _bent_solution(
    light: F32,
    weight: F32,
    power: F32,
    shine: F32,
    unit: F32,
    directions: tuple[F32, F32],
    pairs: tuple[F32, F32, F32],
) -> F32:
    """Weighted least squares with directions m + power g + shine n, 3 x places."""
    matt, gloss = directions
    matt_pairs, gloss_pairs, mixed = pairs
    bent = weight * power
    along = weight * shine
    sums = matt_pairs @ weight + mixed @ bent
    bent_power = bent * power
    sums += gloss_pairs @ bent_power
    own = np.einsum("ij,ij->j", along, shine)
    own += HOLD
    cross = matt.T @ along + gloss.T @ (along * power)
    for row, (i, j) in enumerate(PAIRS):
        sums[row] += cross[i] * unit[j] + cross[j] * unit[i] + own * unit[i] * unit[j]
    told = weight * light
    right = matt.T @ told
    told *= power
    right += gloss.T @ told
    right += unit * (np.einsum("ij,ij->j", along, light) + HOLD)
    return solved(sums, right)


PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))
"""The six parts of a symmetric matrix, in their order."""


def _products(directions: F32) -> F32:
    """The six products of each direction's parts, 6 x torches."""
    return np.stack([directions[:, i] * directions[:, j] for i, j in PAIRS])


def _weighted(light: F32, directions: F32, products: F32, weight: F32) -> F32:
    """Weighted least squares at each place, 3 x places (normal equations, Cramer's rule)."""
    return solved(products @ weight, directions.T @ (weight * light))


FLAT = 1e-9
"""A determinant below so much of the trace's cube is noise of single precision (2^-23 times the
ridge of 1e-6 and some): the directions lie in a line, or nearly."""


def solved(sums: F32, right: F32) -> F32:
    """Solve symmetric 3 x 3 systems by Cramer's rule: six parts each, and the right sides.

    A system that its parts do not determine comes out as zeros, which no surface is.
    """
    a, b, c, d, e, f = sums
    x, y, z = right
    trace = a + d + f
    ridge = 1e-6 * trace + 1e-12
    a, d, f = a + ridge, d + ridge, f + ridge
    # symmetric matrix [[a b c] [b d e] [c e f]]
    m00, m01, m02 = d * f - e * e, c * e - b * f, b * e - c * d
    m11, m12, m22 = a * f - c * c, b * c - a * e, a * d - b * b
    determinant = a * m00 + b * m01 + c * m02
    known = determinant > FLAT * trace**3
    scale = known / np.where(known, determinant, 1.0)
    return np.stack(
        [
            (m00 * x + m01 * y + m02 * z) * scale,
            (m01 * x + m11 * y + m12 * z) * scale,
            (m02 * x + m12 * y + m22 * z) * scale,
        ]
    ).astype(np.float32)
