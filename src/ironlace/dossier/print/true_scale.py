"""Drawings on paper at true scale, over as many pages as they need, each with a bar to measure.

A printer that fits to the page shrinks a drawing by a few per cent without a word. So every page
carries a bar of 100 mm and says what to do if it is not.
"""

import math
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from ironlace.dossier.errors import DrawingRefusedError
from ironlace.dossier.print.ink_window import ink_window
from ironlace.dossier.print.plain_drawing import PlainDrawing, read_drawing
from ironlace.dossier.print.typesetting import PAPER_NAMES, Paper, paper_size, typeset

BAR_MM = 100.0
"""The bar to measure on every page."""

BAR_TOLERANCE = 0.005
"""What a printed bar may be off: half a millimetre in a hundred, as a rule can tell."""

OVERLAP_MM = 10.0
"""What neighbouring parts of a print share, so that they can be laid on each other (judged; no
source)."""

MARGIN_MM = 10.0
"""Edge that common printers leave white is 4 to 6 mm; this keeps clear of it (common practice, no
source)."""

_HEAD_MM = 15.0
"""For title and part above the window."""

_FOOT_MM = 29.0
"""For the bar and what to do if it is not 100 mm, below the window."""

_LONGEST_NOTE_ON_SHEET = 170
"""Characters that fit the head; a longer note has a page of its own."""

_MOST_PARTS = 400
"""Pages of one drawing: more is a mistake in its unit, or work for a roll."""


@dataclass(frozen=True, slots=True)
class PagePart:
    """One page's part of a drawing: its name and its window, in mm of the drawing."""

    name: str
    column: int
    row: int
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class PagePlan:
    """How a drawing is spread over pages.

    Attributes
    ----------
    landscape
        Whether the pages lie on their side.
    window_mm
        Width and height of a page's window.
    columns, rows
        How many parts lie side by side and below each other.
    parts
        The parts, row by row.
    seams_x, seams_y
        Where two parts meet: the middle of their overlap, in mm of the drawing.
    register_mm
        Places of the register marks; the two parts at a seam show the same marks.
    """

    landscape: bool
    window_mm: tuple[float, float]
    columns: int
    rows: int
    parts: tuple[PagePart, ...]
    seams_x: tuple[float, ...]
    seams_y: tuple[float, ...]
    register_mm: tuple[tuple[float, float], ...]


def page_plan(width_mm: float, height_mm: float, paper: Paper) -> PagePlan:
    """Spread a drawing over the fewest pages, neighbours overlapping by 10 mm.

    Raises
    ------
    DrawingRefusedError
        When it would take more than 400 pages.

    >>> page_plan(180.0, 120.0, "a4").columns
    1
    >>> plan = page_plan(400.0, 120.0, "a4")
    >>> plan.landscape, plan.columns, plan.rows
    (True, 2, 1)
    """
    across, down = paper_size(paper)
    plans = [
        (landscape, *_counts(width_mm, height_mm, window), window)
        for landscape, window in (
            (False, _window(across, down)),
            (True, _window(down, across)),
        )
    ]
    landscape, columns, rows, window = min(plans, key=lambda plan: plan[1] * plan[2])
    if columns * rows > _MOST_PARTS:
        raise DrawingRefusedError(
            f"A drawing of {width_mm:.0f} by {height_mm:.0f} mm takes {columns * rows} pages: at "
            f"most {_MOST_PARTS} are set; have it printed on a roll, or cut it into pieces."
        )
    # parts of one size, so that no page holds a sliver alone
    part_x = (width_mm + (columns - 1) * OVERLAP_MM) / columns
    part_y = (height_mm + (rows - 1) * OVERLAP_MM) / rows
    step_x, step_y = part_x - OVERLAP_MM, part_y - OVERLAP_MM
    parts = tuple(
        PagePart(
            f"{_letters(row)}{column + 1}",
            column,
            row,
            column * step_x,
            row * step_y,
            part_x,
            part_y,
        )
        for row in range(rows)
        for column in range(columns)
    )
    seams_x = tuple((i + 1) * step_x + OVERLAP_MM / 2 for i in range(columns - 1))
    seams_y = tuple((i + 1) * step_y + OVERLAP_MM / 2 for i in range(rows - 1))
    return PagePlan(
        landscape,
        window,
        columns,
        rows,
        parts,
        seams_x,
        seams_y,
        _register(parts, seams_x, seams_y),
    )


def true_scale_pdf(svg: str, *, paper: Paper, title: str, note: str = "", made: str) -> bytes:
    """Lay a drawing in mm on paper at true scale.

    Parameters
    ----------
    svg
        The drawing: width and height in mm, one unit of its viewBox one millimetre.
    title, note
        Stand on every page; a long note gets a page of its own.
    made
        When and by what the sheet was made, printed on every page. If it begins with a day, such
        as ``2026-03-01``, that is the file's date too, and the file is PDF/A.

    Returns
    -------
    pdf
        The sheets, vectors all through, without the empty paper around what is drawn. One page if
        it fits; else a plan of the pages and the parts, with an overlap of 10 mm and register
        marks.

    Raises
    ------
    DrawingRefusedError
        When the drawing is not a plain SVG in mm, or too large.
    """
    drawing = read_drawing(svg)
    ink = ink_window(drawing)
    plan = page_plan(ink.width, ink.height, paper)
    longest = max(ink.drawn_width, ink.drawn_height)
    across, down = paper_size(paper)
    page = (down, across) if plan.landscape else (across, down)
    data = {
        **_sheet_data(paper, page, title, made),
        "note": note if len(note) <= _LONGEST_NOTE_ON_SHEET else "",
        "long_note": note if len(note) > _LONGEST_NOTE_ON_SHEET else "",
        "drawing": _drawing_data(drawing),
        "ink": {
            "left": ink.left,
            "top": ink.top,
            "width": ink.width,
            "height": ink.height,
            "size": ink.size,
        },
        "window": list(plan.window_mm),
        "columns": plan.columns,
        "rows": plan.rows,
        "overlap": OVERLAP_MM,
        "drawn_longest": f"{longest:.1f} mm, to within {longest * BAR_TOLERANCE:.1f} mm,",
        "along": "across" if ink.drawn_width >= ink.drawn_height else "from top to bottom",
        "parts": [_part_data(plan, part) for part in plan.parts],
        "seams_x": list(plan.seams_x),
        "seams_y": list(plan.seams_y),
        "register": [list(mark) for mark in plan.register_mm],
    }
    return _set_sheet("true_scale.typ", data, svg, made)


