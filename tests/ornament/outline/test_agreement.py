"""Boundary distances between drawings whose distance is known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.ornament import Drawing, DrawingError, compare
from small_drawings import circle

WINDOW = (0.0, 0.0, 40.0, 20.0)


@settings(max_examples=15, deadline=None)
@given(st.floats(1.0, 6.0), st.floats(0.01, 0.5))
def test_concentric_circles_are_apart_by_their_radii(radius: float, more: float) -> None:
    a = Drawing((circle(10, 10, radius),), WINDOW)
    b = Drawing((circle(10, 10, radius + more),), WINDOW)
    found = compare(a, b)
    assert found.forth.mean_mm == pytest.approx(more, abs=0.004)
    assert found.back.p95_mm == pytest.approx(more, abs=0.006)
    ring = np.pi * ((radius + more) ** 2 - radius**2)
    assert found.area_apart == pytest.approx(ring, rel=0.03, abs=0.05)


def test_a_false_stroke_shows_on_the_way_forth_only() -> None:
    truth = Drawing((circle(10, 10, 5),), WINDOW)
    found = compare(Drawing((circle(10, 10, 5), circle(30, 10, 2)), WINDOW), truth)
    assert found.forth.max_mm > 10 and found.back.max_mm < 0.01


def test_empty_drawings_cannot_be_compared() -> None:
    with pytest.raises(DrawingError, match="empty"):
        compare(Drawing((), WINDOW), Drawing((circle(1, 1, 1),), WINDOW))
