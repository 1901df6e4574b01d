"""What hands and spreadsheets do wrong with a table of reports, or of dated examples.

A table is a list of headings and rows of cells. A failing takes one and gives it back spoilt in one
human way, with the words by which a sentence would name what is wrong (id, line, cell or heading);
or None where there is nothing that it could spoil. Nothing here knows what a survey computes.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

NUMBER = ("mark", "serial")
DATE = ("dated", "date")
LOOK_ALIKE = {"3": "8", "8": "3", "1": "7", "7": "1", "6": "0", "0": "6"}


@dataclass(frozen=True)
class Table:
    """Headings and rows of cells."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def text(self) -> str:
        lines = [",".join(f'"{cell}"' for cell in row) for row in (self.heads, *self.rows)]
        return "\n".join(lines) + "\n"

    def at(self, names) -> int | None:
        """Where a column stands."""
        return next((i for i, head in enumerate(self.heads) if head in names), None)

    def filled(self, column: int) -> list[int]:
        """Rows with something in a column."""
        return [i for i, row in enumerate(self.rows) if row[column]]

    def put(self, changes: dict[tuple[int, int], str]) -> "Table":
        """The same with some cells otherwise."""
        rows = [list(row) for row in self.rows]
        for (row, column), text in changes.items():
            rows[row][column] = text
        return Table(self.heads, tuple(map(tuple, rows)))


@dataclass(frozen=True)
class SpoiltTable:
    """A spoilt table, what names what is wrong in it, and how."""

    table: Table
    names: tuple[str, ...]
    how: str = ""


Failing = Callable[[np.random.Generator, Table], SpoiltTable | None]


def _names(table: Table, rows, heads=()) -> tuple[str, ...]:
    """What a sentence may call these rows (id, line, number, date) and columns."""
    found = [*heads]
    for i in rows:
        found += [f"line {i + 2}", f"lines {i + 2}"]
        for name in ("id", *NUMBER):
            if (at := table.at((name,))) is not None and table.rows[i][at]:
                cell = table.rows[i][at]
                found += [cell, cell.replace(".", "·")]
                if cell.isdigit():
                    found.append(f"{int(cell):,}")
    return tuple(dict.fromkeys(found))


def _spoil(rng, table, names, change, how="", may=lambda _text: True):
    """One cell of a column typed otherwise."""
    at = table.at(names)
    if at is None:
        return None
    usable = [i for i in table.filled(at) if may(table.rows[i][at])]
    if not usable:
        return None
    row = int(rng.choice(usable))
    before = table.rows[row][at]
    after = change(before)
    if not after or after == before:
        return None
    spoilt = table.put({(row, at): after})
    return SpoiltTable(spoilt, _names(spoilt, [row]), how or f"{before} -> {after}")


def _last_figures(text: str) -> tuple[str, str]:
    found = re.search(r"\d+$", text)
    return (text[: found.start()], found[0]) if found else (text, "")


def number_ten_times(rng, table):
    """A figure typed twice at the end of the number, or its last one lost."""

    def change(text):
        head, figures = _last_figures(text)
        if rng.random() < 0.5:
            return head + figures + str(rng.integers(10))
        return head + figures[:-1] if len(figures) > 1 else ""

    return _spoil(rng, table, NUMBER, change)


def _turned(rng, text, begin=0):
    pairs = [
        i
        for i in range(begin, len(text) - 1)
        if text[i].isdigit() and text[i + 1].isdigit() and text[i] != text[i + 1]
    ]
    if not pairs:
        return ""
    i = int(rng.choice(pairs))
    return text[:i] + text[i + 1] + text[i] + text[i + 2 :]


def number_transposed(rng, table):
    """Two neighbouring figures of a number changed round."""
    return _spoil(rng, table, NUMBER, lambda text: _turned(rng, text))


def number_misread(rng, table):
    """A figure of a number taken for one that looks alike."""

    def change(text):
        found = [i for i, sign in enumerate(text) if sign in LOOK_ALIKE]
        if not found:
            return ""
        i = int(rng.choice(found))
        return text[:i] + LOOK_ALIKE[text[i]] + text[i + 1 :]

    return _spoil(rng, table, NUMBER, change)


def year_transposed(rng, table):
    """The last two figures of a year changed round."""
    return _spoil(rng, table, DATE, lambda text: text[:2] + text[3] + text[2] + text[4:])


def century_wrong(rng, table):
    """A year typed with this century's first figures."""
    return _spoil(rng, table, DATE, lambda text: f"19{text[2:]}")


