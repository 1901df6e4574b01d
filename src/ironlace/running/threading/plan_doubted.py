"""What in a threading plan is probably not what it was meant to be: copied, out of order, aside."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from ironlace.evidence.wording import listed
from ironlace.running.threading.deeds import THREADS

if TYPE_CHECKING:
    from ironlace.running.threading.plan import PlanPicture, ThreadPoint

_ORDER: Final = {
    "needle": ("spool", "discs", "take-up eye", "needle eye"),
    "shuttle": ("bobbin", "shuttle spring", "needle plate"),
}
"""What a lockstitch's threads meet in this order, whatever lies between: tension is made before the
take-up, which draws against it, and the needle comes last; the bobbin first, the plate last."""
_SAME_PX: Final = 3.0
"""Points nearer than this, that do the same, are one point typed twice."""
_CORNER: Final = 0.45
"""Share of a picture's width and height within which all points lie when they were touched on a
smaller copy of it (a judgement: a head fills its photograph)."""
_MANY: Final = 5
"""Points from which it is told that they fill a corner alone."""


def plan_doubts(pictures: tuple[PlanPicture, ...], points: tuple[ThreadPoint, ...]) -> list[str]:
    """Sentences on what is probably wrong; empty where nothing contradicts the way of a thread."""
    of_threads = {thread: [one for one in points if one.thread == thread] for thread in THREADS}
    return [
        *(one for own in of_threads.values() for one in _twice(own)),
        *(one for thread, own in of_threads.items() for one in _order(thread, own)),
        *(one for picture in pictures for one in _corner(picture, points)),
    ]


def _twice(points: list[ThreadPoint]) -> Iterator[str]:
    for one, other in pairwise(points):
        near = max(abs(a - b) for a, b in zip(one.at, other.at, strict=True)) < _SAME_PX
        same = (one.does, one.side, one.picture) == (other.does, other.side, other.picture)
        if near and same:
            yield (
                f"Points {one.number} and {other.number} do the same in the same place: was one "
                "copied? Take it out, or say what the thread does the second time."
            )


def _order(thread: str, points: list[ThreadPoint]) -> Iterator[str]:
    wanted = _ORDER[thread]
    first = {one: min((p for p in points if p.does == one), key=points.index, default=None)
             for one in wanted}  # fmt: skip
    there = [(name, point) for name, point in first.items() if point is not None]
    out = [
        (one, other)
        for (_, one), (_, other) in pairwise(there)
        if points.index(one) > points.index(other)
    ]
    if out:
        pairs = listed([f"{one.does} ({one.number}) after {other.does} ({other.number})"
                        for one, other in out])  # fmt: skip
        yield (
            f"The {thread} thread comes to the {pairs}, and a lockstitch's comes to them the other "
            "way round: were numbers changed round, or does one point belong to the other thread?"
        )
    ends = [one for one in points if one.does == wanted[-1]]
    if ends and points[-1] is not ends[-1] and not out:
        yield (
            f"The {thread} thread goes on after the {wanted[-1]} ({ends[-1].number}), which is its "
            "end: look at the numbers again."
        )


def _corner(picture: PlanPicture, points: tuple[ThreadPoint, ...]) -> Iterator[str]:
    own = [one.at for one in points if one.picture == picture.name]
    wide, high = picture.width_px, picture.height_px
    if len(own) < _MANY or not wide or not high:
        return
    if max(x for x, _ in own) < _CORNER * wide and max(y for _, y in own) < _CORNER * high:
        yield (
            f"All points on picture '{picture.name}' lie in its upper left corner: were they "
            "touched on a smaller copy of it, or given as shares? Touch them on the picture itself."
        )
