"""Choosing ends among candidates: skips, strays and lint, on made places."""

import numpy as np

from ironlace.running.seam.which_are_ends import best_ends


def test_a_stray_between_two_ends_is_left_out():
    places = np.array([0.0, 10.0, 15.0, 20.0, 30.0])
    ends, stitches = best_ends(places, np.array([3.0, 3.0, 1.0, 3.0, 3.0]), 10.0, 0.05)
    assert ends.tolist() == [0, 1, 3, 4]
    assert stitches.tolist() == [1, 1, 1]


def test_a_gap_of_two_lengths_is_a_skip():
    places = np.array([0.0, 10.0, 20.0, 40.0, 50.0])
    _, stitches = best_ends(places, np.full(5, 3.0), 10.0, 0.05)
    assert stitches.tolist() == [1, 1, 2, 1]


def test_an_end_under_lint_is_kept_where_a_length_is_usual():
    places = np.array([0.0, 10.0, 20.0, 30.0, 40.0])
    ends, _ = best_ends(places, np.array([3.0, 3.0, -1.0, 3.0, 3.0]), 10.0, 0.05)
    assert ends.tolist() == [0, 1, 2, 3, 4]
