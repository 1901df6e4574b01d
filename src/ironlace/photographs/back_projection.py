"""From a point in the photograph to its place on the surface, whatever the surface's shape."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ironlace.photographs.errors import SurfaceError
from ironlace.photographs.place_by_strip import Placing

_STEPS: Final = 25
"""Newton's steps at most: each about doubles the figures that are right, so one that has not
arrived after these will not."""
_DELTA_MM: Final = 0.01
"""How far a place is moved to measure the slope there: far above rounding (a camera's numbers
are good to 1e-9 px), far below the bend of any surface a strip is wrapped round."""
_GRID: Final = 41
"""Nodes a side of the grid whose nearest one is the start: near enough to the place for Newton's
steps on a plane, cylinder or cone. A judgement."""
_CLOSE_PX: Final = 0.01
"""A place is found when it lands this near the pixel pointed at; a hand points to half a pixel."""


def surface_places(
    placing: Placing, px: ArrayLike, bounds_mm: tuple[float, float, float, float]
) -> NDArray[np.float64]:
    """Find the surface places that the camera shows at given pixels.

    The projection is inverted by Newton's method from the nearest node of a coarse grid, so it
    holds for every surface and lens that `Placing.to_pixels` knows.

    Parameters
    ----------
    placing
        Where the photograph lies on the surface.
    px
        Points in the photograph, shape (n, 2).
    bounds_mm
        Left, top, right, bottom of the part of the surface to look in.

    Returns
    -------
    NDArray
        Surface mm, shape (n, 2).

    Raises
    ------
    SurfaceError
        When a point does not show the surface.
    """
    wanted = np.asarray(px, dtype=np.float64).reshape(-1, 2)
    if not len(wanted):
        return np.empty((0, 2))
    left, top, right, bottom = bounds_mm
    nodes = np.stack(
        np.meshgrid(np.linspace(left, right, _GRID), np.linspace(top, bottom, _GRID)), axis=-1
    ).reshape(-1, 2)
    nodes = nodes[placing.surface.covers(nodes)]
    shown = placing.to_pixels(nodes)
    apart = np.linalg.norm(wanted[:, None] - shown[None], axis=2)
    places: NDArray[np.float64] = nodes[np.nanargmin(apart, axis=1)].copy()
    for _ in range(_STEPS):
        here = placing.to_pixels(places)
        miss = wanted - here
        if np.all(np.abs(miss) < _CLOSE_PX):
            return places
        columns = [
            (placing.to_pixels(places + step) - here) / _DELTA_MM
            for step in (np.array([_DELTA_MM, 0.0]), np.array([0.0, _DELTA_MM]))
        ]
        jacobian = np.stack(columns, axis=2)
        if not np.all(np.isfinite(jacobian)) or np.any(np.abs(np.linalg.det(jacobian)) < 1e-9):
            break
        places = places + np.linalg.solve(jacobian, miss[..., None])[..., 0]
    lost = wanted[np.argmax(np.linalg.norm(wanted - placing.to_pixels(places), axis=1))]
    raise SurfaceError(
        f"The point ({lost[0]:.0f}, {lost[1]:.0f}) of the photograph does not lie on the surface: "
        "touch a place that the camera sees."
    )
