"""Photograph of the ornament on the bed with the printed frame round it: the one that is traced.

The camera has a known lens; its matrix and distortion are written beside the picture, and the true
outline is written in the frame's own millimetres (x right, y down, origin upper left).
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import cv2
import filigree
import mitsuba as mi
import numpy as np
import photograph
import room
import solids
import surfaces
from numpy.typing import NDArray

from ironlace.photographs.scale_strip import marker_rings_mm, strip_sheet

WIDTH, HEIGHT = 4000, 3000
FOCAL_PX = 6936.0  # 30 mm on a sensor 17.3 mm wide
MATRIX = np.array([[FOCAL_PX, 0.0, 2011.0], [0.0, FOCAL_PX, 1489.0], [0.0, 0.0, 1.0]])
DISTORTION = np.array([-0.082, 0.055, 0.0006, -0.0004, 0.0])
DISTANCE_MM = 478.0

BED = (344.0, 198.0)
PX_PER_MM = 24.0
TURN_DEGREES = 0.9  # the frame was not laid quite square to the ornament
CENTRE_IN_FRAME = (127.2, 94.1)  # where the ornament's middle lies in the frame
PAPER_MM = 0.1


def bed_to_frame(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Places on the bed (mm, x right, y up, from the ornament's middle) in frame millimetres."""
    a = math.radians(TURN_DEGREES)
    x, y = points[..., 0], -points[..., 1]
    return np.stack(
        [
            CENTRE_IN_FRAME[0] + math.cos(a) * x - math.sin(a) * y,
            CENTRE_IN_FRAME[1] + math.sin(a) * x + math.cos(a) * y,
        ],
        axis=-1,
    )


