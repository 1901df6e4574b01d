"""Motions of sewing heads and an evening's readings of them, made by solving linkages as drawings.

Nothing here is shared with the fit: points of a linkage are found as crossings of circles, cams are
followed point by point, errors are uniform, triangular or heavy-tailed and rounded to the scale,
and misread values are whole divisions of the scale.

Families: `cranked` (an off-set crank and link, a swung shuttle) and `shuttled` (a rocker-driven
bar, a transverse shuttle with a dwell) were looked at while the fit was made. `hearted` (a
heart-shaped groove with rests, a shuttle on a slotted lever) was held back until a cam was
reckoned with. `grooved` (a bar in a cam groove that rises and falls in unequal parts of the turn
and rests at the top, a shuttle in a straight yoke) and `belled` (an eccentric that moves the bar
through a bell crank and a link, the same shuttle) are held back.
"""

from dataclasses import dataclass

import numpy as np

FAMILIES = ("cranked", "shuttled", "hearted", "grooved", "belled")


@dataclass
class Head:
    """A head: each motion as a table over a turn, at a fiftieth of a degree."""

    degrees: np.ndarray
    motions: dict
    meeting: float  # shuttle reading at the needle
    meets_at: float  # degrees

    def at(self, motion, degrees):
        turn = np.mod(degrees, 360.0)
        return np.interp(turn, self.degrees, self.motions[motion])

    def stroke(self, motion):
        return float(np.ptp(self.motions[motion]))

    def lowest(self, motion):
        return float(self.degrees[np.argmin(self.motions[motion])])

    def highest(self, motion):
        return float(self.degrees[np.argmax(self.motions[motion])])

    @property
    def rise(self):
        bar = self.motions["needle bar"]
        return float(self.at("needle bar", self.meets_at) - bar.min())


def head(family, rng):
    degrees = np.linspace(0.0, 360.0, 18001)
    turn = np.radians(degrees)
    start = rng.uniform(0.0, 2.0 * np.pi)
    bar, shuttle = _MADE[family](turn, start, rng)
    motions = {
        "needle bar": bar + rng.uniform(5.0, 40.0),
        "shuttle": shuttle + rng.uniform(10.0, 30.0),
        "take-up": _take_up(turn, start, rng) + rng.uniform(0.0, 20.0),
        "feed": _feed(turn, start, rng) + rng.uniform(1.0, 5.0),
    }
    lowest = degrees[np.argmin(motions["needle bar"])]
    meets = lowest + rng.uniform(20.0, 34.0)
    made = Head(degrees, motions, 0.0, meets % 360.0)
    made.meeting = float(made.at("shuttle", meets))
    return made


def _crossing(x, y, one, px, py, other, side):
    """Where circles about two points meet."""
    dx, dy = px - x, py - y
    far = np.hypot(dx, dy)
    along = (one**2 - other**2 + far**2) / (2.0 * far)
    up = np.sqrt(one**2 - along**2)
    mx, my = x + along * dx / far, y + along * dy / far
    return mx - side * up * dy / far, my + side * up * dx / far


def _on_line(x, y, reach, line, below):
    """Where a circle meets the upright line x = line, above or below its middle."""
    return y + (-1.0 if below else 1.0) * np.sqrt(reach**2 - (x - line) ** 2)


def _cranked(turn, start, rng):
    radius = rng.uniform(12.0, 19.0)
    link = radius * rng.uniform(2.4, 5.5)
    aside = radius * rng.uniform(-0.2, 0.2)
    pin = turn - start
    bar = _on_line(radius * np.sin(pin), -radius * np.cos(pin), link, aside, below=True)
    # a swung shuttle: crank, link and rocker, its point on an arc of the rocker's arm
    at = start + np.radians(rng.uniform(60.0, 110.0))
    crank, link2, rocker = 10.0, rng.uniform(55.0, 80.0), rng.uniform(28.0, 40.0)
    x, y = crank * np.cos(turn - at), crank * np.sin(turn - at)
    gx, gy = _crossing(x, y, link2, link2 + 4.0, rocker * 0.9, rocker, 1.0)
    swing = np.unwrap(np.arctan2(gy - rocker * 0.9, gx - link2 - 4.0))
    return bar, (swing - swing.mean()) * rng.uniform(60.0, 85.0)


