"""Seams whose number of stitches, or whose one length, may be another; painted, all holes known."""

import dataclasses
import itertools
import re

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from ironlace.running.seam.bearing import Origin
from ironlace.running.seam.count_doubted import count_doubted, two_lengths
from ironlace.running.seam.seam_analysis import seam_found

MM = 600.0 / 25.4


def painted(holes_mm, wide_mm, *, tacking_mm=None, seed=1):
    """A level seam of dark red thread on grey cloth with its holes at some places, 600 dots."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0 : int(9 * MM), 0 : int(wide_mm * MM)] / MM
    light = 190 + 14 * gaussian_filter(rng.normal(size=x.shape), 1.5)
    light = np.repeat(light[..., None], 3, axis=2)
    if tacking_mm is not None:
        on = (np.abs(y - 4.5 - tacking_mm) < 0.22) & (x < 13)
        light[on] = (250, 250, 250)
    for a, b in itertools.pairwise(holes_mm):
        share = (x - a) / (b - a)
        half = 0.15 * np.sqrt(np.clip(4 * share * (1 - share), 0, 1))
        cover = np.clip((half - np.abs(y - 4.5)) * MM + 0.5, 0, 1) * ((share > 0) & (share < 1))
        lit = 1.0 - 1.5 * (y - 4.5)
        light = light * (1 - cover[..., None]) + (150 * lit * cover)[..., None] * (0.8, 0.3, 0.35)
    for hole in holes_mm:
        light *= 1 - 0.7 * np.exp(-((np.hypot(x - hole, y - 4.5) / 0.15) ** 2))[..., None]
    seen = gaussian_filter(light, (0.9, 0.9, 0)) + rng.normal(0, 2, light.shape)
    return np.clip(seen, 0, 255).astype(np.uint8)


def found_in(holes_mm, wide_mm, **how):
    pixels = painted(holes_mm, wide_mm, **how)
    return seam_found(pixels, Origin(), dpi=600.0, layout=None)


def holes_of(lengths, first):
    rng = np.random.default_rng(5)
    lengths = np.asarray(lengths, float)
    return first + np.r_[0.0, np.cumsum(lengths * (1 + 0.02 * rng.normal(size=len(lengths))))]


@pytest.fixture(scope="module")
def plain():
    return found_in(holes_of([2.1] * 12, 5.0), 35.0).measured


def test_the_last_holes_are_found_on_wide_bare_cloth(plain):
    holes = holes_of([2.1] * 12, 5.0)
    assert plain.stitches.sum() == 12
    assert np.sort(plain.places_mm[:, 0])[[0, -1]] == pytest.approx(holes[[0, -1]], abs=0.3)
    assert count_doubted(plain) == ""
    assert two_lengths(plain) == []


def test_a_seam_is_followed_past_a_tacking_thread_beside_its_beginning():
    holes = holes_of([2.0] * 18, 1.6)
    seen = found_in(holes, 40.0, tacking_mm=1.3).measured
    far = np.abs(np.sort(seen.places_mm[:, 0])[:, None] - holes[None]).min(axis=0)
    assert (far < 0.3).mean() > 0.9


def test_two_lengths_are_told_with_the_place_between_them():
    holes = holes_of([1.8] * 10 + [2.4] * 9, 2.0)
    told = two_lengths(found_in(holes, 44.0).measured)
    assert len(told) == 1
    one, place, two = map(float, re.findall(r"(\d+\.?\d*) mm", told[0])[:3])
    assert (one, two) == pytest.approx((1.8, 2.4), abs=0.04)
    assert place == pytest.approx(18.0, abs=2.5)
    assert "the regulator slips" in told[0]


def test_a_few_holes_that_fit_in_nowhere_doubt_the_length():
    lengths = [3.6] * 4 + [1.8, 1.8] + [3.6] * 5
    assert "was passed over" in count_doubted(found_in(holes_of(lengths, 2.0), 44.0).measured)


def test_what_doubts_the_number_is_said_behind_it(plain):
    usual = plain.figures.mean_mm[1]

    def said(**change):
        return count_doubted(dataclasses.replace(plain, **change))

    assert "at one end the thread goes on" in said(unfound_mm=(0.0, usual))
    assert "at both ends" in said(unfound_mm=(usual, usual))
    assert said(unfound_mm=(0.3 * usual, 0.0)) == ""
    assert "beyond its last hole no thread of its colour is seen for 12 mm" in said(
        bare_mm=(3.0, 12.0)
    )
    assert "at 3 mm and 9 mm lies within" in said(passed_mm=np.array([3.0, 9.0]))
    assert "and 2 places more" in said(passed_mm=np.arange(5.0))
    stitches = np.ones(12, np.int64)
    stitches[[4, 5, 6, 7]] = 2
    assert "every second one was told as skipped" in said(stitches=stitches)
    stitches[[5, 7]] = 1
    assert said(stitches=stitches) == ""
