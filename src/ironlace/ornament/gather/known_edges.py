"""What edges of losses look like on this very piece, learnt from those that are known.

Where one source shows gilt on both sides of an edge of another, that edge is a loss's; where both
show an edge, it is an outline. Such edges are many on a worn piece, and they were worn and painted
by the same hands as the edges that one source alone shows: general odds know scrolls and blotches,
these know this piece's chips and frets.

The general odds are the offset of a ridge logistic regression (le Cessie and van Houwelingen 1992)
on the same measures, so that few known edges change little. How uneven and how sharp the paint
ends along them is learnt from the piece alone: what is softer than the outlines may speak for a
loss, never what is sharper, for no tear is sharper than a brush. So is which way they run: a fret
runs square, a border along its rule, and what was rubbed off in one direction ends along that; a
way that the piece's own outlines never take is no outline's. And so is what an edge is in line
with, and whether another faces it (`in_line`): a scratch carries straight on from stroke to stroke
and has two sides, a fret may too. Of each known edge that is asked of the others, or it would vouch
for itself. How common losses are among the edges in question is not how common they are among the
known ones; it is estimated from what the odds say of the former (Saerens, Latinne and Decaestecker
2002), but never as less: where odds tell losses badly the estimate falls to none, and what is
wrongly called seen is the worse fault.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from ironlace.evidence.arrays import Bools, Floats
from ironlace.ornament.gather.edge_paint import paint_measures
from ironlace.ornament.gather.in_line import Edges, faced, in_line
from ironlace.ornament.gather.loss_edges import (
    SEEN_TWICE,
    along_ring,
    edge_bands,
    hinges,
    lines_of,
    log_odds,
    shown,
    stretches_of,
    way_along,
)
from ironlace.ornament.outline.contours import contours
from ironlace.ornament.outline.curve_fitting import fit_rings

U8 = NDArray[np.uint8]

MOSTLY: Final = 0.7
"""Share of a stretch that must lie within the like's gilt, or on its edge, to be known."""
TOLERANCE_MM: Final = 0.04
"""Of the curves, as they are drawn: what is measured on a stretch depends on it."""
RIDGE: Final = 16.0
"""Penalty on each weight, in known edges: general odds count like so many."""
UNEVEN_KNOTS: Final = (-4.5, -3.7, -3.0)
"""Logarithms of an edge's unevenness in mm where its weight may change: a brush's, a fine tear's, a
coarse one's."""
SOFT_ALREADY: Final = 0.06
"""Share of its sharpness that an edge lacks against outlines from which being softer says less.
Tuned on soft and sharp tears; with one slope alone, 5 to 10 % more is told wrongly."""
MEASURES: Final = 12
"""Measures of a stretch: those of `loss_edges.stretches_of` and of `edge_paint.paint_measures`,
which way it runs (its gilt a quarter turn from x towards y), radians, and where its middle lies, mm
from the picture's corner."""
WAY_WITHIN: Final = np.deg2rad(5.0)
"""How far edges of one way differ: what noise turns a short one, and a flat that lies askew."""
ANY_WAY: Final = 6.0
"""Known edges that might as well have run any other way. A judgement: of fewer little is learnt."""
AGAINST_TWICE: Final = 1.5
"""Log odds against a loss where two sources show an edge, beside what general odds say of it. Among
stretches seen twice beside wear a tenth are losses', of the others half; general odds know 1.4 of
the 2.4 between. On 31 worn ornaments 0.5 less has 0.06 % fewer places right, and 0.5 more
0.06 % more falsely seen."""
ALONE: Final = 1.0
"""Known edges in line that say nothing yet: by chance one or another lies so."""
STRAIGHT_WITHIN: Final = 0.25
"""Turning in radians over a stretch from which the way its ends lie from one another says less."""
_SHAPE: Final = 7
"""How many of them are of its shape."""
NEARLY_STRAIGHT: Final = 0.6
"""Turning in radians over a stretch from which it counts less as a piece of a line. Corners of the
paint turn short ones so; 0.25 leaves a third fewer of scratches' edges in line."""
_LENGTH, _TURNING, _WAY, _PLACE = 1, 5, 9, slice(10, 12)
"""Which of them tell how long it is, how far it turns, which way it runs, and where it lies."""
_WAYS: Final = 360
"""Steps of half a turn in which ways are counted: a tenth of `WAY_WITHIN`."""
_LOSS_ALONE: Final = 6
"""How many of the last columns of a basis may speak for a loss and never for an outline."""
_ROUNDS: Final = 12
"""Newton steps of a fit, and repeats of the estimate of how common losses are; both settle sooner.
"""
_SETTLED: Final = 1e-6
"""Change of a weight that changes no odds to speak of."""


