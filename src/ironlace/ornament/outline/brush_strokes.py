"""A stroke as a brush or graver lays it: a hand's shaky line made smooth, and given its width.

The centre line is a smoothing spline (Dierckx 1975) through the places the hand passed; the width
swells from its beginning over its middle to its end.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.ornament.errors import ReworkError
from ironlace.ornament.outline.contours import STEP_PX, Outlines
from ironlace.ornament.outline.curve_fitting import fit_rings

SHAKE_MM: Final = 0.12
"""How far a hand strays from the line it means, one standard deviation."""
MOST_PLACES: Final = 5_000
"""Of one line; a hand that moves for a minute gives fewer. A bound on time."""
NARROWEST_MM: Final = 0.05
"""Of a stroke: a finer one could not be cut or painted."""
WIDEST_MM: Final = 60.0
"""Of a stroke: wider than any bed has room for. A bound on slips of the hand."""
_FINE_MM: Final = 0.04
"""Between points of an outline before curves are fitted to it."""


def smooth_line(places: Sequence[tuple[float, float]], shake_mm: float = SHAKE_MM) -> Floats:
    """A smooth line through the places a hand passed, points 0.1 mm apart or closer, (n, 2).

    Raises
    ------
    ReworkError
        If the places are too many, are no numbers, or all lie in one spot.
    """
    points = np.asarray(places, np.float64).reshape(-1, 2)
    if len(points) > MOST_PLACES:
        raise ReworkError(
            f"The line has {len(points)} places, more than {MOST_PLACES}: draw it in parts."
        )
    if not np.isfinite(points).all():
        raise ReworkError("A place of the line is not a number: draw the line again.")
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    points = points[np.concatenate([[True], steps > 1e-3])]
    if len(points) < 2:
        raise ReworkError("The line has no length: draw it from one place to another.")
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    count = int(np.clip(np.ceil(along[-1] / 0.1), 8, 4000))
    if len(points) == 2:
        return np.linspace(points[0], points[1], count)
    from scipy.interpolate import splev, splprep

    # the spline takes the places one by one; evenly spread ones let the shake be one number
    even = np.linspace(0.0, along[-1], max(5, min(len(points) * 2, int(along[-1] / 0.3) + 5)))
    spread = np.stack([np.interp(even, along, points[:, k]) for k in range(2)])
    degree = min(3, spread.shape[1] - 1)
    curve: Any = splprep(spread, u=even, s=spread.shape[1] * shake_mm**2, k=degree)[0]
    return np.stack(splev(np.linspace(0.0, along[-1], count), curve), axis=1)


def stroke_area(centre: Floats, widths: Sequence[float]) -> Any:
    """The area a stroke covers, a shapely geometry: round ends, width swelling along its length.

    Parameters
    ----------
    centre
        Centre line, (n, 2), mm.
    widths
        One width in mm, or three: where the stroke begins, at its middle, where it ends.

    Raises
    ------
    ReworkError
        If a width is no usable number.
    """
    from shapely import convex_hull, multipoints, union_all

    given = np.asarray(widths, np.float64).reshape(-1)
    if len(given) not in (1, 3) or not np.all((given >= NARROWEST_MM) & (given <= WIDEST_MM)):
        raise ReworkError(
            f"A stroke's width must lie between {NARROWEST_MM} and {WIDEST_MM:g} mm: "
            "give one, or three for its beginning, middle and end."
        )
    steps = np.linalg.norm(np.diff(centre, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    t = along / max(float(along[-1]), 1e-9)
    if len(given) == 1:
        width = np.full(len(centre), given[0])
    else:
        a, b, c = given
        half = 0.5 - 0.5 * np.cos(np.pi * np.clip(np.where(t < 0.5, 2 * t, 2 - 2 * t), 0, 1))
        width = np.where(t < 0.5, a + (b - a) * half, c + (b - c) * half)
    turn = np.linspace(0.0, 2 * np.pi, 48, endpoint=False)
    disc = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    discs = centre[:, None] + disc[None] * (width / 2.0)[:, None, None]
    pairs = np.concatenate([discs[:-1], discs[1:]], axis=1)
    n, m, _ = pairs.shape
    hulls = convex_hull(multipoints(pairs.reshape(-1, 2), indices=np.repeat(np.arange(n), m)))
    return union_all(hulls)


def area_curves(area: Any, tolerance_mm: float = 0.008) -> list[Floats]:
    """Closed cubic curves around an area: a list of (n, 4, 2), mm."""
    from shapely import get_coordinates, get_parts, line_interpolate_point

    rings = [
        ring
        for part in get_parts(area)
        for ring in (part.exterior, *part.interiors)
        if ring.length > 8 * _FINE_MM
    ]
    if not rings:
        return []
    points, starts = [], [0]
    for ring in rings:
        count = max(24, round(ring.length / _FINE_MM))
        along = np.arange(count) * (ring.length / count)
        points.append(get_coordinates(line_interpolate_point(ring, along)))
        starts.append(starts[-1] + count)
    scale = STEP_PX / _FINE_MM
    outlines = Outlines(np.vstack(points) * scale, np.array(starts, np.int64))
    return [np.asarray(c, np.float64) / scale for c in fit_rings(outlines, tolerance_mm * scale)]
