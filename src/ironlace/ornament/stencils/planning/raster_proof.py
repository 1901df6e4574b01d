"""Proof of a set of sheets on a raster that shares nothing with how they were planned.

Each sheet is read from the SVG that will be cut, filled by scan lines at pixel middles, and judged
as a picture: is what is left one piece, and what would the ornament look like when the sheets are
laid with an error of register and the paint creeps.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.ornament.stencils.planning.proof_by_bands import Trial
from ironlace.ornament.stencils.planning.runs import (
    Raster,
    Runs,
    filled_runs,
    odd,
    pieces_left,
    turns_of_each,
)
from ironlace.ornament.stencils.remembered import Remembered

MOST_PIXELS: Final = 60_000_000
"""Pixels of a raster at most: 60 MB for each picture that is held."""

_SMALL_DISC: Final = 6.0
"""Reach in pixels below which growing run by run is quicker than measuring distances (tuned)."""

DIRECTIONS: Final = 8
"""In which sheets are laid off at least."""


_JUST: Final = 1.02
"""Times the register error that a step may be longer and still tell it to two in a hundred."""

_WIDE_RAD: Final = 0.53
"""Gap between two directions that is not too wide, 30 degrees: midway between them a straight edge
strays by three in a hundred more than is found."""


@dataclass(frozen=True, eq=False)
class Application:
    """What paint through a set of sheets leaves, against the drawing.

    Attributes
    ----------
    register_mm
        How far each sheet after the first was off, in the worst of eight directions or more, each
        in its own.
    spread_mm
        How far paint crept under every edge.
    drawn_mm2, lost_mm2, doubled_mm2, stray_mm2
        Area of the drawing; of it left bare; laid through two sheets or more; laid beside it.
    """

    register_mm: float
    spread_mm: float
    drawn_mm2: float
    lost_mm2: float
    doubled_mm2: float
    stray_mm2: float

    @property
    def covered(self) -> float:
        """Share of the drawing covered."""
        return 1.0 - self.lost_mm2 / self.drawn_mm2 if self.drawn_mm2 > 0 else 1.0

    @property
    def stray(self) -> float:
        """Stray paint as a share of the drawing."""
        return self.stray_mm2 / self.drawn_mm2 if self.drawn_mm2 > 0 else 0.0

    def as_dict(self) -> dict[str, float]:
        """Plain numbers."""
        return {
            "register_mm": self.register_mm,
            "spread_mm": self.spread_mm,
            "drawn_mm2": round(self.drawn_mm2, 3),
            "lost_mm2": round(self.lost_mm2, 4),
            "doubled_mm2": round(self.doubled_mm2, 4),
            "stray_mm2": round(self.stray_mm2, 4),
            "covered": round(self.covered, 6),
            "stray": round(self.stray, 6),
        }


def raster_over(
    bounds_mm: tuple[float, float, float, float], px_per_mm: float, most: int = MOST_PIXELS
) -> Raster:
    """A raster over a window, coarser if it would take more than ``most`` pixels."""
    left, top, right, bottom = bounds_mm
    area = (right - left) * (bottom - top)
    scale = min(px_per_mm, float(np.sqrt(most / area)))
    return Raster(
        left,
        top,
        scale,
        int(np.ceil((bottom - top) * scale)),
        int(np.ceil((right - left) * scale)),
    )


def turns_of_sheet_svg(svg: str, raster: Raster, remembered: Remembered | None = None) -> Ints:
    """Where rows of pixels turn from film to opening and back, read from a sheet's SVG.

    ``remembered`` is what was read of the same paths before.
    """
    remembered = remembered or Remembered()
    paths = _paths_of_sheet_svg(svg)
    turns = remembered.by(
        ("turns", raster),
        paths,
        lambda new: turns_of_each(
            remembered.by(
                ("rings",),
                [paths[n] for n in new],
                lambda still: _rings_of_paths([paths[new[n]] for n in still]),
            ),
            raster,
        ),
    )
    return odd(np.concatenate([np.zeros(0, np.int64), *turns]))


def _paths_of_sheet_svg(svg: str) -> list[str]:
    """Path data of the openings in a sheet's SVG."""
    begin = svg.find('<g id="openings"')
    return re.findall(r'\bd="([^"]*)"', svg[begin : svg.find("</g>", begin)]) if begin >= 0 else []


