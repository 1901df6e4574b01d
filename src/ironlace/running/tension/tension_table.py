"""A table of spring-scale readings at screw settings, and whether it can be used."""

from dataclasses import dataclass

import numpy as np

from ironlace.evidence.analyses import KnownColumn, KnownTable
from ironlace.evidence.arrays import Bools, Floats
from ironlace.evidence.quantities import Measured, QuantityError
from ironlace.evidence.wording import listed
from ironlace.running.errors import RunningError
from ironlace.running.named_columns import columns_by_name

_NAMES = {
    "turns": "turns",
    "screw": "turns",
    "turn": "turns",
    "screw turns": "turns",
    "eighths": "eighths",
    "tension": "tension",
    "pull": "tension",
    "thread": "tension",
    "after": "after",
    "polished": "after",
}
_UNITS = {"gf": "gf", "g": "gf", "cn": "cN", "n": "N", "mn": "mN", "ozf": "ozf", "oz": "ozf"}
"""Units of force as they are written; a spring scale's grams are gram-force."""

_LEAST_TOP_GF, _MOST_GF = 8.0, 1500.0
"""No needle tension that sews is so low that its highest setting pulls less, nor so high: thread
snaps before. Outside, the unit is doubted."""

_OFFSET_GF = -0.5
"""A scale that shows less than this pulls from below its zero."""

_MOST_TURNS = 20.0
"""Of a tension screw; more is another count."""

_REPEATS_APART = 1.0
"""Repeats at one setting that lie further apart than so many times their mean contradict each
other; discs that stick and slip spread half as far."""


@dataclass(frozen=True, slots=True)
class TensionTable:
    """Readings at screw settings.

    Attributes
    ----------
    turns
        (n,) of the screw, inwards.
    tension
        (n,) gf, the scale's own zero taken off.
    after
        (n,) whether it was read after the discs were worked on.
    """

    turns: Floats
    tension: Floats
    after: Bools

    def part(self, *, after: bool) -> "TensionTable":
        """The readings before, or after, the discs were worked on."""
        return self.where(self.after == after)

    def where(self, keep: Bools) -> "TensionTable":
        """Some of the readings, (n,)."""
        return TensionTable(self.turns[keep], self.tension[keep], self.after[keep])


def tension_table(
    table: KnownTable, zero_gf: float = 0.0, end_gf: float | None = None
) -> TensionTable:
    """Read a table of tensions: turns (or eighths), tension with its unit, and after (0 or 1).

    Parameters
    ----------
    zero_gf, end_gf
        What the scale shows with nothing on it.

    Raises
    ------
    RunningError
        When a column is missing or strange, a unit is doubtful, or repeats contradict each other.
    """
    columns = _by_name(table)
    tension = _tension(columns["tension"])
    if tension.min() < _OFFSET_GF:
        raise RunningError(
            f"A tension of {tension.min():g} gf is below nothing: the scale's zero is off; read it "
            "with nothing on it, and give that as the scale's zero."
        )
    # a zero that crept is taken to have crept evenly from the first row to the last
    end = zero_gf if end_gf is None else end_gf
    tension = tension - np.linspace(zero_gf, end, len(tension))
    if tension.min() < _OFFSET_GF:
        raise RunningError(
            f"With the scale's zero of {zero_gf:g} gf taken off, a tension of {tension.min():.3g} "
            "gf remains: read the zero again."
        )
    turns = _filled(columns["turns"]) if "turns" in columns else _filled(columns["eighths"]) / 8.0
    if np.abs(turns).max() > _MOST_TURNS:
        raise RunningError(
            f"The screw is said to stand at {turns[np.argmax(np.abs(turns))]:g} turns: give turns, "
            "or name the column eighths."
        )
    after = _filled(columns["after"]) if "after" in columns else np.zeros(len(turns))
    if not np.isin(after, (0.0, 1.0)).all():
        raise RunningError(
            "The column 'after' tells which readings were taken after the discs were worked on: "
            "write 0 or 1."
        )
    made = TensionTable(turns, tension, after > 0.5)
    _refuse_contradictions(made)
    return made


def _by_name(table: KnownTable) -> dict[str, KnownColumn]:
    needed = "turns, and tension [gf]"
    found = columns_by_name(table, _NAMES, _UNITS, needed=needed, beside="after (0 or 1)")
    if "tension" not in found or ("turns" in found) == ("eighths" in found):
        has = listed(sorted(found)) if found else "none"
        raise RunningError(f"The table has the columns {has}: it needs {needed}.")
    return found


_NOTHING = 0.4
"""Share of pulls that read nothing from which a table tells the scale's end and no curve."""


def _filled(column: KnownColumn) -> Floats:
    if None in column.values:
        row = column.values.index(None) + 1
        raise RunningError(f"Row {row} has nothing under '{column.name}': fill it in.")
    return np.array([float(v) for v in column.values if v is not None])


def _tension(column: KnownColumn) -> Floats:
    unit = _UNITS.get(column.unit.casefold())
    if unit is None:
        raise RunningError(
            f"The tension is in {column.unit or 'no unit'}: name the column tension [gf], "
            "tension [cN] or tension [N]."
        )
    values = _filled(column)
    try:
        by = Measured(1.0, "force_ounce" if unit == "ozf" else unit).to("gf").value
    except QuantityError as error:
        raise RunningError(f"The tension is in {column.unit}, which is no force.") from error
    found = values * by
    if found.max() < _LEAST_TOP_GF or found.max() > _MOST_GF:
        raise RunningError(
            f"The highest tension is {found.max():.3g} gf, which no machine sews with: the scale "
            "may be read in another unit (1 N is 102 gf, 1 oz is 28 gf, 1 cN is 1.02 gf); name the "
            "column's unit."
        )
    nothing = int((found <= 0.0).sum())
    if nothing >= _NOTHING * len(found):
        raise RunningError(
            f"{nothing} of {len(found)} pulls read nothing, and guides and discs always hold a "
            "thread with some gf: a scale that does not show so little, or rows that were not "
            "read. Take a finer scale, or leave those rows out."
        )
    return found


def _refuse_contradictions(made: TensionTable) -> None:
    for after in (False, True):
        part = made.part(after=after)
        for setting in np.unique(np.round(part.turns, 4)):
            at = part.tension[np.abs(part.turns - setting) < 1e-3]
            if len(at) > 1 and np.ptp(at) > max(_REPEATS_APART * at.mean(), 6.0):
                raise RunningError(
                    f"At {setting:g} turns the scale was read at {at.min():g} and at {at.max():g} "
                    "gf: such repeats tell nothing; draw steadily, and read that setting again."
                )
