"""How far two readers agree beyond chance: Cohen's kappa with its interval.

Cohen (1960) for the coefficient; Fleiss, Cohen and Everitt (1969) for its large-sample error.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ironlace.marks.errors import MarksError

Place = tuple[str, int, int]
"""Mark, row and index of a place."""
_TWO_SIDED_95 = 1.959963984540054
"""Normal quantile of a 95 % interval."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """How two readers agree.

    Attributes
    ----------
    n
        Places that both read.
    agree
        Share of them read alike.
    kappa, low, high
        Cohen's kappa and its 95 % interval; None where chance alone would agree always (both
        readers know but one glyph), since it then has no value.
    """

    n: int
    agree: float
    kappa: float | None
    low: float | None
    high: float | None


def agreement(first: Mapping[Place, str], second: Mapping[Place, str]) -> Agreement:
    """Compare two readers over the places that both read.

    Raises MarksError when they have fewer than two places in common.

    >>> a = {("serial", 0, i): g for i, g in enumerate("496217")}
    >>> b = {("serial", 0, i): g for i, g in enumerate("496211")}
    >>> round(agreement(a, b).kappa, 3)
    0.8
    """
    both = sorted(first.keys() & second.keys())
    if len(both) < 2:
        raise MarksError(
            f"The two readers have {len(both)} places in common, and two at least are needed: give "
            "both the same mark, row and index for the same place."
        )
    glyphs = sorted({first[p] for p in both} | {second[p] for p in both})
    number = {glyph: k for k, glyph in enumerate(glyphs)}
    table = np.zeros((len(glyphs), len(glyphs)))
    for place in both:
        table[number[first[place]], number[second[place]]] += 1
    return _of_table(table)


def _of_table(table: np.ndarray) -> Agreement:
    """Kappa of a table of counts, first reader down, second across."""
    n = int(table.sum())
    p = table / n
    rows, cols = p.sum(axis=1), p.sum(axis=0)
    alike, chance = float(np.trace(table)) / n, float(rows @ cols)
    if chance >= 1.0 - 1e-12:
        return Agreement(n, alike, None, None, None)
    if alike == 1.0:
        # the large-sample error is nought here, whatever n: take the exact bound of agreement
        # (Clopper and Pearson, 1934), chance held fixed
        low = ((1 - 0.95) / 2) ** (1 / n)
        return Agreement(n, 1.0, 1.0, (low - chance) / (1 - chance), 1.0)
    kappa = (alike - chance) / (1 - chance)
    # Fleiss, Cohen and Everitt (1969), equation 13
    own = np.diag(p) * (1 - (rows + cols) * (1 - kappa)) ** 2
    crossed = (cols[:, None] + rows[None, :]) ** 2 * p
    np.fill_diagonal(crossed, 0.0)
    spread = (
        own.sum() + (1 - kappa) ** 2 * crossed.sum() - (kappa - chance * (1 - kappa)) ** 2
    ) / (n * (1 - chance) ** 2)
    half = _TWO_SIDED_95 * float(np.sqrt(max(spread, 0.0)))
    return Agreement(n, alike, kappa, max(kappa - half, -1.0), min(kappa + half, 1.0))
