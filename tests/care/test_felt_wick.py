"""Felts: what they hold, how long they wick, and when they never will."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from ironlace.care.errors import CareError
from ironlace.care.felt_wick import Felt, felt_found, felt_in_words, upright_s

FELT = Felt("cup", (30.0, 10.0, 5.0), 0.8, 30.0, 20.0, 2.0)


def test_the_climb_is_that_of_the_equation_of_motion():
    # Washburn's equation integrated step by step: dh/dt = r^2/(8 eta h) (2 gamma/r - rho g h)
    r, eta, rho, gamma, height = 30e-6, 0.05, 860.0, 0.03, 0.12

    def climb(_t, h):
        return r**2 / (8 * eta * h) * (2 * gamma / r - rho * 9.80665 * h)

    reached = solve_ivp(
        climb, (0, 5e4), [1e-6], rtol=1e-9, atol=1e-12, events=lambda _t, h: h[0] - height
    )
    assert upright_s(height, r, eta, rho, gamma) == pytest.approx(reached.t_events[0][0], rel=1e-4)


def test_time_grows_with_the_square_of_the_winding_and_is_wide():
    viscosity = (54.293, 54.293, 54.293)
    once = felt_found(Felt("a", (30, 10, 5), 0.8, 30.0, 20.0, 1.0), viscosity, 860.0, 0.030)
    twice = felt_found(FELT, viscosity, 860.0, 0.030)
    assert np.array(twice.wick_s) == pytest.approx(4 * np.array(once.wick_s))
    assert once.wick_s[2] / once.wick_s[0] >= 8
    assert once.holds_ml == pytest.approx(1.2)


def test_what_never_climbs_is_said():
    found = felt_found(Felt("a", (30, 10, 5), 0.8, 200.0, 50.0, 1.0), (54, 54, 54), 860.0, 0.030)
    assert found.wick_s is None
    assert "never" in felt_in_words(FELT, found)
    with pytest.raises(CareError, match="stops at 142 mm"):
        upright_s(0.2, 50e-6, 0.05, 860.0, 0.030)


def test_without_pores_no_time_is_invented():
    found = felt_found(Felt("a", (30, 10, 5), 0.8), (54, 54, 54), 860.0, 0.030)
    assert found.wick_s is None
    assert "tortuosity" in found.why
    assert found.drops[0] < found.drops[1] < found.drops[2]
