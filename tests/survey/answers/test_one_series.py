import numpy as np
import pytest

from ironlace.survey.answers.one_series import (
    LEFT_OUT,
    Grounds,
    handfuls,
    lots_left_out,
    one_series,
)
from ironlace.survey.errors import SurveyError
from made_numbers import LOOKED_AT, NEVER_LOOKED_AT, USED_ONCE


def held(found, made):
    """Whether what is told is so: the interval, or the floor where no more is told."""
    return found.total.low <= made and (made <= found.total.high or not found.bounded)


def test_what_is_told_holds_whatever_the_run_of_numbers():
    rng = np.random.default_rng(31)
    told = []
    for draw in {**LOOKED_AT, **NEVER_LOOKED_AT}.values():
        truth = draw(rng)
        told.append(held(one_series(truth.numbers), truth.made))
    # below 11 of 15 has a chance of 0.013 where 0.9 hold, and 0.78 where 0.6 do
    assert sum(told) >= 11, len(told)


@pytest.mark.parametrize("name", ["lots of numbers never used", "numbers in handfuls"])
def test_what_no_run_of_numbers_shows_is_allowed_for(name):
    rng = np.random.default_rng(32)
    told = []
    for _ in range(8):
        truth = NEVER_LOOKED_AT[name](rng)
        told.append(held(one_series(truth.numbers), truth.made))
    # below 6 of 8 has a chance of 0.04 where 0.9 hold, and 0.7 where 0.6 do
    assert sum(told) >= 6


def test_lots_are_as_likely_left_out_as_before_unless_every_lot_holds_a_number():
    rng = np.random.default_rng(8)
    few = np.sort(rng.choice(5_000, 8, replace=False) + 1)
    many = np.sort(rng.choice(400, 300, replace=False) + 1)
    left_out = [sum(p for s, p in lots_left_out(x).shares.items() if s < 1.0) for x in (few, many)]
    assert 0.3 * LEFT_OUT < left_out[0] <= LEFT_OUT
    assert left_out[1] < 0.01
    for chances in (lots_left_out(few).shares, lots_left_out(many).shares):
        assert sum(chances.values()) == pytest.approx(1.0)


def test_handfuls_are_taken_together_and_an_even_or_leaning_run_is_not():
    rng = np.random.default_rng(9)
    middles = np.array([300, 1_900, 4_000, 5_200, 8_800])
    close = np.unique((middles[:, None] + rng.integers(-30, 31, (5, 4))).ravel())
    found = handfuls(close)
    assert found.chance > 0.9 and len(found.draws) == 5
    even = [handfuls(np.sort(rng.choice(9_000, 15, replace=False) + 1)).chance for _ in range(40)]
    lean = [
        handfuls(np.unique(np.ceil(9_000 * rng.beta(1.0, 4.0, 15)).astype(int))).chance
        for _ in range(40)
    ]
    # 0.15 is where it counts; 40 of 0.1 with three standard errors are 0.24
    assert np.mean(np.array(even) > 0.15) <= 0.24 and np.mean(np.array(lean) > 0.15) <= 0.24


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


def test_two_numbers_far_above_the_others_are_not_both_taken_for_misread():
    most = [532, 553, 565, 604, 727, 736, 741, 749, 783, 814, 827, 873]
    found = one_series([*most, 2769, 2820], grounds=Grounds.WORD)
    assert found.total.high >= 2820 or not found.bounded
    # one alone may well be
    assert one_series([*most, 2769], grounds=Grounds.WORD).total.low < 2769


def test_a_few_numbers_give_a_floor_and_many_an_interval():
    assert not one_series([500]).bounded
    numbers = (np.random.default_rng(7).choice(5_000, 60, replace=False) + 1).tolist()
    dated = one_series(numbers, grounds=Grounds.DATES)
    assert dated.bounded and dated.total.low < 5_000 < dated.total.high
    # two runs of as many make these numbers as probable as one: no number of them tells
    assert not one_series(numbers).bounded


def test_on_a_persons_word_the_total_is_narrower_and_holds():
    rng = np.random.default_rng(33)
    told, narrower = [], []
    for draw in USED_ONCE.values():
        for _ in range(2):
            truth = draw(rng)
            word = one_series(truth.numbers, grounds=Grounds.WORD)
            told.append(held(word, truth.made))
            alone = one_series(truth.numbers).total
            narrower.append(word.total.high / word.total.low < alone.high / alone.low)
    # below 13 of 18 has a chance of 0.006 where 0.9 hold
    assert sum(told) >= 13 and np.mean(narrower) > 0.8


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


def test_numbers_rounded_by_readers_are_no_works_that_used_every_tenth():
    rng = np.random.default_rng(8)
    numbers = [10 * int(n) for n in rng.choice(np.arange(1, 500), 16, replace=False)]
    found = one_series(numbers, grounds=Grounds.DATES)
    assert found.total.middle > 0.7 * max(numbers)
    assert found.total.low < 500 and not found.bounded


def test_of_many_reports_many_first_figures_are_misread():
    rng = np.random.default_rng(9)
    numbers = rng.choice(np.arange(1, 20_000), 150, replace=False)
    numbers[:5] += 60_000
    assert one_series(numbers.tolist()).total.low < 20_000
