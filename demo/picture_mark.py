"""The mark struck in the slide plate, under a lamp held low at the left."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cv2
import mitsuba as mi
import numpy as np
import photograph
import room
import solids
import surfaces
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

WIDTH, HEIGHT = 1600, 1000
FIELD = (56.0, 37.0)  # mm of steel that are modelled
PX_PER_MM = 32.0
FIGURE_MM = 4.3
MARK = "G°94·627"
"""What was struck; the dot was struck feebly, and a pit stands close by."""


def struck(rng: np.random.Generator, shape: tuple[int, int]) -> NDArray[np.float32]:
    """Depth of the struck mark in mm: each figure by its own punch, none quite like the next."""
    import matplotlib  # only for a font that is the same everywhere

    font_file = Path(matplotlib.get_data_path()) / "fonts/ttf/DejaVuSerif.ttf"
    scale = PX_PER_MM
    font = ImageFont.truetype(str(font_file), round(FIGURE_MM * scale / 0.73))
    depth = np.zeros(shape, np.float32)
    burr = np.zeros(shape, np.float32)
    x = 0.5 * shape[1] - 14.6 * scale
    base = 0.53 * shape[0]
    for glyph in MARK:
        hard = 0.19 * rng.uniform(0.85, 1.12)
        tile = np.zeros(shape, np.float32)
        if glyph in "°·":
            advance = 3.3 if glyph == "°" else 2.6
            yy, xx = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
            r = np.hypot(xx - (x + advance / 2 * scale), yy - base) / scale
            if glyph == "°":
                tile = np.clip(0.30 - np.abs(r - 0.78), 0, None) * 0.75
            else:
                tile = np.clip(0.50 - r, 0, None) * 0.17
        else:
            size = round(7 * scale)
            image = Image.new("L", (size, size), 0)
            box = font.getbbox(glyph)
            ImageDraw.Draw(image).text(
                ((size - box[0] - box[2]) / 2, (size - box[1] - box[3]) / 2),
                glyph,
                font=font,
                fill=255,
            )
            inside = (np.asarray(image) > 128).astype(np.uint8)
            inside = cv2.dilate(inside, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5)))
            far = cv2.distanceTransform(inside, cv2.DIST_L2, 5).astype(np.float32) / scale
            groove = np.minimum(far * 0.85 + 0.03 * (far > 0), hard)
            lean_x, lean_y = rng.normal(0, 0.14, 2)  # the punch was not held upright
            gx, gy = np.meshgrid(np.linspace(-1, 1, size), np.linspace(-1, 1, size))
            groove *= np.clip(1 + lean_x * gx * 2.4 + lean_y * gy * 2.4, 0.25, 1.5).astype(
                np.float32
            )
            turn = cv2.getRotationMatrix2D(
                (size / 2, size / 2), rng.normal(0, 1.9), rng.uniform(0.98, 1.02)
            )
            advance = {"G": 4.5}.get(glyph, 3.7)
            turn[0, 2] += x + advance / 2 * scale - size / 2 + rng.normal(0, 0.10) * scale
            turn[1, 2] += base - size / 2 + rng.normal(0, 0.16) * scale
            tile = cv2.warpAffine(groove, turn, (shape[1], shape[0]), flags=cv2.INTER_LINEAR)
        rim = cv2.GaussianBlur((tile > 0.004).astype(np.float32), (0, 0), 0.16 * scale) * (
            tile < 0.004
        )
        burr = np.maximum(burr, rim * (0.014 if glyph != "·" else 0.003))
        depth = np.maximum(depth, tile)
        x += advance * scale
    depth = cv2.GaussianBlur(depth, (0, 0), 0.035 * scale)
    return (burr - depth).astype(np.float32)


def plate() -> tuple[NDArray[np.float64], surfaces.Skin]:
    """The steel as a relief and its skin."""
    rng = np.random.default_rng(94627)
    scale = PX_PER_MM
    shape = (round(FIELD[1] * scale), round(FIELD[0] * scale))
    mark = struck(rng, shape)
    # Ground lengthwise in the works, then scratched by ninety years of cloth and pins.
    ground = cv2.GaussianBlur(
        rng.standard_normal(shape).astype(np.float32), (0, 0), sigmaX=60, sigmaY=0.7
    )
    ground *= 0.0020 / ground.std()
    fine = surfaces.scratches(rng, shape, 480, (2 * scale, 26 * scale), 1.6, (-0.35, 0.35))
    hard = surfaces.scratches(rng, shape, 34, (3 * scale, 22 * scale), 3.0, (-0.9, 1.1), 0.05)
    wide = surfaces.step(2.1, 2.7, surfaces.clouds(rng, shape, 2.4 * scale, 4, 0.6))
    patch = surfaces.step(0.3, 1.6, surfaces.clouds(rng, shape, 14 * scale, 4))
    pits = wide * patch
    points = surfaces.specks(rng, shape, 900, (2.0, 9.0)) * (0.25 + 0.75 * patch)
    near = surfaces.specks(np.random.default_rng(4), shape, 0, (1, 2))
    cx = round(0.5 * shape[1] + 2.05 * scale)
    cv2.circle(
        near,
        (cx + round(0.35 * scale), round(0.53 * shape[0] + 1.05 * scale)),
        round(0.19 * scale),
        1.0,
        -1,
        cv2.LINE_AA,
    )
    points = np.maximum(points, near)
    swell = 0.012 * surfaces.clouds(rng, shape, 20 * scale, 2)
    height = swell + mark + ground - 0.004 * fine - 0.010 * hard
    height = (
        height
        - 0.07 * cv2.GaussianBlur(pits, (0, 0), 2.2)
        - 0.05 * cv2.GaussianBlur(points, (0, 0), 1.3)
    )

    skin = surfaces.Skin(
        np.broadcast_to(np.asarray((0.47, 0.45, 0.42), np.float32), (*shape, 3)).copy(),
        (0.35 + 0.05 * surfaces.clouds(rng, shape, 6 * scale, 5))
        .clip(0.16, 0.5)
        .astype(np.float32),
        np.full(shape, 0.86, np.float32),
        np.zeros(shape, np.float32),
    )
    film = surfaces.step(-0.4, 2.2, surfaces.clouds(rng, shape, 12 * scale, 6, 0.62))
    skin.lay(0.55 * film, (0.20, 0.155, 0.11), 0.36, 0.8)
    skin.lay(0.5 * hard, (0.6, 0.58, 0.55), 0.2, 1.0)
    rust = surfaces.clouds(rng, shape, 1.2 * scale, 4, 0.7)[..., None]
    brown = np.clip(np.asarray(surfaces.RUST, np.float32) * (0.8 + 0.35 * rust), 0.01, 1)
    skin.lay(np.clip(cv2.GaussianBlur(pits, (0, 0), 4) * 1.15, 0, 0.95), brown, 0.75, 0.0)
    skin.lay(
        np.clip(cv2.GaussianBlur(points, (0, 0), 1.6) * 1.1, 0, 0.9), surfaces.RUST_DARK, 0.7, 0.0
    )
    # Old oil and dirt keep in the figures' grounds.
    dirt = surfaces.step(0.03, 0.12, -mark) * surfaces.step(
        -1.2, 0.8, surfaces.clouds(rng, shape, 2 * scale, 4)
    )
    skin.lay(0.72 * dirt, (0.035, 0.022, 0.014), 0.5, 0.1)
    skin.lay(0.55 * surfaces.specks(rng, shape, 160, (0.8, 2.6)), surfaces.DUST, 0.9, 0.0)
    skin.lay(0.6 * surfaces.lint(rng, shape, 3, 7 * scale, 2), surfaces.DUST, 0.9, 0.0)

    step = 1 if photograph.DRAFT >= 1 else 2
    h = height[::step, ::step]
    y = FIELD[1] / 2 - (np.arange(h.shape[0]) * step + 0.5) / scale
    x = (np.arange(h.shape[1]) * step + 0.5) / scale - FIELD[0] / 2
    gx, gy = np.meshgrid(x, y)
    return np.stack([gx, gy, h.astype(np.float64)], axis=-1), skin


def render() -> NDArray[np.uint8]:
    """The photograph."""
    points, skin = plate()
    uv = np.stack([points[..., 0] / FIELD[0] + 0.5, 0.5 - points[..., 1] / FIELD[1]], axis=-1)
    bsdf = {"type": "twosided", "bsdf": photograph.skin_bsdf(skin)}
    scene: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 4},
        "light": room.emitter(
            room.sphere(3, window=0.7, azimuth=70, elevation=(20, 60), ceiling=0.26, wall=0.12)
        ),
        "steel": solids.grid_mesh("steel", points, uv, bsdf),
        "lamp": {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f().look_at([-230.0, 95.0, 58.0], [0, 0, 0], [0, 0, 1])
            @ mi.ScalarTransform4f().scale([26.0, 17.0, 1]),
            "emitter": {"type": "area", "radiance": {"type": "rgb", "value": [150.0, 118.0, 80.0]}},
        },
        "sensor": photograph.camera(
            (8.0, -52.0, 190.0), (0.4, 0.4, 0.0), 12.0, WIDTH, HEIGHT, 2.0, (0, 1, 0)
        ),
    }
    light = photograph.trace(scene, 48)
    return photograph.develop(
        light, 1.32, 31, noise=0.008, warmth=(0.97, 1.0, 1.06), soften=0.5, vignette=0.2
    )


def write(folder: Path) -> None:
    """Render the photograph and write it."""
    size = photograph.save(
        render(),
        folder / "mark-raking-light.jpg",
        photograph.Exposure("2025:03:09 19:54:18", (1, 25), (110, 10), 800, 60.0),
        quality=80,
    )
    print(f"mark-raking-light.jpg {size / 1e6:.2f} MB")
