"""Digits read without their punches' shapes: every cut of ours laid over every place of a plate.

All digits of a plate come of one set of punches. So the cut (width, weight) is shared, and a worn
place is read in the light of its clear fellows (`read_together`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from ironlace.marks.reading.known_shapes import WIDE, held_down, norms, windows_of
from ironlace.marks.reading.numeral_styles import GLYPHS, WAYS, NumeralStyle, drawn
from ironlace.marks.reading.read_together import Logs, evidence
from ironlace.marks.reading.relief_slopes import ReliefSlopes, seen_along
from ironlace.marks.reading.strikes import Blow, Slopes, depth_left, placed, slopes_of

BLOWS = (
    Blow(2.5, 2.5, 0.0, planed=False, blur=0.6),
    Blow(2.5, 3.5, 0.5, planed=True, blur=0.6),
)
"""Ways worn in which figures that no one gave the shapes of are laid."""
_WIDTHS = (0.44, 0.55, 0.66)
"""Widths of the cuts, in heights."""
_WEIGHTS = ((0.065, 0.05), (0.11, 0.055), (0.12, 0.105), (0.19, 0.14))
"""Broad and thin strokes of the cuts, in heights: light, contrasting, even, heavy."""
_LEANING = (
    *((width, *weight, 0.2) for width in (0.48, 0.6) for weight in _WEIGHTS),
    *((0.55, *_WEIGHTS[k], 0.28) for k in (1, 3)),
)
"""Width, broad and thin strokes, and lean as a tangent, of the cuts that lean as well: 11 and 16
degrees, as leaning faces do. With one lean 1s of a steeper face were read as 7, surely; with two
widths of 0.48 and 0.6, one at each lean, a face of 11 degrees lost three digits of 18."""
_LOW = 0.69
"""Height of the low old-style figures."""
_FEW_CUTS = (1, 6, 10)
"""Groups of cuts that serve the search of places: narrow, middling, wide."""
COUNT = 0.35
"""Share of a place's independent slopes that count: our cuts are not the punches struck. Fitted on
tuning plates, where 0.6, or bare metal's detail evened out, loses more."""
CREDIT = 0.25
"""How much bare metal may speak for a cut (`read_together`; fitted on tuning plates: 0 states 0.02
too little at wear 0.8, 0.5 the same too much at 0.95)."""
COUNT_OF_ONE, CREDIT_OF_ONE = 1.0, 1.0
"""The same of one photograph, which holds a third as many slopes (fitted with `OFF_OF_ONE`)."""
OFF, OFF_OF_ONE = 0.0, 0.0175
"""Spread by which fits of our cuts, figure against figure, differ from those of the punches struck
(`bare_metal.moderated`): of a relief none beside `COUNT`, and of one photograph, fitted on 24
plates of twelve tuning faces, six of them leaning; each face left out in turn chose the same. Of
432 digits 0.023 were over 0.9 and wrong before, none after."""
_MIXED = 0.1
"""Chance that a digit comes of another set of punches than its fellows (judged)."""


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
    sets = [(width, *weight, 0.0) for width in _WIDTHS for weight in _WEIGHTS]
    sets += list(_LEANING)
    for group, (width, broad, thin, lean) in enumerate(sets):
        for k, glyph in enumerate(GLYPHS):
            lows = (1.0, _LOW) if glyph in "012" else (1.0,)
            ways = [(w, low) for w in range(WAYS[glyph]) for low in lows]
            for n, (way, low) in enumerate(ways):
                style = NumeralStyle(
                    "", width, broad, thin, 0.5, 0.05, low=low, lean=lean, built={glyph: way}
                )
                ink = drawn(style, glyph)
                made.append(_Cut(group, k, n, tuple(template_of(ink, b, along) for b in BLOWS)))
    return tuple(made)


