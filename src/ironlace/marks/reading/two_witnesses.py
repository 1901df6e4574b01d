"""Whether the network is to be heard of a plate's digits, where no shapes are given.

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
