import math
from collections import Counter

import numpy as np
import pytest

from ironlace.survey.answers import survivors
from ironlace.survey.answers.survivors import (
    chao1,
    chao2,
    chapman,
    equal_chances,
    jackknife,
    rarity,
    survivors_from,
)
from ironlace.survey.errors import SurveyError


def test_equal_chances_interval_covers_as_said():
    rng = np.random.default_rng(21)
    covered = []
    for _ in range(300):
        n = int(np.exp(rng.uniform(2.5, 4.5)))
        t = int(rng.integers(8, 45))
        distinct = len(set(rng.integers(0, n, t).tolist()))
        found = equal_chances(t, distinct)
        covered.append(found.low <= n <= found.high)
    # Counts are whole, so the interval is a little wider than it need be.
    assert 0.87 <= np.mean(covered) <= 0.99


def test_two_lists_cover_about_as_said():
    rng = np.random.default_rng(22)
    covered = []
    for _ in range(500):
        n = int(rng.integers(60, 400))
        p, q = rng.uniform(0.2, 0.5, 2)
        first, second = rng.random(n) < p, rng.random(n) < q
        found = chapman(int(first.sum()), int(second.sum()), int((first & second).sum()))
        covered.append(found.low <= n <= found.high)
    assert 0.85 <= np.mean(covered) <= 0.95


def test_shy_machines_leave_the_lower_bound_below_the_truth():
    rng = np.random.default_rng(23)
    middles = []
    for _ in range(100):
        chance = rng.lognormal(0, 1.0, 150)
        seen = Counter(rng.choice(150, 80, p=chance / chance.sum()).tolist())
        middles.append(chao1(seen.values()).middle)
    assert np.mean(middles) < 150


def test_by_occasions():
    seen = [1, 1, 1, 2, 2, 3]
    assert jackknife(seen, 4).middle == pytest.approx(6 + 3 * 0.75)
    assert chao2(seen, 4).middle == pytest.approx(6 + 0.75 * 3 * 2 / (2 * 3))


def test_nothing_seen_twice_has_no_ceiling():
    found = survivors_from(["a", "b", "c"], ["2001", "2003", None])
    assert found.seen_again == 0
    assert found.sentences()[0].startswith("At least 3 survive, for so many were seen")
    assert "no machine was seen twice" in found.sentences()[0]
    assert f"at least {chao1([1, 1, 1]).low:.0f} survive" in found.sentences()[1]
    equal = next(e for e in found.estimates if e.name == "equal chances")
    assert math.isinf(equal.high) and equal.as_dict()["high"] is None


def test_two_years_make_two_lists():
    found = survivors_from(list("abcdabx"), ["1"] * 4 + ["2"] * 3)
    lists = next(e for e in found.estimates if "two lists" in e.name)
    assert lists.middle == pytest.approx(5 * 4 / 3 - 1)
    assert len({e.name for e in found.estimates}) == len(found.estimates) == 5


def test_rarity_and_zero_sightings():
    none = rarity(0, 10)
    assert none.low == 0 and none.high == pytest.approx(-math.log(0.05) / 10)
    assert "does not show that none" in none.sentence()
    some = rarity(9, 3)
    assert some.low < 3 < some.high


def test_rarity_interval_covers_as_said():
    rng = np.random.default_rng(24)
    covered = []
    for _ in range(500):
        rate = rng.uniform(0.3, 4)
        found = rarity(int(rng.poisson(rate * 5)), 5.0)
        covered.append(found.low <= rate <= found.high)
    assert 0.88 <= np.mean(covered) <= 0.98


@pytest.mark.parametrize(
    "call",
    [
        lambda: chapman(3, 4, 5),
        lambda: chao1([]),
        lambda: chao2([1], 1),
        lambda: equal_chances(3, 4),
        lambda: rarity(-1, 3),
        lambda: survivors_from([], []),
    ],
)
def test_what_cannot_be_estimated_is_refused(call):
    with pytest.raises(SurveyError):
        call()


@pytest.mark.parametrize(("sightings", "distinct"), [(300, 290), (300, 200), (250, 249)])
def test_very_many_sightings_are_reckoned_nearly_as_if_counted_through(
    sightings, distinct, monkeypatch
):
    exact = equal_chances(sightings, distinct)
    monkeypatch.setattr(survivors, "_COUNTED_THROUGH", 100)
    near = equal_chances(sightings, distinct)
    assert near.low == pytest.approx(exact.low, rel=0.05)
    assert near.high == pytest.approx(exact.high, rel=0.05)


def test_a_hundred_thousand_sightings_are_answered():
    found = equal_chances(100_000, 95_010)
    assert found.low < found.middle < found.high < 1.06 * found.low
    assert equal_chances(100_000, 99_998).middle > 1e9
