"""How each photograph lies to the first, by what all of them show of the plate itself.

Where balls mirror the plate, the edges in them move with the torch, and photographs laid by them
are off by a pixel. The plate stays. Its light under one torch is told by its light under the
others: of a matt surface out of shadow any photograph is a mixture of three (Shashua, 1997), and
with so many as here shadows and highlights are told, too, by torches that stood near. So each
photograph is laid to the mixture of all others that is most like it (Lucas and Kanade, 1981), in
turns.

One way of being wrong cannot be seen so: each photograph moved a little towards its own torch,
which mixtures follow (0.2 px on path-traced plates, of which it leaves 0.06). A hand moves a camera
in no such way, so of the moves found that part is taken out.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.two_hands import two_hands
from ironlace.marks.capture.frames import Frames, Grey, looked_up
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.capture.registering import Move, straightened

WIDE = 1400.0
"""Pixels across to which larger photographs are made smaller: places are then known to a
fourteen-thousandth of the picture all the same."""
BANDS = ((1.6, 12.0), (0.8, 6.0), (0.8, 6.0), (0.8, 6.0))
"""Pixels between which the details' size lies that are laid on one another, round by round: grain
is finer, the beam and shine are broader. Broader ones catch what lies farther off (of three pixels
off each they left 0.5, for 1.4) and lay the rest worse; after three rounds of the fine ones steps
are a twentieth of a pixel, and more follow the way of being wrong above."""
DARK = 0.004
"""Added to light, of which 1 is white, before its logarithm is taken: noise of the darkest."""
MOST = 0.5
"""Logarithm to which a detail counts: brighter is a highlight, darker a cast shadow's edge."""
HELD = 0.01
"""Share of the photographs' mean square by which mixtures are held; 0.001 to 0.1 are alike."""
EVERY = 3
"""Of so many pixels one is looked at: neighbours tell the same."""
SPREAD_BY = 7
"""Of so many places one tells how far they lie off: tens of thousands are left."""
SPARED = 1.35
"""Radii about a ball's rim that are not looked at: what mirrors, and its foot. As the outline may
be the edge of what is mirrored, of that up to the rim."""
EDGE = 8
"""Pixels along the picture's edge that are not looked at."""
FEWEST = 12
"""Photographs below which a mixture of the others tells little: of six and ten it left 0.3 to
1.5 px of photographs that lay alike (`bench/marks_balls.py rims`, seed 32)."""


def moved_by_plate(
    frames: Frames,
    start: Sequence[Move],
    balls: Sequence[Circle],
    towards: NDArray[np.float64],
    table: NDArray[np.float32],
) -> list[Move]:
    """Moves of the photographs against the first, known to a pixel or two beforehand.

    Parameters
    ----------
    start
        What is known of them.
    balls
        What is not looked at.
    towards
        Unit vectors along the picture towards each photograph's torch, n x 2; zero where unknown.
    table
        Linear light of each number.
    """
    shrink = max(frames.shape[1] / WIDE, 1.0)
    small = [_small(picture, shrink) for picture in frames.pictures]
    rows, columns = small[0].shape
    at = _looked_at((rows, columns), balls, shrink)
    # what balls mirror moves with the torch, and photographs laid by it too
    moves = [_scaled(move, 1 / shrink) for move in _as_a_hand(start, towards)]
    for band in BANDS:
        moves = _once(small, moves, at, table, band)
    return [_scaled(move, shrink) for move in _as_a_hand(moves, towards)]


def _small(picture: Grey, shrink: float) -> Grey:
    if shrink == 1.0:
        return picture
    size = (round(picture.shape[1] / shrink), round(picture.shape[0] / shrink))
    out = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    if picture.dtype == np.uint8:
        return np.asarray(out, dtype=np.uint8)
    return np.asarray(out, dtype=np.uint16)


def _scaled(move: Move, by: float) -> Move:
    x, y = move.shift_px
    return Move((x * by, y * by), move.turn_rad, move.doubt_px * by)


def _looked_at(shape: tuple[int, int], balls: Sequence[Circle], shrink: float) -> NDArray[np.int64]:
    """Places, as one number each, that show the plate."""
    y, x = np.ogrid[: shape[0], : shape[1]]
    plate = np.zeros(shape, bool)
    plate[EDGE:-EDGE, EDGE:-EDGE] = True
    for ball in balls:
        across, down = x - (ball.x + 0.5) / shrink + 0.5, y - (ball.y + 0.5) / shrink + 0.5
        plate &= np.hypot(across, down) > SPARED * ball.r / shrink
    return np.flatnonzero(plate)[::EVERY]


