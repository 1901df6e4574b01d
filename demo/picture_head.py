"""The whole head as it was found, three-quarter view on the bench."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import filigree
import mitsuba as mi
import numpy as np
import photograph
import picture_ornament
import room
import solids
import surfaces
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

WIDTH, HEIGHT = 1920, 1440
NEEDLE_X = -128.0
SHAFT_Z = 152.0
MAKER = "AMBRAY & THOLE"
TOWN = "GARROWMERE"
NAME = "LAPWING"


def two_sided(bsdf: dict[str, Any]) -> dict[str, Any]:
    """The material on both sides of its surface."""
    return {"type": "twosided", "bsdf": bsdf}


def metal(
    colour: tuple[float, float, float], roughness: float, grime: float, seed: int, size: int = 512
) -> dict[str, Any]:
    """Old plated or bright metal: tarnish in clouds, rust freckles, fine rubbing."""
    rng = np.random.default_rng(seed)
    shape = (size, size)
    skin = surfaces.Skin(
        np.broadcast_to(np.asarray(colour, np.float32), (*shape, 3)).copy(),
        np.full(shape, roughness, np.float32),
        np.ones(shape, np.float32),
        np.zeros(shape, np.float32),
    )
    cloud = surfaces.clouds(rng, shape, size / 4, 6, 0.65)
    skin.roughness = (roughness + 0.14 * grime * surfaces.step(-0.5, 2, cloud)).astype(np.float32)
    tarnish = surfaces.step(0.9 - 1.1 * grime, 2.6 - 1.2 * grime, cloud)
    skin.lay(0.65 * tarnish, (0.13, 0.10, 0.075), 0.42, 0.45)
    freckle = surfaces.step(
        2.2 - 0.9 * grime, 2.5 - 0.9 * grime, surfaces.clouds(rng, shape, size / 24, 4, 0.7)
    )
    skin.lay(0.85 * freckle, surfaces.RUST, 0.7, 0.0)
    return two_sided(photograph.skin_bsdf(skin))


NICKEL = (0.62, 0.59, 0.53)
STEEL = (0.50, 0.49, 0.47)
BRASS = (0.60, 0.42, 0.16)


def spine() -> NDArray[np.float64]:
    """The line the pillar and arm follow: x, y, z, radius, flattening in y."""
    return solids.curve(
        [
            (128.0, 0.0, 4.0, 31.0, 0.86),
            (131.0, 0.0, 40.0, 25.0, 0.92),
            (131.0, 0.0, 82.0, 23.5, 0.95),
            (125.0, 0.0, 120.0, 27.0, 0.98),
            (103.0, 0.0, 150.0, 28.5, 1.05),
            (62.0, 0.0, 160.0, 23.0, 1.05),
            (0.0, 0.0, 162.5, 19.5, 1.02),
            (-60.0, 0.0, 161.0, 17.2, 1.0),
            (-112.0, 0.0, 156.0, 17.0, 1.0),
        ],
        34,
    )


def arm_field(p: NDArray[np.float64]) -> NDArray[np.float64]:
    """Pillar, arm and head end as a solid: one casting bolted to the bed."""
    flange = np.hypot(
        np.maximum(np.abs(p[:, 0] - 128) - 10, 0), np.maximum(np.abs(p[:, 1]) - 38, 0)
    )
    foot = np.maximum(flange - 28.0, np.abs(p[:, 2] - 4.5) - 4.5)
    body = solids.blend(foot, solids.chain(p, spine(), 5.0), 16.0)
    boss = solids.chain(
        p, np.array([[112.0, 0, SHAFT_Z, 22.0, 1.0], [158.0, 0, SHAFT_Z, 15.5, 1.0]])
    )
    body = solids.blend(body, np.maximum(boss, p[:, 0] - 162.0), 12.0)
    collar = np.abs(p[:, 0] - 150.0) - 2.2
    body = solids.blend(body, np.maximum(np.hypot(p[:, 1], p[:, 2] - SHAFT_Z) - 19.5, collar), 2.0)
    end = solids.round_box(p, (NEEDLE_X, 0.0, 117.0), (16.5, 20.5, 58.0), 12.0)
    body = solids.blend(body, end, 18.0)
    rim = solids.round_box(p, (NEEDLE_X, 0.0, 62.5), (18.6, 22.6, 3.4), 3.0)
    body = solids.blend(body, rim, 2.5)
    upper = solids.round_box(p, (NEEDLE_X, 0.0, 174.0), (18.0, 22.0, 3.0), 2.6)
    return solids.blend(body, upper, 3.0)


@cache
def arm_casting() -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.float64]]:
    """The casting's surface."""
    return solids.cast(arm_field, (-152, -74, -2), (172, 74, 190), 1.25)


def lettering(text: str, size: int, spacing: float = 0.0) -> NDArray[np.float32]:
    """Words as a picture, white on black."""
    import matplotlib  # only for a font that is the same everywhere

    font_file = Path(matplotlib.get_data_path()) / "fonts/ttf/DejaVuSerif-Bold.ttf"
    font = ImageFont.truetype(str(font_file), size)
    widths = [font.getlength(c) + spacing * size for c in text]
    image = Image.new("L", (int(sum(widths)) + size, int(size * 1.5)), 0)
    draw = ImageDraw.Draw(image)
    x = size / 2
    for c, w in zip(text, widths, strict=True):
        draw.text((x, size * 0.12), c, font=font, fill=255)
        x += w
    box = image.getbbox()
    return np.asarray(image.crop(box), np.float32) / 255.0


