"""A curve round the wheel from a few readings, some of which may be misread.

A reading is taken at a wheel angle that is itself only read, so a steep stretch of the curve is
known worse than a flat one. The curve is a Fourier series of fixed order with a Gaussian prior on
its harmonics, so it is neither the deepest reading nor a wiggle between two; which readings are
misread is averaged over (Box and Tiao 1968, "A Bayesian approach to some outlier problems",
Biometrika 55: a misread figure has its variance blown up). Fits are compared by their marginal
likelihood, in the data's space: covariance = design x prior x design' + noise.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ironlace.evidence.arrays import Floats

ORDER = 5
"""Harmonics of the series: with readings every 30 degrees a sixth could not be told at all. The
fourth and fifth are held to a small part of the first by the prior."""

LINKAGES = (
    (1.0, 0.08, 0.015, 0.004, 0.002),
    (1.0, 0.16, 0.05, 0.015, 0.006),
    (1.0, 0.3, 0.12, 0.05, 0.02),
)
"""Standard deviation of each harmonic in parts of the first: a crank and a long rod, a shorter one,
and a rocker or a cam. Own judgement, from linkages; the readings choose between them."""

_SCALES = (0.03, 0.12, 0.5, 2.0, 8.0)
"""Standard deviations of the first harmonic that are tried, in units of `Readings.scale`."""

_FEW = 24
"""Readings that are tried as misread in pairs; of more, those that stand out most."""

_MOST_SETS = 40
"""Sets of misread readings that are kept for the average: the rest weigh next to nothing."""

_NEGLIGIBLE = 12.0
"""A fit whose log likelihood is so far below the best one's is dropped (its weight is < 1e-5)."""


@dataclass(frozen=True, slots=True)
class Readings:
    """Readings of one quantity round the wheel.

    Attributes
    ----------
    wheel
        Radians, shape (n,).
    values
        Shape (n,).
    wheel_sd
        Standard deviation of a wheel angle, radians.
    misread_share, misread_spread
        What share of figures is taken to be misread before they are seen, and by how much a
        misread one is off (one standard deviation); a share of 0 trusts them all.
    scale
        What is a common size of the quantity's swing: 5 mm for works.
    shapes
        Standard deviations of the harmonics that are tried, in parts of the swing.
    """

    wheel: Floats
    values: Floats
    wheel_sd: float
    misread_share: float = 0.03
    misread_spread: float = 8.0
    scale: float = 5.0
    shapes: tuple[tuple[float, ...], ...] = LINKAGES


@dataclass(frozen=True)
class PeriodicFit:
    """A curve round the wheel with its doubt: an average over fits.

    Attributes
    ----------
    weights
        Of each fit, shape (m,); they sum to 1.
    means, roots
        Of the series' coefficients (constant, cosines, sines), and a square root of their
        covariance: shapes (m, k) and (m, k, k).
    misread
        Probability that a reading is misread, shape (n,).
    """

    weights: Floats
    means: Floats
    roots: Floats
    misread: Floats

    @property
    def mean(self) -> Floats:
        """Coefficients on average, shape (k,)."""
        found: Floats = self.weights @ self.means
        return found

    def drawn(self, count: int, rng: np.random.Generator) -> Floats:
        """Draw coefficients as the readings leave them, shape (count, k)."""
        which = rng.choice(len(self.weights), count, p=self.weights)
        noise = rng.standard_normal((count, self.means.shape[1]))
        found: Floats = self.means[which] + np.einsum("nij,nj->ni", self.roots[which], noise)
        return found


def series(wheel: Floats, slope: int = 0) -> Floats:
    """The columns of the Fourier series at wheel angles (radians), or of its slope.

    >>> series(np.array([0.0]))[0, :3].tolist()
    [1.0, 1.0, 1.0]
    """
    turns = np.arange(1, ORDER + 1)
    angle = np.multiply.outer(np.asarray(wheel, float), turns)
    if slope:
        columns = (np.zeros((angle.shape[0], 1)), -turns * np.sin(angle), turns * np.cos(angle))
    else:
        columns = (np.ones((angle.shape[0], 1)), np.cos(angle), np.sin(angle))
    return np.concatenate(columns, axis=1)


