"""The least any split can stray, against cases reckoned by hand and against plans."""

import numpy as np
import pytest
from shapely import MultiPolygon, box

import ornaments
from ironlace.ornament.stencils import plan_sheets
from ironlace.ornament.stencils.split.least_stray import least_stray
from ironlace.ornament.stencils.webs import thin_webs


def bound(gap, length, bare, error=0.2):
    webs = thin_webs(MultiPolygon([box(0, 0, length, 4), box(0, 4 + gap, length, 8 + gap)]), 0.7)
    area = 8.0 * length
    return least_stray(webs, area, least_web_mm=0.7, register_mm=error, bare=bare) * area


def test_with_nothing_bare_it_is_the_mean_over_directions():
    # half of all directions stray, by the mean of a cosine: 1 / pi over all
    assert bound(0.4, 30.0, 0.0) == pytest.approx(0.2 * 30.0 / np.pi, rel=0.03)


def test_paint_strays_no_further_than_across_the_gap():
    turn = np.linspace(0, 2 * np.pi, 20_001)
    mean = np.clip(0.2 * np.cos(turn), 0, 0.1).mean()
    assert bound(0.1, 30.0, 0.0) == pytest.approx(mean * 30.0, rel=0.03)


def test_what_is_bare_does_not_stray():
    # the web lacks 0.1 mm over 30 mm, and 3.1 mm2 may be bare
    assert bound(0.6, 30.0, 3.1 / 240.0) == 0.0
    assert 0.0 < bound(0.6, 30.0, 1.0 / 240.0) < bound(0.6, 30.0, 0.0)


def test_without_webs_or_error_there_is_none():
    assert bound(0.8, 30.0, 0.0) == 0.0
    assert bound(0.4, 30.0, 0.0, error=0.0) == 0.0


@pytest.mark.parametrize("seed", [37, 105, 141])
def test_plans_stray_little_or_near_the_bound(seed, laser):
    # the three of 200 whose strokes crowd for longest
    (proof,) = plan_sheets(ornaments.ornament(seed), laser, "split").report["proof"]
    stray = proof["laid"][1]["stray"]
    assert stray >= proof["least_stray"]
    assert stray < 0.005 or stray < 1.4 * proof["least_stray"], seed
    assert proof["laid"][0]["covered"] >= 0.995
    assert proof["laid"][1]["covered"] >= 0.98
