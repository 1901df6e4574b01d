"""Things of a workshop left lying on the work: does the trace say that it cannot see beneath?

    python bench/photographs_left_lying.py [kind ...] [--good N] [--kept FOLDER]

Rulers, cards, tape, gloves, cloth, string, screws, rods, hairs, paper and brass, with the shadow
they throw, and smears and fog, are laid on the stored light of a scene thrown by `thrown_light`
(scrolls and dots). Kinds that begin with *held back* lie on frets and vines instead, other things
in other shapes; nothing is tuned on those. Nothing was tuned on any when they were first run.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import cv2
import numpy as np
import photographs_passed_on
from photographs_at_fault import Case, Maker, run_all
from photographs_mishaps import Mishap, Picture, taken

from ray_cast import Photograph
from thrown_light import Setting, thrown

FLAT = Setting(tip=5, turn=-4, jpeg=100, margin=23)
ARM = Setting(kind="cylinder", radius=60, tip=-3, turn=3, jpeg=100)
PX = 9.0
"""Pixels to the mm, about, in both."""
Thing = Callable[[Picture, np.random.Generator], Picture]


def linear(image: Picture) -> Picture:
    """Linear light, 0..1, of stored values 0..255."""
    v = np.clip(image, 0, 255) / 255.0
    return np.asarray(np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4), np.float32)


def stored(light: Picture) -> Picture:
    """The inverse of `linear`."""
    v = np.clip(light, 0.0, 1.0)
    return np.asarray(
        255.0 * np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055), np.float32
    )


@cache
def _thrown(scene: Setting, frets: bool) -> Photograph:
    """A scene once, whatever is laid on it."""
    rng = np.random.default_rng(77)
    if not frets:
        return thrown(scene, rng)
    as_it_is = photographs_passed_on._as_it_is
    return photographs_passed_on.passed_on(photographs_passed_on.Passed(scene, as_it_is, 100), rng)


def on_scrolls(mishap: Mishap, rng: np.random.Generator) -> Photograph:
    """The scene of scrolls with what lies on it."""
    return taken(mishap, rng, lambda scene, _rng: _thrown(scene, False))


def on_frets(mishap: Mishap, rng: np.random.Generator) -> Photograph:
    """The same of frets and vines."""
    return taken(mishap, rng, lambda scene, _rng: _thrown(scene, True))


# --- shapes, 0..1, (h, w) -----------------------------------------------------------------------


def _soft(mask: Picture, sigma: float = 0.8) -> Picture:
    return cv2.GaussianBlur(mask.astype(np.float32), (0, 0), sigma)


def bar(x: float, y: float, long: float, wide: float, angle: float) -> Callable[..., Picture]:
    """An oblong, its middle in shares of the picture, its size in mm."""

    def shape(h: int, w: int, _rng: np.random.Generator) -> Picture:
        mask = np.zeros((h, w), np.float32)
        box = cv2.boxPoints(((x * w, y * h), (long * PX, wide * PX), angle))
        cv2.fillConvexPoly(mask, np.round(box * 16).astype(np.int32), 1.0, cv2.LINE_AA, 4)
        return _soft(mask)

    return shape


def disc(x: float, y: float, across: float) -> Callable[..., Picture]:
    """A disc, mm across."""

    def shape(h: int, w: int, _rng: np.random.Generator) -> Picture:
        mask = np.zeros((h, w), np.float32)
        cv2.circle(mask, (int(x * w), int(y * h)), int(across * PX / 2), 1.0, -1, cv2.LINE_AA)
        return _soft(mask)

    return shape


def finger(x: float, reach: float, wide: float) -> Callable[..., Picture]:
    """A finger from the upper edge."""

    def shape(h: int, w: int, _rng: np.random.Generator) -> Picture:
        mask = np.zeros((h, w), np.float32)
        tip = (int((x + 0.08) * w), int(reach * h))
        cv2.line(mask, (int(x * w), -60), tip, 1.0, int(wide * PX), cv2.LINE_AA)
        return _soft(mask, 1.5)

    return shape


def wavy(points: list[tuple[float, float]], wide: float, wave: float) -> Callable[..., Picture]:
    """A line that wanders, mm wide."""

    def shape(h: int, w: int, rng: np.random.Generator) -> Picture:
        mask = np.zeros((h, w), np.float32)
        xy = np.array(points) * (w, h)
        t = np.linspace(0, len(xy) - 1, 240)
        at = np.column_stack([np.interp(t, range(len(xy)), xy[:, k]) for k in range(2)])
        phase = rng.uniform(0, 6)
        at += wave * PX * np.column_stack([np.sin(3.1 * t + phase), np.cos(2.3 * t)])
        line = np.round(at * 16).astype(np.int32)
        cv2.polylines(mask, [line], False, 1.0, max(1, round(wide * PX)), cv2.LINE_AA, 4)
        return _soft(mask, 0.7)

    return shape


def corner(share: float, lobes: float) -> Callable[..., Picture]:
    """A cloth over the lower right, its rim in folds."""

    def shape(h: int, w: int, rng: np.random.Generator) -> Picture:
        v, u = np.mgrid[0:h, 0:w].astype(np.float32)
        along = (u / w - v / h) * 9
        rim = 0.03 * np.sin(lobes * along + rng.uniform(0, 6)) + 0.02 * np.sin(2.3 * along)
        return _soft(((u / w + v / h) / 2 > 1 - share + rim).astype(np.float32), 1.5)

    return shape


def blotch(x: float, y: float, across: float, rim: float) -> Callable[..., Picture]:
    """A patch of no shape with a soft rim, mm."""

    def shape(h: int, w: int, rng: np.random.Generator) -> Picture:
        v, u = np.mgrid[0:h, 0:w].astype(np.float32)
        a = np.arctan2(v - y * h, u - x * w)
        wide = (
            across * PX / 2 * (1 + 0.18 * np.sin(3 * a + rng.uniform(0, 6)) + 0.1 * np.sin(5 * a))
        )
        return _soft((np.hypot(u - x * w, v - y * h) < wide).astype(np.float32), rim * PX)

    return shape


# --- what they are made of ----------------------------------------------------------------------


def thing(
    shape: Callable[..., Picture],
    colour: tuple[float, float, float],
    *,
    uneven: float = 0.05,
    weave: float = 0.0,
    streaks: float = 0.0,
    ticks: bool = False,
    shadow: float = 0.6,
    high: float = 1.5,
) -> Thing:
    """A solid thing: its colour (share of white), its light, texture and shadow; mm high."""

    def befell(image: Picture, rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        mask = shape(h, w, rng)
        v, u = np.mgrid[0:h, 0:w].astype(np.float32)
        shade = 0.72 * (1 + 0.12 * (0.5 - u / w) + 0.12 * (0.5 - v / h))
        slow = cv2.resize(rng.standard_normal((9, 13)).astype(np.float32), (w, h))
        shade = shade * (1 + uneven * slow)
        if weave:
            shade = shade * (1 + weave * np.sin(2 * np.pi * u / 5.3) * np.sin(2 * np.pi * v / 4.9))
        if streaks:
            row = cv2.GaussianBlur(rng.standard_normal((1, w)).astype(np.float32), (0, 0), 9)
            shade = shade * (1 + streaks * 3 * np.abs(row)) + 0.25 * streaks * slow
        look = np.float32(colour) * shade[..., None]
        if ticks:
            marks = ((u + 0.2 * v) % PX < 1.6) & (mask > 0.5)
            look = np.where(marks[..., None], 0.05, look)
        look = look * (1 + 0.012 * rng.standard_normal((h, w, 1)).astype(np.float32))
        shift = np.float32([[1, 0, high * PX * 0.7], [0, 1, high * PX * 0.8]])
        thrown_by = _soft(cv2.warpAffine(mask, shift, (w, h)), 0.4 + high * PX * 0.25)
        under = linear(image) * (1 - shadow * thrown_by)[..., None]
        return stored(under * (1 - mask[..., None]) + look * mask[..., None])

    return befell


def film(shape: Callable[..., Picture], keeps: float, veil: float, blur: float) -> Thing:
    """A film one sees through: grease, fog, dust."""

    def befell(image: Picture, rng: np.random.Generator) -> Picture:
        mask = shape(*image.shape[:2], rng)[..., None]
        light = linear(image)
        through = cv2.GaussianBlur(light, (0, 0), blur) if blur else light
        return stored(light * (1 - mask) + (keeps * through + veil) * mask)

    return befell


def several(*things: Thing) -> Thing:
    """One after another."""

    def befell(image: Picture, rng: np.random.Generator) -> Picture:
        for one in things:
            image = one(image, rng)
        return image

    return befell


def shreds(count: int, colour: tuple[float, float, float]) -> Thing:
    """Shreds of steel wool or sawdust strewn over it."""

    def befell(image: Picture, rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        mask = np.zeros((h, w), np.float32)
        for _ in range(count):
            x, y = rng.uniform((0.25 * w, 0.25 * h), (0.75 * w, 0.75 * h))
            a, long = rng.uniform(0, np.pi), rng.uniform(0.4, 2.5) * PX
            there = (x + long * np.cos(a), y + long * np.sin(a))
            ends = [tuple(int(16 * c) for c in p) for p in ((x, y), there)]
            cv2.line(mask, *ends, 1.0, int(rng.integers(1, 4)), cv2.LINE_AA, 4)
        mask = 0.9 * mask[..., None]
        return stored(linear(image) * (1 - mask) + 0.7 * np.float32(colour) * mask)

    return befell


def _nothing(image: Picture, _rng: np.random.Generator) -> Picture:
    return image


def _one(scene: Setting, what: Thing, take: Any = on_scrolls, jpeg: int = 88) -> Maker:
    return lambda _rng, _n: Case(Mishap(scene, what, jpeg=jpeg), take=take)


def _back(what: Thing, scene: Setting = photographs_passed_on.FLAT) -> Maker:
    return _one(replace(scene, jpeg=100), what, on_frets)


STEEL, CARD, SHEET = (0.34, 0.34, 0.35), (0.18, 0.18, 0.18), (0.36, 0.35, 0.34)
BLACK, COTTON, BLUE = (0.030, 0.030, 0.032), (0.70, 0.69, 0.66), (0.06, 0.17, 0.42)
TAPE, HEMP, KRAFT, BRASS = (
    (0.72, 0.60, 0.40),
    (0.42, 0.33, 0.20),
    (0.42, 0.29, 0.16),
    (0.5, 0.38, 0.15),
)
FAULTS: dict[str, Maker] = {
    "steel ruler": _one(FLAT, thing(bar(0.5, 0.47, 170, 15, 8), STEEL, streaks=0.3, ticks=True)),
    "grey card": _one(FLAT, thing(bar(0.44, 0.56, 48, 36, 12), CARD)),
    "dust sheet": _one(FLAT, thing(corner(0.4, 2.0), SHEET, uneven=0.3, weave=0.12)),
    "black glove": _one(ARM, thing(finger(0.42, 0.5, 19), BLACK, uneven=0.3, high=6)),
    "cotton glove": _one(FLAT, thing(finger(0.36, 0.52, 20), COTTON, weave=0.08, high=6)),
    "blue glove": _one(FLAT, thing(finger(0.5, 0.5, 19), BLUE, uneven=0.15, high=6)),
    "masking tape": _one(FLAT, thing(bar(0.55, 0.5, 70, 19, -25), TAPE, high=0.1, uneven=0.03)),
    "string": _one(FLAT, thing(wavy([(0.2, 0.4), (0.5, 0.6), (0.8, 0.4)], 2.0, 2.0), HEMP)),
    "screw and washers": _one(
        FLAT,
        several(
            thing(disc(0.42, 0.5, 16), STEEL, streaks=0.4),
            thing(disc(0.42, 0.5, 9), (0.5, 0.5, 0.5), high=3),
            thing(disc(0.6, 0.44, 14), (0.22, 0.22, 0.22), streaks=0.3),
            thing(disc(0.64, 0.56, 14), (0.4, 0.4, 0.4), streaks=0.3),
        ),
    ),
    "grease": _one(FLAT, film(blotch(0.52, 0.5, 38, 1.0), 0.45, 0.004, 4.0)),
    "fog": _one(FLAT, film(blotch(0.48, 0.5, 60, 3.0), 0.5, 0.07, 7.0)),
    "thick fog": _one(ARM, film(blotch(0.5, 0.5, 45, 3.0), 0.15, 0.16, 12.0)),
    "hairs": _one(
        FLAT,
        several(
            *(
                thing(wavy([(0.25, y), (0.75, 1 - y)], 0.11, 6.0), (0.03, 0.02, 0.015), high=0.3)
                for y in (0.35, 0.45, 0.6)
            )
        ),
    ),
    "rod": _one(ARM, thing(bar(0.5, 0.5, 110, 8, 63), (0.05, 0.055, 0.05), streaks=0.2, high=4)),
    "black cloth": _one(FLAT, thing(corner(0.38, 3.1), (0.02, 0.02, 0.021), uneven=0.2, high=2)),
    "grey sticker": _one(FLAT, thing(disc(0.56, 0.5, 26), (0.4, 0.4, 0.4), high=0.1)),
    "brown paper": _one(FLAT, thing(bar(0.5, 0.52, 40, 24, 17), KRAFT, high=0.1)),
    "brass plate": _one(FLAT, thing(bar(0.45, 0.5, 34, 14, -9), BRASS, streaks=0.2)),
    "steel wool": _one(FLAT, shreds(500, (0.3, 0.3, 0.3))),
    "sawdust": _one(FLAT, shreds(500, (0.5, 0.36, 0.2))),
    "held back: slate and chalk": _back(thing(bar(0.4, 0.5, 40, 30, 31), (0.07, 0.07, 0.075))),
    "held back: spanner": _back(
        several(
            thing(bar(0.5, 0.5, 90, 11, 40), (0.28, 0.28, 0.29), streaks=0.5, high=3),
            thing(disc(0.38, 0.38, 22), (0.25, 0.25, 0.26), streaks=0.5, high=3),
        )
    ),
    "held back: rubber mat": _back(thing(corner(0.36, 0.7), (0.045, 0.045, 0.045), high=3)),
    "held back: lint": _back(thing(blotch(0.5, 0.52, 30, 0.8), (0.5, 0.49, 0.47), weave=0.2)),
    "held back: wooden rule": _back(
        thing(bar(0.5, 0.48, 160, 16, -6), (0.5, 0.36, 0.2), ticks=True)
    ),
    "held back: breath": _back(film(blotch(0.5, 0.5, 50, 4.0), 0.4, 0.09, 6.0)),
    "held back: bolts": _back(
        several(
            *(
                thing(disc(x, y, 13), (0.15, 0.14, 0.13), streaks=0.5, high=4)
                for x, y in ((0.35, 0.4), (0.42, 0.6), (0.55, 0.45), (0.62, 0.58))
            )
        )
    ),
    "held back: leather": _back(thing(finger(0.45, 0.55, 24), (0.12, 0.07, 0.04), high=5)),
}
"""One case of each."""


def good(rng: np.random.Generator, n: int) -> Case:
    """The same scenes with nothing on them, and with less than would matter."""
    scene = (FLAT, ARM)[n % 2]
    speck = thing(disc(rng.uniform(0.4, 0.6), rng.uniform(0.4, 0.6), 3), STEEL)
    return Case(Mishap(scene, (_nothing, speck)[n // 2 % 2]), {}, take=on_scrolls)


if __name__ == "__main__":
    run_all(FAULTS, 1, good, 210_000, __doc__)
