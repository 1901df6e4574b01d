"""A plan whose points are copied, out of order or touched on a smaller copy."""

from dataclasses import replace

import pytest

from ironlace.running.threading.plan import (
    PlanPicture,
    ThreadingPlan,
    ThreadPoint,
    checked_plan,
    not_said,
)

WAY = ("spool", "guide hole", "discs", "take-up eye", "guide hole", "needle eye")
SOUND = tuple(
    ThreadPoint(n, (60.0 * n, 280.0 - 40.0 * n), does, "left", known="seen")
    for n, does in enumerate(WAY, 1)
)


def told(points):
    plan = ThreadingPlan("Head", (PlanPicture("front", 400, 300),), tuple(points))
    return not_said(checked_plan(plan))


def renumbered(*numbers):
    return [replace(one, number=n) for one, n in zip(SOUND, numbers, strict=True)]


SPOILT = {
    "copied": (
        [*SOUND[:3], *(replace(one, number=one.number + 1) for one in SOUND[2:])],
        "was one copied",
    ),
    "discs after the take-up": (renumbered(1, 2, 4, 3, 5, 6), "discs (4) after take-up eye (3)"),
    "on after the needle": (renumbered(1, 2, 3, 4, 6, 5), "goes on after the needle eye (5)"),
    "a smaller copy": (
        [replace(one, at=(0.4 * one.at[0], 0.4 * one.at[1])) for one in SOUND],
        "smaller copy of it",
    ),
}


@pytest.mark.parametrize("how", SPOILT)
def test_what_is_probably_wrong_is_told_first(how):
    points, says = SPOILT[how]
    assert says in told(points)[0]


def test_a_sound_way_is_not_doubted():
    assert told(SOUND) == ("The shuttle thread is not told of.",)
