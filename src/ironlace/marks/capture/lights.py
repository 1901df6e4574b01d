"""Where the torch stood, from its highlights on polished balls.

A highlight lies where the ball's normal halves the angle between camera and torch; the mirrored ray
leads to the torch. Two balls give two rays, which meet at it; one gives its direction alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.two_hands import two_hands
from ironlace.marks.capture.balls import disc_window
from ironlace.marks.capture.frames import Grey
from ironlace.marks.capture.geometry import PlateFrame
from ironlace.marks.capture.highlights import USUAL_BLUR_PX, middle_of_highlight
from ironlace.marks.capture.middles import share_below
from ironlace.marks.capture.near_camera import Rays, nearness
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.capture.registering import Move

QUADRANTS = ("upper right", "upper left", "lower left", "lower right")
"""Round the plate as the picture is seen, from azimuth 0 (right) by way of up."""
WIDEST_DEG = 100.0
"""Degrees of azimuth without a torch, above which slopes that face there are poorly lit: with four
torches evenly round a gap is 90.
"""
TWO_TORCHES = "two lights alike are mirrored in a ball: let one torch shine alone"
"""Why a photograph is left out that another torch or lamp lit as well."""
ALIKE = 0.4
"""Share of the highlight's light and of its pixels, either way, from which a second one is another
torch: two alike have 0.7 to 1.4, a window five times the pixels. A judgement."""
FINE_PX = 100.0
"""Pixels of radius of a larger ball's picture, shrunk, in which the highlight is looked for."""
LOW = 0.5
"""Square of the radius, as a share of the ball's, beyond which a ball mirrors the plate."""
SKY = 0.52
"""The same, within which a torch is looked for: one that lights the plate stands above it, and what
the plate throws back along a ball's rim may be as white. A little more than LOW, for a near camera
sees a ball 20 mm aside from 3 degrees askew, and an outline may be a hundredth too small."""
LOWEST = 0.17
"""Sine of 10 degrees, below which a torch's shadows leave little that tells slopes."""
_PLANE = 3
"""Unknowns of a sloping ground."""
_SHINE = 0.9
"""Share of the pixels about a highlight that are not its own flare: the brightest count no more."""
_DECIMALS = 6
"""Of a degree, where one azimuth is told from another; a torch's is known to a tenth."""
_SIDES = (
    "right",
    "upper right",
    "top",
    "upper left",
    "left",
    "lower left",
    "bottom",
    "lower right",
)


@dataclass(frozen=True)
class Light:
    """Where the torch stood for one photograph.

    Attributes
    ----------
    direction
        Unit vector from the plate's middle (X right, Y up, Z to the camera).
    distance
        From there, mm (pixels where there is no scale); infinite where it is not known.
    doubt_deg
        How far the balls contradict one another; nan where nothing can.
    """

    direction: tuple[float, float, float]
    distance: float = float("inf")
    doubt_deg: float = float("nan")

    @property
    def place(self) -> NDArray[np.float64] | None:
        """Of the torch in mm, where its distance is known."""
        if not np.isfinite(self.distance):
            return None
        return np.asarray(self.direction) * self.distance

    @property
    def azimuth_deg(self) -> float:
        """From X towards Y, 0 up to 360, without the noise of arithmetic a limit would hang on."""
        azimuth = np.degrees(np.arctan2(self.direction[1], self.direction[0]))
        return round(float(azimuth), _DECIMALS) % 360

    @property
    def elevation_deg(self) -> float:
        """Above the plate."""
        return float(np.degrees(np.arcsin(np.clip(self.direction[2], -1, 1))))


def light_at(place_mm: Sequence[float] | NDArray[np.float64]) -> Light:
    """A torch at a place in mm."""
    place = np.asarray(place_mm, float)
    far = float(np.linalg.norm(place))
    if far == 0.0:
        return Light((0.0, 0.0, 0.0), 0.0)
    x, y, z = (float(v) for v in place / far)
    return Light((x, y, z), far)


def light_towards(azimuth_deg: float, elevation_deg: float) -> Light:
    """A torch in a direction, its distance unknown."""
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    return Light((float(np.cos(e) * np.cos(a)), float(np.cos(e) * np.sin(a)), float(np.sin(e))))


@dataclass(frozen=True, eq=False)
class Mirrored:
    """A torch's highlight on a ball: the ray to the torch, in pixels, x right, y up.

    Attributes
    ----------
    start
        Where the ray starts on the ball, from the ball's centre.
    direction
        Its unit vector.
    alone
        False where a second light like it is mirrored in the ball.
    """

    start: NDArray[np.float64]
    direction: NDArray[np.float64]
    alone: bool


