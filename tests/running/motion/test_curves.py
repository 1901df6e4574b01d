import numpy as np
import pytest

from ironlace.running.motion.curves import CamCurve, CrankCurve, slider_crank


@pytest.mark.parametrize("curve", [CrankCurve(), CamCurve()], ids=["crank", "cam"])
def test_derivatives_are_those_of_the_curve(curve):
    rng = np.random.default_rng(1)
    numbers = rng.normal(0.0, 0.3, curve.size)
    if isinstance(curve, CrankCurve):
        numbers[:5] = 3.0, 15.0, 0.7, 0.3, 0.1
    angle = np.linspace(0.0, 6.0, 11)
    found = curve.at(angle, numbers)
    step = 1e-5
    moved = curve.at(angle + step, numbers)
    assert np.allclose((moved.value - found.value) / step, found.slope, atol=2e-3)
    assert np.allclose((moved.slope - found.slope) / step, found.bend, atol=2e-2)
    for at in range(curve.size):
        other = numbers.copy()
        other[at] += step
        changed = curve.at(angle, other)
        assert np.allclose((changed.value - found.value) / step, found.by_number[:, at], atol=2e-3)
        slope = (changed.slope - found.slope) / step
        assert np.allclose(slope, found.slope_by_number[:, at], atol=2e-2)


def test_a_pin_in_a_slot_needs_no_special_case():
    rise, _, _ = slider_crank(np.radians([20.0]), 15.0, 0.0)
    assert rise[0] == pytest.approx(15.0 * (1.0 - np.cos(np.radians(20.0))))
