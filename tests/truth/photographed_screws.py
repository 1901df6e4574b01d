"""Screws photographed on a printed card, made by casting rays through the thread itself.

Shares nothing with what reads them: the camera is a plain pinhole (with radial distortion in the
second family), each ray is walked through the helical solid, the card is drawn cell by cell.

Two families: `workshop` (matt screw, even light) and `window` (bright streak along the screw, a
soft shadow, a slotted head and a shank, another marker dictionary, a lens that bends); the second
was never tuned on.
"""

import math
from dataclasses import dataclass, field
from functools import cache

import cv2
import numpy as np

INCH = 25.4
UNIFIED = {0: (80,), 1: (64, 72), 2: (56, 64), 3: (48, 56), 4: (40, 48), 5: (40, 44), 6: (32, 40),
           8: (32, 36), 10: (24, 32), 12: (24, 28)}  # fmt: skip
WHITWORTH = (
    (1 / 16, 60),
    (3 / 32, 48),
    (1 / 8, 40),
    (5 / 32, 32),
    (3 / 16, 24),
    (7 / 32, 24),
    (1 / 4, 20),
    (3 / 16, 32),
    (7 / 32, 28),
    (1 / 4, 26),
)
METRIC = (
    (1.6, 0.35),
    (2, 0.4),
    (2.2, 0.45),
    (2.5, 0.45),
    (3, 0.5),
    (3.5, 0.6),
    (4, 0.7),
    (5, 0.8),
    (6, 1),
    (3, 0.35),
    (4, 0.5),
    (5, 0.5),
    (6, 0.75),
    (2.5, 0.35),
)
BA = (
    (6, 1),
    (5.3, 0.9),
    (4.7, 0.81),
    (4.1, 0.73),
    (3.6, 0.66),
    (3.2, 0.59),
    (2.8, 0.53),
    (2.5, 0.48),
    (2.2, 0.43),
    (1.9, 0.39),
    (1.7, 0.35),
)


@dataclass
class Photographed:
    """One photograph with its truth."""

    image: np.ndarray
    layout_csv: str
    matrix: np.ndarray
    distortion: list[float]
    distance_mm: float
    caliper_mm: float
    caliper_sd_mm: float
    axis_mm: float
    axis_sd_mm: float
    family: str
    major_mm: float
    pitch_mm: float
    angle_deg: float
    threads: float
    blur_px: float
    told: dict = field(default_factory=dict)


def form(rng, none_share):
    """Family, major diameter, pitch, angle."""
    if rng.random() < none_share:
        major = rng.uniform(1.6, 6.4)
        # what a maker of the 1890s cut for himself: odd threads an inch, or odd fractions of a mm
        usual = 0.22 * major**0.82 * math.exp(rng.normal(0, 0.22))
        pitch = usual if rng.random() < 0.4 else INCH / round(INCH / usual)
        return "none", major, pitch, float(rng.choice([60, 55, 50, 47.5, 53, 65]))
    family = str(rng.choice(["metric", "unified", "Whitworth", "BA"]))
    if family == "metric":
        major, pitch = METRIC[rng.integers(len(METRIC))]
        return family, float(major), float(pitch), 60.0
    if family == "unified":
        if rng.random() < 0.12:
            return family, 6.35, INCH / float(rng.choice([20, 28])), 60.0
        number = int(rng.choice(list(UNIFIED)))
        return (
            family,
            INCH * (0.060 + 0.013 * number),
            INCH / float(rng.choice(UNIFIED[number])),
            60.0,
        )
    if family == "Whitworth":
        inch, tpi = WHITWORTH[rng.integers(len(WHITWORTH))]
        return family, INCH * inch, INCH / tpi, 55.0
    major, pitch = BA[rng.integers(len(BA))]
    return family, float(major), float(pitch), 47.5


