"""Unrolling against the analytic cylinder and cone.

Sources: arc length on a cylinder is radius times angle; a cone of half angle alpha develops to a
sector whose radius is the slant height and whose angle is the turn times sin(alpha) (texts on
developable surfaces, e.g. do Carmo 1976; from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.photographs import Round


def test_cylinder_points_lie_on_the_cylinder_at_their_arc_length() -> None:
    cylinder = Round((0.0, 0.0), 40.0, 0.0)
    s = np.linspace(-60, 60, 25)
    space = cylinder.to_space(np.column_stack([np.full(25, 7.0), s]))
    assert np.allclose(space[:, 0], 7.0)
    assert np.allclose(space[:, 1], 40 * np.sin(s / 40))
    assert np.allclose(space[:, 2], 40 - 40 * np.cos(s / 40))


def test_cone_unrolls_to_the_sector_of_its_slant_height() -> None:
    alpha, radius = np.deg2rad(10.0), 30.0
    cone = Round((0.0, 0.0), radius, 0.0, float(np.sin(alpha)))
    slant = radius / np.sin(alpha)
    apex = np.array([-slant, 0.0])
    for turn in (0.3, 1.0, 2.5):
        angle = turn * np.sin(alpha)
        for rho in (slant * 0.8, slant, slant * 1.3):
            place = apex + rho * np.array([np.cos(angle), np.sin(angle)])
            space = cone.to_space(place)
            start = cone.to_space(apex + np.array([rho, 0.0]))
            # the same height, and a chord of the parallel circle of radius rho sin(alpha)
            chord = 2 * rho * np.sin(alpha) * np.sin(turn / 2)
            assert np.linalg.norm(space - start) == pytest.approx(chord, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(
    st.floats(15, 120),
    st.floats(-0.3, 0.3),
    st.floats(-3, 3),
    st.floats(-20, 20),
    st.floats(-20, 20),
)
def test_small_lengths_and_angles_are_kept(radius, taper, axis, x, y) -> None:
    surface = Round((3.0, -2.0), radius, axis, taper)
    h = 1e-4
    at = np.array([x, y])
    origin = surface.to_space(at)
    right = (surface.to_space(np.array([x + h, y])) - origin) / h
    down = (surface.to_space(np.array([x, y + h])) - origin) / h
    assert np.linalg.norm(right) == pytest.approx(1, abs=2e-3)
    assert np.linalg.norm(down) == pytest.approx(1, abs=2e-3)
    assert right @ down == pytest.approx(0, abs=2e-3)
    outward = -np.cross(right, down)
    assert outward @ surface.normals(at) == pytest.approx(1, abs=4e-3)
