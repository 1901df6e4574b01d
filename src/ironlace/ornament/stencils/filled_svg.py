"""What an SVG fills, as areas by colour: later ones hide what lies below them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from ironlace.ornament.files.svg_paint import plain_colour
from ironlace.ornament.files.svg_shapes import read_svg
from ironlace.ornament.outline.drawing import ring_polygon
from ironlace.ornament.stencils.errors import OutlineError
from ironlace.ornament.stencils.regions import as_region, filled_region, ring_lines

TOLERANCE_MM: Final = 0.002
"""Farthest a chord may lie from its curve: a fiftieth of the finest web of any process."""


@dataclass(frozen=True)
class Layer:
    """What is filled in one colour, where no later colour covers it.

    Attributes
    ----------
    name
        Its layer's name, or its colour.
    colour
        As CSS writes it.
    region
        The area in mm, y down.
    """

    name: str
    colour: str
    region: MultiPolygon


@dataclass(frozen=True)
class DrawnAreas:
    """A drawing as areas by colour.

    Attributes
    ----------
    layers
        In the order they are laid.
    bounds_mm
        Left, top, right, bottom of what is shown of the drawing's page.
    notices
        What the reader should know: a scale that had to be assumed, strokes left out.
    """

    layers: tuple[Layer, ...]
    bounds_mm: tuple[float, float, float, float]
    notices: tuple[str, ...] = ()

    @property
    def region(self) -> MultiPolygon:
        """Everything that is to be laid, whatever its colour."""
        if len(self.layers) == 1:
            return self.layers[0].region
        return as_region(shapely.unary_union([layer.region for layer in self.layers]))


def read_filled(svg: str, tolerance_mm: float = TOLERANCE_MM) -> DrawnAreas:
    """Read an SVG of filled outlines, as `ironlace.ornament.files.svg_shapes.read_svg` does.

    Parameters
    ----------
    svg
        Its text.
    tolerance_mm
        Farthest a chord may lie from its curve.

    Raises
    ------
    OutlineError
        If it is no SVG, has no scale, holds nothing filled, or holds text or pictures, which must
        be made outlines first.
    """
    read = read_svg(svg, OutlineError)
    areas = []
    for shape in read.shapes:
        rings = [ring_polygon(ring, tolerance_mm) for ring in shape.rings]
        region = filled_region(rings, shape.rule)
        if not region.is_empty:
            colour = plain_colour(shape.fill)
            areas.append((shape.layer or colour, colour, region))
    layers = _stacked(areas)
    if not layers:
        raise OutlineError("Everything filled in the SVG has no area; give it closed shapes.")
    return DrawnAreas(layers, read.shown_mm, read.notices)


def _stacked(shapes: list[tuple[str, str, MultiPolygon]]) -> tuple[Layer, ...]:
    """Shapes gathered by layer; later ones hide what lies below them."""
    names = list(dict.fromkeys(name for name, _, _ in shapes))
    runs: list[tuple[str, list[MultiPolygon]]] = []
    for name, _, region in shapes:
        if not runs or runs[-1][0] != name:
            runs.append((name, []))
        runs[-1][1].append(region)
    colour = {name: colour for name, colour, _ in reversed(shapes)}
    seen: dict[str, list[MultiPolygon]] = {name: [] for name in names}
    above: MultiPolygon | None = None
    for name, regions in reversed(runs):
        whole = _united(regions)
        seen[name].append(as_region(whole.difference(above)) if above is not None else whole)
        above = whole if above is None else as_region(above.union(whole))
    out = [Layer(n, colour[n], _united(seen[n])) for n in names]
    return tuple(layer for layer in out if not layer.region.is_empty)


def _united(regions: list[MultiPolygon]) -> MultiPolygon:
    if len(regions) == 1:
        return regions[0]
    parts = np.concatenate([shapely.get_parts(r) for r in regions])
    if len(parts) < 2:
        return MultiPolygon(list(parts))
    # shapes that lie apart need no overlay, which keeps their corners as they were drawn
    if not _meet(np.asarray(parts, dtype=object)):
        return MultiPolygon(list(parts))
    return as_region(shapely.unary_union(parts))


def _meet(parts: NDArray[np.object_]) -> bool:
    """Whether any two polygons have a point in common.

    Their outlines meet, which is told by short lines of them, or else one lies in the other whole.
    """
    rings, part = shapely.get_rings(parts, return_index=True)
    lines, ring = ring_lines(rings)
    owner = part[ring]
    one, two = shapely.STRtree(lines).query(lines)
    other = owner[one] < owner[two]
    if shapely.intersects(lines[one[other]], lines[two[other]]).any():
        return True
    one, two = shapely.STRtree(parts).query(parts)
    outer, inner = parts[one[one != two]], parts[two[one != two]]
    corner = shapely.get_point(shapely.get_exterior_ring(inner), 0)
    shapely.prepare(outer)
    return bool(shapely.intersects(outer, corner).any())


def trapped(layers: tuple[Layer, ...], trap_mm: float) -> tuple[Layer, ...]:
    """Grow every colour under the later ones that touch it, so that no ground shows between them.

    The later colour keeps its outline, for it is the one that is seen (trapping: common practice,
    no source). ``trap_mm`` is the registration error to be hidden.
    """
    if trap_mm <= 0 or len(layers) < 2:
        return layers
    out = []
    for n, layer in enumerate(layers):
        later = [other.region for other in layers[n + 1 :]]
        if not later:
            out.append(layer)
            continue
        under = layer.region.buffer(trap_mm).intersection(shapely.unary_union(later))
        out.append(Layer(layer.name, layer.colour, as_region(layer.region.union(under))))
    return tuple(out)
