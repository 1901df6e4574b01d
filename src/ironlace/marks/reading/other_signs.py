"""Whether a place shows the figure that fits it best, or something else: by how its fellows fit.

Something always fits best: a letter that looks like a figure, one of two figures struck one over
the other, a scratch. What such a place has in common is that the best figure fits it worse than the
plate's other digits are fitted, that some of its strokes are lacking, and that another figure fits
what is left. How far each of these varies among the digits of a plate hangs on its wear and its
pits, so each is taken in spreads of that plate's own digits. What these say together was fitted on
tuning plates by logistic regression (Cox, 1958).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.known_shapes import WIDE, norms, shift_logs, windows_of
from ironlace.marks.reading.strikes import PATCH, Slopes

_FEWEST = 6
"""Digits below which a plate tells nothing of its spreads."""
_NEAR = 9.0
"""Shifts less probable than this, in logarithms, are not looked at."""
_LEAST = np.array([0.05, 0.03, 0.3])
"""Spreads that are taken at least: of the fit's logarithm, of the second fit, of the lack's."""
_MOST = np.array([8.0, 8.0, 6.0])
"""Spreads that count at most; the other way one."""
_PARTS = (4, 2)
"""Parts of a figure, down and across, of equal weight, that are looked at one by one."""
_TOO_DEEP, _DEEPEST_MM = 4.0, 0.3
"""Times its fellows' median, and depth, from which a place is no strike: figure punches so high go
a quarter of a millimetre deep, one twice as deep as another (common practice, no source). Of 54
made plates the deepest digit was 3.8 times the median up to wear 0.8, none so deep."""
_HOLE = 6.0
"""Log-odds of that."""
_SMALL = 0.03
"""Lack that is none, added before logarithms are taken."""


@dataclass(frozen=True)
class Judge:
    """Log-odds by each spread, and where nothing is odd."""

    by: tuple[float, float, float]
    off: float


GIVEN = Judge((1.15, 1.27, 0.83), -2.47)
"""Where the shapes struck are given."""
CUTS = Judge((0.89, 0.74, 0.28), -0.83)
"""Where cuts of ours are laid, which fit no strike in full."""


def odds_of_others(oddities: NDArray[np.float64], judge: Judge) -> NDArray[np.float64]:
    """Log-likelihood, for each place, that it shows something else than the best figure.

    Parameters
    ----------
    oddities
        Of `oddities_of`, places x 3.
    """
    if len(oddities) < _FEWEST:
        return np.zeros(len(oddities))
    middle = np.median(oddities, axis=0)
    spread = 1.48 * np.median(np.abs(oddities - middle), axis=0)
    spread = np.sqrt(spread**2 + _LEAST**2)
    at = np.clip((oddities - middle) / spread, -1.0, _MOST)
    return np.asarray(at @ np.array(judge.by) + judge.off)


def holes(depths: Sequence[float]) -> NDArray[np.float64]:
    """Log-likelihood that a hole lies at each place, by its depth beside its fellows', mm."""
    deep = np.asarray(depths, dtype=np.float64)
    usual = float(np.median(deep)) if len(deep) else 0.0
    return np.where((deep > _TOO_DEEP * usual) & (deep > _DEEPEST_MM), _HOLE, -np.inf)


def oddities_of(
    held: Sequence[Slopes],
    laid: Sequence[NDArray[np.float32]],
    strikes: NDArray[np.float32],
    glyph_of: NDArray[np.int64],
    second: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """How ill the best figure fits each place, another fits what it leaves, and parts lack.

    Parameters
    ----------
    held
        Places, slopes held down.
    laid
        Correlation of each strike at every shift, for each place.
    strikes, glyph_of
        Templates x 2 x 60 x 48, each of norm 1, and the number of each one's glyph.
    second
        Which of them are laid over what the best leaves.
    """
    flat = strikes.reshape(len(strikes), -1)
    logs = shift_logs()
    near = logs > logs.max() - _NEAR
    told = []
    for wide, r in zip(held, laid, strict=True):
        best = np.where(near, r, -1.0)
        i, j = divmod(int(best.argmax()), best.shape[1])
        down, right = divmod(j, WIDE[1] - PATCH[1] + 1)
        at = np.s_[:, down : down + PATCH[0], right : right + PATCH[1]]
        strike, here = strikes[i], wide[at]
        much = float((strike * here).sum())
        left = wide.copy()
        left[at] = here - much * strike
        others = second & (glyph_of != glyph_of[i])
        over = (flat[others] @ windows_of(left)) / norms(left).ravel()
        fit = max(float(best[i, j]), 0.05)
        told.append((-np.log(fit), float(over[:, near].max()), _lacking(strike, here, much)))
    return np.array(told, dtype=np.float64).reshape(-1, 3)


def _lacking(strike: Slopes, here: Slopes, much: float) -> float:
    """How unevenly the parts of a figure are there, as the logarithm of their spread."""
    weight, seen = (strike**2).sum(axis=0), (strike * here).sum(axis=0)
    rows, columns = (
        np.minimum((np.cumsum(weight.sum(axis=axis)) * parts).astype(int), parts - 1)
        for axis, parts in zip((1, 0), _PARTS, strict=True)
    )
    part = (rows[:, None] * _PARTS[1] + columns[None, :]).ravel()
    share = np.bincount(part, weight.ravel(), _PARTS[0] * _PARTS[1])
    there = np.bincount(part, seen.ravel(), _PARTS[0] * _PARTS[1])
    uneven = there / np.maximum(share, 1e-6) / max(much, 1e-6) - 1
    return float(np.log(np.sqrt((share * uneven**2).sum()) + _SMALL))