def known_edges(ours: U8, theirs: U8, known: Bools, px_per_mm: float) -> Floats:
    """Stretches of our own outline whose nature another source tells.

    Parameters
    ----------
    ours, theirs
        Coverage of two sources that were worn independently, 0..255.
    known
        Where theirs is known.
    px_per_mm
        Of all of them.

    Returns
    -------
    Floats
        (n, 13): measures of each stretch, see `MEASURES`, and 1 for the edge of a loss, 0 for an
        outline.
    """
    outlines = contours(ours, least_area_px=0.03 * px_per_mm**2, least_hole_px=0.05 * px_per_mm**2)
    if len(outlines.starts) < 2:
        return np.zeros((0, MEASURES + 1))
    bands = edge_bands(theirs, px_per_mm)
    h, w = ours.shape
    rows = []
    for ring in fit_rings(outlines, TOLERANCE_MM * px_per_mm):
        points, _ = along_ring((ring + 0.5) / px_per_mm)
        at = np.floor(points * px_per_mm).astype(int)
        x, y = np.clip(at[:, 0], 0, w - 1), np.clip(at[:, 1], 0, h - 1)
        both = shown(bands[y, x].astype(np.int64), way_along(points)) & known[y, x]
        within = ~both & (theirs[y, x] > 127) & known[y, x]
        parts, shape = stretches_of(points, 1)
        paint = paint_measures(parts, points, 1, ours, px_per_mm)
        measured = np.column_stack([shape, paint, lines_of(parts, points)])
        for part, measures in zip(parts, measured, strict=True):
            outline, loss = float(both[part].mean()), float(within[part].mean())
            if max(outline, loss) > MOSTLY:
                rows.append((*measures, float(loss > outline)))
    return np.array(rows).reshape(-1, MEASURES + 1)


def learnt_odds(known: Floats | None, asked: Floats) -> Floats:
    """Log odds that stretches are edges of losses, by what is known of this piece.

    What two sources show is held to the same odds, less `AGAINST_TWICE`; where the piece teaches
    nothing it is outline beyond question.

    Parameters
    ----------
    known
        Stretches whose nature is known, (n, 13) as from `known_edges`; None for none.
    asked
        Measures of the stretches in question, (m, 12).
    """
    both = asked[:, 0] >= SEEN_TWICE
    if known is None or not len(asked) or not 0 < known[:, MEASURES].sum() < len(known):
        return np.where(both, -np.inf, log_odds(asked[:, :_SHAPE]))
    twice = AGAINST_TWICE * both
    is_loss = known[:, MEASURES]
    every = np.vstack([known[:, :MEASURES], asked])
    over = [faced(_edges(of), _edges(every)) for of in (known, asked)]

    def by(others: Floats, likely: Floats) -> Floats:
        lines = [_in_line(of, others, likely) for of in (known, asked)]
        return _odds_by(known, asked, [np.column_stack(of) for of in zip(lines, over, strict=True)])

    # what is likely an edge of a scratch carries its line on as known ones do
    return by(every, np.r_[is_loss, expit(by(known, is_loss) - twice)]) - twice


def _odds_by(known: Floats, asked: Floats, lined: Sequence[Floats]) -> Floats:
    """`learnt_odds` by what lies in line with, and faces, the known and those asked, (., 2)."""
    is_loss = known[:, MEASURES] > 0
    usual = float(np.median(known[~is_loss, _SHAPE + 1]))
    alone, lone = known[:, :MEASURES].copy(), asked.copy()
    alone[:, 0] = lone[:, 0] = 0.0  # whether two show it is what made it known
    ways = known[:, _WAY]
    unlike = _unlike_outlines(ways, ways, is_loss, itself=True)
    basis, upwards = _basis(alone, usual, unlike, lined[0])
    mean, spread = basis.mean(axis=0), basis.std(axis=0)
    x = (basis - mean) / np.maximum(spread, 1e-6)
    unlike = _unlike_outlines(asked[:, _WAY], ways, is_loss, itself=False)
    more = (_basis(lone, usual, unlike, lined[1])[0] - mean) / np.maximum(spread, 1e-6)
    # beyond what is known of this piece nothing is learnt
    more = np.clip(more, x.min(axis=0), x.max(axis=0))
    offset, some = log_odds(alone[:, :_SHAPE]), spread > 1e-6
    while True:
        weight, shift = _ridge(x[:, some], offset, is_loss)
        against = some.copy()
        against[some] = weight < 0.0
        against &= upwards
        if not against.any():
            break
        some &= ~against
    odds = np.asarray(log_odds(asked[:, :_SHAPE]) + shift + more[:, some] @ weight)
    once = asked[:, 0] < SEEN_TWICE
    if not once.any():
        return odds
    # where the estimate finds losses rarer than among the known the odds are too low to estimate by
    return np.asarray(odds + max(_commoner(odds[once], float(is_loss.mean())), 0.0))


