"""A table of motion readings: which column is what, in which unit, and whether it can be used."""

from dataclasses import dataclass, replace
from math import pi

import numpy as np

from ironlace.evidence.analyses import KnownColumn, KnownTable
from ironlace.evidence.arrays import Bools, Floats
from ironlace.evidence.quantities import Measured, QuantityError
from ironlace.evidence.wording import listed
from ironlace.running.errors import ContradictionError, RunningError
from ironlace.running.named_columns import columns_by_name

MOTIONS = ("needle bar", "shuttle", "take-up", "feed", "feed lift")
"""What may be read against the wheel, in the order in which it is told."""

_NAMES = {
    "wheel": "wheel",
    "hand wheel": "wheel",
    "handwheel": "wheel",
    "wheel angle": "wheel",
    "angle": "wheel",
    "opposite": "opposite",
    "opposite pointer": "opposite",
    "wheel opposite": "opposite",
    "way": "way",
    "direction": "way",
    "needle bar": "needle bar",
    "needlebar": "needle bar",
    "needle": "needle bar",
    "shuttle": "shuttle",
    "take up": "take-up",
    "takeup": "take-up",
    "feed": "feed",
    "feed lift": "feed lift",
}
_UNITS = ("deg", "degrees", "degree", "rad", "mm", "cm", "in", "thou")
_NEEDED = "wheel [deg], and at least one of needle bar, shuttle, take-up, feed and feed lift [mm]"

_MOST_DEG, _MOST_MM = 1080.0, 1000.0
"""No wheel is counted over three turns, and no head is a metre high."""

_RADIANS = 6.3
"""A whole turn is 6.28 radians: where no angle passes this, none is of degrees."""

_MANY = 12
"""So many settings within six degrees of each other are no evening's: they are radians too."""

_MOST_TRAVEL_MM = 150.0
"""No part of a head travels so far: the longest, take-ups and shuttles, move some 80 mm (common
practice, no source)."""

_LITTLE_DEG = 120.0
"""Angles of an evening that run over less, beside heights that run over more than any travel,
stand in each other's column."""

_FEWEST_ROWS = 6
"""Fewer rows settle no motion: a crank's has five numbers."""

_APART_SD = 6.0
"""Repeats at one angle further apart than so many standard deviations contradict each other."""

_POINTERS_DEG = 12.0
"""Two pointers that disagree by more than a disc off centre can do: one was misread."""


@dataclass(frozen=True, slots=True)
class MotionTable:
    """Readings by wheel angle, ready to be fitted.

    Attributes
    ----------
    angle
        (r,) rad, rising as the machine sews, the mean of both pointers where there are two.
    motions
        What was read.
    height
        (r, c) mm, NaN for a gap.
    way
        (r,) +1 turned as it sews, -1 turned back; None where it was not told.
    off_centre
        Angle by which one pointer alone is off at most, rad; None with a single pointer.
    pointers_misread
        Rows left out because their pointers contradict each other, from 0.
    """

    angle: Floats
    motions: tuple[str, ...]
    height: Floats
    way: Floats | None
    off_centre: float | None
    pointers_misread: tuple[int, ...]

    def only(self, motions: tuple[str, ...]) -> "MotionTable":
        """The same of some motions."""
        at = [self.motions.index(name) for name in motions]
        return replace(self, motions=motions, height=self.height[:, at])


def motion_table(
    table: KnownTable, *, numbers_fall: bool, height_error: float, angle_error: float
) -> MotionTable:
    """Read a table of motion readings.

    Parameters
    ----------
    numbers_fall
        Whether the disc's numbers fall as the machine sews.
    height_error, angle_error
        Standard uncertainty of one reading, mm and rad, to tell repeats from contradictions.

    Raises
    ------
    RunningError
        When a column is missing or strange, angles are no degrees, or repeats contradict each
        other.
    """
    columns = _by_name(table)
    _refuse_swapped(columns)
    wheel = _angles(columns["wheel"])
    motions = tuple(name for name in MOTIONS if name in columns)
    height = np.column_stack([_heights(columns[name]) for name in motions])
    way = _way(columns.get("way"))
    if len(wheel) < _FEWEST_ROWS:
        raise RunningError(
            f"There are {len(wheel)} rows of readings: at least {_FEWEST_ROWS} are needed, and 24 "
            "all round the turn tell a stroke to a tenth of a millimetre."
        )
    _refuse_contradictions(wheel, height, way, motions, (height_error, angle_error))
    turned = np.radians(wheel)
    off_centre: float | None = None
    misread: tuple[int, ...] = ()
    if "opposite" in columns:
        other = np.radians(_angles(columns["opposite"], gaps=True))
        turned, off_centre, misread = _two_pointers(turned, other)
        height[list(misread)] = np.nan
    if numbers_fall:
        turned = -turned
    return MotionTable(turned, motions, height, way, off_centre, misread)


