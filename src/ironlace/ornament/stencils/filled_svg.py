"""Any SVG of filled outlines in mm, read as areas by colour.

Paths with every command of SVG 1.1, rectangles (also rounded), circles, ellipses, polygons and
polylines, groups, ``use``, transforms, fill rules, and fills set by attribute, style or a plain
style sheet. What a cutter cannot follow (strokes, text, pictures) is named, never left out in
silence.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final
from xml.etree import ElementTree

import numpy as np
import shapely
from shapely import MultiPolygon

from ironlace.evidence.arrays import Floats
from ironlace.ornament.errors import DrawingError
from ironlace.ornament.files.drawing_svg import rings_of_path
from ironlace.ornament.files.svg_root import svg_root, tag_of
from ironlace.ornament.outline.drawing import ring_polygon
from ironlace.ornament.stencils.errors import OutlineError
from ironlace.ornament.stencils.regions import FillRule, as_region, filled_region

TOLERANCE_MM: Final = 0.002
"""Farthest a chord may lie from its curve."""

_UNITS_MM: Final = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}
_UNITS_MM_PX: Final = {"px": 25.4 / 96, **_UNITS_MM}
_NUMBER: Final = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_SHAPES: Final = {"path", "rect", "circle", "ellipse", "polygon", "polyline"}
_PASSED: Final = {
    "defs", "clipPath", "mask", "symbol", "pattern", "metadata", "title", "desc", "style",
    "linearGradient", "radialGradient", "marker", "namedview", "script",
}  # fmt: skip
_GROUPS: Final = {"svg", "g", "a", "switch"}
_COLOURS: Final = {"black": "#000000", "white": "#ffffff", "gold": "#ffd700", "red": "#ff0000"}
_MOST_SHAPES: Final = 400_000
_UNSAID: Final = "The SVG does not say how large it is; one unit of {} was taken as 1 mm."


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
class FilledDrawing:
    """A drawing as areas by colour.

    Attributes
    ----------
    layers
        In the order they are laid.
    bounds_mm
        Left, top, right, bottom of the drawing's page.
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


@dataclass
class _Reading:
    ids: dict[str, ElementTree.Element]
    rules: list[tuple[str, dict[str, str]]]
    scale: float
    shapes: list[tuple[str, str, MultiPolygon]] = field(default_factory=list)
    strokes: int = 0
    refused: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class _Style:
    fill: str = "#000000"
    rule: FillRule = "nonzero"
    stroke: str = "none"
    visible: bool = True
    layer: str = ""
    colour: str = "#000000"


def read_filled(svg: str, tolerance_mm: float = TOLERANCE_MM) -> FilledDrawing:
    """Read an SVG of filled outlines.

    Parameters
    ----------
    svg
        Its text. Width and height carry a unit (mm, cm, in, pt, pc, px); without one, a unit of
        the viewBox is taken as 1 mm, and a notice says so.
    tolerance_mm
        Farthest a chord may lie from its curve.

    Raises
    ------
    OutlineError
        If it is no SVG, has no scale, holds nothing filled, or holds text or pictures, which must
        be made outlines first.
    """
    root = svg_root(svg, OutlineError)
    to_mm, bounds, notices = _page(root)
    rules = [
        rule
        for element in root.iter()
        if tag_of(element) == "style"
        for rule in _sheet_rules("".join(element.itertext()))
    ]
    ids = {e.get("id", ""): e for e in root.iter() if e.get("id")}
    reading = _Reading(ids, rules, float(np.sqrt(abs(np.linalg.det(to_mm[:2, :2])))))
    _walk(root, to_mm, _Style(), reading, tolerance_mm, 0)
    if reading.refused:
        names = ", ".join(f"{n} <{tag}>" for tag, n in sorted(reading.refused.items()))
        raise OutlineError(
            f"The SVG holds {names}, which cannot be cut: turn text into outlines and take "
            "pictures out, then save it again."
        )
    if not reading.shapes:
        why = (
            f"its {reading.strokes} shapes have a stroke but no fill: turn strokes into outlines"
            if reading.strokes
            else "give it closed shapes with a fill"
        )
        raise OutlineError(f"The SVG holds nothing filled; {why}.")
    if reading.strokes:
        notices.append(
            f"{reading.strokes} strokes without a fill were left out; turn them into outlines if "
            "they belong to the ornament."
        )
    layers = _stacked(reading.shapes)
    if not layers:
        raise OutlineError("Everything filled in the SVG has no area; give it closed shapes.")
    return FilledDrawing(layers, bounds, tuple(notices))


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
    near, far = shapely.STRtree(parts).query(parts)
    size = shapely.get_num_coordinates(parts)
    # of every pair the larger is asked, since what is prepared answers many times quickly
    asked = (size[near] > size[far]) | ((size[near] == size[far]) & (near < far))
    large, small = parts[near[asked]], parts[far[asked]]
    shapely.prepare(large)
    if not shapely.intersects(large, small).any():
        return MultiPolygon(list(parts))
    return as_region(shapely.unary_union(parts))


