"""A drawing as a film positive: one bit, at any resolution, black where there is gilt."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from io import BytesIO
from typing import TYPE_CHECKING, Final

import numpy as np

from ironlace.ornament.errors import DrawingError
from ironlace.ornament.outline.drawing import Drawing, filled_area

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ironlace.ornament.stencils.sheets import Sheet

MARGIN_MM: Final = 5.0
"""Clear film around the window of the drawing, to hold it by (common practice, no source)."""

_TOLERANCE_MM: Final = 0.002
"""How far a chord may lie from its curve: a fifth of a dot at 2400 dpi."""


def film_of_drawing(
    drawing: Drawing,
    dpi: int = 1200,
    *,
    layer: str | None = None,
    kind: str = "png",
    progress: Callable[[float], None] | None = None,
) -> Iterator[bytes]:
    """Parts of a PNG or TIFF file, one after another.

    Parameters
    ----------
    drawing
        In mm; its window with 5 mm around it is the film, and a thin line shows its edge.
    dpi
        Dots to the inch, 300 to 4800; the file says them, so that it prints at true scale.
    layer
        One colour alone; all when left out.
    kind
        ``"png"`` (written strip by strip) or ``"tiff"`` (one bit, CCITT group 4).

    Raises
    ------
    DrawingError
        If there is no such layer, nothing is drawn, or the kind is neither.
    StencilError
        If the resolution is not usable or the film would be too large.
    """
    from ironlace.ornament.stencils.cut.film import film_png

    if kind not in ("png", "tiff"):
        raise DrawingError(f"'{kind}' is no film file that is written here: choose png or tiff.")
    sheet = _sheet(drawing, layer)
    if kind == "png":
        return film_png(sheet, dpi, progress=progress)
    return _tiff(sheet, dpi)


def _sheet(drawing: Drawing, layer: str | None) -> Sheet:
    from shapely import MultiPolygon, box, get_parts

    from ironlace.ornament.stencils.sheets import Sheet

    if layer is not None and layer not in drawing.layers:
        raise DrawingError(
            f"The drawing has no colour '{layer}': it has {', '.join(drawing.layers) or 'none'}."
        )
    whole: BaseGeometry = MultiPolygon()
    for name in drawing.layers if layer is None else (layer,):
        one = (p for p in drawing.paths if p.layer == name)
        whole = whole.union(filled_area(one, _TOLERANCE_MM))
    parts = [p for p in get_parts(whole) if p.geom_type == "Polygon"]
    if not parts:
        raise DrawingError("Nothing is drawn: there is nothing to put on film.")
    left, top, right, bottom = drawing.bounds_mm
    edge = box(left - MARGIN_MM, top - MARGIN_MM, right + MARGIN_MM, bottom + MARGIN_MM)
    return Sheet("film", layer or "all", MultiPolygon(parts), edge, np.zeros((0, 2)), 1.0)


def _tiff(sheet: Sheet, dpi: int) -> Iterator[bytes]:
    from PIL import Image

    from ironlace.ornament.stencils.cut.film import film_size, film_strips

    width, height = film_size(sheet, dpi)
    packed = np.concatenate(
        [np.packbits(rows, axis=1) for _, rows in film_strips(sheet, dpi, (width, height))]
    )
    out = BytesIO()
    picture = Image.frombytes("1", (width, height), packed.tobytes())
    picture.save(out, "TIFF", compression="group4", dpi=(dpi, dpi))
    yield out.getvalue()
