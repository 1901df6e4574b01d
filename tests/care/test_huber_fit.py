"""A fit that far-off places do not drag along."""

import numpy as np
import pytest

from ironlace.care.huber_fit import huber_fit


def test_without_outliers_it_is_least_squares_nearly():
    rng = np.random.default_rng(2)
    at = np.linspace(0.0, 10.0, 400)
    design = np.column_stack([at, np.ones(400)])
    seen = 0.7 * at - 2.0 + 0.05 * rng.normal(size=400)
    plain = np.linalg.lstsq(design, seen, rcond=None)[0]
    assert huber_fit(design, seen, 2.0)[0] == pytest.approx(plain, abs=0.003)


def test_one_place_in_eight_far_off_moves_it_by_little():
    rng = np.random.default_rng(3)
    at = np.linspace(0.0, 10.0, 80)
    design = np.column_stack([at, np.ones(80)])
    seen = 0.7 * at - 2.0 + 0.05 * rng.normal(size=80) + np.where(np.arange(80) % 8 == 7, 4.0, 0.0)
    fit, off, weight = huber_fit(design, seen, 1.5)
    assert abs(fit[0] - 0.7) < 0.02
    assert len(off) == len(weight) == 80
    assert weight[7::8].max() < 0.1
