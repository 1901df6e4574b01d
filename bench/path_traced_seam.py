"""Pictures of seams by a path tracer, for a Python that has Mitsuba 3 (demo/README.md).

    python bench/path_traced_seam.py SPEC.json PICTURE

SPEC.json is written by `seams_path_traced.py`, which says what its keys mean. Nothing here is
shared with the measuring or with the makers that paint seams in two dimensions: cloth is yarns
laid over and under one another (felt and leather a bent surface), pushed aside where the needle
went; the sewing threads are plies twisted about one another that go down into the holes and lock
there, the upper in a U about the lower's; light is sampled along paths, so that shadows, the dark
of a hole and what one surface throws on another come of themselves; the camera is near, tilted,
with a lens of some width that bends, and a phone's sharpening and JPEG.
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path

import cv2
import drjit as dr
import mitsuba as mi
import numpy as np
from path_traced_cloth import Surface
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.spatial import cKDTree

mi.set_variant("llvm_ad_rgb")
mi.set_log_level(mi.LogLevel.Error)
dr.set_thread_count(1)

UNDER_MM = 2.6
"""How far below the cloth the table lies."""
PUSHED_MM = 0.45
"""A needle's hole pushes yarns aside as far as this (standard deviation)."""


class Cloth(Surface):
    """The cloth's surface, and where its yarns are pushed to."""

    def __init__(self, told, rng):
        super().__init__(told, rng)
        self.wide, self.high = told["cloth_mm"]

    def pushed(self, x, y):
        """Where what lay at (x, y) lies since the needle went through."""
        at = np.stack([x, y], -1)
        far, which = self.tree.query(at)
        off = at - self.holes[which]
        grown = np.sqrt(far**2 + (self.told["hole_mm"] * np.exp(-((far / PUSHED_MM) ** 2))) ** 2)
        at = self.holes[which] + off * (grown / np.maximum(far, 1e-6))[:, None]
        return at[:, 0], at[:, 1]


def curves(parts, bsdf):
    """Round threads of any course: each part (n, 4), x, y (down), z and radius."""
    with tempfile.NamedTemporaryFile("w", suffix=".txt", delete=False) as kept:
        for part in parts:
            turned = part * (1, -1, 1, 1)
            np.savetxt(kept, turned, fmt="%.4f")
            kept.write("\n")
    return {"type": "bsplinecurve", "filename": kept.name, "bsdf": bsdf}


def stuff(colour, *, rough=0.8, specular=0.2, sheen=0.3):
    """Fibre: matt, with some sheen towards grazing light."""
    return {
        "type": "principled",
        "base_color": {"type": "rgb", "value": [float(c) for c in colour]},
        "roughness": rough,
        "specular": specular,
        "sheen": sheen,
    }


def woven(cloth):
    """Yarns over and under one another; slubs; each of its own lightness."""
    told, rng = cloth.told, cloth.rng
    weave = {"plain": (1, 1, 1), "twill": (2, 2, 1), "drill": (3, 1, 1)}[told["weave"]]
    over, under, step = weave
    pitch, slub = told["yarn_mm"], told["slub"]
    scene, made = {}, {}
    for way in (0, 1):
        count = int((cloth.high, cloth.wide)[way] / pitch) + 2
        along = np.arange(-pitch, (cloth.wide, cloth.high)[way] + pitch, 0.25 * pitch)
        for n in range(count):
            other = along / pitch
            crossing = np.floor(other).astype(int)
            first, second = (n, crossing) if way == 0 else (crossing, n)
            up = np.where((first * step + second) % (over + under) < over, 1.0, -1.0)
            up = up if way == 0 else -up
            up = np.convolve(np.pad(up, 2, "edge"), [0.1, 0.25, 0.3, 0.25, 0.1], "valid")
            across = n * pitch + 0.05 * pitch * np.cumsum(rng.normal(0, 0.1, len(along)))
            x, y = (along, across) if way == 0 else (across, along)
            x, y = cloth.pushed(x, y)
            thick = 0.46 * pitch * rng.normal(1, 0.05)
            swell = 1 + slub * gaussian_filter(rng.normal(size=len(along)), 12) * 5
            radius = thick * np.clip(swell, 0.6, 1.8)
            z = cloth.height(x, y) + 0.62 * thick * up - told["yarn_mm"] * 0.75
            shade = int(np.clip(np.round(2.5 + rng.normal(0, 1.0)), 0, 5))
            made.setdefault((way, shade), []).append(np.column_stack([x, y, z, radius]))
    for (way, shade), parts in made.items():
        colour = np.array(told["cloth"] if way == 0 else told["cloth2"])
        tone = 1 + told["yarn_shade"] * (shade - 2.5)
        scene[f"yarns{way}{shade}"] = curves(parts, stuff(np.clip(colour * tone, 0.01, 0.95)))
    return scene


