"""The mirror axis found on a drawing, against the axis it was built about."""

import numpy as np
import pytest

from ironlace.ornament import ClosedPath, Drawing
from ironlace.ornament.by_hand.drawn_axis import find_axis
from ironlace.ornament.outline.brush_strokes import area_curves, smooth_line, stroke_area


def strokes(rng, count):
    """Random smooth strokes left of x = 60, in a field of 60 by 70 mm."""
    for _ in range(count):
        at = rng.uniform((6, 8), (50, 62))
        line = at + np.cumsum(rng.normal(0, 3.5, (6, 2)), axis=0)
        line = np.clip(line, (4, 4), (56, 66))
        yield from area_curves(stroke_area(smooth_line(line), [rng.uniform(0.6, 1.4)]))


def about(axis_x, turn_deg, halves):
    """Every curve and its mirror image about an upright axis, all turned about (60, 35)."""
    t = np.radians(turn_deg)
    turn = np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
    both = [c for half in halves for c in (half, half * (-1, 1) + (2 * axis_x, 0))]
    paths = [ClosedPath.of((c - (60, 35)) @ turn + (60, 35)) for c in both]
    return Drawing(tuple(paths), (0.0, -5.0, 120.0, 75.0))


@pytest.mark.parametrize("turn", [0.0, 1.0, -7.0])
def test_an_axis_is_found_where_the_drawing_was_mirrored(turn):
    rng = np.random.default_rng(11)
    found = find_axis(about(60.0, turn, list(strokes(rng, 14))))
    assert found is not None
    apart = (found.direction_deg - (90.0 + turn) + 90.0) % 180.0 - 90.0
    assert abs(apart) < 0.05
    normal = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    assert abs((np.array(found.at_mm) - (60, 35)) @ normal) < 0.03
    assert -90 < found.direction_deg <= 90
    assert found.matched > 0.9


def test_a_drawing_without_a_mirror_has_no_axis():
    rng = np.random.default_rng(12)
    paths = [ClosedPath.of(c) for c in strokes(rng, 14)]
    assert find_axis(Drawing(tuple(paths), (0.0, 0.0, 60.0, 70.0))) is None
    assert find_axis(Drawing((), (0.0, 0.0, 60.0, 70.0))) is None
