"""How close a strip lies to the work, and what that leaves open of where the camera stood.

Paper bows, ripples and stands off. Its height over the work is taken for a sum of gentle waves, a
level height among them, of one size tau. What the markers do not explain otherwise says how large
tau may be: its likelihood with pose, surface and lens integrated out (Patterson and Thompson 1971,
"Recovery of inter-block information when block sizes are unequal"), times what is believed
beforehand. A level height shows in no marker: by it alone every size is off, by its share of the
distance. Heights move the fitted camera as the normal equations say, and that is added to its
doubt.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.photographs.camera_model import CameraModel, parameter_scales
from ironlace.photographs.strip_evidence import SideRows
from ironlace.photographs.surfaces import Plane, Round, Surface

USUAL_MM: Final = 0.1
"""Height of a strip's face over the work, as is usual: paper is a tenth of a millimetre thick, and
taped down it leaves about as much air. Common practice, no source."""
USUAL_TIMES: Final = 0.7
"""Standard deviation of its logarithm, so that one in forty stands off four times as much. A
judgement, no source."""
WAVE_MM: Final = 30.0
"""Length over which heights are alike: waves shorter than some 90 mm crest to crest hardly
occur in paper held at its ends. A judgement, no source."""
LEAST_WAVE: Final = 0.02
"""Waves that are believed to be smaller than this share of the largest are left out."""
TAUS_MM: Final = np.geomspace(0.02, 4.0, 24)
"""Sizes that are tried: from what no camera shows to what anyone sees."""
NOISES: Final = (1.0, 1.5, 2.2, 3.3, 5.0)
"""Times of the noise within sides that is tried for noise from side to side, which print and
storage make larger; all alike beforehand."""
FAR: Final = 100.0
"""Usual steps of a parameter that it may stray at most: as good as no bound."""
FLAT_BOW_MM: Final = 3.0
"""A surface that bows by less than this under the strip may be flat under a strip that bows: more
is plain to the eye. A judgement, no source."""
BOW_HEIGHT: Final = 0.6
"""Mean height of a bowed strip over flat work, of that in its middle (0.5 to 0.67 by its form)."""


@dataclass(frozen=True)
class Lying:
    """How a strip may lie over the work.

    Attributes
    ----------
    off_mm
        Height over the work, root mean square of what is believed after the markers were seen.
    bow_mm
        By how much the surface bows under the strip; 0 for a plane and where it is no doubt round.
    covariance
        What such heights add to the doubt of the model's parameters (q, q).
    per_mm
        By how much a strip that is lifted by 1 mm moves the parameters (q,).
    """

    off_mm: float
    bow_mm: float
    covariance: Floats
    per_mm: Floats


def lying(model: CameraModel, p: Floats, rows: SideRows) -> Lying:
    """Tell how far off the work a strip may stand, and what that does to a fit ``p`` (q,)."""
    waves, believed = _waves(rows.xy)
    moved = _moved(model, p, rows, waves)
    tau = _size(model, rows, moved, believed)
    surface = model.split(p)[0]
    bow = _bow(surface, rows.xy)
    tau = max(tau, BOW_HEIGHT * bow)
    variance = rows.noise_px**2
    information = rows.jacobian.T @ rows.jacobian / variance + rows.prior
    follows = np.linalg.pinv(information, hermitian=True) @ rows.jacobian.T @ moved / variance
    heights = _heights(tau, believed)
    return Lying(
        float(math.sqrt(heights[0])),
        bow,
        (follows * heights) @ follows.T,
        np.asarray(follows[:, 0], np.float64),
    )


def _heights(tau: float, believed: Floats) -> Floats:
    """Variance of each wave; the level one's is never less than is usual, as no marker shows it."""
    return np.asarray(tau**2 * believed + USUAL_MM**2 * (np.arange(len(believed)) == 0))


@dataclass(frozen=True)
class _Waves:
    """Numbers of half waves (m, 2) over a rectangle from ``low`` of ``size`` mm."""

    numbers: Floats
    low: Floats
    size: Floats

    def at(self, xy: Floats) -> Floats:
        """Heights of every wave at places (..., 2): (..., m)."""
        share = (xy - self.low) / self.size * np.pi
        cosines = np.cos(share[..., None, :] * self.numbers)
        return np.asarray(cosines[..., 0] * cosines[..., 1])


