"""Synthetic ornament and photographs of it, sharing nothing with the solver.

The ornament is built as polygons in millimetres; a pinhole camera with Brown's distortion looks at
it on a plane, cylinder or cone; light, mirror-like reflections, scratches, blur, noise, gamma and
JPEG are added in that order. Everything random comes from the generator passed in.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from ironlace.photographs.scale_strip import StripSheet, marker_rings_mm

F = NDArray[np.float64]


# --- the ornament -----------------------------------------------------------------------------


def stroke(centre: F, width: F) -> BaseGeometry:
    """A stroke of varying width along a polyline: offset outline with round ends."""
    tangent = np.gradient(centre, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    left = centre + normal * width[:, None] / 2
    right = centre - normal * width[:, None] / 2
    quads = np.stack([left[:-1], left[1:], right[1:], right[:-1]], axis=1)
    parts = [g for g in shapely.polygons(quads) if g.is_valid]
    parts += [
        shapely.Point(c).buffer(w / 2, quad_segs=16) for c, w in zip(centre, width, strict=True)
    ]
    return shapely.union_all(parts)


def spiral(start: F, heading: float, length: float, k0: float, k1: float, n: int = 90) -> F:
    """A curve whose curvature runs from k0 to k1 (1/mm): the engraver's scroll."""
    s = np.linspace(0.0, length, n)
    angle = heading + k0 * s + (k1 - k0) * s**2 / (2 * length)
    step = np.column_stack([np.cos(angle), np.sin(angle)]) * (length / (n - 1))
    return np.vstack([start, start + np.cumsum((step[:-1] + step[1:]) / 2, axis=0)])


@dataclass(frozen=True)
class Ornament:
    """Truth: the gilt as one geometry, and centre lines with widths of its hairlines."""

    gilt: MultiPolygon
    hairlines: list[tuple[F, float]] = field(default_factory=list)

    def outline(self, step: float = 0.05) -> F:
        """Points along the whole outline, ``step`` mm apart."""
        lines = shapely.get_parts(self.gilt.boundary)
        points = []
        for line in lines:
            n = max(4, int(line.length / step))
            at = (np.arange(n) + 0.5) * line.length / n
            points.append(shapely.get_coordinates(shapely.line_interpolate_point(line, at)))
        return np.vstack(points)


