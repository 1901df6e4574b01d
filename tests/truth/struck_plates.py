"""Worn iron plates with struck digits, dots and rust, and photographs of them under a torch.

Made by other code than the reader's: figures come of type faces that lie with the libraries (and
one cut by hand here), marks are depth fields of distance to the outline, light is marched over the
height field. Everything random comes from the generator passed in. Pixels: x right, y down, centre
of the first pixel at (0, 0). Millimetres: X right, Y up, Z to the camera, origin at the picture's
centre on the plate. The camera has no perspective.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from unittest import SkipTest

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

F = NDArray[np.float32]

PLATE_MM = (40.0, 24.0)
DIGIT_MM = 2.4
BALL_MM = 6.0
"""Diameter of a ball."""

TUNING_FACES = ("serif", "mono", "roman", "sans light", "hand cut", "text bold")
"""Faces that settings of the reader may be fitted on."""
TEST_FACES = ("grotesque", "old style", "book serif", "typewriter", "narrow", "heavy")
"""Faces that no setting is ever fitted on."""
_OF_A_FACE = {
    "serif": ("DejaVuSerif.ttf", 1.0),
    "mono": ("DejaVuSansMono.ttf", 1.0),
    "roman": ("STIXGeneral.ttf", 1.0),
    "sans light": ("SourceSansPro-Light.ttf", 1.0),
    "text bold": ("SourceSerifPro-Bold.ttf", 0.9),
    "grotesque": ("DejaVuSans.ttf", 0.95),
    "old style": ("cmmi10.ttf", 1.0),
    "book serif": ("SourceSerifPro-Regular.ttf", 1.0),
    "typewriter": ("cmtt10.ttf", 1.0),
    "narrow": ("cmss10.ttf", 0.68),
    "heavy": ("DejaVuSans-Bold.ttf", 0.85),
    "modern": ("cmr10.ttf", 1.0),
}
"""Font file and how much narrower it is set."""

# Centre lines of the hand-cut face in a box 1 wide and 2 high, y down.
_BY_HAND = {
    "0": [[(0.5, 0), (0.12, 0.35), (0.02, 1), (0.12, 1.65), (0.5, 2), (0.88, 1.65), (0.98, 1),
           (0.88, 0.35), (0.5, 0)]],
    "1": [[(0.22, 0.38), (0.55, 0), (0.55, 2)]],
    "2": [[(0.05, 0.5), (0.2, 0.1), (0.55, 0), (0.9, 0.2), (0.92, 0.6), (0.05, 2), (0.98, 2)]],
    "3": [[(0.08, 0.25), (0.5, 0), (0.9, 0.3), (0.85, 0.75), (0.45, 0.93), (0.9, 1.15), (0.97, 1.6),
           (0.6, 1.98), (0.05, 1.75)]],
    "4": [[(0.7, 2), (0.7, 0), (0.0, 1.4), (1.0, 1.4)]],
    "5": [[(0.9, 0), (0.2, 0), (0.12, 0.88), (0.55, 0.75), (0.95, 1.1), (0.92, 1.65), (0.5, 2),
           (0.03, 1.8)]],
    "6": [[(0.85, 0.1), (0.4, 0.35), (0.08, 1.1), (0.12, 1.7), (0.5, 2), (0.92, 1.7), (0.92, 1.2),
           (0.5, 0.95), (0.1, 1.25)]],
    "7": [[(0.02, 0), (0.98, 0), (0.35, 2)]],
    "8": [[(0.5, 0.93), (0.12, 0.65), (0.15, 0.2), (0.5, 0), (0.85, 0.2), (0.88, 0.65), (0.5, 0.93),
           (0.05, 1.3), (0.1, 1.8), (0.5, 2), (0.9, 1.8), (0.95, 1.3), (0.5, 0.93)]],
    "9": [[(0.9, 0.75), (0.5, 1.05), (0.08, 0.8), (0.08, 0.3), (0.5, 0), (0.88, 0.3), (0.92, 0.9),
           (0.6, 1.65), (0.15, 1.9)]],
}  # fmt: skip


@dataclass(frozen=True)
class Asked:
    """What plate is wanted; what is None is drawn."""

    wear: float = 0.3
    face: str = "serif"
    mm_per_px: float = 0.025
    base_rate: float = 0.45
    pits_per_mm2: float | None = None
    pit_median_mm: float = 0.17
    pit_in_gap: float = 0.3
    pit_rough: float = 1.0  # 0 for round bowls, 1 for ragged ones
    pit_deep: float = 1.0  # times 0.12 to 0.42 of the width
    rows: int = 2
    per_row: int = 9
    wear_way: str = ""  # "planed", "shrunk" or "" for either
    surface: str = ""  # "rubbed", "crusted", "scratched" or "" for any


@dataclass(frozen=True)
class StruckDigit:
    """One digit: where, which, how deep when struck and what is left, mm."""

    row: int
    index: int
    x_px: float
    y_px: float
    glyph: str
    struck_mm: float
    left_mm: float


@dataclass(frozen=True)
class Gap:
    """One gap: whether a dot was struck, how deep and wide; what is left; whether a pit lies."""

    row: int
    index: int
    x_px: float
    y_px: float
    struck: bool
    struck_mm: float
    left_mm: float
    diameter_mm: float
    pit: bool


@dataclass(frozen=True)
class Plate:
    """The truth of a plate: height in mm, shape (rows, columns), and what was struck."""

    asked: Asked
    height: F
    digits: tuple[StruckDigit, ...]
    gaps: tuple[Gap, ...]
    pits_per_mm2: float
    surface: str
    shapes: dict[str, F] = field(repr=False)
    balls_mm: tuple[tuple[float, float], ...] = ((-16.4, 8.4), (16.4, -8.4))

    @property
    def mm_per_px(self) -> float:
        return self.asked.mm_per_px

    def normals(self) -> F:
        """Unit normals, X right, Y up, Z to the camera, shape (rows, columns, 3)."""
        down, right = np.gradient(self.height, self.mm_per_px)
        found = np.dstack([-right, down, np.ones_like(right)])
        return (found / np.linalg.norm(found, axis=2, keepdims=True)).astype(np.float32)

    def texts(self) -> list[str]:
        """What stands in each row, a point for a struck dot in the gap after a digit."""
        said = []
        for row in range(self.asked.rows):
            dots = {gap.index for gap in self.gaps if gap.row == row and gap.struck}
            said.append(
                "".join(
                    d.glyph + ("." if d.index in dots else "") for d in self.digits if d.row == row
                )
            )
        return said

    def places(self, rng: np.random.Generator, off_mm: float = 0.15) -> str:
        """The places as a person would give them, CSV, up to `off_mm` off."""
        lines = ["kind,row,index,x_px,y_px,height_px"]
        tall = DIGIT_MM / self.mm_per_px
        for kind, marks in (("digit", self.digits), ("gap", self.gaps)):
            for one in marks:
                way, far = rng.uniform(0, 2 * np.pi), off_mm * np.sqrt(rng.uniform())
                x = one.x_px + far * np.cos(way) / self.mm_per_px
                y = one.y_px + far * np.sin(way) / self.mm_per_px
                lines.append(f"{kind},{one.row},{one.index},{x:.2f},{y:.2f},{tall:.1f}")
        return "\n".join(lines) + "\n"

    def write_shapes(self, folder: Path) -> None:
        """One black-on-white PNG for each glyph of the face."""
        folder.mkdir(parents=True, exist_ok=True)
        for glyph, ink in self.shapes.items():
            Image.fromarray((255 * (1 - ink)).astype(np.uint8)).save(folder / f"{glyph}.png")


# --- the faces ----------------------------------------------------------------------------------


def _font_file(name: str) -> str:
    import font_source_sans_pro
    import font_source_serif_pro
    import matplotlib as mpl

    folders = (
        font_source_sans_pro.font_directory,
        font_source_serif_pro.font_directory,
        Path(mpl.get_data_path()) / "fonts" / "ttf",
    )
    found = next((str(Path(f) / name) for f in folders if (Path(f) / name).exists()), None)
    if found is None:
        # an older matplotlib brings fewer faces: what is read in them rests there
        raise SkipTest(f"none of the libraries here has {name}")
    return found


@cache
def face(name: str, tall: int = 240) -> dict[str, F]:
    """The ten figures of a face: ink 0 to 1 on one common height, a margin of a tenth around.

    Old-style figures keep their heights among each other.
    """
    edge = tall // 10
    if name == "hand cut":
        return {glyph: _by_hand(glyph, tall, edge) for glyph in _BY_HAND}
    file, narrower = _OF_A_FACE[name]
    font = ImageFont.truetype(_font_file(file), tall)
    boxes = [font.getbbox(glyph) for glyph in "0123456789"]
    # the tallest figure fills the height; for old-style ones that is a 6 or an 8
    font = ImageFont.truetype(
        _font_file(file), round(tall * tall / max(b[3] - b[1] for b in boxes))
    )
    drawn = {}
    for glyph in "0123456789":
        left, top, right, bottom = font.getbbox(glyph)
        paper = Image.new("L", (right - left + 2 * edge, bottom - top + 2 * edge), 0)
        ImageDraw.Draw(paper).text((edge - left, edge - top), glyph, 255, font=font)
        wide = max(1, round(paper.width * narrower))
        ink = np.asarray(paper.resize((wide, paper.height), Image.Resampling.LANCZOS))
        drawn[glyph] = ink.astype(np.float32) / 255
    return drawn


def _by_hand(glyph: str, tall: int, edge: int) -> F:
    paper = np.zeros((tall + 2 * edge, int(tall * 0.56) + 2 * edge), np.uint8)
    pen = tall // 9
    for line in _BY_HAND[glyph]:
        points = np.array(line) * [tall * 0.56 - pen, (tall - pen) / 2] + edge + pen / 2
        cv2.polylines(paper, [np.round(points * 16).astype(np.int32)], False, 255, pen,
                      cv2.LINE_AA, 4)  # fmt: skip
    return paper.astype(np.float32) / 255


# --- the plate ----------------------------------------------------------------------------------


def struck_plate(rng: np.random.Generator, asked: Asked) -> Plate:
    """Strike a plate, wear it, let it rust and rub it."""
    s = asked.mm_per_px
    shape = (round(PLATE_MM[1] / s), round(PLATE_MM[0] / s))
    surface = asked.surface or str(rng.choice(["rubbed", "crusted", "scratched"]))
    way = asked.wear_way or str(rng.choice(["planed", "shrunk"]))
    digits, marks = _digits(rng, asked, shape, way)
    gaps, dots, in_gaps = _gaps(rng, asked, digits, shape, way)
    density = asked.pits_per_mm2 or float(np.exp(rng.uniform(np.log(0.3), np.log(2.0))))
    rust = _pits(rng, asked, density, shape) + in_gaps
    eaten = np.maximum(marks + dots, rust) if rng.uniform() < 0.5 else marks + dots + rust
    height = -eaten + _ground(rng, shape, s, surface)
    height = cv2.GaussianBlur(height.astype(np.float32), (0, 0), 0.4)
    return Plate(asked, height, tuple(digits), tuple(gaps), density, surface, face(asked.face))


def _worn(mark: F, deepest: float, wear: float, way: str, s: float) -> F:
    """What is left of a mark, given its depth as struck."""
    if way == "planed":  # the ground around was taken down: the bottom alone is left
        return np.maximum(mark - wear * deepest, 0).astype(np.float32)
    soft = cv2.GaussianBlur(mark, (0, 0), max(0.01, 0.05 * wear / s))
    return ((1 - wear) * soft * (deepest / max(float(soft.max()), 1e-9))).astype(np.float32)


def _paste(onto: F, patch: F, x: float, y: float) -> None:
    """Take the deeper of both, the patch's centre at (x, y)."""
    tall, wide = patch.shape
    left, top = round(x - (wide - 1) / 2), round(y - (tall - 1) / 2)
    moved = np.array(
        [[1, 0, x - (wide - 1) / 2 - left], [0, 1, y - (tall - 1) / 2 - top]], np.float32
    )
    patch = cv2.warpAffine(patch, moved, (wide, tall), flags=cv2.INTER_LINEAR)
    ys = slice(max(top, 0), min(top + tall, onto.shape[0]))
    xs = slice(max(left, 0), min(left + wide, onto.shape[1]))
    part = patch[ys.start - top : ys.stop - top, xs.start - left : xs.stop - left]
    onto[ys, xs] = np.maximum(onto[ys, xs], part)


