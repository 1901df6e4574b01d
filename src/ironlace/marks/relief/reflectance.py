"""How worn metal throws light back: a matt share and a lobe, fitted from the photographs.

A place of albedo a and normal n sends a (n·l + k (n·h)^s) to the camera, l the direction to the
torch, h the one halfway between torch and camera (Blinn, 1977). Taken for matt, such a place has
its slopes too steep by about (tan z + lobe) / tan z. The light is homogeneous of the first degree
in a n, so a step of Gauss and Newton is a linear solution with directions that the lobe has bent.

What shine a plate has tells only in how its light departs from a linear answer, and few photographs
tell that badly. So no lobe is picked: all are weighed, and the factor has the spread they have.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
import scipy  # its parts load when they are first asked for
from numpy.typing import NDArray

from ironlace.evidence.two_hands import two_hands
from ironlace.marks.capture.middles import middle_picture
from ironlace.marks.relief.brightness import Brightness
from ironlace.marks.relief.gentle import PAIRS
from ironlace.marks.relief.stereo import F32, solved

F64 = NDArray[np.float64]

LIT = 0.02
"""Cosine to the torch, or to what lies halfway, below which a place counts as turned away."""


@dataclass(frozen=True)
class Lobe:
    """Strength of the lobe against the matt share, and its exponent."""

    strength: float
    exponent: float


@dataclass(frozen=True)
class Samples:
    """Places for the fit, each with its own directions.

    Attributes
    ----------
    light
        Torches x n, against what an upright place sends back (1 there).
    towards, half
        3 x torches x n, unit vectors.
    dark
        Torches: light at or below which a place is taken to be in shadow.
    beside
        Torches x n: share of an upright place's light that is not the torch's.
    """

    light: F32
    towards: F32
    half: F32
    dark: F32
    beside: F32

    @cached_property
    def usual(self) -> F32:
        """Median light of each place: every lobe that is tried begins with it."""
        usual: F32 = middle_picture(self.light[:, None])[0]
        return usual


def fitted_places(
    samples: Samples, strength: F32, exponent: F32, *, rounds: int = 5
) -> tuple[F32, F32]:
    """Surface of places under a given lobe, and what is left unexplained.

    Parameters
    ----------
    strength, exponent
        n: of each place's lobe.

    Returns
    -------
    tuple
        Scaled normals a n, 3 x n; what is left over a, torches x n, nan where a torch does not
        count.
    """
    towards, half = samples.towards, samples.half
    torch = towards[2] + strength * half[2] ** exponent
    even = samples.beside / (1 - samples.beside) * torch  # as if from straight above
    upright = torch + even
    lit = samples.light > samples.dark[:, None]
    scaled = np.zeros((3, samples.light.shape[1]), np.float32)
    scaled[2] = samples.usual
    off = np.zeros_like(samples.light)
    weight = lit.astype(np.float32)
    for turn in range(rounds):
        size = np.sqrt((scaled * scaled).sum(0))
        unit = scaled / np.maximum(size, 1e-9)
        facing = towards[0] * unit[0] + towards[1] * unit[1] + towards[2] * unit[2]
        glance = half[0] * unit[0] + half[1] * unit[1] + half[2] * unit[2]
        glance = np.maximum(glance, 1e-3)
        power = np.exp((exponent - 1) * np.log(glance))
        on = lit & (facing > LIT)
        told = np.where(facing > 0, facing + strength * power * glance, 0) + even * unit[2]
        told /= upright
        off = samples.light / np.maximum(size, 1e-9) - told
        if turn:
            spread = np.sqrt((on * np.minimum(off * off, 0.04)).sum(0) / np.maximum(on.sum(0), 1))
            scale = np.maximum(spread, 0.01)
            weight = on / (1 + (off / scale) ** 2)
        else:
            weight = on.astype(np.float32)
        gloss = strength * exponent * power / upright
        along = strength * (1 - exponent) * power * glance / upright
        bent = [towards[k] / upright + gloss * half[k] + along * unit[k] for k in range(3)]
        bent[2] += even / upright
        weighed = [weight * one for one in bent]
        sums = [(weighed[i] * bent[j]).sum(0) for i, j in PAIRS]
        for k in (0, 3, 5):
            sums[k] = sums[k] + np.float32(1e-5)
        right = np.stack([(one * samples.light).sum(0) for one in weighed])
        scaled = solved(np.stack(sums), right)
        scaled[2] = np.maximum(scaled[2], 1e-3)
    return scaled, np.where(on, off, np.nan)


def cost_of(off: F32, spread: float) -> F32:
    """Robust cost of each place: Cauchy's, mean over the torches that count."""
    seen = np.isfinite(off)
    cost = np.where(seen, np.log1p((np.where(seen, off, 0) / spread) ** 2), 0).sum(0)
    return np.asarray(cost / np.maximum(seen.sum(0), 1))


