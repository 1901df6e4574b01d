"""Whether a plate's digits fit better turned, mirrored or raised than as they were given.

A plate photographed upside down turns a 6 into a 9, a mirrored picture has no digit at all, and a
table of torches with its sides exchanged makes sunk strokes stand up. Each of these fits digits
too, one way or another. So the whole plate is laid the other ways as well.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.bare_metal import likelihood
from ironlace.marks.reading.known_shapes import norms, windows_of
from ironlace.marks.reading.strikes import Slopes

TURNED, MIRRORED, RAISED = "turned", "mirrored", "raised"
_LOOKED_AT = 8
"""Digits that are laid the other ways, those that fit best as they are: so many of a plate."""
_LEAST_OF_ROW = 3
"""The same of each row, at least; fewer tell nothing of their row alone."""
_SELDOM = 0.01
"""Chance that a plate lies one of the other ways, before its digits are looked at (judged)."""
_TEMPER = 0.5
"""How much of the likelihood counts: digits of one face err together (judged)."""
AS_WELL = -2.0
"""Log-likelihood against as it was given, above which the other way is as good."""


def otherwise(slopes: Slopes, way: str) -> Slopes:
    """A patch as it would be, had the plate lain the other way."""
    if way == TURNED:
        return np.ascontiguousarray(-slopes[:, ::-1, ::-1])
    if way == RAISED:
        return -slopes
    flipped = slopes[:, :, ::-1].copy()
    flipped[0] *= -1
    return flipped


def other_ways(
    strikes: NDArray[np.float32],
    held: Sequence[Slopes],
    best: NDArray[np.float64],
    slopes: float,
    rows: Sequence[int],
    *,
    both_ways: bool = True,
) -> dict[int, dict[str, float]]:
    """Log-likelihood of each row lying each other way, less that of it as it was given.

    Parameters
    ----------
    strikes
        Templates x 2 x 60 x 48, each of norm 1.
    held
        Digits' places, slopes held down.
    best
        Best fit of each digit as it was given.
    slopes
        Independent slopes of a place.
    rows
        The row of each digit.
    both_ways
        Whether slopes are known across the light too; a mirrored place needs them.
    """
    flat = strikes.reshape(len(strikes), -1)
    lines = sorted(set(rows))
    most = max(_LOOKED_AT // max(len(lines), 1), _LEAST_OF_ROW)
    found = {}
    for row in lines:
        line = [k for k in np.argsort(-best, kind="stable") if rows[k] == row][:most]
        found[row] = {
            way: _TEMPER
            * sum(
                float(likelihood(_fit(flat, otherwise(held[k], way)), slopes))
                - float(likelihood(best[k], slopes))
                for k in line
            )
            for way in ((TURNED, RAISED, MIRRORED) if both_ways else (TURNED, RAISED))
        }
    return found


def _fit(flat: NDArray[np.float32], patch: Slopes) -> NDArray[np.float64]:
    laid = ((flat @ windows_of(patch)) / norms(patch).ravel()).max()
    return np.asarray(max(float(laid), 0.0))


def of_the_plate(rows: Mapping[int, Mapping[str, float]]) -> dict[str, float]:
    """The same of all rows together.

    >>> of_the_plate({0: {"turned": 2.0}, 1: {"turned": -5.0}})
    {'turned': -3.0}
    """
    return {way: sum(one[way] for one in rows.values()) for one in rows.values() for way in one}


def rows_otherwise(
    ways: Mapping[int, Mapping[str, float]], rows: Sequence[int]
) -> dict[int, tuple[str, float]]:
    """Rows that lie another way than the plate: which way, and the chance that they do not.

    Parameters
    ----------
    rows
        The row of each digit.
    """
    if len(ways) < 2 or as_given(of_the_plate(ways)) < 0.5:
        return {}
    return {
        row: (max(one, key=lambda way: one[way]), as_given(one))
        for row, one in ways.items()
        if list(rows).count(row) >= _LEAST_OF_ROW and as_given(one) < 0.5
    }


def as_given(ways: Mapping[str, float]) -> float:
    """Chance that the plate lies as it was given.

    >>> round(as_given({"turned": 9.0, "raised": -5.0}), 3), as_given({})
    (0.012, 1.0)
    """
    odds = _SELDOM * sum(float(np.exp(min(one, 50.0))) for one in ways.values())
    return 1.0 / (1.0 + odds)


def ways_said(ways: Mapping[str, float], digits: int) -> list[str]:
    """What a person should know, worst first.

    Parameters
    ----------
    digits
        How many there are; one alone may be anything.
    """
    if not ways or digits < 2:
        return []
    way = max(ways, key=lambda one: ways[one])
    if as_given(ways) < 0.5:
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
    if ways.get(TURNED, -np.inf) > AS_WELL:
        return [
            "The digits fit nearly as well upside down, where 6 and 9 change places: make sure "
            "which way up the plate lies."
        ]
    return []