def _walk(
    element: ElementTree.Element,
    matrix: Floats,
    style: _Style,
    reading: _Reading,
    tolerance: float,
    depth: int,
) -> None:
    tag = tag_of(element)
    if depth > 200:
        raise OutlineError("The SVG's groups are nested deeper than 200: flatten it.")
    if tag in _PASSED and depth > 0 and tag != "svg":
        return
    if element.get("data-role") in ("evidence", "photograph"):
        return
    style = _styled(element, tag, style, reading.rules)
    if _property(element, tag, "display", reading.rules) == "none":
        return
    matrix = matrix @ transform_matrix(element.get("transform"))
    if tag == "use":
        target = element.get("href") or element.get("{http://www.w3.org/1999/xlink}href") or ""
        drawn = reading.ids.get(target.removeprefix("#"))
        if drawn is None:
            raise OutlineError(
                f"The SVG uses {target!r}, which is not in it: save it as plain SVG."
            )
        shift = np.eye(3)
        shift[:2, 2] = _number(element, "x"), _number(element, "y")
        if tag_of(drawn) == "symbol":
            fitted = matrix @ shift @ _viewport(drawn, element)
            own = _styled(drawn, "symbol", style, reading.rules)
            for child in drawn:
                _walk(child, fitted, own, reading, tolerance, depth + 1)
        else:
            _walk(drawn, matrix @ shift, style, reading, tolerance, depth + 1)
        return
    if tag in _SHAPES:
        _take(element, tag, matrix, style, reading, tolerance)
    elif tag in ("text", "image", "foreignObject", "tspan", "textPath"):
        if style.visible:
            reading.refused[tag] = reading.refused.get(tag, 0) + 1
        return
    elif tag not in _GROUPS:
        return
    if tag == "svg" and depth > 0:
        shift = np.eye(3)
        shift[:2, 2] = _number(element, "x"), _number(element, "y")
        matrix = matrix @ shift @ _viewport(element, element)
    for child in element:
        _walk(child, matrix, style, reading, tolerance, depth + 1)


def _viewport(fitted: ElementTree.Element, sized: ElementTree.Element) -> Floats:
    """How a viewBox is fitted into a width and height (SVG 1.1, 7.7 and 7.8)."""
    view = [float(v) for v in re.findall(_NUMBER, fitted.get("viewBox") or "")]
    if len(view) != 4 or view[2] <= 0 or view[3] <= 0:
        return np.eye(3)
    sizes = []
    for name, own in (("width", view[2]), ("height", view[3])):
        told = sized.get(name) or fitted.get(name)
        source = sized if sized.get(name) else fitted
        sizes.append(_number(source, name) if told and "%" not in told else own)
    return _fitted(view, sizes[0], sizes[1], fitted.get("preserveAspectRatio") or "")


