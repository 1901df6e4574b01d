"""Pose, surface and lens as one vector of numbers, and its fit to points seen in a photograph."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.photographs.errors import SurfaceError
from ironlace.photographs.lens import Lens
from ironlace.photographs.surfaces import Plane, Round, Surface, SurfaceKind

LENS_SD: Final = {"log_focal": 0.35, "k1": 0.15, "k2": 0.1, "centre_x": 0.01, "centre_y": 0.01}
"""What is believed of a lens nobody calibrated; the centre as a share of the picture's width."""


@dataclass(frozen=True)
class CameraModel:
    """How a vector of numbers stands for pose, surface and lens."""

    kind: SurfaceKind
    reference: tuple[float, float]
    lens: Lens
    free_lens: bool
    size: tuple[int, int]

    @property
    def names(self) -> tuple[str, ...]:
        """What each number of the vector stands for."""
        out = ["turn_x", "turn_y", "turn_z", "move_x", "move_y", "move_z"]
        if self.kind != "plane":
            out += ["log_radius", "axis_rad"]
        if self.kind == "cone":
            out += ["taper"]
        if self.free_lens:
            out += list(LENS_SD)
        return (*out, "ink_spread_mm")

    def split(self, p: Floats) -> tuple[Surface, Lens, Floats, Floats, float]:
        """Surface, lens, rotation, move (mm) and ink spread (mm) of a vector."""
        rotation = np.asarray(cv2.Rodrigues(p[:3])[0], dtype=np.float64)
        at = 6
        surface: Surface = Plane()
        if self.kind != "plane":
            taper = float(np.clip(p[8], -0.6, 0.6)) if self.kind == "cone" else 0.0
            radius = math.exp(float(np.clip(p[6], -2.0, 9.0)))
            surface = Round(self.reference, radius, float(p[7]), taper)
            at = 9 if self.kind == "cone" else 8
        lens = self.lens
        if self.free_lens:
            focal = self.lens.focal_px[0] * math.exp(float(np.clip(p[at], -3, 3)))
            middle = lens.centre_px + p[at + 3 : at + 5] * self.size[0]
            # what is estimated comes on top of the lens's own distortion, if any is known
            k1, k2, *rest = self.lens.distortion
            lens = Lens(
                (focal, focal * self.lens.focal_px[1] / self.lens.focal_px[0]),
                (float(middle[0]), float(middle[1])),
                (k1 + float(p[at + 1]), k2 + float(p[at + 2]), rest[0], rest[1], rest[2]),
                self.size,
            )
        # the frame turns about the reference point, so that turns and moves are hardly coupled
        pivot = np.array([*self.reference, 0.0])
        return surface, lens, rotation, np.asarray(p[3:6] - rotation @ pivot), float(p[-1])

    def pixels(self, p: Floats, xy: Floats) -> Floats:
        """Pixels of unrolled points, (..., 2) mm to (..., 2) px."""
        surface, lens, rotation, move, _ = self.split(p)
        return lens.project(surface.to_space(xy) @ rotation.T + move)

    def priors(self, p: Floats) -> Floats:
        """What is believed beforehand, in standard deviations."""
        out = [p[-1] / 0.08]
        if self.kind == "cone":
            out.append(p[8] / 0.3)
        if self.free_lens:
            out += list(p[-6:-1] / np.array(list(LENS_SD.values())))
        return np.array(out)


def fit_points(model: CameraModel, xy: Floats, px: Floats) -> Floats:
    """The vector that brings surface places ``xy`` (n, 2) mm nearest to pixels ``px`` (n, 2).

    From several starts, robustly (soft L1), with what is believed of an uncalibrated lens.

    Raises
    ------
    SurfaceError
        If no camera position explains them.
    """
    from scipy.optimize import least_squares

    shapes: list[list[float]] = [[]]
    span = float(np.ptp(xy, axis=0).max())
    if model.kind != "plane":
        radii = [span * f for f in (0.25, 0.5, 1.5)]
        tapers = [0.0] if model.kind == "cylinder" else [-0.08, 0.08]
        shapes = [
            [math.log(r), a, *([t] if model.kind == "cone" else [])]
            for r, a, t in itertools.product(radii, (0.0, math.pi / 2), tapers)
        ]
    focals = [[]] if not model.free_lens else [[-0.25, 0, 0, 0, 0], [0.3, 0, 0, 0, 0]]
    best: tuple[float, Floats] | None = None
    for shape, focal in itertools.product(shapes, focals):
        base = np.array([0.0] * 6 + shape + focal + [0.0])
        surface, lens, *_ = model.split(base)
        for turn, move in _camera_poses(surface.to_space(xy), px, lens):
            rotation = cv2.Rodrigues(turn)[0]
            start = base.copy()
            start[:3] = turn
            start[3:6] = move + rotation @ np.array([*model.reference, 0.0])

            def errors(q: Floats) -> Floats:
                return np.concatenate([(model.pixels(q, xy) - px).ravel(), model.priors(q)])

            fit = least_squares(
                errors,
                start,
                loss="soft_l1",
                f_scale=1.5,
                x_scale=parameter_scales(model),
                max_nfev=60,
            )
            if best is None or fit.cost < best[0]:
                best = (float(fit.cost), fit.x)
    if best is None:
        raise SurfaceError(
            "The places seen in the photograph fit no camera position; check that the layout file "
            "is that of the strip in the picture, or the measures of the places."
        )
    return best[1]


def _camera_poses(space: Floats, px: Floats, lens: Lens) -> list[tuple[Floats, Floats]]:
    flat = float(np.ptp(space[:, 2])) < 1e-6
    method = cv2.SOLVEPNP_IPPE if flat else cv2.SOLVEPNP_SQPNP
    k = np.array(lens.distortion)
    try:
        count, turns, moves, _ = cv2.solvePnPGeneric(space, px, lens.matrix, k, flags=method)
    except cv2.error:
        return []
    found = [
        (np.ravel(turns[i]).astype(np.float64), np.ravel(moves[i]).astype(np.float64))
        for i in range(count)
    ]
    return [(t, m) for t, m in found if np.all(np.isfinite(t)) and np.all(np.isfinite(m))]


def parameter_scales(model: CameraModel) -> Floats:
    """Steps that matter alike, for the solver and for differences."""
    table = {
        "log_radius": 0.1,
        "axis_rad": 0.05,
        "taper": 0.02,
        "log_focal": 0.1,
        "k1": 0.05,
        "k2": 0.05,
    }
    table |= {"centre_x": 0.005, "centre_y": 0.005}
    table |= {"move_x": 5.0, "move_y": 5.0, "move_z": 20.0, "ink_spread_mm": 0.05}
    return np.array([table.get(n, 0.02) for n in model.names])


def canonical(surface: Round) -> Round:
    """The same shape with its axis direction between -90 and 90 degrees."""
    turns = round(surface.axis_rad / math.pi)
    axis = surface.axis_rad - turns * math.pi
    taper = surface.taper * (1.0 if turns % 2 == 0 else -1.0)
    return Round(surface.reference_mm, surface.radius_mm, axis, taper)


def prior_information(model: CameraModel) -> Floats:
    """Inverse covariance of what is believed beforehand."""
    sd = {"ink_spread_mm": 0.08, "taper": 0.3, **LENS_SD}
    return np.diag([1.0 / sd[n] ** 2 if n in sd else 0.0 for n in model.names])
