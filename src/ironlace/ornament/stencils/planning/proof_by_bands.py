"""Sheets laid on trial band by band of rows: a band that nothing was changed in is not laid again.

What is told of a band follows from what is drawn and laid in it, and no farther from it than sheets
are off register and paint creeps: from those pixels alone, as they were read from the files.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import blake2b
from itertools import pairwise
from typing import Final

import numpy as np

from ironlace.evidence.arrays import Floats, Ints
from ironlace.ornament.stencils.planning.runs import Raster, Runs
from ironlace.ornament.stencils.remembered import Remembered

_BAND: Final = 64
"""Rows of a band: a few times as many as sheets are off register, which are looked at beside it
(tuned)."""

Step = tuple[int, int]
"""Rows and columns by which a sheet is moved."""


class Trial:
    """Sheets laid over a drawing, each after the first a step off.

    Parameters
    ----------
    drawn
        Pixels of the drawing.
    laid
        Pixels of each sheet, the first one first.
    grow_px
        How far each grows first, in pixels: creeping paint.
    reach
        Rows that a step goes at most.
    """

    def __init__(
        self,
        drawn: Runs,
        laid: Sequence[Runs],
        raster: Raster,
        reach: int,
        grow_px: float,
        remembered: Remembered,
    ) -> None:
        self.drawn, self.laid, self.raster = drawn, laid, raster
        self._grow, self._remembered = grow_px, remembered
        self._margin = reach + int(np.ceil(grow_px))
        self._bands = -(-raster.rows // _BAND)
        self._keys = self._told_apart()
        self._last: tuple[list[int], list[Runs]] = ([], [])

    def _told_apart(self) -> list[tuple[int, bytes]]:
        """For each band its number, and a name for all pixels that it rests on (BLAKE2)."""
        rows = np.arange(self._bands) * _BAND
        low = np.maximum(rows - self._margin, 0) * self.raster.stride
        high = np.minimum(rows + _BAND + self._margin, self.raster.rows) * self.raster.stride
        names = [blake2b(digest_size=16) for _ in rows]
        for runs in (self.drawn, *self.laid):
            first, last = np.searchsorted(runs.start, low), np.searchsorted(runs.start, high)
            # no raster has so many pixels that their numbers need more
            turns = np.stack([runs.start, runs.end], axis=1).astype(np.int32)
            for name, a, b in zip(names, first.tolist(), last.tolist(), strict=True):
                name.update(b"%d:" % (b - a))
                name.update(turns[a:b].data)
        return [(n, name.digest()) for n, name in enumerate(names)]

    def losses(self, ways: Sequence[Step], steps: Sequence[Step]) -> Ints:
        """What the sheet after those that go some ways takes of what is bare, less what strays.

        In pixels, for each step that it may go; see `beside`.
        """
        of_bands = self._remembered.by(
            ("losses", self.raster, self._grow, tuple(ways), tuple(steps)),
            self._keys,
            lambda new: self._losses_of(new, ways, steps),
        )
        return np.asarray(np.sum(of_bands, axis=0), np.int64)

    def _losses_of(
        self, bands: list[int], ways: Sequence[Step], steps: Sequence[Step]
    ) -> list[Ints]:
        drawn, first, *further = self._cut(bands)
        once = first
        for way, laid in zip(ways, further, strict=False):
            once = once.with_(laid.moved(*way, self.raster))
        at, upto = beside(drawn, once, self.raster)
        out = np.zeros((len(steps), self._bands))
        for n, step in enumerate(steps):
            moved = further[len(ways)].moved(*step, self.raster)
            taken = np.interp(moved.end, at, upto) - np.interp(moved.start, at, upto)
            out[n] = self._by_band(moved, np.round(taken))
        return list(out[:, bands].T.astype(np.int64))

    def told(self, ways: Sequence[Step]) -> tuple[int, int, int]:
        """Pixels of the drawing that are laid, pixels laid twice or more, pixels laid at all."""
        of_bands = self._remembered.by(
            ("laid", self.raster, self._grow, tuple(ways)),
            self._keys,
            lambda new: self._told_of(new, ways),
        )
        covered, twice, once = np.sum(of_bands, axis=0).tolist()
        return covered, twice, once

    def _told_of(self, bands: list[int], ways: Sequence[Step]) -> list[Ints]:
        drawn, once, *further = self._cut(bands)
        twice = Runs(once.start[:0], once.end[:0])
        for way, laid in zip(ways, further, strict=True):
            moved = laid.moved(*way, self.raster)
            twice = twice.with_(moved.and_(once))
            once = once.with_(moved)
        counts = [
            self._by_band(runs, runs.end - runs.start) for runs in (once.and_(drawn), twice, once)
        ]
        return list(np.stack(counts, axis=1)[bands].astype(np.int64))

    def _by_band(self, runs: Runs, weight: Floats | Ints) -> Floats:
        """The sum over the runs of each band."""
        band = runs.start // (_BAND * self.raster.stride)
        return np.asarray(np.bincount(band, weights=weight, minlength=self._bands), np.float64)

    def _cut(self, bands: list[int]) -> list[Runs]:
        """What is drawn and what is laid, with creeping paint, in some bands and beside them."""
        if self._last[0] != bands:
            rows = np.zeros(self.raster.rows + 1, np.bool_)
            for band in bands:
                begin = band * _BAND - self._margin
                rows[max(begin, 0) : begin + _BAND + 2 * self._margin] = True
            rows[-1] = False
            turns = np.flatnonzero(np.diff(rows, prepend=False)) * self.raster.stride
            cut = [_between(runs, turns) for runs in (self.drawn, *self.laid)]
            if self._grow:
                cut[1:] = [runs.grown(self._grow, self.raster) for runs in cut[1:]]
            self._last = (bands, cut)
        return self._last[1]


def _between(runs: Runs, turns: Ints) -> Runs:
    """The runs from every other number up to the next."""
    at = np.searchsorted(runs.start, turns).tolist()
    parts = list(pairwise(at))[::2]
    return Runs(
        np.concatenate([runs.start[a:b] for a, b in parts]),
        np.concatenate([runs.end[a:b] for a, b in parts]),
    )


def beside(drawn: Runs, laid: Runs, raster: Raster) -> tuple[Floats, Floats]:
    """Pixels beside the drawing, less those of it, that nothing was laid on, up to each number.

    Numbers where that begins to rise or to fall, and how much it is there: between two of them it
    changes evenly.
    """
    bare = drawn.without(laid, raster)
    all_ = Runs(np.array([0]), np.array([raster.rows * raster.stride]))
    ground = all_.without(drawn.with_(laid), raster)
    start = np.concatenate([bare.start, ground.start])
    order = np.argsort(start, kind="stable")
    end = np.concatenate([bare.end, ground.end])[order]
    start, sign = start[order], np.where(order < len(bare.start), -1, 1)
    count = np.cumsum((end - start) * sign)
    at = np.stack([start, end], axis=1).ravel()
    upto = np.stack([np.concatenate([[0], count[:-1]]), count], axis=1).ravel()
    return at.astype(np.float64), upto.astype(np.float64)
