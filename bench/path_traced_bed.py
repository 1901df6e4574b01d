"""A photograph of gilt on japan by a path tracer, for a Python that has Mitsuba 3 (demo/README.md).

    python bench/path_traced_bed.py SCENE.npz LIGHT.npz

SCENE.npz holds maps of the bed at ``ppm`` pixels to the mm, row 0 at the top of the frame:
``gilt``, ``iron``, ``coat`` (shares, 8 bits), ``matt`` (what scatters under the varnish, linear
RGB in 8 bits of a square root), ``rough`` (of the metal, 8 bits), ``height`` and ``crazed`` (mm),
the same of the paper: ``ink`` (8 bits), and ``told``, the rest as JSON: see
`ornament_path_traced.py`. LIGHT.npz: ``light``, linear RGB of a pinhole picture, half floats.

Nothing is shared with what draws the other benches' photographs: metal is a rough conductor by its
own indices (Walter and others, 2007), the varnish lies over japan and gilt alike and mirrors what
stands in the room, as much as Fresnel says of a glass of 1.5 seen from near above; lamps and
windows are things of some size at some place, the paper is a sheet of its own above the bed and
throws its shadow on it, telephone and head stand in the light and in the mirror.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import drjit
import mitsuba as mi
import numpy as np

mi.set_variant("llvm_ad_rgb")
mi.set_log_level(mi.LogLevel.Error)

T = mi.ScalarTransform4f
GLASS = 0.043
"""What varnish of index 1.5 mirrors within 40 degrees of square (Fresnel)."""


def surface(xy, told, up=0.0):
    """Places of the frame (mm, x right, y down) in the room, ``up`` mm above the bed."""
    x, y = xy[..., 0] - 128.0, 93.0 - xy[..., 1]
    kind, radius = told.get("bed", "plane"), told.get("radius", 1e9)
    up = up + np.zeros_like(x)
    if kind == "plane":
        return np.stack([x, y, up], -1)
    if kind == "cylinder":  # rolled about an axis along x or y
        along_x = told.get("axis", "x") == "x"
        a, b = (y, x) if along_x else (x, y)
        r = radius + up
        rolled, z = r * np.sin(a / radius), r * np.cos(a / radius) - radius
        return np.stack([b, rolled, z] if along_x else [rolled, b, z], -1)
    # a cushion: a paper frame cannot lie on it without cockling, which some tenths of a mm are
    far = (x * x + y * y) / (2 * radius)
    return np.stack([x, y, up - far], -1)


def sheet(name, xy, up, told, bsdf, box):
    """A grid mesh over places of the frame, its texture over a box of them."""
    points = surface(xy, told, up)
    rows, cols = points.shape[:2]
    du, dv = np.gradient(points, axis=1), np.gradient(points, axis=0)
    normals = np.cross(dv, du)
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    u = (xy[..., 0] - box[0]) / (box[2] - box[0])
    v = (xy[..., 1] - box[1]) / (box[3] - box[1])
    at = np.arange(rows * cols, dtype=np.uint32).reshape(rows, cols)
    a, b, c, d = at[:-1, :-1], at[:-1, 1:], at[1:, :-1], at[1:, 1:]
    faces = np.concatenate(
        [np.stack([a, c, b], -1).reshape(-1, 3), np.stack([b, c, d], -1).reshape(-1, 3)]
    )
    props = mi.Properties()
    props["bsdf"] = mi.load_dict(bsdf)
    made = mi.Mesh(name, rows * cols, len(faces), props=props, has_vertex_normals=True,
                   has_vertex_texcoords=True)  # fmt: skip
    held = mi.traverse(made)
    held["vertex_positions"] = points.astype(np.float32).ravel()
    held["vertex_normals"] = normals.astype(np.float32).ravel()
    held["vertex_texcoords"] = np.stack([u, v], -1).astype(np.float32).ravel()
    held["faces"] = faces.ravel()
    held.update()
    return made


def texture(data):
    data = data if data.ndim == 3 else data[..., None]
    return {"type": "bitmap", "bitmap": mi.Bitmap(np.ascontiguousarray(data)), "raw": True,
            "wrap_mode": "clamp"}  # fmt: skip


def raised(height, bsdf):
    return {"type": "bumpmap", "map": texture(height.astype(np.float32)), "scale": 1.0,
            "bsdf": bsdf}  # fmt: skip


def blend(weight, first, second):
    return {"type": "blendbsdf", "weight": weight, "first": first, "second": second}


def skin(maps, told):
    """Japan, gilt and bare iron, and the varnish over them."""
    matt = (maps["matt"].astype(np.float32) / 255.0) ** 2
    rough = texture(maps["rough"])
    gold = {"type": "roughconductor", "material": told["metal"], "alpha": rough,
            "specular_reflectance": {"type": "rgb", "value": told["tint"]}}  # fmt: skip
    if told["powder"]:  # flakes of bronze that lie any way: much of it scatters
        dust = {"type": "diffuse", "reflectance": {"type": "rgb", "value": told["powder_rgb"]}}
        gold = blend(float(told["powder"]), gold, dust)
    iron = {"type": "roughconductor", "material": "none", "alpha": 0.3,
            "specular_reflectance": {"type": "rgb", "value": [0.5, 0.49, 0.47]}}  # fmt: skip
    body = blend(texture(maps["gilt"]), {"type": "diffuse", "reflectance": texture(matt)}, gold)
    body = blend(texture(maps["iron"]), body, iron)
    mirror = {"type": "roughconductor", "material": "none", "alpha": float(told["gloss"])}
    coat = texture(maps["coat"].astype(np.float32) / 255.0 * GLASS)
    return blend(coat, raised(maps["height"], body), raised(maps["crazed"], mirror))


def lamp(one):
    at, aim = one["at"], one["aim"]
    radiance = {"type": "rgb", "value": one["rgb"]}
    to = T().look_at(at, aim, [0.1, 0.9, 0.3])
    if one["kind"] == "disk":
        size, shape = [one["size"], one["size"], 1.0], "disk"
    else:
        size, shape = [one["size"][0] / 2, one["size"][1] / 2, 1.0], "rectangle"
    return {"type": shape, "to_world": to @ T().scale(size),
            "emitter": {"type": "area", "radiance": radiance}}  # fmt: skip


def thing(one):
    matt = {"type": "diffuse", "reflectance": {"type": "rgb", "value": one["rgb"]}}
    bsdf = {"type": "twosided", "bsdf": matt}
    if one["kind"] == "sphere":
        return {"type": "sphere", "center": one["at"], "radius": one["size"], "bsdf": bsdf}
    to = T().look_at(one["at"], one["aim"], [0.1, 0.9, 0.3])
    half = [one["size"][0] / 2, one["size"][1] / 2, 1.0]
    return {"type": "rectangle", "to_world": to @ T().scale(half), "bsdf": bsdf}


def room(told):
    """What comes from all around: a ceiling, walls and a floor, each of its light."""
    high = np.linspace(90, -90, 128)[:, None, None]
    ceiling, wall, floor = told["room"]
    soft = 1 / (1 + np.exp(-(high - told.get("ceiling_from", 40)) / 4.0))
    low = 1 / (1 + np.exp(-(high + 2) / 3.0))
    level = floor + (wall - floor) * low + (ceiling - wall) * soft
    sky = level * np.asarray(told.get("room_rgb", [1, 1, 1])) * np.ones((1, 256, 1))
    return {"type": "envmap", "bitmap": mi.Bitmap(np.ascontiguousarray(sky.astype(np.float32))),
            "to_world": T().rotate([1, 0, 0], 90)}  # fmt: skip


def camera(told):
    wide, high = told["size"]
    eye, target = (np.asarray(told[k], float) for k in ("eye", "target"))
    roll = np.radians(told["roll"])
    one = {
        "type": "thinlens" if told["aperture"] else "perspective",
        "fov_axis": "x",
        "fov": float(np.degrees(2 * np.arctan(wide / 2 / told["focal"]))),
        "to_world": T().look_at(list(eye), list(target), [np.sin(roll), np.cos(roll), 0.0]),
        "near_clip": 10.0,
        "far_clip": 5000.0,
        "film": {"type": "hdrfilm", "width": wide, "height": high, "pixel_format": "rgb",
                 "component_format": "float32", "rfilter": {"type": "gaussian", "stddev": 0.45}},
        "sampler": {"type": "independent"},
    }  # fmt: skip
    if told["aperture"]:
        one["aperture_radius"] = float(told["aperture"])
        one["focus_distance"] = float(told["focus"])
    return one


def grid(box, n):
    left, top, right, bottom = box
    x, y = np.meshgrid(np.linspace(left, right, n), np.linspace(top, bottom, n))
    return np.stack([x, y], -1)


def strips(outer, window):
    """The paper's four sides as grids, from its outer corners to those of its window."""
    outer, window = np.asarray(outer), np.asarray(window)
    along, across = np.linspace(0, 1, 121)[None, :, None], np.linspace(0, 1, 25)[:, None, None]
    for n in range(4):
        m = (n + 1) % 4
        far = outer[n] + along * (outer[m] - outer[n])
        near = window[n] + along * (window[m] - window[n])
        yield far + across * (near - far)