def profile_table(rng, pitch, angle, family, wear):
    """Radius below the major one over one pitch, 720 places: flanks, crest and root by the form."""
    s = np.linspace(0, 1, 720, endpoint=False)
    away = np.minimum(s, 1 - s) * pitch  # from the crest's middle
    cot = 1 / math.tan(math.radians(angle / 2))
    sharp = pitch / 2 * cot
    depth = {"Whitworth": 0.640327, "BA": 0.6}.get(family, 0.6134 if angle >= 57 else 0.62) * pitch
    top = (sharp - depth) / 2 if family in ("Whitworth", "BA") or angle < 57 else sharp / 8
    below = np.clip(away * cot - top, 0, depth)
    if family in ("Whitworth", "BA") or angle < 57:
        # rounded crest and root: a moving mean of the truncated flanks, about a sixth of a pitch
        width = int(720 * rng.uniform(0.10, 0.16))
        kernel = np.ones(width) / width
        below = np.convolve(np.tile(below, 3), kernel, "same")[720:1440]
    worn = wear * depth
    return np.maximum(below, worn), depth


def card(rng, dictionary):
    """Layout rows and a function giving the card's whiteness at card mm."""
    book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    side, w, h = 5.0, 44.0, 30.0
    centres = [(x, y) for x in np.linspace(4, w - 4, 6) for y in (4, h - 4)]
    centres += [(x, h / 2) for x in (4, w - 4)]
    rows, cells = ["dictionary,id,corner,x_mm,y_mm"], []
    for n, (x, y) in enumerate(centres):
        number = n + 3
        c = side / 2
        for k, (px, py) in enumerate(
            ((x - c, y - c), (x + c, y - c), (x + c, y + c), (x - c, y + c))
        ):
            rows.append(f"{dictionary},{number},{k},{px:.4f},{py:.4f}")
        size = book.markerSize + 2
        cells.append((x - c, y - c, side, cv2.aruco.generateImageMarker(book, number, size) < 128))

    def white(x, y):
        out = np.ones(x.shape, np.float32)
        for x0, y0, s, black in cells:
            n = len(black)
            part = window(x, y, (x0, y0, s))
            i = np.floor((y[part] - y0) / s * n).astype(int)
            j = np.floor((x[part] - x0) / s * n).astype(int)
            inside = (i >= 0) & (i < n) & (j >= 0) & (j < n)
            out[part][inside] = np.where(black[i[inside], j[inside]], 0.04, 1.0)
        return out

    return "\n".join(rows) + "\n", white, (w, h)


def window(x, y, square, every=16):
    """Rows and columns of the picture that hold a square of the card: only these are looked at."""
    x0, y0, s = square
    few_x, few_y = x[::every, ::every], y[::every, ::every]
    rim = 2.0 * np.abs(np.diff(few_x, axis=1)).max()
    at = (few_x > x0 - rim) & (few_x < x0 + s + rim) & (few_y > y0 - rim) & (few_y < y0 + s + rim)
    return spanned(at, every)


def spanned(few, every):
    """Rows and columns that hold all that is true in a mask of every so many pixels."""
    rows, columns = np.flatnonzero(few.any(axis=1)), np.flatnonzero(few.any(axis=0))
    if not len(rows):
        return slice(0, 0), slice(0, 0)
    return (
        slice(every * rows[0], every * (rows[-1] + 1)),
        slice(every * columns[0], every * (columns[-1] + 1)),
    )


