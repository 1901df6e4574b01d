"""What a hundred years do to a surface: noise, scratches, dust, rust, worn gilt, as pictures.

Every function draws from a generator that the caller passes, so that a picture can be made again.
Maps are float32 from 0 to 1 unless said otherwise; `scale` is pixels per millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Map = NDArray[np.float32]


def clouds(
    rng: np.random.Generator,
    shape: tuple[int, int],
    first: float,
    octaves: int = 4,
    fall: float = 0.5,
) -> Map:
    """Smooth noise, mean 0 and deviation about 1; `first` is the largest feature in pixels."""
    total = np.zeros(shape, np.float32)
    weight, power, size = 1.0, 0.0, first
    for _ in range(octaves):
        if size < 1.5:
            break
        rows, cols = int(shape[0] / size) + 4, int(shape[1] / size) + 4
        grid = rng.standard_normal((rows, cols)).astype(np.float32)
        big = cv2.resize(
            grid, (int(cols * size) + 1, int(rows * size) + 1), interpolation=cv2.INTER_CUBIC
        )
        r0, c0 = int(size * (1 + rng.random())), int(size * (1 + rng.random()))
        total += weight * big[r0 : r0 + shape[0], c0 : c0 + shape[1]]
        power += weight**2
        weight, size = weight * fall, size / 2.0
    return total / np.float32(np.sqrt(power) * 0.75)


def step(low: float, high: float, x: Map) -> Map:
    """An eased step from 0 at `low` to 1 at `high`."""
    t = np.clip((x - low) / (high - low), 0.0, 1.0)
    return (t * t * (3.0 - 2.0 * t)).astype(np.float32)


def scratches(
    rng: np.random.Generator,
    shape: tuple[int, int],
    count: int,
    length: tuple[float, float],
    width: float,
    angle: tuple[float, float] = (0.0, np.pi),
    wobble: float = 0.12,
) -> Map:
    """Fine bent strokes; length in pixels, width the greatest in pixels, angles in radians."""
    out = np.zeros(shape, np.uint8)
    for _ in range(count):
        n = 14
        reach = length[0] * (length[1] / length[0]) ** rng.random()
        a = rng.uniform(*angle) + np.cumsum(rng.normal(0, wobble / n**0.5, n)) + rng.normal(0, 0.05)
        p = rng.random(2) * (shape[1], shape[0])
        line = p + np.cumsum(np.column_stack([np.cos(a), np.sin(a)]) * reach / n, axis=0)
        strength = int(255 * (0.25 + 0.75 * rng.random() ** 2))
        thick = max(1, round(width * rng.random() ** 2))
        cv2.polylines(
            out, [np.round(line * 16).astype(np.int32)], False, strength, thick, cv2.LINE_AA, 4
        )
    return out.astype(np.float32) / 255.0


def specks(
    rng: np.random.Generator, shape: tuple[int, int], count: int, radius: tuple[float, float]
) -> Map:
    """Dust: small irregular grains, most of them near the smaller radius (pixels)."""
    out = np.zeros(shape, np.uint8)
    for _ in range(count):
        r = radius[0] + (radius[1] - radius[0]) * rng.random() ** 5
        x, y = rng.random(2) * (shape[1], shape[0])
        axes = (max(1, int(16 * r)), max(1, int(16 * r * rng.uniform(0.4, 1.0))))
        cv2.ellipse(
            out,
            (int(x * 16), int(y * 16)),
            axes,
            rng.uniform(0, 180),
            0,
            360,
            int(255 * rng.uniform(0.3, 1.0)),
            -1,
            cv2.LINE_AA,
            4,
        )
    return out.astype(np.float32) / 255.0


def lint(
    rng: np.random.Generator, shape: tuple[int, int], count: int, length: float, width: int
) -> Map:
    """Curled fibres of cotton."""
    out = np.zeros(shape, np.uint8)
    for _ in range(count):
        n = 40
        a = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.22, n) + rng.normal(0, 0.06))
        p = rng.random(2) * (shape[1], shape[0])
        reach = length * rng.uniform(0.3, 1.0)
        line = p + np.cumsum(np.column_stack([np.cos(a), np.sin(a)]) * reach / n, axis=0)
        cv2.polylines(
            out,
            [np.round(line * 16).astype(np.int32)],
            False,
            int(255 * rng.uniform(0.4, 0.9)),
            width,
            cv2.LINE_AA,
            4,
        )
    return out.astype(np.float32) / 255.0


def fill(polygons: list[NDArray[np.float64]], shape: tuple[int, int], oversample: int = 2) -> Map:
    """Even-odd fill of closed polygons in pixels (0 is the left edge of pixel 0), anti-aliased."""
    big = np.zeros((shape[0] * oversample, shape[1] * oversample), np.uint8)
    # OpenCV counts from pixel centres and fills boundary pixels too; eight fractional bits and the
    # half-pixel shift keep the edge where the drawing has it, the oversampling thins the excess.
    points = [np.round((p * oversample - 0.5) * 256.0).astype(np.int32) for p in polygons]
    cv2.fillPoly(big, points, 255, cv2.LINE_AA, 8)
    small = cv2.resize(big, (shape[1], shape[0]), interpolation=cv2.INTER_AREA)
    return small.astype(np.float32) / 255.0


@dataclass
class Skin:
    """A surface's maps: colour (linear, h x w x 3), roughness, metal share, height in mm."""

    colour: NDArray[np.float32]
    roughness: Map
    metal: Map
    height: Map

    def lay(
        self,
        cover: Map,
        colour: tuple[float, float, float] | NDArray[np.float32],
        roughness: float | Map,
        metal: float,
        raise_mm: float = 0.0,
    ) -> None:
        """Cover part of the surface with another material."""
        k = cover[..., None]
        self.colour = (self.colour * (1 - k) + np.asarray(colour, np.float32) * k).astype(
            np.float32
        )
        self.roughness = (self.roughness * (1 - cover) + np.float32(1) * roughness * cover).astype(
            np.float32
        )
        self.metal = (self.metal * (1 - cover) + np.float32(metal) * cover).astype(np.float32)
        if raise_mm:
            self.height = (self.height + np.float32(raise_mm) * cover).astype(np.float32)


