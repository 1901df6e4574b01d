"""A table of readings as an entry holds it: columns with unit, instrument and error, and its rows.

A figure that was misread does not vanish: its place holds the correction, or a gap, and what was
read stands beside with the reason.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from ironlace.evidence.analyses import KnownColumn
from ironlace.evidence.quantities import QuantityError, parse_measured
from ironlace.evidence.reading_tables import (
    ReadingsError,
    checked,
    figure_in,
    heading,
    number_of,
    read_readings,
)

_WITH_ERROR = re.compile(r"(?P<with>.*?)[,;]?\s*(?:(?:±|\+/-|\+-)\s*(?P<error>.+))?", re.DOTALL)
_PLACE = re.compile(r"(?:row\s+)?(?P<row>\d{1,5})\s*[,:;]?\s*(?P<rest>.*)", re.IGNORECASE)
_READ = re.compile(r"\s*[,:;]?\s*(?P<read>[+−-]?\d[\d.,/]*(?: \d+/\d+)?)\s*[,:;]?\s+(?P<why>\S.*)")
_LINE = Field(max_length=300)
_PLAIN = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


class ReadingColumn(BaseModel):
    """A column: its name, its unit if it has one, with what it was read and how far off that is.

    `error` is one standard uncertainty in the column's unit; empty when none was stated.
    """

    model_config = _PLAIN

    name: Annotated[str, Field(min_length=1, max_length=80)]
    unit: Annotated[str, Field(max_length=40)] = ""
    instrument: Annotated[str, _LINE] = ""
    error: Annotated[str, Field(max_length=40)] = ""

    @property
    def heading(self) -> str:
        """Name and unit."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name

    def with_what(self) -> str:
        """Instrument and error, in one line; empty when neither was said."""
        error = f"± {self.error} {self.unit}".strip() if self.error else ""
        return ", ".join(part for part in (self.instrument, error) if part)


class StruckFigure(BaseModel):
    """A misread figure, struck out: where (rows count from 1), what was read, why it is wrong."""

    model_config = _PLAIN

    row: Annotated[int, Field(ge=1)]
    column: Annotated[str, Field(min_length=1, max_length=80)]
    read: Annotated[str, Field(min_length=1, max_length=40)]
    why: Annotated[str, Field(min_length=1, max_length=300)]

    def __str__(self) -> str:
        return f"row {self.row}, {self.column}: {self.read}, {self.why}"