def _basis(told: Floats, usual: float, unlike: Floats, lined: Floats) -> tuple[Floats, Bools]:
    """What is weighed of stretches, (n, k), and which of it may speak for a loss alone, (k,).

    ``usual`` is how sharp outlines are, ``unlike`` how little each stretch runs their ways,
    ``lined`` what lies in line with it and faces it, (n, 2).
    """
    shape, uneven, sharp = told[:, :_SHAPE], told[:, _SHAPE], told[:, _SHAPE + 1]
    softer = np.maximum(usual - sharp, 0.0) / max(usual, 1e-6)
    columns = [uneven, *(np.maximum(uneven - knot, 0.0) for knot in UNEVEN_KNOTS)]
    straight = np.exp(-((shape[:, _TURNING] / STRAIGHT_WITHIN) ** 2))
    columns += [softer, np.minimum(softer, SOFT_ALREADY), unlike, unlike * straight, *lined.T]
    basis = np.column_stack([hinges(shape), *columns])
    return basis, np.arange(basis.shape[1]) >= basis.shape[1] - _LOSS_ALONE


def _unlike_outlines(way: Floats, known: Floats, is_loss: Bools, *, itself: bool) -> Floats:
    """Log odds that stretches run the ways of known losses' edges and not of outlines, (n,).

    Densities of ways by a kernel (von Mises, over half a turn). Where the known ways are asked
    for their own (``itself``) each is left out, and its like that another source may show.
    """
    turns = np.arange(_WAYS) * 2.0 * np.pi / _WAYS
    kernel = np.exp((np.cos(turns) - 1.0) / (4.0 * WAY_WITHIN**2))
    kernel /= kernel.mean()
    at = np.round(way / np.pi * _WAYS).astype(np.int64) % _WAYS
    held = np.round(known / np.pi * _WAYS).astype(np.int64) % _WAYS
    out = []
    for of in (is_loss, ~is_loss):
        count = np.bincount(held[of], minlength=_WAYS)
        sums = np.fft.irfft(np.fft.rfft(count) * np.fft.rfft(kernel), _WAYS)[at]
        left = 2.0 * of if itself else np.zeros(len(way))
        others = np.maximum(count.sum() - left, 0.0)
        out.append(
            np.log((np.maximum(sums - left * kernel[0], 0.0) + ANY_WAY) / (others + ANY_WAY))
        )
    return np.asarray(out[0] - out[1])


def _in_line(asked: Floats, known: Floats, is_loss: Floats) -> Floats:
    """Log odds that the line on which a stretch lies is a scratch's and none of the design, (n,).

    ``is_loss`` is the share by which each of the known is a loss's.
    """
    lost, outline = in_line(_edges(asked), _edges(known), is_loss)
    return np.asarray(np.log((lost + ALONE) / (outline + ALONE)))


def _edges(told: Floats) -> Edges:
    """Stretches as pieces of lines."""
    straight = np.exp(-((told[:, _TURNING] / NEARLY_STRAIGHT) ** 2))
    return Edges(told[:, _WAY], told[:, _PLACE], np.exp(told[:, _LENGTH]), straight)


def _ridge(x: Floats, offset: Floats, is_loss: Bools) -> tuple[Floats, float]:
    """Weights and intercept that tell losses' edges from outlines, beside the offset.

    Newton's steps, halved until the fit is better: a whole one overshoots where the offset is far
    from what is known, and is then lost for good.
    """
    a = np.column_stack([np.ones(len(x)), x])
    held = np.r_[1e-3, np.full(x.shape[1], RIDGE)]

    def misfit(w: Floats) -> float:
        against = (offset + a @ w) * np.where(is_loss, -1.0, 1.0)
        return float(np.logaddexp(0.0, against).sum() + (held * w * w).sum() / 2.0)

    w = np.zeros(a.shape[1])
    now = misfit(w)
    for _ in range(_ROUNDS):
        share = expit(offset + a @ w)
        slope = a.T @ (is_loss - share) - held * w
        bend = (a * (share * (1.0 - share))[:, None]).T @ a + np.diag(held)
        step = np.linalg.solve(bend, slope)
        while (then := misfit(w + step)) > now and np.abs(step).max() > _SETTLED:
            step /= 2.0
        if then >= now:
            break
        w, now = w + step, then
    return w[1:], float(w[0])


def _commoner(odds: Floats, among: float) -> float:
    """What to add to odds learnt where a share ``among`` were losses, where another share are."""
    learnt_at = np.log(among / (1.0 - among))
    share = among
    for _ in range(_ROUNDS):
        here = np.log(share / (1.0 - share)) - learnt_at
        told = 1.0 / (1.0 + np.exp(-np.clip(odds + here, -30.0, 30.0)))
        share = float(np.clip(told.mean(), 0.02, 0.98))
    return float(np.log(share / (1.0 - share)) - learnt_at)