def decade_wrong(rng, table):
    """A year ten years off."""
    step = int(rng.choice([-10, 10]))
    return _spoil(rng, table, DATE, lambda text: f"{int(text[:4]) + step}{text[4:]}")


def day_and_month_one(rng, table):
    """A date typed as day and month in figures, the other way round than its reader takes it."""
    return _spoil(rng, table, DATE, lambda text: f"{text[5:7]}/{rng.integers(1, 12)}/{text[:4]}")


def two_figures(_rng, table):
    """All dates with years of two figures."""
    return _all(table, DATE, lambda text: f"3.{text[5:7]}.{text[2:4]}")


def years_of_two_figures(_rng, table):
    """All dates as the year's last two figures alone."""
    return _all(table, DATE, lambda text: text[2:4])


def _all(table, names, change):
    at = table.at(names)
    if at is None or not table.filled(at):
        return None
    changes = {(i, at): change(table.rows[i][at]) for i in table.filled(at)}
    if all(table.rows[i][at] == text for (i, _), text in changes.items()):
        return None
    spoilt = table.put(changes)
    return SpoiltTable(spoilt, (*_names(spoilt, table.filled(at)), table.heads[at]))


def dates_of_two_rows_swapped(rng, table):
    """The dates of two machines changed round."""
    at = table.at(DATE)
    if at is None or len(table.filled(at)) < 2:
        return None
    i, j = map(int, rng.choice(table.filled(at), 2, replace=False))
    spoilt = table.put({(i, at): table.rows[j][at], (j, at): table.rows[i][at]})
    return SpoiltTable(spoilt, _names(spoilt, [i, j]))


def date_copied(rng, table):
    """The date of a row copied from the one above."""
    at = table.at(DATE)
    if at is None:
        return None
    usable = [
        i for i in table.filled(at) if i and table.rows[i - 1][at] not in ("", table.rows[i][at])
    ]
    if not usable:
        return None
    row = int(rng.choice(usable))
    spoilt = table.put({(row, at): table.rows[row - 1][at]})
    return SpoiltTable(spoilt, _names(spoilt, [row]))


def number_copied(rng, table):
    """The number of a row copied from the one above."""
    at = table.at(NUMBER)
    if at is None or len(table.rows) < 2:
        return None
    row = int(rng.integers(1, len(table.rows)))
    spoilt = table.put({(row, at): table.rows[row - 1][at]})
    return SpoiltTable(spoilt, _names(spoilt, [row, row - 1]))


def row_copied(rng, table):
    """A whole row pasted twice."""
    row = int(rng.integers(len(table.rows)))
    spoilt = Table(table.heads, (*table.rows[: row + 1], *table.rows[row:]))
    return SpoiltTable(spoilt, _names(spoilt, [row, row + 1]))


def _shifted(table, names, down):
    at = table.at(names)
    if at is None or len(table.filled(at)) < 3:
        return None
    cells = [row[at] for row in table.rows]
    cells = ["", *cells[:-1]] if down else [*cells[1:], ""]
    spoilt = table.put({(i, at): cell for i, cell in enumerate(cells)})
    return SpoiltTable(spoilt, (*_names(spoilt, range(len(cells))), table.heads[at]))


def dates_shifted(rng, table):
    """The column of dates moved up or down by one row."""
    return _shifted(table, DATE, rng.random() < 0.5)


def dates_sorted(_rng, table):
    """The column of dates sorted alone, from the last to the first."""
    at = table.at(DATE)
    if at is None or len(table.filled(at)) < 3:
        return None
    cells = sorted((table.rows[i][at] for i in table.filled(at)), reverse=True)
    spoilt = table.put({(i, at): c for i, c in zip(table.filled(at), cells, strict=True)})
    return SpoiltTable(spoilt, (*_names(spoilt, table.filled(at)), table.heads[at], "not rise"))


def columns_swapped(rng, table):
    """Two headings changed round."""
    pairs = [
        (a, b)
        for a, b in (("id", "mark"), ("mark", "dated"), ("dated", "sighted"), ("serial", "date"))
        if {a, b} <= set(table.heads)
    ]
    if not pairs:
        return None
    a, b = pairs[int(rng.integers(len(pairs)))]
    turned = {a: b, b: a}
    heads = tuple(turned.get(head, head) for head in table.heads)
    spoilt = Table(heads, table.rows)
    return SpoiltTable(spoilt, (a, b, *_names(spoilt, range(len(table.rows)))), f"{a}, {b}")


