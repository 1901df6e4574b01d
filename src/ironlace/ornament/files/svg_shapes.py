"""The one reader of SVG: every filled shape of a drawing, in mm, with what it is filled by.

Whatever reads a drawing (to be changed at the bench, put on film, cut as a sheet) takes its shapes
from here, so that all of them see the same ornament: shapes with their transforms, ``use`` and
``symbol``, inner viewports, style sheets, visibility and opacity, by SVG 1.1 and 2. What has no
outline to follow (text, pictures, clips) is refused; what is left out (strokes, rules that are not
followed) is named.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Final
from urllib.parse import unquote
from xml.etree import ElementTree

import numpy as np

from ironlace.evidence.arrays import Bounds, Floats
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.wording import counted
from ironlace.ornament.files.svg_curves import (
    ellipse_ring,
    points_of,
    polygon_ring,
    rectangle_ring,
    rings_of_path,
)
from ironlace.ornament.files.svg_paint import (
    GEOMETRY,
    MOVES,
    FillRule,
    Paint,
    StyleRules,
    plain_colour,
    rgb_of,
)
from ironlace.ornament.files.svg_root import SvgFault, svg_root, tag_of
from ironlace.ornament.files.svg_scale import (
    Page,
    inner_viewport,
    length_of,
    svg_page,
    transform_matrix,
)

MOST_SHAPES: Final = 100_000
"""More shapes than any drawing has; one that unfolds to more is made to exhaust the computer."""

MOST_ELEMENTS: Final = 4 * MOST_SHAPES
"""Elements gone through, those that are used again counted each time: as above."""

DEEPEST: Final = 200
"""Groups inside groups: each takes a step of Python's stack, which holds about a thousand."""

FARTHEST_MM: Final = 1e6
"""Farthest that a drawing may reach, mm: beyond a kilometre lie slips of the keyboard,
and reckoning on it overflows (tuned; on what was not kept)."""

ASIDE: Final = frozenset({"evidence", "photograph", "label", "blind", "filled"})
"""What ``data-role`` marks as standing beside the ornament: never part of it."""
_NOTED: Final = ("blind", "filled")