def _digits(
    rng: np.random.Generator, asked: Asked, shape: tuple[int, int], way: str
) -> tuple[list[StruckDigit], F]:
    s = asked.mm_per_px
    marks = np.zeros(shape, np.float32)
    inks = face(asked.face)
    pitch = rng.uniform(2.7, 3.3)
    usual = float(np.exp(rng.uniform(np.log(0.07), np.log(0.2))))
    slope = rng.uniform(0.6, 1.6)  # steepness of the punch's flanks
    skew = np.radians(rng.uniform(-1.0, 1.0))
    found = []
    for row in range(asked.rows):
        y0 = shape[0] / 2 + (row - (asked.rows - 1) / 2) * 6.0 / s
        for index in range(asked.per_row):
            glyph = str(rng.integers(10))
            dx, dy = rng.normal(0, 0.08, 2)
            along = (index - (asked.per_row - 1) / 2) * pitch
            x = shape[1] / 2 + (along + dx) / s
            y = y0 + (along * np.tan(skew) + dy) / s
            deep = float(np.clip(usual * np.exp(rng.normal(0, 0.15)), 0.05, 0.25))
            ink = _posed(inks[glyph], s, np.radians(rng.normal(0, 1.5)))
            mark = _stroke_depth(rng, ink, deep, slope, s)
            left = _worn(mark, deep, asked.wear, way, s)
            _paste(marks, left, x, y)
            found.append(StruckDigit(row, index, x, y, glyph, deep, float(left.max())))
    return found, marks


