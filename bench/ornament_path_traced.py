"""Ornament photographed by a path tracer (`path_traced_bed.py`), traced, and held to the truth.

    python bench/ornament_path_traced.py [case ...] --tracer PYTHON --kept FOLDER

PYTHON is one that has Mitsuba 3. Ornaments of six habits: the scrolls and the dotted rules of
other benches, cut polygons, a brush's drops, and two that nothing was ever tuned on, straps over
and under and letters of type. FOLDER keeps what was rendered.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
import zlib
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from ornament_truth import graded_as_owed, rings_of
from shapely import affinity
from shapely.geometry import LineString

from darkroom import Ornament, painted, raster, survives, wear
from drawn_by_habit import FIELD, HABITS
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.grades import Grade
from ironlace.ornament import TRACE, PhotographsToTrace, TraceAsked, trace_photographs
from ironlace.ornament.outline.drawing import Drawing
from ironlace.ornament.trace_limits import limits
from ironlace.ornament.trace_stated import stated
from ironlace.photographs import Lens
from ironlace.photographs.scale_strip import marker_rings_mm, strip_sheet

F = NDArray[np.float64]
F32 = NDArray[np.float32]
ROOT = Path(__file__).resolve().parent
PPM = 12.0
"""Pixels of the maps to the mm."""
BOX = (-12.0, -12.0, 268.0, 198.0)
"""Of the frame's mm that the bed takes up."""
OVERSCAN = 1.08
"""Times the picture that is rendered, so that the lens has something to bend in."""


# --- what is photographed -----------------------------------------------------------------------


@dataclass(frozen=True)
class Bed:
    """One photograph: the work, the light, the camera and what a telephone makes of it."""

    habit: str = "scrolls"
    light: str = "window"
    # the work
    metal: str = "Au"
    tint: tuple[float, float, float] = (0.85, 0.82, 0.75)
    alpha: float = 0.28
    powder: float = 0.0
    """Share of the gilt that scatters as powder does."""
    patchy: float = 0.0
    """By how much its roughness varies from place to place."""
    gloss: float = 0.03
    japan: tuple[float, float, float] = (0.010, 0.0085, 0.007)
    haze: float = 0.0
    """What dulled japan scatters more, in clouds."""
    coat: float = 1.0
    worn: float = 0.0
    rubbed: float = 0.0
    """How far gilt is thinned in specks where cloths went."""
    iron: float = 0.0
    rust: float = 0.0
    dust: float = 0.0
    thick: float = 0.004
    crazed: float = 0.0
    bed: str = "plane"
    radius: float = 1e9
    axis: str = "x"
    # the paper
    gap: float = 0.1
    corner: float = 0.0
    wave: float = 0.0
    # the camera
    far: float = 420.0
    wide: int = 2400
    focal: float = 0.0
    """In pixels; what fills the picture when 0."""
    tilt: float = 5.0
    tilt_way: float = 250.0
    roll: float = 1.0
    k1: float = -0.05
    k2: float = 0.02
    aperture: float = 0.0
    off_focus: float = 0.0
    # what is made of it
    white: float = 0.72
    """Of the sensor's end, what the brightest paper comes to."""
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    noise: float = 0.006
    blur: float = 0.5
    quality: int = 90
    phone: str = ""
    known: bool = True
    """Whether its lens is given."""
    samples: int = 12
    asked: dict[str, Any] = field(default_factory=dict)


