"""What telephones, their programs and people do to a photograph of a strip: is it told?

    python bench/photographs_mishaps.py [kind ...] [--good N] [--each N] [--kept FOLDER]

Frames laid over one another amiss, a picture sewn from two, drops of water, the telephone's own
shadow, light of two colours, a background blurred by a program, a picture of a screen or of a
print, squeezed or set straight by a program, and a strip copied at another size. The scene is
thrown forwards by `thrown_light`; what befalls it is made here, and nothing was tuned on it when
it was first run.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from photographs_at_fault import Case, Maker, run_all, without
from shapely import affinity

from ray_cast import Photograph
from thrown_light import Setting, thrown

Picture = np.ndarray
FLAT = Setting(tip=6, turn=-5, jpeg=100, margin=23)
ARM = Setting(kind="cylinder", radius=58, tip=-3, turn=4, jpeg=100)


@dataclass(frozen=True)
class Mishap:
    """A scene, what befell its picture (8 bits, as stored), and by what its strip is off."""

    scene: Setting
    befell: Callable[[Picture, np.random.Generator], Picture]
    strip: tuple[float, float] = (1.0, 1.0)
    jpeg: int = 88

    @property
    def piece(self) -> str:
        """The strip that lies in it."""
        return self.scene.piece

    @property
    def kind(self) -> str:
        """The surface's shape."""
        return self.scene.kind


def taken(
    mishap: Mishap,
    rng: np.random.Generator,
    throw: Callable[[Setting, np.random.Generator], Photograph] = thrown,
) -> Photograph:
    """The scene thrown, and then what befell it."""
    photo = throw(mishap.scene, rng)
    image = np.clip(mishap.befell(photo.image.astype(np.float32), rng), 0, 255)
    _, stored = cv2.imencode(
        ".jpg",
        (image[..., ::-1] + 0.5).astype(np.uint8),
        [cv2.IMWRITE_JPEG_QUALITY, mishap.jpeg],
    )
    photo = replace(photo, image=np.ascontiguousarray(cv2.imdecode(stored, 1)[..., ::-1]))
    if mishap.strip == (1.0, 1.0):
        return photo
    # all that is measured comes out larger by what the strip is too small, which its middle tells
    x, y = mishap.strip
    middle = np.mean(np.reshape(photo.gilt.bounds, (2, 2)), axis=0)

    def true_size(shape: Any) -> Any:
        return affinity.scale(shape, x, y, origin=tuple(middle))

    return replace(
        photo,
        gilt=true_size(photo.gilt),
        drawn_too=true_size(photo.drawn_too),
        visible=middle + (photo.visible - middle) * (x, y),
    )


def _nothing(image: Picture, _rng: np.random.Generator) -> Picture:
    return image


def _moved(image: Picture, dx: Any, dy: Any) -> Picture:
    h, w = image.shape[:2]
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    return cv2.remap(
        image,
        (u + dx).astype(np.float32),
        (v + dy).astype(np.float32),
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )


def _two_exposures(dx: float, dy: float) -> Any:
    """Dark parts from a second frame, light ones from the first, the hand having moved."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        second = _moved(image, dx, dy)
        dark = 1 / (1 + np.exp((image.mean(axis=2) - 90) / 25))
        dark = cv2.GaussianBlur(dark.astype(np.float32), (0, 0), 6)[..., None]
        return image * (1 - dark) + second * dark

    return befell


def _tiles(off: float, tile: int) -> Any:
    """Many frames laid over one another tile by tile, each a little amiss."""

    def befell(image: Picture, rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        grid = rng.normal(0, off, (2, h // tile + 2, w // tile + 2)).astype(np.float32)
        dx, dy = (cv2.resize(g, (w, h), interpolation=cv2.INTER_LINEAR) for g in grid)
        return _moved(image, dx, dy)

    return befell


def _seam(dx: float, dy: float) -> Any:
    """Two pictures sewn together down the middle that do not quite meet."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        w = image.shape[1]
        right = np.clip((np.arange(w, dtype=np.float32) - 0.52 * w) / 8 + 0.5, 0, 1)[None]
        return _moved(image, dx * right, dy * right)

    return befell


