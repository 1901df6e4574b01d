"""Capital letters drawn by us, so that a letter among figures is not read as the figure nearest it.

They read nothing: a place that they fit better than any glyph asked for is told as strange. I and O
are left out, which no one tells from 1 and 0.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from ironlace.marks.reading.numeral_styles import Line, NumeralStyle, arc, inked, straight
from ironlace.marks.reading.period_shapes import BLOWS, template_of
from ironlace.marks.reading.read_together import Logs, evidence

_STYLES = tuple(
    NumeralStyle("", width, broad, thin)
    for width, broad, thin in ((0.66, 0.1, 0.06), (0.58, 0.13, 0.11))
)
_STEM = straight((0, 0), (0, 1))
_BOWL = (
    straight((0, 0), (0.5, 0)),
    arc(0.5, 0.24, 0.45, 0.24, -90, 90),
    straight((0, 0.48), (0.5, 0.48)),
)
_ROUND = arc(0.5, 0.5, 0.5, 0.5, 45, 315)
LETTERS: dict[str, tuple[Line, ...]] = {
    "A": (straight((0, 1), (0.5, 0), (1, 1)), straight((0.2, 0.66), (0.8, 0.66))),
    "B": (_STEM, *_BOWL, arc(0.5, 0.74, 0.5, 0.26, -90, 90), straight((0, 1), (0.5, 1))),
    "C": (_ROUND,),
    "D": (
        _STEM,
        straight((0, 0), (0.45, 0)),
        arc(0.45, 0.5, 0.55, 0.5, -90, 90),
        straight((0, 1), (0.45, 1)),
    ),
    "E": (straight((1, 0), (0, 0), (0, 1), (1, 1)), straight((0, 0.48), (0.8, 0.48))),
    "F": (straight((1, 0), (0, 0), (0, 1)), straight((0, 0.48), (0.8, 0.48))),
    "G": (_ROUND, straight((0.55, 0.56), (0.98, 0.56), (0.98, 0.9))),
    "H": (_STEM, straight((1, 0), (1, 1)), straight((0, 0.48), (1, 0.48))),
    "J": (straight((0.85, 0), (0.85, 0.7)), arc(0.42, 0.7, 0.43, 0.3, 0, 170)),
    "K": (_STEM, straight((1, 0), (0, 0.62)), straight((0.36, 0.4), (1, 1))),
    "L": (straight((0, 0), (0, 1), (1, 1)),),
    "M": (straight((0, 1), (0, 0), (0.5, 0.75), (1, 0), (1, 1)),),
    "N": (straight((0, 1), (0, 0), (1, 1), (1, 0)),),
    "P": (_STEM, *_BOWL),
    "R": (_STEM, *_BOWL, straight((0.45, 0.48), (1, 1))),
    "S": (arc(0.5, 0.25, 0.45, 0.25, 340, 90), arc(0.5, 0.74, 0.5, 0.26, -90, 155)),
    "T": (straight((0, 0), (1, 0)), straight((0.5, 0), (0.5, 1))),
    "U": (
        straight((0, 0), (0, 0.66)),
        arc(0.5, 0.66, 0.5, 0.34, 180, 0),
        straight((1, 0.66), (1, 0)),
    ),
    "V": (straight((0, 0), (0.5, 1), (1, 0)),),
    "W": (straight((0, 0), (0.25, 1), (0.5, 0.2), (0.75, 1), (1, 0)),),
    "X": (straight((0, 0), (1, 1)), straight((1, 0), (0, 1))),
    "Y": (straight((0, 0), (0.5, 0.5), (1, 0)), straight((0.5, 0.5), (0.5, 1))),
    "Z": (straight((0, 0), (1, 0), (0, 1), (1, 1)),),
}
"""Centre lines in a box one wide and one high."""


def letter_strikes(along: tuple[float, float] | None = None, but: str = "") -> NDArray[np.float32]:
    """Templates of all letters in a few styles and ways worn, templates x 2 x 60 x 48.

    Parameters
    ----------
    but
        Glyphs asked for: they are not strange.
    """
    strange = np.repeat([letter not in but for letter in LETTERS], len(_STYLES) * len(BLOWS))
    return np.asarray(_strikes(along)[strange], dtype=np.float32)


@lru_cache(maxsize=4)
def _strikes(along: tuple[float, float] | None) -> NDArray[np.float32]:
    return np.stack(
        [
            template_of(inked(style, lines), blow, along)
            for lines in LETTERS.values()
            for style in _STYLES
            for blow in BLOWS
        ]
    )


def logs_by_letters(laid: Sequence[NDArray[np.float32]], slopes: float) -> Logs:
    """Log-likelihood that any letter was struck; places x correlations.

    Parameters
    ----------
    laid
        Correlation of `letter_strikes` at every shift, for each place.
    """
    told = [evidence(one, slopes) for one in laid]
    return np.stack([logsumexp(one, axis=0) - np.log(max(len(one), 1)) for one in told])