def arm_drawing() -> list[NDArray[np.float64]]:
    """Gilt on the front of pillar and arm, closed polygons in (x, z) mm."""
    from shapely import (
        LineString,
        Point,
        Polygon,
        affinity,
        get_parts,
        unary_union,
    )
    from shapely import (
        box as shapely_box,
    )

    line = spine()
    parts = []
    # Lines that follow the casting's outline a little way in.
    for side, inset, width in ((1, 5.2, 0.9), (-1, 5.2, 0.9), (1, 7.3, 0.45), (-1, 7.3, 0.45)):
        run = line[5:-1]
        t = np.gradient(run[:, [0, 2]], axis=0)
        t /= np.linalg.norm(t, axis=1, keepdims=True)
        normal = np.column_stack([-t[:, 1], t[:, 0]]) * side
        path = run[:, [0, 2]] + normal * (run[:, 3:4] - inset)
        parts.append(LineString(path).buffer(width / 2))
    # A plume at each end of the name, with a pearl and two tendrils.
    for x, z, angle, s in ((-3.0, 161.8, 180.0, 1.0), (80.0, 159.6, -13.0, 0.82)):
        plume = [
            filigree.leaf(0, 0, turn, 24.0 - 0.16 * abs(turn), 3.0, -1.1 * turn)
            for turn in (-34.0, -17.0, 0.0, 17.0, 34.0)
        ]
        for side in (-1, 1):
            curl = filigree.stem(
                1.0,
                0.0,
                44.0 * side,
                (9.0, -0.07 * side, -0.06 * side),
                (9.0, 0.1 * side, 0.5 * side),
            )
            plume.append(filigree.tendril(curl, 0.5, 0.8))
        plume += [Point(-2.2, 0.0).buffer(1.1), Point(-4.9, 0.0).buffer(0.7)]
        piece = affinity.scale(unary_union(plume), s, -s, origin=(0, 0))
        parts.append(affinity.translate(affinity.rotate(piece, angle, origin=(0, 0)), x, z))
    # The pillar: the palmette with a pair of scrolls under it.
    fan = affinity.translate(
        affinity.scale(filigree.palmette(), 0.95, -0.95, origin=(0, 0)), 130.0, 121.0
    )
    fan = fan.intersection(shapely_box(100, 82, 170, 150))
    mirrored = affinity.scale(fan, -1.0, 1.0, origin=(130.0, 0))
    parts.append(unary_union([fan, mirrored]))
    whole = unary_union(parts)
    rings = []
    for p in get_parts(whole):
        if isinstance(p, Polygon):
            rings += [np.asarray(r.coords) for r in (p.exterior, *p.interiors)]
    return rings


def arm_skins() -> tuple[surfaces.Skin, surfaces.Skin, tuple[float, float, float, float]]:
    """Front and top of the arm casting: (x, z) and (x, y) projections, and their bounds."""
    rng = np.random.default_rng(77)
    scale = 8.0
    x0, x1, z0, z1 = -152.0, 172.0, -4.0, 192.0
    shape = (round((z1 - z0) * scale), round((x1 - x0) * scale))
    skin = surfaces.japan(rng, shape, scale)
    rings = [np.column_stack([(r[:, 0] - x0), (z1 - r[:, 1])]) * scale for r in arm_drawing()]
    gilt = surfaces.fill(rings, shape)
    words = lettering(NAME, round(10 * scale), 0.14)
    cx, cz = 38.0, 161.0
    r0 = round((z1 - cz) * scale - words.shape[0] / 2)
    c0 = round((cx - x0) * scale - words.shape[1] / 2)
    patch = gilt[r0 : r0 + words.shape[0], c0 : c0 + words.shape[1]]
    patch[:] = np.maximum(patch, words)
    yy, xx = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    x, z = xx / scale + x0, z1 - yy / scale
    grip = np.exp(-(((x - 133) / 26) ** 2 + ((z - 128) / 26) ** 2)) + 0.6 * np.exp(
        -(((x + 70) / 34) ** 2 + ((z - 150) / 9) ** 2)
    )
    worn = 0.2 + 0.15 * surfaces.clouds(rng, shape, 26 * scale, 4) + 0.45 * grip
    surfaces.gild(skin, gilt, worn.astype(np.float32), rng, scale)
    _age(skin, rng, shape, scale, dust=0.12)
    top_shape = (round(150 * scale), shape[1])
    top = surfaces.japan(rng, top_shape, scale)
    # Dust lies where the arm is level and thins out to the sides, where the front begins.
    across = np.abs(np.linspace(75.0, -75.0, top_shape[0], dtype=np.float32))[:, None]
    on_arm = surfaces.step(13.0, 4.0, across) * np.ones(top_shape, np.float32)
    foot = np.linspace(x0, x1, top_shape[1], dtype=np.float32)[None] > 88.0
    on_foot = surfaces.step(27.0, 38.0, across) * surfaces.step(64.0, 54.0, across)
    level = on_arm + foot * on_foot
    _age(top, rng, top_shape, scale, dust=(0.12 + 0.34 * level).astype(np.float32))
    return skin, top, (x0, x1, z0, z1)


def _age(
    skin: surfaces.Skin,
    rng: np.random.Generator,
    shape: tuple[int, int],
    scale: float,
    dust: float | surfaces.Map,
) -> None:
    """Chips to rusty iron, scratches, and the dust of a shed."""
    chips = surfaces.step(2.75, 2.9, surfaces.clouds(rng, shape, 9 * scale, 5, 0.6))
    grain = surfaces.clouds(rng, shape, 2 * scale, 4, 0.7)[..., None]
    skin.lay(
        chips,
        np.clip(np.asarray(surfaces.RUST, np.float32) * (1 + 0.4 * grain), 0.01, 1),
        0.75,
        0.0,
    )
    lines = surfaces.scratches(rng, shape, 160, (4 * scale, 40 * scale), 2.5)
    skin.lay(0.35 * lines, (0.06, 0.055, 0.05), 0.45, 0.0)
    film = surfaces.step(-1.4, 1.9, surfaces.clouds(rng, shape, 30 * scale, 6, 0.62))
    skin.lay(np.clip(dust * film, 0, 0.8), (0.30, 0.275, 0.235), 0.8, 0.0)
    specks = surfaces.specks(rng, shape, int(shape[0] * shape[1] / scale**2 * 0.25), (0.6, 2.4))
    skin.lay(0.5 * specks, surfaces.DUST, 0.9, 0.0)


