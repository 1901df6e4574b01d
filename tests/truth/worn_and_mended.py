"""Gilt that cracked, was fingered with grease, or that an earlier hand touched up in black.

Shares nothing with the solver or with the other wears. Each is given the paint as laid and returns
what is left to be photographed, 0..1, and where the paint is gone or hidden.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

Shown = NDArray[np.float32]
Lost = NDArray[np.bool_]


def _gone(paint: NDArray[np.uint8], left: Shown) -> Lost:
    return (paint > 127) & (left <= 0.5)


def cracked(rng, paint, ppm, share):
    """Cracks run on across one another; of the plates between them some fall, more at crossings."""
    h, w = paint.shape
    cracks = np.full(paint.shape, 255, np.uint8)
    for _ in range(int(0.035 * h * w / ppm**2)):
        at, turn = rng.uniform((0, 0), (w, h)), rng.choice([0.3, 1.9]) + rng.normal(0, 0.35)
        points = [at]
        for _ in range(int(rng.integers(4, 16))):
            turn += rng.normal(0, 0.25)
            at = at + ppm * rng.uniform(0.3, 1.2) * np.array([np.cos(turn), np.sin(turn)])
            points.append(at)
        cv2.polylines(cracks, [np.round(points).astype(np.int32)], False, 0, 1)
    count, plates, told, _ = cv2.connectedComponentsWithStats(cracks, connectivity=4)
    left = paint.astype(np.float32) / 255.0
    left[cracks == 0] *= 0.6
    whole = np.count_nonzero(paint > 127)
    for plate in rng.permutation(np.arange(1, count)):
        if np.count_nonzero(_gone(paint, left)) >= share * whole:
            break
        x, y, wide, high, area = told[plate]
        if area < 8 * ppm**2:
            part = left[y : y + high, x : x + wide]
            part[plates[y : y + high, x : x + wide] == plate] = 0.0
    while np.count_nonzero(_gone(paint, left)) < share * whole:
        corner = rng.uniform((0, 0), (w, h)) + rng.normal(0, 0.5 * ppm, (5, 2))
        cv2.fillConvexPoly(left, cv2.convexHull(np.round(corner).astype(np.int32)), 0.0)
    return left, _gone(paint, left)


def fingered(rng, paint, ppm, share):
    """A film of grease that dulls gilt, with the ridges of fingers in it, and rubbed patches."""
    h, w = paint.shape
    left = paint.astype(np.float32) / 255.0
    dull = np.zeros(paint.shape, np.float32)
    reach = round(14 * ppm)
    while np.count_nonzero(_gone(paint, left * (1 - dull))) < share * np.count_nonzero(paint > 127):
        for _ in range(8):
            (u, v), turn = rng.integers((0, 0), (w, h)), rng.uniform(0, np.pi)
            y0, x0 = max(0, v - reach), max(0, u - reach)
            part = dull[y0 : v + reach, x0 : u + reach]
            y, x = np.mgrid[0 : part.shape[0], 0 : part.shape[1]].astype(np.float32)
            x, y = (x + x0 - u) / ppm, (y + y0 - v) / ppm
            a = x * np.cos(turn) + y * np.sin(turn)
            b = y * np.cos(turn) - x * np.sin(turn)
            pad = np.exp(-((a / 9.0) ** 4) - (b / 6.0) ** 4)
            bow = np.hypot(a, b + rng.uniform(-4, 4)) + 0.3 * np.sin(0.7 * a)
            ridges = 0.5 + 0.5 * np.sin(2 * np.pi * bow / 0.45)
            rubbed = np.exp(-((a / 3.0) ** 2) - (b / 2.0) ** 2) * rng.uniform(0.2, 0.7)
            part[:] = np.maximum(part, pad * (0.12 + 0.2 * ridges) + rubbed)
    left = left * (1 - np.clip(dull, 0, 1))
    return left.astype(np.float32), _gone(paint, left)


def touched_up(rng, paint, ppm, share):
    """Black brushed by an earlier restorer along chipped rims and over bare patches, neatly."""
    left = paint.astype(np.float32) / 255.0
    whole = np.count_nonzero(paint > 127)
    outlines, _ = cv2.findContours(
        (paint > 127).astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE
    )
    outlines = [one[:, 0].astype(np.float64) for one in outlines if len(one) > 3 * ppm]
    while np.count_nonzero(_gone(paint, left)) < share * whole:
        one = outlines[int(rng.integers(len(outlines)))]
        begin, long = int(rng.integers(len(one))), int(rng.uniform(1.5, 9.0) * ppm)
        line = np.take(one, np.arange(begin, begin + long), axis=0, mode="wrap")
        for axis in (0, 1):
            line[:, axis] = np.convolve(
                np.pad(line[:, axis], 20, mode="edge"), np.full(41, 1 / 41), "valid"
            )
        line = line + rng.normal(0, 0.12 * ppm, 2)
        black = np.zeros(paint.shape, np.uint8)
        wide = max(1, round(rng.uniform(0.2, 0.7) * ppm))
        cv2.polylines(
            black, [np.round(line * 8).astype(np.int32)], False, 255, wide, cv2.LINE_AA, 3
        )
        left *= 1.0 - black / 255.0
    return left.astype(np.float32), _gone(paint, left)


MENDED: dict[str, Callable[..., tuple[Shown, Lost]]] = {
    "cracked": cracked,
    "fingered": fingered,
    "touched_up": touched_up,
}
