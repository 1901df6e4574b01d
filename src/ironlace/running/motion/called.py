"""Readings of a head's motion called out one after another: what is asked now, and what after it.

The first settings are those that tell most for the time they take; after them the fit's own
covariance says where one more reading would narrow the asked figure most (`moved.next_reading`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import degrees, pi

import numpy as np

from ironlace.evidence.analyses import KnownTable
from ironlace.running.motion.figures import stroke_taken, unguarded
from ironlace.running.motion.motion_found import Motion, MotionFound
from ironlace.running.motion.motion_table import MOTIONS, column_holds, fewest_readings

AIMS = {
    "timing": "whether the timing is right: fourteen settings",
    "strokes": "strokes and dead centres: every 15° round the turn, four of them again",
}
"""What readings are for, by key."""

OPPOSITE = "opposite"
"""What a second pointer shows, as a column of the table has it."""

_ABOUT_LOWEST = (-10.0, -6.0, -2.0, 2.0, 6.0, 10.0)
"""Degrees of the wheel about the needle's lowest point, and about the meeting."""

_FAR = 90.0
"""Degrees of the two settings far from the lowest point, which tell the crank's size."""

_ALL_ROUND, _BACK = 15, 30
"""Degrees between settings all round as it sews, and turned back."""

_AGAIN = 4
"""Settings read again at the end, a quarter turn apart: some are steep, where a disc that turned
shows, and some flat, where a part that slipped does."""

_FIRST_ASKED = {
    "lowest": ("Needle at its very lowest: the disc shows", "deg"),
    "meets": ("Turned on until the shuttle’s point stands at the needle: the disc shows", "deg"),
    "meeting": ("Wheel still there: the shuttle reads", ""),
}
"""What is asked before the settings of a timing, with its unit where it is not a length."""


@dataclass(frozen=True, slots=True)
class CalledFor:
    """What the readings are for, and what was settled before them.

    Attributes
    ----------
    aim
        A key of `AIMS`.
    parts
        The motions to be read, of `MOTIONS`.
    both_ways
        Whether settings are also reached turning back, for the backlash.
    two_pointers
        Whether a second pointer is read.
    numbers_fall
        Whether the disc's numbers fall as the machine sews.
    first
        By key of what is asked first (`lowest`, `meets`, `meeting`), the number; None where it
        cannot be read.
    passed
        Settings (counted from 0) and parts that could not be read.
    had
        Rows that were there before: with them no first settings are asked, only what the fit wants.
    """

    aim: str
    parts: tuple[str, ...]
    both_ways: bool = False
    two_pointers: bool = False
    numbers_fall: bool = False
    first: Mapping[str, float | None] | None = None
    passed: tuple[tuple[int, str], ...] = ()
    had: int = 0


@dataclass(frozen=True, slots=True)
class Setting:
    """A setting of the wheel: degrees of the disc, what is read there, 1 as it sews or -1 back.

    `left` is the share of the asked figure's doubt that it would leave, where the fit tells it.
    """

    wheel: float
    parts: tuple[str, ...]
    way: int = 1
    left: float | None = None


@dataclass(frozen=True, slots=True)
class CalledNext:
    """What is asked now.

    Attributes
    ----------
    key
        A motion, `opposite`, or a key of what is asked first.
    words, unit
        As it is asked; a length's unit is empty.
    setting, row
        The setting and the row of the table, counted from 0; -1 before the settings.
    wheel, way
        Where the wheel is to stand and how it is turned there; None before the settings.
    same_setting
        Whether something was read at this setting already, so that the wheel must not be touched.
    of
        How many settings are planned; 0 when the fit leads.
    left
        Share of the asked figure's doubt that this reading would leave, where the fit tells it.
    """

    key: str
    words: str
    unit: str
    setting: int = -1
    row: int = -1
    wheel: float | None = None
    way: int = 1
    same_setting: bool = False
    of: int = 0
    left: float | None = None


@dataclass(frozen=True, slots=True)
class CalledDone:
    """Something asked before and settled: where, what, and its row; None where it was passed."""

    setting: int
    key: str
    row: int | None


