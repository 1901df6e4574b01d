from dataclasses import replace

from ironlace.running.threading.plan import (
    PlanPicture,
    ThreadingPlan,
    ThreadPoint,
    checked_plan,
)
from ironlace.running.threading.two_plans import compare_plans, differences_in_words

POINTS = (
    ThreadPoint(1, (1.0, 1.0), "spool", "top", known="seen"),
    ThreadPoint(2, (2.0, 1.0), "hook", "left", known="seen"),
    ThreadPoint(3, (3.0, 1.0), "discs", "left", known="guess"),
    ThreadPoint(4, (4.0, 1.0), "pin", "left", known="guess"),
    ThreadPoint(5, (5.0, 1.0), "needle eye", "left", known="seen"),
)


def plan(*points):
    return checked_plan(ThreadingPlan("t", (PlanPicture("p", 100, 100),), points))


def test_where_a_point_lies_and_how_it_is_known_is_no_difference():
    moved = [replace(one, at=(50.0, 50.0), known="guess", number=one.number + 5) for one in POINTS]
    found = compare_plans(plan(*POINTS), plan(*moved))
    assert found == ()
    assert differences_in_words(found) == ["Both plans thread alike: no step differs."]


def test_each_sort_of_difference_is_told():
    one, two, three, _pin, five = POINTS
    other = plan(
        one,
        replace(three, number=2),
        replace(two, number=3),
        replace(five, number=4, side="right"),
        ThreadPoint(7, (1.0, 1.0), "bobbin", "top", thread="shuttle"),
        ThreadPoint(8, (2.0, 1.0), "needle plate", thread="shuttle"),
    )
    found = compare_plans(plan(*POINTS), other)
    by = {one.how: one for one in found}
    assert set(by) == {"otherwise", "only first", "only second", "elsewhere"}
    assert by["only first"].first.does == "pin"
    assert {by["elsewhere"].first.does} <= {"hook", "discs"}
    words = differences_in_words(found)
    assert any(
        "the first has 5. Through the eye of the needle from the left. [seen on this machine] "
        "The second has 4. Through the eye of the needle from the right." in line
        for line in words
    )
    assert sum(line.startswith("Only the second: ") for line in words) == 2
