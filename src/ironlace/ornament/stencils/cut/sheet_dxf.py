"""A sheet as DXF in mm, y up: layers OPENINGS, REGISTER, EDGE and NOTES."""

from __future__ import annotations

import numpy as np
import shapely

from ironlace.evidence.arrays import Floats
from ironlace.evidence.dxf_document import dxf_text, new_document
from ironlace.ornament.stencils.sheets import Sheet


def sheet_dxf(sheet: Sheet) -> str:
    """Write a sheet as DXF."""
    from ironlace.ornament.stencils.cut.dxf_outlines import add_outlines

    document = new_document()
    for name, number in (("OPENINGS", 7), ("REGISTER", 3), ("EDGE", 5), ("NOTES", 8)):
        document.layers.add(name, color=number)
    space = document.modelspace()

    rings = [
        ring for opening in sheet.openings.geoms for ring in (opening.exterior, *opening.interiors)
    ]
    add_outlines(space, "OPENINGS", [_corners(ring) for ring in rings])
    add_outlines(space, "EDGE", [_corners(sheet.edge.exterior)])
    for x, y in sheet.register_mm.tolist():
        space.add_circle((x, -y), sheet.register_hole_mm / 2, dxfattribs={"layer": "REGISTER"})
    for line, _ in sheet.notes:
        points = (line * (1.0, -1.0)).tolist()
        space.add_lwpolyline(points, dxfattribs={"layer": "NOTES"})
    left, _, _, bottom = sheet.edge.bounds
    text = space.add_text(sheet.title, height=3, dxfattribs={"layer": "NOTES"})
    text.set_placement((left + 3, -(bottom - 8)))
    return dxf_text(document)


def _corners(ring: shapely.LinearRing) -> Floats:
    """Corners of a closed outline, y up, (n, 2)."""
    return np.asarray(shapely.get_coordinates(ring)[:-1] * (1.0, -1.0))
