"""Digits read without their punches' shapes: every cut of ours laid over every place of a plate.

All digits of a plate come of one set of punches. So the cut (width, weight) and the way each figure
is built are shared: how much each tells of the whole plate is learned from all its places together
(a mixture whose weights are fitted by expectation and maximisation; Dempster, Laird and Rubin,
1977), and a worn place is read in the light of its clear fellows.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.known_shapes import WIDE, held_down, norms, windows_of
from ironlace.marks.reading.numeral_styles import GLYPHS, WAYS, NumeralStyle, drawn
from ironlace.marks.reading.relief_slopes import ReliefSlopes, seen_along
from ironlace.marks.reading.strikes import Blow, Slopes, depth_left, placed, slopes_of

_BLOWS = (
    Blow(2.5, 2.5, 0.0, planed=False, blur=0.6),
    Blow(2.5, 3.5, 0.5, planed=True, blur=0.6),
)
_WIDTHS = (0.44, 0.55, 0.66)
"""Widths of the cuts, in heights."""
_WEIGHTS = ((0.065, 0.05), (0.11, 0.055), (0.12, 0.105), (0.19, 0.14))
"""Broad and thin strokes of the cuts, in heights: light, contrasting, even, heavy."""
_LOW = 0.69
"""Height of the low old-style figures."""
_FEW_CUTS = (1, 6, 10)
"""Groups of cuts that serve the search of places: narrow, middling, wide."""
_ROUNDS = 12
"""Rounds of fitting the shared weights; they settle in fewer."""
_FEW = 0.3
"""Places' worth of doubt that any cut may be the one (Dirichlet; judged)."""


@dataclass(frozen=True, slots=True)
class _Cut:
    """One figure as cut: which set it belongs to, which glyph, which way, and its templates."""

    group: int
    glyph: int
    way: int
    templates: tuple[Slopes, ...]


@lru_cache(maxsize=4)
def _cuts(along: tuple[float, float] | None = None) -> tuple[_Cut, ...]:
    made = []
    group = 0
    for width in _WIDTHS:
        for broad, thin in _WEIGHTS:
            for k, glyph in enumerate(GLYPHS):
                lows = (1.0, _LOW) if glyph in "012" else (1.0,)
                ways = [(w, low) for w in range(WAYS[glyph]) for low in lows]
                for n, (way, low) in enumerate(ways):
                    style = NumeralStyle(
                        "", width, broad, thin, 0.5, 0.05, low=low, built={glyph: way}
                    )
                    ink = drawn(style, glyph)
                    made.append(_Cut(group, k, n, tuple(_template(ink, b, along) for b in _BLOWS)))
            group += 1
    return tuple(made)


def _template(ink: NDArray[np.float32], blow: Blow, along: tuple[float, float] | None) -> Slopes:
    laid = seen_along(slopes_of(placed(depth_left(ink, blow))), along)
    template = held_down(laid, float(np.abs(laid).max()) / 8)
    return template / max(float(np.linalg.norm(template)), 1e-9)


@lru_cache(maxsize=4)
def cut_strikes(
    along: tuple[float, float] | None = None,
) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Templates of all cuts, templates x 2 x 60 x 48, and where each cut's begin among them."""
    strikes = np.stack([t for cut in _cuts(along) for t in cut.templates])
    return strikes, np.arange(0, len(strikes), len(_BLOWS))


@lru_cache(maxsize=4)
def _stacked_few(along: tuple[float, float] | None) -> NDArray[np.float32]:
    """The first template of a few cuts, which serve the search of places."""
    few = [c for c in _cuts(along) if c.group in _FEW_CUTS and c.way <= 1]
    return np.stack([cut.templates[0].ravel() for cut in few])


def figure_at(
    relief: ReliefSlopes, x_px: float, y_px: float, per_px: float, grain: float
) -> tuple[float, float, float]:
    """How well any figure of a few cuts fits about a spot, and how far off it lies, pixels."""
    wide = relief.patch(x_px, y_px, per_px, WIDE)
    data = held_down(wide, grain)
    norm = norms(data)
    laid = (_stacked_few(relief.along) @ windows_of(data)).max(axis=0) / norm.ravel()
    best = float(laid.max())
    i, j = np.unravel_index(int(laid.argmax()), norm.shape)
    at = (float(j), float(i)) if best > 0 else ((norm.shape[1] - 1) / 2, (norm.shape[0] - 1) / 2)
    middle = ((norm.shape[1] - 1) / 2, (norm.shape[0] - 1) / 2)
    return max(best, 0.0), (at[0] - middle[0]) * per_px, (at[1] - middle[1]) * per_px


def shared_reading(like: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log-likelihood of each figure at each place, the cut shared; shape (places, 10).

    Parameters
    ----------
    like
        Log-likelihood of every cut at every place of the plate, places x cuts.
    """
    cuts = _cuts()
    group, glyph = np.array([c.group for c in cuts]), np.array([c.glyph for c in cuts])
    slot = glyph * 100 + np.array([c.way for c in cuts])
    _, slot = np.unique(slot, return_inverse=True)
    groups, slots = int(group.max()) + 1, int(slot.max()) + 1
    of_slot = np.zeros(slots, np.int64)
    of_slot[slot] = glyph
    in_glyph = np.bincount(of_slot, minlength=10)[of_slot]
    by_group, by_way = np.full(groups, 1 / groups), 1 / in_glyph
    for _ in range(_ROUNDS):
        joint = like + np.log(by_group[group]) + np.log(by_way[slot])
        told = np.exp(joint - joint.max(axis=1, keepdims=True))
        told /= told.sum(axis=1, keepdims=True)
        whole = told.sum(axis=0)
        by_group = np.bincount(group, whole, groups) + _FEW / groups
        by_group /= by_group.sum()
        ways = np.bincount(slot, whole, slots) + 0.5 / in_glyph
        by_way = ways / np.bincount(of_slot, ways, 10)[of_slot]
    joint = like + np.log(by_group[group]) + np.log(by_way[slot])
    return np.stack([np.logaddexp.reduce(joint[:, glyph == k], axis=1) for k in range(10)], axis=1)