def scrollwork(
    rng: np.random.Generator,
    box: tuple[float, float, float, float],
    *,
    scrolls: int = 10,
    mirror: bool = False,
) -> Ornament:
    """Scrolls with leaves, hairlines and dots inside ``box`` (left, top, right, bottom mm)."""
    left, top, right, bottom = box
    inner = shapely.box(left, top, right, bottom)
    middle = (left + right) / 2
    field_box = (left, top, middle if mirror else right, bottom)
    parts: list[BaseGeometry] = []
    hairs: list[tuple[F, float]] = []
    hair_zone: list[BaseGeometry] = []
    tries = 0
    while len(parts) < scrolls and tries < scrolls * 60:
        tries += 1
        p = np.array(
            [rng.uniform(field_box[0] + 4, field_box[2] - 4), rng.uniform(top + 4, bottom - 4)]
        )
        sign = rng.choice([-1.0, 1.0])
        length = rng.uniform(20, 45)
        c = spiral(p, rng.uniform(0, 2 * np.pi), length, 0.02 * sign, sign * rng.uniform(0.2, 0.45))
        if not shapely.LineString(c).within(shapely.box(*field_box).buffer(-2.2)):
            continue
        t = np.linspace(0, 1, len(c))
        w = rng.uniform(0.8, 2.2) * np.sin(np.pi * np.clip(t * 0.9 + 0.1, 0, 1)) ** 0.7 + 0.35
        g = stroke(c, w)
        if any(g.distance(o) < 0.5 for o in parts):
            continue
        leaves = []
        for at in rng.choice(np.arange(15, len(c) - 25), size=3, replace=False):
            d = c[at + 1] - c[at]
            h = np.arctan2(d[1], d[0]) - sign * rng.uniform(0.5, 0.9)
            lc = spiral(c[at], h, rng.uniform(4, 8), -sign * 0.05, -sign * 0.2, 30)
            tt = np.linspace(0, 1, 30 + 0)
            leaf = stroke(lc[:30], 0.3 + 1.5 * np.sin(np.pi * tt) ** 1.2)
            if leaf.within(shapely.box(*field_box).buffer(-1)) and not any(
                leaf.distance(o) < 0.5 for o in parts
            ):
                leaves.append(leaf)
        parts.append(shapely.union_all([g, *leaves]))
    taken = shapely.union_all(parts)
    tries = 0
    while len(hairs) < max(3, scrolls // 2) and tries < 400:
        tries += 1
        p = np.array(
            [rng.uniform(field_box[0] + 3, field_box[2] - 3), rng.uniform(top + 3, bottom - 3)]
        )
        c = spiral(
            p, rng.uniform(0, 2 * np.pi), rng.uniform(12, 25), 0.02, rng.uniform(-0.15, 0.15)
        )
        w = rng.uniform(0.3, 0.5)
        line = shapely.LineString(c)
        if not line.within(shapely.box(*field_box).buffer(-1.0)) or line.distance(taken) < 0.8:
            continue
        hairs.append((c, w))
        zone = line.buffer(w / 2, quad_segs=16)
        hair_zone.append(zone)
        taken = taken.union(zone)
    dots = []
    tries = 0
    while len(dots) < scrolls and tries < 400:
        tries += 1
        p = shapely.Point(
            rng.uniform(field_box[0] + 2, field_box[2] - 2), rng.uniform(top + 2, bottom - 2)
        ).buffer(rng.uniform(0.4, 1.2), quad_segs=24)
        if p.distance(taken) > 0.6 and p.within(shapely.box(*field_box).buffer(-1)):
            dots.append(p)
            taken = taken.union(p)
    if mirror:
        taken = shapely.union_all(
            [taken, shapely.transform(taken, lambda q: q * (-1, 1) + (2 * middle, 0))]
        )
        hairs += [(c * (-1, 1) + (2 * middle, 0), w) for c, w in hairs]
    return Ornament(_multi(taken.intersection(inner)), hairs)


def _multi(g: BaseGeometry) -> MultiPolygon:
    polygons = [p for p in shapely.get_parts(g) if isinstance(p, Polygon) and p.area > 0.02]
    return MultiPolygon([p.simplify(0.002) for p in polygons])


def raster(
    rings: list[F], size: tuple[float, float], ppm: float, origin: tuple[float, float]
) -> NDArray[np.uint8]:
    """Exact area coverage (0..255) of rings filled even-odd, by Agg; ``size`` in mm."""
    from matplotlib.backends.backend_agg import RendererAgg
    from matplotlib.path import Path
    from matplotlib.transforms import IdentityTransform

    w, h = round(size[0] * ppm), round(size[1] * ppm)
    renderer = RendererAgg(w, h, 72)
    gc = renderer.new_gc()
    gc.set_linewidth(0)
    gc.set_antialiased(True)
    for polygon in rings:  # each entry: list of rings of one polygon, filled together
        verts, codes = [], []
        for r in polygon:
            q = (np.asarray(r) - origin) * ppm
            q = np.column_stack([q[:, 0], h - q[:, 1]])
            verts += [q, q[:1]]
            codes += [np.r_[Path.MOVETO, np.full(len(q) - 1, Path.LINETO)], [Path.CLOSEPOLY]]
        path = Path(np.vstack(verts), np.concatenate(codes))
        renderer.draw_path(gc, path, IdentityTransform(), (1.0, 1.0, 1.0, 1.0))
    return np.asarray(renderer.buffer_rgba())[:, :, 3].copy()


# --- the camera ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Shot:
    """How a photograph was taken."""

    width: int = 4000
    height: int = 3000
    focal_px: float = 4400.0
    principal: tuple[float, float] = (12.0, -9.0)  # off the middle, px
    distortion: tuple[float, float, float, float, float] = (-0.08, 0.03, 0.0, 0.0, 0.0)
    tilt_deg: float = 12.0
    tilt_way_deg: float = 40.0
    roll_deg: float = 3.0
    aim_mm: tuple[float, float] = (128.0, 93.0)
    distance_mm: float = 275.0
    surface: str = "plane"
    radius_mm: float = 0.0
    taper: float = 0.0  # sine of the half angle of a cone
    axis_deg: float = 90.0  # direction of the axis in the unrolled plane
    blur_px: float = 0.7
    noise: float = 0.004
    jpeg: int = 92
    gold: tuple[float, float, float] = (0.46, 0.31, 0.10)
    gold_mottle: float = 0.12
    japan: float = 0.018
    uneven: float = 0.5
    reflections: float = 0.12
    scratches: int = 8
    glare: bool = True
    exposure: float = 0.85
    warm: tuple[float, float, float] = (1.05, 1.0, 0.9)

    @property
    def lens(self) -> dict[str, list]:
        cx, cy = self.width / 2 - 0.5 + self.principal[0], self.height / 2 - 0.5 + self.principal[1]
        return {
            "matrix": [[self.focal_px, 0, cx], [0, self.focal_px, cy], [0, 0, 1]],
            "distortion": list(self.distortion),
        }


def _rays(shot: Shot, u: F, v: F) -> tuple[F, F]:
    """Undistorted normalised directions of pixels, by fixed-point inversion of Brown's model."""
    m = shot.lens["matrix"]
    xd, yd = (u - m[0][2]) / m[0][0], (v - m[1][2]) / m[1][1]
    k1, k2, p1, p2, k3 = shot.distortion
    x, y = xd.copy(), yd.copy()
    for _ in range(12):
        r2 = x * x + y * y
        radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        dx = 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
        dy = p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
        x, y = (xd - dx) / radial, (yd - dy) / radial
    return x, y


def _camera(shot: Shot) -> tuple[F, F]:
    """Camera axes (rows, in the object's frame) and place; object z points away from the viewer."""
    way, tilt, roll = (np.deg2rad(a) for a in (shot.tilt_way_deg, shot.tilt_deg, shot.roll_deg))
    away = np.array([np.sin(tilt) * np.cos(way), np.sin(tilt) * np.sin(way), np.cos(tilt)])
    place = np.array([*shot.aim_mm, 0.0]) - away * shot.distance_mm
    right = np.cross([0.0, 1.0, 0.0], away)
    right /= np.linalg.norm(right)
    down = np.cross(away, right)
    c, s = np.cos(roll), np.sin(roll)
    return np.array([c * right + s * down, -s * right + c * down, away]), place


def _unroll(shot: Shot, origin: F, direction: F) -> tuple[F, F, F]:
    """Where rays meet the surface: unrolled x, y (NaN if not at all), cosine of incidence.

    Cylinder and cone touch the plane z = 0 along the line through the aim point in the axis
    direction.
    """
    aim = np.array([*shot.aim_mm, 0.0])
    if shot.surface == "plane":
        t = -origin[2] / direction[..., 2]
        hit = origin + t[..., None] * direction
        return hit[..., 0], hit[..., 1], np.abs(direction[..., 2])
    a = np.deg2rad(shot.axis_deg)
    along, across = np.array([np.cos(a), np.sin(a), 0]), np.array([-np.sin(a), np.cos(a), 0])
    alpha = np.arcsin(shot.taper)
    # axis of the solid: the generator through the aim point turned by the half angle
    axis = np.cos(alpha) * along - np.sin(alpha) * np.array([0, 0, 1.0])
    out = np.cross(across, axis)  # radial direction at the touching line, towards the viewer
    if out[2] > 0:
        out = -out
    base = aim - out * shot.radius_mm  # on the axis, abreast of the aim point
    q = origin - base
    tan = np.tan(alpha)
    qa, da = q @ axis, direction @ axis
    qr, dr = q - qa * axis, direction - da[..., None] * axis
    rr = shot.radius_mm + tan * qa
    A = np.sum(dr * dr, -1) - (tan * da) ** 2
    B = np.sum(dr * qr, -1) - rr * tan * da
    C = np.sum(qr * qr) - rr**2
    disc = B * B - A * C
    t = np.where(disc > 0, (-B - np.sqrt(np.maximum(disc, 0))) / A, np.nan)
    hit = q + t[..., None] * direction
    h = hit @ axis
    radial = hit - h[..., None] * axis
    psi = np.arctan2(radial @ across, radial @ out)
    normal = (
        radial / np.linalg.norm(radial, axis=-1, keepdims=True) * np.cos(alpha)
        - np.sin(alpha) * axis
    )
    cosine = -np.sum(normal * direction, -1)
    if abs(shot.taper) < 1e-9:
        s, g = shot.radius_mm * psi, h
    else:
        rho0 = shot.radius_mm / np.sin(alpha)
        rho = rho0 + h / np.cos(alpha)
        phi = psi * np.sin(alpha)
        s, g = rho * np.sin(phi), rho * np.cos(phi) - rho0
    x = aim[0] + g * along[0] + s * across[0]
    y = aim[1] + g * along[1] + s * across[1]
    return x, y, cosine


def photograph(
    ornament: Ornament | None,
    sheet: StripSheet,
    shot: Shot,
    rng: np.random.Generator,
    *,
    coverage: tuple[NDArray[np.uint8], float, tuple[float, float]] | None = None,
    oversample: int = 2,
    texture_ppm: float = 40.0,
) -> NDArray[np.uint8]:
    """An 8-bit sRGB photograph, HxWx3, of the ornament with the strip laid on it."""
    k, step = oversample, 8
    H, W = shot.height * k, shot.width * k
    gu, gv = np.meshgrid(np.arange(-step, W + 2 * step, step), np.arange(-step, H + 2 * step, step))
    u, v = (gu + 0.5) / k - 0.5, (gv + 0.5) / k - 0.5
    x, y = _rays(shot, u, v)
    axes, place = _camera(shot)
    d = np.stack([x, y, np.ones_like(x)], -1) @ axes
    d /= np.linalg.norm(d, axis=-1, keepdims=True)
    X, Y, cosine = _unroll(shot, place, d)
    bad = ~np.isfinite(X) | (cosine < 0.05)
    X[bad], Y[bad], cosine[bad] = -1e4, -1e4, 0.0

    def full(a: F) -> NDArray[np.float32]:
        # linear: OpenCV's cubic kernel does not reproduce a straight ramp and would ripple the map
        big = cv2.resize(
            a.astype(np.float32),
            (a.shape[1] * step, a.shape[0] * step),
            interpolation=cv2.INTER_LINEAR,
        )
        # resize centres samples on pixel blocks: sample (i) sits at (i + 0.5) * step - 0.5
        m = np.float32([[1, 0, -(step + (step - 1) / 2.0)], [0, 1, -(step + (step - 1) / 2.0)]])
        return cv2.warpAffine(big, m, (W, H), flags=cv2.INTER_LINEAR)

    mx, my = full(X), full(Y)
    outline = np.asarray(sheet.outline_mm)
    lo, hi = outline.min(0) - 4, outline.max(0) + 4
    if ornament is not None and coverage is None:
        b = np.array(ornament.gilt.bounds)
        lo, hi = np.minimum(lo, b[:2] - 2), np.maximum(hi, b[2:] + 2)
    size = tuple(hi - lo)

    def seen(image: NDArray[np.uint8], ppm: float, origin: F) -> NDArray[np.float32]:
        a = cv2.remap(
            image,
            (mx - np.float32(origin[0])) * np.float32(ppm) - np.float32(0.5),
            (my - np.float32(origin[1])) * np.float32(ppm) - np.float32(0.5),
            cv2.INTER_LINEAR,
        )
        return (
            cv2.resize(a, (shot.width, shot.height), interpolation=cv2.INTER_AREA) / np.float32(255)
        ).astype(np.float32)

    paper_rings = [[sheet.outline_mm, *([sheet.window_mm] if sheet.window_mm else [])]]
    paper = seen(raster(_holes(paper_rings), size, texture_ppm, lo), texture_ppm, lo)
    ink_rings = [marker_rings_mm(m) for m in sheet.layout.markers]
    ink = seen(raster(ink_rings, size, texture_ppm, lo), texture_ppm, lo)
    if coverage is not None:
        gilt = seen(coverage[0], coverage[1], np.asarray(coverage[2]))
    elif ornament is not None:
        rings = [
            [p.exterior.coords[:-1], *[i.coords[:-1] for i in p.interiors]]
            for p in ornament.gilt.geoms
        ]
        gilt = seen(raster(_holes(rings), size, texture_ppm, lo), texture_ppm, lo)
    else:
        gilt = np.zeros_like(paper)
    gilt = gilt * (1 - paper)

    h, w = shot.height, shot.width
    vv, uu = np.mgrid[0:h, 0:w].astype(np.float32)
    a, b2 = rng.uniform(-1, 1, 2)
    nx, ny = (uu - w / 2) / w, (vv - h / 2) / w
    light = 1 + shot.uneven * (a * nx + b2 * ny) * 1.2 - shot.uneven * 0.5 * (nx**2 + ny**2) * 2
    cos_small = cv2.resize(cosine.astype(np.float32), (w, h))
    light = np.clip(light, 0.25, None) * (0.25 + 0.75 * np.clip(cos_small, 0, 1))
    mottle = _cloud(rng, h, w, 90) * shot.gold_mottle
    fine = _cloud(rng, h, w, 4) * shot.gold_mottle * 0.5
    gold = np.asarray(shot.gold, np.float32)
    img = np.empty((h, w, 3), np.float32)
    for c in range(3):
        g = gold[c] * (1 + mottle + fine)
        base = shot.japan * (1 - gilt) + g * gilt
        img[..., c] = base
    # mirror-like reflections in the japan: a window with sharp bars, and a soft lamp
    mirror = np.zeros((h, w), np.float32)
    if shot.reflections:
        for _ in range(2):
            cx, cy = rng.uniform(0.1, 0.9) * w, rng.uniform(0.1, 0.9) * h
            rect = cv2.boxPoints(
                (
                    (cx, cy),
                    (w * rng.uniform(0.1, 0.25), h * rng.uniform(0.15, 0.4)),
                    rng.uniform(-30, 30),
                )
            )
            m = np.zeros((h, w), np.uint8)
            cv2.fillConvexPoly(m, rect.astype(np.int32), 255)
            cv2.line(
                m, *(tuple(int(t) for t in q) for q in (rect[0], rect[2])), 0, max(2, w // 150)
            )
            mirror += (
                cv2.GaussianBlur(m, (0, 0), w / 700)
                / 255
                * rng.uniform(0.4, 1.0)
                * shot.reflections
            )
        mirror += (
            shot.reflections
            * 0.5
            * np.exp(-(((uu - 0.3 * w) / (0.15 * w)) ** 2 + ((vv - 0.7 * h) / (0.1 * w)) ** 2))
        )
    shine = (1 - 0.75 * gilt) * mirror
    if shot.scratches:
        m = np.zeros((h, w), np.uint8)
        for _ in range(shot.scratches):
            p = rng.uniform(0.15, 0.85, 2) * (w, h)
            q = p + rng.normal(0, 0.12, 2) * w
            cv2.line(
                m,
                tuple(p.astype(int)),
                tuple(q.astype(int)),
                255,
                int(rng.integers(1, 4)),
                cv2.LINE_AA,
            )
        s = (m / np.float32(255)) * (1 - paper)
        img = img * (1 - 0.8 * s[..., None]) + s[..., None] * np.float32([0.20, 0.19, 0.18])
    img += shine[..., None] * np.float32([0.95, 1.0, 1.08])
    paper_col = np.float32([0.86, 0.86, 0.84])
    ink_part = ink[..., None]
    img = img * (1 - paper[..., None]) + paper[..., None] * (
        paper_col * (1 - ink_part) + 0.035 * ink_part
    )
    img *= light[..., None] * np.asarray(shot.warm, np.float32) * shot.exposure
    if shot.glare:
        gx, gy = rng.uniform(0.3, 0.7) * w, rng.uniform(0.35, 0.65) * h
        img += (1.3 * np.exp(-(((uu - gx) / (0.012 * w)) ** 2 + ((vv - gy) / (0.012 * w)) ** 2)))[
            ..., None
        ]
    img = cv2.GaussianBlur(img, (0, 0), shot.blur_px)
    img += rng.normal(0, 1, img.shape).astype(np.float32) * (
        shot.noise * np.sqrt(np.clip(img, 0, 1) + 0.02)
    )
    img = np.clip(img, 0, 1)
    encoded = np.where(
        img <= 0.0031308, img * 12.92, 1.055 * np.maximum(img, 1e-9) ** (1 / 2.4) - 0.055
    )
    out = np.round(encoded * 255).astype(np.uint8)
    if shot.jpeg:
        _, data = cv2.imencode(".jpg", out[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, shot.jpeg])
        out = np.ascontiguousarray(cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1])
    return out


def _holes(polygons: list[list]) -> list[list[F]]:
    """Orient rings so that Agg's non-zero fill leaves holes open."""
    out = []
    for rings in polygons:
        fixed = []
        shapes = [Polygon(r) for r in rings]
        for r, shape in zip(rings, shapes, strict=True):
            q = np.asarray(r, float)
            n = sum(o is not shape and o.covers(shape) for o in shapes) % 2
            nxt = np.roll(q, -1, axis=0)
            area = np.sum(q[:, 0] * nxt[:, 1] - nxt[:, 0] * q[:, 1])
            fixed.append(q if (area > 0) == (n == 0) else q[::-1])
        out.append(fixed)
    return out


def _cloud(rng: np.random.Generator, h: int, w: int, grain: int) -> NDArray[np.float32]:
    small = rng.normal(0, 1, (h // grain + 3, w // grain + 3)).astype(np.float32)
    return cv2.resize(small, (w, h), interpolation=cv2.INTER_CUBIC)


# --- the judge ----------------------------------------------------------------------------------


def outline_errors(found: list[F], truth: Ornament, step: float = 0.05) -> tuple[F, F]:
    """Distances mm from found outline points to the true outline, and from true to found."""
    rings = [shapely.LinearRing(r) for r in found if len(r) >= 3]
    pts = []
    for ring in rings:
        n = max(4, int(ring.length / step))
        pts.append(
            shapely.get_coordinates(
                shapely.line_interpolate_point(ring, (np.arange(n) + 0.5) * ring.length / n)
            )
        )
    found_points = np.vstack(pts)
    true_lines = shapely.MultiLineString(
        [list(r.coords) for p in truth.gilt.geoms for r in (p.exterior, *p.interiors)]
    )
    return _distance_to(found_points, true_lines), _distance_to(
        truth.outline(step), shapely.MultiLineString([list(r.coords) for r in rings])
    )


def _distance_to(points: F, lines: BaseGeometry) -> F:
    segments = []
    for line in shapely.get_parts(lines):
        c = shapely.get_coordinates(line)
        segments.append(np.stack([c[:-1], c[1:]], axis=1))
    tree = shapely.STRtree(shapely.linestrings(np.vstack(segments)))
    i, d = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    out = np.full(len(points), np.inf)
    out[i[0]] = d
    return out


def glyphs(text: str, font: str, height_mm: float, left_bottom: tuple[float, float]) -> Ornament:
    """Outlines of letters or floral signs of an open font as an ornament."""
    from fontTools.pens.recordingPen import DecomposingRecordingPen
    from fontTools.ttLib import TTFont

    book = TTFont(font)
    names, scale = book.getBestCmap(), height_mm / book["head"].unitsPerEm
    glyph_set = book.getGlyphSet()
    x = 0.0
    shapes = []
    for sign in text:
        pen = DecomposingRecordingPen(glyph_set)
        glyph = glyph_set[names[ord(sign)]]
        glyph.draw(pen)
        area: BaseGeometry = Polygon()
        for ring in _flattened(pen.value):
            placed = ring * (scale, -scale) + (left_bottom[0] + x, left_bottom[1])
            area = area.symmetric_difference(Polygon(placed).buffer(0))
        shapes.append(area)
        x += glyph.width * scale
    return Ornament(_multi(shapely.union_all(shapes)))


def _flattened(commands: list) -> list[F]:
    rings, ring = [], []
    t = np.linspace(0, 1, 25)[1:, None]
    for verb, args in commands:
        if verb == "moveTo":
            ring = [np.asarray(args, float)]
        elif verb == "lineTo":
            ring.append(np.asarray(args, float))
        elif verb == "qCurveTo":
            offs = [np.asarray(a, float) for a in args[:-1]]
            p0 = ring[-1][-1]
            for n, c in enumerate(offs):
                p2 = np.asarray(args[-1], float) if n == len(offs) - 1 else (c + offs[n + 1]) / 2
                ring.append((1 - t) ** 2 * p0 + 2 * t * (1 - t) * c + t**2 * p2)
                p0 = p2
        elif verb == "curveTo":
            p0 = ring[-1][-1]
            a, b, c = (np.asarray(q, float) for q in args)
            ring.append(
                (1 - t) ** 3 * p0 + 3 * t * (1 - t) ** 2 * a + 3 * t**2 * (1 - t) * b + t**3 * c
            )
        elif ring:
            rings.append(np.vstack(ring))
            ring = []
    return rings


# --- wear ---------------------------------------------------------------------------------------


def wear(
    rng: np.random.Generator,
    shape: tuple[int, int],
    ppm: float,
    share: float,
    grain_mm: float = 7.0,
) -> NDArray[np.bool_]:
    """Where paint is lost: ragged blotches ``grain_mm`` wide that take ``share`` of the area."""
    h, w = shape

    def cloud(grain: float) -> NDArray[np.float32]:
        small = rng.normal(0, 1, (int(h / ppm / grain) + 4, int(w / ppm / grain) + 4))
        return cv2.resize(small.astype(np.float32), (w, h), interpolation=cv2.INTER_CUBIC)

    heap = cloud(grain_mm) + 0.45 * cloud(grain_mm / 4) + 0.15 * cloud(grain_mm / 16)
    return heap < np.quantile(heap[::8, ::8], share)


def painted(ornament: Ornament, size: tuple[float, float], ppm: float) -> NDArray[np.uint8]:
    """The ornament as laid, coverage 0..255, with its corner at (0, 0) mm."""
    rings = [
        [p.exterior.coords[:-1], *[i.coords[:-1] for i in p.interiors]] for p in ornament.gilt.geoms
    ]
    return raster(_holes(rings), size, ppm, (0.0, 0.0))


def survives(
    lost: NDArray[np.bool_], ppm: float, ornament: Ornament, points: F, depth: float = 0.12
) -> NDArray[np.bool_]:
    """Whether paint is left just inside the outline at each point of it."""
    offsets = np.array(
        [[np.cos(a), np.sin(a)] for a in np.linspace(0, 2 * np.pi, 12, endpoint=False)]
    )
    votes = np.zeros(len(points))
    count = np.zeros(len(points))
    shapely.prepare(ornament.gilt)
    for o in offsets:
        q = points + o * depth
        inside = shapely.contains_xy(ornament.gilt, q[:, 0], q[:, 1])
        c = np.clip((q * ppm).astype(int), 0, (lost.shape[1] - 1, lost.shape[0] - 1))
        votes += inside & ~lost[c[:, 1], c[:, 0]]
        count += inside
    return votes > 0.5 * np.maximum(count, 1)
