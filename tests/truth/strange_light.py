"""Plates photographed in light that is not one torch's alone, or developed by a stranger's curve.

Shares nothing with the relief, nor with the other makers of plates: it sums irradiance in
millimetres, its metal has a lobe of Trowbridge and Reitz (1975), its torch falls off with the
square of its true distance under an exposure that stays. X right, Y up, Z to the camera, the
origin in the middle of the plate; no perspective unless it is asked for.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from scipy.ndimage import affine_transform, gaussian_filter, map_coordinates

BALL = 3.0
"""Radius of the balls, mm."""


@dataclass
class Room:
    """What else gave light, and what became of the light; all nothing for a good capture.

    `ambient` is light from everywhere, `lamp` a far light's (azimuth, elevation, strength), `twin`
    a second torch's strength opposite the first, `card` a reflector's at the right; all against the
    mean light of the torch on the plate. `tone` takes numbers 0 to 1 to others; `tones` by turns.
    `camera_mm` is how far above the plate's middle the camera is; 0 for one without perspective.
    `metal` throws light back in place of this file's own lobe (see `shining_metal.py`).
    `bend_mm` is a radius of curvature along X; `mirrors` the share of the plate's light that the
    balls throw back, 0 where they are ringed by a dark sleeve.
    """

    ambient: float = 0.0
    lamp: tuple = ()
    twin: float = 0.0
    card: float = 0.0
    tone: object = None
    own_tone: object = None
    bend_mm: float = 0.0
    gloss: float = 0.25
    exposure: float = 0.05
    even: bool = False
    shape: tuple = (336, 520)
    mm_per_px: float = 0.065
    count: int = 12
    mirrors: float = 0.0
    metal: object = None
    camera_mm: float = 0.0
    balls: tuple = ((-12.6, 6.8), (12.6, -6.8))


@dataclass
class Taken:
    """Photographs and what is true of them."""

    frames: list
    normals: np.ndarray
    lights_mm: np.ndarray
    balls_px: list
    mm_per_px: float
    bare: np.ndarray = field(repr=False)  # neither ball nor picture's edge


def lifted(much):
    """The curve of a telephone that lifts contrast: steeper in the middle, flat at both ends."""
    return lambda v: v - much / (2 * np.pi) * np.sin(2 * np.pi * v)


def power(by):
    """All numbers to a power: brighter or darker middles."""
    return lambda v: v**by


def levelled(v):
    """Each photograph by itself spread over all numbers, its darkest and brightest cut."""
    low, high = np.percentile(v, [1.0, 99.0])
    return np.clip((v - low) / (high - low), 0, 1) * 0.95


def photographed(rng, room):  # long: one scene, told from the metal to the paper
    """Photograph a plate in a room."""
    rows, columns = room.shape
    s = room.mm_per_px
    x = ((np.arange(columns) - (columns - 1) / 2) * s)[None, :] + np.zeros((rows, 1))
    y = (((rows - 1) / 2 - np.arange(rows)) * s)[:, None] + np.zeros((1, columns))
    height = _worn(rng, x, y, s)
    if room.bend_mm:
        height = height - x**2 / (2 * room.bend_mm)
    down, right = np.gradient(height, s)
    normals = np.dstack([-right, down, np.ones_like(x)])
    normals /= np.linalg.norm(normals, axis=2, keepdims=True)
    paint = rng.normal(size=(rows, columns))
    coarse = gaussian_filter(paint, 9.0)
    fine = gaussian_filter(rng.normal(size=(rows, columns)), 1.2)
    albedo = 0.4 * np.exp(0.18 * coarse / coarse.std() + 0.07 * fine / fine.std())
    shine = gaussian_filter(rng.normal(size=(rows, columns)), 14.0)
    shine = (1.0 if room.metal else room.gloss) * (0.7 + 0.3 * np.tanh(shine / shine.std()))
    azimuth = np.linspace(0, 2 * np.pi, room.count, endpoint=False) + rng.uniform(0, 1)
    elevation = np.radians(rng.permutation(np.linspace(18, 52, room.count)))
    far = rng.uniform(160, 300, room.count)
    torches = far[:, None] * np.stack(
        [np.cos(elevation) * np.cos(azimuth), np.cos(elevation) * np.sin(azimuth),
         np.sin(elevation)], 1
    )  # fmt: skip
    surface = (x, y, height, normals, albedo, shine, room)
    usual = 0.4 * np.sin(np.radians(35))
    still = np.zeros_like(x)
    if room.ambient:
        still += room.ambient * usual * albedo / 0.4 * (1 + normals[..., 2]) / 2 * _sky(x, y, room)
    if room.lamp:
        a, e, much = np.radians(room.lamp[0]), np.radians(room.lamp[1]), room.lamp[2]
        place = 2000 * np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
        still += much * np.sin(np.radians(35)) / np.sin(e) * _thrown(surface, place, (0, 0), 1e9)
    linear = []
    for n, torch in enumerate(torches):
        aim = rng.normal(0, 3.0, 2)
        wide = rng.uniform(28, 50)
        strength = 1.0 if room.even else (210 / far[n]) ** 2
        light = strength * _thrown(surface, torch, aim, wide)
        if room.twin:
            other = torch * np.array([-0.8, -0.6, 1.0])
            light = light + room.twin * strength * _thrown(surface, other, aim, wide)
        if room.card:
            card = np.array([columns * s / 2 + 12.0, 0.0, 14.0])
            falls = max(float(torch[0]) / far[n] * -1.0, 0.0)  # on a card that faces left
            light = light + room.card * strength * falls * _thrown(surface, card, (0, 0), 1e9)
        light = light + 0.004 * albedo + still
        linear.append(light * np.exp(rng.normal(0, room.exposure)))
    bright = 0.8 / np.max([np.percentile(one, 98) for one in linear])
    frames = []
    for n, thrown in enumerate(linear):
        light = _with_balls(thrown * bright, x, y, torches[n], room, rng)
        still = _moved(gaussian_filter(light, 0.6), rng, first=n == 0)
        noisy = still + rng.normal(size=still.shape) * np.sqrt(1.5e-5 + 1.5e-4 * np.abs(still))
        value = _srgb(np.clip(noisy, 0, 1))
        for tone in (room.tone, room.own_tone):
            value = np.clip(tone(value), 0, 1) if tone else value
        good, coded = cv2.imencode(".jpg", np.round(255 * value).astype(np.uint8),
                                   [cv2.IMWRITE_JPEG_QUALITY, 93])  # fmt: skip
        assert good
        frames.append(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE))
    bare = np.zeros(room.shape, bool)
    bare[8:-8, 8:-8] = True
    told = []
    for bx, by in room.balls:
        off = 1 + (BALL / room.camera_mm if room.camera_mm else 0)
        bare &= np.hypot(x - off * bx, y - off * by) > off * BALL + 4 * s
        told.append(((columns - 1) / 2 + bx / s, (rows - 1) / 2 - by / s, BALL / s))
    return Taken(frames, normals, torches, told, s, bare)


def _worn(rng, x, y, s):
    """Strokes, pits, scratches and grain; mm."""
    height = 0.004 * gaussian_filter(rng.normal(size=x.shape), 2.5) / 0.11
    for _ in range(26):  # strokes of figures, straight and hooked
        mx, my = rng.uniform(-14, 14), rng.uniform(-6, 6)
        a, half = rng.uniform(0, np.pi), rng.uniform(0.5, 1.3)
        u = (x - mx) * np.cos(a) + (y - my) * np.sin(a)
        v = -(x - mx) * np.sin(a) + (y - my) * np.cos(a) + rng.uniform(-0.2, 0.2) * u**2
        off = np.hypot(np.maximum(np.abs(u) - half, 0), v)
        height -= rng.uniform(0.03, 0.09) * np.exp(-((off / 0.24) ** 2))
    for _ in range(rng.integers(120, 300)):
        mx, my, r = rng.uniform(-17, 17), rng.uniform(-11, 11), np.exp(rng.normal(-1.9, 0.4))
        c, d = round((mx - x[0, 0]) / s), round((y[0, 0] - my) / s)
        w = int(3 * r / s) + 2
        part = np.s_[max(d - w, 0) : d + w, max(c - w, 0) : c + w]
        height[part] -= 0.22 * r * np.exp(-(((x[part] - mx) ** 2 + (y[part] - my) ** 2) / r**2))
    return height


def _thrown(surface, torch, aim, wide):
    """Light sent to the camera from a torch alone, its shadows with it; one at 1 mm² of beam."""
    x, y, z, n, albedo, shine, room = surface
    to = np.dstack([torch[0] - x, torch[1] - y, torch[2] - z])
    length = np.sqrt((to**2).sum(2))
    to /= length[..., None]
    beam = (np.linalg.norm(torch) / length) ** 2
    beam = beam / (1 + ((x - aim[0]) ** 2 + (y - aim[1]) ** 2) / wide**2) ** 1.2
    if room.metal:
        return room.metal(n, to, albedo, shine) * beam * _lit(x, y, z, to, room.balls)
    cos = (n * to).sum(2)
    half = to - _looking(x, y, room)
    half /= np.linalg.norm(half, axis=2, keepdims=True)
    nh = np.clip((n * half).sum(2), 0, 1)
    rough = 0.35**2
    lobe = rough / (nh**2 * (rough - 1) + 1) ** 2
    out = (albedo * np.maximum(cos, 0) + 0.1 * shine * lobe * (cos > 0)) * beam
    return out * _lit(x, y, z, to, room.balls)


def _looking(x, y, room):
    """Unit way from the camera to places of the plate."""
    if not room.camera_mm:
        return np.array([0.0, 0.0, -1.0]) + np.zeros((*x.shape, 3))
    ray = np.dstack([x, y, np.full_like(x, -room.camera_mm)])
    return ray / np.linalg.norm(ray, axis=2, keepdims=True)


def _lit(x, y, z, to, balls):
    """Share of the torch that is seen: past the balls, and over the metal's own edges."""
    seen = np.ones_like(x)
    s = abs(x[0, 1] - x[0, 0])
    flat = to[..., :2].mean((0, 1))
    rise = to[..., 2].mean() / max(np.hypot(*flat), 1e-6)
    ux, uy = flat / max(np.hypot(*flat), 1e-6)
    rows, columns = np.indices(x.shape, dtype=float)
    for k in (1, 2, 3, 5, 7, 10, 14, 20):
        there = map_coordinates(z, [rows - k * uy, columns + k * ux], order=1, mode="nearest")
        seen = np.minimum(seen, np.clip(0.5 + (z + k * s * rise - there) / 0.006, 0, 1))
    for bx, by in balls:
        c = np.dstack([bx - x, by - y, BALL - z])
        along = (c * to).sum(2)
        past = np.sqrt(np.maximum((c**2).sum(2) - along**2, 0))
        width = np.radians(0.8) * np.maximum(along, 0) + 0.02
        seen = np.where(along > 0, np.minimum(seen, np.clip((past - BALL) / width + 0.5, 0, 1)),
                        seen)  # fmt: skip
    return seen


