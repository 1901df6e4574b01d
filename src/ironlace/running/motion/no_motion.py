"""Whether readings carry a motion at all, or might as well be numbers out of a hat."""

import numpy as np
import scipy  # its parts load when they are first asked for

from ironlace.evidence.arrays import Floats
from ironlace.running.motion.curves import harmonics
from ironlace.running.motion.joint_fit import JointFit, widest_gap


def carries_none(angle: Floats, height: Floats) -> bool:
    """Whether readings all round the turn show no motion: no order, and none foretells another.

    Of fewer readings, or where a third of the turn was not read, nothing is said.
    """
    read = ~np.isnan(height)
    count = int(read.sum())
    if count < _FEWEST_TRIED or widest_gap(angle[read]) > _ALL_ROUND:
        return False
    most, chance = _FEW if count < _MANY else _ENOUGH
    return chance_of_order(angle, height) > chance and left_by_others(angle, height) > most


def no_better_than_constant(fit: JointFit, at: int) -> bool:
    """Whether a curve fitted all round foretells a reading hardly better than their middle does."""
    straight, member = fit.linear, fit.members[0]
    read = ~np.isnan(fit.readings.height[:, at])
    if widest_gap(fit.readings.angle[read]) > _ALL_ROUND:
        return False
    design = straight.design[read, at]
    own = fit.height_scatter**2 + (fit.angle_scatter * straight.slope[read, at]) ** 2
    shared = np.einsum("np,pq,nq->n", design, member.covariance, design)
    kept = straight.keep[read, at]
    alone = np.where(kept, np.maximum(own - shared, 0.02 * own), own + shared)
    off = np.abs(fit.strange[read, at]) * np.where(kept, own / np.sqrt(alone), np.sqrt(alone))
    return bool(np.median(off) > _NO_BETTER * _apart(fit.readings.height[read, at]))


def _apart(height: Floats) -> float:
    """How far heights lie from their middle, mm: a part that rests for half the turn counts too."""
    low, high = np.quantile(height, (0.1, 0.9))
    return _OF_TENTHS * float(high - low)


def chance_of_order(angle: Floats, height: Floats) -> float:
    """How likely heights without a motion would follow each other as smoothly as these.

    Neighbours on the wheel stand near each other in rank where something moves, and anyhow where
    nothing does; misread values do little to ranks (R. Bartels, The rank version of von Neumann's
    ratio test for randomness, *J. American Statistical Association* 77, 1982, with its beta law).
    The widest gap between angles is no neighbourhood.

    Parameters
    ----------
    angle
        (n,) rad.
    height
        (n,) mm, NaN where nothing was read.
    """
    read = ~np.isnan(height)
    turned = np.mod(angle[read], 2.0 * np.pi)
    order = np.argsort(turned, kind="stable")
    turned = turned[order]
    widest = int(np.argmax(np.diff(turned, append=turned[0] + 2.0 * np.pi)))
    rank = scipy.stats.rankdata(np.roll(height[read][order], -widest - 1))
    n = len(rank)
    spread = float(((rank - rank.mean()) ** 2).sum())
    if n < _FEWEST_RANKS or spread == 0.0:
        return 1.0
    ratio = float((np.diff(rank) ** 2).sum()) / spread
    both = 5.0 * n * (n + 1) * (n - 1) ** 2 / (2.0 * (n - 2) * (5.0 * n**2 - 2.0 * n - 9.0)) - 0.5
    return float(scipy.stats.beta.cdf(0.25 * ratio, both, both))


def left_by_others(angle: Floats, height: Floats) -> float:
    """How far a reading lies from what the others foretell, over how far from their middle.

    Foretold by a wave of three harmonics that misread values pull little at: near
    1 where a curve is no better than a constant, a few hundredths to a third where something moves.

    Parameters
    ----------
    angle
        (n,) rad.
    height
        (n,) mm, NaN where nothing was read.
    """
    read = ~np.isnan(height)
    found = height[read] - np.median(height[read])
    apart = _apart(found)
    if apart == 0.0:
        return 1.0
    wave, _, _ = harmonics(angle[read], range(1, _ORDERS + 1))
    design = np.column_stack((np.ones(len(found)), wave))
    orders = np.repeat(np.arange(1, _ORDERS + 1), 2)
    hold = np.concatenate(([1e-3], _HOLD * orders**4))
    weight = np.ones(len(found))
    for _ in range(_ROUNDS):
        precision = (design * weight[:, None]).T @ design + np.diag(hold)
        left = found - design @ np.linalg.solve(precision, design.T @ (weight * found))
        usual = max(float(np.median(np.abs(left))), 1e-9)
        weight = 1.0 / np.maximum(np.abs(left) / usual, 1.0)
    share = weight * np.einsum("np,pn->n", design, np.linalg.solve(precision, design.T))
    return float(np.median(np.abs(left) / np.maximum(1.0 - share, 0.05))) / apart


_OF_TENTHS = 0.3
"""Middle distance of even numbers and of a wave from their middle, over what lies between their
lowest and highest tenth (0.31 and 0.37, rounded down)."""

_FEWEST_TRIED = 10
"""Readings from which order is told from chance at all."""

_ALL_ROUND = 2.1
"""Readings are all round when no gap between their angles is wider, rad (120 degrees)."""

_MANY = 16
"""From so many readings on less is asked before it is said that nothing moves."""

_FEW, _ENOUGH = (0.5, 0.02), (0.3, 0.005)
"""Share that the others leave of a reading, and chance of such an order, past which few or enough
readings carry no motion: of 400 good evenings of five families and feeds that rest none passed both
(tuned on these; bench/running_motion.py counts with the fit)."""

_NO_BETTER = 0.6
"""Share of the middle distance that a curve must leave to be no better than a constant; good
evenings leave 0.01 to 0.3."""

_FEWEST_RANKS = 5
"""Fewer readings stand in any order by chance."""

_ORDERS = 3
"""Harmonics of the wave that readings are held against."""

_HOLD = 0.02
"""How firmly the wave is held down, in readings' worth for the first harmonic."""

_ROUNDS = 12
"""Rounds in which the weights of misread values settle."""
