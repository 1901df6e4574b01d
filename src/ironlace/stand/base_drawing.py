"""A base drawn true to scale: plan, front and side elevation, cutting list, a bar to check.

One millimetre of the base is one millimetre of the drawing, in SVG and DXF alike; in the plan x
runs to the sewer's right and y away from the sewer, up the page.
"""

from collections.abc import Callable
from dataclasses import asdict, dataclass
from textwrap import wrap
from typing import Any
from xml.sax.saxutils import escape

import numpy as np
import shapely

from ironlace.evidence.arrays import Floats
from ironlace.evidence.dxf_document import dxf_text, new_document
from ironlace.stand.base import BaseFound

_GAP_MM = 15.0
"""Between plan, elevations and words."""

_LETTER_MM = 4.0
"""Height of letters."""

_BAR_MM = 100.0
"""Length of the bar to check a print with."""

_ROUND = 64
"""Straight pieces of a hole's ring."""

_SIGNS = 76
"""Of a line of words: it then stands on one page of A4 or Letter."""

_LINE_MM = 0.25
"""Width of a line."""


@dataclass(frozen=True, slots=True)
class CutPart:
    """One line of the cutting list: net sizes in mm, before round corners are worked."""

    name: str
    count: int
    length_mm: float
    width_mm: float
    thick_mm: float
    remark: str


def cutting_list(found: BaseFound) -> tuple[CutPart, ...]:
    """What to cut for a base, net: walls, floor, ledge."""
    measures, shape = found.case.base, found.shape
    across, deep = _size(shape.outside)
    in_across, in_deep = _size(shape.within)
    ledge = measures.ledge_mm + measures.overhang_mm - measures.wall_mm
    along = "grain along the length"
    parts = [
        CutPart("front and back wall", 2, across, found.height_mm, measures.wall_mm, along),
        CutPart(
            "end wall",
            2,
            deep - 2.0 * measures.wall_mm,
            found.height_mm,
            measures.wall_mm,
            f"{along}; glued between front and back, blocks in the corners, then rounded outside",
        ),
        CutPart(
            "floor",
            1,
            in_across,
            in_deep,
            measures.floor_mm,
            f"{along}; let in between the walls",
        ),
    ]
    if ledge > 0.0:
        parts.append(
            CutPart(
                "ledge, in lengths",
                1,
                float(shape.within.exterior.length),
                ledge,
                measures.wall_mm,
                f"{along}; glued inside the walls, felt on top: nothing is fixed to the iron",
            )
        )
    return tuple(parts)


def cutting_told(found: BaseFound) -> list[dict[str, Any]]:  # dict: plain JSON
    """The cutting list as plain figures, mm."""
    return [asdict(part) for part in cutting_list(found)]


def base_svg(found: BaseFound) -> str:
    """The drawing as SVG in mm; the paths' ids name the outlines."""
    outside = found.shape.outside
    left, low, right, high = outside.bounds
    across, deep, tall = right - left, high - low, found.height_mm
    words = _words(found)
    longest = max(_BAR_MM, across, deep, *(len(w) * _LETTER_MM * 0.55 for w in words))
    width = longest + 2.0 * _GAP_MM
    plan_top, front_top = _GAP_MM, 2.0 * _GAP_MM + deep
    bar_y = front_top + 2.0 * (tall + _GAP_MM)
    height = bar_y + _GAP_MM + len(words) * _LETTER_MM * 1.5
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.4f}mm" height="{height:.4f}mm" '
        f'viewBox="0 0 {width:.4f} {height:.4f}">',
        "<title>Base, true to scale</title>",
        f'<g fill="none" stroke="#000" stroke-width="{_LINE_MM}">',
    ]
    to_page = np.array([_GAP_MM - left, plan_top + high])
    for name, ring in _rings(found).items():
        dash = ' stroke-dasharray="4 1.5"' if name == "bed" else ""
        lines.append(f'<path id="{name}"{dash} d="{_path(ring * [1.0, -1.0] + to_page)}"/>')
    for n, (name, wide) in enumerate(_elevations(found).items()):
        box = _rectangle(_GAP_MM, front_top + n * (tall + _GAP_MM), wide, tall)
        lines.append(f'<path id="{name}" d="{_path(box)}"/>')
    lines.append(f'<path id="bar" d="M{_GAP_MM} {bar_y:.4f}h{_BAR_MM}"/>')
    lines += [
        f'<path d="M{_GAP_MM + at} {bar_y - 2:.4f}v4"/>' for at in (0.0, _BAR_MM / 2.0, _BAR_MM)
    ]
    lines.append("</g>")
    lines.append(f'<g font-family="sans-serif" font-size="{_LETTER_MM}" fill="#000">')
    for n, one in enumerate(found.holes, 1):
        x, y = np.array([one.hole.x_mm, -one.hole.y_mm]) + to_page
        beside = x + one.hole.diameter_mm / 2.0 + 1.0
        lines.append(f'<text x="{beside:.2f}" y="{y + _LETTER_MM / 3.0:.2f}">{n}</text>')
    for n, word in enumerate(words):
        y = bar_y + _GAP_MM / 2.0 + (n + 1) * _LETTER_MM * 1.5
        lines.append(f'<text x="{_GAP_MM}" y="{y:.2f}">{escape(word)}</text>')
    return "\n".join([*lines, "</g>", "</svg>", ""])


