"""A strip that is not true to its size is contradicted by whatever else of known size is there."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ironlace.photographs.scale_beside import measured_beside, second_strip
from ironlace.photographs.scale_strip import marker_rings_mm, strip_sheet

CORNERS = np.array([(20.0, 20.0), (180.0, 22.0), (100.0, 105.0)])


def test_places_measured_by_hand_contradict_a_strip_copied_too_small(plane_case):
    image, layout = plane_case.image, plane_case.layout
    placing = plane_case.traced.placings[0]
    px = placing.to_pixels(CORNERS)

    def beside(times):
        return measured_beside(image, layout, placing, np.column_stack([px, CORNERS * times]))

    assert not beside(1.0).contradicts
    assert beside(0.97).contradicts
    assert beside(0.97).times == pytest.approx(1 / 0.97, rel=1e-3)
    assert measured_beside(image, layout, placing, []) is None


@pytest.mark.parametrize("times", [1.0, 1.03])
def test_a_second_strip_is_read_and_held_against_the_first(plane_case, times):
    image = plane_case.image.copy()
    placing = plane_case.traced.placings[0]
    assert second_strip(image, plane_case.layout, placing) is None
    for marker in strip_sheet("frame").layout.markers[:4]:
        ring = np.asarray(marker.corners_mm)
        paper = ring.mean(axis=0) + (ring - ring.mean(axis=0)) * 1.3
        for shape, colour in ((paper, 235), *((r, 20) for r in marker_rings_mm(marker)[:1])):
            at = placing.to_pixels(shape * times + (20, 25))
            cv2.fillPoly(image, [np.round(at * 16).astype(np.int32)], [colour] * 3, 8, 4)
        for hole in marker_rings_mm(marker)[1:]:
            at = placing.to_pixels(hole * times + (20, 25))
            cv2.fillPoly(image, [np.round(at * 16).astype(np.int32)], [235] * 3, 8, 4)
    beside = second_strip(image, plane_case.layout, placing)
    assert beside is not None and "frame" in beside.what
    assert beside.times == pytest.approx(times, abs=0.004)
    assert beside.contradicts == (times != 1.0)
