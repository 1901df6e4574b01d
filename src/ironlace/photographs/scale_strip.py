"""The printable scale strip: markers whose place on the surface is known in millimetres.

A narrow strip fixes the scale along itself but hardly the tilt of the surface, because a small
error across a short base turns the whole plane. The pieces here therefore span an area: a *frame*
whose window is cut out and laid around the ornament, a *corner* (L) where a frame does not fit, and
a *wrap*, a smaller frame of thin paper that bends around an arm or pillar. A plain *strip* with two
rows of markers remains for tight places.

Coordinates are surface millimetres, x to the right, y down, origin at the piece's own upper left
corner; on a curved surface they run along the unrolled surface. Marker corners are numbered as
OpenCV numbers them: 0 top left, 1 top right, 2 bottom right, 3 bottom left.

Markers come from OpenCV's 6x6 dictionary of 250, which still reads with 5 of its 36 cells spoilt
(Garrido-Jurado et al. 2014, "Automatic generation and detection of highly reliable fiducial markers
under occlusion"); the 4x4 sets correct one cell at most. No number is used on two pieces, so a
photograph tells by itself which piece lies in it.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.photographs.errors import LayoutError

LAYOUT_COLUMNS: Final = ("dictionary", "id", "corner", "x_mm", "y_mm")
STRIP_DICTIONARY: Final = "DICT_6X6_250"
CHECK_BAR_MM: Final = 100.0
"""The bar printed for checking a printer's scale: 0.5 mm on a workshop ruler is 0.5 % of it."""

LaidPiece = Literal["frame", "corner", "wrap", "strip"]
"""A piece that is laid around the work."""
PIECE_WORDS: Final[dict[LaidPiece, str]] = {
    "frame": "a frame to lay around the ornament; the truest",
    "corner": "two sides only, where a frame does not fit",
    "wrap": "a smaller frame of thin paper that bends around an arm or pillar",
    "strip": "a plain strip for tight places; the least true",
}
"""What each piece is for, to choose by."""
Piece = Literal[LaidPiece, "chart"]
"""Any printed piece: one to be laid, or the chart that a lens is measured with."""
Page = Literal["A4", "Letter"]

PAGE_MM: Final[dict[Page, tuple[float, float]]] = {"A4": (297.0, 210.0), "Letter": (279.4, 215.9)}


@dataclass(frozen=True)
class StripMarker:
    """One square marker.

    Attributes
    ----------
    dictionary
        Name of OpenCV's marker dictionary, e.g. ``"DICT_6X6_250"``.
    id
        Number of the marker in its dictionary.
    corners_mm
        Four ``(x, y)`` in surface mm, order top left, top right, bottom right, bottom left.
    """

    dictionary: str
    id: int
    corners_mm: tuple[tuple[float, float], ...]

    @property
    def side_mm(self) -> float:
        """Mean length of the four sides."""
        ring = np.asarray(self.corners_mm, dtype=float)
        return float(np.linalg.norm(ring - np.roll(ring, -1, axis=0), axis=1).mean())


