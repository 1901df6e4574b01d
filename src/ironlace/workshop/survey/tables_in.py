"""Tables that come in: CSV or TSV text, the first sheet of an XLSX file, a published survey."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.survey.reports.spreadsheet import rows_from_xlsx
from ironlace.survey.reports.table import read_rows
from ironlace.survey.sharing.survey_zip import is_survey_zip, unzipped
from ironlace.workshop.club.address import is_club_address

_ZIP_SIGN = b"PK\x03\x04"


class TableError(IronlaceError):
    """A table cannot be read."""


def table_text(file: Path | str, columns: Mapping[str, str] | None = None) -> str:
    """Read a table as CSV text, whatever its file is.

    A club's address (`postgresql://...`) in place of a file gives the club's own counted reports.

    Parameters
    ----------
    file
        CSV, TSV or semicolon-separated text in UTF-8, XLSX, or a published survey (zip); known by
        its content.
    columns
        From a header in the file to the column's name here, where they differ.

    Raises
    ------
    NotFoundError
        When there is no such file.
    TableError
        When it is neither text nor XLSX, or a header to be renamed is not in it.
    """
    if is_club_address(str(file)):
        from ironlace.workshop.club.counts import club_table

        return club_table(str(file))
    file = Path(file)
    if not file.is_file():
        raise NotFoundError(f"There is no file {file}: check its name.")
    with file.open("rb") as opened:
        sign = opened.read(4)
    if sign == _ZIP_SIGN:
        data = file.read_bytes()
        text = unzipped(data)[0] if is_survey_zip(data) else spreadsheet_text(data)
    else:
        text = _plain(file)
    return _renamed(text, columns, file) if columns else text


def _plain(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise TableError(f"{file} is not a table in UTF-8 text or XLSX: save it as one.") from error


def is_spreadsheet(data: bytes) -> bool:
    """Whether the bytes begin as an XLSX file does."""
    return data.startswith(_ZIP_SIGN)


def spreadsheet_text(data: bytes) -> str:
    """Write the first sheet of an XLSX file as CSV text, each row on the line it has there."""
    return csv_by_lines(*rows_from_xlsx(data))


def csv_by_lines(headers: Sequence[str], rows: Iterable[tuple[int, Sequence[str]]]) -> str:
    """Write rows as CSV text, each on the line it came from, so that lines go on meaning it."""
    lines = [list(headers)]
    for line, cells in rows:
        lines += [[]] * (line - len(lines) - 1)
        lines.append([" ".join(cell.split()) for cell in cells])
    return _as_csv(lines)


def _renamed(text: str, columns: Mapping[str, str], file: Path) -> str:
    headers, rows = read_rows(text)
    plain = {header.strip().lower(): at for at, header in enumerate(headers)}
    for theirs, ours in columns.items():
        at = plain.get(theirs.strip().lower())
        if at is None:
            raise TableError(
                f"{file} has no column '{theirs}': it has {', '.join(filter(None, headers))}."
            )
        headers[at] = ours
    return _as_csv([headers, *(cells for _, cells in rows)])


def _as_csv(rows: list[list[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()
