"""Where each digit of a row lies, by its own place and by its fellows'.

Digits of a machine's number stand in rows at one pitch, more or less; places given, or found, are
off by a tenth of a millimetre each, by chance. So a place is drawn towards where its row would have
it, by so much as the row is known better than the place itself (shrinkage: James and Stein, 1961).
How even the row was struck is taken from the places: of uneven ones hardly any is moved. It counts
where little is left of a stroke, for there a pit within reach passes for it.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ironlace.marks.reading.numeral_styles import TALL
from ironlace.marks.reading.places import Place

_OFF = 1.5
"""Spread by which a place is off, along and across, steps of the reading grid (0.05 mm of a figure
of 2.4 mm): places good to 0.15 mm, evenly over that circle, have half of it."""
_FEWEST = 5
"""Digits beyond the numbers fitted, below which a row tells nothing of how even it is."""
_KEPT = 0.1
"""Share of what a place is off its row that is kept at least (judged)."""


def drawn_to_rows(digits: Sequence[Place]) -> tuple[Place, ...]:
    """Digits' places drawn towards their rows, in the order given.

    Rows share their pitch and their turn and begin where they do. Too few digits stay as they are.
    """
    rows = sorted({d.row for d in digits})
    spare = len(digits) - len(rows) - 1
    if spare < _FEWEST:
        return tuple(digits)
    begins = np.array([[float(d.row == row) for row in rows] for d in digits])
    steps = np.column_stack([begins, [d.index for d in digits]])
    given = np.array([(d.x_px, d.y_px) for d in digits])
    even = steps @ np.linalg.lstsq(steps, given, rcond=None)[0]
    off = given - even
    per = float(np.median([d.height_px for d in digits])) / TALL
    uneven = 1 - (_OFF * per) ** 2 / np.maximum((off**2).sum(axis=0) / spare, 1e-9)
    moved = even + np.maximum(uneven, _KEPT) * off
    return tuple(
        replace(d, x_px=float(x), y_px=float(y)) for d, (x, y) in zip(digits, moved, strict=True)
    )
