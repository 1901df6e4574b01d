"""Screws as meshes, painted back to front on a printed card, as they come to lie on it.

Shares nothing with what reads them nor with `photographed_screws`: there rays are cast through a
solid that lies level, here faces of a mesh are shaded by a lamp, throw a shadow and are painted
from the farthest to the nearest; the screw may rest on its head's rim and its tip.
"""

import math
from dataclasses import dataclass, field

import cv2
import numpy as np

CARD_MM = (48.0, 32.0)
CARD_PX_PER_MM = 60
MARKER_MM = 4.5
PLACES_A_PITCH = 24


@dataclass(frozen=True)
class Screw:
    """A screw's own shape, mm and degrees; `head` is None, "cheese", "countersunk" or "domed"."""

    pitch: float = 0.8
    major: float = 5.0
    angle: float = 60.0
    length: float = 10.0
    starts: int = 1
    hand: int = 1
    head: str | None = "cheese"
    head_wide: float = 8.0
    head_high: float = 3.0
    taper: float = 0.0
    worn: float = 0.0
    dirt: float = 0.0

    @property
    def rests_deg(self):
        """How far it slopes down to its tip when it lies on the card by itself."""
        if self.head is None:
            return 0.0
        return math.degrees(math.asin((self.head_wide - self.major) / 2 / self.length))


@dataclass(frozen=True)
class Shot:
    """How it was photographed; the lamp is where it shines from: x right, y down, z up."""

    distance: float = 260.0
    size: tuple = (1840, 1240)
    tilt_deg: float = 3.0
    lamp: tuple = (0.4, -0.5, 1.0)
    shadow: float = 0.2
    soft_mm: float = 0.5
    metal: float = 1.0
    blur_px: float = 1.2
    at: tuple = (18.0, 16.0)
    turn: float = 0.03


@dataclass(frozen=True)
class Taken:
    """A photograph with its truth."""

    image: np.ndarray
    layout_csv: str
    screw: Screw
    shot: Shot
    slopes_deg: float
    told: dict = field(default_factory=dict)


def printed_card():
    """The card as it is printed, whiteness, and its markers as CSV."""
    wide, high = CARD_MM
    s, side = CARD_PX_PER_MM, MARKER_MM
    card = np.full((int(high * s), int(wide * s)), 0.9, np.float32)
    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_100)
    spots = [(x, y) for y in (1.0, high - 1 - side) for x in np.linspace(1.0, wide - 1 - side, 6)]
    spots += [(x, (high - side) / 2) for x in (1.0, wide - 1 - side)]
    rows = ["dictionary,id,corner,x_mm,y_mm"]
    for n, (x, y) in enumerate(spots, 20):
        marker = cv2.aruco.generateImageMarker(book, n, int(side * s))
        part = card[int(y * s) :, int(x * s) :][: marker.shape[0], : marker.shape[1]]
        part[:] = np.where(marker > 127, 0.9, 0.05)
        for k, (a, b) in enumerate(((0, 0), (1, 0), (1, 1), (0, 1))):
            rows.append(f"DICT_5X5_100,{n},{k},{x + a * side:.4f},{y + b * side:.4f}")
    return card, "\n".join(rows) + "\n"


def meshes(screw):
    """Grids of places (u, turn, 3) with the axis along x, the thread from 0 to its tip."""
    turns = np.linspace(0, 2 * math.pi, 109)
    u = np.arange(0, screw.length, screw.pitch / PLACES_A_PITCH)
    along, round_ = np.meshgrid(u, turns, indexing="ij")
    phase = (along / screw.pitch - screw.hand * screw.starts * round_ / (2 * math.pi)) % 1
    radius = np.interp(phase, np.arange(720) / 720, section(screw), period=1)
    radius = radius * (1 - screw.taper * along / screw.length)
    chamfer = screw.major / 2 - np.maximum(0, along - (screw.length - 0.8 * screw.pitch)) * 1.2
    grids = [(along, round_, np.minimum(radius, chamfer))]
    if screw.head is not None:
        grids += head(screw, turns)
    return [np.stack([a, r * np.cos(t), r * np.sin(t)], -1) for a, t, r in grids]


def section(screw):
    """Radius over one pitch: straight flanks, cut off, softly rounded; worn crests, dirty roots."""
    s = np.arange(720) / 720
    from_crest = np.abs((s + 0.5) % 1 - 0.5) * screw.pitch
    cot = 1 / math.tan(math.radians(screw.angle / 2))
    deep = screw.pitch * (0.5 - 0.0625 - 0.125) * cot
    radius = screw.major / 2 - np.clip((from_crest - screw.pitch / 16) * cot, 0, deep)
    radius = np.minimum(radius, screw.major / 2 - screw.worn * deep)
    radius = np.maximum(radius, screw.major / 2 - deep * (1 - screw.dirt))
    return np.convolve(np.tile(radius, 3), np.ones(57) / 57, "same")[720:1440]


