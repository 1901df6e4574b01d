"""What is doubted of digits read by cuts of ours, which are not the punches that struck them.

Two things a plate shows by itself. What speaks for a figure at all its places alike is no figure
but what they share: the hollow that a worn strike leaves, the lay of the metal, a lean that our
cuts have not. On one plate of a leaning face worn to 0.95 every place spoke for a 0 and against
all else by three in logarithms, and two thirds were read as 0. And a place that no figure fits
nearly as well as its fellows' places fit theirs holds one that we have not drawn as it was cut.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

ALIKE = 3.0
"""Spread, in logarithms, of what may speak for a figure at all places of a plate alike. Of 31
tuning plates, nine of faces that lean, 2 to 4 lose alike and 0 more (`bench/README.md`); three
photographed ones, two worn to 0.95, lose 1.73 a digit with 0, 1.45 with 2 and 1.37 with 3 and 4,
and 4 takes figures from an upright face that were read."""
_STEPS, _STRIDE = 12, 0.6
"""Steps in which it is found, and the share of each that is gone."""
_HALF, _NOISE = 0.5, 3.0
"""A place whose best figure stands at half of its fellows' median or more counts in full, and noise
makes so much of a figure, in logarithms (judged: 0.7 for the half reads alike)."""


def unshared(logs: NDArray[np.float64], spread: float = ALIKE) -> NDArray[np.float64]:
    """Log-likelihoods of figures less what speaks for each at all places alike.

    Parameters
    ----------
    logs
        Log-likelihoods, places x figures x anything that the places share.
    spread
        Spread of what may be alike, in logarithms.

    As many places hold a figure as chance allows, one in ten give or take, and one more or less,
    for numbers are no lots drawn; what is stated of all places together must say so (calibration to
    known shares: Saerens, Latinne and Decaestecker, 2002). The offset of each figure is the one
    most probable by that and by its spread
    (Gauss-Newton steps). Where digits are clear no offset changes their shares, and there is none.
    """
    places, figures = logs.shape[:2]
    chance = places / figures * (1 - 1 / figures) + 1
    off = np.zeros((1, *logs.shape[1:]))
    for _ in range(_STEPS):
        left = logs - off
        p = np.exp(left - logsumexp(left, axis=1, keepdims=True))
        many = p.sum(axis=0, keepdims=True) - places / figures
        moves = (p * (1 - p)).sum(axis=0, keepdims=True)
        best = moves * (many + moves * off) / chance / (moves**2 / chance + spread**-2)
        off = off + _STRIDE * (best - off)
    return np.asarray(logs - off)


def beside_fellows(logs: NDArray[np.float64]) -> NDArray[np.float64]:
    """Power to which each place's likelihoods count, 0 to 1; places x 1 x what they share.

    Parameters
    ----------
    logs
        Log-likelihoods against nothing, places x figures x anything that the places share.
    """
    best = np.maximum(logs.max(axis=1, keepdims=True), 0.0)
    usual = np.median(best, axis=0, keepdims=True)
    return np.asarray(np.minimum((best + _NOISE) / (_HALF * usual + _NOISE), 1.0))
