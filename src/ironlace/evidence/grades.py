"""The four grades of evidence, and how each is told without colour."""

from collections.abc import Iterable
from enum import StrEnum


class Grade(StrEnum):
    """How a statement is known, strongest first.

    >>> Grade("inferred").meaning
    'computed from seen and measured things by a stated method'
    """

    SEEN = "seen"
    MEASURED = "measured"
    INFERRED = "inferred"
    CONJECTURED = "conjectured"

    @property
    def meaning(self) -> str:
        """What the grade says, in one line."""
        return _MEANING[self]

    @property
    def dash_mm(self) -> tuple[float, ...]:
        """Line pattern in mm (on, off, ...); empty is an unbroken line.

        The pattern carries the grade in drawings, rules and plots, so that it survives a black and
        white print and does not rest on colour.
        """
        return _DASH_MM[self]


_MEANING = {
    Grade.SEEN: "a person or a photograph shows it directly",
    Grade.MEASURED: "an instrument gave it, with an error",
    Grade.INFERRED: "computed from seen and measured things by a stated method",
    Grade.CONJECTURED: "a judgement, a restoration choice, an analogy",
}

_DASH_MM: dict[Grade, tuple[float, ...]] = {
    Grade.SEEN: (),
    Grade.MEASURED: (4.0, 0.6),
    Grade.INFERRED: (1.6, 0.9),
    Grade.CONJECTURED: (0.3, 0.9),
}

_ORDER = list(Grade)


def weakest(grades: Iterable[Grade]) -> Grade:
    """Return the weakest of some grades: a chain holds as well as its poorest link.

    Raises ValueError when there are none.

    >>> str(weakest([Grade.SEEN, Grade.CONJECTURED, Grade.MEASURED]))
    'conjectured'
    """
    found = list(grades)
    if not found:
        raise ValueError("weakest() needs at least one grade")
    return max(found, key=_ORDER.index)
