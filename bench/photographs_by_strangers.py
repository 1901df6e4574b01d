"""Photographs by strangers: what their telephones make of it, and what time makes of the paint.

    python bench/photographs_by_strangers.py [kind ...] [--good N] [--kept FOLDER]

A maker of its own: rosettes, plaits, tendrils and rules, a black line within some strokes, painted
fine and seen backwards through a pinhole on a plane, a cylinder or a cone, its japan mirroring a
room. It shares nothing with the solver nor with the other benches' renderers. Tone-mapped in parts,
smeared by what takes the noise away, sewn on a round screen, wobbling, banded by lamps, a loupe
laid on it, glare in streaks, dust, oil, gilt gone half white or green, priming, flowers, pearl,
yellow varnish, red japan, a transfer's clear rim, colour kept coarsely or hardly at all, lamps that
flicker hard or in colours, fluff, priming that shows in chips, a rag's greasy wipes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
import shapely
from photographs_at_fault import Case, Maker, run_all, without
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from ironlace.photographs.scale_strip import strip_sheet
from ray_cast import Photograph

F = np.ndarray
FINE = 24
"""Pixels to the mm at which paint is laid on."""
ROUND_MM = 14.0
"""Of the sheet's margin that the texture holds beside it."""


@dataclass(frozen=True)
class Setting:
    """What is photographed, how, and what befalls it."""

    kind: str = "plane"
    radius: float = 60.0
    taper: float = 0.09
    upright: bool = False
    size: tuple[int, int] = (2400, 1800)
    far: float = 330.0
    slant: float = 6.0
    turn: float = 2.0
    k1: float = 0.03
    japan: tuple[float, float, float] = (0.012, 0.011, 0.011)
    gilt: tuple[float, float, float] = (0.52, 0.36, 0.13)
    worn: float = 0.0
    noise: float = 0.004
    quality: int = 90
    painted: Callable[..., None] | None = None
    lit: Callable[..., F] | None = None
    developed: Callable[..., F] | None = None

    @property
    def piece(self) -> str:
        """Which scale strip lies there."""
        return "frame" if self.kind == "plane" else "wrap"


def motif(rng: np.random.Generator, box: tuple[float, float, float, float]) -> BaseGeometry:
    """Rosettes, plaits, tendrils with drops, rules and dots within a box in mm."""
    left, top, right, bottom = box
    w, h = right - left, bottom - top
    middle = np.array([(left + right) / 2, (top + bottom) / 2])
    parts: list[BaseGeometry] = []
    r = 0.20 * h
    petals = int(rng.integers(7, 11))
    for n in range(petals):
        leaf = affinity.scale(Point(0, 0).buffer(1.0, 32), 0.46 * r, 0.17 * r)
        leaf = affinity.translate(leaf, 0.72 * r, 0)
        parts.append(
            affinity.translate(affinity.rotate(leaf, 360 * n / petals, origin=(0, 0)), *middle)
        )
    parts += [Point(*middle).buffer(1.25 * r).boundary.buffer(0.2), Point(*middle).buffer(0.16 * r)]
    t = np.linspace(0, 1, 400)
    for side in (top + 4, bottom - 4):
        for phase in (0.0, np.pi):
            wave = np.stack(
                [left + 3 + (w - 6) * t, side + 1.6 * np.sin(14 * np.pi * t + phase)], 1
            )
            parts.append(LineString(wave).buffer(0.42, cap_style="flat"))
    for inset, half in ((0.4, 0.35), (8.4, 0.17)):
        ring = shapely.box(left + inset, top + inset, right - inset, bottom - inset)
        parts.append(ring.boundary.buffer(half, join_style="mitre"))
    for sx in (-1, 1):
        for sy in (-1, 1):
            bend = rng.uniform(2.2, 3.0)
            angle = np.cumsum(bend * (0.3 + 2.6 * t**2)) * (t[1] - t[0])
            step = 0.34 * w * (t[1] - t[0])
            line = np.stack([np.cumsum(np.cos(angle)), np.cumsum(np.sin(angle))], 1) * step
            line[:, 1] -= 0.1 * h
            line = line * [sx, sy] + middle + [sx * 0.16 * w, sy * 0.08 * h]
            width = 0.25 + 1.1 * np.sin(np.pi * np.clip(t * 0.97 + 0.02, 0, 1)) ** 1.5
            beads = [Point(*p).buffer(float(q), 8) for p, q in zip(line, width, strict=True)]
            tendril = unary_union([unary_union([a, b]).convex_hull for a, b in pairwise(beads)])
            parts.append(tendril)
            for at in rng.uniform(0.15, 0.8, 5):
                k = int(at * 399)
                along = line[min(k + 1, 399)] - line[k]
                turn = np.degrees(np.arctan2(along[1], along[0])) + rng.choice([-55, 55])
                drop = Polygon(
                    [(0, 0), (2.2, 0.75), (4.2, 0.5), (4.7, 0), (4.2, -0.5), (2.2, -0.75)]
                )
                drop = affinity.rotate(drop.buffer(0.15), float(turn), origin=(0, 0))
                parts.append(affinity.translate(drop, *(line[k])))
    for n in range(24):
        x = left + 14 + (w - 28) * n / 23
        parts += [Point(x, y).buffer(0.45) for y in (top + 11.5, bottom - 11.5)]
    inner = shapely.box(left, top, right, bottom)
    gilt = unary_union(parts).intersection(inner)
    veins = unary_union(
        [
            LineString(
                [
                    middle + 0.42 * r * np.array([np.cos(a), np.sin(a)]),
                    middle + 1.02 * r * np.array([np.cos(a), np.sin(a)]),
                ]
            ).buffer(0.16)
            for a in 2 * np.pi * np.arange(petals) / petals
        ]
    )
    return gilt.difference(veins)


