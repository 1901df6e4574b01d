"""Whether something moved while the readings were taken, and which reading to take next."""

from dataclasses import dataclass
from math import pi

import numpy as np

from ironlace.running.motion.figures import Taken, height_at
from ironlace.running.motion.joint_fit import JointFit, Shift

_LIKELY = 2.0
"""Standard deviations from which a step is tried at all."""

MOVES = 0.06
"""What a step's likelihood is weighed with beforehand: in three evenings of ten something moves, at
any of some twenty rows, of which four neighbours tell alike (a judgement, no source)."""

STEP_GAIN = 7.0
"""By how much the log of the likelihood must grow for a step to be told: some fifty steps are
tried (log 50 is 4), and three more make it surer than twenty to one."""

_FEWEST = 4
"""Readings needed on either side of a step."""

_OPEN = 0.02
"""Share of a step that the curves could not take up themselves, at least."""

_TURN_SD, _SLIP_SD = 0.35, 5.0
"""How far a disc may turn, rad, or a bar slip, mm, beforehand."""


@dataclass(frozen=True, slots=True)
class Step:
    """Something that moved from a row on.

    Attributes
    ----------
    row
        The first row, counted from 0, after which it stands otherwise.
    shift
        What moved.
    strength
        Standard deviations by which the readings seem to ask for it.
    """

    row: int
    shift: Shift
    strength: float


def steps_in(fit: JointFit) -> tuple[Step, ...]:
    """The steps that are worth a trial: the likeliest turn of the disc, and slip of each motion."""
    straight, strict = fit.linear, fit.strict
    keep = straight.keep
    rows = len(fit.readings.angle)
    scatter = np.exp(strict.logs[:2])
    own = np.sqrt(scatter[0] ** 2 + (scatter[1] * straight.slope) ** 2)
    left = np.where(keep, (straight.target - straight.design @ strict.numbers) / own, 0.0)
    base = np.where(keep[:, :, None], straight.design / own[:, :, None], 0.0)
    base = base.reshape(-1, base.shape[2])
    best: dict[int, Step] = {}
    for row in range(_FEWEST, rows - _FEWEST + 1):
        after = np.greater_equal(np.arange(rows), np.full(rows, row))
        for motion in range(-1, keep.shape[1]):
            has = keep if motion < 0 else keep & (np.arange(keep.shape[1]) == motion)
            late = has & after[:, None]
            if min(late.any(axis=1).sum(), (has & ~after[:, None]).any(axis=1).sum()) < _FEWEST:
                continue
            moves = straight.slope if motion < 0 else np.ones_like(own)
            column = np.where(late, moves / own, 0.0).ravel()
            shared = column @ base
            whole = float(column @ column)
            free = whole - float(shared @ strict.covariance @ shared)
            if free < _OPEN * whole:
                continue
            strength = abs(float(column @ left.ravel())) / free**0.5
            if strength > max(_LIKELY, best[motion].strength if motion in best else 0.0):
                sd = _TURN_SD if motion < 0 else _SLIP_SD
                shift = Shift(after.astype(np.float64), motion, turns=motion < 0, sd=sd)
                best[motion] = Step(row, shift, strength)
    return tuple(best.values())


@dataclass(frozen=True, slots=True)
class NextReading:
    """The reading that would tell most: its angle, rad, and the doubt left after it, as a share."""

    angle: float
    left: float


def next_reading(fit: JointFit, motions: tuple[int, ...], taken: Taken) -> NextReading:
    """At which wheel angle some motions, read together, would narrow a figure most."""
    member = fit.members[0]
    _, by = taken(member.numbers)
    pulled = member.covariance @ by
    now = float(by @ pulled)
    best = NextReading(0.0, 1.0)
    for angle in np.radians(np.arange(0.0, 360.0, 5.0)):
        rows = np.array([height_at(fit, m, angle, member.numbers)[1] for m in motions])
        slope = np.array([float(fit.curve(m, np.array([angle])).slope[0]) for m in motions])
        noise = fit.height_scatter**2 * np.eye(len(motions))
        noise = noise + fit.angle_scatter**2 * np.outer(slope, slope)
        gain = rows @ pulled
        after = now - float(gain @ np.linalg.solve(noise + rows @ member.covariance @ rows.T, gain))
        left = float(np.sqrt(max(after, 0.0) / max(now, 1e-12)))
        if left < best.left:
            best = NextReading(float(angle % (2.0 * pi)), left)
    return best
