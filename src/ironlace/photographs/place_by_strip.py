"""Where the camera stood and what shape the surface has, from the strip's markers.

Every marker side gives a dozen places where black turns to white. The camera's pose, the surface's
measures and, where no lens is given, focal length and k1 are adjusted together until the projected
sides fall on the measured ones (bundle adjustment; Triggs et al. 2000, "Bundle adjustment: a modern
synthesis"). One more unknown, the ink's spread, takes up prints that came out fat or thin and what
is left of a camera's tone curve, which move all four sides of every marker outwards alike.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.photographs.camera_model import (
    LENS_SD,
    CameraModel,
    canonical,
    fit_points,
    parameter_scales,
    prior_information,
)
from ironlace.photographs.errors import LensError, StripNotFoundError, SurfaceError
from ironlace.photographs.lens import Lens, guessed_lens
from ironlace.photographs.scale_strip import StripLayout, marker_cells
from ironlace.photographs.strip_evidence import (
    EVEN_MM,
    LeftOut,
    SideRows,
    StripEvidence,
    left_out,
)
from ironlace.photographs.strip_finding import StripSighting, edge_offsets
from ironlace.photographs.strip_lying import lying
from ironlace.photographs.surfaces import Plane, Round, Surface, SurfaceKind

_SIDE_STEPS = np.linspace(0.14, 0.86, 12)
_PIXEL_SD = 0.25  # what is believed of one edge measurement before the residuals are seen
KINDS: Final[tuple[SurfaceKind, ...]] = ("plane", "cylinder", "cone")
"""Shapes from the simplest on: each holds the one before it."""
LENS_MISFIT_MM: Final = 0.05
"""Markers nearer than this to where the others put them do not call a given lens in question; a
judgement, as the manual calls it good."""
LENS_FAR: Final = 3.0
"""A lens is refused when another explains the markers so many times better. A judgement: a strip
that is bent or moved gains less than half of that by another lens."""
NOT_EXPLAINED_MM: Final = 0.5
"""Markers so far from where the others put them are explained by no shape. A judgement."""


@dataclass(frozen=True)
class Placing:
    """A photograph laid on the surface.

    Attributes
    ----------
    surface
        The shape, with its measures.
    lens
        As given, or as estimated (``lens.focal_sd_px`` > 0).
    rotation, translation
        Surface frame to camera frame, shapes (3, 3) and (3,), mm.
    markers_used
        Markers of the layout whose edges were used.
    residual_px, residual_mm
        Root mean square distance of measured from projected edges.
    marker_residuals_px
        The same for each of ``markers_used``.
    ink_spread_mm
        By how much the black is wider on each side than the layout says.
    parameter_names, parameter_covariance
        Of the adjustment, for passing uncertainty on.
    paper_points_mm, paper_light
        Where the white paper was seen and its linear RGB there, shapes (n, 2) and (n, 3).
    evidence
        What the markers say for and against it; without figures where there was no strip.
    """

    surface: Surface
    lens: Lens
    rotation: Floats
    translation: Floats
    markers_used: tuple[int, ...]
    residual_px: float
    residual_mm: float
    marker_residuals_px: tuple[float, ...]
    ink_spread_mm: float
    parameter_names: tuple[str, ...]
    parameters: Floats
    parameter_covariance: Floats
    paper_points_mm: Floats
    paper_light: NDArray[np.float32]
    evidence: StripEvidence = field(default_factory=StripEvidence)

    def to_arrays(self) -> dict[str, NDArray[Any]]:
        """Everything as named arrays, for a checkpoint."""
        return {
            "kind": np.array(self.surface.kind),
            "shape": np.array(_shape_figures(self.surface)),
            "lens": np.array(self.lens.to_json()),
            "rotation": self.rotation,
            "translation": self.translation,
            "markers_used": np.array(self.markers_used, dtype=np.int64),
            "residuals": np.array([self.residual_px, self.residual_mm, self.ink_spread_mm]),
            "marker_residuals_px": np.array(self.marker_residuals_px),
            "parameter_names": np.array(self.parameter_names),
            "parameters": self.parameters,
            "parameter_covariance": self.parameter_covariance,
            "paper_points_mm": self.paper_points_mm,
            "paper_light": self.paper_light,
            "evidence": np.array(self.evidence.to_json()),
        }

    @classmethod
    def from_arrays(cls, arrays: Mapping[str, NDArray[Any]]) -> Placing:
        """The inverse of `to_arrays`."""
        surface = _surface_of(str(arrays["kind"]), arrays["shape"])
        px, mm, ink = (float(v) for v in arrays["residuals"])
        return cls(
            surface=surface,
            lens=Lens.from_json(str(arrays["lens"])),
            rotation=np.asarray(arrays["rotation"], np.float64),
            translation=np.asarray(arrays["translation"], np.float64),
            markers_used=tuple(int(v) for v in arrays["markers_used"]),
            residual_px=px,
            residual_mm=mm,
            marker_residuals_px=tuple(float(v) for v in arrays["marker_residuals_px"]),
            ink_spread_mm=ink,
            parameter_names=tuple(str(v) for v in arrays["parameter_names"]),
            parameters=np.asarray(arrays["parameters"], np.float64),
            parameter_covariance=np.asarray(arrays["parameter_covariance"], np.float64),
            paper_points_mm=np.asarray(arrays["paper_points_mm"], np.float64),
            paper_light=np.asarray(arrays["paper_light"], np.float32),
            evidence=StripEvidence.from_json(str(arrays["evidence"]))
            if "evidence" in arrays
            else StripEvidence(),
        )

    def camera_told(self) -> dict[str, Any]:
        """Camera and surface alone as plain figures, ready for JSON: enough to lay things on it."""
        return {
            "kind": self.surface.kind,
            "shape": _shape_figures(self.surface),
            "lens": json.loads(self.lens.to_json()),
            "rotation": self.rotation.tolist(),
            "translation": self.translation.tolist(),
        }

    @classmethod
    def of_camera(cls, told: Mapping[str, Any]) -> Placing:
        """A placing that knows camera and surface alone, from `camera_told`."""
        return cls(
            surface=_surface_of(str(told["kind"]), told["shape"]),
            lens=Lens.from_json(json.dumps(told["lens"])),
            rotation=np.asarray(told["rotation"], np.float64),
            translation=np.asarray(told["translation"], np.float64),
            markers_used=(),
            residual_px=math.nan,
            residual_mm=math.nan,
            marker_residuals_px=(),
            ink_spread_mm=0.0,
            parameter_names=(),
            parameters=np.zeros(0),
            parameter_covariance=np.zeros((0, 0)),
            paper_points_mm=np.zeros((0, 2)),
            paper_light=np.zeros((0, 3), np.float32),
        )

    def to_pixels(self, xy: Floats) -> Floats:
        """Pixels of unrolled points, (..., 2) mm to (..., 2) px."""
        return self.lens.project(self.surface.to_space(xy) @ self.rotation.T + self.translation)

    def facing(self, xy: Floats) -> Floats:
        """Cosine between surface normal and line of sight; below 0 the surface turns away."""
        space = self.surface.to_space(xy)
        eye = -self.rotation.T @ self.translation
        sight = eye - space
        sight = sight / np.linalg.norm(sight, axis=-1, keepdims=True)
        return np.asarray(np.sum(self.surface.normals(xy) * sight, axis=-1))

    def resolution(self, xy: Floats, step: float = 0.05) -> tuple[Floats, Floats]:
        """Photograph pixels per mm of surface: the coarser and the finer direction."""
        right, down = np.array([step, 0.0]), np.array([0.0, step])
        a = (self.to_pixels(xy + right) - self.to_pixels(xy - right)) / (2 * step)
        b = (self.to_pixels(xy + down) - self.to_pixels(xy - down)) / (2 * step)
        trace = np.sum(a * a + b * b, axis=-1)
        det = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
        root = np.sqrt(np.maximum(trace**2 / 4.0 - det**2, 0.0))
        return np.sqrt(np.maximum(trace / 2.0 - root, 0.0)), np.sqrt(trace / 2.0 + root)


def _shape_figures(surface: Surface) -> list[float]:
    """A surface's five figures, noughts for a plane; read back by `_surface_of`."""
    if not isinstance(surface, Round):
        return [0.0] * 5
    return [*surface.reference_mm, surface.radius_mm, surface.axis_rad, surface.taper]