def surface(cloth, lift, step=0.07):
    """A bent surface with pits at the holes: felt, leather, or the layer below the woven one."""
    told, rng = cloth.told, cloth.rng
    xs = np.arange(-1.0, cloth.wide + 1.0, step)
    ys = np.arange(-1.0, cloth.high + 1.0, step)
    x, y = np.meshgrid(xs, ys)
    z = cloth.height(x, y) + lift
    grain = rng.normal(size=z.shape)
    if told["weave"] == "felt":
        z += 0.05 * gaussian_filter(grain, 1.5) * 5 + 0.05 * gaussian_filter(grain, 5) * 15
    if told["weave"] == "leather":
        cells = rng.uniform((0, 0), (cloth.wide, cloth.high), (int(cloth.wide * cloth.high * 3), 2))
        near, _ = cKDTree(cells).query(np.stack([x, y], -1).reshape(-1, 2), k=2)
        crease = (near[:, 1] - near[:, 0]).reshape(z.shape)
        z -= 0.07 * np.exp(-((crease / 0.1) ** 2))
        pores = rng.uniform((0, 0), (cloth.wide, cloth.high), (int(cloth.wide * cloth.high / 4), 2))
        far, _ = cKDTree(pores).query(np.stack([x, y], -1).reshape(-1, 2))
        z -= 0.12 * np.exp(-((far.reshape(z.shape) / 0.09) ** 2))
    far, _ = cloth.tree.query(np.stack([x, y], -1).reshape(-1, 2))
    z -= 1.2 * np.exp(-((far.reshape(z.shape) / (0.9 * told["hole_mm"])) ** 4))
    rows, cols = z.shape
    points = np.column_stack([x.ravel(), -y.ravel(), z.ravel()]).astype(np.float32)
    at = np.arange(rows * cols, dtype=np.uint32).reshape(rows, cols)
    a, b, c, d = at[:-1, :-1], at[:-1, 1:], at[1:, :-1], at[1:, 1:]
    faces = np.concatenate(
        [np.stack([a, c, b], -1).reshape(-1, 3), np.stack([b, c, d], -1).reshape(-1, 3)]
    )
    down, right = np.gradient(z, step)
    normals = np.dstack([-right, down, np.ones_like(right)])
    normals /= np.linalg.norm(normals, axis=2, keepdims=True)
    glossy = told["weave"] == "leather"
    colour = np.array(told["cloth"]) * (0.8 if lift < -0.1 else 1.0)
    bsdf = stuff(colour, rough=0.45 if glossy else 0.9, specular=0.5 if glossy else 0.1)
    props = mi.Properties()
    props["bsdf"] = mi.load_dict({"type": "twosided", "bsdf": bsdf})
    mesh = mi.Mesh("sheet", len(points), len(faces), props=props, has_vertex_normals=True)
    held = mi.traverse(mesh)
    held["vertex_positions"] = points.ravel()
    held["vertex_normals"] = normals.reshape(-1, 3).astype(np.float32).ravel()
    held["faces"] = faces.ravel()
    held.update()
    return mesh


