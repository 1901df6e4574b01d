import numpy as np
import pytest

from ironlace.survey.answers.one_series import one_series
from ironlace.survey.errors import SurveyError
from made_numbers import LOOKED_AT, NEVER_LOOKED_AT

UNTOLD = {"lots of numbers never used", "numbers in handfuls"}
"""No run of numbers shows these; the manual says so, and how often the interval then fails."""


def test_intervals_hold_whatever_the_run_of_numbers():
    rng = np.random.default_rng(31)
    held = []
    for name, draw in {**LOOKED_AT, **NEVER_LOOKED_AT}.items():
        if name in UNTOLD:
            continue
        for _ in range(4):
            truth = draw(rng)
            total = one_series(truth.numbers).total
            held.append(total.low <= truth.made <= total.high)
    # 52 runs of 0.9: three standard errors are 0.125
    assert np.mean(held) >= 0.77


def test_only_odd_numbers_make_half_as_many():
    numbers = (2 * np.random.default_rng(4).choice(2_000, 14, replace=False) + 1).tolist()
    found = one_series(numbers)
    assert found.step == 2
    assert found.total.low <= 2_000 <= found.total.high


def test_a_leading_figure_misread_is_named_and_does_not_stretch_the_total():
    numbers = (np.random.default_rng(6).choice(900, 12, replace=False) + 1).tolist()
    found = one_series([*numbers, 8_123])
    assert found.doubted == (8_123,)
    assert found.total.high < 2_000


def test_a_few_numbers_give_a_floor_and_many_an_interval():
    assert not one_series([500]).bounded
    many = one_series((np.random.default_rng(7).choice(5_000, 60, replace=False) + 1).tolist())
    assert many.bounded and many.total.low < 5_000 < many.total.high


def test_all_numbers_of_a_small_run_are_all_there_are():
    found = one_series(list(range(1, 31)))
    assert found.total.low == 30 and found.total.high < 35


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: one_series([]), "No number"),
        (lambda: one_series([0, 4]), "starts at 1, but 0"),
        (lambda: one_series([4], start=10), "starts at 10"),
    ],
)
def test_what_cannot_be_counted_is_said(call, says):
    with pytest.raises(SurveyError, match=says):
        call()