def _fitted(view: list[float], wide: float, high: float, how: str) -> Floats:
    across, down = wide / view[2], high / view[3]
    if "none" in how:
        share_x = share_y = 0.0
    else:
        across = down = max(across, down) if "slice" in how else min(across, down)
        share_x = 0.0 if "xMin" in how else 1.0 if "xMax" in how else 0.5
        share_y = 0.0 if "YMin" in how else 1.0 if "YMax" in how else 0.5
    left = share_x * (wide - view[2] * across) - view[0] * across
    top = share_y * (high - view[3] * down) - view[1] * down
    return np.array([[across, 0.0, left], [0.0, down, top], [0.0, 0.0, 1.0]])


def _take(
    element: ElementTree.Element,
    tag: str,
    matrix: Floats,
    style: _Style,
    reading: _Reading,
    tolerance: float,
) -> None:
    if not style.visible:
        return
    if _clear(element, tag, style.fill, reading.rules):
        reading.strokes += style.stroke not in ("none", "transparent")
        return
    if len(reading.shapes) >= _MOST_SHAPES:
        raise OutlineError(f"The SVG holds more than {_MOST_SHAPES} shapes: split it.")
    d = outline_data(element, tag)
    if not d:
        return
    if "url(" in (element.get("clip-path") or "") or "url(" in (element.get("mask") or ""):
        raise OutlineError("The SVG clips or masks a shape: apply the clip first, then save it.")
    try:
        curves = rings_of_path(d)
    except DrawingError as error:
        raise OutlineError(str(error)) from error
    rings = []
    for ring in curves:
        moved = ring @ matrix[:2, :2].T + matrix[:2, 2]
        if not np.isfinite(moved).all():
            raise OutlineError(f"A path holds a number that is not finite: {d[:60]}")
        rings.append(_flat_ring(moved, tolerance))
    region = filled_region(rings, style.rule)
    if not region.is_empty:
        reading.shapes.append((style.layer or style.fill, style.fill, region))


def _clear(
    element: ElementTree.Element, tag: str, fill: str, rules: list[tuple[str, dict[str, str]]]
) -> bool:
    """Whether a fill lays nothing: none, or wholly transparent."""
    if fill in ("none", "transparent"):
        return True
    if re.fullmatch(r"(?:rgba?|hsla?)\(.*[,/]\s*0*(?:\.0+)?\s*%?\)", fill) and (
        fill.count(",") == 3 or "/" in fill
    ):
        return True
    if re.fullmatch(r"#[0-9a-f]{3}0|#[0-9a-f]{6}00", fill, re.IGNORECASE):
        return True
    for name in ("fill-opacity", "opacity"):
        told = _property(element, tag, name, rules)
        if told is not None and re.fullmatch(r"0*(?:\.0*)?%?", told.strip()) and told.strip():
            return True
    return False


def _flat_ring(curves: Floats, tolerance: float) -> Floats:
    return ring_polygon(curves, tolerance)


def outline_data(element: ElementTree.Element, tag: str) -> str | None:
    """Path data of a shape element, or None if it has no area."""
    if tag == "path":
        return element.get("d")
    if tag in ("polygon", "polyline"):
        points = re.findall(_NUMBER, element.get("points") or "")
        if len(points) < 6:
            return None
        return (
            "M"
            + "L".join(f"{x} {y}" for x, y in zip(points[::2], points[1::2], strict=False))
            + "Z"
        )
    if tag == "rect":
        return _rect_data(element)
    rx = _number(element, "r" if tag == "circle" else "rx")
    ry = _number(element, "r" if tag == "circle" else "ry")
    cx, cy = _number(element, "cx"), _number(element, "cy")
    if rx <= 0 or ry <= 0:
        return None
    # in short arcs: one cubic to a quarter of a circle is off by 0.03 % of the radius
    turn = np.linspace(0.0, 2.0 * np.pi, 33)
    x, y = cx + rx * np.cos(turn), cy + ry * np.sin(turn)
    arcs = "".join(f"A{rx} {ry} 0 0 1 {a:.9f} {b:.9f}" for a, b in zip(x[1:], y[1:], strict=True))
    return f"M{x[0]:.9f} {y[0]:.9f}{arcs}Z"


