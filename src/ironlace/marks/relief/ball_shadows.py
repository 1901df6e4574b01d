"""Where the balls' own shadows fall on the plate, which a relief must leave out.

Balls and torch are known, so their shadows are: a place lies in one where its way to the torch
passes nearer to a ball's middle than its radius.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.capture.geometry import PlateFrame
from ironlace.marks.capture.lights import Light
from ironlace.marks.capture.outlines import Circle

RIM_PX = 4.0
"""Pixels by which a shadow is taken larger: a torch has some width, and a photograph some blur."""


def shade(
    band: NDArray[np.float32], top: int, plate: PlateFrame, light: Light, balls: tuple[Circle, ...]
) -> None:
    """Set the light of a band to -1 where a ball shades it.

    Parameters
    ----------
    band
        Rows x columns of the plate, from row `top`; changed in place.
    """
    z = light.direction[2]
    if z <= 0.01:
        return
    for ball in balls:
        # in pixels, x right and y down from the ball's foot; the middle stands r above the plate
        to = _towards(light, ball, plate)
        lean = np.hypot(to[0], to[1]) / to[2]
        reach = ball.r * (np.hypot(1.0, lean) + lean) + 2 * RIM_PX
        first = max(int(ball.y - reach), top)
        last = min(int(ball.y + reach) + 2, top + band.shape[0])
        left = max(int(ball.x - reach), 0)
        right = min(int(ball.x + reach) + 2, band.shape[1])
        if first >= last or left >= right:
            continue
        v = (np.arange(first, last, dtype=np.float32) - np.float32(ball.y))[:, None]
        u = (np.arange(left, right, dtype=np.float32) - np.float32(ball.x))[None, :]
        # vector from the place to the ball's middle, and its part along the way to the torch
        along = -u * to[0] - v * to[1] + ball.r * to[2]
        miss = u * u + v * v + ball.r**2 - along * along
        dark = (along > 0) & (miss < (ball.r + RIM_PX) ** 2)
        band[first - top : last - top, left:right][dark] = -1.0


def _towards(light: Light, ball: Circle, plate: PlateFrame) -> NDArray[np.float64]:
    """Unit direction from a ball's foot to the torch, x right, y down, z up."""
    place = light.place
    if place is None:
        to = np.asarray(light.direction, float)
    else:
        to = place - np.array([*plate.to_mm(ball.x, ball.y), 0.0])
    to = to / np.linalg.norm(to)
    return np.array([to[0], -to[1], to[2]])