def _sky(x, y, room):
    """What a polished ball takes of a room's light: it hides some and mirrors over half of it."""
    open_ = np.ones_like(x)
    for bx, by in room.balls:
        far = np.sqrt((x - bx) ** 2 + (y - by) ** 2 + BALL**2)
        open_ -= 0.45 * (BALL / far) ** 3
    return open_


def _with_balls(light, x, y, torch, room, rng):
    lights = [(torch, 5.0)]
    if room.twin:
        lights.append((torch * np.array([-0.8, -0.6, 1.0]), 5.0 * room.twin))
    if room.lamp:
        a, e, much = np.radians(room.lamp[0]), np.radians(room.lamp[1]), room.lamp[2]
        far = 2000 * np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
        lights.append((far, 1.5 * much))
    out = light
    for bx, by in room.balls:
        ray = _looking(x, y, room)
        # from the ball's middle to where the ray would meet the plate, and back to its near side
        foot = np.dstack([x - bx, y - by, np.full_like(x, -BALL)]) / BALL
        along = (foot * ray).sum(2)
        miss = (foot**2).sum(2) - along**2
        inside = miss < 1
        n = foot + (-along - np.sqrt(np.maximum(1 - miss, 0)))[..., None] * ray
        n /= np.linalg.norm(n, axis=2, keepdims=True)
        dx, dy, up = n[..., 0], n[..., 1], n[..., 2]
        look = ray - 2 * (n * ray).sum(2)[..., None] * n
        shown = 0.05 + 0.2 * room.ambient + 0.06 * np.clip(look[..., 2], 0, 1)
        # the plate about the ball, as far as it goes, mirrored in steel
        down = np.maximum(-look[..., 2], 1e-3)
        fx, fy = (c + BALL * d + look[..., k] * BALL * (1 + up) / down
                  for k, (c, d) in enumerate(((bx, dx), (by, dy))))  # fmt: skip
        s = room.mm_per_px
        mirrored = map_coordinates(light, [(y[0, 0] - fy) / s, (fx - x[0, 0]) / s], order=1,
                                   mode="nearest")  # fmt: skip
        plate = (look[..., 2] < 0) & (np.abs(fx) < 24.0) & (np.abs(fy) < 18.0)
        shown = np.where(plate & (room.mirrors > 0), room.mirrors * mirrored, shown)
        for place, much in lights:
            to = place - np.dstack([bx + BALL * dx, by + BALL * dy, BALL + BALL * up])
            to /= np.linalg.norm(to, axis=2, keepdims=True)
            off = np.arccos(np.clip((look * to).sum(2), -1, 1))
            shown = shown + much * np.exp(-0.5 * (off / np.radians(1.4)) ** 2)
        out = np.where(inside, shown, out)
    return out


def _moved(light, rng, *, first):
    if first:
        return light
    dx, dy = rng.uniform(-0.4, 0.4, 2)
    a = np.radians(rng.normal(0, 0.008))
    rows, columns = light.shape
    m = np.array([(rows - 1) / 2, (columns - 1) / 2])
    back = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return affine_transform(light, back, m - back @ (m + np.array([dy, dx])), mode="nearest")


def _srgb(light):
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