def headed_like_it(rng, table):
    """The column of dates headed by words that resemble another column's."""
    at = table.at(DATE)
    if at is None or ("dated_kind" not in table.heads and "kind" not in table.heads):
        return None
    kind = table.at(("dated_kind", "kind"))
    head = str(rng.choice(["dated_is", "dated is", "Dated Kind"]))
    heads = list(table.heads)
    heads[at], heads[kind] = head, "remarks"
    return SpoiltTable(Table(tuple(heads), table.rows), (head, "dated_kind"), head)


def headed_otherwise(rng, table):
    """The column of dates headed as people call it."""
    at = table.at(DATE)
    if at is None:
        return None
    head = str(rng.choice(["Year made", "date of receipt", "dates", "made in", "Datum"]))
    heads = list(table.heads)
    heads[at] = head
    return SpoiltTable(Table(tuple(heads), table.rows), (head,), head)


def kind_of_date_wrong(rng, table):
    """All dates said to be bounds on the other side, or none at all."""
    at = table.at(("dated_kind", "kind"))
    if at is None:
        return None
    kind = str(rng.choice(["not before", "not after"]))
    changes = {(i, at): kind for i in table.filled(at)}
    return SpoiltTable(table.put(changes), (kind, "dated_kind", "bound"), kind)


def blank_rows(rng, table):
    """Blank rows between the reports, and one with a remark alone."""
    rows = list(table.rows)
    for _ in range(3):
        rows.insert(int(rng.integers(len(rows))), ("",) * len(table.heads))
    rows.insert(
        int(rng.integers(len(rows))), ("as seen in the hall", *("",) * (len(table.heads) - 1))
    )
    return SpoiltTable(Table(table.heads, tuple(rows)), ("set aside",))


def cells_merged(_rng, table):
    """Merged cells: dates stand in every second row alone, for the one below as well."""
    at = table.at(DATE)
    if at is None:
        return None
    changes = {(i, at): "" for i in range(1, len(table.rows), 2)}
    return SpoiltTable(table.put(changes), (table.heads[at],))


def ends_lost(_rng, table):
    """A spreadsheet keeps numbers as numbers: noughts at the end of a fraction are lost."""
    return _numbers(table, lambda text: text.rstrip("0") if text.count(".") == 1 else text)


def beginnings_lost(_rng, table):
    """A spreadsheet keeps numbers as numbers: noughts at the beginning are lost."""
    return _numbers(table, lambda text: re.sub(r"(?<!\d)0+(?=\d)", "", text, count=1))


def shortened(_rng, table):
    """A spreadsheet shows long numbers in its short form."""
    return _numbers(
        table,
        lambda t: f"{float(t):.2E}" if t.isdigit() and len(t) > 4 else t,
    )


def in_thousands(rng, table):
    """One number told in thousands: 12.3 for 12,345."""

    def change(text):
        return f"{int(text) / 1000:.1f}" if text.isdigit() and len(text) > 3 else ""

    return _spoil(rng, table, NUMBER, change)


def thousands_parted(_rng, table):
    """Numbers written with a comma at the thousands."""
    return _numbers(table, lambda t: f"{int(t):,}" if t.isdigit() else t)


def _numbers(table, change):
    at = table.at(NUMBER)
    found = {(i, at): change(row[at]) for i, row in enumerate(table.rows)}
    changed = [i for (i, _), text in found.items() if text != table.rows[i][at]]
    if not changed:
        return None
    spoilt = table.put(found)
    return SpoiltTable(spoilt, (*_names(spoilt, changed), "spreadsheet"))


FAILINGS: dict[str, Failing] = {
    one.__name__.replace("_", " "): one
    for one in (
        number_ten_times, number_transposed, number_misread, year_transposed, century_wrong,
        decade_wrong, day_and_month_one, two_figures, years_of_two_figures,
        dates_of_two_rows_swapped, date_copied, number_copied, row_copied, dates_shifted,
        dates_sorted, columns_swapped, headed_like_it, headed_otherwise, kind_of_date_wrong,
        blank_rows, cells_merged, ends_lost, beginnings_lost, shortened, in_thousands,
        thousands_parted,
    )
}  # fmt: skip
"""Every failing of a table by its name."""

HELD_BACK = ("dates shifted", "number misread", "headed otherwise", "cells merged", "decade wrong")
"""Failings that nobody looked at while the readers were mended."""
