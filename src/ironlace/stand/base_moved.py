"""A base to move by hand: plan and elevations as outlines, and what other measures would give.

One function draws what the page first shows and what it shows after each move, so that the two
cannot differ. Drawn in mm: the plan with y up the page, the elevations with the table at 0.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np
import shapely

from ironlace.evidence.analyses import AskedError
from ironlace.evidence.arrays import Floats
from ironlace.stand.base import (
    BaseFound,
    base_in_words,
    side_in_words,
    stood_otherwise,
)
from ironlace.stand.base_drawing import hole_rings
from ironlace.stand.centre_cloud import cloud_ring
from ironlace.stand.elevations import VIEWS, OnItsBase, View, base_ends
from ironlace.stand.errors import StandError

NO_CRANK: Final = "no crank given"
"""What stands for a lean with a hand at the crank where nobody said what the crank is."""
MOST_FEET: Final = 12
"""More feet than any base has (a judgement)."""
_MOST_MM: Final = 1000.0
"""Of overhang and clearance: larger is no base (a judgement)."""
_MARGIN_MM: Final = 60.0
"""Round the plan, so that feet and overhang can be drawn out."""
_SAID: Final = 4
"""Sentences that are told again at each move: height, lean, what would give more."""


def base_moved(
    found: BaseFound, overhang_mm: float, below_mm: float, feet: Sequence[tuple[float, float]]
) -> BaseFound:
    """The same head on a base of another overhang, clearance below, and feet.

    Raises
    ------
    StandError
        When such a base cannot be, or falls over by itself.
    """
    if not (0.0 <= overhang_mm <= _MOST_MM and 0.0 <= below_mm <= _MOST_MM):
        raise StandError(f"Overhang and clearance go from 0 to {_MOST_MM:g} mm: move it back.")
    measures = replace(
        found.case.base,
        overhang_mm=overhang_mm,
        clearance_below_mm=below_mm,
        feet=tuple((float(x), float(y)) for x, y in feet),
    )
    return stood_otherwise(found, measures)


def feet_of_words(text: str) -> tuple[tuple[float, float], ...]:
    r"""Feet as typed: x_mm,y_mm, a line each, with or without that heading.

    Raises AskedError when a line holds no two numbers, or there are fewer than three.

    >>> feet_of_words("x_mm,y_mm\n-120,-80\n120,-80\n0,90")
    ((-120.0, -80.0), (120.0, -80.0), (0.0, 90.0))
    """
    lines = [one.strip() for one in text.strip().splitlines() if one.strip()]
    if lines and lines[0].casefold().replace(" ", "").startswith("x_mm"):
        lines = lines[1:]
    feet = []
    for number, line in enumerate(lines, 1):
        cells = line.replace("\t", ",").split(",")
        try:
            x, y = (float(one) for one in cells)
        except ValueError:
            x = y = float("nan")
        if not (abs(x) < 2000.0 and abs(y) < 2000.0):
            raise AskedError(
                f"Foot {number} reads '{line[:30]}': write x and y in mm, such as -120,-80.", "feet"
            )
        feet.append((x, y))
    if not 3 <= len(feet) <= MOST_FEET:
        raise AskedError(
            f"There are {len(feet)} feet: give three to {MOST_FEET}, x_mm,y_mm a line each.", "feet"
        )
    return tuple(feet)


def feet_in_words(feet: Sequence[tuple[float, float]]) -> str:
    """Feet as `feet_of_words` reads them."""
    return "\n".join(["x_mm,y_mm", *(f"{x:.1f},{y:.1f}" for x, y in feet)])


def base_in_view(one: OnItsBase) -> dict[str, Any]:  # dict: plain JSON for the page
    """Everything that moves with the base: outlines by name, feet, leans, sentences."""
    found = one.found
    outlines = _plan(found)
    for view in VIEWS:
        outlines |= {f"{view}-{name}": d for name, d in _elevation(one, view).items()}
    measures = found.case.base
    least = min(found.edges, key=lambda edge: edge.left_deg.value)
    return {
        "outlines": outlines,
        "feet": [list(foot) for foot in measures.feet],
        "overhang": measures.overhang_mm,
        "below": measures.clearance_below_mm,
        "height": found.height_mm,
        "leans": [
            [
                side_in_words(edge.outward),
                _lean(edge.free_deg),
                NO_CRANK if found.case.crank is None else _lean(edge.left_deg),
            ]
            for edge in found.edges
        ],
        "said": base_in_words(found)[:_SAID],
        "brief": (
            f"{found.height_mm:.1f} mm high; goes over {side_in_words(least.outward)} at "
            f"{least.left_deg.value:.1f}°; works {found.side_least.value:.1f} mm from the walls"
        ),
    }


def turning_in_view(one: OnItsBase) -> dict[str, Any]:  # dict: plain JSON for the page
    """Where works and crank stand round the wheel, in mm; the handle upright at the mark."""
    crank = one.found.case.crank
    return {
        "works": [
            {"name": path.name, "places": np.round(path.places, 2).tolist()}
            for path in one.found.works.paths
            if len(path.places) > 1
        ],
        "crank": None
        if crank is None
        else {
            "radius": crank.radius_mm,
            "y": crank.axis_y_mm,
            "z": crank.axis_above_seat_mm,
            "x": crank.handle_x_mm,
            "handle": crank.handle_radius_mm,
            "away": 1 if crank.turning == "top away from the sewer" else -1,
        },
    }


def view_boxes(one: OnItsBase) -> dict[str, tuple[float, float, float, float]]:
    """By view, the left, top, width and height that hold it with room to move, mm."""
    left, low, right, high = one.found.shape.outside.bounds
    feet = np.array(one.found.case.base.feet)
    left, right = min(left, feet[:, 0].min()), max(right, feet[:, 0].max())
    low, high = min(low, feet[:, 1].min()), max(high, feet[:, 1].max())
    m = _MARGIN_MM
    boxes = {"plan": (left - m, -high - m, right - left + 2 * m, high - low + 2 * m)}
    crank = one.found.case.crank
    tops = [0.0]
    for view in VIEWS:
        seen = one.silhouette(view)
        tops.append(0.0 if seen is None else seen.height_mm)
    if crank is not None:
        tops.append(crank.axis_above_seat_mm + crank.radius_mm + crank.handle_radius_mm)
    tall = one.found.height_mm + max(tops) + m
    for view in VIEWS:
        start, end = base_ends(one.found, view)
        if crank is not None and view == "front":
            end = max(end, crank.handle_x_mm + crank.handle_radius_mm)
        boxes[view] = (start - m, -tall, end - start + 2 * m, tall + 12.0)
    return {
        name: (float(x), float(y), float(wide), float(high))
        for name, (x, y, wide, high) in boxes.items()
    }


def _lean(span: Any) -> str:
    return f"{span.value:.1f}° ({span.low:.1f} to {span.high:.1f})"


def _plan(found: BaseFound) -> dict[str, str]:
    shape = found.shape
    rings = {
        "outside": shape.outside,
        "within": shape.within,
        "opening": shape.opening,
        "bed": shape.bed,
    }
    drawn = {f"plan-{name}": _ring(_coords(area)) for name, area in rings.items()}
    feet = shapely.convex_hull(shapely.MultiPoint(np.array(found.case.base.feet)))
    drawn["plan-feet"] = _ring(_coords(feet))
    drawn["plan-works"] = "".join(
        _ring(path.places[:, :2]) for path in found.works.paths if len(path.places) > 1
    )
    drawn["plan-holes"] = "".join(_ring(one) for one in hole_rings(found))
    drawn["plan-centre"] = _ring(cloud_ring(found.balance, (0, 1)))
    return drawn


def _elevation(one: OnItsBase, view: View) -> dict[str, str]:
    found, height = one.found, one.found.height_mm
    left, right = base_ends(found, view)
    wall, floor = found.case.base.wall_mm, found.case.base.floor_mm
    axis = VIEWS.index(view)
    seen = one.silhouette(view)
    moving = [path.places[:, [axis, 2]] for path in found.works.paths if len(path.places) > 1]
    still = [path.places[0, [axis, 2]] for path in found.works.paths if len(path.places) == 1]
    rise = np.array([0.0, height])
    walls = np.array(
        [(left + wall, height), (left + wall, floor), (right - wall, floor), (right - wall, height)]
    )
    return {
        "base": _ring(np.array([(left, 0), (right, 0), (right, height), (left, height)])),
        "walls": _ring(walls),
        "head": "" if seen is None else _ring(seen.ring_mm + rise),
        "works": "".join(_ring(places + rise) for places in moving)
        + "".join(f"M{x - 3:.1f} {-z - height:.1f}h6m-3 -3v6" for x, z in still),
        "centre": _ring(cloud_ring(found.balance, (axis, 2)) + rise),
    }


def _coords(area: Any) -> Floats:
    ring: Floats = np.array(area.exterior.coords[:-1])
    return ring


def _ring(points: Floats) -> str:
    """As a closed path, up turned down the page."""
    return "M" + "L".join(f"{x:.1f} {-y:.1f}" for x, y in points) + "Z"