def first_settings(of: CalledFor) -> tuple[Setting, ...]:
    """The settings to begin with, in the order in which the wheel passes them."""
    if of.had:
        return ()
    sign = -1.0 if of.numbers_fall else 1.0
    if of.aim == "timing":
        first = of.first or {}
        lowest, meets = first.get("lowest"), first.get("meets")
        bar, both = ("needle bar",), ("needle bar", "shuttle")
        made: list[Setting] = []
        if lowest is not None:
            made.append(Setting(lowest - sign * _FAR, bar))
            made += [Setting(lowest + sign * off, bar) for off in _ABOUT_LOWEST]
        pairs = []
        if meets is not None:
            pairs = [Setting(meets + sign * off, both) for off in _ABOUT_LOWEST]
        made += pairs
        if lowest is not None:
            made.append(Setting(lowest + sign * _FAR, bar))
        if of.both_ways:
            made += [Setting(one.wheel, one.parts, -1) for one in reversed(pairs)]
    else:
        made = [Setting(sign * turn, of.parts) for turn in range(0, 360, _ALL_ROUND)]
        made += made[:: len(made) // _AGAIN]  # what moved meanwhile shows by them
        if of.both_ways:
            made += [Setting(sign * turn, of.parts, -1) for turn in range(360 - _BACK, -1, -_BACK)]
    return tuple(Setting(round(one.wheel, 1) % 360.0, one.parts, one.way) for one in made)


def called_next(
    of: CalledFor,
    rows: Sequence[Mapping[str, str]],
    found: MotionFound | None,
    again: float | None = None,
) -> tuple[CalledNext | None, tuple[CalledDone, ...]]:
    """What is asked now, and what was settled before it, in order.

    Parameters
    ----------
    rows
        The table so far: what stands under each column, empty or absent for a gap.
    found
        The fit as it stands, None while there is none. It leads once the first settings are read;
        without it nothing more is asked then, but a setting that two readings contradict.
    again
        What the disc shows at such a setting, degrees.
    """
    done: list[CalledDone] = []
    first = of.first or {}
    if of.aim == "timing" and not of.had:
        for key, (words, unit) in _FIRST_ASKED.items():
            if key not in first:
                return CalledNext(key, words, unit), tuple(done)
            done.append(CalledDone(-1, key, None))
    planned = first_settings(of)
    row = of.had
    for place, one in enumerate(planned):
        asked = _at_setting(of, rows, row, place, one, done)
        if asked is not None:
            return replace(asked, of=len(planned)), tuple(done)
        row += _has_row(rows, row, done, place)
    place = len(planned)
    while row < len(rows) - 1:  # rows that the fit asked for before, settled as they are
        done += [CalledDone(place, part, row) for part in _more_parts(of) if rows[row].get(part)]
        row, place = row + 1, place + 1
    if row < len(rows):
        standing = Setting(float(rows[row]["wheel"]), _more_parts(of))
        asked = _at_setting(of, rows, row, place, standing, done)
        if asked is not None:
            return asked, tuple(done)
        row, place = row + 1, place + 1
    upcoming = read_next(of, found) if again is None else Setting(again, _more_parts(of))
    if upcoming is None:
        return None, tuple(done)
    return _at_setting(of, rows, row, place, upcoming, done), tuple(done)


def _at_setting(
    of: CalledFor,
    rows: Sequence[Mapping[str, str]],
    row: int,
    place: int,
    one: Setting,
    done: list[CalledDone],
) -> CalledNext | None:
    """What is still asked at a setting; what is settled there goes to what is done."""
    there = row < len(rows)
    passed = {part for at, part in of.passed if at == place}
    for part in (OPPOSITE, *one.parts) if of.two_pointers else one.parts:
        if part in passed:
            done.append(CalledDone(place, part, None))
        elif there and rows[row].get(part):
            done.append(CalledDone(place, part, row))
        else:
            return CalledNext(
                part,
                "the opposite pointer shows" if part == OPPOSITE else part,
                "deg" if part == OPPOSITE else "",
                place,
                row,
                float(rows[row]["wheel"]) if there else one.wheel,
                one.way,
                same_setting=there,
                left=one.left,
            )
    return None


def _has_row(
    rows: Sequence[Mapping[str, str]], row: int, done: Sequence[CalledDone], place: int
) -> int:
    """1 where a setting that is settled has a row in the table, 0 where all of it was passed."""
    return int(row < len(rows) and any(one.row == row for one in done if one.setting == place))


def _more_parts(of: CalledFor) -> tuple[str, ...]:
    """What is read at a setting that the fit asks for."""
    if of.aim == "timing" and {"needle bar", "shuttle"} <= set(of.parts):
        return ("needle bar", "shuttle")
    return of.parts


def as_far_as_read(table: KnownTable) -> KnownTable | None:
    """A table without the motions that are not read often enough yet; None where none is left."""
    kept = []
    for column in table.columns:
        holds = column_holds(column.name)
        read = sum(value is not None for value in column.values)
        if holds not in MOTIONS or read >= fewest_readings(holds):
            kept.append(column)
    left = [one for one in kept if column_holds(one.name) in MOTIONS]
    return replace(table, columns=tuple(kept)) if left else None


def read_next(of: CalledFor, found: MotionFound | None) -> Setting | None:
    """The setting that would narrow the asked figure most, None when nothing tells.

    For a timing that is the needle's rise; otherwise the first stroke that is not told yet, and
    then the one in most doubt for its size.
    """
    if found is None:
        return None
    sign = -1.0 if of.numbers_fall else 1.0

    def at(angle: float, parts: tuple[str, ...], left: float | None = None) -> Setting:
        return Setting(round(degrees(angle) * sign) % 360.0, parts, left=left)

    if of.aim == "timing":
        if found.met_next is not None:
            return at(found.met_next.angle, ("needle bar", "shuttle"), found.met_next.left)
        return None
    for one in found.motions:
        if one.stroke is None:
            return at(_where_it_lacks(one), of.parts)
    told = [one for one in found.motions if one.stroke and one.next]
    if not told:
        return None
    loosest = max(told, key=lambda one: one.stroke.sd / one.stroke.value if one.stroke else 0.0)
    assert loosest.next is not None
    return at(loosest.next.angle, of.parts, loosest.next.left)


def _where_it_lacks(one: Motion) -> float:
    """Angle of the row that nothing checks, or the middle of the widest gap, rad."""
    if loose := unguarded(one.fit, stroke_taken(one.fit, one.at)):
        return float(one.fit.readings.angle[loose[0][0]])
    used = np.sort(np.mod(one.angles, 2.0 * pi))
    gaps = np.diff(used, append=used[0] + 2.0 * pi)
    widest = int(np.argmax(gaps))
    return float(used[widest] + 0.5 * gaps[widest])