def bed_parts() -> list[mi.Mesh]:
    """The bed with its ornament, slide plates, needle plate and the wooden base."""
    rng = np.random.default_rng(1894)
    drawing = filigree.fitted(filigree.ornament())
    fine, _, _ = picture_ornament.bed_skin(rng, drawing)
    share = 0.42
    scale = picture_ornament.PX_PER_MM * share

    def smaller(m: NDArray[np.float32]) -> NDArray[np.float32]:
        return cv2.resize(m, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)

    skin = surfaces.Skin(
        smaller(fine.colour), smaller(fine.roughness), smaller(fine.metal), smaller(fine.height)
    )
    rows, cols = skin.roughness.shape
    from_rim = np.minimum(
        np.minimum(np.arange(rows), rows - 1 - np.arange(rows))[:, None],
        np.minimum(np.arange(cols), cols - 1 - np.arange(cols))[None],
    ).astype(np.float32)
    _age(
        skin,
        rng,
        (rows, cols),
        scale,
        dust=0.16 + 0.16 * surfaces.step(2.0 * scale, 12.0 * scale, from_rim),
    )
    wide, deep = picture_ornament.BED

    def field(p: NDArray[np.float64]) -> NDArray[np.float64]:
        q = np.abs(p[:, :2]) - (np.array([wide / 2, deep / 2]) - 22.0)
        plan = np.linalg.norm(np.maximum(q, 0), axis=1) + np.minimum(q.max(axis=1), 0) - 22.0
        lip = solids.blend(
            np.maximum(plan, np.abs(p[:, 2] + 5.5) - 5.5 + 0.0),
            np.maximum(plan + 4.0, np.abs(p[:, 2] + 14.0) - 10.0),
            3.0,
        )
        # Break the upper edge.
        edge = np.hypot(np.maximum(plan + 5.0, 0), np.maximum(p[:, 2] + 5.0, 0)) - 5.0
        return np.maximum(lip, np.where(p[:, 2] > -5.0, edge, lip))

    v, f, n = solids.cast(
        field, (-wide / 2 - 3, -deep / 2 - 3, -27), (wide / 2 + 3, deep / 2 + 3, 3), 1.5
    )
    upward = n[f].mean(axis=1)[:, 2] > 0.55
    tv, tf, tn = solids.parted(v, f, n, upward)
    uv = np.column_stack([tv[:, 0] / wide + 0.5, 0.5 - tv[:, 1] / deep])
    parts = [solids.mesh("bed", tv, tf, two_sided(photograph.skin_bsdf(skin, 0.6)), tn, uv)]
    edge = surfaces.japan(rng, (400, 2400), 8.0)
    _age(edge, rng, (400, 2400), 8.0, dust=0.16)
    sv, sf, sn = solids.parted(v, f, n, ~upward)
    # Round the edge the texture runs along x in front and behind, along y at the ends.
    along = np.where(np.abs(sn[:, 0]) > np.abs(sn[:, 1]), sv[:, 1] + 40.0, sv[:, 0])
    uv = np.column_stack([along / (wide + 20.0) + 0.5, -sv[:, 2] / 50.0 + 0.1])
    parts.append(solids.mesh("bed edge", sv, sf, two_sided(photograph.skin_bsdf(edge)), sn, uv))

    def plate(
        name: str, x0: float, x1: float, y0: float, y1: float, seed: int, z: float = 0.5
    ) -> None:
        vv, ff, nn = solids.cast(
            lambda p: solids.round_box(
                p,
                ((x0 + x1) / 2, (y0 + y1) / 2, z - 1.5),
                ((x1 - x0) / 2, (y1 - y0) / 2, 1.5),
                0.35,
            ),
            (x0 - 1, y0 - 1, z - 1.6),
            (x1 + 1, y1 + 1, z + 0.8),
            0.55,
        )
        tex = np.column_stack([(vv[:, 0] - x0) / 90, (vv[:, 1] - y0) / 90])
        parts.append(solids.mesh(name, vv, ff, metal(STEEL, 0.24, 0.75, seed), nn, tex))

    plate("slide front", -150.0, -107.0, -98.0, -17.0, 31)
    plate("slide back", -150.0, -107.0, 17.0, 97.0, 32)
    plate("needle plate", -150.0, -107.0, -16.5, 16.5, 33, 0.65)
    for x, y in ((-146.0, 0.0), (-111.5, 0.0)):
        parts.append(screw("plate screw", (x, y, 0.6), (0, 0, 1), 2.4, 40))
    black = {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.004, 0.004, 0.004]}}
    parts.append(
        solids.turned(
            "needle hole",
            [(0.0, 1.7), (0.06, 1.7), (0.06, 0.0)],
            two_sided(black),
            (NEEDLE_X, 0, 0.66),
            (0, 0, 1),
            0.0,
        )
    )
    parts.extend(
        solids.rod(
            "feed slot",
            solids.curve([(NEEDLE_X + dx, -6.0, 0.6), (NEEDLE_X + dx, 9.0, 0.6)], 6),
            1.1,
            two_sided(black),
            12,
            0.2,
        )
        for dx in (-3.6, 3.6)
    )

    wood = wood_skin(rng)

    def base(p: NDArray[np.float64]) -> NDArray[np.float64]:
        block = solids.round_box(p, (0, 0, -47.0), (186.0, 112.0, 20.0), 3.0)
        skirt = solids.round_box(p, (0, 0, -64.0), (197.0, 123.0, 11.0), 4.0)
        return solids.blend(block, skirt, 6.0)

    v, f, n = solids.cast(base, (-200, -126, -78), (200, 126, -24), 2.0)
    up = np.abs(n[:, 2]) > 0.5
    uv = np.where(
        up[:, None],
        np.column_stack([v[:, 0] / 400 + 0.5, v[:, 1] / 400 + 0.3]),
        np.column_stack([(v[:, 0] + v[:, 1]) / 400 + 0.5, v[:, 2] / 400 + 0.9]),
    )
    parts.append(solids.mesh("base", v, f, two_sided(photograph.skin_bsdf(wood, 0.0)), n, uv))
    return parts


