"""What a total hangs on that no number shows: whether the last ones came to light.

The highest number seen is a floor. How far above it the run went is told by how thickly the numbers
lie below, and that holds for those that turn up at all: of machines that were sold elsewhere, that
no collection holds or that nobody kept, none is missed. Nothing in the numbers can show it where
they end all at once; where they thin out it shows, but how far the thin end reaches is a guess.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ironlace.evidence.wording import counted
from ironlace.survey.answers.one_series import Grounds, OneSeries, one_series
from ironlace.survey.answers.run_in_time import RunInTime
from ironlace.survey.answers.totals import Blocks, Total
from ironlace.survey.answers.two_densities import TwoDensities
from ironlace.survey.reports.where_from import WhereFrom

IF_THE_LAST_TURN_UP = ", if the last ones made turn up as readily as those before"
"""The condition of every upper end of a total; it stands in the first sentence."""

_UNEVEN = 0.8
"""Chance of an uneven survival from which it is told; even runs of twenty to sixty stay below."""

_UNEVEN_SHAPES = ("leaning", "rising and falling", "broken")

_HALF = 0.5
"""The upper half of a run, more likely than not."""


def thins_out(whole: OneSeries, numbers: Sequence[int]) -> bool:
    """Whether numbers lie unevenly, and thinner in the upper half than in the lower.

    >>> even = list(range(151, 3000, 149))
    >>> thins_out(one_series(even), even)
    False
    >>> thin = [*range(31, 900, 29), 1003, 1101, 1258, 1407, 1516, 1703, 1922, 2504, 2918]
    >>> thins_out(one_series(thin, grounds=Grounds.DATES), thin)
    True
    """
    uneven = sum(whole.shapes.get(name, 0.0) for name in _UNEVEN_SHAPES)
    upper = sum(n > _HALF * max(numbers) for n in numbers)
    return uneven > _UNEVEN and upper < _HALF * len(numbers)


def sentences_of_the_end(
    whole: OneSeries,
    numbers: Sequence[int],
    latest: float | None,
    *,
    thin: bool,
    where_from: WhereFrom,
) -> list[str]:
    """Say why the last ones may be missing and what report would show it, of a total with an end.

    Where nearly all reports are of one place or one person no upper end is told, and what it would
    be stands here under its condition.
    """
    total = whole.total
    dated = f" or dated after {int(latest)}" if latest is not None else ""
    show = f"a machine numbered above {total.high:,.0f}{dated} would show it"
    if one := where_from.sentence():
        if_so = "there" if where_from.of_land else "that way"
        told = (
            f" If the last ones came {if_so} as well: about {total.middle:,.0f} "
            f"({total.low:,.0f} to {total.high:,.0f})."
            if where_from.nearly_all
            else ""
        )
        return [f"{one}: {show}; ask for reports from elsewhere.{told}"]
    if thin:
        upper = sum(n > _HALF * max(numbers) for n in numbers)
        return [
            f"The numbers thin out: {upper} of {len(numbers)} lie in the upper half, so later ones "
            f"survive less, and how many came last is a guess: {show}."
        ]
    if eased := where_from.eased():
        return [f"{eased}; that nobody kept the last ones no number can show: {show}."]
    return [
        "That the last ones are missing, as from one country, one collection or a model nobody "
        f"kept, no number can show: {show}."
    ]


@dataclass(frozen=True, slots=True)
class PerhapsOthers:
    """Numbers that lie apart from the rest and are perhaps of another series.

    Attributes
    ----------
    last
        The highest number of the others.
    above
        How many lie above it.
    apart
        How they lie.
    far_thinner
        Whether they lie so thinly that "at least" must hold without them.
    alone
        How many were made by the others alone.
    """

    last: int
    above: int
    apart: str
    far_thinner: bool
    alone: Total

    def floor_of(self, with_them: Total) -> Total:
        """The total with the floor that holds whether they belong to the run or not."""
        return replace(with_them, low=min(self.alone.low, with_them.low))

    def sentence(self, with_them: Total) -> str:
        """Say what follows either way."""
        one = self.above == 1
        said = (
            f"{counted(self.above, 'number')} above {self.last:,} {'lies' if one else 'lie'} "
            f"{self.apart}: {'it' if one else 'they'} may be of another works, another model or a "
            "dealer"
        )
        if self.far_thinner:
            return (
                f"{said}, and {'does' if one else 'do'} not count in this floor; if of this run, "
                f"at least {with_them.low:,.0f} were made. Ask whether those machines are the same "
                "in every part."
            )
        return (
            f"{said}; without {'it' if one else 'them'} at least {self.alone.low:,.0f} were made."
        )


_FAR_THINNER = 10.0
"""Times as thinly from which numbers are as likely another maker's as of this run: machines of one
time are kept that much better seldom. A judgement."""


def perhaps_of_others(
    numbers: Sequence[int],
    densities: TwoDensities | None,
    blocks: Blocks | None,
    grounds: Grounds,
    misread_rate: float,
) -> PerhapsOthers | None:
    """Find numbers that lie apart from the rest; None where none do.

    Parameters
    ----------
    numbers
        All of the run.
    densities, blocks
        Whether they are thicker in one stretch than in another, or fall into two blocks.
    grounds, misread_rate
        As for `one_series`.
    """
    if densities is not None and densities.found and densities.times > 1:
        last, far, apart = (
            densities.after,
            densities.times > _FAR_THINNER,
            "far more thinly than those below",
        )
    elif blocks is not None and blocks.found:
        last, far, apart = blocks.first[1], False, "apart from those below"
    else:
        return None
    below = [n for n in numbers if n <= last]
    if not below or len(below) == len(numbers):
        return None
    alone = one_series(below, grounds=grounds, misread_rate=misread_rate).total
    far = far and grounds is not Grounds.WORD
    return PerhapsOthers(last, len(numbers) - len(below), apart, far, alone)


def out_of_line(in_time: RunInTime) -> str:
    """Name dated numbers that do not rise with the others, and what would follow; '' without."""
    if not in_time.out or in_time.unordered > _HALF or in_time.since is not None:
        return ""
    named = "; ".join(f"{one.number:,} of {int(one.when)}" for one in in_time.out[:_NAMED])
    most = max(one.number for one in in_time.out)
    one = len(in_time.out) == 1
    do = "it does" if one else f"these {len(in_time.out)} do"
    others = counted(in_time.dated - len(in_time.out), "dated number")
    said = f"Look again at {named}: {do} not rise with the other {others}"
    if in_time.once and all(one.misread for one in in_time.out):
        return (
            f"{said}; one figure misread explains {'it' if one else 'each'}, so "
            f"{'it is' if one else 'they are'} left out."
        )
    return (
        f"{said}. Either {'it is' if one else 'they are'} misread or misdated, or the count began "
        f"again at 1 or two series are among them; then at least {most:,} more were made."
    )


_NAMED = 3
"""So many numbers are named in a sentence; the figures hold them all."""
