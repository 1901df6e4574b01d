import pytest

from ironlace.evidence.analyses import Nothing, asked_from
from ironlace.evidence.progress import Steps
from ironlace.running.needles.thread_use import THREAD_USE


def told(**given):
    asked = asked_from(THREAD_USE.asked, given)
    return THREAD_USE.answer(THREAD_USE.work(Nothing(), asked, Steps()))


def test_balance_moves_thread_from_one_to_the_other_and_not_the_sum():
    even = told(stitch="2.5 mm", thickness="0.8 mm").figures
    deep = told(stitch="2.5 mm", thickness="0.8 mm", balance="0.7").figures
    assert even["both_m_per_m"] == pytest.approx(deep["both_m_per_m"])
    assert deep["needle_m_per_m"] > even["needle_m_per_m"]


def test_an_interval_needs_both_errors():
    assert told(stitch="2.5 ± 0.1 mm", thickness="0.8 mm").results[0].interval is None
    both = told(stitch="2.5 ± 0.1 mm", thickness="0.8 ± 0.05 mm").results[2]
    assert both.interval.low < 2.64 < both.interval.high