def _posed(ink: F, s: float, turn: float) -> F:
    """The ink at the plate's scale, turned about its middle."""
    per = DIGIT_MM / s / (ink.shape[0] / 1.2)
    side = int(np.ceil(max(ink.shape) * per * 1.15)) | 1
    c, n = np.cos(turn) * per, np.sin(turn) * per
    mid_x, mid_y = (ink.shape[1] - 1) / 2, (ink.shape[0] - 1) / 2
    half = (side - 1) / 2
    matrix = np.array(
        [[c, -n, half - c * mid_x + n * mid_y], [n, c, half - n * mid_x - c * mid_y]], np.float32
    )
    small = cv2.GaussianBlur(ink, (0, 0), 0.35 / per)
    return cv2.warpAffine(small, matrix, (side, side), flags=cv2.INTER_LINEAR)


def _stroke_depth(rng: np.random.Generator, ink: F, deep: float, slope: float, s: float) -> F:
    """Depth of a struck figure: flanks of one slope to a flat bottom, struck a little askew."""
    inside = cv2.distanceTransform((ink > 0.5).astype(np.uint8), cv2.DIST_L2, 5) * s
    inside = np.maximum(inside - 0.5 * s, 0)
    # thin strokes never reach the full depth where their flanks meet; keep some of each
    depth = deep * (1 - np.exp(-(slope * inside) / deep))
    depth *= deep / max(float(depth.max()), 1e-9)
    ys, xs = np.mgrid[-1 : 1 : ink.shape[0] * 1j, -1 : 1 : ink.shape[1] * 1j]
    askew = 1 + rng.normal(0, 0.1) * xs + rng.normal(0, 0.1) * ys
    depth = np.clip(depth * askew, 0, deep)
    return cv2.GaussianBlur(depth.astype(np.float32), (0, 0), 0.02 / s)


