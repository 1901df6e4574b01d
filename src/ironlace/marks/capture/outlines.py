"""Where the outline of a ball lies in a photograph, to a small part of a pixel.

A profile across the outline is told apart as a smooth plate outside and a limb inside, with a step
between them that the camera has blurred. The limb of a polished ball falls off as the square root
of the distance from its edge; where the steepest place is taken for the edge instead, the radius
comes out too small. The step's place is the one that leaves least unexplained (variable
projection: Golub and Pereyra, 1973).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ironlace.marks.capture.middles import middle

REACH = 7.0
"""Pixels of a profile to each side of the outline."""
STEP = 0.25
"""Pixels between its samples."""
SEARCH = 2.0
"""Pixels to each side in which the step is sought."""

MOST_RAYS = 32
"""Profiles in a sector, one to each pixel of the outline up to a radius of 244 px: more tell the
place of a larger ball's no better than it is known (0.02 px)."""

SMALL_PX = 26.0
"""Pixels of radius below which profiles are so much shorter: else they reach to a ball's middle.
Tuned at 20 px on two generators' plates: more loses balls, less takes shadows' rims for them."""

BLURS = (0.35, 0.45, 0.55, 0.65, 0.75, 0.87, 1.0, 1.25, 1.6, 2.0)
"""Pixels: blurs that are told apart."""


@dataclass(frozen=True)
class Circle:
    """A ball's outline in pixels: its centre (x, y) and its radius."""

    x: float
    y: float
    r: float


@dataclass(frozen=True)
class Outline:
    """Places of the outline found in sectors round a circle.

    Attributes
    ----------
    angles
        Of the sectors' middles, radians from x towards y.
    offsets
        Pixels from the circle outwards to the step.
    weights
        One over the variance, relative; zero where there was no step to be seen.
    unexplained
        Sum of squares that no step explains, to compare blurs by.
    """

    angles: NDArray[np.float64]
    offsets: NDArray[np.float64]
    weights: NDArray[np.float64]
    unexplained: float


def outline_of(
    picture: NDArray[np.generic], circle: Circle, *, sectors: int = 48, blur_px: float = 0.8
) -> Outline:
    """Find the outline of a ball near a circle."""
    # a small ball is looked at through a glass, as it were; in tenths, so that bases serve again
    unit = max(min(1.0, round(circle.r / SMALL_PX, 1)), 0.2)
    profiles = _profiles(picture, circle, sectors, unit)
    offsets = _offsets()
    bases, plain = _bases(round(blur_px / unit, 2))
    total = (profiles**2).sum(1)
    smooth = total - ((profiles @ plain) ** 2).sum(1)
    parts = (profiles @ bases) ** 2  # the parts of each basis beside one another
    told = parts.reshape(len(profiles), len(offsets), -1).sum(2)
    left = np.maximum(total[:, None] - told, 1e-12)
    best = np.clip(left.argmin(1), 1, len(offsets) - 2)
    row = np.arange(len(profiles))
    low, mid, high = left[row, best - 1], left[row, best], left[row, best + 1]
    curve = np.maximum(low - 2 * mid + high, 1e-15)
    place = offsets[best] + np.clip(0.5 * (low - high) / curve, -1, 1) * (offsets[1] - offsets[0])
    place = place * unit
    at_the_end = (left.argmin(1) == 0) | (left.argmin(1) == len(offsets) - 1)
    # variance of the place: noise over the curvature of what is left unexplained
    noise = np.maximum(mid / profiles.shape[1], 1e-7)
    weights = curve / noise
    weights[at_the_end | (smooth < 1.3 * mid)] = 0.0
    angles = (np.arange(sectors) + 0.5) * 2 * np.pi / sectors
    return Outline(angles, place, weights, float(mid[weights > 0].sum()))


def fitted(
    outline: Outline, circle: Circle, *, with_radius: bool = True, rounds: int = 12
) -> tuple[Circle, float, float]:
    """Circle through an outline, doubtful places weighted down (Huber, 1964).

    Returns
    -------
    tuple
        The circle; the rms of the places about it in pixels; the share of its round that was seen.
    """
    cos, sin = np.cos(outline.angles), np.sin(outline.angles)
    columns = [cos, sin, np.ones_like(cos)] if with_radius else [cos, sin]
    design = np.stack(columns, 1)
    seen = outline.weights > 0
    if seen.sum() < 8:
        return circle, float("inf"), float(seen.mean())
    # no sector may count more than a few others: the sharpest are those with a bright rim
    base = np.minimum(outline.weights, 4 * middle(outline.weights[seen]))
    weights = base.copy()
    spread = np.inf
    solved = np.zeros(design.shape[1])
    one = np.eye(design.shape[1])
    for _ in range(rounds):
        heavy = design * weights[:, None]
        # held by next to nothing: weights in one sector alone tell no circle
        square = heavy.T @ design + 1e-9 * weights.sum() * one
        solved = np.linalg.solve(square, heavy.T @ outline.offsets)
        far = np.abs(outline.offsets - design @ solved)
        spread = max(1.4826 * middle(far[seen]), 0.01)
        weights = base * np.minimum(1.0, 1.5 * spread / np.maximum(far, 1e-9))
        weights[far > 4 * spread] = 0.0
    grown = float(solved[2]) if with_radius else 0.0
    near = seen & (np.abs(outline.offsets - design @ solved) < max(3 * spread, 0.3))
    moved = Circle(circle.x + float(solved[0]), circle.y + float(solved[1]), circle.r + grown)
    return moved, spread, float(near.mean())