@dataclass(frozen=True)
class StripLayout:
    """Where every marker of a strip lies on the surface.

    >>> layout = strip_sheet("frame").layout
    >>> StripLayout.from_csv(layout.to_csv()) == layout
    True
    """

    markers: tuple[StripMarker, ...]

    def __post_init__(self) -> None:
        keys = [(m.dictionary, m.id) for m in self.markers]
        if len(set(keys)) != len(keys):
            twice = next(k for k in keys if keys.count(k) > 1)
            raise LayoutError(
                f"Marker {twice[1]} of {twice[0]} is listed twice in the strip layout; "
                "each marker may lie in one place only."
            )

    @property
    def dictionaries(self) -> tuple[str, ...]:
        """The marker dictionaries used, in the order they appear."""
        return tuple(dict.fromkeys(m.dictionary for m in self.markers))

    @cached_property
    def by_key(self) -> dict[tuple[str, int], StripMarker]:
        """Markers by dictionary and number."""
        return {(m.dictionary, m.id): m for m in self.markers}

    @cached_property
    def corners_mm(self) -> NDArray[np.float64]:
        """All corners, shape (markers, 4, 2)."""
        return np.array([m.corners_mm for m in self.markers], dtype=np.float64).reshape(-1, 4, 2)

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Smallest and largest x and y of the markers: (left, top, right, bottom)."""
        flat = self.corners_mm.reshape(-1, 2)
        left, top = flat.min(axis=0)
        right, bottom = flat.max(axis=0)
        return float(left), float(top), float(right), float(bottom)

    @property
    def longer_mm(self) -> float:
        """From outer edge to outer edge of its outermost markers, along its longer side."""
        left, top, right, bottom = self.bounds_mm
        return max(right - left, bottom - top)

    def scaled(self, by: float) -> StripLayout:
        """The layout as it lies on paper that came out ``by`` times as large."""
        return StripLayout(
            tuple(
                StripMarker(m.dictionary, m.id, tuple((x * by, y * by) for x, y in m.corners_mm))
                for m in self.markers
            )
        )

    def to_csv(self) -> str:
        """The layout as text with the columns ``dictionary,id,corner,x_mm,y_mm``."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(LAYOUT_COLUMNS)
        for marker in self.markers:
            for corner, (x, y) in enumerate(marker.corners_mm):
                writer.writerow([marker.dictionary, marker.id, corner, _number(x), _number(y)])
        return out.getvalue()

    @classmethod
    def from_csv(cls, text: str) -> StripLayout:
        """Read a layout written by `to_csv` or by hand.

        Raises
        ------
        LayoutError
            If a column is missing, a value is not a number, a dictionary is unknown, or a marker
            does not have its four corners in the order OpenCV uses (clockwise as seen, y down).
        """
        reader = csv.DictReader(io.StringIO(text.lstrip("\ufeff")), skipinitialspace=True)
        names = [n.strip() for n in reader.fieldnames or []]
        reader.fieldnames = names
        missing = [c for c in LAYOUT_COLUMNS if c not in names]
        if missing:
            raise LayoutError(
                f"The strip layout has columns {', '.join(names) or 'none'}; "
                f"{', '.join(missing)} is missing. Its first line must read "
                f"{','.join(LAYOUT_COLUMNS)}."
            )
        corners: dict[tuple[str, int], dict[int, tuple[float, float]]] = {}
        for row in reader:
            line = reader.line_num
            if not any((row.get(c) or "").strip() for c in LAYOUT_COLUMNS):
                continue
            try:
                key = ((row["dictionary"] or "").strip(), int(row["id"]))
                corner = int(row["corner"])
                point = (float(row["x_mm"]), float(row["y_mm"]))
            except (TypeError, ValueError) as error:
                raise LayoutError(
                    f"Line {line} of the strip layout holds something that is not a number "
                    f"({error}); id and corner are whole numbers, x_mm and y_mm millimetres."
                ) from error
            if not (math.isfinite(point[0]) and math.isfinite(point[1])):
                raise LayoutError(
                    f"Line {line} of the strip layout has a place that is not finite."
                )
            marker_dictionary(key[0])
            if corner not in (0, 1, 2, 3) or corner in corners.setdefault(key, {}):
                raise LayoutError(
                    f"Line {line} of the strip layout gives corner {corner} of marker {key[1]}; "
                    "each marker needs the corners 0, 1, 2 and 3 once each."
                )
            corners[key][corner] = point
        if not corners:
            raise LayoutError("The strip layout lists no marker; at least two are needed.")
        return cls(tuple(_checked_marker(key, four) for key, four in corners.items()))


