"""Metals for the first look at what is stated of depths: nothing of the relief is tuned on them.

As those of `shining_metal.py`: unit normals and directions to the torch (rows x columns x 3),
albedo and a map of shine about 1, and what the camera straight above sees of one unit of beam. Each
is drawn anew. Shares nothing with the relief. Methods: Beckmann and Spizzichino, 1963, with the
shadowing of Cook and Torrance, 1982; Minnaert, 1941; Schlick, 1994.
"""

from __future__ import annotations

import numpy as np


def _halfway(n, to):
    half = to + np.array([0.0, 0.0, 1.0])
    half /= np.linalg.norm(half, axis=2, keepdims=True)
    facing, seen = np.maximum((n * to).sum(2), 0.0), np.maximum(n[..., 2], 1e-3)
    return facing, seen, np.clip((n * half).sum(2), 1e-3, 1.0), np.clip(half[..., 2], 1e-3, 1.0)


def _beckmann(n, to, rough):
    """Light thrown by facets whose slopes are Gaussian, one under a torch and camera overhead."""
    facing, seen, nh, vh = _halfway(n, to)
    spread = np.exp(-(1 / nh**2 - 1) / rough**2) / (rough**2 * nh**4)
    hidden = np.minimum(1.0, 2 * nh * np.minimum(seen, facing) / vh)
    return np.where(facing > 0, spread * hidden / (4 * seen), 0.0)


def blued(rng):
    """Steel blued or browned over a dull ground: facets of Gaussian slopes, brighter aslant."""
    rough, much, dull = rng.uniform(0.25, 0.5), rng.uniform(0.08, 0.3), rng.uniform(0.6, 1.0)

    def thrown(n, to, albedo, shine):
        facing, _, _, vh = _halfway(n, to)
        fresnel = 0.5 + 0.5 * (1 - vh) ** 5
        return dull * albedo * facing + 0.4 * much * shine * 2 * fresnel * _beckmann(n, to, rough)

    return thrown


def velvety(rng):
    """Fine rust: dark where it faces the torch, light at the limb (Minnaert), no gleam."""
    power = rng.uniform(0.75, 1.1)

    def thrown(n, to, albedo, shine):
        facing, seen, _, _ = _halfway(n, to)
        return albedo * facing**power * seen ** (power - 1) * (0.97 + 0.03 * shine)

    return thrown


def patched(rng):
    """Rust here and rubbed metal there, as the map of shine goes."""
    rough, much = rng.uniform(0.3, 0.5), rng.uniform(0.2, 0.6)

    def thrown(n, to, albedo, shine):
        facing = np.maximum((n * to).sum(2), 0.0)
        metal = np.clip((shine - 0.6) / 0.7, 0, 1)
        gleam = 0.4 * much * 2 * _beckmann(n, to, rough)
        return albedo * facing * (1 - 0.6 * metal) + metal * gleam

    return thrown


def lacquered(rng):
    """Japan over iron: less light gets in and out aslant, and the coat itself gleams narrowly."""
    gleam, sharp = rng.uniform(0.02, 0.1), rng.uniform(0.08, 0.16)

    def in_and_out(c):
        return 1 - (0.04 + 0.96 * (1 - np.clip(c, 0, 1)) ** 5)

    def thrown(n, to, albedo, shine):
        facing, seen, _, _ = _halfway(n, to)
        below = albedo * facing * in_and_out(facing) * in_and_out(seen)
        return below + 0.4 * gleam * shine * _beckmann(n, to, sharp)

    return thrown
