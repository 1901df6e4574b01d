"""What shines past the strip's rim: joined to what lies within, or left out."""

from __future__ import annotations

import numpy as np

from ironlace.ornament.beyond_the_strip import without_beyond
from ironlace.ornament.gilt.gilt_map import GiltMap
from ironlace.photographs import strip_sheet

FRAME = strip_sheet("wrap").layout
PX = 4.0
ORIGIN = (-60.0, -60.0)
Square = tuple[float, float, float]


def gilt(*squares: Square) -> GiltMap:
    """Gilt in squares (left, top, side) of surface mm, on a flat of 360 x 260 mm."""
    coverage = np.zeros((1040, 1440), np.uint8)
    for x, y, side in squares:
        left, top = round((x - ORIGIN[0]) * PX), round((y - ORIGIN[1]) * PX)
        coverage[top : top + max(round(side * PX), 1), left : left + max(round(side * PX), 1)] = 255
    sure = np.ones((260, 360), np.float32)
    hidden = np.zeros_like(coverage)
    return GiltMap(coverage, sure, PX, ORIGIN, hidden, (0.5, 0.4, 0.1), (0.0, 0.0, 0.0), 0.01)


INNER, ACROSS, SPECK = (60.0, 40.0, 50.0), (190.0, 60.0, 20.0), (150.0, 60.0, 0.05)
RUNS_ON = (218.0, 60.0, 5.0)  # 8 mm from what crosses the rim
ISLAND = (250.0, 60.0, 6.0)


def test_islands_past_the_rim_are_left_out_and_what_runs_on_is_not():
    (told,), length = without_beyond([gilt(INNER, ACROSS, RUNS_ON, ISLAND, SPECK)], FRAME)
    kept = gilt(INNER, ACROSS, RUNS_ON, SPECK)
    np.testing.assert_array_equal(told.coverage, kept.coverage)
    assert abs(length - 24.0) < 1.5  # round pixels' middles
    assert told.certainty[123, 313] == 0.0  # in the island
    assert told.certainty[100, 130] == 1.0


def test_a_colour_near_another_that_lies_within_stays():
    layers, length = without_beyond([gilt(INNER, ACROSS), gilt(RUNS_ON)], FRAME)
    assert length == 0.0
    assert layers[1].coverage.any()


def test_beside_a_strip_that_frames_nothing_all_is_as_it_was():
    beside = gilt((60.0, 150.0, 30.0), (150.0, 160.0, 30.0))
    for strip in (strip_sheet("strip").layout, FRAME):
        assert without_beyond([beside], strip) == ((beside,), 0.0)
