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
from ironlace.marks.reading.known_shapes import held_down, laid_out
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
by 1.4 a third to three quarters. Noise may gain most of little, and moves no plate."""
_SIZES = (0.7, 0.82, 1.2, 1.4)
"""Heights, against those given, at which digits are tried."""
_LOOK = (96, 40)
"""Rows and columns in which it is looked how far up and down the metal is struck."""
_STRUCK = 0.4
"""Share of the strikes' slopes, above the ground's, from which a level is struck."""
_STANDS_OUT = 1.1
"""How much rougher than the ground struck levels must be for their height to be told."""
_HIGH = (0.86, 1.25)
"""Height of what is struck, against the table's, out of which the table is wrong. Of 41 right
tables that stand out it was 0.94 to 1.15; of heights 1.4 times too large 0.69 to 0.86, of heights
0.7 times as large 1.34 to 1.56 (one 0.94)."""
_FLANKS = 1.05
"""Height of a strike with its flanks, against its face's."""
_HOLE = 5
"""Levels of a figure that may be bare, and of bare metal that may be rough."""
_WHOLE = 0.5
"""Share of all struck levels that must hang together for their height to be told (judged)."""
_UPPER = 0.7
"""Digits of which the upper share is told by: some old-style figures are lower."""
_LEAST_DIGITS = 3
"""Digits below which nothing is concluded."""


def moved_to_digits(
    relief: ReliefSlopes,
    places: Sequence[Place],
    grain: float,
    strikes: NDArray[np.float32],
    *,
    known: bool,
) -> tuple[tuple[Place, ...], str]:
    """Places moved to where the digits lie, all alike, and what to say of it.

    Parameters
    ----------
    strikes
        A few figures, templates x 2 x 60 x 48, each of norm 1.
    known
        Whether they are those that were struck; a narrow face, rightly placed, may fit our cuts
        better at a lower height.

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
    # of one photograph shadows, which reach far beyond a strike, pass for slopes
    high = _struck_height(relief, digits, grain) if relief.along is None else None
    if high is not None and _off(high) and _each_half_off(relief, digits, grain):
        raise MarksError(
            f"The digits are about {high / _FLANKS:.2g} times as high as the table of places says "
            f"({some[0].height_px:g} pixels): mend height_px, or the picture it is for."
        )
    for size in _SIZES if known else ():
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


def _off(high: float) -> bool:
    return not _HIGH[0] <= high <= _HIGH[1]


def _each_half_off(relief: ReliefSlopes, digits: Sequence[Place], grain: float) -> bool:
    """Whether every other digit, and the others, are struck too high or low each by themselves.

    Of plates worn until little is left a few large pits pass for what was struck, but not twice.
    """
    if len(digits) < 2 * _LEAST_DIGITS:
        return True
    halves = [_struck_height(relief, digits[k::2], grain) for k in (0, 1)]
    return all(high is not None and _off(high) for high in halves)


def _struck_height(relief: ReliefSlopes, digits: Sequence[Place], grain: float) -> float | None:
    """How high the metal is struck, in heights of the table; None where it does not stand out."""
    levels = []
    for d in digits:
        seen = held_down(relief.patch(d.x_px, d.y_px, d.height_px / TALL, _LOOK), grain)
        levels.append((seen**2).sum(axis=0).mean(axis=1))
    rough = np.quantile(levels, _UPPER, axis=0)
    rough = np.convolve(np.pad(rough, 2, mode="edge"), [0.1, 0.2, 0.4, 0.2, 0.1], "valid")
    ground = max(float(np.quantile(rough, 0.1)), 1e-9)
    above = float(np.quantile(rough - ground, 0.9))
    if above < _STANDS_OUT * ground:
        return None
    levels_struck = (rough - ground > _STRUCK * above).astype(np.uint8)[:, None]
    closed = cv2.morphologyEx(levels_struck, cv2.MORPH_CLOSE, np.ones((_HOLE, 1), np.uint8))
    _, pieces = cv2.connectedComponents(closed.astype(np.uint8))
    at = np.flatnonzero(closed[:, 0])
    middle = int(at[np.argmin(np.abs(at - (_LOOK[0] - 1) / 2))])
    high = int((pieces == pieces[middle]).sum())
    # figures of dots, or of bars that are left of them, are no lower figures
    return high / TALL if high > _WHOLE * len(at) else None


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
        cut = laid_out(data, _STEP)
        norm = np.sqrt(np.maximum(np.einsum("ij,ij->i", cut, cut), 4.0))
        fits = np.maximum((cut @ flat.T).max(axis=1) / norm, 0.0)
        logs = likelihood(fits.reshape(whole.shape).astype(np.float64), _SLOPES)
        whole += cv2.dilate(logs, np.ones((2 * _EACH + 1,) * 2, np.uint8))
    return whole
