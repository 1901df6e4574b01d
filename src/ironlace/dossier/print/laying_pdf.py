"""The laying sheet as pages to pin up at the bench: order, pictures, what falls out, cautions."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from io import StringIO
from typing import Any
from xml.etree.ElementTree import iterparse
from xml.sax.saxutils import escape

from ironlace.care.cautions import process_cautions
from ironlace.dossier.print.typesetting import PAPER_NAMES, Paper, paper_size, typeset
from ironlace.ornament.files.svg_scale import svg_page
from ironlace.ornament.stencils import Sheet

_MARGIN_MM = 15.0
"""Beyond what desk printers leave white."""

_HIGHEST_PICTURE_MM = 120.0
"""Low enough that two sheets may share a page; chosen by eye."""

_MOST_FLAWS = 20
"""Rows of the table of what falls out: the narrowest, to be looked at before cutting. The picture
shows all, and the table beside the sheets has all (judged)."""

_LABEL_MM = 2.4
"""Height of a label's letters on the page, whatever the picture's scale."""


def laying_pdf(  # long: docstring and one table; dict: as planned
    sheets: Sequence[Sheet],
    report: dict[str, Any],
    *,
    material: str,
    falls_svg: str,
    flaws: Sequence[dict[str, Any]],
    surface: Mapping[str, float | str] | None,
    paper: Paper,
    title: str,
    made: str,
) -> bytes:
    """Set the laying sheet.

    Parameters
    ----------
    sheets
        In the order of laying.
    report
        Of the plan.
    material
        Of the process.
    falls_svg, flaws
        The picture of what falls out, and its table.
    surface
        What the ornament lies on, as it was asked for; None for a plane.
    title
        Stands on the first page.
    made
        When and by what; its day is the file's date if it begins with one.

    Raises
    ------
    DossierError
        When the pages cannot be set.
    """
    across, down = paper_size(paper)
    room = across - 2 * _MARGIN_MM
    steps = [_step(s, p, room) for s, p in zip(sheets, report["sheets"], strict=True)]
    files = {
        f"sheet-{n}.svg": _labelled(sheet, step["width"]).encode("utf-8")
        for n, (sheet, step) in enumerate(zip(sheets, steps, strict=True))
    }
    files["falls.svg"] = falls_svg.encode("utf-8")
    wide, high = _size_of(falls_svg)
    share = min(1.0, room / wide, (down - 90.0) / high)
    data = {
        "title": title,
        "made": made,
        "paper": PAPER_NAMES[paper],
        "page": [across, down],
        "margin": _MARGIN_MM,
        "process": report["process"],
        "material": material,
        "cautions": process_cautions(report["cautions"]),
        "surface": surface_in_words(surface),
        "steps": [{"picture": f"sheet-{n}.svg", **step} for n, step in enumerate(steps)],
        "touch": _touch(report["touch_in"]),
        "proof": [_proof_in_words(layer) for layer in report["proof"]],
        "falls": {
            "width": wide * share,
            "height": high * share,
            "scale": _scale_in_words(share),
        },
        "flaws": _worst(flaws),
        "flaws_left": _rest_in_words(flaws),
    }
    return typeset("laying.typ", data, made=_day(made), files_beside=files)


def _size_of(picture_svg: str) -> tuple[float, float]:
    """Width and height in mm of a picture of our own; of its text only the beginning is read."""
    _, root = next(iterparse(StringIO(picture_svg), events=("start",)))  # noqa: S314 - made here
    left, top, right, bottom = svg_page(root).window_mm
    return right - left, bottom - top


def surface_in_words(surface: Mapping[str, float | str] | None) -> str:
    """How the sheets go round the work: flat, or the radius they are unrolled from.

    >>> surface_in_words({"kind": "cylinder", "radius_mm": 41.0})[:52]
    'The sheets are unrolled from a cylinder of 41 mm rad'
    """
    told = surface or {}
    kind = str(told.get("kind", "plane"))
    if kind == "plane":
        return "The sheets lie flat: they are not bent round the work."
    radius = float(told["radius_mm"])
    girth = 2 * math.pi * radius
    cone = f", half angle {float(told['half_angle_deg']):g}°" if kind == "cone" else ""
    return (
        f"The sheets are unrolled from a {kind} of {radius:g} mm radius{cone} "
        f"({2 * radius:g} mm across, {girth:.1f} mm round"
        f"{' where the drawing is measured' if cone else ''}). Bend each round the work with its "
        "strokes “along the axis” in one line with the work’s axis; if it does not lie without "
        "gap or fold, the radius is another one: measure it and plan again."
    )


def _worst(flaws: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The narrowest, by their numbers."""
    narrowest = sorted(flaws, key=lambda flaw: flaw["width_mm"])[:_MOST_FLAWS]
    return sorted(narrowest, key=lambda flaw: flaw["number"])


