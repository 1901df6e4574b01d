"""What is laid over a photograph before it arrives, and what programs make of it: is it told?

    python bench/photographs_laid_over.py [kind ...] [--good N] [--each N] [--kept FOLDER]

Words and a date laid over the ornament, a sticker, a finger over the strip, a picture bent by
sewing many, haloes of a program that lifts shadows, a picture in grey, enlarged, stored very
small, and a strip copied at 94 %. Scenes as in `photographs_mishaps`; nothing was tuned on it when
it was first run.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from photographs_at_fault import Maker, run_all
from photographs_mishaps import ARM, FLAT, Picture, _moved, _nothing, _one, good


def _words(text: str, colour: tuple[int, int, int], place: tuple[float, float], high: float) -> Any:
    """Words laid over the picture, as a program or the camera's own date does."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        out = np.clip(image, 0, 255).astype(np.uint8)
        at = int(place[0] * w), int(place[1] * h)
        scale = high * h / 22.0
        thick = max(2, round(scale * 1.6))
        cv2.putText(out, text, at, cv2.FONT_HERSHEY_SIMPLEX, scale, colour, thick, cv2.LINE_AA)
        return out.astype(np.float32)

    return befell


def _sticker(image: Picture, _rng: np.random.Generator) -> Picture:
    """A round yellow face with a white rim, laid over the work."""
    h, w = image.shape[:2]
    out, middle = np.clip(image, 0, 255).astype(np.uint8), (int(0.56 * w), int(0.47 * h))
    for radius, colour in ((0.075, (250, 250, 250)), (0.066, (250, 200, 60))):
        cv2.circle(out, middle, int(radius * h), colour, -1, cv2.LINE_AA)
    for x in (-0.024, 0.024):
        eye = int(middle[0] + x * h), int(middle[1] - 0.015 * h)
        cv2.circle(out, eye, int(0.009 * h), (60, 40, 20), -1, cv2.LINE_AA)
    return out.astype(np.float32)


def _finger(reach: float) -> Any:
    """A finger laid over one side of the strip, reaching over the work."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        mask = np.zeros((h, w), np.float32)
        tip = (int(0.45 * w), int(reach * h))
        cv2.line(mask, (int(0.36 * w), -40), tip, 1.0, int(0.075 * w), cv2.LINE_AA)
        mask = cv2.GaussianBlur(mask, (0, 0), 5)[..., None]
        light = np.linspace(0.75, 1.1, w, dtype=np.float32)[None, :, None]
        return image * (1 - mask) + np.float32([205, 150, 122]) * light * mask

    return befell


def _bent(share: float) -> Any:
    """Sewn from many by a program, which bends what is straight as if seen from a barrel."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        v, u = np.mgrid[0:h, 0:w].astype(np.float32)
        x, y = (u - w / 2) / (w / 2), v - h / 2
        angle = share * x
        return _moved(
            image,
            np.tan(angle) / np.tan(share) * (w / 2) - x * (w / 2),
            y / np.cos(angle) * np.cos(share) - y,
        )

    return befell


def _haloes(strength: float, sigma: float) -> Any:
    """Shadows lifted and lights held against their surroundings: dark rims about what is light."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        around = cv2.GaussianBlur(image.mean(axis=2), (0, 0), sigma) + 12
        even = image * (90.0 / around)[..., None]
        return image * (1 - strength) + even * strength

    return befell


def _grey(image: Picture, _rng: np.random.Generator) -> Picture:
    return np.repeat(image @ np.float32([[0.3], [0.59], [0.11]]), 3, axis=2)


def _enlarged(share: float, crisp: float) -> Any:
    """Stored smaller, enlarged again by a program and made crisp."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        small = cv2.resize(image, None, fx=1 / share, fy=1 / share, interpolation=cv2.INTER_AREA)
        large = cv2.resize(small, (w, h), interpolation=cv2.INTER_CUBIC)
        return large + crisp * (large - cv2.GaussianBlur(large, (0, 0), share))

    return befell


FAULTS: dict[str, Maker] = {
    "white words over it": _one(FLAT, _words("for Aunt Clara", (250, 250, 250), (0.3, 0.5), 0.6)),
    "golden words over it": _one(FLAT, _words("No. 7 left", (214, 168, 60), (0.34, 0.45), 0.5)),
    "a date in its corner": _one(FLAT, _words("11 28 '98", (255, 140, 30), (0.55, 0.72), 0.35)),
    "a sticker": _one(FLAT, _sticker),
    "a finger over the strip": _one(FLAT, _finger(0.2)),
    "a finger over strip and work": _one(ARM, _finger(0.5)),
    "bent by sewing many": _one(FLAT, _bent(0.25), own_lens=False),
    "haloes": _one(FLAT, _haloes(0.5, 25.0)),
    "haloes, narrow": _one(FLAT, _haloes(0.6, 7.0)),
    "in grey": _one(FLAT, _grey),
    "enlarged twice": _one(FLAT, _enlarged(2.0, 0.8), own_lens=False),
    "stored at quality 10": _one(ARM, _nothing, jpeg=10),
    "strip copied at 94 %": _one(FLAT, _nothing, strip=(0.94, 0.94)),
}
"""One case of each."""


if __name__ == "__main__":
    run_all(FAULTS, 1, good, 130_000, __doc__)