def fit_periodic(readings: Readings, noise_sd: float) -> PeriodicFit:
    """Fit a curve to readings with a known noise.

    Parameters
    ----------
    noise_sd
        Standard deviation of one reading, wheel angle apart.
    """
    middle = float(np.median(readings.values))
    y = readings.values - middle
    phi = series(readings.wheel)
    found = _averaged(readings, y, phi, _first_noise(readings, noise_sd), thorough=False)
    noise = noise_sd**2 + readings.wheel_sd**2 * _slopes(readings, found)
    found = _averaged(readings, y, phi, noise, thorough=True)
    means = found.means.copy()
    means[:, 0] += middle
    return PeriodicFit(found.weights, means, found.roots, found.misread)


def noise_told(readings: Readings, middle_sd: float, noises: Sequence[float]) -> Floats:
    """Log likelihood of each noise, from the scatter round the curve that fits best.

    Parameters
    ----------
    middle_sd
        A noise to begin with.
    noises
        Those to be compared.
    """
    y = readings.values - float(np.median(readings.values))
    phi = series(readings.wheel)
    found = _averaged(readings, y, phi, _first_noise(readings, middle_sd), thorough=False)
    sound = found.misread < 0.5
    slopes = _slopes(readings, found)[sound]
    # a loose prior, not what the coefficients came out as: that would use up noise twice
    turns = np.arange(1, ORDER + 1)
    size = np.sqrt(found.mean[1 : ORDER + 1] ** 2 + found.mean[ORDER + 1 :] ** 2)
    swing = max(float(size[0]), float(np.sqrt(np.mean(slopes))), 0.05 * readings.scale)
    each = np.square(1.5 * swing * 0.5 ** (turns - 1))
    prior = np.concatenate([[(20.0 * readings.scale) ** 2], each, each])
    curve = phi[sound] * prior @ phi[sound].T
    noise = np.square(noises)[:, None] + readings.wheel_sd**2 * slopes
    told = _Told(readings, y[sound], curve + noise[:, :, None] * np.eye(int(sound.sum())))
    return np.array([told.of(at, [()])[0] for at in range(len(noises))])


def _first_noise(readings: Readings, noise_sd: float) -> Floats:
    """Noise before the curve is known: every place may be as steep as the swing's mean."""
    swing = float(np.subtract(*np.percentile(readings.values, [90, 10]))) / 2.0
    noise = noise_sd**2 + (readings.wheel_sd * swing) ** 2 / 2.0
    return np.full(len(readings.values), noise)


def _slopes(readings: Readings, found: PeriodicFit) -> Floats:
    """Mean square slope of the curve at each reading."""
    steep = series(readings.wheel, slope=1)
    spread = np.einsum("m,mij,mkj->ik", found.weights, found.roots, found.roots)
    square: Floats = (steep @ found.mean) ** 2 + np.einsum("ni,ij,nj->n", steep, spread, steep)
    return square


def _averaged(
    readings: Readings, y: Floats, phi: Floats, noise: Floats, *, thorough: bool
) -> PeriodicFit:
    """Average over priors and over sets of misread readings."""
    n = len(y)
    priors = np.array(
        [_prior(shape, s * readings.scale) for shape in readings.shapes for s in _SCALES]
    )
    told = _Told(readings, y, np.einsum("ij,pj,kj->pik", phi, priors, phi) + np.diag(noise))
    none: list[tuple[int, ...]] = [()]
    single = [*none, *((i,) for i in range(n))] if readings.misread_share > 0.0 else none
    # each prior with each set of at most one misread reading: what to look at closely
    first = np.array([told.of(p, single) for p in range(len(priors))])
    best = np.argsort(-first.max(axis=1))[: 6 if thorough else 3]
    best = best[first[best].max(axis=1) > first.max() - _NEGLIGIBLE]
    fits: list[tuple[float, int, tuple[int, ...]]] = []
    for p in best:
        tried = single
        if readings.misread_share > 0.0:
            tried = _widened(told, int(p), n, thorough=thorough)
        fits += [(float(log), int(p), s) for log, s in zip(told.of(p, tried), tried, strict=True)]
    fits.sort(key=lambda fit: -fit[0])
    fits = [fit for fit in fits[:_MOST_SETS] if fit[0] > fits[0][0] - _NEGLIGIBLE]
    logs = np.array([fit[0] for fit in fits])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    misread = np.zeros(n)
    for weight, (_, _, one) in zip(weights, fits, strict=True):
        misread[list(one)] += weight
    means, roots = _coefficients(readings, y, phi, noise, priors, fits)
    return PeriodicFit(weights, means, roots, misread)


