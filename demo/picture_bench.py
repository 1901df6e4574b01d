"""Small parts on the bench: the tension discs before and after, the shuttle and its bobbin."""

from __future__ import annotations

import math
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

DISC_RADIUS = 12.2
HOLE_RADIUS = 2.5


def two_sided(bsdf: dict[str, Any]) -> dict[str, Any]:
    """The material on both sides of its surface."""
    return {"type": "twosided", "bsdf": bsdf}


def cloth(rng: np.random.Generator, side_mm: float, scale: float) -> dict[str, Any]:
    """Unbleached cotton on the bench: woven, softly creased, with an oil stain or two."""
    size = round(side_mm * scale)
    shape = (size, size)
    yy, xx = np.mgrid[0:size, 0:size].astype(np.float32) / scale
    wob = 0.05 * surfaces.clouds(rng, shape, 9 * scale, 3)
    pitch = 0.42
    warp, weft = np.sin(2 * np.pi * (xx + wob) / pitch), np.sin(2 * np.pi * (yy + wob) / pitch)
    over = np.sign(np.sin(np.pi * (xx + wob) / pitch) * np.sin(np.pi * (yy + wob) / pitch))
    weave = np.where(over > 0, np.abs(warp), np.abs(weft)).astype(np.float32)
    thread = cv2.GaussianBlur(weave, (0, 0), 0.04 * scale)
    level = 0.34 + 0.20 * thread + 0.03 * surfaces.clouds(rng, shape, 20 * scale, 6, 0.7)
    colour = level[..., None] * np.asarray((1.0, 0.93, 0.80), np.float32)
    stain = surfaces.step(1.3, 2.4, surfaces.clouds(rng, shape, 34 * scale, 4))
    colour *= 1 - 0.55 * stain[..., None] * np.asarray((0.7, 0.85, 1.0), np.float32)
    lint = surfaces.lint(rng, shape, 30, 8 * scale, 1)
    colour = colour * (1 - 0.5 * lint[..., None]) + 0.3 * lint[..., None]
    skin = surfaces.Skin(
        colour.clip(0.01, 0.9).astype(np.float32),
        np.full(shape, 0.95, np.float32),
        np.zeros(shape, np.float32),
        (0.10 * thread).astype(np.float32),
    )
    n = 220
    t = np.linspace(-side_mm / 2, side_mm / 2, n)
    gx, gy = np.meshgrid(t, t[::-1])
    crease = 0.7 * surfaces.clouds(rng, (n, n), 90, 3, 0.5)
    crease += 0.9 * np.exp(-(((gx * 0.35 + gy - 31) / 2.2) ** 2)) + 0.7 * np.exp(
        -(((gx - 0.2 * gy + 44) / 2.0) ** 2)
    )
    flat = np.exp(-((np.hypot(gx, gy) / 34.0) ** 4))
    z = crease * (1 - 0.92 * flat) - 0.25
    uv = np.stack([gx / side_mm + 0.5, 0.5 - gy / side_mm], axis=-1)
    return solids.grid_mesh(
        "cloth", np.stack([gx, gy, z], -1), uv, two_sided(photograph.skin_bsdf(skin, 0.8))
    )


