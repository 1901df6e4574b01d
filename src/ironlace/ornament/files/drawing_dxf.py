"""A drawing as DXF: every outline one closed cubic spline, exactly the drawing's own curve."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from ironlace.evidence.dxf_document import dxf_text, new_document
from ironlace.evidence.grades import Grade, weakest
from ironlace.ornament.errors import DrawingError

if TYPE_CHECKING:
    from ironlace.ornament.outline.drawing import Drawing

_LINE_TYPES: Final = {
    Grade.SEEN: ("CONTINUOUS", None),
    Grade.MEASURED: ("IRONLACE_MEASURED", "long dashes"),
    Grade.INFERRED: ("IRONLACE_INFERRED", "short dashes"),
    Grade.CONJECTURED: ("IRONLACE_CONJECTURED", "dots"),
}


def drawing_dxf(drawing: Drawing) -> str:
    """Write a drawing as DXF (R2010) in mm, y up, a layer for each colour.

    An outline becomes one closed SPLINE of degree 3 whose inner knots are tripled, which is the
    same curve as its chain of cubic Béziers, not an approximation. A spline has one line type, so
    an outline is drawn in that of the weakest grade along it; the stretches stand in the SVG.

    Raises
    ------
    DrawingError
        When the drawing holds no outline.
    """
    from ezdxf.math import Vec3

    if not drawing.paths:
        raise DrawingError("The drawing holds no outline, so there is nothing to write as DXF.")
    document = new_document()
    for grade, (name, words) in _LINE_TYPES.items():
        if words is not None:
            pattern = [sum(grade.dash_mm), grade.dash_mm[0], -grade.dash_mm[1]]
            document.linetypes.add(name, pattern, description=f"{grade}: {words}")
    space = document.modelspace()
    layers: dict[str, str] = {}
    for path in drawing.paths:
        if path.layer not in layers:
            layers[path.layer] = re.sub(r"[^A-Za-z0-9_-]", "_", path.layer) or "0"
            red, green, blue = drawing.colours.get(path.layer, (0, 0, 0))
            document.layers.add(layers[path.layer]).rgb = (red, green, blue)
        curves = path.curves
        points = [Vec3(*curves[0, 0] * (1, -1))]
        for curve in curves:
            points += [Vec3(*place) for place in curve[1:] * (1, -1)]
        knots = [0.0] * 4 + [float(k) for k in range(1, len(curves)) for _ in range(3)]
        knots += [float(len(curves))] * 4
        line_type = _LINE_TYPES[weakest(path.grades)][0]
        spline = space.add_spline(dxfattribs={"layer": layers[path.layer], "linetype": line_type})
        spline.dxf.degree = 3
        spline.control_points = points
        spline.knots = knots
        spline.closed = True
    return dxf_text(document)
