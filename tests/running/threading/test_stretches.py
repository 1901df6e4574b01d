import numpy as np
import shapely

from ironlace.running.threading.plan import (
    PlanPicture,
    ThreadingPlan,
    ThreadPoint,
    checked_plan,
)
from ironlace.running.threading.stretches import crossings, stretches, unbroken


def wandering(rng, count, crosses=""):
    points = tuple(
        ThreadPoint(n + 1, tuple(rng.uniform(0, 300, 2)), "hook", crosses=crosses)
        for n in range(count)
    )
    return checked_plan(ThreadingPlan("t", (PlanPicture("p", 300, 300),), points))


def test_every_crossing_is_found_and_no_other():
    rng = np.random.default_rng(3)
    for _ in range(40):
        laid = stretches(wandering(rng, 9), "p", 0.5)
        lines = [shapely.LineString(one.line) for one in laid]
        truth = {(i, j) for i in range(len(lines)) for j in range(i) if lines[i].crosses(lines[j])}
        found = crossings(laid)
        assert {(one.later, one.earlier) for one in found} == truth
        for one in found:
            met = lines[one.later].intersection(lines[one.earlier])
            assert met.distance(shapely.Point(one.at)) < 1e-6


def test_the_one_beneath_has_the_gap_and_the_one_above_has_none():
    points = (
        ThreadPoint(1, (0.0, 100.0), "hook"),
        ThreadPoint(2, (200.0, 100.0), "hook"),
        ThreadPoint(3, (100.0, 0.0), "hook"),
        ThreadPoint(4, (100.0, 200.0), "hook", crosses="over"),
    )
    plan = ThreadingPlan("t", (PlanPicture("p", 200, 200),), points)
    for word, whole, parted in (("over", 2, 0), ("under", 0, 2)):
        last = ThreadPoint(4, (100.0, 200.0), "hook", crosses=word)
        laid = stretches(
            checked_plan(ThreadingPlan("t", plan.picture, (*points[:3], last))), "p", 0.5
        )
        met = crossings(laid)
        assert unbroken(whole, laid[whole], met) == ((0.0, 1.0),)
        (_, low), (high, _) = unbroken(parted, laid[parted], met)
        assert np.isclose((high - low) * laid[parted].length, 3.0)


def test_what_crosses_does_not_depend_on_the_size_of_the_drawing():
    rng = np.random.default_rng(5)
    for _ in range(20):
        points = tuple(
            ThreadPoint(n + 1, tuple(rng.uniform(0, 300, 2)), "pin", side)
            for n, side in enumerate(rng.choice(["left", "top", "right", "bottom"], 7))
        )
        plan = checked_plan(ThreadingPlan("t", (PlanPicture("p", 300, 300),), points))
        pairs = [
            {(one.later, one.earlier) for one in crossings(stretches(plan, "p", scale))}
            for scale in (1.0, 0.3, 0.02)
        ]
        assert pairs[0] == pairs[1] == pairs[2]
