"""Plates struck, eaten and photographed by other habits than those of `struck_plates.py`.

Figures push up a rim about them and are struck by round-nosed punches; wear is part planing, part
wearing round, unlike from one end of the plate to the other, and edges are taken off by opening the
height with a disc; rust lies in clusters of long, flat-bottomed pits with steep sides; the ground
has a lay, as from a file. Metal scatters by Oren and Nayar (1994) and shines by Ward (1992). Only
the names of what was struck are shared with the other maker. What is struck at each place may be
said: nothing, a letter, two figures one over the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

import strange_faces
from struck_plates import Asked, Gap, Plate, StruckDigit, _font_file

F = NDArray[np.float32]

FACES = ("bold book", "demi", "slab bold", "italic", "roman bold", "display")
"""Faces that no setting is ever fitted on."""
_FILES = {
    "bold book": ("cmb10.ttf", 1.0),
    "demi": ("SourceSansPro-Semibold.ttf", 1.0),
    "slab bold": ("DejaVuSerif-Bold.ttf", 0.8),
    "italic": ("cmti10.ttf", 1.0),
    "roman bold": ("STIXGeneralBol.ttf", 0.95),
    "display": ("DejaVuSansMono-Bold.ttf", 0.9),
    "open": ("DejaVuSerif-Bold.ttf", 0.9),
    "script": ("cmti10.ttf", 1.1),
}
ODD_FACES = ("open", "script")
"""Faces unlike all that the reader draws: outlines alone, and a script that leans by a third more;
no setting is ever fitted on them."""
TALL_MM = 2.4


@cache
def inked(face: str, glyph: str, tall: int = 200) -> F:
    """One glyph's ink with a margin, figures of a face on one height; letters too."""
    if face in strange_faces.TUNED + strange_faces.HELD_BACK + strange_faces.FRESH:
        return strange_faces.ink(face, glyph)
    file, wide = _FILES[face]
    probe = ImageFont.truetype(_font_file(file), tall)
    high = max(b[3] - b[1] for b in (probe.getbbox(g) for g in "0123456789"))
    font = ImageFont.truetype(_font_file(file), round(tall * tall / high))
    left, top, right, bottom = font.getbbox(glyph)
    paper = Image.new("L", (right - left + 40, bottom - top + 40), 0)
    ImageDraw.Draw(paper).text((20 - left, 20 - top), glyph, 255, font=font)
    size = (max(8, round(paper.width * wide)), paper.height)
    ink = np.asarray(paper.resize(size, Image.Resampling.BICUBIC), np.float32) / 255
    if face == "open":
        nib = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (15, 15))
        return cv2.dilate(ink, np.ones((3, 3))) - cv2.erode(ink, nib)
    if face == "script":
        lean = np.array([[1, -0.3, 0.3 * size[1]], [0, 1, 0]], np.float32)
        return cv2.warpAffine(ink, lean, (size[0] + round(0.3 * size[1]), size[1]))
    return ink


def eaten_plate(
    rng: np.random.Generator,
    asked: Asked,
    cells: Sequence[Sequence[str]] | None = None,
    plate_mm: tuple[float, float] = (36.0, 20.0),
) -> Plate:
    """Strike a plate and let it be eaten; `cells` says what is struck at each place of each row."""
    s = asked.mm_per_px
    shape = (round(plate_mm[1] / s), round(plate_mm[0] / s))
    cells = cells or [
        [str(rng.integers(10)) for _ in range(asked.per_row)] for _ in range(asked.rows)
    ]
    worn = _wear_over(rng, asked, shape)
    planed = {"planed": 1.0, "shrunk": 0.0}.get(asked.wear_way, float(rng.beta(0.6, 0.6)))
    marks = np.zeros(shape, np.float32)
    digits = _strike(rng, asked, cells, marks, worn, planed)
    gaps, in_gaps = _holes(rng, asked, digits, marks, worn, planed)
    density = asked.pits_per_mm2 or float(np.exp(rng.uniform(np.log(0.3), np.log(2.0))))
    rust = np.maximum(_clusters(rng, asked, density, shape, plate_mm), in_gaps)
    surface = asked.surface or str(rng.choice(["filed", "blotched", "smooth"]))
    height = -np.maximum(marks, rust) + np.minimum(marks, 0) + _lay(rng, shape, s, surface)
    height = cv2.GaussianBlur(height.astype(np.float32), (0, 0), 0.5)
    shapes = {g: inked(asked.face, g) for g in "0123456789"}
    return Plate(asked, height, tuple(digits), tuple(gaps), density, surface, shapes)


