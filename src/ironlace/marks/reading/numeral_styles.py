"""Period numerals drawn by us: centre lines under a nib, in several styles.

A figure is a few centre lines in a box one wide and one high (x right, y down), drawn with an
elliptical nib: broad for upright strokes, thin for level ones, as a pen or a graver leaves them.
Width, weight, contrast, feet, balls and the way each figure is built make a style: old-style and
lining, slab, modern, grotesque, narrow. No type face was copied.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

Ink = NDArray[np.float32]
Line = NDArray[np.float64]

GLYPHS = "0123456789"
TALL = 48
"""Pixels of the tallest figure of a style; 0.05 mm each on figures of 2.4 mm."""
EDGE = 6
"""Pixels left empty around a figure."""
_SHORT = frozenset("012")
"""Old-style figures that stand as low as small letters."""


@dataclass(frozen=True, slots=True)
class NumeralStyle:
    """How a set of punches is cut.

    Attributes
    ----------
    width, broad, thin
        Width of a figure, and of upright and level strokes, in heights of the tallest figure.
    foot
        Length of feet at the ends of straight strokes, in widths; 0 for none.
    ball
        Radius of balls at the ends of curves, in heights; 0 for none.
    square
        2 for elliptical bowls, more for squarer ones.
    low
        Height of 0, 1, 2 in heights of the tallest; 1 for lining figures.
    lean
        Lean to the right, as a tangent.
    waist
        Height of the upper bowl of 3 and 8, in heights.
    built
        For a figure the way it is built, a number; 0 where nothing is said.
    """

    name: str
    width: float
    broad: float
    thin: float
    foot: float = 0.0
    ball: float = 0.0
    square: float = 2.0
    low: float = 1.0
    lean: float = 0.0
    waist: float = 0.47
    built: dict[str, int] = field(default_factory=dict)


_FEET = {"1": 2, "2": 1, "4": 2, "7": 1}
PERIOD_STYLES: tuple[NumeralStyle, ...] = (
    NumeralStyle("lining", 0.56, 0.10, 0.055, foot=0.5, ball=0.05, built=_FEET),
    NumeralStyle(
        "old-style", 0.62, 0.09, 0.05, foot=0.5, ball=0.05, low=0.68, built={**_FEET, "3": 0}
    ),
    NumeralStyle("slab", 0.60, 0.13, 0.11, foot=0.6, built={**_FEET, "6": 1, "9": 1}),
    NumeralStyle("modern", 0.56, 0.14, 0.035, foot=0.6, ball=0.07, built={**_FEET, "7": 3}),
    NumeralStyle("grotesque", 0.58, 0.12, 0.105, built={"1": 0, "6": 0}),
    NumeralStyle("narrow", 0.40, 0.09, 0.075, square=2.6, built={"1": 1}),
    NumeralStyle("light", 0.55, 0.06, 0.05, foot=0.5, built={"1": 2, "7": 2}),
    NumeralStyle("heavy", 0.66, 0.20, 0.15, built={"1": 0}),
    NumeralStyle("engraved", 0.54, 0.09, 0.07, built={"3": 1, "4": 1, "6": 1, "9": 1}),
)
"""Styles of figure punches of the period, as cut by us."""


def drawn(style: NumeralStyle, glyph: str) -> Ink:
    """One figure's ink, 0 to 1, `TALL` pixels high in lining styles, `EDGE` pixels about it.

    Raises KeyError for what is no figure.
    """
    way = style.built.get(glyph, 0)
    lines, balls = _BUILDERS[glyph](style, way)
    wide = _WIDER if glyph == "4" and way in _WIDE else 1.0
    return inked(
        style,
        lines,
        hairs=_hairs(glyph, way),
        balls=balls,
        share=(0.75 if glyph == "1" else wide, style.low if glyph in _SHORT else 1.0),
    )


def inked(
    style: NumeralStyle,
    lines: Sequence[Line],
    *,
    hairs: Sequence[Line] = (),
    balls: Sequence[tuple[float, float]] = (),
    share: tuple[float, float] = (1.0, 1.0),
) -> Ink:
    """Ink of centre lines in a box one wide and one high, drawn in a style.

    Parameters
    ----------
    hairs
        Lines thin whichever way they run.
    share
        Width and height against a whole figure's.
    """
    fine = 2  # drawn twice as large, then made small: clean edges
    tall, wide = TALL * fine * share[1], style.width * TALL * fine * share[0]
    broad, thin = style.broad * TALL * fine, style.thin * TALL * fine
    edge = EDGE * fine
    lean = style.lean * tall
    paper = np.zeros((int(tall) + 2 * edge, int(wide + abs(lean)) + 2 * edge), np.uint8)
    scale = np.array([max(wide - broad, 2), max(tall - thin, 2)])
    start = np.array([edge + broad / 2 + max(-lean, 0), edge + thin / 2])

    def placed(points: Line) -> Line:
        at = points * scale + start
        at[:, 0] += style.lean * (tall - (at[:, 1] - edge))
        return np.asarray(at, dtype=np.float64)

    def under_nib(strokes: Sequence[Line], across: float) -> NDArray[np.uint8]:
        drawn_ = np.zeros_like(paper)
        for line in strokes:
            cv2.polylines(
                drawn_, [np.round(placed(line) * 16).astype(np.int32)], False, 255, 1, 8, 4
            )
        nib = cv2.getStructuringElement(
            cv2.MORPH_ELLIPSE, (max(1, round(across)) | 1, max(1, round(thin)) | 1)
        )
        return np.asarray(cv2.dilate(drawn_, nib), dtype=np.uint8)

    paper = np.maximum(under_nib(lines, broad), under_nib(hairs, thin))
    for x, y in placed(np.array(balls, dtype=np.float64).reshape(-1, 2)):
        cv2.circle(paper, (round(x), round(y)), round(style.ball * TALL * fine), 255, -1)
    small = cv2.resize(
        paper, (paper.shape[1] // fine, paper.shape[0] // fine), interpolation=cv2.INTER_AREA
    )
    return np.asarray(small, dtype=np.float32) / np.float32(255)


# --- centre lines -------------------------------------------------------------------------------

_Built = tuple[list[Line], list[tuple[float, float]]]


def arc(
    cx: float, cy: float, rx: float, ry: float, start: float, end: float, square: float = 2.0
) -> Line:
    """Part of an ellipse, angles in degrees from the right over the bottom."""
    t = np.radians(np.linspace(start, end, 60))
    c, s = np.cos(t), np.sin(t)
    power = 2 / square
    return np.column_stack(
        [cx + rx * np.sign(c) * np.abs(c) ** power, cy + ry * np.sign(s) * np.abs(s) ** power]
    )


def _bent(a: tuple[float, float], by: tuple[float, float], b: tuple[float, float]) -> Line:
    t = np.linspace(0, 1, 30)[:, None]
    start, middle, end = (np.array(p, dtype=np.float64) for p in (a, by, b))
    return np.asarray((1 - t) ** 2 * start + 2 * t * (1 - t) * middle + t**2 * end)


def straight(*points: tuple[float, float]) -> Line:
    """A line through points."""
    return np.array(points, dtype=np.float64)


def _balls(style: NumeralStyle, *at: Sequence[float]) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in at] if style.ball else []


def _zero(style: NumeralStyle, way: int) -> _Built:
    lines = [arc(0.5, 0.5, 0.5, 0.5, 0, 360, style.square)]
    if way == 1:
        lines.append(straight((0.5, 0.48), (0.5, 0.52)))
    return lines, []


def _one(style: NumeralStyle, way: int) -> _Built:
    lines = [straight((0.6, 0), (0.6, 1))]
    if way in (0, 2):
        lines.append(straight((0.6, 0.0), (0.1, 0.2)))
    elif way == 3:
        lines.append(_bent((0.6, 0.0), (0.45, 0.14), (0.1, 0.17)))
    if way in (2, 3):
        half = max(style.foot, 0.3)
        lines.append(straight((0.6 - half, 1), (0.6 + half, 1)))
    return lines, []


def _two(style: NumeralStyle, way: int) -> _Built:
    top = arc(0.5, 0.28, 0.46, 0.28, 185, 385, style.square)
    end = (float(top[-1, 0]), float(top[-1, 1]))
    if way == 2:  # the foot swings
        neck = _bent(end, (0.8, 0.62), (0.05, 0.97))
        base = _bent((0.05, 0.97), (0.5, 0.8), (0.7, 0.98))
        return [top, neck, base, _bent((0.7, 0.98), (0.9, 1.02), (1, 0.8))], _balls(style, top[0])
    lines = [top, _bent(end, (0.82, 0.58), (0.02, 1)), straight((0.02, 1), (0.98, 1))]
    if way == 1 and style.foot:
        lines.append(straight((0.98, 1), (0.98, 1 - 0.25 * style.foot)))
    return lines, _balls(style, top[0])


def _three(style: NumeralStyle, way: int) -> _Built:
    w = style.waist
    if way == 1:  # flat top
        bowl = arc(0.45, 0.7, 0.53, 0.3, -100, 150, style.square)
        return [straight((0.06, 0), (0.93, 0), (0.4, 0.41)), bowl], _balls(style, bowl[-1])
    start, end = (215, 140) if way == 2 else (195, 160)  # 2: its ends are short
    upper = arc(0.46, w / 2, 0.44, w / 2, start, 445, style.square)
    lower = arc(0.46, (1 + w) / 2, 0.53, (1 - w) / 2, -88, end, style.square)
    middle = straight((0.3, w), (0.5, w))
    return [upper, lower, middle], _balls(style, upper[0], lower[-1])


def _four(style: NumeralStyle, way: int) -> _Built:
    lines = [straight((0, 0.72), (1, 0.72))]
    if way == 1:  # open
        lines += [straight((0.45, 0), (0, 0.72)), straight((0.7, 0.4), (0.7, 1))]
        return lines, []
    lines.append(straight((0.72, 0), (0.72, 1)))
    if way != _HAIR:
        lines.append(straight((0.7, 0), (0, 0.72)))
    if way in (2, _HAIR, _WIDE[1]) and style.foot:
        half = 0.5 * style.foot
        lines.append(straight((0.72 - half, 1), (min(0.72 + half, 1.05), 1)))
    return lines, []


_HAIR = 3
"""Way of a 4 whose slanting stroke is a hairline, as where uprights alone are broad."""
_WIDE, _WIDER = (4, 5), 1.2
"""Ways of a 4 wider than its fellows, without a foot and with one, and how much wider: its slant
runs further out than other figures are wide. Where light along the bar hides that, the slant alone
tells it from a 1, and must lie where it was cut."""


def _hairs(glyph: str, way: int) -> list[Line]:
    """Strokes thin whichever way they run."""
    return [straight((0.7, 0), (0, 0.72))] if (glyph, way) == ("4", _HAIR) else []


def _five(style: NumeralStyle, way: int) -> _Built:
    middle, begins, top = (0.66, 240, 0.3) if way == 2 else (0.68, 222, 0.2)  # 2: it slants
    bowl = arc(0.46, middle, 0.53, 1 - middle, begins, 515, style.square)
    start = (float(bowl[0, 0]), float(bowl[0, 1]))
    lines = [straight((top, 0), start), bowl]
    if way == 1:  # the flag swings
        lines.append(_bent((0.2, 0.02), (0.6, 0.1), (0.92, -0.02)))
    else:
        lines.append(straight((top, 0), (1.0 if way == 2 else 0.9, 0)))
    return lines, _balls(style, bowl[-1])


def _six(style: NumeralStyle, way: int) -> _Built:
    if way in (2, 3):  # a low bowl; the back ends early, or swings out to the right
        bowl = arc(0.5, 0.72, 0.5, 0.28, 0, 360, style.square)
        if way == 3:
            return [bowl, _bent((0.95, 0), (0.1, 0.15), (0.0, 0.72))], []
        back = arc(0.55, 0.5, 0.55, 0.5, 300, 180, style.square)
        return [bowl, back, straight((0.0, 0.5), (0.0, 0.72))], _balls(style, back[0])
    bowl = arc(0.5, 0.68, 0.5, 0.32, 0, 360, style.square)
    if way == 1:  # a straight back
        return [bowl, _bent((0.78, 0), (0.05, 0.32), (0.0, 0.68))], []
    back = arc(0.55, 0.5, 0.55, 0.5, 315, 180, style.square)
    return [bowl, back, straight((0.0, 0.5), (0.0, 0.68))], _balls(style, back[0])


def _nine(style: NumeralStyle, way: int) -> _Built:
    lines, balls = _six(style, way)
    return [1 - line for line in lines], [(1 - x, 1 - y) for x, y in balls]


def _seven(_style: NumeralStyle, way: int) -> _Built:
    lines = [straight((0, 0), (1, 0))]
    if way in (0, 1):
        lines.append(straight((1, 0), (0.32, 1)))
    else:
        lines.append(_bent((1, 0), (0.38, 0.5), (0.38, 1)))
    if way in (1, 3):
        lines.append(straight((0, 0), (0, 0.16)))
    return lines, []


def _eight(style: NumeralStyle, way: int) -> _Built:
    w = style.waist
    if way == 1:  # one crossed stroke
        t = np.linspace(0, 2 * np.pi, 120)
        y = (1 - np.cos(t)) / 2
        wide = np.where(y < w, 0.88, 1.0)
        return [np.column_stack([0.5 + 0.5 * wide * np.sin(2 * t), y])], []
    return [
        arc(0.5, w / 2, 0.43, w / 2, 0, 360, style.square),
        arc(0.5, (1 + w) / 2, 0.5, (1 - w) / 2, 0, 360, style.square),
    ], []


_BUILDERS: dict[str, Callable[[NumeralStyle, int], _Built]] = {
    "0": _zero,
    "1": _one,
    "2": _two,
    "3": _three,
    "4": _four,
    "5": _five,
    "6": _six,
    "7": _seven,
    "8": _eight,
    "9": _nine,
}
WAYS = {"0": 1, "1": 4, "2": 3, "3": 3, "4": 6, "5": 3, "6": 4, "7": 4, "8": 2, "9": 4}
"""In how many ways each figure is built; the dotted 0 is a way of its own, drawn only if asked. The
last of 3, 4, 5, 6 and 9 were added where a tuning face's figure, struck clean, fitted its own cuts
no better than those of another figure."""
