import numpy as np
import pytest

from ironlace.survey.time.season import season_of


def test_months_of_one_half_year_teach_a_season_and_scattered_ones_none():
    rng = np.random.default_rng(1)
    half = [season_of(rng.integers(3, 9, 8).tolist()) for _ in range(30)]
    any_ = [season_of(rng.integers(0, 12, 8).tolist()).gain for _ in range(30)]
    assert np.median([s.gain for s in half]) > 3.0 and np.median(any_) < 0.7
    busy = np.mean([s.rate[4:8].mean() for s in half])
    idle = np.mean([s.rate[[11, 0, 1]].mean() for s in half])
    assert busy > 1.4 and idle < 0.5


def test_the_mean_rate_is_one_and_a_gain_is_a_ratio_of_probabilities():
    assert season_of([2, 3, 3, 11]).rate.mean() == pytest.approx(1.0)
    # over all months that could have come the gain is 1 in the mean
    assert np.mean([season_of([a, b]).gain for a in range(12) for b in range(12)]) == pytest.approx(
        1.0
    )
    assert season_of([]).gain == pytest.approx(1.0)
