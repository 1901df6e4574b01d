"""Tension against the turns of its screw: floor, slope, bend, and where the spring takes hold.

Five things go into it (the feed's tension, the friction at the guides, that of the discs, the
spring's rate, its preload), and readings at screw settings tell three: a floor, a slope per turn,
and the turn of contact. The discs add twice friction times load, and the load grows with the turns
(additive tensioner: textile winding, see docs/running.md). A spring's rate may grow as coils close,
or the discs' friction fall with the load: the curve may bend, and how far is summed over.
"""

from dataclasses import dataclass

import numpy as np
import scipy  # its parts load when they are first asked for

from ironlace.evidence.arrays import Floats
from ironlace.running.errors import RunningError

COVERAGE = 0.9
"""Share of intervals that hold the truth."""

EIGHTHS = 8.0
"""The screw is turned by eighths of a turn."""

SAME_TURNS = 1e-3
"""Turns within which two settings are one."""

_CONTACTS = 61
"""Turns of contact that are tried, evenly spaced."""

_BENDS = tuple(round(-0.12 + 0.02 * k, 2) for k in range(22))
"""Bends that are tried, as a share of the slope for each turn past contact: from friction that
falls with the load to a coil that closes."""

_BEND_LIKELY = 0.05
"""Bend taken for likely beforehand, a share of the slope a turn; larger ones remain possible by
Student's law of `_BEND_FREEDOM` (tuned on simulated pulls, see bench/running_tension.py)."""

_BEND_FREEDOM = 3.0
"""Freedom of the law of bends beforehand."""

_BENDS_SURE = 0.975
"""Share of what is believed that must lie on one side of straight before a bend is told."""

LEAST_RATE = 0.2
"""A bend that would leave less than so great a share of the slope at the last setting is none that
a spring has."""

_SPENT = 5.0
"""Readings that floor, slope, contact, bend and the scatter's growth use up."""

_LEFT_OUT_OF = 1.25
"""More for what a law of few readings leaves out of the intervals: without it slopes held in
0.70 to 0.88 where three settings were read (tuned, bench/running_tension.py)."""

_LEAST_FREEDOM = 2.0
"""Freedom that Student's law keeps where so many are not left."""

_LEFT_UNTOLD = 1e-3
"""Share of what is believed that the unlikeliest members of the mixture may take with them."""

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


_FEWEST_SETTINGS = 3
"""Settings of the screw that must have been read."""

_AT_THREE = 1.25
"""By how much the slope at one setting is told wider where three settings were read: two of them
bear, and between two points any bend is possible (tuned on three families of simulated pulls,
bench/running_tension.py)."""

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

    def stretched(self, by: float) -> "Bound":
        """The same with either arm of its interval so many times as long."""
        low, high = (self.value + by * (end - self.value) for end in (self.low, self.high))
        return Bound(self.value, low, high)


