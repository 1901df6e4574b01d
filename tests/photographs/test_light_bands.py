"""Flicker is told from shadows and from work that turns away, by paper at both sides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ironlace.photographs import Placing, find_strip, place_surface
from ironlace.photographs.light_bands import light_bands


@pytest.fixture(scope="module")
def placing(plane_case) -> Placing:
    sighting = find_strip(plane_case.image, plane_case.layout)
    return place_surface(plane_case.image, sighting, plane_case.layout, lens=plane_case.lens)


def lit(placing: Placing, law) -> Placing:
    """The same with the paper's light times a law of the place in the picture, px."""
    px = placing.to_pixels(placing.paper_points_mm)
    times = np.asarray(law(px[:, 0], px[:, 1]), np.float64).reshape(-1, len(px)).T
    return replace(placing, paper_light=(placing.paper_light * times).astype(np.float32))


def test_even_light_has_no_bands(placing):
    assert light_bands(placing) < 0.02


@pytest.mark.parametrize("upright", [False, True])
def test_bands_along_rows_or_columns_are_told_by_how_far_they_swing(placing, upright):
    def law(x, y):
        return 1.0 + 0.2 * np.sin((x if upright else y) * 2 * np.pi / 90)

    assert light_bands(lit(placing, law)) == pytest.approx(0.2 / np.sqrt(2), rel=0.25)


def test_bands_of_one_colour_alone_are_told(placing):
    def law(x, y):
        return [np.ones_like(x), np.ones_like(x), 1.0 + 0.2 * np.sin(y * 2 * np.pi / 90)]

    assert light_bands(lit(placing, law)) > 0.1


@pytest.mark.parametrize(
    "law",
    [
        lambda x, y: np.where(x < np.median(x), 1.0 + 0.3 * np.sin(y / 14.0), 1.0),
        lambda x, y: np.where(np.hypot(x - x.min(), y - y.min()) < 0.4 * np.ptp(x), 0.3, 1.0),
        lambda x, y: 1.0 - 0.8 * ((y - y.mean()) / np.ptp(y)) ** 2,
        lambda x, y: np.exp(-2.0 * (x - x.min()) / np.ptp(x)),
    ],
    ids=["one side alone", "a shadow in a corner", "dim towards the limb", "a lamp at one side"],
)
def test_what_is_no_band_is_not_told(placing, law):
    assert light_bands(lit(placing, law)) < 0.06


def test_of_measured_places_without_paper_nothing_is_told(placing):
    bare = replace(
        placing,
        paper_points_mm=np.zeros((0, 2)),
        paper_light=np.zeros((0, 3), np.float32),
    )
    assert light_bands(bare) == 0.0