def refined(
    picture: NDArray[np.generic], circle: Circle, *, blur_px: float = 0.8, rounds: int = 4
) -> tuple[Circle, float, float]:
    """Fit a ball's outline from a circle near it; as `fitted`.

    Parameters
    ----------
    picture
        In linear light: an outline lies where half the light is.
    """
    spread = seen = 0.0
    for _ in range(rounds):
        outline = outline_of(picture, circle, blur_px=blur_px)
        moved, spread, seen = fitted(outline, circle)
        step = max(abs(moved.x - circle.x), abs(moved.y - circle.y), abs(moved.r - circle.r))
        circle = moved
        if step < 0.005:
            break
    return circle, spread, seen


def blur_of(picture: NDArray[np.generic], circle: Circle) -> float:
    """By how much the camera blurred a ball's outline, standard deviation in pixels.

    Between those of BLURS, where a parabola through what they leave unexplained is lowest.
    """
    left = [outline_of(picture, circle, blur_px=blur).unexplained for blur in BLURS]
    n = int(np.clip(np.argmin(left), 1, len(BLURS) - 2))
    near = slice(n - 1, n + 2)
    bend, slope, _ = np.polyfit(BLURS[near], left[near], 2)
    if bend <= 0:
        return BLURS[int(np.argmin(left))]
    return float(np.clip(-slope / (2 * bend), BLURS[0], BLURS[-1]))


def _offsets() -> NDArray[np.float64]:
    return np.arange(-SEARCH, SEARCH + 1e-9, 0.1)


def _samples() -> NDArray[np.float64]:
    return np.arange(-REACH, REACH + 1e-9, STEP)


def _profiles(
    picture: NDArray[np.generic], circle: Circle, sectors: int, unit: float
) -> NDArray[np.float64]:
    """Mean profile across the outline in each sector, inside first; sectors x samples."""
    rays = min(max(int(2 * np.pi * circle.r / sectors), 4), MOST_RAYS)
    angle = (np.arange(sectors * rays) + 0.5) * 2 * np.pi / (sectors * rays)
    radius = circle.r + unit * _samples()
    left = int(np.floor(circle.x - circle.r - REACH)) - 3
    top = int(np.floor(circle.y - circle.r - REACH)) - 3
    size = int(2 * (circle.r + REACH)) + 8
    rows, columns = picture.shape
    x0, y0 = max(left, 0), max(top, 0)
    window = picture[y0 : min(top + size, rows), x0 : min(left + size, columns)]
    u = circle.x - x0 + np.cos(angle)[:, None] * radius
    v = circle.y - y0 + np.sin(angle)[:, None] * radius
    sampled = cv2.remap(
        np.ascontiguousarray(window, dtype=np.float32),
        u.astype(np.float32),
        v.astype(np.float32),
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    ).reshape(sectors, rays, -1)
    return np.asarray(sampled.mean(1), dtype=np.float64)


@lru_cache(maxsize=128)
def _bases(blur_px: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Orthonormal bases of what a profile may be: for each place of the step, and without one.

    The former beside one another, samples x (5 for each place).
    """
    finer = 5
    fine = np.arange(-REACH - 4, REACH + 4 + 1e-9, STEP / finer)
    taken = np.searchsorted(fine, _samples() - 1e-6)
    sigma = blur_px / (STEP / finer)
    found = []
    for place in _offsets():
        inside = np.clip(place - fine, 0, None)
        step = np.clip((place - fine) / (STEP / finer) + 0.5, 0, 1)
        parts = [np.ones_like(fine), np.clip(fine - place, 0, None), step, np.sqrt(inside), inside]
        found.append(parts)
    blurred = gaussian_filter1d(np.array(found), sigma, mode="nearest")[..., taken]
    bases = np.linalg.qr(blurred.transpose(0, 2, 1))[0]
    x = _samples() / REACH
    plain = np.linalg.qr(np.stack([x**k for k in range(4)], 1))[0]
    return np.hstack(list(bases)), plain
