"""Where holes lie about marks that are all beside them, on made rows."""

import numpy as np
import pytest

from ironlace.running.seam.hole_middle import (
    across_of,
    departure_about,
    middle_of,
    share_of_every,
)


def rows(holes, count=900):
    at = np.arange(count)
    bumps = 4.0 * np.exp(-0.5 * ((at[:, None] - holes) / 3.0) ** 2).sum(axis=1)
    noise = np.random.default_rng(2).normal(0.0, 0.3, (6, count))
    return (np.array([1, -1, 1, 1, -1, 1])[:, None] * bumps + noise).astype(np.float32)


@pytest.mark.parametrize("off", [-9, 0, 6])
def test_the_middle_is_found_from_marks_beside_the_holes(off):
    holes = np.arange(40, 880, 48)
    middle = middle_of(departure_about(rows(holes), holes - off, 24), 24.0)
    assert middle.off_px == pytest.approx(off, abs=0.5)
    assert middle.beside < 0.2


def test_every_second_mark_without_a_hole_is_noticed_and_real_holes_are_not():
    holes = np.arange(40, 880, 48)
    marks = np.arange(40, 857, 24)
    ones = np.ones(len(marks) - 1, np.int64)
    assert share_of_every(rows(holes), marks, ones, 24.0, 24.0)[0] < 0.1
    assert share_of_every(rows(marks), marks, ones, 24.0, 24.0)[0] > 0.5


def test_no_marks_have_no_middle():
    assert middle_of(np.zeros(49), 24.0).off_px == 0.0


@pytest.mark.parametrize(("wide", "low", "high"), [(1.5, 0.0, 0.1), (50.0, 0.7, 1.0)])
def test_holes_lie_at_the_thread_and_stripes_in_the_cloth_too(wide, low, high):
    holes = np.arange(40, 880, 48)
    row = np.arange(-9, 10)
    along = rows(holes)[:3].T
    noise = np.random.default_rng(3).normal(0.0, 0.3, (19, 900, 3))
    across = np.exp(-0.5 * ((row - 2) / wide) ** 2)
    found = across_of((across[:, None, None] * along + noise).astype(np.float32), holes, 48.0, 0.1)
    assert low <= found.sides <= high
    if wide < 2.0:
        assert found.off_mm == pytest.approx(0.2, abs=0.04)