def _rings_of_paths(paths: Sequence[str]) -> list[list[Floats]]:
    """Rings of each path."""
    told = [[ring for ring in d.split("Z") if ring.strip()] for d in paths]
    every = [ring for rings in told for ring in rings]
    if not every:
        return [[] for _ in paths]
    # all numbers in one go: one by one they take several times longer
    numbers = np.fromstring(" ".join(every).translate(_NO_LETTERS), sep=" ").reshape(-1, 2)
    ends = np.cumsum([ring.count("L") + 1 for ring in every])
    rings = iter(np.split(numbers, ends[:-1]))
    return [[ring for ring in islice(rings, len(own)) if len(ring) >= 3] for own in told]


_NO_LETTERS: Final = str.maketrans("ML", "  ")


def filled(rings: Sequence[Floats], raster: Raster, shift: tuple[float, float] = (0, 0)) -> Bools:
    """Even-odd fill of rings at pixel middles, shape (rows, columns)."""
    left, top = raster.left - shift[0], raster.top - shift[1]
    there = Raster(left, top, raster.px_per_mm, raster.rows, raster.columns)
    return filled_runs(rings, there).picture(raster)


def pieces_of_sheet(
    svg: str,
    bounds_mm: tuple[float, float, float, float],
    px_per_mm: float,
    remembered: Remembered | None = None,
) -> tuple[int, float]:
    """How many pieces a sheet is in, by flood fill, and the area of all but the largest in mm^2.

    Neighbours share a side. Specks below one twentieth of a square least web are the pixels of
    pointed tips and are not counted: a piece counts from 12 pixels on.
    """
    raster = raster_over(bounds_mm, px_per_mm)
    sizes = pieces_left(turns_of_sheet_svg(svg, raster, remembered), raster)
    loose = float(sizes[1:].sum()) / raster.px_per_mm**2
    return int((sizes >= 12).sum()), loose


def applied(
    drawing_rings: Sequence[Floats],
    sheets: Sequence[str],
    raster: Raster,
    *,
    register_mm: float = 0.0,
    spread_mm: float = 0.0,
) -> Application:
    """Lay the sheets one after another and compare with the drawing.

    The first sheet is where it should be; every other is off by ``register_mm``, each in the
    direction in which it loses most.
    """
    laid = [Runs.between(turns_of_sheet_svg(svg, raster)) for svg in sheets]
    drawn = filled_runs(drawing_rings, raster)
    return worst_applied(drawn, laid, raster, register_mm, spread_mm)


def worst_applied(
    drawn: Runs,
    laid: Sequence[Runs],
    raster: Raster,
    register_mm: float,
    spread_mm: float,
    remembered: Remembered | None = None,
) -> Application:
    """As `applied`, from pictures of what is drawn, and of what is laid through each sheet.

    Nobody lays two sheets off by the same: each goes the way that loses and strays most, given
    those before it. They are moved by whole pixels, never by less than ``register_mm``; see
    `whole_steps`. ``remembered`` is what was told of the same pixels before.
    """
    steps = whole_steps(register_mm * raster.px_per_mm) if register_mm > 0 else [(0, 0)]
    reach = max(abs(rows) for rows, _ in steps)
    grow = _grown_by(spread_mm, raster)
    if grow >= _SMALL_DISC:
        laid, grow = [crept_far(runs, grow, raster) for runs in laid], 0.0
    trial = Trial(drawn, laid, raster, reach, grow, remembered or Remembered())
    ways: list[tuple[int, int]] = []
    for _ in laid[1:]:
        worst = int(trial.losses(ways, steps).argmax()) if len(steps) > 1 else 0
        ways.append(steps[worst])
    covered, twice, once = trial.told(ways)
    mm2 = raster.px_per_mm**2
    return Application(
        register_mm,
        spread_mm,
        float(drawn.pixels) / mm2,
        float(drawn.pixels - covered) / mm2,
        float(twice) / mm2,
        float(once - covered) / mm2,
    )


