"""Pictures as runs of set pixels: what is drawn and laid has long runs and few.

Pixels are numbered row after row, with one number more in each row than it has pixels, so that no
run goes on from one row to the next. A picture is two rising lists, where runs begin and where they
end; two pictures are joined or met by sorting both lists anew. It tells the same as a picture of
all pixels, and its time goes with the length of the outlines, not with the area.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ironlace.evidence.arrays import Bools, Floats, Ints


@dataclass(frozen=True)
class Raster:
    """A window of the plane in pixels: left, top in mm, pixels per mm, rows and columns."""

    left: float
    top: float
    px_per_mm: float
    rows: int
    columns: int

    @property
    def stride(self) -> int:
        """Numbers from a pixel to the one below it."""
        return self.columns + 1


@dataclass(frozen=True, eq=False)
class Runs:
    """A picture of set pixels: where runs begin, and the first pixel after each, rising, (n,)."""

    start: Ints
    end: Ints

    @property
    def pixels(self) -> int:
        """How many pixels are set."""
        return int(self.end.sum() - self.start.sum())

    def within(self, other: Runs) -> int:
        """How many of its pixels the other has too."""
        start, end = _sorted(self, other)
        # of two sets of runs no more than two cover a pixel: from the later begin to the first end
        return int(np.maximum(end[:-1] - start[1:], 0).sum())

    def with_(self, other: Runs) -> Runs:
        """What either has."""
        return _united(*_sorted(self, other))

    def and_(self, other: Runs) -> Runs:
        """What both have."""
        start, end = _sorted(self, other)
        both = end[:-1] > start[1:]
        return Runs(start[1:][both], end[:-1][both])

    def without(self, other: Runs, raster: Raster) -> Runs:
        """What it has and the other has not."""
        return self.and_(_rest(other, raster))

    def moved(self, rows: int, columns: int, raster: Raster) -> Runs:
        """The picture moved by whole pixels, without those that leave the raster."""
        return _cut_off(self.start, self.end, rows, -columns, columns, raster)

    def grown(self, reach_px: float, raster: Raster) -> Runs:
        """Every pixel whose middle is no farther than so many pixels from a set one's."""
        n = int(reach_px)
        parts = []
        for row in range(-n, n + 1):
            beside = np.arange(n + 1)
            wide = int(beside[np.hypot(row, beside) <= reach_px].max(initial=-1))
            if wide >= 0:
                parts.append(_cut_off(self.start, self.end, row, wide, wide, raster))
        start = np.sort(np.concatenate([part.start for part in parts]))
        return _united(start, np.sort(np.concatenate([part.end for part in parts])))

    def picture(self, raster: Raster) -> Bools:
        """All pixels, (rows, columns)."""
        turns = np.zeros(raster.rows * raster.stride, np.uint8)
        turns[self.start] ^= 1
        turns[self.end] ^= 1
        np.bitwise_xor.accumulate(turns, out=turns)
        return turns.reshape(raster.rows, raster.stride)[:, :-1].view(np.bool_)

    @classmethod
    def of(cls, picture: Bools) -> Runs:
        """A picture of all pixels as runs."""
        wide = np.zeros((picture.shape[0], picture.shape[1] + 2), np.int8)
        wide[:, 1:-1] = picture
        row, column = np.nonzero(np.diff(wide, axis=1))
        return cls.between(row * (picture.shape[1] + 1) + column)

    @classmethod
    def between(cls, turns: Ints) -> Runs:
        """From every other number up to the next."""
        return cls(turns[::2], turns[1::2])


def filled_runs(rings: Sequence[Floats], raster: Raster) -> Runs:
    """Even-odd fill of rings at pixel middles.

    Parameters
    ----------
    rings
        Corners of each ring in mm, (n, 2), first not repeated.
    raster
        The window that is looked at.
    """
    return Runs.between(turns_of(rings, raster))


def turns_of(rings: Sequence[Floats], raster: Raster) -> Ints:
    """Numbers of the pixels from which on a row is filled, or is no more, rising: even in a row."""
    return odd(_meetings(rings, raster)[0])


def turns_of_each(areas: Sequence[Sequence[Floats]], raster: Raster) -> list[Ints]:
    """As `turns_of`, of each of several areas; `odd` makes one of them."""
    owner = np.repeat(np.arange(len(areas)), [len(rings) for rings in areas])
    number, ring = _meetings([ring for rings in areas for ring in rings], raster)
    size = raster.rows * raster.stride
    turns = odd(owner[ring] * size + number)
    first = np.searchsorted(turns, np.arange(1, len(areas)) * size)
    return [own % size for own in np.split(turns, first)]


