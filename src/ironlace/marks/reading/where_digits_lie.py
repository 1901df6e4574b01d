"""Whether digits lie where they were said to, and are as high: a table may be off as a whole.

A table of places measured in another picture, or with another scale, is off by the same for all its
places. Each digit taken by itself then fits some wrong figure well enough to be read. So a few
figures are laid about the places further than any one of them may lie off, and at other sizes.
"""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.marks.errors import MarksError
from ironlace.marks.reading.bare_metal import likelihood
from ironlace.marks.reading.known_shapes import held_down
from ironlace.marks.reading.numeral_styles import TALL
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.marks.reading.strikes import PATCH

_REACH, _STEP = 30, 3
"""Steps of the reading grid about a place that are looked at: 1.5 mm, every 0.15 mm."""
_EACH = 1
"""Steps of `_STEP` that each place may lie off by itself."""
_USUAL = 3
"""Steps of the reading grid that all places may lie off together, as nothing to speak of."""
_LOOKED_AT = 10
"""Digits that are looked at, along all rows."""
_SLOPES = 60.0
"""Independent slopes that a fit counts for: few, as one figure must not move all (judged)."""
_CLEAR, _GAINED = 45.0, 0.3
"""Log-likelihood at another place, or height, from which digits are clear there, and the share of
it that must be gained. Of 24 readings of right tables clear ones gained nothing; of heights wrong
by 1.4 a third to three quarters. Noise may gain most of little, and moves no plate; narrow
faces gain some at a lower height where only our cuts are laid."""
_SIZES = (0.7, 0.82, 1.2, 1.4)
"""Heights, against those given, at which digits are tried."""
_LEAST_DIGITS = 3
"""Digits below which nothing is concluded."""


def moved_to_digits(
    relief: ReliefSlopes, places: Sequence[Place], grain: float, strikes: NDArray[np.float32]
) -> tuple[tuple[Place, ...], str]:
    """Places moved to where the digits lie, all alike, and what to say of it.

    Parameters
    ----------
    strikes
        A few figures, templates x 2 x 60 x 48, each of norm 1.

    Raises MarksError when digits fit far better at another height.
    """
    digits = [one for one in places if one.kind == "digit"]
    if len(digits) < _LEAST_DIGITS:
        return tuple(places), ""
    some = [digits[k] for k in np.linspace(0, len(digits) - 1, _LOOKED_AT).astype(int)]
    some = list(dict.fromkeys(some))
    found = _laid_about(relief, some, grain, strikes, 1.0)
    far = np.hypot(*np.meshgrid(*[np.arange(-_REACH, _REACH + 1, _STEP)] * 2))
    usual = float(found[far <= _USUAL].max())
    best = float(found.max())
    for size in _SIZES:
        other = float(_laid_about(relief, some, grain, strikes, size).max())
        if _better(other, best):
            raise MarksError(
                f"The digits fit far better about {size:g} times as high as the table of places "
                f"says ({some[0].height_px:g} pixels): mend height_px, or the picture it is for."
            )
    if not _better(best, usual):
        return tuple(places), ""
    # of places that do alike the middle: the wobble allowed to each makes a plateau
    top = found > best - 1.0
    ys, xs = np.nonzero(top)
    dx, dy = (float(np.mean(at)) * _STEP - _REACH for at in (xs, ys))
    per = float(np.median([d.height_px for d in digits])) / TALL
    moved = tuple(replace(p, x_px=p.x_px + dx * per, y_px=p.y_px + dy * per) for p in places)
    mm = per * relief.mm_per_px
    return moved, (
        f"The places given lie {np.hypot(dx, dy) * mm:.1f} mm off the digits ({abs(dx) * mm:.1f} "
        f"too far {'left' if dx > 0 else 'right'}, {abs(dy) * mm:.1f} too "
        f"{'high' if dy > 0 else 'low'}): all were moved by that; look whether the table belongs "
        "to this picture."
    )


def _better(other: float, given: float) -> bool:
    return other > _CLEAR and other - given > _GAINED * other


def _laid_about(
    relief: ReliefSlopes,
    digits: Sequence[Place],
    grain: float,
    strikes: NDArray[np.float32],
    size: float,
) -> NDArray[np.float64]:
    """Log-likelihood of the digits lying off by each shift, so many times as high."""
    flat = strikes.reshape(len(strikes), -1)
    whole = np.zeros((2 * _REACH // _STEP + 1,) * 2)
    shape = (PATCH[0] + 2 * _REACH, PATCH[1] + 2 * _REACH)
    for d in digits:
        data = held_down(relief.patch(d.x_px, d.y_px, size * d.height_px / TALL, shape), grain)
        cut = np.lib.stride_tricks.sliding_window_view(data, PATCH, axis=(1, 2))
        cut = cut[:, ::_STEP, ::_STEP].transpose(0, 3, 4, 1, 2).reshape(flat.shape[1], -1)
        norm = np.sqrt(np.maximum((cut**2).sum(axis=0), 4.0))
        fits = np.maximum((flat @ np.ascontiguousarray(cut)).max(axis=0) / norm, 0.0)
        logs = likelihood(fits.reshape(whole.shape).astype(np.float64), _SLOPES)
        whole += cv2.dilate(logs, np.ones((2 * _EACH + 1,) * 2, np.uint8))
    return whole
