"""Plates with what is round and shines but is no ball: rivets, screws, discs, holes, washers.

Shares nothing with the capture, nor with the other makers of plates: every round thing is a closed
form (part of a sphere, a disc with an edge, a funnel), shadows are rays from the plate to the torch
that meet a sphere, and polished metal is a mirror whose lobe is told by the angle between what it
looks at and the torch. Millimetres, X right, Y up, Z to the camera; no perspective.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter, shift

KINDS = ("low rivet", "rivet", "high rivet", "half ball", "screw", "countersunk", "disc", "hole",
         "washer", "coin")  # fmt: skip
RISE = {"low rivet": 0.3, "rivet": 0.55, "high rivet": 0.8, "half ball": 0.97}
"""Of a dome, against its radius at the foot."""


@dataclass
class Thing:
    """Something round on the plate: its kind, place and radius in mm, and how polished it is."""

    kind: str
    x: float
    y: float
    r: float
    polish_deg: float = 2.0

    def sphere(self):
        """Radius of the sphere it is part of, and its middle's height; none where it is flat."""
        if self.kind == "ball":
            return self.r, self.r
        if self.kind not in RISE:
            return None
        k = RISE[self.kind]
        big = self.r * (1 + k * k) / (2 * k)
        return big, k * self.r - big


@dataclass
class Shots:
    """Photographs and what is true of them: balls in pixels (x, y, r), torches in mm."""

    frames: list
    balls_px: list
    lights_mm: np.ndarray
    mm_per_px: float


def shots(rng, things, *, count=12, shape=(300, 440), mm_per_px=0.1, ambient=0.02, gloss=0.15):
    """Photograph things on a worn plate, the torch going round once, high and low by turns."""
    rows, columns = shape
    s = mm_per_px
    x = (np.arange(columns) - (columns - 1) / 2)[None, :] * s + np.zeros((rows, 1))
    y = ((rows - 1) / 2 - np.arange(rows))[:, None] * s + np.zeros((1, columns))
    height = 0.02 * gaussian_filter(rng.normal(size=shape), 2.0) / 0.14 * s / 0.1
    albedo = 0.35 * np.exp(0.15 * gaussian_filter(rng.normal(size=shape), 3.0) / 0.09)
    normal = _normals(height, s)
    mirror, lobe = np.zeros(shape), np.full(shape, 9.0)
    for one in things:
        _laid(one, x, y, normal, albedo, mirror, lobe)
    normal /= np.linalg.norm(normal, axis=2, keepdims=True)
    around = np.linspace(0, 2 * np.pi, count, endpoint=False) + rng.uniform(0, 6)
    up = np.radians(rng.permutation(np.linspace(17, 53, count)))
    far = rng.uniform(160, 300, count)[:, None]
    lights = far * np.stack([np.cos(up) * np.cos(around), np.cos(up) * np.sin(around), np.sin(up)],
                            1)  # fmt: skip
    made = [
        _seen(x, y, normal, albedo, mirror, lobe, things, light, ambient, gloss) for light in lights
    ]
    bright = 0.75 / max(np.percentile(one, 97) for one in made)
    frames = []
    for n, thrown in enumerate(made):
        still = gaussian_filter(thrown * bright * np.exp(rng.normal(0, 0.05)), 0.55)
        if n:
            still = shift(still, rng.uniform(-0.4, 0.4, 2), order=1, mode="nearest")
        still = still + rng.normal(size=shape) * np.sqrt(2e-5 + 1.5e-4 * np.abs(still))
        still = np.clip(still, 0, 1)
        coded = np.where(still < 0.0031308, 12.92 * still, 1.055 * still ** (1 / 2.4) - 0.055)
        good, jpeg = cv2.imencode(".jpg", np.round(255 * coded).astype(np.uint8),
                                  [cv2.IMWRITE_JPEG_QUALITY, 94])  # fmt: skip
        assert good
        frames.append(cv2.imdecode(jpeg, cv2.IMREAD_GRAYSCALE))
    told = [((columns - 1) / 2 + t.x / s, (rows - 1) / 2 - t.y / s, t.r / s)
            for t in things if t.kind == "ball"]  # fmt: skip
    return Shots(frames, told, lights, s)


def _normals(height, s):
    down, right = np.gradient(height, s)
    return np.dstack([-right, down, np.ones_like(height)])


