"""Whether a ball's outline is its rim, or the edge of what it mirrors, told by its own shadow.

A clean ball mirrors the plate it lies on in a ring along its rim, and where that is bright the
ring's inner edge is sharper than the rim itself. Taken for the outline it makes the ball an eighth
too small, and the torch six degrees wrong. The shadow begins at the rim, whatever is mirrored: so
photograph by photograph the last place that is not in shadow is sought on the side away from the
torch.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.marks.capture.fellow_balls import moving_spots
from ironlace.marks.capture.frames import Grey
from ironlace.marks.capture.outlines import Circle

WIDER = 1.06
"""Times the outline at which a shadow begins, from which the outline is none. Of 35 balls found
right, most mirroring the plate, 1.01 at most; of three found an eighth too small 1.11 to 1.17
(`bench/marks_balls.py`, seeds 31 and 9821, looked at)."""
_RISES = (0.12, 0.85)
"""Sine of the torch's height between which its shadow reaches well beyond the rim."""
_RAYS_DEG = np.arange(-40.0, 41.0, 5.0)
"""About the way from the torch: farther round a ray leaves the shadow before it is known."""
_FROM, _TO, _SHADOW = 0.75, 1.62, 1.4
"""Radii between which a ray is looked along, and from which it is in shadow for certain."""
_RING = (0.8, 1.3)
"""Radii between which a rim may shine."""
_SHINES = (1.3, 12.0)
"""By what factor and how many numbers of 255 a rim must be brighter than the shadow, to be seen."""
_FEWEST = 8
"""Rays that tell."""
_SHARE = 90.0
"""Per cent of the rays that end within the rim told: the ring mirrors the shadow, too, and most
rays see its edge too near."""
RIM_SOUGHT = 1.12
"""Times what a shadow tells of a rim within which it is sought: shadows are off by 0.056 at most
(`bench/marks_balls.py rims`)."""
_OFF = 0.17
"""Radii by which its middle may lie off that of what was taken for it: a plate that ends near a
ball, or a room's light at one side, moves what is mirrored by 0.12."""
RIM_REACH = RIM_SOUGHT + _OFF
"""Radii about what was taken for it within which a rim is sought."""
_SECTORS = 96
"""Of the round: each is six pixels of a ball of 100 px (judged)."""
_RAYS = 7
"""In each sector, of which the mean is taken."""
_STEP_CAP = 0.25
"""Logarithm of light to which a sector's step counts: beside a pit or a bright reflection it is
more, and no sector may settle the circle."""
_STEPS_AT_ALL = 0.08
"""Mean of the sectors' steps from which there is a rim: path-traced balls have 0.13, circles beside
their rims 0.02; of balls whose mean is of ten photographs and less some have as little."""
_NEVER = 1e-4
"""Light under which there is none, where 1 is white."""


def rims_in(means: Sequence[NDArray[np.float32]], near: Sequence[Circle]) -> list[Circle] | None:
    """The rims of balls of one size that mirror the plate, in the mean light of photographs.

    Within the rim lies what the ball mirrors, which swallows a third of it and may be darker or
    brighter than the plate; beyond it lies the plate, as bright as farther out. The circles are
    taken across which light steps so in most sectors; they are known to a hundredth of their
    radius, to be fitted from there. None where it does in too few.

    Parameters
    ----------
    near
        In each mean's pixels: its middle as the outline within. Their radii as the shadows tell
        them; the middle one of them counts.
    """
    usual = float(np.median([circle.r for circle in near]))
    step = max(usual / 120, 0.5)
    radii = np.arange(usual / RIM_SOUGHT, usual * RIM_SOUGHT, step)
    looked = [
        _by_radius(mean, circle, radii, step) for mean, circle in zip(means, near, strict=True)
    ]
    scores = np.mean([scores for scores, _ in looked], axis=0)
    n = int(scores.argmax())
    if scores[n] < _STEPS_AT_ALL:
        return None
    return [
        Circle(circle.x + float(off[n, 0]), circle.y + float(off[n, 1]), float(radii[n]))
        for circle, (_, off) in zip(near, looked, strict=True)
    ]


