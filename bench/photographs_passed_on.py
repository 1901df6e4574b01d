"""Photographs spoilt on their way from the lens to the file, and good ones, never tuned on.

    python bench/photographs_passed_on.py [kind ...] [--good N] [--kept FOLDER]

Stray light in the lens, a shutter that runs down the picture, a telephone that brightens shadows,
draws halos and repaints what it takes for noise, a cast of colour, a copy made larger again. The
ornament is a fret with vines, drawn here; the scene is thrown forwards by `thrown_light`, whose
own ornament and faults are not used.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
import shapely
from photographs_at_fault import Case, Maker, run_all, without
from shapely import affinity

import thrown_light
from ray_cast import Photograph
from thrown_light import Setting

Picture = np.ndarray
FLAT = Setting(tip=-7, turn=6, lamp=(300, -280, 460), jpeg=100, margin=22)
ARM = Setting(kind="cylinder", radius=62, tip=4, turn=3, jpeg=100)


def fret_and_vines(
    rng: np.random.Generator, box: tuple[float, float, float, float], *, edge_rules: bool = False
) -> shapely.MultiPolygon:
    """A square fret along the long sides, a vine with pointed leaves and berries between."""
    del edge_rules
    left, top, right, bottom = box
    parts = []
    step = rng.uniform(6.5, 8.5)
    key = np.array([(0, 0), (0, -0.8), (0.75, -0.8), (0.75, -0.3), (0.4, -0.3), (0.4, 0), (1, 0)])
    count = int((right - left) / step)
    for y, flip in ((top + 0.95 * step, 1), (bottom - 0.95 * step, -1)):
        line = np.vstack([key * (step, step * flip) + (left + n * step, y) for n in range(count)])
        wide = rng.uniform(0.45, 0.9)
        parts.append(
            shapely.LineString(line).buffer(wide / 2, join_style="mitre", cap_style="flat")
        )
    t = np.linspace(0, 1, 400)
    middle, tall = (top + bottom) / 2, (bottom - top) / 2 - 1.6 * step
    x = left + 3 + t * (right - left - 6)
    y = middle + 0.62 * tall * np.sin(x / rng.uniform(9, 12))
    stem = np.column_stack([x, y])
    parts.append(shapely.LineString(stem).buffer(rng.uniform(0.15, 0.3)))
    for at in range(14, 390, 16):
        long = rng.uniform(0.3, 0.5) * tall
        u = np.linspace(0, 1, 30)
        edge = 0.22 * long * np.sin(np.pi * u) ** 0.9 * (1 + 0.12 * np.sin(9 * u))
        ring = np.vstack(
            [np.column_stack([long * u, edge]), np.column_stack([long * u, -edge])[::-1]]
        )
        leaf = affinity.rotate(shapely.Polygon(ring).buffer(0), rng.uniform(30, 150), (0, 0))
        leaf = affinity.scale(leaf, 1, 1 if at // 16 % 2 else -1, origin=(0, 0))
        parts.append(affinity.translate(leaf, *stem[at]))
        berry = stem[at + 5] + (0, (-1) ** (at // 16) * rng.uniform(1.0, 1.8))
        parts.append(shapely.Point(berry).buffer(rng.uniform(0.35, 0.6)))
    whole = shapely.union_all(parts)
    return shapely.MultiPolygon([p for p in shapely.get_parts(whole) if p.area > 0.05])


@dataclass(frozen=True)
class Passed:
    """A scene and what befell its picture after the lens."""

    scene: Setting
    befell: Callable[[Picture, np.random.Generator], Picture]
    jpeg: int = 90

    @property
    def piece(self) -> str:
        """The strip that lies in it."""
        return self.scene.piece

    @property
    def kind(self) -> str:
        """The surface's shape."""
        return self.scene.kind


def passed_on(passed: Passed, rng: np.random.Generator) -> Photograph:
    """The scene thrown with this family's ornament, then spoilt, then stored."""
    usual = thrown_light.scrolls_and_dots
    thrown_light.scrolls_and_dots = fret_and_vines
    try:
        photo = thrown_light.thrown(passed.scene, rng)
    finally:
        thrown_light.scrolls_and_dots = usual
    code = photo.image / 255.0
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    light = np.clip(passed.befell(light.astype(np.float32), rng), 0, 1)
    tone = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    _, stored = cv2.imencode(
        ".jpg",
        (tone[..., ::-1] * 255 + 0.5).astype(np.uint8),
        [cv2.IMWRITE_JPEG_QUALITY, passed.jpeg],
    )
    image = np.ascontiguousarray(cv2.imdecode(stored, cv2.IMREAD_COLOR)[..., ::-1])
    return replace(photo, image=image)


def _as_it_is(light: Picture, _rng: np.random.Generator) -> Picture:
    return light


def _stray(share: float, *, aside: float = 0.0) -> Any:
    """Stray light: an even share of white, more towards one side."""

    def befell(light: Picture, _rng: np.random.Generator) -> Picture:
        ramp = np.linspace(0, aside, light.shape[1], dtype=np.float32)[None, :, None]
        return (light * (1 - share) + share + ramp) * np.float32(1 / (1 + aside))

    return befell


