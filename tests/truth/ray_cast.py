"""Photographs made the other way round: a ray from every pixel to the work, nothing shared.

Neither the solver's camera nor the other renderer of these tests is used. Space is right-handed
with z towards the viewer; rays meet plane, cylinder or cone in closed form; the lens bends them by
the division model (Fitzgibbon 2001), whose inverse is no polynomial; light falls off towards the
limb, lamps leave a lobe, bronze browns, rust and pits sit on it; the tone curve is a power.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from ironlace.photographs.scale_strip import StripSheet, strip_sheet

F = NDArray[np.float64]
MAP_PX = 20.0
"""Pixels to the mm of the painted sheet; it is drawn three times finer and averaged."""
FINER = 3
MARGIN_MM = 30.0


# --- ornament -----------------------------------------------------------------------------------


def vine(rng: np.random.Generator, box: tuple[float, float, float, float]) -> BaseGeometry:
    """A waving stem with leaves, its ends tapering in steps."""
    left, top, right, bottom = box
    x = np.linspace(left, right, 240)
    high = (bottom - top) * 0.3
    y = (top + bottom) / 2 + high * np.sin((x - left) / rng.uniform(7, 11) + rng.uniform(0, 6))
    parts = [shapely.LineString(np.column_stack([x, y])).buffer(rng.uniform(0.3, 0.6))]
    for at in range(12, 228, 14):
        leaf = affinity.scale(
            shapely.Point(0, 0).buffer(1.0, quad_segs=24), rng.uniform(1.6, 3), 0.8
        )
        turn = np.degrees(np.arctan2(y[at + 1] - y[at], x[at + 1] - x[at])) + rng.choice([-55, 55])
        leaf = affinity.rotate(affinity.translate(leaf, 2.2, 0), turn, origin=(0, 0))
        parts.append(affinity.translate(leaf, x[at], y[at]))
    return shapely.union_all(parts)


def fret(rng: np.random.Generator, box: tuple[float, float, float, float]) -> BaseGeometry:
    """A key pattern with sharp corners."""
    left, top, right, bottom = box
    high, line = bottom - top, []
    step = high * rng.uniform(1.0, 1.3)
    x = left
    while x + step < right:
        line += [
            (x, bottom),
            (x, top),
            (x + step * 0.7, top),
            (x + step * 0.7, bottom - high * 0.3),
        ]
        line += [(x + step * 0.35, bottom - high * 0.3), (x + step * 0.35, top + high * 0.35)]
        line += [(x + step * 0.35, bottom - high * 0.3), (x + step * 0.7, bottom - high * 0.3)]
        x += step
        line += [(x - step * 0.3, bottom - high * 0.3), (x - step * 0.3, bottom), (x, bottom)]
    wide = rng.uniform(0.25, 0.45)
    return shapely.LineString(line).buffer(wide, join_style="mitre", cap_style="square")


def rosette(rng: np.random.Generator, centre: tuple[float, float], size: float) -> BaseGeometry:
    """Petals about an eye, pierced."""
    t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    petals = int(rng.integers(5, 9))
    r = size * (0.72 + 0.28 * np.cos(petals * t + rng.uniform(0, 6)))
    ring = shapely.Polygon(np.column_stack([centre[0] + r * np.cos(t), centre[1] + r * np.sin(t)]))
    r = size * 0.34
    return ring.difference(shapely.Point(centre).buffer(r, quad_segs=32)).union(
        shapely.Point(centre).buffer(r * 0.55, quad_segs=32)
    )


def wavy_rule(y: float, left: float, right: float, wide: float, high: float = 0.8) -> BaseGeometry:
    """A thin rule that waves."""
    x = np.linspace(left, right, 400)
    return shapely.LineString(np.column_stack([x, y + high * np.sin(x / 3.1)])).buffer(wide / 2)


def ornament(
    rng: np.random.Generator, box: tuple[float, float, float, float], *, thin_at_edge: bool = False
) -> shapely.MultiPolygon:
    """Frets, vines, rosettes and rules in a box of surface mm."""
    left, top, right, bottom = box
    third = (bottom - top) / 3
    low = bottom - (7 if thin_at_edge else 2.5)
    parts = [
        fret(rng, (left + 2, top + 3, right - 2, top + third * 0.55)),
        vine(rng, (left + 2, top + third * 0.6, right - 2, top + third * 1.9)),
        wavy_rule(top + third * 1.95, left + 2, right - 2, rng.uniform(0.35, 0.55)),
    ]
    size = min(third * 0.36, 8.0)
    count = int((right - left) // (2.4 * size))
    for n in range(count):
        x = left + (right - left) * (n + 0.5) / count
        parts.append(rosette(rng, (x, min(top + third * 2.45, low - size - 1.5)), size))
    edge = (bottom - 4.0, bottom - 2.0) if thin_at_edge else (bottom - 1.2,)
    parts += [wavy_rule(y, left + 2, right - 2, rng.uniform(0.32, 0.5)) for y in edge]
    whole = shapely.union_all(parts)
    return shapely.MultiPolygon([p for p in shapely.get_parts(whole) if p.area > 0.05])


def outline_points(gilt: BaseGeometry, step: float = 0.1) -> F:
    """Points along an outline, about ``step`` mm apart."""
    out = []
    for line in shapely.get_parts(shapely.get_rings(shapely.get_parts(gilt))):
        count = max(3, int(line.length / step))
        at = (np.arange(count) + 0.5) / count * line.length
        out.append(shapely.get_coordinates(shapely.line_interpolate_point(line, at)))
    return np.vstack(out)


# --- the scene ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Scene:
    """What stands before the camera, the camera, and what goes wrong."""

    piece: str = "wrap"
    kind: str = "plane"
    radius: float = 60.0
    half_angle: float = 0.0  # degrees, of a cone
    axis: float = 0.0  # degrees on the sheet, x towards y
    size: tuple[int, int] = (2200, 1560)
    focal: float = 2900.0
    middle: tuple[float, float] = (0.0, 0.0)  # principal point off the picture's middle, px
    bend: float = -0.03  # division model, over the focal length squared
    distance: float = 330.0
    slant: float = 7.0
    slant_way: float = 40.0
    roll: float = 1.0
    aim: tuple[float, float] | None = None
    thin_at_edge: bool = False
    box: tuple[float, float, float, float] | None = None
    exposure: float = 0.9
    lamp: tuple[float, float] = (0.3, 0.2)
    limb: float = 0.6  # how much darker towards the limb: power of the cosine
    lobe: tuple[float, float, float, float, float] | None = None  # x, y mm, radii mm, strength
    brown: float = 0.0
    rust: int = 0
    pits: int = 0
    defocus: float = 0.0  # radius of the disc, px
    motion: tuple[float, float] = (0.0, 0.0)
    optics: float = 0.6  # ordinary softness, px
    noise: float = 1.0
    jpeg: int = 93
    lift: float = 0.0  # mm the strip's right end stands off, bending from two thirds on
    moved: tuple[float, float] = (0.0, 0.0)  # mm the right end of the strip has moved
    fade: float = 0.0  # light falls by this factor to the right, 0 none
    sharpened: float = 0.0
    crop: tuple[int, int, int, int] | None = None  # left, top, right, bottom px cut off


@dataclass(frozen=True)
class Photograph:
    """A picture and its truth."""

    image: NDArray[np.uint8]
    gilt: BaseGeometry
    drawn_too: BaseGeometry  # the gilt with the pits that a drawing may show
    visible: F  # outline points that the picture shows
    lens: dict[str, Any] = field(default_factory=dict)
    focal_35mm: float = 50.0


def photograph(scene: Scene, rng: np.random.Generator) -> Photograph:
    """The scene, photographed."""
    sheet = strip_sheet(scene.piece)  # type: ignore[arg-type]
    width, height = sheet.size_mm
    band = 22.0
    box = scene.box or (band, band, width - band, height - band)
    gilt = ornament(rng, box, thin_at_edge=scene.thin_at_edge)
    pits = _pits(rng, gilt, scene.pits)
    maps = _Maps.painted(sheet, gilt.difference(pits), scene, rng)
    camera = _Camera.of(scene, (width / 2, height / 2))
    picture = camera.take(maps, scene)
    picture = _developed(picture, scene, rng)
    points = outline_points(gilt)
    px, facing = camera.seen_at(points)
    left, top, right, bottom = scene.crop or (0, 0, 0, 0)
    w, h = scene.size
    inside = (px[:, 0] > left + 2) & (px[:, 0] < w - right - 3)
    inside &= (px[:, 1] > top + 2) & (px[:, 1] < h - bottom - 3)
    picture = np.ascontiguousarray(picture[top : h - bottom, left : w - right])
    return Photograph(
        picture,
        gilt,
        gilt.difference(pits),
        points[inside & (facing > 0.3)],
        camera.in_browns_words(),
        scene.focal / np.hypot(*scene.size) * 43.27,
    )


def _pits(rng: np.random.Generator, gilt: BaseGeometry, count: int) -> BaseGeometry:
    left, top, right, bottom = gilt.bounds
    at = np.column_stack([rng.uniform(left, right, count), rng.uniform(top, bottom, count)])
    return shapely.union_all(
        [shapely.Point(p).buffer(rng.uniform(0.08, 0.28), quad_segs=8) for p in at]
    )


@dataclass(frozen=True)
class _Maps:
    """The sheet painted: share of gilt and colour of the ground; the paper and its alpha."""

    gilt: NDArray[np.float32]
    rust: NDArray[np.float32]
    tone: NDArray[np.float32]
    paper: NDArray[np.float32]
    white: NDArray[np.float32]

    @classmethod
    def painted(
        cls, sheet: StripSheet, gilt: BaseGeometry, scene: Scene, rng: np.random.Generator
    ) -> _Maps:
        w, h = (round((v + 2 * MARGIN_MM) * MAP_PX) for v in sheet.size_mm)
        window = shapely.Polygon(sheet.window_mm) if len(sheet.window_mm) else shapely.Polygon()
        paper = _raster(shapely.Polygon(sheet.outline_mm).difference(window), (w, h))
        black = np.zeros((h, w), np.float32)
        book = cv2.aruco.getPredefinedDictionary(
            getattr(cv2.aruco, sheet.layout.markers[0].dictionary)
        )
        split = sheet.size_mm[0] * 0.6
        for m in sheet.layout.markers:
            ring = np.asarray(m.corners_mm)
            shift = np.array(scene.moved) if ring[:, 0].mean() > split else np.zeros(2)
            low = (ring.min(axis=0) + shift + MARGIN_MM) * MAP_PX
            side = (ring.max(axis=0) - ring.min(axis=0))[0] * MAP_PX
            _lay_marker(black, cv2.aruco.generateImageMarker(book, m.id, 8) < 128, low, side)
        spots = np.zeros((h, w), np.float32)
        for _ in range(scene.rust):
            x, y = rng.uniform(0, w), rng.uniform(0, h)
            r = rng.uniform(0.1, 0.7) * MAP_PX
            cv2.ellipse(
                spots, (int(x), int(y)), (int(r), int(r * rng.uniform(0.4, 1))),
                rng.uniform(0, 180), 0, 360, rng.uniform(0.5, 1.0), -1,
            )  # fmt: skip
        tone = cv2.resize(
            rng.normal(0, 1, (9, 13)).astype(np.float32), (w, h), interpolation=cv2.INTER_CUBIC
        )
        return cls(
            _raster(gilt, (w, h)),
            cv2.GaussianBlur(spots, (0, 0), 1.5),
            tone,
            paper,
            1.0 - black,
        )


def _raster(shape: BaseGeometry, size: tuple[int, int]) -> NDArray[np.float32]:
    w, h = size
    scale = MAP_PX * FINER
    page = Image.new("L", (w * FINER, h * FINER), 0)
    pen = ImageDraw.Draw(page)
    for part in sorted(shapely.get_parts(shape), key=lambda p: -p.area):
        for n, ring in enumerate((part.exterior, *part.interiors)):
            # a pixel's middle has a whole number in the drawing library
            corners = (np.asarray(ring.coords) + MARGIN_MM) * scale - 0.5
            pen.polygon([tuple(c) for c in corners], fill=0 if n else 255)
    fine = np.asarray(page, np.uint8)
    return cv2.resize(fine, (w, h), interpolation=cv2.INTER_AREA).astype(np.float32) / 255


def _lay_marker(black: NDArray[np.float32], cells: NDArray[np.bool_], low: F, side: float) -> None:
    """Cells with exact area cover: each is a rectangle whose rim pixels are covered in part."""
    step = side / len(cells)

    def cover(a: float, b: float, count: int) -> NDArray[np.float32]:
        at = np.arange(count)
        return np.clip(np.minimum(at + 1, b) - np.maximum(at, a), 0, 1).astype(np.float32)

    for r, c in zip(*np.nonzero(cells), strict=True):
        x = cover(low[0] + c * step, low[0] + (c + 1) * step, black.shape[1])
        y = cover(low[1] + r * step, low[1] + (r + 1) * step, black.shape[0])
        cols, rows = np.flatnonzero(x), np.flatnonzero(y)
        place = np.ix_(rows, cols)
        black[place] += np.outer(y[rows], x[cols])


@dataclass(frozen=True)
class _Camera:
    """Eye, directions, and the shape that its rays meet."""

    scene: Scene
    target: F
    eye: F
    right: F
    down: F
    ahead: F

    @classmethod
    def of(cls, scene: Scene, middle: tuple[float, float]) -> _Camera:
        aim = scene.aim or middle
        target = np.array([aim[0], -aim[1], 0.0])
        s, way = np.deg2rad(scene.slant), np.deg2rad(scene.slant_way)
        back = np.array([np.sin(s) * np.cos(way), np.sin(s) * np.sin(way), np.cos(s)])
        eye = target + scene.distance * back
        ahead = -back
        up = np.array([0.0, 1.0, 0.0])
        right = np.cross(ahead, up)
        right /= np.linalg.norm(right)
        down = np.cross(ahead, right)
        c, r = np.cos(np.deg2rad(scene.roll)), np.sin(np.deg2rad(scene.roll))
        return cls(
            scene, np.array([middle[0], -middle[1], 0.0]), eye, c * right + r * down,
            c * down - r * right, ahead,
        )  # fmt: skip

    def rays(self, px: Any, py: Any) -> tuple[Any, Any, Any]:
        """Unit directions in space of pixels."""
        s = self.scene
        x = (px - (s.size[0] - 1) / 2 - s.middle[0]) / s.focal
        y = (py - (s.size[1] - 1) / 2 - s.middle[1]) / s.focal
        wide = 1.0 + s.bend * (x * x + y * y)
        x, y = x / wide, y / wide
        d = [x * a + y * b + c for a, b, c in zip(self.right, self.down, self.ahead, strict=True)]
        length = np.sqrt(d[0] ** 2 + d[1] ** 2 + d[2] ** 2)
        return d[0] / length, d[1] / length, d[2] / length

    def meet(self, d: tuple[Any, Any, Any]) -> tuple[Any, Any, Any]:
        """Sheet x, y (down) and the cosine of view where rays meet the shape; NaN beside it."""
        s = self.scene
        if s.kind == "plane":
            t = -self.eye[2] / d[2]
            return self.eye[0] + t * d[0], -(self.eye[1] + t * d[1]), -d[2]
        a = np.deg2rad(s.axis)
        along = np.array([np.cos(a), -np.sin(a), 0.0])
        across = np.array([-np.sin(a), -np.cos(a), 0.0])
        up = np.array([0.0, 0.0, 1.0])
        if s.kind == "cylinder":
            o = self.eye - self.target + s.radius * up
            o1, o2, o3 = o @ along, o @ across, o @ up
            d1, d2, d3 = (d[0] * v[0] + d[1] * v[1] + d[2] * v[2] for v in (along, across, up))
            qa, qb = d2 * d2 + d3 * d3, o2 * d2 + o3 * d3
            t = (-qb - np.sqrt(qb * qb - qa * (o2 * o2 + o3 * o3 - s.radius**2))) / qa
            h2, h3 = o2 + t * d2, o3 + t * d3
            u, v = o1 + t * d1, s.radius * np.arctan2(h2, h3)
            cosine = -(d2 * h2 + d3 * h3) / s.radius
        else:
            u, v, cosine = self._meet_cone(d, along, across, up)
        x = self.target[0] + u * np.cos(a) - v * np.sin(a)
        y = -self.target[1] + u * np.sin(a) + v * np.cos(a)
        return x, y, cosine

    def _meet_cone(self, d: Any, along: F, across: F, up: F) -> tuple[Any, Any, Any]:
        half = np.deg2rad(self.scene.half_angle)
        reach = self.scene.radius / np.sin(half)  # from the apex to the reference point
        apex = self.target - reach * along
        axis = np.cos(half) * along - np.sin(half) * up
        out = np.cos(half) * up + np.sin(half) * along
        o = self.eye - apex
        k = np.cos(half) ** 2
        da = d[0] * axis[0] + d[1] * axis[1] + d[2] * axis[2]
        do = d[0] * o[0] + d[1] * o[1] + d[2] * o[2]
        oa = o @ axis
        qa, qb, qc = da * da - k, oa * da - k * do, oa * oa - k * (o @ o)
        root = np.sqrt(qb * qb - qa * qc)
        one, two = (-qb - root) / qa, (-qb + root) / qa
        near, far = np.minimum(one, two), np.maximum(one, two)
        t = np.where((near > 0) & (oa + near * da > 0), near, far)
        p = [o[i] + t * d[i] for i in range(3)]
        ax = p[0] * axis[0] + p[1] * axis[1] + p[2] * axis[2]
        e1 = p[0] * out[0] + p[1] * out[1] + p[2] * out[2]
        e2 = p[0] * across[0] + p[1] * across[1] + p[2] * across[2]
        rho = np.sqrt(p[0] ** 2 + p[1] ** 2 + p[2] ** 2)
        turn = np.arctan2(e2, e1)
        # the normal leans to the apex: across the generator, away from the axis
        r = np.sqrt(e1 * e1 + e2 * e2)
        cosine = 0.0
        for i in range(3):
            radial = (e1 * out[i] + e2 * across[i]) / r
            cosine = cosine - d[i] * (np.cos(half) * radial - np.sin(half) * axis[i])
        angle = turn * np.sin(half)
        return (
            np.where(ax > 0, rho * np.cos(angle) - reach, np.nan),
            rho * np.sin(angle),
            cosine,
        )

    def take(self, maps: _Maps, scene: Scene) -> NDArray[np.float32]:
        """Linear light, four rays to a pixel."""
        w, h = scene.size
        out = np.empty((h, w, 3), np.float32)
        for top in range(0, h, 260):
            rows = np.arange(top, min(h, top + 260), dtype=np.float32)
            part = np.zeros((len(rows), w, 3), np.float32)
            for dx in (-0.25, 0.25):
                for dy in (-0.25, 0.25):
                    px, py = np.meshgrid(np.arange(w, dtype=np.float32) + dx, rows + dy)
                    part += self._light(maps, self.rays(px, py)) / 4
            out[top : top + len(rows)] = part
        return out

    def _light(self, maps: _Maps, d: tuple[Any, Any, Any]) -> NDArray[np.float32]:
        s = self.scene
        with np.errstate(invalid="ignore", divide="ignore"):
            x, y, cosine = self.meet(d)
        bad = ~np.isfinite(x) | ~(cosine > 0)
        x, y = np.where(bad, -1e4, x), np.where(bad, -1e4, y)
        cosine = np.where(bad, 0.0, cosine)
        px, py = _on_map(x), _on_map(y)
        qx, qy = px, py
        if s.lift:
            qx, qy = self._on_lifted_paper(maps, d)
        gilt, rust, tone = (_look(m, px, py) for m in (maps.gilt, maps.rust, maps.tone))
        paper, white = _look(maps.paper, qx, qy), _look(maps.white, qx, qy, 1.0)
        shade = (cosine**s.limb * (1.0 - s.fade * np.clip(x / 200.0, 0, 1)) * s.exposure)[..., None]
        bronze = np.array([0.46, 0.32, 0.11]) * (1 - s.brown * np.array([0.45, 0.55, 0.5]))
        bronze = bronze * (1 + (0.05 + 0.15 * s.brown) * tone[..., None])
        japan = np.array([0.016, 0.014, 0.013])
        work = japan + (bronze - japan) * gilt[..., None]
        work = work + (np.array([0.16, 0.07, 0.03]) - work) * rust[..., None] * 0.8
        sheet = np.array([0.82, 0.81, 0.78]) * (0.05 + 0.95 * white[..., None])
        table = np.array([0.11, 0.10, 0.09])
        light = np.where(bad[..., None], table, work + (sheet - work) * paper[..., None])
        light = light * np.where(bad[..., None], s.exposure, shade)
        if s.lobe:
            lx, ly, rx, ry, strength = s.lobe
            lobe = np.exp(-0.5 * (((x - lx) / rx) ** 2 + ((y - ly) / ry) ** 2))
            light = light + (strength * lobe * (1 - 0.7 * paper))[..., None]
        return (light * np.array([1.0, 0.97, 0.9])).astype(np.float32)

    def _on_lifted_paper(self, maps: _Maps, d: tuple[Any, Any, Any]) -> tuple[Any, Any]:
        """Where rays meet paper whose right third bends off a plane."""
        start, length = 130.0, 70.0
        z: Any = 0.0
        for _ in range(6):
            t = (z - self.eye[2]) / d[2]
            x = self.eye[0] + t * d[0]
            z = self.scene.lift * np.clip((x - start) / length, 0, 1.5) ** 2
        # the paper keeps its length: along a parabola it runs on a little further
        slope = 2 * self.scene.lift / length**2
        over = np.clip(x - start, 0, None)
        x = x + slope**2 * over**3 / 6
        return _on_map(x), _on_map(-(self.eye[1] + t * d[1]))

    def seen_at(self, points: F) -> tuple[F, F]:
        """Pixels and cosines of sheet points, by looking for the ray that meets each."""
        w, h = self.scene.size
        gx, gy = np.meshgrid(np.linspace(0, w - 1, 120), np.linspace(0, h - 1, 90))
        with np.errstate(invalid="ignore", divide="ignore"):
            x, y, cosine = self.meet(self.rays(gx, gy))
        good = np.isfinite(x) & (cosine > 0.02)
        tree = shapely.STRtree(shapely.points(x[good], y[good]))
        near = tree.nearest(shapely.points(points))
        px = np.column_stack([gx[good], gy[good]])[near]
        facing = cosine[good][near]
        off = np.hypot(*(np.column_stack([x[good], y[good]])[near] - points).T)
        # beyond a few mm of any ray of the grid it is outside the picture or round the limb
        px = np.where((off < 6.0)[:, None], px, -1e4)
        return px, facing

    def in_browns_words(self) -> dict[str, Any]:
        """The lens as its calibration would tell it: a polynomial fitted to the division model."""
        s = self.scene
        bent = np.linspace(0, np.hypot(*s.size) / 2 / s.focal * 1.05, 300)
        straight = bent / (1 + s.bend * bent**2)
        a = np.column_stack([straight**3, straight**5, straight**7])
        k1, k2, k3 = np.linalg.lstsq(a, bent - straight, rcond=None)[0]
        cx, cy = ((n - 1) / 2 + m for n, m in zip(s.size, s.middle, strict=True))
        return {
            "matrix": [[s.focal, 0, cx], [0, s.focal, cy], [0, 0, 1]],
            "distortion": [k1, k2, 0.0, 0.0, k3],
            "image_size": list(s.size),
        }


def _on_map(mm: Any) -> Any:
    return ((mm + MARGIN_MM) * MAP_PX - 0.5).astype(np.float32)


def _look(picture: NDArray[np.float32], x: Any, y: Any, beyond: float = 0.0) -> NDArray[np.float32]:
    return cv2.remap(
        picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=beyond
    )


def _developed(
    light: NDArray[np.float32], scene: Scene, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """Blur, noise, tone, sharpening and JPEG, in this order."""
    if scene.defocus:
        light = cv2.filter2D(light, -1, _disc(scene.defocus))
    if any(scene.motion):
        light = cv2.filter2D(light, -1, _streak(*scene.motion))
    light = cv2.GaussianBlur(light, (0, 0), scene.optics)
    sd = scene.noise * np.sqrt(1.5e-5 * np.maximum(light, 0) + 4e-7)
    light = light + rng.standard_normal(light.shape, np.float32) * sd
    tone = np.clip(light, 0, 1) ** (1 / 2.2)
    if scene.sharpened:
        tone = tone + scene.sharpened * (tone - cv2.GaussianBlur(tone, (0, 0), 2.0))
    bytes_ = (np.clip(tone, 0, 1) * 255 + 0.5).astype(np.uint8)
    held = io.BytesIO()
    Image.fromarray(bytes_).save(held, "JPEG", quality=scene.jpeg)
    return np.asarray(Image.open(held).convert("RGB"))


def _disc(radius: float) -> NDArray[np.float32]:
    reach = int(np.ceil(radius)) + 1
    fine = (np.arange(-reach * 8, reach * 8 + 8) + 0.5) / 8 - 0.5
    inside = (fine[:, None] ** 2 + fine[None, :] ** 2 <= radius**2).astype(np.float32)
    n = len(fine) // 8
    kernel = inside.reshape(n, 8, n, 8).mean(axis=(1, 3))
    return kernel / kernel.sum()


def _streak(length: float, way: float) -> NDArray[np.float32]:
    reach = int(np.ceil(length / 2)) + 1
    kernel = np.zeros((2 * reach + 1, 2 * reach + 1), np.float32)
    for t in np.linspace(-length / 2, length / 2, 200):
        x, y = reach + t * np.cos(np.deg2rad(way)), reach + t * np.sin(np.deg2rad(way))
        i, j = int(x), int(y)
        u, v = x - i, y - j
        for dj, wy in ((0, 1 - v), (1, v)):
            for di, wx in ((0, 1 - u), (1, u)):
                kernel[min(j + dj, 2 * reach), min(i + di, 2 * reach)] += wx * wy
    return kernel / kernel.sum()
