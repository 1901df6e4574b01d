"""Photographs of a worn plate by a path tracer, for a Python that has Mitsuba 3 (demo/README.md).

    python bench/path_traced_plate.py SCENE.npz FRAMES.npz

SCENE.npz: ``height`` (rows, columns; mm), ``crust`` (the same, 0 to 1), ``rough_by`` (the same,
laid on ``rough``), ``mm_per_px``, ``balls`` (n x 2, mm) with ``under`` (the metal's height there),
``torches`` (n x 3, mm), ``aims`` (n x 2, mm), ``shifts`` (n x 2, px), ``turns`` (degrees),
``gains``, ``camera_mm``, ``metallic``, ``rough``, ``room`` (radiance that comes from everywhere),
``follows`` (how far the exposure follows the light, 0 to 1), ``seed``, ``samples``. FRAMES.npz:
``frames``, eight-bit grey, and ``bright``, how they were exposed.

Nothing here is shared with the reader or with the other makers of plates: the metal is a rough
conductor (Walter and others, 2007) without any matt part where it is bare, light comes back from
wall to wall of a stroke, the torch is a lamp of some width in a tube, which alone makes its beam,
the balls are mirrors that show the plate, the camera is near and sees in perspective.
"""

from __future__ import annotations

import sys
from pathlib import Path

import drjit
import mitsuba as mi
import numpy as np

drjit.set_thread_count(1)  # a render takes one core: other work runs beside it
mi.set_variant("llvm_ad_rgb")
mi.set_log_level(mi.LogLevel.Error)

BALL_MM = 3.0
"""Radius of a ball."""
LAMP_MM, TUBE_MM, TUBE_LONG_MM = 5.0, 6.0, 18.0


def mesh(height, s, bsdf):
    rows, cols = height.shape
    xs = (np.arange(cols) - (cols - 1) / 2) * s
    ys = -(np.arange(rows) - (rows - 1) / 2) * s
    gx, gy = np.meshgrid(xs, ys)
    points = np.column_stack([gx.ravel(), gy.ravel(), height.ravel()]).astype(np.float32)
    at = np.arange(rows * cols, dtype=np.uint32).reshape(rows, cols)
    a, b, c, d = at[:-1, :-1], at[:-1, 1:], at[1:, :-1], at[1:, 1:]
    faces = np.concatenate(
        [np.stack([a, c, b], -1).reshape(-1, 3), np.stack([b, c, d], -1).reshape(-1, 3)]
    )
    down, right = np.gradient(height, s)
    normals = np.dstack([-right, down, np.ones_like(right)])
    normals /= np.linalg.norm(normals, axis=2, keepdims=True)
    u, v = np.meshgrid(np.linspace(0, 1, cols), np.linspace(1, 0, rows))
    props = mi.Properties()
    props["bsdf"] = mi.load_dict(bsdf)
    made = mi.Mesh("plate", len(points), len(faces), props=props, has_vertex_normals=True,
                   has_vertex_texcoords=True)  # fmt: skip
    held = mi.traverse(made)
    held["vertex_positions"] = points.ravel()
    held["vertex_normals"] = normals.reshape(-1, 3).astype(np.float32).ravel()
    held["vertex_texcoords"] = np.column_stack([u.ravel(), v.ravel()]).astype(np.float32).ravel()
    held["faces"] = faces.ravel()
    held.update()
    return made


def raw(data):
    bitmap = mi.Bitmap(np.ascontiguousarray(data[..., None].astype(np.float32)))
    return {"type": "bitmap", "bitmap": bitmap, "raw": True, "wrap_mode": "clamp"}


def metal(told):
    """Bare metal where there is no crust; rust and soot, matt, where there is."""
    crust = told["crust"]
    bare = {
        "type": "principled",
        "base_color": {"type": "rgb", "value": [0.46, 0.45, 0.43]},
        "metallic": float(told["metallic"]),
        "roughness": raw(np.clip(told["rough"] + told["rough_by"], 0.12, 0.95)),
        "specular": 0.5,
    }
    rust = {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.17, 0.14, 0.12]}}
    return {
        "type": "twosided",
        "bsdf": {"type": "blendbsdf", "weight": raw(crust), "first": bare, "second": rust},
    }


