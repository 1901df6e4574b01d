"""Shapes made by code: grids, turned parts, bent rods, and castings blended from simple solids.

Everything is in millimetres, z up. A mesh here carries its own normals, so that curved parts look
curved and not faceted.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np
from numpy.typing import NDArray

mi.set_variant("llvm_ad_rgb")
Points = NDArray[np.float64]


def mesh(
    name: str,
    vertices: Points,
    faces: NDArray[np.int64],
    bsdf: Any,
    normals: Points | None = None,
    uv: Points | None = None,
) -> mi.Mesh:
    """A mesh with its material (a dict of the renderer's, or one already loaded)."""
    if normals is not None:
        # The renderer takes the front of a face from its winding: make that agree with the normals.
        corner = vertices[faces]
        flat = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        wrong = (flat * normals[faces].sum(axis=1)).sum(axis=1) < 0
        faces = np.where(wrong[:, None], faces[:, ::-1], faces)
    props = mi.Properties()
    props["mesh_bsdf"] = mi.load_dict(bsdf) if isinstance(bsdf, dict) else bsdf
    made = mi.Mesh(
        name,
        len(vertices),
        len(faces),
        has_vertex_normals=normals is not None,
        has_vertex_texcoords=uv is not None,
        props=props,
    )
    params = mi.traverse(made)
    params["vertex_positions"] = np.ascontiguousarray(vertices, np.float32).ravel()
    params["faces"] = np.ascontiguousarray(faces, np.uint32).ravel()
    if normals is not None:
        params["vertex_normals"] = np.ascontiguousarray(normals, np.float32).ravel()
    if uv is not None:
        params["vertex_texcoords"] = np.ascontiguousarray(uv, np.float32).ravel()
    params.update()
    dr.eval(made)
    return made


def grid_mesh(
    name: str, points: Points, uv: Points | None, bsdf: Any, smooth: bool = True
) -> mi.Mesh:
    """A sheet from a grid of points (rows, cols, 3); normals follow the grid when smooth."""
    rows, cols = points.shape[:2]
    index = np.arange(rows * cols).reshape(rows, cols)
    a, b, c, d = index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]
    faces = np.concatenate(
        [np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)]
    )
    normals = None
    if smooth:
        du, dv = np.gradient(points, axis=0), np.gradient(points, axis=1)
        normals = np.cross(du, dv)
        normals /= np.maximum(np.linalg.norm(normals, axis=-1, keepdims=True), 1e-12)
        normals = normals.reshape(-1, 3)
    flat_uv = None if uv is None else uv.reshape(-1, 2)
    return mesh(name, points.reshape(-1, 3), faces, bsdf, normals, flat_uv)


def turned(
    name: str,
    profile: list[tuple[float, float]],
    bsdf: Any,
    at: tuple[float, float, float] = (0.0, 0.0, 0.0),
    axis: tuple[float, float, float] = (0.0, 0.0, 1.0),
    round_corners: float = 0.3,
    segments: int = 96,
    uv_repeat: float = 1.0,
) -> mi.Mesh:
    """A part turned on the lathe: profile of (distance, radius), from `at` along `axis`.

    Corners are broken by `round_corners` mm, as no turned edge is sharp; the texture goes round.
    """
    outline = broken(np.asarray(profile, float), round_corners)
    angle = np.linspace(0.0, 2 * np.pi, segments + 1)
    w = np.asarray(axis, float) / np.linalg.norm(axis)
    u = np.cross(w, [0.0, 0.0, 1.0] if abs(w[2]) < 0.9 else [1.0, 0.0, 0.0])
    u /= np.linalg.norm(u)
    v = np.cross(w, u)
    ring = np.cos(angle)[:, None] * u + np.sin(angle)[:, None] * v
    points = np.asarray(at) + outline[None, :, :1] * w + outline[None, :, 1:] * ring[:, None, :]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(outline, axis=0).T))])
    uv = np.stack(
        np.broadcast_arrays(
            angle[:, None] / (2 * np.pi) * uv_repeat, along[None] / max(along[-1], 1e-9)
        ),
        axis=-1,
    )
    tangent = np.gradient(outline, axis=0)
    side = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    side /= np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-12)
    normals = side[None, :, :1] * w + side[None, :, 1:] * ring[:, None, :]
    return _grid_with_normals(name, points, uv, normals, bsdf)


