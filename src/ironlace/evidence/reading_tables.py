"""Tables of readings as people paste them: headings with units, rows of figures, gaps left empty.

A table comes from a spreadsheet (tabs), a file (commas or semicolons) or a page of text (two blanks
or a bar between columns). Figures stay as they were read: `12.50` says more than `12.5`.
"""

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isfinite

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.quantities import QuantityError, parse_measured

MOST_ROWS = 5_000
"""Of one table: an outline followed point by point has some hundreds (a judgement)."""
MOST_COLUMNS = 24
"""Of one table; more do not fit a page of any paper (a judgement)."""
_LONGEST_NAME = 80
"""Characters of a heading; a longer one is a sentence, and belongs with the conditions."""

_GAPS = frozenset({"", "-", "–", "—"})
_FIGURE = re.compile(r"[+−-]?(?:\d+ )?\d+/\d+|[+−-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
_THOUSANDS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
_HEADING = re.compile(
    r"(?P<name>.+?)\s*(?:\[(?P<square>[^\]]*)\]|\((?P<round>[^)]+)\)|[,/] ?(?P<after>[^,/]+))\Z"
)


class ReadingsError(IronlaceError):
    """A table of readings cannot be read; the sentence says which row and column."""


@dataclass(frozen=True, slots=True)
class ReadingsAsWritten:
    """A table as it was written: name and unit of each column, and the figures as text.

    `rows` hold a figure as it was read, with a point for its decimals, or nothing for a gap.
    """

    columns: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]


def read_readings(text: str) -> ReadingsAsWritten:
    r"""Read a pasted table of readings, or the text of a file that holds one.

    Units stand in the heading (`height [mm]`, `height (mm)`, `height, mm`) or on a line of their
    own beneath it; a column without one has none.

    Raises ReadingsError when it has no headings, a row too long, or a cell that is no figure.

    >>> read_readings("angle [deg]\theight, mm\n0\t12,5\n10\t").rows
    (('0', '12.5'), ('10', ''))
    >>> read_readings("weight (g)\n3.20\n").columns
    (('weight', 'g'),)
    """
    lines = _cells(text)
    if not lines:
        raise ReadingsError("There is no table: paste its headings and the rows beneath them.")
    first, *rest = lines
    headings = list(first)
    while headings and not headings[-1]:
        headings.pop()
    if all(_FIGURE.fullmatch(cell) for cell in headings):
        raise ReadingsError(
            "The first line of the table holds figures only: begin with a line that names the "
            "columns, each with its unit, such as: angle [deg]; height [mm]."
        )
    columns = [_named(cell, place) for place, cell in enumerate(headings, 1)]
    if rest and (units := _units_beneath(rest[0], len(columns))):
        columns = [(n, unit or old) for (n, old), unit in zip(columns, units, strict=True)]
        rest = rest[1:]
    rows = [_fitted(cells, len(columns), at) for at, cells in enumerate(rest, 1)]
    return checked(columns, rows)


def checked(columns: Sequence[tuple[str, str]], rows: Sequence[Sequence[str]]) -> ReadingsAsWritten:
    """Check names, units and figures of a table, and write the figures one way.

    Raises ReadingsError as `read_readings`.
    """
    if len(columns) > MOST_COLUMNS:
        raise ReadingsError(
            f"The table has {len(columns)} columns: keep at most {MOST_COLUMNS} in one, and the "
            "rest in another."
        )
    if not rows:
        raise ReadingsError("The table has headings and no rows: paste the readings too.")
    if len(rows) > MOST_ROWS:
        raise ReadingsError(f"The table has {len(rows)} rows: keep at most {MOST_ROWS} in one.")
    taken: set[str] = set()
    for name, unit in columns:
        if name.casefold() in taken:
            raise ReadingsError(f"Two columns are called '{name}': give each a name of its own.")
        taken.add(name.casefold())
        check_unit(unit, name)
    for at, row in enumerate(rows, 1):
        if len(row) != len(columns):
            raise ReadingsError(
                f"Row {at} has {len(row)} cells and the table {len(columns)} columns: leave a gap "
                "empty."
            )
    commas = _comma_is_decimal([cell for row in rows for cell in row])
    read = tuple(
        tuple(
            _figure(cell, at, name, commas=commas)
            for cell, (name, _) in zip(row, columns, strict=True)
        )
        for at, row in enumerate(rows, 1)
    )
    for place, (name, _) in enumerate(columns):
        if not any(row[place] for row in read):
            raise ReadingsError(f"Column '{name}' holds no figure: leave the column out.")
    return ReadingsAsWritten(tuple(columns), read)


def figure_in(text: str) -> str:
    """One figure as `read_readings` keeps it.

    Raises ReadingsError when it is none.

    >>> figure_in("12,80"), figure_in("1 1/4")
    ('12.80', '1 1/4')
    """
    if not _FIGURE.fullmatch(text.strip()):
        raise ReadingsError(f"'{text[:40]}' is not a figure: write a number such as 12.5.")
    return text.strip().replace(",", ".").replace("−", "-")


def number_of(cell: str) -> float | None:
    """The number of a figure as it is kept, None for a gap.

    >>> number_of("1 1/4"), number_of("-0.50"), number_of("")
    (1.25, -0.5, None)
    """
    if not cell:
        return None
    if "/" not in cell:
        return float(cell)
    sign = -1 if cell.startswith("-") else 1
    return sign * float(sum(Fraction(part) for part in cell.lstrip("+-").split()))


def check_unit(unit: str, name: str) -> None:
    """Refuse a unit that is not known; an empty one is none.

    Raises ReadingsError.
    """
    if not unit:
        return
    try:
        parse_measured(f"1 {unit}")
    except QuantityError as error:
        raise ReadingsError(
            f"Column '{name}': '{unit}' is not a unit known here; use mm, in, deg, g, cN, 1/min or "
            "another SI unit, or leave it out for what is only counted or read off a dial."
        ) from error


