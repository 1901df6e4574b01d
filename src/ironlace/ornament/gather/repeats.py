"""Repeats: a border whose motif comes again at even steps, so that what one lost another kept.

The step is found by correlating the ornament with itself over all shifts (by FFT, normalised by
what overlaps) and refined like any laying of one ornament on another, with stretch: hand-laid
transfers do not repeat to a tenth of a millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.ornament.gather.laying_over import Edges, Laying, edges_of, laying_from

LEAST_STEP_MM: Final = 5.0
"""A nearer likeness is that of one stroke with the next, not of a motif. A judgement, no source."""
LEAST_LIKENESS: Final = 0.45
"""Correlation at the step, of the overlapping parts, from which a repeat is believed."""
SMALLEST_OVERLAP: Final = 0.3
"""Share of the ornament that must overlap itself at the step."""
MOST_STEPS: Final = 3
"""So many motifs on to each side a like is taken from; farther off, errors of the step add up."""
_PX_PER_MM: Final = 2.0
"""Resolution of the correlation: a step is made exact afterwards, by laying one motif on the
next."""
_AIR_MM: Final = np.array([-1.5, 1.5])
"""By so much the part that repeats reaches beyond its outermost gilt, before and behind, so that
outlines are in it."""


@dataclass(frozen=True, eq=False)
class Repeat:
    """An ornament's repeat.

    Attributes
    ----------
    step_mm
        From one motif to the next, (x, y).
    layings
        How each place finds its like one or more steps on, forwards and back.
    region_mm
        Corners of the part that repeats, (4, 2): beyond it nothing may be added.
    likeness
        Correlation of the ornament with itself one step on, 0..1.
    """

    step_mm: tuple[float, float]
    layings: tuple[Laying, ...]
    region_mm: Floats
    likeness: float


def find_repeat(
    coverage: NDArray[np.uint8],
    px_per_mm: float,
    origin_mm: tuple[float, float],
    *,
    step_mm: tuple[float, float] | None = None,
) -> Repeat | None:
    """The repeat of an ornament; None if it has none.

    Parameters
    ----------
    coverage, px_per_mm, origin_mm
        Gilt found, as in `GiltMap`.
    step_mm
        A step to start from instead of searching.
    """
    edges = edges_of(coverage, px_per_mm, origin_mm)
    if len(edges.points) < 60:
        return None
    likeness, place = _self_likeness(coverage, px_per_mm)
    if step_mm is None:
        found = _first_step(likeness, place)
        if found is None:
            return None
        step = np.array(found[:2])
        score = found[2]
    else:
        step, score = np.asarray(step_mm, np.float64), 1.0
    layings = []
    for multiple in range(1, MOST_STEPS + 1):
        for sign in (1.0, -1.0):
            laying = laying_from(edges, edges, (np.eye(2), sign * multiple * step))
            if laying is not None:
                layings.append(laying)
    if not layings or not any(_steps(layings[0], step)):
        return None
    exact = _exact_step(layings, step)
    return Repeat(
        (float(exact[0]), float(exact[1])), tuple(layings), _region(edges, layings, exact), score
    )


def within(repeat: Repeat, shape: tuple[int, int], px_per_mm: float, origin_mm: Floats) -> Any:
    """Which pixels lie in the part that repeats, bool of ``shape``."""
    mask = np.zeros(shape, np.uint8)
    corners = (repeat.region_mm - origin_mm) * px_per_mm - 0.5
    cv2.fillConvexPoly(mask, np.round(corners).astype(np.int32), 1)
    return mask > 0


def _steps(laying: Laying, step: Floats) -> NDArray[np.bool_]:
    return np.atleast_1d(np.linalg.norm(laying.shift) > 0.5 * np.linalg.norm(step))


def _self_likeness(
    coverage: NDArray[np.uint8], px_per_mm: float
) -> tuple[NDArray[np.float64], float]:
    """Normalised correlation with itself for every shift; shifts wrap around as an FFT's do."""
    from scipy import fft

    h, w = coverage.shape
    scale = min(_PX_PER_MM, px_per_mm)
    size = (max(8, round(w / px_per_mm * scale)), max(8, round(h / px_per_mm * scale)))
    small = cv2.resize(coverage, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    band = cv2.GaussianBlur(small, (0, 0), 0.5 * scale) - cv2.GaussianBlur(
        small, (0, 0), 4.0 * scale
    )
    full = [fft.next_fast_len(2 * n) for n in band.shape]
    fa = fft.rfft2(band, full)
    power = fft.rfft2(band * band, full)
    inside = fft.rfft2(np.ones_like(band), full)
    corr = fft.irfft2(fa * np.conj(fa), full)
    # energy of each of the two overlapping parts
    one = np.maximum(fft.irfft2(power * np.conj(inside), full), 0.0)
    two = np.maximum(fft.irfft2(inside * np.conj(power), full), 0.0)
    total = float((band * band).sum()) + 1e-9
    both = np.sqrt(one * two)
    likeness = np.where(both > SMALLEST_OVERLAP * total, corr / np.maximum(both, 1e-9), -1.0)
    return np.asarray(likeness, np.float64), scale


def _first_step(likeness: NDArray[np.float64], scale: float) -> tuple[float, float, float] | None:
    """The shortest shift at which the ornament is nearly as like itself as at any."""
    rows, columns = likeness.shape
    dy = np.fft.fftfreq(rows, 1.0 / rows)
    dx = np.fft.fftfreq(columns, 1.0 / columns)
    way = np.hypot(dy[:, None], dx[None, :]) / scale
    peak = (
        likeness >= cv2.dilate(likeness, np.ones((5, 5)), borderType=cv2.BORDER_REPLICATE) - 1e-12
    )
    half = (dx[None, :] > 0) | ((dx[None, :] == 0) & (dy[:, None] > 0))
    usable = peak & half & (way >= LEAST_STEP_MM)
    if not usable.any():
        return None
    best = float(likeness[usable].max())
    if best < LEAST_LIKENESS:
        return None
    good = usable & (likeness >= max(LEAST_LIKENESS, 0.8 * best))
    y, x = np.unravel_index(int(np.argmin(np.where(good, way, np.inf))), likeness.shape)
    return float(dx[x] / scale), float(dy[y] / scale), float(likeness[y, x])


def _exact_step(layings: list[Laying], step: Floats) -> Floats:
    """The step over all layings: each lies a whole number of steps on."""
    estimates, weights = [], []
    for laying in layings:
        count = float(np.round(laying.shift @ step / (step @ step)))
        if count:
            estimates.append(laying.shift / count)
            weights.append(abs(count) * laying.matched)
    if not estimates:
        return step
    return np.asarray(np.average(np.array(estimates), axis=0, weights=weights), np.float64)


def _region(edges: Edges, layings: list[Laying], step: Floats) -> Floats:
    """Corners, in the step's own frame, of all outline points that find their like somewhere."""
    from scipy.spatial import cKDTree

    tree = cKDTree(edges.points)
    hit = np.zeros(len(edges.points), np.bool_)
    for laying in layings:
        distance, index = tree.query(laying.apply(edges.points), distance_upper_bound=0.34)
        near = np.isfinite(distance)
        turned = edges.normals @ laying.linear.T
        near &= np.sum(turned * edges.normals[np.where(near, index, 0)], axis=1) > 0.75
        hit |= near
    along = step / max(float(np.linalg.norm(step)), 1e-9)
    across = np.array([-along[1], along[0]])
    points = edges.points[hit] if hit.any() else edges.points
    # a few chance hits far off must not stretch it
    u = np.percentile(points @ along, [0.5, 99.5]) + _AIR_MM
    v = np.percentile(points @ across, [0.5, 99.5]) + _AIR_MM
    return np.array(
        [
            a * along + b * across
            for a, b in ((u[0], v[0]), (u[1], v[0]), (u[1], v[1]), (u[0], v[1]))
        ]
    )
