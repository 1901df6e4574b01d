import math
from itertools import permutations

import numpy as np
import pytest

from ironlace.survey.likelihood.order_of_numbers import (
    Line,
    log_gain_beside_lines,
    log_gain_of_order,
)


@pytest.mark.parametrize("dates", [[1, 2, 3, 4], [1, 1, 2, 3], [1, 1, 1, 2, 2], [5, 5, 5]])
def test_over_all_pairings_nothing_is_gained(dates):
    gains = [math.exp(log_gain_of_order(dates, p)) for p in permutations(range(len(dates)))]
    assert np.mean(gains) == pytest.approx(1.0)


def test_the_sum_over_lines_is_that_over_every_choice():
    rng = np.random.default_rng(3)
    dates, numbers = rng.integers(0, 5, 8).tolist(), rng.permutation(8).tolist()
    total = 0.0
    for rate, often in ((0.01, 0.5), (0.05, 0.35), (0.15, 0.15)):
        for chosen in range(2**8):
            here = [i for i in range(8) if chosen >> i & 1]
            rises = all(numbers[i] <= numbers[j] for i in here for j in here if dates[i] < dates[j])
            if rises:
                ties = np.unique([dates[i] for i in here], return_counts=True)[1] if here else []
                orders = math.factorial(len(here)) / math.prod(math.factorial(t) for t in ties)
                total += often * orders * (1 - rate) ** len(here) * rate ** (8 - len(here))
    assert math.exp(log_gain_of_order(dates, numbers)) == pytest.approx(total)


def test_order_speaks_for_and_disorder_against_and_one_out_of_line_does_not_decide():
    dates = list(range(10))
    rising = [10 * d for d in dates]
    one_off = [*rising[:4], 200, *rising[5:]]
    assert log_gain_of_order(dates, rising) > 14
    assert log_gain_of_order(dates, one_off) > 7
    assert log_gain_of_order(dates, [14, 4, 22, 31, 16, 26, 37, 5, 20, 1]) < -2


@pytest.mark.parametrize(
    ("months", "spread", "years"), [([1, 2, 3], 0.6, 1), ([1, 1, 4, 6], 0.3, 1), ([2, 7], 0.6, 3)]
)
def test_numbers_near_a_line_gain_nothing_on_the_whole(months, spread, years):
    rng = np.random.default_rng(8)
    centre = np.log(np.array(months) / 12.0)
    spreads = np.full(len(months), spread)
    gains = [
        math.exp(
            log_gain_beside_lines(
                [
                    Line(months, centre, spreads, np.exp(rng.normal(centre, spreads)).tolist())
                    for _ in range(years)
                ]
            )
        )
        for _ in range(1500)
    ]
    # the grid is coarse: within a twentieth, and four standard errors
    assert abs(np.mean(gains) - 1.0) < 0.05 + 4 * np.std(gains) / math.sqrt(len(gains))


def test_one_year_out_of_line_makes_another_more_probable():
    """The rate is that of the survey: two years in disorder cost less than twice one."""
    disorder = Line([2, 7], [0.0, 0.1], [1.0, 1.0], [30, 10])
    once = log_gain_beside_lines([disorder])
    assert once < -1.0
    assert 2 * once < log_gain_beside_lines([disorder, disorder]) < once