def _surface_of(kind: str, figures: Iterable[float]) -> Surface:
    if kind == "plane":
        return Plane()
    x, y, radius, axis, taper = (float(v) for v in figures)
    return Round((x, y), radius, axis, taper)


def place_surface(
    image: NDArray[np.uint8],
    sighting: StripSighting,
    layout: StripLayout,
    *,
    kind: SurfaceKind | None = None,
    lens: Lens | None = None,
    focal_35mm: float | None = None,
) -> Placing:
    """Adjust pose, surface and (if not given) lens to the strip seen in one photograph.

    Parameters
    ----------
    image
        The photograph, HxWx3 uint8 sRGB.
    sighting
        Markers read in it by `find_strip`.
    layout
        Where they lie on the surface.
    kind
        Shape of the surface; None for the simplest one that no other explains the markers clearly
        better than.
    lens
        Calibrated lens; estimated together with the rest when left out.
    focal_35mm
        Exif's focal length for 35 mm film, a better start when there is no lens.

    Raises
    ------
    StripNotFoundError
        If too few clean marker edges are left to fix the unknowns.
    SurfaceError
        If no shape of that kind explains the markers, or another explains them clearly better.
    LensError
        If the lens is not that of such a photograph.
    """
    width, height = sighting.image_size
    used = (
        guessed_lens(width, height, focal_35mm) if lens is None else lens.scaled_to(width, height)
    )
    task = _Task(image, sighting, layout, used, lens is None)
    fits = _fits(task, kind)
    if lens is not None:
        _refuse_other_lens(task, fits, kind)
    chosen = _chosen(fits, kind)
    evidence = StripEvidence(
        rivals={name: fit.left_out.rms_mm for name, fit in fits.items()},
        flat_after_all=kind not in (None, "plane") and chosen.model.kind == "plane",
    )
    return _finish(chosen, _with_lens_freed(task, chosen, evidence))


