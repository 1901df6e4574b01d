"""The curves that a motion may follow: a crank with its link, and a cam of fixed order.

Angles are radians, lengths millimetres, heights upwards. Every curve is a function of its own few
numbers with exact derivatives, so that a fit can carry doubts through it.
"""

from dataclasses import dataclass

import numpy as np

from ironlace.evidence.arrays import Floats

CAM_ORDER = 10
"""Harmonics of a cam's curve: fixed, and held down by the prior instead of by a choice that the
readings make (choosing an order and then telling that order's interval covers too rarely)."""

DEPARTURE_ORDER = 6
"""Highest harmonic by which a needle bar may depart from a crank's curve."""

_MOST_LEAN = 0.97
"""Sine of the greatest lean of the link that is reckoned with: beyond it the crank would jam."""


@dataclass(frozen=True, slots=True)
class Curve:
    """A curve at some angles: n angles, p numbers.

    Attributes
    ----------
    value
        (n,) heights, mm.
    slope, bend
        (n,) first and second derivative by the angle, mm/rad and mm/rad².
    by_number
        (n, p) derivative of the value by each number.
    slope_by_number
        (n, p) derivative of the slope by each number.
    """

    value: Floats
    slope: Floats
    bend: Floats
    by_number: Floats
    slope_by_number: Floats


def slider_crank(
    angle: Floats, radius: float, ratio: float, offset: float = 0.0
) -> tuple[Floats, Floats, Floats]:
    """Rise above the bottom of a crank's pin travel, with slope and bend by the angle.

    Parameters
    ----------
    angle
        Of the crank after its lowest point, rad.
    radius
        Of the crank, mm.
    ratio
        Crank over link: positive where the link hangs below the crank (stretched at the bottom),
        negative where it is folded back there, 0 for a pin in a slot.
    offset
        By how much the bar's line misses the crank's axle, in crank radii.

    Notes
    -----
    Standard geometry of the slider-crank (any text on kinematics, such as R. L. Norton, *Design of
    Machinery*, ch. 4): ``r(1 - cos p) + l(1 - sqrt(1 - (r/l)^2 sin^2 p))`` for no offset,
    written so that an infinitely long link needs no special case.

    >>> rise, slope, bend = slider_crank(np.radians([20.0]), 15.0, 1.0 / 3.0)
    >>> round(float(rise[0]), 4)
    1.198
    """
    sine, cosine = np.sin(angle), np.cos(angle)
    reach = sine + offset
    lean = np.clip(ratio * reach, -_MOST_LEAN, _MOST_LEAN)
    upright = np.sqrt(1.0 - lean**2)
    value = radius * (1.0 - cosine) + radius * lean * reach / (1.0 + upright)
    slope = radius * sine + radius * lean * cosine / upright
    bend = radius * cosine + radius * (ratio * cosine**2 / upright**3 - lean * sine / upright)
    return value, slope, bend


def harmonics(angle: Floats, orders: range) -> tuple[Floats, Floats, Floats]:
    """Cosine and sine of each order at some angles, (n, 2 x orders), with slope and bend."""
    order = np.asarray(orders, dtype=np.float64)
    turned = angle[:, None] * order
    cosine, sine = np.cos(turned), np.sin(turned)
    value = np.stack((cosine, sine), axis=2).reshape(len(angle), -1)
    slope = np.stack((-order * sine, order * cosine), axis=2).reshape(len(angle), -1)
    bend = np.stack((-(order**2) * cosine, -(order**2) * sine), axis=2).reshape(len(angle), -1)
    return value, slope, bend


class CrankCurve:
    """A needle bar driven by a crank and link, and by how much it departs from that.

    Its numbers: height of the pin's lowest point, crank radius, angle of that point, crank over
    link, offset, then cosine and sine of the departure's harmonics from the second on.

    Parameters
    ----------
    likely_mm
        Departure in the second harmonic where it is looked for, mm, and the doubt of its logarithm.
    """

    def __init__(self, likely_mm: tuple[float, float] = (0.02, 1.0)) -> None:
        self.likely_mm = likely_mm

    def __eq__(self, other: object) -> bool:
        return isinstance(other, CrankCurve) and other.likely_mm == self.likely_mm

    def __hash__(self) -> int:
        return hash(self.likely_mm)

    size = 5 + 2 * (DEPARTURE_ORDER - 1)
    radius_at = 1
    ratio_at = 3
    departures = slice(5, size)
    crank = slice(0, 5)

    def at(self, angle: Floats, numbers: Floats) -> Curve:
        """The curve at some angles, rad."""
        _base, radius, lowest, ratio, offset = numbers[self.crank]
        turned = angle - lowest
        value, slope, bend = slider_crank(turned, radius, ratio, offset)
        more, more_slope, more_bend = harmonics(angle, range(2, DEPARTURE_ORDER + 1))
        by = np.empty((len(angle), self.size))
        slope_by = np.empty_like(by)
        by[:, 0], slope_by[:, 0] = 1.0, 0.0
        by[:, 1], slope_by[:, 1] = value / radius, slope / radius
        by[:, 2], slope_by[:, 2] = -slope, -bend
        for at, step in ((3, (_STEP, 0.0)), (4, (0.0, _STEP))):
            up = slider_crank(turned, radius, ratio + step[0], offset + step[1])
            down = slider_crank(turned, radius, ratio - step[0], offset - step[1])
            by[:, at] = (up[0] - down[0]) / (2.0 * _STEP)
            slope_by[:, at] = (up[1] - down[1]) / (2.0 * _STEP)
        by[:, self.departures], slope_by[:, self.departures] = more, more_slope
        departure = numbers[self.departures]
        return Curve(
            numbers[0] + value + more @ departure,
            slope + more_slope @ departure,
            bend + more_bend @ departure,
            by,
            slope_by,
        )

    def prior(self, departure_mm: float) -> tuple[Floats, Floats]:
        """Mean and standard deviation of each number beforehand."""
        mean = np.array([0.0, 15.0, 0.0, 0.2, 0.0, *[0.0] * (self.size - 5)])
        orders = np.repeat(np.arange(2, DEPARTURE_ORDER + 1), 2)
        sd = np.concatenate(
            ([1e3, 30.0, 20.0, 0.2, 0.12], departure_mm * (2.0 / orders) ** CAM_DECAY)
        )
        return mean, sd


class CamCurve:
    """A motion driven by a cam or linkage: a mean height and harmonics of fixed order."""

    size = 1 + 2 * CAM_ORDER

    def at(self, angle: Floats, numbers: Floats) -> Curve:
        """The curve at some angles, rad."""
        wave, slope, bend = harmonics(angle, range(1, CAM_ORDER + 1))
        by = np.hstack((np.ones((len(angle), 1)), wave))
        slope_by = np.hstack((np.zeros((len(angle), 1)), slope))
        return Curve(by @ numbers, slope_by @ numbers, bend @ numbers[1:], by, slope_by)

    def prior(self, size_mm: float) -> tuple[Floats, Floats]:
        """Mean and standard deviation of each number beforehand, for a first harmonic so large."""
        orders = np.repeat(np.arange(1, CAM_ORDER + 1), 2)
        return np.zeros(self.size), np.concatenate(([1e3], size_mm / orders**CAM_DECAY))


CAM_DECAY = 2.0
"""By which power of its order a harmonic is smaller beforehand; tuned on simulated cams and
linkages (see bench/running_motion.py), not on any machine."""

_STEP = 1e-5
"""Step of the two numerical derivatives."""
