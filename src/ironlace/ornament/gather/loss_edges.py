"""Which stretches of an outline are the edge of a loss, and no outline of the ornament.

Where paint is gone from every source, the drawing closes along the edge of what is left. Two
sources worn independently seldom end at the same place by chance, so an edge that two of them show
is an outline unless it looks much like a loss's. That runs across a stroke or around a bite: it
meets the true outline at a corner, is itself ragged, and is short and uneven, where an outline runs
on smoothly and turns the way a brush turns. The odds are an additive logistic regression (Cox 1958)
with straight pieces between knots (Hastie and Tibshirani 1990), on scroll-work and on scrolls and
dots in a frame worn in blotches of two sizes and in flakes; what they cost in rightly graded
outline shows in ``bench/ornament_truth.py``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.outline.drawing import sample_curves

U8 = NDArray[np.uint8]
U16 = NDArray[np.uint16]
U32 = NDArray[np.uint32]

EDGE_OF_A_LOSS: Final = "edge of a loss"
"""Name of the source that such stretches are given."""
WITNESS_MM: Final = 0.06
"""How far apart two sources' edges may lie and still be one. Layings are true to a hundredth of a
millimetre, and blur moves an edge less; on eight worn ornaments 0.12 has as many places right and
0.5 % more falsely seen, as more edges of losses lie so by chance."""
WAYS: Final = 16
"""Ways an edge may run, evenly spread over a turn: its gilt lies on one side of it."""
ONE_WAY: Final = np.deg2rad(25.0)
"""An edge runs a way from which it turns by no more: such edges of two sources are within 14 to 36
degrees of one another. A judgement; noise turns an edge by less than ten."""
NEAR_WEAR_MM: Final = 0.6
"""Only outlines so near a disputed place are asked whether they are the edge of a loss."""
STEP_MM: Final = 0.05
"""Between points along an outline; the steps below are counted in it."""
_TURN_OVER: Final = 7
"""Steps (0.35 mm) before and after a point between which a corner turns."""
_SAME_CORNER: Final = 5
"""Steps (0.25 mm) within which two turns one way are one corner; two sides of the smallest bite lie
so far apart. Tuned; 7 finds less, fewer were not tried."""
_FINE_TURN_OVER: Final = 3
"""The same for the turning of a stretch itself."""
_CORNER: Final = np.deg2rad(18.0)
"""Turn from which a stretch may begin or end. Between 15 and 32 degrees little changes; the odds
weigh the turn itself."""
_SHORTEST: Final = 3
"""Steps of the shortest stretch that is asked: a sixth of a millimetre is no shape yet."""
_LONGEST_MM: Final = 6.0
"""A longer stretch between corners is outline: losses are bites and breaks. Tuned; on what was not
kept."""
_INNER: Final = 3
"""Steps at either end of a stretch that may be a rounded corner, and tell no line."""
_ASIDE: Final = (4, 20)
"""Steps from a corner between which the direction of what comes before or after is taken."""
SEEN_TWICE: Final = 0.75
"""Share of a stretch that two sources show from which it counts as seen twice."""
FIRM_MM: Final = 0.5
"""What two sources show for so long on end within a stretch is outline, whatever the rest looks
like: losses' edges that meet by chance cross one another sooner. On five worn ornaments 0.8 has
0.3 % fewer places right and 0.1 % fewer falsely seen, 0.35 0.1 % more of either."""
_ODDS: Final[dict[str, tuple[tuple[float, float], ...]]] = {
    "twice": ((0.0, -0.45), (0.1, -0.38), (0.3, -0.84)),
    "length": ((0.0, -0.37), (-1.0, -0.37), (-0.3, -0.89), (0.3, -1.43), (0.9, -1.06)),
    "uneven": ((0.0, 0.34), (-4.6, 0.56), (-3.9, -0.00), (-3.2, 0.95)),
    "least": ((0.0, 0.06), (-0.8, -0.23), (0.0, 0.14), (0.6, 0.84), (1.2, -0.14)),
    "most": ((0.0, -0.43), (0.5, 0.93), (1.0, 0.43), (1.6, -2.83)),
    "turning": ((0.0, 0.16), (-1.5, 0.16), (-0.5, -1.04), (0.0, -0.57), (0.7, 1.07)),
    "anti": ((0.0, -0.26), (-0.7, -0.07), (0.0, 0.30), (0.7, 1.06)),
}
"""Log odds by each measure: from each knot on (the first always) its slope changes by so much."""
_BOTH_CORNERS: Final = (-1.22, 0.12, -0.73, 0.72)
"""Added where both ends are corners of paint: of 1, and by `anti`, `turning` and `length`."""
_INTERCEPT: Final = 2.96
"""Log odds where every measure is nought, fitted with the rest."""
LIKELY: Final = -0.3
"""Log odds from which a stretch is called the edge of a loss. On six worn ornaments 0.3 lower or
higher changes what is right by 0.3 % either way, and what is truly seen by 0.1 to 1.7 %."""


_STEPS: Final = 256
"""Of a turn, in which an edge's way is looked up: a degree and a half, less than noise turns it."""


