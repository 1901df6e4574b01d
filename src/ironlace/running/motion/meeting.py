"""Where the shuttle's point meets the needle, and how far the needle has risen by then."""

from dataclasses import dataclass
from math import pi

import numpy as np
import scipy  # its parts load when they are first asked for

from ironlace.evidence.arrays import Floats
from ironlace.running.errors import RunningError
from ironlace.running.motion.figures import (
    COVERAGE,
    Figure,
    Taken,
    figure_of,
    height_at,
    turning_angle,
    unguarded,
)
from ironlace.running.motion.joint_fit import JointFit

_SEARCHED = (-20.0, 110.0)
"""Degrees after the needle's lowest point within which a meeting is looked for: a loop is thrown
within the first third of the rise."""

_TURN_REACH = pi / 18.0
"""So near to a turning point of the shuttle, rad (10 degrees), the meeting is refused: there the
angle's error no longer cancels, and the rise is biased by 0.4 mm and more."""

_SURE_TURN = 1.0
"""Standard deviations at which the shuttle is taken to move on, or to turn, that far away."""

_NEAR = pi / 6.0
"""Pairs so near to the meeting, rad, tell of it."""

_FEWEST_PAIRS = 3
"""Fewer pairs cannot check each other."""

_LEAST_FREEDOM = 4.0
"""Readings beyond those used up that are reckoned with at the least: the scatter is not wholly
unknown beforehand."""

_SURE_SLOPE = 4.0
"""The shuttle's slope at the meeting must be so many of its standard deviations."""


@dataclass(frozen=True, slots=True)
class Meeting:
    """The meeting of shuttle point and needle.

    Attributes
    ----------
    after_bottom
        Angle after the needle's lowest point, rad.
    rise
        Of the needle from its lowest point, mm.
    needle_slope, shuttle_slope
        How fast both move there, mm/rad.
    pairs
        Rows near it where both were read.
    unguarded
        Readings that no other checks, and that the rise hangs on.
    taken
        What takes the rise out of a fit's numbers.
    """

    after_bottom: Figure
    rise: Figure
    needle_slope: float
    shuttle_slope: float
    pairs: int
    unguarded: tuple[tuple[int, int], ...]
    taken: Taken


def meeting_angle(
    fit: JointFit, needle: int, shuttle: int, place: float, numbers: Floats, near: float | None
) -> float:
    """The angle, rad, at which the shuttle stands at a place while the needle begins to rise.

    Raises
    ------
    RunningError
        When it never stands there then.
    """
    lowest = turning_angle(fit, needle, numbers, top=False)
    if near is None:
        found = _crossings(fit, shuttle, place, lowest, numbers)
        if not found:
            raise RunningError(
                f"The shuttle never reads {place:g} mm in the third of a turn after the needle's "
                "lowest point: give the reading it has when its point stands at the needle, and "
                "check that the angles rise as the machine sews."
            )
        return _most_read(fit, needle, shuttle, found)
    angle = near
    for _ in range(8):
        here = fit.curve(shuttle, np.array([angle]), numbers)
        if here.slope[0] == 0.0:
            break
        angle -= float(np.clip((here.value[0] - place) / here.slope[0], -0.1, 0.1))
    return angle


def _crossings(
    fit: JointFit, shuttle: int, place: float, lowest: float, numbers: Floats
) -> list[float]:
    grid = lowest + np.radians(np.arange(_SEARCHED[0], _SEARCHED[1], 0.25))
    over = fit.curve(shuttle, grid, numbers).value - place
    at = np.flatnonzero(np.sign(over[:-1]) != np.sign(over[1:]))
    return [
        float(grid[k] + (grid[k + 1] - grid[k]) * over[k] / (over[k] - over[k + 1])) for k in at
    ]


def _most_read(fit: JointFit, needle: int, shuttle: int, found: list[float]) -> float:
    """Of several crossings the one around which most pairs were read."""
    keep = fit.linear.keep[:, needle] & fit.linear.keep[:, shuttle]

    def near(angle: float) -> int:
        off = (fit.readings.angle[keep] - angle + pi) % (2.0 * pi) - pi
        return int((np.abs(off) < _NEAR).sum())

    return max(found, key=lambda angle: (near(angle), -angle))


