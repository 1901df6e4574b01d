"""What may be read for what was struck: figures that look alike, dots worn away or not meant.

Every rule here is a whole probability distribution over what is read, so that all schemes share
out the same unit of probability over the same marks.
"""

from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.markings import Glyph
from ironlace.survey.likelihood.assumptions import Assumptions

CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
OTHER = len(CHARACTERS)
SIZE = OTHER + 1
FIGURES = 10
"""Figures come first among the characters."""

# Pairs that a worn or shallow punch, or a small photograph, confuses; common practice, no source.
_ALIKE: tuple[tuple[str, float], ...] = (
    *(("38", 3.0), ("68", 2.0), ("56", 2.0), ("17", 3.0), ("06", 2.0), ("08", 1.5), ("09", 1.0)),
    *(("49", 1.5), ("27", 1.0), ("35", 2.0), ("14", 1.0), ("89", 1.0), ("0O", 0.5), ("0D", 0.2)),
    *(("1I", 0.5), ("1L", 0.2), ("5S", 0.3), ("8B", 0.3), ("2Z", 0.2), ("6G", 0.2), ("7T", 0.1)),
    *(("OQ", 2.0), ("OD", 2.0), ("CG", 2.0), ("EF", 2.0), ("PR", 2.0), ("BR", 1.0), ("IL", 2.0)),
    *(("MN", 2.0), ("UV", 2.0), ("VY", 1.0), ("KX", 1.0), ("CO", 1.0), ("HN", 1.0), ("IT", 1.0)),
)

_ALIKE_PAIRS = frozenset(frozenset(pair) for pair, _ in _ALIKE)

STRAY_KINDS: dict[str, float] = {
    "·": 0.70,
    " ": 0.20,
    "°": 0.02,
    "-": 0.03,
    "/": 0.01,
    "★": 0.01,
    "✚": 0.01,
    "◆": 0.01,
    "&": 0.01,
}
"""What an accident looks like: mostly a pit that passes for a dot, or a gap."""


def look_alike(one: str, other: str) -> bool:
    """Whether worn figures or letters are taken for each other.

    >>> look_alike("3", "8"), look_alike("3", "4")
    (True, False)
    """
    return frozenset((one, other)) in _ALIKE_PAIRS


def confusion(assumptions: Assumptions) -> NDArray[np.float64]:
    """Return the chance of reading each character (column) for each struck (row).

    Returns
    -------
    ndarray of shape (37, 37)
        Figures, letters, and one row and column for all other characters. Rows sum to 1.
    """
    return _confusion(assumptions.misread_rate, assumptions.confusable_share)


@lru_cache(maxsize=64)
def _confusion(rate: float, share: float) -> NDArray[np.float64]:
    alike = np.zeros((SIZE, SIZE))
    for pair, weight in _ALIKE:
        i, j = (CHARACTERS.index(c) for c in pair)
        alike[i, j] = alike[j, i] = weight
    # Any misreading: nine in ten stay among figures for a figure, among letters for a letter.
    figure = np.arange(SIZE) < FIGURES
    same = figure[:, None] == figure[None, :]
    same[OTHER] = same[:, OTHER] = False
    anything = np.zeros((SIZE, SIZE))
    for here, part in ((same, 0.9), (~same, 0.1)):
        allowed = here & ~np.eye(SIZE, dtype=bool)
        counts = allowed.sum(axis=1, keepdims=True)
        anything += np.where(allowed, part / np.maximum(counts, 1), 0.0)
    anything /= anything.sum(axis=1, keepdims=True)
    total = alike.sum(axis=1, keepdims=True)
    likeness = np.where(total > 0, alike / np.where(total > 0, total, 1.0), anything)
    matrix = rate * (share * likeness + (1.0 - share) * anything)
    matrix[np.arange(SIZE), np.arange(SIZE)] = 1.0 - rate
    matrix.setflags(write=False)
    return matrix


def reading_weights(glyph: Glyph, doubt: float) -> NDArray[np.float64]:
    """Return how far one glyph, as reported, admits each read character.

    A clear glyph admits itself; one of several admits each; an unread one admits all; a doubtful
    one keeps `doubt` for all alike. The scale is the same under every scheme and cancels.

    Returns
    -------
    ndarray of shape (37,)
    """
    if not glyph.options:
        return np.ones(SIZE)
    weights = np.zeros(SIZE)
    for option in glyph.options:
        found = CHARACTERS.find(option)
        weights[found if found >= 0 else OTHER] = 1.0
    if glyph.doubtful:
        weights = (1.0 - doubt) * weights + doubt / SIZE
    return weights


def gap_probability(
    seen: tuple[str, ...], meant: tuple[str, ...], assumptions: Assumptions, kept: float = 1.0
) -> float:
    """Return the chance of seeing these separators where those were meant.

    Parameters
    ----------
    seen, meant
        Separator glyphs from left to right; either may be empty.
    assumptions
        Rates of wear, change and accident.
    kept
        Chance that a meant separator was struck at all (0.5 for `sometimes`).

    >>> a = Assumptions()
    >>> round(gap_probability(("·",), ("·",), a), 3), round(gap_probability((), ("·",), a), 3)
    (0.931, 0.05)
    """
    if not meant:
        if not seen:
            return 1.0 - assumptions.stray_rate
        return assumptions.stray_rate * STRAY_KINDS.get(seen[0], 0.0) if len(seen) == 1 else 0.0
    if len(seen) > len(meant):
        return 0.0
    present = kept * (1.0 - assumptions.worn_rate)
    total = 0.0
    for shown in product((False, True), repeat=len(meant)):
        if sum(shown) != len(seen):
            continue
        chance, at = 1.0, 0
        for glyph, is_shown in zip(meant, shown, strict=True):
            if not is_shown:
                chance *= 1.0 - present
                continue
            if seen[at] == glyph:
                chance *= present * (1.0 - assumptions.changed_rate)
            else:
                others = 1.0 - STRAY_KINDS.get(glyph, 0.0)
                chance *= (
                    present * assumptions.changed_rate * STRAY_KINDS.get(seen[at], 0.0) / others
                )
            at += 1
        total += chance
    return total