@dataclass(frozen=True)
class FittedLobe:
    """A plate's lobe, and by how much slopes would be too steep without it.

    Attributes
    ----------
    lobe
        The likeliest of those that make slopes as steep as they are on the whole expected to be.
    gain
        Slopes read as matt against slopes read with that lobe.
    gains, chances
        The same gain of each lobe that was weighed, n; its chance, n.
    doubt
        Spread of a gain's logarithm that no lobe tells: metal that follows no formula.
    """

    lobe: Lobe
    gain: float
    gains: F64
    chances: F64
    doubt: float

    def interval(self, more: float = 0.0) -> tuple[float, float]:
        """Within which the gain lies by 90 %; `more` is a further spread of its logarithm."""
        spread = np.hypot(self.doubt, more)
        ends = np.log(self.gains.min()) - 4 * spread, np.log(self.gains.max()) + 4 * spread
        at = np.linspace(*ends, 600)
        below = scipy.special.ndtr((at[:, None] - np.log(self.gains)) / spread) @ self.chances
        low, high = np.exp(np.interp((0.05, 0.95), below, at))
        return min(float(low), self.gain), max(float(high), self.gain)


STRENGTHS = (0.15, 0.3, 0.6, 1.0, 1.6, 2.5, 4.0)
"""Lobes that are tried; between them cost and gain are splines."""
EXPONENTS = (5.0, 9.0, 15.0, 25.0, 45.0)
"""The same of the exponent."""
FINER = (25, 17)
"""Strengths and exponents that are weighed, over the same reach."""
USUAL_STRENGTH = (0.5, 0.9)
"""Strength to be expected of worn iron, and the spread of its logarithm, before looking. Facets of
iron throw back 0.55 of the light, of which a lobe of exponent s sends 0.55 (s + 2) / 8 upwards; the
rust and dirt between them 0.1 to 0.5 matt. With half of the metal bare that is 0.2 to 2."""
USUAL_EXPONENT = (14.0, 0.6)
"""The same of the exponent: 2 over the mean square of the facets' lean, 0.2 to 0.6 radians where
metal was filed, rubbed and rusted."""
MATT = 0.15
"""Chance, before looking, that a plate is matt: rusted or painted all over."""
NEARLY = 0.005
"""Share by which a lobe's cost over the least makes it less likely by a factor of e, with `MANY`
photographs. Noise alone would allow far less, but no metal follows the formula; with fewer
photographs what is wrong with each is left out of account less well, and the share is larger in
proportion. Set on plates for tuning, as are the next two."""
MANY = 24
"""Photographs for which `NEARLY` holds."""
UNTOLD = 0.06
"""Spread of a gain's logarithm that is left with any number of photographs."""
UNTOLD_OF_SIX = 0.12
"""Further spread with six photographs, falling off with the root of their number."""
ABOUT = 0.02
"""How near, in its logarithm, the gain of the lobe taken lies to the expected one."""
SPREAD = 0.03
"""Share of the albedo within which the formula is taken to hold."""