def _rect_data(element: ElementTree.Element) -> str | None:
    x, y = _number(element, "x"), _number(element, "y")
    w, h = _number(element, "width"), _number(element, "height")
    if w <= 0 or h <= 0:
        return None
    rx_given, ry_given = element.get("rx"), element.get("ry")
    rx = _number(element, "rx") if rx_given else _number(element, "ry")
    ry = _number(element, "ry") if ry_given else rx
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx <= 0 or ry <= 0:
        return f"M{x} {y}h{w}v{h}h{-w}Z"
    a = f"a{rx} {ry} 0 0 1 "
    return (
        f"M{x + rx} {y}h{w - 2 * rx}{a}{rx} {ry}v{h - 2 * ry}{a}{-rx} {ry}"
        f"h{2 * rx - w}{a}{-rx} {-ry}v{2 * ry - h}{a}{rx} {-ry}Z"
    )


def _number(element: ElementTree.Element, name: str) -> float:
    text = (element.get(name) or "0").strip()
    match = re.fullmatch(rf"({_NUMBER})\s*([a-z]*)", text)
    if not match or match.group(2) not in ("", "px"):
        raise OutlineError(
            f"A <{tag_of(element)}> has {name}={text!r}: give lengths inside the drawing without a "
            "unit, in mm."
        )
    return float(match.group(1))


def _sheet_rules(css: str) -> list[tuple[str, dict[str, str]]]:
    """Plain rules of a style sheet: ``.class``, ``#id`` or ``tag`` selectors."""
    css = re.sub(r"/\*.*?\*/", "", css, flags=re.DOTALL)
    out = []
    for selectors, body in re.findall(r"([^{}]+)\{([^{}]*)\}", css):
        pairs = (p.split(":", 1) for p in body.split(";") if ":" in p)
        told = {k.strip(): v.strip() for k, v in pairs}
        out += [(s.strip(), told) for s in selectors.split(",")]
    return out


def _property(
    element: ElementTree.Element, tag: str, name: str, rules: list[tuple[str, dict[str, str]]]
) -> str | None:
    found = re.search(rf"(?:^|;)\s*{name}\s*:\s*([^;!]+)", element.get("style") or "")
    if found:
        return found.group(1).strip()
    named = element.get(name)
    classes = {f".{c}" for c in (element.get("class") or "").split()}
    weight, best = -1, named.strip() if named else None
    for selector, told in rules:
        if name not in told:
            continue
        strength = (
            2 if selector == f"#{element.get('id')}" else 1 if selector in classes
            else 0 if selector in (tag, "*") else -1
        )  # fmt: skip
        if strength >= max(weight, 0):
            weight, best = strength, told[name]
    return best


def _styled(
    element: ElementTree.Element, tag: str, style: _Style, rules: list[tuple[str, dict[str, str]]]
) -> _Style:
    def own(name: str, now: str) -> str:
        value = _property(element, tag, name, rules)
        return now if value in (None, "inherit") else str(value)

    colour = own("color", style.colour)
    fill = own("fill", style.fill)
    fill = colour if fill == "currentColor" else fill
    rule: FillRule = "evenodd" if own("fill-rule", style.rule) == "evenodd" else "nonzero"
    visible = own("visibility", "visible" if style.visible else "hidden") == "visible"
    layer = element.get("data-layer") or style.layer
    return _Style(
        _COLOURS.get(fill.strip(), fill.strip()), rule, own("stroke", style.stroke).strip(),
        visible, layer, colour,
    )  # fmt: skip