def wood_skin(
    rng: np.random.Generator,
    tone: tuple[float, float, float] = (0.13, 0.058, 0.024),
    size: int = 1400,
) -> surfaces.Skin:
    """Old walnut: grain stretched along x, dark pores, worn varnish."""
    shape = (size, size)
    yy, _ = np.mgrid[0:size, 0:size].astype(np.float32)
    drift = 18 * surfaces.clouds(rng, shape, size / 2.5, 3)
    rings = np.sin((yy + drift) / 9.0 + 1.6 * surfaces.clouds(rng, shape, size / 3, 4))
    thin = rng.standard_normal((size, size // 40 + 2)).astype(np.float32)
    pores = cv2.resize(thin, (size, size), interpolation=cv2.INTER_LINEAR)
    level = 1 + 0.22 * rings + 0.16 * pores + 0.16 * surfaces.clouds(rng, shape, size / 4, 5)
    colour = np.clip(np.asarray(tone, np.float32) * level[..., None], 0.004, 1).astype(np.float32)
    skin = surfaces.Skin(
        colour,
        (0.38 + 0.1 * surfaces.clouds(rng, shape, size / 5, 4)).clip(0.2, 0.8).astype(np.float32),
        np.zeros(shape, np.float32),
        np.zeros(shape, np.float32),
    )
    lines = surfaces.scratches(rng, shape, 220, (20, 220), 2.2)
    skin.lay(0.5 * lines, (0.26, 0.17, 0.10), 0.6, 0.0)
    skin.lay(
        0.16 * surfaces.step(-1, 2, surfaces.clouds(rng, shape, size / 5, 6, 0.6)),
        surfaces.DUST,
        0.8,
        0.0,
    )
    return skin


def screw(
    name: str,
    at: tuple[float, float, float],
    axis: tuple[float, float, float],
    radius: float,
    seed: int,
) -> mi.Mesh:
    """A cheese-head screw."""
    return solids.turned(
        name,
        [(-0.6, radius), (0.9, radius), (1.25, 0.8 * radius), (1.3, 0.0)],
        metal(STEEL, 0.25, 0.6, seed, 128),
        at,
        axis,
        0.25,
        40,
    )


def slot(
    at: tuple[float, float, float], direction: tuple[float, float, float], length: float
) -> mi.Mesh:
    """The slot of a screw: a dark thin bar just proud of its head."""
    a, d = np.asarray(at), np.asarray(direction) * length / 2
    path = np.linspace(a - d, a + d, 5)
    dark = {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.01, 0.009, 0.008]}}
    return solids.rod("slot", path, 0.38, two_sided(dark), 8)


def hand_wheel() -> list[mi.Mesh]:
    """Rim bright from hands, six bent spokes in japan, belt groove, stop-motion screw."""
    x = 186.0
    at = (x, 0.0, SHAFT_Z)
    parts: list[mi.Mesh] = []
    rim = [(math.cos(a) * 7.0, 58.0 + math.sin(a) * 6.2) for a in np.linspace(0, 2 * np.pi, 41)]
    parts.append(
        solids.turned("rim", rim, metal(STEEL, 0.2, 0.7, 51), at, (1, 0, 0), 0.0, 160, 6.0)
    )
    black = two_sided(
        {
            "type": "principled",
            "base_color": {"type": "rgb", "value": [0.016, 0.013, 0.011]},
            "roughness": 0.24,
            "specular": 0.5,
        }
    )

    def spokes(p: NDArray[np.float64]) -> NDArray[np.float64]:
        best = np.hypot(p[:, 1], p[:, 2] - SHAFT_Z) - 15.0
        best = np.maximum(best, np.abs(p[:, 0] - x) - 7.0)
        for k in range(6):
            turn = 2 * np.pi * k / 6 + 0.22
            run = []
            for s in np.linspace(0, 1, 9):
                r = 12 + 44 * s
                a = turn + 0.34 * math.sin(np.pi * s) * (1 if s < 2 else 0)
                run.append(
                    [
                        x,
                        r * math.cos(a),
                        SHAFT_Z + r * math.sin(a),
                        4.6 - 2.0 * math.sin(np.pi * min(1, s * 1.0)),
                        1.0,
                    ]
                )
            best = solids.blend(best, solids.chain(p, np.array(run)), 4.0)
        ring = np.hypot(np.hypot(p[:, 1], p[:, 2] - SHAFT_Z) - 53.0, 0.8 * (p[:, 0] - x)) - 4.2
        return solids.blend(best, ring, 4.0)

    v, f, n = solids.cast(spokes, (x - 10, -62, SHAFT_Z - 62), (x + 10, 62, SHAFT_Z + 62), 1.0)
    parts.append(solids.mesh("spokes", v, f, black, n))
    groove = [
        (-24, 0),
        (-24, 24.0),
        (-21, 27.0),
        (-19, 27.0),
        (-15.5, 22.5),
        (-12, 27.0),
        (-10, 27.0),
        (-8, 20.0),
        (-6, 13.0),
        (0, 13.0),
    ]
    parts.append(solids.turned("belt groove", groove, black, at, (1, 0, 0), 0.7))
    knob = [
        (5.0, 13.0),
        (7.6, 13.2),
        (8.4, 11.0),
        (9.0, 11.0),
        (9.6, 13.6),
        (15.5, 13.6),
        (16.4, 12.4),
        (17.0, 5.0),
        (17.6, 0.0),
    ]
    parts.append(
        solids.turned("stop-motion screw", knob, metal(NICKEL, 0.16, 0.5, 52), at, (1, 0, 0), 0.5)
    )
    for k in range(40):
        a = 2 * np.pi * k / 40
        y, z = 13.5 * math.cos(a), SHAFT_Z + 13.5 * math.sin(a)
        parts.append(
            solids.rod(
                "knurl",
                np.array([[x + 10.2, y, z], [x + 12.5, y, z], [x + 15.0, y, z]]),
                0.55,
                metal_cached(),
                6,
            )
        )
    return parts


