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

from ironlace.evidence.arrays import Bools, Floats
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
EATEN_SHARE: Final = 0.15
"""Share of the rims of two copies that lie `EATEN_MM` to `REACH_MM` apart from which they are
eaten. Of four eaten ornaments it was 0.26 to 0.39, of ornaments worn in whole patches up to 0.09
(`bench/README.md`). A judgement between these."""
PEAKED: Final = 1.8
"""So many times more often rims lie within `ONE_EDGE_MM` than between that and `EATEN_MM`, or the
copies are not the same to a hundredth anyway and nothing is told: of a normal distribution that has
`EATEN_SHARE` beyond `EATEN_MM` it is 1.7; of three eaten ornaments it was 3 and more."""
_CELL_MM: Final = 10.0
"""Within which all rims may be shifted one way by a laying that is not true. A judgement."""
FIRM_MM: Final = 1.2
"""Edges of two copies that run as one for so long stand where the brush left them; shorter runs
meet by chance where both are eaten. Of what is kept on two eaten ornaments 0.998 and 0.996 are true
at 1.8 mm, 0.989 and 0.980 at 1.0, with 0.03 more of all outline kept, 0.970 and 0.949 at 0.5."""
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
    left = np.abs(off - _shifted(off, inwards, points / (px_per_mm * _CELL_MM)))
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


def _shifted(off: Floats, inwards: Floats, cells: Floats) -> Floats:
    """What one shift of all rims of a cell makes of their offsets, by least squares, (n,)."""
    whole = np.floor(cells).astype(np.int64)
    _, cell = np.unique(whole, axis=0, return_inverse=True)
    cell = cell.ravel()
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


def firm(points: Floats, inwards: Floats, own: U8, others: U8, px_per_mm: float) -> Bools:
    """Which places of a ring lie in runs of `FIRM_MM` where our own edge and others' are one.

    Parameters
    ----------
    points
        The ring, (n, 2) mm from the pictures' corner, evenly spaced.
    inwards
        Unit vectors into the gilt, (n, 2).
    own, others
        Coverage, 0..255: our own, and the most that others show.
    px_per_mm
        Of both.
    """
    px = points * px_per_mm - 0.5
    ours, theirs = (edge_offset(one, px, inwards, px_per_mm) for one in (own, others))
    as_one = np.abs(theirs - ours) < ONE_EDGE_MM
    if as_one.all() or not as_one.any():
        return as_one
    step = float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).mean())
    first = int(np.flatnonzero(~as_one)[0])  # a ring has no beginning: cut where no run is
    turned = np.roll(as_one, -first)
    out = np.zeros(len(turned), np.bool_)
    for begin, end in np.flatnonzero(np.diff(np.r_[False, turned, False])).reshape(-1, 2):
        out[begin:end] = (end - begin) * step >= FIRM_MM
    return np.roll(out, first)
