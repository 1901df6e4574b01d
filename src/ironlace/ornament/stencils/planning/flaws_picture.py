"""A picture of what falls out: every flaw by number, told by pattern as well as colour.

Islands are hatched one way, tongues the other, thin webs are ringed twice, narrow openings ringed
by dashes. Hatching is drawn as lines, so that every program that shows the picture shows it alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Floats
from ironlace.ornament.stencils.sheets import polygon_data
from ironlace.ornament.stencils.webs import with_fewer_corners

if TYPE_CHECKING:
    from ironlace.ornament.stencils.planning.layer_plan import LayerPlan

FlawKind = Literal["island", "tongue", "web", "narrow"]

WORDS: Final[dict[FlawKind, str]] = {
    "island": "island: falls out unless it is held",
    "tongue": "tongue: held at one end, curls or lifts",
    "web": "thin web: the gap between openings is crowded",
    "narrow": "narrow opening: may not come out clean",
}
"""What each kind of flaw is, for a legend."""

_COLOURS: Final[dict[FlawKind, str]] = {
    "island": "#7a2d12",
    "tongue": "#1d4f7a",
    "web": "#7a1260",
    "narrow": "#2d5a1e",
}
_GILT: Final = "#e3d3a6"
_AIR_MM: Final = 6.0
"""Left around the drawing for the numbers that stand beside it."""

_SLOPES: Final[Mapping[FlawKind, float]] = {"island": 1.0, "tongue": -1.0}
"""Which kinds are hatched, and which way."""

_POLYGON: Final = 3
"""Number of a polygon among shapely's types."""

_MOST_HATCHED: Final = 3000
"""Flaws that are hatched; beyond, outline and number must do (tuned; on what was not kept)."""

_LEAST_LINE_MM: Final = 0.002
"""Two of the last decimals that are written: shorter lines of a hatching are left out."""

_LEAST_LETTER_MM: Final = 0.5
"""To be read on the screen, brought nearer; the table says where each place is."""


@dataclass(frozen=True, eq=False)
class Flaw:
    """One place that falls out or is too weak.

    Attributes
    ----------
    number
        As it stands in the picture and the table.
    kind
        ``"island"``, ``"tongue"``, ``"web"`` or ``"narrow"``.
    colour
        Name of the colour's layer.
    where_mm
        A place in it.
    length_mm
        An island's longest extent, a tongue's or web's length, a narrow place's length.
    width_mm
        Where it is narrowest, for a tongue on average; of an island, its area over its length.
    area_mm2
        Its area.
    shape
        Its outline.
    """

    number: int
    kind: FlawKind
    colour: str
    where_mm: tuple[float, float]
    length_mm: float
    width_mm: float
    area_mm2: float
    shape: Polygon

    def as_dict(self) -> dict[str, object]:
        """Plain values."""
        return {
            "number": self.number,
            "kind": self.kind,
            "colour": self.colour,
            "x_mm": round(self.where_mm[0], 2),
            "y_mm": round(self.where_mm[1], 2),
            "length_mm": round(self.length_mm, 2),
            "width_mm": round(self.width_mm, 3),
            "area_mm2": round(self.area_mm2, 3),
        }


def flaws_of(layers: Sequence[LayerPlan]) -> list[Flaw]:
    """Every flaw of a plan's drawing, numbered: islands first, the largest first of each kind."""
    out: list[Flaw] = []

    def note(
        kind: FlawKind,
        colour: str,
        at: tuple[float, float],
        length: float,
        width: float,
        shape: Polygon,
    ) -> None:
        out.append(Flaw(len(out) + 1, kind, colour, at, length, width, float(shape.area), shape))

    for layer in layers:
        extents = layer.falling.extents.tolist()
        for island, extent in zip(layer.falling.islands, extents, strict=True):
            width = float(island.area) / max(extent, 1e-9)
            note("island", layer.name, _inside(island), extent, width, island)
    for layer in layers:
        for tongue in sorted(layer.falling.tongues, key=lambda t: -t.length_mm):
            at = _inside(tongue.shape)
            note("tongue", layer.name, at, tongue.length_mm, tongue.width_mm, tongue.shape)
    for layer in layers:
        for web in sorted(layer.falling.webs, key=lambda w: w.width_mm):
            note("web", layer.name, web.where, web.length_mm, web.width_mm, web.shape)
    for layer in layers:
        for place in sorted(layer.falling.narrow, key=lambda p: -p.area):
            length = max(float(place.length) / 2.0, 1e-9)
            note("narrow", layer.name, _inside(place), length, place.area / length, place)
    return out