def curl(xy, told):
    """How far the paper stands off: all over, more at one corner, and in waves."""
    x, y = xy[..., 0] / 256.0, xy[..., 1] / 186.0
    corner = np.clip((x + y - 1.4) / 0.6, 0, 1) ** 2
    return (
        told["gap"]
        + told["corner"] * corner
        + told["wave"] * (0.5 + 0.5 * np.sin(2 * np.pi * (1.3 * x + 0.7 * y) + 1.0))
    )


def scene_of(maps, told):
    box, paper_box = told["box"], told["paper_box"]
    ink = texture((maps["ink"].astype(np.float32) / 255.0) ** 2)
    paper = {"type": "twosided", "bsdf": {"type": "diffuse", "reflectance": ink}}
    bench = {"type": "diffuse", "reflectance": {"type": "rgb", "value": told["bench"]}}
    scene = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 4},
        "camera": camera(told),
        "room": room(told),
        "bed": sheet("bed", grid(box, 161), 0.0, told, skin(maps, told), box),
        "bench": {"type": "rectangle", "bsdf": bench,
                  "to_world": T().translate([0, 0, -60]) @ T().scale(900.0)},
    }  # fmt: skip
    # four strips of paper: a mask would lie in the way of every lamp
    for n, over in enumerate(strips(told["outer"], told["window"])):
        up = curl(over, told)
        scene[f"paper{n}"] = sheet(f"paper{n}", over, up, told, paper, paper_box)
    scene |= {f"lamp{n}": lamp(one) for n, one in enumerate(told["lamps"])}
    return scene | {f"thing{n}": thing(one) for n, one in enumerate(told["things"])}


def main():
    drjit.set_thread_count(1)
    source, to = map(Path, sys.argv[1:3])
    maps = dict(np.load(source))
    told = json.loads(str(maps["told"]))
    loaded = mi.load_dict(scene_of(maps, told))
    total, passes = 0.0, max(1, told["samples"] // 4)
    for n in range(passes):  # few at once keep the memory small
        one = np.array(mi.render(loaded, spp=4, seed=told["seed"] * 100 + n), np.float32)[..., :3]
        total = total + np.minimum(one, 30 * np.percentile(one, 90))  # stray paths
    np.savez(to, light=(total / passes).astype(np.float16))


if __name__ == "__main__":
    main()