@dataclass(frozen=True, slots=True)
class ScrewCurve:
    """What readings at screw settings tell.

    Attributes
    ----------
    floor_gf
        Tension with the spring idle.
    slope_gf
        Tension gained with each turn, on average from contact to the last setting.
    bend_share
        By which share of itself the slope's average grows with each further turn in; below zero
        where it falls.
    bends
        1 or -1 where the readings are sure that the slope grows or falls, 0 where they are not.
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
    bend_share: Bound
    bends: int
    scatter_gf: float
    scatter_share: float
    repeat_gf: float | None
    repeats: int
    apart: bool
    turns: Floats
    tension: Floats
    mixture: "Mixture"

    @property
    def settings(self) -> int:
        """Settings of the screw that were read."""
        return len(np.unique(np.round(self.turns, 4)))

    def tension_at(self, turns: float) -> Bound:
        """Tension at a setting, gf."""
        m = self.mixture
        over = np.maximum(turns - m.contact, 0.0)
        shape = over * (1.0 + m.bend * over)
        return m.bound(m.floor + m.slope * shape, m.spread(1.0, shape))

    def slope_at(self, turns: float) -> Bound:
        """Tension gained with a turn, at a setting, gf."""
        m = self.mixture
        over = turns - m.contact
        rate = np.where(over > 0.0, 1.0 + 2.0 * m.bend * over, 0.0)
        found = m.bound(m.slope * rate, m.spread(0.0, rate))
        return found.stretched(_AT_THREE) if self.settings == _FEWEST_SETTINGS else found

    def turns_at(self, tension: float) -> Bound:
        """The setting at which a tension is reached, turns."""
        m = self.mixture
        over, by_floor, by_slope = m.reached(tension)
        return m.bound(m.contact + over, m.spread(by_floor, by_slope))

    def turns_between(self, low: float, high: float) -> Bound:
        """Turns of the screw from one tension to another."""
        m = self.mixture
        ends = [m.reached(tension) for tension in (low, high)]
        over, by_floor, by_slope = (b - a for a, b in zip(*ends, strict=True))
        return m.bound(over, m.spread(by_floor, by_slope))


@dataclass(frozen=True, slots=True)
class Mixture:
    """Floor and slope by Student's law at each contact and bend, and how likely each is."""

    contact: Floats
    bend: Floats
    weight: Floats
    floor: Floats
    slope: Floats
    cov: Floats
    freedom: float

    def spread(self, by_floor: Floats | float, by_slope: Floats) -> Floats:
        """Scale of a figure that grows so with floor and slope."""
        cov = self.cov
        square = by_floor**2 * cov[:, 0, 0] + 2.0 * by_floor * by_slope * cov[:, 0, 1]
        found: Floats = np.sqrt(np.maximum(square + by_slope**2 * cov[:, 1, 1], 0.0))
        return found

    def reached(self, tension: float) -> tuple[Floats, Floats, Floats]:
        """Turns past contact at which a tension is reached, with derivatives by floor and slope."""
        slope = np.maximum(self.slope, 1e-6)
        need = (tension - self.floor) / slope
        inside = 1.0 + 4.0 * self.bend * np.maximum(need, 0.0)
        # a curve that flattens out is followed no further than where it lies nearly level
        rate = np.sqrt(np.maximum(inside, LEAST_RATE**2))
        over = np.where(need > 0.0, 2.0 * need / (1.0 + rate), need)
        return over, -1.0 / (slope * rate), -need / (slope * rate)

    def bound(self, middle: Floats, sd: Floats) -> Bound:
        """Mean and interval of a figure with a middle and a spread at each contact."""
        share = (np.arange(_DRAWS) + 0.5) / _DRAWS
        steps = scipy.stats.t.ppf(share, self.freedom)
        values = (middle[:, None] + sd[:, None] * steps).ravel()
        weight = np.repeat(self.weight / _DRAWS, _DRAWS)
        order = np.argsort(values)
        at = np.cumsum(weight[order]) - 0.5 * weight[order]
        tail = (1.0 - COVERAGE) / 2.0
        low, high = np.interp([tail, 1.0 - tail], at, values[order])
        return Bound(float(self.weight @ middle), float(low), float(high))