def edge_bands(coverage: U8, px_per_mm: float, within_mm: float = WITNESS_MM) -> U16:
    """Within so much of a source's own edge the ways it runs there, a bit each; else 0.

    It runs so that a quarter turn from x towards y leads into the gilt. Two edges that lie together
    and run different ways are not the same edge: the side of a shallow bite is none of the outline
    beside it, and where one source has gilt and the other begins to have none both are losses'.
    """
    inside = (coverage > 127).astype(np.uint8)
    rim = cv2.morphologyEx(inside, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    at = np.flatnonzero(rim)
    across = [
        cv2.Sobel(coverage, cv2.CV_16S, *order, scale=0.25).ravel()[at].astype(np.float32)
        for order in ((1, 0), (0, 1))
    ]
    along = np.arctan2(-across[0], across[1])
    out = np.zeros(inside.shape, np.uint16)
    out.ravel()[at] = _WAYS_NEAR[np.round(along * (_STEPS / (2 * np.pi))).astype(np.int64) % _STEPS]
    # the rim is a pixel to either side already
    return _spread(out, max(0, math.ceil(within_mm * px_per_mm - 1.25)))


def _ways_near() -> U16:
    """For each of `_STEPS` of a turn the ways of an edge that runs so, a bit each."""
    turns = np.arange(_STEPS)[:, None] * (2 * np.pi / _STEPS)
    off = (turns - np.arange(WAYS) * (2 * np.pi / WAYS) + np.pi) % (2 * np.pi) - np.pi
    bits = np.where(np.abs(off) < ONE_WAY, 1 << np.arange(WAYS), 0)
    return np.asarray(bits.sum(axis=1), np.uint16)


def _spread(bits: U16, reach: int) -> U16:
    """Each bit over a disc about its pixels: a dilation of all of them at once."""
    size = 2 * reach + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    h, w = bits.shape
    out = bits.copy()
    for dy, dx in zip(*(at - reach for at in np.nonzero(disc)), strict=True):
        to = slice(max(0, dy), h + min(0, dy)), slice(max(0, dx), w + min(0, dx))
        of = slice(max(0, -dy), h - max(0, dy)), slice(max(0, -dx), w - max(0, dx))
        out[to] |= bits[of]
    return out


_WAYS_NEAR: Final = _ways_near()
"""Of the ways of an edge, looked up by its step of a turn."""


def witnessed(so_far: U16 | U32, bands: U16) -> U32:
    """What sources show once (the low bits) and more often (the high ones), with one source more.

    Parameters
    ----------
    so_far
        What this gave for the sources before; `edge_bands` of the first, or zeros.
    bands
        `edge_bands` of the next.
    """
    again = (so_far & bands).astype(np.uint32)  # the high bits are none of the bands'
    return np.asarray(so_far | bands | again << WAYS, np.uint32)


def by_several(witnesses: U32) -> U16:
    """Of what `witnessed` gave that which sources show more often than once."""
    return (witnesses >> WAYS).astype(np.uint16)


def shown(bands: Ints, along: Floats) -> Bools:
    """Whether edges that run ``along`` so, (n, 2), are among the ``bands`` of their places.

    They run as `edge_bands` has it, their gilt a quarter turn from x towards y.
    """
    turn = np.arctan2(along[..., 1], along[..., 0])
    way = np.round(turn / (2 * np.pi / WAYS)).astype(np.int64)
    return np.asarray((bands >> (way % WAYS)) & 1 > 0)


def shown_for_long(twice: Bools) -> Bools:
    """Which places of a stretch lie in runs of `FIRM_MM` at least that two sources show."""
    ends = np.flatnonzero(np.diff(np.r_[False, twice, False])).reshape(-1, 2)
    out = np.zeros(len(twice), np.bool_)
    for begin, end in ends:
        out[begin:end] = end - begin >= FIRM_MM / STEP_MM
    return out


def way_along(points: Floats) -> Floats:
    """Which way a ring of points runs at each, (n, 2)."""
    return np.asarray(np.roll(points, -2, axis=0) - np.roll(points, 2, axis=0))


def lines_of(parts: Sequence[Ints], points: Floats) -> Floats:
    """Which way each stretch of a ring runs, radians, and where its middle lies, mm, (m, 3).

    Of a longer stretch the paint's corners at its ends are left out.
    """
    out = []
    for part in parts:
        inner = part[_INNER : len(part) - _INNER] if len(part) > 4 * _INNER else part
        x, y = points[inner[-1]] - points[inner[0]]
        out.append((np.arctan2(y, x), *points[inner].mean(axis=0)))
    return np.array(out).reshape(-1, 3)


def near_wear(disputed: U8, px_per_mm: float) -> U8:
    """1 within `NEAR_WEAR_MM` of a disputed place."""
    size = 2 * round(NEAR_WEAR_MM * px_per_mm) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    return np.asarray(cv2.dilate(disputed, disc), np.uint8)


def along_ring(curves: Floats) -> tuple[Floats, Floats]:
    """Points about `STEP_MM` apart along a ring, and where on it each lies (curve + parameter)."""
    counts = np.full(len(curves), 64, dtype=np.int64)
    fine, index = sample_curves(curves, counts)
    at = index + np.tile(np.arange(64) / 64.0, len(curves))
    closed = np.vstack([fine, fine[:1]])
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    n = max(8, round(float(way[-1]) / STEP_MM))
    s = (np.arange(n) + 0.5) * way[-1] / n
    points = np.stack([np.interp(s, way, closed[:, k]) for k in range(2)], axis=1)
    return points, np.interp(s, way, np.append(at, float(len(curves))))


def ring_length(points: Floats) -> float:
    """Length of a ring of points, (n, 2), in their unit."""
    return float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum())


