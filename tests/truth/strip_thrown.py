"""A strip placed from where the edges of its markers land, without any picture.

`thrown_light` says where every place of a marker's sides lands when the paper stands off the work
by some height; noise of an edge measured is added, and camera, surface and (at times) lens are
fitted to that alone. Paper does not stretch: over a round work it goes less far round.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any
from unittest import mock

import numpy as np

from ironlace.photographs import Lens, Placing, place_surface, strip_sheet
from ironlace.photographs import place_by_strip as fitting
from ironlace.photographs.strip_finding import StripSighting
from thrown_light import Setting, _View

F = np.ndarray
Heights = Callable[[F, np.random.Generator], Callable[[F], F]]
PLACES_PX = 0.15
"""Noise of one edge, standard deviation; that of a whole side is added below."""
SIDE_PX = 0.04
"""Noise that all places of one side share."""


def close(_size: F, _rng: np.random.Generator) -> Callable[[F], F]:
    """The strip lies close."""
    return lambda xy: 0.0 * xy[..., 0]


def lifted(mm: float) -> Heights:
    """All of it stands off alike: thick paper, a film, paint."""
    return lambda _size, _rng: lambda xy: mm + 0.0 * xy[..., 0]


def bowed(mm: float) -> Heights:
    """Its long sides stand off in their middle."""
    return lambda size, _rng: (
        lambda xy: mm * np.sin(np.pi * np.clip(xy[..., 0] / size[0], 0, 1)) ** 2
    )


def one_side(mm: float) -> Heights:
    """Its upper side alone does."""
    return lambda size, _rng: (
        lambda xy: (
            mm
            * np.sin(np.pi * np.clip(xy[..., 0] / size[0], 0, 1))
            * np.clip(1.0 - 2.0 * xy[..., 1] / size[1], 0, 1)
        )
    )


def corner(mm: float) -> Heights:
    """A corner has come loose and curls up."""
    return lambda size, _rng: (
        lambda xy: (
            mm * np.clip(1.0 - np.hypot(*np.moveaxis(xy, -1, 0)) / (0.5 * size[0]), 0, 1) ** 2
        )
    )


def rippled(mm: float) -> Heights:
    """Damp paper in waves of some centimetres."""

    def of(size: F, rng: np.random.Generator) -> Callable[[F], F]:
        way = rng.normal(size=(6, 2))
        way /= np.linalg.norm(way, axis=1, keepdims=True)
        long = rng.uniform(35, 110, 6)
        at = rng.uniform(0, 2 * np.pi, 6)

        def height(xy: F) -> F:
            waves = np.cos(xy @ way.T * (2 * np.pi / long) + at)
            return mm * (1.0 + waves.mean(axis=-1) * 1.2)

        return height

    return of


def placed(
    scene: Setting,
    height: Callable[[F], F],
    rng: np.random.Generator,
    *,
    own_lens: bool,
    kind: Any = None,
) -> tuple[Placing, Any, _View]:
    """The placing from the places alone at which the strip's edges land."""
    sheet = strip_sheet(scene.piece)  # type: ignore[arg-type]
    layout, view = sheet.layout, _View(scene, sheet.size_mm)

    def lands(xy: F) -> F:
        return view.lands(xy[..., 0], _round_there(xy, height, scene, sheet.size_mm), height(xy))[0]

    shown = np.ones(len(layout.markers), bool)
    corners = layout.corners_mm
    px = lands(corners)
    w, h = scene.size
    shown = np.all((px > 4) & (px < np.array([w, h]) - 5), axis=(1, 2))
    cosine = view.lands(corners[..., 0], corners[..., 1], height(corners))[1]
    shown &= np.all(cosine > 0.35, axis=1)
    index = np.flatnonzero(shown)
    sighting = StripSighting(index, px[index] + rng.normal(0, 0.6, (len(index), 4, 2)), (w, h))
    each = {"noise": rng.normal(0, PLACES_PX, 200_000), "side": rng.normal(0, SIDE_PX, 20_000)}

    def measure(_image: Any, model: Any, p: F, sides: Any, _reach: float) -> Any:
        _, normal, scale = fitting._project_sides(model, p, sides)
        count, on_side = len(sides.xy), len(fitting._SIDE_STEPS)
        off = each["noise"][:count] + np.repeat(each["side"][: count // on_side], on_side)
        point = lands(sides.xy) + normal * off[:, None]
        paper = np.full((count, 3), 0.9, np.float32)
        used = np.ones(count, bool)
        return fitting._Measured(point, normal, used, scale, paper, np.full(count, 0.8))

    lens = Lens.from_json(json.dumps(view.told())) if own_lens else None
    focal = view.focal / float(np.hypot(*scene.size)) * 43.27
    with mock.patch.object(fitting, "_measure", measure):
        found = place_surface(
            np.zeros((h, w, 3), np.uint8), sighting, layout, kind=kind, lens=lens, focal_35mm=focal
        )
    return found, layout, view


def _round_there(xy: F, height: Callable[[F], F], scene: Setting, size: Any) -> F:
    """Where on the work paper lies that does not stretch: less far round, the higher it stands."""
    if scene.kind == "plane":
        return xy[..., 1]
    way = xy[..., 1] - size[1] / 2
    radius = scene.radius
    if scene.kind == "cone":
        radius = radius + (xy[..., 0] - size[0] / 2) * np.sin(np.deg2rad(scene.half_angle))
    total = np.zeros_like(way)
    for share in (np.arange(20) + 0.5) / 20:
        there = np.stack([xy[..., 0], size[1] / 2 + way * share], axis=-1)
        total += radius / (radius + height(there)) / 20
    return size[1] / 2 + way * total


def off_by(found: Placing, view: _View, grid: F, height: F) -> F:
    """How far places of the work (n, 2) that stand ``height`` off its shape are taken amiss, mm."""
    true, cosine = view.lands(grid[:, 0], grid[:, 1], height)
    coarse, fine = found.resolution(grid)
    off = np.linalg.norm(found.to_pixels(grid) - true, axis=1) / ((coarse + fine) / 2)
    return np.where(cosine > 0.35, off, np.nan)


def inner_places(layout: Any, margin: float = 18.0) -> F:
    """Places of the work within the strip, (n, 2) mm."""
    left, top, right, bottom = layout.bounds_mm
    x = np.linspace(left + margin, right - margin, 25)
    y = np.linspace(top + margin, bottom - margin, 19)
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