def _shuttled(turn, start, rng):
    # an eccentric rocks a lever whose far end carries the bar by a short link
    ecc, rod = rng.uniform(6.0, 9.0), rng.uniform(70.0, 110.0)
    short, long_ = rng.uniform(32.0, 42.0), rng.uniform(62.0, 80.0)
    at = turn - start
    x, y = ecc * np.sin(at), -ecc * np.cos(at)
    jx, jy = _crossing(x, y, rod, short, -rod, short, 1.0)
    lean = np.unwrap(np.arctan2(jy + rod, jx - short))
    ex, ey = short - long_ * np.cos(lean - np.pi), -rod + long_ * np.sin(lean)
    bar = _on_line(ex, ey, rng.uniform(25.0, 40.0), float(ex.mean()), below=True)
    # a shuttle drawn across by a cam: in 150 degrees, rest, back in 150, rest
    begin = np.degrees(start) + rng.uniform(-75.0, -55.0)
    across = rng.uniform(45.0, 60.0)
    phase = np.mod(np.degrees(turn) - begin, 360.0)
    rest = rng.uniform(10.0, 30.0)
    move = 180.0 - rest
    out = np.clip(phase / move, 0.0, 1.0)
    back = np.clip((phase - 180.0) / move, 0.0, 1.0)
    ease = lambda s: s - np.sin(2.0 * np.pi * s) / (2.0 * np.pi)  # noqa: E731
    return bar, across * (ease(out) - ease(back))


def _hearted(turn, start, rng):
    # rise and fall at even pace with rounded ends, a loop-throwing dip after the bottom
    phase = np.mod(np.degrees(turn - start) + 180.0, 360.0) - 180.0
    even = np.abs(phase) / 180.0
    round_ = rng.uniform(0.10, 0.2)
    value = np.sqrt(even**2 + round_**2) - np.sqrt((even - 1.0) ** 2 + round_**2)
    bar = rng.uniform(26.0, 36.0) * (value - value.min()) / np.ptp(value)
    dip = rng.uniform(0.0, 0.6) * np.exp(-0.5 * ((phase - 70.0) / 18.0) ** 2)
    # a shuttle on a slotted lever: quick return
    at = turn - start - np.radians(rng.uniform(10.0, 30.0))
    crank, centre = rng.uniform(9.0, 12.0), rng.uniform(26.0, 36.0)
    swing = np.arctan2(crank * np.sin(at), centre + crank * np.cos(at))
    return bar - dip, swing * rng.uniform(70.0, 90.0)


def _yoke(turn, start, rng):
    # a pin in a straight slot, leaning a little: the shuttle moves as a sine
    at = turn - start - np.radians(rng.uniform(-55.0, -25.0))
    return rng.uniform(18.0, 28.0) * (np.cos(at) + np.tan(rng.uniform(-0.1, 0.1)) * np.sin(at))


def _grooved(turn, start, rng):
    # up by a 3-4-5 polynomial, a rest, and down in what is left of the turn
    phase = np.mod(np.degrees(turn - start), 360.0)
    up, rest = rng.uniform(140.0, 185.0), rng.uniform(5.0, 40.0)
    ease = lambda s: s**3 * (10.0 - 15.0 * s + 6.0 * s**2)  # noqa: E731
    rise = ease(np.clip(phase / up, 0.0, 1.0))
    fall = ease(np.clip((phase - up - rest) / (360.0 - up - rest), 0.0, 1.0))
    return rng.uniform(24.0, 36.0) * (rise - fall), _yoke(turn, start, rng)


