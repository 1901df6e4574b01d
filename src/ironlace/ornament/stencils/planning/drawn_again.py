"""The drawing read a second time, by a renderer that shares nothing with its first reader.

Sheets are planned from areas that `read_filled` makes of a drawing, and what they lay is compared
with the same areas: a misread drawing would be proved against itself. So the drawing's file is also
drawn by resvg, and the two are laid over each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final
from xml.etree import ElementTree

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from ironlace.evidence.arrays import Bools
from ironlace.ornament.files.svg_root import svg_root
from ironlace.ornament.files.svg_shapes import ASIDE
from ironlace.ornament.stencils.errors import OutlineError
from ironlace.ornament.stencils.planning.raster_proof import filled, raster_over
from ironlace.ornament.stencils.planning.runs import Raster

_PX_PER_MM: Final = 24.0
"""Pixels to the mm in which both are drawn, on drawings that are not too large for it (tuned; on
what was not kept)."""

_MOST_PIXELS: Final = 8_000_000
"""Pixels at most: the renderer takes four bytes for each and as many again for its PNG, and most of
its time goes into these. A drawing of 420 by 328 mm has 7.5 to the mm."""

_EDGE_MM: Final = 0.125
"""Across which a difference is no mere edge: three pixels of a drawing that is not too large
(tuned; on what was not kept)."""

_EDGE_PX: Final = 2
"""The same in pixels at least: drawn without softened edges, both readers ask the middle of a
pixel, and what chords and rounding move an edge by is one (none of nine drawings of all kinds
differed at 2, down to 0.2 million pixels)."""


_DPI: Final = 96.0
"""Pixels to the inch that CSS reckons with (CSS Values 4): by it a file's mm have a size at all."""


_PX_TO_A_MM: Final = _DPI / 25.4
"""Pixels to the mm at a zoom of one, where a file has a size in mm."""


@dataclass(frozen=True, slots=True)
class Difference:
    """Where a second reader sees the drawing otherwise.

    Attributes
    ----------
    missing_mm2
        What the renderer paints and the sheets were not planned for.
    added_mm2
        What the sheets were planned for and the renderer does not paint.
    where_mm
        Middle of the largest such place; None where there is none.
    """

    missing_mm2: float
    added_mm2: float
    where_mm: tuple[float, float] | None

    def as_dict(self) -> dict[str, Any]:
        """Plain values."""
        where = None if self.where_mm is None else [round(value, 2) for value in self.where_mm]
        return {
            "missing_mm2": round(self.missing_mm2, 3),
            "added_mm2": round(self.added_mm2, 3),
            "where_mm": where,
            "sentence": self.sentence,
        }

    @property
    def sentence(self) -> str:
        """What to do about it; empty where both see the same."""
        if self.where_mm is None:
            return ""
        x, y = self.where_mm
        area = max(self.missing_mm2, self.added_mm2)
        told = f"{area:.0f}" if area >= 10.0 else f"{area:.2g}"
        more = "not planned for" if self.missing_mm2 >= self.added_mm2 else "planned for in excess"
        return (
            f"A SECOND READER SEES THE DRAWING OTHERWISE: {told} mm² are {more}, most of it at "
            f"{x:.1f}, {y:.1f} mm. Make strokes, clips and see-through paint into plain filled "
            "shapes, and look at that place before you cut."
        )


def read_again(
    svg: str, region: MultiPolygon, bounds_mm: tuple[float, float, float, float]
) -> Difference:
    """Draw an SVG by resvg and compare what it paints with areas read of it.

    Parameters
    ----------
    svg
        The drawing's text.
    region
        What was read of it, in mm.
    bounds_mm
        Left, top, right, bottom of its page; what lies outside is not looked at, since no renderer
        paints it.

    Raises
    ------
    OutlineError
        If the renderer cannot draw it at all.
    """
    own = _ornament_alone(svg)
    painted, scale = _painted(own, raster_over(bounds_mm, _PX_PER_MM, _MOST_PIXELS))
    left, top, _, _ = bounds_mm
    rows, columns = painted.shape
    rings = [
        (shapely.get_coordinates(ring)[:-1] - (left, top)) * scale
        for part in region.geoms
        for ring in (part.exterior, *part.interiors)
    ]
    read = filled(rings, Raster(0.0, 0.0, 1.0, rows, columns))
    edge = max(_EDGE_PX, math.ceil(_EDGE_MM * scale))
    missing, added = _blobs(painted & ~read, edge), _blobs(read & ~painted, edge)
    mm2 = scale**2
    largest = max(missing, added, key=lambda found: found[1])
    where = None
    if largest[1]:
        column, row = (np.asarray(largest[2]) + 0.5) / scale + (left, top)
        where = (float(column), float(row))
    return Difference(missing[0] / mm2, added[0] / mm2, where)


def _ornament_alone(svg: str) -> str:
    """An SVG that does not show what its groups say stands beside the ornament.

    A drawing carries lines along its outlines that tell what is known of them, and may carry its
    photograph: a renderer paints them like anything else, and no reader may take them for ornament.
    """
    if "data-role" not in svg:
        return svg
    root = svg_root(svg)
    for element in root.iter():
        if element.get("data-role") in ASIDE:
            element.set("style", "display: none")
    return ElementTree.tostring(root, encoding="unicode")


def _painted(svg: str, raster: Raster) -> tuple[Bools, float]:
    """Where the renderer leaves paint that covers more than half, and its pixels to the mm."""
    wide_mm = raster.columns / raster.px_per_mm
    zoom = raster.px_per_mm / _PX_TO_A_MM
    seen = _rendered(svg, zoom)
    if seen.shape[1] / zoom > 2.0 * wide_mm:
        return seen, raster.px_per_mm
    # a file without units is drawn at one pixel to the unit, which its reader takes for a mm
    return _rendered(svg, raster.px_per_mm), raster.px_per_mm


def _rendered(svg: str, zoom: float) -> Bools:
    import cv2
    import resvg_py

    try:
        png = resvg_py.svg_to_bytes(
            svg_string=svg,
            zoom=zoom,
            dpi=_DPI,
            skip_system_fonts=True,
            # a pixel is painted or not: quicker, and what was read is asked so too
            shape_rendering="crisp_edges",
        )
    except ValueError as error:
        raise OutlineError(
            f"The drawing cannot be proved: a second reader of SVG refuses it ({error}). Save it "
            "as plain SVG from your drawing program."
        ) from error
    picture: NDArray[np.uint8] = np.asarray(
        cv2.imdecode(np.frombuffer(bytes(png), np.uint8), cv2.IMREAD_UNCHANGED), np.uint8
    )
    if picture.ndim == 3 and picture.shape[2] == 4:
        return np.asarray(cv2.extractChannel(picture, 3) > 127)
    # a page that is painted all over comes without its fourth channel
    return np.ones(picture.shape[:2], np.bool_)


def _blobs(differs: Bools, edge_px: int) -> tuple[float, float, tuple[float, float]]:
    """Pixels of a difference that is wider than an edge, of its largest place, and its middle."""
    import cv2

    square = np.ones((edge_px, edge_px), np.uint8)
    wide = cv2.morphologyEx(differs.view(np.uint8), cv2.MORPH_OPEN, square)
    if not wide.any():
        # to number no places takes as long as to number many
        return 0.0, 0.0, (0.0, 0.0)
    _, _, stats, middles = cv2.connectedComponentsWithStats(wide, connectivity=8)
    sizes = stats[1:, cv2.CC_STAT_AREA]
    at = int(np.argmax(sizes))
    column, row = middles[1 + at]
    return float(sizes.sum()), float(sizes[at]), (float(column), float(row))
