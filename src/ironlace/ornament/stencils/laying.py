"""Fitting sheets to the work: their edge on plane, cylinder or cone, laying marks, and parts."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Floats
from ironlace.ornament.stencils.errors import StencilError
from ironlace.ornament.stencils.regions import as_region
from ironlace.ornament.stencils.sheets import Sheet
from ironlace.photographs.surfaces import Plane, Round, Surface

CORNER_MM = 4.0
"""Radius of a sheet's corners: square ones lift."""


@dataclass(frozen=True)
class Feature:
    """Something on the machine a sheet is laid by, in the drawing's unrolled mm."""

    name: str
    x_mm: float
    y_mm: float


def about_the_middle(surface: Surface, openings: MultiPolygon) -> Surface:
    """A cylinder with its seam opposite the drawing: its radius is the same wherever it was taken.

    Other surfaces stay as they are, and so does a cylinder whose line along the axis lies in the
    drawing.
    """
    if not isinstance(surface, Round) or surface.taper:
        return surface
    left, top, right, bottom = openings.bounds
    x, y = surface.reference_mm
    if left <= x <= right and top <= y <= bottom:
        return surface
    return dataclasses.replace(surface, reference_mm=((left + right) / 2.0, (top + bottom) / 2.0))


def sheet_edge(openings: MultiPolygon, surface: Surface, margin_mm: float) -> Polygon:
    """A sheet's outline: the flat pattern of the band of the surface that the ornament lies on.

    Plane and cylinder give a rectangle, on the cylinder square to the axis; a cone gives a sector
    of a ring (development of a cone frustum).

    Raises
    ------
    StencilError
        If the sheet would go round the work more than once.
    """
    if not isinstance(surface, Round):
        return _rounded(shapely.box(*openings.bounds).buffer(margin_mm, join_style="mitre"))
    corners = shapely.get_coordinates(openings.convex_hull)
    reference = np.asarray(surface.reference_mm)
    along = np.array([math.cos(surface.axis_rad), math.sin(surface.axis_rad)])
    across = np.array([-along[1], along[0]])
    rel = corners - reference
    if surface.taper == 0.0:
        u, v = rel @ along, rel @ across
        low, high = (
            np.array([u.min(), v.min()]) - margin_mm,
            np.array([u.max(), v.max()]) + margin_mm,
        )
        frame = np.array(
            [[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]]
        )
        edge = Polygon(reference + frame[:, :1] * along + frame[:, 1:] * across)
    else:
        edge = _sector(surface, corners, along, across, margin_mm)
    if not surface.covers(shapely.get_coordinates(edge)).all():
        raise StencilError(
            "The sheet with its margin would go round the work more than once or past a cone's "
            "point: take a smaller margin, or cut it in parts."
        )
    return _rounded(edge)


def _sector(
    surface: Round, corners: Floats, along: Floats, across: Floats, margin_mm: float
) -> Polygon:
    apex = np.asarray(surface.reference_mm) - along * surface.radius_mm / surface.taper
    grows = 1.0 if surface.taper > 0 else -1.0
    rel = corners - apex
    radius = np.linalg.norm(rel, axis=1)
    angle = np.arctan2(grows * (rel @ across), grows * (rel @ along))
    inner, outer = radius.min() - margin_mm, radius.max() + margin_mm
    if inner <= 0:
        raise StencilError(
            "The sheet's margin would reach past the cone's point: take a smaller margin."
        )
    aside = margin_mm / radius.min()
    turn = np.linspace(angle.min() - aside, angle.max() + aside, 96)
    arc = grows * (np.cos(turn)[:, None] * along + np.sin(turn)[:, None] * across)
    return Polygon(np.concatenate([apex + inner * arc, apex + outer * arc[::-1]]))


def _rounded(edge: Polygon) -> Polygon:
    smooth = edge.buffer(-CORNER_MM, join_style="mitre").buffer(CORNER_MM, quad_segs=12)
    return smooth if isinstance(smooth, Polygon) and not smooth.is_empty else edge


def register_places(openings: MultiPolygon, edge: Polygon, hole_mm: float) -> Floats:
    """Three places for register holes in the margin, far apart and not alike when turned over."""
    inner = edge.buffer(-2.0 * hole_mm)
    free = inner.difference(openings.envelope.buffer(1.5 * hole_mm))
    if free.is_empty:
        return np.zeros((0, 2))
    left, top, right, bottom = edge.bounds
    # two in the corners, the third off the middle: turned over, they do not fit
    wished = [(left, top), (right, top), (left + 0.3 * (right - left), bottom)]
    out = []
    for x, y in wished:
        line = shapely.shortest_line(free, shapely.Point(x, y))
        out.append(shapely.get_coordinates(line)[0])
    return np.array(out)


