"""Surfaces of closed form under near or far torches, drawn for tests of the relief.

Shares nothing with the solver: it works in double precision, in millimetres, with a ray for each
sample of a pixel, and keeps its own signs (x right, y up, z to the camera).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


def ring_of_lights(count, elevations_deg, turn_deg=0.0):
    """Unit directions to far lights, round the compass, the heights taken by turns."""
    azimuth = np.radians(turn_deg + 360.0 * np.arange(count) / count)
    height = np.radians(np.resize(np.asarray(elevations_deg, float), count))
    return np.stack(
        [np.cos(height) * np.cos(azimuth), np.cos(height) * np.sin(azimuth), np.sin(height)], 1
    )


def sphere_cap(size, radius_px, cap_px):
    """Height and normals of a cap of a sphere in the middle of a square picture.

    Height in pixels; where the cap is not, the mask is false and the normal is upright.
    """
    middle = (size - 1) / 2
    columns, rows = np.meshgrid(np.arange(size) - middle, middle - np.arange(size))
    beyond = np.hypot(columns, rows) > cap_px
    z = np.sqrt(np.maximum(radius_px**2 - columns**2 - rows**2, 0.0))
    normals = np.stack([columns, rows, z], -1) / radius_px
    normals[beyond] = (0.0, 0.0, 1.0)
    return z, normals, ~beyond


def paraboloid(shape, bend_x, bend_y):
    """Height and normals of z = bend_x x² + bend_y y², in pixels from the middle."""
    rows, columns = shape
    x, y = np.meshgrid(np.arange(columns) - (columns - 1) / 2, (rows - 1) / 2 - np.arange(rows))
    z = bend_x * x**2 + bend_y * y**2
    normals = np.stack([-2 * bend_x * x, -2 * bend_y * y, np.ones_like(x)], -1)
    return z, normals / np.linalg.norm(normals, axis=-1, keepdims=True)


def struck_ground(rng, shape=(120, 200)):
    """A flat ground with strokes struck into it; unit normals."""
    from scipy.ndimage import gaussian_filter

    ground = np.zeros(shape)
    for _ in range(60):
        y, x = rng.integers(10, shape[0] - 10), rng.integers(10, shape[1] - 10)
        ground[y : y + 3, x : x + 9] -= 8
    height = gaussian_filter(ground, 2.5) + gaussian_filter(rng.normal(0, 0.3, ground.shape), 2)
    down, right = np.gradient(height)
    normals = np.stack([-right, down, np.ones_like(right)], -1)
    return normals / np.linalg.norm(normals, axis=-1, keepdims=True)


def matt_pictures(normals, lights, albedo=0.8):
    """Lambert's law under far lights, no shadow but the surface's own; float, (lights, rows,
    columns).
    """
    cosines = np.einsum("ijk,lk->lij", normals, lights)
    return albedo * np.maximum(cosines, 0.0)


@dataclass
class BallScene:
    """A flat plate with balls on it, as photographed, and everything that is true of it."""

    frames: list
    mm_per_px: float
    balls: list  # (x px, y px, r px) in the first photograph
    lights_mm: np.ndarray
    shifts_px: np.ndarray
    turns_deg: np.ndarray
    gains: np.ndarray


def ball_scene(  # long: one scene, told from the torch to the paper
    rng,
    *,
    shape=(480, 800),
    mm_per_px=0.05,
    places=((90.3, 85.7), (705.6, 392.2)),
    ball_mm=6.0,
    count=12,
    distance_mm=(150.0, 320.0),
    elevation_deg=(18.0, 55.0),
    azimuths_deg=None,
    shift_px=0.5,
    turn_deg=0.02,
    jitter=0.1,
    blur_px=0.6,
    noise=0.6,
    gamma=1.0,
    texture=0.12,
    shadows=True,
    finer=4,
):
    """Photograph a mottled matt plate with polished balls under a near torch, 8 bits."""
    from scipy.ndimage import gaussian_filter, map_coordinates

    rows, columns = shape
    mottle = gaussian_filter(rng.normal(size=(rows + 60, columns + 60)), 1.5)
    mottle = 0.45 * (1.0 + texture * mottle / mottle.std())
    azimuth = (
        rng.uniform(0, 360 / count) + np.arange(count) * 360 / count
        if azimuths_deg is None
        else np.asarray(azimuths_deg, float)
    )
    azimuth, height = np.radians(azimuth), np.radians(rng.uniform(*elevation_deg, count))
    far = rng.uniform(*distance_mm, count)
    torches = far[:, None] * np.stack(
        [np.cos(height) * np.cos(azimuth), np.cos(height) * np.sin(azimuth), np.sin(height)], 1
    )
    shifts = rng.uniform(-shift_px, shift_px, (count, 2))
    turns = rng.uniform(-turn_deg, turn_deg, count)
    shifts[0], turns[0] = 0.0, 0.0
    gains = np.exp(rng.normal(0.0, jitter, count))
    centre = np.array([(columns - 1) / 2, (rows - 1) / 2])
    r_mm = ball_mm / 2
    balls_mm = [((x - centre[0]) * mm_per_px, (centre[1] - y) * mm_per_px) for x, y in places]
    samples = (np.arange(finer) + 0.5) / finer - 0.5
    frames = []
    for torch, shift, turn, gain in zip(torches, shifts, turns, gains, strict=True):
        light = np.zeros(shape)
        for sy in samples:
            for sx in samples:
                u, v = np.meshgrid(np.arange(columns) + sx, np.arange(rows) + sy)
                u, v = _on_plate(u, v, centre, shift, turn)
                x, y = (u - centre[0]) * mm_per_px, (centre[1] - v) * mm_per_px
                light += _seen(x, y, u, v, torch, balls_mm, r_mm, mottle, map_coordinates, shadows)
        light *= gain / len(samples) ** 2
        light = gaussian_filter(light, blur_px)
        value = 255.0 * np.clip(light, 0.0, 1.0) ** (1.0 / gamma) + rng.normal(0, noise, shape)
        frames.append(np.clip(np.round(value), 0, 255).astype(np.uint8))
    told = [(x, y, r_mm / mm_per_px) for x, y in places]
    return BallScene(frames, mm_per_px, told, torches, shifts, turns, gains)


def _on_plate(u, v, centre, shift, turn):
    """Where in the first photograph's grid a place of a moved photograph lies."""
    a = np.radians(turn)
    du, dv = u - shift[0] - centre[0], v - shift[1] - centre[1]
    return (
        np.cos(a) * du + np.sin(a) * dv + centre[0],
        -np.sin(a) * du + np.cos(a) * dv + centre[1],
    )