def photograph(rng, kind="workshop", none_share=0.2, size=(1960, 1330), given=None):
    """One photographed screw."""
    family, major, pitch, angle = given or form(rng, none_share)
    threads = float(rng.uniform(6.2, min(30, 24 / pitch)))
    length = threads * pitch
    by_window = kind == "window"
    wear = rng.uniform(0, 0.12) if not by_window else rng.uniform(0, 0.18)
    below, depth = profile_table(rng, pitch, angle, family, wear)
    allowance = (0.015 + 0.011 * pitch) + rng.uniform(0, 1) * (
        0.18 * pitch ** (2 / 3) - 0.00315 / math.sqrt(pitch)
    )
    actual = major - allowance * (1 if family != "none" else 0.3)
    radius = actual / 2
    layout, white, (cw, ch) = card(rng, "DICT_6X6_250" if not by_window else "DICT_4X4_250")
    width, height = size
    scale = width / 46.0
    distance = float(rng.uniform(170, 420))
    focal = scale * distance
    matrix = np.array(
        [
            [focal, 0, width / 2 - 0.5 + rng.normal(0, 8)],
            [0, focal, height / 2 - 0.5 + rng.normal(0, 8)],
            [0, 0, 1],
        ]
    )
    k1 = float(rng.uniform(-0.08, 0.03)) * (distance / 25) if by_window else 0.0
    tilt = np.radians(rng.uniform(0, 10))
    about = rng.uniform(0, 2 * math.pi)
    turn = (
        cv2.Rodrigues(np.array([math.cos(about), math.sin(about), 0]) * tilt)[0]
        @ cv2.Rodrigues(np.array([0, 0, rng.normal(0, 0.05)]))[0]
    )
    centre = np.array([cw / 2, ch / 2, 0])
    move = np.array([0, 0, distance]) - turn @ centre
    axis_height = radius + (rng.uniform(0, 0.4) if by_window else 0.0)
    direction = rng.normal(0, 0.06)
    axis = np.array([math.cos(direction), math.sin(direction), 0.0])
    across = np.array([-math.sin(direction), math.cos(direction), 0.0])
    head = 1.6 + 0.2 * major
    origin = (
        centre - axis * (length / 2) + across * rng.normal(0, 0.5) - np.array([0, 0, axis_height])
    )
    eye = -turn.T @ move
    phase, tip = rng.random(), rng.uniform(0.3, 0.8) * pitch
    dents = [
        (
            rng.uniform(0, length),
            rng.uniform(0.2, 0.8) * pitch,
            rng.uniform(0.2, 0.8) * depth,
            rng.choice([-1, 1]),
        )
        for _ in range(rng.integers(0, 4))
    ]
    shank = rng.uniform(0, 2.0) if by_window else 0.0

    def solid(points):
        """Whether points (n, 3) in card mm are inside the screw."""
        d = points - origin
        u, v, z = d @ axis, d @ across, -d[:, 2]
        rho = np.hypot(v, z)
        theta = np.arctan2(z, v)
        s = (u / pitch - theta / (2 * math.pi) + phase) % 1.0
        surface = radius - below[(s * 720).astype(int) % 720]
        for at, wide, deep, sign in dents:
            hit = (np.abs(u - at) < wide) & (np.sign(v) == sign) & (rho > radius - deep)
            surface = np.where(hit, np.minimum(surface, radius - deep), surface)
        surface = surface - np.maximum(0, (u - length + tip) / tip) * depth  # run-out at the tip
        thread = (u >= 0) & (u <= length) & (rho < surface)
        body = (u < 0) & (u >= -shank) & (rho < radius * 0.99)
        cap = (u < -shank) & (u >= -shank - head) & (rho < radius * 1.75)
        return thread | body | cap

    over = 3 if pitch < 0.5 else 2
    out = np.zeros((height, width), np.float32)
    offs = (np.arange(over) + 0.5) / over - 0.5
    inner = radius - depth * 1.02
    for dy in offs:
        for dx in offs:
            px, py = np.meshgrid(np.arange(width) + dx, np.arange(height) + dy)
            x, y = (px - matrix[0, 2]) / focal, (py - matrix[1, 2]) / focal
            if k1:
                xu, yu = x.copy(), y.copy()
                for _ in range(4):
                    r2 = xu * xu + yu * yu
                    xu, yu = x / (1 + k1 * r2), y / (1 + k1 * r2)
                x, y = xu, yu
            rays = np.stack([x, y, np.ones_like(x)], -1) @ turn  # rows: turn.T applied
            t = -eye[2] / rays[..., 2]
            gx, gy = eye[0] + t * rays[..., 0], eye[1] + t * rays[..., 1]
            light = white(gx, gy)
            if by_window:
                q = np.hypot(
                    (gx - origin[0]) * -math.sin(direction)
                    + (gy - origin[1]) * math.cos(direction)
                    - radius * 0.5,
                    0,
                )
                along = (gx - origin[0]) * math.cos(direction) + (gy - origin[1]) * math.sin(
                    direction
                )
                light = light * (
                    1
                    - 0.25
                    * np.exp(-((q / (radius * 1.2)) ** 4))
                    * ((along > -3) & (along < length))
                )
            # where the ray passes the axis, in the part of the picture round the screw
            few = rays[::16, ::16]
            few = eye + ((origin[2] - eye[2]) / few[..., 2])[..., None] * few - origin
            part = spanned(np.abs(few @ across) < radius * 1.8 + 1.5, 16)
            rays, shown = rays[part], light[part]
            t0 = (origin[2] - eye[2]) / rays[..., 2]
            at = eye + t0[..., None] * rays
            d = at - origin
            u, v = d @ axis, d @ across
            near = (np.abs(v) < radius * 1.8) & (u > -shank - head - 1) & (u < length + 1)
            core = (
                near & (np.abs(v) < inner * 0.985) & (u > -shank - 0.9 * head) & (u < length - tip)
            )
            # beside the shaft no ray comes near it, whatever the tilt; the head reaches farther out
            beside = (np.abs(v) > 1.08 * radius) & (u > 0.5 * radius - shank)
            todo = near & ~core & ~beside
            hit = core.copy()
            r = rays[todo]
            base = at[todo]
            # a head's rim lies farther from the axis than any thread: seen aslant it bulges out
            by_head = u[todo] < 0.5 * radius - shank
            got = np.zeros(len(r), bool)
            for which, reach, steps in ((~by_head, 0.55, 23), (by_head, 1.76, 71)):
                for step in sorted(np.linspace(-reach, reach, steps) * radius, key=abs):
                    left = np.flatnonzero(which & ~got)
                    one = r[left]
                    got[left] = solid(base[left] + (step / one[:, 2])[:, None] * one)
            hit[todo] = got
            seen_u, seen_v = u[hit], v[hit]
            metal = np.full(seen_u.shape, 0.10 + 0.06 * rng.random(), np.float32)
            wave = np.sin(2 * math.pi * seen_u / pitch + 6 * seen_v / radius)
            metal = metal + 0.08 * wave.astype(np.float32)
            if by_window:
                metal = metal + 0.55 * np.exp(
                    -(((seen_v + 0.25 * radius) / (0.12 * radius)) ** 2)
                ).astype(np.float32)
            shown[hit] = np.clip(metal, 0.01, 1)
            out += light
    out /= over * over
    px, py = np.meshgrid(np.linspace(-1, 1, width), np.linspace(-1, 1, height))
    paper = rng.uniform(0.6, 0.85) * (1 + rng.normal(0, 0.05) * px + rng.normal(0, 0.05) * py)
    blur = float(rng.uniform(0.7, 2.6))
    ratio = rng.uniform(0.85, 1.15) if by_window else 1.0
    light = cv2.GaussianBlur(
        (out * paper).astype(np.float32), (0, 0), blur * ratio, sigmaY=blur / ratio
    )
    light = light + rng.normal(0, 0.006, light.shape) * np.sqrt(light + 0.02)
    light = np.clip(light, 0, 1)
    srgb = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    grey = np.round(srgb * 255).astype(np.uint8)
    sd, asd = 0.02, 0.05
    return Photographed(
        np.repeat(grey[..., None], 3, 2), layout, matrix, [k1, 0, 0, 0, 0], distance,
        actual - 2 * wear * depth + rng.normal(0, sd), sd, axis_height + rng.normal(0, asd), asd,
        family, major, pitch, angle, threads, blur,
        {"tilt": math.degrees(float(tilt)), "wear": wear, "dents": len(dents)},
    )  # fmt: skip


@cache
def photographed_m5(kind="workshop"):
    """A small photograph of an M5, made once for all tests of a run."""
    rng = np.random.default_rng([11, len(kind)])
    return photograph(rng, kind, size=(1150, 780), given=("metric", 5.0, 0.8, 60.0))
