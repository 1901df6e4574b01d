"""What an upright place would send back under each torch: distance, exposure and uneven beam.

Each photograph gets a smooth field, a quadratic in the logarithm, of what its torch did more or
less than a point would. Such fields can take a real bend of the plate for a beam. A bend shows in
all the photographs together, by where their torches stood, a beam in each by itself: what the
fields have in common that way is given back to the plate as far as it stands out of their own
scatter (shrunk towards a flat plate as the mean of a normal is, Lindley and Smith, 1972).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy  # its parts load when they are first asked for
from numpy.typing import NDArray

from ironlace.marks.capture.geometry import PlateFrame
from ironlace.marks.capture.lights import Light
from ironlace.marks.capture.middles import middle
from ironlace.marks.relief.stereo import product

CELLS = 72
"""Cells along the longer side of the coarse grid on which the fields are fitted."""

BY_CHANCE = 0.003
"""Chance at which beams alone may look like so much bend, for it to be taken for the plate's."""

RARELY = 0.0005
"""The least it is ever set to: a bend that so stands out is told however many photographs there
are. In one of the twelve numbers of a bend by chance: 0.6 % of flat plates."""

WORTH_RAD = 0.1
"""Tilt at the ends of the longer side at which a bend is worth telling, as of matt metal: 40 mm
bent to a radius of 200 mm, or of 300 mm where a third of what is seen of a slope is shine."""

BENT_DEG = 2.0
"""Degrees from end to end at which a plate is called bent: more than its marks' own slopes lean."""
PLAINLY = 30.0
"""Deviations at which nothing is missed."""
HALVINGS = 12
"""Of the logarithm of the chance: to a thousandth."""

SQUARE_RAD = 0.012
"""How far a plate mostly lies from square to the camera: some 0.7 degrees, set by eye."""
BENT_RAD = 0.03
"""How far a plate mostly bends from end to end, in tilt of its normal."""


@dataclass(frozen=True)
class CoarseGrid:
    """A coarse grid over the plate; places in mm, rows x columns."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    shape_px: tuple[int, int]

    @staticmethod
    def over(plate: PlateFrame) -> CoarseGrid:
        """Lay one over a plate."""
        rows, columns = plate.shape
        cell = max(rows, columns) / CELLS
        v, u = max(round(rows / cell), 4), max(round(columns / cell), 4)
        xs = ((np.arange(u) + 0.5) * columns / u - columns / 2) * plate.mm_per_px
        ys = (rows / 2 - (np.arange(v) + 0.5) * rows / v) * plate.mm_per_px
        x, y = np.meshgrid(xs, ys)
        return CoarseGrid(x, y, plate.shape)

    def reach(self) -> NDArray[np.float64]:
        """From the middle to the outermost cells in X and Y, mm: where polynomials are one."""
        return np.array([np.abs(self.x).max(), np.abs(self.y).max()])

    def polynomials(self) -> NDArray[np.float64]:
        """1, x, y, x², xy, y² over the grid, each about -1 to 1; cells x 6."""
        x = (self.x / max(np.abs(self.x).max(), 1e-9)).ravel()
        y = (self.y / max(np.abs(self.y).max(), 1e-9)).ravel()
        return np.stack([np.ones_like(x), x, y, x * x - 1 / 3, x * y, y * y - 1 / 3], 1)


def directions_on(
    grid: CoarseGrid, light: Light
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Unit directions to a torch from each cell (..., 3), and the inverse square of its distance.

    The latter is one in the plate's middle.
    """
    place = light.place
    if place is None:
        flat = np.broadcast_to(np.asarray(light.direction), (*grid.x.shape, 3))
        return flat, np.ones(grid.x.shape)
    to = np.stack([place[0] - grid.x, place[1] - grid.y, np.full(grid.x.shape, place[2])], -1)
    square = (to**2).sum(-1)
    return to / np.sqrt(square)[..., None], float(place @ place) / square