def _wear_over(rng: np.random.Generator, asked: Asked, shape: tuple[int, int]) -> F:
    """Wear at each place: a tilt and a swell of a tenth of what is left."""
    ys, xs = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j]
    swell = rng.normal(0, 0.08) * xs + rng.normal(0, 0.05) * ys + rng.normal(0, 0.05) * xs**2
    return np.clip(1 - (1 - asked.wear) * (1 + swell), 0, 1).astype(np.float32)


def _left(mark: F, deep: float, worn: F, planed: float, s: float) -> F:
    """What is left: its deepest place keeps 1 - wear, its edges go by both ways."""
    wear = float(worn.mean())
    cut = np.clip(mark - planed * worn * deep, 0, None)
    if cut.max() <= 0:
        return cut
    radius = max(1, round((0.02 + 0.06 * wear) / s))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1))
    soft = cv2.blur(cv2.blur(cut, (radius | 1, radius | 1)), (radius | 1, radius | 1))
    opened = 0.6 * soft + 0.4 * np.minimum(cv2.morphologyEx(cut, cv2.MORPH_OPEN, disc), soft)
    round_ = (1 - planed) * opened + planed * cut
    return (round_ * ((1 - worn) * deep / max(float(round_.max()), 1e-9))).astype(np.float32)


def _over(marks: F, patch: F, x: float, y: float, how) -> None:
    """Lay a patch with its middle at (x, y); what hangs over the edge is lost."""
    rows, cols = patch.shape
    top, left = round(y - (rows - 1) / 2), round(x - (cols - 1) / 2)
    a, b = max(top, 0), max(left, 0)
    c, d = min(top + rows, marks.shape[0]), min(left + cols, marks.shape[1])
    if a < c and b < d:
        marks[a:c, b:d] = how(marks[a:c, b:d], patch[a - top : c - top, b - left : d - left])


def _deeper(under: F, patch: F) -> F:
    """The deeper of both, rims (below nought) kept where nothing is struck."""
    return np.where(patch > 0, np.maximum(under, patch), np.where(under > 0, under, under + patch))


def _strike(rng, asked, cells, marks, worn, planed):
    s = asked.mm_per_px
    pitch, usual = rng.uniform(2.7, 3.3), float(np.exp(rng.uniform(np.log(0.07), np.log(0.2))))
    nose, rim = rng.uniform(0.05, 0.16), rng.uniform(0.02, 0.12)
    found = []
    for row, line in enumerate(cells):
        for index, cell in enumerate(line):
            along = (index - (len(line) - 1) / 2) * pitch + rng.uniform(-0.12, 0.12)
            x = (marks.shape[1] - 1) / 2 + along / s
            y = (marks.shape[0] - 1) / 2 + ((row - (len(cells) - 1) / 2) * 6.0
                 + rng.uniform(-0.12, 0.12)) / s  # fmt: skip
            deep = float(np.clip(usual * rng.uniform(0.75, 1.3), 0.05, 0.25))
            at = worn[int(np.clip(y, 0, len(worn) - 1)), int(np.clip(x, 0, worn.shape[1] - 1))]
            most = 0.0
            for n, glyph in enumerate(cell.strip()):
                graver = asked.face in strange_faces.ENGRAVED
                mark = _punched(rng, inked(asked.face, glyph), deep, nose, s, graver=graver)
                left = _left(mark, deep, np.float32(at), planed, s)
                lip = rim * (1 - asked.wear) ** 2 * deep
                lip = lip * (cv2.GaussianBlur((mark > 0.1 * deep).astype(np.float32), (0, 0),
                                              0.06 / s) * (mark <= 0))  # fmt: skip
                off = rng.normal(0, 0.12 / s, 2) if n else (0.0, 0.0)
                _over(marks, left - lip, x + off[0], y + off[1], _deeper)
                most = max(most, float(left.max()))
            found.append(StruckDigit(row, index, x, y, cell, deep, most))
    return found