def heading(name: str, unit: str) -> str:
    """The heading of a column as `read_readings` reads it back.

    >>> heading("height", "mm"), heading("dial", ""), heading("set (g)", "")
    ('height [mm]', 'dial', 'set (g) []')
    """
    if unit:
        return f"{name} [{unit}]"
    return name if _named(name, 1) == (name, "") else f"{name} []"


def _cells(text: str) -> list[list[str]]:
    body = text.removeprefix("\ufeff")
    first = next((line for line in body.splitlines() if line.strip()), "")
    if "\t" in first or ";" in first or "," in re.sub(r", ?[^,]*\Z", "", first) or '"' in first:
        sign = next(c for c in "\t;," if c in first) if re.search("[\t;,]", first) else ","
        return _delimited(body, sign)
    apart = re.compile(r"\s*\|\s*|\s{2,}")
    if apart.search(first.strip().strip("|").strip()):
        lines = (line.strip().strip("|").strip() for line in body.splitlines())
        return [apart.split(line) for line in lines if line and set(line) - set("|-+ ")]
    # one comma alone parts a name from its unit, or two columns: the rows beneath tell which
    second = [line for line in body.splitlines() if line.strip()][1:2]
    if "," in first and second and "," in second[0] and not _FIGURE.fullmatch(second[0].strip()):
        return _delimited(body, ",")
    if "," in first and second and not _is_unit(first.rpartition(",")[2].strip()):
        return _delimited(body, ",")
    return [[line.strip()] for line in body.splitlines() if line.strip()]


def _delimited(body: str, sign: str) -> list[list[str]]:
    try:
        rows = list(csv.reader(io.StringIO(body), delimiter=sign, strict=True))
    except csv.Error as error:
        raise ReadingsError(
            f"The table cannot be read: {error}. Check that every quotation mark is closed."
        ) from error
    return [[cell.strip() for cell in row] for row in rows if any(cell.strip() for cell in row)]


def _named(cell: str, place: int) -> tuple[str, str]:
    """Name and unit of a heading; what stands in round brackets is a unit only if it is known."""
    text = " ".join(cell.split())
    if not text:
        raise ReadingsError(f"Column {place} has no heading: name it in the first line.")
    found = _HEADING.fullmatch(text)
    name, unit = text, ""
    if found:
        square = found["square"]
        inner = (square if square is not None else found["round"] or found["after"]).strip()
        if square is not None or _is_unit(inner):
            name, unit = found["name"], inner
    if len(name) > _LONGEST_NAME:
        raise ReadingsError(
            f"The heading of column {place} is too long: name it in {_LONGEST_NAME} characters, "
            "and say the rest with the conditions."
        )
    return name, unit


_SHORT_UNITS = frozenset({"°", "%", "g", "N", "m", "s", '"', "″"})
"""Units of one sign; other single letters in brackets are letters of a drawing."""


def _is_unit(text: str) -> bool:
    if len(text) < len("mm") and text not in _SHORT_UNITS:
        return False
    try:
        parse_measured(f"1 {text}")
    except QuantityError:
        return False
    return True


def _units_beneath(cells: Sequence[str], columns: int) -> list[str]:
    """Units on a line of their own; empty when the line is none of units."""
    plain = [cell.strip().strip("[]()").strip() for cell in cells]
    held = [unit for unit in plain if unit not in _GAPS]
    if len(plain) > columns or not held or not all(_is_unit(unit) for unit in held):
        return []
    units = ["" if unit in _GAPS else unit for unit in plain]
    return [*units, *[""] * (columns - len(units))]


def _fitted(cells: Sequence[str], columns: int, at: int) -> list[str]:
    if any(cells[columns:]):
        raise ReadingsError(
            f"Row {at} has {len(cells)} cells under {columns} headings: part the columns with tabs "
            "or semicolons if the figures have decimal commas."
        )
    return [*cells[:columns], *[""] * (columns - len(cells))]


def _comma_is_decimal(cells: Sequence[str]) -> bool | None:
    """Whether commas stand for decimal points, or points do; None where nothing tells."""
    figures = [cell.strip().lstrip("+-−") for cell in cells]
    telling = {
        sign
        for figure in figures
        for sign in ",."
        if sign in figure and not _THOUSANDS.fullmatch(figure)
    }
    return None if len(telling) != 1 else telling == {","}


def _figure(cell: str, at: int, name: str, *, commas: bool | None) -> str:
    plain = " ".join(cell.split())
    if plain in _GAPS:
        return ""
    if not _FIGURE.fullmatch(plain):
        raise ReadingsError(
            f"Row {at}, '{name}': '{plain[:40]}' is not a figure; write a number, leave a gap "
            "empty, and say anything else under conditions or in the note."
        )
    if _THOUSANDS.fullmatch(plain.lstrip("+-−")):
        sign = "," if "," in plain else "."
        # a point is read as one where nothing speaks for commas
        if (sign == ",") is not (commas is True) and not (sign == "." and commas is None):
            bare = plain.replace(sign, "")
            raise ReadingsError(
                f"Row {at}, '{name}': '{plain}' could be two figures; write {bare} or "
                f"{plain.replace(',', '.')}0."
            )
    found = plain.replace(",", ".").replace("−", "-")
    try:
        usable = isfinite(number_of(found) or 0.0)
    except (ZeroDivisionError, OverflowError):
        usable = False
    if not usable:
        raise ReadingsError(f"Row {at}, '{name}': '{plain}' cannot be used as a number: check it.")
    return found
