"""Photographs made forwards: every spot of a painted sheet is thrown to the pixel it lands in.

No ray is cast and no picture is warped; a pixel is the mean of the spots that fell on it. The lens
is an arctangent of the angle with a tilted element (Devernay and Faugeras 2001), the lamp stands
near and its light falls off with the square of the distance, the picture darkens to its corners,
japan mirrors a window, the tone curve is sRGB with some added contrast, grains are counted as
photons in rows that differ. Arms may be oval. Ornaments are scrolls with leaves, dots and stars.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from ironlace.photographs.scale_strip import strip_sheet
from ray_cast import Photograph, outline_points

F = NDArray[np.float64]
F32 = NDArray[np.float32]
RIM_MM = 14.0
"""Surface around the sheet that is painted too."""
SPOTS = 28
"""To the mm."""


# --- ornament -----------------------------------------------------------------------------------


def _spiral(rng: np.random.Generator, reach: float, wide: float) -> BaseGeometry:
    """A scroll that winds up and thickens to its eye, with leaves along its back."""
    turns = rng.uniform(1.1, 1.6)
    t = np.linspace(0, 1, 200)
    angle = 2 * np.pi * turns * t
    r = reach * np.exp(-1.7 * t)
    x, y = r * np.cos(angle), r * np.sin(angle)
    half = wide * (0.35 + 0.65 * np.sin(np.pi * np.minimum(t * 1.15, 1.0)) ** 0.7) / 2
    way = np.gradient(np.column_stack([x, y]), axis=0)
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    side = np.column_stack([-way[:, 1], way[:, 0]]) * half[:, None]
    core = np.column_stack([x, y])
    parts: list[BaseGeometry] = [shapely.Polygon(np.vstack([core + side, (core - side)[::-1]]))]
    parts.append(shapely.Point(x[-1], y[-1]).buffer(wide * 0.75, quad_segs=24))
    for at in range(20, 130, 22):
        long = reach * rng.uniform(0.22, 0.36)
        leaf = _leaf(long, long * rng.uniform(0.28, 0.4))
        turn = np.degrees(np.arctan2(way[at, 1], way[at, 0])) - rng.uniform(35, 60)
        leaf = affinity.translate(affinity.rotate(leaf, turn, origin=(0, 0)), x[at], y[at])
        parts.append(leaf)
    return shapely.union_all([p.buffer(0) for p in parts])


def _leaf(long: float, wide: float) -> BaseGeometry:
    t = np.linspace(0, 1, 40)
    edge = wide / 2 * np.sin(np.pi * t**0.8)
    ring = np.vstack([np.column_stack([long * t, edge]), np.column_stack([long * t, -edge])[::-1]])
    return shapely.Polygon(ring).buffer(0)


def _star(points: int, size: float) -> BaseGeometry:
    a = np.arange(2 * points) * np.pi / points
    r = np.where(np.arange(2 * points) % 2 == 0, size, size * 0.42)
    return shapely.Polygon(np.column_stack([r * np.cos(a), r * np.sin(a)]))


def scrolls_and_dots(
    rng: np.random.Generator,
    box: tuple[float, float, float, float],
    *,
    edge_rules: bool = False,
) -> shapely.MultiPolygon:
    """Scrolls along the middle, a row of dots above, stars between, a double rule around."""
    left, top, right, bottom = box
    high = bottom - top
    reach = min(high * 0.24, 15.0)
    parts: list[BaseGeometry] = []
    count = max(2, int((right - left) / (2.35 * reach)))
    pitch = (right - left) / count
    for n in range(count):
        x, y = left + pitch * (n + 0.5), top + high * (0.42 if n % 2 else 0.58)
        one = _spiral(rng, reach, rng.uniform(0.9, 1.6))
        one = affinity.scale(one, 1, -1 if n % 2 else 1, origin=(0, 0))
        one = affinity.rotate(one, rng.uniform(0, 360), origin=(0, 0))
        parts.append(affinity.translate(one, x, y))
        if n:
            star = _star(int(rng.integers(5, 8)), rng.uniform(1.3, 2.0))
            parts.append(affinity.translate(star, left + pitch * n, top + high * 0.5))
    for y, size in ((top + high * 0.08, 0.45), (top + high * 0.9, 0.3)):
        for x in np.arange(left + 4, right - 4, 2.4 + 4 * size):
            parts.append(shapely.Point(x, y).buffer(size * rng.uniform(0.8, 1.3), quad_segs=16))
    for inset, wide in ((0.8, rng.uniform(0.5, 0.8)), (2.2, rng.uniform(0.28, 0.4))):
        frame = shapely.box(left + inset, top + inset, right - inset, bottom - inset)
        parts.append(frame.exterior.buffer(wide / 2, join_style="mitre"))
    if edge_rules:
        for y in (top - 2.0, bottom + 2.0):
            x = np.linspace(left, right, 300)
            line = np.column_stack([x, y + 0.5 * np.sin(x / 2.2)])
            parts.append(shapely.LineString(line).buffer(rng.uniform(0.15, 0.22)))
    whole = shapely.union_all(parts)
    return shapely.MultiPolygon([p for p in shapely.get_parts(whole) if p.area > 0.05])


# --- what stands before the camera --------------------------------------------------------------


@dataclass(frozen=True)
class Setting:
    """The work, the camera, the light, and what goes wrong."""

    piece: str = "wrap"
    kind: str = "plane"  # plane, cylinder, oval, cone
    radius: float = 55.0
    flatness: float = 1.0  # depth of an oval's half over its half width
    half_angle: float = 4.0
    upright: bool = False  # whether the axis stands along the sheet's y
    size: tuple[int, int] = (2360, 1680)
    field: float = 42.0  # degrees across the width
    decentre: float = 0.0
    off_middle: tuple[float, float] = (0.0, 0.0)
    distance: float = 330.0
    tip: float = 5.0  # degrees, camera above (+) or below
    turn: float = 4.0  # degrees, camera right (+) or left
    roll: float = 0.5
    margin: float = 24.0  # from the sheet's edge to the ornament
    edge_rules: bool = False
    lamp: tuple[float, float, float] = (-260.0, -320.0, 420.0)
    lamp_share: float = 0.6
    exposure: float = 0.78
    window: tuple[float, float, float, float] | None = None  # towards, width, strength
    corners: float = 0.5
    gold: tuple[float, float, float] = (0.44, 0.31, 0.12)
    grey_film: float = 0.0
    brown: float = 0.0
    specks: int = 0
    contrast: float = 0.1
    grains: float = 1.0
    jpeg: int = 92
    soft: float = 0.7
    out_of_focus: float = 0.0  # disc radius, px, everywhere
    focus_falls: float = 0.0  # px of disc in the picture's middle, where its rim is sharp
    shaken: tuple[float, ...] = ()  # a crooked path, px: x0, y0, x1, y1, ...
    twist: float = 0.0  # degrees the camera turned about its axis while it was open
    ghost: tuple[float, float, float] = (0.0, 0.0, 0.0)  # a second picture: dx, dy px, strength
    buckle: float = 0.0  # mm by which the strip's middle stands off
    slid: tuple[float, float] = (0.0, 0.0)  # mm by which its left part has slid
    pulled: float = 0.0  # share by which the paper is longer along x
    cut: tuple[int, int, int, int] = (0, 0, 0, 0)
    shrunk: float = 1.0


def thrown(setting: Setting, rng: np.random.Generator) -> Photograph:
    """The setting, photographed."""
    s = setting
    sheet = strip_sheet(s.piece)  # type: ignore[arg-type]
    w, h = sheet.size_mm
    m = s.margin
    gilt = scrolls_and_dots(rng, (m, m, w - m, h - m), edge_rules=s.edge_rules)
    view = _View(s, (w, h))
    paint = _Paint.of(gilt, sheet, s, rng)
    light = _gathered_light(view, paint, s, rng)
    picture = _film(light, s, rng)
    left, top, right, bottom = s.cut
    picture = picture[top : s.size[1] - bottom, left : s.size[0] - right]
    if s.shrunk != 1.0:
        picture = cv2.resize(picture, None, fx=s.shrunk, fy=s.shrunk, interpolation=cv2.INTER_AREA)
    points = outline_points(gilt)
    px, cosine = view.lands(points[:, 0], points[:, 1], np.zeros(len(points)))
    inside = (px[:, 0] > left + 2) & (px[:, 0] < s.size[0] - right - 3)
    inside &= (px[:, 1] > top + 2) & (px[:, 1] < s.size[1] - bottom - 3)
    return Photograph(
        np.ascontiguousarray(picture),
        gilt,
        gilt,
        points[inside & (cosine > 0.3)],
        view.told(),
        view.focal / float(np.hypot(*s.size)) * 43.27,
    )


class _View:
    """Where spots of the sheet land, and how squarely they are seen."""

    def __init__(self, s: Setting, sheet: tuple[float, float]) -> None:
        self.s, self.sheet = s, sheet
        # pixels to the radian of the angle's tangent at the middle
        self.bend = 2 * np.tan(np.deg2rad(14.0) / 2)
        self.focal = s.size[0] / 2 / np.tan(np.deg2rad(s.field) / 2)
        a, b, c = np.deg2rad([s.tip, s.turn, s.roll])
        tip = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
        turn = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
        roll = np.array([[np.cos(c), -np.sin(c), 0], [np.sin(c), np.cos(c), 0], [0, 0, 1]])
        self.turned = roll @ tip @ turn
        # the eye so that the sheet's middle falls in the picture's
        self.eye = -s.distance * self.turned[2]

    def place(self, x: Any, y: Any, off: Any) -> tuple[Any, Any]:
        """Spots in space, z away from the camera, and normals; the sheet's middle is 0, 0, 0."""
        s = self.s
        u, v = x - self.sheet[0] / 2, y - self.sheet[1] / 2
        if s.upright:
            u, v = v, u
        if s.kind == "plane":
            p, n = (u, v, np.zeros_like(u)), (np.zeros_like(u), np.zeros_like(u), -np.ones_like(u))
        elif s.kind == "cone":
            p, n = self._cone(u, v)
        else:
            p, n = self._tube(u, v)
        p = [a - off * b * -1.0 for a, b in zip(p, n, strict=True)]
        if s.upright:
            p, n = [p[1], p[0], p[2]], [n[1], n[0], n[2]]
        return np.stack(p, axis=-1), np.stack(n, axis=-1)

    def _tube(self, u: Any, v: Any) -> tuple[Any, Any]:
        """Round a cylinder or an oval whose axis runs along u."""
        s = self.s
        wide, deep = s.radius, s.radius * (s.flatness if s.kind == "oval" else 1.0)
        t = np.linspace(-np.pi, np.pi, 20001)
        step = np.sqrt((wide * np.cos(t)) ** 2 + (deep * np.sin(t)) ** 2)
        arc = np.concatenate([[0], np.cumsum((step[1:] + step[:-1]) / 2 * np.diff(t))])
        arc -= arc[len(arc) // 2]
        at = np.interp(v, arc, t)
        sin, cos = np.sin(at), np.cos(at)
        nz, ny = -wide * cos, deep * sin
        size = np.hypot(ny, nz)
        return (u, wide * sin, deep * (1 - cos)), (np.zeros_like(u), ny / size, nz / size)

    def _cone(self, u: Any, v: Any) -> tuple[Any, Any]:
        s = self.s
        half = np.deg2rad(s.half_angle)
        slant = s.radius / np.sin(half)
        rho = np.hypot(u + slant, v)
        turn = np.arctan2(v, u + slant) / np.sin(half)
        r, along = rho * np.sin(half), rho * np.cos(half)
        # upright on its axis; then leant so that the middle generator lies in the sheet's plane
        px, py, pz = along, r * np.sin(turn), -r * np.cos(turn)
        nx, ny, nz = (
            -np.sin(half) * np.ones_like(r),
            np.cos(half) * np.sin(turn),
            -np.cos(half) * np.cos(turn),
        )
        c, d = np.cos(half), np.sin(half)
        lean = lambda a, b: (c * a - d * b, d * a + c * b)  # noqa: E731
        (px, pz), (nx, nz) = lean(px, pz), lean(nx, nz)
        return (px - slant, py, pz), (nx, ny, nz)

    def lands(self, x: Any, y: Any, off: Any) -> tuple[Any, Any]:
        """Pixels (..., 2) and cosines of view."""
        p, n = self.place(x, y, off)
        ahead = p - self.eye
        cosine = -(ahead * n).sum(axis=-1) / np.linalg.norm(ahead, axis=-1)
        c = ahead @ self.turned.T
        a, b = c[..., 0] / c[..., 2], c[..., 1] / c[..., 2]
        return np.stack(self._bent(a, b), axis=-1), cosine

    def _bent(self, a: Any, b: Any) -> tuple[Any, Any]:
        s = self.s
        r = np.maximum(np.hypot(a, b), 1e-12)
        k = np.arctan(r * self.bend) / (r * self.bend)
        a, b = a * k, b * k
        if s.decentre:
            q = a * a + b * b
            a, b = a + s.decentre * 2 * a * b, b + s.decentre * (q + 2 * b * b)
        return (
            self.focal * a + (s.size[0] - 1) / 2 + s.off_middle[0],
            self.focal * b + (s.size[1] - 1) / 2 + s.off_middle[1],
        )

    def told(self) -> dict[str, Any]:
        """The lens as a calibration with Brown's polynomial would tell it."""
        s = self.s
        wide = np.hypot(*s.size) / 2 / self.focal * 1.05
        g = np.linspace(-wide, wide, 41)
        a, b = (v.ravel() for v in np.meshgrid(g, g))
        keep = np.hypot(a, b) < wide
        a, b = a[keep], b[keep]
        px, py = self._bent(a, b)
        middle = [(n - 1) / 2 + m for n, m in zip(s.size, s.off_middle, strict=True)]
        da, db = (px - middle[0]) / self.focal - a, (py - middle[1]) / self.focal - b
        q = a * a + b * b
        rows_a = np.column_stack([a * q, a * q**2, 2 * a * b, q + 2 * a * a, a * q**3])
        rows_b = np.column_stack([b * q, b * q**2, q + 2 * b * b, 2 * a * b, b * q**3])
        fit = np.linalg.lstsq(np.vstack([rows_a, rows_b]), np.concatenate([da, db]), rcond=None)[0]
        return {
            "matrix": [[self.focal, 0, middle[0]], [0, self.focal, middle[1]], [0, 0, 1]],
            "distortion": [float(v) for v in fit],
            "image_size": list(s.size),
        }


@dataclass(frozen=True)
class _Paint:
    """The sheet, 0..1, `SPOTS` to the mm: gilt, dirt, paper, and the white on it."""

    gilt: F32
    dirt: F32
    paper: F32
    white: F32

    @classmethod
    def of(cls, gilt: BaseGeometry, sheet: Any, s: Setting, rng: np.random.Generator) -> _Paint:
        w, h = (round((v + 2 * RIM_MM) * SPOTS) for v in sheet.size_mm)
        window = shapely.Polygon(sheet.window_mm) if len(sheet.window_mm) else shapely.Polygon()
        split = sheet.size_mm[0] * 0.4

        def moved(xy: F) -> F:
            xy = np.asarray(xy, np.float64)
            middle = sheet.size_mm[0] / 2
            return np.column_stack([middle + (xy[:, 0] - middle) * (1 + s.pulled), xy[:, 1]])

        whole = shapely.Polygon(moved(sheet.outline_mm)).difference(
            shapely.Polygon(moved(window.exterior.coords)) if not window.is_empty else window
        )
        cells: list[BaseGeometry] = []
        book = cv2.aruco.getPredefinedDictionary(
            getattr(cv2.aruco, sheet.layout.markers[0].dictionary)
        )
        for marker in sheet.layout.markers:
            ring = np.asarray(marker.corners_mm)
            dark = cv2.aruco.generateImageMarker(book, marker.id, 8) < 128
            step = (ring.max(axis=0) - ring.min(axis=0)) / 8
            shift = np.array(s.slid) if ring[:, 0].mean() < split else np.zeros(2)
            for r, c in zip(*np.nonzero(dark), strict=True):
                low = ring.min(axis=0) + step * (c, r)
                corner = low + step * np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
                cells.append(shapely.Polygon(moved(corner + shift)))
        dirt = np.zeros((h, w), np.float32)
        for _ in range(s.specks):
            x, y = int(rng.uniform(0, w)), int(rng.uniform(0, h))
            r = rng.uniform(0.08, 0.5) * SPOTS
            dirt[max(0, y - int(r)) : y + int(r) + 1, max(0, x - int(r * 0.7)) : x + int(r)] = 1
        return cls(
            _filled([gilt], (w, h)),
            cv2.blur(dirt, (5, 5)),
            _filled([whole], (w, h)),
            1.0 - _filled([shapely.union_all(cells)], (w, h)),
        )


def _filled(shapes: list[BaseGeometry], size: tuple[int, int]) -> F32:
    """Shapes with smooth edges: sixteen shifted drawings, averaged."""
    w, h = size
    total = np.zeros((h, w), np.uint16)
    for n in range(16):
        shift = (np.array([n % 4, n // 4]) + 0.5) / 4
        page = np.zeros((h, w), np.uint8)
        for shape in shapes:
            for part in shapely.get_parts(shape):
                rings = [
                    np.round(((np.asarray(r.coords) + RIM_MM) * SPOTS - shift) * 256).astype(
                        np.int32
                    )
                    for r in (part.exterior, *part.interiors)
                ]
                cv2.fillPoly(page, rings, 1, shift=8)
        total += page
    return (total / 16).astype(np.float32)


def _gathered_light(view: _View, paint: _Paint, s: Setting, rng: np.random.Generator) -> F32:
    """Mean light of the spots that fall on each pixel, linear."""
    w, h = s.size
    sums = np.zeros((h * w, 3))
    count = np.zeros(h * w)
    gold = np.array(s.gold) * np.array([1.0, 0.86, 0.62]) ** s.brown
    sheet = strip_sheet(s.piece).size_mm  # type: ignore[arg-type]
    for top in range(0, paint.gilt.shape[0], 128):
        rows = np.arange(top, min(top + 128, paint.gilt.shape[0]))
        x, y = np.meshgrid(
            (np.arange(paint.gilt.shape[1]) + 0.5) / SPOTS - RIM_MM, (rows + 0.5) / SPOTS - RIM_MM
        )
        part = slice(top, top + len(rows))
        paper = paint.paper[part]
        off = np.zeros_like(x)
        if s.buckle:
            u = np.clip(x / sheet[0], 0, 1)
            off = s.buckle * np.sin(np.pi * u) ** 2 * (paper > 0.5)
        px, cosine = view.lands(x, y, off)
        ground = _lit(view, x, y, off, cosine, s)
        g, d = paint.gilt[part][..., None], paint.dirt[part][..., None]
        bare = np.array([0.011, 0.010, 0.009]) + s.grey_film
        rust = np.array([0.10, 0.045, 0.018])
        face = (bare * (1 - g) + gold * g) * (1 - 0.8 * d) + rust * 0.8 * d
        sheet_light = np.array([0.93, 0.92, 0.89]) * (0.035 + 0.965 * paint.white[part][..., None])
        colour = face * (1 - paper[..., None]) + sheet_light * paper[..., None]
        lit = colour * ground[0][..., None] + (1 - paper[..., None]) * ground[1][..., None]
        i, j = np.round(px[..., 0]), np.round(px[..., 1])
        good = (i >= 0) & (i < w) & (j >= 0) & (j < h) & (cosine > 0.03)
        at = (j[good] * w + i[good]).astype(np.int64)
        count += np.bincount(at, minlength=h * w)
        for k in range(3):
            sums[:, k] += np.bincount(at, lit[..., k][good], minlength=h * w)
    out = np.where(count[:, None] > 0, sums / np.maximum(count, 1)[:, None], np.nan)
    picture = out.reshape(h, w, 3)
    empty = np.isnan(picture[..., 0])
    backdrop = 0.03 + 0.01 * rng.standard_normal((h // 40 + 1, w // 40 + 1))
    wall = cv2.resize(backdrop.astype(np.float32), (w, h), interpolation=cv2.INTER_LINEAR)
    near = cv2.blur(np.where(empty, 0, picture[..., 1]).astype(np.float32), (3, 3))
    lone = empty & (near > 0)
    filled = np.where(empty[..., None], wall[..., None], picture).astype(np.float32)
    if lone.any():  # a single pixel that no spot fell on
        filled[lone] = cv2.medianBlur(filled, 3)[lone]
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    r2 = ((xx - w / 2) ** 2 + (yy - h / 2) ** 2) / view.focal**2
    return filled * (1.0 / (1.0 + s.corners * r2) ** 2)[..., None]


def _lit(view: _View, x: Any, y: Any, off: Any, cosine: Any, s: Setting) -> tuple[Any, Any]:
    """Light on a dull surface there, and what a polished one mirrors."""
    p, n = view.place(x, y, off)
    lamp = np.array([s.lamp[0], s.lamp[1], -s.lamp[2]])
    to = lamp - p
    far = np.linalg.norm(to, axis=-1)
    square = np.clip((to * n).sum(axis=-1) / far, 0, 1) * (np.linalg.norm(lamp) / far) ** 2
    dull = s.exposure * (s.lamp_share * square + (1 - s.lamp_share) * (0.4 + 0.6 * cosine))
    mirrored = np.zeros_like(dull)
    if s.window is not None:
        ahead = p - view.eye
        ahead = ahead / np.linalg.norm(ahead, axis=-1, keepdims=True)
        back = ahead - 2 * (ahead * n).sum(axis=-1, keepdims=True) * n
        tx, ty, wide, strength = s.window
        dx, dy = back[..., 0] / -back[..., 2] - tx, back[..., 1] / -back[..., 2] - ty
        edge = np.maximum(np.abs(dx), np.abs(dy))
        mirrored = strength / (1 + np.exp(np.clip((edge - wide) / 0.012, -50, 50)))
    return dull, mirrored


def _film(light: F32, s: Setting, rng: np.random.Generator) -> NDArray[np.uint8]:
    """From light to a stored picture."""
    if s.ghost[2]:
        move = np.array([[1, 0, s.ghost[0]], [0, 1, s.ghost[1]]], np.float32)
        other = cv2.warpAffine(light, move, s.size, borderMode=cv2.BORDER_REPLICATE)
        light = (1 - s.ghost[2]) * light + s.ghost[2] * other
    if s.out_of_focus:
        light = cv2.filter2D(light, -1, _ring_kernel(s.out_of_focus))
    if s.focus_falls:
        light = _soft_in_the_middle(light, s.focus_falls)
    if s.shaken:
        light = cv2.filter2D(light, -1, _path_kernel(s.shaken))
    if s.twist:
        total = np.zeros_like(light)
        for a in np.linspace(-s.twist / 2, s.twist / 2, 15):
            m = cv2.getRotationMatrix2D((s.size[0] / 2, s.size[1] / 2), a, 1.0)
            total += cv2.warpAffine(light, m, s.size, borderMode=cv2.BORDER_REPLICATE)
        light = total / 15
    light = cv2.GaussianBlur(light, (0, 0), s.soft)
    full = 9000.0 / s.grains**2
    photons = rng.poisson(np.clip(light, 0, 4) * full).astype(np.float32)
    photons += rng.standard_normal(light.shape, np.float32) * 3.0
    photons += rng.standard_normal((light.shape[0], 1, 1), np.float32) * 1.0
    tone = np.clip(photons / full, 0, 1)
    tone = np.where(tone <= 0.0031308, 12.92 * tone, 1.055 * tone ** (1 / 2.4) - 0.055)
    tone = (1 - s.contrast) * tone + s.contrast * tone * tone * (3 - 2 * tone)
    done, stored = cv2.imencode(
        ".jpg",
        (np.clip(tone[..., ::-1], 0, 1) * 255 + 0.5).astype(np.uint8),
        [cv2.IMWRITE_JPEG_QUALITY, s.jpeg],
    )
    assert done
    return np.ascontiguousarray(cv2.imdecode(stored, cv2.IMREAD_COLOR)[..., ::-1])


def _ring_kernel(radius: float) -> F32:
    """An open lens out of focus: a disc a little brighter at its rim."""
    reach = int(np.ceil(radius)) + 1
    g = np.arange(-reach, reach + 1)
    total = np.zeros((2 * reach + 1, 2 * reach + 1))
    for dx in np.linspace(-0.4, 0.4, 5):
        for dy in np.linspace(-0.4, 0.4, 5):
            r = np.hypot(g[None, :] + dx, g[:, None] + dy) / radius
            total += np.where(r <= 1, 0.7 + 0.3 * r**2, 0)
    return (total / total.sum()).astype(np.float32)


def _path_kernel(path: tuple[float, ...]) -> F32:
    nodes = np.array(path).reshape(-1, 2)
    t = np.linspace(0, len(nodes) - 1, 400)
    xy = np.column_stack([np.interp(t, np.arange(len(nodes)), nodes[:, k]) for k in (0, 1)])
    xy -= xy.mean(axis=0)
    reach = int(np.ceil(np.abs(xy).max())) + 2
    held, _, _ = np.histogram2d(
        xy[:, 1], xy[:, 0], bins=2 * reach + 1, range=[[-reach - 0.5, reach + 0.5]] * 2
    )
    return cv2.GaussianBlur((held / held.sum()).astype(np.float32), (0, 0), 0.4)


def _soft_in_the_middle(light: F32, radius: float) -> F32:
    """The strip's plane sharp, what it encloses not: as where the lens hunted for a reflection."""
    h, w = light.shape[:2]
    soft = cv2.filter2D(light, -1, _ring_kernel(radius))
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    r = np.maximum(np.abs(xx / w - 0.5) / 0.30, np.abs(yy / h - 0.5) / 0.22)
    share = 1 / (1 + np.exp((r - 1.0) / 0.04))
    return light * (1 - share[..., None]) + soft * share[..., None]
