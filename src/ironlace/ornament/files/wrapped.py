"""The drawing as it will look on the arm: wrapped on its surface and seen from any side."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.ornament.outline.drawing import Drawing, filled_area
from ironlace.photographs.errors import SurfaceError
from ironlace.photographs.surfaces import Round

EDGE_DEG: Final = 86.0
"""Beyond this from the line of sight a place is at the very rim."""
_STEP_MM: Final = 0.4
"""Outlines are bent in pieces so long: on a radius of 10 mm a chord is off by 0.002 mm."""


def wrapped_svg(drawing: Drawing, surface: Round, turn_deg: float = 0.0) -> str:
    """The drawing on its cylinder or cone, seen square to the axis, as SVG in mm.

    Parameters
    ----------
    drawing
        In unrolled surface mm.
    surface
        What it lies on.
    turn_deg
        How far the work is turned about its axis; at 0 the middle of the strip faces the viewer.

    Raises
    ------
    SurfaceError
        If the drawing lies beyond the cone's point.
    """
    from shapely import get_parts, segmentize

    left, top, right, bottom = drawing.bounds_mm
    corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    along = _along(surface, corners)
    low, high = float(along.min()) - 4.0, float(along.max()) + 4.0
    if surface.radius_mm + surface.taper * low <= 0.5 or (
        surface.radius_mm + surface.taper * high <= 0.5
    ):
        raise SurfaceError("The drawing reaches beyond the cone's point: check its surface.")
    seen = _facing_part(surface, math.radians(turn_deg), low, high)
    shapes = []
    for layer in drawing.layers:
        one = (p for p in drawing.paths if p.layer == layer)
        area = filled_area(one, 0.01).intersection(seen)
        d = ""
        for part in get_parts(segmentize(area, _STEP_MM)):
            if part.geom_type != "Polygon":
                continue
            for ring in (part.exterior, *part.interiors):
                points = _looked_at(surface, np.asarray(ring.coords)[:-1], turn_deg)
                d += "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in points) + "Z"
        r, g, b = drawing.colours.get(layer, (184, 144, 64))
        shapes.append(f'<path fill="#{r:02x}{g:02x}{b:02x}" fill-rule="evenodd" d="{d}"/>')
    rim = _looked_at(surface, np.asarray(seen.exterior.coords)[:-1], turn_deg)
    x0, y0 = rim.min(axis=0) - 3.0
    x1, y1 = rim.max(axis=0) + 3.0
    outline = "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in rim) + "Z"
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{x1 - x0:.3f}mm" '
        f'height="{y1 - y0:.3f}mm" viewBox="{x0:.3f} {y0:.3f} {x1 - x0:.3f} {y1 - y0:.3f}">\n'
        f'<path fill="#161210" d="{outline}"/>\n' + "\n".join(shapes) + "\n</svg>\n"
    )


def _along(surface: Round, xy: Floats) -> Floats:
    c, s = math.cos(surface.axis_rad), math.sin(surface.axis_rad)
    return np.asarray((xy - np.asarray(surface.reference_mm)) @ np.array([c, s]), np.float64)


def _facing_part(surface: Round, turn: float, low: float, high: float) -> Any:
    """The unrolled part that faces the viewer, as a polygon."""
    from shapely import Polygon

    rim = math.radians(EDGE_DEG)
    # a sheet goes round once: what is behind the seam is not drawn twice
    first, last = max(-turn - rim, -math.pi), min(-turn + rim, math.pi)
    if last - first < 1e-3:
        raise SurfaceError("From that side nothing of the drawing is seen: turn it less.")
    angles = np.linspace(first, last, 90)
    ends = [_unrolled(surface, a, low) for a in angles]
    ends += [_unrolled(surface, a, high) for a in angles[::-1]]
    return Polygon(np.array(ends))


def _unrolled(surface: Round, angle: float, along: float) -> Floats:
    """The unrolled place at an angle about the axis, ``along`` mm on from the strip's middle."""
    q, r0 = surface.taper, surface.radius_mm
    if abs(q) < 1e-9:
        x, y = along, r0 * angle
    else:
        # on a cone circles unroll to arcs about the point
        rho = r0 / q + along
        x, y = rho * math.cos(q * angle) - r0 / q, rho * math.sin(q * angle)
    c, s = math.cos(surface.axis_rad), math.sin(surface.axis_rad)
    place = np.asarray(surface.reference_mm) + np.array([c * x - s * y, s * x + c * y])
    return np.asarray(place, np.float64)


def _looked_at(surface: Round, xy: Floats, turn_deg: float) -> Floats:
    """Unrolled places as seen from far off, square to the axis; mm, x along the sheet's x."""
    space = surface.to_space(xy)
    axis, across, outward = surface.axes()
    origin = np.array([*surface.reference_mm, 0.0]) - surface.radius_mm * outward
    rel = space - origin
    h, u, v = rel @ axis, rel @ across, rel @ outward
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    side = c * u + s * v
    ca, sa = math.cos(surface.axis_rad), math.sin(surface.axis_rad)
    return np.stack([ca * h - sa * side, sa * h + ca * side], axis=1)
