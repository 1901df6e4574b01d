"""A figure taken from a joint fit, with its doubt: turning points, strokes, meetings.

Each figure is worked out at every member of the fit with its exact first-order spread; the interval
is that of the mixture.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import pi

import numpy as np
import scipy  # its parts load when they are first asked for
from scipy.optimize import brentq

from ironlace.evidence.arrays import Floats
from ironlace.running.motion.joint_fit import JointFit

COVERAGE = 0.9
"""Share of intervals that hold the truth: the house tells 90 % throughout."""

_NOTICED_MM = 5.0
"""A misread value is a whole division of a scale off, often one of 5 mm: so large a slip must not
go unnoticed where it would move a figure."""

_NOTICED_AT = 4.0
"""Standard deviations by which such a slip must stick out from what the other readings foretell."""

_MOVED_SD = 3.0
"""Standard deviations of a figure by which a slip may move it unnoticed."""

_DRAWS_LOG2 = 6
"""Draws of a curve from each member of a fit, as a power of two."""

_RESTS = 0.4
"""Wider than this, rad, the angle of an end is told as a stretch: the motion rests there."""

_GRID = 720
"""Angles of a turn at which turning points are looked for: half a degree apart."""

Taken = Callable[[Floats], tuple[float, Floats]]
"""Takes a figure and its derivative by each number out of the numbers of a fit."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure, its 90 % interval and its standard deviation."""

    value: float
    low: float
    high: float
    sd: float

    def scaled(self, by: float) -> "Figure":
        """The same in another unit."""
        ends = sorted((self.low * by, self.high * by))
        return Figure(self.value * by, ends[0], ends[1], self.sd * abs(by))


def figure_of(fit: JointFit, taken: Taken, more_sd: float = 0.0) -> Figure:
    """A figure of a fit.

    Parameters
    ----------
    more_sd
        Further standard uncertainty of the figure itself, independent of the fit.
    """
    weights, values, sds = [], [], []
    for member in fit.members:
        one, by = taken(member.numbers)
        weights.append(member.weight)
        values.append(one)
        sds.append(np.sqrt(max(float(by @ member.covariance @ by), 0.0) + more_sd**2))
    weight, value, sd = np.array(weights), np.array(values), np.maximum(sds, 1e-12)
    mean = float(weight @ value)
    lead = slice(fit.leading)
    told = float(weight[lead] @ value[lead] / weight[lead].sum())
    wide = float(np.sqrt(weight @ (sd**2 + (value - mean) ** 2)))

    def at(share: float) -> float:
        def below(x: float) -> float:
            return float(weight @ scipy.stats.norm.cdf((x - value) / sd)) - share

        reach = float(np.abs(value - mean).max() + 8.0 * sd.max())
        return float(brentq(below, mean - reach, mean + reach, xtol=1e-9))

    tail = (1.0 - COVERAGE) / 2.0
    return Figure(told, min(at(tail), told), max(at(1.0 - tail), told), wide)


def turning_angle(
    fit: JointFit, motion: int, numbers: Floats, *, top: bool, near: float | None = None
) -> float:
    """The angle at which a motion is highest or lowest, rad; near an angle if one is given."""
    sign = -1.0 if top else 1.0
    if near is None:
        grid: Floats = np.arange(_GRID, dtype=np.float64) * (2.0 * pi / _GRID)
    else:
        grid = near + np.radians(np.arange(-60.0, 60.5, 0.5))
    angle = float(grid[np.argmin(sign * fit.curve(motion, grid, numbers).value)])
    for _ in range(6):
        here = fit.curve(motion, np.array([angle]), numbers)
        if sign * here.bend[0] <= 0.0:
            break
        angle -= float(np.clip(here.slope[0] / here.bend[0], -0.02, 0.02))
    return angle


def _drawn(fit: JointFit, motion: int) -> tuple[Floats, Floats]:
    """Numbers of a motion as they may be, (draws, p), and the weight of each draw."""
    part = fit.parts[motion]
    size = part.stop - part.start
    even = scipy.stats.qmc.Sobol(size, scramble=False).random_base2(_DRAWS_LOG2)[1:]
    steps = scipy.stats.norm.ppf(even)
    drawn, weights = [], []
    for member in fit.members:
        factor = np.linalg.cholesky(member.covariance[part, part] + 1e-12 * np.eye(size))
        drawn.append(member.numbers[part] + steps @ factor.T)
        weights.append(np.full(len(steps), member.weight / len(steps)))
    return np.vstack(drawn), np.concatenate(weights)


@dataclass(frozen=True, slots=True)
class Turns:
    """The ends of a cam's motion.

    Attributes
    ----------
    stroke
        From lowest to highest, mm.
    highest, lowest
        Angles, rad.
    rests
        Whether an end is so flat that its angle is a stretch: highest, lowest.
    """

    stroke: Figure
    highest: Figure
    lowest: Figure
    rests: tuple[bool, bool]


