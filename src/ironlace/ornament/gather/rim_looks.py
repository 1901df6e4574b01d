"""What a rim looks like by itself, and what such looks mean on the piece at hand.

A brush ends paint in one way and wear in another: softer or crisper, rougher, thinner beside the
rim. Which it is differs from wear to wear and from camera to camera, so that a look by itself says
nothing. But wherever another copy is fuller, a rim of ours is surely eaten, for wear lays down no
paint; and where copies agree for long, or ours is the fuller, it mostly is not. From these the
piece itself teaches what an eaten rim of it looks like, and that is asked of all its rims: also of
those along which copies agree because both were eaten alike.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ironlace.evidence.arrays import Bools, Floats
from ironlace.photographs.looked_up import looked_up

U8 = NDArray[np.uint8]

_ACROSS_MM: Final = 0.0625
"""To either side of an edge its fall is measured so far: a pixel of most photographs, since what
lies beyond is a hairline's other side."""
_BESIDE_MM: Final = 0.2
"""Inside an edge so far it is asked how full the gilt is: beyond its blur, within a hairline."""
_LEAST_FALL: Final = 8.0
"""Of 255: falls are not told from noise below. A judgement: twice the grain of a camera."""
_LONG_MM: Final = 1.0
"""Copies that are one for so long are mostly whole there: of four eaten ornaments 0.95 to 0.99."""
EATEN_MM: Final = 0.06
"""Rims farther apart are not the same edge, and one copy is surely fuller: a pixel of most
photographs."""
_LEAST_TAUGHT: Final = 300
"""Places of either kind, 0.05 mm apart, under which nothing is learnt. A judgement: 15 mm."""
_TAUGHT: Final = 2000.0
"""So many places count at most, both kinds alike: neighbours are not independent."""
_RIDGE: Final = 10.0
"""Penalty on each weight, in places, of looks of unit spread. A judgement."""
_FARTHEST: Final = 3.0
"""Standard deviations beyond which a look says no more."""
_ROUNDS: Final = 12
"""Newton steps; six settle."""


def rim_looks(points_px: Floats, inwards: Floats, picture: U8, px_per_mm: float) -> Floats:
    """How sharply paint ends along a ring's own edge and how full it is beside it, (n, 3).

    Parameters
    ----------
    points_px
        Where the picture's own edge lies, (n, 2) columns and rows, 0.05 mm apart; NaN where it has
        none.
    inwards
        Unit vectors into the gilt, (n, 2).
    picture
        Coverage, 0..255.
    px_per_mm
        Of the picture.

    Returns
    -------
    Floats
        Logarithms of its fall across the edge over a quarter of a millimetre and over one, and its
        height inside over half a millimetre; NaN where there is no edge within that.
    """
    there: Bools = np.isfinite(points_px[:, 0])
    at = np.where(there[:, None], points_px, 0.0)

    def height(aside_mm: float) -> Floats:
        places = at + inwards * (aside_mm * px_per_mm)
        return np.where(there, looked_up(picture, places).astype(np.float64), np.nan)

    fall = height(_ACROSS_MM) - height(-_ACROSS_MM)
    near, far = (np.log(np.maximum(along(fall, over), _LEAST_FALL)) for over in (5.0, 20.0))
    return np.column_stack([near, far, along(height(_BESIDE_MM), 10.0)])


def along(values: Floats, over: float) -> Floats:
    """Values along a ring, each the mean of those around that are known; NaN where none is."""
    known = np.isfinite(values)
    weight = gaussian_filter1d(known.astype(np.float64), over, mode="wrap")
    total = gaussian_filter1d(np.where(known, values, 0.0), over, mode="wrap")
    return np.where(weight > 1e-6, total / np.maximum(weight, 1e-6), np.nan)


def taught_odds(
    looks: Floats, off_mm: Floats, agreed_mm: Floats, points: Floats, inwards: Floats
) -> Floats:
    """Log odds that a rim is whole by its looks alone, were as many eaten as whole, (n,).

    A ridge logistic regression (le Cessie and van Houwelingen 1992) of the piece's own rims. The
    first two looks are taken off what place and direction make of them first: a photograph is
    sharper here than there, and across a movement softer than along it.

    Parameters
    ----------
    looks
        Of all rims of the piece, (n, k), falls first; NaN where a rim has none.
    off_mm
        How far outwards of ours another copy's rim lies, (n,); NaN where it has none.
    agreed_mm
        Length over which both are one, (n,).
    points
        Where, (n, 2) mm.
    inwards
        Unit vectors into the gilt, (n, 2).
    """
    out = np.zeros(len(looks))
    told = np.isfinite(looks).all(axis=1)
    eaten = told & (off_mm > EATEN_MM)
    whole = told & ((agreed_mm > _LONG_MM) | (off_mm < -EATEN_MM))
    if min(eaten.sum(), whole.sum()) < _LEAST_TAUGHT:
        return out
    seen = looks[told].copy()
    asked, known = whole[told], (whole | eaten)[told]
    there = _place_and_way(points[told], inwards[told])
    by_place, *_ = np.linalg.lstsq(there[asked], seen[asked, :2], rcond=None)
    seen[:, :2] -= there @ by_place
    spread = np.maximum(seen[known].std(axis=0), 1e-6)
    far = np.clip((seen - np.median(seen[asked], axis=0)) / spread, -_FARTHEST, _FARTHEST)
    # what is rougher and what is smoother than usual are not opposites
    basis = np.column_stack([np.ones(len(far)), far, np.maximum(far, 0.0)])
    out[told] = basis @ _ridge_fit(basis[known], asked[known])
    return out


def _place_and_way(points: Floats, inwards: Floats) -> Floats:
    """Terms of a smooth change over the piece and with the direction of a rim, (n, 8)."""
    at = points - points.mean(axis=0)
    x, y = (at / np.maximum(np.abs(at).max(axis=0), 1e-9)).T
    way = 2.0 * np.arctan2(inwards[:, 1], inwards[:, 0])
    return np.column_stack([np.ones(len(x)), x, y, x * x, x * y, y * y, np.cos(way), np.sin(way)])


def _ridge_fit(basis: Floats, held: Bools) -> Floats:
    """Weights that tell what is held from what is not, both kinds counting alike."""
    share = held.mean()
    total = min(_TAUGHT, float(len(held)))
    weight = np.where(held, 0.5 / share, 0.5 / (1.0 - share)) * (total / len(held))
    penalty = np.full(basis.shape[1], _RIDGE)
    penalty[0] = 1e-6
    odds = np.zeros(basis.shape[1])
    for _ in range(_ROUNDS):
        likely = 1.0 / (1.0 + np.exp(-np.clip(basis @ odds, -30.0, 30.0)))
        slope = basis.T @ (weight * (held - likely)) - penalty * odds
        bend = (basis * (weight * likely * (1.0 - likely))[:, None]).T @ basis + np.diag(penalty)
        odds = odds + np.linalg.solve(bend, slope)
    return odds