def _lifted(light: Picture, _rng: np.random.Generator) -> Picture:
    """Shadows brightened and lights held by their surroundings."""
    around = cv2.GaussianBlur(light.mean(axis=2), (0, 0), 40)
    return light * ((0.25 / (around + 0.08)) ** 0.7)[..., None]


def _halos(amount: float, wide: float) -> Any:
    def befell(light: Picture, _rng: np.random.Generator) -> Picture:
        root = np.sqrt(np.clip(light, 0, 1))
        return np.clip(root + amount * (root - cv2.GaussianBlur(root, (0, 0), wide)), 0, 1) ** 2

    return befell


def _repainted(light: Picture, _rng: np.random.Generator) -> Picture:
    """Noise taken out so hard that fine things go with it."""
    root = (np.sqrt(np.clip(light, 0, 1)) * 255).astype(np.uint8)
    out = cv2.bilateralFilter(cv2.medianBlur(root, 7), 11, 40, 6)
    return (out.astype(np.float32) / 255) ** 2


def _running_shutter(lean: float, wave: float) -> Any:
    """The camera moved while the rows were read: they lean, or sway."""

    def befell(light: Picture, _rng: np.random.Generator) -> Picture:
        h, w = light.shape[:2]
        v, u = np.mgrid[0:h, 0:w].astype(np.float32)
        return cv2.remap(
            light,
            u + np.float32(lean) * (v / h - 0.5) + np.float32(wave) * np.sin(7 * v / h),
            v,
            cv2.INTER_CUBIC,
            borderMode=cv2.BORDER_REPLICATE,
        )

    return befell


def _cast(red: float, blue: float) -> Any:
    return lambda light, _rng: light * np.float32([red, 1.0, blue])


def _made_larger(light: Picture, _rng: np.random.Generator) -> Picture:
    h, w = light.shape[:2]
    small = cv2.resize(light, (int(w * 0.38), int(h * 0.38)), interpolation=cv2.INTER_AREA)
    return cv2.resize(small, (w, h), interpolation=cv2.INTER_CUBIC)


def _one(scene: Setting, befell: Any, surface: str = "", **more: Any) -> Maker:
    jpeg = more.pop("jpeg", 90)
    asked = {"surface": surface} if surface else {}
    return lambda _rng, _n: Case(Passed(scene, befell, jpeg), asked, take=passed_on, **more)


FAULTS: dict[str, Maker] = {
    "stray light": _one(FLAT, _stray(0.15)),
    "much stray light": _one(FLAT, _stray(0.4)),
    "stray light from one side": _one(ARM, _stray(0.05, aside=0.6), "cylinder"),
    "burnt": _one(replace(FLAT, exposure=1.25), _as_it_is),
    "burnt more": _one(replace(FLAT, exposure=1.6), _as_it_is),
    "shadows lifted": _one(FLAT, _lifted),
    "halos": _one(FLAT, _halos(1.5, 2.0)),
    "wide halos": _one(ARM, _halos(1.0, 7.0), "cylinder"),
    "repainted": _one(replace(FLAT, grains=2.5), _repainted),
    "rows lean": _one(FLAT, _running_shutter(9, 0)),
    "rows sway": _one(FLAT, _running_shutter(0, 4), lens=without),
    "reddish": _one(FLAT, _cast(1.35, 0.55)),
    "bluish": _one(FLAT, _cast(0.6, 1.4)),
    "made larger": _one(FLAT, _made_larger),
    "stored small": _one(FLAT, _as_it_is, jpeg=12),
    "slant": _one(replace(FLAT, tip=47, distance=400), _as_it_is),
    "slant and near": _one(replace(FLAT, turn=50, distance=300), _as_it_is),
    "aimed aside": _one(replace(FLAT, distance=250, off_middle=(420, 260)), _as_it_is),
    "browned to rust": _one(replace(FLAT, brown=4.5, specks=2500), _as_it_is),
    "silvery": _one(replace(FLAT, gold=(0.42, 0.40, 0.34)), _as_it_is),
}
"""One case of each."""


def good(rng: np.random.Generator, n: int) -> Case:
    """A photograph as the manual asks for."""
    scene = replace(
        (FLAT, replace(ARM, radius=rng.uniform(60, 90)))[n % 2],
        tip=rng.uniform(-12, 12),
        turn=rng.uniform(-10, 10),
        roll=rng.uniform(-4, 4),
        exposure=rng.uniform(0.5, 0.85),
        brown=rng.uniform(0, 0.6),
        specks=int(rng.integers(0, 120)),
    )
    befell = (_as_it_is, _halos(0.3, 1.2), _cast(1.05, 0.92), _stray(0.01))[n % 4]
    return Case(Passed(scene, befell, int(rng.integers(86, 97))), {}, take=passed_on)


if __name__ == "__main__":
    run_all(FAULTS, 1, good, 80_000, __doc__)
