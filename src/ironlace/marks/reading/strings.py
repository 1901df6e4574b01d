"""A row of a mark as strings with probabilities: every digit and every dot in all its doubts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

MOST = 100_000
"""Strings told of one row at most; a plate at which more are needed tells nothing anyway."""
ENOUGH = 0.95
"""Strings are told until they hold so much of the probability in sum."""


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


def strings_of(
    row: int,
    digits: Sequence[Mapping[str, float]],
    struck: Sequence[float],
    *,
    enough: float = ENOUGH,
    most: int = MOST,
) -> RowStrings:
    """The most probable strings of a row until `enough` is held, or `most` are told.

    Parameters
    ----------
    digits
        For each place from left to right the probability of each glyph.
    struck
        For the gap after each digit the probability that a dot was struck; shorter than `digits`
        where no gap was judged after the last.

    The probabilities of places are taken as independent given the photographs. The most probable
    strings are found exactly: whatever begins one of the `most` best is among the `most` best
    beginnings.

    >>> found = strings_of(0, [{"3": 0.9, "8": 0.1}, {"1": 1.0}], [0.7])
    >>> [(h.text, round(h.p, 2)) for h in found.hypotheses], round(found.rest_p, 2)
    ([('3.1', 0.63), ('31', 0.27), ('8.1', 0.07)], 0.03)
    """
    texts: list[tuple[str, ...]] = []
    chances: list[np.ndarray] = []
    for place, p in enumerate(digits):
        order = sorted(p, key=lambda glyph: -p[glyph])
        texts.append(tuple(order))
        chances.append(np.array([p[glyph] for glyph in order]))
        if place < len(struck):
            dot = struck[place]
            texts.append((".", ""))
            chances.append(np.array([dot, 1.0 - dot]))
    held = np.ones(1)
    chosen = np.zeros((1, 0), np.int8)
    for p_here in chances:
        grown = (held[:, None] * p_here[None, :]).ravel()
        keep = np.argsort(-grown, kind="stable")[:most]
        keep = keep[grown[keep] > 0]
        chosen = np.column_stack(
            [chosen[keep // len(p_here)], (keep % len(p_here)).astype(np.int8)]
        )
        held = grown[keep]
    count = int(np.searchsorted(np.cumsum(held), enough - 1e-12)) + 1
    told = tuple(
        Hypothesis("".join(texts[k][c] for k, c in enumerate(choice)), float(p))
        for choice, p in zip(chosen[:count].tolist(), held[:count].tolist(), strict=True)
    )
    return RowStrings(row, told, max(0.0, 1.0 - float(held[:count].sum())))


def strings_in_play(digits: Sequence[Mapping[str, float]], struck: Sequence[float]) -> float:
    """How many equally probable strings would leave as much doubt: exponential of the entropy.

    >>> strings_in_play([{"3": 0.5, "8": 0.5}], [0.5])
    4.0
    """
    parts = [np.array(list(p.values())) for p in digits]
    parts += [np.array([p, 1 - p]) for p in struck]
    total = sum(float(-(p[p > 0] * np.log(p[p > 0])).sum()) for p in parts)
    return round(float(np.exp(total)), 6)
