"""The thread between points: its line in mm, where it crosses itself, and where it has a gap."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

from ironlace.running.threading.deeds import THREADS
from ironlace.running.threading.plan import ThreadingPlan, ThreadPoint

Place = tuple[float, float]

BESIDE_SHARE = 0.016
"""How far beside a pin or a wire the thread is drawn that goes round it: of the picture's longer
side, so that what crosses does not depend on the size of the drawing."""

GAP_MM = 1.5
"""Half the gap in the thread that lies beneath, from the middle of the one above."""

_ASIDE: dict[str, Place] = {
    "left": (-1.0, 0.0),
    "right": (1.0, 0.0),
    "top": (0.0, -1.0),
    "bottom": (0.0, 1.0),
}
_GOES_ROUND = ("wire", "pin")


@dataclass(frozen=True, slots=True)
class Stretch:
    """The thread from one point to the next on one picture.

    Attributes
    ----------
    start, end
        The points.
    line
        Its two ends in mm of the drawing, drawn aside of what it goes round.
    """

    start: ThreadPoint
    end: ThreadPoint
    line: tuple[Place, Place]

    @property
    def length(self) -> float:
        """Millimetres of the drawing."""
        (x0, y0), (x1, y1) = self.line
        return hypot(x1 - x0, y1 - y0)

    def at(self, share: float) -> Place:
        """A place on it, by its share of the way."""
        (x0, y0), (x1, y1) = self.line
        return (x0 + share * (x1 - x0), y0 + share * (y1 - y0))


@dataclass(frozen=True, slots=True)
class Crossing:
    """Two stretches that cross on the picture, the later one first, and where on each.

    `above` is the index of the one on top, None where that was not said; `slant` is the sine of
    the angle between both.
    """

    later: int
    earlier: int
    shares: tuple[float, float]
    at: Place
    above: int | None
    slant: float = 1.0


def stretches(plan: ThreadingPlan, picture: str, scale: float) -> tuple[Stretch, ...]:
    """The thread on one picture, in the order in which it is laid; ``scale`` is mm for a pixel."""
    found = []
    size = next(one for one in plan.picture if one.name == picture)
    aside = BESIDE_SHARE * scale * max(size.width_px or 0, size.height_px or 0)
    for thread in THREADS:
        points = plan.of_thread(thread)
        for start, end in pairwise(points):
            if start.picture == end.picture == picture:
                line = (_drawn_at(start, scale, aside), _drawn_at(end, scale, aside))
                found.append(Stretch(start, end, line))
    return tuple(found)


def crossings(laid: Sequence[Stretch]) -> tuple[Crossing, ...]:
    """Where stretches cross between their ends, and which of both lies on top."""
    found = []
    for later, one in enumerate(laid):
        for earlier, other in enumerate(laid[:later]):
            met = _meet(one.line, other.line)
            if met is None:
                continue
            above = {"over": later, "under": earlier}.get(one.end.crosses)
            crossing = Crossing(later, earlier, met[:2], one.at(met[0]), above, met[2])
            found.append(crossing)
    return tuple(found)


def unbroken(
    index: int, stretch: Stretch, met: Iterable[Crossing]
) -> tuple[tuple[float, float], ...]:
    """The parts of a stretch that are drawn, as shares from and to: all but its gaps.

    >>> pins = [ThreadPoint(n, (0.0, 0.0), "pin") for n in (1, 2)]
    >>> one = Stretch(pins[0], pins[1], ((0.0, 0.0), (10.0, 0.0)))
    >>> unbroken(0, one, [Crossing(1, 0, (0.5, 0.5), (5.0, 0.0), above=1)])
    ((0.0, 0.35), (0.65, 1.0))
    """
    gaps = []
    for one in met:
        if one.above is None or index not in (one.later, one.earlier) or one.above == index:
            continue
        share = one.shares[0] if index == one.later else one.shares[1]
        half = GAP_MM / max(one.slant, _STEEPEST_GAP) / max(stretch.length, 1e-9)
        gaps.append((max(0.0, share - half), min(1.0, share + half)))
    parts: list[tuple[float, float]] = []
    begin = 0.0
    for low, high in sorted(gaps):
        if low > begin:
            parts.append((begin, low))
        begin = max(begin, high)
    if begin < 1.0:
        parts.append((begin, 1.0))
    return tuple(parts)


def arrow_share(index: int, stretch: Stretch, met: Iterable[Crossing]) -> float | None:
    """Where on a stretch its arrow head stands: clear of ends and crossings; None if it is short.

    >>> pins = [ThreadPoint(n, (0.0, 0.0), "pin") for n in (1, 2)]
    >>> arrow_share(0, Stretch(pins[0], pins[1], ((0.0, 0.0), (20.0, 0.0))), [])
    0.5
    """
    if stretch.length < _SHORTEST_WITH_ARROW_MM:
        return None
    taken = [
        one.shares[0] if index == one.later else one.shares[1]
        for one in met
        if index in (one.later, one.earlier)
    ]
    tries = (0.5, 0.6, 0.4, 0.7, 0.3, 0.78, 0.22)
    return max(tries, key=lambda share: min(abs(share - other) for other in (*taken, 0.0, 1.0)))


_SHORTEST_WITH_ARROW_MM = 5.0
"""Shorter, an arrow head would hide the thread."""


def _drawn_at(point: ThreadPoint, scale: float, aside: float) -> Place:
    x, y = point.at[0] * scale, point.at[1] * scale
    if point.does in _GOES_ROUND and point.side in _ASIDE:
        dx, dy = _ASIDE[point.side]
        return (x + aside * dx, y + aside * dy)
    return (x, y)


def _meet(
    one: tuple[Place, Place], other: tuple[Place, Place]
) -> tuple[float, float, float] | None:
    """Where two lines cross between their ends, as shares of both, and the sine of their angle."""
    (ax, ay), (bx, by) = one
    (cx, cy), (dx, dy) = other
    ux, uy, vx, vy = bx - ax, by - ay, dx - cx, dy - cy
    turn = ux * vy - uy * vx
    if abs(turn) < 1e-9 * (hypot(ux, uy) * hypot(vx, vy) + 1e-12):
        return None  # one beside the other, or one upon the other
    s = ((cx - ax) * vy - (cy - ay) * vx) / turn
    t = ((cx - ax) * uy - (cy - ay) * ux) / turn
    inside = _TOUCH < s < 1.0 - _TOUCH and _TOUCH < t < 1.0 - _TOUCH
    slant = abs(turn) / (hypot(ux, uy) * hypot(vx, vy))
    return (s, t, slant) if inside else None


_STEEPEST_GAP = 0.3
"""Sine of the angle below which a gap grows no longer."""

_TOUCH = 1e-6
"""Share of a stretch within which it touches at its end, and does not cross."""