def fluff(cloth, count, colour, long, thin=0.008, at=None):
    """Fibres that lie about or stand off: x and y over the cloth, or about given places."""
    rng = cloth.rng
    parts = []
    for n in range(int(count)):
        start = rng.uniform((0, 0), (cloth.wide, cloth.high)) if at is None else at[n % len(at), :2]
        base = 0.02 if at is None else at[n % len(at), 2]
        turn = rng.uniform(0, 6.3) + np.cumsum(rng.normal(0, 0.5, 8))
        step = rng.uniform(0.4, 1.0) * long / 8
        xy = start + np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1) * step, axis=0)
        rise = np.abs(rng.normal(0, 0.35)) * long * np.sin(np.linspace(0, 3.0, 8))
        z = base + rise + (cloth.height(xy[:, 0], xy[:, 1]) if at is None else 0.0)
        parts.append(np.column_stack([xy, z, np.full(8, thin)]))
    return curves(parts, stuff(colour, sheen=0.6)) if parts else None


def course(cloth, stitches, side):
    """The middle of one thread of the seam: (n, 3). ``side`` 1: the thread seen, -1 the other."""
    told, rng = cloth.told, cloth.rng
    half = 0.5 * (told["thread_mm"] if side > 0 else told["thread2_mm"])
    lean, locks = told["lean"], np.array(told["locks_mm"])
    drop = rng.uniform(1.2, 2.2)  # half threads by which the stitch's ends lie deeper, seam by seam
    pieces = []
    for n, (i, j) in enumerate(stitches):
        a, b = cloth.holes[i], cloth.holes[j]
        d = (b - a) / np.linalg.norm(b - a)
        q = np.array([-d[1], d[0]])
        # both legs of a U lie in one hole, before and behind, and one to each side by the lean
        legs = 0.9 * half * (np.cos(lean) * d + np.sin(lean) * q)
        if side < 0:
            legs = half * (0.35 * d - q)
        t = np.linspace(0, 1, 25)
        flat = a + legs + t[:, None] * ((b - legs) - (a + legs))
        slack = 1.0 + told["slack"] * (rng.random() < 0.2)
        if side > 0:
            top = cloth.height(flat[:, 0], flat[:, 1]) + half * (0.75 + 0.1 * rng.normal())
            bow = told["loop_mm"][n] * np.sin(np.pi * t)
            z = top + slack * 0.05 * np.sin(np.pi * t) + bow
            rest = t * np.linalg.norm(b - a)
            rest = np.minimum(rest, rest[::-1])  # a thread bends: it dives before its hole
            z -= drop * half * np.clip(1 - rest / told["dive_mm"], 0, 1) ** 2
            flat = flat + 0.4 * bow[:, None] * q
        else:
            z = np.full(len(t), -told["thick_mm"] - half)
        # the upper's U runs below the lower's crown
        low_a, low_b = locks[i] - half * side, locks[j] - half * side
        deep = np.linspace(0, 1, 7)[:, None]
        # a leg bends over the rim of its hole: it leaves the cloth within half a thread
        down = np.column_stack([np.tile(a + legs, (7, 1)), low_a + (z[0] - low_a) * deep])
        bent = flat[2:-2]
        back = np.column_stack([np.tile(b - legs, (7, 1)), low_b + (z[-1] - low_b) * deep])
        pieces += [down[:-1], np.column_stack([bent, z[2:-2]]), back[::-1][1:]]
    line = np.concatenate(pieces)
    far = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    at = np.arange(0, far[-1], 0.05)
    fine = np.stack([np.interp(at, far, line[:, k]) for k in range(3)], 1)
    return np.stack([gaussian_filter(fine[:, k], 1.2, mode="nearest") for k in range(3)], 1)


def plied(cloth, line, wide, pitch, plies, hand):
    """Plies twisted about a middle: radii by how they touch one another."""
    rng = cloth.rng
    ahead = np.gradient(line, axis=0)
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True)
    u = np.cross(ahead, [0.0, 0.37, 0.93])
    u /= np.maximum(np.linalg.norm(u, axis=1, keepdims=True), 1e-6)
    v = np.cross(ahead, u)
    gap = 1 / np.sin(np.pi / plies)
    one = wide / (2 * (1 + gap))
    turn = 2 * np.pi * np.arange(len(line)) * 0.05 / pitch
    parts = []
    for n in range(plies):
        angle = hand * turn + 2 * np.pi * n / plies
        off = gap * one * (np.cos(angle)[:, None] * u + np.sin(angle)[:, None] * v)
        radius = one * 1.12 * (1 + 0.12 * gaussian_filter(rng.normal(size=len(line)), 3) * 3.3)
        parts.append(np.column_stack([line + off, np.clip(radius, 0.3 * one, 2 * one)]))
    return parts


