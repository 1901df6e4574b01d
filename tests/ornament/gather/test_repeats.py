"""A border's motif found to come again, and what one place lost taken from its like."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely

from ironlace.evidence.grades import Grade
from ironlace.ornament import OrnamentError, find_repeat, gather
from ironlace.ornament.gilt.gilt_map import GiltMap

PPM = 12.0
STEP = (17.3, 1.1)


def motif(darkroom):
    curl = darkroom.spiral(np.array([3.0, 12.0]), -0.6, 20.0, 0.02, 0.35)
    wide = 0.4 + 1.1 * np.sin(np.pi * np.linspace(0, 1, len(curl)))
    leaf = darkroom.spiral(np.array([8.0, 9.0]), -1.7, 7.0, -0.05, -0.3, 40)
    return shapely.union_all(
        [
            darkroom.stroke(curl, wide),
            darkroom.stroke(leaf, 0.3 + 1.2 * np.sin(np.pi * np.linspace(0, 1, 40))),
            shapely.Point(15.0, 4.0).buffer(0.8),
        ]
    )


def border(darkroom, count=6):
    one = motif(darkroom)
    parts = [
        shapely.transform(one, lambda p, k=k: p + np.array(STEP) * k + (6.0, 6.0))
        for k in range(count)
    ]
    gilt = shapely.union_all(parts)
    return darkroom.Ornament(shapely.MultiPolygon(list(shapely.get_parts(gilt))))


def found(coverage):
    h, w = coverage.shape
    step = (max(2, h // 4), max(2, w // 4))
    return GiltMap(
        coverage,
        np.ones(step, np.float32),
        PPM,
        (0.0, 0.0),
        np.zeros((h, w), np.uint8),
        (0.5, 0.4, 0.2),
        (0.02, 0.02, 0.02),
        0.02,
    )


def test_the_step_is_found_to_a_few_hundredths_of_a_millimetre(darkroom):
    paint = darkroom.painted(border(darkroom), (125.0, 34.0), PPM)
    repeat = find_repeat(paint, PPM, (0.0, 0.0))
    np.testing.assert_allclose(repeat.step_mm, STEP, atol=0.03)
    assert repeat.likeness > 0.8


def test_what_one_motif_lost_is_taken_from_its_like_and_nothing_is_added_beyond(darkroom):
    rng = np.random.default_rng(4)
    ornament = border(darkroom)
    paint = darkroom.painted(ornament, (140.0, 34.0), PPM)
    worn = np.where(darkroom.wear(rng, paint.shape, PPM, 0.3), 0, paint).astype(np.uint8)
    worn = cv2.GaussianBlur(worn, (0, 0), 0.7)
    alone = gather([found(worn)], ["here"])
    made = gather([found(worn)], ["here"], repeat="auto")
    lacking = lambda c: np.count_nonzero((paint > 200) & (c < 100))  # noqa: E731
    assert lacking(made.coverage) < 0.25 * lacking(alone.coverage)
    # 0.3 mm outside the ornament nothing may be added
    wide = cv2.dilate(paint, np.ones((9, 9), np.uint8))
    assert np.count_nonzero((made.coverage > 127) & (wide < 10)) < 0.01 * np.count_nonzero(paint)
    assert made.names[-1] == "repeat"
    assert made.grades[-1] is Grade.INFERRED


def test_scrollwork_without_a_repeat_has_none(darkroom):
    for seed in range(3):
        ornament = darkroom.scrollwork(np.random.default_rng(seed), (10, 10, 150, 90), scrolls=9)
        assert find_repeat(darkroom.painted(ornament, (160.0, 100.0), PPM), PPM, (0, 0)) is None


def test_a_step_that_does_not_fit_is_refused(darkroom):
    paint = darkroom.painted(border(darkroom), (125.0, 34.0), PPM)
    with pytest.raises(OrnamentError, match="another step"):
        gather([found(paint)], ["here"], repeat=(9.0, 7.0))
    given = find_repeat(paint, PPM, (0.0, 0.0), step_mm=(17.0, 1.0))
    np.testing.assert_allclose(given.step_mm, STEP, atol=0.03)