_GROUPS: Final = frozenset({"svg", "g", "a", "switch"})
_OUTLINED: Final = frozenset({"path", "rect", "circle", "ellipse", "polygon", "polyline", "line"})
_WITHOUT_OUTLINE: Final = frozenset({"text", "image", "foreignObject"})
_MOVING: Final = frozenset({"animate", "animateMotion", "animateTransform", "set"})
_ORIGIN: Final = re.compile(r"\s*0(?:px|%)?(?:[\s,]+0(?:px|%)?)*\s*")
_XLINK: Final = "{http://www.w3.org/1999/xlink}href"


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One filled shape.

    Attributes
    ----------
    element
        Name of its element, such as ``"path"``.
    rings
        Closed rings of cubic curves in mm, y down, each (n, 4, 2).
    rule
        How its rings are filled.
    fill
        As CSS writes it; empty where nothing tells it, which is black.
    layer
        The ``data-layer`` it stands in, else empty.
    group
        What follows ``layer-`` in the id of a group it stands in, else empty.
    classes
        Of its element.
    evidence
        Its ``data-evidence``, else empty.
    """

    element: str
    rings: tuple[Floats, ...]
    rule: FillRule
    fill: str
    layer: str = ""
    group: str = ""
    classes: tuple[str, ...] = ()
    evidence: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class SvgShapes:
    """The filled shapes of an SVG.

    Attributes
    ----------
    shapes
        In the order they are painted.
    window_mm
        Left, top, right, bottom of its page.
    shown_mm
        The same of what a renderer shows of it, see `svg_scale.Page`.
    notices
        What had to be taken for granted, and what was left out, one sentence each.
    noted
        Places told beside the ornament: ``"blind"`` or ``"filled"``, why, and corners (n, 2), mm.
    """

    shapes: tuple[Shape, ...]
    window_mm: Bounds
    shown_mm: Bounds
    notices: tuple[str, ...] = ()
    noted: tuple[tuple[str, str, Floats], ...] = ()


def read_svg(text: str, refused: type[IronlaceError] = SvgFault) -> SvgShapes:
    """Read every filled shape of an SVG.

    Parameters
    ----------
    refused
        The error to refuse with.

    Raises
    ------
    IronlaceError
        Of the kind `refused`: if the text is no SVG, its scale is unknown, nothing in it is
        filled, it holds text or pictures, or something in it cannot be read.

    >>> svg = ('<svg xmlns="http://www.w3.org/2000/svg" width="96px" height="96px">'
    ...        '<rect width="48" height="48" rx="9"/></svg>')
    >>> read = read_svg(svg)
    >>> [round(v, 1) for v in read.window_mm], read.shapes[0].element
    ([0.0, 0.0, 25.4, 25.4], 'rect')
    """
    try:
        root = svg_root(text)
        page = svg_page(root)
        reading = _Reading(root)
        # numbers may be as large as numbers go: what overflows is refused where it is taken
        with np.errstate(over="ignore", invalid="ignore"):
            reading.walk(root, _Here(page.to_mm, page.viewport), 0)
        return _read(reading, page)
    except SvgFault as error:
        if refused is SvgFault:
            raise
        raise refused(str(error)) from error


def _read(reading: _Reading, page: Page) -> SvgShapes:
    if reading.without_outline:
        found = sorted(reading.without_outline.items())
        names = ", ".join(f"{count} <{tag}>" for tag, count in found)
        raise SvgFault(
            f"The SVG holds {names}, which has no outline and cannot be cut or drawn: turn text "
            "into outlines and take pictures out, then save it again."
        )
    if not reading.shapes:
        why = (
            f"it has {counted(reading.strokes, 'stroke')} and no fill: turn strokes into outlines"
            if reading.strokes
            else "it holds no closed shape with a fill: give it some"
        )
        raise SvgFault(f"The SVG holds nothing filled; {why}.")
    notices = list(page.notices)
    if reading.strokes:
        notices.append(
            f"{counted(reading.strokes, 'stroke')} without a fill left out; turn what belongs to "
            "the ornament into outlines."
        )
    if reading.stroked:
        notices.append(
            f"{counted(reading.stroked, 'filled shape')} with a stroke too; only the fill was "
            "taken: turn strokes into outlines if they belong to the ornament."
        )
    if reading.rules.not_followed:
        told = ", ".join(dict.fromkeys(reading.rules.not_followed))
        notices.append(
            f"Rules of the SVG's style sheet were not followed ({told[:80]}); look whether "
            "everything is there."
        )
    notices += [
        f"{count} {_plural(count, one, many)} {what}"
        for key, (one, many, what) in _LOOKS.items()
        if (count := reading.looks[key])
    ]
    return SvgShapes(
        tuple(reading.shapes),
        page.window_mm,
        page.shown_mm,
        tuple(notices),
        tuple(reading.noted),
    )


def _plural(count: int, one: str, many: str) -> str:
    return one if count == 1 else many


_LOOKS: Final[dict[str, tuple[str, str, str]]] = {
    "filter": ("filter", "filters", "left out: shapes were taken as they are without."),
    "marker": ("marker", "markers", "at the ends of lines left out; draw them if they belong."),
    "pattern": (
        "shape",
        "shapes",
        "with a gradient or a pattern, laid as one colour: give a plain one if it is another.",
    ),
    "unknown": (
        "shape",
        "shapes",
        "with a colour that is not known here, laid all the same: give a plain one, or none.",
    ),
    "by style": (
        "shape",
        "shapes",
        "whose size or outline a style sheet tells, taken as its attributes tell it: save the "
        "drawing as plain SVG if it is another.",
    ),
    "asking": (
        "shape or group",
        "shapes or groups",
        "shown in some languages or by some programs only, left out: take the condition away if "
        "the ornament has it.",
    ),
    "clear": ("shape", "shapes", "that can be seen through, laid in full."),
    "moving": (
        "animation",
        "animations",
        "left out: shapes were taken as their own attributes tell them, before any begins.",
    ),
    "hidden": (
        "shape or group",
        "shapes or groups",
        "not shown, so left out: make visible what belongs to the ornament.",
    ),
    "white": (
        "white shape",
        "white shapes",
        "taken as a colour to lay: where white means bare ground, cut it out of what lies below.",
    ),
}
"""What of an SVG's looks has no part in an outline, and how that is told."""