def _refuse_other_lens(
    task: _Task, fits: Mapping[SurfaceKind, _Fit], said: SurfaceKind | None
) -> None:
    """Raise LensError where no shape explains the markers with this lens, and one does without."""
    best = min(fits.values(), key=lambda fit: fit.left_out.rms_mm)
    if best.left_out.rms_mm < LENS_MISFIT_MM:
        return
    freed: list[_Fit] = []
    for kind in KINDS if said is None else (said,):
        try:
            freed.append(_fitted(dataclasses.replace(task, free_lens=True), kind))
        except (StripNotFoundError, SurfaceError):  # this shape does not help either
            continue
        if freed[-1].left_out.rms_mm < EVEN_MM:
            break
    for fit in freed:
        if fit.left_out.rms_mm * LENS_FAR < best.left_out.rms_mm:
            raise LensError(
                f"With this lens the strip's markers lie {best.left_out.rms_mm:.2f} mm from where "
                f"the others put them, and {fit.left_out.rms_mm:.3f} mm with one that is "
                "estimated: it is not the lens of this photograph, or the photograph was cropped; "
                "give the lens it was taken with, uncropped, or leave the lens out."
            )


@dataclass(frozen=True)
class _Task:
    """A photograph that is to be placed."""

    image: NDArray[np.uint8]
    sighting: StripSighting
    layout: StripLayout
    lens: Lens
    free_lens: bool

    def model(self, kind: SurfaceKind, *, free_lens: bool) -> CameraModel:
        """Pose, a surface of that kind, and the lens if it is free."""
        corners = self.layout.corners_mm[self.sighting.indices]
        x, y = corners.reshape(-1, 2).mean(axis=0)
        return CameraModel(
            kind, (float(x), float(y)), self.lens, free_lens, self.sighting.image_size
        )