def _part_data(plan: PagePlan, part: PagePart) -> dict[str, Any]:
    """One page: its window, its neighbours' names, its register marks."""
    return {
        "name": part.name,
        "x": part.x,
        "y": part.y,
        "width": part.width,
        "height": part.height,
        "left": _neighbour(plan, part, -1, 0),
        "right": _neighbour(plan, part, 1, 0),
        "above": _neighbour(plan, part, 0, -1),
        "below": _neighbour(plan, part, 0, 1),
        "marks": [list(mark) for mark in plan.register_mm if _inside(part, mark)],
    }


def strip_pdf(svg: str, *, paper: Paper, made: str, chart: bool = False) -> bytes:
    """Set a page of the scale strip at true scale, and a page that says how to use it.

    Parameters
    ----------
    svg
        The whole page as `ironlace.photographs.scale_strip.strip_svg` draws it for the same paper.
    chart
        Whether it is the chart for measuring a lens.

    Raises
    ------
    DrawingRefusedError
        When the page drawn is not the paper asked for.
    """
    drawing = read_drawing(svg)
    across, down = paper_size(paper)
    landscape = drawing.width_mm > drawing.height_mm
    page = (down, across) if landscape else (across, down)
    if abs(drawing.width_mm - page[0]) > 0.05 or abs(drawing.height_mm - page[1]) > 0.05:
        raise DrawingRefusedError(
            f"The strip is drawn for a page of {drawing.width_mm:g} by {drawing.height_mm:g} mm, "
            f"and {PAPER_NAMES[paper]} is {page[0]:g} by {page[1]:g} mm: draw it for that paper."
        )
    data = {
        **_sheet_data(paper, page, "Lens chart" if chart else "Scale strip", made),
        "chart": chart,
        "upright": [across, down],
        "drawing": _drawing_data(drawing),
    }
    return _set_sheet("strip.typ", data, svg, made)


def _set_sheet(template: str, data: dict[str, object], svg: str, made: str) -> bytes:
    day: datetime | None
    try:
        day = datetime.fromisoformat(made[:10]).replace(tzinfo=UTC)
    except ValueError:
        day = None
    return typeset(template, data, made=day, files_beside={"drawing.svg": svg.encode("utf-8")})


def _sheet_data(
    paper: Paper, page: tuple[float, float], title: str, made: str
) -> dict[str, object]:
    return {
        "paper": PAPER_NAMES[paper],
        "page": list(page),
        "margin": MARGIN_MM,
        "head": _HEAD_MM,
        "foot": _FOOT_MM,
        "bar": BAR_MM,
        "shortest": f"{BAR_MM * (1 - BAR_TOLERANCE):.1f}",
        "longest": f"{BAR_MM * (1 + BAR_TOLERANCE):.1f}",
        "tolerance": f"{BAR_TOLERANCE * 100:g} %",
        "title": title,
        "made": made,
    }


def _drawing_data(drawing: PlainDrawing) -> dict[str, object]:
    return {
        "width": drawing.width_mm,
        "height": drawing.height_mm,
        "size": f"{drawing.width_mm:.1f} × {drawing.height_mm:.1f} mm",
        "grades": [grade.value for grade in drawing.grades],
    }


def _window(across: float, down: float) -> tuple[float, float]:
    return across - 2 * MARGIN_MM, down - 2 * MARGIN_MM - _HEAD_MM - _FOOT_MM


def _counts(width: float, height: float, window: tuple[float, float]) -> tuple[int, int]:
    return _count(width, window[0]), _count(height, window[1])


def _count(length: float, window: float) -> int:
    if length <= window:
        return 1
    return math.ceil((length - OVERLAP_MM) / (window - OVERLAP_MM))


def _letters(row: int) -> str:
    name = ""
    row += 1
    while row:
        row, rest = divmod(row - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def _register(
    parts: tuple[PagePart, ...], seams_x: tuple[float, ...], seams_y: tuple[float, ...]
) -> tuple[tuple[float, float], ...]:
    """Two marks on every side where two parts meet, a quarter in from its ends."""
    marks: list[tuple[float, float]] = []
    for part in parts:
        if part.column < len(seams_x):
            marks += [
                (seams_x[part.column], part.y + part.height * share) for share in (0.25, 0.75)
            ]
        if part.row < len(seams_y):
            marks += [(part.x + part.width * share, seams_y[part.row]) for share in (0.25, 0.75)]
    return tuple(marks)


def _inside(part: PagePart, mark: tuple[float, float]) -> bool:
    return part.x <= mark[0] <= part.x + part.width and part.y <= mark[1] <= part.y + part.height


def _neighbour(plan: PagePlan, part: PagePart, right: int, down: int) -> str:
    column, row = part.column + right, part.row + down
    if not (0 <= column < plan.columns and 0 <= row < plan.rows):
        return ""
    return plan.parts[row * plan.columns + column].name
