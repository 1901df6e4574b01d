"""How each photograph lies to the first: by the outlines of the balls, which no light changes.

A place p of the first photograph, in pixels from its middle, is found in another one at R p +
shift, R the turn, positive from x towards y.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.two_hands import two_hands
from ironlace.marks.capture.frames import Grey, looked_up
from ironlace.marks.capture.outlines import Circle, fitted, outline_of

FARTHEST_PX = 60.0
"""Pixels a photograph may be moved against the first; more, and another picture was taken."""
STRAIGHT_PX = 0.03
"""Pixels by which a turn may differ from a shift across a strip: places are known to 0.05, and
OpenCV's own warping rounds them to a thirty-second."""
NARROWEST = 48
"""Columns of a strip below which there would be too many (judged by speed): the turn is then above
3 minutes of arc."""


@dataclass(frozen=True)
class Move:
    """How a photograph lies to the first.

    Attributes
    ----------
    shift_px
        Of the picture's middle, x and y.
    turn_rad
        About the picture's middle, from x towards y.
    doubt_px
        How far the balls contradict one another, standard deviation; nan where nothing can.
    """

    shift_px: tuple[float, float] = (0.0, 0.0)
    turn_rad: float = 0.0
    doubt_px: float = float("nan")

    def matrix(self, shape: tuple[int, int]) -> NDArray[np.float64]:
        """From places of the first photograph to places of this one, 2 x 3."""
        middle = np.array([(shape[1] - 1) / 2, (shape[0] - 1) / 2])
        cos, sin = np.cos(self.turn_rad), np.sin(self.turn_rad)
        turn = np.array([[cos, -sin], [sin, cos]])
        rest = middle + np.array(self.shift_px) - turn @ middle
        return np.hstack([turn, rest[:, None]])

    def places(self, xy: NDArray[np.float64], shape: tuple[int, int]) -> NDArray[np.float64]:
        """Where places of the first photograph lie in this one; n x 2."""
        matrix = self.matrix(shape)
        return np.asarray(xy @ matrix[:, :2].T + matrix[:, 2])

    def back(self, xy: NDArray[np.float64], shape: tuple[int, int]) -> NDArray[np.float64]:
        """Where places of this photograph lie in the first; n x 2."""
        matrix = self.matrix(shape)
        return np.asarray((xy - matrix[:, 2]) @ matrix[:, :2])

    @property
    def is_none(self) -> bool:
        """Whether it would change nothing that can be seen."""
        return (
            max(abs(self.shift_px[0]), abs(self.shift_px[1])) < 2e-3 and abs(self.turn_rad) < 1e-6
        )


def registered(
    pictures: Sequence[Grey],
    balls: Sequence[Circle],
    table: NDArray[np.float32],
    blur_px: float = 0.8,
) -> tuple[list[Move], list[list[Circle]]]:
    """Register photographs by balls given in the first, or near it.

    Parameters
    ----------
    table
        Linear light of each number, see `light_of_numbers`.
    blur_px
        See `blur_of`.

    Returns
    -------
    tuple
        For each photograph its move; and its balls as they lie in it, centre and radius free.
    """
    shape = (int(pictures[0].shape[0]), int(pictures[0].shape[1]))

    def outlined(picture: Grey) -> list[tuple[Circle, float]]:
        return [_outlined(picture, ball, table, blur_px) for ball in balls]

    with two_hands() as pool:
        seen = list(pool.map(outlined, pictures))
    first = [circle for circle, _ in seen[0]]
    moves = [Move()]
    moves += [
        move_between(
            np.array([(c.x, c.y) for c in first]),
            np.array([(c.x, c.y) for c, _ in one]),
            np.array([w for _, w in one]),
            shape,
        )
        for one in seen[1:]
    ]
    return moves, [[circle for circle, _ in one] for one in seen]


def _outlined(
    picture: Grey, ball: Circle, table: NDArray[np.float32], blur_px: float
) -> tuple[Circle, float]:
    reach = int(ball.r + 24)
    top, left = max(int(ball.y) - reach, 0), max(int(ball.x) - reach, 0)
    window = looked_up(table, picture[top : int(ball.y) + reach, left : int(ball.x) + reach])
    found, weight = _outlined_in(window, Circle(ball.x - left, ball.y - top, ball.r), blur_px)
    return Circle(found.x + left, found.y + top, found.r), weight


def _outlined_in(
    picture: NDArray[np.float32], ball: Circle, blur_px: float
) -> tuple[Circle, float]:
    circle, spread = ball, float("inf")
    for _ in range(4):
        outline = outline_of(picture, circle, blur_px=blur_px)
        moved, spread, seen = fitted(outline, circle)
        if not np.isfinite(spread) or abs(moved.r / ball.r - 1) > 0.1:
            return circle, 1e-6
        done = abs(moved.x - circle.x) + abs(moved.y - circle.y) < 0.01
        circle = moved
        if done:
            break
    return circle, max(seen, 0.05) / max(spread, 0.02) ** 2