def _by_name(table: KnownTable) -> dict[str, KnownColumn]:
    found = columns_by_name(table, _NAMES, _UNITS, needed=_NEEDED, beside="opposite [deg] and way")
    if "wheel" not in found or not set(found) & set(MOTIONS):
        has = listed(sorted(found)) if found else "none"
        raise RunningError(f"The table has the columns {has}: it needs {_NEEDED}.")
    return found


def _refuse_swapped(columns: dict[str, KnownColumn]) -> None:
    """Refuse a part that would travel further than any, and say so where angles stand there."""
    for name in MOTIONS:
        if name not in columns:
            continue
        per_mm = 25.4 if columns[name].unit in ("in", "inch", "inches") else 1.0
        travel = per_mm * _run(columns[name])
        if travel <= _MOST_TRAVEL_MM:
            continue
        if _run(columns["wheel"]) < _LITTLE_DEG:
            raise RunningError(
                f"'{columns['wheel'].name}' runs over {_run(columns['wheel']):.0f} and '{name}' "
                f"over {_run(columns[name]):.0f}: the two columns seem to be swapped; put the "
                "angles under wheel [deg]."
            )
        raise RunningError(
            f"'{columns[name].name}' runs over {travel:.0f} mm, further than any part of a head "
            "travels: check its unit, and that it holds no angles."
        )


def _run(column: KnownColumn) -> float:
    """From the lowest to the highest tenth of a column, so that a misread value does not count."""
    values = [v for v in column.values if v is not None and np.isfinite(v)]
    return float(np.ptp(np.quantile(values, (0.1, 0.9)))) if values else 0.0


def column_holds(name: str) -> str:
    """What a column of that name holds, such as `wheel` or `needle bar`; empty for another's.

    >>> column_holds("Handwheel"), column_holds("needle_bar"), column_holds("oil")
    ('wheel', 'needle bar', '')
    """
    words = name.casefold().replace("_", " ").replace("-", " ").split()
    return _NAMES.get(" ".join(words), "")


def fewest_readings(motion: str) -> int:
    """Readings that a motion needs before anything is fitted to it."""
    return 6 if motion == "needle bar" else 4


def _angles(column: KnownColumn, *, gaps: bool = False) -> Floats:
    if column.unit.casefold() not in ("deg", "degree", "degrees", "°"):
        raise RunningError(
            f"The angles of '{column.name}' are in {column.unit or 'no unit'}: the disc is read in "
            f"degrees; give them so and name the column {column.name} [deg]."
        )
    if None in column.values and not gaps:
        row = column.values.index(None) + 1
        raise RunningError(
            f"Row {row} has no angle under '{column.name}': fill it in, or leave the row out."
        )
    values = np.array([np.nan if v is None else float(v) for v in column.values])
    if not np.isfinite(values).any():
        raise RunningError(f"'{column.name}' holds no angle: read it, or leave the column out.")
    run = float(np.nanmax(values) - np.nanmin(values))
    if run == 0.0 and len(values) > 1:
        raise RunningError(
            f"Every angle of '{column.name}' is {np.nanmin(values):g}: give each row the angle at "
            "which it was read."
        )
    if np.nanmax(np.abs(values)) <= _RADIANS or (run <= _RADIANS and len(values) >= _MANY):
        raise RunningError(
            f"The angles of '{column.name}' run from {np.nanmin(values):g} to "
            f"{np.nanmax(values):g}, which "
            "looks like radians: give them in degrees, 0 to 360."
        )
    if np.nanmax(np.abs(values)) > _MOST_DEG:
        raise RunningError(
            f"An angle of {values[np.nanargmax(np.abs(values))]:g}° is no reading of a disc: give "
            "degrees from 0 to 360."
        )
    return values


