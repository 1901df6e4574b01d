"""Proof of a set of sheets on a raster that shares nothing with how they were planned.

Each sheet is read from the SVG that will be cut, filled by scan lines at pixel middles, and judged
as a picture: is what is left one piece, and what would the ornament look like when the sheets are
laid with an error of register and the paint creeps.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bools, Floats, Ints

MOST_PIXELS: Final = 60_000_000
"""Pixels of a raster at most: 60 MB for each picture that is held."""

_SMALL_DISC: Final = 6.0
"""Reach in pixels below which growing by a disc is quicker than measuring distances (tuned)."""

DIRECTIONS: Final = 8
"""In which sheets are laid off at least."""


@dataclass(frozen=True)
class Raster:
    """A window of the plane in pixels: left, top in mm, pixels per mm, rows and columns."""

    left: float
    top: float
    px_per_mm: float
    rows: int
    columns: int


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


def rings_of_sheet_svg(svg: str) -> list[Floats]:
    """Rings of the openings in a sheet's SVG, read as text: straight lines only."""
    group = re.search(r'<g id="openings".*?</g>', svg, re.DOTALL)
    if group is None:
        return []
    out = []
    for d in re.findall(r'\bd="([^"]*)"', group.group(0)):
        for ring in d.split("Z"):
            numbers = ring.replace("M", " ").replace("L", " ").split()
            if len(numbers) >= 6:
                out.append(np.array(numbers, np.float64).reshape(-1, 2))
    return out


def filled(rings: Sequence[Floats], raster: Raster, shift: tuple[float, float] = (0, 0)) -> Bools:
    """Even-odd fill of rings at pixel middles, shape (rows, columns)."""
    toggles = np.zeros((raster.rows, raster.columns + 1), np.uint8)
    if not rings:
        return toggles[:, :-1].astype(np.bool_)
    a = np.concatenate(list(rings))
    b = np.concatenate([np.roll(r, -1, axis=0) for r in rings])
    origin = np.array([raster.left, raster.top]) - np.asarray(shift)
    a = (a - origin) * raster.px_per_mm - 0.5
    b = (b - origin) * raster.px_per_mm - 0.5
    low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
    # an edge is met by the rows from its upper end, up to but without its lower end
    first = np.maximum(np.ceil(low), 0).astype(np.int64)
    last = np.minimum(np.ceil(high) - 1, raster.rows - 1).astype(np.int64)
    count = np.maximum(last - first + 1, 0)
    edge = np.repeat(np.arange(len(a)), count)
    row = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count) + first[edge]
    rise = b[edge, 1] - a[edge, 1]
    x = a[edge, 0] + (row - a[edge, 1]) / rise * (b[edge, 0] - a[edge, 0])
    column = np.clip(np.ceil(x), 0, raster.columns).astype(np.int64)
    # bytes run over at 256, which leaves odd and even as they are
    np.add.at(toggles.reshape(-1), row * (raster.columns + 1) + column, np.uint8(1))
    toggles &= 1
    np.bitwise_xor.accumulate(toggles, axis=1, out=toggles)
    return toggles[:, :-1].view(np.bool_)


def pieces_of_sheet(
    svg: str, bounds_mm: tuple[float, float, float, float], px_per_mm: float
) -> tuple[int, float]:
    """How many pieces a sheet is in, by flood fill, and the area of all but the largest in mm^2.

    Neighbours share a side. Specks below one twentieth of a square least web are the pixels of
    pointed tips and are not counted: a piece counts from 12 pixels on.
    """
    import cv2

    raster = raster_over(bounds_mm, px_per_mm)
    left = (~filled(rings_of_sheet_svg(svg), raster)).astype(np.uint8)
    _, _, stats, _ = cv2.connectedComponentsWithStats(left, connectivity=4)
    sizes = np.sort(stats[1:, cv2.CC_STAT_AREA])[::-1]
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
    rings = [rings_of_sheet_svg(s) for s in sheets]
    return worst_applied(
        filled(drawing_rings, raster),
        crept(filled(rings[0], raster), spread_mm, raster),
        laid_further(rings[1:], raster, spread_mm),
        raster,
        register_mm,
        spread_mm,
    )


