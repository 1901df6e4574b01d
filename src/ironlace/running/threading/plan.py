"""A threading plan: points in the order in which a thread meets them, on one or more pictures."""

import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite
from typing import Annotated

from ironlace.evidence.analyses import Ask
from ironlace.evidence.grades import Grade, weakest
from ironlace.evidence.wording import listed
from ironlace.running.errors import RunningError
from ironlace.running.threading.deeds import CROSSES, DEEDS, KNOWN, THREADS
from ironlace.running.threading.plan_doubted import plan_doubts

FEWEST_POINTS = 2
"""Points of a plan: fewer lead from nowhere to nowhere."""
MOST_POINTS = 60
"""Points of a plan; a head has some twenty."""
LONGEST_TEXT = 120
"""Characters of a name: what a card's line carries."""


class ThreadingError(RunningError):
    """A threading plan that cannot be drawn; `number` is the point at fault, 0 when none is."""

    def __init__(self, says: str, number: int = 0) -> None:
        super().__init__(says)
        self.number = number


@dataclass(frozen=True, slots=True)
class PlanPicture:
    """A picture on which points lie: a photograph, or a bare sheet of a stated size."""

    name: Annotated[str, Ask("Name of the picture")]
    width_px: Annotated[int | None, Ask("Width", unit="px", low=20, high=100_000)] = None
    height_px: Annotated[int | None, Ask("Height", unit="px", low=20, high=100_000)] = None
    file: Annotated[str, Ask("Its file, relative to the plan; none draws on a bare sheet")] = ""


@dataclass(frozen=True, slots=True)
class ThreadPoint:
    """One point of a plan.

    Attributes
    ----------
    number
        Its place in the order; the needle thread's come before the shuttle's or not, as is wished.
    at
        Where it lies on its picture: px from the left and from the top.
    does, side
        A word of `deeds.DEEDS`, and one of its sides; an empty side was not said.
    thread
        ``needle`` or ``shuttle``.
    what
        What it passes, in the user's words; empty for the usual name.
    picture
        Name of its picture; empty for the first.
    crosses
        How the stretch that leads here passes the thread laid before: ``over``, ``under``, or not
        said.
    behind
        The part that the stretch that leads here runs behind.
    known, source
        A word of `deeds.KNOWN` or not said, and what vouches for it.
    """

    number: Annotated[int, Ask("Number", low=1, high=999)]
    at: Annotated[tuple[float, float], Ask("Place on the picture", unit="px")]
    does: Annotated[str, Ask("What the thread does there")]
    side: Annotated[str, Ask("From or round which side")] = ""
    thread: Annotated[str, Ask("Which thread")] = "needle"
    what: Annotated[str, Ask("What it passes")] = ""
    picture: Annotated[str, Ask("On which picture")] = ""
    crosses: Annotated[str, Ask("Over or under the thread laid before")] = ""
    behind: Annotated[str, Ask("Behind which part it comes")] = ""
    known: Annotated[str, Ask("How it is known")] = ""
    source: Annotated[str, Ask("What vouches for it")] = ""

    @property
    def grade(self) -> Grade | None:
        """Its grade; None when it was not said how it is known."""
        return KNOWN[self.known].grade if self.known in KNOWN else None


@dataclass(frozen=True, slots=True)
class ThreadingPlan:
    """A plan as it was written; `checked_plan` says whether it can be drawn."""

    title: Annotated[str, Ask("What is threaded")]
    picture: Annotated[tuple[PlanPicture, ...], Ask("The pictures")]
    point: Annotated[tuple[ThreadPoint, ...], Ask("The points")]

    def of_thread(self, thread: str) -> tuple[ThreadPoint, ...]:
        """The points of one thread, in their order."""
        return tuple(one for one in self.point if one.thread == thread)

    def on(self, picture: str) -> tuple[ThreadPoint, ...]:
        """The points on one picture, in their order."""
        return tuple(one for one in self.point if one.picture == picture)

    @property
    def grade(self) -> Grade | None:
        """That of its weakest step; None when one step does not say how it is known."""
        grades = [one.grade for one in self.point]
        said = [grade for grade in grades if grade is not None]
        return weakest(said) if len(said) == len(grades) else None


def checked_plan(plan: ThreadingPlan) -> ThreadingPlan:
    """The plan in its order, needle thread first, every point on a named picture.

    Raises
    ------
    ThreadingError
        When it has fewer than two points or too many, two of one number, a point out of its
        picture, a word that is not known here, or a source missing where one is needed.
    """
    if not plan.picture:
        raise ThreadingError("The plan has no picture: give one [[picture]] with a name.")
    if not FEWEST_POINTS <= len(plan.point) <= MOST_POINTS:
        raise ThreadingError(
            f"The plan has {len(plan.point)} point{'s' * (len(plan.point) != 1)}: give "
            f"{FEWEST_POINTS} to {MOST_POINTS}."
        )
    pictures = _pictures(plan.picture)
    _texts((("title", plan.title), *(("name", name) for name in pictures)), "The plan")
    seen: set[int] = set()
    points = []
    for one in plan.point:
        if one.number in seen:
            raise ThreadingError(
                f"Two points have the number {one.number}: give each its own.", one.number
            )
        seen.add(one.number)
        points.append(_checked(one, pictures))
    order = list(THREADS)
    points.sort(key=lambda one: (order.index(one.thread), one.number))  # type: ignore[arg-type]
    return ThreadingPlan(plan.title.strip() or "Threading", plan.picture, tuple(points))