def _waves(xy: Floats) -> tuple[_Waves, Floats]:
    """The waves, the level one first, and how large each is believed to be, squared: (m,)."""
    low = xy.min(axis=0)
    size = np.maximum(np.ptp(xy, axis=0), 1.0)
    most = np.ceil(size * math.sqrt(-math.log(LEAST_WAVE)) / (np.pi * WAVE_MM)).astype(int)
    numbers = np.array(list(itertools.product(range(most[0] + 1), range(most[1] + 1))), np.float64)
    per_mm = np.pi * np.linalg.norm(numbers / size, axis=1)
    weight = np.exp(-((per_mm * WAVE_MM) ** 2))
    numbers, weight = numbers[weight > LEAST_WAVE], weight[weight > LEAST_WAVE]
    squares = np.prod(np.where(numbers > 0, 0.5, 1.0), axis=1)
    # all waves but the level one make heights of size one together, and so does that one
    weight /= float(np.sum((weight * squares)[1:])) if len(weight) > 1 else 1.0
    weight[0] = 1.0
    return _Waves(numbers, low, size), weight


def _moved(model: CameraModel, p: Floats, rows: SideRows, waves: _Waves) -> Floats:
    """By how many pixels a mm of each wave moves each side outwards: (n, m)."""
    surface, lens, rotation, move, _ = model.split(p)
    space = surface.to_space(rows.xy)
    shift = _shift(surface, rows.xy, waves)

    def seen(by: float) -> Floats:
        return lens.project((space[:, None] + by * shift) @ rotation.T + move)

    step = 0.05
    return np.asarray(
        np.einsum("nmi,ni->nm", (seen(step) - seen(-step)) / (2 * step), rows.normal_px)
    )


def _shift(surface: Surface, xy: Floats, waves: _Waves) -> Floats:
    """Where a mm of each wave takes a place of the paper: (n, m, 3).

    Off the surface, and, since paper does not stretch, back along it where it is lifted off a
    round one: the way round is longer out there.
    """
    off = waves.at(xy)[..., None] * surface.normals(xy)[:, None]
    if not isinstance(surface, Round):
        return off
    across = np.array([-math.sin(surface.axis_rad), math.cos(surface.axis_rad)])
    step = 0.01
    along = (surface.to_space(xy + step * across) - surface.to_space(xy - step * across)) / 2 / step
    way = (xy - np.asarray(surface.reference_mm)) @ across
    share = (np.arange(24) + 0.5) / 24
    path = xy[:, None] - across * (way[:, None] * (1.0 - share))[..., None]
    turned = surface.normals(path + step * across) - surface.normals(path - step * across)
    bend = np.linalg.norm(turned, axis=-1) / (2 * step)
    back = np.mean(bend[..., None] * waves.at(path), axis=1) * way[:, None]
    return np.asarray(off - back[..., None] * along[:, None])


def _size(model: CameraModel, rows: SideRows, moved: Floats, believed: Floats) -> float:
    """Root mean square of tau in view of what the markers leave unexplained."""
    both = np.hstack([rows.jacobian, moved])
    product, pull = both.T @ both, both.T @ rows.miss_px
    square = float(rows.miss_px @ rows.miss_px)
    q, count = rows.jacobian.shape[1], len(rows.miss_px)
    held = np.zeros_like(product)
    # what no marker fixes, as the axis of a surface that is all but flat, is left to wander far
    held[:q, :q] = rows.prior + np.diag((FAR * parameter_scales(model)) ** -2.0)
    logs = np.empty((len(NOISES), len(TAUS_MM)))
    for (i, times), (j, tau) in itertools.product(enumerate(NOISES), enumerate(TAUS_MM)):
        variance = (times * rows.noise_px) ** 2
        heights = _heights(float(tau), believed)
        held[np.arange(q, len(held)), np.arange(q, len(held))] = 1.0 / heights
        total = product / variance + held
        told = pull / variance
        _, size = np.linalg.slogdet(total)
        explained = float(told @ np.linalg.solve(total, told))
        logs[i, j] = -0.5 * (
            count * math.log(variance)
            + float(np.log(heights).sum())
            + size
            + square / variance
            - explained
        )
    logs -= 0.5 * (np.log(TAUS_MM / USUAL_MM) / USUAL_TIMES) ** 2
    weight = np.exp(logs - logs.max()).sum(axis=0)
    return math.sqrt(float(weight @ TAUS_MM**2 / weight.sum()))


def _bow(surface: Surface, xy: Floats) -> float:
    """By how much a surface bows under the strip; 0 where no flat work would be taken for it."""
    if isinstance(surface, Plane):
        return 0.0
    space = surface.to_space(xy)
    square = np.linalg.svd(space - space.mean(axis=0), full_matrices=False)[2][2]
    bow = float(np.ptp(space @ square))
    return bow if bow < FLAT_BOW_MM else 0.0
