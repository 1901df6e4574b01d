"""Whether wear crept in from the rims of the gilt, and which edges stand where the brush left them.

Verdigris eats gilt from its rims, so that each bar is thinner than it was, unevenly. What is left
has edges as smooth and as whole as painted ones; only another copy of the same ornament, eaten by
itself, tells. Wherever both still stand they lie on one another to a hundredth of a millimetre;
wherever one is eaten they lie apart, whichever way the rim faces. Two copies laid askew lie apart
as well, but on one side of a stroke the one way and on the other the other; and two painted by hand
seldom lie on one another at all. So the offset from rim to rim is asked, less what a shift of all
rims around would make of it.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.gather.loss_edges import STEP_MM
from ironlace.photographs.looked_up import looked_up

U8 = NDArray[np.uint8]

MOST_RIMS: Final = 30_000
"""Places along the rims at which two copies are compared; more tell a share no better."""
LEAST_RIMS: Final = 600
"""Fewer places tell nothing: 40 mm of outline at 16 pixels to the mm. A judgement."""
REACH_MM: Final = 0.25
"""Rims farther apart are not two states of one edge: losses of whole patches are told otherwise,
and beyond lies the other side of a hairline."""
ALONG: Final = np.deg2rad(20.0)
"""Rims of one edge run within so much of one another; eaten ones waver by ten."""
_APART_MM: Final = 0.025
"""Between the places across a rim at which its paint is looked at: half a pixel of most
photographs, between which it is interpolated."""
ONE_EDGE_MM: Final = 0.03
"""Rims so near one another are the same edge: three times what layings and noise put between them
(on four eaten ornaments 0.02 keeps a fifth fewer, and 0.04 has half as many again wrong)."""
EATEN_MM: Final = 0.06
"""Rims farther apart are not the same edge: a pixel of most photographs."""
EATEN_SHARE: Final = 0.12
"""Share of the rims of two copies that lie `EATEN_MM` to `REACH_MM` apart from which they are
eaten. Of four eaten ornaments it was 0.26 to 0.39, of three eaten from one side 0.16 to 0.18, of
ornaments worn in whole patches up to 0.096 (`bench/README.md`). A judgement between these."""
PEAKED: Final = 1.9
"""So many times more often rims lie within `ONE_EDGE_MM` than between that and `EATEN_MM`, or the
copies are not the same to a hundredth anyway and nothing is told: of a normal distribution that has
`EATEN_SHARE` beyond `EATEN_MM` it is 1.8; of three eaten ornaments it was 3 and more."""
_CELL_MM: Final = 10.0
"""Within which all rims may be shifted one way by a laying that is not true. A judgement."""
SEEN_FROM: Final = 0.96
"""How likely a rim of an eaten piece must be whole to be graded seen. Of eleven ornaments, each by
a fit without its own kind, 0.987 is true of what is kept so; from 0.93 0.977, with 3 % of all
outline more, and from 0.975 0.990, with 2 % less (`bench/README.md`)."""
DOUBTED_BELOW: Final = 0.5
"""Less likely whole than not: the edge of a loss."""
_WAVES: Final = ((4.0, 12.0, 20.0), (4.0, 12.0, 60.0))
"""How rough an edge is: less what is shorter and what is longer than so many twentieths of a
millimetre (standard deviations), on average over so many. Shorter waves tell a little more on sharp
pictures, and a blur takes them away."""
_LEAST_ROUGH_MM: Final = 0.001
"""Added to the roughness before its logarithm: what noise alone makes."""
_SHORTEST_RUN_MM: Final = 0.1
"""Added to the length over which copies agree before its logarithm: two steps along a ring."""
_RAMPS: Final[tuple[tuple[int, float, float], ...]] = (
    (0, 0.0, 1.0),
    (1, 0.03, 0.15),
    (2, 0.0, 1.0),
    (3, -1.0, 0.0),
    (3, 0.0, 1.0),
    (4, -6.0, -4.4),
    (4, -4.4, -3.6),
    (5, -5.2, -4.2),
    (5, -4.2, -3.4),
)
"""Which of `rim_measures` counts, from where to where: about the quartiles of eaten ornaments."""
_ODDS: Final = (0.64, -3.7, 0.99, 1.16, 3.36, -1.15, -1.85, -1.95, -0.33)
"""What each of `_RAMPS` adds to the log odds on its way."""
_INTERCEPT: Final = 6.27
"""Log odds where no measure counts, fitted with `_ODDS`."""
_SPREAD_MM: Final = 0.1
"""Standard deviation over which it is weighed how much fuller another copy's rim is."""