def _gaps(
    rng: np.random.Generator,
    asked: Asked,
    digits: list[StruckDigit],
    shape: tuple[int, int],
    way: str,
) -> tuple[list[Gap], F, F]:
    s = asked.mm_per_px
    dots, pits = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    wide = rng.uniform(0.30, 0.44)
    deep = wide * rng.uniform(0.2, 0.25)
    lower = rng.uniform(-0.2, 1.0)  # of the line of dots below the middle of the digits, mm
    round_bottom = rng.uniform(1.5, 4.0)
    found = []
    for one, after in pairwise(digits):
        if one.row != after.row:
            continue
        x = (one.x_px + after.x_px) / 2
        y = (one.y_px + after.y_px) / 2 + lower / s
        struck = bool(rng.uniform() < asked.base_rate)
        depth = left = 0.0
        if struck:
            depth = deep * float(np.clip(np.exp(rng.normal(0, 0.08)), 0.8, 1.25))
            mark = _dot(wide, depth, round_bottom, s)
            worn = _worn(mark, depth, asked.wear, way, s)
            left = float(worn.max())
            _paste(dots, worn, x + rng.normal(0, 0.05) / s, y + rng.normal(0, 0.05) / s)
        pit = bool(rng.uniform() < asked.pit_in_gap)
        if pit:
            _paste(pits, _pit(rng, asked, s), *(np.array([x, y]) + rng.normal(0, 0.1 / s, 2)))
        found.append(Gap(one.row, one.index, x, y, struck, depth, left, wide if struck else 0.0,
                         pit))  # fmt: skip
    return found, dots, pits