_KEPT: dict[str, Any] = {}


def metal_cached() -> Any:
    """Bright nickel, loaded once for many small parts."""
    if "nickel" not in _KEPT:
        _KEPT["nickel"] = mi.load_dict(metal(NICKEL, 0.18, 0.45, 60, 256))
    return _KEPT["nickel"]


def needle_end() -> list[mi.Mesh]:
    """Face plate, needle bar, presser bar and foot, take-up, tension discs, and the thread."""
    parts: list[mi.Mesh] = []
    nickel = metal_cached()
    x = NEEDLE_X
    parts.append(
        solids.turned(
            "needle bar",
            [(22, 0), (22, 3.2), (196, 3.2), (197.5, 2.4), (197.5, 0)],
            nickel,
            (x, -6.0, 0),
            (0, 0, 1),
            0.6,
        )
    )
    parts.append(
        solids.turned(
            "needle clamp",
            [(17, 0), (17, 4.6), (27, 4.6), (29, 3.4), (29, 0)],
            nickel,
            (x, -6.0, 0),
            (0, 0, 1),
            0.6,
        )
    )
    parts.append(
        solids.turned(
            "clamp screw",
            [(0, 2.0), (5.5, 2.0), (5.5, 3.4), (8.5, 3.4), (8.8, 0)],
            nickel,
            (x + 2, -6.0, 22),
            (1, 0, 0),
            0.3,
        )
    )
    parts.append(
        solids.turned(
            "needle",
            [(-4, 0), (-3, 0.3), (0, 0.55), (14, 0.6), (17, 1.0)],
            nickel,
            (x, -6.0, 2),
            (0, 0, 1),
            0.2,
        )
    )
    parts.append(
        solids.turned(
            "presser bar",
            [(9, 0), (9, 3.6), (186, 3.6), (187, 0)],
            nickel,
            (x, 8.0, 0),
            (0, 0, 1),
            0.6,
        )
    )
    parts.append(
        solids.turned(
            "presser screw",
            [(184, 5.5), (194, 5.5), (195, 4.2), (195, 0)],
            nickel,
            (x, 8.0, 0),
            (0, 0, 1),
            0.6,
        )
    )

    def foot(p: NDArray[np.float64]) -> NDArray[np.float64]:
        shank = solids.chain(
            p,
            np.array([[x, 8.0, 18.0, 3.8, 1.0], [x, 6.5, 9.0, 3.0, 1.0], [x, 2.0, 4.0, 2.6, 1.0]]),
        )
        sole = solids.round_box(p, (x, -5.0, 2.3), (6.0, 11.0, 0.9), 0.8)
        toes = solids.chain(p, np.array([[x, -13.0, 2.4, 3.0, 1.0], [x, -20.0, 5.5, 2.0, 1.0]]))
        toes = np.maximum(toes, -(np.abs(p[:, 0] - x) - 1.5))
        whole = solids.blend(solids.blend(shank, sole, 2.5), toes, 2.0)
        gap = np.maximum(np.abs(p[:, 0] - x) - 1.5, p[:, 1] + 3.5)
        return solids.cut(whole, gap, 0.4)

    v, f, n = solids.cast(foot, (x - 10, -26, 0.8), (x + 10, 14, 24), 0.5)
    parts.append(solids.mesh("presser foot", v, f, nickel, n))

    # Face plate on the end, oval, with three screws.
    def cover(p: NDArray[np.float64]) -> NDArray[np.float64]:
        plate = solids.round_box(p, (x - 17.8, 0, 118.0), (1.6, 17.5, 50.0), 1.2)
        oval = (np.sqrt((p[:, 1] / 11.0) ** 2 + ((p[:, 2] - 118) / 34.0) ** 2) - 1) * 11.0
        ridge = np.maximum(np.abs(oval) - 1.0, np.abs(p[:, 0] - x + 19.4) - 1.0)
        return solids.blend(plate, ridge, 0.6)

    v, f, n = solids.cast(cover, (x - 23, -20, 64), (x - 14, 20, 171), 0.7)
    parts.append(solids.mesh("face plate", v, f, nickel, n))
    for y, z in ((0, 74.0), (0, 162.0)):
        parts.append(screw("face screw", (x - 19.2, y, z), (-1, 0, 0), 3.2, 61))

    # Take-up lever through the front of the head end.
    lever = solids.curve(
        [(x + 4, -18, 138), (x + 3, -27, 141), (x + 1, -34, 147), (x - 1, -37, 152)], 40
    )
    parts.append(solids.rod("take-up", lever, np.linspace(2.6, 1.5, 40), nickel, 14, 0.6))
    eye = [(math.cos(a) * 0.9, 2.4 + math.sin(a) * 0.8) for a in np.linspace(0, 2 * np.pi, 20)]
    parts.append(
        solids.turned("take-up eye", eye, nickel, (x - 1.4, -38.4, 154.2), (0.9, 0.2, 0.1), 0.0, 40)
    )
    dark = two_sided(
        {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.006, 0.005, 0.005]}}
    )
    parts.append(
        solids.rod(
            "take-up slot",
            np.array([[x + 3.5, -20.9, 92.0], [x + 3.5, -20.9, 125.0], [x + 3.5, -20.9, 158.0]]),
            3.0,
            dark,
            12,
            0.12,
        )
    )

    # Tension discs on the front of the arm.
    at = (-92.0, -16.6, 157.0)
    front = (0.0, -1.0, 0.0)
    parts.append(
        solids.turned(
            "post", [(0, 5.0), (2, 5.0), (2.4, 2.2), (30, 2.2), (30.6, 0)], nickel, at, front, 0.3
        )
    )
    dish = [
        (4.0, 2.3),
        (4.3, 5.0),
        (5.2, 9.4),
        (6.6, 12.2),
        (7.2, 12.2),
        (5.9, 9.4),
        (5.0, 5.0),
        (4.8, 2.3),
    ]
    dish2 = [(9.0 - a + 4.0, r) for a, r in dish]
    disc = metal(NICKEL, 0.22, 1.0, 62, 256)
    parts.append(solids.turned("inner disc", dish, disc, at, front, 0.2))
    parts.append(solids.turned("outer disc", dish2, disc, at, front, 0.2))
    coil = np.array(
        [
            [
                at[0] + (6.0 - 2.2 * s) * math.cos(2 * np.pi * 5 * s),
                at[1] - 9.2 - 10.5 * s,
                at[2] + (6.0 - 2.2 * s) * math.sin(2 * np.pi * 5 * s),
            ]
            for s in np.linspace(0, 1, 220)
        ]
    )
    parts.append(solids.rod("tension spring", coil, 0.55, metal(STEEL, 0.2, 0.6, 63, 128), 10))
    nut = [(20.0, 2.3), (20.0, 6.4), (21.0, 7.6), (25.5, 7.6), (26.3, 6.6), (26.3, 2.3)]
    parts.append(solids.turned("thumb nut", nut, nickel, at, front, 0.4))
    for k in range(26):
        a = 2 * np.pi * k / 26
        px, pz = at[0] + 7.5 * math.cos(a), at[2] + 7.5 * math.sin(a)
        parts.append(
            solids.rod(
                "nut knurl",
                np.array([[px, at[1] - 21.2, pz], [px, at[1] - 23.0, pz], [px, at[1] - 25.3, pz]]),
                0.5,
                nickel,
                6,
            )
        )

    # Spool pin with an old wooden spool, and the thread on its way.
    sx, sz = -6.0, 181.0
    parts.append(
        solids.turned(
            "spool pin", [(-4, 2.0), (44, 1.7), (46, 0)], nickel, (sx, 0, sz), (0, 0, 1), 0.4
        )
    )
    wood = two_sided(
        {
            "type": "principled",
            "base_color": {"type": "rgb", "value": [0.42, 0.26, 0.13]},
            "roughness": 0.5,
            "specular": 0.4,
        }
    )
    spool = [
        (1, 2.2),
        (1, 13.0),
        (3.6, 13.2),
        (9.0, 8.0),
        (28.0, 8.0),
        (33.4, 13.2),
        (36.0, 13.0),
        (36.2, 2.2),
    ]
    parts.append(solids.turned("spool", spool, wood, (sx, 0, sz), (0, 0, 1), 0.6))
    red = two_sided(
        {
            "type": "principled",
            "base_color": {"type": "rgb", "value": [0.33, 0.03, 0.025]},
            "roughness": 0.55,
            "specular": 0.4,
        }
    )
    red_loaded = mi.load_dict(red)
    wound = [
        (8.2 + 0.32 * k, 10.6 + 0.16 * (k % 2) + 0.6 * math.sin(k / 62 * np.pi)) for k in range(63)
    ]
    parts.append(
        solids.turned(
            "wound thread",
            [(7.9, 8.0), *wound, (28.6, 8.0)],
            red_loaded,
            (sx, 0, sz),
            (0, 0, 1),
            0.0,
        )
    )
    guide = (-66.0, -3.0, 181.5)
    parts.append(
        solids.turned(
            "thread guide",
            [(math.cos(a) * 0.8, 2.6 + math.sin(a) * 0.8) for a in np.linspace(0, 2 * np.pi, 20)],
            nickel,
            guide,
            (1, 0.2, 0),
            0.0,
            40,
        )
    )
    parts.append(
        solids.turned(
            "guide foot",
            [(-5, 1.6), (0, 1.4), (0.4, 0)],
            nickel,
            (guide[0], guide[1], guide[2] - 2.6),
            (0, 0, 1),
            0.3,
        )
    )
    thread = [
        [(sx - 10.5, -4.0, sz + 14.0), (-40.0, -5.0, 187.0), guide],
        [
            guide,
            (-78.0, -20.0, 176.0),
            (at[0] - 2.5, -24.6, 163.0),
            (at[0] - 4.0, -24.8, 154.0),
            (at[0] - 8.0, -24.6, 149.0),
        ],
        [(at[0] - 8.0, -24.6, 149.0), (-112.0, -32.0, 149.5), (x - 1.4, -38.6, 152.4)],
        [
            (x - 1.4, -38.6, 152.4),
            (x + 0.4, -30.0, 104.0),
            (x + 0.8, -12.5, 60.0),
            (x + 0.8, -7.6, 14.0),
            (x, -6.8, 4.5),
        ],
        [
            (x, -6.8, 4.5),
            (x + 9.0, -18.0, 1.2),
            (x + 18.0, -46.0, 1.1),
            (x + 34.0, -60.0, 0.6),
            (x + 40.0, -78.0, 0.6),
        ],
    ]
    for k, run in enumerate(thread):
        parts.append(solids.rod(f"thread {k}", solids.curve(run, 60), 0.36, red_loaded, 8))
    return parts