def rule(rng: np.random.Generator, length: float = 70.0, width: float = 13.0) -> mi.Mesh:
    """A steel rule with millimetre strokes."""
    import matplotlib

    scale = 24.0
    w, h = round((length + 6) * scale), round(width * scale)
    image = Image.new("L", (w, h), 0)
    draw = ImageDraw.Draw(image)
    font = ImageFont.truetype(
        str(Path(matplotlib.get_data_path()) / "fonts/ttf/DejaVuSans.ttf"), round(2.5 * scale)
    )
    for mm in range(round(length) + 1):
        x = (3 + mm) * scale
        reach = 6.0 if mm % 10 == 0 else 4.6 if mm % 5 == 0 else 3.2
        draw.line([(x, 0), (x, reach * scale)], fill=255, width=round(0.16 * scale))
        if mm % 10 == 0 and mm:
            draw.text((x, 8.2 * scale), str(mm // 10), font=font, fill=255, anchor="mm")
    ink = np.asarray(image, np.float32) / 255
    shape = (h, w)
    skin = surfaces.Skin(
        np.broadcast_to(np.asarray((0.5, 0.49, 0.47), np.float32), (*shape, 3)).copy(),
        (0.3 + 0.05 * surfaces.clouds(rng, shape, 60, 4)).clip(0.15, 0.6).astype(np.float32),
        np.full(shape, 0.9, np.float32),
        np.zeros(shape, np.float32),
    )
    skin.lay(
        0.4 * surfaces.scratches(rng, shape, 200, (20, 300), 1.6, (-0.1, 0.1)),
        (0.62, 0.6, 0.58),
        0.2,
        1.0,
    )
    tarnish = surfaces.step(0.6, 2.0, surfaces.clouds(rng, shape, 200, 5, 0.6))
    skin.lay(0.5 * tarnish, (0.16, 0.12, 0.08), 0.5, 0.4)
    skin.lay(0.94 * ink, (0.012, 0.011, 0.01), 0.5, 0.0)
    turn, shift = math.radians(-4.0), np.array([0.0, -27.0])
    corners = np.array(
        [
            [[-3.0 - length / 2, width / 2], [length / 2 + 3, width / 2]],
            [[-3.0 - length / 2, -width / 2], [length / 2 + 3, -width / 2]],
        ]
    )
    c, s = math.cos(turn), math.sin(turn)
    laid = corners @ np.array([[c, s], [-s, c]]) + shift
    points = np.concatenate([laid, np.full((2, 2, 1), 0.55)], axis=-1)
    uv = np.array([[[0.0, 0.0], [1.0, 0.0]], [[0.0, 1.0], [1.0, 1.0]]])
    return solids.grid_mesh("rule", points, uv, two_sided(photograph.skin_bsdf(skin)))


def disc(
    name: str,
    seed: int,
    polished: bool,
    place: tuple[float, float, float],
    tilt: float,
    working: bool,
) -> list[mi.Mesh]:
    """A tension disc: pitted and rusty, or polished with the deepest pits still there."""
    rng = np.random.default_rng(seed)
    scale = 48.0
    size = round(2.1 * DISC_RADIUS * scale)
    shape = (size, size)
    yy, xx = np.mgrid[0:size, 0:size].astype(np.float32)
    x, y = (xx - size / 2) / scale, (size / 2 - yy) / scale
    r = np.hypot(x, y)

    cloud = surfaces.clouds(rng, shape, 5 * scale, 5, 0.62)
    pits = surfaces.step(1.25, 1.8, cloud + 0.25 * np.exp(-(((r - 10) / 2.5) ** 2)))
    points = surfaces.specks(rng, shape, 520, (2.5, 17.0))
    groove = np.exp(-(((y - 6.4 + 0.02 * x * x) / 0.35) ** 2)) * (r > 5)
    turned = np.sin(r * 41.0 + 2 * surfaces.clouds(rng, shape, 4 * scale, 2))
    deep = 0.085 * cv2.GaussianBlur(pits, (0, 0), 3.0) + 0.07 * cv2.GaussianBlur(
        points, (0, 0), 2.0
    )
    skin = surfaces.Skin(
        np.broadcast_to(np.asarray((0.60, 0.57, 0.52), np.float32), (*shape, 3)).copy(),
        np.full(shape, 0.2, np.float32),
        np.ones(shape, np.float32),
        np.zeros(shape, np.float32),
    )
    if polished:
        height = -np.maximum(deep - 0.052, 0) - 0.010 * groove + 0.00045 * turned
        left = surfaces.step(0.0, 0.02, np.maximum(deep - 0.054, 0))
        skin.roughness = (
            (0.085 + 0.03 * surfaces.clouds(rng, shape, 3 * scale, 4))
            .clip(0.05, 0.2)
            .astype(np.float32)
        )
        swirl = surfaces.scratches(rng, shape, 300, (30, 220), 1.4)
        skin.lay(0.25 * swirl, (0.62, 0.6, 0.57), 0.2, 1.0)
        skin.lay(0.85 * left, (0.06, 0.042, 0.03), 0.55, 0.2)
        skin.lay(0.12 * surfaces.step(0.5, 2, cloud), (0.30, 0.26, 0.2), 0.2, 0.9)
        skin.lay(0.4 * surfaces.specks(rng, shape, 24, (1.0, 3.0)), surfaces.DUST, 0.9, 0.0)
    else:
        scab = surfaces.clouds(rng, shape, 0.9 * scale, 4, 0.75)
        height = -deep - 0.022 * groove + 0.0012 * turned + 0.02 * pits * scab
        haze = surfaces.step(-0.7, 1.6, surfaces.clouds(rng, shape, 4 * scale, 6, 0.65))
        skin.roughness = (0.22 + 0.2 * haze).astype(np.float32)
        skin.lay(0.7 * haze, (0.20, 0.155, 0.105), 0.45, 0.6)
        halo = surfaces.step(0.35, 1.5, cloud + 0.35 * scab)
        skin.lay(0.75 * halo, (0.13, 0.062, 0.028), 0.65, 0.15)
        rust = np.clip(
            np.asarray(surfaces.RUST, np.float32) * (1.15 + 0.4 * scab[..., None]), 0.008, 1
        )
        skin.lay(np.clip(1.2 * cv2.GaussianBlur(pits, (0, 0), 5), 0, 0.97), rust, 0.85, 0.0)
        skin.lay(
            np.clip(1.1 * cv2.GaussianBlur(points, (0, 0), 2.5), 0, 0.9),
            surfaces.RUST_DARK,
            0.8,
            0.0,
        )
        skin.lay(0.5 * groove.astype(np.float32), (0.05, 0.035, 0.025), 0.5, 0.4)
        skin.lay(0.6 * surfaces.specks(rng, shape, 140, (1.0, 3.5)), surfaces.DUST, 0.9, 0.0)

    sign = 1.0 if working else -1.0
    rings, spokes = (300, 900) if photograph.DRAFT >= 1 else (150, 450)
    rr = np.concatenate(
        [
            [HOLE_RADIUS],
            np.linspace(HOLE_RADIUS + 0.12, DISC_RADIUS - 0.3, rings),
            [DISC_RADIUS - 0.12, DISC_RADIUS],
        ]
    )
    aa = np.linspace(0, 2 * np.pi, spokes + 1)
    px, py = rr[:, None] * np.cos(aa), rr[:, None] * np.sin(aa)
    h = cv2.remap(
        height.astype(np.float32),
        (px * scale + size / 2).astype(np.float32),
        (size / 2 - py * scale).astype(np.float32),
        cv2.INTER_LINEAR,
    )
    dome = (
        -sign * np.where(rr > 5.5, 0.034 * (rr - 5.5) ** 2, 0.0)
        + np.where(rr < HOLE_RADIUS + 0.1, -0.10, 0)
        + np.where(rr > DISC_RADIUS - 0.05, -0.18, 0)
    )
    top = np.stack([px, py, dome[:, None] + h], axis=-1)
    uv = np.stack([px * scale / size + 0.5, 0.5 - py * scale / size], axis=-1)

    def laid(p: NDArray[np.float64]) -> NDArray[np.float64]:
        c, s = math.cos(math.radians(tilt)), math.sin(math.radians(tilt))
        q = p.copy()
        q[..., 0], q[..., 2] = c * p[..., 0] - s * p[..., 2], s * p[..., 0] + c * p[..., 2]
        return q + np.asarray(place)

    bsdf = two_sided(photograph.skin_bsdf(skin))
    under = top[::6, ::3].copy()
    under[..., 2] = dome[::6, None] - 0.75
    rim = np.stack(
        [
            top[-1, ::3],
            np.stack([px[-1, ::3], py[-1, ::3], np.full_like(px[-1, ::3], dome[-1] - 0.75)], -1),
        ]
    )
    bore = np.stack(
        [
            top[0, ::3],
            np.stack([px[0, ::3], py[0, ::3], np.full_like(px[0, ::3], dome[0] - 0.75)], -1),
        ]
    )
    plain = two_sided(
        {
            "type": "roughconductor",
            "alpha": 0.25,
            "specular_reflectance": {
                "type": "rgb",
                "value": [0.45, 0.42, 0.37] if polished else [0.22, 0.16, 0.10],
            },
        }
    )
    return [
        solids.grid_mesh(name, laid(top), uv, bsdf),
        solids.grid_mesh(name + " under", laid(under), None, plain),
        solids.grid_mesh(name + " rim", laid(rim), None, plain),
        solids.grid_mesh(name + " bore", laid(bore), None, plain),
    ]


def plain_metal(
    colour: tuple[float, float, float], roughness: float, rust: float, seed: int
) -> dict[str, Any]:
    """Bright or rusty metal for springs and nuts."""
    rng = np.random.default_rng(seed)
    shape = (320, 320)
    skin = surfaces.Skin(
        np.broadcast_to(np.asarray(colour, np.float32), (*shape, 3)).copy(),
        np.full(shape, roughness, np.float32),
        np.ones(shape, np.float32),
        np.zeros(shape, np.float32),
    )
    haze = surfaces.step(
        0.6 - 1.6 * rust, 2.4 - 1.6 * rust, surfaces.clouds(rng, shape, 90, 6, 0.65)
    )
    skin.lay(0.7 * haze, (0.16, 0.10, 0.06), 0.5, 0.4)
    spots = surfaces.step(
        2.3 - 1.3 * rust, 2.7 - 1.3 * rust, surfaces.clouds(rng, shape, 26, 4, 0.7)
    )
    skin.lay(0.9 * spots, surfaces.RUST, 0.8, 0.0)
    return two_sided(photograph.skin_bsdf(skin))


def scene_on_cloth(
    seed: int, eye: tuple[float, float, float], across: float, width: int, height: int
) -> dict[str, Any]:
    """Window to the left, cloth, rule, camera."""
    rng = np.random.default_rng(seed)
    return {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 6},
        "light": room.emitter(
            room.sphere(
                8, window=3.0, azimuth=165, elevation=(10, 52), spread=44, ceiling=0.36, wall=0.16
            )
        ),
        "window": room.window((-620.0, 210.0, 420.0), (0.0, 0.0, 0.0), 330.0, 480.0, 13.0, 6),
        "cloth": cloth(rng, 220.0, 15.0),
        "rule": rule(rng),
        "sensor": photograph.camera(eye, (0.0, -4.0, 0.0), across, width, height, 2.2),
    }


def discs(polished: bool) -> NDArray[np.uint8]:
    """The tension discs, their spring and thumb nut."""
    scene = scene_on_cloth(14, (26.0, -172.0, 196.0), 21.5, 1600, 1200)
    parts = disc("first disc", 71, polished, (-17.5, 3.0, 1.4), 0.0, True)
    parts += disc("second disc", 72, polished, (14.0, 10.0, 2.15), -4.5, True)
    rust = 0.1 if polished else 1.0
    steel = plain_metal((0.52, 0.50, 0.47), 0.16 if polished else 0.3, rust, 73)
    coil = np.array(
        [
            [
                33.0 + 4.6 * math.cos(2 * np.pi * 5.5 * s) * (1 - 0.33 * s),
                -7.0 + 14.0 * s,
                5.2 + 4.6 * math.sin(2 * np.pi * 5.5 * s) * (1 - 0.33 * s),
            ]
            for s in np.linspace(0, 1, 400)
        ]
    )
    parts.append(solids.rod("spring", coil, 0.5, steel, 14))
    nickel = plain_metal((0.62, 0.59, 0.53), 0.12 if polished else 0.26, rust * 0.8, 74)
    loaded = mi.load_dict(nickel)
    at = (-36.5, -9.0, 0.0)
    nut = [
        (0.0, 2.2),
        (0.0, 5.6),
        (1.2, 7.2),
        (5.8, 7.2),
        (6.6, 6.2),
        (7.4, 5.4),
        (7.4, 2.2),
        (0.0, 2.2),
    ]
    parts.append(solids.turned("thumb nut", nut, loaded, at, (0, 0, 1), 0.4))
    for k in range(44):
        a = 2 * np.pi * k / 44
        x, y = at[0] + 7.15 * math.cos(a), at[1] + 7.15 * math.sin(a)
        parts.append(
            solids.rod("knurl", np.array([[x, y, 1.4], [x, y, 3.5], [x, y, 5.6]]), 0.33, loaded, 6)
        )
    for k, part in enumerate(parts):
        scene[f"part {k}"] = part
    light = photograph.trace(scene, 36, calm=True)
    return photograph.develop(
        light, 1.30, 41 + polished, noise=0.008, warmth=(1.03, 1.0, 0.96), soften=0.4, vignette=0.12
    )


def shuttle() -> NDArray[np.uint8]:
    """The long shuttle with its leaf spring, the bobbin beside it."""
    scene = scene_on_cloth(15, (-40.0, -168.0, 176.0), 19.5, 1600, 1066)
    length, radius = 37.0, 5.2
    turn = math.radians(14.0)
    c, s = math.cos(turn), math.sin(turn)
    origin = np.array([-4.0, 9.0, radius - 0.2])

    def local(p: NDArray[np.float64]) -> NDArray[np.float64]:
        q = p - origin
        return np.column_stack([c * q[:, 0] + s * q[:, 1], -s * q[:, 0] + c * q[:, 1], q[:, 2]])

    def hull(q: NDArray[np.float64], grow: float) -> NDArray[np.float64]:
        x = q[:, 0]
        nose = np.clip((x - 6.0) / (length / 2 - 6.0), 0, 1)
        full = radius * np.sqrt(np.maximum(1 - nose**2.1, 1e-4))
        across = np.hypot(q[:, 1], q[:, 2] - 0.25 * (radius - full))
        body = (across - full - grow) * np.where(nose > 0.6, 0.55, 0.8)
        return np.maximum(body, np.abs(x) - length / 2 - grow)

    def solid(p: NDArray[np.float64]) -> NDArray[np.float64]:
        q = local(p)
        body = solids.blend(hull(q, 0.0), hull(q, -0.2), 0.4)
        body = solids.cut(
            body, np.maximum(np.abs(q[:, 0] + 18.5) - 0.6, np.hypot(q[:, 1], q[:, 2]) - 4.0), 0.3
        )
        inside = np.maximum(np.hypot(q[:, 1], q[:, 2]) - 4.25, np.abs(q[:, 0] + 2.5) - 14.4)
        mouth = solids.round_box(q, (-2.5, 0.0, 5.0), (13.4, 3.4, 4.0), 2.0)
        body = solids.cut(body, np.minimum(inside, mouth), 0.4)
        for hx in (-11.0, -6.4, -1.8, 2.8):
            hole = np.hypot(q[:, 0] - hx, q[:, 2] + 0.6) - 0.75
            body = solids.cut(body, np.maximum(hole, np.abs(q[:, 1] + 4.6) - 2.2), 0.25)
        return body

    bound = 22.0
    cell = 0.16 if photograph.DRAFT >= 1 else 0.28
    v, f, n = solids.cast(
        solid,
        (origin[0] - bound, origin[1] - 12, -0.8),
        (origin[0] + bound, origin[1] + 12, 11.5),
        cell,
    )
    steel = plain_metal((0.54, 0.52, 0.48), 0.15, 0.42, 91)
    uv = np.column_stack([(v[:, 0] + v[:, 1] * 0.4) / 30, (v[:, 2] + v[:, 1]) / 30])
    parts = [solids.mesh("shuttle", v, f, steel, n, uv)]

    def world(x: float, y: float, z: float) -> tuple[float, float, float]:
        return (origin[0] + c * x - s * y, origin[1] + s * x + c * y, origin[2] + z)

    spring = np.array(
        [
            world(x, -radius - 0.12 + 0.10 * math.sin(3.0 * (x + 12) / 22), 1.7)
            for x in np.linspace(-13.0, 10.0, 40)
        ]
    )
    parts.append(
        solids.rod(
            "leaf spring", spring, 1.1, plain_metal((0.5, 0.49, 0.46), 0.14, 0.2, 92), 16, 0.22
        )
    )
    for x in (-12.4, 6.0):
        at = world(x, -radius - 0.2, 1.7)
        parts.append(
            solids.turned(
                "spring screw",
                [(0, 0.95), (0.55, 0.95), (0.75, 0.7), (0.78, 0)],
                plain_metal((0.55, 0.53, 0.5), 0.18, 0.3, 93),
                at,
                (s, -c, 0.25),
                0.12,
                40,
            )
        )
    thread = two_sided(
        {
            "type": "principled",
            "base_color": {"type": "rgb", "value": [0.62, 0.57, 0.46]},
            "roughness": 0.6,
            "specular": 0.3,
        }
    )
    loaded = mi.load_dict(thread)

    def bobbin(at: tuple[float, float, float], axis: tuple[float, float, float], name: str) -> None:
        half = 13.6
        metal = plain_metal((0.52, 0.5, 0.46), 0.16, 0.5, 94)
        parts.append(
            solids.turned(
                name,
                [
                    (-half - 2.2, 0),
                    (-half - 2.0, 0.5),
                    (-half, 0.8),
                    (-half, 3.6),
                    (-half + 0.6, 3.7),
                    (-half + 0.6, 1.1),
                    (half - 0.6, 1.1),
                    (half - 0.6, 3.7),
                    (half, 3.6),
                    (half, 0.8),
                    (half + 2.0, 0.5),
                    (half + 2.2, 0),
                ],
                metal,
                at,
                axis,
                0.12,
                72,
            )
        )
        turns = 112
        wound = [
            (
                -half + 0.7 + k * (2 * half - 1.4) / turns,
                2.85 + 0.09 * (k % 2) + 0.10 * math.sin(k * 0.057) + 0.05 * math.sin(k * 0.31),
            )
            for k in range(turns + 1)
        ]
        parts.append(
            solids.turned(
                name + " thread",
                [(-half + 0.65, 1.0), *wound, (half - 0.65, 1.0)],
                loaded,
                at,
                axis,
                0.0,
                72,
            )
        )

    bobbin(world(-2.5, 0.0, -0.2), (c, s, 0.0), "bobbin in shuttle")
    bobbin((-2.0, -8.0, 3.65), (math.cos(-0.12), math.sin(-0.12), 0.0), "spare bobbin")
    tail = solids.curve(
        [
            (10.4, -8.9, 6.2),
            (14.0, -5.5, 2.5),
            (19.0, -5.0, 0.5),
            (24.0, -9.0, 0.4),
            (23.0, -14.0, 0.4),
            (17.0, -15.5, 0.45),
        ],
        80,
    )
    parts.append(solids.rod("tail", tail, 0.14, loaded, 8))
    tail2 = solids.curve(
        [
            world(2.8, -4.6, 0.0),
            world(4.5, -7.4, 0.6),
            world(8.0, -9.5, -4.4),
            world(16.0, -9.0, -4.7),
            world(22.0, -5.0, -4.7),
        ],
        80,
    )
    parts.append(solids.rod("tail from shuttle", tail2, 0.14, loaded, 8))
    for k, part in enumerate(parts):
        scene[f"part {k}"] = part
    light = photograph.trace(scene, 36, calm=True)
    return photograph.develop(
        light, 1.30, 51, noise=0.008, warmth=(1.03, 1.0, 0.96), soften=0.4, vignette=0.12
    )


def write(folder: Path) -> None:
    """Render the three photographs and write them."""
    for name, picture, taken in (
        ("tension-discs-before.jpg", lambda: discs(False), "2025:03:22 11:06:33"),
        ("tension-discs-after.jpg", lambda: discs(True), "2025:04:05 16:30:12"),
        ("shuttle-and-bobbin.jpg", shuttle, "2025:03:22 11:41:50"),
    ):
        size = photograph.save(
            picture(),
            folder / name,
            photograph.Exposure(taken, (1, 30), (80, 10), 640, 60.0),
            quality=86,
        )
        print(f"{name} {size / 1e6:.2f} MB")
