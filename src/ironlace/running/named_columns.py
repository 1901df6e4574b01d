"""Columns of a table of readings, by the names that people give them."""

from collections.abc import Collection, Mapping
from dataclasses import replace

from ironlace.evidence.analyses import KnownColumn, KnownTable
from ironlace.running.errors import RunningError


def columns_by_name(
    table: KnownTable, names: Mapping[str, str], units: Collection[str], *, needed: str, beside: str
) -> dict[str, KnownColumn]:
    """The columns of a table by what they hold; a unit may end a name, as in ``needle bar mm``.

    Parameters
    ----------
    names
        What a column holds, by each way of naming it in small letters.
    units
        Words that end a name as its unit.
    needed, beside
        Which columns there must be, and which may come with them, for the sentence of a refusal.

    Raises
    ------
    RunningError
        When a column is not known, or two hold the same.
    """
    found: dict[str, KnownColumn] = {}
    for column in table.columns:
        words = column.name.casefold().replace("_", " ").replace("-", " ").split()
        unit = column.unit
        if not unit and len(words) > 1 and words[-1] in units:
            unit = words.pop()
        name = names.get(" ".join(words))
        if name is None:
            raise RunningError(
                f"The column '{column.name}' is not known here: name the columns {needed}; "
                f"{beside} may come with them."
            )
        if name in found:
            raise RunningError(f"Two columns hold the {name}: keep one, or name the other anew.")
        found[name] = replace(column, name=name, unit=unit)
    return found
