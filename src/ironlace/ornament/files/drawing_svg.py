"""A drawing as SVG in millimetres, and back.

Each colour is a group named by its layer; each shape is one even-odd path of an outline with its
holes. Evidence goes with it twice: as ``data-evidence`` on the shape (``grade:source*count`` for
runs of curves, rings parted by ``;``), for reading back, and as a group of unfilled outlines whose
dash pattern shows the grade, for the eye. Places that nobody could see are a shaded group of their
own, read back with the drawing and never part of the ornament. The user unit is one millimetre, x
right, y down, in the strip's coordinates.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import groupby
from typing import Final
from urllib.parse import quote, unquote
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.grades import Grade
from ironlace.ornament.errors import DrawingError
from ironlace.ornament.files.even_odd import even_odd
from ironlace.ornament.files.svg_paint import rgb_of
from ironlace.ornament.files.svg_shapes import Shape, read_svg
from ironlace.ornament.outline.drawing import BlindPlace, ClosedPath, Drawing, FilledPlace

_STROKE_MM: Final = 0.12
"""Width of the dashed outlines: a fine pen's, judged by eye."""
_SHADE_MM: Final = 1.2
"""Between the strokes that shade what nobody can see: open enough to read the drawing through."""
_LAYER: Final = "gold"
_GILT: Final = (184, 144, 64)
"""What a shape is called and coloured that says neither: gilt bronze powder, judged by eye."""


def drawing_svg(
    drawing: Drawing, *, evidence: bool = True, decimals: int = 4, told: str = ""
) -> str:
    """The drawing as SVG text; ``evidence=False`` leaves the dashed outlines out.

    ``told`` is what is said of how true it is, kept as the picture's description.
    """
    left, top, right, bottom = drawing.bounds_mm
    width, height = right - left, bottom - top
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.6g}mm" height="{height:.6g}mm" '
        f'viewBox="{left:.6g} {top:.6g} {width:.6g} {height:.6g}">',
    ]
    if told:
        lines.append(f"<desc>{escape(told)}</desc>")
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
        lines += blind_svg(drawing.blind, decimals)
        lines.append(
            f'<g id="evidence" data-role="evidence" fill="none" stroke="#204060" '
            f'stroke-width="{_STROKE_MM}" stroke-linecap="butt">'
        )
        for path in drawing.paths:
            lines += _evidence_paths(path, decimals)
        lines.append("</g>")
        lines += _filled(drawing.filled, decimals)
    lines.append("</svg>\n")
    return "\n".join(lines)


def drawing_from_svg(text: str) -> Drawing:
    """Read a drawing from SVG, its own or one a vector editor has saved; see `read_drawing_svg`."""
    return read_drawing_svg(text)[0]


def read_drawing_svg(text: str) -> tuple[Drawing, tuple[str, ...]]:
    """Read a drawing from SVG, and say what had to be taken for granted.

    What is filled is read as `svg_shapes.read_svg` does; open rings are closed as filling closes
    them. A shape whose ``data-evidence`` no longer matches its curves comes back as conjectured;
    `regrade` gives untouched stretches their evidence back by geometry.

    Returns
    -------
    drawing
        In mm.
    notices
        Such as a scale that had to be assumed, or strokes left out; one sentence each.

    Raises
    ------
    DrawingError
        If the text is not SVG, holds nothing filled, or holds text or pictures.
    """
    read = read_svg(text, DrawingError)
    paths: list[ClosedPath] = []
    colours: dict[str, tuple[int, int, int]] = {}
    layers: dict[str, list[Shape]] = {}
    for shape in read.shapes:
        layer = shape.layer or shape.group or _LAYER
        layers.setdefault(layer, []).append(shape)
        if layer not in colours:
            colours[layer] = rgb_of(shape.fill) or _GILT
    for layer, shape in ((name, one) for name in layers for one in even_odd(layers[name])):
        told = shape.evidence.split(";")
        for n, ring in enumerate(shape.rings):
            evidence = _told(told[n]) if len(told) == len(shape.rings) else []
            if len(evidence) != len(ring):
                evidence = [(Grade.CONJECTURED, "drawn")] * len(ring)
            paths.append(
                ClosedPath(
                    ring, tuple(g for g, _ in evidence), tuple(s for _, s in evidence), layer
                )
            )
    blind = tuple(BlindPlace(why, at) for role, why, at in read.noted if role == "blind")
    filled = tuple(FilledPlace(why, at) for role, why, at in read.noted if role == "filled")
    return Drawing(tuple(paths), read.window_mm, colours, blind, filled), read.notices


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


def blind_svg(places: Sequence[BlindPlace], decimals: int = 4) -> list[str]:
    """Blind places as a group of their own, shaded so that it is seen without colour."""
    if not places:
        return []
    lines = [
        '<g id="blind" data-role="blind"><title>Nothing can be seen here</title>',
        f'<defs><pattern id="no-sight" width="{_SHADE_MM}" height="{_SHADE_MM}" '
        'patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<path d="M0 0V{_SHADE_MM}" stroke="#606060" stroke-width="0.25"/></pattern></defs>',
    ]
    for place in places:
        d = f"M{_coordinates(place.corners_mm, decimals)}Z"
        lines.append(
            f'<path data-blind={quoteattr(place.why)} d="{d}" fill="url(#no-sight)" '
            f'stroke="#606060" stroke-width="0.15"><title>{escape(place.why)}</title></path>'
        )
    return [*lines, "</g>"]


def _filled(places: Sequence[FilledPlace], decimals: int) -> list[str]:
    """What was closed by conjecture, dotted as conjecture is."""
    if not places:
        return []
    dash = " ".join(f"{v:g}" for v in Grade.CONJECTURED.dash_mm)
    lines = [
        '<g id="filled" data-role="filled" fill="none" stroke="#204060" '
        f'stroke-width="{_STROKE_MM}" stroke-dasharray="{dash}"><title>Closed by conjecture</title>'
    ]
    for place in places:
        d = f"M{_coordinates(place.corners_mm, decimals)}Z"
        lines.append(f'<path data-filled={quoteattr(place.why)} data-grade="conjectured" d="{d}"/>')
    return [*lines, "</g>"]


def _told(text: str) -> list[tuple[Grade, str]]:
    out: list[tuple[Grade, str]] = []
    for grade, source, count in re.findall(r"(\w+):([^\s*]*)\*(\d+)", text):
        if grade not in {str(g) for g in Grade} or int(count) > 1_000_000:
            return []
        out += [(Grade(grade), unquote(source))] * int(count)
    return out
