"""Whether the screw's settings are what they were taken for: a zero that moved, a screw that lags.

Both show in what pulls leave over a curve, in the order in which they were taken: a zero that moved
from some row on, a lag by whether a setting was come to inwards or outwards. Whichever leaves less
is named, where it leaves so much less than a smooth curve alone that scatter would seldom do it (F
test of nested least squares, any text on linear models). Of a lag no middle is told: what is named
because it seems large is on average not so large; how large it may be at most holds either way.
"""

from dataclasses import dataclass

import numpy as np
import scipy  # its parts load when they are first asked for

from ironlace.evidence.arrays import Floats
from ironlace.running.tension.screw_curve import COVERAGE, SAME_TURNS, ScrewCurve

_MOVED_SURE = 0.005
"""Chance by scatter alone, over all rows tried, below which a zero is said to have moved."""

_LAGS_SURE = 0.01
"""Chance by scatter alone below which a screw is said to lag: one place is tried, not many."""

_FEWEST_ROWS = 7
"""Pulls below which neither is looked for: a smooth curve takes up three numbers of them."""

_FEWEST_WAYS = 2
"""Pulls that must have been come to each way before a lag is looked for."""


@dataclass(frozen=True, slots=True)
class ScrewShift:
    """What pulls in the order they were taken tell of the screw's settings.

    Attributes
    ----------
    moved
        Turns by which the later pulls stand further in, None where the zero seems to have stayed.
    lags
        Whether tensions surely differ by which way a setting was come to.
    lag_most
        Turns between inwards and outwards, at most (upper end of the 90 % interval); None where
        all settings were come to one way, or too few pulls tell.
    """

    moved: float | None
    lags: bool
    lag_most: float | None


def screw_shift(turns: Floats, tension: Floats, curve: ScrewCurve) -> ScrewShift:
    """What pulls in the order they were taken tell of a zero that moved and a screw that lags.

    Parameters
    ----------
    turns
        (n,) settings, turns inwards, in the order they were read.
    tension
        (n,) gf.
    curve
        Fitted to them.
    """
    rows = len(turns)
    if rows < _FEWEST_ROWS:
        return ScrewShift(None, False, None)
    level = np.array([curve.tension_at(float(turn)).value for turn in turns])
    left = tension - np.maximum(level, 1.0)
    slope: Floats = curve.slope_gf.value * (turns > curve.contact_turns.value).astype(np.float64)
    smooth = np.column_stack((np.ones(rows), turns, turns**2))
    late = (_tried(left, smooth, slope * (np.arange(rows) >= row)) for row in range(3, rows - 2))
    moved = min(filter(None, late), key=lambda one: one.chance, default=None)
    if moved is not None and moved.chance * (rows - 5) >= _MOVED_SURE:
        moved = None
    ways, lag = ways_come(turns), None
    if min((ways > 0).sum(), (ways < 0).sum()) >= _FEWEST_WAYS:
        lag = _tried(left, smooth, -0.5 * slope * ways)
    # a screw cannot stand ahead of the hand that turns it
    lags = lag if lag is not None and lag.turns > 0.0 and lag.chance < _LAGS_SURE else None
    if moved is not None and lags is not None:
        moved, lags = (moved, None) if moved.chance < lags.chance else (None, lags)
    return ScrewShift(
        moved.turns if moved is not None else None,
        lags is not None,
        max(lag.high, 0.0) if lag is not None else None,
    )


def ways_come(turns: Floats) -> Floats:
    """Which way each setting was come to, (n,): 1 inwards, -1 outwards, 0 where nothing tells."""
    way = np.zeros(len(turns))
    for row in range(1, len(turns)):
        step = turns[row] - turns[row - 1]
        way[row] = np.sign(step) if abs(step) > SAME_TURNS else way[row - 1]
    return way


@dataclass(frozen=True, slots=True)
class _Tried:
    """A shift that was tried: turns, the upper end of its interval, its chance by scatter alone."""

    turns: float
    high: float
    chance: float


def _tried(left: Floats, smooth: Floats, shifted: Floats) -> _Tried | None:
    design = np.column_stack((smooth, shifted))
    freedom = len(left) - design.shape[1]
    if np.linalg.matrix_rank(design) < design.shape[1]:
        return None
    found, now, *_ = np.linalg.lstsq(design, left, rcond=None)
    before = float(np.linalg.lstsq(smooth, left, rcond=None)[1].sum())
    variance = max(float(now.sum()) / freedom, 1e-9)
    chance = float(scipy.stats.f.sf((before - float(now.sum())) / variance, 1, freedom))
    sd = float(np.sqrt(variance * np.linalg.inv(design.T @ design)[-1, -1]))
    turns = float(found[-1])
    return _Tried(turns, turns + sd * float(scipy.stats.t.ppf(0.5 + COVERAGE / 2, freedom)), chance)