class ReadingTable(BaseModel):
    """The readings: columns, rows of figures as text (empty for a gap), and what was struck out.

    It may be given as one text, a table as it is pasted; or as ``{"text": ..., "with_what": ...,
    "struck": ...}``, the three fields of its form.
    """

    model_config = _PLAIN

    columns: tuple[ReadingColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    struck: tuple[StruckFigure, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _as_pasted(cls, given: Any) -> Any:
        if isinstance(given, str):
            given = {"text": given}
        if not isinstance(given, dict) or "text" not in given:
            return given
        with _as_fault():
            return _read(*(str(given.get(part) or "") for part in FORM_PARTS))

    @field_validator("columns")
    @classmethod
    def _errors_read(
        cls, columns: tuple[ReadingColumn, ...], info: ValidationInfo
    ) -> tuple[ReadingColumn, ...]:
        if _kept(info):
            return columns
        with _as_fault():
            return tuple(_with_error_read(column) for column in columns)

    @field_validator("rows")
    @classmethod
    def _rows_read(
        cls, rows: tuple[tuple[str, ...], ...], info: ValidationInfo
    ) -> tuple[tuple[str, ...], ...]:
        if _kept(info) or "columns" not in info.data:
            return rows
        with _as_fault():
            return checked([(c.name, c.unit) for c in info.data["columns"]], rows).rows

    @field_validator("struck")
    @classmethod
    def _struck_read(
        cls, struck: tuple[StruckFigure, ...], info: ValidationInfo
    ) -> tuple[StruckFigure, ...]:
        if _kept(info) or not {"columns", "rows"} <= info.data.keys():
            return struck
        names = [column.name for column in info.data["columns"]]
        with _as_fault():
            return tuple(_struck_within(one, names, info.data["rows"]) for one in struck)

    def as_parts(self) -> dict[str, str]:
        """The table as its form shows it: the text, what each column was read with, what is struck.

        What comes of it, read again, is this table.
        """
        lines = [[heading(c.name, c.unit) for c in self.columns], *self.rows]
        with_what = [f"{c.name}: {c.with_what()}" for c in self.columns if c.with_what()]
        return {
            "text": "\n".join("\t".join(line) for line in lines),
            "with_what": "\n".join(with_what),
            "struck": "\n".join(str(one) for one in self.struck),
        }

    def struck_at(self, row: int, column: str) -> tuple[StruckFigure, ...]:
        """What was struck out in a place; rows count from 1."""
        return tuple(one for one in self.struck if (one.row, one.column) == (row, column))

    def known_columns(self) -> tuple[KnownColumn, ...]:
        """The columns as an analysis takes them: numbers, gaps as None."""
        return tuple(
            KnownColumn(
                column.name,
                column.unit,
                tuple(number_of(row[at]) for row in self.rows),
                number_of(column.error),
            )
            for at, column in enumerate(self.columns)
        )

    def in_words(self) -> str:
        """Its size and columns in one line."""
        rows = f"{len(self.rows)} row{'' if len(self.rows) == 1 else 's'}"
        return f"{rows} of {', '.join(column.heading for column in self.columns)}"


FORM_PARTS = ("text", "with_what", "struck")
"""The three texts that the form of a table asks for."""


def _read(text: str, with_what: str, struck: str) -> dict[str, Any]:
    read = read_readings(text)
    columns = [{"name": name, "unit": unit} for name, unit in read.columns]
    for line in filter(None, map(str.strip, with_what.splitlines())):
        at, rest = _column_first(line, [name for name, _ in read.columns])
        found = _WITH_ERROR.fullmatch(rest.lstrip(" :"))
        if found is None or not (found["with"] or found["error"]):
            raise ReadingsError(
                f"'{line[:60]}' does not say with what a column was read: write its name, a "
                "colon, the instrument, then ± its error."
            )
        columns[at] |= {"instrument": found["with"].strip(), "error": found["error"] or ""}
    return {
        "columns": columns,
        "rows": read.rows,
        "struck": list(_struck_lines(struck, [name for name, _ in read.columns])),
    }


def _struck_lines(struck: str, names: list[str]) -> Iterator[dict[str, Any]]:
    for line in filter(None, map(str.strip, struck.splitlines())):
        place = _PLACE.fullmatch(line)
        if place is None:
            raise ReadingsError(_HOW_TO_STRIKE.format(line[:60]))
        at, rest = _column_first(place["rest"], names)
        found = _READ.fullmatch(rest)
        if found is None:
            raise ReadingsError(_HOW_TO_STRIKE.format(line[:60]))
        read = found["read"].rstrip(",")
        yield {"row": int(place["row"]), "column": names[at], "read": read, "why": found["why"]}


_HOW_TO_STRIKE = (
    "'{}' does not say what is struck out: write row 3, height: 12.8, and why it is wrong; the "
    "table itself holds the right figure."
)


def _column_first(line: str, names: list[str]) -> tuple[int, str]:
    """The column whose name a line begins with, and the rest of the line."""
    for name in sorted(names, key=len, reverse=True):
        if line.casefold().startswith(name.casefold()):
            return names.index(name), line[len(name) :]
    raise ReadingsError(
        f"'{line[:60]}' names no column of the table: begin with one of {', '.join(names)}."
    )


def _struck_within(
    one: StruckFigure, names: list[str], rows: tuple[tuple[str, ...], ...]
) -> StruckFigure:
    """A struck figure whose place is in the table and holds another figure, or none."""
    at = next((i for i, n in enumerate(names) if n.casefold() == one.column.casefold()), None)
    if at is None:
        raise ReadingsError(
            f"A figure is struck out under '{one.column}', and the table has {', '.join(names)}: "
            "name one of these."
        )
    if one.row > len(rows):
        raise ReadingsError(
            f"A figure is struck out in row {one.row}, and the table has {len(rows)} rows: count "
            "from 1 beneath the headings."
        )
    read = figure_in(one.read)
    if rows[one.row - 1][at] == read:
        raise ReadingsError(
            f"Row {one.row}, '{names[at]}': {read} is struck out and still stands; put the right "
            "figure into the table, or leave its place empty."
        )
    return one.model_copy(update={"read": read, "column": names[at]})


def _kept(info: ValidationInfo) -> bool:
    return bool((info.context or {}).get("kept"))


@contextmanager
def _as_fault() -> Iterator[None]:
    """Tell what is wrong with a table as pydantic hears it."""
    try:
        yield
    except ReadingsError as error:
        raise ValueError(str(error)) from error


def _with_error_read(column: ReadingColumn) -> ReadingColumn:
    """A column whose error is a plain figure in the column's own unit."""
    if not column.error:
        return column
    try:
        if column.unit:
            error = abs(parse_measured(column.error, column.unit).to(column.unit).value)
            plain = f"{error:.10g}"
        else:
            plain = figure_in(column.error).lstrip("-")
    except (QuantityError, ReadingsError) as fault:
        raise ReadingsError(
            f"Column '{column.name}': '{column.error[:40]}' cannot be its error; write a number in "
            f"{column.unit or 'the same counting'}, such as 0.05."
        ) from fault
    return column.model_copy(update={"error": plain})
