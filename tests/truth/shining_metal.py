"""How metals throw light back that follow no formula of the relief's, for `strange_light.py`.

Each takes unit normals and directions to the torch (rows x columns x 3), albedo and a map of shine
about 1, and gives what the camera straight above sees of one unit of beam, shadows left out. Shares
nothing with the relief. Methods: Ward, 1992; Phong, 1975; Trowbridge and Reitz, 1975, with Smith's
shadowing and Schlick's Fresnel; Oren and Nayar, 1994.
"""

from __future__ import annotations

import numpy as np


def _cosines(n, to):
    half = to + np.array([0.0, 0.0, 1.0])
    half /= np.linalg.norm(half, axis=2, keepdims=True)
    facing = np.maximum((n * to).sum(2), 0.0)
    return facing, np.maximum(n[..., 2], 1e-3), np.clip((n * half).sum(2), 1e-3, 1.0), half


def brushed(way_deg=20.0, along=0.22, across=0.5, much=0.5):
    """Ward's lobe, narrow along the strokes of a file or a wheel and wide across them."""
    a = np.radians(way_deg)
    way = np.array([np.cos(a), np.sin(a), 0.0])

    def thrown(n, to, albedo, shine):
        facing, seen, nh, half = _cosines(n, to)
        t = way - (n @ way)[..., None] * n
        t /= np.linalg.norm(t, axis=2, keepdims=True)
        b = np.cross(n, t)
        tilt = ((half * t).sum(2) / along) ** 2 + ((half * b).sum(2) / across) ** 2
        lobe = np.exp(-tilt / nh**2) / (4 * np.pi * along * across)
        lobe *= np.sqrt(facing / seen)
        return albedo * facing + 0.4 * much * shine * np.pi * lobe

    return thrown


def two_lobes(wide=5.0, narrow=60.0, much=0.35, sharp=0.35):
    """Phong's lobes about the mirrored direction: a haze, and a gleam in it."""

    def thrown(n, to, albedo, shine):
        facing = np.maximum((n * to).sum(2), 0.0)
        mirrored = np.clip(2 * facing * n[..., 2] - to[..., 2], 0.0, 1.0)
        lobe = much * mirrored**wide + sharp * mirrored**narrow
        return albedo * facing + 0.4 * shine * lobe * (facing > 0)

    return thrown


def facets(rough=0.42, matt=0.6, much=0.9, varied=0.25):
    """Facets of Trowbridge and Reitz with Smith's shadowing, of iron, as rough as it is dull."""

    def thrown(n, to, albedo, shine):
        facing, seen, nh, half = _cosines(n, to)
        a2 = (rough * (1 + varied * (1 - shine))) ** 4 + 0 * nh
        a2 = np.maximum(a2, 0.02**2) ** 0.5
        d = a2 / (np.pi * (nh**2 * (a2 - 1) + 1) ** 2)
        shadowed = 1.0
        for c in (np.maximum(facing, 1e-3), seen):
            shadowed = shadowed * 2 * c / (c + np.sqrt(a2 + (1 - a2) * c**2))
        vh = np.clip(half[..., 2], 0, 1)
        fresnel = 0.55 + 0.45 * (1 - vh) ** 5
        return matt * albedo * facing + 0.4 * much * shine * d * shadowed * fresnel / seen * 0.5 * (
            facing > 0
        )

    return thrown


def bare(rough=0.65, worn=0.5):
    """Metal with hardly a matt share, its facets of two roughnesses patch by patch."""
    dull, bright = facets(rough, 0.12, 3.0, 0.0), facets(worn, 0.12, 3.0, 0.0)

    def thrown(n, to, albedo, shine):
        part = np.clip(shine - 0.5, 0, 1)
        even = np.ones_like(shine)
        mixed = part * bright(n, to, albedo, even) + (1 - part) * dull(n, to, albedo, even)
        return mixed * albedo / 0.4

    return thrown


TABLE = (
    (0.0, 1.0), (4.0, 0.93), (8.0, 0.74), (12.0, 0.55), (16.0, 0.41), (20.0, 0.31), (25.0, 0.22),
    (30.0, 0.165), (35.0, 0.125), (40.0, 0.098), (50.0, 0.065), (60.0, 0.047), (75.0, 0.035),
    (90.0, 0.03),
)  # fmt: skip
"""Invented in the way of measured metals: a rounded peak and a tail far longer than any lobe's;
degrees of the normal from halfway, and light."""


def by_table(much=0.8, sheen=0.04):
    """Light by a table of half angles, brighter where the torch grazes."""

    def thrown(n, to, albedo, shine):
        facing, _, nh, _ = _cosines(n, to)
        lobe = np.interp(np.degrees(np.arccos(nh)), *np.array(TABLE).T)
        graze = sheen * (1 - facing) ** 3 * (facing > 0)
        return albedo * facing + 0.4 * shine * (much * lobe * np.sqrt(facing) + graze)

    return thrown


def oiled(rough_deg=35.0, much=0.25, exponent=90.0):
    """A rough matt ground of Oren and Nayar under a film of oil that gleams narrowly."""
    s2 = np.radians(rough_deg) ** 2
    a, b = 1 - 0.5 * s2 / (s2 + 0.33), 0.45 * s2 / (s2 + 0.09)

    def thrown(n, to, albedo, shine):
        facing, seen, nh, _ = _cosines(n, to)
        to_lamp, to_eye = np.arccos(np.clip(facing, 0, 1)), np.arccos(np.clip(seen, 0, 1))
        flat_l = to - facing[..., None] * n
        flat_v = np.array([0.0, 0.0, 1.0]) - seen[..., None] * n
        size = np.linalg.norm(flat_l, axis=2) * np.linalg.norm(flat_v, axis=2)
        aside = (flat_l * flat_v).sum(2) / np.maximum(size, 1e-9)
        wide, thin = np.maximum(to_lamp, to_eye), np.minimum(to_lamp, to_eye)
        matt = a + b * np.maximum(aside, 0) * np.sin(wide) * np.tan(thin)
        return albedo * facing * matt + 0.4 * shine * much * nh**exponent * (facing > 0)

    return thrown
