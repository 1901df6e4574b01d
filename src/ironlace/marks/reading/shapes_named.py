"""Whether shapes of figures bear their own names, by our cuts: a plate can never tell.

A folder in which 6 and 9 are exchanged, that is shifted by one, saved mirrored or upside down reads
every plate confidently and wrong. What each shape looks like can be told: beside our cuts of all
figures the names given must do better than any other way to hand the names out.
"""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from ironlace.marks.errors import MarksError
from ironlace.marks.reading.known_shapes import plain_strikes
from ironlace.marks.reading.numeral_styles import GLYPHS
from ironlace.marks.reading.period_shapes import first_cuts
from ironlace.marks.reading.strikes import Ink, Slopes
from ironlace.marks.reading.which_way import MIRRORED, TURNED, otherwise

_GAINED = 0.35
"""Sum over figures of -log(1 - r²) by which other names must do better. Of 19 type faces none gains
anything; with two figures exchanged all gain 0.66 to 3.3."""
_GAINED_EACH = 0.12
"""The same for each figure, by which all must do better mirrored or upside down. 19 faces lose 0.33
to 1 by it."""
_LIKE = 0.5
"""The same for each figure, from which a set looks like our cuts at all: below it names are not
judged. 19 faces have 0.75 to 1.45; open letters and a script leaning by 32 degrees 0.22 to 0.26."""
_SAME = 0.985
"""Correlation from which two figures are one picture. Of 19 faces the nearest two have 0.83."""
_SHIFTS = tuple((dx, dy) for dx in range(-3, 4) for dy in range(-2, 3))
"""Steps by which shapes lie off our cuts, which are centred alike."""
_FEWEST = 3
"""Figures below which names are not looked at."""


def refuse_wrong_names(shapes: Mapping[str, tuple[Ink, ...]]) -> None:
    """Look at the names of all figures among the shapes; other glyphs are taken as they are named.

    Raises MarksError when they look exchanged, mirrored or upside down, or two are the same.
    """
    names = [g for g in GLYPHS if g in shapes]
    if len(names) < _FEWEST:
        return
    strikes = [[plain_strikes({g: (ink,)})[0] for ink in shapes[g]] for g in names]
    _refuse_same(names, [one[0] for one in strikes])
    own = [GLYPHS.index(g) for g in names]
    told = {way: _likeness(strikes, way) for way in ("", MIRRORED, TURNED)}
    at = told[""]
    rows, columns = linear_sum_assignment(-at)
    given = float(at[np.arange(len(names)), own].sum())
    like = _LIKE * len(names)
    best = float(at[rows, columns].sum())
    for way, words in ((MIRRORED, "mirrored"), (TURNED, "upside down")):
        other = float(told[way][np.arange(len(names)), own].sum())
        if other > like and other - best > _GAINED_EACH * len(names):
            raise MarksError(
                f"The shapes of the figures look {words}: save them the way they read, as on "
                "paper, not as on the punch."
            )
    if best > like and best - given > _GAINED:
        wrong = [f"{names[r]} like a {GLYPHS[c]}" for r, c in zip(rows, columns, strict=True)
                 if names[r] != GLYPHS[c]]  # fmt: skip
        raise MarksError(
            f"The shapes seem to be named wrongly: {', '.join(wrong)}. Each must bear the name of "
            "the glyph that it shows; rename them, or leave those out that look like no figure "
            "(--glyphs)."
        )


def _refuse_same(names: list[str], strikes: list[Slopes]) -> None:
    flat = np.stack(strikes).reshape(len(strikes), -1)
    alike = flat @ flat.T
    for k in range(len(names)):
        for n in range(k):
            if alike[k, n] > _SAME:
                raise MarksError(
                    f"The shapes of {names[n]} and {names[k]} are the same: put the picture of "
                    "each figure there, once."
                )


def _likeness(strikes: list[list[Slopes]], way: str) -> NDArray[np.float64]:
    """How like each of our figures each shape is, -log(1 - r²) at best; shapes x 10."""
    cuts, glyph = first_cuts()
    flat = cuts.reshape(len(cuts), -1)
    told = []
    for one in strikes:
        laid = [otherwise(strike, way) if way else strike for strike in one]
        moved = np.stack([np.roll(s, shift, (2, 1)).ravel() for s in laid for shift in _SHIFTS])
        r = (flat @ moved.T).max(axis=1)
        told.append([float(r[glyph == k].max()) for k in range(len(GLYPHS))])
    return np.asarray(-np.log1p(-(np.clip(told, 0, 0.99) ** 2)))
