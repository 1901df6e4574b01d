import pytest

from ironlace.running.threading.deeds import DEEDS
from ironlace.running.threading.plan import (
    PlanPicture,
    ThreadingPlan,
    ThreadPoint,
    checked_plan,
)
from ironlace.running.threading.steps import (
    crossing_in_words,
    grade_in_words,
    step_in_words,
    steps_text,
)


@pytest.mark.parametrize(
    ("point", "says"),
    [
        (("spool", "back"), "From the spool, the thread coming off the back."),
        (("guide hole", "right"), "Through the guide hole from the right."),
        (("wire", "top"), "Over the top of the wire."),
        (("pin", ""), "Round the pin (round which side is not said)."),
        (("needle eye", "front"), "Through the eye of the needle from the front."),
        (("bobbin", "bottom"), "Put the bobbin in, the thread coming off the bottom."),
        (("shuttle hole", "inside"), "Through the hole of the shuttle from inside outwards."),
        (("shuttle spring", "left"), "Under the spring of the shuttle from the left."),
        (("keeper", ""), "Close the keeper."),
        (("needle plate", ""), "Up through the hole of the needle plate."),
    ],
)
def test_a_step_is_told_as_a_person_would(point, says):
    assert step_in_words(ThreadPoint(1, (0.0, 0.0), *point)) == says


@pytest.mark.parametrize("does", DEEDS)
def test_every_word_and_side_gives_a_sentence_of_its_own(does):
    sides = DEEDS[does].sides or {"": ""}
    told = {step_in_words(ThreadPoint(1, (0.0, 0.0), does, side)) for side in sides}
    assert len(told) == len(sides)
    assert all(one[0].isupper() and one.endswith(".") for one in told)


def test_the_text_goes_from_spool_to_needle_and_from_bobbin_to_plate():
    points = (
        ThreadPoint(5, (50.0, 50.0), "needle plate", thread="shuttle", known="guess"),
        ThreadPoint(1, (0.0, 100.0), "spool", "top", known="seen"),
        ThreadPoint(2, (200.0, 100.0), "hook", "left", known="old manual", source="p. 3"),
        ThreadPoint(3, (100.0, 0.0), "discs", "top", known="seen"),
        ThreadPoint(4, (20.0, 10.0), "bobbin", "top", thread="shuttle", known="guess"),
        ThreadPoint(
            6, (100.0, 190.0), "needle eye", "left", crosses="under", behind="clamp", known="seen"
        ),
    )
    plan = checked_plan(ThreadingPlan("Head", (PlanPicture("p", 200, 200),), points))
    text = steps_text(plan)
    order = [text.index(f"{n:>3}. ") for n in (1, 2, 3, 6, 4, 5)]
    assert order == sorted(order)
    assert "Through the eye of the needle from the left, coming behind the clamp. " in text
    assert "Passes under the thread from 1 to 2. [seen on this machine]" in text
    assert "[an old manual: p. 3]" in text
    assert "Not said" not in text
    assert grade_in_words(plan).startswith("The plan is conjectured, as its weakest step is")


def test_a_crossing_of_which_nothing_was_said_stays_unsaid():
    points = tuple(
        ThreadPoint(n, at, "hook")
        for n, at in enumerate(((0.0, 5.0), (9.0, 5.0), (5.0, 0.0), (5.0, 9.0)), 1)
    )
    plan = checked_plan(ThreadingPlan("t", (PlanPicture("p", 100, 100),), points))
    assert crossing_in_words(plan) == {
        4: "Crosses the thread from 1 to 2: which lies on top is not said."
    }
