"""Where the balls' own shadows fall on the plate, which a relief must leave out.

Balls and torch are known, so their shadows are: a place lies in one where its way to the torch
passes nearer to a ball's middle than its radius.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.capture.geometry import PlateFrame
from ironlace.marks.capture.lights import Light
from ironlace.marks.capture.outlines import Circle

RIM_PX = 4.0
"""Pixels by which a shadow is taken larger: a torch has some width, and a photograph some blur."""


def shade(
    part: NDArray[np.float32],
    corner: tuple[int, int],
    plate: PlateFrame,
    light: Light,
    balls: tuple[Circle, ...],
) -> None:
    """Set the light of a part of the plate to -1 where a ball shades it.

    Parameters
    ----------
    part
        Rows x columns of the plate; changed in place.
    corner
        Its first row and column.
    """
    top, left = corner
    rows, columns = (top, top + part.shape[0]), (left, left + part.shape[1])
    for ball in balls:
        window = in_the_way(light, ball, plate, RIM_PX, rows, columns=columns)
        if window is not None:
            y, x, dark = window
            down, across = dark.shape
            part[y - top : y - top + down, x - left : x - left + across][dark] = -1.0


def in_the_way(
    light: Light,
    ball: Circle,
    plate: PlateFrame,
    wider_px: float,
    rows: tuple[int, int] | None = None,
    step: int = 1,
    columns: tuple[int, int] | None = None,
) -> tuple[int, int, NDArray[np.bool_]] | None:
    """Where a ball, wider by some pixels, stands between the plate and the torch.

    Parameters
    ----------
    rows, columns
        First and last but one that are wanted; all of the plate if not given.
    step
        Every so many rows and columns alone, from the window's first.

    Returns
    -------
    tuple or None
        First row and column of a window, and the places in it; None where there is none.
    """
    if light.direction[2] <= 0.01:
        return None
    to, (lowest, highest), (leftmost, rightmost) = _reach(light, ball, plate)
    begin, end = rows or (0, plate.shape[0])
    first, last = max(lowest, begin), min(highest, end)
    begin, end = columns or (0, plate.shape[1])
    left, right = max(leftmost, begin), min(rightmost, end)
    if first >= last or left >= right:
        return None
    v = (np.arange(first, last, step, dtype=np.float32) - np.float32(ball.y))[:, None]
    u = (np.arange(left, right, step, dtype=np.float32) - np.float32(ball.x))[None, :]
    return first, left, _shaded(to, ball, u, v, wider_px)


@lru_cache(maxsize=1024)
def _reach(
    light: Light, ball: Circle, plate: PlateFrame
) -> tuple[NDArray[np.float64], tuple[int, int], tuple[int, int]]:
    """Direction of a torch from a ball's foot; rows and columns between which its shadow lies.

    Asked for by every part of the plate, of which few hold a shadow.
    """
    # in pixels, x right and y down from the ball's foot; the middle stands r above the plate
    to = _towards(light, ball, plate)
    lean = np.hypot(to[0], to[1]) / to[2]
    reach = ball.r * (np.hypot(1.0, lean) + lean) + 2 * RIM_PX
    # the shadow lies on the side that is away from the torch, and reaches a radius to the other
    near = ball.r * (np.hypot(1.0, lean) - lean) + 2 * RIM_PX
    along_x, along_y = (-to[0], -to[1]) / np.maximum(np.hypot(to[0], to[1]), 1e-9)
    side = ball.r + 2 * RIM_PX
    xs = [along_x * reach, -along_x * near]
    ys = [along_y * reach, -along_y * near]
    wide, tall = abs(along_y) * side, abs(along_x) * side
    return (
        to,
        (int(ball.y + min(ys) - tall), int(ball.y + max(ys) + tall) + 2),
        (int(ball.x + min(xs) - wide), int(ball.x + max(xs) + wide) + 2),
    )


def places_in_the_way(
    light: Light,
    ball: Circle,
    plate: PlateFrame,
    wider_px: float,
    y: NDArray[np.int64],
    x: NDArray[np.int64],
) -> NDArray[np.bool_]:
    """As `in_the_way`, for places of rows y and columns x."""
    to = _towards(light, ball, plate)
    u, v = x.astype(np.float32) - np.float32(ball.x), y.astype(np.float32) - np.float32(ball.y)
    return _shaded(to, ball, u, v, wider_px)


def _shaded(
    to: NDArray[np.float64],
    ball: Circle,
    u: NDArray[np.float32],
    v: NDArray[np.float32],
    wider_px: float,
) -> NDArray[np.bool_]:
    """Whether places u to the right and v below a ball's foot see it before the torch."""
    # vector from the place to the ball's middle, and its part along the way to the torch
    along = (float(ball.r * to[2]) - u * np.float32(to[0])) - v * np.float32(to[1])
    miss = (u * u + float(ball.r**2)) + v * v
    miss -= along * along
    return np.asarray((along > 0) & (miss < (ball.r + wider_px) ** 2))


def _towards(light: Light, ball: Circle, plate: PlateFrame) -> NDArray[np.float64]:
    """Unit direction from a ball's foot to the torch, x right, y down, z up."""
    place = light.place
    if place is None:
        to = np.asarray(light.direction, float)
    else:
        to = place - np.array([*plate.to_mm(ball.x, ball.y), 0.0])
    to = to / np.linalg.norm(to)
    return np.array([to[0], -to[1], to[2]])
