"""Gilt worn by use, by code that shares nothing with the solver or with the other wears here.

Each wear is given the paint as laid and returns what is left to be photographed, 0..1, and where
the outline is not the painted one any more: where paint is gone, or where some was pushed to.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

Shown = NDArray[np.float32]
Lost = NDArray[np.bool_]


def _hills(rng: np.random.Generator, shape: tuple[int, int], apart: float) -> Shown:
    """A rolling surface of a few hundred round hills and hollows, of unit spread."""
    small = (max(8, int(8 * shape[0] / apart)), max(8, int(8 * shape[1] / apart)))
    out = np.zeros(small, np.float32)
    count = max(40, int(2.0 * shape[0] * shape[1] / apart**2))
    for _ in range(count):
        middle = rng.uniform((0, 0), small[::-1])
        wide, high = 8 * rng.uniform(0.35, 0.9), rng.normal()
        left, top = (int(max(0, v - 3 * wide)) for v in middle)
        y, x = np.mgrid[top : int(middle[1] + 3 * wide) + 1, left : int(middle[0] + 3 * wide) + 1]
        bump = high * np.exp(-((x - middle[0]) ** 2 + (y - middle[1]) ** 2) / (2 * wide * wide))
        part = out[top : top + bump.shape[0], left : left + bump.shape[1]]
        part += bump[: part.shape[0], : part.shape[1]]
    out = (out - out.mean()) / out.std()
    return cv2.resize(out, shape[::-1], interpolation=cv2.INTER_CUBIC)


def _changed(paint: NDArray[np.uint8], left: Shown, ppm: float) -> Lost:
    """Where paint went, and where the outline has moved outwards, as far in as it is asked."""
    was = paint > 127
    more = ((left > 0.5) & ~was).astype(np.uint8)
    # a tenth of a millimetre more along an outline is another outline
    thick = cv2.morphologyEx(more, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8))
    wide = 2 * round(0.2 * ppm) + 1
    moved = cv2.dilate(thick, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (wide, wide))) > 0
    return (was & (left <= 0.5)) | (moved & was)


def smeared(rng, paint, ppm, share):
    """Soft paint pushed aside by strokes of a cloth: thinned behind, heaped up before."""
    left = paint.astype(np.float32) / 255.0
    h, w = paint.shape
    whole = np.count_nonzero(paint > 127)
    for n in range(4000):
        if n % 40 == 0 and np.count_nonzero(_changed(paint, left, ppm)) > share * whole:
            break
        long, wide = rng.uniform(3, 14) * ppm, rng.uniform(0.6, 2.5) * ppm
        deep, turn = rng.uniform(0.08, 0.3) * ppm, rng.uniform(0, 2 * np.pi)
        middle = rng.uniform((0, 0), (w, h))
        reach = int(long)
        x0, y0 = (int(max(0, v - reach)) for v in middle)
        x1, y1 = int(min(w, middle[0] + reach)), int(min(h, middle[1] + reach))
        if x1 - x0 < 4 or y1 - y0 < 4:
            continue
        y, x = np.mgrid[y0:y1, x0:x1].astype(np.float32)
        u = (x - middle[0]) * np.cos(turn) + (y - middle[1]) * np.sin(turn)
        v = (y - middle[1]) * np.cos(turn) - (x - middle[0]) * np.sin(turn)
        grip = np.clip(1 - (2 * u / long) ** 2, 0, 1) * np.clip(1 - (v / wide) ** 4, 0, 1)
        push = (deep * grip).astype(np.float32)
        part = cv2.remap(
            left, x - push * np.float32(np.cos(turn)), y - push * np.float32(np.sin(turn)), 1
        )
        left[y0:y1, x0:x1] = part
    return left, _changed(paint, left, ppm)


def lifted(rng, paint, ppm, share):
    """Flakes lifted by rust beneath: from the rims inwards, in lobes, broken straight."""
    left = (paint > 127).astype(np.uint8)
    whole = left.sum()
    outlines, _ = cv2.findContours(left, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    rim = np.concatenate([one[:, 0] for one in outlines])
    gone = np.zeros(paint.shape, np.uint8)
    heap = _hills(rng, paint.shape, 14 * ppm)
    while np.count_nonzero(gone & left) < share * whole:
        for x, y in rim[rng.integers(0, len(rim), 60)]:
            if heap[y, x] < rng.normal(0.3, 0.4):
                continue
            lobes = int(rng.integers(1, 5))
            for _ in range(lobes):
                corners = int(rng.integers(4, 8))
                turn = np.sort(rng.uniform(0, 2 * np.pi, corners))
                size = ppm * rng.lognormal(-1.3, 0.6)
                ring = size * np.c_[np.cos(turn), np.sin(turn)] + (x, y)
                ring = ring + rng.normal(0, 0.5 * size, 2)
                cv2.fillConvexPoly(gone, np.round(ring * 8).astype(np.int32), 1, 8, 3)
    shown = np.where(gone > 0, 0.0, paint / 255.0).astype(np.float32)
    return shown, (left > 0) & (gone > 0)


def scored(rng, paint, ppm, share):
    """Worn outwards from scratches: fine lines beside which the gilt thins."""
    h, w = paint.shape
    whole = np.count_nonzero(paint > 127)
    wear = np.zeros(paint.shape, np.float32)
    left = paint.astype(np.float32) / 255.0
    while np.count_nonzero((paint > 127) & (left <= 0.5)) < share * whole:
        lines = np.ones(paint.shape, np.uint8)
        for _ in range(14):
            at, turn = rng.uniform((0, 0), (w, h)), rng.uniform(0, 2 * np.pi)
            points = [at]
            for _ in range(int(rng.integers(10, 60))):
                turn += rng.normal(0, 0.06)
                at = at + 0.8 * ppm * np.array([np.cos(turn), np.sin(turn)])
                points.append(at)
            cv2.polylines(lines, [np.round(points).astype(np.int32)], False, 0, 1)
        away = cv2.distanceTransform(lines, cv2.DIST_L2, 5) / ppm
        wide = rng.uniform(0.08, 0.3)
        wear += 0.9 * np.exp(-((away / wide) ** 2))
        left = paint / 255.0 * np.exp(-(wear**2)).astype(np.float32)
    return left.astype(np.float32), (paint > 127) & (left <= 0.5)


def polished(rng, paint, ppm, share):
    """Polished away where the casting stands high, and first at the raised rims of the paint."""
    high = _hills(rng, paint.shape, 9 * ppm) + 0.4 * _hills(rng, paint.shape, 2.5 * ppm)
    cover = paint.astype(np.float32) / 255.0
    middle = cv2.GaussianBlur(cover, (0, 0), 0.25 * ppm)
    high = high + 1.5 * np.clip(cover - middle, 0, 1)
    level = np.quantile(high[paint > 127], 1 - share)
    left = cover / (1.0 + np.exp(np.clip((high - level) * 6.0, -30, 30)))
    return left.astype(np.float32), (paint > 127) & (left <= 0.5)


def littered(rng, paint, ppm, share):
    """Sawdust, brass filings and drops of oil left lying on the work, and some blotches bare."""
    h, w = paint.shape
    left = paint.astype(np.float32) / 255.0
    bare = _hills(rng, paint.shape, 6 * ppm) > rng.uniform(1.0, 1.2)
    left[bare] = 0.0
    lost = (paint > 127) & bare
    for _ in range(int(0.012 * h * w / ppm**2 * share * 100)):
        x, y = rng.uniform((0, 0), (w, h))
        long, wide, turn = rng.uniform(0.15, 0.9), rng.uniform(0.06, 0.25), rng.uniform(0, 180)
        half = tuple(max(1, round(v * ppm / 2)) for v in (long, wide))
        ring = cv2.ellipse2Poly((round(x), round(y)), half, round(turn), 0, 360, 20)
        cv2.fillConvexPoly(left, ring, 1.0 if rng.random() < 0.35 else 0.0)
    for _ in range(int(rng.integers(4, 9))):
        x, y, size = rng.uniform(0, w), rng.uniform(0, h), rng.uniform(3, 12) * ppm
        y0, y1 = int(max(0, y - size)), int(min(h, y + size))
        x0, x1 = int(max(0, x - size)), int(min(w, x + size))
        if y1 - y0 < 8 or x1 - x0 < 8:
            continue
        part = left[y0:y1, x0:x1]
        yy, xx = np.mgrid[y0:y1, x0:x1]
        inside = np.clip((size - np.hypot(xx - x, yy - y)) / (0.3 * ppm), 0, 1)
        oily = 0.85 * cv2.GaussianBlur(part, (0, 0), 0.09 * ppm)
        left[y0:y1, x0:x1] = part + (oily - part) * inside
    return left, lost | _changed(paint, left, ppm)


AT_WORK: dict[str, Callable[..., tuple[Shown, Lost]]] = {
    "smeared": smeared,
    "lifted": lifted,
    "scored": scored,
    "polished": polished,
    "littered": littered,
}
