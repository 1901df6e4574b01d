"""One change to the bridges of a plan: locked, moved, forbidden, or all chosen anew.

All other bridges stay where they are, so that a change does what was meant and nothing else; only
`chosen_anew` lets the program look for the least again.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ironlace.evidence.errors import IronlaceError
from ironlace.ornament.stencils import BridgeLine, SheetsAsked, SheetSet, forbidden_at

NEAR_MM = 0.4
"""How far a bridge may have moved since the page was made and still be the one that is meant."""

MOST_RADIUS_MM = 50.0
"""A wider place without a bridge is a slip: whole ornaments are 100 to 300 mm (judged by eye on
the demo)."""


class BridgeEditError(IronlaceError):
    """A change to a bridge that cannot be made."""


Line = tuple[float, ...]


def locked(asked: SheetsAsked, made: SheetSet, line: Sequence[float]) -> SheetsAsked:
    """Lock a bridge where it stands; unlock it if it was locked."""
    here = _bridge(made, line)
    if _among(here, asked.locked):
        return _with(asked, made, locks=_without(asked.locked, here))
    return _with(asked, made, locks=(*asked.locked, here))


def moved(
    asked: SheetsAsked, made: SheetSet, line: Sequence[float], to: Sequence[float]
) -> SheetsAsked:
    """Move a bridge and lock it where it now stands."""
    here = _bridge(made, line)
    there = _line(to)
    locks = (*_without(asked.locked, here), there)
    return _with(asked, made, locks=locks, gone=here)


def forbidden(asked: SheetsAsked, made: SheetSet, line: Sequence[float]) -> SheetsAsked:
    """Forbid the place a bridge stands in."""
    here = _bridge(made, line)
    place = forbidden_at(BridgeLine(*here), asked.of_process)
    return replace(
        _with(asked, made, locks=_without(asked.locked, here), gone=here),
        forbidden=(*asked.forbidden, (place.x, place.y, place.radius)),
    )


def forbidden_place(
    asked: SheetsAsked, made: SheetSet, x: float, y: float, radius: float
) -> SheetsAsked:
    """Forbid a round place."""
    if not np.isfinite([x, y]).all() or not 0.0 < radius <= MOST_RADIUS_MM:
        raise BridgeEditError(
            f"A place with a radius of {radius:g} mm cannot be forbidden: give more than 0 and at "
            f"most {MOST_RADIUS_MM:g} mm."
        )
    place = (round(x, 3), round(y, 3), round(radius, 3))
    reach = radius + asked.of_process.bridge_width_mm / 2.0
    locks = tuple(b for b in asked.locked if _away(b, x, y) > reach)
    return replace(_with(asked, made, locks=locks), forbidden=(*asked.forbidden, place))


def allowed_again(asked: SheetsAsked, made: SheetSet, number: int) -> SheetsAsked:
    """Lift a forbidden place, by its number from 1."""
    if not 1 <= number <= len(asked.forbidden):
        raise BridgeEditError(
            f"There is no forbidden place {number}: there are {len(asked.forbidden)}."
        )
    rest = tuple(f for n, f in enumerate(asked.forbidden, 1) if n != number)
    return replace(_with(asked, made, locks=asked.locked), forbidden=rest)


def chosen_anew(asked: SheetsAsked) -> SheetsAsked:
    """Let all bridges that are not locked be chosen again."""
    return replace(asked, kept=())


def _with(
    asked: SheetsAsked, made: SheetSet, *, locks: tuple[Line, ...], gone: Line | None = None
) -> SheetsAsked:
    kept = []
    for bridge in made.bridges:
        line = tuple(float(v) for v in bridge["line"])
        if not _among(line, locks) and (gone is None or not _among(line, (gone,))):
            kept.append(line)
    return replace(asked, locked=locks, kept=tuple(kept))


def _bridge(made: SheetSet, line: Sequence[float]) -> Line:
    """The bridge that is meant by a line.

    Raises BridgeEditError when none stands there any more.
    """
    meant = _line(line)
    for bridge in made.bridges:
        here = tuple(float(v) for v in bridge["line"])
        if _among(here, (meant,)):
            return here
    raise BridgeEditError(
        "The bridge that was meant does not stand there any more: look at the plan as it is now."
    )


def _line(told: Sequence[float]) -> Line:
    if len(told) != 4 or not np.isfinite(told).all():
        raise BridgeEditError("A bridge is told by four numbers: its two ends, in mm.")
    return tuple(round(float(v), 4) for v in told)


def _middle(line: Line) -> tuple[float, float]:
    return (line[0] + line[2]) / 2.0, (line[1] + line[3]) / 2.0


def _among(line: Line, lines: Sequence[Line]) -> bool:
    x, y = _middle(line)
    return any(np.hypot(x - a, y - b) <= NEAR_MM for a, b in map(_middle, lines))


def _without(lines: Sequence[Line], line: Line) -> tuple[Line, ...]:
    return tuple(b for b in lines if not _among(b, (line,)))


def _away(line: Line, x: float, y: float) -> float:
    """Distance of a place from a bridge's middle line."""
    a, b, at = np.array(line[:2]), np.array(line[2:]), np.array([x, y])
    along = b - a
    share = float(np.clip((at - a) @ along / max(float(along @ along), 1e-12), 0.0, 1.0))
    return float(np.linalg.norm(a + share * along - at))
