"""Whether numbers ran once through, as the dates of those that have one show.

A count that begins again at 1 leaves no trace in its numbers where both runs are about as long: two
runs from 1 to N make the same numbers as probable as one. What parts them is time. Under one run
numbers rise with their dates; under two they rise, fall back once, and rise again.

The order alone is judged. With k dated numbers, of which the first s in time were of the first run,
each choice of which of the k numbers these are is as probable, and within a run one order is
possible; how many fall to each run is uniform, as the place of the break is. Some are out of line
(misread, finished late, a wrong date), each by a small chance, and then anywhere: as few as need be
are taken for that, which are those outside the longest rising line (Schensted 1961, *Canadian
Journal of Mathematics* 13, 179-191).
"""

import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from ironlace.survey.answers.totals import log_choose
from ironlace.survey.likelihood.reading_errors import look_alike

_BEGUN_AGAIN = 0.06
"""Prior chance of a count that began again, as among the shapes of a run; a judgement."""

_UNORDERED = 0.06
"""Prior chance of numbers that follow no dates at all: shared by works side by side, or dates of
something else; a judgement."""

_OUT_OF_LINE = 0.05
"""Chance of a number to be out of line with its date; as in the middle of `OUT_OF_LINE`."""

_FEWEST = 6
"""Numbers of fewer times than this do not show that a count ran once through: of five a third would
look so though it began again somewhere. Those of one time show no order. A judgement."""

_SHOWN = 0.97
"""From this probability on two runs are counted apart; below one in thirty that they are not."""

_RULED_OUT = 0.03
"""Below this probability the dates speak against a second run."""

_MOST_OUT = 0.12
"""With a larger part out of line the numbers do not rise with their dates, in one run or in two."""

_REACH = 0.6
"""The dated ones must reach over so much of the numbers: of a later part they would say nothing."""


@dataclass(frozen=True, slots=True)
class OutOfLine:
    """A number that does not rise with its date, and what else it may be.

    Attributes
    ----------
    number, when
        The number, and when its machine was made, years and their parts.
    on_another_run
        Whether it lies where another run would.
    misread
        Whether one figure taken for another that looks alike explains it.
    """

    number: int
    when: float
    on_another_run: bool
    misread: bool


@dataclass(frozen=True, slots=True)
class RunInTime:
    """What dates show of a run of numbers.

    Attributes
    ----------
    dated
        How many of the numbers have a date.
    out_of_line
        How many of these do not rise with the others, were it one run.
    begun_again
        Probability that the count began again at 1.
    unordered
        Probability that the numbers follow no dates at all.
    once
        Whether the dates show that it did not.
    runs
        The numbers of each run: two when the dates show that it began again, else one.
    since
        When the second run begins, years and their parts; None for one run.
    on_two
        Numbers that stand on more than one machine.
    out
        The numbers out of line, in order of their dates.
    """

    dated: int
    out_of_line: int
    begun_again: float
    unordered: float
    once: bool
    runs: tuple[tuple[int, ...], ...]
    since: float | None
    on_two: tuple[int, ...]
    out: tuple[OutOfLine, ...] = ()

    @property
    def without_misread(self) -> tuple[tuple[int, ...], ...]:
        """The runs without dated numbers out of line that one misread figure explains.

        All of them where the dates do not show one run, or two.
        """
        if not (self.once or len(self.runs) > 1):
            return self.runs
        misread = {one.number for one in self.out if one.misread}
        kept = (tuple(n for n in run if n not in misread) for run in self.runs)
        return tuple(left or run for left, run in zip(kept, self.runs, strict=True))

    def as_dict(self) -> dict[str, Any]:
        """Return it by name."""
        return {
            "dated": self.dated,
            "out_of_line": self.out_of_line,
            "chance_begun_again": self.begun_again,
            "chance_unordered": self.unordered,
            "shown_to_run_once": self.once,
            "runs": [list(run) for run in self.runs],
            "second_since": self.since,
            "on_two_machines": list(self.on_two),
            "numbers_out_of_line": [one.number for one in self.out],
        }


