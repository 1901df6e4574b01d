"""From a photograph and its placing to a `Flat`.

The map from flat to photograph is worked out exactly on a grid 16 pixels wide and drawn out
between by cubic curves to every fourth pixel, and by straight lines from there (its error is some
thousandths of a pixel on anything photographed). Where the photograph is finer than the flat it is
first averaged down, so that hairlines do not break up.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from threading import Lock, local
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bounds, Floats
from ironlace.photographs.errors import SurfaceError
from ironlace.photographs.flat_picture import (
    UNSEEN_FRAME,
    UNSEEN_GLARE,
    UNSEEN_STRIP,
    Flat,
    coarse_places,
    spread_grid,
)
from ironlace.photographs.linear_light import LUMINANCE, to_linear16
from ironlace.photographs.place_by_strip import Placing
from ironlace.photographs.scale_strip import StripLayout

TILE: Final = 512
"""Side in pixels of the pieces that are laid flat one by one: 1.5 MB of 16-bit colour, which stays
in a processor's cache; only time depends on it."""
NODE: Final = 16
"""Pixels between the places that go through the camera exactly; those between are filled in by
bicubic (Catmull-Rom) curves, since pose and lens change little over 16 pixels."""
BETWEEN: Final = 4
"""Pixels between the places that those curves go through; straight lines join them. On a radius of
r pixels that is off by up to 2 / r: a two-hundredth of a pixel on an arm of 20 mm at 20 to the mm.
The warping itself goes by thirty-seconds."""
MOST_PIECE: Final = 4
"""Times a tile's area that its piece of the photograph may have to be made linear by itself; only
time depends on it."""
RIM_PX: Final = 4
"""Photograph pixels around a tile's nodes that warping may reach for."""
LEAST_FACING: Final = 0.2
"""Beyond about 78 degrees from square a mirror-black surface shows only what it mirrors."""
LEAST_RESOLUTION: Final = 3.0
"""Photograph pixels per mm below which no ornament can be read."""
MOST_PIXELS: Final = 45_000_000
"""A flat picture has no more pixels than this unless its scale is asked for; a judgement, so that
one with its companions fits in about 1 GB."""
LEAST_TURN: Final = 0.1
"""Change of the paper's colour over the strip, in logarithms, from which it is taken to turn. Less
is the paper's own and the camera's (judged; no source)."""
BURNT: Final = 62_500
"""Light from here on, of 65535, is burnt out."""