def screw_curve(turns: Floats, tension: Floats, stated_gf: float | None = None) -> ScrewCurve:
    """Fit floor, slope and contact to readings.

    Contact and bend are summed over evenly spaced values; at each, floor and slope have a normal
    law whose scatter is that of the readings (A. Gelman and others, *Bayesian Data Analysis*, 3rd
    ed. 2013, ch. 14), which a stated one moves by no more than two readings would. The scatter
    grows with the tension where it does in the readings' spread: friction's does.

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
    if len(settings) < _FEWEST_SETTINGS or len(turns) < 5:
        raise RunningError(
            f"There are {len(turns)} readings at {len(settings)} settings of the screw: at least 5 "
            "readings at 3 settings are needed, three pulls at each of three tell most."
        )
    middle = max(float(np.median(tension)), 1e-6)
    repeat, freedom = _repeats(turns, tension)
    prior = stated_gf if stated_gf is not None else _PRIOR_SHARE * middle
    mixture, scatter = _mixture(turns, tension, settings, prior, middle)
    floor = mixture.bound(mixture.floor, mixture.spread(1.0, np.zeros_like(mixture.floor)))
    floor = Bound(floor.value, max(floor.low, 0.0), floor.high)  # no thread pushes
    mean_rate = 1.0 + mixture.bend * (settings[-1] - mixture.contact)
    slope = mixture.bound(mixture.slope * mean_rate, mixture.spread(0.0, mean_rate))
    still = np.full(len(mixture.contact), 1e-9)
    # each contact that was tried stands for all that lie nearer to it than to the next
    step = (settings[-2] - settings[0] + _before(settings)) / (_CONTACTS - 1)
    where = mixture.bound(mixture.contact, np.full(len(mixture.contact), step / np.sqrt(12.0)))
    bend = mixture.bound(2.0 * mixture.bend / mean_rate, still)
    up, down = (float(mixture.weight[s * mixture.bend > 0.0].sum()) for s in (1.0, -1.0))
    bends = 1 if up > _BENDS_SURE else -1 if down > _BENDS_SURE else 0
    known = (floor.high - floor.low) < 2.0 * _FLOOR_KNOWN_SHARE * middle
    # a floor below every reading was not read, only drawn on
    touched = float(settings[0]) <= where.value + _CONTACT_NEAR
    reach = float(settings[-2] - settings[0]) + _before(settings)
    apart = known and touched and where.high - where.low < _CONTACT_KNOWN_SHARE * reach
    return ScrewCurve(
        floor, slope, where, bend, bends, scatter, scatter / middle, repeat, freedom, apart, turns,
        tension, mixture,
    )  # fmt: skip


def _before(settings: Floats) -> float:
    """Turns before the first setting at which the spring may already have taken hold."""
    return min(_BEFORE, float(settings[-1] - settings[0]))


def _mixture(
    turns: Floats, tension: Floats, settings: Floats, prior: float, middle: float
) -> tuple[Mixture, float]:
    """The law of floor and slope over all contacts and bends, and the scatter of one reading."""
    tried = np.linspace(settings[0] - _before(settings), settings[-2], _CONTACTS)
    grows, contact, bend = (
        one.ravel() for one in np.meshgrid(_GROWS, tried, _BENDS, indexing="ij")
    )
    over = settings[-1] - contact
    able = 1.0 + 2.0 * bend * over > LEAST_RATE
    grows, contact, bend = grows[able], contact[able], bend[able]
    lines = _lines(turns, tension, grows, contact, bend, prior, middle)
    log = lines.log + scipy.stats.t.logpdf(bend / _BEND_LIKELY, _BEND_FREEDOM)
    share = np.exp(log - log.max())
    share /= share.sum()
    order = np.argsort(-share)
    keep = order[: int(np.searchsorted(np.cumsum(share[order]), 1.0 - _LEFT_UNTOLD)) + 1]
    weight = share[keep] / share[keep].sum()
    mixture = Mixture(
        contact[keep],
        bend[keep],
        weight,
        lines.floor[keep],
        lines.slope[keep],
        lines.cov[keep],
        lines.freedom,
    )
    return mixture, float(np.sqrt(weight @ lines.variance[keep]))


@dataclass(frozen=True, slots=True)
class _Lines:
    """Floor and slope, scale matrix, variance and log evidence of each contact and bend."""

    floor: Floats
    slope: Floats
    cov: Floats
    variance: Floats
    log: Floats
    freedom: float


def _lines(
    turns: Floats,
    tension: Floats,
    grows: Floats,
    contact: Floats,
    bend: Floats,
    prior: float,
    middle: float,
) -> _Lines:
    """Fit floor and slope at every contact and bend, (m,), at once."""
    over = np.maximum(turns - contact[:, None], 0.0)
    design = np.stack((np.ones_like(over), over * (1.0 + bend[:, None] * over)), axis=2)
    # a weak pull towards a floor of some size and a slope of some size: neither is without bound
    hold = np.diag([1.0 / (2.0 * middle) ** 2, 1.0 / (4.0 * middle) ** 2]) * prior**2
    start = np.array([0.3 * middle, 0.5 * middle])

    def solved(weight: Floats) -> tuple[Floats, Floats]:
        weighed = design * weight[:, :, None]
        precision = weighed.transpose(0, 2, 1) @ design + hold
        score = weighed.transpose(0, 2, 1) @ tension + hold @ start
        return precision, np.linalg.solve(precision, score[:, :, None])[:, :, 0]

    weight = np.ones_like(over)
    for _ in range(3):  # the scatter follows the line, and the line the scatter
        _, found = solved(weight)
        level = np.clip(np.einsum("mnk,mk->mn", design, found) / middle, 0.05, 5.0)
        weight = 1.0 / (1.0 - grows[:, None] + grows[:, None] * level**2)
    precision, found = solved(weight)
    left = (weight * (tension - np.einsum("mnk,mk->mn", design, found)) ** 2).sum(axis=1)
    left += np.einsum("mj,jk,mk->m", found - start, hold, found - start)
    left_over = len(turns) + _PRIOR_FREEDOM - _SPENT
    freedom = max(left_over - _LEFT_OUT_OF, _LEAST_FREEDOM)
    total = left + _PRIOR_FREEDOM * prior**2
    variance = total / max(left_over, _LEAST_FREEDOM)
    log = -0.5 * np.linalg.slogdet(precision)[1] + 0.5 * np.log(weight).sum(axis=1)
    log -= 0.5 * (len(turns) + _PRIOR_FREEDOM) * np.log(total)
    # no thread pushes, and no screw let in slackens it
    log[(found[:, 0] < -2.0 * np.sqrt(variance)) | (found[:, 1] < 0.0)] -= 8.0
    cov = (total / freedom)[:, None, None] * np.linalg.inv(precision)
    return _Lines(found[:, 0], found[:, 1], cov, variance, log, freedom)


def _repeats(turns: Floats, tension: Floats) -> tuple[float | None, int]:
    """Pooled scatter of repeats at one setting, and its degrees of freedom."""
    squares, freedom = 0.0, 0
    for setting in np.unique(np.round(turns, 4)):
        at = tension[np.abs(turns - setting) < SAME_TURNS]
        if len(at) > 1:
            squares += float(((at - at.mean()) ** 2).sum())
            freedom += len(at) - 1
    return (float(np.sqrt(squares / freedom)), freedom) if freedom else (None, 0)