@dataclass(frozen=True)
class StripSheet:
    """A piece as printed: its layout, its cut lines and the page it is centred on.

    ``outline_mm`` and ``window_mm`` are closed polygons in the piece's own coordinates (window: the
    part to cut away inside, empty where there is none). ``bar_mm`` is the check bar's left end.
    """

    piece: Piece
    layout: StripLayout
    outline_mm: tuple[tuple[float, float], ...]
    window_mm: tuple[tuple[float, float], ...]
    bar_mm: tuple[float, float]

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the piece."""
        outline = np.asarray(self.outline_mm)
        return float(np.ptp(outline[:, 0])), float(np.ptp(outline[:, 1]))


def strip_sheet(piece: Piece) -> StripSheet:
    """One of the ready-made pieces; all fit on A4 and on US Letter with 8 mm margins."""
    if piece == "frame":
        return frame_sheet("frame", 256.0, 186.0, band_mm=20.0, marker_mm=12.0, first_id=0)
    if piece == "corner":
        return frame_sheet(
            "corner", 256.0, 186.0, band_mm=20.0, marker_mm=12.0, first_id=60, sides="top left"
        )
    if piece == "wrap":
        return frame_sheet("wrap", 200.0, 130.0, band_mm=16.0, marker_mm=10.0, first_id=100)
    if piece == "strip":
        return _straight_strip()
    if piece == "chart":
        return _lens_chart()
    raise LayoutError(
        f"There is no piece called {piece!r}; choose frame, corner, wrap, strip or chart."
    )


def frame_sheet(
    piece: Piece,
    width_mm: float,
    height_mm: float,
    *,
    band_mm: float,
    marker_mm: float,
    first_id: int,
    sides: Literal["all", "top left"] = "all",
) -> StripSheet:
    """A frame (or an L of its top and left side) of any size.

    Parameters
    ----------
    width_mm, height_mm
        Outer size.
    band_mm
        Width of the paper band; the marker is centred on it and needs 2 mm of white all round.
    marker_mm
        Side of a marker.
    first_id
        Number of the first marker; the others follow on.
    """
    if band_mm < marker_mm + 4.0:
        raise LayoutError(
            f"A {band_mm:g} mm band cannot hold a {marker_mm:g} mm marker; it needs 2 mm of white "
            f"on each side, {marker_mm + 4.0:g} mm in all."
        )
    half = band_mm / 2.0
    across = np.linspace(half, width_mm - half, max(2, round((width_mm - band_mm) / 26.0) + 1))
    down = np.linspace(half, height_mm - half, max(2, round((height_mm - band_mm) / 26.0) + 1))
    centres = [(float(x), half) for x in across]
    if sides == "all":
        for y in down[1:-1]:
            centres += [(half, float(y)), (width_mm - half, float(y))]
        centres += [(float(x), height_mm - half) for x in across]
        outline = _rectangle(0.0, 0.0, width_mm, height_mm)
        window = _rectangle(band_mm, band_mm, width_mm - band_mm, height_mm - band_mm)
    else:
        centres += [(half, float(y)) for y in down[1:]]
        outline = (
            (0.0, 0.0),
            (width_mm, 0.0),
            (width_mm, band_mm),
            (band_mm, band_mm),
            (band_mm, height_mm),
            (0.0, height_mm),
        )
        window = ()
    layout = StripLayout(
        tuple(_square(first_id + n, c, marker_mm) for n, c in enumerate(_rounded(centres)))
    )
    bar = (width_mm / 2.0 - CHECK_BAR_MM / 2.0, height_mm / 2.0)
    return StripSheet(piece, layout, outline, window, bar)


def marker_dictionary(name: str) -> cv2.aruco.Dictionary:
    """OpenCV's dictionary of that name.

    Raises
    ------
    LayoutError
        If OpenCV has none of that name.
    """
    number = getattr(cv2.aruco, name, None) if name.startswith("DICT_") else None
    if not isinstance(number, int):
        raise LayoutError(
            f"The strip layout names the marker dictionary {name!r}, which OpenCV does not have; "
            f"the printed strips use {STRIP_DICTIONARY}."
        )
    return cv2.aruco.getPredefinedDictionary(number)


def marker_cells(dictionary: str, number: int) -> NDArray[np.bool_]:
    """Which cells of a marker are black, border included: shape (n, n), row 0 at the top."""
    book = marker_dictionary(dictionary)
    if not 0 <= number < len(book.bytesList):
        raise LayoutError(
            f"Marker {number} does not exist in {dictionary}, which holds {len(book.bytesList)}."
        )
    side = int(book.markerSize) + 2
    return np.asarray(cv2.aruco.generateImageMarker(book, number, side)) < 128


def marker_rings_mm(marker: StripMarker) -> list[NDArray[np.float64]]:
    """The black part of a marker as closed rings in surface mm, for an even-odd fill.

    Neighbouring cells are merged so that no hairline of white can show between them in print.
    """
    from shapely import box, get_parts, unary_union

    cells = marker_cells(marker.dictionary, marker.id)
    n = len(cells)
    black = unary_union([box(c, r, c + 1, r + 1) for r, c in zip(*np.nonzero(cells), strict=True)])
    rings: list[NDArray[np.float64]] = []
    corners = np.asarray(marker.corners_mm, dtype=np.float64)
    for part in get_parts(black):
        for ring in (part.exterior, *part.interiors):
            unit = np.asarray(ring.simplify(0.0).coords, dtype=np.float64)[:-1] / n
            u, v = unit[:, :1], unit[:, 1:]
            rings.append(
                (1 - u) * (1 - v) * corners[0]
                + u * (1 - v) * corners[1]
                + u * v * corners[2]
                + (1 - u) * v * corners[3]
            )
    return rings


def strip_svg(sheet: StripSheet, page: Page = "A4") -> str:
    """The piece on its page (landscape) as SVG in mm; text is outlines, so no font is needed."""
    if page not in PAGE_MM:
        raise LayoutError(f"There is no page called {page!r}; choose A4 or Letter.")
    page_w, page_h = PAGE_MM[page]
    width, height = sheet.size_mm
    left, top = (page_w - width) / 2.0, (page_h - height) / 2.0
    if sheet.piece == "strip":
        top = 30.0
    cut = 'fill="none" stroke="#888888" stroke-width="0.15"'
    body = [f'<path {cut} d="{_path([sheet.outline_mm])}"/>']
    if sheet.window_mm:
        body.append(f'<path {cut} stroke-dasharray="2 1" d="{_path([sheet.window_mm])}"/>')
    body.extend(
        f'<path class="marker" data-id="{marker.id}" fill="#000000" fill-rule="evenodd" '
        f'd="{_path(marker_rings_mm(marker))}"/>'
        for marker in sheet.layout.markers
    )
    bar_x, bar_y = sheet.bar_mm
    body.append(
        '<path class="check-bar" fill="none" stroke="#000000" stroke-width="0.2" '
        f'd="M{_number(bar_x)} {_number(bar_y)}h{_number(CHECK_BAR_MM)}'
        f"M{_number(bar_x)} {_number(bar_y - 3)}v6"
        f'M{_number(bar_x + CHECK_BAR_MM)} {_number(bar_y - 3)}v6"/>'
    )
    lines = (
        ("100 mm between the end strokes: measure before use, print at 100 %", 3.2, -5.5),
        (f"Scale piece: {sheet.piece}. {_CUTTING[sheet.piece]}", 2.8, 8.0),
    )
    for text, size, dy in lines:
        outline = _text_outline(text, bar_x + CHECK_BAR_MM / 2.0, bar_y + dy, size)
        body.append(f'<path class="text" fill="#000000" d="{outline}"/>')
    inner = "\n".join(body)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{page_w:g}mm" height="{page_h:g}mm" '
        f'viewBox="0 0 {page_w:g} {page_h:g}">\n'
        f'<rect width="{page_w:g}" height="{page_h:g}" fill="#ffffff"/>\n'
        f'<g transform="translate({_number(left)} {_number(top)})">\n{inner}\n</g>\n</svg>\n'
    )


_CUTTING: Final[dict[Piece, str]] = {
    "frame": "Cut along the outer line, cut out the dashed window, lay it around the ornament.",
    "corner": "Cut along the line, lay it beside the ornament so that both legs are in view.",
    "wrap": "Cut along the outer line and the dashed window, wrap it tightly, long side around.",
    "strip": "Cut along the line; use it only where a frame or corner does not fit.",
    "chart": "For measuring a lens: do not cut it, fix it flat on glass or a board.",
}


def _straight_strip() -> StripSheet:
    xs = np.linspace(10.0, 246.0, 10)
    centres = [(float(x), 10.0) for x in xs]
    centres += [(float(x), 38.0) for x in (xs[:-1] + xs[1:]) / 2.0]
    layout = StripLayout(tuple(_square(140 + n, c, 12.0) for n, c in enumerate(_rounded(centres))))
    return StripSheet("strip", layout, _rectangle(0.0, 0.0, 256.0, 48.0), (), (78.0, 70.0))


def _lens_chart() -> StripSheet:
    """Sixty markers over the whole page, for measuring a lens; it is not a strip to lay on work."""
    xs, ys = np.linspace(16.0, 240.0, 10), np.linspace(16.0, 146.0, 6)
    centres = [(float(x), float(y)) for y in ys for x in xs]
    layout = StripLayout(tuple(_square(170 + n, c, 16.0) for n, c in enumerate(_rounded(centres))))
    return StripSheet("chart", layout, _rectangle(0.0, 0.0, 256.0, 186.0), (), (78.0, 171.0))


def _rounded(centres: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Centres on a 0.01 mm grid, so that the layout file and the drawing say exactly the same."""
    return [(round(x, 2), round(y, 2)) for x, y in centres]


