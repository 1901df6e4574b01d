"""A person's own reading of a row, place by place, and how far the method's agrees with it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ironlace.evidence.markings import DOT, GlyphKind, Marking
from ironlace.marks.reading.agreement import Agreement, Place, agreement
from ironlace.marks.reading.read_marks import MarksRead

UNTOLD = "?"
"""What either reader left open."""
DOT_SURE, NO_DOT = 0.9, 0.05
"""A dot between these chances cannot be told from a pit (see the manual)."""
DIGIT_SURE = 0.5
"""A glyph less probable than all others together is not told."""
_LEAST = 2
"""Places in common below which nothing is compared."""


@dataclass(frozen=True, slots=True)
class OwnReading:
    """What a person read of one row.

    Attributes
    ----------
    name
        Of the entry it stands in.
    marking
        As written.
    read_by
        Who read it, if that was said.
    independent
        Whether it stood so before the method's answer could be seen.
    """

    name: str
    marking: Marking
    read_by: str = ""
    independent: bool = True


def places_of_own(row: int, marking: Marking) -> dict[Place, str]:
    """A reading by place: figures and letters are counted along the row, a dot follows its figure.

    Gaps between groups, rings and other punches are no place that the method judges.

    >>> from ironlace.evidence.markings import parse_marking
    >>> places_of_own(0, parse_marking("7.[38]"))
    {('digit', 0, 0): '7', ('gap', 0, 0): '.', ('digit', 0, 1): '?'}
    """
    read: dict[Place, str] = {}
    index = -1
    for glyph in marking.glyphs:
        if glyph.kind in (GlyphKind.FIGURE, GlyphKind.LETTER, GlyphKind.UNREAD):
            if index >= 0:
                read.setdefault(("gap", row, index), "-")
            index += 1
            read["digit", row, index] = glyph.certain or UNTOLD
        elif index >= 0 and glyph.options == (DOT,):
            read["gap", row, index] = UNTOLD if glyph.doubtful else "."
    return read


def places_of_method(read: MarksRead) -> dict[Place, str]:
    """What the method tells of each place; `?` where it cannot tell."""
    told: dict[Place, str] = {}
    for d in read.digits:
        best = max(d.p, key=lambda glyph: d.p[glyph])
        told["digit", d.place.row, d.place.index] = best if d.p[best] > DIGIT_SURE else UNTOLD
    for g in read.gaps:
        dot = "." if g.p_struck > DOT_SURE else "-" if g.p_struck < NO_DOT else UNTOLD
        told["gap", g.place.row, g.place.index] = dot
    return told


@dataclass(frozen=True, slots=True)
class Compared:
    """A person's reading beside the method's.

    Attributes
    ----------
    agreement
        Over the places that both told; None where too few are left or the rows do not match.
    untold
        Places that one of both left open.
    says
        Why nothing was compared; empty where it was.
    """

    agreement: Agreement | None
    untold: int
    says: str = ""


def compared(own: Sequence[OwnReading], read: MarksRead) -> Compared:
    """Compare a person's readings, one for each row from the top, with the method's."""
    method = places_of_method(read)
    mine: dict[Place, str] = {}
    for row, reading in enumerate(own):
        mine |= places_of_own(row, reading.marking)
    here, there = _digits_by_row(mine), _digits_by_row(method)
    if here != there:
        return Compared(
            None,
            0,
            f"The readings do not match place by place (yours has {_rows(here)}, the plate "
            f"{_rows(there)}), so they are not compared: mend the places, or your reading.",
        )
    both = mine.keys() & method.keys()
    open_ = {p for p in both if UNTOLD in (mine[p], method[p])}
    left = both - open_
    if len(left) < _LEAST:
        return Compared(None, len(open_), "Too few places are told by both to compare them.")
    found = agreement({p: mine[p] for p in left}, {p: method[p] for p in left})
    return Compared(found, len(open_))


def _digits_by_row(read: Mapping[Place, str]) -> dict[int, int]:
    counted: dict[int, int] = {}
    for kind, row, _ in read:
        if kind == "digit":
            counted[row] = counted.get(row, 0) + 1
    return counted


def _rows(counted: Mapping[int, int]) -> str:
    return " and ".join(f"{counted[row]} in row {row + 1}" for row in sorted(counted)) or "none"
