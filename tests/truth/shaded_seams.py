"""Seams as shaded cylinders with plies on a cloth of sines, painted in light, seen through a lens.

No pen strokes and no relief map: no line of it is shared with `sewn_seams` or `sewn_seams_drawn`. A
class is one way in which a seam or its picture departs from the manual's advice.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import cv2
import numpy as np

FINE = 48.0
"""Pixels to the mm that are painted: a thread is a dozen of them wide."""


@dataclass
class Habit:
    """One seam and its picture, mm and shares; what a class changes."""

    long: float = 60.0
    wide: float = 10.0
    stitch: float = 2.4
    cv: float = 0.04
    drift: float = 0.0
    skip: float = 0.0
    aslant: float = 0.0
    off_middle: float = 0.0
    radius: float = np.inf
    zigzag: float = 0.0
    back: int = 0
    count: int | None = None
    contrast: float = 45.0
    thread_turns: float = 0.0
    pattern: str = ""
    pattern_mm: float = 5.0
    second_mm: float = 0.0
    loops: float = 0.0
    dpi: float = 600.0
    blur: float = 0.025
    shake: float = 0.0
    glare: float = 0.0
    tilt: float = 0.0
    jpeg: int = 0
    ruler: bool = False
    noise: float = 0.006
    fuzz: float = 1.0


@dataclass
class Made:
    """A picture and the truth of it: holes in mm of the picture, lengths of single stitches."""

    pixels: np.ndarray
    dpi: float
    holes: np.ndarray
    stitches: np.ndarray
    habit: Habit
    lengths: np.ndarray = field(default_factory=lambda: np.zeros(0))


def of_lab(lab):
    """Linear light of one CIE colour."""
    one = np.asarray(lab, np.float32).reshape(1, 1, 3)
    shown = cv2.cvtColor(one, cv2.COLOR_LAB2RGB).reshape(3)
    return np.clip(shown, 0.01, 1.0).astype(np.float64) ** 2.2


def two_colours(rng, apart):
    """Cloth and thread so far apart (L*a*b*), as often a darker thread as a lighter."""
    cloth = np.array([rng.uniform(35, 88), rng.normal(0, 12), rng.normal(4, 14)])
    way = rng.normal(size=3) * (1.6, 1.0, 1.0)
    way[0] = -abs(way[0]) if cloth[0] > 60 else abs(way[0])
    way *= apart / np.linalg.norm(way)
    return cloth, cloth + way


class Sheet:
    """Cloth in linear light, and where along and across the seam each pixel lies."""

    def __init__(self, rng, habit):
        self.habit = habit
        self.k = FINE
        self.size = round(habit.long * FINE), round(habit.wide * FINE)
        x = (np.arange(self.size[0]) + 0.5) / FINE
        y = (np.arange(self.size[1]) + 0.5) / FINE
        self.x, self.y = np.meshgrid(x, y)
        turn = np.radians(habit.aslant)
        self.middle = np.array([habit.long / 2, habit.wide / 2 + habit.off_middle])
        dx, dy = self.x - self.middle[0], self.y - self.middle[1]
        self.turn = turn
        along = dx * np.cos(turn) + dy * np.sin(turn)
        across = -dx * np.sin(turn) + dy * np.cos(turn)
        if np.isfinite(habit.radius):
            r = habit.radius
            along, across = (
                r * np.arctan2(along, r - across),
                r - np.hypot(along, r - across),
            )
        self.u, self.v = along.astype(np.float32), across.astype(np.float32)
        self.cloth_lab, self.thread_lab = two_colours(rng, habit.contrast)
        self.light = self._cloth(rng)
        self.away = rng.uniform(0, 2 * np.pi)
        self.lit = np.array([np.cos(self.away), np.sin(self.away)])

    def place(self, u, v):
        """Places in mm of places along and across the seam."""
        u, v = np.asarray(u, float), np.asarray(v, float)
        if np.isfinite(self.habit.radius):
            r = self.habit.radius
            u, v = (r - v) * np.sin(u / r), r - (r - v) * np.cos(u / r)
        c, s = np.cos(self.turn), np.sin(self.turn)
        return np.stack([u * c - v * s, u * s + v * c], axis=-1) + self.middle

    def _cloth(self, rng):
        habit = self.habit
        grain = self.turn + np.radians(rng.normal(0, 3))
        a = self.x * np.cos(grain) + self.y * np.sin(grain)
        b = -self.x * np.sin(grain) + self.y * np.cos(grain)
        warp, weft = rng.uniform(0.28, 0.6, 2)
        a = a + 0.04 * soft(rng, self.x.shape, 1.0)
        b = b + 0.04 * soft(rng, self.x.shape, 1.0)
        over = np.sin(np.pi * a / warp) * np.sin(np.pi * b / weft)
        ribs = np.where(
            over > 0, np.abs(np.sin(np.pi * a / warp)), np.abs(np.sin(np.pi * b / weft))
        )
        depth = rng.uniform(0.08, 0.28)
        shade = 1.0 - depth * (1.0 - ribs) + 0.03 * soft(rng, self.x.shape, 4.0)
        colour = np.broadcast_to(of_lab(self.cloth_lab), (*self.x.shape, 3)).copy()
        if habit.pattern:
            other = self.cloth_lab + rng.choice([-1, 1]) * np.array([22.0, 0, 0])
            other[1:] += rng.normal(0, 14, 2)
            p = habit.pattern_mm
            first = rng.random() * p
            lean = np.radians(rng.normal(0, 2.5))
            along = a * np.cos(lean) + b * np.sin(lean)
            athwart = -a * np.sin(lean) + b * np.cos(lean)
            on = ((along + first) % p < 0.45 * p).astype(float)
            if habit.pattern == "checks":
                on = 0.5 * on + 0.5 * ((athwart + rng.random() * p) % p < 0.5 * p)
            elif habit.pattern == "along":
                on = ((athwart + first) % p < 0.4 * p).astype(float)
            on = cv2.GaussianBlur(on, (0, 0), 0.06 * FINE)[..., None]
            colour = colour * (1 - on) + of_lab(other) * on
        return colour * shade[..., None]

    def window(self, u0, u1, v0, v1, reach):
        """Slices of the picture that hold a stretch of seam."""
        places = self.place(np.linspace(u0, u1, 5), np.linspace(v0, v1, 5)) * FINE
        low = np.floor(places.min(axis=0) - reach * FINE).astype(int)
        high = np.ceil(places.max(axis=0) + reach * FINE).astype(int)
        low = np.maximum(low, 0)
        high = np.minimum(high, self.size)
        if (high - low < 2).any():
            return None
        return slice(low[1], high[1]), slice(low[0], high[0])

    def hole(self, rng, u, v):
        at = self.window(u, u, v, v, 0.9)
        if at is None:
            return
        far = np.hypot((self.u[at] - u) / 1.15, self.v[at] - v)
        size = rng.normal(0.15, 0.015)
        dark = 0.72 * np.exp(-((far / size) ** 4))
        pull = 0.10 * np.exp(-((far / 0.45) ** 2)) * (self.v[at] > v)
        self.light[at] *= (1.0 - dark - pull)[..., None]

    def stitch(self, rng, start, stop, lab, width, pitch):
        """A thread from hole to hole: round, plied, going down at both ends."""
        (u0, v0), (u1, v1) = start, stop
        at = self.window(min(u0, u1), max(u0, u1), v0, v1, 0.8)
        if at is None:
            return
        run = np.array([u1 - u0, v1 - v0])
        long = float(np.linalg.norm(run))
        run /= max(long, 1e-9)
        du, dv = self.u[at] - u0, self.v[at] - v0
        t, w = du * run[0] + dv * run[1], -du * run[1] + dv * run[0]
        w = w - rng.normal(0, 0.02) * np.sin(np.pi * np.clip(t / long, 0, 1))
        near = np.clip(np.minimum(t, long - t), 0.0, None)
        half = 0.5 * width * (0.6 + 0.4 * np.tanh(near / 0.16))
        half = half * (1 + 0.03 * np.sin(2 * np.pi * (t / 0.37 + rng.random())))
        past = np.where(t < 0, -t, np.where(t > long, t - long, 0.0))
        across = np.hypot(w, 1.3 * past) / half
        cover = np.clip((1.0 - across) * half * FINE + 0.5, 0, 1)
        slip = self.lit * 0.07 * FINE
        move = np.array([[1, 0, slip[0]], [0, 1, slip[1]]], float)
        shade = cv2.warpAffine(cover.astype(np.float32), move, cover.shape[::-1])
        shade = cv2.GaussianBlur(shade, (0, 0), 0.05 * FINE)
        self.light[at] *= (1.0 - 0.35 * shade)[..., None]
        side = np.clip(w / half, -1, 1)
        c, s = (
            np.cos(self.turn + np.arctan2(run[1], run[0])),
            np.sin(self.turn + np.arctan2(run[1], run[0])),
        )
        lamp = -(self.lit[0] * -s + self.lit[1] * c)
        body = 0.55 + 0.45 * np.clip(0.8 * np.sqrt(1 - side**2) + 0.6 * lamp * side, 0, 1.2)
        plies = 1.0 + 0.14 * np.sin(2 * np.pi * (t / pitch - 0.45 * side))
        dive = 1.0 - 0.55 * np.exp(-((near / 0.13) ** 2))
        tone = (body * plies * dive)[..., None] * of_lab(lab)
        self.light[at] = self.light[at] * (1 - cover[..., None]) + tone * cover[..., None]
        for _ in range(rng.poisson(1.5 * self.habit.fuzz * long)):
            self._fibre(
                rng, u0 + run[0] * rng.random() * long, v0 + run[1] * rng.random() * long, lab
            )

    def _fibre(self, rng, u, v, lab):
        points = [np.array([u, v + rng.normal(0, 0.1)])]
        way = rng.uniform(0, 2 * np.pi)
        for _ in range(6):
            way += rng.normal(0, 0.5)
            points.append(points[-1] + 0.07 * np.array([np.cos(way), np.sin(way)]))
        px = (self.place(*np.array(points).T) * FINE * 16).astype(np.int32)
        low = px.min(axis=0) // 16 - 2
        high = px.max(axis=0) // 16 + 3
        low, high = np.maximum(low, 0), np.minimum(high, self.size)
        if (high - low < 2).any():
            return
        mask = np.zeros((high - low)[::-1], np.uint8)
        cv2.polylines(mask, [px - low * 16], False, 255, 1, cv2.LINE_AA, 4)
        share = (0.35 / 255.0) * mask[..., None]
        at = slice(low[1], high[1]), slice(low[0], high[0])
        self.light[at] = self.light[at] * (1 - share) + 1.1 * of_lab(lab) * share


def soft(rng, shape, mm):
    """Smooth noise of unit spread whose bumps are so many mm wide."""
    step = max(2, round(mm * FINE / 2))
    small = rng.normal(size=(shape[0] // step + 3, shape[1] // step + 3))
    large = cv2.resize(small, (shape[1] + step, shape[0] + step), interpolation=cv2.INTER_CUBIC)
    return large[: shape[0], : shape[1]]


def needle_places(rng, habit):
    """Places of the holes along the seam, and how many stitches lie between each and the next."""
    reach = 0.5 * habit.long / np.cos(np.radians(habit.aslant)) + 4
    if habit.count is not None:
        reach = 0.5 * habit.count * habit.stitch
    at, many = [-reach + (0 if habit.count else rng.random() * habit.stitch)], []
    n = 0
    while (n < habit.count) if habit.count else (at[-1] < reach):
        share = 1.0 + habit.drift * at[-1] / (2 * reach)
        one = habit.stitch * share * (1.0 + habit.cv * rng.normal())
        times = 1
        if rng.random() < habit.skip and n > 2:
            times = 2
            one += habit.stitch * share * (1.0 + habit.cv * rng.normal())
        at.append(at[-1] + max(one, 0.3))
        many.append(times)
        n += 1
    return np.array(at), np.array(many)


def made(rng, habit):
    """Paint one."""
    sheet = Sheet(rng, habit)
    at, many = needle_places(rng, habit)
    width, pitch = rng.uniform(0.22, 0.36), rng.uniform(0.45, 0.8)
    lean = rng.normal(0, 0.03)
    rows = [0.0] if not habit.second_mm else [0.0, habit.second_mm]
    for row in rows:
        seam_on(
            rng, sheet, row + at * 0, at if not row else at + rng.random() * 2, width, pitch, lean
        )
    if habit.back:
        first = np.flatnonzero(at > -0.5 * habit.long + 3)[0]
        back = at[first] + np.arange(habit.back + 1) * habit.stitch * rng.normal(0.93, 0.02)
        seam_on(rng, sheet, 0.06 + back * 0, back, width, pitch, lean)
    holes = sheet.place(at, zig(habit, len(at)))
    light = sheet.light
    if habit.ruler:
        ruler(rng, light, habit)
    pixels, holes = taken(rng, light, holes, habit)
    lengths = np.diff(at)
    return Made(pixels, habit.dpi, holes, many, habit, lengths)


def zig(habit, n):
    return habit.zigzag * (0.5 - np.arange(n) % 2)


def seam_on(rng, sheet, row, at, width, pitch, lean):
    habit = sheet.habit
    across = row + zig(habit, len(at))
    for u, v in zip(at, across, strict=True):
        sheet.hole(rng, u, v)
    turns = np.array([0.0, 30.0, -25.0])
    for i in range(len(at) - 1):
        lab = sheet.thread_lab + habit.thread_turns * np.sin(at[i] / 6.0) * turns / 30.0
        start, stop = (at[i], across[i] - lean), (at[i + 1], across[i + 1] + lean)
        sheet.stitch(rng, start, stop, lab, width, pitch)
    if habit.loops:
        other = sheet.thread_lab + np.array([0, 40.0, 30.0])
        other[0] = np.clip(other[0], 20, 85)
        for u, v in zip(at, across, strict=True):
            if rng.random() < habit.loops:
                sheet.stitch(rng, (u - 0.14, v + 0.05), (u + 0.16, v - 0.03), other, 0.2, pitch)


def ruler(rng, light, habit):
    """A steel rule in sixteenths of an inch along the lower rim."""
    high = round(3.0 * FINE)
    light[-high:] = 0.55 + 0.03 * rng.normal(size=(high, 1, 1))
    for n in range(round(habit.long / 25.4 * 16) + 1):
        x = round(n * 25.4 / 16 * FINE)
        long = (1.2, 0.7)[n % 2] if n % 16 else 2.2
        light[-high : -high + round(long * FINE), x : x + 6] = 0.05


def taken(rng, light, holes, habit):
    """What scanner or camera makes of it."""
    if habit.tilt:
        light, holes = tilted(light, holes, habit)
    scale = habit.dpi / 25.4 / FINE
    sigma = habit.blur * FINE
    light = cv2.GaussianBlur(light, (0, 0), sigma) if sigma > 0.3 else light
    if habit.shake:
        n = max(1, round(habit.shake * FINE))
        kernel = np.zeros((2 * n + 1, 2 * n + 1))
        way = rng.uniform(0, np.pi)
        end = np.array([np.cos(way), np.sin(way)]) * n / 2
        middle = np.array([n, n])
        cv2.line(
            kernel, *(tuple(np.round(middle + s * end).astype(int).tolist()) for s in (-1, 1)), 1.0
        )
        light = cv2.filter2D(light, -1, kernel / kernel.sum())
    size = round(light.shape[1] * scale), round(light.shape[0] * scale)
    light = cv2.resize(light, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC)
    if habit.glare:
        x, y = np.meshgrid(np.linspace(0, 1, size[0]), np.linspace(0, 1, size[1]))
        spot = np.exp(-(((x - rng.uniform(0.2, 0.8)) / 0.13) ** 2 + ((y - 0.5) / 0.6) ** 2))
        light = light + habit.glare * spot[..., None]
    light = light + habit.noise * rng.normal(size=light.shape) * np.sqrt(np.clip(light, 0.02, 1))
    shown = np.clip(light, 0, 1)
    shown = np.where(shown <= 0.0031308, 12.92 * shown, 1.055 * shown ** (1 / 2.4) - 0.055)
    pixels = np.round(255 * shown).astype(np.uint8)
    if habit.jpeg:
        _, data = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, habit.jpeg])
        pixels = cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1].copy()
    # a picture's mm are its pixels by the stated dots, as a scanner rounds them
    return pixels, holes * (pixels.shape[1] / (habit.long * habit.dpi / 25.4))


def tilted(light, holes, habit):
    """Seen by a camera that leans over the seam's right end; the scale at the middle is kept."""
    w, h = habit.long, habit.wide
    g = habit.tilt / w
    c = np.array([w / 2, h / 2])
    one = np.array([[1, 0, -c[0]], [0, 1, -c[1]], [0, 0, 1.0]])
    lean = np.array([[1, 0, 0], [0, 1, 0], [g, 0, 1.0]])
    full = np.linalg.inv(one) @ lean @ one
    k = np.diag([FINE, FINE, 1.0])
    seen = cv2.warpPerspective(
        light, k @ full @ np.linalg.inv(k), light.shape[1::-1], borderMode=cv2.BORDER_REFLECT
    )
    moved = np.c_[holes, np.ones(len(holes))] @ full.T
    return seen, moved[:, :2] / moved[:, 2:]


