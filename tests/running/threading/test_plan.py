from dataclasses import replace

import pytest

from ironlace.running.threading.plan import (
    PlanPicture,
    ThreadingError,
    ThreadingPlan,
    ThreadPoint,
    checked_plan,
    not_said,
)

FRONT = PlanPicture("front", 400, 300)
PLAN = ThreadingPlan(
    "Head",
    (FRONT,),
    (
        ThreadPoint(2, (30.0, 200.0), "needle eye", "left", known="seen"),
        ThreadPoint(1, (200.0, 20.0), "spool", known="guess"),
    ),
)


def test_a_plan_is_put_in_its_order_and_says_what_is_open():
    plan = checked_plan(PLAN)
    assert [one.number for one in plan.point] == [1, 2]
    assert {one.picture for one in plan.point} == {"front"}
    assert plan.grade == "conjectured"
    assert not_said(plan) == (
        "The shuttle thread is not told of.",
        "From or round which side is not said at 1.",
    )


def test_no_grade_is_made_up():
    unsaid = replace(PLAN, point=(replace(PLAN.point[0], known=""), PLAN.point[1]))
    plan = checked_plan(unsaid)
    assert plan.grade is None
    assert "How it is known is not said at 2." in not_said(plan)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"point": PLAN.point[:1]}, "has 1 point: give 2 to 60"),
        ({"picture": ()}, "has no picture"),
        ({"picture": (PlanPicture("front"),)}, "has no size"),
        ({"picture": (PlanPicture("front", 4000, 30),)}, "is a strip"),
        ({"picture": (FRONT, FRONT)}, "Two pictures are called 'front'"),
        ({"title": "x" * 300}, "one line of at most"),
    ],
)
def test_a_plan_that_cannot_be_drawn_is_refused(change, says):
    with pytest.raises(ThreadingError, match=says):
        checked_plan(replace(PLAN, **change))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"number": 1}, "Two points have the number 1"),
        ({"at": (401.0, 2.0)}, "lies out of its picture 'front' of 400 x 300 px"),
        ({"at": (float("nan"), 2.0)}, "lies out of its picture"),
        ({"does": "needle eyes"}, "did you mean 'needle eye'"),
        ({"side": "widdershins"}, "side 'widdershins' is not known here: use left"),
        ({"does": "keeper"}, "'keeper' has no side"),
        ({"thread": "third"}, "thread 'third'"),
        ({"picture": "fornt"}, "did you mean 'front'"),
        ({"crosses": "beside"}, "use over, under"),
        ({"known": "sure"}, "known 'sure'"),
        ({"known": "old manual"}, "without a source: name the manual"),
        ({"known": "seam"}, "without a source: name the seam"),
        ({"known": "", "source": "seam 2"}, "does not say how it is known"),
        ({"what": "two\nlines"}, "one line of at most"),
    ],
)
def test_a_point_that_cannot_be_is_refused_in_one_sentence(change, says):
    with pytest.raises(ThreadingError, match=says) as refused:
        checked_plan(replace(PLAN, point=(PLAN.point[1], replace(PLAN.point[0], **change))))
    assert str(refused.value).count(". ") == 0
    assert refused.value.number in (1, 2)


@pytest.mark.parametrize(
    ("needle", "shuttle", "says"),
    [
        ((1, 5), (), "leap from 1 to 5"),
        ((1, 2, 6, 7, 9), (), "leap from 2 to 6 and 7 to 9"),
        ((1, 2), (3, 8), "The shuttle thread's numbers leap from 3 to 8"),
        ((1, 2, 4), (3, 5), ""),  # the other thread has the number between
        ((1, 2), (11, 12), ""),  # each thread counted by itself
    ],
)
def test_numbers_that_leap_are_told_by_thread(needle, shuttle, says):
    points = [ThreadPoint(n, (9.0 * n, 20.0), "pin", "left", known="seen") for n in needle]
    points += [
        ThreadPoint(n, (9.0 * n, 90.0), "shuttle hole", "inside", "shuttle", known="seen")
        for n in shuttle
    ]
    told = [
        one for one in not_said(checked_plan(replace(PLAN, point=tuple(points)))) if "leap" in one
    ]
    assert len(told) == bool(says)
    assert all(says in one for one in told)