@dataclass(frozen=True)
class _Fit:
    """A surface of one kind fitted to the markers, and how far each lies when left out."""

    model: CameraModel
    p: Floats
    sides: _Sides
    seen: _Measured
    left_out: LeftOut


def _fits(task: _Task, said: SurfaceKind | None) -> dict[SurfaceKind, _Fit]:
    """The kind that was said and its rivals; without one, only as many as are needed."""
    fits: dict[SurfaceKind, _Fit] = {}
    refused: StripNotFoundError | SurfaceError | None = None
    for kind in KINDS:
        try:
            fits[kind] = _fitted(task, kind)
        except (StripNotFoundError, SurfaceError) as error:
            if kind == said:
                refused = error
            if said is None and refused is None:
                refused = error
            continue
        # what lies even needs no more freedom; what was said is fitted whatever the others do
        if fits[kind].left_out.rms_mm < EVEN_MM and said in (None, *fits):
            break
    if said is not None and said not in fits:
        better = min(fits, key=lambda k: fits[k].left_out.rms_mm, default=None)
        if better is None or fits[better].left_out.rms_mm > NOT_EXPLAINED_MM:
            raise refused or SurfaceError(f"No {said} explains the markers.")
        raise SurfaceError(_contradicted(said, better))
    if not fits:
        raise refused or SurfaceError("No surface explains the markers.")
    return fits


def _chosen(fits: Mapping[SurfaceKind, _Fit], said: SurfaceKind | None) -> _Fit:
    """The simplest fit than which none is clearly better; refuse what was said against it."""
    best = next(iter(fits.values()))
    for fit in fits.values():
        if fit.left_out.clearly_better_than(best.left_out):
            best = fit
    if said is None or said == best.model.kind:
        return best
    # a round surface that was said may come out flat, and a cone even: neither is against it
    if KINDS.index(best.model.kind) < KINDS.index(said):
        even = best.model.kind == "plane" and best.left_out.rms_mm < EVEN_MM
        return best if even else fits[said]
    raise SurfaceError(_contradicted(said, best.model.kind))


def _contradicted(said: SurfaceKind, better: SurfaceKind) -> str:
    return (
        f"The strip's markers do not lie on a {said} as was said, but fit a {better} clearly "
        f"better: choose '{better}', or let the markers tell the shape; if it is a {said} all the "
        "same, the strip stood off it, so lay it close and photograph it again."
    )


def _fitted(task: _Task, kind: SurfaceKind) -> _Fit:
    model = task.model(kind, free_lens=task.free_lens)
    sighting, layout = task.sighting, task.layout
    needed = 2 if kind == "plane" else 4
    if len(sighting.indices) < needed:
        raise StripNotFoundError(
            f"{len(sighting.indices)} markers were read; a {kind} needs at least {needed}. Bring "
            "more of the strip into the picture."
        )
    corners = layout.corners_mm[sighting.indices]
    p, keep = _first_fit(model, corners, sighting.corners_px)
    sides = _Sides.of(layout, sighting.indices[keep])
    return _refined(task, model, p, sides, (0.75, 0.6, 0.6))


def _refined(
    task: _Task, model: CameraModel, p: Floats, sides: _Sides, reaches: Sequence[float]
) -> _Fit:
    seen: _Measured | None = None
    for reach in reaches:
        seen = _measure(task.image, model, p, sides, reach)
        p = _adjust(model, p, sides, seen)
    assert seen is not None
    return _Fit(model, p, sides, seen, left_out(_side_rows(model, p, sides, seen)))