def broken(outline: Points, radius: float) -> Points:
    """A polyline with its corners rounded."""
    if radius <= 0 or len(outline) < 3:
        return outline
    out = [outline[0]]
    for before, here, after in zip(outline[:-2], outline[1:-1], outline[2:], strict=True):
        a, b = before - here, after - here
        la, lb = np.linalg.norm(a), np.linalg.norm(b)
        r = min(radius, 0.45 * la, 0.45 * lb)
        p, q = here + a / la * r, here + b / lb * r
        t = np.linspace(0, 1, 6)[:, None]
        out.extend((1 - t) ** 2 * p + 2 * t * (1 - t) * here + t**2 * q)
    out.append(outline[-1])
    return np.array(out)


def _grid_with_normals(
    name: str, points: Points, uv: Points, normals: Points, bsdf: Any
) -> mi.Mesh:
    rows, cols = points.shape[:2]
    index = np.arange(rows * cols).reshape(rows, cols)
    a, b, c, d = index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]
    faces = np.concatenate(
        [np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)]
    )
    return mesh(name, points.reshape(-1, 3), faces, bsdf, normals.reshape(-1, 3), uv.reshape(-1, 2))


def curve(points: list[tuple[float, ...]], count: int = 200) -> Points:
    """A smooth curve through points (any number of columns), evenly parameterised by chord."""
    from scipy.interpolate import PchipInterpolator, make_interp_spline

    p = np.asarray(points, float)
    t = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(p[:, :3], axis=0), axis=1))])
    s = np.linspace(0, t[-1], count)
    smooth = make_interp_spline(t, p[:, :3], k=min(3, len(p) - 1))(s)
    if p.shape[1] > 3:
        smooth = np.column_stack([smooth, PchipInterpolator(t, p[:, 3:])(s)])
    return smooth