def flakes_of(gilt: BaseGeometry, share: float, rng: np.random.Generator) -> BaseGeometry:
    """Angular flakes that take about a share of the gilt."""
    if not share:
        return Polygon()
    left, top, right, bottom = gilt.bounds
    flakes = []
    for _ in range(int(share * 900)):
        at = rng.uniform((left, top), (right, bottom))
        turns = np.sort(rng.uniform(0, 2 * np.pi, 7))
        far = rng.uniform(0.3, 1.3, 7)
        ring = at + np.stack([np.cos(turns), np.sin(turns)], 1) * far[:, None]
        flakes.append(Polygon(ring).buffer(0))
    return unary_union(flakes)


def laid_on(shape: BaseGeometry, size: tuple[int, int], origin: tuple[float, float]) -> F:
    """Share of each texture pixel (`FINE` / 2 to the mm) that a shape covers."""
    # the filler takes half a pixel more along each rim
    thin = shape.buffer(-0.5 / FINE)
    sheet = np.zeros((size[1] * FINE, size[0] * FINE), np.uint8)
    for one in getattr(thin, "geoms", [thin]):
        if isinstance(one, Polygon) and not one.is_empty:
            rings = [
                np.round(((shapely.get_coordinates(ring)[:-1] - origin) * FINE - 0.5) * 256).astype(
                    np.int32
                )
                for ring in (one.exterior, *one.interiors)
            ]
            # parts lie apart; the holes of each are left out by the rule of even and odd
            cv2.fillPoly(sheet, rings, 255, shift=8)
    half = (sheet.shape[1] // 2, sheet.shape[0] // 2)
    return cv2.resize(sheet, half, interpolation=cv2.INTER_AREA)


def clouds(rng: np.random.Generator, shape: tuple[int, int], cell: float) -> F:
    """Even noise from 0 to 1 with features of about so many pixels."""
    h, w = max(3, round(shape[0] / cell)), max(3, round(shape[1] / cell))
    few = rng.random((h, w)).astype(np.float32)
    return np.clip(cv2.resize(few, shape[::-1], interpolation=cv2.INTER_CUBIC), 0, 1)


class Seen:
    """Where each pixel of a finer picture looks: sheet mm, cosine, and where its mirror looks."""

    def __init__(self, scene: Setting, sheet: tuple[float, float], finer: int = 2) -> None:
        w, h = (n * finer for n in scene.size)
        f = 1.15 * w
        self.focal = f / finer
        v, u = np.mgrid[0:h, 0:w].astype(np.float32)
        x, y = (u + 0.5 - w / 2) / f, (v + 0.5 - h / 2) / f
        a, b = x.copy(), y.copy()
        for _ in range(6):
            swell = 1 + scene.k1 * (a * a + b * b)
            a, b = x / swell, y / swell
        ray = np.stack([a, b, np.ones_like(a)], -1)
        ray /= np.linalg.norm(ray, axis=-1, keepdims=True)
        tilt, turn = np.radians(scene.slant), np.radians(scene.turn)
        around_x = np.array(
            [[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]]
        )
        around_z = np.array(
            [[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]]
        )
        self.turned = around_x @ around_z  # from the work to the camera
        ray = ray @ self.turned.astype(np.float32)  # each ray in the work's own axes
        eye = -self.turned.T @ np.array([0.0, 0.0, scene.far])
        self.eye = eye
        if scene.upright and scene.kind != "plane":
            ray, eye = ray[..., [1, 0, 2]], eye[[1, 0, 2]]
        mm, normal = _struck(scene, ray, eye)
        if scene.upright and scene.kind != "plane":
            mm, normal, ray = mm[..., ::-1], normal[..., [1, 0, 2]], ray[..., [1, 0, 2]]
        self.mm = mm + np.array(sheet, np.float32) / 2
        self.facing = np.clip(-(ray * normal).sum(-1), 0, 1)
        self.mirrored = ray + 2 * self.facing[..., None] * normal
        self.normal = normal


def _struck(scene: Setting, ray: F, eye: F) -> tuple[F, F]:
    """Sheet mm from the middle, and normals, where rays strike: z grows away from the camera."""
    if scene.kind == "plane":
        t = -eye[2] / ray[..., 2]
        mm = eye[:2] + t[..., None] * ray[..., :2]
        return mm.astype(np.float32), np.broadcast_to(np.float32([0, 0, -1]), ray.shape)
    # the axis lies along x, behind the sheet; the radius grows along it for a cone
    slope = np.tan(scene.taper) if scene.kind == "cone" else 0.0
    r0 = scene.radius
    ox, oy, oz = eye[0], eye[1], eye[2] - r0
    dx, dy, dz = ray[..., 0], ray[..., 1], ray[..., 2]
    base = r0 + slope * ox
    a = dy * dy + dz * dz - (slope * dx) ** 2
    b = oy * dy + oz * dz - slope * dx * base
    c = oy * oy + oz * oz - base * base
    root = b * b - a * c
    t = (-b - np.sqrt(np.maximum(root, 0))) / a
    t = np.where(root > 0, t, np.nan)
    x, y, z = ox + t * dx, oy + t * dy, oz + t * dz
    angle = np.arctan2(y, -z)
    tip = np.arctan(slope)
    normal = np.stack(
        [np.full_like(x, -np.sin(tip)), np.sin(angle) * np.cos(tip), -np.cos(angle) * np.cos(tip)],
        -1,
    )
    if not slope:
        mm = np.stack([x, r0 * angle], -1)
    else:
        # unrolled about the apex
        along = (r0 + slope * x) / np.sin(tip)
        flat = angle * np.sin(tip)
        mm = np.stack([along * np.cos(flat) - r0 / np.sin(tip), along * np.sin(flat)], -1)
    return mm.astype(np.float32), np.nan_to_num(normal).astype(np.float32)


@dataclass
class Paint:
    """What lies on the work, pixel by pixel of the texture: shares, and the colour of ground."""

    gilt: F
    paper: F
    print: F
    ground: F
    gold: F
    flakes: BaseGeometry


def _paper(sheet: Any, size: tuple[int, int], origin: tuple[float, float]) -> tuple[F, F]:
    width, height = sheet.size_mm
    window = shapely.box(20, 20, width - 20, height - 20)
    whole = shapely.box(0, 0, width, height)
    paper = laid_on(whole.difference(window), size, origin)
    ink = np.zeros_like(paper)
    scale = FINE / 2
    for marker in sheet.layout.markers:
        book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, marker.dictionary))
        bits = cv2.aruco.generateImageMarker(book, marker.id, 8 * 32)
        (x0, y0), _, (x1, y1), _ = marker.corners_mm
        a, b = round((x0 - origin[0]) * scale), round((y0 - origin[1]) * scale)
        c, d = round((x1 - origin[0]) * scale), round((y1 - origin[1]) * scale)
        ink[b:d, a:c] = 255 - cv2.resize(bits, (c - a, d - b), interpolation=cv2.INTER_AREA)
    return paper, ink