def seam(cloth):
    told = cloth.told
    stitches = told["stitches"]
    scene = {}
    for side, key in ((1, ""), (-1, "2")):
        line = course(cloth, stitches, side)
        wide = told[f"thread{key}_mm"]
        gloss = told["gloss"]
        parts = plied(cloth, line, wide, told["ply_mm"], told["plies"], told["hand"])
        scene[f"thread{key}"] = curves(
            parts, stuff(told[f"colour{key}"], rough=0.65 - 0.3 * gloss, specular=0.2 + 0.4 * gloss)
        )
        if side > 0 and told["hairs"]:
            hairs = fluff(cloth, told["hairs"] * len(stitches), told["colour"], 0.6, 0.006,
                          line[cloth.rng.permutation(len(line))])  # fmt: skip
            scene["hairs"] = hairs
    return scene


def frame(told):
    """The printed strip, if one lies about the seam: paper of some thickness on the cloth."""
    scene = {}
    for n, (left, top, right, bottom, name) in enumerate(told["papers"]):
        ink = cv2.imread(name, cv2.IMREAD_GRAYSCALE).astype(np.float32) / 255.0
        ink = ink[::-1]  # a bitmap's first row lies at the rectangle's lower side
        bitmap = mi.Bitmap(np.ascontiguousarray((0.04 + 0.78 * ink)[..., None]))
        to = mi.ScalarTransform4f().translate(
            [(left + right) / 2, -(top + bottom) / 2, told["paper_z"]]
        ) @ mi.ScalarTransform4f().scale([(right - left) / 2, (bottom - top) / 2, 1.0])
        scene[f"paper{n}"] = {
            "type": "rectangle",
            "to_world": to,
            "bsdf": {
                "type": "diffuse",
                "reflectance": {"type": "bitmap", "bitmap": bitmap, "raw": True},
            },
        }
    return scene


def lamps(told):
    """Lights: each a disk or a rectangle at a place, turned towards the seam."""
    scene = {"room": {"type": "constant", "radiance": {"type": "rgb", "value": told["room"]}}}
    for n, lamp in enumerate(told["lamps"]):
        place, aim = lamp["at"], lamp["aim"]
        to = mi.ScalarTransform4f().look_at(place, aim, [0.03, 0.3, 0.95])
        wide, high = lamp["half_mm"]
        far = np.linalg.norm(np.array(place) - np.array(aim))
        area = 4 * wide * high if lamp["shape"] == "rectangle" else np.pi * wide * high
        scene[f"lamp{n}"] = {
            "type": lamp["shape"],
            "to_world": to @ mi.ScalarTransform4f().scale([wide, high, 1.0]),
            "emitter": {
                "type": "area",
                "radiance": {
                    "type": "rgb",
                    "value": [float(lamp["bright"] * far**2 / area * c) for c in lamp["tint"]],
                },
            },
        }
    return scene


def camera(told):
    cam = told["camera"]
    film = {
        "type": "hdrfilm",
        "width": cam["px"][0],
        "height": cam["px"][1],
        "rfilter": {"type": "gaussian", "stddev": 0.5},
        "pixel_format": "rgb",
        "component_format": "float32",
    }
    to = mi.ScalarTransform4f().look_at(cam["at"], cam["aim"], cam["up"])
    if cam["kind"] == "scanner":
        half = cam["wide_mm"] / 2
        to = to @ mi.ScalarTransform4f().scale([half, half, 1.0])
        return {"type": "orthographic", "to_world": to, "film": film, "near_clip": 1.0,
                "far_clip": 1000.0, "sampler": {"type": "independent"}}  # fmt: skip
    far = float(np.linalg.norm(np.array(cam["at"]) - np.array(cam["aim"])))
    return {
        "type": "thinlens",
        "fov_axis": "x",
        "fov": float(np.degrees(2 * np.arctan(cam["wide_mm"] / 2 / far))),
        "aperture_radius": cam["aperture_mm"],
        "focus_distance": far + cam["focus_off_mm"],
        "to_world": to,
        "near_clip": 5.0,
        "far_clip": 5000.0,
        "film": film,
        "sampler": {"type": "independent"},
    }


