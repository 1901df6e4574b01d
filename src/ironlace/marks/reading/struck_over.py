"""Two figures struck one over the other at one place, as one shape.

A punch struck over another strike leaves the deeper of both at every spot, so that a stroke ends
where it runs into the other. Neither figure alone accounts for the place, and taken one after the
other they count their crossings twice. So the metal that both would leave is made: the heights of
two strikes are integrated from their slopes (`relief.integrating`), the lower is taken, and its
slopes are laid over the place as those of one figure are.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.known_shapes import (
    REACH,
    WIDE,
    held_down,
    laid_out,
    norms,
    shift_logs,
)
from ironlace.marks.reading.strikes import PATCH, Slopes, slopes_of
from ironlace.marks.relief.integrating import height_of_slopes

_FIRSTS = 3
"""Figures, the best of a place, that are tried as one of the two: what fits a pair best alone may
be a third figure, as an 8 fits a 3 over a 6."""
_NEAR = 9.0
"""Shifts less probable than this, in logarithms, are not looked at."""


@dataclass(frozen=True)
class Pair:
    """The two figures that fit a place best together.

    Attributes
    ----------
    figures
        Their numbers, that of the one which also fits best alone first.
    fit
        Correlation of what both would leave with the place, 0 to 1.
    gain
        That less the fit of the best figure alone.
    second
        How well another figure fits what the best one alone leaves.
    """

    figures: tuple[int, int]
    fit: float
    gain: float
    second: float


class Pairs:
    """Lays two figures over places; keeps the heights it has made of strikes.

    Parameters
    ----------
    strikes, glyph_of
        Templates x 2 x 60 x 48, each of norm 1, and the number of each one's figure.
    second
        Which of them are laid over what the first leaves.
    """

    def __init__(
        self,
        strikes: NDArray[np.float32],
        glyph_of: NDArray[np.int64],
        second: NDArray[np.bool_],
    ) -> None:
        self._strikes, self._glyph_of = strikes, glyph_of
        self._second = np.flatnonzero(second)
        self._flat = strikes[self._second].reshape(len(self._second), -1)
        self._heights: dict[int, NDArray[np.float64]] = {}
        logs = shift_logs()
        self._near = np.flatnonzero(logs > logs.max() - _NEAR)

    def best(self, wide: Slopes, laid: NDArray[np.float32]) -> Pair:
        """The pair that fits a place best.

        Parameters
        ----------
        wide
            Its slopes, held down, shape of `WIDE`.
        laid
            Correlation of each strike with it at every shift.
        """
        near = laid[: len(self._strikes), self._near]
        tops, shifts = near.max(axis=1), self._near[near.argmax(axis=1)]
        alone = float(tops.max())
        size = norms(wide).ravel()
        fit, pair, second = -1.0, (0, 0), []
        for i in self._firsts(tops):
            at = int(shifts[i])
            others = self._seconds(wide, i, at)
            second.append(max(over for _, _, over in others))
            for j, to, _ in others:
                both = self._fit(wide, (i, at), (j, to)) / float(size[at])
                if both > fit:
                    fit, pair = both, (int(self._glyph_of[i]), int(self._glyph_of[j]))
        return Pair(pair, fit, fit - alone, second[0])

    def _firsts(self, tops: NDArray[np.float32]) -> Sequence[int]:
        """The best strike of each of the best figures."""
        each: list[int] = []
        for k in np.argsort(-tops):
            if self._glyph_of[k] not in self._glyph_of[each]:
                each.append(int(k))
            if len(each) == _FIRSTS:
                break
        return each

    def _seconds(self, wide: Slopes, i: int, at: int) -> list[tuple[int, int, float]]:
        """The best strike of every other figure over what the first leaves; its shift and fit."""
        here = window(at)
        left = wide.copy()
        left[here] -= float((self._strikes[i] * wide[here]).sum()) * self._strikes[i]
        over = (self._flat @ laid_out(left).T)[:, self._near] / norms(left).ravel()[self._near]
        tops, shifts = over.max(axis=1), self._near[over.argmax(axis=1)]
        figures = self._glyph_of[self._second]
        each = []
        for g in np.unique(figures[figures != self._glyph_of[i]]):
            ours = np.flatnonzero(figures == g)
            k = int(ours[tops[ours].argmax()])
            each.append((int(self._second[k]), int(shifts[k]), float(tops[k])))
        return each

    def _fit(self, wide: Slopes, one: tuple[int, int], other: tuple[int, int]) -> float:
        """What both would leave laid over the place, under the first's window; not normed."""
        lower = np.zeros(WIDE)
        for k, at in (one, other):
            here = window(at)[1:]
            lower[here] = np.minimum(lower[here], self._height(k))
        whole = slopes_of(-lower.astype(np.float32))[window(one[1])]
        both = held_down(whole, float(np.abs(whole).max()) / 8)
        return float((both * wide[window(one[1])]).sum()) / max(float(np.linalg.norm(both)), 1e-9)

    def _height(self, k: int) -> NDArray[np.float64]:
        """Height of a strike below the ground about it, 0 outside."""
        if k not in self._heights:
            self._heights[k] = strike_height(self._strikes[k])
        return self._heights[k]


def strike_height(strike: NDArray[np.float32]) -> NDArray[np.float64]:
    """Height of a strike over its patch, from its slopes: 0 outside, -1 where it is deepest.

    Parameters
    ----------
    strike
        Slopes of a template, 2 x 60 x 48.
    """
    right, down = strike
    height = height_of_slopes(right, -down, workers=1)
    height -= np.median(np.concatenate([height[[0, -1]].ravel(), height[:, 0]]))
    return np.asarray(np.minimum(height / max(float(-height.min()), 1e-9), 0.0))


def window(shift: int) -> tuple[slice, slice, slice]:
    """What lies under a template at a shift, of slopes of the shape of `WIDE`."""
    down, right = divmod(shift, 2 * REACH + 1)
    return np.s_[:, down : down + PATCH[0], right : right + PATCH[1]]