def _dot(wide: float, deep: float, power: float, s: float) -> F:
    half = int(np.ceil(0.8 * wide / s))
    ys, xs = np.mgrid[-half : half + 1, -half : half + 1] * s
    r = np.hypot(xs, ys) / (wide / 2)
    return (deep * np.clip(1 - r**power, 0, None)).astype(np.float32)


def _pit(rng: np.random.Generator, asked: Asked, s: float) -> F:
    """A pit: an uneven outline, a bottom between cone and bowl, a third as deep as wide or less."""
    wide = min(asked.pit_median_mm * float(np.exp(rng.normal(0, 0.55))), 1.3)
    ragged = asked.pit_rough
    deep = wide * float(rng.uniform(0.12, 0.42)) * (1 if wide < 0.4 else 0.4 / wide)
    deep *= asked.pit_deep
    half = int(np.ceil(0.9 * wide / s)) + 1
    ys, xs = np.mgrid[-half : half + 1, -half : half + 1] * s
    turn, squeezed = rng.uniform(0, np.pi), 1 - ragged * (1 - rng.uniform(0.65, 1.0))
    u = (xs * np.cos(turn) + ys * np.sin(turn)) * np.sqrt(squeezed)
    v = (-xs * np.sin(turn) + ys * np.cos(turn)) / np.sqrt(squeezed)
    angle = np.arctan2(v, u)
    rim = np.ones_like(u)
    for k in (2, 3, 4, 5):
        rim += ragged * rng.normal(0, 0.22 / k) * np.cos(k * angle + rng.uniform(0, 6.28))
    r = np.hypot(u, v) / (wide / 2 * np.clip(rim, 0.4, None))
    return (deep * np.clip(1 - r ** rng.uniform(1.0, 3.5), 0, None)).astype(np.float32)


def _pits(rng: np.random.Generator, asked: Asked, density: float, shape: tuple[int, int]) -> F:
    s = asked.mm_per_px
    field_ = np.zeros(shape, np.float32)
    for _ in range(rng.poisson(density * PLATE_MM[0] * PLATE_MM[1])):
        _paste(field_, _pit(rng, asked, s), rng.uniform(0, shape[1]), rng.uniform(0, shape[0]))
    return field_


