"""What strikes laid and the network say of a plate's digits together, where no shapes are given.

Whether the face is one of ours, where much of what is struck is in none of our figures; and whether
the network is to be heard.

The network looks at patterns of slopes and names figures in bare grain as well: of plates of which
nothing is left the cuts laid over them tell nothing, and all that was stated of digits, 0.2 to 0.3
for the best, was the network's. Two things a plate shows speak for hearing it: that the cuts bear
it out, and that it tells more at digits than at bare places of the same plate.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logsumexp

from ironlace.marks.reading.read_together import Together
from ironlace.marks.reading.strings import Shared

_IN_GRAIN = 0.12
"""What both make a digit, in logarithms, where nothing is left: both look at the same slopes, and
bare places are few. Of 12 tuning plates worn to 0.95 and more of which next to nothing was read
-0.03 to 0.23, median 0.05; of 16 others 0.29 and more, but for two of which little is left (0.04
and 0.19) and two of which 0.44 and 0.67 were read (0.07 and 0.09; `bench/README.md`)."""

_SAME, _SAME_OF_OTHERS = 0.85, 0.6
"""Share of places at which strikes and network name the same figure, of faces that are read and,
at most, of those unlike ours. Of two plates worn soft to 0.95 and three of open letters, 0.78 to
0.94, all read at 0.83 and more; of four of a script 0.28, 0.33, 0.33 and 0.61, read at 0.2 to 0.4
(`bench/README.md`)."""
_SURER = 2.0
"""Power of chances by which readings are taken for surer."""
_POWERS = np.exp(np.linspace(-1.0, 1.0, 11))
"""Powers of a plate's chances that are tried."""
_OFF, _AGREED = 0.3, 0.5
"""Spread of that power beforehand, in logarithms, and the share of the agreement that counts. Of 23
tuning plates worn soft to 0.8 and more 0.74 were stated and 0.80 right, 0.80 with these; of six
planed to 0.8 0.57, 0.63 and 0.61; of seven planed to 0.95 0.15, 0.10 and 0.16. With twice the
share, or half as much spread again, plates worn soft state more than is right, and two to five more
digits are sure and wrong."""
_AT_LEAST = 0.5
"""Share of the likeness that is left however seldom they agree (judged): on a plate worn soft to
0.95, of 12 photographs, they do at 0.67 of places, and 0.78 were read."""


def like_by_both(like: float, strikes: NDArray[np.float64], looked: NDArray[np.float64]) -> float:
    """How like ours a plate's figures are, once strikes and network were asked which they are.

    Parameters
    ----------
    like
        By how much of what is struck the figures hold (`bare_metal.likeness`), 0 to 1. What lies in
        no figure may be rust and crust as well.
    strikes, looked
        What each tells of the figures, places x figures: chances, and log-likelihoods.

    Of a face unlike ours each finds what is like it, and they seldom find the same. So what was
    told by what is left over is the chance beforehand that the face is one of ours. Of a worn face
    that is ours they seldom find the same either, but then neither is sure: what they gain by being
    taken for surer (`understated`) speaks for it, less what they make together of grain.

    >>> struck, same = np.eye(10), 9 * np.eye(10)
    >>> other = np.roll(same, 1, axis=1)
    >>> round(like_by_both(0.3, struck, same), 2), round(like_by_both(0.3, struck, other), 4)
    (0.93, 0.15)
    """
    before = np.clip(like, 1e-6, 1 - 1e-6)
    modest = max(understated(strikes, looked) - _IN_GRAIN * len(looked), 0.0)
    ours = float(expit(np.log(before) - np.log1p(-before) + named_alike(strikes, looked) + modest))
    return max(ours, _AT_LEAST * like)


def named_alike(strikes: NDArray[np.float64], looked: NDArray[np.float64]) -> float:
    """What speaks for a face of ours by how often both name the same figure, in logarithms.

    Parameters
    ----------
    strikes, looked
        As for `like_by_both`.

    >>> round(named_alike(np.eye(10), np.eye(10)), 1)
    3.5
    """
    named = strikes.argmax(axis=1) == looked.argmax(axis=1)
    odds = np.where(named, _SAME / _SAME_OF_OTHERS, (1 - _SAME) / (1 - _SAME_OF_OTHERS))
    return float(np.log(odds).sum())