def laying_notes(
    edge: Polygon, surface: Surface, features: Sequence[Feature]
) -> tuple[tuple[Floats, str], ...]:
    """Lines drawn on a sheet: the work's axis, the middle across it, and crosses at features.

    Raises
    ------
    StencilError
        If a feature lies off the sheet, where its cross would be on none.
    """
    left, top, right, bottom = edge.bounds
    for feature in features:
        if not edge.covers(shapely.Point(feature.x_mm, feature.y_mm)):
            raise StencilError(
                f"The feature '{feature.name[:40]}' at {feature.x_mm:g}, {feature.y_mm:g} mm lies "
                f"off the sheet, which reaches from {left:.1f}, {top:.1f} to {right:.1f}, "
                f"{bottom:.1f} mm: give its place in the drawing, or a wider margin_mm."
            )
    reach = 2.0 * math.hypot(right - left, bottom - top)
    notes: list[tuple[Floats, str]] = []
    level, upright = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    centre = np.array([(left + right) / 2, (top + bottom) / 2])
    if isinstance(surface, Round):
        origin = np.asarray(surface.reference_mm)
        along = np.array([math.cos(surface.axis_rad), math.sin(surface.axis_rad)])
        notes += _inside(edge, origin - reach * along, origin + reach * along, "along the axis")
    elif isinstance(surface, Plane):
        notes += _inside(
            edge, centre - reach * level, centre + reach * level, "middle, left to right"
        )
        notes += _inside(
            edge, centre - reach * upright, centre + reach * upright, "middle, top to bottom"
        )
    for feature in features:
        at = np.array([feature.x_mm, feature.y_mm])
        notes += [
            (np.array([at - 4.0 * way, at + 4.0 * way]), feature.name) for way in (level, upright)
        ]
    return tuple(notes)


def _inside(edge: Polygon, a: Floats, b: Floats, word: str) -> list[tuple[Floats, str]]:
    """The two ends of a line within the sheet's margin: short strokes to lay by."""
    line = shapely.LineString([a, b]).intersection(edge)
    if line.is_empty:
        return []
    points = shapely.get_coordinates(line)
    one, two = points[0], points[-1]
    way = (two - one) / max(float(np.linalg.norm(two - one)), 1e-9)
    return [(np.array([one, one + 6.0 * way]), word), (np.array([two, two - 6.0 * way]), word)]


def tiles(
    sheet: Sheet,
    width_mm: float,
    height_mm: float,
    *,
    margin_mm: float,
    overlap_mm: float,
    with_sheets: Sequence[Sheet] = (),
) -> list[Sheet]:
    """A sheet in parts that fit a bed or a page, each with its own margin.

    Parts are laid one after another like further sheets; their openings overlap by ``overlap_mm``.

    Parameters
    ----------
    with_sheets
        The other sheets of the set. All are parted along the same lines, and a part of one has its
        edge and its register holes where the same part of the others has them.

    Raises
    ------
    StencilError
        If the bed leaves nothing between two margins.
    """
    of_set = [sheet, *with_sheets]
    whole = [one.edge.bounds for one in of_set]
    if all(r - x <= width_mm and b - y <= height_mm for x, y, r, b in whole):
        return [sheet]
    inner_w, inner_h = width_mm - 2 * margin_mm, height_mm - 2 * margin_mm
    if min(inner_w, inner_h) <= 2 * overlap_mm:
        raise StencilError(
            f"A bed of {width_mm:g} by {height_mm:g} mm leaves nothing between margins of "
            f"{margin_mm:g} mm: take a smaller margin."
        )
    everything = as_region(shapely.union_all([one.openings for one in of_set]))
    out = []
    for name, window in _windows(everything.bounds, inner_w, inner_h, overlap_mm):
        part = as_region(sheet.openings.intersection(window))
        if part.is_empty:
            continue
        edge = _rounded(window.buffer(margin_mm, join_style="mitre"))
        about = as_region(everything.intersection(window))
        out.append(
            dataclasses.replace(
                sheet,
                name=f"{sheet.name}{name}",
                openings=part,
                edge=edge,
                register_mm=register_places(about, edge, sheet.register_hole_mm),
                notes=tuple(
                    (line, word)
                    for line, word in sheet.notes
                    if edge.covers(shapely.LineString(line))
                ),
            )
        )
    return out


def _windows(
    bounds: tuple[float, float, float, float], width: float, height: float, overlap: float
) -> list[tuple[str, Polygon]]:
    """Names (row, column) and windows of parts that cover some bounds, row by row."""
    x0, y0, x1, y1 = bounds
    columns = max(1, math.ceil((x1 - x0 - overlap) / (width - overlap)))
    rows = max(1, math.ceil((y1 - y0 - overlap) / (height - overlap)))
    step_x = (x1 - x0 + (columns - 1) * overlap) / columns
    step_y = (y1 - y0 + (rows - 1) * overlap) / rows
    out = []
    for row in range(rows):
        for column in range(columns):
            a, b = x0 + column * (step_x - overlap), y0 + row * (step_y - overlap)
            name = f"{chr(ord('a') + row)}{column + 1}"
            out.append((name, shapely.box(a, b, a + step_x, b + step_y)))
    return out
