"""Holes that the bed already has: which of them lie over wood, so that a screw may go through.

Nothing is drilled: what is not over wood, or too near its edge, is told and left alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final

import shapely

from ironlace.evidence.analyses import Ask
from ironlace.evidence.wording import listed
from ironlace.stand.base_shape import BaseShape
from ironlace.stand.errors import StandError

_WOOD: Final = 1.0
"""Of a hole's diameter, the wood that a screw wants on either side (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class BedHole:
    """A hole or cut-out of the bed: its middle in the bed's axes, and how wide it is."""

    name: str
    x_mm: Annotated[float, Ask("Place", unit="mm", low=-2000.0, high=2000.0)]
    y_mm: Annotated[float, Ask("Place", unit="mm", low=-2000.0, high=2000.0)]
    diameter_mm: Annotated[float, Ask("Diameter", unit="mm", low=0.5, high=200.0)]


@dataclass(frozen=True, slots=True)
class HoleSeen:
    """A hole over a base: what lies under it, and how much wood is left beside a screw in it.

    `wood_mm` runs from the hole's rim to the nearest edge of the wood, negative beyond it.
    """

    hole: BedHole
    over: str
    wood_mm: float

    @property
    def usable(self) -> bool:
        """Whether a screw through it has wood all round."""
        return self.over == "wood" and self.wood_mm >= _WOOD * self.hole.diameter_mm


def holes_over(holes: Sequence[BedHole], shape: BaseShape) -> tuple[HoleSeen, ...]:
    """What lies under each hole.

    Raises StandError when a hole lies outside the bed, or two have one name.
    """
    names = [one.name for one in holes]
    for name in names:
        if names.count(name) > 1:
            raise StandError(f"Two holes are called '{name[:40]}': give each a name of its own.")
    wood = shape.outside.difference(shape.opening)
    found = []
    for one in holes:
        middle = shapely.Point(one.x_mm, one.y_mm)
        if not shape.bed.covers(middle):
            raise StandError(
                f"The hole '{one.name[:40]}' at {one.x_mm:g}, {one.y_mm:g} mm lies outside the "
                "bed's outline: measure it from the middle of the bed again."
            )
        away = float(shapely.distance(middle, wood.boundary))
        inside = bool(wood.covers(middle))
        over = "wood" if inside else "the opening"
        found.append(HoleSeen(one, over, (away if inside else -away) - one.diameter_mm / 2.0))
    return tuple(found)


def holes_told(seen: Sequence[HoleSeen]) -> list[dict[str, Any]]:  # dict: plain JSON
    """The holes as plain figures."""
    return [
        {"name": one.hole.name, "over": one.over, "wood_mm": one.wood_mm, "usable": one.usable}
        for one in seen
    ]


def holes_in_words(seen: Sequence[HoleSeen]) -> list[str]:
    """Which holes may be used, and what to do with their screws; nothing where none was named."""
    if not seen:
        return []
    good = [one.hole.name for one in seen if one.usable]
    if not good:
        return [
            "None of the bed's holes has wood enough under it: let the head lie on its felt, or "
            "make the ledge wider there."
        ]
    names = listed([f"'{one}'" for one in good])
    return [
        f"Of the bed's holes {names} may be used, with the screws "
        "that were there or longer ones of their thread; put each screw on the list of what "
        "touches the machine. Drill no other."
    ]