def _page(
    root: ElementTree.Element,
) -> tuple[Floats, tuple[float, float, float, float], list[str]]:
    view = [float(v) for v in re.findall(_NUMBER, root.get("viewBox") or "")]
    wide, high = _length_mm(root.get("width")), _length_mm(root.get("height"))
    if len(view) != 4 or view[2] <= 0 or view[3] <= 0:
        if wide is None or high is None:
            bare = [re.fullmatch(_NUMBER, (root.get(n) or "").strip()) for n in ("width", "height")]
            if bare[0] and bare[1]:
                bounds = (0.0, 0.0, float(bare[0].group()), float(bare[1].group()))
                return np.eye(3), bounds, [_UNSAID.format("its width and height")]
            raise OutlineError(
                "The SVG has neither a viewBox nor a size in mm, so its scale is unknown; save it "
                'with width and height in mm and viewBox="left top width height" in mm.'
            )
        # without a viewBox a user unit is a CSS pixel (CSS Values 3, 5.2)
        scale = _UNITS_MM_PX["px"]
        return np.diag([scale, scale, 1.0]), (0.0, 0.0, wide, high), []
    notices: list[str] = []
    if wide is None and high is None:
        notices.append(_UNSAID.format("its viewBox"))
    scale = min(
        (v for v in (
            None if wide is None else wide / view[2], None if high is None else high / view[3],
        ) if v is not None),
        default=1.0,
    )  # fmt: skip
    if scale <= 0:
        raise OutlineError("The SVG's width or height is not more than 0: give them in mm.")
    if "none" in (root.get("preserveAspectRatio") or "") and wide is not None and high is not None:
        across, down = wide / view[2], high / view[3]
        left, top = view[0] * across, view[1] * down
        return np.diag([across, down, 1.0]), (left, top, left + wide, top + high), notices
    left, top = view[0] * scale, view[1] * scale
    bounds = (left, top, left + view[2] * scale, top + view[3] * scale)
    return np.diag([scale, scale, 1.0]), bounds, notices


def _length_mm(text: str | None) -> float | None:
    match = re.fullmatch(rf"\s*({_NUMBER})\s*(mm|cm|in|pt|pc|px)\s*", text or "")
    return float(match.group(1)) * _UNITS_MM_PX[match.group(2)] if match else None


def transform_matrix(text: str | None) -> Floats:
    """The 3x3 matrix of an SVG transform attribute (SVG 1.1, 7.6).

    >>> transform_matrix("translate(2,3) scale(2)")[0].tolist()
    [2.0, 0.0, 2.0]
    """
    total = np.eye(3)
    for name, inner in re.findall(r"(\w+)\s*\(([^)]*)\)", text or ""):
        v = [float(x) for x in re.findall(_NUMBER, inner)]
        total = total @ _one_transform(name, v, inner)
    return total


def _one_transform(name: str, v: list[float], inner: str) -> Floats:
    m = np.eye(3)
    if name == "matrix" and len(v) == 6:
        return np.array([[v[0], v[2], v[4]], [v[1], v[3], v[5]], [0, 0, 1]])
    if name == "translate" and len(v) in (1, 2):
        m[:2, 2] = (v[0], v[1] if len(v) > 1 else 0.0)
    elif name == "scale" and len(v) in (1, 2):
        m[0, 0], m[1, 1] = v[0], v[1] if len(v) > 1 else v[0]
    elif name == "rotate" and len(v) in (1, 3):
        c, s = np.cos(np.deg2rad(v[0])), np.sin(np.deg2rad(v[0]))
        m[:2, :2] = [[c, -s], [s, c]]
        if len(v) == 3:
            centre = np.array(v[1:])
            m[:2, 2] = centre - m[:2, :2] @ centre
    elif name == "skewX" and len(v) == 1:
        m[0, 1] = np.tan(np.deg2rad(v[0]))
    elif name == "skewY" and len(v) == 1:
        m[1, 0] = np.tan(np.deg2rad(v[0]))
    else:
        raise OutlineError(f"The SVG uses the transform {name}({inner}), which is not known.")
    return m


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


Layers = Mapping[str, MultiPolygon]