CLASSES: dict[str, Callable[[np.random.Generator], dict]] = {
    "plain": lambda r: {},
    "aslant": lambda r: {"aslant": r.uniform(3, 40), "wide": 26.0, "long": 40.0},
    "near the rim": lambda r: {"off_middle": r.uniform(3.2, 4.3)},
    "checks": lambda r: {"pattern": "checks", "pattern_mm": r.uniform(3, 9)},
    "stripes near the stitch": lambda r: {
        "pattern": "across",
        "pattern_mm": 2.4 * r.uniform(0.9, 1.1),
    },
    "stripes of twice the stitch": lambda r: {
        "pattern": "across",
        "pattern_mm": 4.8 * r.uniform(0.95, 1.05),
    },
    "stripes along": lambda r: {"pattern": "along", "pattern_mm": r.uniform(0.8, 4)},
    "skipped": lambda r: {"skip": r.uniform(0.05, 0.2)},
    "length changes": lambda r: {"drift": r.uniform(0.15, 0.6) * r.choice([-1, 1])},
    "near the cloth's colour": lambda r: {"contrast": r.uniform(4, 16)},
    "thread changes colour": lambda r: {"thread_turns": r.uniform(15, 40)},
    "two rows": lambda r: {"second_mm": r.uniform(1.2, 4.0), "off_middle": -1.5},
    "curved": lambda r: {"radius": r.uniform(30, 120), "wide": 26.0, "off_middle": -3.0},
    "blurred": lambda r: {"blur": r.uniform(0.06, 0.3)},
    "shaken": lambda r: {"shake": r.uniform(0.2, 0.9)},
    "glare": lambda r: {"glare": r.uniform(0.2, 1.2)},
    "slanting camera": lambda r: {"tilt": r.uniform(0.06, 0.4) * r.choice([-1, 1])},
    "loops": lambda r: {"loops": r.uniform(0.3, 1.0)},
    "four stitches": lambda r: {"count": int(r.integers(4, 7)), "long": 16.0},
    "jpeg 30": lambda r: {"jpeg": 30},
    "rule in it": lambda r: {"ruler": True, "off_middle": -1.5},
    "coarse": lambda r: {"dpi": r.uniform(200, 320)},
    "fine": lambda r: {"dpi": r.choice([1200.0, 2400.0]), "long": 40.0},
    "zigzag": lambda r: {"zigzag": r.uniform(0.5, 3.0), "stitch": r.uniform(0.8, 2)},
    "back-tacked": lambda r: {"back": int(r.integers(3, 6))},
    "short stitch": lambda r: {"stitch": r.uniform(0.9, 1.4), "long": 40.0},
    "long stitch": lambda r: {"stitch": r.uniform(4, 5.8), "long": 90.0},
    "uneven": lambda r: {"cv": r.uniform(0.08, 0.18)},
    "even": lambda r: {"cv": 0.004},
    "wild": lambda r: {
        "aslant": r.uniform(0, 8),
        "wide": 18.0,
        "skip": r.choice([0, 0.08]),
        "jpeg": int(r.choice([0, 50, 80])),
        "loops": r.choice([0, 0.5]),
        "drift": r.normal(0, 0.08),
        "contrast": r.uniform(14, 60),
        "blur": r.uniform(0.02, 0.08),
        "dpi": r.uniform(300, 1000),
        "pattern": str(r.choice(["", "checks", "across", "along"])),
        "pattern_mm": r.uniform(1, 9),
    },
}


def case_of(rng, name):
    base = Habit(stitch=rng.uniform(1.7, 3.2), cv=rng.uniform(0.02, 0.06))
    if name.startswith("stripes") and "along" not in name:
        base.stitch = 2.4
    return replace(base, **CLASSES[name](rng))