def base_dxf(found: BaseFound) -> str:
    """The drawing as DXF in mm; the layers name the outlines, the plan in the bed's coordinates."""
    document = new_document()
    space = document.modelspace()
    left, low, _, _ = found.shape.outside.bounds
    below = low
    drawn = dict(_rings(found))
    for name, wide in _elevations(found).items():
        below -= _GAP_MM + found.height_mm
        drawn[name] = _rectangle(left, below, wide, found.height_mm)
    for name, ring in drawn.items():
        layer = name.upper().replace("-", "_")
        document.layers.add(layer)
        space.add_lwpolyline(ring.tolist(), close=True, dxfattribs={"layer": layer})
    document.layers.add("BAR")
    bar_y = below - _GAP_MM
    space.add_line((left, bar_y), (left + _BAR_MM, bar_y), dxfattribs={"layer": "BAR"})
    document.layers.add("WORDS")
    for n, word in enumerate(_words(found)):
        at = (left, bar_y - (n + 2) * _LETTER_MM * 1.5)
        space.add_text(word, height=_LETTER_MM, dxfattribs={"layer": "WORDS"}).set_placement(at)
    return dxf_text(document)


def _rings(found: BaseFound) -> dict[str, Floats]:
    """By name, each outline of the plan in the bed's coordinates, no point repeated."""
    shape = found.shape
    named = {
        "outside": shape.outside,
        "within": shape.within,
        "opening": shape.opening,
        "bed": shape.bed,
    }
    rings = {name: np.array(one.exterior.coords[:-1]) for name, one in named.items()}
    return rings | {f"hole-{n}": ring for n, ring in enumerate(hole_rings(found), 1)}


def hole_rings(found: BaseFound) -> list[Floats]:
    """The bed's holes as rings in its coordinates, mm."""
    turned = np.linspace(0.0, 2.0 * np.pi, _ROUND, endpoint=False)
    circle = np.column_stack([np.cos(turned), np.sin(turned)])
    return [
        np.array([one.hole.x_mm, one.hole.y_mm]) + one.hole.diameter_mm / 2.0 * circle
        for one in found.holes
    ]


def _elevations(found: BaseFound) -> dict[str, float]:
    """By name, how wide each elevation is."""
    across, deep = _size(found.shape.outside)
    return {"front-elevation": across, "side-elevation": deep}


def _words(found: BaseFound) -> list[str]:
    """What stands beside the drawing: sizes, cutting list, felt."""
    across, deep = _size(found.shape.outside)
    said = [
        f"Base {across:.1f} x {deep:.1f} mm, {found.height_mm:.1f} mm from table to seat. "
        "The bar is 100 mm long.",
        "Plan: outside, inside of the walls, opening; dashed: the bed. Below: from the front, from "
        "the side.",
    ]
    for part in cutting_list(found):
        size = f"{part.length_mm:.1f} x {part.width_mm:.1f} x {part.thick_mm:.1f} mm"
        said.append(f"{part.count} {part.name}: {size}, {part.remark}")
    for n, one in enumerate(found.holes, 1):
        may = f"{one.wood_mm:.1f} mm of wood beside it" if one.usable else "not to be used"
        said.append(f"Hole {n}, {one.hole.name}: {one.hole.diameter_mm:.1f} mm, {may}")
    return [line for one in said for line in wrap(one, _SIGNS, subsequent_indent="  ")]


def _size(area: shapely.Polygon) -> tuple[float, float]:
    left, low, right, high = area.bounds
    return right - left, high - low


def _rectangle(x: float, y: float, width: float, height: float) -> Floats:
    return np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def _path(ring: Floats) -> str:
    return "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in ring) + "Z"


def _as_bytes(draw: Callable[[BaseFound], str]) -> Callable[[BaseFound], bytes]:
    return lambda found: draw(found).encode("utf-8")


DRAWN = {"svg": _as_bytes(base_svg), "dxf": _as_bytes(base_dxf)}
"""By a file's ending, what draws a base for it."""