def _punched(rng, ink: F, deep: float, nose: float, s: float, *, graver: bool = False) -> F:
    """A round-nosed punch: depth runs as a quarter circle up to the nose's width, struck askew.

    A graver's cut is as deep as it is far to the side.
    """
    per = TALL_MM / s / (ink.shape[0] - 40)
    side = int(max(ink.shape) * per * 1.2) | 1
    turn = np.radians(rng.uniform(-2.5, 2.5))
    c, n, half = np.cos(turn) * per, np.sin(turn) * per, (side - 1) / 2
    mx, my = (ink.shape[1] - 1) / 2, (ink.shape[0] - 1) / 2
    move = np.array([[c, -n, half - c * mx + n * my], [n, c, half - n * mx - c * my]], np.float32)
    laid = cv2.warpAffine(cv2.GaussianBlur(ink, (0, 0), 0.4 / per), move, (side, side))
    inside = cv2.distanceTransform((laid > 0.5).astype(np.uint8), cv2.DIST_L2, 5) * s
    share = np.clip(inside / nose, 0, 1)
    depth = inside if graver else np.sqrt(np.clip(1 - (1 - share) ** 2, 0, 1))
    ys, xs = np.mgrid[-1 : 1 : side * 1j, -1 : 1 : side * 1j]
    depth = depth * np.clip(1 + rng.uniform(-0.2, 0.2) * xs + rng.uniform(-0.2, 0.2) * ys, 0, None)
    return (deep * np.clip(depth / max(float(depth.max()), 1e-9), 0, 1)).astype(np.float32)


def _holes(rng, asked, digits, marks, worn, planed):
    s = asked.mm_per_px
    pits = np.zeros_like(marks)
    wide = rng.uniform(0.30, 0.44)
    deep, tip, lower = wide * rng.uniform(0.2, 0.25), rng.uniform(0.1, 0.5), rng.uniform(-0.2, 1.0)
    found = []
    for one, after in pairwise(digits):
        if one.row != after.row:
            continue
        x, y = (one.x_px + after.x_px) / 2, (one.y_px + after.y_px) / 2 + lower / s
        struck, pit = bool(rng.uniform() < asked.base_rate), bool(rng.uniform() < asked.pit_in_gap)
        depth = left = 0.0
        if struck:
            depth = deep * rng.uniform(0.85, 1.15)
            half = int(wide / s) + 2
            r = np.hypot(*np.mgrid[-half : half + 1, -half : half + 1]) * s / (wide / 2)
            mark = (depth * np.clip((1 - r) / (1 - tip), 0, 1)).astype(np.float32)
            at = worn[int(np.clip(y, 0, len(worn) - 1)), int(np.clip(x, 0, worn.shape[1] - 1))]
            rest = _left(mark, depth, np.float32(at), planed, s)
            left = float(rest.max())
            _over(marks, rest, *(np.array([x, y]) + rng.normal(0, 0.05 / s, 2)), _deeper)
        if pit:
            at = np.array([x, y]) + rng.normal(0, 0.1 / s, 2)
            _over(pits, _long_pit(rng, asked, s), *at, np.maximum)
        found.append(
            Gap(one.row, one.index, x, y, struck, depth, left, wide if struck else 0.0, pit)
        )
    return found, pits


