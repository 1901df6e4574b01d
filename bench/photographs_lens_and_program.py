"""Photographs that a smeared or simple lens, a program or mirror-bright leaf has changed unsaid.

    python bench/photographs_lens_and_program.py [kind ...] [--good N] [--kept FOLDER]

Painted and seen by the maker of `photographs_by_strangers.py`; what befalls them is of this file
alone: a thumb print on the lens, a lens that is sharp in its middle only, pictures stacked by their
focus that breathes, edges hardened by a program, blocks of a film's still that lag behind, leaf
burnished so bright that it mirrors a dark room, a program that evens small places out.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
from photographs_at_fault import run_all
from photographs_by_strangers import ARM, FLAT, TAPER, F, Paint, _good, _of, clouds


def _by_place(light: F, spread: F, steps: tuple[float, ...]) -> F:
    """Light blurred by so many pixels from place to place, (h, w)."""
    out = np.zeros_like(light)
    for n, sigma in enumerate(steps):
        one = cv2.GaussianBlur(light, (0, 0), sigma) if sigma else light
        below = steps[n - 1] if n else sigma - 1.0
        above = steps[n + 1] if n + 1 < len(steps) else sigma + 1e6
        rising = np.clip((spread - below) / max(sigma - below, 1e-6), 0, 1)
        falling = np.clip((above - spread) / max(above - sigma, 1e-6), 0, 1)
        out += one * np.minimum(rising, falling)[..., None]
    return out


def _inside(shape: tuple[int, ...], at: tuple[float, float], size: tuple[float, float]) -> F:
    """1 within an ellipse of the picture, fading over its rim."""
    h, w = shape[:2]
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    far = np.hypot((u / w - at[0]) / size[0], (v / h - at[1]) / size[1])
    return np.clip(2.0 - 2.0 * far, 0, 1).astype(np.float32)


def _thumbed(share: float) -> Callable[..., F]:
    """A thumb print on the lens: a third of the light and more is spread over a part of it."""

    def lit(light: F, rng: np.random.Generator) -> F:
        h, w = light.shape[:2]
        smear = cv2.GaussianBlur(light, (0, 0), sigmaX=34, sigmaY=9)
        v, u = np.mgrid[0:h, 0:w].astype(np.float32)
        ridges = 0.75 + 0.25 * np.sin(0.11 * u + 0.07 * v + 3 * clouds(rng, (h, w), 200))
        film = share * _inside(light.shape, (0.56, 0.46), (0.26, 0.3)) * ridges
        return light * (1 - film[..., None]) + smear * film[..., None]

    return lit


def _sharp_in_the_middle(light: F, _rng: np.random.Generator) -> F:
    """A clip-on lens: four pixels of blur at its corners, none in its middle."""
    h, w = light.shape[:2]
    v, u = np.mgrid[0:h, 0:w].astype(np.float32)
    far = np.hypot(u - w / 2, v - h / 2) / np.hypot(w / 2, h / 2)
    return _by_place(light, 4.0 * far**2, (0.0, 1.0, 2.0, 3.0, 4.0))


def _stacked(light: F, _rng: np.random.Generator) -> F:
    """Three pictures stacked by their focus, each some thousandths larger than the last."""
    h, w = light.shape[:2]
    rows = np.arange(h) / h
    out = np.zeros_like(light)
    for n, larger in enumerate((-0.003, 0.0, 0.003)):
        matrix = cv2.getRotationMatrix2D((w / 2, h / 2), 0.0, 1.0 + larger)
        one = cv2.warpAffine(light, matrix, (w, h), flags=cv2.INTER_CUBIC)
        share = np.clip((0.5 - np.abs(rows * 3 - n - 0.5)) * 25 + 0.5, 0, 1)
        out += one * share[:, None, None].astype(np.float32)
    return np.clip(out, 0, None)


def _hardened(code: F, _rng: np.random.Generator) -> F:
    """A program hardens edges: each place goes to the lighter or darker side that it is nearer."""
    out = cv2.GaussianBlur(code, (0, 0), 1.2)
    for _ in range(12):
        grey = out.mean(axis=2)
        bend = cv2.Laplacian(cv2.GaussianBlur(grey, (0, 0), 1.5), cv2.CV_32F)
        steep = cv2.morphologyEx(out, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
        out = out - 0.12 * np.tanh(bend)[..., None] * steep
    return out


def _lagging(code: F, rng: np.random.Generator) -> F:
    """A still of a film: blocks of 16 pixels, in flocks, show what stood two pixels aside."""
    h, w = code.shape[:2]
    flock = clouds(rng, (h // 16 + 1, w // 16 + 1), 6) > 0.68
    where = cv2.resize(flock.astype(np.uint8), None, fx=16, fy=16, interpolation=cv2.INTER_NEAREST)
    return np.where(where[:h, :w, None] > 0, np.roll(code, (1, 2), axis=(0, 1)), code)


def _evened(code: F, _rng: np.random.Generator) -> F:
    """A program that takes noise away: what is small and faint goes to its neighbours' mean."""
    coded = np.clip(code, 0, 255).astype(np.uint8)
    return cv2.fastNlMeansDenoisingColored(coded, None, 18, 18, 5, 11).astype(np.float32)


def _burnished(least: float) -> Callable[..., None]:
    """Leaf as bright as a mirror, with a dark room before it in places."""

    def painted(paint: Paint, _gilt: Any, rng: np.random.Generator, _of: Any) -> None:
        dark = np.clip(8 * clouds(rng, paint.gilt.shape, 600) - 4.0, 0, 1)[..., None]
        paint.gold = paint.gold * (1 - dark * (1 - least))

    return painted


KINDS = {
    "a thumb on the lens": _of(FLAT, lit=_thumbed(0.35)),
    "a greasy thumb on the lens": _of(FLAT, lit=_thumbed(0.75)),
    "sharp in the middle": _of(FLAT, lit=_sharp_in_the_middle),
    "stacked": _of(FLAT, lit=_stacked),
    "stacked, lens": _of(FLAT, True, lit=_stacked),
    "hardened": _of(FLAT, developed=_hardened),
    "lagging": _of(FLAT, developed=_lagging),
    "burnished": _of(FLAT, painted=_burnished(0.25)),
    "burnished, a dark room": _of(FLAT, painted=_burnished(0.06)),
    "held back: arm, thumb": _of(ARM, lit=_thumbed(0.5)),
    "held back: taper, sharp in the middle": _of(TAPER, True, lit=_sharp_in_the_middle),
    "held back: arm, hardened": _of(ARM, True, developed=_hardened),
    "held back: arm, lagging": _of(ARM, developed=_lagging),
    "held back: taper, burnished": _of(TAPER, True, painted=_burnished(0.1)),
    "held back: evened": _of(FLAT, developed=_evened),
}


if __name__ == "__main__":
    run_all(KINDS, 1, _good, 7900, __doc__)
