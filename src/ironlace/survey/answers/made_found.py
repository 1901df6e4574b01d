"""What was found of how many were made: the totals, and what they were found from."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Self

from ironlace.survey.answers.end_of_run import PerhapsOthers
from ironlace.survey.answers.one_series import TOO_OPEN, Grounds, OneSeries
from ironlace.survey.answers.run_in_time import RunInTime
from ironlace.survey.answers.struck_year import StruckYear
from ironlace.survey.answers.totals import Blocks, SeriesTotals, Total
from ironlace.survey.answers.two_densities import TwoDensities
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import Report
from ironlace.survey.reports.where_from import WhereFrom
from ironlace.survey.schemes.scheme import Scheme


@dataclass(frozen=True)
class Totals:
    """What running numbers say of how many were made.

    Attributes
    ----------
    whole
        For a number that never starts again: how many, with all that may be wrong with the run
        allowed for. This is the answer; the four that follow each take one thing for granted.
    second
        Of a count that began again, as dates show: the second run; `whole` is then the first.
    once_through
        The total were each number used once from the first on, whatever survived.
    in_time
        What the dates beside the numbers show of the run.
    overall, unknown_start, blocks, densities
        The same were it one even run from the first number on; from an unknown first number; and
        whether there are two blocks, or two stretches of different thickness.
    series, all_series
        For one that starts again: totals by series, and over how many series the sum from the
        first to the last seen runs, with the sum.
    without_doubted, were_all_right
        The same without the dates that are probably misread, and with every date as it was read;
        None where none is in doubt.
    steps
        Probability that only every so many-th number was used, by that number; 1 is every one.
    one_series
        What one series is of: a month, a week, a year, or 'series' where it is none of them.
    seen_alone
        Whether only the series seen are summed, since those between may not have been.
    thins_out
        Whether the numbers of one run lie thinner towards its end.
    of_others
        Numbers that lie apart and are perhaps of another series; None where none do.
    of_one
        Whether nearly all reports are of one place, or one person's: then no upper end is told.
    """

    whole: OneSeries | None = None
    second: OneSeries | None = None
    once_through: Total | None = None
    in_time: RunInTime | None = None
    overall: Total | None = None
    unknown_start: Total | None = None
    blocks: Blocks | None = None
    densities: TwoDensities | None = None
    series: SeriesTotals | None = None
    all_series: tuple[int, Total] | None = None
    without_doubted: tuple[int, Total] | None = None
    were_all_right: tuple[int, Total] | None = None
    steps: Mapping[int, float] = field(default_factory=lambda: {1: 1.0})
    one_series: str = "series"
    seen_alone: bool = False
    thins_out: bool = False
    of_others: PerhapsOthers | None = None
    of_one: bool = False

    @property
    def thicker(self) -> bool:
        """Whether two stretches of different thickness are the best account of the numbers."""
        if self.densities is None or not self.densities.found:
            return False
        return self.blocks is None or self.densities.odds > self.blocks.odds

    @property
    def step(self) -> int:
        """How many numbers lie from one that was used to the next, most probably."""
        return max(self.steps, key=lambda step: self.steps[step])

    @property
    def best(self) -> tuple[str, Total]:
        """The total that holds, and what it is a total of."""
        if self.whole is not None and self.second is not None:
            return "made in all", _of_both(self.whole.total, self.second.total)
        if self.whole is not None and self.of_others is not None and self.of_others.far_thinner:
            return "made in all", self.of_others.floor_of(self.whole.total)
        if self.whole is not None:
            return "made in all", self.whole.total
        if self.all_series is not None:
            over = (
                "in the series seen"
                if self.seen_alone
                else "from the first series seen to the last"
            )
            return f"made {over}", self.all_series[1]
        assert self.series is not None
        return "made in a series, on average", self.series.mean

    @property
    def bounded(self) -> bool:
        """Whether more than a floor is told."""
        if self.second is not None or (self.whole is not None and not self.whole.bounded):
            return False
        if self.of_others is not None and self.of_others.far_thinner:
            return False
        if self.of_one and self.whole is not None and self.whole.grounds is not Grounds.WORD:
            return False
        total = self.best[1]
        return total.high <= TOO_OPEN * total.low and not self.seen_alone

    def as_the_year_is_borne_out(self, year: StruckYear | None, known: int) -> Self:
        """Sums over years as far as anything shows the year struck to be that of making.

        `known` is how many machines are known.
        """
        if year is None or self.series is None or self.all_series is None:
            return self
        years = len(self.series.each)
        seen = years, self.series.sum_over(years, least=known)
        if year.is_doubted:
            return replace(
                self, all_series=seen, without_doubted=None, were_all_right=None, seen_alone=True
            )
        length, total = self.all_series
        lowered = replace(total, low=min(total.low, seen[1].low))
        return replace(self, all_series=(length, lowered))


@dataclass(frozen=True)
class MadeFound:
    """How many were made.

    Attributes
    ----------
    reports
        All reports.
    scheme
        The theory under which the numbers were read.
    probability
        Its probability; the totals stand or fall with it. 1 when it was named by a person.
    named
        Whether a person named it.
    used
        How many numbers were read.
    totals
        What they say.
    not_read
        Ids of reports whose mark is not clear or does not fit.
    doubted
        Reports at the ends of the time whose date is perhaps not the one read, with the chance.
    year
        Whether the year struck is that of making, where series are of years and that is in doubt.
    numbers
        The numbers that could be used.
    latest
        When the last of the dated machines was made, years and their parts; None without dates.
    where_from
        From where and from whom the reports that could be used come, as far as they say.
    """

    reports: Reports
    scheme: Scheme
    probability: float
    named: bool
    used: int
    totals: Totals
    not_read: tuple[str, ...] = field(default=())
    doubted: tuple[tuple[Report, float], ...] = field(default=())
    year: StruckYear | None = None
    numbers: tuple[int, ...] = ()
    latest: float | None = None
    where_from: WhereFrom = field(default_factory=lambda: WhereFrom.of(()))


def _of_both(first: Total, second: Total) -> Total:
    """Two runs counted apart and added; the lower ends, each held by itself, hold together."""
    return Total(
        first.middle + second.middle,
        first.low + second.low,
        first.high + second.high,
        first.share,
        "two runs, told apart by dates, counted apart and added",
    )
