"""Read a drawing before it is printed or published: vectors only, in mm, with nothing active in it.

A drawing goes on paper at true scale and into a web site that strangers open, so it is checked
against a short list of what a drawing needs rather than a list of what is harmful.
"""

import math
import re
from dataclasses import dataclass
from xml.etree.ElementTree import Element, ParseError, fromstring

from ironlace.dossier.errors import DrawingRefusedError
from ironlace.evidence.grades import Grade

_SVG = "http://www.w3.org/2000/svg"
_XHTML = "http://www.w3.org/1999/xhtml"
_PLAIN = frozenset(
    [
        "svg",
        "g",
        "path",
        "rect",
        "circle",
        "ellipse",
        "line",
        "polyline",
        "polygon",
        "defs",
        "clipPath",
        "mask",
        "pattern",
        "use",
        "symbol",
        "title",
        "desc",
        "metadata",
        "style",
        "linearGradient",
        "radialGradient",
        "stop",
        "text",
        "tspan",
        "marker",
    ]
)
_LENGTH_MM = re.compile(r"\s*([0-9.eE+-]+)\s*mm\s*\Z")
_ACTIVE = re.compile(r"@import|javascript:|expression\s*\(|url\(\s*['\"]?(?!#)", re.IGNORECASE)
_MAX_SIDE_MM = 3000.0
_INK_PX = 3000
_INK_MARGIN_MM = 2.0
_SCALE_TOLERANCE = 1e-4
_ROOT_TAG = re.compile(r"""<svg\b(?:[^>"']|"[^"]*"|'[^']*')*>""")


@dataclass(frozen=True, slots=True)
class PlainDrawing:
    """A checked drawing.

    Attributes
    ----------
    svg
        The text as it came.
    width_mm, height_mm
        Its size; one unit of its viewBox is one millimetre.
    origin
        Where its viewBox begins.
    grades
        The grades that occur in it, strongest first.
    """

    svg: str
    width_mm: float
    height_mm: float
    origin: tuple[float, float]
    grades: tuple[Grade, ...]


@dataclass(frozen=True, slots=True)
class InkWindow:
    """The part of a drawing in which something is drawn, in mm from the drawing's corner.

    Attributes
    ----------
    left, top, width, height
        The window, with up to 2 mm of air on every side.
    drawn_width, drawn_height
        What is drawn, without the air.
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


def read_drawing(svg: str) -> PlainDrawing:
    """Check a drawing and read its size and grades.

    A grade is found where an element says `data-grade="seen"` or is of the class `grade-seen`.

    Raises
    ------
    DrawingRefusedError
        When it is no SVG, is not in mm at the scale of its viewBox, is larger than 3 m, or holds
        anything but plain vectors (pictures, scripts, links to elsewhere).

    >>> read_drawing('<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" '
    ...              'viewBox="0 0 40 30"><path data-grade="seen" d="M0 0h9"/></svg>').grades
    (<Grade.SEEN: 'seen'>,)
    """
    if "<!DOCTYPE" in svg or "<!ENTITY" in svg:
        raise DrawingRefusedError(
            "The drawing has a document type declaration, which can hide other things: save it as "
            "plain SVG."
        )
    try:
        root = fromstring(svg)  # noqa: S314 - entities need a declaration, refused above
    except (ParseError, ValueError) as error:
        raise DrawingRefusedError(
            f"The drawing is not well-formed SVG ({error}): save it as plain SVG."
        ) from error
    if root.tag != f"{{{_SVG}}}svg":
        raise DrawingRefusedError(
            f"The drawing's outermost element is '{_local(root.tag)}': it must be an svg "
            "element in the SVG namespace."
        )
    _check(root, in_metadata=False)
    width, height = _side(root, "width"), _side(root, "height")
    origin = _checked_origin(root, width, height)
    return PlainDrawing(svg, width, height, origin, _grades(root))


def ink_window(drawing: PlainDrawing) -> InkWindow:
    """Find where something is drawn.

    A drawing often lies in the frame of the scale strip it was photographed with, most of which is
    empty paper. The window is measured on a rendering, so that it holds whatever shapes and
    transforms the drawing is made of; it is found to a pixel, at worst 1 mm for a drawing of 3 m,
    and the 2 mm cover that. A drawing with nothing in it has itself as its window.
    """
    import io

    import numpy as np
    import typst
    from PIL import Image

    longest = max(drawing.width_mm, drawing.height_mm)
    page = (
        f"#set page(width: {drawing.width_mm}mm, height: {drawing.height_mm}mm, margin: 0mm)\n"
        f'#image(bytes(sys.inputs.svg), format: "svg", width: {drawing.width_mm}mm, '
        f'height: {drawing.height_mm}mm, fit: "stretch")'
    )
    try:
        png = typst.compile(
            page.encode(),
            format="png",
            ppi=_INK_PX / longest * 25.4,
            ignore_system_fonts=True,
            sys_inputs={"svg": drawing.svg},
        )
    except typst.TypstError as error:
        raise DrawingRefusedError(
            f"The drawing cannot be rendered ({error}): save it as plain SVG."
        ) from error
    with Image.open(io.BytesIO(png)) as rendered:
        ink = np.asarray(rendered.convert("L")) < 250
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    if not len(rows):
        width, height = drawing.width_mm, drawing.height_mm
        return InkWindow(0.0, 0.0, width, height, width, height)
    down, across = drawing.height_mm / ink.shape[0], drawing.width_mm / ink.shape[1]
    first_x, last_x = float(columns[0] * across), float((columns[-1] + 1) * across)
    first_y, last_y = float(rows[0] * down), float((rows[-1] + 1) * down)
    left, top = max(0.0, first_x - _INK_MARGIN_MM), max(0.0, first_y - _INK_MARGIN_MM)
    right = min(drawing.width_mm, last_x + _INK_MARGIN_MM)
    bottom = min(drawing.height_mm, last_y + _INK_MARGIN_MM)
    return InkWindow(left, top, right - left, bottom - top, last_x - first_x, last_y - first_y)


def trimmed_svg(drawing: PlainDrawing, window: InkWindow) -> str:
    """Return the drawing as SVG whose page is only the window (see `ink_window`), in mm."""
    left, top = window.left + drawing.origin[0], window.top + drawing.origin[1]
    told = {
        "width": f"{window.width:.3f}mm",
        "height": f"{window.height:.3f}mm",
        "viewBox": f"{left:.3f} {top:.3f} {window.width:.3f} {window.height:.3f}",
    }

    def trim(tag: re.Match[str]) -> str:
        text = tag[0]
        for name, value in told.items():
            text = re.sub(rf"""(\s{name}\s*=\s*)("[^"]*"|'[^']*')""", rf'\g<1>"{value}"', text)
        return text

    return _ROOT_TAG.sub(trim, drawing.svg, count=1)


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]


