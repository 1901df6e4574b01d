"""A drawing as SVG in millimetres, and back.

Each colour is a group named by its layer; each shape is one even-odd path of an outline with its
holes. Evidence goes with it twice: as ``data-evidence`` on the shape (``grade:source*count`` for
runs of curves, rings parted by ``;``), for reading back, and as a group of unfilled outlines whose
dash pattern shows the grade, for the eye. The user unit is one millimetre, x right, y down, in the
strip's coordinates.
"""

from __future__ import annotations

import re
from itertools import groupby
from typing import Final
from urllib.parse import quote, unquote
from xml.etree import ElementTree
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.grades import Grade
from ironlace.ornament.errors import DrawingError
from ironlace.ornament.files.svg_root import svg_root, tag_of
from ironlace.ornament.outline.drawing import ClosedPath, Drawing

_STROKE_MM: Final = 0.12
_UNITS_MM: Final = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}
_SKIP: Final = {"defs", "clipPath", "mask", "symbol", "pattern", "metadata", "title", "desc"}


def drawing_svg(drawing: Drawing, *, evidence: bool = True, decimals: int = 4) -> str:
    """The drawing as SVG text; ``evidence=False`` leaves the dashed outlines out."""
    left, top, right, bottom = drawing.bounds_mm
    width, height = right - left, bottom - top
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.6g}mm" height="{height:.6g}mm" '
        f'viewBox="{left:.6g} {top:.6g} {width:.6g} {height:.6g}">',
    ]
    nesting = drawing.nesting()
    depth = _depths(nesting)
    for layer in drawing.layers:
        r, g, b = drawing.colours.get(layer, (128, 128, 128))
        lines.append(
            f'<g id="layer-{quote(layer)}" data-layer={quoteattr(layer)} '
            f'fill="#{r:02x}{g:02x}{b:02x}" fill-rule="evenodd" stroke="none">'
            f"<title>{escape(layer)}</title>"
        )
        for i, path in enumerate(drawing.paths):
            if path.layer != layer or depth[i] % 2 == 1:
                continue
            rings = [path] + [p for p, up in zip(drawing.paths, nesting, strict=True) if up == i]
            d = "".join(_ring_d(p, decimals) for p in rings)
            told = ";".join(_runs(p) for p in rings)
            lines.append(f'<path d="{d}" data-evidence="{told}"/>')
        lines.append("</g>")
    if evidence:
        lines.append(
            f'<g id="evidence" data-role="evidence" fill="none" stroke="#204060" '
            f'stroke-width="{_STROKE_MM}" stroke-linecap="butt">'
        )
        for path in drawing.paths:
            lines += _evidence_paths(path, decimals)
        lines.append("</g>")
    lines.append("</svg>\n")
    return "\n".join(lines)


def drawing_from_svg(text: str) -> Drawing:
    """Read a drawing from SVG, its own or one a vector editor has saved.

    Paths, polygons, rectangles, circles and ellipses are read with their transforms; open rings are
    closed as filling closes them. A shape whose ``data-evidence`` no longer matches its curves
    comes back as conjectured; `regrade` gives untouched stretches their evidence back by geometry.

    Raises
    ------
    DrawingError
        If the text is not SVG or holds no closed shape.
    """
    root = svg_root(text, DrawingError)
    to_mm, bounds = _page(root)
    paths: list[ClosedPath] = []
    colours: dict[str, tuple[int, int, int]] = {}
    _walk(root, to_mm, "gold", None, paths, colours)
    if not paths:
        raise DrawingError("The SVG holds no closed shape.")
    return Drawing(tuple(paths), bounds, colours or {"gold": (184, 144, 64)})


def _depths(nesting: tuple[int | None, ...]) -> list[int]:
    out = []
    for i in range(len(nesting)):
        n, up = 0, nesting[i]
        while up is not None:
            n, up = n + 1, nesting[up]
        out.append(n)
    return out


def _coordinates(points: Floats, decimals: int) -> str:
    return " ".join(_short(float(v), decimals) for v in np.ravel(points))