def mirrored_ray(
    picture: Grey,
    circle: Circle,
    table: NDArray[np.float32],
    blur_px: float = USUAL_BLUR_PX,
) -> Mirrored | None:
    """The ray from a ball to the torch; None where there is no highlight.

    Halfway between two that are wrong in different ways: the mean of the highlight's light, over
    the sloping ground about it (for a camera without perspective every part of the disc mirrors an
    equal part of all directions, so the mean mirrored direction is its middle without bias), which
    hangs on its faint foot; and the highlight's form, see `highlights`, which is lost where it is
    but two or three pixels wide.
    """
    numbers, left, top = disc_window(picture, circle, 0.97)
    shrink = max(int(circle.r / FINE_PX), 1)
    window = _shrunk(np.take(table, numbers), shrink)
    if window.size == 0:
        return None
    r = circle.r / shrink
    v, u = np.ogrid[: window.shape[0], : window.shape[1]]
    middle = (shrink - 1) / 2
    x = (u * shrink + middle + left - circle.x) / circle.r
    y = -(v * shrink + middle + top - circle.y) / circle.r
    flat = x * x + y * y
    inside = flat < SKY
    if not inside.any():
        return None
    smooth = cv2.GaussianBlur(window, (0, 0), max(r / 80, 0.7))
    rest = float(np.median(window[inside]))
    peak = float(np.where(inside, smooth, 0).max())
    if peak < rest + 0.05 or peak < 1.5 * rest:
        return None
    # the spot: what is joined to its brightest part, and the foot of it
    bright = ((smooth > rest + 0.35 * (peak - rest)) & inside).astype(np.uint8)
    _, labels = cv2.connectedComponents(bright)
    row, column = np.unravel_index(int(np.where(inside, smooth, 0).argmax()), smooth.shape)
    spot = (labels == labels[row, column]).astype(np.uint8)
    grown = cv2.dilate(spot, np.ones((3, 3), np.uint8), iterations=max(round(r / 40), 2))
    rim = cv2.dilate(grown, np.ones((5, 5), np.uint8)) - grown
    v, u = np.nonzero((grown > 0) & inside)
    across, along = x[0, u], y[v, 0]
    # what sharpening and JPEG leave darker than the ground is none of the torch's light
    ground = _ground(window, (rim > 0) & inside, (x[0], y[:, 0]), rest)
    light = window[v, u] - ground @ np.stack([np.ones(len(u)), across, along])
    weight = np.maximum(light, 0.0)
    z = np.sqrt(np.maximum(1 - flat[v, u], 0))
    mean = np.stack([2 * z * across, 2 * z * along, 2 * z * z - 1]) @ weight
    if not np.any(mean):
        return None
    half = mean / np.linalg.norm(mean) + np.array([0.0, 0.0, 1.0])
    half /= np.linalg.norm(half)
    spread = float(np.hypot(blur_px, 0.29 * np.sqrt(shrink**2 - 1)) / shrink)  # 0.29: of a square
    found = middle_of_highlight(window, spot > 0, (x[0], y[:, 0]), half, spread)
    if found is not None:
        half = (half + found) / np.linalg.norm(half + found)
    direction = 2 * half[2] * half - np.array([0.0, 0.0, 1.0])
    alone = not _another(labels, int(labels[row, column]), window - rest, flat)
    return Mirrored(circle.r * half, direction, alone)


def _ground(
    light: NDArray[np.float32],
    rim: NDArray[np.bool_],
    xy: tuple[NDArray[np.float64], NDArray[np.float64]],
    rest: float,
) -> NDArray[np.float64]:
    """What the ball mirrors about a highlight: light, and its slopes in x and y (least squares)."""
    v, u = np.nonzero(rim)
    if len(v) < 2 * _PLANE:
        return np.array([rest, 0.0, 0.0])
    around = light[v, u].astype(np.float64)
    around = np.minimum(around, share_below(around, _SHINE))
    plane = np.stack([np.ones(len(u)), xy[0][u], xy[1][v]], 1)
    return np.asarray(np.linalg.lstsq(plane, around, rcond=None)[0])


