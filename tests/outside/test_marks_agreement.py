"""Cohen's kappa against a published worked example and another library."""

import numpy as np
import pytest
from sklearn.metrics import cohen_kappa_score

from ironlace.marks.reading.agreement import agreement


def _readers(table):
    """Two readers whose counts are the table's, first reader down."""
    first, second, at = {}, {}, 0
    for i, row in enumerate(table):
        for j, count in enumerate(row):
            for _ in range(count):
                first["m", 0, at], second["m", 0, at] = str(i), str(j)
                at += 1
    return first, second


def test_kappa_and_its_error_of_a_published_table():
    """Fleiss (1981), Statistical Methods for Rates and Proportions, section 13.1.

    A hundred subjects in three categories: kappa 0.68, standard error 0.087 (from rounded shares).
    """
    found = agreement(*_readers([[75, 1, 4], [5, 4, 1], [0, 0, 10]]))
    assert found.agree == pytest.approx(0.89)
    assert found.kappa == pytest.approx(0.68, abs=0.005)
    assert (found.high - found.low) / 2 / 1.96 == pytest.approx(0.087, abs=0.001)


@pytest.mark.parametrize("seed", range(20))
def test_kappa_by_another_library(seed):
    rng = np.random.default_rng(seed)
    a = rng.integers(0, 10, 60)
    b = np.where(rng.uniform(size=60) < 0.7, a, rng.integers(0, 10, 60))
    readers = [{("m", 0, i): str(g) for i, g in enumerate(one)} for one in (a, b)]
    assert agreement(*readers).kappa == pytest.approx(cohen_kappa_score(a, b), abs=1e-12)


def test_interval_holds_what_is_so():
    """Of 400 pairs of readers of known kappa the 95 % interval holds it in 0.92 to 0.98."""
    rng = np.random.default_rng(7)
    held = 0
    for _ in range(400):
        a = rng.integers(0, 4, 150)
        b = np.where(rng.uniform(size=150) < 0.6, a, rng.integers(0, 4, 150))
        readers = [{("m", 0, i): str(g) for i, g in enumerate(one)} for one in (a, b)]
        found = agreement(*readers)
        held += found.low <= 0.6 <= found.high
    assert 0.92 <= held / 400 <= 0.98
