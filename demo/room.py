"""The light of the workshop: a tall window, a dim warm room, drawn as a sphere of light."""

from __future__ import annotations

from typing import Any

import cv2
import mitsuba as mi
import numpy as np
import surfaces
from numpy.typing import NDArray

WIDTH, HEIGHT = 2048, 1024


def sphere(
    seed: int,
    window: float = 14.0,
    azimuth: float = 215.0,
    elevation: tuple[float, float] = (8.0, 52.0),
    spread: float = 46.0,
    lamp: float = 0.0,
    ceiling: float = 0.34,
    wall: float = 0.16,
    skylight: float = 0.0,
) -> NDArray[np.float32]:
    """Radiance from every direction, (HEIGHT, WIDTH, 3), equirectangular with the zenith on top.

    `azimuth` is where the window stands in degrees, `spread` its width, `elevation` foot and head;
    `lamp` is a small warm bench lamp opposite, `skylight` a second pane high up.
    """
    rng = np.random.default_rng(seed)
    yy = np.linspace(90, -90, HEIGHT, dtype=np.float32)[:, None]
    sky = np.zeros((HEIGHT, WIDTH, 3), np.float32)
    mottled = 1 + 0.18 * surfaces.clouds(rng, (HEIGHT, WIDTH), 180, 5, 0.6)
    base = np.where(yy > 38, ceiling, np.where(yy > -4, wall, 0.07)).astype(np.float32)
    base = cv2.GaussianBlur(np.repeat(base, WIDTH, axis=1), (0, 0), 9) * mottled
    sky += base[..., None] * np.asarray((1.0, 0.93, 0.83), np.float32)

    def patch(az: float, wide: float, low: float, high: float) -> tuple[slice, slice]:
        x0, x1 = ((az - wide / 2) % 360) / 360 * WIDTH, ((az + wide / 2) % 360) / 360 * WIDTH
        y0, y1 = (90 - high) / 180 * HEIGHT, (90 - low) / 180 * HEIGHT
        return slice(int(y0), int(y1)), slice(int(x0), int(x1))

    def panes(where: tuple[slice, slice], columns: int, rows: int, level: float, tint: Any) -> None:
        h, w = where[0].stop - where[0].start, where[1].stop - where[1].start
        frame = max(5, w // 26)
        glass = np.ones((h, w), np.float32)
        glass *= np.linspace(1.15, 0.55, h, dtype=np.float32)[:, None]
        trees = surfaces.step(
            0.1,
            1.0,
            surfaces.clouds(rng, (h, w), w / 3, 5)
            - np.linspace(1.9, -1.1, h, dtype=np.float32)[:, None],
        )
        glass *= 1 - 0.7 * trees
        bars = np.zeros((h, w), np.float32)
        for c in range(columns + 1):
            x = round(c * (w - 1) / columns)
            bars[:, max(0, x - frame // 2) : x + frame // 2 + 1] = 1
        for r in range(rows + 1):
            y = round(r * (h - 1) / rows)
            bars[max(0, y - frame // 2) : y + frame // 2 + 1] = 1
        rgb = (glass * (1 - bars))[..., None] * level * np.asarray(tint, np.float32)
        sky[where] = rgb + bars[..., None] * np.asarray((0.3, 0.28, 0.25), np.float32)

    panes(patch(azimuth, spread, *elevation), 2, 3, window, (0.92, 0.98, 1.06))
    if skylight:
        panes(patch(azimuth + 66, 84, 60, 80), 3, 1, skylight, (0.95, 1.0, 1.04))
    if lamp:
        where = patch(azimuth - 165, 11, 34, 46)
        sky[where] = lamp * np.asarray((1.0, 0.72, 0.42), np.float32)
    # Shelves, a door and other dark things along the walls: something for black japan to mirror.
    for _ in range(26):
        az, w = rng.uniform(0, 360), rng.uniform(4, 16)
        low = rng.uniform(-3, 16)
        if abs((az - azimuth + 180) % 360 - 180) < spread / 2 + w or not w / 2 < az < 360 - w / 2:
            continue
        where = patch(az, w, low, low + rng.uniform(4, 26))
        tone = rng.uniform(0.15, 1.6) * np.asarray(rng.uniform(0.75, 1.1, 3), np.float32)
        sky[where] *= tone.astype(np.float32)
    return cv2.GaussianBlur(sky, (0, 0), 1.2)


def emitter(sky: NDArray[np.float32]) -> dict[str, Any]:
    """The sphere as a light, turned so that z is up and azimuth 0 is +x, turning towards +y."""
    # The renderer counts azimuth the other way and from +y: seen by asking it for known directions.
    turn = mi.ScalarTransform4f().rotate([1, 0, 0], 90)
    sky = np.roll(sky[:, ::-1], sky.shape[1] // 4, axis=1)
    return {
        "type": "envmap",
        "bitmap": mi.Bitmap(np.ascontiguousarray(sky)),
        "scale": 1.0,
        "to_world": turn,
    }


def window(
    place: tuple[float, float, float],
    towards: tuple[float, float, float],
    width: float,
    height: float,
    level: float,
    seed: int,
) -> dict[str, Any]:
    """A window close enough that its light falls off across the work: panes, bars and a hedge."""
    rng = np.random.default_rng(seed)
    h, w = 384, 256
    glass = np.linspace(1.15, 0.6, h, dtype=np.float32)[:, None] * np.ones((1, w), np.float32)
    hedge = (
        surfaces.clouds(rng, (h, w), w / 3, 5)
        - np.linspace(2.3, -0.7, h, dtype=np.float32)[:, None]
    )
    glass *= 1 - 0.7 * surfaces.step(0.1, 1.0, hedge)
    for x in (0, w // 2, w - 1):
        glass[:, max(0, x - 7) : x + 8] = 0.02
    for y in (0, h // 3, 2 * h // 3, h - 1):
        glass[max(0, y - 6) : y + 7] = 0.02
    light = glass[..., None] * np.asarray((0.92, 0.98, 1.06), np.float32) * level
    turn = mi.ScalarTransform4f().look_at(list(place), list(towards), [0, 0, 1])
    return {
        "type": "rectangle",
        "to_world": turn @ mi.ScalarTransform4f().scale([width / 2, height / 2, 1]),
        "emitter": {
            "type": "area",
            "radiance": {
                "type": "bitmap",
                "bitmap": mi.Bitmap(np.ascontiguousarray(light[::-1])),
                "raw": True,
            },
        },
    }