def frame_to_bed(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """The way back."""
    a = math.radians(TURN_DEGREES)
    x, y = points[..., 0] - CENTRE_IN_FRAME[0], points[..., 1] - CENTRE_IN_FRAME[1]
    return np.stack([math.cos(a) * x + math.sin(a) * y, math.sin(a) * x - math.cos(a) * y], axis=-1)


def wear(rng: np.random.Generator, shape: tuple[int, int]) -> surfaces.Map:
    """How worn the gilt is: cloth rubbed the lower left, hands the right end, the rest a little."""
    rows, cols = shape
    yy, xx = np.mgrid[0:rows, 0:cols].astype(np.float32)
    x = (xx + 0.5) / PX_PER_MM - BED[0] / 2
    y = BED[1] / 2 - (yy + 0.5) / PX_PER_MM
    cloth = np.exp(-(((x + 62) / 34) ** 2 + ((y + 33) / 15) ** 2))
    hand = np.exp(-(((x - 79) / 13) ** 2 + ((y - 8) / 26) ** 2))
    spot = np.exp(-(((x - 14) / 9) ** 2 + ((y + 35) / 7) ** 2))
    loose = surfaces.clouds(rng, shape, 30 * PX_PER_MM, 4, 0.55)
    return (0.17 + 0.13 * loose + 0.62 * cloth + 0.5 * hand + 0.42 * spot).astype(np.float32)


def bed_skin(
    rng: np.random.Generator, drawing: filigree.Drawing
) -> tuple[surfaces.Skin, surfaces.Map, surfaces.Map]:
    """The bed's surface, the share of gilt that is gone, and the gilt as applied."""
    shape = (round(BED[1] * PX_PER_MM), round(BED[0] * PX_PER_MM))

    def px(mm: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack([mm[:, 0] + BED[0] / 2, BED[1] / 2 - mm[:, 1]]) * PX_PER_MM

    outline = [px(p * (1, -1)) for p in filigree.flattened(drawing, 12)]
    gilt = surfaces.fill(outline, shape)
    skin = surfaces.japan(rng, shape, PX_PER_MM)
    worn = wear(rng, shape)
    gone = surfaces.gild(skin, gilt, worn, rng, PX_PER_MM)

    mm = PX_PER_MM
    faint = surfaces.scratches(rng, shape, 420, (5 * mm, 55 * mm), 2.2, (-0.5, 0.7))
    skin.lay(0.30 * faint, (0.06, 0.055, 0.05), 0.4, 0.0)
    deep = surfaces.scratches(rng, shape, 26, (4 * mm, 40 * mm), 5.0, (-0.4, 1.2), 0.06)
    skin.lay(surfaces.step(0.25, 0.6, deep), surfaces.JAPAN_THIN, 0.3, 0.0, -0.006)
    skin.lay(surfaces.step(0.72, 0.95, deep), surfaces.IRON, 0.3, 0.9, -0.01)
    gone = np.maximum(gone, surfaces.step(0.25, 0.6, deep))

    # Flakes: japan lifted to rusty iron, most of them towards the edges.
    rows, cols = shape
    yy, xx = np.mgrid[0:rows, 0:cols].astype(np.float32)
    edge = np.minimum(np.minimum(yy, rows - yy), 60 * mm) / (60 * mm)
    flake = surfaces.step(
        3.0, 3.12, surfaces.clouds(rng, shape, 7 * mm, 5, 0.6) + 1.3 * (1 - edge) ** 2
    )
    rim = cv2.GaussianBlur(flake, (0, 0), 0.12 * mm)
    skin.lay(surfaces.step(0.02, 0.4, rim) * (1 - flake), (0.02, 0.013, 0.01), 0.5, 0.0)
    rust = surfaces.clouds(rng, shape, 2 * mm, 5, 0.7)[..., None]
    tint = np.asarray(surfaces.RUST, np.float32) * (1 + 0.35 * rust)
    skin.lay(flake, np.clip(tint, 0.01, 1), 0.75, 0.0, -0.05)
    gone = np.maximum(gone, surfaces.step(0.1, 0.5, rim))

    # Old oil: brown films that gather dirt, round the bolt holes and along the slide.
    oil = surfaces.step(1.0, 2.2, surfaces.clouds(rng, shape, 38 * mm, 5, 0.55))
    skin.lay(0.22 * oil, (0.05, 0.028, 0.012), 0.14, 0.0)

    def disc(x: float, y: float, r: float) -> surfaces.Map:
        ring = np.hypot(xx / mm - BED[0] / 2 - x, BED[1] / 2 - yy / mm - y)
        return surfaces.step(r + 0.06, r - 0.06, ring.astype(np.float32))

    for x, y, r in ((99.5, 57.0, 3.2), (99.5, -57.5, 3.2), (-84.0, 59.0, 1.4)):
        bare = disc(x, y, r * 2.05 + 0.0)
        skin.lay(
            0.92 * bare,
            np.clip(np.asarray(surfaces.IRON) * (0.62 + 0.2 * rust), 0.02, 1).astype(np.float32),
            0.42,
            0.75,
            -0.02,
        )
        skin.lay(0.5 * bare * surfaces.step(0.2, 1.2, rust[..., 0]), surfaces.RUST, 0.7, 0.0)
        skin.lay(disc(x, y, r), (0.0018, 0.0014, 0.001), 0.95, 0.0)
        skin.lay(disc(x, y, r + 0.35) - disc(x, y, r), (0.2, 0.19, 0.18), 0.35, 0.85)

    dust = surfaces.specks(rng, shape, 5200, (0.9, 5.5))
    patchy = surfaces.step(-1.2, 1.6, surfaces.clouds(rng, shape, 40 * mm, 3))
    skin.lay(0.62 * dust * patchy, surfaces.DUST, 0.9, 0.0)
    skin.lay(0.5 * surfaces.lint(rng, shape, 16, 9 * mm, 2), surfaces.DUST, 0.9, 0.0)
    return skin, gone, gilt


def frame_picture(
    rng: np.random.Generator, scale: float = 20.0
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The printed frame as colour and as cut-out, `scale` pixels per millimetre."""
    sheet = strip_sheet("frame")
    width, height = sheet.size_mm
    margin = 2.0
    shape = (round((height + 2 * margin) * scale), round((width + 2 * margin) * scale))
    rings = [(r + margin) * scale for m in sheet.layout.markers for r in marker_rings_mm(m)]
    ink = surfaces.fill(rings, shape)
    ink = cv2.GaussianBlur(ink, (0, 0), 0.035 * scale)
    speckle = surfaces.specks(rng, shape, 2500, (0.5, 1.6))
    fibre = surfaces.clouds(rng, shape, 4 * scale, 6, 0.8)
    stain = surfaces.step(1.2, 2.8, surfaces.clouds(rng, shape, 40 * scale, 4))
    white = 0.80 + 0.012 * fibre
    level = white * (1 - ink) + 0.035 * ink + 0.03 * speckle * ink - 0.2 * speckle * (1 - ink) * 0.3
    rgb = level[..., None] * np.asarray((1.0, 0.985, 0.95), np.float32)
    rgb = rgb * (1 - 0.16 * stain[..., None] * np.asarray((0.2, 0.55, 1.0), np.float32))
    coded = np.where(
        rgb <= 0.0031308, 12.92 * rgb, 1.055 * np.maximum(rgb, 1e-6) ** (1 / 2.4) - 0.055
    )

    def cut(ring: tuple[tuple[float, float], ...], inward: float) -> NDArray[np.float64]:
        """A line cut by hand along a ruler: straight, but not quite on the line."""
        corners = np.asarray(ring, float)
        middle = corners.mean(axis=0)
        corners = corners + np.sign(middle - corners) * inward + rng.normal(0, 0.25, corners.shape)
        runs = []
        for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            t = np.linspace(0, 1, 120, endpoint=False)[:, None]
            normal = np.array([-(b - a)[1], (b - a)[0]]) / np.hypot(*(b - a))
            drift = np.convolve(rng.normal(0, 0.05, 160), np.ones(40) / 12, "same")[20:140, None]
            runs.append(a + (b - a) * t + normal * drift * np.sin(np.pi * t) ** 0.5)
        return (np.vstack(runs) + margin) * scale

    alpha = surfaces.fill([cut(sheet.outline_mm, -0.3), cut(sheet.window_mm, -0.35)], shape)
    return (coded.clip(0, 1) * 255).astype(np.uint8), (alpha * 255).astype(np.uint8)


def camera_pose() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the camera stands and its axes as rows: right, down, forward."""
    pitch, yaw, roll = math.radians(4.3), math.radians(-2.1), math.radians(-0.8)
    forward = np.array([math.sin(yaw), math.sin(pitch), -1.0])
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 1.0, 0.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    turn_r = math.cos(roll) * right + math.sin(roll) * down
    turn_d = -math.sin(roll) * right + math.cos(roll) * down
    aim = np.array([1.0, -1.2, 0.0])
    return aim - forward * DISTANCE_MM, np.stack([turn_r, turn_d, forward])


def unbent(pixels: NDArray[np.float64], matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """Straight directions (x/z, y/z) that the lens bends onto these pixels, by iteration."""
    k1, k2, p1, p2, k3 = DISTORTION
    bent = (pixels - matrix[:2, 2]) / np.array([matrix[0, 0], matrix[1, 1]])
    straight = bent.copy()
    for _ in range(12):
        x, y = straight[..., 0], straight[..., 1]
        r2 = x * x + y * y
        radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        dx = 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
        dy = p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
        straight = (bent - np.stack([dx, dy], axis=-1)) / radial[..., None]
    return straight


def render() -> tuple[NDArray[np.uint8], filigree.Drawing, list[NDArray[np.float64]]]:
    """The photograph, the true drawing in frame millimetres, and outlines of where gilt is gone."""
    rng = np.random.default_rng(1894)
    drawing = filigree.fitted(filigree.ornament())
    skin, gone, gilt = bed_skin(rng, drawing)

    # Profile of the bed across: flat, with a rounded edge front and back.
    half, radius = BED[1] / 2, 5.0
    arc = np.radians(np.linspace(0, 90, 10))
    front = np.column_stack(
        [-half + radius - radius * np.sin(arc), -radius + radius * np.cos(arc)]
    )[::-1]
    back = np.column_stack([half - radius + radius * np.sin(arc), -radius + radius * np.cos(arc)])
    profile = np.vstack([[[-half, -24]], front, back, [[half, -24]]])
    xs = np.array([-BED[0] / 2, BED[0] / 2])
    points = np.stack([np.column_stack([np.full(len(profile), x), profile]) for x in xs], axis=0)
    uv = np.stack([points[..., 0] / BED[0] + 0.5, 0.5 - points[..., 1] / BED[1]], axis=-1)
    bed = solids.grid_mesh("bed", points, uv, photograph.skin_bsdf(skin, 1.0))

    ink, alpha = frame_picture(rng)
    sheet = strip_sheet("frame")
    w, h = sheet.size_mm
    box = np.array([[[-2.0, h + 2.0], [w + 2.0, h + 2.0]], [[-2.0, -2.0], [w + 2.0, -2.0]]])
    flat = frame_to_bed(box)
    corners = np.concatenate([flat, np.full((2, 2, 1), PAPER_MM)], axis=-1)
    paper_uv = np.array([[[0.0, 1.0], [1.0, 1.0]], [[0.0, 0.0], [1.0, 0.0]]])
    paper = solids.grid_mesh(
        "paper",
        corners,
        paper_uv,
        {
            "type": "mask",
            "opacity": photograph.texture(alpha[..., None], raw=True),
            "bsdf": {
                "type": "twosided",
                "bsdf": {"type": "diffuse", "reflectance": photograph.texture(ink, raw=False)},
            },
        },
    )

    eye, axes = camera_pose()
    draft = photograph.DRAFT
    wide, high = round(4230 * draft), round(3190 * draft)
    focal = FOCAL_PX * draft
    scene: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 5},
        "light": room.emitter(
            room.sphere(
                5,
                window=5.0,
                azimuth=158,
                elevation=(12, 46),
                spread=44,
                ceiling=0.30,
                skylight=3.2,
            )
        ),
        "window": room.window((-820.0, 330.0, 560.0), (0.0, 0.0, 0.0), 420.0, 620.0, 15.0, 3),
        "bed": bed,
        "paper": paper,
        "bench": {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f().translate([0, 0, -24]).scale([700, 700, 1]),
            "bsdf": {
                "type": "diffuse",
                "reflectance": {"type": "rgb", "value": [0.10, 0.065, 0.04]},
            },
        },
        # The photographer leans over the work: a dark shape that the japan mirrors.
        "person": {
            "type": "sphere",
            "center": [130.0, -470.0, 620.0],
            "radius": 150.0,
            "bsdf": {
                "type": "diffuse",
                "reflectance": {"type": "rgb", "value": [0.03, 0.03, 0.035]},
            },
        },
        "sensor": {
            "type": "perspective",
            "to_world": mi.ScalarTransform4f().look_at(
                eye.tolist(), (eye + axes[2]).tolist(), (-axes[1]).tolist()
            ),
            "fov": math.degrees(2 * math.atan(wide / 2 / focal)),
            "fov_axis": "x",
            "near_clip": 10.0,
            "far_clip": 20000.0,
            "film": {
                "type": "hdrfilm",
                "width": wide,
                "height": high,
                "rfilter": {"type": "box"},
                "pixel_format": "rgb",
                "component_format": "float32",
            },
            "sampler": {"type": "independent"},
        },
    }
    light = photograph.trace(scene, 40)

    # The lens: for every pixel of the photograph, where the ideal pinhole picture has its light.
    out_w, out_h = round(WIDTH * draft), round(HEIGHT * draft)
    uu, vv = np.meshgrid(np.arange(out_w, dtype=np.float64), np.arange(out_h, dtype=np.float64))
    matrix = MATRIX.copy()
    # Pixel centres are whole numbers in OpenCV's convention: a draft's scale acts on half pixels.
    matrix[:2] *= draft
    matrix[:2, 2] = (MATRIX[:2, 2] + 0.5) * draft - 0.5
    ideal = unbent(np.stack([uu, vv], axis=-1), matrix)
    mx = (ideal[..., 0] * focal + wide / 2 - 0.5).astype(np.float32)
    my = (ideal[..., 1] * focal + high / 2 - 0.5).astype(np.float32)
    bent = np.maximum(cv2.remap(light, mx, my, cv2.INTER_CUBIC), 0)
    picture = photograph.develop(
        bent, 1.08, 11, noise=0.010, warmth=(1.03, 1.0, 0.955), soften=0.45 * draft, vignette=0.10
    )

    shifted = [[[bed_to_frame(c * (1, -1)) for c in ring] for ring in shape] for shape in drawing]
    lost = cv2.GaussianBlur(
        gone * (cv2.dilate(gilt, np.ones((9, 9))) > 0), (0, 0), 0.12 * PX_PER_MM
    )
    contours, _ = cv2.findContours(
        (lost > 0.5).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    worn = []
    for c in contours:
        ring = (c[:, 0].astype(float) + 0.5) / PX_PER_MM
        if cv2.contourArea(c) > (0.35 * PX_PER_MM) ** 2:
            bed_mm = np.column_stack([ring[:, 0] - BED[0] / 2, BED[1] / 2 - ring[:, 1]])
            worn.append(bed_to_frame(bed_mm[::3]))
    return picture, shifted, worn


def project(frame_mm: NDArray[np.float64], height_mm: float = 0.0) -> NDArray[np.float64]:
    """Where places of the frame are seen in the photograph, in pixels (OpenCV's convention)."""
    eye, axes = camera_pose()
    flat = frame_to_bed(np.asarray(frame_mm, float))
    solid = np.concatenate([flat, np.full((*flat.shape[:-1], 1), height_mm)], axis=-1)
    rotation, _ = cv2.Rodrigues(axes)
    shift = -axes @ eye
    seen, _ = cv2.projectPoints(solid.reshape(-1, 1, 3), rotation, shift, MATRIX, DISTORTION)
    return seen.reshape(*flat.shape[:-1], 2)


def write(folder: Path) -> None:
    """Render the photograph and write it with its lens, layout and truth."""
    picture, drawing, worn = render()
    size = photograph.save(
        picture,
        folder / "ornament-on-bed.jpg",
        photograph.Exposure("2025:03:15 10:42:07", (1, 20), (80, 10), 400, 30.0),
        quality=82,
    )
    print(f"ornament-on-bed.jpg {size / 1e6:.2f} MB")
    layout = strip_sheet("frame").layout
    (folder / "frame_layout.csv").write_text(layout.to_csv(), encoding="utf-8")
    (folder / "lens.json").write_text(
        json.dumps({"matrix": MATRIX.tolist(), "distortion": DISTORTION.tolist()}, indent=2) + "\n",
        encoding="utf-8",
    )
    width, height = strip_sheet("frame").size_mm
    filigree.write_svg(
        drawing,
        folder / "truth_ornament.svg",
        width,
        height,
        "The ornament as applied, in frame mm",
    )
    rings = "\n".join(
        '<path d="M' + "L".join(f"{x:.2f} {y:.2f}" for x, y in ring) + 'Z"/>' for ring in worn
    )
    (folder / "truth_wear.svg").write_text(
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">\n<title>Where the gilt is gone, in frame mm</title>\n'
        f'<g fill="#7a3b2e" stroke="none">\n{rings}\n</g>\n</svg>\n',
        encoding="utf-8",
    )