def _belled(turn, start, rng):
    # an eccentric draws one arm of a bell crank, whose other arm lifts the bar by a link
    ecc, rod = rng.uniform(7.0, 11.0), rng.uniform(60.0, 100.0)
    arm, other = rng.uniform(24.0, 32.0), rng.uniform(38.0, 52.0)
    at = turn - start
    x, y = ecc * np.cos(at), ecc * np.sin(at)
    jx, jy = _crossing(x, y, rod, rod, -arm, arm, 1.0)
    lean = np.unwrap(np.arctan2(jy + arm, jx - rod)) - np.radians(rng.uniform(80.0, 100.0))
    ex, ey = rod + other * np.cos(lean), -arm + other * np.sin(lean)
    bar = _on_line(ex, ey, rng.uniform(30.0, 45.0), float(ex.mean()), below=True)
    return bar, _yoke(turn, start + np.radians(rng.uniform(-10.0, 10.0)), rng)


_MADE = {
    "cranked": _cranked,
    "shuttled": _shuttled,
    "hearted": _hearted,
    "grooved": _grooved,
    "belled": _belled,
}


def _take_up(turn, start, rng):
    at = np.degrees(turn - start)
    knots = np.array([0.0, 45.0, 100.0, 190.0, 250.0, 290.0, 330.0]) + rng.uniform(-6, 6, 7)
    heights = np.array([30.0, 14.0, 2.0, 6.0, 38.0, 58.0, 46.0]) + rng.uniform(-2, 2, 7)
    from scipy.interpolate import PchipInterpolator

    x = np.concatenate((knots - 360.0, knots, knots + 360.0))
    curve = PchipInterpolator(x, np.tile(heights, 3))
    table = curve(np.mod(at, 360.0))
    box = np.ones(1200) / 1200.0  # a roller rounds 24 degrees
    return np.convolve(np.concatenate((table[-600:], table, table[:600])), box, "same")[600:-600]


def _feed(turn, start, rng):
    at = turn - start + rng.uniform(-0.3, 0.3)
    length, third = rng.uniform(1.5, 3.5), rng.uniform(0.05, 0.2)
    return 0.5 * length * (np.cos(at) + third * np.cos(2.0 * at) + 0.5 * third * np.cos(3.0 * at))


def readings(
    made,
    degrees,
    motions,
    rng,
    mm=0.1,
    deg=2.0,
    misread=0.03,
    law="normal",
    disc_mm=0.0,
    disc_radius=60.0,
):
    """What is read: the wheel's angle as the disc has it (and opposite), and heights, mm."""
    degrees = np.asarray(degrees, dtype=float)
    true = degrees + deg * _error(law, rng, len(degrees))
    towards = rng.uniform(0.0, 2.0 * np.pi)
    tilt = np.degrees(disc_mm / disc_radius) * np.sin(np.radians(degrees) - towards)
    table = {"wheel": np.round(degrees + tilt, 1), "opposite": np.round(degrees - tilt, 1)}
    wrong = []
    for motion in motions:
        height = made.at(motion, true) + mm * _error(law, rng, len(degrees))
        slip = rng.random(len(degrees)) < misread
        height += np.where(slip, rng.choice([-10.0, -5.0, 5.0, 10.0], len(degrees)), 0.0)
        table[motion] = np.round(height, 1)
        wrong += [(int(row), motion) for row in np.flatnonzero(slip)]
    return table, wrong


def _error(law, rng, count):
    """Errors of standard deviation 1 by one of several laws."""
    if law == "normal":
        return rng.standard_normal(count)
    if law == "uniform":
        return rng.uniform(-np.sqrt(3.0), np.sqrt(3.0), count)
    if law == "triangular":
        return rng.triangular(-np.sqrt(6.0), 0.0, np.sqrt(6.0), count)
    return rng.standard_t(5.0, count) / np.sqrt(5.0 / 3.0)
