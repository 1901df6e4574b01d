"""Faces unlike all that the reader draws: written, open, dotted, broken, hung, mirrored, engraved.

Each is ink on a paper 240 tall, 20 of it margin above and below, as `eaten_plates.inked` gives it.
Some are type faces of the libraries bent out of shape, some are lines of this file drawn with a pen
of its own. `TUNED` are faces by which settings may be chosen, `HELD_BACK` such as none ever was.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from struck_plates import _font_file

F = NDArray[np.float32]

TUNED = ("looped", "dotted", "wide", "hanging", "mirrored", "doubled", "squared")
HELD_BACK = (
    *("inline", "stencil", "narrow", "engraved", "backslant", "upside down", "six for nine"),
    *("cartouche", "flourished"),
)
FRESH = ("shadowed", "spurred", "cursive", "striped")
"""Faces made after those held back had been looked at, and one power of the reader's chosen by them
as well."""
ENGRAVED = ("engraved",)
"""Cut with a graver of which depth grows straight to the middle of the line."""
_TALL, _EDGE = 200, 20

# Lines of a written hand, x and y from 0 to 1 (y down), drawn as curves through their points.
_WRITTEN = {
    "0": [[(0.55, 0.02), (0.2, 0.3), (0.15, 0.75), (0.4, 0.98), (0.75, 0.7), (0.8, 0.3),
           (0.6, 0.04), (0.45, 0.15), (0.7, 0.2)]],
    "1": [[(0.2, 0.3), (0.5, 0.12), (0.62, 0.0), (0.58, 0.4), (0.5, 0.85), (0.6, 0.98),
           (0.8, 0.88)]],
    "2": [[(0.2, 0.25), (0.3, 0.05), (0.6, 0.02), (0.75, 0.25), (0.5, 0.6), (0.2, 0.9),
           (0.1, 0.85), (0.25, 0.78), (0.5, 0.92), (0.75, 0.98), (0.92, 0.85)]],
    "3": [[(0.22, 0.12), (0.5, 0.0), (0.75, 0.15), (0.65, 0.38), (0.42, 0.46), (0.38, 0.4),
           (0.5, 0.42), (0.75, 0.6), (0.7, 0.88), (0.4, 0.99), (0.15, 0.88), (0.25, 0.78)]],
    "4": [[(0.4, 0.0), (0.3, 0.3), (0.12, 0.6), (0.3, 0.64), (0.6, 0.55), (0.9, 0.6)],
          [(0.75, 0.2), (0.65, 0.6), (0.6, 1.0)]],
    "5": [[(0.35, 0.1), (0.3, 0.42), (0.55, 0.4), (0.75, 0.6), (0.65, 0.9), (0.35, 0.99),
           (0.12, 0.85)], [(0.35, 0.1), (0.55, 0.04), (0.7, 0.12), (0.92, 0.0)]],
    "6": [[(0.8, 0.0), (0.45, 0.25), (0.2, 0.6), (0.25, 0.92), (0.5, 0.98), (0.7, 0.78),
           (0.6, 0.58), (0.4, 0.62), (0.3, 0.8)]],
    "7": [[(0.1, 0.2), (0.2, 0.05), (0.45, 0.12), (0.65, 0.1), (0.88, 0.0), (0.65, 0.4),
           (0.45, 0.75), (0.42, 1.0)], [(0.3, 0.5), (0.5, 0.45), (0.8, 0.5)]],
    "8": [[(0.8, 0.1), (0.55, 0.0), (0.3, 0.15), (0.4, 0.38), (0.65, 0.6), (0.65, 0.88),
           (0.4, 0.98), (0.2, 0.82), (0.35, 0.6), (0.65, 0.35), (0.8, 0.1)]],
    "9": [[(0.75, 0.15), (0.55, 0.02), (0.3, 0.15), (0.28, 0.4), (0.5, 0.48), (0.7, 0.3),
           (0.78, 0.1), (0.72, 0.5), (0.55, 0.85), (0.3, 1.0), (0.15, 0.9)]],
}  # fmt: skip
# Bars of a squared face, by the names of their places.
_BARS = {
    "t": ((0, 0), (1, 0)), "m": ((0, 0.5), (1, 0.5)), "b": ((0, 1), (1, 1)),
    "p": ((0, 0), (0, 0.5)), "q": ((1, 0), (1, 0.5)), "r": ((0, 0.5), (0, 1)),
    "s": ((1, 0.5), (1, 1)),
}  # fmt: skip
_SQUARED = {
    "0": "tbpqrs", "1": "qs", "2": "tqmrb", "3": "tqmsb", "4": "pmqs", "5": "tpmsb",
    "6": "tpmrsb", "7": "tqs", "8": "tmbpqrs", "9": "tpqmsb",
}  # fmt: skip


@cache
def ink(face: str, glyph: str) -> F:
    """One figure of a face: 0 to 1, rows 240."""
    if face == "looped":
        return _leaning(_written(glyph, 15), 0.45)
    if face == "flourished":
        return _flourished(glyph)
    if face == "dotted":
        return _dotted(glyph)
    if face == "squared":
        return _squared(glyph)
    if face == "engraved":
        return _typed("SourceSansPro-ExtraLight.ttf", glyph)
    if face == "hanging":
        return _hanging(glyph)
    if face == "wide":
        return _wider(_typed("DejaVuSans.ttf", glyph), 1.55)
    if face == "narrow":
        return _wider(_typed("DejaVuSerif.ttf", glyph), 0.42)
    if face == "backslant":
        return _leaning(_typed("DejaVuSerif.ttf", glyph), -0.35)
    if face == "six for nine" and glyph in "69":
        six = _typed("DejaVuSansMono-Bold.ttf", "6")
        return six if glyph == "6" else np.ascontiguousarray(six[::-1, ::-1])
    return _of_type(face, glyph)


def _of_type(face: str, glyph: str) -> F:
    if face == "six for nine":
        return _typed("DejaVuSansMono-Bold.ttf", glyph)
    if face == "mirrored":
        return np.ascontiguousarray(_typed("STIXGeneralBol.ttf", glyph)[:, ::-1])
    if face == "upside down":
        return np.ascontiguousarray(_typed("DejaVuSerif-Bold.ttf", glyph)[::-1, ::-1])
    if face == "doubled":
        one = _typed("SourceSansPro-Semibold.ttf", glyph)
        again = np.roll(np.roll(one, 17, axis=1), -11, axis=0)
        return np.maximum(one, again)
    if face == "cursive":
        return _leaning(_typed("cmmi10.ttf", glyph), 0.3)
    fat = _typed("DejaVuSans-Bold.ttf" if face == "stencil" else "DejaVuSerif-Bold.ttf", glyph)
    if face == "inline":
        nib = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (13, 13))
        return np.clip(cv2.dilate(fat, np.ones((5, 5))) - cv2.erode(fat, nib), 0, 1)
    if face == "stencil":
        broken, middle = fat.copy(), fat.shape[1] // 2
        broken[:, middle - 9 : middle + 9] = 0
        broken[112:128] *= 0.0 if glyph in "147" else 1.0
        return broken
    if face == "shadowed":
        return np.clip(np.roll(fat, (12, 14), axis=(0, 1)) - fat, 0, 1)
    if face == "striped":
        return fat * ((np.arange(len(fat)) % 22 < 13)[:, None])
    if face == "spurred":
        return _spurred(fat)
    if face == "cartouche":
        around = np.zeros_like(fat)
        around[8:232, 8 : fat.shape[1] - 8] = 1
        return np.clip(around - fat, 0, 1)
    raise ValueError(f"There is no face {face}.")


def _typed(file: str, glyph: str) -> F:
    """A figure of a font file, all ten on one height."""
    path = _font_file(file)
    probe = ImageFont.truetype(path, _TALL)
    high = max(b[3] - b[1] for b in (probe.getbbox(g) for g in "0123456789"))
    font = ImageFont.truetype(path, round(_TALL * _TALL / high))
    left, top, right, bottom = font.getbbox(glyph)
    paper = Image.new("L", (right - left + 2 * _EDGE, _TALL + 2 * _EDGE), 0)
    down = _EDGE + (_TALL - (bottom - top)) // 2
    ImageDraw.Draw(paper).text((_EDGE - left, down - top), glyph, 255, font=font)
    return np.asarray(paper, np.float32) / 255


def _spurred(fat: F) -> F:
    """A spur to each side at half height, from the figure's own edge."""
    out, row = fat.copy(), fat[len(fat) // 2]
    edges = np.flatnonzero(row > 0.5)
    for x in (int(edges[0]), int(edges[-1])):
        spur = np.array([(x - 16, 120), (x, 104), (x + 16, 120), (x, 136)], np.int32)
        cv2.fillConvexPoly(out, spur, 1.0)
    return out


def _hanging(glyph: str) -> F:
    """Figures of unlike heights hung on one line: 0, 1, 2 low, 6 and 8 up, the others down."""
    low = _typed("SourceSerifPro-Bold.ttf", glyph)
    body = low[_EDGE : _EDGE + _TALL]
    tall = 0.62 if glyph in "012" else 0.81
    small = cv2.resize(body, (body.shape[1], round(tall * _TALL)))
    paper = np.zeros_like(low)
    top = _EDGE + (0 if glyph in "68" else round(0.19 * _TALL))
    paper[top : top + len(small)] = small
    return paper


def _wider(one: F, by: float) -> F:
    return cv2.resize(one, (round(by * one.shape[1]), one.shape[0]), interpolation=cv2.INTER_AREA)


def _leaning(one: F, lean: float) -> F:
    tall, wide = one.shape
    more = round(abs(lean) * tall)
    move = np.array([[1, -lean, max(lean, 0) * tall], [0, 1, 0]], np.float32)
    return cv2.warpAffine(one, move, (wide + more, tall))


def _curve(points: list[tuple[float, float]]) -> NDArray[np.float64]:
    """A curve through points (Catmull and Rom, 1974), 24 steps from each to the next."""
    p = np.array([points[0], *points, points[-1]], np.float64)
    t = np.linspace(0, 1, 24)[:, None]
    a, b, c, d = (p[k : len(p) - 3 + k, None] for k in range(4))
    bent = 2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3
    return (0.5 * bent).reshape(-1, 2)


def _written(glyph: str, pen: int) -> F:
    """Lines of the written hand; strokes that run down are twice as broad."""
    paper = np.zeros((_TALL + 2 * _EDGE, 130 + 2 * _EDGE), np.uint8)
    for line in _WRITTEN[glyph]:
        at = _curve(line) * [130 - pen, _TALL - pen] + _EDGE + pen / 2
        for one, after in pairwise(at):
            down = max(after[1] - one[1], 0) / max(float(np.hypot(*(after - one))), 1e-9)
            broad = round(pen * (1 + down))
            cv2.line(paper, *(tuple(map(round, q)) for q in (one, after)), 255, broad, cv2.LINE_AA)
    return paper.astype(np.float32) / 255


def _dotted(glyph: str) -> F:
    """Figures of round dots set along their lines."""
    paper = np.zeros((_TALL + 2 * _EDGE, 120 + 2 * _EDGE), np.uint8)
    for line in _WRITTEN[glyph]:
        at = _curve(line) * [106, _TALL - 14] + _EDGE + 7
        far = np.append(0, np.cumsum(np.hypot(*np.diff(at, axis=0).T)))
        for stop in np.arange(0, far[-1] + 1, 27):
            x, y = (np.interp(stop, far, at[:, k]) for k in range(2))
            cv2.circle(paper, (round(x), round(y)), 9, 255, -1, cv2.LINE_AA)
    return paper.astype(np.float32) / 255


def _squared(glyph: str) -> F:
    paper = np.zeros((_TALL + 2 * _EDGE, 100 + 2 * _EDGE), np.uint8)
    for bar in _SQUARED[glyph]:
        ends = [np.array(q) * [80, _TALL - 20] + _EDGE + 10 for q in _BARS[bar]]
        cv2.line(paper, *(tuple(map(round, q)) for q in ends), 255, 18)
    return paper.astype(np.float32) / 255


def _flourished(glyph: str) -> F:
    """A leaning face with a curl begun under its foot."""
    one = np.pad(_typed("STIXGeneralBolIta.ttf", glyph), ((0, 0), (30, 30)))
    at = _curve([(0.05, 0.9), (0.0, 0.7), (0.18, 0.72), (0.2, 0.95), (0.6, 0.8), (1.0, 0.98)])
    at = np.round(at * [one.shape[1] - 1, _TALL] + [0, _EDGE]).astype(np.int32)
    curl = np.zeros(one.shape, np.uint8)
    cv2.polylines(curl, [at], False, 255, 8, cv2.LINE_AA)
    return _leaning(np.maximum(one, curl.astype(np.float32) / 255), 0.25)
