"""How near the camera stood, told by the balls: only from its true place do their rays meet.

Rays are first taken as if the camera looked straight down everywhere. One at a height looks at each
ball aslant, away from the picture's middle; each ball's mirrored rays are turned by as much, so two
balls disagree about every torch that stands aside of the line through them. Its height is the one
at which they agree best. A ball's outline is an oval then, but by a thousandth from 30 cm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

F64 = NDArray[np.float64]

NEAREST = 40.0
"""Least height of the camera that is tried, in radii of the balls: 12 cm for balls of 6 mm."""
_TRIED = 61
"""Heights tried, evenly in their reciprocals."""
_STRAY_DEG = 0.5
"""Degrees that rays may miss one another by, beyond which they count ever less: a highlight found
wrong is off by degrees."""
_MISSED_DEG = 6.0
"""Taken where rays part before the plate."""
_SURE = 4.0
"""Standard deviations from which a camera is taken to be near."""
_FEWEST = 5
"""Photographs from which on that is asked."""


@dataclass(frozen=True, eq=False)
class Rays:
    """Rays of one photograph, as a camera without perspective sees them; mm, X right, Y up.

    Attributes
    ----------
    middles
        n x 3: of the balls.
    offsets
        n x 3: where each ray starts, from its ball's middle.
    directions
        n x 3, unit.
    """

    middles: F64
    offsets: F64
    directions: F64

    def seen_from(self, near: float) -> tuple[F64, F64]:
        """Starts and directions, each n x 3, of a camera at height 1 / `near` over the middle."""
        if not near:
            return self.middles + self.offsets, self.directions
        radius = self.middles[:, 2:]
        flat = self.middles[:, :2] / (1 + near * radius)  # what stands higher is seen farther out
        aside = -near * flat / (1 - near * radius)
        turns = np.array([_turned(x, y) for x, y in aside])
        # seen from its distance, a place of the ball lies nearer to the middle of the disc, and is
        # looked at aslant: both by the angle between them, as seen by the camera
        seen = self.offsets[:, :2] / np.linalg.norm(self.offsets, axis=1, keepdims=True)
        size = np.linalg.norm(seen, axis=1, keepdims=True)
        whole = np.arcsin(np.minimum(size, 1))
        aslant = size * near * radius
        around = seen / np.maximum(size, 1e-12)

        def at(angle: F64) -> F64:
            leaning = np.column_stack([np.sin(angle) * around, np.cos(angle)])
            return np.asarray((turns @ leaning[:, :, None])[:, :, 0])

        normals = at(whole - aslant)
        return np.column_stack([flat, radius]) + radius * normals, at(2 * whole - aslant)


def _turned(x: float, y: float) -> F64:
    """The turn that takes straight up to the direction of (x, y, 1)."""
    up = np.array([x, y, 1.0]) / np.sqrt(1 + x * x + y * y)
    v = np.array([-up[1], up[0], 0.0])  # straight up, crossed with it
    cross = np.array([[0, -v[2], v[1]], [v[2], 0, -v[0]], [-v[1], v[0], 0]])
    return np.asarray(np.eye(3) + cross + cross @ cross / (1 + up[2]))


def _crossed(u: F64, v: F64) -> F64:
    """The cross product of two vectors: `np.cross` is slow for one pair."""
    (a, b, c), (x, y, z) = u.tolist(), v.tolist()
    return np.array([b * z - c * y, c * x - a * z, a * y - b * x])


def nearness(rays: Sequence[Rays]) -> float:
    """Reciprocal of the camera's height, 1 / mm; 0 where nothing shows that it was near.

    Parameters
    ----------
    rays
        Of the photographs in which the torch is mirrored in two balls or more.
    """
    if len(rays) < _FEWEST:
        return 0.0
    radius = float(np.mean([one.middles[:, 2].mean() for one in rays]))
    tried = np.linspace(0, 1 / (NEAREST * radius), _TRIED)
    off = np.array([[_missed(one, near) for one in rays] for near in tried])
    cost = np.log1p((off / _STRAY_DEG) ** 2).sum(1)
    k = int(cost.argmin())
    if k in (0, _TRIED - 1):
        return 0.0 if k == 0 else float(tried[k])
    below, least, above = cost[k - 1 : k + 2]
    bend = max(below - 2 * least + above, 1e-12)
    step = tried[1]
    near = float(tried[k] + step * (below - above) / (2 * bend))
    # a sum of squares over their variance bends by two at one standard deviation
    free = len(rays) - 1
    variance = max(float(least) / free, 1e-9)
    doubt = step * np.sqrt(2 * variance / bend)
    return near if near > _SURE * doubt else 0.0


def _missed(rays: Rays, near: float) -> float:
    """Degrees by which rays miss one another, from the middle of the first two's way."""
    (a, b), (u, v) = (one[:2] for one in rays.seen_from(near))
    across = _crossed(u, v)
    size = float(np.linalg.norm(across))
    if size < 1e-9:
        return _MISSED_DEG
    apart = b - a
    far = float(_crossed(apart, v) @ across) / size**2
    other = float(_crossed(apart, u) @ across) / size**2
    if far <= 0 or other <= 0:
        return _MISSED_DEG
    miss = abs(float(apart @ across)) / size
    return float(min(np.degrees(miss * np.hypot(1 / far, 1 / other) / 2), _MISSED_DEG))
