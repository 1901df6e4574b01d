"""Tension against the turns of its screw: a floor, a slope, and where the spring takes hold.

Five things go into it (the feed's tension, the friction at the guides, that of the discs, the
spring's rate, its preload), and readings at screw settings tell three: a floor, a slope per turn,
and the turn of contact. The discs add twice friction times load, and the load grows with the turns
(additive tensioner: textile winding, see docs/running.md).
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from ironlace.evidence.arrays import Floats
from ironlace.running.errors import RunningError

COVERAGE = 0.9
"""Share of intervals that hold the truth."""

EIGHTHS = 8.0
"""The screw is turned by eighths of a turn."""

_CONTACTS = 81
"""Turns of contact that are tried, evenly spaced."""

_BEFORE = 2.0
"""Turns before the first reading at which the spring may already have taken hold."""

_PRIOR_FREEDOM = 0.25
"""Readings' worth of belief in a stated scatter: a stated one may be three times too small."""

_GROWS = (0.0, 0.5, 0.9, 0.98)
"""Shares of the scatter's variance, at the middle tension, that grow with the tension: friction's
does, the dial's does not, and the readings decide."""

_PRIOR_SHARE = 0.06
"""Scatter taken for likely beforehand where none was stated, as a share of the middle tension."""

_DRAWS = 41
"""Points at which each contact's law is taken, for the intervals of what follows from it."""

_FLOOR_KNOWN_SHARE = 0.35
"""A floor whose interval is wider than so great a share of the middle tension is not known."""


_CONTACT_KNOWN_SHARE = 0.6
"""A contact that may lie over so great a share of where it could is not known."""


_CONTACT_NEAR = 0.1
"""Turns past contact at which the lowest setting still counts as read at the floor."""


@dataclass(frozen=True, slots=True)
class Bound:
    """A figure with its 90 % interval."""

    value: float
    low: float
    high: float

    @property
    def half(self) -> float:
        """Half the width of the interval."""
        return 0.5 * (self.high - self.low)


@dataclass(frozen=True, slots=True)
class ScrewCurve:
    """What readings at screw settings tell.

    Attributes
    ----------
    floor_gf
        Tension with the spring idle.
    slope_gf
        Tension gained with each turn, once the spring bears.
    contact_turns
        Where the spring takes hold, turns.
    scatter_gf, scatter_share
        Of one reading, as the readings have it: gf at the middle, and as a share of it.
    repeat_gf
        Scatter of repeats at one setting alone, None without repeats; `repeats` is their freedom.
    apart
        Whether floor and contact are told apart; a line alone is known otherwise.
    turns, tension
        The readings.
    """

    floor_gf: Bound
    slope_gf: Bound
    contact_turns: Bound
    scatter_gf: float
    scatter_share: float
    repeat_gf: float | None
    repeats: int
    apart: bool
    turns: Floats
    tension: Floats
    mixture: "Mixture"

    def tension_at(self, turns: float) -> Bound:
        """Tension at a setting, gf."""
        m = self.mixture
        over = np.maximum(turns - m.contact, 0.0)
        middle = m.floor + m.slope * over
        cov = m.cov
        spread = cov[:, 0, 0] + 2.0 * over * cov[:, 0, 1] + over**2 * cov[:, 1, 1]
        return m.bound(middle, np.sqrt(np.maximum(spread, 0.0)))

    def turns_at(self, tension: float) -> Bound:
        """The setting at which a tension is reached, turns."""
        m = self.mixture
        slope = np.maximum(m.slope, 1e-6)
        middle = m.contact + (tension - m.floor) / slope
        over = (tension - m.floor) / slope
        cov = m.cov
        spread = (cov[:, 0, 0] + 2.0 * over * cov[:, 0, 1] + over**2 * cov[:, 1, 1]) / slope**2
        return m.bound(middle, np.sqrt(np.maximum(spread, 0.0)))

    def turns_between(self, low: float, high: float) -> Bound:
        """Turns of the screw from one tension to another."""
        ends = [(high - low) / max(s, 1e-6) for s in (self.slope_gf.high, self.slope_gf.low)]
        return Bound((high - low) / max(self.slope_gf.value, 1e-6), ends[0], ends[1])


@dataclass(frozen=True, slots=True)
class Mixture:
    """Floor and slope by Student's law at each possible contact, and how likely each is."""

    contact: Floats
    weight: Floats
    floor: Floats
    slope: Floats
    cov: Floats
    freedom: float

    def bound(self, middle: Floats, sd: Floats) -> Bound:
        """Mean and interval of a figure with a middle and a spread at each contact."""
        share = (np.arange(_DRAWS) + 0.5) / _DRAWS
        steps = student.ppf(share, self.freedom)
        values = (middle[:, None] + sd[:, None] * steps).ravel()
        weight = np.repeat(self.weight / _DRAWS, _DRAWS)
        order = np.argsort(values)
        at = np.cumsum(weight[order]) - 0.5 * weight[order]
        tail = (1.0 - COVERAGE) / 2.0
        low, high = np.interp([tail, 1.0 - tail], at, values[order])
        return Bound(float(self.weight @ middle), float(low), float(high))


