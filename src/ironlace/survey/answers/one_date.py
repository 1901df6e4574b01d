"""What a date hangs on where few dates bear it: one alone that fits no other, or one or two in all.

Of three dates or more one that is wrong can show, since the others agree without it. It is named,
and the date is told without it and as it would be were it right. Which of two is wrong nothing
shows, and a single one cannot be tested at all: then the date says that it hangs on it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ironlace.survey.reports.anchors import Anchor
from ironlace.survey.reports.dates_of_others import names_a_paper
from ironlace.survey.reports.table import DatedKind
from ironlace.survey.time.months import MonthDensity

FIXES = (DatedKind.AT, DatedKind.SOLD)
"""Kinds of date that tell when, and not only before or after."""

_BEAR_EACH_OUT = 3
"""So many dates that agree show that none of them is far off; of two nothing tells which is."""

_SUSPECT = 0.15
"""Chance of being wrong from which a date is among those of which one is; a judgement."""

_PROBABLY = 0.5
"""Chance from which it is said that one of several is wrong."""

_NAMED = 3
"""So many suspects are named, the likeliest first."""

_NEIGHBOURS = 2
"""A date further from the number than so many dated ones between hardly moves its date."""

_DIFFERS = 0.25
"""Ends that move by a smaller part of the interval's length are the same date; a judgement."""


@dataclass(frozen=True)
class WithAndWithout:
    """A date without the one date that does not fit, and were that one right.

    Attributes
    ----------
    without, with_it
        Probability of each month either way.
    """

    without: MonthDensity
    with_it: MonthDensity

    @classmethod
    def parted(cls, told: MonthDensity, chance: float, other: MonthDensity) -> "WithAndWithout":
        """Take a date apart whose one part is known.

        Parameters
        ----------
        told
            The date with the doubtful one weighed: `chance` of it without that one.
        chance
            That the doubtful one is wrong.
        other
            The date were it surely wrong, where `chance` is below `LEAVES_OUT`; else surely right.
        """
        rest = chance if chance < LEAVES_OUT else 1.0 - chance
        mass = np.maximum(told.mass - rest * other.mass, 0.0)
        taken = MonthDensity(told.first_year, mass / mass.sum())
        return cls(other, taken) if chance < LEAVES_OUT else cls(taken, other)

    @property
    def differ(self) -> bool:
        """Whether it matters which of them holds."""
        low, high = self.without.bounds()
        with_low, with_high = self.with_it.bounds()
        return max(abs(low - with_low), abs(high - with_high)) > _DIFFERS * (high - low + 1)

    def sentence(self) -> str:
        """Say both; '' where they are the same."""
        if not self.differ:
            return ""
        return (
            f"Without it: {self.without.edtf().in_words()}; were it right: "
            f"{self.with_it.edtf().in_words()}."
        )


LEAVES_OUT = 0.9
"""Chance of being wrong from which the date told is nearly the one without it."""


def is_near(number: int, wrong: int, dated: Sequence[int]) -> bool:
    """Whether a wrong date stands so near a number that it may move its date.

    >>> is_near(50, 40, [10, 20, 30, 40, 60]), is_near(50, 10, [10, 20, 30, 40, 60])
    (True, False)
    """
    low, high = min(number, wrong), max(number, wrong)
    return len({n for n in dated if low < n < high}) < _NEIGHBOURS


def one_of_them_is_wrong(doubtful: Sequence[tuple[Anchor, float]]) -> str:
    """Say that one of several dates is wrong, and nothing tells which; '' where none seems so."""
    suspects = sorted((pair for pair in doubtful if pair[1] > _SUSPECT), key=lambda one: -one[1])
    if len(suspects) < 2 or suspects[0][1] > _PROBABLY:
        return ""
    if sum(chance for _, chance in suspects) < _PROBABLY:
        return ""
    named = " or ".join(anchor.in_words() for anchor, _ in suspects[:_NAMED])
    return (
        f"One of the dates does not fit the others, and nothing tells which: {named}. The date "
        "hangs on that: look at each again."
    )


def hangs_on_few(bearing: Sequence[Anchor]) -> str:
    """Say that a date between numbers hangs on one or two dates; '' where more bear each other out.

    `bearing` are the dates on the line that fit it.
    """
    different = tuple({anchor.mark: anchor for anchor in bearing}.values())
    if not different or len(different) >= _BEAR_EACH_OUT:
        return ""
    named = " and ".join(anchor.in_words() for anchor in different)
    if len(different) == 1:
        return f"It hangs on one date, {named}, and nothing shows whether that is right."
    return f"It hangs on two dates, {named}, and nothing shows whether one of them is wrong."


def hangs_on_its_own(own: Anchor) -> str:
    """Say that nothing but the date which came with the very machine tells when it was made."""
    if names_a_paper(own.source):
        return (
            f"It hangs on one date, {own.in_words()} ({own.source}): nothing else shows whether "
            "that is right and belongs to this machine."
        )
    return (
        f"It hangs on one date, {own.in_words()}, and no receipt, letter or the like is named for "
        "it: say what it was read off, and ask for other machines that came with a date."
    )
