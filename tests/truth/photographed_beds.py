"""Photographs of a bed above a sheet of markers, traced ray by ray from pixels to planes."""

import cv2
import numpy as np

SHEET = (560.0, 420.0)


def layout_csv():
    """Markers round the edge of a sheet; dictionary,id,corner,x_mm,y_mm."""
    rows, squares = ["dictionary,id,corner,x_mm,y_mm"], []
    places = [(x, y) for x in range(20, 520, 60) for y in (15, 375)] + [
        (x, y) for x in (15, 515) for y in (90, 160, 230, 300)
    ]
    for n, (x, y) in enumerate(places):
        s = 30
        squares.append((n, x, y, s))
        for c, (dx, dy) in enumerate(((0, 0), (s, 0), (s, s), (0, s))):
            rows.append(f"DICT_4X4_50,{n},{c},{x + dx},{y + dy}")
    return "\n".join(rows) + "\n", squares


def sheet_texture(squares, per_mm=8):
    w, h = int(SHEET[0] * per_mm), int(SHEET[1] * per_mm)
    image = np.full((h, w), 235, np.uint8)
    words = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for n, x, y, s in squares:
        image[y * per_mm : (y + s) * per_mm, x * per_mm : (x + s) * per_mm] = np.where(
            cv2.aruco.generateImageMarker(words, n, s * per_mm) > 0, 235, 15
        )
    return image


def undistorted(px, matrix, dist, rounds=12):
    k1, k2, p1, p2, k3 = dist
    xd = (px[..., 0] - matrix[0, 2]) / matrix[0, 0]
    yd = (px[..., 1] - matrix[1, 2]) / matrix[1, 1]
    x, y = xd.copy(), yd.copy()
    for _ in range(rounds):
        r2 = x * x + y * y
        f = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        x, y = (
            (xd - 2 * p1 * x * y - p2 * (r2 + 2 * x * x)) / f,
            (yd - p1 * (r2 + 2 * y * y) - 2 * p2 * x * y) / f,
        )
    return np.stack([x, y, np.ones_like(x)], -1)


def bed(rng, length, width):
    """A bed's outline, a rounded oblong with a bay at one end, in the sheet's mm."""
    t = np.linspace(0, 2 * np.pi, 721)[:-1]
    p = rng.uniform(3.5, 7)
    c, s = np.cos(t), np.sin(t)
    r = (np.abs(c) ** p + np.abs(s) ** p) ** (-1 / p)
    xy = np.stack([r * c * length / 2, r * s * width / 2], 1)
    xy[:, 1] *= 1 - rng.uniform(0, 0.12) * np.exp(-(((xy[:, 0] - 0.3 * length) / 30) ** 2))
    turn = rng.uniform(-0.06, 0.06)
    return xy @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) + [280, 210]


def photograph(rng, width=2300, height=1740, rim=None, noise=2.0):
    """Picture, layout, lens and the true outline on the rim's plane, in the sheet's mm."""
    csv, squares = layout_csv()
    texture = sheet_texture(squares)
    rim = rng.uniform(5, 60) if rim is None else rim
    outline = bed(rng, rng.uniform(260, 360), rng.uniform(150, 200))
    f = width * rng.uniform(0.95, 1.2)
    matrix = np.array(
        [
            [f, 0, width / 2 + rng.uniform(-15, 15)],
            [0, f, height / 2 + rng.uniform(-15, 15)],
            [0, 0, 1],
        ]
    )
    dist = np.array(
        [
            rng.uniform(-0.12, 0.06),
            rng.uniform(-0.02, 0.04),
            0.0005 * rng.standard_normal(),
            0.0005 * rng.standard_normal(),
            0.0,
        ]
    )
    tilt = rng.uniform(-0.12, 0.12, 2)
    rotation, _ = cv2.Rodrigues(np.array([tilt[0], tilt[1], rng.uniform(-0.05, 0.05)]))
    away = f * 600 / width * 1.05
    translation = np.array([0, 0, away]) - rotation @ np.array([280.0, 210.0, 0.0])
    sub = 2
    xs = (np.arange(width * sub) + 0.5) / sub - 0.5
    ys = (np.arange(height * sub) + 0.5) / sub - 0.5
    camera = -rotation.T @ translation
    light = np.empty((height, width), np.float32)
    band = 60
    ring = outline.astype(np.float32)
    for top in range(0, height, band):
        gy = ys[top * sub : (top + band) * sub]
        grid = np.stack(np.meshgrid(xs, gy), -1)
        rays = undistorted(grid, matrix, dist, 6) @ rotation
        floor, top_plane = _on(camera, rays, 0.0), _on(camera, rays, -rim)
        look = (floor * 8 - 0.5).astype(np.float32)
        seen = (
            cv2.remap(
                texture, look[..., 0], look[..., 1], cv2.INTER_LINEAR, borderValue=150
            ).astype(np.float32)
            / 255
        )
        seen = seen**2.2
        seen *= (0.9 + 0.2 * (grid[..., 0] / width - 0.5)).astype(np.float32)
        # inside by a raster of the outline, fine enough not to matter
        mask = _mask(ring)
        m = ((top_plane - [80, 60]) * 20 - 0.5).astype(np.float32)
        inside = cv2.remap(mask, m[..., 0], m[..., 1], cv2.INTER_NEAREST, borderValue=0) > 0
        seen[inside] = 0.02
        light[top : top + band] = cv2.resize(
            seen, (width, min(band, height - top)), interpolation=cv2.INTER_AREA
        )
    light = cv2.GaussianBlur(light, (0, 0), rng.uniform(0.6, 1.2))
    grey = np.clip(light, 0, 1) ** (1 / 2.2) * 255 + noise * rng.standard_normal(light.shape)
    picture = np.repeat(np.clip(np.round(grey), 0, 255).astype(np.uint8)[..., None], 3, 2)
    return picture, csv, matrix, dist, rim, outline


_KEPT = {}


def _mask(ring):
    key = ring.tobytes()
    if key not in _KEPT:
        _KEPT.clear()
        mask = np.zeros((6000, 8000), np.uint8)
        cv2.fillPoly(
            mask, [np.round(((ring - [80, 60]) * 20 - 0.5) * 16).astype(np.int32)], 1, shift=4
        )
        _KEPT[key] = mask
    return _KEPT[key]


def _on(camera, rays, z):
    """Where rays meet a plane of the sheet's frame."""
    return camera[:2] + ((z - camera[2]) / rays[..., 2])[..., None] * rays[..., :2]
