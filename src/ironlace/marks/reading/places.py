"""Where digits stand and where dots might: given by a person, or searched for."""

import csv
import io
import math
import re
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np

from ironlace.marks.errors import MarksError
from ironlace.marks.reading.numeral_styles import TALL
from ironlace.marks.reading.period_shapes import figure_at
from ironlace.marks.reading.relief_slopes import ReliefSlopes, grain_of

COLUMNS = ("kind", "row", "index", "x_px", "y_px", "height_px")
"""Columns of a table of places."""
_MOST_SPOTS = 70
"""Crowded spots looked at for figures."""
_LEAST_DIGITS = 3
"""Digits that make a row."""
_BALL = 2.5
"""Slopes steeper than this over an area are a ball's flank, and no mark."""
_LEAST_PX = 16
"""A digit lower than this in the picture cannot be read by its flanks (judged)."""


@dataclass(frozen=True, slots=True)
class Place:
    """A place: `kind` digit or gap, counted from 0 along its row; a gap has its digit's index."""

    kind: str
    row: int
    index: int
    x_px: float
    y_px: float
    height_px: float


def read_places(text: str, shape: tuple[int, int]) -> tuple[Place, ...]:
    r"""Read a table of places, CSV with the columns of `COLUMNS`.

    Parameters
    ----------
    shape
        Rows and columns of the picture in which they must lie.

    Raises MarksError when a column is missing, a cell cannot be read, a place lies outside the
    picture or stands twice, a row is not counted from left to right, or there is no digit.

    >>> table = "kind,row,index,x_px,y_px,height_px\ndigit,0,0,50,40,48\n"
    >>> read_places(table, (100, 100))[0].x_px
    50.0
    """
    heads, rows = rows_by_heading(text, "table of places")
    if not heads:
        raise MarksError(f"The table of places is empty: it needs the columns {_named()}.")
    if missing := [name for name in COLUMNS if name not in heads]:
        raise MarksError(
            f"The table of places has no column {', '.join(missing)}, only "
            f"{', '.join(heads)}: it needs {_named()}."
        )
    places = tuple(_place(cells, line, shape) for line, cells in rows)
    seen: set[tuple[str, int, int]] = set()
    for one in places:
        if (one.kind, one.row, one.index) in seen:
            raise MarksError(
                f"The {one.kind} {one.index} of row {one.row} stands twice in the table of "
                "places: count along each row from 0."
            )
        seen.add((one.kind, one.row, one.index))
    if not any(one.kind == "digit" for one in places):
        raise MarksError("The table of places has no digit: give one row of it for each digit.")
    _refuse_disorder(places)
    return places


def _refuse_disorder(places: tuple[Place, ...]) -> None:
    """A row counted from its end would be read backwards, and be sure of it."""
    for row in sorted({one.row for one in places}):
        line = sorted(
            (p for p in places if p.row == row and p.kind == "digit"), key=lambda p: p.index
        )
        back = [b.index for a, b in pairwise(line) if b.x_px <= a.x_px]
        if back and len(back) == len(line) - 1:
            raise MarksError(
                f"Row {row} of the places counts its digits from right to left: count along each "
                "row as it is read, from the left; if the picture is upside down, turn it first."
            )
        if back:
            raise MarksError(
                f"In row {row} of the places digit {back[0]} does not lie right of the digit "
                "before it: count along each row from the left."
            )


def _named() -> str:
    return ", ".join(COLUMNS)


def rows_by_heading(text: str, called: str) -> tuple[list[str], list[tuple[int, dict[str, str]]]]:
    r"""Headings in small letters, and each row's cells by heading with the line it ends on.

    Parameters
    ----------
    text
        Parted by commas, or by semicolons or tabs where the first line has more of them; then a
        comma in a figure is its decimal point.
    called
        What the table is, for the refusal.

    Raises MarksError when it is no table, or a heading stands twice.

    >>> rows_by_heading("Kind;x_px\ndigit;50,5\n", "table")
    (['kind', 'x_px'], [(2, {'kind': 'digit', 'x_px': '50.5'})])
    """
    body = text.removeprefix("\ufeff")
    first = next((line for line in body.splitlines() if line.strip()), "")
    mark = max(",;\t", key=lambda sign: (first.count(sign), sign == ","))
    read = csv.reader(io.StringIO(body, newline=""), delimiter=mark)
    try:
        rows = [
            (read.line_num, [c.strip() for c in row]) for row in read if any(map(str.strip, row))
        ]
    except csv.Error as error:
        raise MarksError(
            f"The {called} cannot be read near line {read.line_num}: {error}."
        ) from error
    heads = [cell.lower() for cell in rows[0][1]] if rows else []
    named = [head for head in heads if head]
    if len(set(named)) < len(named):
        raise MarksError(
            f"The {called} has a heading twice ({', '.join(heads)}): keep one of each."
        )
    if mark != ",":
        rows = [(line, [_FIGURE.sub(r"\1.\2", cell) for cell in row]) for line, row in rows]
    return heads, [(line, dict(zip(heads, row, strict=False))) for line, row in rows[1:]]


_FIGURE = re.compile(r"^(-?\d+),(\d+)$")
"""A figure with a decimal comma."""


