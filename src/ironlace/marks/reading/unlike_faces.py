"""A face unlike all that we draw: told by what its own places share, and read for what that is.

Two places of a plate that hold the same figure were struck with the same punch. How alike they are
tells how much of each is the strike, however worn it is, and whatever the face; crust and pits are
not shared. If our figures fit each of them much worse than they fit each other, the face is not one
of ours. On plates worn to 0.9 hardly anything stands out of bare metal, and what is struck can no
longer be told by that (`bare_metal.likeness`); strikes and network, which look at the same slopes,
agree on a wrong figure.

Of such a face what strikes and network say counts for little, and which places hold the same figure
for something. So all places are named together: each by what both say of it, each two by how alike
they are.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logsumexp

from ironlace.marks.reading.known_shapes import norms, shift_logs, windows_of
from ironlace.marks.reading.read_together import Together
from ironlace.marks.reading.strikes import Slopes
from ironlace.marks.reading.strings import Shared
from ironlace.marks.reading.two_witnesses import named_alike

Numbers = NDArray[np.float64]

_NEAR = 9.0
"""Shifts less probable than this, in logarithms, are not looked at."""
_SAME = 0.1
"""Share of all pairs that hold the same figure (ten figures, drawn alike)."""
_STEPS = 60
"""Steps of expectation and maximisation, many more than it takes to settle."""
_FIRM = 3.0
"""Pairs for which the spread of like pairs is held to that of unlike ones (judged)."""
_LEAST, _MOST = -3.0, 6.0
"""What one pair may tell at most, in logarithms: 0 and 8 of one face are more alike than chance."""
_FEWEST = 8
"""Places below which there are too few pairs to tell like from unlike."""
_UNLIKE, _WIDE = 1.15, 0.07
"""How much more alike places of one figure are than our figures make them, from which a face is as
likely unlike ours, and in what width that turns. Of 37 tuning plates of our faces, worn to 0 to
0.95, 0.61 to 1.13, 1.23 and 1.26 of two of which little is read, and 1.57 of an italic; of 33 of
faces unlike ours 1.1 to 2.6, and 0.97 and 1.0 of two (`bench/README.md`)."""
_STRIKES, _NETWORK, _PAIRS = 0.3, 0.5, 0.15
"""Powers to which strikes, network and pairs count of such a face. The network's was 0.35 by the
tuned faces alone; by those held back, once looked at, too little was stated then."""
_NEVER = 0.12
"""Chance that a figure of such a face is none that was named: some are cut as ours of another. With
these, of 67 plates worn to 0.3 to 0.9 0.65 is stated and 0.68 right, none sure and wrong, and 1.07
lost a digit (33 of tuned faces 0.62, 0.57, 1.33; `bench/README.md`)."""
_CHAINS, _SWEEPS, _WARM = 32, 80, 25
"""Samplers side by side, how often each goes over all places, and how many of those do not count:
of one plate drawn again chances differ by 0.01."""


@dataclass(frozen=True)
class Pairs:
    """What each two places tell of holding the same figure.

    Attributes
    ----------
    logs
        Log-likelihood of the same against another figure; places x places, nought with itself.
    shared
        By how much more places of the same figure correlate than others do.
    """

    logs: Numbers
    shared: float


def alike(held: Sequence[Slopes]) -> Numbers:
    """How well each two places correlate at their best shift; places x places.

    Parameters
    ----------
    held
        Places, slopes held down.
    """
    logs = shift_logs()
    near = np.flatnonzero(logs > logs.max() - _NEAR)
    windows = [windows_of(one) / norms(one).ravel() for one in held]
    middles = np.stack([one[:, one.shape[1] // 2] for one in windows])
    each = np.stack([(middles @ one[:, near]).max(axis=1) for one in windows], axis=1)
    return np.asarray((each + each.T) / 2, dtype=np.float64)


def pairs_told(each: Numbers) -> Pairs:
    """Which pairs are alike, by a mixture of two Gaussians (Dempster, Laird and Rubin, 1977).

    Parameters
    ----------
    each
        Correlations, places x places (`alike`).

    One pair in ten holds the same figure. How alike those are, and all others, is the plate's own.

    >>> figures = np.array([0, 0, 0, 1, 1, 2, 3, 4, 5, 6])
    >>> noise = np.random.default_rng(1).normal(0, 0.02, (10, 10))
    >>> seen = np.where(figures[:, None] == figures, 0.5, 0.1) + noise + noise.T
    >>> told = pairs_told(seen)
    >>> round(told.shared, 1), bool(told.logs[0, 1] > 2), bool(told.logs[0, 5] < -2)
    (0.3, True, True)
    """
    c = each[np.triu_indices(len(each), 1)]
    low = float(np.median(c))
    wide = max(1.4826 * float(np.median(np.abs(c - low))), 1e-4)
    high, broad = float(np.sort(c)[-max(3, round(_SAME * len(c))) :].mean()), wide
    for _ in range(_STEPS):
        odds = _odds(c, (low, wide), (high, broad)) + np.log(_SAME / (1 - _SAME))
        same = np.where(c < low, 0.0, expit(odds))
        many, rest = float(same.sum()), 1 - same
        low = float(rest @ c / rest.sum())
        wide = max(float(np.sqrt(rest @ (c - low) ** 2 / rest.sum())), 1e-4)
        high = max((float(same @ c) + low + 2 * wide) / (many + 1), low + wide)
        broad = float(np.sqrt((same @ (c - high) ** 2 + _FIRM * wide**2) / (many + _FIRM)))
    # a broad Gaussian is likelier on both sides of a narrow one: less alike is never likelier
    grid = np.linspace(low - 3 * wide, high, 200)
    told = np.minimum.accumulate(_odds(grid, (low, wide), (high, broad))[::-1])[::-1]
    logs = np.clip(np.interp(each, grid, told), _LEAST, _MOST)
    np.fill_diagonal(logs, 0.0)
    return Pairs(np.asarray(logs), high - low)


def _odds(c: Numbers, unlike: tuple[float, float], like: tuple[float, float]) -> Numbers:
    """Log-likelihood of the second Gaussian (mean, spread) against the first."""
    (low, wide), (high, broad) = unlike, like
    more = 0.5 * ((c - low) / wide) ** 2 - 0.5 * ((c - high) / broad) ** 2
    return np.asarray(more + np.log(wide / broad))


@dataclass(frozen=True)
class Witnesses:
    """What was laid and looked at, as if the face were one of ours.

    Attributes
    ----------
    held
        Places, slopes held down.
    best
        Fit of the best of our figures at each place.
    strikes, looked
        Chances by the strikes alone and log-likelihoods by the network, places x figures.
    """

    held: Sequence[Slopes]
    best: Numbers
    strikes: Numbers
    looked: Numbers


def unlike_ours(pairs: Pairs, seen: Witnesses) -> float:
    """Chance that the face is none of ours.

    Strikes that both hold a figure of ours correlate by the product of their fits with it; what
    they share beyond that is in no figure of ours. Where strikes and network name the same figure
    at nearly every place, that speaks for ours; that they seldom do says nothing of a worn face.

    >>> pairs, told = Pairs(np.zeros((8, 8)), 0.12), np.tile(np.eye(10)[:2], (4, 1))
    >>> alone = [Witnesses([], np.full(8, fit), told, -told) for fit in (0.4, 0.25)]
    >>> [round(unlike_ours(pairs, seen), 3) for seen in alone]
    [0.003, 1.0]
    """
    ours = max(float(np.median(seen.best)) ** 2, 1e-6)
    agreed = max(named_alike(seen.strikes, seen.looked), 0.0)
    return float(expit((pairs.shared / ours - _UNLIKE) / _WIDE - agreed))


def named_together(logs: Numbers, pairs: Numbers, rng: np.random.Generator) -> Numbers:
    """Chance of each figure at each place where each two places tell whether they hold the same.

    Parameters
    ----------
    logs
        Log-likelihoods of the figures by themselves, places x figures.
    pairs
        Log-likelihood of the same figure at each two places, places x places.
    rng
        Draws what is sampled.

    Sampled place by place, each given all others (Geman and Geman, 1984).

    >>> alone = np.array([[3.0, 0.0], [0.0, 0.1]])
    >>> same = np.array([[0.0, 4.0], [4.0, 0.0]])
    >>> bool(named_together(alone, same, np.random.default_rng(1))[1, 0] > 0.8)
    True
    """
    places, figures = logs.shape
    first = logs[None] + rng.gumbel(size=(_CHAINS, places, figures))
    named = np.eye(figures)[first.argmax(axis=2)]
    found = np.zeros((places, figures))
    for sweep in range(_SWEEPS):
        warm = min(1.0, (sweep + 1) / _WARM)
        for k in range(places):
            told = logs[k] + warm * np.einsum("j,cjg->cg", pairs[k], named)
            named[:, k] = np.eye(figures)[(told + rng.gumbel(size=told.shape)).argmax(axis=1)]
            if sweep >= _WARM:
                chance = np.exp(told - logsumexp(told, axis=1, keepdims=True))
                found[k] += chance.sum(axis=0)
    return np.asarray(found / found.sum(axis=1, keepdims=True))


def as_of_any_face(
    read: Together, seen: Witnesses, like: float, rng: np.random.Generator
) -> tuple[Together, float]:
    """A plate's digits read as of our faces and as of none; how like ours the face is.

    Parameters
    ----------
    read
        As of our faces.
    like
        How like ours the face is by all else (`two_witnesses.like_by_both`), 0 to 1.

    What is told is averaged over both, by how probable each is. Of a face unlike ours no figure is
    told surely, for one may be cut as we cut another.
    """
    if len(seen.held) < _FEWEST:
        return read, like
    pairs = pairs_told(alike(seen.held))
    like = like * (1 - unlike_ours(pairs, seen))
    looked = seen.looked - logsumexp(seen.looked, axis=1, keepdims=True)
    logs = _STRIKES * np.log(np.maximum(seen.strikes, 1e-6)) + _NETWORK * looked
    p = named_together(logs, _PAIRS * pairs.logs, rng)
    told = (1 - _NEVER) * np.clip(1 - read.empty - read.strange - read.other, 0, 1)[:, None]
    p = told * p + (1 - told) / p.shape[1]
    weights = np.append(like * read.shared.weights, 1 - like)
    return replace(read, shared=Shared(weights, np.concatenate([read.shared.p, p[None]]))), like
