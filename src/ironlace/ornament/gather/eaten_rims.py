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

from collections.abc import Sequence
from typing import Final, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.gather.loss_edges import STEP_MM
from ironlace.ornament.gather.rim_looks import EATEN_MM, along, rim_looks, taught_odds
from ironlace.photographs.looked_up import looked_up

U8 = NDArray[np.uint8]
Ring = tuple[Floats, Floats]
"""Points and unit vectors into the gilt, see `rim_measures`."""

MOST_RIMS: Final = 30_000
"""Places along the rims at which two copies are compared; more tell a share no better."""
LEAST_RIMS: Final = 600
"""Fewer places tell nothing: 40 mm of outline at 16 pixels to the mm. A judgement."""
SAME_MM: Final = 0.01
"""Rims that wear spared lie on one another so nearly: layings are out by 0.007 or so."""
HEAPED: Final = 1.3
"""So many times more rims lie within `SAME_MM` than from that to `ONE_EDGE_MM` where wear spared
some: of eight ornaments painted by hand it was 0.4 to 1.0, of twelve with eaten rims 1.6 and up."""
REACH_MM: Final = 0.25
"""Rims farther apart are not two states of one edge: losses of whole patches are told otherwise,
and beyond lies the other side of a hairline."""
ALONG: Final = np.deg2rad(20.0)
"""Rims of one edge run within so much of one another; eaten ones waver by ten."""
_SHIFTS: Final = tuple(np.arange(-0.12, 0.121, 0.02))
"""Ways a laying may be out, mm: farther ones were drawn nearer when they were laid."""
_LEAST_MORE: Final = 0.05
"""Share of a cell's rims that must be one by a shift beyond those that are without it. A judgement:
of so many shifts the best always has some more by chance."""
_APART_MM: Final = 0.025
"""Between the places across a rim at which its paint is looked at: half a pixel of most
photographs, between which it is interpolated."""
ONE_EDGE_MM: Final = 0.03
"""Rims so near one another are the same edge: three times what layings and noise put between them
(on four eaten ornaments 0.02 keeps a fifth fewer, and 0.04 has half as many again wrong)."""
EATEN_SHARE: Final = 0.12
"""Share of the rims of two copies that lie `EATEN_MM` to `REACH_MM` apart from which they are
eaten. Of four eaten ornaments it was 0.26 to 0.39, of three eaten from one side 0.16 to 0.18, of
ornaments worn in whole patches up to 0.096 (`bench/README.md`). A judgement between these."""
PEAKED: Final = 1.9
"""So many times more often rims lie within `ONE_EDGE_MM` than between that and `EATEN_MM`, or the
copies are not the same to a hundredth anyway and nothing is told: of a normal distribution that has
`EATEN_SHARE` beyond `EATEN_MM` it is 1.8; of three eaten ornaments it was 3 and more."""
PUSHED_MM: Final = 0.02
"""Rims of unlike copies whose offsets spread by more within a millimetre were pushed aside, and
painted by hand where by less: it was 0.030 to 0.038 of two ornaments smeared, 0.008 to 0.017 of ten
painted by steady hands (`bench/README.md`); a wavering hand is taken for pushed."""
STEADY: Final = 0.22
"""That spread as a share of how far rims lie apart at all, under which each was painted by hand:
such a stroke lies elsewhere, or is wider, over its length. Of twelve ornaments painted by hand it
was 0.09 to 0.21, of fourteen whose rims were eaten, worn thin or pushed aside 0.25 to 0.65."""
NOISY: Final = 0.8
"""The same share from which neighbours know nothing of one another, as of mere noise: 1 there."""
DEEP_MM: Final = 0.09
"""Rims farther apart, one and a half times `EATEN_MM`, are deeply eaten. Rims that one layer of
pixels of 0.06 mm was taken from lie nearer, and outlines along them within twice what is told."""
MOSTLY_DEEP: Final = 0.5
"""Share of the rims apart that must be so where rims alone tell of wear. Of seven ornaments mottled
(seeds 2 to 5) it was 0.64 to 0.85, of two that lost one layer of pixels 0.00."""
_LEAST_IN_A_CELL: Final = 3
"""Places of a rim under which its spread is not told: of two it is mostly their distance's."""
_CELL_MM: Final = 10.0
"""Within which all rims may be shifted one way by a laying that is not true. A judgement."""
SEEN_FROM: Final = 0.95
"""How likely a rim of an eaten piece must be whole to be graded seen. Of eleven ornaments, each by
a fit without its own kind, 0.989 is true of what is kept so, which is 0.343 of all outline; from
0.93 0.984 and 0.365, from 0.975 0.994 and 0.308 (`bench/README.md`)."""
SURELY_EATEN: Final = 0.2
"""Share of rims apart from which so much is asked; down to `EATEN_SHARE` it falls evenly to
`DOUBTED_BELOW`, so that a piece on the verge is not graded one way or quite another. Tuned: the
share of eaten ornaments that were told was 0.14 to 0.19 of light wear and 0.23 and more of deep."""
DOUBTED_BELOW: Final = 0.5
"""Less likely whole than not: the edge of a loss."""
_WAVES: Final = ((4.0, 12.0, 20.0), (4.0, 12.0, 60.0), (2.0, 6.0, 20.0))
"""How rough an edge is: less what is shorter and what is longer than so many twentieths of a
millimetre (standard deviations), on average over so many. Shorter waves tell more on sharp
pictures, and a blur takes them away: the last is asked only of what the piece itself teaches."""
_AROUND: Final = (20.0, 100.0)
"""Over so many twentieths of a millimetre along a ring it is asked how much of it lies apart."""
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
    (6, 0.0, 0.5),
    (7, 0.0, 0.5),
    (8, -4.0, -1.0),
    (8, -1.0, 1.0),
    (8, 1.0, 4.0),
)
"""Which of `rim_measures` counts, from where to where: about the quartiles of eaten ornaments."""
_ODDS: Final = (
    -0.03,
    -3.66,
    0.39,
    0.53,
    2.58,
    -0.62,
    -0.44,
    -2.08,
    -1.41,
    -0.36,
    -0.83,
    0.66,
    1.83,
    4.07,
)
"""What each of `_RAMPS` adds to the log odds on its way."""
_INTERCEPT: Final = 5.2
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


