"""Whether a ball's outline is its rim, or the edge of what it mirrors, told by its own shadow.

A clean ball mirrors the plate it lies on in a ring along its rim, and where that is bright the
ring's inner edge is sharper than the rim itself. Taken for the outline it makes the ball an eighth
too small, and the torch six degrees wrong. The shadow begins at the rim, whatever is mirrored: so
photograph by photograph the last place that is not in shadow is sought on the side away from the
torch.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

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
