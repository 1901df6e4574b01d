"""Whether pulls are of one screw, one thread and one scale: what does not lie on one curve.

A smooth curve with a contact takes in much that it should not: a screw counted once too far looks
like a later contact, a scale at its end like a spring that gives way. So other accounts of the same
pulls are laid beside it, in the order in which they were read: from some row on the screw stands
elsewhere, or the thread pulls by another factor, or the tension rises no more. Where one of them
leaves so much less that scatter would hardly do it (F test of nested least squares, any text on
linear models; by Bonferroni over the rows tried), it is told.

Pulls at one visit of a setting share what the hand did to the screw. Where visits scatter more than
pulls within them, each counts as one pull.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import scipy  # its parts load when they are first asked for

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.running.tension.screw_curve import LEAST_RATE, SAME_TURNS

_SURE = 0.002
"""Chance by scatter alone below which another account is told. By the law one evening in 500; of
480 made ones three were told falsely, since contacts are tried in steps."""

_BY_VISITS = 0.05
"""And so small it must be with each visit as one pull: the hand errs once for all pulls there."""

_BY_EYE = 0.003
"""Chance by scatter alone below which visits are said to scatter more than their pulls."""

_CONTACTS = 41
"""Turns of contact that are tried."""

_MOVES = tuple(d for d in np.arange(-12, 13) / 8.0 if d)
"""Turns by which the screw may stand elsewhere; more than a turn and a half shows by the eye."""

_FACTORS = tuple(g for g in np.geomspace(0.5, 2.0, 17) if abs(g - 1.0) > 1e-3)
"""Factors by which another thread may pull, or one that lies between the discs by half."""

_FEWEST = 9
"""Visits, or else pulls, below which nothing is looked for: each account takes up six of them."""

_MOST = 30
"""So many pulls at most are asked, evenly over the rows: of a long record from a load cell the
accounts would be laid beside thousands, and the contacts tried are too coarse for so many."""

_OWN, _MORE = 4, 2
"""What a curve takes up of the pulls (floor, slope, bend, contact), and what an account more."""

_PARTS = (0.25, 0.5, 0.75, 1.0)
"""Parts of the way from one setting to the next at which the screw's stop is tried."""

_AT_END = 3
"""So many pulls on the highest figure tell a scale's end, where scales are read finely."""

_FINELY = 0.015
"""Graduation of the readings, as a share of the highest, from which equal figures are chance."""

_STANDS = 0.25
"""Share of the middle tension that does not scale with it, for the weights: a dial's own reading
error. Only how pulls are weighed hangs on it."""


class Amiss(StrEnum):
    """What pulls tell besides one curve."""

    END_OF_SCALE = "the scale stood at its end"
    LEVELS_OFF = "the tension rises no more"
    CHANGED = "something changed"


@dataclass(frozen=True, slots=True)
class OneEvening:
    """What pulls say of the evening they were read in.

    Attributes
    ----------
    amiss
        What does not lie on one curve; None where all do.
    since, row
        The setting from which it does not, turns, and the row it was first read in, from 0; both 0
        where all do.
    keep
        (n,) which pulls are of the curve: those at the scale's end, or beyond a stop, are not.
    by_eye
        Whether settings scatter more than the pulls at them.
    again
        Whether some setting was come to again after others.
    """

    amiss: Amiss | None
    since: float
    keep: Bools
    by_eye: bool
    again: bool
    row: int = 0


