"""Read a drawing before it is printed or published: vectors only, in mm, with nothing active in it.

A drawing goes on paper at true scale and into a web site that strangers open, so it is checked
against a short list of what a drawing needs rather than a list of what is harmful.
"""

import re
from dataclasses import dataclass
from xml.etree.ElementTree import Element, ParseError, fromstring

from ironlace.dossier.errors import DrawingRefusedError
from ironlace.evidence.grades import Grade
from ironlace.ornament.files.svg_root import SvgFault
from ironlace.ornament.files.svg_scale import Page, svg_page

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
        "switch",
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
_ACTIVE = re.compile(r"@import|javascript:|expression\s*\(|url\(\s*['\"]?(?!#)", re.IGNORECASE)
_MAX_SIDE_MM = 3000.0
"""Longest side that is set: longer than any arm or case, and about the height of a room; what is
longer has a wrong unit (tuned; on what was not kept)."""

_SCALE_TOLERANCE = 1e-4
"""How far two scales may differ: 0.03 mm on 300 mm, less than paper moves in damp air."""


@dataclass(frozen=True, slots=True)
class PlainDrawing:
    """A checked drawing.

    Attributes
    ----------
    svg
        The text as it came.
    width_mm, height_mm
        Its size.
    origin
        Where its viewBox begins, in mm.
    grades
        The grades that occur in it, strongest first.
    unit_mm
        How long one unit of its viewBox is.
    notices
        What had to be taken for granted about its size, one sentence each.
    """

    svg: str
    width_mm: float
    height_mm: float
    origin: tuple[float, float]
    grades: tuple[Grade, ...]
    unit_mm: float = 1.0
    notices: tuple[str, ...] = ()


def read_drawing(svg: str) -> PlainDrawing:
    """Check a drawing and read its size and grades.

    A grade is found where an element says `data-grade="seen"` or is of the class `grade-seen`.

    Raises
    ------
    DrawingRefusedError
        When it is no SVG, does not tell its size, is larger than 3 m, or holds anything but plain
        vectors (pictures, scripts, links to elsewhere).

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
    page = _sized(root)
    left, top, right, bottom = page.window_mm
    return PlainDrawing(
        svg,
        right - left,
        bottom - top,
        (left, top),
        _grades(root),
        float(page.to_mm[0, 0]),
        page.notices,
    )


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


def _sized(root: Element) -> Page:
    """The page of a drawing whose size is told, the same scale across and down."""
    try:
        page = svg_page(root)
    except SvgFault as error:
        raise DrawingRefusedError(str(error)) from error
    wide, high = page.told_mm
    left, top, right, bottom = page.window_mm
    if wide is None or high is None:
        raise DrawingRefusedError(
            "The drawing does not say how wide and how high it is: a drawing for true scale needs "
            "both in millimetres, such as 120mm."
        )
    if max(wide, high) > _MAX_SIDE_MM:
        raise DrawingRefusedError(
            f"The drawing is {wide:g} by {high:g} mm: at most {_MAX_SIDE_MM:g} mm are set at true "
            "scale."
        )
    if (
        abs(page.to_mm[0, 0] - page.to_mm[1, 1]) > page.to_mm[0, 0] * _SCALE_TOLERANCE
        or abs(right - left - wide) > wide * _SCALE_TOLERANCE
        or abs(bottom - top - high) > high * _SCALE_TOLERANCE
    ):
        raise DrawingRefusedError(
            f"The drawing's viewBox is '{root.get('viewBox', '')}' and its size {wide:g} by "
            f"{high:g} mm: one unit of the viewBox must be as long across as down."
        )
    return page


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