def flaws_csv(flaws: Sequence[Mapping[str, object]]) -> str:
    """Flaws as CSV by their numbers, from what `Flaw.as_dict` told."""
    lines = ["number,kind,colour,x_mm,y_mm,length_mm,width_mm,area_mm2"]
    for told in flaws:
        colour = '"' + str(told["colour"]).replace('"', '""') + '"'
        lines.append(",".join(colour if k == "colour" else str(v) for k, v in told.items()))
    return "\n".join(lines) + "\n"


def flaws_svg(layers: Sequence[LayerPlan], flaws: Sequence[Flaw], title: str) -> str:
    """The drawing with its flaws marked and numbered, as SVG in mm at true scale."""
    boxes = np.array([layer.drawn.bounds for layer in layers])
    left, top = boxes[:, 0].min() - _AIR_MM, boxes[:, 1].min() - _AIR_MM
    right, bottom = boxes[:, 2].max() + _AIR_MM, boxes[:, 3].max() + _AIR_MM
    kinds = [kind for kind in WORDS if any(f.kind == kind for f in flaws)]
    letter = float(np.clip(np.hypot(right - left, bottom - top) / 90.0, 1.1, 2.6))
    right = max(right, left + 70.0)
    foot = 5.0 + 5.0 * max(len(kinds), 1)
    width, height = right - left, bottom - top + foot
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" height="{height:.3f}mm" '
        f'viewBox="{left:.3f} {top:.3f} {width:.3f} {height:.3f}">',
        f"<title>{_escaped(title)}</title>",
        f'<rect x="{left:.3f}" y="{top:.3f}" width="{width:.3f}" height="{height:.3f}" '
        'fill="#ffffff"/>',
        f'<g id="drawing" fill="{_GILT}" fill-rule="evenodd" stroke="#8a7a4c" stroke-width="0.08">',
    ]
    out += [_path(layer.drawn) for layer in layers]
    out.append("</g>")
    hatched = _MOST_HATCHED
    for kind in kinds:
        out.append(f'<g id="{kind}s" fill="none" stroke="{_COLOURS[kind]}" stroke-width="0.12">')
        own = [flaw for flaw in flaws if flaw.kind == kind]
        out += _marks(own, max(0, hatched))
        hatched -= len(own)
        out.append("</g>")
    out.append(
        '<g id="numbers" font-family="sans-serif" font-weight="bold" text-anchor="middle" '
        'fill="#14110e">'
    )
    sizes = _letter_sizes(flaws, letter)
    for flaw, size in zip(flaws, sizes, strict=True):
        x, y = flaw.where_mm
        # beside what is too thin to carry its number
        if flaw.kind in ("web", "narrow"):
            x, y = x + 0.9 * size, y - 0.9 * size
        wide = size * (0.35 + 0.32 * len(str(flaw.number)))
        out.append(
            f'<rect x="{x - wide:.3f}" y="{y - 0.62 * size:.3f}" width="{2 * wide:.3f}" '
            f'height="{1.24 * size:.3f}" rx="{0.3 * size:.3f}" fill="#ffffff" '
            f'fill-opacity="0.75"/><text x="{x:.3f}" y="{y + 0.36 * size:.3f}" '
            f'font-size="{size:.2f}">{flaw.number}</text>'
        )
    out.append("</g>")
    out.append(_legend(kinds, left + 2.0, bottom + 2.0))
    out.append("</svg>\n")
    return "\n".join(out)


def _letter_sizes(flaws: Sequence[Flaw], largest: float) -> list[float]:
    """Height of each number: smaller where they crowd, so that they do not hide one another."""
    from scipy.spatial import KDTree

    if len(flaws) < 2:
        return [largest] * len(flaws)
    places = np.array([flaw.where_mm for flaw in flaws])
    away = np.asarray(KDTree(places).query(places, k=2)[0])[:, 1]
    return [float(size) for size in np.clip(0.55 * away, _LEAST_LETTER_MM, largest)]


def _legend(kinds: Sequence[FlawKind], x: float, y: float) -> str:
    out = ['<g id="legend" font-family="sans-serif" font-size="2.6" fill="#14110e">']
    if not kinds:
        out.append(f'<text x="{x:.3f}" y="{y + 3:.3f}">nothing falls out, nothing is weak</text>')
    for n, kind in enumerate(kinds):
        at = y + 5.0 * n
        swatch = shapely.box(x, at, x + 6.0, at + 3.4)
        sample = Flaw(0, kind, "", (x + 3.0, at + 1.7), 0.0, 0.0, 0.0, swatch)
        out.append(
            f'<g fill="none" stroke="{_COLOURS[kind]}" stroke-width="0.12">'
            f"{_marks([sample], 1, swatch=True)[0]}</g>"
            f'<text x="{x + 8.0:.3f}" y="{at + 2.6:.3f}">{WORDS[kind]}</text>'
        )
    out.append("</g>")
    return "\n".join(out)


