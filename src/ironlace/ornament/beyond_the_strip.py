"""What is drawn beyond the strip, apart from all that it encloses.

A strip laid as a frame says where the work lies, how it is shaped and how bright white is there.
Past its rim all three are carried on, and the work itself may end: what stands behind it is laid
flat as if it belonged to it, and takes on gilt's colour where the light is poor. An ornament that
runs on past the rim is joined to what lies within; islands out there are left out, and told.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ironlace.ornament.outline.drawing import Drawing
from ironlace.photographs.scale_strip import StripLayout

APART_MM: Final = 12.0
"""Outlines nearer to each other than this belong together: about the widest gap between the parts
of one ornament. A judgement, no source."""
TOLERANCE_MM: Final = 0.1
"""How coarsely outlines are taken for telling what lies near what."""
FRAME_SIDES: Final = 3.0
"""Sides of a marker that a strip must be wide and high to be a frame: beside a straight one
everything lies beyond it."""
ENCLOSED: Final = 0.1
"""Share of the outline that a frame must enclose, or it was laid beside the work. A judgement."""


def without_beyond(drawing: Drawing, strip: StripLayout) -> tuple[Drawing, float]:
    """The drawing without islands past a frame's rim, and how long their outlines were, mm.

    Parameters
    ----------
    drawing
        As it was traced.
    strip
        How it was laid.
    """
    left, top, right, bottom = strip.bounds_mm
    side = float(np.median([marker.side_mm for marker in strip.markers]))
    if min(right - left, bottom - top) < FRAME_SIDES * side:
        return drawing, 0.0
    rim = shapely.box(left, top, right, bottom)
    # a speck may have no more than two corners at this tolerance, so lines and not rings
    rings = [path.polygon(TOLERANCE_MM) for path in drawing.paths]
    shapes = np.array([shapely.LineString(np.vstack([xy, xy[:1]])) for xy in rings])
    lengths = shapely.length(shapes)
    within = shapely.intersects(shapes, rim)
    if within.all() or lengths[within].sum() < ENCLOSED * lengths.sum():
        return drawing, 0.0
    tree = shapely.STRtree(shapes)
    reached = within.copy()
    newly = np.flatnonzero(within)
    while len(newly):
        near = np.unique(tree.query(shapes[newly], predicate="dwithin", distance=APART_MM)[1])
        newly = near[~reached[near]]
        reached[newly] = True
    if reached.all():
        return drawing, 0.0
    paths = [path for path, kept in zip(drawing.paths, reached, strict=True) if kept]
    return drawing.with_paths(paths), float(lengths[~reached].sum())