def clouds(rng: np.random.Generator, shape: tuple[int, int], grain: float) -> F32:
    """Slow noise of mean 0 and spread 1 or so; ``grain`` in pixels."""
    total = np.zeros(shape, np.float32)
    for octave in range(3):
        g = max(2.0, grain / 2**octave)
        few = rng.standard_normal((int(shape[0] / g) + 4, int(shape[1] / g) + 4))
        size = (shape[1], shape[0])
        one = cv2.resize(few.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
        total += one * 0.6**octave
    return total


def _crazing(rng: np.random.Generator, shape: tuple[int, int]) -> F32:
    """A net of cracks in the varnish, 0 to 1, each some hundredths of a mm wide."""
    seeds = rng.uniform((0, 0), (shape[1] / PPM, shape[0] / PPM), (2600, 2))
    from scipy.spatial import Voronoi

    net = Voronoi(seeds)
    out = np.zeros(shape, np.uint8)
    for a, b in net.ridge_vertices:
        if a < 0 or b < 0:
            continue
        line = np.clip(net.vertices[[a, b]], -50, 400) * PPM * 16
        cv2.line(out, *[tuple(int(v) for v in p) for p in line], 255, 1, cv2.LINE_AA, 4)
    return cv2.GaussianBlur(out.astype(np.float32) / 255, (0, 0), 0.7)


def maps_of(ornament: Ornament, bed: Bed, rng: np.random.Generator) -> dict[str, Any]:
    """The bed's maps, and where gilt is lost, in pixels of `BOX`."""
    size = (BOX[2] - BOX[0], BOX[3] - BOX[1])
    moved = Ornament(affinity.translate(ornament.gilt, -BOX[0], -BOX[1]))
    paint = painted(moved, size, PPM).astype(np.float32) / 255
    shape = paint.shape
    lost = wear(rng, shape, PPM, bed.worn) if bed.worn else np.zeros(shape, bool)
    edge = cv2.GaussianBlur(lost.astype(np.float32), (0, 0), 0.6)
    gilt = paint * (1 - edge)
    if bed.rubbed:
        thin = np.clip(clouds(rng, shape, 30 * PPM) * 0.5 + 0.3, 0, 1) * bed.rubbed
        speck = clouds(rng, shape, 0.35 * PPM) > 0
        specks = np.where(rng.random(shape) < thin, speck, 0).astype(np.float32)
        gilt *= 1 - np.clip(cv2.GaussianBlur(specks, (0, 0), 0.8), 0, 1)
    matt = np.ones((*shape, 3), np.float32) * np.float32(bed.japan)
    if bed.haze:
        veil = np.clip(0.5 + 0.4 * clouds(rng, shape, 24 * PPM), 0, 1)[..., None]
        matt = matt + bed.haze * veil * np.float32([1.0, 0.96, 0.9])
    iron = np.zeros(shape, np.float32)
    if bed.iron or bed.rust:
        worn = clouds(rng, shape, 9 * PPM)
        cut_at = np.quantile(worn[::9, ::9], 1 - bed.iron - bed.rust)
        bare = np.clip((worn - cut_at) * 8, 0, 1)
        rusty = clouds(rng, shape, 3 * PPM)
        share = bed.rust / (bed.iron + bed.rust)
        rusted = bare * (rusty > np.quantile(rusty[::9, ::9], 1 - share))
        rust = np.float32([0.16, 0.058, 0.022]) * (1 + 0.3 * clouds(rng, shape, PPM))[..., None]
        matt = matt * (1 - rusted[..., None]) + rust * rusted[..., None]
        iron = bare - rusted
        gilt = gilt * (1 - bare)
        lost = lost | (bare > 0.5)
    coat = np.full(shape, bed.coat, np.float32) * (1 - 0.9 * (iron > 0.5))
    if bed.dust:
        grain = (clouds(rng, shape, 0.3 * PPM) > 1.6).astype(np.float32)
        lying = bed.dust * np.clip(0.4 + 0.5 * clouds(rng, shape, 40 * PPM), 0, 1) * (0.35 + grain)
        lying = np.clip(lying, 0, 0.9)
        matt = matt * (1 - lying[..., None]) + np.float32([0.42, 0.39, 0.34]) * lying[..., None]
        gilt, coat = gilt * (1 - lying), coat * (1 - lying)
    soft = cv2.GaussianBlur(gilt, (0, 0), 0.03 * PPM + 0.4)
    height = bed.thick * soft + 0.001 * clouds(rng, shape, 3 * PPM) * (0.4 + 0.6 * gilt)
    crazed = 0.5 * bed.thick * cv2.GaussianBlur(gilt, (0, 0), 0.1 * PPM)
    crazed = crazed + 0.0006 * clouds(rng, shape, 9 * PPM)
    if bed.crazed:
        crazed = crazed - bed.crazed * _crazing(rng, shape)
    rough = np.full(shape, bed.alpha, np.float32)
    if bed.patchy:
        rough = np.clip(rough * (1 + bed.patchy * clouds(rng, shape, 14 * PPM)), 0.04, 0.9)
    eight = lambda a: np.round(np.clip(a, 0, 1) * 255).astype(np.uint8)  # noqa: E731
    return {
        "gilt": eight(gilt),
        "iron": eight(iron),
        "coat": eight(coat),
        "matt": eight(np.sqrt(np.clip(matt, 0, 1))),
        "rough": eight(rough),
        "height": height.astype(np.float32),
        "crazed": crazed.astype(np.float32),
        "lost": lost,
    }


def paper_maps(rng: np.random.Generator) -> dict[str, Any]:
    """The printed frame, 2 mm of air about it."""
    sheet = strip_sheet("frame")
    size = (sheet.size_mm[0] + 4, sheet.size_mm[1] + 4)
    black = np.zeros((round(size[1] * PPM), round(size[0] * PPM)), np.float32)
    for marker in sheet.layout.markers:
        for ring in marker_rings_mm(marker):
            black = np.abs(black - raster([[np.asarray(ring) + 2.0]], size, PPM, (0, 0)) / 255.0)
    black = cv2.GaussianBlur(black.astype(np.float32), (0, 0), 0.5)
    white = 0.80 + 0.01 * clouds(rng, black.shape, 40)
    level = white * (1 - black) + 0.04 * black
    ink = level[..., None] * np.float32([1.0, 0.985, 0.95])
    return {"ink": np.round(np.sqrt(np.clip(ink, 0, 1)) * 255).astype(np.uint8)}


def cut_by_hand(rng: np.random.Generator) -> dict[str, Any]:
    """The frame's outer corners and its window's, each a little off the line."""
    sheet = strip_sheet("frame")
    return {
        "outer": (np.asarray(sheet.outline_mm) + rng.normal(0, 0.2, (4, 2))).tolist(),
        "window": (np.asarray(sheet.window_mm) + rng.normal(0, 0.2, (4, 2))).tolist(),
    }


def _disk(
    at: Any, size: float, level: float, rgb: Any = (1.0, 1.0, 1.0), aim: Any = (0, 0, 0)
) -> Any:
    return {"kind": "disk", "at": list(at), "aim": list(aim), "size": size,
            "rgb": [level * v for v in rgb]}  # fmt: skip


def _pane(
    at: Any, size: Any, level: float, rgb: Any = (1.0, 1.0, 1.0), aim: Any = (0, 0, 0)
) -> Any:
    return {"kind": "pane", "at": list(at), "aim": list(aim), "size": list(size),
            "rgb": [level * v for v in rgb]}  # fmt: skip


def _dark(at: Any, size: Any, aim: Any = (0, 0, 0), level: float = 0.03) -> Any:
    kind = "sphere" if isinstance(size, float | int) else "card"
    return {"kind": kind, "at": list(at), "aim": list(aim), "size": size, "rgb": [level] * 3}


DAY, BULB = (0.94, 1.0, 1.06), (1.0, 0.74, 0.42)


def lit(bed: Bed, eye: F) -> dict[str, Any]:
    """Lamps, windows, the room and what stands about, by the light's name."""
    telephone = _dark(np.add(eye, (0, 0, 12)), (80, 160))
    head = _dark(np.add(eye, (10, -150, 170)), 105.0, level=0.15)
    room = {"room": (0.30, 0.13, 0.06), "room_rgb": (1.0, 0.93, 0.84)}
    out: dict[str, Any] = room | {"lamps": [], "things": [telephone, head]}
    window = _pane((-780, 320, 560), (420, 620), 7.0, DAY)
    if bed.light == "window":
        out["lamps"] = [window]
    elif bed.light == "window over it":  # its mirror image lies over the work
        out["lamps"] = [_pane((-430, 330, 900), (380, 330), 5.0, DAY)]
    elif bed.light == "torch":
        out["lamps"] = [_disk((-330, 190, 330), 14, 700, BULB)]
        out["room"] = (0.03, 0.02, 0.01)
    elif bed.light == "raking torch":
        out["lamps"] = [_disk((-400, 120, 110), 14, 900, BULB)]
        out["room"] = (0.03, 0.02, 0.01)
    elif bed.light == "two lamps":
        out["lamps"] = [_disk((-520, 60, 420), 60, 40, BULB), _disk((520, -40, 430), 60, 40, BULB)]
        out["room"] = (0.06, 0.04, 0.02)
    elif bed.light == "two lamps, unlike":
        out["lamps"] = [_disk((-520, 60, 420), 60, 40, BULB), _disk((520, -40, 430), 60, 28, DAY)]
        out["room"] = (0.06, 0.04, 0.02)
    elif bed.light == "ring":
        turn = np.linspace(0, 2 * np.pi, 17)[:-1]
        out["lamps"] = [
            _disk(np.add(eye, (95 * np.cos(a), 95 * np.sin(a), 5)), 12, 90) for a in turn
        ]
        out["room"] = (0.05, 0.03, 0.02)
    elif bed.light == "overcast":
        out["room"], out["room_rgb"] = (1.0, 0.45, 0.08), (0.95, 1.0, 1.06)
        out["ceiling_from"] = 15
    elif bed.light == "hand":
        out["lamps"] = [window]
        out["things"] = [telephone, head, _dark((-150, 60, 70), 42.0, level=0.35)]
    elif bed.light == "under a telephone":
        out["lamps"] = [_disk((150, 330, 900), 50, 120, BULB)]
        out["room"] = (0.05, 0.03, 0.02)
    elif bed.light == "dark above":  # half of what lies square to the work mirrors the dark
        out["lamps"] = [_pane((-700, 120, 330), (300, 420), 16.0, DAY)]
        out["room"] = (0.015, 0.02, 0.02)
        out["things"] = [telephone, head, _dark((180, 0, 700), (560, 900))]
    elif bed.light == "card half":  # a white card mirrored in one half
        out["lamps"] = [_pane((-700, 120, 330), (300, 420), 10.0, DAY)]
        out["room"] = (0.03, 0.03, 0.02)
        out["things"] = [telephone, head, _dark((-330, 30, 520), (420, 700), level=0.75)]
    else:
        raise ValueError(bed.light)
    return out


def stand(bed: Bed) -> tuple[dict[str, Any], F, F]:
    """The camera as told to the tracer, its matrix and its distortion."""
    high = round(bed.wide * 0.75)
    focal = bed.focal or 0.93 * bed.wide * bed.far / 268.0
    way, tilt = np.radians(bed.tilt_way), np.radians(bed.tilt)
    eye = bed.far * np.array([np.sin(tilt) * np.cos(way), np.sin(tilt) * np.sin(way), np.cos(tilt)])
    told = {
        "size": [round(bed.wide * OVERSCAN), round(high * OVERSCAN)],
        "focal": focal, "eye": eye.tolist(), "target": [0.5, -0.8, 0.0], "roll": bed.roll,
        "aperture": bed.aperture, "focus": bed.far + bed.off_focus,
    }  # fmt: skip
    matrix = np.array([[focal, 0, bed.wide / 2 + 5.0], [0, focal, high / 2 - 4.0], [0, 0, 1]])
    return told, matrix, np.array([bed.k1, bed.k2, 0.0004, -0.0003, 0.0])


def bent(light: F32, bed: Bed, matrix: F, distortion: F) -> F32:
    """The pinhole's picture as the lens bends it."""
    high = round(bed.wide * 0.75)
    u, v = np.meshgrid(np.arange(bed.wide, dtype=float), np.arange(high, dtype=float))
    k1, k2, p1, p2, _ = distortion
    to = np.stack([u - matrix[0, 2], v - matrix[1, 2]], -1) / matrix[0, 0]
    straight = to.copy()
    for _ in range(12):
        x, y = straight[..., 0], straight[..., 1]
        r2 = x * x + y * y
        aside = np.stack(
            [2 * p1 * x * y + p2 * (r2 + 2 * x * x), p1 * (r2 + 2 * y * y) + 2 * p2 * x * y], -1
        )
        straight = (to - aside) / (1 + r2 * (k1 + r2 * k2))[..., None]
    h, w = light.shape[:2]
    mx = (straight[..., 0] * matrix[0, 0] + w / 2 - 0.5).astype(np.float32)
    my = (straight[..., 1] * matrix[1, 1] + h / 2 - 0.5).astype(np.float32)
    return np.maximum(cv2.remap(light, mx, my, cv2.INTER_CUBIC), 0)


def developed(light: F32, bed: Bed, rng: np.random.Generator) -> NDArray[np.uint8]:
    """What the camera makes of light: exposure, white, veil, noise, curve, its program, JPEG."""
    x = cv2.GaussianBlur(light, (0, 0), bed.blur) if bed.blur else light
    x = x / np.percentile(x @ np.float32([0.3, 0.6, 0.1]), 97) * bed.white
    x = x * np.float32(bed.balance)
    rows, cols = x.shape[:2]
    ys, xs = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : cols * 1j].astype(np.float32)
    x = x * (1 - 0.10 * (xs**2 + ys**2) / 2)[..., None]
    x = x + 0.008 * cv2.blur(x, (cols // 4, cols // 4))
    grain = rng.standard_normal(x.shape, dtype=np.float32)
    x = x + grain * np.sqrt(np.clip(x, 0, 2) * bed.noise**2 + (0.25 * bed.noise) ** 2)
    over = np.maximum(x - 0.78, 0)
    x = np.minimum(x, 0.78) + 0.22 * (1 - np.exp(-over / 0.22))
    x = np.clip(x, 0, 1)
    code = 255 * np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)
    if "calmed" in bed.phone:
        code = cv2.bilateralFilter(code.astype(np.float32), 7, 18, 2.0)
    if "sharpened" in bed.phone:
        code = code + 0.8 * (code - cv2.GaussianBlur(code, (0, 0), 1.4))
    if "evened" in bed.phone:  # dark parts lifted by where they lie
        calm = cv2.GaussianBlur(code.mean(2), (0, 0), cols / 40)
        code = code * (np.maximum(110 / np.maximum(calm, 20), 1.0) ** 0.35)[..., None]
    image = np.clip(np.round(code), 0, 255).astype(np.uint8)
    _, kept = cv2.imencode(".jpg", image[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, bed.quality])
    return np.asarray(cv2.imdecode(kept, cv2.IMREAD_COLOR)[..., ::-1])


# --- rendered, traced, judged -------------------------------------------------------------------

DEVELOPED = {"k1", "k2", "white", "balance", "noise", "blur", "quality", "phone", "known", "asked"}
"""What is done after rendering, so that a rendering may serve again."""


@dataclass(frozen=True)
class Taken:
    """A photograph and its truth."""

    image: NDArray[np.uint8]
    lens: Lens
    ornament: Ornament
    lost: NDArray[np.bool_]


def taken(bed: Bed, seed: int, tracer: str, kept: Path) -> Taken:
    """The photograph of a bed, rendered by the other Python unless it was kept."""
    ornament = HABITS[bed.habit](np.random.default_rng(seed))
    rng = np.random.default_rng(seed + 1_000_000)
    camera, matrix, distortion = stand(bed)
    same = {k: v for k, v in vars(bed).items() if k not in DEVELOPED}
    name = f"{bed.habit}-{seed}-{zlib.crc32(repr(sorted(same.items())).encode()):08x}"
    light_file, lost_file = kept / f"{name}.light.npz", kept / f"{name}.lost.npz"
    if not light_file.exists():
        maps = maps_of(ornament, bed, rng)
        told = camera | lit(bed, np.asarray(camera["eye"])) | cut_by_hand(rng) | {
            "box": BOX, "paper_box": (-2.0, -2.0, 258.0, 188.0), "bed": bed.bed,
            "radius": bed.radius, "axis": bed.axis, "metal": bed.metal, "tint": bed.tint,
            "powder": bed.powder, "powder_rgb": (0.55, 0.36, 0.13), "gloss": bed.gloss,
            "gap": bed.gap, "corner": bed.corner, "wave": bed.wave,
            "bench": (0.10, 0.065, 0.04), "samples": bed.samples, "seed": seed + 1,
        }  # fmt: skip
        kept.mkdir(parents=True, exist_ok=True)
        np.savez_compressed(lost_file, lost=maps.pop("lost"))
        scene_file = kept / f"{name}.scene.npz"
        np.savez(scene_file, ppm=PPM, told=json.dumps(told), **maps, **paper_maps(rng))
        command = [tracer, str(ROOT / "path_traced_bed.py"), str(scene_file), str(light_file)]
        subprocess.run(command, check=True)
        scene_file.unlink()
    lost = np.load(lost_file)["lost"]
    light = np.load(light_file)["light"].astype(np.float32)
    image = developed(bent(light, bed, matrix, distortion), bed, np.random.default_rng(seed + 7))
    lens = {"matrix": matrix.tolist(), "distortion": distortion.tolist()}
    return Taken(image, Lens.from_json(json.dumps(lens)), ornament, lost)


def judged(name: str, bed: Bed, seed: int, photo: Taken) -> dict[str, Any]:
    """Trace it by the public route, and hold what is told against the truth."""
    asked = TraceAsked(lens=photo.lens if bed.known else None, **bed.asked)
    out: dict[str, Any] = {"case": f"{name} {seed}"}
    begin = time.process_time()
    try:
        found = trace_photographs(PhotographsToTrace.of([photo.image]), asked)
    except IronlaceError as error:
        return out | {"refused": str(error)}
    ornament, lost = photo.ornament, photo.lost
    near = stated(found.report)
    assert near is not None
    points = ornament.outline(0.05)
    moved = Ornament(affinity.translate(ornament.gilt, -BOX[0], -BOX[1]))
    here = survives(lost, PPM, moved, points - (BOX[0], BOX[1]))
    lines = shapely.MultiLineString([np.vstack([r, r[:1]]) for r in rings_of(found.drawing)])
    back = _apart(points[here], lines)
    drawn = np.vstack([shapely.get_coordinates(shapely.segmentize(g, 0.1)) for g in lines.geoms])
    left = _left_of(ornament, lost)
    forth = _apart(drawn, left)
    both = np.concatenate([back, forth])
    evidence = {"here": here}
    if bed.asked.get("mirror"):
        twin = points * (-1, 1) + (FIELD[0] + FIELD[2], 0)
        evidence["mirror"] = here | survives(lost, PPM, moved, twin - (BOX[0], BOX[1]))
    shares, confusion = graded_as_owed(found.drawing, ornament, evidence)
    said = TRACE.answer(found).sentences
    first = found.report["photographs"][0]
    claimed = both if near.of == "the outline" else forth
    if "graded seen" in near.of:
        claimed = _apart(_graded_seen(found.drawing), left)
    return out | {
        "mean": float(both.mean()), "p95": float(np.percentile(both, 95)),
        "worst": float(both.max()), "missing": float(np.mean(back > 0.3)),
        "false": float(np.mean(forth > 0.3)), "stated": float(first["within_mm"]),
        "within": near.within_mm, "of": near.of,
        "claimed": float(np.percentile(claimed, 95)),
        "right": float(shares[0][0]), "seen_true": float(shares[0][1]),
        "seen_near": float(shares[1][1]), "confusion": confusion,
        "said": said[0], "told": "; ".join(limits(found.report)),
        "surface": first["surface"]["kind"], "seconds": time.process_time() - begin,
    }  # fmt: skip


def _graded_seen(drawing: Drawing) -> F:
    """Places on what is graded seen, mm, (n, 2)."""
    t = np.linspace(0, 1, 9)[:, None, None]
    curves = np.concatenate([p.curves[[g is Grade.SEEN for g in p.grades]] for p in drawing.paths])
    a, b, c, d = (curves[:, n] for n in range(4))
    on = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d
    return np.asarray(on.reshape(-1, 2))


def _left_of(ornament: Ornament, lost: NDArray[np.bool_]) -> Any:
    """The true outline and the rims of what is worn away in it, as lines."""
    lines = [ornament.gilt.boundary]
    rims, _ = cv2.findContours(lost.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    for rim in rims:
        if len(rim) > 3:
            ring = (rim[:, 0].astype(float) + 0.5) / PPM + (BOX[0], BOX[1])
            lines.append(LineString(np.vstack([ring, ring[:1]])))
    return shapely.MultiLineString(
        [g for line in lines for g in shapely.get_parts(line) if not g.is_empty]
    )


def _apart(points: F, lines: Any) -> F:
    pieces = []
    for line in shapely.get_parts(lines):
        c = shapely.get_coordinates(line)
        pieces.append(np.stack([c[:-1], c[1:]], axis=1))
    tree = shapely.STRtree(shapely.linestrings(np.vstack(pieces)))
    _, away = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    return np.asarray(away)


def say(row: dict[str, Any]) -> None:
    if "refused" in row:
        print(f"{row['case']:<34} REFUSED {row['refused']}", flush=True)
        return
    claim = "withheld" if row["within"] is None else (
        f"{row['claimed'] / row['within']:.1f}x the {row['within']:.2f} of {row['of']}"
    )  # fmt: skip
    silent = row["p95"] > 3 * row["stated"] and not row["told"]
    print(
        f"{row['case']:<34} mean {row['mean']:.3f} p95 {row['p95']:.3f} worst {row['worst']:.2f} "
        f"missing {row['missing']:.1%} false {row['false']:.1%}; stated {row['stated']:.3f} "
        f"({row['p95'] / row['stated']:.1f}x), {claim}; right {row['right']:.3f} seen true "
        f"{row['seen_true']:.3f} (near {row['seen_near']:.3f}) {row['surface']} "
        f"{row['seconds']:.0f} s {'SILENT' if silent else ''} told: {row['told'][:240]}",
        flush=True,
    )


CASES: dict[str, Bed] = {
    "window": Bed(samples=24),
    "torch, leaf": Bed("dots", "torch", alpha=0.16, known=False),
    "window over it": Bed("cut", "window over it", gloss=0.02),
    "bronze, two lamps": Bed(
        "brushed", "two lamps", tint=(0.7, 0.75, 0.9), powder=0.5, alpha=0.4,
        balance=(0.8, 1.0, 1.7),
    ),
    "dark above, leaf": Bed("scrolls", "dark above", alpha=0.10, patchy=0.3),
    "worn, iron and rust": Bed(
        "mirrored", "window", worn=0.12, rubbed=0.35, iron=0.02, rust=0.03, asked={"mirror": True}
    ),
    "ring, dust": Bed("dots", "ring", dust=0.25, alpha=0.3),
    "near phone": Bed(
        "cut", "overcast", far=255.0, tilt=14.0, k1=0.04, k2=-0.05, known=False, phone="sharpened",
        gap=0.2, corner=0.6, wave=0.15, quality=82,
    ),
    "hand": Bed("brushed", "hand", alpha=0.22, thick=0.04),
    "card half": Bed("scrolls", "card half", alpha=0.12, crazed=0.01, haze=0.01),
    # the second look
    "mirror leaf": Bed("dots", "window", alpha=0.06, thick=0.02, gloss=0.02),
    "mirror leaf, hazy": Bed("brushed", "dark above", alpha=0.07, haze=0.05, patchy=0.4),
    "cushion": Bed("cut", "overcast", bed="cushion", radius=2500, known=False),
    "column said flat": Bed(
        "scrolls", "window", bed="cylinder", radius=420, asked={"surface": "plane"}
    ),
    "low arch": Bed("dots", "overcast", bed="cylinder", radius=1500, axis="y", known=False),
    "out of depth": Bed("cut", "two lamps, unlike", aperture=6.0, off_focus=30.0, thick=0.03),
    "raking torch": Bed("brushed", "raking torch", thick=0.05, alpha=0.3, crazed=0.01),
    "curled": Bed("scrolls", "window", gap=0.3, corner=1.5, wave=0.3, known=False),
    "crazed": Bed("dots", "window over it", crazed=0.02, gloss=0.05),
    "rusty": Bed("cut", "overcast", iron=0.05, rust=0.12, rubbed=0.5, dust=0.15),
    # habits, lights and seed that nothing was tuned on
    "held back: bronze, ring": Bed("straps", "ring", powder=0.4, alpha=0.35, rubbed=0.2),
    "held back: dark above": Bed("letters", "dark above", alpha=0.12, haze=0.02),
    "held back: arch, two lamps": Bed(
        "straps", "two lamps, unlike", bed="cylinder", radius=900, known=False, gap=0.2
    ),
    "held back: torch": Bed("letters", "torch", alpha=0.22, thick=0.02),
    "held back: near phone": Bed(
        "letters", "overcast", far=265.0, tilt=10.0, k1=0.05, known=False, phone="calmed evened"
    ),
    "held back: leaf and window": Bed("straps", "window over it", alpha=0.12, crazed=0.01),
}  # fmt: skip
"""By name; those of the first look, of the second, and those held back, of another seed."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cases", nargs="*")
    parser.add_argument("--tracer", default=sys.executable)
    parser.add_argument("--kept", type=Path, default=Path("path-traced"))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only-take", action="store_true")
    parser.add_argument("--wide", type=int, help="pixels across, in place of the case's")
    parser.add_argument("--samples", type=int, help="to the pixel, in place of the case's")
    chosen = parser.parse_args()
    rows = []
    for name in chosen.cases or list(CASES):
        given = {"wide": chosen.wide, "samples": chosen.samples}
        bed = replace(CASES[name], **{k: v for k, v in given.items() if v})
        seed = chosen.seed + (10 if name.startswith("held back") else 0)
        photo = taken(bed, seed, chosen.tracer, chosen.kept)
        look = chosen.kept / f"{name.replace(' ', '-').replace(':', '')}-{seed}.jpg"
        cv2.imwrite(str(look), photo.image[..., ::-1])
        if not chosen.only_take:
            rows.append(judged(name, bed, seed, photo))
            say(rows[-1])


if __name__ == "__main__":
    main()
