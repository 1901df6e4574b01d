"""The half turn, the cloth taken off, and the thread's end, on rows made by hand."""

import numpy as np
import pytest

from ironlace.running.seam.cloth_beside import without_cloth
from ironlace.running.seam.half_turn import half_turn, threads_row
from ironlace.running.seam.thread_end import first_hole, last_hole

K = 24.0
LENGTH = 60


def leaning_seam(lean_px, gap_px, count=12):
    """Lab of a leaning thread on cloth of another colour; the line runs through its middle."""
    rng = np.random.default_rng(5)
    laid = rng.normal(0, 0.5, (51, count * LENGTH, 3)) + np.array([40.0, 0.0, 0.0])
    for column in range(laid.shape[1]):
        at = column % LENGTH
        if gap_px / 2 <= at <= LENGTH - gap_px / 2:
            middle = 25 + lean_px * (2.0 * at / LENGTH - 1.0)
            rows = np.abs(np.arange(51) - middle) < 3.5
            laid[rows, column] = [75, 10, 5]
    return laid.astype(np.float32)


@pytest.mark.parametrize("lean", [0.0, 3.0, -3.0])
def test_marks_beside_the_holes_are_told_along_and_across(lean):
    laid = leaning_seam(lean, 5)
    holes = np.arange(1, 11) * LENGTH
    for along, across in ((0, 0), (5, 0), (-4, 3)):
        found = half_turn(np.roll(laid, across, axis=0), holes - along, LENGTH, K)
        assert found.along_px == pytest.approx(along, abs=0.8)
        assert found.across_px == pytest.approx(across, abs=0.8)


def test_a_thread_without_holes_turns_into_itself_nowhere():
    found = half_turn(leaning_seam(0.0, 0), np.arange(1, 11) * LENGTH, LENGTH, K)
    assert np.isnan(found.along_px)


def test_the_threads_row_is_told_from_chalk_beside_it():
    laid = np.pad(leaning_seam(0.0, 4), ((20, 20), (0, 0), (0, 0)), mode="edge")
    chalk = np.random.default_rng(1).random(laid.shape[1]) < 0.5
    laid[60:66, chalk] = [90, 0, 0]
    row, _ = threads_row(np.roll(laid, 12, axis=0), K, 1.0)
    assert abs(row - 12) <= 2


@pytest.mark.parametrize("slope", [0.0, 1.0, -2.0])
def test_stripes_are_taken_off_and_holes_are_not(slope):
    at_mm = np.arange(-9, 10) * 0.1
    places = np.arange(1200) / K
    # stripes that come back evenly fit other slopes too
    edges = np.cumsum(np.random.default_rng(2).uniform(0.6, 3.0, 60)) - 10.0
    stripes = 20.0 * (np.searchsorted(edges, places[None] - slope * at_mm[:, None]) % 2)
    # the thread covers the cloth but for a quarter of what shows at its edge
    held = np.where(np.abs(at_mm) < 0.15, 0.0, np.where(np.abs(at_mm) < 0.3, 0.25, 1.0))
    rows = np.repeat((stripes * held[:, None])[..., None], 3, axis=2)
    rows -= np.median(rows, axis=1, keepdims=True)
    rows[8:11, 30::60] -= 15.0
    left = without_cloth(rows.astype(np.float32), at_mm, 0.5, K)
    inner, edge = slice(150, 1050), np.abs(np.abs(at_mm) - 0.2) < 0.05
    assert left[edge][:, inner].std() < 0.35 * rows[edge][:, inner].std()
    assert np.allclose(left[9, 30::60], rows[9, 30::60], atol=1.5)
    assert np.array_equal(left[:4], rows[:4].astype(np.float32))


def test_the_last_hole_lies_as_far_from_the_threads_edge_as_the_others():
    departure = np.full(700, 1.0)
    holes = np.arange(50, 600, 50)
    for hole in holes:
        departure[hole - 4 : hole + 5] = 9.0
    departure[holes[-1] - 4 :] = 9.0
    off = holes.astype(float)
    off[-1] += 9.0
    assert last_hole(departure, off, K) == pytest.approx(holes[-1], abs=1.0)
    assert first_hole(departure[::-1], 699.0 - off[::-1], K) == pytest.approx(
        699 - holes[-1], abs=1.0
    )
    # thread that runs on to the rim ends nowhere
    assert last_hole(departure[: holes[-1]], off[:-1], K) is None
