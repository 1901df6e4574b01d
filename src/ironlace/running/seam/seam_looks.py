"""What a laid seam looks like along its line, freed of what is usual there."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, median_filter

from ironlace.evidence.arrays import Floats
from ironlace.running.seam.cloth_beside import CLOTH_FROM_MM, without_cloth

ROWS_MM: Final = 0.1
"""Height of the rows that a hole's picture is made of; a third of a thread."""
HALF_ROWS: Final = 4
"""Rows on either side of the middle one: 0.45 mm, past the edge of any sewing thread."""
CLOTH_ROWS: Final = 9
"""Rows on either side that are looked at for what the cloth does: 0.95 mm."""
USUAL_MM: Final = 8.0
"""Length over which the thread's usual look is taken: several stitches, less than a lamp's fall."""
LEAST_OF_RMS: Final = 0.5
"""Least spread of a row as a share of its root mean square (a judgement)."""
MOST_OFF_MM: Final = 0.5
"""No end of a seam is moved farther than this, and its rim is no wider. A judgement."""
_ALL_BUT_LINT: Final = 0.995
"""Of the thread's places, so many depart no more than a hole may. A judgement."""
_STILL_RISING: Final = 0.05
"""Share by which departures still rise above that, so that their peaks stay peaks."""


@dataclass(frozen=True)
class Looks:
    """A laid seam, row by row, freed of what is usual along it.

    Attributes
    ----------
    features
        Departures from the usual in units of their own spread; shape (features, places).
    departures
        How far the middle rows depart from the thread's usual look, shape (places,), told in two
        ways: by the row that is likest, and by the mean of the middle ones.
    rows
        The same row by row, the cloth on both sides with it, shape (rows, places, 3).
    px_per_mm
        Places to the millimetre.
    """

    features: NDArray[np.float32]
    departures: tuple[Floats, ...]
    rows: NDArray[np.float32]
    px_per_mm: float

    @cached_property
    def inner(self) -> NDArray[np.float32]:
        """The features of the rows that a hole lies in, a quarter of a mm to either side."""
        rows = np.arange(HALF_ROWS - 2, HALF_ROWS + 3)
        count = 2 * HALF_ROWS + 1
        signed = (3 * rows[:, None] + np.arange(3)).ravel()
        return np.asarray(self.features[np.concatenate([signed, 3 * count + rows])], np.float32)

    @cached_property
    def ways(self) -> tuple[Floats, ...]:
        """All the ways in which a departure is told, shape (places,) each."""
        return (*self.departures, gaussian_filter1d(self.strength, 0.04 * self.px_per_mm))

    @cached_property
    def strength(self) -> Floats:
        """How far all of those rows together depart from the usual, shape (places,)."""
        return np.asarray(np.sqrt((self.inner**2).sum(axis=0)), np.float64)


def looks_of(laid: NDArray[np.float32], px_per_mm: float, threaded: slice = slice(None)) -> Looks:
    """Rows and departures of a laid seam (Lab, shape (rows, places, 3), line in the middle row).

    Spreads are those of the ``threaded`` places: bare cloth beyond the ends departs most of all.
    """
    k = px_per_mm
    middle = laid.shape[0] // 2
    edges = np.round((np.arange(-CLOTH_ROWS, CLOTH_ROWS + 2) - 0.5) * ROWS_MM * k).astype(int)
    rows = [
        laid[middle + a : middle + max(b, a + 1)].mean(axis=0) for a, b in itertools.pairwise(edges)
    ]
    table = np.stack(rows)  # (rows, places, 3)
    smooth = gaussian_filter1d(table, max(0.35, 0.03 * k), axis=1, mode="nearest")
    smooth = smooth - _usual(smooth, round(USUAL_MM * k))
    own = slice(CLOTH_ROWS - HALF_ROWS, CLOTH_ROWS + HALF_ROWS + 1)
    at_mm = np.asarray(np.arange(-CLOTH_ROWS, CLOTH_ROWS + 1) * ROWS_MM, np.float64)
    thread = without_cloth(smooth, at_mm, CLOTH_FROM_MM, k)[own]
    rows_white, white = _in_spreads(smooth, threaded), _in_spreads(thread, threaded)
    inner = thread[HALF_ROWS - 1 : HALF_ROWS + 2].mean(axis=0)
    departures = (
        _no_more_than_holes(_departure(laid, k), threaded, k),
        _no_more_than_holes(_departure_of_middle(inner, k), threaded, k),
    )
    features = white.transpose(0, 2, 1).reshape(-1, laid.shape[1])
    # a hole may be dark, show the cloth or a loop of the other thread: how far it departs is alike
    far = np.sqrt((white**2).sum(axis=2))
    far = far - np.median(far, axis=1, keepdims=True)
    far = far / (1.4826 * np.median(np.abs(far), axis=1, keepdims=True) + 0.3)
    extra = np.stack(departures)
    extra = extra - np.median(extra, axis=1, keepdims=True)
    extra = extra / (1.4826 * np.median(np.abs(extra), axis=1, keepdims=True) + 0.2)
    features = np.concatenate([features, np.clip(far, -8, 8), 2.0 * np.clip(extra, -8, 8)])
    return Looks(features.astype(np.float32), departures, rows_white.astype(np.float32), k)