def picture_at(picture: NDArray[np.integer[Any]], points: Floats, px_per_mm: float) -> Ints:
    """Values of a picture at the pixels nearest to places, (..., 2) mm from its corner."""
    px = points * px_per_mm - 0.5
    h, w = picture.shape
    column = np.clip(np.round(px[..., 0]).astype(int), 0, w - 1)
    row = np.clip(np.round(px[..., 1]).astype(int), 0, h - 1)
    return np.asarray(picture[row, column], dtype=np.int64)


def in_question(
    points: Floats, twice: NDArray[np.bool_], worn: NDArray[np.bool_], gilt_side: int
) -> tuple[list[Ints], Floats]:
    """Stretches of a ring that may be edges of losses, and their measures, as `stretches_of`.

    Parameters
    ----------
    points
        The ring, (n, 2) mm, `STEP_MM` apart.
    twice
        Whether two sources show an edge there.
    worn
        Whether it is near a place of wear, or no other source says anything there.
    gilt_side
        1 where the gilt lies on the side to which a positive turn bends, from x towards y; else -1.
    """
    parts, told = stretches_of(points, gilt_side)
    seen = np.array([np.mean(twice[part]) for part in parts])
    near = np.array([np.mean(worn[part]) for part in parts])
    asked = np.flatnonzero(near > 0.5)
    told[:, 0] = seen
    return [parts[i] for i in asked], told[asked]