_PARTS_IN_TIME = 10
"""The order of numbers within so short a part of the whole time is left open, or within a year."""


def run_in_time(  # long: the ways that are weighed against each other stand together
    numbers: Sequence[int], when: Sequence[float | None], *, rounded_to: int = 0
) -> RunInTime:
    """Ask the dates whether numbers ran once through.

    Parameters
    ----------
    numbers
        One for each machine.
    when
        When each was made, in years and their parts; None where nothing dates it.
    rounded_to
        What some numbers were rounded to as they were passed on: that two machines bear one of
        those says nothing. 0 where none were.

    >>> run_in_time([10, 35, 60, 88, 120, 150], [1880, 1881, 1882, 1883, 1884, 1885]).once
    True
    >>> run_in_time([60, 90, 120, 150, 12, 35, 70, 95], range(1880, 1888)).runs[1]
    (12, 35, 70, 95)
    """
    dated = [(w, n) for n, w in zip(numbers, when, strict=True) if w is not None]
    span = max((w for w, _ in dated), default=0.0) - min((w for w, _ in dated), default=0.0)
    # machines of one year may have been finished in any order
    together = min(1.0, span / _PARTS_IN_TIME) or 1.0
    known = sorted((math.floor(w / together), n, w) for w, n in dated)
    at_once = Counter(part for part, _, _ in known)
    line = [n for _, n, _ in known]
    told_twice = (n for n, times in Counter(numbers).items() if times > 1)
    on_two = tuple(sorted(n for n in told_twice if not rounded_to or n % rounded_to))
    up_to, from_on = _rising(line), _rising([-n for n in reversed(line)])[::-1]
    k = len(line)
    out = k - up_to[k]
    one = math.log1p(-_BEGUN_AGAIN - _UNORDERED) + _log_chance(k, out)
    # numbers of one part of the time stand in any order: so many more orders would do
    open_orders = math.fsum(math.lgamma(many + 1) for many in at_once.values())
    none = math.log(_UNORDERED) + open_orders - math.lgamma(k + 1)
    ways = [
        math.log(_BEGUN_AGAIN / (k + 1))
        - log_choose(k, s)
        + _log_chance(k, k - up_to[s] - from_on[s])
        for s in range(k + 1)
    ]
    peak = max(one, none, *ways)
    two = math.fsum(math.exp(w - peak) for w in ways)
    whole = two + math.exp(one - peak) + math.exp(none - peak)
    again, unordered = two / whole, math.exp(none - peak) / whole
    # with all dated ones in one run the break lies outside them, and nothing can be counted apart
    inside = max(range(k + 1), key=lambda s: ways[s])
    in_neither = k - up_to[inside] - from_on[inside]
    parted = again > _SHOWN and 0 < inside < k and in_neither <= _MOST_OUT * k
    undated = [n for n, w in zip(numbers, when, strict=True) if w is None]
    runs = _apart(line[:inside], line[inside:], undated) if parted else (tuple(sorted(numbers)),)
    points = [(w, n) for _, n, w in known]
    aside = tuple(
        OutOfLine(line[i], points[i][0], lies_on_another_run(points, i), _misread_in_line(line, i))
        for i in _outside(line)
    )
    once = (
        len(at_once) >= _FEWEST
        and not any(one.on_another_run for one in aside)
        and again + unordered < _RULED_OUT
        and out <= _MOST_OUT * k
        and not on_two
        and 2 * k >= len(numbers)
        and max(line) - min(line) >= _REACH * (max(numbers) - min(numbers))
    )
    return RunInTime(
        k, out, again, unordered, once, runs, known[inside][2] if parted else None, on_two, aside
    )


_PACE_OF = 3
"""So many of its neighbours in time show at what pace a run of numbers went."""

_LIKE_THE_PACE = 2.0
"""A number at up to so many times that pace, or down to the inverse, goes on a run; a judgement: a
date a decade off seldom falls there."""