def _long_pit(rng, asked, s: float) -> F:
    """A pit: long, flat at the bottom, steep at the sides, its outline eaten by noise."""
    wide = min(asked.pit_median_mm * float(np.exp(rng.normal(0, 0.5))), 1.3)
    deep = asked.pit_deep * wide * rng.uniform(0.1, 0.35) * min(1.0, 0.4 / wide)
    half = int(1.2 * wide / s) + 2
    ys, xs = np.mgrid[-half : half + 1, -half : half + 1] * s
    turn, long_ = rng.uniform(0, np.pi), 1 + asked.pit_rough * rng.uniform(0, 1.0)
    u = (xs * np.cos(turn) + ys * np.sin(turn)) / np.sqrt(long_)
    v = (-xs * np.sin(turn) + ys * np.cos(turn)) * np.sqrt(long_)
    eaten = cv2.GaussianBlur(rng.standard_normal(u.shape).astype(np.float32), (0, 0), 0.05 / s)
    rough = 1 + 0.25 * asked.pit_rough * eaten / max(float(eaten.std()), 1e-6)
    r = np.hypot(u, v) / (wide / 2 * np.clip(rough, 0.5, 1.6))
    steep = rng.uniform(1.5, 5)
    return (deep * np.clip(steep * (1 - r), 0, 1)).astype(np.float32)


def _clusters(rng, asked, density, shape, plate_mm) -> F:
    """Rust in clusters (Neyman and Scott, 1958): parents, and some pits about each."""
    s, field = asked.mm_per_px, np.zeros(shape, np.float32)
    many = rng.uniform(1, 6)
    for _ in range(rng.poisson(density * plate_mm[0] * plate_mm[1] / many)):
        x, y = rng.uniform(0, shape[1]), rng.uniform(0, shape[0])
        for _ in range(1 + rng.poisson(many - 1)):
            _over(field, _long_pit(rng, asked, s), x, y, np.maximum)
            x, y = np.array([x, y]) + rng.normal(0, 0.35 / s, 2)
    return field