def _seen(x, y, u, v, torch, balls, r_mm, mottle, map_coordinates, shadows):
    way = np.stack([torch[0] - x, torch[1] - y, np.full_like(x, torch[2])], -1)
    length = np.linalg.norm(way, axis=-1)
    fall = (np.linalg.norm(torch) / length) ** 2
    out = map_coordinates(mottle, [v + 30, u + 30], order=1, mode="reflect")
    out = out * fall * way[..., 2] / length
    for bx, by in balls:
        if shadows:
            # the plate is in the ball's shadow where the way to the torch passes through the ball
            to = np.stack([bx - x, by - y, np.full_like(x, r_mm)], -1)
            along = (to * way).sum(-1) / length
            miss = np.sqrt(np.maximum((to**2).sum(-1) - along**2, 0))
            out = np.where((miss < r_mm) & (along > 0), 0.004, out)
    for bx, by in balls:
        dx, dy = (x - bx) / r_mm, (y - by) / r_mm
        inside = dx**2 + dy**2 < 1
        nz = np.sqrt(np.maximum(1 - dx**2 - dy**2, 0))
        n = np.stack([dx, dy, nz], -1)
        point = np.stack([bx + r_mm * dx, by + r_mm * dy, r_mm + r_mm * nz], -1)
        to = torch - point
        to /= np.linalg.norm(to, axis=-1, keepdims=True)
        mirrored = 2 * nz[..., None] * n - np.array([0.0, 0.0, 1.0])
        angle = np.arccos(np.clip((mirrored * to).sum(-1), -1, 1))
        glow = 0.10 + 0.08 * np.clip(mirrored[..., 2], -1, 1)  # a dim room in the mirror
        # the torch is a disc of some 2 degrees
        shine = 6.0 * np.exp(-0.5 * (angle / np.radians(1.2)) ** 2)
        out = np.where(inside, glow + shine, out)
    return out
