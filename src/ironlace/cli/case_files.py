"""A case in a TOML file, read into the frozen dataclass of a study room by its annotations.

The dataclass says everything: a field's name is the key, its type what is taken, the `Ask` beside
it the unit, the bounds and the words. What may be typed:

- ``float``, ``int``, ``str``, ``bool``, ``date``, a ``Literal`` of texts; ``X | None`` for a key
  that may be left out, and so may every field with a default;
- ``tuple[X, ...]`` and ``tuple[X, Y]`` for arrays, nested as deep as wanted;
- a dataclass for a table, ``tuple[ThatClass, ...]`` for an array of tables;
- ``Annotated[tuple[Row, ...], Ask(..., table=True)]`` for a table in a CSV file, named by its path
  relative to the TOML file, one ``Row`` a line: its fields are the columns, an empty cell is None.
"""

import csv
import difflib
import io
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, Field, dataclass, fields, is_dataclass
from datetime import date, datetime
from math import isfinite
from pathlib import Path
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from ironlace.cli.answering import read_text
from ironlace.evidence.analyses import Ask
from ironlace.evidence.errors import IronlaceError

Case = TypeVar("Case")

_MOST_CHARACTERS = 5_000_000
"""Of a case or of a table it names: a works of 100,000 readings takes less (a judgement)."""

_PLAIN = Ask("")


class CaseError(IronlaceError):
    """A case file cannot be used; the sentence says which file, which key, and what is needed."""


@dataclass(frozen=True, slots=True)
class _Place:
    """Where in a case something stands: for refusals, and for paths."""

    file: Path
    table: str = ""
    key: str = ""

    def inside(self, key: str) -> "_Place":
        """The place of a key of the table that stands here."""
        table = ".".join(part for part in (self.table, self.key) if part)
        return _Place(self.file, table, key)

    def item(self, index: int) -> "_Place":
        """The place of one of several, counted from 1."""
        return _Place(self.file, self.table, f"{self.key}, no. {index}")

    def __str__(self) -> str:
        table = f" in [{self.table}]" if self.table else ""
        return f"{self.file.name}: '{self.key}'{table}"


def read_case(file: Path, kind: type[Case]) -> Case:
    """Read a TOML file as a dataclass.

    Parameters
    ----------
    file
        The case. Paths in it are relative to its folder.
    kind
        A frozen dataclass, annotated as told above.

    Raises
    ------
    NotFoundError
        When it, or a table that it names, is not there.
    CaseError
        When it is not TOML, a key is missing or unknown, or a value is of the wrong kind, out of
        bounds, or not a finite number.
    """
    try:
        found = tomllib.loads(_bounded_text(file))
    except (ValueError, RecursionError) as error:
        raise CaseError(
            f"{file.name} is not TOML: {str(error)[:120].rstrip('.')}; mend it there."
        ) from error
    made: Case = _table(found, kind, _Place(file))
    return made


def read_rows(file: Path, kind: type[Case]) -> tuple[Case, ...]:
    """Read a CSV file with a heading as one dataclass a line; columns of other names are left.

    Raises
    ------
    NotFoundError
        When it is not there.
    CaseError
        When a column or a value is missing or is not what the dataclass takes.
    """
    try:
        reader = csv.DictReader(io.StringIO(_bounded_text(file)), skipinitialspace=True)
        headings = [(name or "").strip() for name in reader.fieldnames or ()]
        reader.fieldnames = headings
        lines = [(reader.line_num, row) for row in reader]
    except csv.Error as error:
        raise CaseError(f"{file.name} cannot be read as CSV: {error}; mend it there.") from error
    marked = _marked(kind)
    for name, (one, _, _) in marked.items():
        if name not in headings and one.default is MISSING:
            raise CaseError(
                f"{file.name} has no column '{name}': it needs {','.join(marked)}, and its first "
                f"line is '{','.join(headings)[:80]}'."
            )
    made = []
    for line, row in lines:
        if None in row:
            raise CaseError(
                f"{file.name}, line {line} has more cells than the heading: put one value under "
                "each column, with a point, not a comma, for decimals."
            )
        values = {}
        for name, (_, hint, ask) in marked.items():
            text = (row.get(name) or "").strip()
            if name in headings:
                values[name] = _cell(text, hint, ask, f"{file.name}, line {line}: '{name}'")
        made.append(kind(**values))
    return tuple(made)


def _bounded_text(file: Path) -> str:
    text = read_text(file)
    if len(text) > _MOST_CHARACTERS:
        raise CaseError(
            f"{file.name} holds {len(text):,} characters, and a case or table has at most "
            f"{_MOST_CHARACTERS:,}: check that it is the right file."
        )
    return text


def _marked(kind: type) -> dict[str, tuple[Field[Any], Any, Ask]]:
    """By name: each field of a dataclass, its bare type, and what is said of it."""
    hints = get_type_hints(kind, include_extras=True)
    found = {}
    for one in fields(kind):
        hint, ask = hints[one.name], _PLAIN
        if get_origin(hint) is Annotated:
            hint, *marks = get_args(hint)
            ask = next((mark for mark in marks if isinstance(mark, Ask)), _PLAIN)
        found[one.name] = (one, hint, ask)
    return found