def head(screw, turns):
    """Its side, underside and face, as (along, turn, radius)."""
    outer, inner = screw.head_wide / 2, screw.major / 2

    def face(at):
        r, t = np.meshgrid(np.linspace(0, outer, 10), turns, indexing="ij")
        return np.full(r.shape, at), t, r

    x, t = np.meshgrid(np.linspace(0, 1, 24), turns, indexing="ij")
    along = -screw.head_high * x
    if screw.head == "domed":
        return [(along, t, outer * np.sqrt(np.maximum(1 - x**2, 0))), face(0.0)]
    if screw.head == "countersunk":
        return [(along, t, np.minimum(outer, inner + x * (outer - inner) / 0.85)),
                face(-screw.head_high)]  # fmt: skip
    return [(along, t, np.full(x.shape, outer)), face(0.0), face(-screw.head_high)]


def photograph(rng, screw=None, shot=None, *, slopes_deg=None):
    """One photograph; `slopes_deg` is how far the axis slopes down to the tip, else as it rests."""
    screw, shot = screw or Screw(), shot or Shot()
    slopes = screw.rests_deg if slopes_deg is None else slopes_deg
    card, layout = printed_card()
    width, height = (2 * one for one in shot.size)
    focal = width / (CARD_MM[0] + 2) * shot.distance
    about = rng.uniform(0, 2 * math.pi)
    tilt = math.radians(shot.tilt_deg)
    camera = cv2.Rodrigues(np.array([math.cos(about), math.sin(about), 0.0]) * tilt)[0]
    middle = np.array([*CARD_MM, 0.0]) / 2
    move = np.array([0, 0, shot.distance]) - camera @ middle
    eye = -camera.T @ move

    def seen(places):
        q = places @ camera.T + move
        return q[..., :2] / q[..., 2:] * focal + [width / 2, height / 2], q[..., 2]

    lens = np.array([[focal, 0, width / 2], [0, focal, height / 2], [0, 0, 1]])
    flat = lens @ np.column_stack([camera[:, 0], camera[:, 1], move])
    scale = np.diag([1 / CARD_PX_PER_MM, 1 / CARD_PX_PER_MM, 1])
    out = cv2.warpPerspective(card, flat @ scale, (width, height), borderValue=0.5)
    lamp = np.array(shot.lamp) / np.linalg.norm(shot.lamp) * [1, 1, -1]
    quads, depths, tones = [], [], []
    dark = np.zeros((height, width), np.uint8)
    for grid in meshes(screw):
        places = laid(grid, screw, shot, slopes)
        corners = [places[:-1, :-1], places[1:, :-1], places[1:, 1:], places[:-1, 1:]]
        px, far = seen(np.stack(corners, -2))
        quads.append(px.reshape(-1, 4, 2))
        depths.append(far.mean(-1).ravel())
        tones.append(shot.metal * lit(corners, eye, lamp).ravel())
        thrown, _ = seen(np.stack([c - lamp * (c[..., 2:] / lamp[2]) for c in corners], -2))
        for quad in np.round(thrown.reshape(-1, 4, 2) * 16).astype(np.int32):
            cv2.fillConvexPoly(dark, quad, 255, shift=4)
    soft = cv2.GaussianBlur(dark.astype(np.float32), (0, 0), shot.soft_mm * focal / shot.distance)
    out = out * (1 - shot.shadow * soft / 255)
    quads, depths, tones = (np.concatenate(one) for one in (quads, depths, tones))
    quads = np.round(quads * 16).astype(np.int32)
    for k in np.argsort(-depths):
        cv2.fillConvexPoly(out, quads[k], float(tones[k]), shift=4)
    image = developed(rng, cv2.resize(out, shot.size, interpolation=cv2.INTER_AREA), shot)
    return Taken(image, layout, screw, shot, slopes)


def laid(grid, screw, shot, slopes_deg):
    """Places of the card, mm, z away from the camera: the tip rests on the card."""
    slope = math.radians(slopes_deg)
    c, s = math.cos(slope), math.sin(slope)
    x, y, z = (grid[..., n] for n in range(3))
    up = screw.major / 2 + screw.length * s + z * c - x * s
    x = x * c + z * s
    a, b = math.cos(shot.turn), math.sin(shot.turn)
    return np.stack([shot.at[0] + x * a - y * b, shot.at[1] + x * b + y * a, -up], -1)


def lit(corners, eye, lamp):
    """Tones of faces: a little of the room, a lamp, and its gloss."""
    a, b, c, d = corners
    square = np.cross(c - a, d - b)
    square /= np.linalg.norm(square, axis=-1, keepdims=True) + 1e-12
    ray = (a + b + c + d) / 4 - eye
    ray /= np.linalg.norm(ray, axis=-1, keepdims=True)
    square = -square * np.sign((square * ray).sum(-1, keepdims=True))
    half = lamp - ray
    half /= np.linalg.norm(half, axis=-1, keepdims=True)
    gloss = 2.2 * np.clip((square * half).sum(-1), 0, 1) ** 40
    return 0.22 * (0.35 + 0.8 * np.clip(square @ lamp, 0, 1) + gloss)


def developed(rng, light, shot):
    """A photograph as stored: blurred, unevenly lit, noisy, sRGB of 8 bits."""
    light = cv2.GaussianBlur(light, (0, 0), shot.blur_px)
    light = 0.85 * light * (1 + 0.1 * np.linspace(-1, 1, light.shape[1]))
    light = np.clip(light + rng.normal(0, 0.006, light.shape), 0, 1)
    srgb = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    grey = np.round(np.clip(srgb, 0, 1) * 255).astype(np.uint8)
    return np.repeat(grey[..., None], 3, 2)