@dataclass(frozen=True, slots=True)
class _Here:
    """Where the walk is: what holds for the element it comes to."""

    matrix: Floats
    viewport: tuple[float, float]
    paint: Paint = field(default_factory=Paint)
    layer: str = ""
    group: str = ""
    clipped: bool = False
    using: tuple[str, ...] = ()


class _Reading:
    """One walk over an SVG, and what it found."""

    def __init__(self, root: ElementTree.Element) -> None:
        self.rules = StyleRules(root)
        # of two that share a name the first is meant, as everywhere on the web
        self.ids = {e.get("id", ""): e for e in reversed(list(root.iter())) if e.get("id")}
        self.shapes: list[Shape] = []
        self.noted: list[tuple[str, str, Floats]] = []
        self.strokes = 0
        self.stroked = 0
        self.without_outline: dict[str, int] = {}
        self.looks = Counter({"moving": sum(tag_of(e) in _MOVING for e in root.iter())})
        self._elements = 0

    def walk(self, element: ElementTree.Element, here: _Here, depth: int) -> None:
        """Go through an element and all it holds."""
        tag = tag_of(element)
        known = tag in _GROUPS or tag in _OUTLINED or tag in _WITHOUT_OUTLINE or tag == "use"
        if element.get("data-role") in _NOTED and tag == "g":
            self._note(element, here, depth)
        if not known or element.get("data-role") in ASIDE:
            return
        self._count(depth)
        told = self.rules.told(element)
        if told.get("display") == "none":
            self.looks["hidden"] += 1
            return
        if _asks(element):
            self.looks["asking"] += 1
            return
        _refuse_moved(element, told)
        here = _inside(here, element, tag, told)
        self.looks["filter"] += _given(told.get("filter"))
        if tag in _OUTLINED:
            ends = ("marker", "marker-start", "marker-mid", "marker-end")
            self.looks["marker"] += any(_given(told.get(end)) for end in ends)
            self.looks["by style"] += not told.keys().isdisjoint(GEOMETRY)
            self._take(element, tag, here)
        elif tag in _WITHOUT_OUTLINE:
            self._name(element, tag, here)
        elif tag == "use":
            self._use(element, here, depth)
        else:
            if tag == "svg" and depth > 0:
                here = _in_viewport(here, element, element)
            children = self._chosen(element) if tag == "switch" else element
            for child in children:
                self.walk(child, here, depth + 1)

    def _note(self, element: ElementTree.Element, here: _Here, depth: int) -> None:
        """Keep what was blind or filled; what an editor made unreadable of it is left out."""
        role = element.get("data-role") or ""
        for child in element:
            self._count(depth + 1)
            inside = _inside(_inside(here, element, "g", {}), child, tag_of(child), {})
            why = child.get(f"data-{role}")
            if not why or tag_of(child) not in ("path", "polygon"):
                continue
            for ring in _outlines(child, tag_of(child), here.viewport):
                corners = ring[:, 0] @ inside.matrix[:2, :2].T + inside.matrix[:2, 2]
                if len(corners) > 2 and np.isfinite(corners).all():
                    self.noted.append((role, why, corners))

    def _count(self, depth: int) -> None:
        self._elements += 1
        if depth > DEEPEST:
            raise SvgFault(f"The SVG's groups are nested deeper than {DEEPEST}: flatten it.")
        if self._elements > MOST_ELEMENTS or len(self.shapes) > MOST_SHAPES:
            raise SvgFault(f"The SVG holds more than {MOST_SHAPES} shapes: split it.")

    def _chosen(self, switch: ElementTree.Element) -> Iterator[ElementTree.Element]:
        """The one child of a ``switch`` that is shown: the first that asks for nothing special."""
        for child in switch:
            if tag_of(child) and not _asks(child):
                yield child
                return
            # what only another program would show stands in for what comes after it
            self.looks["asking"] += bool(child.get("systemLanguage"))

    def _use(self, element: ElementTree.Element, here: _Here, depth: int) -> None:
        target = element.get("href") or element.get(_XLINK) or ""
        drawn = self.ids.get(target[1:]) if target.startswith("#") else None
        if drawn is None:
            raise SvgFault(
                f"The SVG uses {target[:40]!r}, which is not in it: save it as plain SVG."
            )
        if target in here.using:
            raise SvgFault(f"The SVG uses {target[:40]!r} inside itself: save it as plain SVG.")
        here = replace(_shifted(here, element), using=(*here.using, target))
        if tag_of(drawn) == "svg":
            # where it is used it has the size it is asked for
            sized = ElementTree.Element(drawn.tag, drawn.attrib)
            for side in ("width", "height"):
                sized.set(side, element.get(side) or drawn.get(side) or "auto")
            sized.extend(list(drawn))
            drawn = sized
        if tag_of(drawn) != "symbol":
            self.walk(drawn, here, depth + 1)
            return
        told = self.rules.told(drawn)
        if told.get("display") == "none":
            return
        inner = _in_viewport(_inside(here, drawn, "symbol", told), drawn, element, shift=False)
        for child in drawn:
            self.walk(child, inner, depth + 1)

    def _name(self, element: ElementTree.Element, tag: str, here: _Here) -> None:
        """Count what has no outline, if it can be seen at all."""
        seen = here.paint.visible and here.paint.alpha > 0
        if tag == "text":
            seen = (here.paint.fills or here.paint.strokes) and bool(
                "".join(element.itertext()).strip()
            )
        if seen:
            self.without_outline[tag] = self.without_outline.get(tag, 0) + 1

    def _take(self, element: ElementTree.Element, tag: str, here: _Here) -> None:
        paint = here.paint
        if not paint.fills or tag == "line":
            self.strokes += paint.strokes
            self.looks["hidden"] += tag != "line" and paint.hides and not paint.strokes
            return
        rings = []
        for ring in _outlines(element, tag, here.viewport):
            moved = ring @ here.matrix[:2, :2].T + here.matrix[:2, 2]
            if not np.isfinite(moved).all():
                raise SvgFault(f"A <{tag}> of the SVG holds a number that is not finite.")
            if (far := float(np.abs(moved).max(initial=0.0))) > FARTHEST_MM:
                raise SvgFault(
                    f"A <{tag}> of the SVG reaches {far:.0e} mm away, more than "
                    f"{FARTHEST_MM:.0e}: mend that shape, or take it out."
                )
            rings.append(moved)
        if not rings:
            return
        if here.clipped:
            raise SvgFault("The SVG clips or masks a shape: apply the clip first, then save it.")
        self.stroked += paint.strokes
        self.looks["pattern"] += "url(" in paint.fill
        self.looks["unknown"] += "url(" not in paint.fill and rgb_of(paint.fill or "#000") is None
        self.looks["clear"] += paint.alpha * paint.fill_alpha < 1.0
        self.looks["white"] += plain_colour(paint.fill) == "#ffffff"
        self.shapes.append(
            Shape(
                tag,
                tuple(rings),
                paint.rule,
                paint.fill,
                here.layer,
                here.group,
                tuple((element.get("class") or "").split()),
                element.get("data-evidence") or "",
            )
        )