def torch(place, aim):
    """A lamp of some width at the bottom of a black tube that points at ``aim``."""
    place, aim = np.asarray(place, float), np.array([*aim, 0.0])
    way = (aim - place) / np.linalg.norm(aim - place)
    to = mi.ScalarTransform4f().look_at(list(place), list(aim), [0.0, 0.3, 0.95])
    black = {"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.02}}
    return {
        "lamp": {
            "type": "disk",
            "to_world": to @ mi.ScalarTransform4f().scale([LAMP_MM, LAMP_MM, 1.0]),
            "emitter": {"type": "area", "radiance": {"type": "rgb", "value": 1500.0}},
        },
        "tube": {
            "type": "cylinder",
            "p0": list(place - 1.0 * way),
            "p1": list(place + TUBE_LONG_MM * way),
            "radius": TUBE_MM,
            "bsdf": {"type": "twosided", "bsdf": black},
        },
    }


def scene_of(told, plate, k):
    s = float(told["mm_per_px"])
    rows, cols = told["height"].shape
    far = float(told["camera_mm"])
    # the camera moves, so that the picture moves by shift and turns by turn
    sx, sy = told["shifts"][k]
    turn = np.radians(float(told["turns"][k]))
    at = np.array([-sx * s, sy * s])
    mirror = {"type": "roughconductor", "alpha": 0.012, "material": "none",
              "specular_reflectance": {"type": "rgb", "value": 0.62}}  # fmt: skip
    low = mi.ScalarTransform4f().translate([0, 0, -2.0])
    scene = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 5},
        "camera": {
            "type": "perspective",
            "fov_axis": "x",
            "fov": float(np.degrees(2 * np.arctan(cols * s / 2 / far))),
            "to_world": mi.ScalarTransform4f().look_at(
                [at[0], at[1], far], [at[0], at[1], 0.0], [-np.sin(turn), np.cos(turn), 0.0]
            ),
            "near_clip": 5.0,
            "far_clip": 5000.0,
            "film": {
                "type": "hdrfilm",
                "width": cols,
                "height": rows,
                "rfilter": {"type": "gaussian", "stddev": 0.5},
                "pixel_format": "luminance",
                "component_format": "float32",
            },
            "sampler": {"type": "independent"},
        },
        "plate": plate,
        "bench": {
            "type": "rectangle",
            "to_world": low @ mi.ScalarTransform4f().scale(400.0),
            "bsdf": {"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.15}},
        },
        "room": {"type": "constant", "radiance": {"type": "rgb", "value": float(told["room"])}},
    } | torch(told["torches"][k], told["aims"][k])
    for n, (bx, by) in enumerate(told["balls"]):
        under = float(told["under"][n])
        scene[f"ball{n}"] = {"type": "sphere", "center": [float(bx), float(by), under + BALL_MM],
                             "radius": BALL_MM, "bsdf": mirror}  # fmt: skip
    return scene


def developed(rng, light, bright):
    """Eight bits: vignetting, noise of a small sensor, sRGB with a shoulder in the lights."""
    rows, cols = light.shape
    ys, xs = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : cols * 1j]
    light = light * bright * (1 - 0.06 * (xs**2 + ys**2))
    light = light + rng.standard_normal(light.shape) * np.sqrt(1e-5 + 1.5e-4 * np.clip(light, 0, 2))
    light = np.clip(light, 0, 1)
    curve = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.round(curve * 255).astype(np.uint8)


def main():
    source, to = map(Path, sys.argv[1:3])
    told = dict(np.load(source))
    rng = np.random.default_rng(int(told["seed"]))
    plate = mesh(told["height"].astype(np.float64), float(told["mm_per_px"]), metal(told))
    seen = []
    for k in range(len(told["torches"])):
        loaded = mi.load_dict(scene_of(told, plate, k))
        passes = max(1, int(told["samples"]) // 4)
        total = 0.0
        for n in range(passes):  # few at once keep the memory small
            one = np.array(mi.render(loaded, spp=4, seed=1000 * k + n + 1), np.float32)[..., 0]
            # one stray path by a ball's mirror can be a thousand times as bright as its neighbours
            total = total + np.minimum(one, 5 * np.percentile(one, 90))
        seen.append(total / passes * told["gains"][k])
        print(k, float(np.median(seen[-1])), flush=True)
    # a camera that is let follows the light half the way; the rest stays in the pictures
    levels = np.array([float(np.percentile(one, 90)) for one in seen])
    bright = 0.6 / np.median(levels) * (np.median(levels) / levels) ** float(told["follows"])
    frames = [developed(rng, one, by) for one, by in zip(seen, bright, strict=True)]
    np.savez_compressed(to, frames=np.stack(frames), bright=bright)


if __name__ == "__main__":
    main()