def _shrunk(light: NDArray[np.float32], times: int) -> NDArray[np.float32]:
    """Means of squares of so many pixels; what is over at the right and below is left out."""
    if times == 1:
        return light
    rows, columns = light.shape[0] // times, light.shape[1] // times
    whole = np.ascontiguousarray(light[: rows * times, : columns * times])
    return np.asarray(
        cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA), dtype=np.float32
    )


def _another(
    labels: NDArray[Any], spot: int, light: NDArray[Any], flat: NDArray[np.float64]
) -> bool:
    """Whether another bright spot on a ball is as large and as bright as the torch's."""
    pixels = np.bincount(labels.ravel())
    lights = np.bincount(labels.ravel(), light.ravel())
    low = np.bincount(labels.ravel(), flat.ravel()) > LOW * pixels
    size, bright = pixels / pixels[spot], lights / lights[spot]
    alike = (size > ALIKE) & (size < 1 / ALIKE) & (bright > ALIKE) & (bright < 1 / ALIKE) & ~low
    alike[[0, spot]] = False  # what is not bright, and the torch itself
    return bool(alike.any())


def light_of_rays(starts: NDArray[np.float64], directions: NDArray[np.float64]) -> Light | None:
    """Where rays meet, or nearly so (least squares); one ray gives its direction alone.

    Parameters
    ----------
    starts, directions
        n x 3, in mm from the plate's middle.

    Returns
    -------
    Light or None
        None where two rays do not meet before the plate.
    """
    if len(starts) == 1:
        x, y, z = (float(v) for v in directions[0])
        return Light((x, y, z))
    across = np.eye(3) - directions[:, :, None] * directions[:, None, :]
    place = np.linalg.solve(across.sum(0), (across @ starts[:, :, None]).sum(0))[:, 0]
    # again with the rays weighted by how far they run: an angle counts, not a length
    for _ in range(2):
        far = np.linalg.norm(place - starts, axis=1)
        w = (1 / far**2)[:, None, None]
        place = np.linalg.solve((w * across).sum(0), (w * (across @ starts[:, :, None])).sum(0))
        place = place[:, 0]
    to = place - starts
    ahead = (to * directions).sum(1)
    if (ahead <= 0).any() or place[2] <= 0:
        return None
    away = np.linalg.norm((across @ to[:, :, None])[:, :, 0], axis=1) / ahead
    light = light_at(place)
    return Light(light.direction, light.distance, float(np.degrees(np.sqrt((away**2).mean()))))


@dataclass(frozen=True)
class MirroredLights:
    """What the balls show.

    Attributes
    ----------
    seen
        For each photograph, where the torch stood, and why it could not be told.
    near
        Reciprocal of the camera's height, 1 / mm, 0 where nothing shows that it was near.
    """

    seen: tuple[tuple[Light | None, str], ...]
    near: float


def lights_of_balls(
    pictures: Sequence[Grey],
    balls: Sequence[Circle],
    moves: Sequence[Move],
    plate: PlateFrame,
    table: NDArray[np.float32],
    blur_px: float = USUAL_BLUR_PX,
) -> MirroredLights:
    """Where the torch stood for each photograph, and why it could not be told.

    The balls lie on the plate, so their middles stand their radius above it. `blur_px` is the
    camera's.
    """

    def one(picture: Grey, move: Move) -> Rays | str:
        return _rays_of(picture, balls, move, plate, table, blur_px)

    with two_hands() as pool:
        seen = list(pool.map(one, pictures, moves))
    near = nearness([rays for rays in seen if isinstance(rays, Rays) and len(rays.middles) > 1])
    return MirroredLights(
        tuple((None, rays) if isinstance(rays, str) else _met(rays, near) for rays in seen), near
    )


def _rays_of(
    picture: Grey,
    balls: Sequence[Circle],
    move: Move,
    plate: PlateFrame,
    table: NDArray[np.float32],
    blur_px: float = USUAL_BLUR_PX,
) -> Rays | str:
    """Rays of a photograph's balls to the torch, or why there are none."""
    middles, offsets, directions, alone = [], [], [], []
    for ball in balls:
        (x, y), *_ = move.places(np.array([[ball.x, ball.y]]), plate.shape)
        ray = mirrored_ray(picture, Circle(float(x), float(y), ball.r), table, blur_px)
        if ray is None:
            continue
        # the photograph is turned against the first one, x right and y up
        cos, sin = np.cos(move.turn_rad), np.sin(move.turn_rad)
        back = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1]])
        middles.append([*plate.to_mm(ball.x, ball.y), ball.r * plate.mm_per_px])
        offsets.append(plate.mm_per_px * (back @ ray.start))
        directions.append(back @ ray.direction)
        alone.append(ray.alone)
    if not middles:
        return "no highlight of the torch was found on a ball"
    if len(middles) < len(balls) and len(balls) > 1:
        return "the torch's highlight was not found on every ball"
    if not any(alone):
        return TWO_TORCHES
    return Rays(np.array(middles), np.array(offsets), np.array(directions))


