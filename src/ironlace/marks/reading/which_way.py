"""Whether a plate's digits fit better turned, mirrored or raised than as they were given.

A plate photographed upside down turns a 6 into a 9, a mirrored picture has no digit at all, and a
table of torches with its sides exchanged makes sunk strokes stand up. Each of these fits digits
too, one way or another. So every digit is laid the other ways as well.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from ironlace.marks.reading.strikes import Slopes

TURNED, MIRRORED, RAISED = "turned", "mirrored", "raised"
_LEAST_OF_ROW = 3
"""Digits below which a row tells nothing by itself."""
_SELDOM = 0.01
"""Chance that a plate, or a row, lies one of the other ways, before it is looked at (judged)."""
_EVEN = 0.5
"""Chance of lying as given below which it is said that it does not."""
_PLACE = 0.002
"""Chance that one punch alone was held, or cut, the other way round (judged)."""
_ALIKE = {TURNED: "0689HINOSXZ", MIRRORED: "08AHIMOTUVWXY"}
"""Signs that another sign, or themselves, are the other way round: nothing in the metal tells."""
AS_WELL = -2.0
"""Log-likelihood against as it was given, above which the other way is as good."""


@dataclass(frozen=True)
class Ways:
    """Log-likelihood of lying each other way, less that of lying as given.

    Attributes
    ----------
    plate
        Of the whole plate.
    rows
        Of each row alone, the other rows lying as they were given.
    """

    plate: Mapping[str, float]
    rows: Mapping[int, Mapping[str, float]]

    @property
    def chance(self) -> float:
        """Chance that the plate lies as it was given; rows that disagree are no turned plate."""
        each = [as_given(one) < _EVEN for one in self.rows.values()]
        return 1.0 if any(each) and not all(each) else as_given(self.plate)


def otherwise(slopes: Slopes, way: str) -> Slopes:
    """A patch as it would be, had the plate lain the other way."""
    if way == TURNED:
        return np.ascontiguousarray(-slopes[:, ::-1, ::-1])
    if way == RAISED:
        return -slopes
    flipped = slopes[:, :, ::-1].copy()
    flipped[0] *= -1
    return flipped


def ways_of(
    given: NDArray[np.float64], other: Mapping[str, NDArray[np.float64]], rows: Sequence[int]
) -> Ways:
    """Which way a plate and its rows lie, by what all digits share.

    Parameters
    ----------
    given
        What each digit tells of what the plate shares (`read_together.lain`), as it was given.
    other
        The same with every digit's place laid another way.
    rows
        The row of each digit.

    A row is judged by the cut, or the way of wear, that the other rows leave probable. All its
    digits count: those that look alike both ways up, 0, 1, 6, 8, 9, fit best and tell nothing.
    """
    line = np.array(rows)
    whole = given.sum(axis=0)
    plate = {way: _gained(0.0, one.sum(axis=0), whole) for way, one in other.items()}
    each = {}
    for row in sorted(set(rows)):
        here = line == row
        own = given[here].sum(axis=0)
        each[row] = {
            way: _gained(whole - own, one[here].sum(axis=0), own) for way, one in other.items()
        }
    return Ways(plate, each)


@dataclass(frozen=True)
class Lies:
    """How one place alone may lie.

    Attributes
    ----------
    chance
        Chance that it lies as it was given.
    way, glyph
        The likeliest other way, and the glyph that fits best so.
    """

    chance: float
    way: str = ""
    glyph: str = ""

    @property
    def told(self) -> bool:
        """Whether it lies the other way rather than as given."""
        return self.chance < _EVEN


def places_otherwise(
    given: NDArray[np.float64],
    other: Mapping[str, tuple[NDArray[np.float64], Sequence[str]]],
) -> tuple[Lies, ...]:
    """How each place alone lies, the others lying as they were given.

    Parameters
    ----------
    given
        What each digit tells of what the plate shares (`read_together.lain`), as it was given.
    other
        For each other way the same, by signs that are not `alike` it; and the best at each place.

    A punch held upside down, or cut the wrong way round, struck one figure of a row: the whole row
    fits as it is, and the figure is read as another.
    """
    whole = given.sum(axis=0)
    found = []
    for k, own in enumerate(given):
        rest = whole - own
        gained = {way: _gained(rest, one[k], own) for way, (one, _) in other.items()}
        if not gained:
            found.append(Lies(1.0))
            continue
        odds = _PLACE * sum(float(np.exp(min(one, 50.0))) for one in gained.values())
        way = max(gained, key=lambda one: gained[one])
        found.append(Lies(1 / (1 + odds), way, other[way][1][k]))
    return tuple(found)


def alike(glyph: str, way: str) -> bool:
    """Whether a sign the other way round is itself, or another one.

    >>> alike("6", TURNED), alike("6", MIRRORED)
    (True, False)
    """
    return glyph in _ALIKE.get(way, "")


def _gained(
    rest: NDArray[np.float64] | float, one: NDArray[np.float64], given: NDArray[np.float64]
) -> float:
    return float(logsumexp(rest + one) - logsumexp(rest + given))


def rows_otherwise(ways: Ways, rows: Sequence[int]) -> dict[int, tuple[str, float]]:
    """Which other way each row is likeliest to lie, and the chance that it lies as it was given.

    Parameters
    ----------
    rows
        The row of each digit.

    None where the plate has but one row, or lies another way as a whole.
    """
    if len(ways.rows) < 2 or ways.chance < _EVEN:
        return {}
    return {
        row: (max(one, key=lambda way: one[way]), as_given(one))
        for row, one in ways.rows.items()
        if list(rows).count(row) >= _LEAST_OF_ROW
    }


def as_given(ways: Mapping[str, float]) -> float:
    """Chance that the plate lies as it was given.

    >>> round(as_given({"turned": 9.0, "raised": -5.0}), 3), as_given({})
    (0.012, 1.0)
    """
    odds = _SELDOM * sum(float(np.exp(min(one, 50.0))) for one in ways.values())
    return 1.0 / (1.0 + odds)


def places_said(lies: Lies, where: str) -> str:
    """What a person should know of a place that lies the other way by itself.

    Parameters
    ----------
    where
        The place's name, as a sentence begins.
    """
    how = {
        TURNED: "upside down: the punch was held the wrong way up",
        MIRRORED: "mirrored: the punch was cut the wrong way round",
    }[lies.way]
    return (
        f"{where}: fits much better as {lies.glyph} {how}, or it is no figure at all. Look at it; "
        "as it lies nothing is told of it."
    )


def ways_said(ways: Ways, digits: int) -> list[str]:
    """What a person should know, worst first.

    Parameters
    ----------
    digits
        How many there are; one alone may be anything.
    """
    if not ways.plate or digits < 2:
        return []
    way = max(ways.plate, key=lambda one: ways.plate[one])
    if ways.chance < _EVEN:
        return [
            {
                TURNED: "The digits fit much better upside down: turn all photographs by half a "
                "turn and begin again. As they lie nothing is told of them.",
                MIRRORED: "The digits fit much better mirrored: the photographs were mirrored, or "
                "show a print of the plate. As they lie nothing is told of them.",
                RAISED: "The digits fit much better raised than sunk: cast, not struck, or the "
                "torch's places were given with their sides exchanged. As they lie nothing is "
                "told of them.",
            }[way]
        ]
    if ways.plate.get(TURNED, -np.inf) > AS_WELL and ways.chance < 1.0:
        return [
            "The digits fit nearly as well upside down, where 6 and 9 change places: make sure "
            "which way up the plate lies."
        ]
    return []
