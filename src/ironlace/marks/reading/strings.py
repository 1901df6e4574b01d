"""A row of a mark as strings with probabilities: every digit and every dot in all its doubts.

What a plate's digits share (how they are cut, how worn, whether anything is left) is in doubt for
all of them together, and so is how common dots are. So a row's chances are a mixture over what is
shared, within which places are independent: the product of each place's own chances would give a
row of nine half readable digits far less than it has, and spread the rest over strings that mix
what cannot both hold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Chances = NDArray[np.float64]

MOST = 100_000
"""Strings told of one row at most; a plate at which more are needed tells nothing anyway."""
ENOUGH = 0.95
"""Strings are told until they hold so much of the probability in sum."""
_KEPT = 20_000
"""Beginnings kept of figures, and of dots, while a row is written: 2 to the power of 14 dots."""
_SAMPLES = 4000
"""Strings drawn to tell how many are in play."""


@dataclass(frozen=True)
class Shared:
    """Chances of places that hang together by what they share.

    Attributes
    ----------
    weights
        Chance of each hypothesis of what is shared, sum 1; shape (hypotheses,).
    p
        Chance of each choice at each place under each; hypotheses x places x choices.
    """

    weights: Chances
    p: Chances

    def each(self) -> Chances:
        """Chance of each choice at each place, whatever is shared; places x choices."""
        return np.asarray(np.tensordot(self.weights, self.p, 1))

    def some(self, places: Sequence[int]) -> Shared:
        """The same of some places."""
        return Shared(self.weights, self.p[:, list(places)])


def apart(p: Chances) -> Shared:
    """Chances of places that share nothing; places x choices."""
    return Shared(np.ones(1), np.asarray(p, dtype=np.float64)[None])


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """What a row may read, a point for a struck dot, and how probable that is."""

    text: str
    p: float


@dataclass(frozen=True, slots=True)
class RowStrings:
    """Strings of a row, most probable first, and what is left to all others."""

    row: int
    hypotheses: tuple[Hypothesis, ...]
    rest_p: float


@dataclass(frozen=True)
class RowShared:
    """A row with what its places share.

    Attributes
    ----------
    glyphs
        What may stand at a place.
    digits
        From left to right; choices in the order of `glyphs`.
    dots
        For the gap after each digit; choices: none, struck.
    """

    glyphs: str
    digits: Shared
    dots: Shared


def strings_of(
    row: int, shared: RowShared, *, enough: float = ENOUGH, most: int = MOST
) -> RowStrings:
    """The most probable strings of a row until `enough` is held, or `most` are told.

    >>> digits = apart(np.array([[0.9, 0.1], [0.0, 1.0]]))
    >>> found = strings_of(0, RowShared("38", digits, apart(np.array([[0.3, 0.7], [1, 0]]))))
    >>> [(h.text, round(h.p, 2)) for h in found.hypotheses], round(found.rest_p, 2)
    ([('3.8', 0.63), ('38', 0.27), ('8.8', 0.07)], 0.03)
    """
    figures, of_figures = _likeliest(shared.digits)
    dots, of_dots = _likeliest(shared.dots)
    count = min(most, 1000)
    while True:
        first, second = _best_pairs(of_figures, of_dots, count)
        p = of_figures[first] * of_dots[second]
        told = int(np.searchsorted(np.cumsum(p), enough - 1e-12)) + 1
        if told <= len(p) or count == most:
            break
        count = min(10 * count, most)
    glyphs = shared.glyphs
    texts = ["".join(glyphs[k] for k in one) for one in figures[np.unique(first[:told])]]
    at = np.searchsorted(np.unique(first[:told]), first[:told])
    marks = [[("", ".")[k] for k in one] for one in dots]
    found = tuple(
        Hypothesis("".join(map("".join, zip(texts[i], marks[j], strict=True))), float(q))
        for i, j, q in zip(at, second, p[:told], strict=False)
    )
    return RowStrings(row, found, max(0.0, 1.0 - float(p[:told].sum())))


def _likeliest(shared: Shared) -> tuple[NDArray[np.int8], Chances]:
    """Choices at all places together, likeliest first, and how likely they are.

    Beginnings are kept by what all hypotheses together give them; of those left out none is
    likelier as a whole than as a beginning.
    """
    hypotheses, places, choices = shared.p.shape
    held = shared.weights[None, :]
    chosen = np.zeros((1, 0), np.int8)
    for k in range(places):
        grown = (held[:, None, :] * shared.p[:, k].T[None]).reshape(-1, hypotheses)
        total = grown.sum(axis=1)
        keep = np.argsort(-total, kind="stable")[:_KEPT]
        keep = keep[total[keep] > 0]
        chosen = np.column_stack([chosen[keep // choices], (keep % choices).astype(np.int8)])
        held = grown[keep]
    return chosen, held.sum(axis=1)


def _best_pairs(a: Chances, b: Chances, most: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of the largest products, largest first, out of two falling rows."""
    # the pair (i, j) has (i + 1) (j + 1) pairs before it, itself among them
    each = np.minimum(most // (np.arange(min(len(a), most)) + 1), len(b))
    first = np.repeat(np.arange(len(each)), each)
    second = np.arange(len(first)) - np.repeat(np.cumsum(each) - each, each)
    product = a[first] * b[second]
    if len(product) > most:
        some = np.argpartition(-product, most)[:most]
        first, second, product = first[some], second[some], product[some]
    order = np.lexsort((second, first, -product))
    return first[order], second[order]


def strings_in_play(shared: RowShared, rng: np.random.Generator) -> float:
    """How many equally probable strings would leave as much doubt: exponential of the entropy.

    >>> even = apart(np.full((1, 2), 0.5))
    >>> round(strings_in_play(RowShared("38", even, even), np.random.default_rng(0)), 3)
    4.0
    """
    return float(np.exp(_entropy(shared.digits, rng) + _entropy(shared.dots, rng)))


def _entropy(shared: Shared, rng: np.random.Generator) -> float:
    """Entropy of all places together, by drawing them."""
    hypotheses, places, choices = shared.p.shape
    by = rng.choice(hypotheses, size=_SAMPLES, p=shared.weights)
    logs = np.log(np.maximum(shared.p, 1e-300))
    whole = np.tile(np.log(np.maximum(shared.weights, 1e-300)), (_SAMPLES, 1))
    for k in range(places):
        up_to = np.cumsum(shared.p[by, k], axis=1)
        drawn = (rng.uniform(size=(_SAMPLES, 1)) * up_to[:, -1:] > up_to).sum(axis=1)
        whole += logs[:, k, np.minimum(drawn, choices - 1)].T
    return float(-np.mean(np.logaddexp.reduce(whole, axis=1)))