def bent(light, k1):
    """As a lens that bends shows it."""
    rows, cols = light.shape[:2]
    y, x = np.mgrid[:rows, :cols]
    half = cols / 2
    u, v = (x - cols / 2) / half, (y - rows / 2) / half
    by = 1 + k1 * (u**2 + v**2)
    at = [v * by * half + rows / 2, u * by * half + cols / 2]
    return np.dstack(
        [map_coordinates(light[..., k], at, order=1, mode="nearest") for k in range(3)]
    )


def developed(rng, light, told):
    """Eight bits: vignetting, noise of a small sensor, a shoulder, sharpening."""
    cam = told["camera"]
    if cam["bend"]:
        light = bent(light, cam["bend"])
    rows, cols = light.shape[:2]
    ys, xs = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : cols * 1j]
    light = light * (0.62 / np.percentile(light, cam["exposed"]))
    light = light * (1 - cam["vignette"] * (xs**2 + ys**2))[..., None]
    noise = np.sqrt(1e-5 + 2e-4 * np.clip(light, 0, 2)) * cam["noise"]
    light = light + rng.standard_normal(light.shape) * noise
    light = np.where(light < 0.8, light, 0.8 + 0.2 * np.tanh((light - 0.8) / 0.2))
    light = np.clip(light, 0, 1)
    curve = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    if cam["sharpen"]:
        soft = gaussian_filter(curve, (1.2, 1.2, 0))
        curve = np.clip(curve + cam["sharpen"] * (curve - soft), 0, 1)
    return np.round(curve * 255).astype(np.uint8)


def main():
    source, to = map(Path, sys.argv[1:3])
    told = json.loads(source.read_text())
    rng = np.random.default_rng(told["seed"])
    cloth = Cloth(told, rng)
    scene = {"type": "scene", "integrator": {"type": "path", "max_depth": 5}}
    scene |= {"camera": camera(told)} | lamps(told) | frame(told) | seam(cloth)
    if told["weave"] in ("felt", "leather"):
        scene["cloth"] = surface(cloth, -0.02)
    else:
        scene |= woven(cloth)
        scene["below"] = surface(cloth, -1.9 * told["yarn_mm"], 0.1)
    if told["nap"]:
        tone = np.array(told["cloth"])
        scene["nap"] = fluff(cloth, told["nap"], tone, told["nap_long"])
    if told["lint"]:
        scene["lint"] = fluff(cloth, told["lint"], told["lint_colour"], 3.0, 0.012)
    low = mi.ScalarTransform4f().translate([0, 0, -UNDER_MM])
    scene["table"] = {
        "type": "rectangle",
        "to_world": low @ mi.ScalarTransform4f().scale(400.0),
        "bsdf": {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.12, 0.09, 0.07]}},
    }
    loaded = mi.load_dict({key: part for key, part in scene.items() if part is not None})
    total, passes = 0.0, max(1, told["samples"] // 4)
    for n in range(passes):  # few at once keep the memory small
        one = np.array(mi.render(loaded, spp=4, seed=told["seed"] * 100 + n), np.float32)[..., :3]
        total = total + np.minimum(one, 8 * np.percentile(one, 95))
    picture = developed(rng, total / passes, told)[..., ::-1]
    flags = [cv2.IMWRITE_JPEG_QUALITY, told["camera"]["jpeg"]] if to.suffix == ".jpg" else []
    cv2.imwrite(str(to), picture, flags)


if __name__ == "__main__":
    main()