def laid_further(
    further_rings: Sequence[Sequence[Floats]], raster: Raster, spread_mm: float
) -> list[Ints]:
    """What each sheet after the first lays: rows and columns of its pixels, shape (2, pixels).

    Further sheets lay little, so that their pixels take less room than a picture of each.
    """
    return [
        np.stack(np.nonzero(crept(filled(rings, raster), spread_mm, raster)))
        for rings in further_rings
    ]


def worst_applied(
    drawn: Bools,
    first: Bools,
    further: Sequence[Ints],
    raster: Raster,
    register_mm: float,
    spread_mm: float,
) -> Application:
    """As `applied`, from pictures of what is drawn and laid first, and the further sheets' pixels.

    Nobody lays two sheets off by the same: each goes the way that loses and strays most, given
    those before it. They are moved by whole pixels: never less than ``register_mm``, and at most a
    pixel more.
    """
    times = first.astype(np.uint8)
    steps = whole_steps(register_mm * raster.px_per_mm) if register_mm > 0 else [(0, 0)]
    for laid in further:
        moved = [_moved(laid, step, drawn.shape) for step in steps]
        worst = max(moved, key=lambda at: _beside(drawn, times, at))
        times[tuple(worst)] += 1
    mm2 = raster.px_per_mm**2
    return Application(
        register_mm,
        spread_mm,
        float(np.count_nonzero(drawn)) / mm2,
        float(np.count_nonzero(drawn & (times == 0))) / mm2,
        float(np.count_nonzero(times > 1)) / mm2,
        float(np.count_nonzero(~drawn & (times > 0))) / mm2,
    )


def _moved(laid: Ints, step: tuple[int, int], shape: tuple[int, ...]) -> Ints:
    """Pixels moved by a step, without those that leave the raster."""
    at = laid + np.array(step)[:, None]
    size = np.array(shape)[:, None]
    within = ((at >= 0) & (at < size)).all(axis=0)
    return at if within.all() else np.asarray(at[:, within], np.int64)


def _beside(drawn: Bools, times: NDArray[np.uint8], at: Ints) -> int:
    """Pixels that go beside the drawing, less those that cover what was bare of it."""
    new = times[tuple(at)] == 0
    on = drawn[tuple(at)]
    return int(np.count_nonzero(new & ~on)) - int(np.count_nonzero(new & on))


def whole_steps(length: float) -> list[tuple[int, int]]:
    """Whole steps (rows, columns) about ``length`` long in `DIRECTIONS` directions or more.

    None is shorter than asked, and none longer by as much as a step.

    >>> whole_steps(5.0)[:3]
    [(0, 5), (1, 5), (3, 4)]
    """
    reach = int(np.ceil(length)) + 1
    row, column = np.mgrid[-reach : reach + 1, -reach : reach + 1].reshape(2, -1)
    size = np.hypot(row, column)
    near = np.flatnonzero((size >= length - 1e-6) & (size < length + 1.0))
    turn = np.round(np.arctan2(row[near], column[near]) / (2 * np.pi) * 2 * DIRECTIONS)
    best: dict[int, int] = {}
    for at in near[np.lexsort((size[near], turn))].tolist():
        way = round(float(np.arctan2(row[at], column[at])) / (2 * np.pi) * 2 * DIRECTIONS)
        best.setdefault(way % (2 * DIRECTIONS), at)
    return [(int(row[best[way]]), int(column[best[way]])) for way in sorted(best)]


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


def crept(laid: Bools, spread_mm: float, raster: Raster) -> Bools:
    """What is laid, with paint crept ``spread_mm`` under every edge."""
    if spread_mm <= 0:
        return laid
    import cv2

    # a pixel's middle lies half a pixel beyond the edge already
    reach = spread_mm * raster.px_per_mm + 0.5
    if reach < _SMALL_DISC:
        # every pixel with a laid one in reach: the same, and quicker
        n = int(reach)
        disc = np.hypot(*np.mgrid[-n : n + 1, -n : n + 1]) <= reach
        grown = cv2.dilate(laid.view(np.uint8), disc.astype(np.uint8), borderValue=0)
        return grown.view(np.bool_)
    away = cv2.distanceTransform((~laid).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return laid | np.asarray(away <= reach, np.bool_)
