import numpy as np
import pytest

from ironlace.marks.reading.dot_features import (
    NAMES,
    PlateLook,
    beside_own_pits,
    bowl_fit,
    features,
)
from ironlace.marks.reading.relief_slopes import ReliefSlopes

_STEP = 0.025


def _relief(width=0.36, deep=0.08, at=(60.0, 50.0), squeezed=1.0, grain=0.01):
    """A bowl in noisy ground, by its closed form."""
    ys, xs = np.mgrid[0:100, 0:120].astype(float)
    u, v = (xs - at[0]) * _STEP * squeezed, (ys - at[1]) * _STEP / squeezed
    height = -deep * np.clip(1 - (2 * np.hypot(u, v) / width) ** 2, 0, None)
    down, right = np.gradient(height, _STEP)
    noise = np.random.default_rng(1).normal(0, grain, (2, 100, 120))
    return ReliefSlopes((np.stack([right, down]) + noise).astype(np.float32), _STEP)


def test_a_bowl_is_found_with_its_width_depth_and_place():
    fit = bowl_fit(_relief(), 64.0, 47.0, 0.01)
    assert fit.best > 0.85
    assert fit.width_mm == pytest.approx(0.36, abs=0.06)
    assert fit.deep_mm == pytest.approx(0.08, rel=0.25)
    assert fit.dx_mm == pytest.approx(-0.1, abs=0.04)
    assert fit.dy_mm == pytest.approx(0.075, abs=0.04)


def test_a_long_pit_is_no_bowl():
    round_, long_ = bowl_fit(_relief(), 60, 50, 0.01), bowl_fit(_relief(squeezed=1.6), 60, 50, 0.01)
    assert long_.best < round_.best - 0.1
    assert long_.uneven > round_.uneven


def test_bare_metal_tells_little():
    assert bowl_fit(_relief(deep=0.0), 60, 50, 0.01).best < 0.4


def test_numbers_compare_with_the_fellows():
    like = bowl_fit(_relief(), 60, 50, 0.01)
    other = bowl_fit(_relief(width=0.16, deep=0.04), 60, 50, 0.01)
    numbers = features([like] * 5 + [other], PlateLook(0.01, 0.1, ()))
    assert numbers.shape == (6, len(NAMES))
    assert np.isfinite(numbers).all()
    at = NAMES.index("width by fellows")
    assert numbers[0, at] == pytest.approx(0)
    assert numbers[5, at] < -0.3


def test_a_lone_gap_has_no_fellows():
    numbers = features([bowl_fit(_relief(), 60, 50, 0.01)], PlateLook(0.01, 0.1, ()))
    assert np.isfinite(numbers).all()


def test_dots_are_sure_on_clean_metal_and_not_among_pinholes_of_one_size():
    rng = np.random.default_rng(5)
    apart = 3.0  # looks so many spreads apart: ratios are N(-9/2, 3) of pits, N(9/2, 3) of dots
    bare = rng.normal(-(apart**2) / 2, apart, 40)
    struck = rng.normal(apart**2 / 2, apart, 400)
    held = beside_own_pits(struck, bare)
    assert ((struck > 2.2) & (held < 2.2)).mean() < 0.1
    pinholes = np.where(np.arange(40) % 2, 5.0, -3.0)
    found = beside_own_pits(np.array([4.0, 5.5, -2.0]), pinholes)
    assert found[:2].max() < 0.75
    assert found[2] == pytest.approx(-2.0, abs=0.15)