def _detail(
    picture: Grey, table: NDArray[np.float32], band: tuple[float, float]
) -> NDArray[np.float32]:
    """Logarithm of light between two sizes."""
    light = looked_up(table, picture)
    light += np.float32(DARK)
    np.log(light, out=light)
    fine = np.asarray(cv2.GaussianBlur(light, (0, 0), band[0]), dtype=np.float32)
    fine -= np.asarray(cv2.GaussianBlur(light, (0, 0), band[1]), dtype=np.float32)
    return np.asarray(np.clip(fine, -MOST, MOST), dtype=np.float32)


def _once(
    pictures: Sequence[Grey],
    moves: Sequence[Move],
    at: NDArray[np.int64],
    table: NDArray[np.float32],
    band: tuple[float, float],
) -> list[Move]:
    """Each photograph laid to the mixture of all others, as they lie by now."""
    shape = (int(pictures[0].shape[0]), int(pictures[0].shape[1]))

    def detail(picture: Grey, move: Move) -> NDArray[np.float32]:
        return _detail(straightened(picture, move, 0, shape[0], shape), table, band)

    with two_hands() as pool:
        laid = np.stack(list(pool.map(detail, pictures, moves)))
        flat = laid.reshape(len(laid), -1)
        seen = flat[:, at]
        alike = seen @ seen.T
    held = HELD * float(np.trace(alike)) / len(alike)

    mixed = np.zeros((len(laid), len(laid)), np.float32)
    for n in range(len(laid)):
        rest = np.delete(np.arange(len(laid)), n)
        square = alike[np.ix_(rest, rest)] + held * np.eye(len(rest))
        mixed[n, rest] = np.linalg.solve(square, alike[rest, n])

    def step(n: int) -> tuple[float, float, float]:
        return _step((mixed[n] @ flat).reshape(shape), seen[n], at)

    with two_hands() as pool:
        steps = list(pool.map(step, range(len(laid))))
    return [
        Move((m.shift_px[0] + dx, m.shift_px[1] + dy), m.turn_rad + turn, m.doubt_px)
        for m, (dx, dy, turn) in zip(moves, steps, strict=True)
    ]


def _step(
    told: NDArray[np.float32], seen: NDArray[np.float32], at: NDArray[np.int64]
) -> tuple[float, float, float]:
    """Shift and turn that lay a mixture on the photograph, strangers to it weighted down."""
    rows, columns = told.shape
    across = cv2.Sobel(told, cv2.CV_32F, 1, 0, scale=1 / 8).ravel()[at]
    down = cv2.Sobel(told, cv2.CV_32F, 0, 1, scale=1 / 8).ravel()[at]
    x = (at % columns - (columns - 1) / 2).astype(np.float32)
    y = (at // columns - (rows - 1) / 2).astype(np.float32)
    here = told.ravel()[at]
    turned = (across * y - down * x) / np.float32(columns)
    design = np.stack([-across, -down, turned, here]).astype(np.float32)
    off = seen - here
    solved: NDArray[np.float64] = np.zeros(4)
    heavy: NDArray[np.float32] = design
    for _ in range(4):
        square = (heavy @ design.T).astype(np.float64)
        square += 1e-9 * np.trace(square) * np.eye(4)
        solved = np.asarray(np.linalg.solve(square, heavy @ off), dtype=np.float64)
        far = np.abs(off - solved.astype(np.float32) @ design)
        spread = max(1.4826 * float(np.median(far[::SPREAD_BY])), 1e-6)
        weight = 1 / np.maximum(far / (1.5 * spread), 1)
        heavy = np.asarray(design * weight, dtype=np.float32)
    dx, dy, turn = (float(one) for one in solved[:3])
    return dx, dy, turn / columns


def _as_a_hand(moves: Sequence[Move], towards: NDArray[np.float64]) -> list[Move]:
    """The moves against the first, without what goes with the torch."""
    shifts = np.array([move.shift_px for move in moves])
    way = towards - towards.mean(0)
    square = float((way**2).sum())
    share = float((way * (shifts - shifts.mean(0))).sum()) / square if square > 1e-9 else 0.0
    shifts = shifts - share * towards
    shifts = shifts - shifts[0]
    return [
        Move((float(x), float(y)), move.turn_rad - moves[0].turn_rad, move.doubt_px)
        for (x, y), move in zip(shifts, moves, strict=True)
    ]