def _ground(rng: np.random.Generator, shape: tuple[int, int], s: float, surface: str) -> F:
    """The plate without marks: a slight bend, grain, crust or scratches, mm."""
    ys, xs = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j]
    a = rng.normal(0, 0.02, 3)
    ground = a[0] * xs**2 + a[1] * ys**2 + a[2] * xs * ys
    for size, tall in ((0.05, 0.0006), (0.2, 0.002), (1.0, 0.005)):
        ground += _noise(rng, shape, size / s) * tall * rng.uniform(0.5, 1.5)
    if surface == "crusted":
        where = np.clip(_noise(rng, shape, 1.5 / s), 0, None)
        ground += where * _noise(rng, shape, 0.08 / s) * 0.004
        ground += where * np.abs(_noise(rng, shape, 0.25 / s)) * 0.006
    count = {"scratched": 60, "rubbed": 20, "crusted": 6}[surface]
    scratches = np.zeros(shape, np.float32)
    main = rng.uniform(0, np.pi)
    for _ in range(count):
        way = main + rng.normal(0, 0.3)
        mid = np.array([rng.uniform(0, shape[1]), rng.uniform(0, shape[0])])
        half = np.array([np.cos(way), np.sin(way)]) * rng.uniform(2, 15) / s / 2
        ends = np.round(np.stack([mid - half, mid + half]) * 16).astype(np.int32)
        line = np.zeros(shape, np.uint8)
        cv2.line(line, tuple(ends[0]), tuple(ends[1]), 255, rng.integers(1, 3), cv2.LINE_AA, 4)
        scratches = np.maximum(scratches, line * np.float32(rng.uniform(0.003, 0.012) / 255))
    ground -= cv2.GaussianBlur(scratches, (0, 0), 0.8)
    return ground.astype(np.float32)