class Compared(NamedTuple):
    """How rims of two copies lie to one another.

    Attributes
    ----------
    share
        Of those that lie apart as eaten ones do, beyond `EATEN_SHARE` the piece is called eaten;
        None where nothing tells it.
    unlike_mm
        How far apart half of them lie, where they are not one all over the piece as painted by
        hand, or as paint is that was pushed aside; 0 where they are, or where nothing tells it.
    pushed
        Whether that distance changes within a millimetre of one rim, as where paint was pushed
        aside; a stroke that was painted by hand lies elsewhere, or is wider, over its length.
    thinned_mm
        How far apart half of those lie that are not one but less than `DEEP_MM` apart, where they
        are many and change as wear does: a hair of paint is gone from one or the other; else 0.
    deep
        Whether most of what `share` tells of lies farther apart than that.
    """

    share: float | None
    unlike_mm: float
    pushed: bool = False
    thinned_mm: float = 0.0
    deep: bool = False

    @property
    def eaten_share(self) -> float:
        """The share where the piece is called eaten, 0 where it is not."""
        return self.share if self.share is not None and self.share > EATEN_SHARE else 0.0


def compared(ours: U8, theirs: U8, known: Bools, px_per_mm: float) -> Compared:
    """Whether rims of two copies are one but for what wear has eaten.

    What wear took from both alike, evenly all round, no two copies tell.

    Parameters
    ----------
    ours, theirs
        Coverage of two copies that were worn independently, 0..255.
    known
        Where both are known.
    px_per_mm
        Of all of them.
    """
    met = _met(ours, theirs, known, px_per_mm)
    if met is None:
        return Compared(None, 0.0)
    off, inwards, points = met
    left = _less_a_shift(off, inwards, points / (px_per_mm * _CELL_MM))
    wavering = _wavering(left, inwards, points / px_per_mm)
    changing = wavering / max(float(np.sqrt(np.mean(left**2))), 1e-6)
    apart = np.abs(left)
    hair = (apart >= ONE_EDGE_MM) & (apart < DEEP_MM)
    worn = STEADY < changing < NOISY and float(np.mean(hair)) > EATEN_SHARE
    thinned = float(np.median(apart[hair])) if worn else 0.0
    # of strokes painted by hand some lie on one another under any shift, but not all over
    overall = np.abs(_less_a_shift(off, inwards, np.zeros(points.shape)))
    half = float(np.median(overall))
    one = float(np.mean(overall < ONE_EDGE_MM))
    if one < PEAKED * float(np.mean((overall >= ONE_EDGE_MM) & (overall < EATEN_MM))):
        if worn and float(np.mean(apart >= DEEP_MM)) < EATEN_SHARE:
            return Compared(None, 0.0, thinned_mm=thinned)
        return Compared(None, half, pushed=wavering > PUSHED_MM)
    eaten = np.minimum(np.abs(off), apart)
    eaten = eaten[eaten > EATEN_MM]
    share = len(eaten) / len(off)
    same = float(np.mean(overall < SAME_MM))
    heaped = same > HEAPED * float(np.mean((overall >= SAME_MM) & (overall < ONE_EDGE_MM)))
    if share > EATEN_SHARE and changing < STEADY and not heaped:
        return Compared(None, half)
    deep = share > 0.0 and float(np.mean(eaten > DEEP_MM)) > MOSTLY_DEEP
    return Compared(share, 0.0, thinned_mm=thinned, deep=deep)


