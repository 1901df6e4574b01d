"""How much more or less the metal shines from place to place, on the coarse grid.

One lobe is fitted to a whole plate; but metal is rubbed bright here and dull there. Where it shines
more than was taken it is too bright under high torches and too dark under low ones, and so it looks
tilted towards where the high torches happened to stand: with 24 of them hardly, with six by a
degree or two. So each cell gets its own strength of the lobe, fitted beside its albedo and its
tilt (steps of Gauss and Newton with Cauchy's weights). How far strengths and tilts mostly stray,
and how well the formula holds, are fitted from all the cells together (empirical Bayes by
expectation and maximisation; Dempster, Laird and Rubin, 1977), so that few photographs, which tell
a cell's shine badly, change it little. A tilt's spread is Student's: a dent is no shine.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.marks.relief.reflectance import Lobe

F64 = NDArray[np.float64]

ROUNDS = 15
"""Steps; tilts move by under a hundredth of a degree after ten."""
FEWEST = 4
"""Photographs in which a cell must be lit for its shine to be asked for: albedo, two slopes and the
shine are four."""
SPREAD_CELLS = 1.0
"""Cells over which light is averaged, standard width: a mark is no patch of shine."""
SEEN = 0.2
"""Share of that neighbourhood that must be lit plate."""
OUTLIER = 0.7
"""Logarithm of light beyond which a cell is in a shadow or on something else."""
STRAYS = 2.4
"""Standard deviations at which a photograph of a cell has half its weight (Cauchy's usual one)."""
FREEDOM = 3.0
"""Degrees of freedom of the tilts' spread: heavy tails."""
MOST = 1.5
"""Logarithm of strength by which a cell may differ from the plate: rubbed bright over dull rust is
some 4 times."""
STARTS = (0.02, 0.01, 0.3)
"""Spreads at first: of light unexplained, of tilts (radians), of the logarithm of strength."""


def local_shine(light: F64, use: NDArray[np.bool_], towards: F64, lobe: Lobe, beside: F64) -> F64:
    """Logarithm of each cell's strength of the lobe over the plate's, rows x columns.

    Nought where it is not known, and everywhere on a matt plate.

    Parameters
    ----------
    light
        Light over what an upright place of the plate's lobe would send back, photographs x rows x
        columns.
    use
        The same shape: cells of the plate that a torch lights.
    towards
        Unit directions to the torches, photographs x rows x columns x 3.
    beside
        Photographs: share of an upright place's light that is not the torch's.
    """
    change = np.zeros(light.shape[1:])
    told, seen = _averaged(np.log(np.maximum(light, 1e-3)), use)
    known = seen.sum(0) >= FEWEST
    if not lobe.strength or np.count_nonzero(known) < FEWEST:
        return change
    cells = _Cells(told[:, known], seen[:, known], towards[:, known], lobe, beside[:, None])
    change[known] = cells.fitted()
    return change


def times_upright(towards: F64, lobe: Lobe, change: F64, beside: F64) -> F64:
    """Light of an upright place with a cell's own strength over one with the plate's.

    Parameters
    ----------
    towards, beside
        As for `local_shine`.
    change
        Rows x columns, from there.

    Returns
    -------
    array
        Photographs x rows x columns.
    """
    height = towards[..., 2]
    shine = lobe.strength * ((1 + height) / 2) ** (lobe.exponent / 2)  # the half angle's cosine
    own = (height + shine * np.exp(change)) / (height + shine)
    share = beside[:, None, None]
    return np.asarray((1 - share) * own + share)


def _averaged(told: F64, use: NDArray[np.bool_]) -> tuple[F64, NDArray[np.bool_]]:
    """Logarithms of light averaged over neighbouring cells that are used, and where any are."""
    use = use & (np.abs(told) < OUTLIER)
    out, seen = np.zeros_like(told), np.zeros_like(use)
    for k, (values, lit) in enumerate(zip(told, use, strict=True)):
        share = cv2.GaussianBlur(lit.astype(np.float64), (0, 0), SPREAD_CELLS)
        total = cv2.GaussianBlur(np.where(lit, values, 0.0), (0, 0), SPREAD_CELLS)
        seen[k] = lit & (share > SEEN)
        out[k] = np.where(seen[k], total / np.maximum(share, SEEN), 0.0)
    return out, seen


class _Cells:
    """The fit: photographs x n of everything."""

    def __init__(
        self, told: F64, seen: NDArray[np.bool_], towards: F64, lobe: Lobe, beside: F64
    ) -> None:
        self.told, self.seen, self.beside = told, seen, beside
        self.exponent = lobe.exponent
        half = towards + np.array([0.0, 0.0, 1.0])
        half /= np.linalg.norm(half, axis=-1, keepdims=True)
        self.matt = towards[..., 2]
        self.shine = lobe.strength * half[..., 2] ** lobe.exponent
        self.towards = np.moveaxis(towards[..., :2], -1, 0)
        self.half = np.moveaxis(half[..., :2] / half[..., 2:], -1, 0)

    def answers(self, change: F64) -> tuple[F64, F64]:
        """Logarithm of an upright place's light, over one of the plate's shine; how it answers.

        The latter to the logarithm of albedo, two slopes, and the logarithm of strength; 4 x
        photographs x n.
        """
        shine = self.shine * np.exp(change)
        one = self.matt + shine
        times = (1 - self.beside) * one / (self.matt + self.shine)
        light = times + self.beside
        part = times / light / one
        tilts = part * (self.towards + self.exponent * shine * self.half)
        return np.log(light), np.stack([np.ones_like(one), *tilts, part * shine])

    def fitted(self) -> F64:
        """Logarithm of strength of each cell over the plate's."""
        noise, tilt, stray = (one**2 for one in STARTS)
        change = np.zeros(self.told.shape[1])
        tilts = np.full_like(change, tilt)  # each cell's variance of its two slopes
        weight = self.seen.astype(np.float64)
        free = np.full_like(change, 1e-4)  # of albedo nothing is expected
        for _ in range(ROUNDS):
            light, answer = self.answers(change)
            target = self.told - light + answer[3] * change
            bent = answer * (weight / noise)
            sums = np.einsum("ikc,jkc->cij", bent, answer)
            even = np.full_like(change, 1 / stray)
            sums[:, range(4), range(4)] += np.stack([free, 1 / tilts, 1 / tilts, even], 1)
            doubt = np.linalg.inv(sums)
            right = np.einsum("ikc,kc->ci", bent, target)
            found = np.einsum("cij,cj->ci", doubt, right)
            change = np.clip(found[:, 3], -MOST, MOST)
            off = target - np.einsum("ikc,ci->kc", answer, found)
            known = np.einsum("ikc,ikc->kc", np.einsum("cij,jkc->ikc", doubt, answer), answer)
            square = np.minimum(off**2, 9 * noise) + known * (weight > 0)
            noise = float(square[self.seen].mean())
            weight = self.seen / (1 + off**2 / (STRAYS**2 * noise))
            size = found[:, 1] ** 2 + found[:, 2] ** 2 + doubt[:, 1, 1] + doubt[:, 2, 2]
            shrunk = (FREEDOM + 2) / (FREEDOM * tilt + size)
            tilt = float(1 / shrunk.mean())
            tilts = 1 / shrunk
            stray = float((found[:, 3] ** 2 + doubt[:, 3, 3]).mean())
        return np.asarray(change)