def _check(element: Element, *, in_metadata: bool) -> None:
    if not isinstance(element.tag, str):  # a comment or processing instruction
        return
    space, name = element.tag.rpartition("}")[0].lstrip("{"), _local(element.tag)
    foreign = space != _SVG
    if space == _XHTML or (foreign and not in_metadata) or (not foreign and name not in _PLAIN):
        raise DrawingRefusedError(
            f"The drawing holds a '{name}' element: only plain vector shapes and text can be "
            "printed; remove it."
        )
    for attribute, value in element.attrib.items():
        key = _local(attribute).lower()
        if key.startswith("on") or (key == "href" and not value.startswith("#")):
            raise DrawingRefusedError(
                f"The drawing's '{name}' element has '{key}', which points or acts outside the "
                "drawing: remove it."
            )
        if _ACTIVE.search(value):
            raise DrawingRefusedError(
                f"The drawing's '{name}' element draws on something outside the drawing in "
                f"'{key}': remove it."
            )
    if name == "style" and _ACTIVE.search(element.text or ""):
        raise DrawingRefusedError(
            "The drawing's style sheet draws on something outside the drawing: remove it."
        )
    for child in element:
        _check(child, in_metadata=in_metadata or name == "metadata")


def _side(root: Element, name: str) -> float:
    written = root.get(name, "")
    match = _LENGTH_MM.match(written)
    try:
        side = float(match[1]) if match else math.nan
    except ValueError:
        side = math.nan
    if not 0.0 < side <= _MAX_SIDE_MM:
        raise DrawingRefusedError(
            f"The drawing's {name} is '{written}': a drawing for true scale needs millimetres, "
            f"such as 120mm, and at most {_MAX_SIDE_MM:g}."
        )
    return side


def _checked_origin(root: Element, width: float, height: float) -> tuple[float, float]:
    written = root.get("viewBox", "")
    try:
        box = [float(part) for part in re.split(r"[\s,]+", written.strip())]
    except ValueError:
        box = []
    if (
        len(box) != 4
        or abs(box[2] - width) > width * _SCALE_TOLERANCE
        or abs(box[3] - height) > height * _SCALE_TOLERANCE
    ):
        raise DrawingRefusedError(
            f"The drawing's viewBox is '{written}' and its size {width:g} by {height:g} mm: one "
            "unit of the viewBox must be one millimetre."
        )
    return box[0], box[1]


def _grades(root: Element) -> tuple[Grade, ...]:
    found: set[str] = set()
    for element in root.iter():
        found.add(element.get("data-grade", ""))
        found.update(
            token.removeprefix("grade-")
            for token in element.get("class", "").split()
            if token.startswith("grade-")
        )
    return tuple(grade for grade in Grade if grade.value in found)