def _met(
    ours: U8, theirs: U8, known: Bools, px_per_mm: float
) -> tuple[Floats, Floats, Floats] | None:
    """Offsets of the rims of two copies that meet, mm, ways into our gilt, and places, px.

    None where too few do.
    """
    inside = (ours > 127).astype(np.uint8)
    rim = cv2.morphologyEx(inside, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    at = np.flatnonzero((rim > 0) & known)
    at = at[:: max(1, -(-len(at) // MOST_RIMS))]
    if len(at) < LEAST_RIMS:
        return None
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
    if int(told.sum()) < LEAST_RIMS:
        return None
    return off[told], inwards[told], points[told]


def _wavering(off: Floats, inwards: Floats, points: Floats) -> float:
    """By how much offsets of rims that face one way spread within a millimetre, mm; 0 unknown."""
    way = np.round(np.arctan2(inwards[:, 1], inwards[:, 0]) / (np.pi / 4)).astype(np.int64) % 8
    cells = np.column_stack([np.floor(points).astype(np.int64), way])
    _, cell = np.unique(cells, axis=0, return_inverse=True)
    count = np.bincount(cell.ravel())
    mean = np.bincount(cell.ravel(), off) / count
    told = (count >= _LEAST_IN_A_CELL)[cell.ravel()]
    free = int(told.sum()) - int(np.count_nonzero(count >= _LEAST_IN_A_CELL))
    left = (off - mean[cell.ravel()])[told]
    return float(np.sqrt(np.sum(left**2) / free)) if free > 0 else 0.0


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
    that stand, so that half of it passes for a shift, and a laying that followed it is out itself.
    So the shift is sought under which most rims are one.
    """
    _, cell = np.unique(np.floor(cells).astype(np.int64), axis=0, return_inverse=True)
    cell = cell.ravel()
    left, most = off.copy(), np.bincount(cell, _one(off)) + _LEAST_MORE * np.bincount(cell)
    for right in _SHIFTS:
        for down in _SHIFTS:
            now = off - inwards @ np.array([right, down])
            count = np.bincount(cell, _one(now))
            better = count > most
            left = np.where(better[cell], now, left)
            most = np.where(better, count, most)
    return left


def _one(off: Floats) -> Floats:
    """How nearly rims that lie so far apart are one: 1 on one another, 0 from `ONE_EDGE_MM`."""
    return np.maximum(1.0 - np.abs(off) / ONE_EDGE_MM, 0.0)


def seen_from(share: float) -> float:
    """How likely a rim must be whole to be graded seen, by the share of the piece's that lie apart.

    A rim that is likelier eaten than whole never is, whatever the piece.
    """
    far = min(max((share - EATEN_SHARE) / (SURELY_EATEN - EATEN_SHARE), 0.0), 1.0)
    return DOUBTED_BELOW + far * (SEEN_FROM - DOUBTED_BELOW)


def fuller(ours: U8, theirs: U8, known: Bools, px_per_mm: float) -> U8:
    """1 where a copy's rim lies farther out than ours by more than is noise, by its own paint.

    For eaten copies alone: elsewhere a tenth of a millimetre is what layings may be out.
    """
    more = np.where(known, cv2.subtract(theirs, ours), np.uint8(0)).astype(np.uint8)
    # a strip of paint so wide, spread out, is so high at its middle
    height = 255.0 * EATEN_MM / (np.sqrt(2.0 * np.pi) * _SPREAD_MM)
    spread = cv2.GaussianBlur(more, (0, 0), _SPREAD_MM * px_per_mm)
    return np.asarray(spread > height, np.uint8)


def rim_measures(rings: Sequence[Ring], own: U8, others: U8, px_per_mm: float) -> list[Floats]:
    """What tells whether a piece's edges are where the brush left them, (n, 9) of each ring.

    Whether others show none near by; how far others' lies farther out, mm; whether it lies farther
    in; log of the length over which they are one, mm; log of how rough our own edge is, mm, in
    the first two of `_WAVES`; shares of the rim around, over 1 and 5 mm, that lie apart; and what
    the piece itself teaches of its looks (`rim_looks.taught_odds`).

    Parameters
    ----------
    rings
        All rings of the piece: points, (n, 2) mm from the pictures' corner, `loss_edges.STEP_MM`
        apart, and unit vectors into the gilt, (n, 2).
    own, others
        Coverage, 0..255: our own, and the most that others show.
    px_per_mm
        Of both.
    """
    told = [_ring_measures(*ring, own, others, px_per_mm) for ring in rings]
    if not told:
        return []
    looks, off, agreed = (np.concatenate([one[n] for one in told]) for n in (1, 2, 3))
    points, inwards = (np.concatenate([ring[n] for ring in rings]) for n in (0, 1))
    taught = taught_odds(looks, off, agreed, points, inwards)
    ends = np.cumsum([len(points) for points, _ in rings])[:-1]
    by_ring = zip(told, np.split(taught, ends), strict=True)
    return [np.column_stack([one[0], odds]) for one, odds in by_ring]


def _ring_measures(
    points: Floats, inwards: Floats, own: U8, others: U8, px_per_mm: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """A ring's own measures, (n, 8); its looks, (n, 5); offsets and agreed lengths, mm, (n,)."""
    px = points * px_per_mm - 0.5
    ours, theirs = (edge_offset(one, px, inwards, px_per_mm) for one in (own, others))
    off = theirs - ours
    length = np.asarray(_run_lengths(np.abs(off) < ONE_EDGE_MM) * STEP_MM, np.float64)
    edge = points - inwards * np.nan_to_num(ours)[:, None]
    rough = []
    for short, long, over in _WAVES:
        waves = np.sum((_smooth(edge, short) - _smooth(edge, long)) * inwards, axis=1)
        size = np.sqrt(np.maximum(_smooth(waves**2, over), 0.0))
        rough.append(np.log(size + _LEAST_ROUGH_MM))
    apart = np.where(np.isfinite(off), np.abs(off) > EATEN_MM, np.nan)
    around = [np.nan_to_num(along(apart, over)) for over in _AROUND]
    told = (np.isnan(off), np.nan_to_num(off), off < -ONE_EDGE_MM)
    measures = np.column_stack([*told, np.log(length + _SHORTEST_RUN_MM), *rough[:2], *around])
    at = px - inwards * (ours * px_per_mm)[:, None]
    looks = np.column_stack([rim_looks(at, inwards, own, px_per_mm), rough[2], rough[0]])
    return measures, looks, off, length


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