def whole_steps(length: float) -> list[tuple[int, int]]:
    """Whole steps (rows, columns) about ``length`` long in `DIRECTIONS` directions or more.

    None is shorter than asked. What is laid off by more strays by more, so that steps hardly
    longer are taken wherever they leave no wide gap between two directions.

    >>> whole_steps(5.0)[:3]
    [(0, 5), (1, 5), (3, 4)]
    """
    reach = int(np.ceil(length)) + 1
    row, column = np.mgrid[-reach : reach + 1, -reach : reach + 1].reshape(2, -1)
    size = np.hypot(row, column)
    near = np.flatnonzero((size >= length - 1e-6) & (size < length + 1.0))
    just = near[size[near] <= _JUST * length]
    way = np.arctan2(row[just], column[just]) % (2.0 * np.pi)
    order = np.argsort(way)
    if len(way) and np.diff(way[order], append=way[order[0]] + 2 * np.pi).max() <= _WIDE_RAD:
        # all of them: between two that lie far apart a straight edge strays by more than is found
        return list(zip(row[just[order]].tolist(), column[just[order]].tolist(), strict=True))
    turn = np.round(np.arctan2(row[near], column[near]) / (2 * np.pi) * 2 * DIRECTIONS)
    best: dict[int, int] = {}
    for at in near[np.lexsort((size[near], turn))].tolist():
        sector = round(float(np.arctan2(row[at], column[at])) / (2 * np.pi) * 2 * DIRECTIONS)
        best.setdefault(sector % (2 * DIRECTIONS), at)
    return [(int(row[best[n]]), int(column[best[n]])) for n in sorted(best)]


def picture(
    drawing_rings: Sequence[Floats],
    sheet_rings: Sequence[Sequence[Floats]],
    raster: Raster,
    *,
    shift: tuple[float, float] = (0.0, 0.0),
) -> NDArray[np.uint8]:
    """The application as a picture, (rows, columns, 3).

    Paint as drawn is ochre, doubled paint darker; bare places of the drawing are white with a blue
    cast, stray paint is red-brown, the ground is black: each differs in lightness too.
    """
    drawn = filled(drawing_rings, raster)
    times = np.zeros(drawn.shape, np.uint8)
    for n, rings in enumerate(sheet_rings):
        times += filled(rings, raster, shift if n else (0.0, 0.0))
    out = np.full((*drawn.shape, 3), (24, 22, 20), np.uint8)
    out[drawn & (times == 1)] = (196, 156, 72)
    out[drawn & (times > 1)] = (140, 104, 40)
    out[drawn & (times == 0)] = (225, 235, 255)
    out[~drawn & (times > 0)] = (176, 60, 40)
    return out


def _grown_by(spread_mm: float, raster: Raster) -> float:
    """How far a picture grows for paint that creeps, in pixels."""
    # a pixel's middle lies half a pixel beyond the edge already
    return spread_mm * raster.px_per_mm + 0.5 if spread_mm > 0 else 0.0


def crept_far(laid: Runs, reach_px: float, raster: Raster) -> Runs:
    """As `Runs.grown`, by distances from the picture: quicker where the reach is long."""
    import cv2

    bare = (~laid.picture(raster)).astype(np.uint8)
    away = cv2.distanceTransform(bare, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return Runs.of(np.asarray(away <= reach_px, np.bool_))