def _lay(rng, shape, s: float, surface: str) -> F:
    """The bare plate: bend, orange peel, and a lay along one way, mm."""
    ys, xs = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j]
    ground = rng.normal(0, 0.03) * xs**2 + rng.normal(0, 0.02) * xs * ys

    def peel(across: float, along: float, way: float) -> F:
        side = int(1.5 * max(shape)) + 16
        small = rng.standard_normal((side // 2, side // 2)).astype(np.float32)
        small = cv2.GaussianBlur(small, (0, 0), sigmaX=max(along / s / 2, 0.4),
                                 sigmaY=max(across / s / 2, 0.4))  # fmt: skip
        turn = cv2.getRotationMatrix2D((side / 4, side / 4), np.degrees(way), 1.0)
        small = cv2.warpAffine(small, turn, small.shape[::-1], borderMode=cv2.BORDER_REFLECT)
        large = cv2.resize(small / small.std(), (side, side))
        top, left = (side - shape[0]) // 2, (side - shape[1]) // 2
        return large[top : top + shape[0], left : left + shape[1]]

    way = rng.uniform(-0.5, 0.5) * np.pi
    much = {"filed": 0.0022, "blotched": 0.0008, "smooth": 0.0003}[surface]
    ground = ground + much * rng.uniform(0.5, 1.5) * peel(0.04, 1.0, way)
    ground += 0.0007 * rng.uniform(0.5, 1.5) * peel(0.06, 0.06, 0.0)
    ground += 0.004 * rng.uniform(0.5, 1.5) * peel(0.7, 0.9, 0.0)
    if surface == "blotched":
        where = np.clip(peel(1.2, 1.2, 0.0), 0, 1.5)
        ground += 0.004 * where * np.clip(peel(0.1, 0.14, way), -1, 2)
    return ground.astype(np.float32)


def seen_normals(rng: np.random.Generator, plate: Plate) -> F:
    """Normals as a relief gives them: soft, too steep or flat, with streaks and doubtful spots."""
    n = plate.normals()
    steep = float(np.exp(rng.uniform(np.log(0.8), np.log(1.5))))
    rough = np.radians(np.exp(rng.uniform(np.log(0.4), np.log(2.2))))
    found = []
    glint = cv2.GaussianBlur(rng.standard_normal(n.shape[:2]).astype(np.float32), (0, 0), 6)
    glint = 1 + 2.0 * (glint > 2.2 * glint.std())  # where few lights were free of glare
    for part in (n[..., 0] / n[..., 2], n[..., 1] / n[..., 2]):
        noise = rng.standard_normal(part.shape).astype(np.float32)
        noise = cv2.GaussianBlur(noise, (0, 0), rng.uniform(0.5, 1.2), sigmaY=rng.uniform(0.5, 2.0))
        soft = steep * cv2.GaussianBlur(part, (0, 0), rng.uniform(0.5, 0.8))
        found.append(np.arctan(soft) + glint * rough * noise / noise.std())
    out = np.dstack([np.tan(np.clip(p, -1.4, 1.4)) for p in found] + [np.ones(n.shape[:2])])
    return (out / np.linalg.norm(out, axis=2, keepdims=True)).astype(np.float32)


def one_photograph(
    rng: np.random.Generator, plate: Plate, azimuth_deg: float, high_deg: float, far_mm: float = 220
) -> NDArray[np.uint8]:
    """One raking photograph, 8-bit grey as JPEG leaves it."""
    s, n = plate.mm_per_px, plate.normals()
    rows, cols = plate.height.shape
    a, e = np.radians(azimuth_deg), np.radians(high_deg)
    torch = far_mm * np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
    gx, gy = np.meshgrid((np.arange(cols) - (cols - 1) / 2) * s,
                         -(np.arange(rows) - (rows - 1) / 2) * s)  # fmt: skip
    to = torch - np.dstack([gx, gy, plate.height])
    far = np.linalg.norm(to, axis=2)
    to = to / far[..., None]
    face_in, face_out = np.clip((n * to).sum(axis=2), 1e-3, 1), np.clip(n[..., 2], 1e-3, 1)
    rough = rng.uniform(0.2, 0.6) ** 2
    first, second = 1 - 0.5 * rough / (rough + 0.33), 0.45 * rough / (rough + 0.09)
    cos_far = to[..., 2] - face_in * face_out
    alpha = np.maximum(np.arccos(face_in), np.arccos(face_out))
    beta = np.minimum(np.arccos(face_in), np.arccos(face_out))
    across = np.clip(
        cos_far / np.maximum(np.sqrt((1 - face_in**2) * (1 - face_out**2)), 1e-3), 0, 1
    )
    dull = face_in * (first + second * across * np.sin(alpha) * np.tan(np.minimum(beta, 1.4)))
    half = to + np.array([0, 0, 1.0])
    half /= np.linalg.norm(half, axis=2, keepdims=True)
    down = np.clip((n * half).sum(axis=2), 1e-3, 1)
    spread = rng.uniform(0.12, 0.3) ** 2
    gloss = np.exp(-(1 / down**2 - 1) / spread) / (4 * np.pi * spread * np.sqrt(face_in * face_out))
    stain = cv2.GaussianBlur(rng.standard_normal((rows, cols)).astype(np.float32), (0, 0), 0.3 / s)
    light = np.exp(0.12 * stain / stain.std()) * (
        0.3 * dull + rng.uniform(0.02, 0.15) * gloss * face_in
    )
    light *= _free(plate.height, s, a, e) * (far_mm / far) ** 2
    light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 0.6)
    light = 0.5 * light / np.percentile(light, 90)
    light = light + rng.standard_normal(light.shape) * np.sqrt(3e-5 + 2e-4 * np.clip(light, 0, 2))
    curve = np.clip(light, 0, 1) ** (1 / 2.2)
    _, coded = cv2.imencode(".jpg", np.round(255 * curve).astype(np.uint8), [1, 92])
    return cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)


def _free(height: F, s: float, azimuth: float, high: float) -> F:
    """Whether the torch is seen, stepping towards it until nothing can stand in the way."""
    rows, cols = height.shape
    px, py = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
    free = np.full(height.shape, 1.0, np.float32)
    for k in range(1, min(int(float(np.ptp(height)) / (s * np.tan(high))) + 2, 60)):
        x, y = px + np.float32(k * np.cos(azimuth)), py - np.float32(k * np.sin(azimuth))
        there = cv2.remap(height, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        free = np.minimum(free, 0.5 + (height + k * s * np.tan(high) - there) / 0.005)
    return np.clip(free, 0.05, 1)
