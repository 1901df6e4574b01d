"""Figures that such machines do not have, and one figure given for two: told before the answer.

What a field of a form usually holds stands beside its words (`Ask.usual`); here it is compared with
what was given, for every analysis alike. Such a figure is doubted and not refused: a rare machine
may have it, and whoever reads the sentence looks again and knows.
"""

import contextlib
import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import Any

from ironlace.evidence.analyses import AskedField, Declared, Known, KnownTable, asked_fields
from ironlace.evidence.answers import Answer

_FIGURES = 3
"""Two fields that agree in so many figures, the last no nought, were probably not both read: of two
such figures one pair in some five hundred agrees by chance (by counting)."""


def answered(analysis: Declared, asked: Any, found: Any) -> Answer:
    """Tell what an analysis found, and first what is doubtful in what was asked.

    Page, command and account all tell an answer by this.
    """
    answer = analysis.answer(found)
    doubts = tuple(doubtful_figures(asked))
    return replace(answer, sentences=(*doubts, *answer.sentences)) if doubts else answer


def doubtful_figures(asked: Any) -> Iterator[str]:
    """What was asked that is not as such machines have it, and what agrees: a sentence each.

    >>> from dataclasses import dataclass
    >>> from typing import Annotated
    >>> from ironlace.evidence.analyses import Ask
    >>> @dataclass(frozen=True)
    ... class Seam:
    ...     stitch: Annotated[Known, Ask("Stitch length", unit="mm", usual=(0.5, 6.0))]
    ...     cloth: Annotated[Known, Ask("Cloth", unit="mm")]
    >>> list(doubtful_figures(Seam(Known(25.4, None, "mm"), Known(0.8, None, "mm"))))[0][:60]
    "'Stitch length' of 25.4 mm is more than is usual (0.5 to 6 m"
    >>> list(doubtful_figures(Seam(Known(2.08, None, "mm"), Known(2.08, None, "mm"))))[0][:60]
    "'Stitch length' and 'Cloth' are alike to the last figure, 2."
    """
    given = [(one, getattr(asked, one.name)) for one in asked_fields(type(asked))]
    unusual = [words for one, value in given if (words := _unusual(one, value))]
    unusual += [words for one, value in given for words in _unusual_cells(one, value)]
    if unusual:
        which = "it was" if len(unusual) == 1 else "each was"
        yield (
            f"{' and '.join(unusual)}: look whether {which} read in that unit, and whether a digit "
            "or the decimal comma is wrong."
        )
    known = [
        (one, value)
        for one, value in given
        # two tilts, or two settings of a wheel, are made alike on purpose
        if isinstance(value, Known) and not value.source and one.ask.unit not in ("°", "deg")
    ]
    for (one, value), (other, second) in combinations(known, 2):
        alike = value.value == second.value and value.unit == second.unit
        if alike and len(f"{abs(value.value):.10g}".replace(".", "").strip("0")) >= _FIGURES:
            yield (
                f"'{one.ask.words}' and '{other.ask.words}' are alike to the last figure, "
                f"{value.value:g} {value.unit}: look whether one was copied from the other."
            )


def _unusual(one: AskedField, value: Any) -> str:
    """How a figure stands to what is usual; empty where it is usual, or nothing is known of it."""
    number = value.value if isinstance(value, Known) else value
    if one.ask.usual is None or not isinstance(number, int | float) or number == one.default:
        return ""
    said = _beside(number, one.ask.usual, one.ask.unit)
    return f"'{one.ask.words}' of {said}" if said else ""


def _unusual_cells(one: AskedField, value: Any) -> Iterator[str]:
    """The same of each column of a table: its first such row, and how many there are."""
    for name, usual in (one.ask.usual_cells or {}).items():
        cells = list(_cells(value, name))
        said = [(row, words) for row, cell in cells if (words := _beside(cell, usual, ""))]
        if said:
            rows = f"row {said[0][0]}" + (f" and {len(said) - 1} more" if len(said) > 1 else "")
            yield f"'{name}' in {rows} of '{one.ask.words}' ({said[0][1]})"


def _beside(number: float, usual: tuple[float, float], unit: str) -> str:
    low, high = usual
    if low <= number <= high:
        return ""
    told = f" {unit}" if unit else ""
    way = "less" if number < low else "more"
    return f"{number:g}{told} is {way} than is usual ({low:g} to {high:g}{told})"


def _cells(value: Any, name: str) -> Iterator[tuple[int, float]]:
    """Row, counted from 1, and figure of each cell of a column; what is no figure is left out."""
    if isinstance(value, KnownTable):
        column = next((c for c in value.columns if c.name == name), None)
        found = enumerate(column.values if column else (), 1)
        yield from ((row, cell) for row, cell in found if cell is not None)
        return
    if not isinstance(value, str) or not value.strip():
        return
    mark = "\t" if "\t" in value.split("\n", 1)[0] else ","
    rows = [row for row in csv.reader(io.StringIO(value), delimiter=mark) if any(row)]
    heads = [head.strip().casefold() for head in rows[0]]
    if name not in heads:
        return
    at = heads.index(name)
    for number, row in enumerate(rows[1:], 1):
        with contextlib.suppress(ValueError, IndexError):
            yield number, float(row[at])