_MANY = {"island": "islands", "tongue": "tongues", "web": "thin webs", "narrow": "narrow openings"}


def _rest_in_words(flaws: Sequence[dict[str, Any]]) -> str:
    """How many more there are than the table has, in a sentence; empty when it has all."""
    told = {flaw["number"] for flaw in _worst(flaws)}
    rest = Counter(flaw["kind"] for flaw in flaws if flaw["number"] not in told)
    if not rest:
        return ""
    kinds = ", ".join(f"{count} {_MANY.get(kind, kind)}" for kind, count in rest.items())
    return (
        f"These are the {len(told)} narrowest of {len(flaws)}. The other {rest.total()} "
        f"({kinds}) stand in the picture by their numbers and in the table falls.csv."
    )


def _labelled(sheet: Sheet, shown_mm: float) -> str:
    """The sheet's picture with a word at each laying mark and a letter at each register hole."""
    left, _, right, bottom = sheet.edge.bounds
    size = _LABEL_MM * (right - left) / shown_mm
    labels: dict[tuple[float, float, str], None] = {}
    for line, word in sheet.notes:
        x, y = (float(v) for v in line.mean(axis=0))
        # one label for the two strokes of a cross
        labels.setdefault((round(x, 2), round(y, 2), word))
    hole = sheet.register_hole_mm / 2 + 0.3 * size
    texts = [_label(x, y, size, word, (left, right, bottom)) for (x, y, word) in labels]
    texts += [
        _label(float(x) + hole, float(y), size, chr(ord("A") + n), (left, right, bottom))
        for n, (x, y) in enumerate(sheet.register_mm)
    ]
    body, end, _ = sheet.svg().rpartition("</svg>")
    # a rim of white keeps a label legible over the drawing
    look = f'fill="#204060" stroke="#ffffff" stroke-width="{size / 4:.2f}" paint-order="stroke"'
    return f'{body}<g {look} font-family="sans-serif">{"".join(texts)}</g>{end}'


def _label(x: float, y: float, size: float, word: str, bounds: tuple[float, float, float]) -> str:
    """A word beside a place, on the side that has room."""
    left, right, bottom = bounds
    near_end = x > (left + right) / 2
    x += -0.4 * size if near_end else 0.4 * size
    y = min(y + 1.1 * size, bottom - 0.4 * size)
    anchor = "end" if near_end else "start"
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}" text-anchor="{anchor}">'
        f"{escape(word)}</text>"
    )


def _step(sheet: Sheet, planned: dict[str, Any], room_mm: float) -> dict[str, Any]:
    """One sheet at its turn: its picture's size on the page, and what to know of it."""
    left, top, right, bottom = sheet.edge.bounds
    share = min(1.0, room_mm / (right - left), _HIGHEST_PICTURE_MM / (bottom - top))
    return {
        "width": (right - left) * share,
        "height": (bottom - top) * share,
        "scale": _scale_in_words(share),
        "name": sheet.name,
        "colour": sheet.colour,
        "openings": planned["openings"],
        "area": f"{planned['area_mm2']:.0f}",
        "size": f"{planned['size_mm'][0]:g} × {planned['size_mm'][1]:g} mm",
        "minutes": f"{planned['cut_minutes']:.0f}",
        "whole": planned["pieces"] == 1,
        "marks": list(dict.fromkeys(word for _, word in sheet.notes)),
        "holes": len(sheet.register_mm),
        "behind": sheet.mirrored,
    }


def _touch(planned: dict[str, Any]) -> dict[str, Any]:
    """What is to be touched in by hand afterwards."""
    return {
        "bridges": planned["bridges"],
        "length": f"{planned['length_mm']:.0f}",
        "back": planned["painted_back"],
        "minutes": f"{planned['minutes']:.0f}",
    }


def _day(made: str) -> datetime | None:
    """The day that a note of when and by what begins with, if it does."""
    try:
        return datetime.fromisoformat(made[:10]).replace(tzinfo=UTC)
    except ValueError:
        return None


def _scale_in_words(share: float) -> str:
    return "at true scale" if share > 0.9999 else f"shown at 1 : {1.0 / share:.2f}"


def _proof_in_words(layer: dict[str, Any]) -> str:
    true, off, _ = layer["laid"]
    return (
        f"{layer['colour']}: {true['covered'] * 100:.2f} % covered when laid true; "
        f"{off['covered'] * 100:.2f} % when {off['register_mm']:g} mm off, "
        f"{off['stray'] * 100:.2f} % beside the drawing."
    )
