"""Shaken, by night, in the wrong white, of satin japan, and several of these at once: is it told?

    python bench/photographs_other_habits.py [kind ...] [--good N] [--kept FOLDER]

The scene is thrown forwards by `thrown_light`, with the strip's bow where it has one; colour, sheen
and shake are laid on its light or its stored picture here. Nothing was tuned on these when they
were first run.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from photographs_at_fault import Case, Maker, run_all, without
from photographs_mishaps import Mishap, Picture, taken

from thrown_light import Setting

Befell = Callable[[Picture, np.random.Generator], Picture]
FLAT = Setting(tip=7, turn=4, jpeg=100, margin=23)
ARM = Setting(kind="cylinder", radius=62, tip=-4, turn=3, jpeg=100)
TAPER = Setting(kind="cone", radius=58, half_angle=4.5, tip=3, jpeg=100)
LINE = (0.0, 0.0, 4.0, 1.5)
"""A short shake in one direction, px."""
LONG = (0.0, 0.0, 6.0, -5.0)


def _as_it_is(image: Picture, _rng: np.random.Generator) -> Picture:
    return image


def _linear(image: Picture) -> Picture:
    v = image / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def _stored(light: Picture) -> Picture:
    v = np.clip(light, 0.0, 1.0)
    return 255.0 * np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)


def _cast(*by: float) -> Befell:
    """White balanced for another light."""
    return lambda image, _rng: _stored(_linear(image) * np.array(by))


def _sheen(strength: float, wide: float, x: float, y: float) -> Befell:
    """A satin finish: the lamp mirrored so widely that it has no edge."""

    def befell(image: Picture, _rng: np.random.Generator) -> Picture:
        h, w = image.shape[:2]
        v, u = np.mgrid[0:h, 0:w]
        lobe = np.exp(-0.5 * (((u - x * w) / (wide * w)) ** 2 + ((v - y * h) / (wide * h)) ** 2))
        return _stored(_linear(image) + strength * lobe[..., None])

    return befell


def _one_after_another(*steps: Befell) -> Befell:
    def befell(image: Picture, rng: np.random.Generator) -> Picture:
        for step in steps:
            image = step(image, rng)
        return image

    return befell


def _one(scene: Setting, befell: Befell = _as_it_is, *, jpeg: int = 88, lens: bool = True) -> Maker:
    told = (lambda known: known) if lens else without
    return lambda _rng, _n: Case(Mishap(scene, befell, jpeg=jpeg), take=taken, lens=told)


BULB = _cast(1.0, 0.62, 0.28)
SHADE = _cast(0.62, 0.85, 1.0)
TUBE = _cast(0.78, 1.0, 0.7)
FAULTS: dict[str, Maker] = {
    "shaken a little": _one(replace(FLAT, shaken=LINE)),
    "shaken far, on the arm": _one(replace(ARM, shaken=LONG)),
    "night under a bulb": _one(replace(FLAT, exposure=0.2, grains=3.0), BULB, jpeg=80),
    "night on the arm": _one(replace(ARM, exposure=0.14, grains=3.5), BULB, jpeg=75),
    "white of the shade": _one(FLAT, SHADE),
    "white of a tube": _one(replace(TAPER, brown=1.0), TUBE),
    "satin": _one(replace(FLAT, grey_film=0.03), _sheen(0.10, 0.22, 0.45, 0.5)),
    "satin on the arm": _one(replace(ARM, grey_film=0.04), _sheen(0.16, 0.15, 0.6, 0.45)),
    "bowed strip": _one(replace(FLAT, buckle=1.0)),
    "bowed strip, no lens": _one(replace(FLAT, buckle=1.0), lens=False),
    "bowed strip on the arm": _one(replace(ARM, buckle=1.0)),
    "bowed and shaken": _one(replace(FLAT, buckle=0.7, shaken=LINE), lens=False),
    "satin by night": _one(
        replace(FLAT, exposure=0.25, grains=3.0, grey_film=0.03),
        _one_after_another(_sheen(0.05, 0.25, 0.5, 0.5), BULB),
        jpeg=80,
    ),
    "shaken by night, browned": _one(
        replace(ARM, exposure=0.25, grains=3.0, brown=1.2, shaken=LINE), BULB, jpeg=80
    ),
    "bowed, satin, wrong white": _one(
        replace(FLAT, buckle=0.7, grey_film=0.03),
        _one_after_another(_sheen(0.08, 0.2, 0.5, 0.5), SHADE),
    ),
    "slid, soft, dirty": _one(
        replace(FLAT, slid=(0.2, 0.1), out_of_focus=1.8, specks=600), jpeg=70
    ),
}
"""One case of each."""


def good(rng: np.random.Generator, n: int) -> Case:
    """The same scenes with nothing amiss."""
    scene = (FLAT, ARM, TAPER)[n % 3]
    scene = replace(scene, tip=rng.uniform(-9, 9), turn=rng.uniform(-9, 9))
    return Case(Mishap(scene, _as_it_is), {}, take=taken, lens=without if n % 2 else lambda v: v)


if __name__ == "__main__":
    run_all(FAULTS, 1, good, 160_000, __doc__)
