"""Render a scene by path tracing and develop it as a camera would: exposure, noise, JPEG, Exif."""

from __future__ import annotations

import io
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import mitsuba as mi
import numpy as np
import surfaces
from numpy.typing import NDArray
from PIL import Image

mi.set_variant("llvm_ad_rgb")
mi.set_log_level(mi.LogLevel.Error)

Picture = NDArray[np.float32]
DRAFT = float(os.environ.get("DEMO_DRAFT", "1"))
"""Share of the full size and quality to render at, for a quick look; 1 makes the real pictures."""


def trace(
    scene: dict[str, Any], passes: int, per_pass: int = 1, seed: int = 1, calm: bool = False
) -> Picture:
    """Mean of several passes, linear light (h, w, 3); few samples at once keep the memory small.

    With `calm` the grain that is left is smoothed where it is grain and not detail: a bilateral
    filter whose range follows the difference between the even and the odd passes. The picture that
    is measured is never calmed.
    """
    loaded = mi.load_dict(scene)
    halves: list[Picture] = []
    count = max(2, round(passes * min(1.0, DRAFT)))
    for k in range(count):
        one = np.array(mi.render(loaded, spp=per_pass, seed=seed + k), dtype=np.float32)[..., :3]
        # A single stray path can be thousands of times brighter than its neighbours.
        one = np.minimum(one, 12.0)
        if k < 2:
            halves.append(one)
        else:
            halves[k % 2] += one
    even, odd = halves[0] / ((count + 1) // 2), halves[1] / (count // 2)
    mean = (halves[0] + halves[1]) / np.float32(count)
    if not calm:
        return mean
    # In the square root of light the grain is about equally strong in darks and lights.
    grain = float(np.median(np.abs(np.sqrt(even) - np.sqrt(odd)))) / 0.6745 / 2.0
    soft = cv2.bilateralFilter(np.sqrt(mean), 7, 2.6 * grain, 1.6)
    return np.square(0.15 * np.sqrt(mean) + 0.85 * soft)


def film(width: int, height: int) -> dict[str, Any]:
    """A film that keeps linear light."""
    return {
        "type": "hdrfilm",
        "width": max(64, round(width * DRAFT)),
        "height": max(64, round(height * DRAFT)),
        "rfilter": {"type": "gaussian", "stddev": 0.45},
        "pixel_format": "rgb",
        "component_format": "float32",
    }


def camera(
    origin: tuple[float, float, float],
    target: tuple[float, float, float],
    across_degrees: float,
    width: int,
    height: int,
    lens_radius: float = 0.0,
    up: tuple[float, float, float] = (0.0, 0.0, 1.0),
) -> dict[str, Any]:
    """A camera at a place; a lens radius above nought (mm) gives depth of field."""
    base: dict[str, Any] = {
        "type": "thinlens" if lens_radius else "perspective",
        "to_world": mi.ScalarTransform4f().look_at(list(origin), list(target), list(up)),
        "fov": across_degrees,
        "fov_axis": "x",
        "near_clip": 10.0,
        "far_clip": 20000.0,
        "film": film(width, height),
        "sampler": {"type": "independent"},
    }
    if lens_radius:
        base["aperture_radius"] = lens_radius
        base["focus_distance"] = float(np.linalg.norm(np.subtract(origin, target)))
    return base


def texture(data: NDArray[np.uint8], raw: bool, smooth_edge: bool = True) -> dict[str, Any]:
    """A picture as a texture; `raw` for numbers, otherwise sRGB colour."""
    return {
        "type": "bitmap",
        "bitmap": mi.Bitmap(np.ascontiguousarray(data)),
        "raw": raw,
        "wrap_mode": "clamp" if smooth_edge else "repeat",
    }


def skin_bsdf(skin: surfaces.Skin, bump_scale: float = 0.0) -> dict[str, Any]:
    """A principled material from a surface's maps; `bump_scale` scales the heights."""
    maps = surfaces.as_bitmaps(skin)
    bsdf: dict[str, Any] = {
        "type": "principled",
        "base_color": texture(maps["colour"], raw=False),
        "roughness": texture(maps["roughness"], raw=True),
        "metallic": texture(maps["metal"], raw=True),
        "specular": 0.5,
    }
    if bump_scale:
        bsdf = {
            "type": "bumpmap",
            "arbitrary": {
                "type": "bitmap",
                "bitmap": mi.Bitmap(
                    np.ascontiguousarray(skin.height[..., None].astype(np.float32))
                ),
                "raw": True,
                "wrap_mode": "clamp",
            },
            "scale": bump_scale,
            "bsdf": bsdf,
        }
    return bsdf


@dataclass(frozen=True)
class Exposure:
    """What the camera is said to have been set to; no maker is named."""

    taken: str
    seconds: tuple[int, int]
    aperture: tuple[int, int]
    iso: int
    focal_mm: float


def develop(
    light: Picture,
    gain: float,
    seed: int,
    noise: float = 0.006,
    warmth: tuple[float, float, float] = (1.0, 1.0, 1.0),
    soften: float = 0.0,
    vignette: float = 0.08,
) -> NDArray[np.uint8]:
    """Linear light to 8-bit sRGB: white balance, gentle shoulder, vignetting, shot noise."""
    rng = np.random.default_rng(seed)
    x = light * np.float32(gain) * np.asarray(warmth, np.float32)
    height, width = x.shape[:2]
    yy, xx = np.mgrid[0:height, 0:width].astype(np.float32)
    r2 = ((xx - width / 2) ** 2 + (yy - height / 2) ** 2) / (width**2 / 4 + height**2 / 4)
    x = x * (1 - np.float32(vignette) * r2)[..., None]
    if soften:
        x = cv2.GaussianBlur(x, (0, 0), soften)
    # Lens veil: a little of the whole picture's light over the whole picture.
    x = x + 0.012 * cv2.blur(x, (2 * (width // 8) + 1, 2 * (width // 8) + 1))
    x = x + rng.standard_normal(x.shape, dtype=np.float32) * np.sqrt(
        np.maximum(x, 0) * noise**2 + (0.25 * noise) ** 2
    )
    # Straight in the darks and middle tones, a shoulder that lets highlights roll off.
    knee = 0.75
    over = np.maximum(x - knee, 0)
    x = np.minimum(x, knee) + (1 - knee) * (1 - np.exp(-over / (1 - knee)))
    x = np.clip(x, 0, 1)
    coded = np.where(
        x <= 0.0031308, 12.92 * x, 1.055 * np.power(np.maximum(x, 1e-6), 1 / 2.4) - 0.055
    )
    return (coded * 255 + rng.random(x.shape, dtype=np.float32)).clip(0, 255).astype(np.uint8)


def save(picture: NDArray[np.uint8], path: Path, exposure: Exposure, quality: int) -> int:
    """Write a JPEG with capture date and focal length (no place, no maker); return its bytes."""
    image = Image.fromarray(picture)
    exif = Image.Exif()
    exif[0x0112] = 1
    exif[0x0132] = exposure.taken
    details = exif.get_ifd(0x8769)
    details[0x9003] = exposure.taken
    details[0x9004] = exposure.taken
    details[0x829A] = exposure.seconds[0] / exposure.seconds[1]
    details[0x829D] = exposure.aperture[0] / exposure.aperture[1]
    details[0x8827] = exposure.iso
    details[0x920A] = exposure.focal_mm
    details[0xA001] = 1
    details[0xA002], details[0xA003] = image.size
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    out = io.BytesIO()
    image.save(
        out,
        "JPEG",
        quality=quality,
        optimize=True,
        progressive=True,
        subsampling=2,
        exif=exif,
        icc_profile=profile,
    )
    path.write_bytes(out.getvalue())
    return len(out.getvalue())