def _with_lens_freed(task: _Task, fit: _Fit, evidence: StripEvidence) -> StripEvidence:
    """Whether the markers would rather have another lens, and what that would move."""
    if task.free_lens:
        pull = float(np.max(np.abs(fit.p[-3:-1]))) / LENS_SD["centre_x"]
        return dataclasses.replace(evidence, centre_pull=pull)
    model = task.model(fit.model.kind, free_lens=True)
    start = np.concatenate([fit.p[:-1], np.zeros(len(LENS_SD)), fit.p[-1:]])
    try:
        p = _adjust(model, start, fit.sides, fit.seen)
    except StripNotFoundError:  # too few sides are left to free anything more
        return evidence
    freed = left_out(_side_rows(model, p, fit.sides, fit.seen))
    xy = _within(fit.sides.xy)
    shift = _shift_mm(fit, xy, model.pixels(p, xy))
    at = model.names.index("log_focal")
    return dataclasses.replace(
        evidence,
        lens_free_mm=freed.rms_mm,
        lens_shift_mm=float(np.sqrt(np.mean(shift**2))),
        lens_focal=math.exp(float(p[at])),
    )


def _shift_mm(fit: _Fit, xy: Floats, px: Floats) -> Floats:
    """How far on the surface ``px`` lies from where the fit has the places ``xy`` (n, 2)."""
    step = np.array([0.05, 0.0])
    here = fit.model.pixels(fit.p, xy)
    per_mm = np.linalg.norm(fit.model.pixels(fit.p, xy + step) - here, axis=1) / 0.05
    return np.asarray(np.linalg.norm(px - here, axis=1) / np.maximum(per_mm, 1e-6))


def _within(xy: Floats) -> Floats:
    """Places spread evenly over what the strip encloses."""
    low, high = xy.min(axis=0), xy.max(axis=0)
    u, v = np.meshgrid(np.linspace(0.1, 0.9, 9), np.linspace(0.1, 0.9, 7))
    return np.asarray(low + np.stack([u.ravel(), v.ravel()], axis=1) * (high - low))


def _side_rows(model: CameraModel, p: Floats, sides: _Sides, seen: _Measured) -> SideRows:
    rows, miss = _misses(model, p, sides, seen)
    spread = max(1.4826 * float(np.median(np.abs(miss - np.median(miss)))), 0.01)
    side = rows // len(_SIDE_STEPS)
    # a stray place on a side is left out; a whole side that lies off is what is looked for
    middle = _median_by(side, miss)
    fine = np.abs(miss - middle) < 4.0 * spread + 0.05
    rows, miss, side = rows[fine], miss[fine], side[fine]
    return SideRows.of(
        side,
        {
            "miss": miss,
            "jacobian": _jacobian(model, p, sides, rows, seen.normal_px[rows]),
            "normal": seen.normal_px[rows],
            "scale": seen.scale[rows],
            "xy": sides.xy[rows],
        },
        sides.marker[rows],
        prior_information(model),
    )


def _median_by(group: NDArray[np.int64], values: Floats) -> Floats:
    """For each value the median of its group."""
    out = np.empty_like(values)
    for name in np.unique(group):
        where = group == name
        out[where] = np.median(values[where])
    return out


def _misses(
    model: CameraModel, p: Floats, sides: _Sides, seen: _Measured
) -> tuple[NDArray[np.int64], Floats]:
    """Rows of places that were measured, and how far each lies outside its projected side, px."""
    rows = np.flatnonzero(seen.used)
    here = model.pixels(p, sides.xy[rows] + sides.out[rows] * p[-1])
    return rows, np.sum((seen.point_px[rows] - here) * seen.normal_px[rows], axis=1)