def cam_turns(fit: JointFit, motion: int) -> Turns:
    """Stroke and turning points of a cam's motion.

    The highest of a curve in doubt is too high, the more so the flatter its top: what draws of the
    curve overshoot the fit is taken off again (B. Efron, R. Tibshirani, *An Introduction to the
    Bootstrap*, 1993, ch. 10 and 13). The draws are evenly spread points, not random ones.
    """
    grid: Floats = np.arange(_GRID, dtype=np.float64) * (2.0 * pi / _GRID)
    basis = fit.curve(motion, grid).by_number
    drawn, weight = _drawn(fit, motion)
    curves = drawn @ basis.T
    middle = basis @ fit.numbers[fit.parts[motion]]
    strokes = np.ptp(curves, axis=1)
    plain = float(np.ptp(middle))
    over = _quantiles(strokes, weight)[1] - plain
    found = figure_of(fit, stroke_taken(fit, motion), more_sd=over)
    stroke_found = Figure(found.value - over, found.low - over, found.high - over, found.sd)
    ends = []
    for top in (True, False):
        at = turning_angle(fit, motion, fit.numbers, top=top)
        picked = np.argmax(curves, axis=1) if top else np.argmin(curves, axis=1)
        off = np.mod(grid[picked] - at + pi, 2.0 * pi) - pi
        low, _, high = _quantiles(off, weight)
        ends.append(Figure(at, at + low, at + high, float(np.sqrt(weight @ off**2))))
    rests = tuple(bool(end.high - end.low > _RESTS) for end in ends)
    return Turns(stroke_found, ends[0], ends[1], (rests[0], rests[1]))


def _quantiles(values: Floats, weight: Floats) -> tuple[float, float, float]:
    order = np.argsort(values)
    share = np.cumsum(weight[order]) - 0.5 * weight[order]
    tail = (1.0 - COVERAGE) / 2.0
    found = np.interp([tail, 0.5, 1.0 - tail], share, values[order])
    return float(found[0]), float(found[1]), float(found[2])


def height_at(fit: JointFit, motion: int, angle: float, numbers: Floats) -> tuple[float, Floats]:
    """Height of a motion at an angle, with its derivative by every number of the fit."""
    found = fit.curve(motion, np.array([angle]), numbers)
    by = np.zeros_like(numbers)
    by[fit.parts[motion]] = found.by_number[0]
    return float(found.value[0]), by


def turning_taken(fit: JointFit, motion: int, *, top: bool) -> Taken:
    """What takes the angle of a turning point, rad, near to where the fit has it."""
    middle = turning_angle(fit, motion, fit.numbers, top=top)

    def taken(numbers: Floats) -> tuple[float, Floats]:
        angle = turning_angle(fit, motion, numbers, top=top, near=middle)
        found = fit.curve(motion, np.array([angle]), numbers)
        by = np.zeros_like(numbers)
        by[fit.parts[motion]] = -found.slope_by_number[0] / found.bend[0]
        return angle, by

    return taken


def stroke_taken(fit: JointFit, motion: int) -> Taken:
    """What takes the stroke out of a fit: from the lowest to the highest point of a motion, mm."""

    def taken(numbers: Floats) -> tuple[float, Floats]:
        ends = [
            height_at(fit, motion, turning_angle(fit, motion, numbers, top=top), numbers)
            for top in (True, False)
        ]
        return ends[0][0] - ends[1][0], ends[0][1] - ends[1][1]

    return taken


def curve_band(fit: JointFit, motion: int, angle: Floats) -> tuple[Floats, Floats]:
    """Heights of a motion at some angles, mm, and half the width of the band that holds each.

    The band is that of 90 % over all members of the fit; angles are rad.
    """
    middle = fit.curve(motion, angle).value
    part = fit.parts[motion]
    spread = np.zeros_like(middle)
    for member in fit.members:
        curve = fit.curve(motion, angle, member.numbers)
        by = curve.by_number
        own = np.einsum("np,pq,nq->n", by, member.covariance[part, part], by)
        spread += member.weight * (np.maximum(own, 0.0) + (curve.value - middle) ** 2)
    return middle, scipy.stats.norm.ppf(0.5 * (1.0 + COVERAGE)) * np.sqrt(spread)


def number_figure(fit: JointFit, place: int) -> Figure:
    """One of the numbers of a fit; those of what moved come last, counted from the end."""

    def taken(numbers: Floats) -> tuple[float, Floats]:
        by = np.zeros_like(numbers)
        by[place] = 1.0
        return float(numbers[place]), by

    return figure_of(fit, taken)


def unguarded(fit: JointFit, taken: Taken) -> tuple[tuple[int, int], ...]:
    """Readings that no other checks: a slip there would go unnoticed and move a figure.

    Returns
    -------
    Row and motion of each.
    """
    member = fit.members[0]
    _, by = taken(member.numbers)
    pulled = member.covariance @ by
    sd = max(float(np.sqrt(max(float(by @ pulled), 0.0))), 1e-9)
    found = []
    for row, motion in np.argwhere(fit.linear.keep):
        design = fit.linear.design[row, motion]
        own = fit.height_scatter**2 + (fit.angle_scatter * fit.linear.slope[row, motion]) ** 2
        shared = float(design @ member.covariance @ design)
        foretold = own * shared / max(own - shared, 1e-9 * own)
        moved = abs(float(design @ pulled)) / own * _NOTICED_MM
        if _NOTICED_AT * np.sqrt(own + foretold) > _NOTICED_MM and moved > _MOVED_SD * sd:
            found.append((int(row), int(motion)))
    return tuple(found)