def one_evening(turns: Floats, tension: Floats) -> OneEvening:
    """Say whether pulls, in the order they were read, are of one screw, one thread and one scale.

    Parameters
    ----------
    turns
        (n,) settings, turns inwards, in the order they were read.
    tension
        (n,) gf.

    >>> turns = np.repeat(np.arange(11) / 2.0, 2)
    >>> pulls = 10.0 + 20.0 * np.maximum(turns - 0.5, 0.0) + np.tile([0.4, -0.4], 11)
    >>> one_evening(turns, pulls).amiss is None
    True
    >>> one_evening(turns, np.minimum(pulls, 80.0)).amiss
    <Amiss.END_OF_SCALE: 'the scale stood at its end'>
    """
    visit = visits(turns)
    all_kept = np.ones(len(turns), dtype=bool)
    _, first = np.unique(visit, return_index=True)
    again = len(first) > len(np.unique(np.round(turns[first], 3)))
    at_end = _at_end(turns, tension)
    if at_end.any() and (~at_end).sum() > 0:
        since = float(turns[at_end].min())
        row = int(np.flatnonzero(at_end)[0])
        return OneEvening(Amiss.END_OF_SCALE, since, ~at_end, by_eye=False, again=again, row=row)
    by_eye = _by_eye(turns, tension, visit)
    amiss, row, chance = _another_account(turns, tension, np.ones(len(turns)))
    if chance >= _SURE:
        return OneEvening(None, 0.0, all_kept, by_eye, again)
    at, level, many = means(turns, tension, visit)
    if len(at) < len(turns):
        apart, _, chance = _another_account(at, level, many)
        if chance >= _BY_VISITS:
            return OneEvening(None, 0.0, all_kept, by_eye, again)
        amiss = apart if apart is not None else amiss
    keep = turns < turns[row] - SAME_TURNS if amiss is Amiss.LEVELS_OFF else all_kept
    return OneEvening(amiss, float(turns[row]), keep, by_eye=False, again=again, row=row)


def visits(turns: Floats) -> Ints:
    """Number the visits of settings in the order they were read, from 0, shape (n,)."""
    return np.cumsum(np.abs(np.diff(turns, prepend=turns[:1])) > SAME_TURNS)


def means(turns: Floats, tension: Floats, visit: Ints) -> tuple[Floats, Floats, Floats]:
    """Setting, mean tension and number of pulls of each visit, shape (visits,)."""
    many = np.bincount(visit).astype(np.float64)
    return np.bincount(visit, turns) / many, np.bincount(visit, tension) / many, many


def _at_end(turns: Floats, tension: Floats) -> Bools:
    """Pulls at settings where the highest figure stands, if it is the end of the scale."""
    none = np.zeros(len(turns), dtype=bool)
    top = np.abs(tension - tension.max()) < 1e-9
    at = np.round(turns, 3)
    if top.sum() < _AT_END or len(np.unique(at[top])) == 1 or not top[at == at.max()].all():
        return none
    if _graduation(tension) > _FINELY * tension.max():
        # coarse figures are often equal: whole settings must stand there, one after the other
        whole = [t for t in np.unique(at[top]) if top[at == t].all()]
        return np.asarray(np.isin(at, whole)) if len(whole) > 2 else none
    return np.asarray(np.isin(at, at[top]))


def _graduation(tension: Floats) -> float:
    """The step in which a scale was read, gf: the greatest that divides all, from a tenth on."""
    return float(np.gcd.reduce(np.rint(tension * 10.0).astype(np.int64))) / 10.0


def _by_eye(turns: Floats, tension: Floats, visit: Ints) -> bool:
    """Whether visits lie further off a smooth curve than pulls within them scatter (F test)."""
    at, level, many = means(turns, tension, visit)
    within = len(turns) - len(at)
    if within < 3 or len(at) <= _OWN + 1:
        return False
    weight = _weights(tension)
    pure = float((weight * (tension - level[visit]) ** 2).sum()) / within
    left = _least(_designs(at[None, :], at), level, many * _weights(level))
    between = left / (len(at) - _OWN)
    chance = float(scipy.stats.f.sf(between / max(pure, 1e-12), len(at) - _OWN, within))
    return chance < _BY_EYE