JAPAN = (0.0085, 0.0068, 0.0058)
JAPAN_THIN = (0.03, 0.016, 0.009)
GILT = (0.72, 0.47, 0.16)
GILT_DULL = (0.40, 0.235, 0.085)
GILT_STAIN = (0.115, 0.06, 0.026)
IRON = (0.36, 0.34, 0.32)
RUST = (0.16, 0.058, 0.022)
RUST_DARK = (0.055, 0.026, 0.015)
DUST = (0.42, 0.39, 0.34)


def japan(rng: np.random.Generator, shape: tuple[int, int], scale: float) -> Skin:
    """Old black japan: deep and glossy, browner where rubbed thin, dulled by handling."""
    rubbed = step(0.7, 2.4, clouds(rng, shape, 45 * scale, 4))
    haze = step(-0.6, 2.4, clouds(rng, shape, 25 * scale, 6, 0.6))
    colour = np.empty((*shape, 3), np.float32)
    colour[:] = JAPAN
    skin = Skin(
        colour,
        (0.065 + 0.16 * haze).astype(np.float32),
        np.zeros(shape, np.float32),
        np.zeros(shape, np.float32),
    )
    skin.lay(0.8 * rubbed, JAPAN_THIN, 0.26, 0.0)
    skin.height = (
        0.0035 * clouds(rng, shape, 9 * scale, 2) + 0.0010 * clouds(rng, shape, 2.2 * scale, 2)
    ).astype(np.float32)
    return skin


def gild(skin: Skin, gilt: Map, wear: Map, rng: np.random.Generator, scale: float) -> Map:
    """Lay gilt on japan, worn by `wear` (0 as new, 1 gone), and return what share is lost for good.

    Rubbed gilt first loses its metal and shows the brown size under it, then breaks up in flecks.
    """
    shape = gilt.shape
    grain = clouds(rng, shape, 1.1 * scale, 4, 0.75)
    fleck = step(0.35, 0.75, wear * 1.25 + 0.13 * grain - 0.12)
    gone = step(0.55, 0.85, wear + 0.16 * grain)
    mottle = clouds(rng, shape, 6 * scale, 5, 0.6)
    dull = np.clip(0.32 + 0.22 * mottle, 0, 1)[..., None]
    tone = np.asarray(GILT, np.float32) * (1 - dull) + np.asarray(GILT_DULL, np.float32) * dull
    skin.lay(gilt * (1 - gone), GILT_STAIN, 0.36, 0.0, 0.004)
    skin.lay(gilt * (1 - fleck), tone.astype(np.float32), 0.37, 0.62, 0.004)
    skin.lay(0.4 * gilt * gone, JAPAN_THIN, 0.3, 0.0)
    return gone


def as_bitmaps(skin: Skin) -> dict[str, NDArray[np.uint8]]:
    """The maps as 8-bit pictures: colour sRGB-encoded, the rest as they are."""
    c = np.clip(skin.colour, 0, 1)
    coded = np.where(
        c <= 0.0031308, 12.92 * c, 1.055 * np.power(np.maximum(c, 1e-6), 1 / 2.4) - 0.055
    )

    def eight(m: NDArray[np.float32]) -> NDArray[np.uint8]:
        return (np.clip(m, 0, 1) * 255 + 0.5).astype(np.uint8)

    return {
        "colour": eight(coded.astype(np.float32)),
        "roughness": eight(skin.roughness)[..., None],
        "metal": eight(skin.metal)[..., None],
    }
