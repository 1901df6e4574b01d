"""What edges of losses look like on this very piece, learnt from those that are known.

Where one source shows gilt on both sides of an edge of another, that edge is a loss's; where both
show an edge, it is an outline. Such edges are many on a worn piece, and they were worn and painted
by the same hands as the edges that one source alone shows: general odds know scrolls and blotches,
these know this piece's chips and frets.

The general odds are the offset of a ridge logistic regression (le Cessie and van Houwelingen 1992)
on the same measures, so that few known edges change little. How common losses are among the edges
in question is not how common they are among the known ones; it is estimated from what the odds say
of the former (Saerens, Latinne and Decaestecker 2002).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bools, Floats
from ironlace.ornament.gather.loss_edges import (
    along_ring,
    edge_band,
    hinges,
    log_odds,
    stretches_of,
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
_ROUNDS: Final = 12
"""Newton steps of a fit, and repeats of the estimate of how common losses are; both settle sooner.
"""


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
        (n, 8): measures of each stretch, see `loss_edges.stretches_of`, and 1 for the edge of a
        loss, 0 for an outline.
    """
    outlines = contours(ours, least_area_px=0.03 * px_per_mm**2, least_hole_px=0.05 * px_per_mm**2)
    if len(outlines.starts) < 2:
        return np.zeros((0, 8))
    band = edge_band(theirs, px_per_mm)
    h, w = ours.shape
    rows = []
    for ring in fit_rings(outlines, TOLERANCE_MM * px_per_mm):
        points, _ = along_ring((ring + 0.5) / px_per_mm)
        at = np.floor(points * px_per_mm).astype(int)
        x, y = np.clip(at[:, 0], 0, w - 1), np.clip(at[:, 1], 0, h - 1)
        both = (band[y, x] > 0) & known[y, x]
        within = ~both & (theirs[y, x] > 127) & known[y, x]
        parts, told = stretches_of(points, 1)
        for part, measures in zip(parts, told, strict=True):
            outline, loss = float(both[part].mean()), float(within[part].mean())
            if max(outline, loss) > MOSTLY:
                rows.append((*measures, float(loss > outline)))
    return np.array(rows).reshape(-1, 8)


def learnt_odds(known: Floats | None, asked: Floats) -> Floats:
    """Log odds that stretches are edges of losses, by what is known of this piece.

    Parameters
    ----------
    known
        Stretches whose nature is known, (n, 8) as from `known_edges`; None for none.
    asked
        Measures of the stretches in question, (m, 7).
    """
    general = log_odds(asked)
    if known is None or not len(asked) or not 0 < known[:, 7].sum() < len(known):
        return general
    alone = known[:, :7].copy()
    alone[:, 0] = 0.0  # whether two show it is what made it known
    basis, offset, is_loss = hinges(alone), log_odds(alone), known[:, 7] > 0
    mean, spread = basis.mean(axis=0), basis.std(axis=0)
    some = spread > 1e-6
    x = ((basis - mean) / np.maximum(spread, 1e-6))[:, some]
    lone = asked.copy()
    lone[:, 0] = 0.0
    more = ((hinges(lone) - mean) / np.maximum(spread, 1e-6))[:, some]
    # beyond what is known of this piece nothing is learnt
    more = np.clip(more, x.min(axis=0), x.max(axis=0))
    weight, shift = _ridge(x, offset, is_loss)
    odds = general + shift + more @ weight
    among = float(is_loss.mean())
    return np.asarray(odds + _commoner(odds, among))


def _ridge(x: Floats, offset: Floats, is_loss: Bools) -> tuple[Floats, float]:
    """Weights and intercept that tell losses' edges from outlines, beside the offset."""
    a = np.column_stack([np.ones(len(x)), x])
    held = np.diag(np.r_[1e-3, np.full(x.shape[1], RIDGE)])
    w = np.zeros(a.shape[1])
    for _ in range(_ROUNDS):
        share = 1.0 / (1.0 + np.exp(-np.clip(offset + a @ w, -30.0, 30.0)))
        slope = a.T @ (is_loss - share) - held @ w
        bend = (a * (share * (1.0 - share))[:, None]).T @ a + held
        w += np.linalg.solve(bend, slope)
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
