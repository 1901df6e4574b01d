"""The wooden base under a bed: its outlines from the bed's, its mass and centre.

The outside is the bed's outline drawn out with round corners, the walls stand inward from it at
their full height, the floor lies inside them; the opening is the outline drawn in by the ledge that
carries the bed's rim (the ledge's mass is not counted).
"""

from dataclasses import dataclass

import numpy as np
import shapely

from ironlace.evidence.arrays import Floats
from ironlace.stand.errors import StandError

_QUARTER = 64
"""Straight pieces of a quarter round: at 20 mm it is then true to 2 µm."""


@dataclass(frozen=True)
class BaseShape:
    """Outlines of a base, mm: each a polygon without holes."""

    bed: shapely.Polygon
    opening: shapely.Polygon
    outside: shapely.Polygon
    within: shapely.Polygon


def bed_polygon(outline: Floats) -> shapely.Polygon:
    """The bed's outline as a polygon.

    Raises StandError when it crosses itself or holds no area.
    """
    if len(outline) < 3:
        raise StandError(
            f"The bed's outline has {len(outline)} points: give three or more round the rim."
        )
    bed = shapely.Polygon(outline)
    if not bed.is_valid:
        why = shapely.is_valid_reason(bed)
        at = why[why.find("[") + 1 : why.find("]")] if "[" in why else "some place"
        raise StandError(
            f"The bed's outline crosses itself near x, y = {at} mm: give its points in their order "
            "round the rim."
        )
    if bed.area < 100.0:
        raise StandError(
            f"The bed's outline holds {bed.area:.2g} mm²: give it in mm, point by point round the "
            "rim."
        )
    return bed


def base_shape(
    bed: shapely.Polygon, ledge_mm: float, overhang_mm: float, wall_mm: float
) -> BaseShape:
    """The outlines of a base.

    Raises StandError when the ledge or the walls leave nothing open.
    """
    opening = bed.buffer(-ledge_mm, quad_segs=_QUARTER)
    outside = bed.buffer(overhang_mm, quad_segs=_QUARTER)
    within = outside.buffer(-wall_mm, quad_segs=_QUARTER)
    if not isinstance(opening, shapely.Polygon) or opening.is_empty:
        raise StandError(
            f"A ledge of {ledge_mm:g} mm leaves no opening in one piece under this bed: make it "
            "narrower."
        )
    if not isinstance(within, shapely.Polygon) or within.is_empty:
        raise StandError(
            f"Walls of {wall_mm:g} mm leave no room in one piece within the base: make them "
            "thinner."
        )
    return BaseShape(bed, opening, shapely.Polygon(outside.exterior), within)


def base_mass(
    shape: BaseShape, height_mm: float, floor_mm: float, density_kg_m3: float
) -> tuple[float, Floats]:
    """Mass in g and centre in mm (z from the table) of walls and floor."""
    density = density_kg_m3 * 1e-6  # g/mm3
    walls = shape.outside.difference(shape.within)
    parts = ((walls, height_mm), (shape.within, floor_mm))
    masses = np.array([density * area.area * thick for area, thick in parts])
    centres = np.array([(area.centroid.x, area.centroid.y, thick / 2.0) for area, thick in parts])
    mass = float(masses.sum())
    if mass <= 0.0:
        return 0.0, np.zeros(3)
    return mass, masses @ centres / mass
