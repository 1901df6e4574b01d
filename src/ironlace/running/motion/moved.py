"""Whether something moved while the readings were taken, and which reading to take next."""

from dataclasses import dataclass
from math import pi

import numpy as np

from ironlace.evidence.arrays import Bools, Floats
from ironlace.running.motion.figures import Taken, height_at
from ironlace.running.motion.joint_fit import JointFit, Shift

_SURE = 4.2
"""Standard deviations at which a step between two rows is told: with some hundred steps tried, one
in a hundred tables without any would show it."""

_FEWEST = 4
"""Readings needed on either side of a step."""

_CLIP = 4.0
"""Standard deviations beyond which a residual counts no more: a misread value is no step."""

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
        Standard deviations by which the readings ask for it.
    """

    row: int
    shift: Shift
    strength: float


def step_in(fit: JointFit) -> Step | None:
    """The likeliest step in the order of the rows, None when the readings ask for none."""
    straight = fit.linear
    known = ~np.isnan(fit.readings.height)
    rows = len(fit.readings.angle)
    left = np.clip(np.nan_to_num(fit.strange), -_CLIP, _CLIP)
    own = np.sqrt(fit.height_scatter**2 + (fit.angle_scatter * straight.slope) ** 2)
    white = straight.design / own[:, :, None]
    flat = white.reshape(-1, white.shape[2])
    covariance = fit.members[0].covariance
    tried: list[tuple[int, int, bool]] = []
    columns: list[Floats] = []
    several = known.sum(axis=0) >= 2 * _FEWEST
    for row in range(_FEWEST, rows - _FEWEST + 1):
        after = np.greater_equal(np.arange(rows), np.full(rows, row))
        split: Bools = np.asarray(known.any(axis=1))
        if min(split[after].sum(), split[~after].sum()) < _FEWEST:
            continue
        columns.append(np.where(after[:, None] & known, straight.slope / own, 0.0).ravel())
        tried.append((row, -1, True))
        for motion in np.flatnonzero(several):
            has = known[:, motion]
            if min((has & after).sum(), (has & ~after).sum()) < _FEWEST:
                continue
            column = np.zeros_like(own)
            column[:, motion] = np.where(after & has, 1.0 / own[:, motion], 0.0)
            columns.append(column.ravel())
            tried.append((row, int(motion), False))
    if not tried:
        return None
    asked = np.array(columns)
    seen = known.ravel()
    asked, target, base = asked[:, seen], left.ravel()[seen], flat[seen]
    shared = asked @ base
    free = (asked**2).sum(axis=1) - np.einsum("kp,pq,kq->k", shared, covariance, shared)
    # the residuals are of the fit already: only what it could not take up speaks for a step
    pull = asked @ target
    strength = np.abs(pull) / np.sqrt(np.maximum(free, 1e-6))
    strength[free < 0.02 * (asked**2).sum(axis=1)] = 0.0
    best = int(np.argmax(strength))
    if strength[best] < _SURE:
        return None
    first, moved, turns = tried[best]
    shift = Shift(
        (np.arange(rows) >= first).astype(np.float64), moved, turns, _TURN_SD if turns else _SLIP_SD
    )
    return Step(first, shift, float(strength[best]))


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
