"""Photographs of the lens chart by cameras whose lenses bend otherwise than Brown's numbers say.

Nothing here is shared with the calibration: each pixel's ray is bent back by the lens's own law and
meets a chart that may be bowed; the markers are looked up in a drawing made dot by dot from the
chart's table. Families: `brown` (two numbers, flat chart), `division` (Fitzgibbon's one number),
`equisolid` (a mild wide angle), `bowed` (the chart on a cylinder), `breathing` (the focal length
moves with the focus from shot to shot), `telephone` (sharpened, noisy, JPEG 40 to 60), `lifted`
(one corner rises from a line on: held back).
"""

import csv
import io
import math
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image

FAMILIES = ("brown", "division", "equisolid", "bowed", "breathing", "telephone", "lifted")
DOTS_A_MM = 8
"""Of the chart's drawing."""


@dataclass
class Charted:
    """Pictures (JPEG bytes), the true focal length, and the law by which rays fall on pixels."""

    files: list
    focal: float
    lands: object
    size: tuple


def drawing(layout_csv):
    """The chart as lightness from 0 to 1, and where its upper left dot lies, mm."""
    corners = {}
    for row in csv.DictReader(io.StringIO(layout_csv)):
        key = (row["dictionary"], int(row["id"]))
        corners.setdefault(key, []).append((float(row["x_mm"]), float(row["y_mm"])))
    every = np.array([p for ring in corners.values() for p in ring])
    low, high = every.min(axis=0) - 12.0, every.max(axis=0) + 12.0
    wide, tall = np.ceil((high - low) * DOTS_A_MM).astype(int)
    page = np.full((tall, wide), 0.85, np.float32)
    for (name, number), ring in corners.items():
        book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, name))
        cells = cv2.aruco.generateImageMarker(book, number, book.markerSize + 2)
        (x0, y0), (x1, y1) = np.min(ring, axis=0), np.max(ring, axis=0)
        ys = np.arange(math.ceil((y0 - low[1]) * DOTS_A_MM), int((y1 - low[1]) * DOTS_A_MM) + 1)
        xs = np.arange(math.ceil((x0 - low[0]) * DOTS_A_MM), int((x1 - low[0]) * DOTS_A_MM) + 1)
        n = len(cells)
        i = np.clip(((ys / DOTS_A_MM + low[1] - y0) / (y1 - y0) * n).astype(int), 0, n - 1)
        j = np.clip(((xs / DOTS_A_MM + low[0] - x0) / (x1 - x0) * n).astype(int), 0, n - 1)
        page[np.ix_(ys, xs)] = np.where(cells[np.ix_(i, j)] > 127, 0.85, 0.05)
    return page, low


def law_of(rng, family):
    """How far from the middle, in focal lengths, a ray at tangent `u` falls."""
    if family == "division":
        one = rng.uniform(0.02, 0.2)
        return lambda u: 2 * u / (1 + np.sqrt(1 + 4 * one * u * u))
    if family == "equisolid":
        share = rng.uniform(0.1, 0.4)
        return lambda u: (1 - share) * u + share * 2 * np.sin(np.arctan(u) / 2)
    k1, k2 = rng.uniform(-0.15, 0.05), rng.uniform(-0.05, 0.05)
    return lambda u: u * (1 + k1 * u * u + k2 * u**4)


def charted(rng, family, layout_csv, size=(1000, 750), count=8):
    """One camera's photographs of the chart."""
    page, low = drawing(layout_csv)
    middle = low + np.array(page.shape[::-1]) / DOTS_A_MM / 2
    wide, high = size
    focal = wide * rng.uniform(0.75, 1.4)
    at = np.array([wide / 2 - 0.5, high / 2 - 0.5]) + rng.normal(0, 0.006 * wide, 2)
    law = law_of(rng, family)
    bow = 1 / rng.uniform(800, 2500) if family == "bowed" else 0.0
    lift = 1 / rng.uniform(600, 3000) if family == "lifted" else 0.0
    breath = rng.uniform(0.003, 0.01) if family == "breathing" else 0.0
    fine = np.linspace(0, 1.4, 4000)
    used, files = [], []
    for n in range(count):
        f = focal * (1 + breath * rng.standard_normal())
        used.append(f)
        tilt = math.radians(rng.uniform(2, 8) if n == 0 else rng.uniform(18, 38))
        way = 2 * math.pi * n / count + rng.uniform(-0.4, 0.4)
        turn = cv2.Rodrigues(tilt * np.array([math.cos(way), math.sin(way), 0.0]))[0]
        turn = turn @ cv2.Rodrigues(np.array([0, 0, rng.normal(0, 0.2)]))[0]
        away = focal * 280.0 / wide * rng.uniform(1.0, 1.25)
        move = np.array([0, 0, away]) + rng.normal(0, 6, 3)
        # the map is smooth: it is worked out at every second pixel and drawn out
        y, x = np.mgrid[0:high:2, 0:wide:2] + 0.5
        p = np.stack([x - at[0], y - at[1]], -1) / f
        r = np.maximum(np.hypot(p[..., 0], p[..., 1]), 1e-9)
        p *= (np.interp(r, law(fine), fine) / r)[..., None]
        ray = np.stack([p[..., 0], p[..., 1], np.ones_like(r)], -1) @ turn
        eye = -move @ turn
        t = -eye[2] / ray[..., 2]
        for _ in range(4 if bow or lift else 0):  # the chart rises from its middle line on
            if lift:
                s = (eye[0] + t * ray[..., 0]) * 0.8 + (eye[1] + t * ray[..., 1]) * 0.6
                rise = 0.5 * lift * np.maximum(s - 20.0, 0.0) ** 2
            else:
                rise = 0.5 * bow * (eye[0] + t * ray[..., 0]) ** 2
            t = (rise - eye[2]) / ray[..., 2]
        sx, sy = eye[0] + t * ray[..., 0], eye[1] + t * ray[..., 1]
        sx = sx * (1 + (bow * sx) ** 2 / 6)  # along the bowed paper
        spot = (np.stack([sx, sy], -1) + middle - low) * DOTS_A_MM
        spot = cv2.resize(spot.astype(np.float32), (2 * wide, 2 * high))
        light = cv2.remap(page, spot, None, cv2.INTER_LINEAR, borderValue=0.3)
        light = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
        light = cv2.GaussianBlur(light, (0, 0), rng.uniform(0.5, 1.1))
        gx, gy = rng.normal(0, 0.12, 2)
        light *= 1 + gx * np.linspace(-1, 1, wide) + gy * np.linspace(-1, 1, high)[:, None]
        light += rng.normal(0, 0.012 if family == "telephone" else 0.004, light.shape)
        tone = np.clip(light, 0, 1) ** (1 / 2.2)
        if family == "telephone":
            tone = np.clip(tone + 1.2 * (tone - cv2.GaussianBlur(tone, (0, 0), 1.5)), 0, 1)
        out = io.BytesIO()
        shown = Image.fromarray((tone * 255).astype(np.uint8)).convert("RGB")
        quality = int(rng.integers(40, 61)) if family == "telephone" else 92
        shown.save(out, "JPEG", quality=quality)
        files.append(out.getvalue())
    return Charted(files, float(np.mean(used)), law, size)
