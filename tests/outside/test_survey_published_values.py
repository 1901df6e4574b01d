"""Published worked values for totals and survivors."""

import numpy as np
import pytest

from ironlace.survey.answers.survivors import chao1, chapman, rarity
from ironlace.survey.answers.totals import total_from_one, total_with_unknown_start


def test_captured_equipment_textbook_case():
    """Numbers 19, 40, 42, 60: 74 (the usual textbook case of the problem; from memory).

    The estimator is that of Goodman 1952, JASA 47, after the war-time practice told by
    Ruggles & Brodie 1947, JASA 42, 72-91.
    """
    assert total_from_one([19, 40, 42, 60]).middle == pytest.approx(74.0)


def test_the_estimator_is_unbiased_as_goodman_proved():
    """Mean over every sample of 3 from 8 equals 8 exactly (Goodman 1952)."""
    from itertools import combinations

    estimates = [total_from_one(list(c)).middle for c in combinations(range(1, 9), 3)]
    assert np.mean(estimates) == pytest.approx(8.0)
    shifted = [
        total_with_unknown_start([n + 40 for n in c]).middle for c in combinations(range(1, 9), 3)
    ]
    assert np.mean(shifted) == pytest.approx(8.0)


def test_interval_ends_against_plain_counting():
    """The upper end is the last total for which so low a maximum still has a chance of 5 %."""
    from math import comb

    numbers = [3, 11, 17, 30]
    found = total_from_one(numbers)

    def chance(total):
        return comb(30, 4) / comb(total, 4)

    assert chance(int(found.high)) >= 0.05 > chance(int(found.high) + 1)


def test_range_interval_against_plain_counting():
    """Chance of a range not above the one seen, by enumeration of every sample."""
    from itertools import combinations

    found = total_with_unknown_start([5, 9, 14])
    top = int(found.high)

    def chance(total):
        ranges = [c[-1] - c[0] for c in combinations(range(1, total + 1), 3)]
        return np.mean(np.array(ranges) <= 9)

    assert chance(top) >= 0.05 > chance(top + 1)


def test_two_lists_worked_example():
    """10 marked, 15 caught, 5 of them marked: 28.3 (common textbook example; from memory)."""
    assert chapman(10, 15, 5).middle == pytest.approx(11 * 16 / 6 - 1)
    assert round(chapman(10, 15, 5).middle) == 28


@pytest.mark.parametrize(
    ("counts", "middle", "low", "high"),
    [
        ([0, 1, 1, 4, 2, 5, 2, 4, 1, 2], 9.75, 9.07, 17.45),
        ([0, 1, 1, 4, 5], 5.0, 4.08, 17.27),
    ],
)
def test_chao_against_scikit_bio(counts, middle, low, high):
    """Estimates and 95 % limits as in the tests of scikit-bio (limits to two places)."""
    found = chao1(counts, share=0.95)
    assert found.middle == pytest.approx(middle)
    assert (found.low, found.high) == pytest.approx((low, high), rel=0.01)


def test_chao_without_singles_is_what_was_seen():
    """scikit-bio: counts 2, 2, 4, 5 give 4."""
    assert chao1([2, 2, 4, 5]).middle == 4


@pytest.mark.parametrize(
    ("count", "low", "high"),
    [(0, 0.0, 2.996), (1, 0.051, 4.744), (5, 1.970, 10.513), (10, 5.425, 16.962)],
)
def test_poisson_limits(count, low, high):
    """Garwood 1936, two-sided 90 % limits of a Poisson mean (from memory)."""
    found = rarity(count, 1.0)
    assert (found.low, found.high) == pytest.approx((low, high), abs=0.002)