def _table(found: Mapping[str, Any], kind: type[Case], place: _Place) -> Case:
    marked = _marked(kind)
    for key in found:
        if key not in marked:
            like = difflib.get_close_matches(key, marked, 1, 0.6)
            raise CaseError(
                f"{place.inside(key[:60])} is not known here: "
                + (f"did you mean '{like[0]}'?" if like else f"use {', '.join(marked)}.")
            )
    values = {}
    for key, (one, hint, ask) in marked.items():
        at = place.inside(key)
        if key in found:
            values[key] = _value(found[key], hint, ask, at)
        elif one.default is MISSING and one.default_factory is MISSING:
            if not _optional(hint):
                raise CaseError(f"{at} is missing: give {_wanted(hint, ask)}.")
            values[key] = None
    return kind(**values)


def _optional(hint: Any) -> bool:
    return get_origin(hint) in (Union, UnionType) and NoneType in get_args(hint)


def _value(value: Any, hint: Any, ask: Ask, at: _Place) -> Any:
    """One value of a case, as its annotation wants it."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Annotated:
        marks = [mark for mark in inner[1:] if isinstance(mark, Ask)]
        return _value(value, inner[0], marks[0] if marks else ask, at)
    if origin in (Union, UnionType):
        others = [one for one in inner if one is not NoneType]
        return _value(
            value, next((one for one in others if type(value) is one), others[0]), ask, at
        )
    if ask.table and isinstance(value, str):
        return read_rows(at.file.parent / value, inner[0])
    if is_dataclass(hint) and isinstance(hint, type):
        if not isinstance(value, dict):
            raise _strange(value, hint, ask, at)
        table: Any = _table(value, hint, at)
        return table
    if origin is tuple:
        return _array(value, hint, ask, at)
    if origin is Literal:
        if value not in inner or isinstance(value, bool):
            raise _strange(value, hint, ask, at)
        return value
    if hint in (float, int):
        return _number(value, hint, ask, at)
    if hint is date and isinstance(value, date) and not isinstance(value, datetime):
        return value
    if hint is str and isinstance(value, date):
        return value.isoformat()
    if hint in (bool, str) and isinstance(value, hint):
        return value
    raise _strange(value, hint, ask, at)


def _array(value: Any, hint: Any, ask: Ask, at: _Place) -> tuple[Any, ...]:
    inner: Sequence[Any] = get_args(hint)
    if not isinstance(value, list):
        raise _strange(value, hint, ask, at)
    if inner[-1] is ...:
        inner = [inner[0]] * len(value)
    if len(inner) != len(value):
        raise _strange(value, hint, ask, at)
    each = zip(value, inner, strict=True)
    return tuple(_value(one, kind, ask, at.item(n)) for n, (one, kind) in enumerate(each, 1))


def _number(value: Any, hint: Any, ask: Ask, at: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _strange(value, hint, ask, at)
    if hint is int and not isinstance(value, int):
        raise _strange(value, hint, ask, at)
    try:
        number = hint(value)
    except OverflowError:
        number = float("inf")
    low = ask.low is not None and number < ask.low
    high = ask.high is not None and number > ask.high
    if not isfinite(number) or low or high:
        unit = f" {ask.unit}" if ask.unit else ""
        raise CaseError(
            f"{at} of {number:g}{unit} cannot be: give {_wanted(hint, ask)}, and check the unit."
        )
    return number


def _cell(text: str, hint: Any, ask: Ask, at: str) -> Any:
    """One cell of a table, as its column's annotation wants it."""
    if _optional(hint):
        if not text:
            return None
        hint = next(one for one in get_args(hint) if one is not NoneType)
    if hint is str:
        return text
    try:
        number: Any = hint(text)
    except ValueError as error:
        raise CaseError(
            f"{at} is '{text[:40]}': give {_wanted(hint, ask)}, with a point for decimals."
        ) from error
    return _number(number, hint, ask, at)


def _strange(value: Any, hint: Any, ask: Ask, at: Any) -> CaseError:
    shown = repr(value) if isinstance(value, str) else _as_toml(value)
    shown = shown if len(shown) <= 60 else f"{shown[:57]}..."
    return CaseError(f"{at} is {shown}, which is something else: give {_wanted(hint, ask)}.")


def _as_toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return "a table" if isinstance(value, dict) else str(value)


def _wanted(hint: Any, ask: Ask) -> str:
    """What a key takes, in words."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return _wanted(inner[0], ask)
    if origin in (Union, UnionType):
        return _wanted(next(one for one in inner if one is not NoneType), ask)
    if origin is Literal:
        return " or ".join(f'"{one}"' for one in inner)
    if ask.table:
        return f"the name of a CSV file with the columns {','.join(_marked(inner[0]))}"
    if origin is tuple:
        count = "a list" if inner[-1] is ... else f"a list of {len(inner)}"
        return f"{count}, each {_wanted(inner[0], ask)}"
    if is_dataclass(hint) and isinstance(hint, type):
        return f"a table with {', '.join(_marked(hint))}"
    if hint in (float, int):
        return _wanted_number("whole number" if hint is int else "number", ask)
    return {bool: "true or false", date: "a date such as 1893-04-12"}.get(hint, "a text in quotes")


def _wanted_number(words: str, ask: Ask) -> str:
    unit = f" {ask.unit}" if ask.unit else ""
    if ask.low is not None and ask.high is not None:
        return f"a {words} from {ask.low:g} to {ask.high:g}{unit}"
    if ask.low is not None:
        return f"a {words} of {ask.low:g}{unit} or more"
    if ask.high is not None:
        return f"a {words} of {ask.high:g}{unit} or less"
    return f"a {words}{f' in{unit}' if unit else ''}"