def flatten(  # long: the tiles fill arrays that every later step reads
    image: NDArray[np.uint8],
    placing: Placing,
    layout: StripLayout | Bounds,
    *,
    px_per_mm: float | None = None,
    bounds_mm: Bounds | None = None,
    reach: float = 0.5,
    progress: Callable[[float], None] | None = None,
) -> Flat:
    """Unroll a photograph.

    Parameters
    ----------
    image
        Photograph, HxWx3 uint8 sRGB.
    placing
        Where it lies on the surface.
    layout
        The strip's layout; its paper is marked hidden. Without a strip, the bounds (left, top,
        right, bottom mm) of the places that were measured.
    px_per_mm
        Resolution of the flat; that of the photograph when left out (between 6 and 24).
    bounds_mm
        Left, top, right, bottom to cover; when left out, what the photograph shows, up to ``reach``
        times the strip's own size beyond the strip.
    progress
        Called with the share done, 0 to 1.

    Raises
    ------
    SurfaceError
        If nothing of the surface is seen within the bounds.
    """
    left, top, right, bottom = bounds_mm or seen_bounds(placing, layout, image.shape, reach)
    scale = px_per_mm or _natural_scale(placing, layout, image.shape)
    area = (right - left) * (bottom - top)
    if px_per_mm is None and area * scale**2 > MOST_PIXELS:
        scale = float(np.sqrt(MOST_PIXELS / area))
    width = max(8, round((right - left) * scale))
    height = max(8, round((bottom - top) * scale))
    origin = (left, top)

    levels = _Levels(image)
    nodes = _Nodes.of(placing, origin, scale, (height, width), image.shape)
    light = np.empty((height, width, 3), dtype=np.uint16)
    hidden = np.zeros((height, width), dtype=np.uint8)
    thin = _thinning(scale)
    few = np.empty((-(-height // thin), -(-width // thin), 3), dtype=np.uint16)
    each = local()

    def lay(tile: tuple[int, int, int, int]) -> None:
        row, column, h, w = tile
        if not hasattr(each, "bench"):
            each.bench = _Bench.empty()
        bench: _Bench = each.bench
        part = nodes.part(tile)
        level = part.level(scale)
        piece = _piece(part, image.shape)
        if level or (piece[2] - piece[0]) * (piece[3] - piece[1]) > MOST_PIECE * TILE**2:
            picture, mx, my = levels.source(level, part, bench)
            x0, y0, halved = 0, 0, picture.shape[1] / image.shape[1]
        else:
            picture, mx, my = bench.source(image, part, piece)
            x0, y0, halved = *piece[:2], 1.0
        place = (slice(row, row + h), slice(column, column + w))
        here = light[place]
        cv2.remap(
            picture,
            mx[:h, :w],
            my[:h, :w],
            cv2.INTER_CUBIC,
            dst=here,
            borderMode=cv2.BORDER_REPLICATE,
        )
        # while the tile is at hand: what paper is told by
        few[row // thin : -(-(row + h) // thin), column // thin : -(-(column + w) // thin)] = here[
            ::thin, ::thin
        ]
        burnt = cv2.inRange(
            here, (BURNT, BURNT, BURNT), (65535, 65535, 65535), dst=bench.mask[:h, :w]
        )
        if cv2.countNonZero(burnt):
            hidden[place] = np.asarray(burnt, np.uint8) & np.uint8(UNSEEN_GLARE)
        if not part.seen.all():
            edges = np.array([0, 0, image.shape[1] - 1, image.shape[0] - 1]) + 0.5
            frame = edges * halved - 0.5 - (x0, y0, x0, y0)
            outside = part.outside(mx[:h, :w], my[:h, :w], frame)
            hidden[place] |= outside & np.uint8(UNSEEN_FRAME)

    tiles = [
        (r, c, min(TILE, height - r), min(TILE, width - c))
        for r in range(0, height, TILE)
        for c in range(0, width, TILE)
    ]
    # the work is OpenCV's, which lets go of the interpreter
    with ThreadPoolExecutor(max(1, cv2.getNumThreads())) as hands:
        for n, _ in enumerate(hands.map(lay, tiles)):
            if progress is not None:
                progress((n + 1) / len(tiles))
    _widen_glare(hidden)

    columns, rows = coarse_places(height, width)
    nodes_mm = (np.stack(np.meshgrid(columns, rows), axis=-1) + 0.5) / scale + np.asarray(origin)
    coarser, _ = placing.resolution(nodes_mm)
    white = _white_field(placing, nodes_mm)
    flat = Flat(
        light=light,
        px_per_mm=scale,
        origin_mm=origin,
        hidden=hidden,
        resolution=coarser.astype(np.float32),
        facing=placing.facing(nodes_mm).astype(np.float32),
        white=white,
    )
    if isinstance(layout, StripLayout):
        cv2.bitwise_or(hidden, _under_paper(flat, few, layout), dst=hidden)
    return flat


@dataclass(frozen=True)
class _Nodes:
    """Places that go through the camera exactly, `NODE` pixels of the flat apart.

    One row and column of them stand before the flat and some behind it. ``px`` (..., 2) is where
    they lie in the photograph, ``finer`` its pixels per mm there; ``seen`` whether it shows them,
    and ``turned`` whether it would if it were larger.
    """

    px: NDArray[np.float32]
    finer: NDArray[np.float32]
    seen: NDArray[np.bool_]
    turned: NDArray[np.bool_]

    @classmethod
    def of(
        cls,
        placing: Placing,
        origin: tuple[float, float],
        scale: float,
        size: tuple[int, int],
        shape: tuple[int, ...],
    ) -> _Nodes:
        down, across = (
            ((np.arange(-(-n // TILE) * (TILE // NODE) + 4) - 1.0) * NODE + 0.5) / scale + o
            for n, o in zip(size, origin[::-1], strict=True)
        )
        grid = np.stack(np.meshgrid(across, down), axis=-1)
        px = placing.to_pixels(grid)
        coarser, finer = placing.resolution(grid)
        turned = _faces(placing, grid, coarser)
        return cls(
            np.nan_to_num(np.clip(px, -1e5, 1e5)).astype(np.float32),
            finer.astype(np.float32),
            turned & _in_frame(px, shape),
            turned,
        )

    def part(self, tile: tuple[int, int, int, int]) -> _Nodes:
        """Those of one tile, at row, column (multiples of `TILE`), of a height and width."""
        r, c = tile[0] // NODE, tile[1] // NODE
        of = (slice(r, r + _NODES), slice(c, c + _NODES))
        return _Nodes(self.px[of], self.finer[of], self.seen[of], self.turned[of])

    def level(self, scale: float) -> int:
        """How often the photograph is to be halved for it."""
        if not self.seen.any():
            return 0
        finer = float(np.median(self.finer[self.seen]))
        return max(0, int(np.floor(np.log2(max(finer / scale, 1e-6)) + 0.3)))

    def outside(
        self, mx: NDArray[np.float32], my: NDArray[np.float32], frame: Floats
    ) -> NDArray[np.uint8]:
        """255 where the photograph does not show a tile's pixels.

        ``frame`` is what places ``mx`` and ``my`` of them may be: left, top, right and bottom.
        """
        left, top, right, bottom = (float(v) for v in frame)
        beside = cv2.bitwise_not(
            cv2.bitwise_and(cv2.inRange(mx, left, right), cv2.inRange(my, top, bottom))
        )
        if self.turned.all():
            return np.asarray(beside, np.uint8)
        h, w = mx.shape
        x = np.broadcast_to(np.arange(w, dtype=np.float32) / NODE + 1, (h, w))
        y = np.broadcast_to(np.arange(h, dtype=np.float32)[:, None] / NODE + 1, (h, w))
        share = cv2.remap(
            self.turned.astype(np.float32),
            np.ascontiguousarray(x),
            np.ascontiguousarray(y),
            cv2.INTER_LINEAR,
        )
        return np.asarray(beside, np.uint8) | (share < 0.5).astype(np.uint8) * np.uint8(255)


@dataclass(frozen=True)
class _Bench:
    """What one pair of hands lays tiles with, used again for each: new memory costs more than work.

    ``half`` and ``fine`` hold places on their way from the nodes to pixels, ``maps`` those of the
    pixels with a rim, ``deep`` the piece of the photograph they fall in, in linear light.
    """

    half: list[NDArray[np.float32]]
    fine: list[NDArray[np.float32]]
    maps: list[NDArray[np.float32]]
    mask: NDArray[np.uint8]
    deep: list[NDArray[np.uint16]]

    @classmethod
    def empty(cls) -> _Bench:
        fine = len(_WEIGHTS)
        return cls(
            [np.empty((_NODES, fine), np.float32) for _ in range(2)],
            [np.empty((fine, fine), np.float32) for _ in range(2)],
            [np.empty((fine * BETWEEN, fine * BETWEEN), np.float32) for _ in range(2)],
            np.empty((TILE, TILE), np.uint8),
            [np.empty(0, np.uint16)],
        )

    def drawn_out(self, px: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Places at the nodes (n, n, 2) drawn out to the tile's pixels, across and down.

        By OpenCV's product: one that starts threads of its own for every tile takes six times as
        long.
        """
        for k in range(2):
            nodes = np.ascontiguousarray(px[..., k])
            cv2.gemm(nodes, _WEIGHTS, 1.0, _NOTHING, 0.0, dst=self.half[k], flags=cv2.GEMM_2_T)
            cv2.gemm(_WEIGHTS, self.half[k], 1.0, _NOTHING, 0.0, dst=self.fine[k])
            size = self.maps[k].shape[::-1]
            cv2.resize(self.fine[k], size, dst=self.maps[k], interpolation=cv2.INTER_LINEAR)
        mx, my = (m[BETWEEN:, BETWEEN:] for m in self.maps)
        return mx, my

    def source(
        self, image: NDArray[np.uint8], part: _Nodes, piece: tuple[int, int, int, int]
    ) -> tuple[NDArray[np.uint16], NDArray[np.float32], NDArray[np.float32]]:
        """The piece of the photograph that a tile falls in, in linear light, and places in it."""
        x0, y0, x1, y1 = piece
        shown = image[y0:y1, x0:x1]
        if self.deep[0].size < shown.size:
            self.deep[0] = np.empty(shown.size, np.uint16)
        deep = self.deep[0][: shown.size].reshape(shown.shape)
        to_linear16(shown, out=deep)
        mx, my = self.drawn_out(part.px - np.array([x0, y0], np.float32))
        return deep, mx, my


def _piece(part: _Nodes, shape: tuple[int, ...]) -> tuple[int, int, int, int]:
    """Left, top, right, bottom pixels of what warping a tile reaches for in the photograph."""
    size = np.array(shape[1::-1])
    # of what lies wholly beside the photograph the pixels nearest to it
    low = np.minimum(np.maximum(np.floor(part.px.min(axis=(0, 1))) - RIM_PX, 0), size - 1)
    high = np.minimum(np.ceil(part.px.max(axis=(0, 1))) + RIM_PX + 1, size)
    high = np.maximum(high, low + 1)
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


class _Levels:
    """A picture's halvings in linear light, each made when it is first wanted."""

    def __init__(self, image: NDArray[np.uint8]) -> None:
        self._image = image
        self._made: list[NDArray[np.uint16]] = []
        self._making = Lock()

    def at(self, level: int) -> NDArray[np.uint16]:
        with self._making:
            if not self._made:
                self._made.append(to_linear16(self._image))
            while len(self._made) <= level:
                big = self._made[-1]
                half = (max(1, big.shape[1] // 2), max(1, big.shape[0] // 2))
                self._made.append(
                    np.asarray(cv2.resize(big, half, interpolation=cv2.INTER_AREA), np.uint16)
                )
            return self._made[level]

    def source(
        self, level: int, part: _Nodes, bench: _Bench
    ) -> tuple[NDArray[np.uint16], NDArray[np.float32], NDArray[np.float32]]:
        """The picture halved so often, and a tile's places in it."""
        picture = self.at(level)
        smaller = np.array(picture.shape[1::-1]) / np.array(self._image.shape[1::-1])
        mx, my = bench.drawn_out(((part.px + 0.5) * smaller - 0.5).astype(np.float32))
        return picture, mx, my


def _widen_glare(hidden: NDArray[np.uint8]) -> None:
    """Hide two pixels more around burnt-out light: the lens has spread it."""
    glare = hidden & np.uint8(UNSEEN_GLARE)
    rows, columns = np.flatnonzero(glare.any(axis=1)), np.flatnonzero(glare.any(axis=0))
    if not len(rows):
        return
    part = (
        slice(max(0, rows[0] - 2), rows[-1] + 3),
        slice(max(0, columns[0] - 2), columns[-1] + 3),
    )
    wide = cv2.dilate(glare[part], np.ones((5, 5), np.uint8))
    hidden[part] |= np.asarray(wide, np.uint8)


def seen_bounds(
    placing: Placing, layout: StripLayout | Bounds, shape: tuple[int, ...], reach: float = 0.5
) -> Bounds:
    """Left, top, right, bottom in mm of what the photograph shows near the strip or the bounds."""
    left, top, right, bottom = _extent(layout)
    margin = reach * max(right - left, bottom - top)
    xs = np.linspace(left - margin, right + margin, 161)
    ys = np.linspace(top - margin, bottom + margin, 161)
    grid = np.stack(np.meshgrid(xs, ys), axis=-1)
    seen = _seen(placing, grid, shape)
    if not seen.any():
        raise SurfaceError(
            "Nothing of the surface around the strip is seen squarely enough to be unrolled; "
            "photograph it closer and more from the front."
        )
    rows, columns = np.nonzero(seen)
    dx, dy = xs[1] - xs[0], ys[1] - ys[0]
    return (
        float(np.floor(xs[columns.min()] - dx)),
        float(np.floor(ys[rows.min()] - dy)),
        float(np.ceil(xs[columns.max()] + dx)),
        float(np.ceil(ys[rows.max()] + dy)),
    )


def _seen(placing: Placing, xy: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    in_frame = _in_frame(placing.to_pixels(xy), shape)
    return in_frame & _faces(placing, xy, placing.resolution(xy)[0])


def _in_frame(px: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    return np.asarray(np.all((px >= 0.5) & (px <= (shape[1] - 1.5, shape[0] - 1.5)), axis=-1))


def _faces(placing: Placing, xy: Floats, coarser: Floats) -> NDArray[np.bool_]:
    """Whether places lie on the surface, before the camera, squarely and finely enough."""
    return np.asarray(
        _ahead(placing, xy)
        & placing.surface.covers(xy)
        & (placing.facing(xy) > LEAST_FACING)
        & (coarser > LEAST_RESOLUTION),
        dtype=np.bool_,
    )


def _ahead(placing: Placing, xy: Floats) -> NDArray[np.bool_]:
    """In front of the camera, and not where the distortion polynomial folds back into the frame."""
    space = placing.surface.to_space(xy) @ placing.rotation.T + placing.translation
    z = space[..., 2]
    safe = np.where(z > 1e-6, z, 1.0)
    r2 = (space[..., 0] ** 2 + space[..., 1] ** 2) / safe**2
    k1, k2, _, _, k3 = placing.lens.distortion
    growing = 1.0 + r2 * (3.0 * k1 + r2 * (5.0 * k2 + r2 * 7.0 * k3)) > 0.05
    return np.asarray((z > 1e-6) & growing & (r2 < 9.0), dtype=np.bool_)


def _extent(layout: StripLayout | Bounds) -> Bounds:
    return layout.bounds_mm if isinstance(layout, StripLayout) else layout


def _natural_scale(placing: Placing, layout: StripLayout | Bounds, shape: tuple[int, ...]) -> float:
    left, top, right, bottom = _extent(layout)
    grid = np.stack(
        np.meshgrid(np.linspace(left, right, 15), np.linspace(top, bottom, 15)), axis=-1
    ).reshape(-1, 2)
    seen = _seen(placing, grid, shape)
    if not seen.any():
        return 12.0
    _, finer = placing.resolution(grid[seen])
    return float(np.clip(np.ceil(np.percentile(finer, 75) * 2.0) / 2.0, 6.0, 24.0))


def _cubic_weights() -> NDArray[np.float32]:
    """Catmull-Rom weights from a tile's nodes to places `BETWEEN` pixels apart.

    The nodes are one before it, the rest `NODE` pixels apart; the places the middles of as many
    pixels each, one before the tile and one behind.
    """
    at = ((np.arange(TILE // BETWEEN + 2) - 0.5) * BETWEEN - 0.5) / NODE
    out = np.zeros((len(at), _NODES), dtype=np.float32)
    cell = np.floor(at).astype(int)
    t = at - cell
    weights = (
        ((-t + 2.0) * t - 1.0) * t / 2.0,
        ((3.0 * t - 5.0) * t * t + 2.0) / 2.0,
        ((-3.0 * t + 4.0) * t + 1.0) * t / 2.0,
        (t - 1.0) * t * t / 2.0,
    )
    for k, weight in enumerate(weights):
        reached = np.clip(cell + k, 0, _NODES - 1)
        np.add.at(out, (np.arange(len(at)), reached), weight)
    return out


_NODES: Final = TILE // NODE + 4
_WEIGHTS: Final = _cubic_weights()
_NOTHING: Final = np.empty(0)


def _white_field(placing: Placing, nodes_mm: Floats) -> NDArray[np.float32]:
    """Linear RGB of white paper everywhere, from the paper seen beside the markers.

    Brightness is a plane or a gentle bowl in logarithms, kept within half and twice what was seen.
    The colour is one for the whole picture, or turns evenly from side to side where the paper shows
    that two lights of different colour meet.
    """
    light = placing.paper_light.astype(np.float64)
    xy = placing.paper_points_mm
    luminance = light @ LUMINANCE.astype(np.float64)
    good = luminance > 0.2 * np.median(luminance)
    light, xy, luminance = light[good], xy[good], luminance[good]
    middle = xy.mean(axis=0)
    span = max(float(np.ptp(xy, axis=0).max()), 1.0)

    def terms(points: Floats) -> Floats:
        u, v = (points[..., 0] - middle[0]) / span, (points[..., 1] - middle[1]) / span
        return np.stack([np.ones_like(u), u, v, u * u + v * v], axis=-1)

    a, b = terms(xy), np.log(luminance)
    weight = np.ones(len(b))
    ridge = np.diag([0.0, 1e-3, 1e-3, 1e-2]) * len(b)
    fit = np.zeros(4)
    for _ in range(6):
        fit = np.linalg.solve((a * weight[:, None]).T @ a + ridge, (a * weight[:, None]).T @ b)
        miss = np.abs(b - a @ fit)
        weight = 1.0 / np.maximum(miss, 0.02)
        weight /= weight.max()
    field = np.exp(np.clip(terms(nodes_mm) @ fit, b.min() - 0.7, b.max() + 0.7))
    tint = _tint(np.log(light / luminance[:, None]), a[:, :3], terms(nodes_mm)[..., :3])
    return (field[..., None] * np.exp(tint)).astype(np.float32)


def _tint(seen: Floats, at: Floats, wanted: Floats) -> Floats:
    """Colour of white paper, as logarithms beside its brightness: one, or turning evenly.

    ``seen`` is that of each place (n, 3), ``at`` and ``wanted`` are 1, u and v of places.
    """
    middle = np.median(seen, axis=0)
    fit: NDArray[np.floating] = np.zeros((3, 3))
    fit[0] = middle
    weight = np.ones(len(seen))
    for _ in range(6):
        held = at * weight[:, None]
        fit = np.linalg.solve(held.T @ at + 1e-3 * len(seen) * np.eye(3), held.T @ (seen - middle))
        weight = 1.0 / np.maximum(np.abs(seen - middle - at @ fit).max(axis=1), 0.02)
        weight /= weight.max()
    turns = np.ptp(at @ fit, axis=0).max()
    if turns < LEAST_TURN:
        return np.broadcast_to(middle, (*wanted.shape[:-1], 3))
    low, high = seen.min(axis=0), seen.max(axis=0)
    return np.asarray(np.clip(middle + wanted @ fit, low, high))


def _thinning(scale: float) -> int:
    """Every how manieth pixel is enough to tell paper by: a power of two, so that tiles fit."""
    return 1 << max(0, int(np.log2(max(scale / 10.0, 1.0))))


def _paper_reach(layout: StripLayout) -> float:
    """How far in mm its paper reaches from a marker: half way to the next, or a little past one."""
    centres = layout.corners_mm.mean(axis=1)
    apart = np.linalg.norm(centres[:, None] - centres, axis=2)
    np.fill_diagonal(apart, np.inf)
    side = float(np.median([m.side_mm for m in layout.markers]))
    return max(1.2 * side, float(np.median(apart.min(axis=1))) / 2.0)


def _under_paper(flat: Flat, few: NDArray[np.uint16], layout: StripLayout) -> NDArray[np.uint8]:
    """`UNSEEN_STRIP` where its paper lies: white that hangs together with the markers, and they.

    ``few`` is the flat's light at every so manieth pixel.
    """
    height, width = flat.shape
    step = max(1, round(flat.px_per_mm / 5.0))
    h, w = max(2, height // step), max(2, width // step)
    scale = flat.px_per_mm * w / width
    small = cv2.resize(few, (w, h), interpolation=cv2.INTER_AREA).astype(np.float32) / 65535
    white = spread_grid(flat.white, flat.shape, h, w)
    share = small / np.maximum(white, 1e-4)
    red, green, blue = cv2.split(share)
    low, high = cv2.min(cv2.min(red, green), blue), cv2.max(cv2.max(red, green), blue)
    bright = ((low > 0.5) & (high < 1.5 * low)).astype(np.uint8)
    marker = np.zeros((h, w), np.uint8)
    quads = []
    for m in layout.markers:
        ring = np.asarray(m.corners_mm)
        grown = ring.mean(axis=0) + (ring - ring.mean(axis=0)) * 1.3
        places = (grown - np.asarray(flat.origin_mm)) * scale - 0.5
        quads.append(np.round(places).astype(np.int32))
    cv2.fillPoly(marker, quads, 1)
    paper = cv2.morphologyEx(bright | marker, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    count, parts = cv2.connectedComponents(paper, connectivity=4)
    touched = np.zeros(count, np.bool_)
    touched[parts[marker > 0]] = True
    touched[0] = False
    sheet = touched[parts]
    # small closed holes in the paper are print, not a window
    side = float(np.median([m.side_mm for m in layout.markers]))
    _, holes, stats, _ = cv2.connectedComponentsWithStats((~sheet).astype(np.uint8), connectivity=4)
    small_hole = stats[:, cv2.CC_STAT_AREA] < (side * scale) ** 2 * 0.5
    small_hole[0] = False
    sheet |= small_hole[holes]
    # white that hangs together with the paper but lies farther from any marker than half way to the
    # next is no paper: a glare has run into it
    near = cv2.distanceTransform(1 - marker, cv2.DIST_L2, 3) <= _paper_reach(layout) * scale
    glare = sheet & ~near
    sheet &= near
    # the paper's edge casts a shadow and mixes into the pixels beside it
    rim = 2 * max(1, round(0.6 * scale)) + 1
    sheet_wide = cv2.dilate(sheet.astype(np.uint8), np.ones((rim, rim), np.uint8))
    both = sheet_wide * np.uint8(UNSEEN_STRIP) | glare.astype(np.uint8) * np.uint8(UNSEEN_GLARE)
    full = cv2.resize(both, (width, height), interpolation=cv2.INTER_NEAREST)
    return np.asarray(full, dtype=np.uint8)