def _prior(shape: Sequence[float], scale: float) -> Floats:
    each = np.square(np.array(shape) * scale)
    return np.concatenate([[(20.0 * scale) ** 2 + 1.0], each, each])


def _widened(told: "_Told", prior: int, n: int, *, thorough: bool) -> list[tuple[int, ...]]:
    """Sets of misread readings worth weighing: all pairs, and from the best of them outwards."""
    singles: list[tuple[int, ...]] = [(), *((i,) for i in range(n))]
    logs = told.of(prior, singles)
    likely = [int(i) for i in np.argsort(-logs[1:])[: _FEW if thorough else 6]]
    tried = dict.fromkeys([*singles, *combinations(sorted(likely), 2)])
    front = list(tried)
    for _ in range(max(1, n // 4)):
        logs = told.of(prior, front)
        leading = [front[int(i)] for i in np.argsort(-logs)[:4]]
        grown = {tuple(sorted({*one, i})) for one in leading for i in range(n) if i not in one}
        front = sorted(grown - tried.keys())
        if not front:
            break
        better = told.of(prior, front).max() > logs.max()
        tried.update(dict.fromkeys(front))
        if not better:
            break
    return list(tried)


class _Told:
    """Log marginal likelihood of the readings, for priors and sets of misread readings.

    A misread reading adds to one place of the covariance's diagonal, so that each set takes a small
    system of its own size (matrix inversion lemma).
    """

    def __init__(self, readings: Readings, y: Floats, covariances: Floats) -> None:
        self._inverse = np.linalg.inv(covariances)
        self._size = np.linalg.slogdet(covariances)[1]
        self._white = self._inverse @ y
        self._fit = self._white @ y
        self._extra = readings.misread_spread**2
        share = readings.misread_share
        self._odds = float(np.log(share / (1.0 - share))) if share > 0.0 else 0.0

    def of(self, prior: int, sets: Sequence[tuple[int, ...]]) -> Floats:
        """The likelihood of each set under one prior, shape (len(sets),)."""
        logs = np.full(len(sets), -0.5 * (self._size[prior] + self._fit[prior]))
        sizes = np.array([len(one) for one in sets])
        inverse, white = self._inverse[prior], self._white[prior]
        for size in np.unique(sizes[sizes > 0]):
            which = np.flatnonzero(sizes == size)
            at = np.array([sets[int(i)] for i in which])
            inner = np.eye(size) / self._extra + inverse[at[:, :, None], at[:, None, :]]
            part = white[at]
            gain = np.einsum("si,si->s", part, np.linalg.solve(inner, part[..., None])[..., 0])
            grown = np.linalg.slogdet(inner)[1] + size * np.log(self._extra)
            logs[which] += 0.5 * (gain - grown) + size * self._odds
        return logs


def _coefficients(
    readings: Readings,
    y: Floats,
    phi: Floats,
    noise: Floats,
    priors: Floats,
    fits: Sequence[tuple[float, int, tuple[int, ...]]],
) -> tuple[Floats, Floats]:
    """Mean and root of the covariance of the coefficients, for each fit."""
    certainty = np.broadcast_to(1.0 / noise, (len(fits), len(y))).copy()
    for at, (_, _, one) in enumerate(fits):
        which = list(one)
        certainty[at, which] = 1.0 / (noise[which] + readings.misread_spread**2)
    information = np.einsum("ni,mn,nj->mij", phi, certainty, phi)
    information += np.array([np.diag(1.0 / priors[p]) for _, p, _ in fits])
    covariance = np.linalg.inv(information)
    means = np.einsum("mij,nj,mn,n->mi", covariance, phi, certainty, y)
    even = (covariance + covariance.transpose(0, 2, 1)) / 2.0
    return means, np.asarray(np.linalg.cholesky(even), dtype=np.float64)


__all__ = ["PeriodicFit", "Readings", "fit_periodic", "noise_told", "series"]