def _noise(rng: np.random.Generator, shape: tuple[int, int], size: float) -> F:
    """Smooth noise of unit variance; `size` in pixels is its standard width."""
    step = max(1, int(size / 2))
    small = (shape[0] // step + 8, shape[1] // step + 8)
    drawn = cv2.GaussianBlur(rng.standard_normal(small).astype(np.float32), (0, 0), size / step)
    drawn /= drawn.std()
    return cv2.resize(drawn, (small[1] * step, small[0] * step))[: shape[0], : shape[1]]


# --- the photographs ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Shots:
    """Photographs of a plate with what was so: lights in mm, moves of the camera, gains.

    `shift_px` and `turn_deg` say where a point of the first photograph lies in each other: turned
    about the picture's centre (positive from x to y), then moved.
    """

    frames: tuple[NDArray[np.uint8], ...]
    light_mm: F
    shift_px: F
    turn_deg: F
    gain: F
    albedo: F
    balls_px: F  # x, y, radius


def photographs(  # long: the torch, the metal and the camera, in the order light goes
    rng: np.random.Generator, plate: Plate, count: int = 24, *, matt: bool = False
) -> Shots:
    """Photograph a plate: the camera fixed but for half a pixel, the torch moved about."""
    s = plate.mm_per_px
    shape = plate.height.shape
    xs = ((np.arange(shape[1]) - (shape[1] - 1) / 2) * s).astype(np.float32)
    ys = (-(np.arange(shape[0]) - (shape[0] - 1) / 2) * s).astype(np.float32)
    point = np.dstack([*np.meshgrid(xs, ys), plate.height]).astype(np.float32)
    normal = plate.normals()
    albedo, gloss, rough = _metal(rng, plate, matt=matt)
    point, normal, ball = _with_balls(plate, point, normal)
    lights, frames = _torches(rng, count), []
    shifts, turns, gains = np.zeros((count, 2)), np.zeros(count), np.ones(count)
    for k, light in enumerate(lights):
        if k:
            shifts[k], turns[k] = rng.uniform(-0.5, 0.5, 2), rng.normal(0, 0.01)
            gains[k] = np.exp(rng.normal(0, 0.06))
        seen = _lit(rng, light, point, normal, albedo, gloss, rough, ball)
        seen *= _unshadowed(plate, light, ball)
        seen = cv2.GaussianBlur(seen + 0.01, (0, 0), 0.6) * gains[k]
        c, n = np.cos(np.radians(turns[k])), np.sin(np.radians(turns[k]))
        mx, my = (shape[1] - 1) / 2, (shape[0] - 1) / 2
        move = np.array(
            [[c, -n, mx - c * mx + n * my + shifts[k, 0]],
             [n, c, my - n * mx - c * my + shifts[k, 1]]], np.float32
        )  # fmt: skip
        frames.append(
            cv2.warpAffine(seen, move, (shape[1], shape[0]), flags=cv2.INTER_CUBIC,
                           borderMode=cv2.BORDER_REPLICATE)
        )  # fmt: skip
    bright = 0.6 / float(np.median([np.percentile(f, 90) for f in frames]))
    developed = tuple(_developed(rng, f * bright) for f in frames)
    balls = [
        ((shape[1] - 1) / 2 + bx / s, (shape[0] - 1) / 2 - by / s, BALL_MM / 2 / s)
        for bx, by in plate.balls_mm
    ]
    return Shots(developed, lights, shifts, turns, gains, albedo, np.array(balls))


def _torches(rng: np.random.Generator, count: int) -> F:
    round_ = (np.arange(count) + rng.uniform(-0.3, 0.3, count)) / count * 2 * np.pi
    high = np.radians(rng.permutation(np.linspace(15, 55, count)) + rng.uniform(-1, 1, count))
    far = rng.uniform(150, 320, count)
    return np.column_stack(
        [far * np.cos(high) * np.cos(round_), far * np.cos(high) * np.sin(round_),
         far * np.sin(high)]
    )  # fmt: skip


def _metal(rng: np.random.Generator, plate: Plate, *, matt: bool) -> tuple[F, F, F]:
    """Albedo, strength of the gloss and its exponent, everywhere."""
    shape, s = plate.height.shape, plate.mm_per_px
    albedo = 0.35 * np.exp(0.12 * _noise(rng, shape, 0.8 / s) + 0.06 * _noise(rng, shape, 0.06 / s))
    if matt:
        return albedo, np.zeros(shape, np.float32), np.ones(shape, np.float32)
    rubbed = 1 / (1 + np.exp(-2 * _noise(rng, shape, 2.0 / s)))
    much = {"rubbed": 0.9, "scratched": 0.7, "crusted": 0.25}[plate.surface]
    gloss = much * (0.3 + 0.7 * rubbed)
    return albedo, gloss.astype(np.float32), (8 + 22 * rubbed).astype(np.float32)


def _with_balls(plate: Plate, point: F, normal: F) -> tuple[F, F, NDArray[np.bool_]]:
    point, normal = point.copy(), normal.copy()
    ball = np.zeros(point.shape[:2], bool)
    radius = BALL_MM / 2
    for bx, by in plate.balls_mm:
        dx, dy = point[..., 0] - bx, point[..., 1] - by
        inside = dx**2 + dy**2 < radius**2
        up = np.sqrt(np.clip(radius**2 - dx**2 - dy**2, 0, None))
        point[..., 2][inside] = (radius + up)[inside]
        normal[inside] = (np.dstack([dx, dy, up]) / radius)[inside]
        ball |= inside
    return point, normal, ball


def _lit(
    rng: np.random.Generator,
    light: F,
    point: F,
    normal: F,
    albedo: F,
    gloss: F,
    rough: F,
    ball: NDArray[np.bool_],
) -> F:
    """Light that comes back, cast shadows left out."""
    light = light.astype(np.float32)
    to = light - point
    far = np.linalg.norm(to, axis=2)
    to /= far[..., None]
    aim = rng.uniform(-8, 8, 2)  # the beam's middle lies off the plate's
    off = np.hypot(point[..., 0] - aim[0], point[..., 1] - aim[1])
    beam = np.exp(-0.5 * (off / rng.uniform(25, 45)) ** 2) * (np.linalg.norm(light) / far) ** 2
    facing = np.clip(np.einsum("ijk,ijk->ij", normal, to), 0, None)
    half = to + np.array([0, 0, 1], np.float32)
    half /= np.linalg.norm(half, axis=2, keepdims=True)
    glance = np.clip(np.einsum("ijk,ijk->ij", normal, half), 0, None)
    metal = albedo * facing + gloss * (rough + 2) / 8 * 0.25 * glance**rough * (facing > 0)
    shiny = 0.03 + 0.05 * facing + 0.08 * normal[..., 2] + 6.0 * glance**4000
    return (beam * np.where(ball, shiny, metal)).astype(np.float32)


def _unshadowed(plate: Plate, light: F, ball: NDArray[np.bool_]) -> F:
    """How much of the torch each point sees: marched over the height field, and past the balls."""
    s, height = plate.mm_per_px, plate.height
    rows, cols = height.shape
    xs = (np.arange(cols) - (cols - 1) / 2) * s
    ys = -(np.arange(rows) - (rows - 1) / 2) * s
    gx, gy = (g.astype(np.float32) for g in np.meshgrid(xs, ys))
    dx, dy = light[0] - gx, light[1] - gy
    flat = np.hypot(dx, dy)
    rise = (light[2] / flat).astype(np.float32)
    px, py = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
    ux, uy = (dx / flat).astype(np.float32), (-dy / flat).astype(np.float32)
    most = float(height.max() - height.min())
    clear = np.full(height.shape, 9.0, np.float32)
    reach = min(int(most / float(rise.min()) / s) + 2, 70)
    for k in range(1, reach):
        there = cv2.remap(height, px + k * ux, py + k * uy, cv2.INTER_LINEAR,
                          borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
        clear = np.minimum(clear, height + k * s * rise - there)
    seen = np.clip(0.5 + clear / 0.004, 0, 1)  # a torch has some width
    for bx, by in plate.balls_mm:
        to = np.dstack([dx, dy, np.broadcast_to(light[2], dx.shape)])
        to /= np.linalg.norm(to, axis=2, keepdims=True)
        centre = np.dstack([bx - gx, by - gy, np.full_like(gx, BALL_MM / 2)])
        along = np.einsum("ijk,ijk->ij", to, centre)
        past = np.sqrt(np.clip(np.einsum("ijk,ijk->ij", centre, centre) - along**2, 0, None))
        blocked = np.clip(0.5 + (past - BALL_MM / 2) / 0.1, 0, 1)
        seen = np.where(along > 0, np.minimum(seen, blocked), seen)
    return np.where(ball, 1.0, seen).astype(np.float32)


def _developed(rng: np.random.Generator, light: F) -> NDArray[np.uint8]:
    """Eight-bit grey JPEG, decoded again: sRGB curve, shot and read noise."""
    light = light + rng.standard_normal(light.shape) * np.sqrt(2e-5 + 2e-4 * np.clip(light, 0, 2))
    light = np.clip(light, 0, 1)
    curve = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    _, coded = cv2.imencode(".jpg", np.round(curve * 255).astype(np.uint8),
                            [cv2.IMWRITE_JPEG_QUALITY, 92])  # fmt: skip
    return cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)


def with_wear(asked: Asked, wear: float) -> Asked:
    """The same plate asked with another wear."""
    return replace(asked, wear=wear)


def small_plate(folder: Path, mm_per_px: float = 0.1, count: int = 8) -> Plate:
    """A small plate of one row, its photographs written as JPEG beside its places."""
    rng = np.random.default_rng(3)
    plate = struck_plate(rng, Asked(wear=0.3, mm_per_px=mm_per_px, rows=1, surface="rubbed"))
    folder.mkdir(parents=True, exist_ok=True)
    for number, frame in enumerate(photographs(rng, plate, count).frames):
        Image.fromarray(frame).save(folder / f"{number:02d}.jpg", quality=92)
    (folder / "places.csv").write_text(plate.places(rng), encoding="utf-8")
    return plate
