"""Where the camera stood, from a few places pointed at whose distances were measured with a rule.

For where no strip can be laid. Nothing here is as true as the strip: a finger points to a pixel or
two, and a rule reads to a quarter of a millimetre; the residuals say what came of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats
from ironlace.photographs.camera_model import (
    CameraModel,
    canonical,
    fit_points,
    parameter_scales,
    prior_information,
)
from ironlace.photographs.errors import SurfaceError
from ironlace.photographs.lens import Lens, guessed_lens
from ironlace.photographs.linear_light import to_linear
from ironlace.photographs.place_by_strip import Placing
from ironlace.photographs.surfaces import Round, SurfaceKind

LEAST_PLACES: Final = {"plane": 4, "cylinder": 6, "cone": 7}
POINTING_PX: Final = 1.5
"""How far a finger points beside the place it means, one standard deviation."""


def place_by_points(  # long: half is its docstring
    image: NDArray[np.uint8],
    places_px: Sequence[tuple[float, float]],
    places_mm: Sequence[tuple[float, float]],
    *,
    kind: SurfaceKind = "plane",
    lens: Lens | None = None,
    focal_35mm: float | None = None,
    radius_mm: float | None = None,
) -> Placing:
    """Adjust pose, surface and (if not given) lens to measured places.

    Parameters
    ----------
    image
        The photograph, HxWx3 uint8 sRGB.
    places_px
        Places in it that were pointed at, pixels.
    places_mm
        Where they lie on the surface, mm, x right and y down: along a round surface as a tape
        laid on it would measure.
    kind
        Shape of the surface.
    lens, focal_35mm
        Calibrated lens, or else the focal length for 35 mm film from Exif as a start.
    radius_mm
        Radius of a round surface at its places' middle, where it was measured.

    Raises
    ------
    SurfaceError
        If there are too few places, they lie in one line, or no camera position explains them.
    """
    from scipy.optimize import least_squares

    px = np.asarray(places_px, np.float64).reshape(-1, 2)
    xy = np.asarray(places_mm, np.float64).reshape(-1, 2)
    _refuse_few(px, xy, kind)
    height, width = image.shape[:2]
    used = (
        guessed_lens(width, height, focal_35mm) if lens is None else lens.scaled_to(width, height)
    )
    middle = xy.mean(axis=0)
    # four places fix a flat surface and its camera but nothing of the lens
    free = lens is None and len(xy) >= LEAST_PLACES[kind] + 1
    model = CameraModel(kind, (float(middle[0]), float(middle[1])), used, free, (width, height))
    p = fit_points(model, xy, px)
    known = math.log(radius_mm) if radius_mm and kind != "plane" else None

    def errors(q: Floats) -> Floats:
        miss = (model.pixels(q, xy) - px).ravel() / POINTING_PX
        # a measured radius is good to a hundredth or so
        more = [] if known is None else [(q[6] - known) / 0.015]
        return np.concatenate([miss, model.priors(q), more, [q[-1] / 1e-3]])

    p = np.asarray(least_squares(errors, p, x_scale=parameter_scales(model), max_nfev=200).x)
    miss = np.linalg.norm(model.pixels(p, xy) - px, axis=1)
    _refuse_far(miss, max(width, height))
    surface, found, rotation, move, _ = model.split(p)
    covariance = _covariance(model, p, xy, known is not None)
    if model.free_lens:
        sd = math.sqrt(max(float(covariance[-6, -6]), 0.0)) * found.focal_px[0]
        found = Lens(found.focal_px, found.centre_px, found.distortion, found.image_size, sd)
    if isinstance(surface, Round):
        surface = canonical(surface)
    bare = Placing(
        surface=surface,
        lens=found,
        rotation=rotation,
        translation=move,
        markers_used=(),
        residual_px=float(np.sqrt(np.mean(miss**2))),
        residual_mm=0.0,
        marker_residuals_px=tuple(float(m) for m in miss),
        ink_spread_mm=0.0,
        parameter_names=model.names,
        parameters=p,
        parameter_covariance=covariance,
        paper_points_mm=xy,
        paper_light=_white_guess(image, len(xy)),
    )
    scale = float(np.mean(bare.resolution(xy)[0]))
    from dataclasses import replace

    return replace(bare, residual_mm=bare.residual_px / max(scale, 1e-6))


def _refuse_few(px: Floats, xy: Floats, kind: SurfaceKind) -> None:
    """Raise SurfaceError when the places cannot fix a camera and a surface."""
    if len(px) != len(xy) or len(xy) < LEAST_PLACES[kind]:
        raise SurfaceError(
            f"{min(len(px), len(xy))} measured places were given; a {kind} needs at least "
            f"{LEAST_PLACES[kind]}."
        )
    spread = np.linalg.svd(xy - xy.mean(axis=0), compute_uv=False)
    if spread[1] < 0.05 * spread[0]:
        raise SurfaceError(
            "The measured places lie nearly in one line: measure some to the side of it as well."
        )


def _refuse_far(miss: Floats, side_px: int) -> None:
    """Raise SurfaceError when a place lies far from where the others put it.

    Farther than a fiftieth of the picture is a slip of hand or tape, not of pointing: a judgement.
    """
    limit = max(12.0, 0.02 * side_px)
    if float(miss.max()) > limit:
        worst = int(np.argmax(miss))
        raise SurfaceError(
            f"Place {worst + 1} lies {miss[worst]:.0f} px from where the others put it: check its "
            "measure, or point again."
        )


def _covariance(model: CameraModel, p: Floats, xy: Floats, knows_radius: bool) -> Floats:
    columns = []
    for n, scale in enumerate(parameter_scales(model)):
        step = np.zeros_like(p)
        step[n] = scale * 1e-3
        high, low = model.pixels(p + step, xy), model.pixels(p - step, xy)
        columns.append(((high - low) / (2 * step[n])).ravel())
    jacobian = np.stack(columns, axis=1) / POINTING_PX
    information = jacobian.T @ jacobian + prior_information(model)
    information[-1, -1] += 1e6
    if knows_radius:
        information[6, 6] += 1.0 / 0.015**2
    return np.asarray(np.linalg.pinv(information, hermitian=True), np.float64)


def _white_guess(image: NDArray[np.uint8], count: int) -> NDArray[np.float32]:
    """Light of white paper where none is seen: the camera's own white, at the brightest places.

    Only shares of it are compared with one another, so its size matters little; a tint does.
    """
    few = to_linear(np.ascontiguousarray(image[::16, ::16]))
    brightest = float(np.percentile(few.max(axis=2), 99.5))
    return np.full((count, 3), max(brightest, 0.05), np.float32)
