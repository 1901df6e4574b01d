"""A mark that may read in several ways, each with its chance, as a reading of worn metal tells it.

In a table they stand in one cell, ``strings``: ``4.96.217 0.62; 4.96.211 0.2``. Each string is
written as a mark, without doubts of its own; after it stands its chance, a number above 0 and at
most 1. What the chances leave to 1 is for all other strings; a column ``rest_p`` may say it again
and must then agree. `ironlace marks read --report` writes such a table, and a finding in JSON holds
the same text.

The chances are those of the reading alone: what it would give each string were all as likely
beforehand. How common a string is under a theory is for the survey to say; who has counted with it
already counts it twice.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ironlace.evidence.markings import Glyph, Marking, parse_marking
from ironlace.survey.errors import RowError

_ROUNDING = 0.006
"""How far chances written with few places may miss 1 in sum: two hundred strings in four places
and their rest miss it by a hundredth at most, mostly by far less; a judgement."""

MOST_STRINGS = 400
"""Strings of one report at most: of a plate that needs more nothing is learned; a judgement."""

_BRIEF = "strings and chances that cannot be read"
_HOW = "write such as '4.96.217 0.62; 4.96.211 0.2'"


@dataclass(frozen=True, slots=True)
class StringRead:
    """One way in which a mark may read, and the chance of it by the reading alone."""

    mark: Marking
    chance: float


def read_strings(cell: str, rest: str = "") -> tuple[StringRead, ...]:
    """Read a cell of strings with their chances, likeliest first, and what is left to others.

    Equal strings are one, with the sum of their chances. Chances that pass 1 by no more than
    rounding are made to sum to 1.

    Raises
    ------
    RowError
        When a string holds doubts, a chance is missing or impossible, or they do not go together.
    MarkingError
        When a string does not follow the notation.

    >>> [(str(s.mark), s.chance) for s in read_strings("4.96.211 0.2; 4.96.217 0.62", "0.18")]
    [('4·96·217', 0.62), ('4·96·211', 0.2)]
    """
    held: dict[Marking, float] = {}
    parts = [part.strip() for part in cell.split(";") if part.strip()]
    if len(parts) > MOST_STRINGS:
        raise RowError(
            f"{len(parts)} strings are given for one number: give the {MOST_STRINGS} likeliest, "
            "the rest is left to all others.",
            _BRIEF,
        )
    for part in parts:
        text, _, last = part.rpartition(" ")
        chance = _chance(last)
        if not text or not 0.0 < chance <= 1.0:
            raise RowError(
                f"'{part}' is no string with a chance above 0 and at most 1: {_HOW}.", _BRIEF
            )
        mark = parse_marking(text)
        if mark.has_doubts:
            raise RowError(
                f"'{text}' has doubts within a string that has a chance: write each way it may "
                "read as a string of its own.",
                _BRIEF,
            )
        held[mark] = held.get(mark, 0.0) + chance
    if not held:
        if rest.strip():
            raise RowError(f"'{rest}' is left to other strings, and none is given: {_HOW}.", _BRIEF)
        return ()
    return _whole(held, rest)


def read_strings_of(mark: Marking, cell: str, rest: str = "") -> tuple[StringRead, ...]:
    """The same beside the mark with its doubts, which must admit one of them at least.

    Raises RowError and MarkingError, as `read_strings` does, and RowError where it admits none.
    """
    strings = read_strings(cell, rest)
    if strings and not any(agrees(mark, one.mark) for one in strings):
        raise RowError(
            f"The mark reads {mark} and its likeliest string {strings[0].mark}: one of them is of "
            "another number; leave out the one that is wrong.",
            "a mark and strings that do not agree",
        )
    return strings


def _whole(held: dict[Marking, float], rest: str) -> tuple[StringRead, ...]:
    """The strings in order, once their chances and the rest were seen to make a whole."""
    total = math.fsum(held.values())
    left = _chance(rest) if rest.strip() else max(1.0 - total, 0.0)
    if not 0.0 <= left < 1.0:
        raise RowError(f"'{rest}' is no chance of all other strings: give 0 to 1.", _BRIEF)
    if abs(total + left - 1.0) > _ROUNDING:
        raise RowError(
            f"The chances of the strings and of the rest come to {total + left:.3g}: "
            "they must come to 1.",
            _BRIEF,
        )
    over = max(total, 1.0)
    found = [StringRead(mark, chance / over) for mark, chance in held.items()]
    return tuple(sorted(found, key=lambda one: (-one.chance, str(one.mark))))


def _chance(text: str) -> float:
    """The number written, NaN where it is none."""
    try:
        return float(text)
    except ValueError:
        return math.nan


def written(strings: Iterable[StringRead]) -> str:
    """The cell that reads back to the same strings and chances.

    >>> written(read_strings("4.96.217 0.8"))
    '4·96·217 0.8'
    """
    return "; ".join(f"{one.mark} {one.chance!r}" for one in strings)


def left_to_others(strings: Sequence[StringRead]) -> float:
    """The chance of all strings that are not told.

    >>> left_to_others(read_strings("12 0.75"))
    0.25
    """
    return max(1.0 - math.fsum(one.chance for one in strings), 0.0)


def agrees(mark: Marking, string: Marking) -> bool:
    """Whether a mark in its doubts admits a string's figures and letters; separators are left out.

    >>> agrees(parse_marking("4(.)[16]7"), parse_marking("4.17"))
    True
    """
    may = [glyph for glyph in mark.glyphs if not glyph.is_separator]
    struck = [glyph for glyph in string.glyphs if not glyph.is_separator]
    return _admits(may, struck)


def _admits(may: Sequence[Glyph], struck: Sequence[Glyph]) -> bool:
    return len(may) == len(struck) and all(
        not here.options or here.doubtful or there.options[0] in here.options
        for here, there in zip(may, struck, strict=True)
    )