def _given(value: str | None) -> bool:
    return value is not None and value.strip() not in ("", "none", "auto", "initial", "unset")


def _inside(here: _Here, element: ElementTree.Element, tag: str, told: dict[str, str]) -> _Here:
    """What holds inside an element."""
    transform = element.get("transform")
    named = element.get("id", "") if tag == "g" else ""
    return _Here(
        here.matrix @ transform_matrix(transform) if transform else here.matrix,
        here.viewport,
        here.paint.inside(told),
        element.get("data-layer") or here.layer,
        unquote(named.removeprefix("layer-")) if named.startswith("layer-") else here.group,
        here.clipped or any(_given(told.get(name)) for name in ("clip-path", "mask", "mask-image")),
        here.using,
    )


def _shifted(here: _Here, element: ElementTree.Element) -> _Here:
    shift = np.eye(3)
    shift[:2, 2] = (
        length_of(element, "x", here.viewport[0]),
        length_of(element, "y", here.viewport[1]),
    )
    return _moved(here, shift, here.viewport)


def _in_viewport(
    here: _Here, fitted: ElementTree.Element, sized: ElementTree.Element, *, shift: bool = True
) -> _Here:
    if shift:
        here = _shifted(here, fitted)
    return _moved(here, *inner_viewport(fitted, sized, here.viewport))