def _met(rays: Rays, near: float) -> tuple[Light | None, str]:
    """The torch where rays meet, or why they do not."""
    light = light_of_rays(*rays.seen_from(near))
    if light is None or light.elevation_deg < 2:
        return None, (
            "the highlights on the balls do not lead to one torch: is the camera nearer than 60 "
            "cm, or a ball found wrong"
        )
    return light, ""


def slopes_doubt(lights: Sequence[Light], doubt_deg: float) -> float:
    """Spread of the logarithm of all slopes where torches are known to so many degrees.

    A gentle place answers to a torch by its slope towards it times the cotangent c of the torch's
    elevation. Torches all told higher by d have cotangents too small by d (1 + c²), and slopes,
    fitted over them by least squares, come out too steep by d times the mean of c (1 + c²) over
    that of c². That is the worst: torches told aside all together, or each by itself, change slopes
    in the second order alone, and by what the fitted shine makes of them.
    """
    height = np.clip([light.direction[2] for light in lights], LOWEST, 1.0)
    c = np.sqrt(1 / height**2 - 1)
    steep = float((c * (1 + c * c)).sum() / max(float((c * c).sum()), 1e-9))
    return float(np.radians(doubt_deg)) * steep


@dataclass(frozen=True)
class DarkArc:
    """The widest arc of azimuth without a torch: its width and middle, degrees, and its side."""

    width_deg: float
    middle_deg: float

    @property
    def side(self) -> str:
        """Where it lies, as the picture is seen."""
        return _SIDES[int((self.middle_deg + 22.5) // 45) % 8]


def widest_gap(lights: Sequence[Light]) -> DarkArc:
    """The widest arc of azimuth from which no torch shone; the whole round if there is none."""
    return max(_dark_arcs(lights), key=lambda arc: arc.width_deg)


def _dark_arcs(lights: Sequence[Light]) -> list[DarkArc]:
    azimuth = np.sort([light.azimuth_deg for light in lights])
    if not len(azimuth):
        return [DarkArc(360.0, 0.0)]
    gaps = np.round(np.diff(np.r_[azimuth, azimuth[0] + 360.0]), _DECIMALS)
    middles = (azimuth + gaps / 2) % 360
    return [DarkArc(float(w), float(m)) for w, m in zip(gaps, middles, strict=True)]


def missing_quadrants(lights: Sequence[Light]) -> list[str]:
    """Quarters of the round about the plate that the torch left dark.

    One in which no torch stood; and where an arc of over `WIDEST_DEG` without a torch holds no
    such quarter whole, the quarters of which more than half lies in it: torches in each of four
    quarters may still stand in pairs, close together at two sides.

    >>> missing_quadrants([light_towards(a, 30) for a in (45, 135, 225)])
    ['lower right']
    >>> missing_quadrants([light_towards(a, 30) for a in (80, 100, 190, 350)])
    ['lower left', 'lower right']
    """
    empty = dark_quadrants(lights)
    dark = set(empty)
    for arc in _dark_arcs(lights):
        shares = [_within(arc, 90.0 * n) for n in range(4)]
        if arc.width_deg > WIDEST_DEG and not any(shares[QUADRANTS.index(one)] for one in empty):
            dark |= {name for name, share in zip(QUADRANTS, shares, strict=True) if share > 45.0}
    return [name for name in QUADRANTS if name in dark]


def dark_quadrants(lights: Sequence[Light]) -> list[str]:
    """Quarters in which no torch stood at all."""
    seen = {int(light.azimuth_deg // 90) for light in lights}
    return [name for n, name in enumerate(QUADRANTS) if n not in seen]


def _within(arc: DarkArc, start_deg: float) -> float:
    """Degrees of a quarter, from its start, that lie in an arc."""
    first = (arc.middle_deg - arc.width_deg / 2 - start_deg) % 360
    share = sum(
        max(min(first + arc.width_deg - turn, 90.0) - max(first - turn, 0.0), 0.0)
        for turn in (0.0, 360.0)
    )
    return round(share, _DECIMALS)