def fitted_lobe(samples: Samples, seen: Brightness | None = None) -> FittedLobe:
    """Weigh lobes by what they leave unexplained at places of a plate, and by its brightness.

    Parameters
    ----------
    seen
        How bright the plate was under each torch; None where the torches' heights are guessed.
    """
    count = samples.light.shape[1]

    def tried(strength: float, exponent: float) -> tuple[float, F32]:
        one = np.ones(count, np.float32)
        scaled, off = fitted_places(
            samples, np.float32(strength) * one, np.float32(exponent) * one, rounds=4
        )
        return float(cost_of(off, SPREAD).mean()), scaled[:2] / scaled[2]

    plain, matt = tried(0.0, 10.0)
    weight = np.abs(matt).max(0) < 0.35

    def steeper(slopes: F32) -> float:
        # gentle both ways: a place that few torches lit may come out as a cliff
        gentle = weight & (np.abs(slopes).max(0) < 0.5)
        told = slopes[:, gentle]
        return float((told * matt[:, gentle]).sum() / max(float((told * told).sum()), 1e-9))

    costs, gains = np.empty((2, len(STRENGTHS), len(EXPONENTS)))
    pairs = list(product(STRENGTHS, EXPONENTS))
    with two_hands() as pool:
        for n, (cost_, slopes) in enumerate(pool.map(tried, *zip(*pairs, strict=True))):
            costs.flat[n], gains.flat[n] = cost_, steeper(slopes)
    lobes, cost, log_gain = _between(costs, np.log(gains))
    cost, log_gain = np.append(cost, plain), np.append(log_gain, 0.0)
    torches = len(samples.light)
    chance = _expected(lobes) - (cost / cost.min() - 1) / (NEARLY * MANY / torches)
    if seen is not None:
        chance += seen.tells(*lobes)
    chances = np.exp(chance - chance.max())
    chances /= chances.sum()
    middle = float(chances @ log_gain)
    off = np.abs(log_gain - middle)
    likely = np.where(off <= max(ABOUT, float(off.min())), chance, -np.inf)
    best = int(likely.argmax())
    lobe = Lobe(float(lobes[0, best]), float(lobes[1, best]))
    gain = steeper(tried(lobe.strength, lobe.exponent)[1]) if lobe.strength else 1.0
    doubt = float(np.hypot(UNTOLD, UNTOLD_OF_SIX * np.sqrt(6 / torches)))
    return FittedLobe(lobe, gain, np.exp(log_gain), chances, doubt)


def _between(costs: F64, gains: F64) -> tuple[F64, F64, F64]:
    """Lobes that are weighed, 2 x n, the last of them matt; cost and gain of all others."""
    strong, sharp = np.log(STRENGTHS), np.log(EXPONENTS)
    k = np.linspace(strong[0], strong[-1], FINER[0])
    s = np.linspace(sharp[0], sharp[-1], FINER[1])
    spline = scipy.interpolate.RectBivariateSpline
    cost, gain = (spline(strong, sharp, one)(k, s).ravel() for one in (costs, gains))
    strength, exponent = (np.exp(one).ravel() for one in np.meshgrid(k, s, indexing="ij"))
    return np.array([np.append(strength, 0.0), np.append(exponent, 10.0)]), cost, gain


def _expected(lobes: F64) -> F64:
    """Logarithm of each lobe's chance before looking; the last is matt."""
    told = np.zeros(lobes.shape[1] - 1)
    for values, (middle, spread) in zip(lobes, (USUAL_STRENGTH, USUAL_EXPONENT), strict=True):
        told -= 0.5 * (np.log(values[:-1] / middle) / spread) ** 2
    told += np.log(1 - MATT) - np.logaddexp.reduce(told)
    return np.append(told, np.log(MATT))
