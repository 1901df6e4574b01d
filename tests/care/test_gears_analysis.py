"""Change gears as a person asks for them: the train first, and no best of a bad lot."""

from itertools import permutations

import pytest

from ironlace.care.errors import CareError
from ironlace.care.gears_analysis import THREAD_GEARS, ThreadGearsAsked
from ironlace.evidence.analyses import Known
from ironlace.evidence.progress import Steps


def answered(lead, thread, gears, **more):
    asked = ThreadGearsAsked(lead, thread, gears, **more)
    return THREAD_GEARS.answer(THREAD_GEARS.work(THREAD_GEARS.inputs(), asked, Steps()))


def test_a_metric_thread_on_an_inch_screw_comes_out_exactly_with_the_127():
    answer = answered("8 tpi", "3 mm", "40 60 120 127 20")
    assert answer.sentences[0].startswith("A thread to cut of 3 mm is unlike those")
    assert answer.sentences[1] == "Set up 120 driving 127: it cuts 3 mm."
    assert answer.figures["trains"][0]["drivers"] == [120]


def test_pitch_or_threads_an_inch_say_the_same():
    one = answered("8 tpi", "32 tpi", "20, 40, 80")
    assert one.sentences[0] == answered("8 TPI", "0.79375 mm", "20;40;80").sentences[0]


def test_a_bad_lot_is_called_not_good_enough():
    answer = answered("8 tpi", "0.75 mm", "20 30 40 50", engaged=12.0)
    assert "not good enough" in answer.sentences[0]
    # brute force, by its own hand
    best = min(abs(3.175 * a / b / 0.75 - 1) for a, b in permutations((20, 30, 40, 50), 2))
    four = min(
        abs(3.175 * a * c / b / d / 0.75 - 1) for a, b, c, d in permutations((20, 30, 40, 50), 4)
    )
    found = min(abs(train["error_ppm"]) for train in answer.figures["trains"])
    assert found == pytest.approx(min(best, four) * 1e6, abs=0.02)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (("8", "1 mm", "20 40"), "lead screw is '8'"),
        (("8 tpi", "1", "20 40"), "thread to cut is '1'"),
        (("8 tpi", "1 mm", "20 x"), "'x'"),
        (("8 tpi", "1 mm", "20"), "needs a pair"),
    ],
)
def test_what_cannot_be_is_refused(given, says):
    with pytest.raises(CareError) as caught:
        answered(*given)
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("wide", "thread", "doubted"),
    [(4.72, "24 tpi", False), (4.72, "42 tpi", True), (4.95, "0.8 mm", False), (9.0, "0.8 mm", 0)],
)
def test_a_diameter_shows_a_pitch_that_no_table_gives_it(wide, thread, doubted):
    said = answered("8 tpi", thread, GEARS, diameter=Known(wide, 0.02, "mm")).sentences
    assert ("No tabled thread" in said[0]) == bool(doubted)


def test_a_lead_of_another_unit_is_doubted_first():
    assert "A lead screw of 0.6 mm is unlike" in answered("0.6 mm", "0.75 mm", GEARS).sentences[0]


GEARS = "20 25 30 35 40 45 50 55 60 65 80 127"