def small_parts() -> list[mi.Mesh]:
    """Bobbin winder, badge, stitch regulator, foot bolts."""
    parts: list[mi.Mesh] = []
    nickel = metal_cached()
    for y in (-57.0, 57.0):
        parts.append(
            solids.turned(
                "foot bolt",
                [(0, 6.4), (3.6, 6.4), (4.6, 5.2), (4.7, 0)],
                metal(STEEL, 0.3, 1.0, 70),
                (128.0, y, 9.0),
                (0, 0, 1),
                0.6,
            )
        )
        parts.append(slot((128.0, y, 13.75), (0.8, 0.6, 0), 12.0))
    # Badge: an oval of brass on the pillar, the words raised.
    h, w = 300, 440
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    oval = np.sqrt(((xx - w / 2) / (w / 2)) ** 2 + ((yy - h / 2) / (h / 2)) ** 2)
    raised = surfaces.step(0.90, 0.88, oval) * surfaces.step(0.82, 0.84, oval)
    for text, y, size in ((MAKER, 0.40, 30), (TOWN, 0.62, 26)):
        words = lettering(text, size, 0.06)
        r0, c0 = int(y * h - words.shape[0] / 2), int(w / 2 - words.shape[1] / 2)
        raised[r0 : r0 + words.shape[0], c0 : c0 + words.shape[1]] = np.maximum(
            raised[r0 : r0 + words.shape[0], c0 : c0 + words.shape[1]], words
        )
    rng = np.random.default_rng(9)
    skin = surfaces.Skin(
        np.broadcast_to(np.asarray((0.045, 0.03, 0.018), np.float32), (h, w, 3)).copy(),
        np.full((h, w), 0.5, np.float32),
        np.full((h, w), 0.2, np.float32),
        np.zeros((h, w), np.float32),
    )
    dirt = surfaces.step(0.4, 1.8, surfaces.clouds(rng, (h, w), 60, 5))
    skin.lay(raised * (1 - 0.6 * dirt), BRASS, 0.28, 1.0)
    t = np.linspace(-1, 1, 25)
    a, b = np.meshgrid(t, t, indexing="ij")
    # A disc mapped from a square, so that the grid has no pole.
    dx, dz = a * np.sqrt(1 - b * b / 2), b * np.sqrt(1 - a * a / 2)
    px, pz = 131.0 + 17.0 * dx, 62.0 + 12.0 * dz
    py = np.full_like(px, -60.0)
    for _ in range(40):  # walk in from the front until the pillar is met
        where = np.column_stack([px.ravel(), py.ravel(), pz.ravel()])
        py += 0.8 * arm_field(where).reshape(px.shape)
    grid = np.stack([px, py - 0.8, pz], axis=-1)
    uv = np.stack([dx * 0.5 + 0.5, 0.5 - dz * 0.5], axis=-1)
    parts.append(solids.grid_mesh("badge", grid, uv, two_sided(photograph.skin_bsdf(skin))))
    # Stitch regulator: a thumb screw in a slot on the pillar's foot.
    parts.append(
        solids.turned(
            "regulator",
            [(0, 2.4), (6, 2.4), (6, 6.2), (9.5, 6.2), (10, 5), (10, 0)],
            nickel,
            (112.0, -26.0, 27.0),
            (-0.1, -1, 0.1),
            0.4,
        )
    )
    # Bobbin winder beside the wheel.
    parts.append(
        solids.rod(
            "winder arm",
            solids.curve([(140, -16, 158), (146, -34, 164), (150, -46, 176)], 30),
            3.2,
            nickel,
            14,
            0.6,
        )
    )
    parts.append(
        solids.turned(
            "winder spindle",
            [(-34, 0), (-34, 1.6), (14, 1.6), (14.5, 0)],
            nickel,
            (160.0, -47.0, 178.0),
            (1, 0, 0),
            0.3,
        )
    )
    rubber = two_sided(
        {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.02, 0.019, 0.018]}}
    )
    parts.append(
        solids.turned(
            "winder wheel",
            [(0, 2), (0, 11.5), (1.0, 13.5), (4.5, 13.5), (5.5, 11.5), (5.5, 2)],
            rubber,
            (166.0, -47.0, 178.0),
            (1, 0, 0),
            0.6,
        )
    )
    return parts