def _square(number: int, centre: tuple[float, float], side: float) -> StripMarker:
    x, y = centre
    h = side / 2.0
    ring = ((x - h, y - h), (x + h, y - h), (x + h, y + h), (x - h, y + h))
    return StripMarker(
        STRIP_DICTIONARY, number, tuple((round(px, 4), round(py, 4)) for px, py in ring)
    )


def _rectangle(x0: float, y0: float, x1: float, y1: float) -> tuple[tuple[float, float], ...]:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def _checked_marker(key: tuple[str, int], corners: dict[int, tuple[float, float]]) -> StripMarker:
    if len(corners) != 4:
        absent = ", ".join(str(c) for c in range(4) if c not in corners)
        raise LayoutError(
            f"Marker {key[1]} of {key[0]} lacks corner {absent}; all four are needed."
        )
    ring = np.array([corners[c] for c in range(4)])
    nxt = np.roll(ring, -1, axis=0)
    area = 0.5 * float(np.sum(ring[:, 0] * nxt[:, 1] - nxt[:, 0] * ring[:, 1]))
    if area <= 0.0:
        raise LayoutError(
            f"The corners of marker {key[1]} run the wrong way round or coincide; with y down they "
            "go top left, top right, bottom right, bottom left."
        )
    marker_cells(*key)
    return StripMarker(key[0], key[1], tuple(corners[c] for c in range(4)))


def _number(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _path(rings: Iterable[Sequence[Sequence[float]] | NDArray[np.float64]]) -> str:
    parts = []
    for ring in rings:
        points = " L".join(f"{_number(float(p[0]))} {_number(float(p[1]))}" for p in ring)
        parts.append(f"M{points}Z")
    return "".join(parts)


def _text_outline(text: str, centre_x: float, baseline_y: float, size_mm: float) -> str:
    """Text as an SVG path, centred; the PDF then needs no font and no text can be substituted."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    outline = TextPath((0, 0), text, size=size_mm, prop=FontProperties(family="DejaVu Sans"))
    box = outline.get_extents()
    shift = centre_x - (box.x0 + box.x1) / 2.0
    commands = []
    letters = {1: "M", 2: "L", 3: "Q", 4: "C"}
    for points, code in outline.iter_segments(curves=True, simplify=False):
        if code == 79:
            commands.append("Z")
            continue
        xy = np.asarray(points).reshape(-1, 2) * (1.0, -1.0) + (shift, baseline_y)
        commands.append(letters[int(code)] + " ".join(_number(float(v)) for v in xy.ravel()))
    return "".join(commands)
