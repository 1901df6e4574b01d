"""What a threading plan keeps of its pictures and points, and the plan that it draws."""

from collections.abc import Sequence
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from ironlace.record.entry_types import MaybeLine, Reference
from ironlace.running.threading.plan import (
    PlanPicture,
    ThreadingPlan,
    ThreadPoint,
    checked_plan,
)

_KEPT = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)
_Px = Annotated[float, Field(ge=0, le=100_000)]


class ThreadedPicture(BaseModel):
    """A photograph that points lie on, and its size when upright, px."""

    model_config = _KEPT

    photograph: Reference
    width_px: Annotated[int, Field(ge=20, le=100_000)]
    height_px: Annotated[int, Field(ge=20, le=100_000)]


class ThreadedPoint(BaseModel):
    """A point of a plan, in the order in which the thread meets it; see `ThreadPoint`."""

    model_config = _KEPT

    photograph: Reference
    x_px: _Px
    y_px: _Px
    does: MaybeLine
    side: MaybeLine = ""
    thread: MaybeLine = "needle"
    what: MaybeLine = ""
    crosses: MaybeLine = ""
    behind: MaybeLine = ""
    known: MaybeLine = ""
    source: MaybeLine = ""


def plan_of(
    title: str, pictures: Sequence[ThreadedPicture], points: Sequence[ThreadedPoint]
) -> ThreadingPlan:
    """The plan that is drawn: points numbered in their order, pictures called by their names.

    Raises ThreadingError where it cannot be drawn.
    """
    return checked_plan(
        ThreadingPlan(
            title,
            tuple(PlanPicture(one.photograph, one.width_px, one.height_px) for one in pictures),
            tuple(
                ThreadPoint(
                    number,
                    (one.x_px, one.y_px),
                    one.does,
                    one.side,
                    one.thread,
                    one.what,
                    one.photograph,
                    one.crosses,
                    one.behind,
                    one.known,
                    one.source,
                )
                for number, one in enumerate(points, 1)
            ),
        )
    )