def lies_on_another_run(points: Sequence[tuple[float, int]], i: int) -> bool:
    """Whether a number out of line goes on those before it, or leads up to those after it.

    One alone that does not rise with the others may be misread or misdated, and then it lies
    anywhere. Where a count began again it lies at the pace of its own run, and no figure taken for
    one that looks alike would set it right.

    Parameters
    ----------
    points
        When each machine was made (years and their parts) and its number, in order of time.
    i
        The one that is out of line.

    >>> run = [(1880.0, 10), (1881.0, 35), (1882.0, 60), (1883.0, 77), (1884.0, 64), (1885.0, 91)]
    >>> lies_on_another_run(run, 3)
    True
    >>> lies_on_another_run([*run[:3], (1883.0, 300), *run[4:]], 3)
    False
    """
    when, number = points[i]
    if _misread_in_line([n for _, n in points], i):
        return False
    before = list(points[:i])[-_PACE_OF:]
    # the same in a mirror, for one that begins a later run
    after = [(-w, -n) for w, n in points[i + 1 : i + 1 + _PACE_OF]][::-1]
    return any(
        _goes_on(run, w, n) for run, w, n in ((before, when, number), (after, -when, -number))
    )


def _misread_in_line(line: Sequence[int], i: int) -> bool:
    """Whether one figure taken for another that looks alike explains a number out of line."""
    low = max(line[:i], default=0)
    high = min(line[i + 1 :], default=None)
    text = str(line[i])
    struck = [
        int(text[:at] + c + text[at + 1 :])
        for at, seen in enumerate(text)
        for c in "0123456789"
        if look_alike(seen, c)
    ]
    return any(low <= n and (high is None or n <= high) for n in struck)


def _goes_on(run: Sequence[tuple[float, int]], when: float, number: int) -> bool:
    if len(run) < _PACE_OF or when <= run[-1][0] or run[-1][0] <= run[0][0]:
        return False
    rising = all(one[1] < two[1] for one, two in pairwise(run)) and number > run[-1][1]
    if not rising:
        return False
    pace = (run[-1][1] - run[0][1]) / (run[-1][0] - run[0][0])
    own = (number - run[-1][1]) / (when - run[-1][0])
    return pace / _LIKE_THE_PACE <= own <= pace * _LIKE_THE_PACE


def _outside(line: Sequence[int]) -> list[int]:
    """Places of as few as need be for the others to rise."""
    ends: list[int] = []
    at: list[int] = []
    before = [-1] * len(line)
    for i, n in enumerate(line):
        place = bisect_right(ends, n)
        before[i] = at[place - 1] if place else -1
        ends[place : place + 1] = [n]
        at[place : place + 1] = [i]
    inside = set()
    i = at[-1] if at else -1
    while i >= 0:
        inside.add(i)
        i = before[i]
    return [i for i in range(len(line)) if i not in inside]


def _apart(
    first: list[int], second: list[int], undated: Sequence[int]
) -> tuple[tuple[int, ...], ...]:
    """Two runs; a number without a date is of the one known to reach it, else of the first."""
    to_second = max(second) > max(first)
    later = [n for n in undated if to_second and n > max(first)]
    earlier = [n for n in undated if not (to_second and n > max(first))]
    return tuple(sorted([*first, *earlier])), tuple(sorted([*second, *later]))


def _rising(line: Sequence[int]) -> list[int]:
    """Length of the longest rising line among the first so many, from none to all."""
    ends: list[int] = []
    found = [0]
    for n in line:
        at = bisect_right(ends, n)
        ends[at : at + 1] = [n]
        found.append(len(ends))
    return found


def _log_chance(count: int, out: int) -> float:
    """Log chance of an order in which so many are out of line, each of which stands anywhere."""
    anywhere = math.lgamma(count + 1) - math.lgamma(count - out + 1)
    return out * math.log(_OUT_OF_LINE) + (count - out) * math.log1p(-_OUT_OF_LINE) - anywhere
