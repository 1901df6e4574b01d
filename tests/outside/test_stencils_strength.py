"""Beam formulas against the tabulated cases of engineering handbooks.

Euler-Bernoulli cases (from memory; W. C. Young and R. G. Budynas, "Roark's formulas for stress and
strain", table 8.1, cases 2a and 1d): own weight w L^4 / 8 E I, built in
at both ends with a middle load P L^3 / 192 E I. The numbers below are worked by hand.
"""

import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid

from ironlace.ornament.stencils.planning.strength import (
    built_in_point_mm,
    cantilever_own_weight_mm,
)


def test_a_steel_bar_one_metre_long():
    # 10 x 10 mm, E 200 GPa: I = 833.33 mm^4
    # its own weight, 7850 kg/m^3: w = 0.0076982 N/mm; w * 1e12 / (8 * 2e5 * 833.33) = 5.7737 mm
    assert cantilever_own_weight_mm(1000.0, 10.0, 200.0, 7850.0) == pytest.approx(5.7737, rel=1e-4)


def test_a_steel_bar_built_in_at_both_ends():
    # the same bar, 10 N at its middle: 10 * 1e9 / (192 * 2e5 * 833.33) = 0.3125 mm
    assert built_in_point_mm(10.0, 1000.0, 10.0, 10.0, 200.0) == pytest.approx(0.3125)


def test_droop_agrees_with_integrating_the_bending_moment():
    length, thickness, modulus, density = 20.0, 0.1, 4.5, 1390.0
    x = np.linspace(0, length, 20_001)
    w = density * 1e-9 * 9.80665 * thickness
    curve = w * (length - x) ** 2 / 2 / (modulus * 1e3 * thickness**3 / 12)
    slope = cumulative_trapezoid(curve, x, initial=0)
    droop = cumulative_trapezoid(slope, x, initial=0)[-1]
    assert cantilever_own_weight_mm(length, thickness, modulus, density) == pytest.approx(
        droop, rel=1e-6
    )