def edge_offset(picture: U8, points_px: Floats, inwards: Floats, px_per_mm: float) -> Floats:
    """How far outwards of places on a rim a picture's own edge lies, mm, (n,).

    NaN where there is none within `REACH_MM` with its paint on the same side.

    Parameters
    ----------
    picture
        Coverage, 0..255.
    points_px
        (n, 2) columns and rows.
    inwards
        Unit vectors into the gilt, (n, 2).
    px_per_mm
        Of the picture.
    """
    across = np.arange(-REACH_MM, REACH_MM + _APART_MM / 2, _APART_MM)
    places = points_px[:, None] + inwards[:, None] * (across * px_per_mm)[:, None]
    share = looked_up(picture, places, beyond=cv2.BORDER_CONSTANT).astype(np.float64) - 127.5
    into = (share[:, :-1] < 0) & (share[:, 1:] >= 0)
    rise = np.where(into, share[:, 1:] - share[:, :-1], 1.0)
    at = np.where(into, across[:-1] - share[:, :-1] / rise * _APART_MM, np.inf)
    nearest = at[np.arange(len(at)), np.abs(at).argmin(axis=1)]
    return np.where(np.isfinite(nearest), -nearest, np.nan)


def eaten_share(ours: U8, theirs: U8, known: Bools, px_per_mm: float) -> float:
    """Share of the rims of two copies that lie apart as eaten ones do; 0 where nothing tells it.

    Parameters
    ----------
    ours, theirs
        Coverage of two copies that were worn independently, 0..255.
    known
        Where both are known.
    px_per_mm
        Of all of them.
    """
    inside = (ours > 127).astype(np.uint8)
    rim = cv2.morphologyEx(inside, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    at = np.flatnonzero((rim > 0) & known)
    at = at[:: max(1, -(-len(at) // MOST_RIMS))]
    if len(at) < LEAST_RIMS:
        return 0.0
    row, column = np.divmod(at, ours.shape[1])
    points = np.stack([column, row], axis=1).astype(np.float64)
    inwards = _uphill(ours, points)
    here = edge_offset(ours, points, inwards, px_per_mm)
    there = edge_offset(theirs, points, inwards, px_per_mm)
    off = there - here
    across = points - inwards * (np.nan_to_num(there) * px_per_mm)[:, None]
    along = np.sum(_uphill(theirs, across) * inwards, axis=1) > np.cos(ALONG)
    # an edge of a loss meets another copy's rim by chance, and seldom runs along it
    told = np.isfinite(off) & (np.abs(off) < REACH_MM) & along
    off, inwards, points = off[told], inwards[told], points[told]
    if len(off) < LEAST_RIMS:
        return 0.0
    away = np.abs(off)
    one = float(np.mean(away < ONE_EDGE_MM))
    if one < PEAKED * float(np.mean((away >= ONE_EDGE_MM) & (away < EATEN_MM))):
        return 0.0
    left = np.abs(_less_a_shift(off, inwards, points / (px_per_mm * _CELL_MM)))
    apart = float(np.mean((away > EATEN_MM) & (left > EATEN_MM)))
    return apart if apart > EATEN_SHARE else 0.0


def _uphill(picture: U8, points_px: Floats) -> Floats:
    """Unit vectors into the paint at places, (n, 2)."""
    out = np.stack(
        [
            looked_up(picture, points_px + step).astype(np.float64)
            - looked_up(picture, points_px - step).astype(np.float64)
            for step in (np.array([1.5, 0.0]), np.array([0.0, 1.5]))
        ],
        axis=1,
    )
    return np.asarray(out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-9))


def _less_a_shift(off: Floats, inwards: Floats, cells: Floats) -> Floats:
    """Offsets less what one shift of all rims of a cell makes of them, if more are one then, (n,).

    Wear that eats from one side pulls a shift by least squares towards itself and off the rims
    that stand, so that half of it passes for a shift; fewer rims are one then than without it.
    """
    _, cell = np.unique(np.floor(cells).astype(np.int64), axis=0, return_inverse=True)
    cell = cell.ravel()
    left = off - _shifted(off, inwards, cell)
    now, then = (np.bincount(cell, np.abs(v) < ONE_EDGE_MM) for v in (left, off))
    return np.where((now > then)[cell], left, off)


def _shifted(off: Floats, inwards: Floats, cell: Ints) -> Floats:
    """What one shift of all rims of a cell makes of their offsets, by least squares, (n,)."""
    x, y = inwards.T
    xy, xo, yo = (np.bincount(cell, v) for v in (x * y, x * off, y * off))
    # a pixel's weight on no shift keeps a cell of parallel rims solvable
    xx, yy = (np.bincount(cell, v) + 1.0 for v in (x * x, y * y))
    size = xx * yy - xy * xy
    right, down = (yy * xo - xy * yo) / size, (xx * yo - xy * xo) / size
    return np.asarray(x * right[cell] + y * down[cell])


def fuller(ours: U8, theirs: U8, known: Bools, px_per_mm: float) -> U8:
    """1 where a copy's rim lies farther out than ours by more than is noise, by its own paint.

    For eaten copies alone: elsewhere a tenth of a millimetre is what layings may be out.
    """
    more = np.where(known, cv2.subtract(theirs, ours), np.uint8(0)).astype(np.uint8)
    # a strip of paint so wide, spread out, is so high at its middle
    height = 255.0 * EATEN_MM / (np.sqrt(2.0 * np.pi) * _SPREAD_MM)
    spread = cv2.GaussianBlur(more, (0, 0), _SPREAD_MM * px_per_mm)
    return np.asarray(spread > height, np.uint8)


def rim_measures(points: Floats, inwards: Floats, own: U8, others: U8, px_per_mm: float) -> Floats:
    """What tells whether a ring's edge is where the brush left it, (n, 6).

    Whether others show none near by; how far others' lies farther out, mm; whether it lies farther
    in; log of the length over which they are one, mm; log of how rough our own edge is, mm, in
    each of `_WAVES`.

    Parameters
    ----------
    points
        The ring, (n, 2) mm from the pictures' corner, `loss_edges.STEP_MM` apart.
    inwards
        Unit vectors into the gilt, (n, 2).
    own, others
        Coverage, 0..255: our own, and the most that others show.
    px_per_mm
        Of both.
    """
    px = points * px_per_mm - 0.5
    ours, theirs = (edge_offset(one, px, inwards, px_per_mm) for one in (own, others))
    off = theirs - ours
    length = _run_lengths(np.abs(off) < ONE_EDGE_MM) * STEP_MM
    edge = points - inwards * np.nan_to_num(ours)[:, None]
    rough = []
    for short, long, over in _WAVES:
        waves = np.sum((_smooth(edge, short) - _smooth(edge, long)) * inwards, axis=1)
        size = np.sqrt(np.maximum(_smooth(waves**2, over), 0.0))
        rough.append(np.log(size + _LEAST_ROUGH_MM))
    told = (np.isnan(off), np.nan_to_num(off), off < -ONE_EDGE_MM)
    return np.column_stack([*told, np.log(length + _SHORTEST_RUN_MM), *rough])


def ramps(measures: Floats) -> Floats:
    """What `_ODDS` weigh: how far each measure has come from where it counts to where it ends."""
    at = np.stack([measures[:, column] for column, *_ in _RAMPS], axis=1)
    low, high = np.array([ends for _, *ends in _RAMPS]).T
    return np.asarray(np.clip((at - low) / (high - low), 0.0, 1.0))


def rim_odds(measures: Floats) -> Floats:
    """Log odds that an edge of an eaten piece is where the brush left it, by `rim_measures`, (n,).

    An additive logistic regression (Cox 1958) with straight pieces whose signs were held to what
    wear does: the longer copies agree and the smoother an edge is, the likelier it is whole. Fitted
    by ``bench/ornament_eaten_odds.py``.
    """
    return np.asarray(_INTERCEPT + ramps(measures) @ np.array(_ODDS))


def _run_lengths(held: Bools) -> Ints:
    """For each place of a ring how many places on end, with it, are held; 0 where it is not."""
    if held.all() or not held.any():
        return np.where(held, len(held), 0)
    first = int(np.flatnonzero(~held)[0])  # a ring has no beginning: cut where no run is
    turned = np.roll(held, -first)
    out = np.zeros(len(turned), np.int64)
    for begin, end in np.flatnonzero(np.diff(np.r_[False, turned, False])).reshape(-1, 2):
        out[begin:end] = end - begin
    return np.roll(out, first)


def _smooth(values: Floats, over: float) -> Floats:
    """Values along a ring, each the mean of those around by a normal distribution."""
    return np.asarray(gaussian_filter1d(values, over, axis=0, mode="wrap"))
