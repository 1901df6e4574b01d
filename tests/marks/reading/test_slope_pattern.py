import numpy as np
import pytest

from ironlace.marks.reading.slope_pattern import SIZE, pattern
from ironlace.marks.reading.strikes import PATCH


def _slopes(rng):
    return rng.normal(0, 0.3, (2, *PATCH)).astype(np.float32)


def test_a_pattern_has_unit_length_and_hardly_knows_the_steepness():
    slopes = _slopes(np.random.default_rng(1))
    plain, steep = pattern(slopes, 0.01), pattern(3 * slopes, 0.01)
    assert plain.shape == (SIZE,)
    assert np.linalg.norm(plain) == pytest.approx(1, abs=1e-5)
    assert float(plain @ steep) > 0.999


def test_opposite_flanks_differ():
    slopes = _slopes(np.random.default_rng(2))
    right = np.abs(slopes)
    assert float(pattern(right, 0.01) @ pattern(-right, 0.01)) < 0.1


def test_bare_metal_is_no_fault():
    assert not np.isnan(pattern(np.zeros((2, *PATCH), np.float32), 1e-4)).any()
