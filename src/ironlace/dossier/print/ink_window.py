"""Where in a drawing something is drawn, and the drawing cut down to it."""

import io
import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ironlace.dossier.errors import DrawingRefusedError
from ironlace.dossier.print.plain_drawing import PlainDrawing
from ironlace.ornament import drawing_from_svg
from ironlace.ornament.errors import OrnamentError

_INK_PX = 3000
"""Of the rendering's longer side: a tenth of a millimetre on a drawing of 300 mm."""

_AIR_MM = 2.0
"""Left around what is drawn, so that no line touches the edge."""

_LEAST_DARKNESS = 5.0
"""Of 255: less is the rendering's own softness, no ink."""

_EVIDENCE = "data-evidence="

_ROOT_TAG = re.compile(r"""<svg\b(?:[^>"']|"[^"]*"|'[^']*')*>""")


@dataclass(frozen=True, slots=True)
class InkWindow:
    """The part of a drawing in which something is drawn, in mm from the drawing's corner.

    Attributes
    ----------
    left, top, width, height
        The window, with up to 2 mm of air on every side.
    drawn_width, drawn_height
        What is drawn, without the air: of a drawing that carries its evidence the paint alone,
        without the lines laid over its edges, as `Drawing.painted_mm` has it everywhere.
    """

    left: float
    top: float
    width: float
    height: float
    drawn_width: float
    drawn_height: float

    @property
    def size(self) -> str:
        """The size of what is drawn, in words."""
        return f"{self.drawn_width:.1f} × {self.drawn_height:.1f} mm"


def ink_window(drawing: PlainDrawing) -> InkWindow:
    """Find where something is drawn.

    A drawing often lies in the frame of the scale strip it was photographed with, most of which is
    empty paper. The window is measured on a rendering, so that it holds whatever shapes and
    transforms the drawing is made of. A drawing with nothing in it has itself as its window.

    Raises
    ------
    DrawingRefusedError
        When the drawing cannot be rendered.
    """
    import typst

    pixel = max(drawing.width_mm, drawing.height_mm) / _INK_PX
    page = (
        f"#set page(width: {drawing.width_mm}mm, height: {drawing.height_mm}mm, margin: 0mm)\n"
        f'#image(bytes(sys.inputs.svg), format: "svg", width: {drawing.width_mm}mm, '
        f'height: {drawing.height_mm}mm, fit: "stretch")'
    )
    try:
        png = typst.compile(
            page.encode(),
            format="png",
            ppi=25.4 / pixel,
            ignore_system_fonts=True,
            sys_inputs={"svg": drawing.svg},
        )
    except typst.TypstError as error:
        raise DrawingRefusedError(
            f"The drawing cannot be rendered ({error}): save it as plain SVG."
        ) from error
    with Image.open(io.BytesIO(png)) as rendered:
        darkness = 255.0 - np.asarray(rendered.convert("L"), dtype=np.float64)
    across = _ends(darkness.max(axis=0), pixel)
    down = _ends(darkness.max(axis=1), pixel)
    if across is None or down is None:
        width, height = drawing.width_mm, drawing.height_mm
        return InkWindow(0.0, 0.0, width, height, width, height)
    left, top = max(0.0, across[0] - _AIR_MM), max(0.0, down[0] - _AIR_MM)
    right = min(drawing.width_mm, across[1] + _AIR_MM)
    bottom = min(drawing.height_mm, down[1] + _AIR_MM)
    drawn = _painted(drawing.svg) or (across[1] - across[0], down[1] - down[0])
    return InkWindow(left, top, right - left, bottom - top, *drawn)


def _painted(svg: str) -> tuple[float, float] | None:
    """The size of the paint of a drawing that carries its evidence; None of any other."""
    if _EVIDENCE not in svg:
        return None
    try:
        return drawing_from_svg(svg).painted_mm
    except OrnamentError:
        return None  # it only has the look of such a drawing, and is measured as any other


def _ends(darkness: NDArray[np.float64], pixel: float) -> tuple[float, float] | None:
    """First and last place of ink along a side, in mm; the shade of the end pixels tells how full.

    A pixel that ink fills by a third is a third as dark as the one next to it.
    """
    inked = np.flatnonzero(darkness > _LEAST_DARKNESS)
    if not len(inked):
        return None
    first, last = int(inked[0]), int(inked[-1])

    def full(end: int, inward: int) -> float:
        beside = darkness[min(max(end + inward, 0), len(darkness) - 1)]
        return float(min(1.0, darkness[end] / max(darkness[end], beside)))

    return (first + 1 - full(first, 1)) * pixel, (last + full(last, -1)) * pixel


def trimmed_svg(drawing: PlainDrawing, window: InkWindow) -> str:
    """Return the drawing as SVG whose page is only the window (see `ink_window`), in mm."""
    corner = (window.left + drawing.origin[0], window.top + drawing.origin[1])
    box = (v / drawing.unit_mm for v in (*corner, window.width, window.height))
    root = {
        "width": f"{window.width:.3f}mm",
        "height": f"{window.height:.3f}mm",
        "viewBox": " ".join(f"{v:.3f}" for v in box),
    }

    def trim(tag: re.Match[str]) -> str:
        text = tag[0]
        for name, value in root.items():
            text = re.sub(rf"""\s{name}\s*=\s*("[^"]*"|'[^']*')""", "", text)
            text = f'{text[:4]} {name}="{value}"{text[4:]}'
        return text

    return _ROOT_TAG.sub(trim, drawing.svg, count=1)