def _first_fit(
    model: CameraModel, corners: Floats, seen: Floats
) -> tuple[Floats, NDArray[np.int64]]:
    """Start from several guesses, fit the detector's corners robustly, drop markers that misfit."""
    xy, px = corners.reshape(-1, 2), seen.reshape(-1, 2)
    best = fit_points(model, xy, px)
    miss = np.linalg.norm(model.pixels(best, xy) - px, axis=1).reshape(-1, 4).max(axis=1)
    size = np.linalg.norm(seen - np.roll(seen, -1, axis=1), axis=2).mean(axis=1)
    limit = np.maximum(4.0 * max(1.0, float(np.median(miss))), 0.03 * size)
    keep = np.flatnonzero(miss <= limit)
    if len(keep) < max(2, len(miss) // 2):
        raise SurfaceError(
            f"Only {len(keep)} of {len(miss)} markers agree with a {model.kind} (typical miss "
            f"{np.median(miss):.0f} px); is the surface of another shape, or the strip not flat on "
            "it, or the layout file another strip's?"
        )
    return best, keep


@dataclass(frozen=True)
class _Sides:
    """Points along the sides of the markers, with the way out of the black."""

    xy: Floats
    out: Floats
    cell: Floats
    marker: NDArray[np.int64]

    @classmethod
    def of(cls, layout: StripLayout, indices: NDArray[np.int64]) -> _Sides:
        xy, out, cell, marker = [], [], [], []
        for i in indices:
            m = layout.markers[int(i)]
            ring = np.asarray(m.corners_mm, dtype=np.float64)
            nxt = np.roll(ring, -1, axis=0)
            along = nxt - ring
            normal = np.stack([along[:, 1], -along[:, 0]], axis=1)
            normal /= np.linalg.norm(normal, axis=1, keepdims=True)
            xy.append((ring[:, None] + along[:, None] * _SIDE_STEPS[None, :, None]).reshape(-1, 2))
            out.append(np.repeat(normal, len(_SIDE_STEPS), axis=0))
            cells = len(marker_cells(m.dictionary, m.id))
            cell.append(np.full(4 * len(_SIDE_STEPS), m.side_mm / cells))
            marker.append(np.full(4 * len(_SIDE_STEPS), int(i)))
        return cls(np.vstack(xy), np.vstack(out), np.concatenate(cell), np.concatenate(marker))


@dataclass(frozen=True)
class _Measured:
    """Edges as seen: a point on each and the direction square to it."""

    point_px: Floats
    normal_px: Floats
    used: NDArray[np.bool_]
    scale: Floats
    paper: NDArray[np.float32]
    blur_px: Floats


def _project_sides(model: CameraModel, p: Floats, sides: _Sides) -> tuple[Floats, Floats, Floats]:
    """Projected edge points, image normals pointing out of the black, and px per mm across."""
    ink = float(p[-1])
    here = model.pixels(p, sides.xy + sides.out * ink)
    step = sides.cell[:, None] * 0.05
    side = np.stack([-sides.out[:, 1], sides.out[:, 0]], axis=1)
    along = model.pixels(p, sides.xy + sides.out * ink + side * step) - here
    across = model.pixels(p, sides.xy + sides.out * (ink + step)) - here
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    reach = np.sum(normal * across, axis=1)
    normal *= np.where(reach < 0, -1.0, 1.0)[:, None]
    return here, normal, np.abs(reach) / step[:, 0]


def _measure(
    image: NDArray[np.uint8], model: CameraModel, p: Floats, sides: _Sides, reach: float
) -> _Measured:
    here, normal, scale = _project_sides(model, p, sides)
    look = np.clip(reach * sides.cell * scale, 2.0, 12.0)
    edges = edge_offsets(image, here, normal, look, sides.marker)
    used = np.isfinite(edges.offset_px)
    point = here + normal * np.where(used, edges.offset_px, 0.0)[:, None]
    return _Measured(point, normal, used, scale, edges.paper, edges.blur_px)


def _adjust(model: CameraModel, p: Floats, sides: _Sides, seen: _Measured) -> Floats:
    from scipy.optimize import least_squares

    few = len(model.names) + 4
    if int(seen.used.sum()) < few * 3:
        raise StripNotFoundError(
            f"{int(seen.used.sum())} clean places along the markers' edges were found and at least "
            f"{few * 3} are needed; the strip is too blurred, too small or in glare."
        )
    rows = np.flatnonzero(seen.used)
    xy, out = sides.xy[rows], sides.out[rows]

    def errors(q: Floats) -> Floats:
        here = model.pixels(q, xy + out * q[-1])
        miss = np.sum((seen.point_px[rows] - here) * seen.normal_px[rows], axis=1)
        return np.concatenate([miss / _PIXEL_SD, model.priors(q)])

    fit = least_squares(
        errors, p, loss="soft_l1", f_scale=1.5, x_scale=parameter_scales(model), max_nfev=80
    )
    return np.asarray(fit.x)


def _finish(fit: _Fit, evidence: StripEvidence) -> Placing:
    model, p, sides, seen = fit.model, fit.p, fit.sides, fit.seen
    rows, miss = _misses(model, p, sides, seen)
    spread = max(1.4826 * float(np.median(np.abs(miss - np.median(miss)))), 0.01)
    fine = np.abs(miss) < 4.0 * spread + 0.05
    jacobian = _jacobian(model, p, sides, rows[fine], seen.normal_px[rows[fine]])
    # neighbouring places on one side share the paper's errors: count each side as three, not twelve
    share = 12.0 / 3.0
    variance = float(np.mean(miss[fine] ** 2)) * share
    prior = prior_information(model)
    information = jacobian.T @ jacobian / variance + prior
    # what markers and ends left out contradict beyond their noise is doubt of the whole placing
    by_sides = _side_rows(model, p, sides, seen)
    by_noise = by_sides.jacobian.T @ by_sides.jacobian / by_sides.noise_px**2 + prior
    widened = max(1.0, _apart(information, by_noise, fit.left_out.ratio))
    lies = lying(model, p, by_sides)
    covariance = widened**2 * np.asarray(np.linalg.pinv(information, hermitian=True), np.float64)
    covariance = covariance + lies.covariance
    blur = seen.blur_px[rows[fine]]
    blur_mm = blur / seen.scale[rows[fine]]
    evidence = dataclasses.replace(
        evidence,
        left_out_mm=fit.left_out.rms_mm,
        end_mm=fit.left_out.end_mm,
        end=fit.left_out.end,
        widened=widened,
        off_work_mm=lies.off_mm,
        bow_mm=lies.bow_mm,
        lifted_shift_mm=_lifted_shift(fit, lies.per_mm),
        blur_px=float(np.median(blur)),
        blur_mm=float(np.median(blur_mm)),
        blur_worst_mm=float(np.percentile(blur_mm, 90)),
    )
    surface, lens, rotation, move, ink = model.split(p)
    names = model.names
    if model.free_lens:
        sd = math.sqrt(max(float(covariance[-6, -6]), 0.0)) * lens.focal_px[0]
        lens = Lens(lens.focal_px, lens.centre_px, lens.distortion, lens.image_size, sd)
    markers = sides.marker[rows]
    per_marker = tuple(float(np.sqrt(np.mean(miss[markers == m] ** 2))) for m in np.unique(markers))
    paper_rows = rows[np.all(np.isfinite(seen.paper[rows]), axis=1)]
    if isinstance(surface, Round):
        surface = canonical(surface)
    return Placing(
        surface=surface,
        lens=lens,
        rotation=rotation,
        translation=move,
        markers_used=tuple(int(m) for m in np.unique(markers)),
        residual_px=float(np.sqrt(np.mean(miss[fine] ** 2))),
        residual_mm=float(np.sqrt(np.mean((miss[fine] / seen.scale[rows[fine]]) ** 2))),
        marker_residuals_px=per_marker,
        ink_spread_mm=ink,
        parameter_names=names,
        parameters=p,
        parameter_covariance=covariance,
        paper_points_mm=sides.xy[paper_rows] + sides.out[paper_rows] * sides.cell[paper_rows, None],
        paper_light=seen.paper[paper_rows],
        evidence=evidence,
    )


def _lifted_shift(fit: _Fit, per_mm: Floats) -> float:
    """How far 95 of 100 places within the strip move at most, for each mm that it is lifted."""
    xy, step = _within(fit.sides.xy), 0.1
    there = fit.model.pixels(fit.p + step * per_mm, xy)
    return float(np.percentile(_shift_mm(fit, xy, there), 95)) / step


def _apart(information: Floats, by_noise: Floats, ratio: float) -> float:
    """How much wider the doubt by noise times ``ratio`` is than that by residuals, on the whole.

    Mean over the parameters, each in its own units: the trace of one covariance seen in the other.
    """
    seen = np.linalg.pinv(by_noise, hermitian=True) @ information
    return ratio * math.sqrt(max(float(np.trace(seen)) / len(information), 0.0))


def _jacobian(
    model: CameraModel, p: Floats, sides: _Sides, rows: NDArray[np.int64], normal: Floats
) -> Floats:
    columns = []
    for n, scale in enumerate(parameter_scales(model)):
        step = np.zeros_like(p)
        step[n] = scale * 1e-3
        high = model.pixels(p + step, sides.xy[rows] + sides.out[rows] * (p + step)[-1])
        low = model.pixels(p - step, sides.xy[rows] + sides.out[rows] * (p - step)[-1])
        columns.append(np.sum((high - low) * normal, axis=1) / (2 * step[n]))
    return np.stack(columns, axis=1)


def place_uncertainty_mm(placing: Placing, xy: Floats) -> Floats:
    """One standard deviation, in mm, of where a surface point falls, from the strip alone.

    The ``xy`` are unrolled points (n, 2). That the paper may lie off the surface is in it as far as
    is usual, or as its markers let it stand off; a lens given wrongly is not.
    """
    reference = (
        placing.surface.reference_mm if isinstance(placing.surface, Round) else _pivot(placing)
    )
    size = placing.lens.image_size or (0, 0)
    free = "log_focal" in placing.parameter_names
    lens = placing.lens
    if free:
        focal = lens.focal_px[0] / math.exp(float(placing.parameters[-6]))
        shift = placing.parameters[-3:-1] * size[0]
        centre = (lens.centre_px[0] - float(shift[0]), lens.centre_px[1] - float(shift[1]))
        lens = Lens((focal, focal), centre, image_size=size)
    model = CameraModel(placing.surface.kind, reference, lens, free, size)
    p = placing.parameters
    columns = []
    for n, scale in enumerate(parameter_scales(model)):
        step = np.zeros_like(p)
        step[n] = scale * 1e-3
        columns.append((model.pixels(p + step, xy) - model.pixels(p - step, xy)) / (2 * step[n]))
    jacobian = np.stack(columns, axis=-1)
    spread = np.einsum("nip,pq,niq->n", jacobian, placing.parameter_covariance, jacobian)
    coarse, fine = placing.resolution(xy)
    deviation = np.sqrt(np.maximum(spread, 0.0)) / np.maximum((coarse + fine) / 2.0, 1e-6)
    return np.asarray(deviation, dtype=np.float64)


def _pivot(placing: Placing) -> tuple[float, float]:
    """The point the adjustment turned about: where parameters' move and the pose agree."""
    pivot = placing.rotation.T @ (placing.parameters[3:6] - placing.translation)
    return float(pivot[0]), float(pivot[1])