def meeting(fit: JointFit, needle: int, shuttle: int, place: float, place_error: float) -> Meeting:
    """Work out the meeting of shuttle point and needle.

    Parameters
    ----------
    needle, shuttle
        Places of the two motions in the fit.
    place, place_error
        Reading of the shuttle when its point stands at the needle, mm, and its uncertainty.

    Raises
    ------
    RunningError
        When the shuttle never stands there, turns so near to it that no angle follows, or was read
        together with the needle bar too seldom around it.
    """
    middle = meeting_angle(fit, needle, shuttle, place, fit.numbers, None)
    _refuse_turn(fit, shuttle, middle)
    pairs = _pairs(fit, needle, shuttle, middle)

    def angle_of(numbers: Floats) -> tuple[float, Floats, float]:
        angle = meeting_angle(fit, needle, shuttle, place, numbers, middle)
        _, by = height_at(fit, shuttle, angle, numbers)
        steep = float(fit.curve(shuttle, np.array([angle]), numbers).slope[0])
        return angle, -by / steep, steep

    def after(numbers: Floats) -> tuple[float, Floats]:
        angle, by, _ = angle_of(numbers)
        lowest = turning_angle(fit, needle, numbers, top=False)
        at = fit.curve(needle, np.array([lowest]), numbers)
        by[fit.parts[needle]] += at.slope_by_number[0] / at.bend[0]
        return angle - lowest, by

    def rise(numbers: Floats) -> tuple[float, Floats]:
        angle, by_angle, _ = angle_of(numbers)
        up = float(fit.curve(needle, np.array([angle]), numbers).slope[0])
        high, by_high = height_at(fit, needle, angle, numbers)
        lowest = turning_angle(fit, needle, numbers, top=False)
        low, by_low = height_at(fit, needle, lowest, numbers)
        return high - low, by_high + up * by_angle - by_low

    steep = angle_of(fit.numbers)[2]
    here = fit.curve(needle, np.array([middle]))
    up = float(here.slope[0])
    off = place_error / abs(steep)
    found = _few(fit, figure_of(fit, rise, abs(up) * off))
    return Meeting(figure_of(fit, after, off), found, up, steep, pairs, unguarded(fit, rise), rise)


def _few(fit: JointFit, figure: Figure) -> Figure:
    """Widen a figure by Student's law for the few readings that its scatter was learned from."""
    member, keep = fit.members[0], fit.linear.keep
    design = fit.linear.design[keep]
    own = fit.height_scatter**2 + (fit.angle_scatter * fit.linear.slope[keep]) ** 2
    used = float((np.einsum("np,pq,nq->n", design, member.covariance, design) / own).sum())
    freedom = max(float(keep.sum()) - used, _LEAST_FREEDOM)
    share = 0.5 * (1.0 + COVERAGE)
    by = float(scipy.stats.t.ppf(share, freedom) / scipy.stats.norm.ppf(share))
    return Figure(
        figure.value,
        figure.value - by * (figure.value - figure.low),
        figure.value + by * (figure.high - figure.value),
        by * figure.sd,
    )


def _refuse_turn(fit: JointFit, shuttle: int, angle: float) -> None:
    """Refuse a meeting where the shuttle turns, or where nobody knows whether it does."""
    around = fit.curve(shuttle, angle + np.array([-_TURN_REACH, 0.0, _TURN_REACH]))
    part = fit.parts[shuttle]
    spread = np.max(
        [
            np.einsum(
                "np,pq,nq->n",
                around.slope_by_number,
                m.covariance[part, part],
                around.slope_by_number,
            )
            for m in fit.members
        ],
        axis=0,
    )
    onward = np.sign(around.slope[1]) * around.slope
    sure = onward / np.sqrt(np.maximum(spread, 1e-12))
    if onward.min() < 0.0 and sure.min() < -_SURE_TURN:
        raise RunningError(
            f"The shuttle turns back within {np.degrees(_TURN_REACH):.0f}° of where its point "
            "meets the needle, so that no rise follows from these pairs: read the needle bar "
            "itself with the point at the needle, several times, coming from one side."
        )
    if sure[1] < _SURE_SLOPE or sure.min() < _SURE_TURN:
        raise RunningError(
            "How fast the shuttle moves at the needle, and whether it turns there, is not known: "
            f"{_READ_SO}."
        )


_READ_SO = (
    "read needle bar and shuttle together at six settings of the wheel, three just before the "
    "point reaches the needle and three just after"
)


def _pairs(fit: JointFit, needle: int, shuttle: int, angle: float) -> int:
    """Count the pairs around a meeting; refuse too few, or all on one side."""
    off = (fit.readings.angle - angle + pi) % (2.0 * pi) - pi
    keep = fit.linear.keep[:, needle] & fit.linear.keep[:, shuttle]
    near = off[keep & (np.abs(off) < _NEAR)]
    if len(near) < _FEWEST_PAIRS or near.min() > 0.0 or near.max() < 0.0:
        raise RunningError(
            f"Needle bar and shuttle were read together {len(near)} times within 30° of their "
            f"meeting, and at least {_FEWEST_PAIRS} on both sides of it are needed: {_READ_SO}."
        )
    return len(near)
