import numpy as np
import pytest

from ironlace.survey.answers.totals import (
    total_from_one,
    total_with_unknown_start,
    totals_by_series,
    two_blocks,
)
from ironlace.survey.errors import SurveyError


def test_intervals_of_one_series_cover_as_said():
    rng = np.random.default_rng(11)
    inside = {"start known": [], "start unknown": []}
    for _ in range(500):
        made = int(np.exp(rng.uniform(5, 10)))
        k = int(rng.integers(3, 25))
        numbers = (rng.choice(made, k, replace=False) + 1).tolist()
        known = total_from_one(numbers)
        unknown = total_with_unknown_start([n + 5000 for n in numbers])
        inside["start known"].append(known.low <= made <= known.high)
        inside["start unknown"].append(unknown.low <= made <= unknown.high)
    for covered in inside.values():
        assert 0.87 <= np.mean(covered) <= 0.94


def test_series_cover_as_said_and_allow_for_size_bias():
    rng = np.random.default_rng(12)
    mean, each, both, naive = [], [], [], []
    for _ in range(40):
        middle, sigma = np.exp(rng.uniform(3.5, 7)), rng.uniform(0.15, 0.9)
        made = np.maximum(1, np.round(middle * np.exp(rng.normal(0, sigma, 60)))).astype(int)
        series = {}
        for i in rng.choice(60, int(rng.integers(8, 40)), p=made / made.sum()):
            series.setdefault(str(i), []).append(int(rng.integers(1, made[i] + 1)))
        found = totals_by_series(series)
        truth = middle * np.exp(sigma**2 / 2)
        mean.append(found.mean.low <= truth <= found.mean.high)
        one = str(rng.choice(list(series)))
        each.append(found.each[one].low <= made[int(one)] <= found.each[one].high)
        total = found.sum_over(60)
        both.append(total.low <= made.sum() <= total.high)
        naive.append(np.log(made[[int(i) for i in series]].mean() / truth))
    # 40 runs of 0.9: two standard errors are 0.095.
    for covered in (mean, each, both):
        assert 0.8 <= np.mean(covered) <= 1.0
    # Without the allowance the series that are met would look too large.
    assert np.mean(naive) > 0.05


def test_a_series_met_often_is_known_better():
    found = totals_by_series({"a": [100, 220, 310, 405, 420], "b": [77], "c": [210]})
    width = {k: t.high / t.low for k, t in found.each.items()}
    assert width["a"] < width["b"]
    assert found.each["a"].low >= 420


def test_the_whole_is_no_less_than_what_was_surely_made_of_the_series_seen():
    for one in ({"1918": list(range(80, 88))}, {"a": [400], "b": [380], "c": [20]}):
        found = totals_by_series(one).sum_over(len(one))
        assert found.low >= sum(max(numbers) for numbers in one.values())
        assert found.low <= found.middle <= found.high


def test_two_blocks_are_noticed_and_one_series_is_not_cut():
    rng = np.random.default_rng(13)
    false, true, covered = [], [], []
    for _ in range(40):
        k = int(rng.integers(10, 30))
        one = two_blocks((rng.choice(9000, k, replace=False) + 1).tolist())
        false.append(one.found)
        a, b, gap = 3000, 2500, 8000
        numbers = rng.choice(a + b, k, replace=False) + 1
        two = two_blocks(np.where(numbers > a, numbers + gap, numbers).tolist())
        true.append(two.found)
        if two.total is not None:
            covered.append(two.total.low <= a + b <= two.total.high)
    assert np.mean(false) <= 0.05
    assert np.mean(true) >= 0.9
    assert np.mean(covered) >= 0.8


def test_block_sentence_and_too_few():
    assert two_blocks([1, 2, 3]) is None
    found = two_blocks([12, 55, 70, 33, 91, 80, 20, 9001, 9020, 9050, 9077, 9099, 9065])
    assert found.found and found.first == (12, 91) and found.second[0] == 9001
    assert "two blocks" in found.sentence()


def test_one_number_gives_a_wide_total():
    found = total_from_one([500])
    assert found.middle == 999 and found.high > 5000 and found.low >= 500


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: total_from_one([]), "0 distinct numbers"),
        (lambda: total_from_one([0, 4]), "starts from 1"),
        (lambda: total_from_one([4], start=10), "starts at 10"),
        (lambda: total_with_unknown_start([7, 7]), "1 distinct number given"),
        (lambda: totals_by_series({}), "No number"),
        (lambda: totals_by_series({"a": [3]}).sum_over(0), "no meaning"),
    ],
)
def test_what_cannot_be_counted_is_said(call, says):
    with pytest.raises(SurveyError, match=says):
        call()
