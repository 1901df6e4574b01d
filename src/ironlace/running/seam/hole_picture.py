"""The mean picture of a seam's holes, and how like it every place is (matched filter).

Turin 1960, "An introduction to matched filters".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.running.seam.seam_looks import Looks

HALF_WINDOW_MM: Final = 0.42
"""Half length of a hole's picture; two neighbours 0.84 mm apart do not share a place."""
FAINT: Final = (0.1, 0.3)
"""A hole's mean picture, squared and in units of the noise, counts from the first on and in full
beyond their sum. Peaks picked from thread alone give 0.05 to 0.15 (sewn pictures; tuned)."""
FEWEST_OF_A_KIND: Final = 6
"""Holes of a kind from which the middle of that kind is told by itself. A judgement."""


def patches_of(looks: Looks) -> NDArray[np.float32]:
    """What stands within the window around each place: shape (places, features * window)."""
    half = round(HALF_WINDOW_MM * looks.px_per_mm)
    step = max(1, round(looks.px_per_mm / 16.0))
    padded = np.pad(looks.features, ((0, 0), (half, half)), mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1, axis=1)[..., ::step]
    n = looks.features.shape[1]
    return np.ascontiguousarray(windows.transpose(1, 0, 2).reshape(n, -1))


def away_from(places: NDArray[np.int64], count: int, length: float) -> NDArray[np.bool_]:
    """Places between the ends, farther from each of them than a third of a stitch."""
    near = np.ones(count, np.bool_)
    near[int(places[0]) : int(places[-1]) + 1] = False
    reach = max(2, int(length / 3.0))
    for place in places:
        near[max(0, place - reach) : place + reach + 1] = True
    return ~near


def likeness(patches: NDArray[np.float32], places: NDArray[np.int64], length: float) -> Floats:
    """How like a hole each place is, 1 at a usual hole; an end's own score is learnt from others.

    Holes may look two ways (with and without a loop of the other thread): where they fall into two
    kinds, the better of both scores counts.
    """
    kinds = kinds_of(patches, places)
    between = usual_between(patches, places, length)
    scores = [_scored_as_one(patches, of_kind, between, length) for of_kind in kinds]
    return np.asarray(np.max(scores, axis=0), np.float64)


def kinds_of(
    patches: NDArray[np.float32], places: NDArray[np.int64]
) -> tuple[NDArray[np.int64], ...]:
    """The holes by kinds of look: two where their main difference falls into two heaps."""
    z = patches[places]
    if len(places) < 10:
        return (places,)
    z = z - z.mean(axis=0)
    # along the first principal axis; a patch has far more parts than there are holes
    powers, axes = np.linalg.eigh((z @ z.T).astype(np.float64))
    along = axes[:, -1] * np.sqrt(max(float(powers[-1]), 0.0))
    order = np.sort(along)
    # the split that leaves least within (Fisher 1958, "On grouping for maximum homogeneity")
    n = len(order)
    total = float(((order - order.mean()) ** 2).sum())
    best, cut = total, 0
    for i in range(4, n - 3):
        left, right = order[:i], order[i:]
        within = float(((left - left.mean()) ** 2).sum() + ((right - right.mean()) ** 2).sum())
        if within < best:
            best, cut = within, i
    # one heap of a normal distribution split in two keeps 0.36 of its sum of squares
    if cut == 0 or best > 0.22 * total:
        return (places,)
    high = along >= order[cut]
    return places[high], places[~high]


def _scored_as_one(
    patches: NDArray[np.float32], own_kind: NDArray[np.int64], between: UsualBetween, length: float
) -> Floats:
    weights = filter_for(patches, own_kind, between)
    out = np.asarray(patches @ weights - between.mean @ weights, np.float64)
    for part in (0, 1):
        own, others = own_kind[part::2], own_kind[1 - part :: 2]
        if len(others) < 2:
            continue
        w = filter_for(patches, others, between)
        usual = between.mean @ w
        for place in own:
            reach = max(2, int(length / 4.0))
            a, z = max(0, place - reach), min(len(out), place + reach + 1)
            out[a:z] = patches[a:z] @ w - usual
    return out / max(float(np.median(out[own_kind])), 1e-6)


@dataclass(frozen=True)
class UsualBetween:
    """What is usual between the ends: mean and variance of each part of a patch."""

    mean: NDArray[np.float32]
    noise: NDArray[np.float32]


def usual_between(
    patches: NDArray[np.float32], places: NDArray[np.int64], length: float
) -> UsualBetween:
    """What is usual well away from the ends, or everywhere where nothing lies so far from them."""
    away = np.flatnonzero(away_from(places, len(patches), length))
    if len(away) < 8:
        away = np.arange(len(patches))
    thin = patches[away[:: max(1, len(away) // 300)]]
    return UsualBetween(np.mean(thin, axis=0), np.var(thin, axis=0))


def filter_for(
    patches: NDArray[np.float32], places: NDArray[np.int64], between: UsualBetween
) -> NDArray[np.float32]:
    """Weights of a matched filter for the holes at some places."""
    noise = between.noise
    hole = np.mean(patches[places], axis=0) - between.mean
    # a mean of few holes is noisy itself: what does not rise above that counts for nothing
    own = np.var(patches[places], axis=0) / max(len(places), 1)
    shrunk = hole * np.clip(1.0 - own / np.maximum(hole**2, 1e-9), 0.0, 1.0)
    weights = shrunk / (noise + np.median(noise) + 0.05)
    norm = float(np.sqrt((weights**2 * (noise + 0.05)).sum()))
    return np.asarray(weights / max(norm, 1e-6), np.float32)


def spread_of(values: Floats) -> float:
    """Median distance from the median, as a standard deviation of a normal distribution."""
    return float(1.4826 * np.median(np.abs(values - np.median(values))))


def foretold(
    patches: NDArray[np.float32], places: NDArray[np.int64], length: float
) -> tuple[float, float]:
    """What other holes foretell of each hole's picture: summed, and as a share."""
    between = patches[away_from(places, len(patches), length)]
    if len(between) < 8:
        between = patches
    base, noise = between.mean(axis=0), between.var(axis=0) + 0.3
    gain = told = whole = 0.0
    for kind in kinds_of(patches, places):
        z = np.clip((patches[kind] - base) / np.sqrt(noise), -6.0, 6.0)
        whole += float((z**2).sum())
        for part in (0, 1):
            own, others = z[part::2], z[1 - part :: 2]
            if not (len(own) and len(others)):
                continue
            picture = others.mean(axis=0)
            energy = float((picture**2).sum())
            each = 2.0 * own @ picture - energy
            told += float(each.sum())
            # no hole counts for more than one, or a few with loops would outweigh all the rest
            # and a picture that hardly rises above the noise is what any row of peaks would give
            plain = float(np.clip((energy / z.shape[1] - FAINT[0]) / FAINT[1], 0.0, 1.0))
            gain += plain * float(np.clip(each / max(energy, 1e-9), -1.0, 1.0).sum())
    return gain, told / max(whole, 1e-9)