def arm_parts() -> list[mi.Mesh]:
    """The arm casting, its front and its top each with their own skin."""
    v, f, n = arm_casting()
    front, top, (x0, x1, z0, z1) = arm_skins()
    mean = n[f].mean(axis=1)
    upward = mean[:, 2] > 0.8
    parts = []
    for name, choose, skin in (("arm front", ~upward, front), ("arm top", upward, top)):
        pv, pf, pn = solids.parted(v, f, n, choose)
        if name == "arm front":
            uv = np.column_stack([(pv[:, 0] - x0) / (x1 - x0), (z1 - pv[:, 2]) / (z1 - z0)])
        else:
            uv = np.column_stack([(pv[:, 0] - x0) / (x1 - x0), 0.5 - pv[:, 1] / 150.0])
        parts.append(solids.mesh(name, pv, pf, two_sided(photograph.skin_bsdf(skin)), pn, uv))
    return parts


def surroundings() -> dict[str, Any]:
    """Bench, wall, an oil can, a rag, a screwdriver, bottles and a crate."""
    rng = np.random.default_rng(12)
    bench = wood_skin(rng, (0.17, 0.105, 0.06), 2000)
    stain = surfaces.step(0.7, 2.0, surfaces.clouds(rng, bench.roughness.shape, 420, 5, 0.55))
    bench.lay(0.7 * stain, (0.02, 0.014, 0.01), 0.3, 0.0)
    for k in range(1, 6):
        y = round(k * 2000 / 6)
        bench.colour[y - 3 : y + 3] = (0.008, 0.006, 0.005)
    shapes: dict[str, Any] = {
        "bench": {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f().translate([0, 120, -75]).scale([620, 620, 1]),
            "bsdf": two_sided(photograph.skin_bsdf(bench)),
        },
    }
    wall = np.empty((900, 1500, 3), np.float32)
    wall[:] = (0.20, 0.205, 0.17)
    wall *= (1 + 0.16 * surfaces.clouds(rng, (900, 1500), 300, 6, 0.6))[..., None]
    wall[640:] *= 0.55
    wall[634:646] *= 0.35
    for k in range(0, 1500, 150):
        wall[646:, k : k + 5] *= 0.4
    skin = surfaces.Skin(
        wall.clip(0.01, 1),
        np.full((900, 1500), 0.8, np.float32),
        np.zeros((900, 1500), np.float32),
        np.zeros((900, 1500), np.float32),
    )
    shapes["wall"] = {
        "type": "rectangle",
        "to_world": mi.ScalarTransform4f()
        .translate([-150, 760, 320])
        .rotate([1, 0, 0], 90)
        .scale([1250, 750, 1]),
        "bsdf": two_sided(photograph.skin_bsdf(skin)),
    }
    tin = metal((0.42, 0.34, 0.2), 0.3, 0.9, 81)
    shapes["oil can"] = solids.turned(
        "oil can",
        [
            (0, 0),
            (0, 34),
            (3, 36),
            (30, 36),
            (34, 34),
            (52, 12),
            (58, 6),
            (60, 6),
            (62, 4),
            (128, 1.4),
            (128.5, 0),
        ],
        tin,
        (-262.0, 120.0, -75.0),
        (0.02, 0.0, 1.0),
        1.5,
    )
    handle = two_sided(
        {
            "type": "principled",
            "base_color": {"type": "rgb", "value": [0.21, 0.075, 0.02]},
            "roughness": 0.3,
            "specular": 0.5,
        }
    )
    axis = (0.93, 0.36, 0.02)
    shapes["driver handle"] = solids.turned(
        "driver handle",
        [(0, 0), (0, 9), (6, 13), (30, 14.5), (70, 11), (84, 9), (92, 11), (98, 8), (98, 0)],
        handle,
        (-190.0, -190.0, -62.0),
        axis,
        2.0,
    )
    shapes["driver blade"] = solids.turned(
        "driver blade",
        [(98, 6), (104, 6), (106, 3.2), (200, 3.2), (214, 2.2), (214, 0)],
        metal(STEEL, 0.25, 0.7, 82),
        (-190.0, -190.0, -62.0),
        axis,
        0.6,
    )
    glass = two_sided(
        {
            "type": "principled",
            "base_color": {"type": "rgb", "value": [0.05, 0.018, 0.006]},
            "roughness": 0.06,
            "specular": 0.6,
        }
    )
    for k, (bx, by, size) in enumerate(
        ((-330.0, 470.0, 1.0), (-262.0, 520.0, 1.25), (330.0, 500.0, 0.9))
    ):
        bottle = [
            (0, 0),
            (0, 30),
            (4, 33),
            (70, 33),
            (88, 22),
            (96, 12),
            (112, 11),
            (113, 14),
            (120, 14),
            (121, 0),
        ]
        shapes[f"bottle {k}"] = solids.turned(
            f"bottle {k}",
            [(a * size, r * size) for a, r in bottle],
            glass,
            (bx, by, -75.0),
            (0, 0, 1),
            3.0,
        )
    crate = wood_skin(rng, (0.24, 0.15, 0.075), 600)
    v, f, n = solids.cast(
        lambda p: solids.round_box(p, (120.0, 560.0, -20.0), (110.0, 60.0, 55.0), 2.0),
        (5, 495, -80),
        (235, 625, 40),
        4.0,
    )
    shapes["crate"] = solids.mesh(
        "crate",
        v,
        f,
        two_sided(photograph.skin_bsdf(crate)),
        n,
        np.column_stack([v[:, 0] / 260, v[:, 2] / 260]),
    )
    # A rag: a sheet in soft folds.
    t = np.linspace(0, 1, 160)
    gx, gy = np.meshgrid(t, t, indexing="ij")
    fold = 4 * surfaces.clouds(rng, (160, 160), 70, 4, 0.5) + 7 * np.sin(
        9 * gx + 3 * gy + surfaces.clouds(rng, (160, 160), 60, 2)
    )
    rag = np.stack(
        [-340 + 150 * gx + 30 * gy, -130 + 130 * gy - 20 * gx, -66 + np.maximum(fold, -8)], axis=-1
    )
    cloth = two_sided(
        {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.34, 0.27, 0.2]}}
    )
    shapes["rag"] = solids.grid_mesh("rag", rag, None, cloth)
    return shapes