def stretches_of(points: Floats, gilt_side: int) -> tuple[list[Ints], Floats]:
    """Stretches of a ring between corners, and the measures of each, (n, 7), ordered as `_ODDS`.

    Whether two sources show it is left at 0.
    """
    n = len(points)
    parts: list[Ints] = []
    told: list[tuple[float, ...]] = []
    if n < 3 * _TURN_OVER:
        return parts, np.zeros((0, len(_ODDS)))
    turn = _turns(points, _TURN_OVER) * gilt_side
    around = range(-_SAME_CORNER, _SAME_CORNER + 1)
    is_corner = np.zeros(n, np.bool_)
    for bent in (turn, -turn):
        # a bite's bottom turns the other way than its two sides and takes neither's place
        peak = np.max([np.roll(bent, j) for j in around], axis=0)
        is_corner |= (bent >= peak) & (bent > _CORNER)
    corners = np.flatnonzero(is_corner)
    fine = _turns(points, _FINE_TURN_OVER) * gilt_side
    for i, begin in enumerate(corners):
        last = i == len(corners) - 1
        end = int(corners[0]) + n if last else int(corners[i + 1])
        if not _SHORTEST <= end - begin < _LONGEST_MM / STEP_MM:
            continue
        parts.append(np.arange(begin, end) % n)
        told.append((0.0, *_shape(points, int(begin), end, turn, fine)))
    return parts, np.array(told).reshape(len(told), len(_ODDS))


def _turns(points: Floats, over: int) -> Floats:
    """Turn at each point of a ring between the chords ``over`` steps before and after, radians."""
    back, ahead = points - np.roll(points, over, axis=0), np.roll(points, -over, axis=0) - points
    cross = back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]
    return np.asarray(np.arctan2(cross, np.sum(back * ahead, axis=1)))


def _shape(points: Floats, begin: int, end: int, turn: Floats, fine: Floats) -> tuple[float, ...]:
    """How a stretch between two corners runs: the rest of `_ODDS`, in its order."""
    n = len(points)
    part = np.arange(begin, end) % n
    stretch = points[part]
    t = np.linspace(-1.0, 1.0, len(stretch))
    basis = np.stack([np.ones_like(t), t, t * t], axis=1)
    fit, *_ = np.linalg.lstsq(basis, stretch, rcond=None)
    off = float(np.sqrt(np.mean(np.sum((stretch - basis @ fit) ** 2, axis=1))))
    ends = float(turn[begin % n]), float(turn[end % n])
    rim = min(4, len(part) // 3) if len(part) > 6 else 0
    inner = part[rim : len(part) - rim]
    near, far = _ASIDE
    before = points[(begin - near) % n] - points[(begin - far) % n]
    after = points[(end + far) % n] - points[(end + near) % n]
    size = float(np.linalg.norm(before) * np.linalg.norm(after)) + 1e-9
    return (
        float(np.log((end - begin) * STEP_MM)),
        float(np.log(off + 0.005)),
        min(ends),
        max(ends),
        float(fine[inner].sum()) / _FINE_TURN_OVER,
        -float(before @ after) / size,
    )


def log_odds(told: Floats) -> Floats:
    """Log odds that stretches are edges of losses, from their measures (n, 7)."""
    changes = [change for pieces in _ODDS.values() for _, change in pieces]
    return np.asarray(_INTERCEPT + hinges(told) @ np.array([*changes, *_BOTH_CORNERS]))


def hinges(told: Floats) -> Floats:
    """What `_ODDS` and `_BOTH_CORNERS` weigh: each measure beyond each of its knots, (n, m)."""
    columns = []
    for pieces, value in zip(_ODDS.values(), told.T, strict=True):
        columns.append(value)
        columns += [np.maximum(value - knot, 0.0) for knot, _ in pieces[1:]]
    _, length, _, least, _, turning, anti = told.T
    both = np.stack([np.ones_like(anti), anti, turning, length], axis=1) * (least > 0)[:, None]
    return np.column_stack([*columns, both])
