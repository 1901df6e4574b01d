"""What is drawn past the strip's rim: joined to what lies within, or left out."""

from __future__ import annotations

import numpy as np

from ironlace.ornament.beyond_the_strip import without_beyond
from ironlace.ornament.outline.drawing import ClosedPath, Drawing
from ironlace.photographs import strip_sheet

FRAME = strip_sheet("wrap").layout


def square(x: float, y: float, side: float) -> ClosedPath:
    corners = np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])
    ends = np.roll(corners, -1, axis=0)
    share = np.linspace(0, 1, 4)[None, :, None]
    return ClosedPath.of(corners[:, None] * (1 - share) + ends[:, None] * share)


def drawing_of(*paths: ClosedPath) -> Drawing:
    return Drawing(paths, (-60.0, -60.0, 300.0, 200.0), {"gold": "#c8a03c"})


def test_islands_past_the_rim_are_left_out_and_what_runs_on_is_not():
    inner, across = square(60, 40, 50), square(190, 60, 20)
    runs_on = square(218, 60, 5)  # 8 mm from what crosses the rim
    island, speck = square(250, 60, 6), square(150, 60, 0.05)
    told, length = without_beyond(drawing_of(inner, across, runs_on, island, speck), FRAME)
    assert told.paths == (inner, across, runs_on, speck)
    assert abs(length - 24.0) < 0.01


def test_beside_a_strip_that_frames_nothing_all_is_as_it_was():
    beside = drawing_of(square(60, 150, 30), square(150, 160, 30))
    for strip in (strip_sheet("strip").layout, FRAME):
        assert without_beyond(beside, strip) == (beside, 0.0)