def screw_curve(turns: Floats, tension: Floats, stated_gf: float | None = None) -> ScrewCurve:
    """Fit floor, slope and contact to readings.

    The contact is summed over evenly spaced turns; at each, floor and slope have a normal law whose
    scatter is that of the readings (A. Gelman and others, *Bayesian Data Analysis*, 3rd ed. 2013,
    ch. 14), which a stated one moves by no more than two readings would. The scatter grows with the
    tension where it does in the readings' spread: friction's does.

    Parameters
    ----------
    turns
        (n,) settings of the screw, turns inwards.
    tension
        (n,) gf.
    stated_gf
        Scatter of one reading, as stated.

    Raises
    ------
    RunningError
        When fewer than three settings were read.
    """
    settings = np.unique(np.round(turns, 4))
    if len(settings) < 3 or len(turns) < 5:
        raise RunningError(
            f"There are {len(turns)} readings at {len(settings)} settings of the screw: at least 5 "
            "readings at 3 settings are needed, three pulls at each of three tell most."
        )
    middle = max(float(np.median(tension)), 1e-6)
    repeat, freedom = _repeats(turns, tension)
    prior = stated_gf if stated_gf is not None else _PRIOR_SHARE * middle
    mixture, scatter = _mixture(turns, tension, settings, prior, middle)
    floor = mixture.bound(mixture.floor, np.sqrt(mixture.cov[:, 0, 0]))
    floor = Bound(floor.value, max(floor.low, 0.0), floor.high)  # no thread pushes
    slope = mixture.bound(mixture.slope, np.sqrt(mixture.cov[:, 1, 1]))
    where = mixture.bound(mixture.contact, np.full(len(mixture.contact), 1e-9))
    known = (floor.high - floor.low) < 2.0 * _FLOOR_KNOWN_SHARE * middle
    # a floor below every reading was not read, only drawn on
    touched = float(settings[0]) <= where.value + _CONTACT_NEAR
    wide = where.high - where.low < _CONTACT_KNOWN_SHARE * float(np.ptp(mixture.contact))
    apart = known and touched and wide
    share = scatter / middle
    return ScrewCurve(
        floor, slope, where, scatter, share, repeat, freedom, apart, turns, tension, mixture
    )


def _mixture(
    turns: Floats, tension: Floats, settings: Floats, prior: float, middle: float
) -> tuple[Mixture, float]:
    """The law of floor and slope over all contacts, and the scatter of one reading."""
    span = float(settings[-1] - settings[0])
    tried = np.linspace(settings[0] - min(_BEFORE, span), settings[-2], _CONTACTS)
    found = [
        _line(turns, tension, grows, float(c), prior, middle) for grows in _GROWS for c in tried
    ]
    contact = np.tile(tried, len(_GROWS))
    log = np.array([one[3] for one in found])
    share = np.exp(log - log.max())
    share /= share.sum()
    coefficients = np.array([one[0] for one in found])
    cov = np.array([one[1] for one in found])
    mixture = Mixture(contact, share, coefficients[:, 0], coefficients[:, 1], cov, found[0][4])
    return mixture, float(np.sqrt(share @ np.array([one[2] for one in found])))


def _line(
    turns: Floats, tension: Floats, grows: float, contact: float, prior: float, middle: float
) -> tuple[Floats, Floats, float, float, float]:
    """Floor and slope, their scale matrix, variance, log evidence and freedom for one contact."""
    design = np.column_stack((np.ones_like(turns), np.maximum(turns - contact, 0.0)))
    # a weak pull towards a floor of some size and a slope of some size: neither is without bound
    hold = np.diag([1.0 / (2.0 * middle) ** 2, 1.0 / (4.0 * middle) ** 2]) * prior**2
    start = np.array([0.3 * middle, 0.5 * middle])
    weight = np.ones_like(turns)
    for _ in range(3):  # the scatter follows the line, and the line the scatter
        precision = (design * weight[:, None]).T @ design + hold
        score = design.T @ (weight * tension) + hold @ start
        found = np.linalg.solve(precision, score)
        level = np.clip(design @ found / middle, 0.05, 5.0)
        weight = 1.0 / (1.0 - grows + grows * level**2)
    precision = (design * weight[:, None]).T @ design + hold
    found = np.linalg.solve(precision, design.T @ (weight * tension) + hold @ start)
    left = float((weight * (tension - design @ found) ** 2).sum())
    left += float((found - start) @ hold @ (found - start))
    freedom = len(turns) + _PRIOR_FREEDOM - 4.0
    total = left + _PRIOR_FREEDOM * prior**2
    variance = total / freedom
    log = -0.5 * float(np.linalg.slogdet(precision)[1]) + 0.5 * float(np.log(weight).sum())
    log -= 0.5 * (len(turns) + _PRIOR_FREEDOM) * np.log(total)
    if found[0] < -2.0 * np.sqrt(variance) or found[1] < 0.0:
        log -= 8.0  # no thread pushes, and no screw let in slackens it
    return found, variance * np.linalg.inv(precision), variance, float(log), freedom


def _repeats(turns: Floats, tension: Floats) -> tuple[float | None, int]:
    """Pooled scatter of repeats at one setting, and its degrees of freedom."""
    squares, freedom = 0.0, 0
    for setting in np.unique(np.round(turns, 4)):
        at = tension[np.abs(turns - setting) < 1e-3]
        if len(at) > 1:
            squares += float(((at - at.mean()) ** 2).sum())
            freedom += len(at) - 1
    return (float(np.sqrt(squares / freedom)), freedom) if freedom else (None, 0)