def _meetings(rings: Sequence[Floats], raster: Raster) -> tuple[Ints, Ints]:
    """Pixels before which an outline meets the middle of their row, and the number of its ring."""
    if not rings:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    a = np.concatenate(list(rings))
    after = np.arange(1, len(a) + 1)
    ends = np.cumsum([len(ring) for ring in rings])
    after[ends - 1] = np.concatenate([[0], ends[:-1]])
    a = (a - np.array([raster.left, raster.top])) * raster.px_per_mm - 0.5
    ax, ay = a.T
    bx, by = ax[after], ay[after]
    low, high = np.minimum(ay, by), np.maximum(ay, by)
    # an edge is met by the rows from its upper end, up to but without its lower end
    first = np.maximum(np.ceil(low), 0).astype(np.int64)
    last = np.minimum(np.ceil(high) - 1, raster.rows - 1).astype(np.int64)
    count = np.maximum(last - first + 1, 0)
    edge = np.repeat(np.arange(len(a)), count)
    row = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count - first, count)
    rise = by[edge] - ay[edge]
    x = ax[edge] + (row - ay[edge]) / rise * (bx[edge] - ax[edge])
    column = np.clip(np.ceil(x), 0, raster.columns).astype(np.int64)
    ring = np.repeat(np.arange(len(rings)), [len(one) for one in rings])
    return row * raster.stride + column, ring[edge]


def pieces_left(turns: Ints, raster: Raster) -> Ints:
    """Pixels of each piece that is left of a window when openings are cut out of it, falling.

    Neighbours share a side. ``turns`` are those of the openings, as `turns_of` tells them.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    rows = np.arange(raster.rows) * raster.stride
    turns = odd(np.concatenate([turns, rows, rows + raster.columns]))
    start, end = turns[::2], turns[1::2]
    # runs of one row with those of the next that lie below them
    first = np.searchsorted(end, start + raster.stride, side="right")
    count = np.maximum(np.searchsorted(start, end + raster.stride) - first, 0)
    upper = np.repeat(np.arange(len(start)), count)
    lower = np.arange(len(upper)) - np.repeat(np.cumsum(count) - count - first, count)
    touch = coo_array(
        (np.ones(len(upper), np.int8), (upper, lower)), shape=(len(start), len(start))
    )
    number = connected_components(touch, directed=False)[1]
    sizes = np.bincount(number, weights=(end - start).astype(np.float64)).astype(np.int64)
    return np.sort(sizes)[::-1]


def odd(numbers: Ints) -> Ints:
    """The numbers that occur an odd number of times, rising."""
    numbers = np.sort(numbers)
    new = np.flatnonzero(np.diff(numbers, prepend=-1))
    times = np.diff(new, append=len(numbers))
    return np.asarray(numbers[new[times % 2 == 1]])


def _sorted(one: Runs, two: Runs) -> tuple[Ints, Ints]:
    # each is sorted already: a sort that sees so takes the half of one that does not
    return (
        np.sort(np.concatenate([one.start, two.start]), kind="stable"),
        np.sort(np.concatenate([one.end, two.end]), kind="stable"),
    )


def _united(start: Ints, end: Ints) -> Runs:
    """Union of runs whose begins and whose ends were sorted apart."""
    # a run of the union begins where all that began before have ended
    new = np.ones(len(start), np.bool_)
    new[1:] = start[1:] > end[:-1]
    return Runs(start[new], end[np.append(new[1:], True)] if len(end) else end)


def _rest(runs: Runs, raster: Raster) -> Runs:
    """All numbers that a picture has not."""
    all_ = raster.rows * raster.stride
    return Runs(np.concatenate([[0], runs.end]), np.concatenate([runs.start, [all_]]))


def _cut_off(start: Ints, end: Ints, rows: int, before: int, beyond: int, raster: Raster) -> Runs:
    """Runs moved down by rows, begun earlier and ended later, as far as the raster reaches."""
    row = start // raster.stride
    left = (row + rows) * raster.stride
    start = np.maximum(start + rows * raster.stride - before, left)
    end = np.minimum(end + rows * raster.stride + beyond, left + raster.columns)
    kept = (row + rows >= 0) & (row + rows < raster.rows) & (start < end)
    return Runs(start[kept], end[kept])