def render() -> NDArray[np.uint8]:
    """The photograph."""
    scene: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 7},
        "light": room.emitter(
            room.sphere(
                8, window=4.5, azimuth=205, elevation=(6, 50), spread=40, ceiling=0.42, wall=0.22
            )
        ),
        "window": room.window((-1050.0, -720.0, 640.0), (0.0, 0.0, 60.0), 640.0, 900.0, 13.0, 4),
        "sensor": photograph.camera(
            (345.0, -840.0, 330.0), (8.0, 0.0, 55.0), 30.0, WIDTH, HEIGHT, 3.2
        ),
    }
    scene.update(surroundings())
    everything = bed_parts() + arm_parts() + hand_wheel() + needle_end() + small_parts()
    for k, part in enumerate(everything):
        scene[f"part {k}"] = part
    light = photograph.trace(scene, 44, calm=True)
    return photograph.develop(light, 1.75, 21, noise=0.008, warmth=(1.04, 1.0, 0.94), vignette=0.16)


def write(folder: Path) -> None:
    """Render the photograph and write it."""
    size = photograph.save(
        render(),
        folder / "head-as-found.jpg",
        photograph.Exposure("2025:03:08 15:21:40", (1, 15), (56, 10), 800, 30.0),
        quality=86,
    )
    print(f"head-as-found.jpg {size / 1e6:.2f} MB")