def _in_spreads(rows: NDArray[np.float32], threaded: slice) -> NDArray[np.float32]:
    """Rows in units of their own spread; colour is blurred and says less than lightness.

    Stripes that take up less than half of a row leave its median spread as it is.
    """
    own = rows[:, threaded]
    spread = 1.4826 * np.median(np.abs(own), axis=1, keepdims=True) + 0.4
    spread = np.maximum(spread, LEAST_OF_RMS * own.std(axis=1, keepdims=True))
    return np.asarray(np.clip(rows / spread, -8.0, 8.0), np.float32)


def _no_more_than_holes(departure: Floats, threaded: slice, k: float) -> Floats:
    """The departure, beyond the most of the thread's own places hardly rising any more.

    What a hole's height is learnt from would otherwise be the bare cloth beyond both ends.
    """
    rim = round(MOST_OFF_MM * k)
    own = departure[threaded]
    inner = own[rim:-rim] if len(own) > 4 * rim else own
    most = float(np.quantile(inner, _ALL_BUT_LINT))
    return np.minimum(departure, most + _STILL_RISING * (departure - most))


def _departure(laid: NDArray[np.float32], k: float) -> Floats:
    """How far the likest of the middle rows is from the thread's own colour, shape (places,).

    The likest, because a leaning thread leaves the middle row before it ends; where it dives into
    the cloth no row is like it.
    """
    middle = laid.shape[0] // 2
    reach = round(0.26 * k)
    thread = laid[middle - round(0.07 * k) : middle + round(0.07 * k) + 1].mean(axis=0)[None]
    usual = _usual(gaussian_filter1d(thread, 0.04 * k, axis=1), round(USUAL_MM * k))
    band = gaussian_filter1d(laid[middle - reach : middle + reach + 1], 0.04 * k, axis=0)
    band = gaussian_filter1d(band, 0.04 * k, axis=1)
    core = band[reach - 1 : reach + 2] - usual
    spread = 1.4826 * np.median(np.abs(core), axis=(0, 1)) + 0.8
    away = np.minimum(np.abs(band - usual) / spread, 10.0)
    away = np.sqrt((away**2).sum(axis=2))
    # by a soft least, so that one speck does not decide
    few = np.sort(away, axis=0)[: max(2, round(0.1 * k))].mean(axis=0)
    darker = np.clip(
        (usual - band[reach - 1 : reach + 2])[..., 0].mean(axis=0) / spread[0], 0.0, 8.0
    )
    return np.asarray(gaussian_filter1d(few + 0.35 * darker, 0.05 * k, mode="nearest"), np.float64)


def _departure_of_middle(inner: NDArray[np.float32], k: float) -> Floats:
    """How far the middle of the line is from its own usual colour, shape (places,)."""
    spread = 1.4826 * np.median(np.abs(inner), axis=0, keepdims=True) + 0.6
    away = np.sqrt((np.clip(inner / spread, -8.0, 8.0) ** 2).sum(axis=1))
    darker = np.clip(-inner[:, 0] / spread[0, 0], 0.0, 8.0)
    smooth = gaussian_filter1d(away + 0.5 * darker, 0.06 * k, mode="nearest")
    return np.asarray(smooth, np.float64)


def _usual(table: NDArray[np.float32], window: int) -> NDArray[np.float32]:
    """Running median along the places, worked out at every eighth and drawn out."""
    n = table.shape[1]
    step = 8
    thin = table[:, ::step]
    size = min(max(3, window // step) | 1, 2 * thin.shape[1] - 1)
    # the cloth beyond a seam's end is not to be taken for thread by going on past the rim
    middle = median_filter(thin, size=(1, size, 1), mode="reflect")
    at = np.arange(0, n, step)
    out = np.empty_like(table)
    for r in range(table.shape[0]):
        for c in range(table.shape[2]):
            out[r, :, c] = np.interp(np.arange(n), at, middle[r, :, c])
    return out