def _moved(here: _Here, matrix: Floats, viewport: tuple[float, float]) -> _Here:
    return replace(here, matrix=here.matrix @ matrix, viewport=viewport)


def _asks(element: ElementTree.Element) -> bool:
    """Whether an element is shown in a language or by a program only that has what it asks for."""
    return bool(element.get("requiredExtensions") or element.get("systemLanguage"))


def _refuse_moved(element: ElementTree.Element, told: dict[str, str]) -> None:
    """Refuse what a style moves, and turns about another place than its transform tells."""
    moved = [name for name in MOVES if _given(told.get(name))]
    about = told.get("transform-origin") or element.get("transform-origin")
    if element.get("transform") and _given(about) and not _ORIGIN.fullmatch(about or ""):
        moved.append("transform-origin")
    if moved:
        raise SvgFault(
            f"The SVG moves a <{tag_of(element)}> by '{moved[0]}' of its style: apply that to the "
            "shape, then save it as plain SVG."
        )


def _outlines(
    element: ElementTree.Element, tag: str, viewport: tuple[float, float]
) -> list[Floats]:
    """Rings of an outlined element in its own units."""
    wide, high = viewport
    across = float(np.hypot(wide, high)) / np.sqrt(2.0)

    def length(name: str, of: float) -> float:
        return length_of(element, name, of)

    if tag == "path":
        return rings_of_path(element.get("d") or "")
    if tag in ("polygon", "polyline"):
        corners = points_of(element.get("points") or "")
        return [ring for ring in [polygon_ring(corners)] if len(ring)] if len(corners) > 2 else []
    if tag == "rect":
        x, y = length("x", wide), length("y", high)
        w, h = length("width", wide), length("height", high)
        if w <= 0 or h <= 0:
            return []
        rounded = [_told(element, name) for name in ("rx", "ry")]
        rx = length("rx" if rounded[0] or not rounded[1] else "ry", wide)
        ry = length("ry" if rounded[1] or not rounded[0] else "rx", high)
        return [rectangle_ring(x, y, w, h, min(rx, w / 2), min(ry, h / 2))]
    if tag == "circle":
        rx = ry = length("r", across)
    else:
        rx, ry = length("rx", wide), length("ry", high)
        rx, ry = (rx if _told(element, "rx") else ry), (ry if _told(element, "ry") else rx)
    if rx <= 0 or ry <= 0:
        return []
    return [ellipse_ring(length("cx", wide), length("cy", high), rx, ry)]


def _told(element: ElementTree.Element, name: str) -> bool:
    return (element.get(name) or "auto").strip() != "auto"