def _drops(count: int) -> Any:
    """Drops of water on the work: each a small lens."""

    def befell(image: Picture, rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        v, u = np.mgrid[0:h, 0:w].astype(np.float32)
        dx, dy = np.zeros((h, w), np.float32), np.zeros((h, w), np.float32)
        shine = np.zeros((h, w), np.float32)
        for _ in range(count):
            x, y = rng.uniform(0.25, 0.75, 2) * (w, h)
            r = rng.uniform(14, 42)
            d = np.hypot(u - x, v - y) / r
            bulge = np.where(d < 1, -0.35 * (1 - d**2), 0).astype(np.float32)
            dx += bulge * (u - x)
            dy += bulge * (v - y)
            shine += 230 * np.exp(
                -(((u - x + 0.4 * r) ** 2 + (v - y + 0.4 * r) ** 2) / (r / 7) ** 2)
            )
        return _moved(image, dx, dy) + shine[..., None]

    return befell


def _shadow(depth: float) -> Any:
    """The telephone's own shadow, a rounded oblong with a soft rim."""

    def befell(image: Picture, rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        mask = np.zeros((h, w), np.float32)
        box = cv2.boxPoints(((0.5 * w, 0.55 * h), (0.3 * w, 0.7 * h), rng.uniform(-20, 20)))
        cv2.fillConvexPoly(mask, box.astype(np.int32), 1.0)
        mask = cv2.GaussianBlur(mask, (0, 0), 22)
        return image * ((1 - depth * mask) ** (1 / 2.2))[..., None]

    return befell


def _mixed_light(image: Picture, _rng: np.random.Generator) -> Picture:
    """A window on the left, a bulb on the right."""
    x = np.linspace(0, 1, image.shape[1], dtype=np.float32)[None, :, None]
    return image * (np.float32([0.72, 0.95, 1.2]) * (1 - x) + np.float32([1.2, 0.92, 0.45]) * x)


def _portrait(sigma: float, *, inside: bool) -> Any:
    """A program blurs what it takes for background: around an oval, or within it."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        v, u = np.mgrid[0:h, 0:w].astype(np.float32)
        away = np.hypot((u / w - 0.5) / 0.17, (v / h - 0.5) / 0.2)
        mask = np.clip((away - 1) * 4 + 0.5, 0, 1)[..., None]
        soft = cv2.GaussianBlur(image, (0, 0), sigma)
        mask = 1 - mask if inside else mask
        return image * (1 - mask) + soft * mask

    return befell


def _screenshot(image: Picture, _rng: np.random.Generator) -> Picture:
    """The picture shown on a telephone and taken from its screen, a corner cut away."""
    h, w = image.shape[:2]
    part = image[: int(0.97 * h), int(0.02 * w) :]
    size = (1280, round(1280 * part.shape[0] / part.shape[1]))
    small = cv2.resize(part, size, interpolation=cv2.INTER_AREA)
    bars = np.full((140, size[0], 3), 250, np.float32)
    return np.vstack([bars, small, bars])


def _of_a_screen(image: Picture, _rng: np.random.Generator) -> Picture:
    """The screen itself photographed askew: its dots, and a second lens."""
    h, w = image.shape[:2]
    v, u = np.mgrid[0:h, 0:w]
    dots = 0.86 + 0.14 * np.cos(2 * np.pi * u / 3.3) * np.cos(2 * np.pi * v / 3.3)
    return _askew(image * dots.astype(np.float32)[..., None], 0.035)


def _of_a_print(image: Picture, rng: np.random.Generator) -> Picture:
    """A print of the picture, its screen of dots and its paper, photographed askew."""
    h, w = image.shape[:2]
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    a, b = (u + v) / 3.1, (u - v) / 3.1
    screen = 20 * np.sin(2 * np.pi * a) * np.sin(2 * np.pi * b)
    paper = 6 * cv2.GaussianBlur(rng.normal(0, 3, (h, w)).astype(np.float32), (0, 0), 2)
    printed = 28 + 0.82 * image + (screen + paper)[..., None]
    return _askew(cv2.GaussianBlur(printed, (0, 0), 0.8), -0.05)


def _askew(image: Picture, by: float) -> Picture:
    h, w = image.shape[:2]
    corners = np.float32([(0, 0), (w, 0), (w, h), (0, h)])
    there = corners + np.float32([(0, 0), (-by * w, by * h), (-by * w, -by * h), (0, 0)])
    return cv2.warpPerspective(
        image,
        cv2.getPerspectiveTransform(corners, there),
        (w, h),
        flags=cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )


def _set_straight(image: Picture, _rng: np.random.Generator) -> Picture:
    """A program for letters makes what it takes for the sheet's edge upright, and stretches it."""
    h, w = image.shape[:2]
    shown = np.float32([(0.05 * w, 0.08 * h), (0.97 * w, 0.02 * h), (w, 0.95 * h), (0, h)])
    whole = np.float32([(0, 0), (w, 0), (w, 0.94 * h), (0, 0.94 * h)])
    turn = cv2.getPerspectiveTransform(shown, whole)
    return cv2.warpPerspective(image, turn, (w, int(0.94 * h)), flags=cv2.INTER_CUBIC)


def _squeezed(share: float) -> Any:
    return lambda image, _rng: cv2.resize(
        image, None, fx=share, fy=1.0, interpolation=cv2.INTER_AREA
    )


def _fringes(share: float) -> Any:
    """Red and blue drawn a little larger and smaller than green."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        out = image.copy()
        for channel, scale in ((0, 1 + share), (2, 1 - share)):
            turn = np.float32([[scale, 0, (1 - scale) * w / 2], [0, scale, (1 - scale) * h / 2]])
            out[..., channel] = cv2.warpAffine(
                image[..., channel], turn, (w, h), flags=cv2.INTER_CUBIC, borderMode=1
            )
        return out

    return befell


def _one(scene: Setting, befell: Any, *, own_lens: bool = True, **more: Any) -> Maker:
    lens = (lambda lens: lens) if own_lens else without
    return lambda _rng, _n: Case(Mishap(scene, befell, **more), take=taken, lens=lens)


FAULTS: dict[str, Maker] = {
    "two exposures": _one(FLAT, _two_exposures(2.5, 1.5)),
    "two exposures, far apart": _one(ARM, _two_exposures(5.0, -3.0)),
    "tiles laid amiss": _one(FLAT, _tiles(0.8, 60)),
    "tiles laid far amiss": _one(FLAT, _tiles(2.0, 90)),
    "sewn from two": _one(FLAT, _seam(0.0, 3.0)),
    "sewn from two, far amiss": _one(ARM, _seam(5.0, 2.0)),
    "drops of water": _one(FLAT, _drops(45)),
    "a telephone's shadow": _one(FLAT, _shadow(0.75)),
    "a deep shadow": _one(ARM, _shadow(0.93)),
    "light of two colours": _one(FLAT, _mixed_light),
    "background blurred": _one(FLAT, _portrait(3.0, inside=False)),
    "ornament blurred": _one(FLAT, _portrait(3.0, inside=True)),
    "screenshot": _one(FLAT, _screenshot, own_lens=False),
    "picture of a screen": _one(FLAT, _of_a_screen, own_lens=False),
    "picture of a print": _one(FLAT, _of_a_print, own_lens=False),
    "set straight by a program": _one(FLAT, _set_straight, own_lens=False),
    "squeezed by 3 %": _one(FLAT, _squeezed(0.97), own_lens=False),
    "squeezed by 3 %, with a lens": _one(ARM, _squeezed(0.97)),
    "coloured fringes": _one(FLAT, _fringes(0.0012)),
    "stored at quality 20": _one(FLAT, _nothing, jpeg=20),
    "strip copied at 97 %": _one(FLAT, _nothing, strip=(0.97, 0.97)),
}
"""One case of each."""


def good(rng: np.random.Generator, n: int) -> Case:
    """The same scenes with nothing amiss."""
    scene = replace((FLAT, ARM)[n % 2], tip=rng.uniform(-9, 9), turn=rng.uniform(-9, 9))
    return Case(Mishap(scene, _nothing), {}, take=taken)


if __name__ == "__main__":
    run_all(FAULTS, 1, good, 120_000, __doc__)