def _another_account(at: Floats, level: Floats, many: Floats) -> tuple[Amiss | None, int, float]:
    """The likeliest account beside one curve, from which row on, and its chance by scatter."""
    asked = np.unique(np.linspace(0, len(at) - 1, min(len(at), _MOST)).astype(np.int64))
    at, level, many = at[asked], level[asked], many[asked]
    rows = [r for r in range(2, len(at) - 1) if abs(at[r] - at[r - 1]) > SAME_TURNS]
    if not rows or len(at) < _FEWEST:
        return None, 0, 1.0
    weight = many * _weights(level)
    alone = _least(_designs(at[None, :], at), level, weight)
    tried = [
        (_least(designs, level, weight), what, row)
        for row in rows
        for what, designs in _accounts(at, row)
    ]
    left, what, row = min(tried, key=lambda one: one[0])
    freedom = len(at) - _OWN - _MORE
    ratio = (alone - left) / _MORE / max(left / freedom, 1e-12)
    chance = float(scipy.stats.f.sf(ratio, _MORE, freedom)) * len(rows)
    return what, int(asked[row]), chance


def _accounts(at: Floats, row: int) -> Iterator[tuple[Amiss, Floats]]:
    """Designs, (m, n, 3), of what may have happened before a row was read."""
    late = np.arange(len(at)) >= row
    moved = at + np.multiply.outer(np.array(_MOVES), late)
    yield Amiss.CHANGED, _designs(moved, at)
    same = _designs(at[None, :], at)
    factor = np.where(late, np.array(_FACTORS)[:, None], 1.0)
    scaled = same[None] * factor[:, None, :, None]
    yield Amiss.CHANGED, scaled.reshape(-1, *same.shape[1:])
    if late.sum() > 1 and (at[row:] > at[:row].max()).all():
        stops = at[row - 1] + np.array(_PARTS) * (at[row] - at[row - 1])
        yield Amiss.LEVELS_OFF, _designs(np.minimum(at, stops[:, None]), at)


def _designs(turns: Floats, at: Floats) -> Floats:
    """Floor, slope and bend at every contact, for each of some settings (k, n): (m, n, 3).

    Way in from the contact counts from 0 to 1 at the furthest. The last half have the bend of a
    curve that is as good as level there, and no other.
    """
    low, high = float(at.min()), float(np.unique(at)[-2])
    contact = np.linspace(low - 1.0, high, _CONTACTS)
    over = np.maximum(turns[:, None, :] - contact[:, None], 0.0).reshape(-1, turns.shape[-1])
    over /= np.maximum(over.max(axis=1, keepdims=True), 1e-9)
    one = np.ones_like(over)
    free = np.stack((one, over, over**2), axis=2)
    level = np.stack((one, over - 0.5 * (1.0 - LEAST_RATE) * over**2, 0.0 * one), axis=2)
    return np.concatenate((free, level))


def _weights(tension: Floats) -> Floats:
    # a scale that shows nothing at most settings has no middle
    middle = max(float(np.median(tension)), 0.1 * float(tension.max()))
    return np.asarray(1.0 / (_STANDS * middle + np.maximum(tension, 0.0)) ** 2)


def _least(designs: Floats, level: Floats, weight: Floats) -> float:
    """The least weighed sum of squares that any of the designs, (m, n, 3), leaves."""
    weighed = designs * np.sqrt(weight)[:, None]
    aim = level * np.sqrt(weight)
    normal = weighed.transpose(0, 2, 1) @ weighed
    # a contact beyond nearly all settings leaves a column of nothing
    normal += 1e-10 * np.trace(normal, axis1=1, axis2=2)[:, None, None] * np.eye(3)
    score = weighed.transpose(0, 2, 1) @ aim
    found = np.linalg.solve(normal, score[:, :, None])[:, :, 0]
    left = ((aim - np.einsum("mnk,mk->mn", weighed, found)) ** 2).sum(axis=1)
    # no spring gives way so far that its curve lies level or falls
    falls = found[:, 1] + 2.0 * found[:, 2] < LEAST_RATE * found[:, 1] - 1e-9
    level_one = np.abs(designs[:, :, 2]).max(axis=1) == 0.0
    return float(left[~falls | level_one].min())