def rod(
    name: str,
    path: Points,
    radius: float | NDArray[np.float64],
    bsdf: Any,
    segments: int = 20,
    flat: float = 1.0,
) -> mi.Mesh:
    """A bent rod or thread along a path; `flat` squeezes the section along its second direction."""
    path = np.asarray(path, float)[:, :3]
    tangent = np.gradient(path, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    first = np.cross(tangent[0], [0.0, 0.0, 1.0] if abs(tangent[0, 2]) < 0.9 else [1.0, 0.0, 0.0])
    frame = [first / np.linalg.norm(first)]
    for t in tangent[1:]:
        n = frame[-1] - t * np.dot(frame[-1], t)
        frame.append(n / np.linalg.norm(n))
    n = np.array(frame)
    b = np.cross(tangent, n)
    r = np.broadcast_to(np.asarray(radius, float), (len(path),))
    # Close the ends with a small dome.
    angle = np.linspace(0, 2 * np.pi, segments + 1)
    ring = (
        np.cos(angle)[None, :, None] * n[:, None] + flat * np.sin(angle)[None, :, None] * b[:, None]
    )
    body = path[:, None] + r[:, None, None] * ring
    start = path[:1, None] + 0 * ring[:1]
    end = path[-1:, None] + 0 * ring[-1:]
    points = np.concatenate([start, body, end])
    normals = np.concatenate(
        [
            np.broadcast_to(-tangent[0], ring[:1].shape),
            ring,
            np.broadcast_to(tangent[-1], ring[:1].shape),
        ]
    )
    uv = np.stack(
        np.broadcast_arrays(np.linspace(0, 1, len(points))[:, None], angle[None] / (2 * np.pi)),
        axis=-1,
    )
    return _grid_with_normals(name, points, uv, normals, bsdf)


Field = Callable[[Points], NDArray[np.float64]]
"""A solid as the signed distance of points (n, 3) from its surface, negative inside."""


def blend(a: NDArray[np.float64], b: NDArray[np.float64], k: float) -> NDArray[np.float64]:
    """Union of two solids with a fillet of about `k` mm, as a casting has in every inner corner."""
    h = np.clip(0.5 + 0.5 * (b - a) / k, 0.0, 1.0)
    return b * (1 - h) + a * h - k * h * (1 - h)


def cut(a: NDArray[np.float64], b: NDArray[np.float64], k: float) -> NDArray[np.float64]:
    """The first solid less the second, the edge rounded by about `k` mm."""
    return -blend(-a, b, k)


def round_box(p: Points, centre: Any, half: Any, radius: float) -> NDArray[np.float64]:
    """A box with rounded edges."""
    q = np.abs(p - np.asarray(centre, float)) - (np.asarray(half, float) - radius)
    return np.linalg.norm(np.maximum(q, 0), axis=1) + np.minimum(q.max(axis=1), 0) - radius


def chain(p: Points, spine: Points, k: float = 0.0) -> NDArray[np.float64]:
    """A rod along a spine of (x, y, z, radius, flattening in y): pillar, arm, spoke."""
    best: NDArray[np.float64] | None = None
    for a, b in pairwise(spine):
        squeeze = np.array([1.0, 0.5 * (a[4] + b[4]), 1.0])
        q, pa = p * squeeze, a[:3] * squeeze
        ab = b[:3] * squeeze - pa
        t = np.clip(((q - pa) @ ab) / (ab @ ab), 0, 1)
        d = np.linalg.norm(q - pa - t[:, None] * ab, axis=1) - (a[3] + t * (b[3] - a[3]))
        if best is None:
            best = d
        elif k == 0:
            best = np.minimum(best, d)
        else:
            best = blend(best, d, k)
    assert best is not None
    return best


def cast(
    field: Field, low: Any, high: Any, cell: float
) -> tuple[Points, NDArray[np.int64], Points]:
    """Surface of a solid as (vertices, faces, normals), by marching cubes on cells of `cell` mm."""
    from skimage.measure import marching_cubes

    axes = [np.arange(a, b + cell, cell) for a, b in zip(low, high, strict=True)]
    # Blocks far from the surface need no fine work: their middle's distance stands for all of them.
    block = 6
    axes = [a[0] + cell * np.arange(block * -(-len(a) // block)) for a in axes]
    shape = tuple(len(a) for a in axes)
    blocks = tuple(n // block for n in shape)
    middles = [a.reshape(-1, block).mean(axis=1) for a in axes]
    coarse = field(np.stack(np.meshgrid(*middles, indexing="ij"), axis=-1).reshape(-1, 3))
    values = np.repeat(coarse, block**3).reshape(*blocks, block, block, block)
    near = np.flatnonzero(np.abs(coarse) < 1.9 * 0.87 * block * cell)
    inner = np.stack(np.meshgrid(*[cell * np.arange(block)] * 3, indexing="ij"), axis=-1).reshape(
        -1, 3
    )
    corner = np.stack(np.meshgrid(*[a[::block] for a in axes], indexing="ij"), axis=-1).reshape(
        -1, 3
    )
    flat = values.reshape(-1, block**3)
    for part in np.array_split(near, max(1, len(near) // 2000)):
        flat[part] = field((corner[part, None] + inner).reshape(-1, 3)).reshape(len(part), -1)
    values = flat.reshape(*blocks, block, block, block).transpose(0, 3, 1, 4, 2, 5).reshape(shape)
    v, f, _, _ = marching_cubes(values, 0.0, spacing=(cell, cell, cell))
    v = v + np.asarray([a[0] for a in axes])

    def slope(q: Points) -> Points:
        e = 0.35 * cell
        g = np.stack([field(q + d) - field(q - d) for d in np.eye(3) * e], axis=1)
        return g / np.maximum(np.linalg.norm(g, axis=1, keepdims=True), 1e-12)

    n = slope(v)
    for _ in range(2):
        v = v - n * np.clip(field(v), -cell, cell)[:, None]
        n = slope(v)
    return v, f.astype(np.int64)[:, ::-1], n


def parted(
    v: Points, f: NDArray[np.int64], n: Points, choose: NDArray[np.bool_]
) -> tuple[Points, NDArray[np.int64], Points]:
    """The part of a surface whose faces are chosen, with its own vertices."""
    kept = f[choose]
    used, again = np.unique(kept, return_inverse=True)
    return v[used], again.reshape(kept.shape), n[used]