def _heights(column: KnownColumn) -> Floats:
    if not column.unit:
        raise RunningError(
            f"The column '{column.name}' has no unit: name it {column.name} [mm] or "
            f"{column.name} [in]."
        )
    try:
        values = np.array(
            [
                np.nan if v is None else Measured(v, column.unit).to("mm").value
                for v in column.values
            ]
        )
    except QuantityError as error:
        raise RunningError(
            f"The column '{column.name}' is in {column.unit}, which is no length: give it in mm."
        ) from error
    if np.nanmax(np.abs(values)) > _MOST_MM:
        raise RunningError(
            f"'{column.name}' holds {np.nanmax(np.abs(values)):g} mm, more than a head is high: "
            "check the unit."
        )
    if np.nanmax(values) - np.nanmin(values) == 0.0:
        raise RunningError(
            f"'{column.name}' reads {np.nanmax(values):g} mm in every row: read it at several "
            "settings of the wheel, or leave the column out."
        )
    return values


def _way(column: KnownColumn | None) -> Floats | None:
    if column is None:
        return None
    values = np.array([1.0 if v is None else float(v) for v in column.values])
    if not np.isin(values, (1.0, -1.0)).all():
        raise RunningError(
            "The column 'way' tells how each setting was reached: write 1 for turned as it sews "
            "and -1 for turned back, and nothing else."
        )
    return values


def _refuse_contradictions(
    wheel: Floats,
    height: Floats,
    way: Floats | None,
    motions: tuple[str, ...],
    errors: tuple[float, float],
) -> None:
    """Refuse two rows of one setting that no scatter can reconcile and no third one parts.

    Where a third reading agrees with one of them the other is left to what finds misread values.
    """
    same: Bools = np.abs(np.mod(wheel[:, None] - wheel + 180.0, 360.0) - 180.0) < 1e-6
    if way is not None:
        same &= way[:, None] == way
    for at, name in enumerate(motions):
        read = height[:, at]
        fast = np.nanmax(read) - np.nanmin(read)
        most = _APART_SD * float(np.hypot(errors[0], 0.5 * fast * errors[1])) * 2.0**0.5
        off = np.abs(read[:, None] - read)
        apart, agree = same & (off > most), same & (off <= most)
        np.fill_diagonal(agree, val=False)
        # bool products count: is there a row that agrees with the one and not with the other?
        apart &= ~((agree @ apart) | (apart @ agree))
        apart = np.triu(apart, 1)
        if apart.any():
            one, other = (int(k) for k in np.argwhere(apart)[0])
            raise ContradictionError(
                f"Rows {one + 1} and {other + 1} both stand at {wheel[one]:g}° and read "
                f"{read[one]:g} and {read[other]:g} mm for the {name}: read that setting a third "
                "time, which shows the odd one, or leave the wrong one out.",
                float(wheel[one]),
            )


def _two_pointers(one: Floats, other: Floats) -> tuple[Floats, float, tuple[int, ...]]:
    """The mean of two opposite pointers, how far the disc is off centre, and rows misread.

    Where the second was not read, what the other rows tell of the disc's centre stands for it.
    """
    apart = np.mod(other - one, 2.0 * pi)
    opposite = float(np.nansum(np.cos(apart))) < 0.0  # 180 apart, or each read as the same
    off = np.mod(apart - (pi if opposite else 0.0) + pi, 2.0 * pi) - pi
    design = np.column_stack((np.ones_like(one), np.cos(one), np.sin(one)))
    keep = np.abs(off - np.nanmedian(off)) < np.radians(_POINTERS_DEG)
    if keep.sum() < _FEWEST_ROWS:
        raise RunningError(
            "The two pointers agree in too few rows: set the second one opposite the first, and "
            "read the angle at each."
        )
    fitted = np.linalg.lstsq(design[keep], off[keep], rcond=None)[0]
    strange = np.abs(off - design @ fitted) > np.radians(_POINTERS_DEG)
    off = np.where(np.isnan(off), design @ fitted, off)
    return (
        one + 0.5 * (off - fitted[0]),
        0.5 * float(np.hypot(fitted[1], fitted[2])),
        tuple(int(k) for k in np.flatnonzero(strange)),
    )
