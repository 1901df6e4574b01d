"""At what lean a head on its base goes over, by itself and with a hand on the crank.

Statics about each edge of the feet's hull. The hand pulls along the handle's path, and its force
turns with the machine as that leans; the worst wheel angle is taken. The lean at which weight and
hand balance is acos(M / (W r)) - atan(z / b), for moment M, weight W, the centre b inside the edge
and z above the table, r the root of the sum of their squares.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from ironlace.evidence.arrays import Floats
from ironlace.stand.errors import StandError

GRAVITY = 9.80665
"""Standard gravity, m/s2 (exact by convention)."""

Turning = Literal["top away from the sewer", "top toward the sewer"]

_AROUND = np.deg2rad(np.arange(0.0, 360.0, 1.0))
"""Handle angles at which the hand's moment is taken: its greatest is then right to 0.02 %."""


@dataclass(frozen=True, slots=True)
class Hand:
    """A hand on a crank, on a table: z from the table."""

    radius_mm: float
    axis_y_mm: float
    axis_z_mm: float
    handle_x_mm: float
    force_n: float
    turning: Turning


@dataclass(frozen=True)
class FeetEdge:
    """One edge of the feet's hull: its outward unit vector, and how far out it lies, mm."""

    outward: Floats
    reach_mm: float


def feet_edges(feet: Floats) -> tuple[FeetEdge, ...]:
    """The edges of the hull of the feet, shape (n, 2), in counter-clockwise order.

    Raises StandError when the feet do not span an area.
    """
    hull = shapely.convex_hull(shapely.MultiPoint(np.asarray(feet, float)))
    if not isinstance(hull, shapely.Polygon) or hull.area < 100.0:
        raise StandError(
            "The feet do not span an area: give the x and y of three or more that do not lie on "
            "one line."
        )
    ring = np.array(shapely.geometry.polygon.orient(hull).exterior.coords)
    along = np.diff(ring, axis=0)
    outward = np.stack([along[:, 1], -along[:, 0]], axis=1)
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    reach = np.sum(ring[:-1] * outward, axis=1)
    return tuple(FeetEdge(n, float(r)) for n, r in zip(outward, reach, strict=True))


def worst_moment(edge: FeetEdge, hand: Hand) -> float:
    """The greatest moment of the hand that tips outward over an edge, N mm."""
    sign = 1.0 if hand.turning == "top away from the sewer" else -1.0
    y = hand.axis_y_mm + hand.radius_mm * np.cos(_AROUND)
    z = hand.axis_z_mm + hand.radius_mm * np.sin(_AROUND)
    pull_y, pull_z = sign * np.sin(_AROUND), -sign * np.cos(_AROUND)
    beyond = edge.outward[0] * hand.handle_x_mm + edge.outward[1] * y - edge.reach_mm
    return float(np.max(hand.force_n * (z * pull_y * edge.outward[1] - beyond * pull_z)))


def tipping_leans(edge: FeetEdge, mass_g: Floats, centre_mm: Floats, moment: float) -> Floats:
    """The lean at which it goes over, degrees; negative where the moment alone tips it.

    Parameters
    ----------
    mass_g, centre_mm
        Of the whole, shapes (n,) and (n, 3), z from the table.
    moment
        N mm; 0 for nobody's hand. Where it tips at any lean, -90 is returned.
    """
    inside = edge.reach_mm - centre_mm[:, :2] @ edge.outward
    far = np.hypot(inside, centre_mm[:, 2])
    weight = mass_g / 1000.0 * GRAVITY
    share = np.maximum(moment / (weight * far), -1.0)
    lean = np.rad2deg(np.arccos(np.minimum(share, 1.0)) - np.arctan2(centre_mm[:, 2], inside))
    found: Floats = np.where(share >= 1.0, -90.0, lean)
    return found