def taken(scene: Setting, rng: np.random.Generator) -> Photograph:
    """The photograph, its truth and its lens."""
    sheet = strip_sheet(scene.piece)  # type: ignore[arg-type]
    width, height = sheet.size_mm
    origin = (-ROUND_MM, -ROUND_MM)
    size = (int(width + 2 * ROUND_MM), int(height + 2 * ROUND_MM))
    gilt = motif(rng, (24, 24, width - 24, height - 24))
    flakes = flakes_of(gilt, scene.worn, rng)
    gilt = gilt.difference(flakes).buffer(0) if scene.worn else gilt
    paper, ink = _paper(sheet, size, origin)
    share = laid_on(gilt, size, origin)
    h, w = share.shape
    uneven = 0.94 + 0.12 * clouds(rng, (h, w), 260)[..., None]
    paint = Paint(
        share.astype(np.float32) / 255,
        paper.astype(np.float32) / 255,
        ink.astype(np.float32) / 255,
        np.float32(scene.japan) * np.ones((h, w, 1), np.float32),
        (np.float32(scene.gilt) * uneven).astype(np.float32),
        flakes,
    )
    if scene.painted:
        scene.painted(paint, gilt, rng, (size, origin))
    seen = Seen(scene, (width, height))
    at = ((seen.mm - origin) * (FINE / 2) - 0.5).astype(np.float32)
    beyond = ~np.isfinite(at[..., 0])
    at = np.nan_to_num(at, nan=-1e4)

    colour = paint.ground * (1 - paint.gilt[..., None]) + paint.gold * paint.gilt[..., None]
    white = 0.82 - 0.79 * paint.print[..., None]
    colour = colour * (1 - paint.paper[..., None]) + white * paint.paper[..., None]
    bare = ((1 - paint.gilt) * (1 - paint.paper))[..., None]
    drawn = cv2.remap(
        np.dstack([colour, bare]).astype(np.float32),
        at,
        None,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    lamp = np.float32([-0.35, -0.5, -0.79])
    light = 0.55 + 0.45 * np.clip((seen.normal * lamp).sum(-1), 0, 1)
    room = 0.10 + 0.06 * seen.mirrored[..., 0] - 0.05 * seen.mirrored[..., 1]
    shine = 0.04 + 0.96 * (1 - seen.facing) ** 5
    out = drawn[..., :3] * light[..., None]
    out += drawn[..., 3:] * (shine * np.clip(room, 0.02, 1))[..., None] * np.float32([1, 1, 1.03])
    wall = np.float32([0.10, 0.11, 0.12])
    out[beyond] = wall
    del drawn, at
    out = cv2.resize(out, scene.size, interpolation=cv2.INTER_AREA)
    if scene.lit:
        out = scene.lit(out, rng)
    out = cv2.GaussianBlur(out, (0, 0), 0.6)
    out *= 1.05
    out += (
        rng.normal(0, 1, out.shape).astype(np.float32)
        * scene.noise
        * np.sqrt(np.clip(out, 0.002, 1))
    )
    low = np.clip(out, 0, 1)
    code = 255 * np.where(low < 0.0031308, 12.92 * low, 1.055 * low ** (1 / 2.4) - 0.055)
    code = code.astype(np.float32)
    if scene.developed:
        code = scene.developed(code, rng)
    kept = np.clip(code + 0.5, 0, 255).astype(np.uint8)[..., ::-1]
    stored = cv2.imencode(".jpg", kept, [cv2.IMWRITE_JPEG_QUALITY, scene.quality])[1]
    image = np.ascontiguousarray(cv2.imdecode(stored, cv2.IMREAD_COLOR)[..., ::-1])
    edge = np.vstack(
        [
            shapely.get_coordinates(
                shapely.line_interpolate_point(ring, np.arange(0, ring.length, 0.2))
            )
            for one in getattr(gilt, "geoms", [gilt])
            for ring in (one.exterior, *one.interiors)
        ]
    )
    w, h = scene.size
    lens = {
        "matrix": [[seen.focal, 0, w / 2 - 0.5], [0, seen.focal, h / 2 - 0.5], [0, 0, 1]],
        "distortion": [scene.k1, 0.0, 0.0, 0.0, 0.0],
        "image_size": [w, h],
    }
    return Photograph(image, gilt, gilt, edge, lens, 36 * seen.focal / w * 36 / 36)


# what befalls the picture once it is developed


def _tone_mapped(code: F, _rng: np.random.Generator) -> F:
    """Contrast evened out in parts, with haloes."""
    lab = cv2.cvtColor(np.clip(code, 0, 255).astype(np.uint8), cv2.COLOR_RGB2LAB)
    lab[..., 0] = cv2.createCLAHE(3.5, (6, 6)).apply(lab[..., 0])
    out = cv2.cvtColor(lab, cv2.COLOR_LAB2RGB).astype(np.float32)
    return out + 0.7 * (out - cv2.GaussianBlur(out, (0, 0), 9))


def _smeared(code: F, rng: np.random.Generator) -> F:
    """Noise, and what takes it away together with hairlines."""
    grainy = np.clip(code + rng.normal(0, 14, code.shape), 0, 255).astype(np.uint8)
    calm = cv2.bilateralFilter(cv2.medianBlur(grainy, 5), 11, 60, 5)
    return cv2.medianBlur(calm, 5).astype(np.float32)


def _round_screen(code: F, _rng: np.random.Generator) -> F:
    """Swept along: columns go by angle and not by tangent."""
    h, w = code.shape[:2]
    f = 1.15 * w
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    angle = (u - w / 2) / f
    x = f * np.tan(angle) + w / 2
    y = (v - h / 2) / np.cos(angle) + h / 2
    return cv2.remap(code, x, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)


def _wobbling(code: F, _rng: np.random.Generator) -> F:
    """Rows swing to and fro while the shutter runs down."""
    h, w = code.shape[:2]
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    x = u + 2.2 * np.sin(2 * np.pi * v / 240)
    return cv2.remap(code, x, v + 0 * u, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)


def _loupe(code: F, _rng: np.random.Generator) -> F:
    """A lens lies on the work and enlarges what is under it by a fifth and more."""
    h, w = code.shape[:2]
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    x, y, r = 0.62 * w, 0.56 * h, 0.115 * w
    far = np.hypot(u - x, v - y) / r
    less = np.where(far < 1, 0.78 + 0.06 * far**2, 1.0)
    out = cv2.remap(
        code,
        (x + (u - x) * less).astype(np.float32),
        (y + (v - y) * less).astype(np.float32),
        cv2.INTER_CUBIC,
    )
    rim = np.exp(-(((far - 1.03) / 0.03) ** 2))[..., None]
    return out * (1 - 0.9 * rim) + 30 * rim


def _coarse_colour(code: F, _rng: np.random.Generator) -> F:
    """Colour kept at an eighth of the size."""
    ycc = cv2.cvtColor(np.clip(code, 0, 255).astype(np.uint8), cv2.COLOR_RGB2YCrCb)
    h, w = ycc.shape[:2]
    few = cv2.resize(ycc[..., 1:], (w // 8, h // 8), interpolation=cv2.INTER_AREA)
    ycc[..., 1:] = cv2.resize(few, (w, h), interpolation=cv2.INTER_LINEAR)
    return cv2.cvtColor(ycc, cv2.COLOR_YCrCb2RGB).astype(np.float32)


def _colour_lost(step: int) -> Callable[..., F]:
    """Colour kept at a sixteenth of the size, and in steps so coarse."""

    def developed(code: F, _rng: np.random.Generator) -> F:
        ycc = cv2.cvtColor(np.clip(code, 0, 255).astype(np.uint8), cv2.COLOR_RGB2YCrCb)
        h, w = ycc.shape[:2]
        few = cv2.resize(ycc[..., 1:], (w // 16, h // 16), interpolation=cv2.INTER_AREA)
        few = np.clip(128 + step * np.round((few.astype(np.float32) - 128) / step), 0, 255)
        wide = cv2.resize(few.astype(np.uint8), (w, h), interpolation=cv2.INTER_LINEAR)
        ycc[..., 1:] = wide
        return cv2.cvtColor(ycc, cv2.COLOR_YCrCb2RGB).astype(np.float32)

    return developed


# what befalls the light


def _banded(light: F, _rng: np.random.Generator) -> F:
    """A lamp that flickers while the shutter runs down."""
    rows = np.arange(light.shape[0])
    return light * (0.72 + 0.28 * np.sin(2 * np.pi * rows / 170))[:, None, None].astype(np.float32)


def _banded_hard(least: float) -> Callable[..., F]:
    """A lamp that is off for a third of each beat."""

    def lit(light: F, _rng: np.random.Generator) -> F:
        beat = np.arange(light.shape[0]) % 190 / 190
        on = np.clip(np.minimum(beat, 0.67 - beat) * 12, 0, 1)
        return light * (least + (1 - least) * on)[:, None, None].astype(np.float32)

    return lit


def _banded_in_colours(light: F, _rng: np.random.Generator) -> F:
    """Three lamps, red, green and blue, that flicker one after another."""
    rows = np.arange(light.shape[0])[:, None] * 2 * np.pi / 170
    beat = 0.75 + 0.25 * np.sin(rows + np.float32([0.0, 2.1, 4.2]))
    return light * beat[:, None, :].astype(np.float32)


def _fluffy(light: F, rng: np.random.Generator) -> F:
    """Lint lies on it: pale threads, most of them curled."""
    h, w = light.shape[:2]
    thick = np.zeros((h, w), np.uint8)
    for _ in range(160):
        angle = rng.uniform(0, 7) + np.cumsum(rng.normal(0, 0.12, 120))
        step = np.stack([np.cos(angle), np.sin(angle)], 1) * rng.uniform(0.4, 1.6)
        at = np.cumsum(step, axis=0) + rng.uniform((0.2 * w, 0.2 * h), (0.8 * w, 0.8 * h))
        line = np.round(at * 16).astype(np.int32)
        cv2.polylines(thick, [line], False, int(rng.integers(90, 230)), 1, cv2.LINE_AA, 4)
    share = cv2.GaussianBlur(thick.astype(np.float32) / 255, (0, 0), 0.8)[..., None]
    return light * (1 - share) + np.float32([0.34, 0.33, 0.31]) * share


def _wiped_greasy(light: F, rng: np.random.Generator) -> F:
    """A greasy rag went over it: films in wipes that scatter light and dull what lies under."""
    h, w = light.shape[:2]
    fine = cv2.resize(rng.random((h, 40)).astype(np.float32), (w, h))
    wipes = cv2.GaussianBlur(fine, (0, 0), 2.0) * clouds(rng, (h, w), 300)
    turned = cv2.getRotationMatrix2D((w / 2, h / 2), 25, 1.3)
    film = cv2.warpAffine(wipes, turned, (w, h), borderMode=cv2.BORDER_REFLECT)
    inner = np.zeros((h, w), np.float32)
    inner[int(0.22 * h) : int(0.78 * h), int(0.2 * w) : int(0.8 * w)] = 1
    film = (0.7 * film * cv2.GaussianBlur(inner, (0, 0), 20))[..., None]
    return light * (1 - 0.8 * film) + np.float32([0.16, 0.145, 0.12]) * film


def _streaks(light: F, rng: np.random.Generator) -> F:
    """Glare in coloured streaks across, as filters leave it."""
    h, w = light.shape[:2]
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    out = light.copy()
    for _ in range(9):
        a = rng.uniform(0.5, 0.9)
        off = (u * np.sin(a) - v * np.cos(a)) - rng.uniform(-0.3, 0.6) * w
        streak = np.exp(-((off / rng.uniform(10, 45)) ** 2))[..., None]
        out += streak * rng.uniform(0.05, 0.3) * np.float32(rng.uniform(0.6, 1.0, 3))
    return out


def _dusty(light: F, rng: np.random.Generator) -> F:
    """Dust lies in clouds, thick in places."""
    h, w = light.shape[:2]
    thick = 0.55 * clouds(rng, (h, w), 300) ** 1.5 * (0.6 + 0.4 * clouds(rng, (h, w), 6))
    inner = np.zeros((h, w), np.float32)
    inner[int(0.2 * h) : int(0.8 * h), int(0.17 * w) : int(0.83 * w)] = 1
    thick = (thick * cv2.GaussianBlur(inner, (0, 0), 40))[..., None]
    return light * (1 - thick) + np.float32([0.22, 0.20, 0.17]) * thick


def _oily(light: F, rng: np.random.Generator) -> F:
    """Brown oil in runs and pools, thin films of it coloured."""
    h, w = light.shape[:2]
    pool = np.clip(3 * clouds(rng, (h, w), 240) - 1.5, 0, 1)
    inner = np.zeros((h, w), np.float32)
    inner[int(0.22 * h) : int(0.78 * h), int(0.2 * w) : int(0.8 * w)] = 1
    pool = pool * cv2.GaussianBlur(inner, (0, 0), 20)
    taken_up = np.exp(-pool[..., None] * np.float32([0.5, 0.9, 1.8]))
    rim = np.sin(40 * pool)[..., None] * np.float32([0.012, -0.008, 0.014]) * (pool > 0)[..., None]
    return np.clip(light * taken_up + rim, 0, None)


# what befalls the paint


def _half_white(paint: Paint, _gilt: Any, rng: np.random.Generator, _of: Any) -> None:
    """Bronze whose colour is gone in places: as white as silver."""
    h, w = paint.gilt.shape
    gone = np.clip(6 * clouds(rng, (h, w), 700) - 2.6, 0, 1)[..., None]
    paint.gold = paint.gold * (1 - gone) + np.float32([0.42, 0.41, 0.38]) * gone


def _green(paint: Paint, _gilt: Any, rng: np.random.Generator, _of: Any) -> None:
    """Bronze corroded green in patches."""
    h, w = paint.gilt.shape
    gone = np.clip(8 * clouds(rng, (h, w), 260) - 4.2, 0, 1)[..., None]
    paint.gold = paint.gold * (1 - gone) + np.float32([0.10, 0.22, 0.15]) * gone


def _primed(paint: Paint, _gilt: Any, rng: np.random.Generator, _of: Any) -> None:
    """Japan worn to a brown priming in large patches beside the gilt."""
    h, w = paint.gilt.shape
    bare = np.clip(12 * clouds(rng, (h, w), 500) - 6.5, 0, 1)[..., None]
    paint.ground = paint.ground * (1 - bare) + np.float32([0.15, 0.085, 0.05]) * bare


def _grey_primed(paint: Paint, _gilt: Any, rng: np.random.Generator, _of: Any) -> None:
    h, w = paint.gilt.shape
    bare = np.clip(12 * clouds(rng, (h, w), 500) - 6.5, 0, 1)[..., None]
    paint.ground = paint.ground * (1 - bare) + np.float32([0.2, 0.2, 0.19]) * bare


def _chipped(under: tuple[float, float, float]) -> Callable[..., None]:
    """Where flakes went the japan went too, and priming shows."""

    def painted(paint: Paint, _gilt: Any, _rng: np.random.Generator, of: Any) -> None:
        share = (laid_on(paint.flakes, *of).astype(np.float32) / 255)[..., None]
        paint.ground = paint.ground * (1 - share) + np.float32(under) * share

    return painted


def _flowers(paint: Paint, gilt: Any, rng: np.random.Generator, of: Any) -> None:
    """Red and pink flowers with green and ochre leaves painted in the bare fields."""
    left, top, right, bottom = gilt.bounds
    tints = ([0.42, 0.03, 0.03], [0.55, 0.22, 0.24], [0.05, 0.2, 0.06], [0.42, 0.25, 0.05])
    for n in range(48):
        at = rng.uniform((left + 12, top + 14), (right - 12, bottom - 14))
        r = rng.uniform(1.2, 3.2)
        blot = unary_union(
            [
                Point(at[0] + r * np.cos(a), at[1] + r * np.sin(a)).buffer(0.7 * r)
                for a in np.linspace(0, 2 * np.pi, 6)
            ]
        ).difference(gilt.buffer(0.25))
        share = (laid_on(blot, *of).astype(np.float32) / 255)[..., None]
        paint.ground = paint.ground * (1 - share) + np.float32(tints[n % len(tints)]) * share


def _pearl(paint: Paint, gilt: Any, rng: np.random.Generator, of: Any) -> None:
    """Slips of mother of pearl let in beside the gilt."""
    left, top, right, bottom = gilt.bounds
    for _ in range(40):
        at = rng.uniform((left + 12, top + 14), (right - 12, bottom - 14))
        slip = affinity.rotate(
            affinity.scale(Point(*at).buffer(1), rng.uniform(1, 3.5), rng.uniform(0.7, 1.4)),
            rng.uniform(0, 180),
        ).difference(gilt.buffer(0.2))
        share = (laid_on(slip, *of).astype(np.float32) / 255)[..., None]
        tint = np.float32([0.5, 0.5, 0.48]) + rng.uniform(-0.13, 0.13, 3).astype(np.float32)
        paint.ground = paint.ground * (1 - share) + tint * share


def _clear_rim(paint: Paint, gilt: Any, _rng: np.random.Generator, of: Any) -> None:
    """A transfer's clear film, gone amber, stands 0.7 mm over the gilt's rims."""
    share = (laid_on(gilt.buffer(0.7), *of).astype(np.float32) / 255)[..., None]
    paint.ground = paint.ground * (1 - share) + np.float32([0.06, 0.038, 0.012]) * share


def _yellowed(paint: Paint, _gilt: Any, rng: np.random.Generator, _of: Any) -> None:
    """Varnish gone yellow and cloudy over all."""
    h, w = paint.gilt.shape
    veil = (0.15 + 0.35 * clouds(rng, (h, w), 420))[..., None]
    tint = np.float32([0.16, 0.10, 0.03])
    paint.ground = paint.ground * (1 - veil) + tint * veil
    paint.gold = paint.gold * (1 - veil) + tint * veil


FLAT = Setting()
ARM = Setting(kind="cylinder", radius=55, far=300, slant=4)
TAPER = Setting(kind="cone", radius=55, taper=0.07, far=300, slant=4)


def _of(scene: Setting, lens: bool = False, **known: Any) -> Maker:
    def make(_rng: np.random.Generator, _n: int) -> Case:
        given = (lambda lens: lens) if lens else without
        return Case(replace(scene, **known), lens=given, take=taken)

    return make


KINDS: dict[str, Maker] = {
    "tone-mapped in parts": _of(FLAT, developed=_tone_mapped),
    "smeared": _of(FLAT, developed=_smeared),
    "swept along": _of(FLAT, developed=_round_screen),
    "swept along, lens": _of(FLAT, True, developed=_round_screen),
    "wobbling": _of(FLAT, developed=_wobbling),
    "loupe": _of(FLAT, developed=_loupe),
    "coarse colour": _of(FLAT, developed=_coarse_colour),
    "banded": _of(FLAT, lit=_banded),
    "streaks": _of(FLAT, lit=_streaks),
    "dust": _of(FLAT, lit=_dusty),
    "oil": _of(FLAT, lit=_oily),
    "half white": _of(FLAT, painted=_half_white),
    "green": _of(FLAT, painted=_green),
    "brown priming": _of(FLAT, painted=_primed),
    "grey priming": _of(FLAT, painted=_grey_primed),
    "flowers": _of(FLAT, painted=_flowers),
    "pearl": _of(FLAT, painted=_pearl),
    "clear rim": _of(FLAT, painted=_clear_rim),
    "yellowed": _of(FLAT, painted=_yellowed),
    "red japan": _of(FLAT, japan=(0.14, 0.012, 0.010)),
    "green japan": _of(FLAT, japan=(0.012, 0.075, 0.03)),
    "blue japan": _of(FLAT, japan=(0.010, 0.022, 0.11)),
    "arm, flowers": _of(ARM, True, painted=_flowers),
    "arm, smeared": _of(ARM, developed=_smeared),
    "hardly any colour": _of(FLAT, developed=_colour_lost(6)),
    "hardly any colour, steps": _of(FLAT, developed=_colour_lost(14), quality=70),
    "flickering hard": _of(FLAT, lit=_banded_hard(0.25)),
    "nearly off": _of(FLAT, lit=_banded_hard(0.06)),
    "flickering in colours": _of(FLAT, lit=_banded_in_colours),
    "fluff": _of(FLAT, lit=_fluffy),
    "chips, grey priming": _of(FLAT, worn=0.15, painted=_chipped((0.2, 0.2, 0.19))),
    "chips, pale priming": _of(FLAT, worn=0.15, painted=_chipped((0.42, 0.41, 0.37))),
    "chips, red priming": _of(FLAT, worn=0.15, painted=_chipped((0.24, 0.07, 0.04))),
    "chips, ochre priming": _of(FLAT, worn=0.15, painted=_chipped((0.33, 0.22, 0.08))),
    "light blue japan": _of(FLAT, japan=(0.04, 0.09, 0.22)),
    "light green japan": _of(FLAT, japan=(0.05, 0.17, 0.06)),
    "arm, oil": _of(ARM, lit=_oily),
    "arm, greasy wipes": _of(ARM, lit=_wiped_greasy),
    "held back: taper, hardly any colour": _of(TAPER, True, developed=_colour_lost(8)),
    "held back: taper, flickering": _of(TAPER, True, lit=_banded_hard(0.15)),
    "held back: taper, yellow priming": _of(
        TAPER, True, worn=0.12, painted=_chipped((0.36, 0.27, 0.12))
    ),
    "held back: arm, grey priming": _of(ARM, worn=0.12, painted=_chipped((0.26, 0.25, 0.23))),
    "held back: taper, green japan": _of(TAPER, True, japan=(0.03, 0.11, 0.05)),
    "held back: taper, wipes": _of(TAPER, True, lit=_wiped_greasy),
    "held back: taper, half white": _of(TAPER, True, painted=_half_white),
    "held back: arm, half white": _of(ARM, painted=_half_white),
    "held back: arm, coarse colour": _of(ARM, developed=_coarse_colour),
    "held back: taper, light blue japan": _of(TAPER, True, japan=(0.05, 0.10, 0.20)),
    "held back: arm, light blue japan": _of(ARM, True, japan=(0.06, 0.12, 0.26)),
}


def _good(rng: np.random.Generator, n: int) -> Case:
    scene = replace(
        (FLAT, ARM, TAPER)[n % 3],
        slant=rng.uniform(0, 14),
        turn=rng.uniform(-5, 5),
        worn=(0.0, 0.04)[n // 3 % 2],
        quality=int(rng.integers(85, 95)),
    )
    return Case(scene, take=taken, lens=without if n % 2 else lambda lens: lens)


if __name__ == "__main__":
    run_all(KINDS, 1, _good, 7100, __doc__)