def not_said(plan: ThreadingPlan) -> tuple[str, ...]:
    """What is probably wrong in a plan, and what it leaves open: ends, gaps, sides, grades."""
    told = plan_doubts(plan.picture, plan.point)
    ends = {"needle": ("spool", "needle eye"), "shuttle": ("bobbin", "needle plate")}
    for thread, (first, last) in ends.items():
        points = plan.of_thread(thread)
        if points and points[0].does != first:
            told.append(f"The {thread} thread does not begin at the {first}.")
        if points and all(one.does != last for one in points):
            told.append(f"The {thread} thread does not reach the {last}.")
        if not points:
            told.append(f"The {thread} thread is not told of.")
        told += _gap(plan, thread)
    sideless = [one.number for one in plan.point if DEEDS[one.does].sides and not one.side]
    if sideless:
        told.append(f"From or round which side is not said at {_numbers(sideless)}.")
    ungraded = [one.number for one in plan.point if one.grade is None]
    if ungraded:
        told.append(f"How it is known is not said at {_numbers(ungraded)}.")
    return tuple(told)


def _gap(plan: ThreadingPlan, thread: str) -> Iterator[str]:
    """Say where the numbers of a thread leap over some that no point of the plan has."""
    own = sorted(one.number for one in plan.of_thread(thread))
    there = {one.number for one in plan.point}
    leaps = [
        (before, after)
        for before, after in pairwise(own)
        if not there.issuperset(range(before, after))
    ]
    if leaps:
        between = listed([f"{before} to {after}" for before, after in leaps])
        yield (
            f"The {thread} thread's numbers leap from {between}: whether a step is missing there "
            "is not said."
        )


def _numbers(numbers: Iterable[int]) -> str:
    return listed([str(number) for number in numbers])


def _pictures(given: Iterable[PlanPicture]) -> dict[str, tuple[float, float]]:
    """Size of each picture by its name, the first first."""
    found: dict[str, tuple[float, float]] = {}
    for one in given:
        if not one.name.strip():
            raise ThreadingError("A picture has no name: give it one, such as 'front'.")
        if one.name in found:
            raise ThreadingError(f"Two pictures are called '{one.name}': name them apart.")
        if one.width_px is None or one.height_px is None:
            raise ThreadingError(
                f"Picture '{one.name}' has no size: give its file, or width_px and height_px of a "
                "bare sheet."
            )
        wide = one.width_px / one.height_px
        if not 1 / _LONGEST_SHAPE <= wide <= _LONGEST_SHAPE:
            raise ThreadingError(
                f"Picture '{one.name}' of {one.width_px} x {one.height_px} px is a strip on which "
                f"no number can stand: give one at most {_LONGEST_SHAPE:g} times as long as wide."
            )
        found[one.name] = (float(one.width_px), float(one.height_px))
    return found


_LONGEST_SHAPE = 6.0
"""Longer side of a picture over the shorter."""


def _checked(one: ThreadPoint, pictures: Mapping[str, tuple[float, float]]) -> ThreadPoint:
    at = f"Point {one.number}"
    picture = one.picture or next(iter(pictures))
    if picture not in pictures:
        raise _unknown(at, "picture", picture, pictures, one.number)
    x, y = one.at
    wide, high = pictures[picture]
    if not (isfinite(x) and isfinite(y) and 0.0 <= x <= wide and 0.0 <= y <= high):
        raise ThreadingError(
            f"{at} at {x:g}, {y:g} px lies out of its picture '{picture}' of {wide:g} x {high:g} "
            "px: set it on the picture.",
            one.number,
        )
    if one.thread not in THREADS:
        raise _unknown(at, "thread", one.thread, THREADS, one.number)
    if one.does not in DEEDS:
        raise _unknown(at, "does", one.does, DEEDS, one.number)
    sides = DEEDS[one.does].sides
    if one.side and not sides:
        raise ThreadingError(f"{at}: '{one.does}' has no side: leave '{one.side}' out.", one.number)
    if one.side and one.side not in sides:
        raise _unknown(at, "side", one.side, sides, one.number)
    if one.crosses and one.crosses not in CROSSES:
        raise _unknown(at, "crosses", one.crosses, CROSSES, one.number)
    if one.known and one.known not in KNOWN:
        raise _unknown(at, "known", one.known, KNOWN, one.number)
    if one.known and KNOWN[one.known].source_needed and not one.source.strip():
        raise ThreadingError(
            f"{at} is known by '{one.known}' without a source: {KNOWN[one.known].source_needed}.",
            one.number,
        )
    if one.source.strip() and not one.known:
        raise ThreadingError(
            f"{at} has a source and does not say how it is known: choose {listed(list(KNOWN))}.",
            one.number,
        )
    _texts((("what", one.what), ("behind", one.behind), ("source", one.source)), at, one.number)
    return ThreadPoint(
        one.number,
        (float(x), float(y)),
        one.does,
        one.side,
        one.thread,
        one.what.strip(),
        picture,
        one.crosses,
        one.behind.strip(),
        one.known,
        one.source.strip(),
    )


def _texts(given: Iterable[tuple[str, str]], at: str, number: int = 0) -> None:
    for name, text in given:
        if len(text) > LONGEST_TEXT or not text.isprintable():
            raise ThreadingError(
                f"{at}: '{name}' must be one line of at most {LONGEST_TEXT} characters.", number
            )


def _unknown(at: str, key: str, word: str, known: Iterable[str], number: int) -> ThreadingError:
    words = list(known)
    like = difflib.get_close_matches(word, words, 1, 0.6)
    hint = f"did you mean '{like[0]}'?" if like else f"use {', '.join(words)}."
    return ThreadingError(f"{at}: {key} '{word[:40]}' is not known here: {hint}", number)
