"""Rows of a spreadsheet (XLSX), cell by cell as text, ready to be read as reports."""

import io
import re
import zipfile
from datetime import date, datetime, timedelta
from typing import Any

from ironlace.evidence.errors import spoilt_as
from ironlace.survey.errors import ReportsError

_MOST_ROWS = 200_000
"""Bound against files made to fill the memory, with `_MOST_BYTES`."""

_MOST_BYTES = 80_000_000
"""Unpacked, as the file declares (what unpacks to more than it declares does not read): 200,000
rows of ten cells take half of that, and reading stays below 500 MB."""

_NOT_READ = "The file is not an XLSX spreadsheet that can be read: save it again as XLSX or CSV."
_MOST_CELLS = 4_000_000
"""Cells read at most: rows of 16,000 empty-looking cells would fill the memory as well."""


@spoilt_as(ReportsError, _NOT_READ)
def rows_from_xlsx(  # long: the docstring, and each way a file can be wrong
    data: bytes, *, sheet: str | None = None
) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Read a sheet: headers, and rows with their line numbers.

    A serial kept as a number loses noughts in the spreadsheet itself: 4.10 becomes 4.1. Where the
    cell is shown with so many places, it is read as shown; else its value stands in a column of its
    own (`KEPT_AS_NUMBERS`), so that the reader of the table can ask. A whole number that the cell
    shows filled up with noughts, or parted by signs (the formats ``00000`` and ``0"."00"."000``),
    is read as shown, and what was read stands in such a column too (`SHOWN_FILLED_UP`).

    Parameters
    ----------
    data
        The bytes of the file.
    sheet
        Name of the sheet; the first when left out.

    Raises
    ------
    ReportsError
        When it is no spreadsheet, is too large, or has no such sheet or no header.
    """
    from openpyxl import load_workbook

    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        size = sum(info.file_size for info in packed.infolist())
    if size > _MOST_BYTES:
        raise ReportsError(
            f"The spreadsheet unpacks to {size / 1e6:.0f} MB; at most "
            f"{_MOST_BYTES / 1e6:.0f} MB are read: export the one sheet as CSV."
        )
    book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    try:
        if sheet is not None and sheet not in book.sheetnames:
            raise ReportsError(
                f"There is no sheet '{sheet}'; the file has {', '.join(book.sheetnames)}."
            )
        page = book[sheet] if sheet is not None else book.worksheets[0]
        rows: list[tuple[int, list[str]]] = []
        told: dict[str, list[str]] = {KEPT_AS_NUMBERS: [], SHOWN_FILLED_UP: []}
        held = 0
        for line, cells in enumerate(page.iter_rows(), 1):
            if line > _MOST_ROWS:
                raise ReportsError(f"The sheet has more than {_MOST_ROWS} rows: split it.")
            held += len(cells)
            if held > _MOST_CELLS:
                raise ReportsError(
                    f"The sheet has more than {_MOST_CELLS:,} cells: export the columns that are "
                    "needed as CSV."
                )
            texts = [_text(cell.value, cell) for cell in cells]
            if any(texts):
                rows.append((line, texts))
                for name, is_so in ((KEPT_AS_NUMBERS, _bare), (SHOWN_FILLED_UP, _is_filled_up)):
                    told[name].append(
                        "; ".join(text for text, c in zip(texts, cells, strict=True) if is_so(c))
                    )
    finally:
        book.close()
    if not rows:
        raise ReportsError("The sheet is empty: its first row must name the columns.")
    headers = rows[0][1]
    while headers and not headers[-1]:
        headers.pop()
    width = len(headers)
    read = [(line, cells[:width] if not any(cells[width:]) else cells) for line, cells in rows[1:]]
    for name, values in told.items():
        if any(values[1:]) and name not in headers:
            headers = [*headers, name]
            read = [
                (line, [*cells, *[""] * (len(headers) - 1 - len(cells)), value])
                if len(cells) < len(headers)
                else (line, cells)
                for (line, cells), value in zip(read, values[1:], strict=True)
            ]
    return headers, read


KEPT_AS_NUMBERS = "kept as numbers"
"""Header of the column that tells which values a spreadsheet kept as numbers with a point."""

SHOWN_FILLED_UP = "shown filled up"
"""Header of the column that tells which values are whole numbers shown with noughts or signs."""

_NOUGHTS = re.compile(r"(?:0|\\.|\"[^\"]*\"|[- ])+")
_PART_OF_FORMAT = re.compile(r"(0)|\\(.)|\"([^\"]*)\"|([- ])")


def _filled_up(cell: Any) -> str | None:
    """A whole number as a format of noughts and signs alone shows it; None for any other cell."""
    value, shape = cell.value, str(cell.number_format)
    if (
        isinstance(value, bool)
        or not isinstance(value, int | float)
        or not _NOUGHTS.fullmatch(shape)
    ):
        return None
    places = sum(part[0] == "0" for part in _PART_OF_FORMAT.findall(shape))
    if places < 2 or value < 0 or value != int(value):
        return None
    figures = list(f"{int(value):0{places}d}")
    shown = ""
    for part in reversed(list(_PART_OF_FORMAT.finditer(shape))):
        if part[1]:
            places -= 1
            # what has no place of its own stands before the first
            shown = (figures.pop() if places else "".join(figures)) + shown
        else:
            shown = (part[2] or part[3] or part[4] or "") + shown
    return shown


def _is_filled_up(cell: Any) -> bool:
    shown = _filled_up(cell)
    return shown is not None and shown != str(int(cell.value))


_PLACES_SHOWN = re.compile(r"[0#]+\.(0+)")


def _places(cell: Any) -> int | None:
    """So many places a number is shown with; None where the spreadsheet leaves them open."""
    found = _PLACES_SHOWN.fullmatch(str(cell.number_format))
    return len(found[1]) if found else None


def _bare(cell: Any) -> bool:
    """Whether a cell is a number with a point that may have lost noughts at its end."""
    value = cell.value
    return isinstance(value, float) and not value.is_integer() and _places(cell) is None


def _text(value: Any, cell: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime | date):
        return value.strftime("%Y-%m-%d")
    if isinstance(value, timedelta):
        # a span of time as the cell shows it, so that it is told as what a spreadsheet made
        minutes, seconds = divmod(int(value.total_seconds()), 60)
        return f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}"
    if isinstance(value, int | float) and not isinstance(value, bool):
        shown = _filled_up(cell)
        if shown is not None:
            return " ".join(shown.split())
        places = _places(cell)
        if places is not None:
            return f"{value:.{places}f}"
        if isinstance(value, float) and value.is_integer():
            return str(int(value))
    return str(value).strip()
