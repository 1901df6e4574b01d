"""Tables of words and figures that a person types or pastes: a line each under known headings."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence

from ironlace.evidence.errors import IronlaceError


class WordTableError(IronlaceError):
    """A table's headings, or the number of cells in a row, cannot be."""


def rows_of_words(
    table: str, columns: Sequence[str], needed: Sequence[str], called: tuple[str, str]
) -> list[dict[str, str]]:  # dict: cells by their heading
    r"""The rows of a table as they were written, a dict each by column.

    Parameters
    ----------
    table
        Lines with commas, or with tabs where the first line has one; empty lines do not count.
    columns, needed
        Headings that may stand in its first line, and those that must.
    called
        What a row is, and rows are: for the refusals.

    Raises
    ------
    WordTableError
        When a heading is strange, missing or there twice, or a row has more cells than headings.

    Examples
    --------
    >>> rows_of_words("place,last\nneedle bar,1894-03-01\n", ["place", "last"], ["place"],
    ...               ("place", "places"))
    [{'place': 'needle bar', 'last': '1894-03-01'}]
    """
    one, many = called
    mark = "\t" if "\t" in table.split("\n", 1)[0] else ","
    read = csv.reader(io.StringIO(table, newline=""), delimiter=mark)
    try:
        rows = [row for row in read if any(cell.strip() for cell in row)]
    except csv.Error as error:
        raise WordTableError(f"The table of {many} cannot be read: {error}.") from error
    heads = [head.strip().casefold() for head in rows[0]] if rows else []
    strange = [head for head in heads if head not in columns]
    if strange or any(name not in heads for name in needed) or len(set(heads)) < len(heads):
        raise WordTableError(
            f"The table of {many} begins with '{','.join(heads)[:60]}': its first line must be "
            f"headings, each once, out of {', '.join(columns)}."
        )
    found = []
    for number, row in enumerate(rows[1:], 1):
        if len(row) > len(heads):
            raise WordTableError(
                f"{one.capitalize()} {number} has {len(row)} cells under {len(heads)} headings: "
                'put a name with a comma in "quotes".'
            )
        found.append(dict(zip(heads, (cell.strip() for cell in row), strict=False)))
    return found


def words_of_rows(rows: Iterable[Mapping[str, str]], columns: Sequence[str]) -> str:
    """The table that `rows_of_words` reads again."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows({column: row.get(column, "") for column in columns} for row in rows)
    return out.getvalue()