def move_between(
    first: NDArray[np.float64],
    other: NDArray[np.float64],
    weights: NDArray[np.float64],
    shape: tuple[int, int],
) -> Move:
    """The turn and shift that lay places of the first photograph on the same ones of another.

    Least squares in closed form (Kabsch, 1976). With one place there is a shift alone.
    """
    middle = np.array([(shape[1] - 1) / 2, (shape[0] - 1) / 2])
    w = weights / weights.sum()
    a, b = w @ first, w @ other
    p, q = first - a, other - b
    turn = 0.0
    if len(first) > 1:
        cross = float((w * (p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0])).sum())
        turn = float(np.arctan2(cross, (w * (p * q).sum(1)).sum()))
    cos, sin = np.cos(turn), np.sin(turn)
    matrix = np.array([[cos, -sin], [sin, cos]])
    shift = b - (matrix @ (a - middle) + middle)
    rest = q - p @ matrix.T
    doubt = float(np.sqrt((rest**2).mean())) if len(first) > 1 else float("nan")
    return Move((float(shift[0]), float(shift[1])), turn, doubt)


def rough_shift(first: Grey, other: Grey) -> tuple[float, float]:
    """Shift of a photograph against the first by correlation of phases, to a pixel or so.

    Of the edges' strength, which the light changes least (Kuglin and Hines, 1975).
    """
    shrink = max(max(first.shape) / 1000, 1.0)
    size = (round(first.shape[1] / shrink), round(first.shape[0] / shrink))
    parts = []
    for picture in (first, other):
        small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA).astype(np.float32)
        gx, gy = cv2.Sobel(small, cv2.CV_32F, 1, 0), cv2.Sobel(small, cv2.CV_32F, 0, 1)
        edges = np.hypot(gx, gy)
        parts.append(np.minimum(edges, np.percentile(edges, 98)).astype(np.float32))
    window = cv2.createHanningWindow(size, cv2.CV_32F)
    (dx, dy), _ = cv2.phaseCorrelate(parts[0], parts[1], window)
    return float(dx * shrink), float(dy * shrink)


def straightened(
    picture: Grey,
    move: Move,
    top: int,
    bottom: int,
    shape: tuple[int, int],
    columns: tuple[int, int] | None = None,
) -> Grey:
    """Rows top to bottom of the first photograph's grid, as another photograph shows them.

    Where that photograph ends, its edge is repeated.

    Parameters
    ----------
    columns
        First and last but one of the columns that are wanted; all if not given.
    """
    left, right = columns or (0, shape[1])
    if move.is_none:
        return picture[top:bottom, left:right]
    matrix = move.matrix(shape)
    wide = int(2 * STRAIGHT_PX / max(abs(move.turn_rad), 1e-9))
    if wide >= NARROWEST:
        out = np.empty((bottom - top, right - left), picture.dtype)
        for y, x in product(range(top, bottom, wide), range(left, right, wide)):
            part = out[y - top :, x - left :][:wide, :wide]
            _shifted(picture, matrix, y, x, part)
        return out
    # only the rows that are needed are handed on
    corners = np.array([[left, top], [right - 1, top], [left, bottom - 1], [right - 1, bottom - 1]])
    v = corners @ matrix[1, :2] + matrix[1, 2]
    first, last = max(int(v.min()) - 5, 0), min(int(v.max()) + 6, shape[0])
    if last - first < 2:
        first, last = max(min(first, shape[0] - 2), 0), shape[0]
    local = matrix.copy()
    local[:, 2] += matrix[:, 0] * left + matrix[:, 1] * top
    local[1, 2] -= first
    warped = cv2.warpAffine(
        picture[first:last],
        local,
        (right - left, bottom - top),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    if picture.dtype == np.uint8:
        return np.asarray(warped, dtype=np.uint8)
    return np.asarray(warped, dtype=np.uint16)


def _shifted(
    picture: Grey,
    matrix: NDArray[np.float64],
    top: int,
    left: int,
    out: Grey,
) -> None:
    """Fill `out` with a part of the first's grid so small that a turn is a shift to it.

    Two passes of four taps in place of a look at every pixel for where it came from.
    """
    rows, columns = out.shape
    to_middle = np.array([(columns - 1) / 2, (rows - 1) / 2])
    x, y = matrix[:, :2] @ (to_middle + np.array([left, top])) + matrix[:, 2] - to_middle
    u, v = int(np.floor(x)), int(np.floor(y))
    across, down = _cubic(x - u), _cubic(y - v)
    part = picture[max(v - 1, 0) : max(v + rows + 2, 0), max(u - 1, 0) : max(u + columns + 2, 0)]
    if part.shape != (rows + 3, columns + 3):  # its edge is repeated
        at_rows = np.clip(np.arange(v - 1, v + rows + 2), 0, picture.shape[0] - 1)
        at_columns = np.clip(np.arange(u - 1, u + columns + 2), 0, picture.shape[1] - 1)
        part = picture[at_rows[:, None], at_columns]
    out[:] = cv2.sepFilter2D(part, -1, across, down, anchor=(1, 1))[1:-2, 1:-2]


def _cubic(part: float) -> NDArray[np.float64]:
    """Four taps, a part of a pixel after the second (Keys, 1981, with -0.75 as OpenCV has it)."""
    rest = 1 - part
    return np.array(
        [
            -0.75 * part * rest * rest,
            (1.25 * part - 2.25) * part * part + 1,
            (1.25 * rest - 2.25) * rest * rest + 1,
            -0.75 * rest * part * part,
        ]
    )
