"""Figures of stitch lengths against what was drawn, and against numpy."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from ironlace.running.seam.evenness import evenness
from ironlace.running.seam.seam_measured import Scale
from ironlace.running.seam.seam_told import _odd_ones


def test_the_measuring_error_is_taken_off():
    rng = np.random.default_rng(3)
    true = 2.5 * (1 + 0.02 * rng.normal(size=400))
    seen = true + rng.normal(0, 0.04, 400)
    found = evenness(seen, np.full(400, 0.04), 0.0)
    assert found.cv[1] == pytest.approx(0.02, abs=0.002)
    assert found.cv_seen == pytest.approx(np.std(seen, ddof=1) / np.mean(seen))


def test_nine_in_ten_intervals_hold_the_mean_and_the_spread():
    rng = np.random.default_rng(8)
    held = np.zeros(2)
    for _ in range(300):
        x = rng.normal(2.0, 0.08, 20) + rng.normal(0, 0.02, 20)
        found = evenness(x, np.full(20, 0.02), 0.0)
        held += [
            found.mean_mm[0] <= 2.0 <= found.mean_mm[2],
            found.cv[0] <= 0.04 <= found.cv[2],
        ]
    assert (np.abs(held / 300 - 0.9) < 0.05).all()


def test_a_bent_wheel_shows_as_a_period_and_chance_does_not():
    rng = np.random.default_rng(5)
    n = np.arange(48)
    x = 2.2 + 0.06 * np.sin(2 * np.pi * n / 8) + rng.normal(0, 0.03, 48)
    found = evenness(x, np.full(48, 0.01), 0.0)
    assert found.periodic
    assert found.period_stitches == pytest.approx(8.0)
    assert found.period_mm == pytest.approx(0.06, abs=0.02)
    told = [
        evenness(rng.normal(2.2, 0.05, 48), np.full(48, 0.01), 0.0).periodic for _ in range(200)
    ]
    assert np.mean(told) < 0.04


def test_drift_is_told_with_its_interval():
    x = np.linspace(2.0, 2.2, 30) + np.random.default_rng(1).normal(0, 0.02, 30)
    low, value, high = evenness(x, np.full(30, 0.01), 0.0).drift
    assert low < 0.2 / 2.1 < high
    assert value == pytest.approx(0.2 / 2.1, abs=0.02)


def test_few_stitches_have_no_spread():
    found = evenness(np.array([2.0, 2.1, math.nan]), np.full(3, 0.01), 0.0)
    assert found.count == 2
    assert math.isnan(found.cv[1])


def test_one_stitch_unlike_all_the_others_is_told_with_what_it_does():
    rng = np.random.default_rng(3)
    lengths = 2.2 * (1.0 + 0.02 * rng.standard_normal(24))
    lengths[5] = 2.8
    said = [_odd_ones(_row(x)) for x in (lengths, np.delete(lengths, 5))]
    assert said[0][0].startswith("One stitch is unlike all the others (2.80 mm at 11 mm")
    assert said[1] == []
    assert _odd_ones(_row(2.2 * (1.0 + 0.15 * rng.standard_normal(24)))) == []


def test_what_no_picture_tells_may_make_a_seam_more_even_than_it_looks():
    lengths = 2.5 * (1 + 0.03 * np.random.default_rng(5).normal(size=25))
    plain = evenness(lengths, np.full(25, 0.01), 0.0)
    untold = evenness(lengths, np.full(25, 0.01), 0.0, 0.04)
    assert untold.cv[0] < plain.cv[0] - 0.002
    assert untold.cv[1:] == plain.cv[1:]


def _row(lengths):
    """What a measured seam tells of its lengths."""
    n = len(lengths)
    return SimpleNamespace(
        weighed=np.ones(n, bool),
        lengths_mm=lengths,
        along_mm=np.concatenate([[0.0], np.cumsum(lengths)]),
        sd_mm=np.full(n + 1, 0.006),
        scale=Scale("dpi"),
    )