def fitted_fields(
    cells: NDArray[np.float64],
    upright: NDArray[np.float64],
    outside: NDArray[np.bool_],
    grid: CoarseGrid,
    rounds: int = 8,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Smooth field of each photograph, against what an upright plate would show.

    Parameters
    ----------
    cells
        Mean linear light, photographs x cells.
    upright
        What an upright place of albedo 1 would send back, photographs x cells.
    outside
        Cells that do not belong to the plate (balls).

    Returns
    -------
    tuple
        Coefficients of the logarithm on the grid's polynomials, photographs x 6, without a common
        part; logarithm of the plate's own albedo, cells.
    """
    basis = grid.polynomials()
    told = np.log(np.maximum(cells, 1e-4)) - np.log(np.maximum(upright, 1e-6))
    good = ~outside
    coefficients = np.zeros((len(cells), basis.shape[1]))
    albedo = np.median(told, 0)
    for _ in range(rounds):
        for n in range(len(cells)):
            rest = told[n] - albedo
            usual = middle(rest[good])
            scale = 2.0 * middle(np.abs(rest[good] - usual)) + 1e-6
            weight = good / (1 + ((rest - usual) / scale) ** 2)
            for _ in range(4):
                bent = basis.T * weight
                solved = np.linalg.solve(bent @ basis, bent @ rest)
                off = np.abs(rest - basis @ solved)
                scale = 1.5 * 1.4826 * middle(off[good]) + 1e-6
                weight = good / (1 + (off / scale) ** 2)
            coefficients[n] = solved
        coefficients -= coefficients.mean(0)
        albedo = np.median(told - coefficients @ basis.T, 0)
    return coefficients, albedo


def chance_of(
    doubt: NDArray[np.float64], worth: NDArray[np.float64], free: int
) -> NDArray[np.float64]:
    """Chance of looking so tilted at which a tilt is taken for the plate's, by what can be seen.

    A bend that is missed and one that is none do the same harm. So the chance of either is made the
    same (Wald's minimax, 1950): of a false one in any of the numbers, and of missing one that is
    worth telling. Many photographs that would show it plainly allow for a stricter chance; few do
    not, and `BY_CHANCE` holds.

    Parameters
    ----------
    doubt
        Standard deviation of each number of the plate's tilt, radians.
    worth
        Tilt that is worth telling, radians; broadcast with `doubt`.
    free
        Degrees of freedom of the doubt.

    Returns
    -------
    array
        Of the shape of `doubt`, between `RARELY` and `BY_CHANCE`.
    """
    plain = np.minimum(worth / np.maximum(doubt, 1e-12), PLAINLY)
    low, high = np.full(doubt.shape, np.log(RARELY)), np.full(doubt.shape, np.log(BY_CHANCE))
    for _ in range(HALVINGS):
        half = (low + high) / 2
        clear = scipy.special.stdtrit(free, 1 - np.exp(half) / 2)
        missed = scipy.special.nctdtr(free, plain, clear)
        strict = doubt.size * np.exp(half) < missed
        low, high = np.where(strict, half, low), np.where(strict, high, half)
    return np.asarray(np.exp(high))


def bend_in(
    coefficients: NDArray[np.float64], response: NDArray[np.float64], reach: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Part the fields into the torches' own and the plate's bend.

    Parameters
    ----------
    coefficients
        Photographs x 6, see `fitted_fields`.
    response
        Photographs x 2: how the logarithm of the light answers to the slopes (tilt of the normal
        in X and Y).
    reach
        Half the grid's width and height, of which only the proportion counts; of
        `CoarseGrid.reach`.

    Returns
    -------
    tuple
        What is left to the torches, photographs x 6; tilt of the plate's normal in X and Y on the
        grid's polynomials, 2 x 6.
    """
    centred = response - response.mean(0)
    solver = np.linalg.pinv(centred)
    tilt = solver @ coefficients
    left = coefficients - centred @ tilt
    free = max(len(coefficients) - 3, 1)
    variance = (left**2).sum(0) / free
    doubt = np.diag(solver @ solver.T)[:, None] * variance
    usual = np.array([SQUARE_RAD, *[BENT_RAD] * (tilt.shape[1] - 1)]) ** 2
    # a plate that is plainly bent is no usual one: it tells its own spread (James and Stein, 1961)
    expected = np.maximum(usual, tilt**2 - doubt)
    keep = expected / (expected + doubt)
    worth = WORTH_RAD * reach / reach.max()  # of the same radius about either axis
    chance = chance_of(np.sqrt(doubt), worth[:, None], free)
    clear = scipy.special.stdtrit(free, 1 - chance / 2)
    keep[tilt**2 < clear**2 * doubt] = 0.0  # what does not stand out is the torches'
    tilt = tilt * keep
    return coefficients - centred @ tilt, tilt


def bend_deg(tilt: NDArray[np.float64]) -> float:
    """By how much a plate's normal turns from end to end, degrees; `tilt` of `bend_in`."""
    return float(np.degrees(2 * np.abs(tilt[:, 1:3]).max()))


def widened(
    field: NDArray[np.float64], shape: tuple[int, int], top: int, bottom: int
) -> NDArray[np.float32]:
    """Rows top to bottom of a coarse field, at full size (bilinear between cell middles)."""
    return rows_of(widened_columns(field, shape[1]), shape[0], top, bottom)


def widened_columns(field: NDArray[np.float64], columns: int) -> NDArray[np.float32]:
    """A coarse field made as wide as the plate, a row for each of its own and one to each side."""
    wide = field.shape[1]
    padded = np.pad(field.astype(np.float32), 1, mode="edge")
    # beyond the outermost middles the field runs on as it did
    padded[0], padded[-1] = 2 * padded[1] - padded[2], 2 * padded[-2] - padded[-3]
    padded[:, 0] = 2 * padded[:, 1] - padded[:, 2]
    padded[:, -1] = 2 * padded[:, -2] - padded[:, -3]
    at = (np.arange(columns) + 0.5) * wide / columns + 0.5
    first = np.minimum(at.astype(int), wide)
    part = (at - first).astype(np.float32)
    return np.asarray(padded[:, first] * (1 - part) + padded[:, first + 1] * part)


def rows_of(wide: NDArray[np.float32], rows: int, top: int, bottom: int) -> NDArray[np.float32]:
    """Rows top to bottom, of so many, of what `widened_columns` gave (or of some columns of it)."""
    lowest, weight = _between(len(wide) - 2, rows, top, bottom)
    out = np.empty((bottom - top, wide.shape[1]), np.float32)
    return product(weight, wide[lowest : lowest + weight.shape[1]], out)


@lru_cache(maxsize=64)
def _between(high: int, rows: int, top: int, bottom: int) -> tuple[int, NDArray[np.float32]]:
    """The first coarse row that is needed, and the weight of each from it on in rows at full size.

    All photographs of a band ask for the same.
    """
    at = (np.arange(top, bottom) + 0.5) * high / rows + 0.5
    first = np.minimum(at.astype(int), high)
    part = (at - first).astype(np.float32)
    lowest = int(first[0])
    weight = np.zeros((bottom - top, int(first[-1]) + 2 - lowest), np.float32)
    each = np.arange(bottom - top)
    weight[each, first - lowest] = 1 - part
    weight[each, first - lowest + 1] = part
    return lowest, weight