def _laid(one, x, y, normal, albedo, mirror, lobe):  # long: a line or two for each kind
    """Lay a thing's normals, and how it throws light back, into the plate's."""
    u, v = (x - one.x) / one.r, (y - one.y) / one.r
    far = np.hypot(u, v)
    inside = far < 1
    safe = np.maximum(far, 1e-9)
    polished, outward = inside, np.zeros_like(far)  # outward: slope of the normal away from middle
    sphere = one.sphere()
    if sphere:
        share = one.r / sphere[0]
        tilt = np.minimum(share * far, 0.9999)
        outward = tilt / np.sqrt(1 - tilt**2)
    elif one.kind == "screw":  # a low dome with a slot
        outward = 0.25 * far
        a = 0.7
        polished = inside & (np.abs(u * np.sin(a) - v * np.cos(a)) > 0.1)
    elif one.kind == "countersunk":  # a flat head in a funnel
        outward = np.where(far > 0.75, -1.0, 0.03 * far)
        polished = inside & (np.abs(u * np.sin(1.1) - v * np.cos(1.1)) > 0.09)
    elif one.kind == "disc":
        outward = np.where(far > 0.93, 8 * (far - 0.93), 0.05 * far)
    elif one.kind == "hole":
        outward = np.where(far > 0.85, -6 * (far - 0.85), 0.0)
        polished = inside & (far > 0.85)
    elif one.kind == "washer":
        inside = polished = inside & (far > 0.45)
        outward = 1.6 * (far - 0.72)
    else:  # a coin: flat, rough, with a raised rim and something struck
        struck = 0.25 * np.sin(9 * u + 2) * np.sin(8 * v + 1)
        outward = np.where(far > 0.9, 1.2 * np.sin((far - 0.9) / 0.1 * 2 * np.pi), struck)
    if one.kind == "hole":
        albedo[inside & ~polished] = 0.01
    for k, part in ((0, u), (1, v)):
        normal[..., k] = np.where(inside, outward * part / safe, normal[..., k])
    normal[..., 2] = np.where(inside, 1.0, normal[..., 2])
    albedo[inside] = np.where(polished[inside], 0.03, 0.02)
    mirror[inside] = np.where(polished[inside], 3.0, 0.0)
    lobe[inside] = one.polish_deg


def _seen(x, y, normal, albedo, mirror, lobe, things, light, ambient, gloss):
    """Light that one torch and the room send to the camera."""
    to = np.dstack([light[0] - x, light[1] - y, np.full_like(x, light[2])])
    far = np.linalg.norm(to, axis=2, keepdims=True)
    to /= far
    lit = np.ones_like(x)
    for one in things:
        sphere = one.sphere()
        high = 0.15 * one.r if one.kind in ("screw", "disc", "washer", "coin") else 0.0
        if sphere:
            # a sphere cut off at the plate: a ray that starts on the plate meets what is above
            big, middle = sphere
            c = np.dstack([one.x - x, one.y - y, np.full_like(x, middle)])
            along = (c * to).sum(2)
            miss = np.sqrt(np.maximum((c**2).sum(2) - along**2, 0))
            shade = np.clip((miss - big) / 0.04 + 0.5, 0, 1)
            outside = np.hypot(x - one.x, y - one.y) > one.r
            ahead = along + np.sqrt(np.maximum(big**2 - miss**2, 0)) > 0
            lit = np.where(outside & ahead, np.minimum(lit, shade), lit)
        elif high:
            lean = high / to[..., 2]
            fx, fy = x + lean * to[..., 0] - one.x, y + lean * to[..., 1] - one.y
            outside = np.hypot(x - one.x, y - one.y) > one.r
            lit = np.where(outside & (np.hypot(fx, fy) < one.r), 0.0, lit)
    strength = (np.linalg.norm(light) / far[..., 0]) ** 2
    cos = np.maximum((normal * to).sum(2), 0)
    half = to + np.array([0, 0, 1.0])
    half /= np.linalg.norm(half, axis=2, keepdims=True)
    shine = gloss * np.maximum((normal * half).sum(2), 0) ** 12 * (mirror == 0)
    look = 2 * normal[..., 2:] * normal - np.array([0, 0, 1.0])
    off = np.degrees(np.arccos(np.clip((look * to).sum(2), -1, 1)))
    spot = mirror * np.exp(-0.5 * (off / lobe) ** 2)
    room = 0.04 * (mirror > 0) * np.clip(0.4 + look[..., 2], 0, 1)
    return (albedo * cos + shine * (cos > 0)) * strength * lit + spot + room + ambient * albedo
