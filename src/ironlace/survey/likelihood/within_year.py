"""Where in a year's output the machines of one month or week stand.

Output grows by a gamma process: what two spans of time bring is independent, and its scatter falls
the longer the span is (van Noortwijk 2009, *Reliability Engineering and System Safety* 94, 2-21).
So a low number is no wonder in January, and next to impossible in November unless work stood still.
A machine is found in proportion to what its month made. With `a` the shape of a month and 1 the
mean output of the year, a number that is the part x of it has in the month from share b to share e
of the year the density ``(I(12 a b, 12 a x) - I(12 a e, 12 a x)) / (e - b)``, I being the
regularised lower incomplete gamma function.
"""

import math
from functools import lru_cache

import numpy as np

from ironlace.evidence.arrays import Floats

_MONTHS = 12
"""Of a year: output is taken by the month, numbers begin anew by the year."""

_LOWEST, _HIGHEST, _PLACES = 1e-5, 12.0, 1_200
"""Parts of a year's mean output looked at, and places between them, even on the logarithm: steps of
about one in a hundred, a tenth of the narrowest spread."""


PIECES = (0.03, 0.1, 0.2, 0.36, 0.57, 0.78, 1.0)
"""Parts of the distribution's mass up to which it is gathered into one value: the low tail, long on
the logarithm, in smaller ones."""

WEIGHTS = np.diff((0.0, *PIECES))
"""How probable each of those values is."""


@lru_cache(maxsize=1024)
def parts_of_year(shape: float, within: float, part: float) -> Floats:
    """Logarithms of the parts of a year's output at which a number stands, each with its `WEIGHTS`.

    Parameters
    ----------
    shape
        Shape of a month's output: 12 is even, 0.6 leaves months without work.
    within, part
        Middle and width of the time in which the machine was made, as parts of the year.

    Returns
    -------
    ndarray of shape (pieces,)

    >>> even = parts_of_year(1000.0, 0.5, 1 / 12)
    >>> round(float(WEIGHTS @ np.exp(even)), 2)
    0.5
    """
    from scipy.special import gammainc

    rate = _MONTHS * shape
    places = np.geomspace(_LOWEST, _HIGHEST, _PLACES)
    begins, ends = rate * (within - part / 2.0), rate * (within + part / 2.0)
    before = gammainc(begins, rate * places) if begins > _AT_ONCE else np.ones(_PLACES)
    chance = np.maximum(before - gammainc(ends, rate * places), 0.0) * places
    reached = np.cumsum(chance)
    middle = (reached - chance / 2.0) / float(reached[-1])
    piece = np.minimum(np.searchsorted(PIECES, middle), len(PIECES) - 1)
    mass = np.bincount(piece, chance, len(PIECES))
    found = np.bincount(piece, chance * np.log(places), len(PIECES)) / np.maximum(mass, 1e-300)
    found = np.where(mass > 0.0, found, math.log(within))
    found.setflags(write=False)
    return np.asarray(found)


_AT_ONCE = 1e-9
"""Below it a year has not begun."""