def understated(strikes: NDArray[np.float64], looked: NDArray[np.float64]) -> float:
    """How much better two readings would agree were each twice as sure, in logarithms; 0 at least.

    Parameters
    ----------
    strikes, looked
        As for `agreement`.

    Readings that are as sure as they are right agree best as they are. Such as name the same figure
    more often than their chances say are too modest, and those that contradict each other too bold.

    >>> modest = np.full((3, 10), 0.07) + 0.3 * np.eye(10)[:3]
    >>> bold = np.full((3, 10), 0.01) + 0.9 * np.eye(10)[:3]
    >>> round(understated(modest, np.log(modest)), 1)
    3.5
    >>> understated(bold, np.log(np.roll(bold, 1, axis=1)))
    0.0
    """
    surer = agreement(_powered(strikes, _SURER), _SURER * looked)
    return max(surer - agreement(strikes, looked), 0.0)


def _powered(p: NDArray[np.float64], power: float) -> NDArray[np.float64]:
    """Chances to a power, last axis summing to one again."""
    logs = power * np.log(np.maximum(p, 1e-12))
    return np.asarray(np.exp(logs - logsumexp(logs, axis=-1, keepdims=True)))


def as_sure_as_agreed(read: Together, strikes: Shared, looked: NDArray[np.float64]) -> Together:
    """A plate's digits told as surely as its two witnesses agree.

    Parameters
    ----------
    read
        As strikes and network tell together.
    strikes, looked
        What each tells alone: shared chances, and log-likelihoods of digits x figures.

    How many of a place's slopes are independent is known of bare metal, and how many of them count
    was fitted over plates; a plate by itself may bear more than that, or less. If strikes and
    network name the same figure more often than their chances say, both are too modest, and so is
    what they tell together. The power of all chances is taken for one that the plate has; its
    likelihood is the agreement of both, which is how well one foretells the other (the logarithmic
    score: Good, 1952), half of it counted, since both err together. What is told is averaged over
    it.
    """
    each = strikes.each()
    agreed = np.array([agreement(_powered(each, h), h * looked) for h in _POWERS])
    logs = _AGREED * agreed - 0.5 * (np.log(_POWERS) / _OFF) ** 2
    weights = np.exp(logs - logsumexp(logs))
    p = sum(w * _powered(read.shared.p, h) for w, h in zip(weights, _POWERS, strict=True))
    return replace(read, shared=replace(read.shared, p=np.asarray(p)))


def agreement(strikes: NDArray[np.float64], looked: NDArray[np.float64]) -> float:
    """How far two readings of a plate's digits agree, in logarithms, summed over places.

    Parameters
    ----------
    strikes
        Chances of the figures by the strikes laid, places x figures.
    looked
        Log-likelihoods by the network, places x figures.

    Log of the chance that both mean the same figure, against what it is where either tells nothing:
    0 then, negative where they contradict each other, log of the number of figures at most a place.

    >>> sure = np.array([[0.97, 0.01, 0.01, 0.01]])
    >>> round(agreement(sure, np.log(sure)), 2), round(agreement(sure, np.zeros((1, 4))), 2)
    (1.33, 0.0)
    """
    chance = np.exp(looked - logsumexp(looked, axis=1, keepdims=True))
    return float(np.log(looked.shape[1] * (strikes * chance).sum(axis=1)).sum())


def told(looked: NDArray[np.float64]) -> float:
    """What log-likelihoods tell of a place's figure, in logarithms; mean over places.

    Parameters
    ----------
    looked
        Log-likelihoods, places x figures.

    >>> round(told(np.zeros((3, 10))), 6), round(told(np.log([[0.5, 0.5], [0.9, 0.1]])), 3)
    (0.0, 0.184)
    """
    logs = looked - logsumexp(looked, axis=1, keepdims=True)
    return float(np.log(looked.shape[1]) + (np.exp(logs) * logs).sum(axis=1).mean())


def borne_out(
    both: Together, strikes: Shared, looked: NDArray[np.float64], bare: NDArray[np.float64]
) -> Together:
    """A plate's digits, read with the network as far as the plate shows that it is to be heard.

    Parameters
    ----------
    both
        As strikes and network tell together.
    strikes
        What the strikes alone tell.
    looked, bare
        Log-likelihoods by the network, digits x figures and bare places x figures.

    That the network tells something and that it tells nothing are as likely beforehand. For the
    first speaks the agreement of both, and what the network tells of digits beyond what it tells of
    bare metal, less what both make where nothing is left. What is told of each figure is averaged;
    whether anything is left, and what else a place may show, stays as it was.
    """
    beyond = told(looked) - told(bare) - _IN_GRAIN
    heard = float(expit(agreement(strikes.each(), looked) + len(looked) * beyond))
    weights = np.concatenate([heard * both.shared.weights, (1 - heard) * strikes.weights])
    return replace(both, shared=Shared(weights, np.concatenate([both.shared.p, strikes.p])))