def template_of(ink: NDArray[np.float32], blow: Blow, along: tuple[float, float] | None) -> Slopes:
    """Slopes of an ink struck and worn, norm 1; shape (2, 60, 48)."""
    laid = seen_along(slopes_of(placed(depth_left(ink, blow))), along)
    template = held_down(laid, float(np.abs(laid).max()) / 8)
    return template / max(float(np.linalg.norm(template)), 1e-9)


@lru_cache(maxsize=4)
def cut_strikes(
    along: tuple[float, float] | None = None,
) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Templates of all cuts, templates x 2 x 60 x 48, and where each cut's begin among them."""
    strikes = np.stack([t for cut in _cuts(along) for t in cut.templates])
    return strikes, np.arange(0, len(strikes), len(BLOWS))


@lru_cache(maxsize=1)
def first_cuts() -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """The first template of every cut, templates x 2 x 60 x 48, and the number of its figure."""
    cuts = _cuts()
    return np.stack([c.templates[0] for c in cuts]), np.array([c.glyph for c in cuts])


def figures_of_cuts() -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """The number of the figure of each of `cut_strikes`, and whether it is among the few."""
    cuts = _cuts()
    few = [[c.group in _FEW_CUTS and n == 0 for n in range(len(BLOWS))] for c in cuts]
    return np.repeat([c.glyph for c in cuts], len(BLOWS)), np.ravel(few)


@lru_cache(maxsize=4)
def few_strikes(along: tuple[float, float] | None = None) -> NDArray[np.float32]:
    """The first template of a few cuts, which serve the search of places."""
    few = [c for c in _cuts(along) if c.group in _FEW_CUTS and c.way <= 1]
    return np.stack([cut.templates[0] for cut in few])


def figure_at(
    relief: ReliefSlopes, x_px: float, y_px: float, per_px: float, grain: float
) -> tuple[float, float, float]:
    """How well any figure of a few cuts fits about a spot, and how far off it lies, pixels."""
    wide = relief.patch(x_px, y_px, per_px, WIDE)
    data = held_down(wide, grain)
    norm = norms(data)
    few = few_strikes(relief.along)
    laid = (few.reshape(len(few), -1) @ windows_of(data)).max(axis=0) / norm.ravel()
    best = float(laid.max())
    i, j = np.unravel_index(int(laid.argmax()), norm.shape)
    at = (float(j), float(i)) if best > 0 else ((norm.shape[1] - 1) / 2, (norm.shape[0] - 1) / 2)
    middle = ((norm.shape[1] - 1) / 2, (norm.shape[0] - 1) / 2)
    return max(best, 0.0), (at[0] - middle[0]) * per_px, (at[1] - middle[1]) * per_px


def logs_by_cuts(laid: Sequence[NDArray[np.float32]], slopes: float) -> Logs:
    """Log-likelihood of each figure; places x 10 x (cuts and ways worn) x correlations.

    Parameters
    ----------
    laid
        Correlation of `cut_strikes` at every shift, for each place.
    slopes
        Independent slopes of a place that count.

    A figure may be built in any of its ways, each as likely; one digit in ten may come of another
    set than its fellows.
    """
    cuts = _cuts()
    group, glyph = np.array([c.group for c in cuts]), np.array([c.glyph for c in cuts])
    groups = int(group.max()) + 1
    told = []
    for one in laid:
        each = evidence(one, slopes).reshape(len(cuts), len(BLOWS), -1)
        found = np.empty((len(GLYPHS), groups, *each.shape[1:]))
        for k, n in np.ndindex(*found.shape[:2]):
            part = each[(glyph == k) & (group == n)]
            found[k, n] = logsumexp(part, axis=0) - np.log(len(part))
        any_set = logsumexp(found, axis=1, keepdims=True) - np.log(groups)
        found = np.logaddexp(found + np.log1p(-_MIXED), any_set + np.log(_MIXED))
        told.append(found.reshape(len(GLYPHS), -1, found.shape[-1]))
    return np.stack(told)