def _place(cells: dict[str, str], line: int, shape: tuple[int, int]) -> Place:
    kind = cells.get("kind", "").lower()
    if kind not in ("digit", "gap"):
        raise MarksError(f"Line {line} of the places is of kind '{kind}': write digit or gap.")
    try:
        row, index = int(cells["row"]), int(cells["index"])
        x, y, tall = (float(cells[name]) for name in ("x_px", "y_px", "height_px"))
    except (KeyError, ValueError) as error:
        raise MarksError(
            f"Line {line} of the places cannot be read: row and index must be whole numbers, and "
            "x_px, y_px, height_px numbers with a point."
        ) from error
    if row < 0 or index < 0 or not all(math.isfinite(v) for v in (x, y, tall)):
        raise MarksError(f"Line {line} of the places: rows and indices count from 0 upwards.")
    if not (0 <= x <= shape[1] - 1 and 0 <= y <= shape[0] - 1):
        raise MarksError(
            f"Line {line} of the places lies at ({x:g}, {y:g}), outside the picture of "
            f"{shape[1]} x {shape[0]} pixels: count x to the right and y down from its first pixel."
        )
    if not _LEAST_PX <= tall <= shape[0]:
        raise MarksError(
            f"Line {line} of the places has a digit {tall:g} pixels high; between {_LEAST_PX} and "
            f"the picture's {shape[0]} are needed: photograph it closer, or mend height_px."
        )
    return Place(kind, row, index, x, y, tall)


def found_places(
    relief: ReliefSlopes, digit_mm: float, rng: np.random.Generator
) -> tuple[Place, ...]:
    """Search rows of digits of a known height, and number them with their gaps.

    Struck metal is where many slopes stand out of the grain in a box of a digit's size; of such
    boxes those count that a figure of ours fits better than bare metal ever does, and that stand
    in a level row. Best effort: where digits are hardly deeper than the grain none is found, and
    crowded pits may pass for one; a person's places are better.

    Raises MarksError when no row of three digits or more stands out.
    """
    tall = digit_mm / relief.mm_per_px
    per = tall / TALL
    grain = grain_of(relief, per)
    crowd, step = _crowd(relief, tall, grain)
    spots = _peaks(crowd, 0.6 * tall / step)[:_MOST_SPOTS]
    bare = [
        figure_at(relief, float(x), float(y), per, grain)[0]
        for x, y in rng.uniform((tall, tall), np.array(crowd.shape[::-1]) * step - tall, (12, 2))
    ]
    usual = float(np.median(bare))
    need = usual + 4 * float(np.median(np.abs(np.array(bare) - usual))) + 0.03
    found: list[tuple[float, float, float]] = []
    for x, y in spots:
        fit, dx, dy = figure_at(relief, x * step, y * step, per, grain)
        at = (x * step + dx, y * step + dy)
        if fit > need and all(np.hypot(at[0] - ox, at[1] - oy) > 0.5 * tall for _, ox, oy in found):
            found.append((fit, *at))
    places = _numbered(_rows(found, tall), tall)
    if not places:
        raise MarksError(
            "No row of digits stands out of the metal's grain: give their places "
            "(--places, a table of kind, row, index, x_px, y_px, height_px)."
        )
    return places


def _crowd(relief: ReliefSlopes, tall: float, grain: float) -> tuple[np.ndarray, int]:
    """How crowded a digit's box about each spot is with slopes out of the grain; its step."""
    step = max(1, round(tall / 24))
    x, y = (cv2.GaussianBlur(p, (0, 0), 0.4 * step)[::step, ::step] for p in relief.slopes)
    size = np.hypot(x, y)
    # four grains and more are struck or rusted; what is steeper yet is a ball
    out = (np.clip((size / grain - 3) / 4, 0, 1) * (size < _BALL)).astype(np.float32)
    ball = cv2.boxFilter((size >= _BALL).astype(np.float32), -1, (9, 9)) > 0.5
    high = tall / step
    box = (max(3, round(0.5 * high)) | 1, max(3, round(high)) | 1)
    reach = np.ones((round(high), round(high)), np.uint8)
    crowd = cv2.boxFilter(out, -1, box)
    return np.where(cv2.dilate(ball.astype(np.uint8), reach) > 0, 0, crowd), step


def _peaks(crowd: np.ndarray, apart: float) -> list[tuple[int, int]]:
    """Spots that are the most crowded within their reach, x and y, most crowded first."""
    size = max(3, round(apart)) | 1
    top = (cv2.dilate(crowd, np.ones((size, size), np.uint8)) == crowd) & (crowd > 0)
    ys, xs = np.nonzero(top)
    order = np.argsort(-crowd[ys, xs], kind="stable")
    return [(int(xs[k]), int(ys[k])) for k in order]


def _rows(found: list[tuple[float, float, float]], tall: float) -> list[list[tuple[float, float]]]:
    """Spots that stand in level rows no wider spaced than two and a half digits' heights."""
    left = sorted(((x, y) for _, x, y in found), key=lambda at: at[1])
    rows: list[list[tuple[float, float]]] = []
    while left:
        best: list[tuple[float, float]] = []
        for _, level in left:
            line = sorted(at for at in left if abs(at[1] - level) < 0.3 * tall)
            run: list[tuple[float, float]] = []
            for at in line:
                if run and at[0] - run[-1][0] > 2.5 * tall:
                    run = []
                run = [*run, at]
                best = max(best, run, key=len)
        if len(best) < _LEAST_DIGITS:
            break
        rows.append(best)
        left = [at for at in left if at not in best]
    return sorted(rows, key=lambda row: float(np.mean([y for _, y in row])))


def _numbered(rows: list[list[tuple[float, float]]], tall: float) -> tuple[Place, ...]:
    places: list[Place] = []
    for number, row in enumerate(rows):
        digits = [Place("digit", number, k, x, y, tall) for k, (x, y) in enumerate(row)]
        places += digits
        places += [
            Place("gap", number, a.index, (a.x_px + b.x_px) / 2, (a.y_px + b.y_px) / 2, tall)
            for a, b in pairwise(digits)
        ]
    return tuple(places)