def _short(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _ring_d(path: ClosedPath, decimals: int) -> str:
    start = _coordinates(path.curves[0, 0], decimals)
    return f"M{start}C" + " ".join(_coordinates(c[1:], decimals) for c in path.curves) + "Z"


def _runs(path: ClosedPath) -> str:
    pairs = zip(path.grades, path.sources, strict=True)
    return " ".join(
        f"{grade}:{quote(source, safe='')}*{len(list(run))}"
        for (grade, source), run in groupby(pairs)
    )


def _evidence_paths(path: ClosedPath, decimals: int) -> list[str]:
    pairs = list(zip(path.grades, path.sources, strict=True))
    out = []
    at = 0
    for (grade, source), run in groupby(pairs):
        count = len(list(run))
        part = path.curves[at : at + count]
        at += count
        d = f"M{_coordinates(part[0, 0], decimals)}C"
        d += " ".join(_coordinates(c[1:], decimals) for c in part)
        if count == path.nodes:
            d += "Z"
        dash = " ".join(f"{v:g}" for v in Grade(grade).dash_mm)
        pattern = f' stroke-dasharray="{dash}"' if dash else ""
        out.append(f'<path data-grade="{grade}" data-source={quoteattr(source)}{pattern} d="{d}"/>')
    return out


def _length_mm(text: str | None) -> float | None:
    """A length with an absolute unit in mm; None for pixels, percentages and nothing."""
    match = re.fullmatch(r"\s*([-+.\deE]+)\s*(mm|cm|in|pt|pc)\s*", text or "")
    return float(match.group(1)) * _UNITS_MM[match.group(2)] if match else None


def _page(root: ElementTree.Element) -> tuple[Floats, tuple[float, float, float, float]]:
    """Affine from user units to strip mm, and the window in mm."""
    view = [float(v) for v in re.split(r"[\s,]+", (root.get("viewBox") or "").strip()) if v]
    wide, high = _length_mm(root.get("width")), _length_mm(root.get("height"))
    if len(view) != 4 or view[2] <= 0 or view[3] <= 0:
        if wide is None or high is None:
            raise DrawingError(
                "The SVG has neither a viewBox nor a size in mm, so its scale is unknown; save it "
                'with width and height in mm and viewBox="left top width height" in mm.'
            )
        return np.eye(3), (0.0, 0.0, wide, high)
    scale = 1.0 if wide is None else wide / view[2]
    matrix = np.diag([scale, scale, 1.0])
    left, top = view[0] * scale, view[1] * scale
    return matrix, (left, top, left + view[2] * scale, top + view[3] * scale)


def _transform(text: str | None) -> Floats:
    """The 3x3 matrix of an SVG transform attribute."""
    total = np.eye(3)
    for name, inner in re.findall(r"(\w+)\s*\(([^)]*)\)", text or ""):
        v = [float(x) for x in re.split(r"[\s,]+", inner.strip()) if x]
        m = np.eye(3)
        if name == "matrix" and len(v) == 6:
            m = np.array([[v[0], v[2], v[4]], [v[1], v[3], v[5]], [0, 0, 1]])
        elif name == "translate" and v:
            m[:2, 2] = (v[0], v[1] if len(v) > 1 else 0.0)
        elif name == "scale" and v:
            m = np.diag([v[0], v[1] if len(v) > 1 else v[0], 1.0])
        elif name == "rotate" and v:
            c, s = np.cos(np.deg2rad(v[0])), np.sin(np.deg2rad(v[0]))
            m[:2, :2] = [[c, -s], [s, c]]
            if len(v) == 3:
                there = np.eye(3)
                there[:2, 2] = v[1:]
                back = np.eye(3)
                back[:2, 2] = (-v[1], -v[2])
                m = there @ m @ back
        elif name == "skewX" and v:
            m[0, 1] = np.tan(np.deg2rad(v[0]))
        elif name == "skewY" and v:
            m[1, 0] = np.tan(np.deg2rad(v[0]))
        else:
            raise DrawingError(f"The SVG uses the transform {name}({inner}), which is not known.")
        total = total @ m
    return total


def _style(element: ElementTree.Element, name: str) -> str | None:
    """A presentation property, from the style attribute or its own."""
    found = re.search(rf"(?:^|;)\s*{name}\s*:\s*([^;]+)", element.get("style") or "")
    return found.group(1).strip() if found else element.get(name)


def _walk(
    element: ElementTree.Element,
    matrix: Floats,
    layer: str,
    fill: str | None,
    paths: list[ClosedPath],
    colours: dict[str, tuple[int, int, int]],
) -> None:
    tag = tag_of(element)
    hidden = _style(element, "display") == "none"
    if tag in _SKIP or hidden or element.get("data-role") in ("evidence", "photograph"):
        return
    matrix = matrix @ _transform(element.get("transform"))
    fill = _style(element, "fill") or fill
    if element.get("data-layer"):
        layer = element.get("data-layer", layer)
    elif tag == "g" and (element.get("id") or "").startswith("layer-"):
        layer = unquote(element.get("id", "")[len("layer-") :]) or layer
    d = _outline(element, tag)
    if d and fill != "none":
        if layer not in colours:
            colours[layer] = _colour(fill)
        rings = [_moved(r, matrix) for r in rings_of_path(d)]
        told = (element.get("data-evidence") or "").split(";")
        for n, ring in enumerate(rings):
            evidence = _told(told[n]) if len(told) == len(rings) else []
            if len(evidence) != len(ring):
                evidence = [(Grade.CONJECTURED, "drawn")] * len(ring)
            paths.append(
                ClosedPath(
                    ring, tuple(g for g, _ in evidence), tuple(s for _, s in evidence), layer
                )
            )
    for child in element:
        _walk(child, matrix, layer, fill, paths, colours)


def _told(text: str) -> list[tuple[Grade, str]]:
    out: list[tuple[Grade, str]] = []
    for grade, source, count in re.findall(r"(\w+):([^\s*]*)\*(\d+)", text):
        if grade not in {str(g) for g in Grade} or int(count) > 1_000_000:
            return []
        out += [(Grade(grade), unquote(source))] * int(count)
    return out


def _colour(fill: str | None) -> tuple[int, int, int]:
    match = re.fullmatch(r"#([0-9a-fA-F]{6})", (fill or "").strip())
    if not match:
        return (184, 144, 64)
    value = int(match.group(1), 16)
    return (value >> 16, (value >> 8) & 255, value & 255)


def _moved(curves: Floats, matrix: Floats) -> Floats:
    return curves @ matrix[:2, :2].T + matrix[:2, 2]


def _outline(element: ElementTree.Element, tag: str) -> str | None:
    """Path data of a shape element."""

    def value(name: str, default: float = 0.0) -> float:
        text = element.get(name)
        return default if text is None else float(re.sub(r"[a-z%]+$", "", text.strip()))

    if tag == "path":
        return element.get("d")
    if tag == "polygon":
        return f"M{element.get('points', '')}Z" if (element.get("points") or "").strip() else None
    if tag == "rect":
        x, y, w, h = value("x"), value("y"), value("width"), value("height")
        return f"M{x} {y}h{w}v{h}h{-w}Z" if w > 0 and h > 0 else None
    if tag in ("circle", "ellipse"):
        rx = value("r") if tag == "circle" else value("rx")
        ry = value("r") if tag == "circle" else value("ry")
        cx, cy = value("cx"), value("cy")
        if rx <= 0 or ry <= 0:
            return None
        return f"M{cx - rx} {cy}a{rx} {ry} 0 1 0 {2 * rx} 0a{rx} {ry} 0 1 0 {-2 * rx} 0Z"
    return None


def rings_of_path(d: str) -> list[Floats]:
    """SVG path data as closed rings of cubic curves, each (n, 4, 2).

    Raises
    ------
    DrawingError
        If the path data cannot be read.
    """
    from fontTools.pens.recordingPen import RecordingPen
    from fontTools.svgLib.path import parse_path

    pen = RecordingPen()
    try:
        parse_path(d, pen)
    except (ValueError, IndexError, AssertionError, NotImplementedError) as error:
        raise DrawingError(f"A path in the SVG cannot be read ({error}): {d[:60]}") from error
    rings: list[Floats] = []
    curves: list[Floats] = []
    at = start = np.zeros(2)

    def line(a: Floats, b: Floats) -> None:
        if float(np.abs(b - a).max()) > 1e-9:
            curves.append(np.array([a, a + (b - a) / 3, a + (b - a) * 2 / 3, b]))

    def finish() -> None:
        nonlocal curves
        if curves:
            line(at, start)
            ring = np.array(curves)
            # close exactly: rounding in the file leaves gaps of its last decimal
            ring[-1, 3] = ring[0, 0]
            if len(ring) > 1 or np.abs(ring[0] - ring[0, 0]).max() > 1e-6:
                rings.append(ring)
        curves = []

    for verb, args in pen.value:
        p = [np.asarray(q, np.float64) for q in args]
        if verb == "moveTo":
            finish()
            at = start = p[0]
        elif verb == "lineTo":
            line(at, p[0])
            at = p[0] if float(np.abs(p[0] - at).max()) > 1e-9 else at
        elif verb == "curveTo":
            curves.append(np.array([at, *p]))
            at = p[-1]
        elif verb == "qCurveTo":
            c, end = p
            curves.append(np.array([at, at + (c - at) * 2 / 3, end + (c - end) * 2 / 3, end]))
            at = end
        else:
            finish()
            at = start
    finish()
    return rings