def _by_radius(
    mean: NDArray[np.float32], near: Circle, radii: NDArray[np.float64], step: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """For each radius by how much light steps across the best circle, and how far off it lies."""
    most = _OFF * float(np.median(radii))
    far = np.arange(radii[0] - most - 4 * step, radii[-1] + most + 5 * step, step)
    angle = (np.arange(_SECTORS) + 0.5) * 2 * np.pi / _SECTORS
    steps = _steps(mean, near, angle, far)
    off = np.arange(-most, most + step / 2, step)
    row = np.arange(_SECTORS)
    best = np.full(len(radii), -np.inf)
    where = np.zeros((len(radii), 2))
    for dx, dy in product(off, off):
        if np.hypot(dx, dy) > most:
            continue
        # where a ray from the first middle meets a circle about the other
        along = dx * np.cos(angle) + dy * np.sin(angle)
        across = dy * np.cos(angle) - dx * np.sin(angle)
        meets = along + np.sqrt(radii[:, None] ** 2 - across**2)
        at = np.round((meets - far[0]) / step).astype(int)
        score = steps[row, np.clip(at, 0, len(far) - 1)].mean(axis=1)
        better = score > best
        best[better] = score[better]
        where[better] = dx, dy
    return best, where


def _steps(
    mean: NDArray[np.float32],
    near: Circle,
    angle: NDArray[np.float64],
    far: NDArray[np.float64],
) -> NDArray[np.float64]:
    """By how much light steps outwards, over four samples to each side, to what the plate has.

    So much less as it is not as bright there as the plate farther out; sectors x places.
    """
    fan = angle[:, None] + np.linspace(-0.45, 0.45, _RAYS) * 2 * np.pi / len(angle)
    x = (near.x + np.cos(fan)[..., None] * far).reshape(len(angle), -1)
    y = (near.y + np.sin(fan)[..., None] * far).reshape(len(angle), -1)
    there = (x >= 0) & (y >= 0) & (x <= mean.shape[1] - 1) & (y <= mean.shape[0] - 1)
    seen = cv2.remap(
        np.log(mean + np.float32(_NEVER)),
        x.astype(np.float32),
        y.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    seen = np.where(there, seen, np.nan).reshape(len(angle), _RAYS, len(far)).mean(axis=1)
    wide = 4
    parts = np.lib.stride_tricks.sliding_window_view(seen, wide, axis=1).mean(axis=2)
    inside, beyond = parts[:, : -wide - 1], parts[:, wide + 1 :]
    level = np.full((len(angle), 1), np.nan)
    told = np.isfinite(seen[:, far > 1.1 * near.r]).any(axis=1)
    level[told, 0] = np.nanmedian(seen[told][:, far > 1.1 * near.r], axis=1)
    rise = np.minimum(np.abs(beyond - inside), _STEP_CAP)
    rise -= np.minimum(np.abs(beyond - level), _STEP_CAP)
    out = np.zeros_like(seen)  # where the picture has ended nothing is told
    out[:, wide : len(far) - wide] = np.nan_to_num(rise)
    return np.asarray(out, dtype=np.float64)


def rim_by_shadow(pictures: Sequence[Grey], circle: Circle) -> float | None:
    """Where a ball's shadow begins, in radii of its outline; None where that is not seen."""
    spots = moving_spots(pictures, circle)
    if spots is None:
        return None
    ends: list[float] = []
    for picture, place, small in zip(pictures, spots.places, spots.small, strict=True):
        up = 1 - 2 * float(place @ place)  # of the torch, by the law of mirrors
        if small and _RISES[0] < up < _RISES[1]:
            ends += _ends(picture, circle, float(np.arctan2(-place[1], -place[0])))
    return float(np.percentile(ends, _SHARE)) if len(ends) >= _FEWEST else None


def _ends(picture: Grey, circle: Circle, away: float) -> list[float]:
    """The last place along each ray that is not in shadow, in radii."""
    far = np.arange(_FROM, _TO, min(0.02, 0.5 / circle.r))
    angle = away + np.radians(_RAYS_DEG)[:, None]
    x, y = circle.x + circle.r * np.cos(angle) * far, circle.y + circle.r * np.sin(angle) * far
    inside = ((x >= 0) & (y >= 0) & (x < picture.shape[1]) & (y < picture.shape[0])).all(1)
    window, left, top = _window(picture, circle)
    seen = cv2.remap(
        window, (x - left).astype(np.float32), (y - top).astype(np.float32), cv2.INTER_LINEAR
    ).astype(np.float32)
    shadow = np.median(seen[:, far > _SHADOW], axis=1)
    rim = seen[:, (far > _RING[0]) & (far < _RING[1])].max(axis=1)
    white = float(np.iinfo(picture.dtype).max)
    shines = inside & (rim > _SHINES[0] * shadow + _SHINES[1] * white / 255)
    lit = seen > ((shadow + rim) / 2)[:, None]
    last = far[lit.shape[1] - 1 - lit[:, ::-1].argmax(axis=1)]
    return [float(one) for one in last[shines & (last < _SHADOW - 0.05)]]


def _window(picture: Grey, circle: Circle) -> tuple[Grey, int, int]:
    """What lies about a ball, and its first column and row: OpenCV copies what it is handed."""
    reach = int(_TO * circle.r) + 3
    left, top = max(int(circle.x) - reach, 0), max(int(circle.y) - reach, 0)
    part = picture[top : int(circle.y) + reach + 1, left : int(circle.x) + reach + 1]
    return part, left, top