def _marks(flaws: Sequence[Flaw], hatched: int, *, swatch: bool = False) -> list[str]:
    """Outline and pattern of each flaw, the first so many hatched where their kind is."""
    if not flaws:
        return []
    shapes = np.array([flaw.shape for flaw in flaws], dtype=object)
    lighter = shapely.simplify(shapes, 0.01, preserve_topology=False)
    sound = (shapely.get_type_id(lighter) == _POLYGON) & ~shapely.is_empty(lighter)
    sound &= shapely.is_valid(lighter)
    outlines = [polygon_data(shape) for shape in np.where(sound, lighter, shapes)]
    asked = [n for n, flaw in enumerate(flaws[:hatched]) if flaw.kind in _SLOPES]
    slope = np.array([_SLOPES[flaws[n].kind] for n in asked])
    lines = dict(zip(asked, _hatching(shapes[asked], slope), strict=True)) if asked else {}
    return [
        _mark(flaw, f'<path d="{outline}"/>', lines.get(n, ""), swatch=swatch)
        for n, (flaw, outline) in enumerate(zip(flaws, outlines, strict=True))
    ]


def _mark(flaw: Flaw, outline: str, hatching: str, *, swatch: bool) -> str:
    """Outline and pattern of one flaw."""
    if flaw.kind in _SLOPES:
        return outline + hatching
    x, y = flaw.where_mm
    reach = 1.5 if swatch else float(np.clip(flaw.length_mm / 2.0, 0.5, 2.5))
    dash = ' stroke-dasharray="0.6 0.4"' if flaw.kind == "narrow" else ""
    ring = f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{reach:.3f}" stroke-width="0.2"{dash}/>'
    if flaw.kind == "web":
        ring += f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{reach * 0.75:.3f}" stroke-width="0.2"/>'
    return ring if swatch else outline + ring


def _hatching(shapes: NDArray[np.object_], slope: Floats) -> list[str]:
    """Slanting lines over each shape, wider apart on a larger one; ``slope`` is 1 or -1, (n,).

    The lines are where scan lines, turned by 45 degrees, lie within (even-odd).
    """
    box = shapely.bounds(shapes)
    apart = np.clip(np.sqrt(np.maximum(shapely.area(shapes), 1e-6)) / 6.0, 0.35, 1.6) * np.sqrt(2.0)
    # along u lines follow each other, along v each one runs
    first = box[:, 0] - (box[:, 3] - box[:, 1]) + np.where(slope > 0, box[:, 3], -box[:, 1])
    rings, shape = shapely.get_rings(shapes, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    of = shape[ring]
    u = (xy[:, 0] + slope[of] * xy[:, 1] - first[of]) / apart[of]
    v = xy[:, 0] - slope[of] * xy[:, 1]
    edge = np.flatnonzero(np.diff(ring) == 0)
    low, high = np.minimum(u[edge], u[edge + 1]), np.maximum(u[edge], u[edge + 1])
    begin = np.ceil(low).astype(np.int64)
    count = np.ceil(high).astype(np.int64) - begin
    line = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count - begin, count)
    edge = np.repeat(edge, count)
    share = (line - u[edge]) / (u[edge + 1] - u[edge])
    at = v[edge] + share * (v[edge + 1] - v[edge])
    own = of[edge]
    order = np.lexsort((at, line, own))
    # a line that only touches a corner is told as no line at all
    order = order[np.repeat(np.diff(at[order].reshape(-1, 2), axis=1)[:, 0] > _LEAST_LINE_MM, 2)]
    own, line, at = own[order], line[order], at[order]
    across = line * apart[own] + first[own]
    ends = np.stack([across + at, slope[own] * (across - at)], axis=1) / 2.0
    told = [f"M{a:.3f} {b:.3f}L{c:.3f} {d:.3f}" for a, b, c, d in ends.reshape(-1, 4).tolist()]
    lines = np.bincount(own[::2], minlength=len(shapes))
    last = np.cumsum(lines).tolist()
    return [
        f'<path d="{"".join(told[a:b])}"/>' if b > a else ""
        for a, b in zip([0, *last], last, strict=False)
    ]


def _path(region: MultiPolygon) -> str:
    lighter = with_fewer_corners(region, 0.01)
    return f'<path d="{"".join(polygon_data(p) for p in lighter.geoms)}"/>'


def _inside(shape: Polygon) -> tuple[float, float]:
    """The middle of a shape, if it lies in it; else a place that does."""
    middle = shape.centroid
    at = middle if shape.contains(middle) else shape.representative_point()
    return (float(at.x), float(at.y))


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
