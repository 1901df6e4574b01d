"""A face unlike ours is told by what its places share, and named for what that is."""

from dataclasses import replace

import numpy as np
import pytest

from ironlace.marks.reading.known_shapes import WIDE, held_down, shapes_from_pictures
from ironlace.marks.reading.read_together import Together
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of
from ironlace.marks.reading.strings import apart
from ironlace.marks.reading.unlike_faces import (
    Pairs,
    Witnesses,
    alike,
    as_of_any_face,
    named_together,
    pairs_told,
    unlike_ours,
)
from strange_faces import ink


def _held(rng, figures, noise=0.15):
    shapes = shapes_from_pictures({g: ink("looped", g) for g in "0123456789"})
    worn = Blow(0.8, 2.0, 0.0, planed=False, blur=0.6)
    found = []
    for g in figures:
        struck = slopes_of(placed(depth_left(shapes[g][0], worn), shape=WIDE))
        found.append(held_down((struck + rng.normal(0, noise, (2, *WIDE))).astype("f"), noise))
    return found


def _together(p):
    none = np.zeros(len(p))
    return Together(apart(p), 1.0, none, none, none)


def test_places_of_one_figure_are_alike_and_others_are_not():
    rng = np.random.default_rng(1)
    figures = np.array(list("120147325908427361"))
    told = pairs_told(alike(_held(rng, figures)))
    same = figures[:, None] == figures
    np.fill_diagonal(same, val=False)
    other = figures[:, None] != figures
    assert told.logs[same].min() > 0
    assert (told.logs[other] < 0).mean() > 0.9
    np.testing.assert_allclose(told.logs, told.logs.T)


def test_what_places_share_and_no_figure_of_ours_holds_is_another_face():
    pairs = Pairs(np.zeros((18, 18)), 0.16)
    named = np.eye(10)[np.arange(18) % 10]
    other = np.roll(named, 1, axis=1)
    assert unlike_ours(pairs, Witnesses([], np.full(18, 0.45), named, other)) < 0.05
    assert unlike_ours(pairs, Witnesses([], np.full(18, 0.30), named, other)) > 0.95


def test_a_face_that_both_name_alike_passes_for_ours_though_cut_otherwise():
    pairs = Pairs(np.zeros((18, 18)), 0.16)
    named = np.eye(10)[np.arange(18) % 10]
    seen = Witnesses([], np.full(18, 0.36), named, named)
    assert unlike_ours(pairs, seen) < 0.05
    assert unlike_ours(pairs, replace(seen, looked=np.roll(named, 1, axis=1))) > 0.7


def test_places_named_together_follow_chances_of_all_namings():
    """Against the sum over all namings of three places."""
    rng = np.random.default_rng(2)
    logs, pairs = rng.normal(0, 1, (3, 3)), rng.normal(0, 1, (3, 3))
    pairs = np.triu(pairs, 1) + np.triu(pairs, 1).T
    expected = np.zeros((3, 3))
    for named in np.ndindex(3, 3, 3):
        whole = sum(logs[k, g] for k, g in enumerate(named))
        whole += sum(pairs[i, j] for i in range(3) for j in range(i + 1, 3) if named[i] == named[j])
        for k, g in enumerate(named):
            expected[k, g] += np.exp(whole)
    expected /= expected.sum(axis=1, keepdims=True)
    actual = named_together(logs, pairs, np.random.default_rng(3))
    np.testing.assert_allclose(actual, expected, atol=0.03)


@pytest.mark.parametrize("like", [1.0, 0.2])
def test_of_another_face_no_figure_is_told_surely(like):
    rng = np.random.default_rng(4)
    figures = np.array(list("120147325908427361"))
    sure = np.full((18, 10), 0.001) + 0.99 * np.eye(10)[rng.integers(0, 10, 18)]
    other = np.log(np.roll(sure, 1, axis=1))
    seen = Witnesses(_held(rng, figures), np.full(18, 0.2), sure, other)
    read, left = as_of_any_face(_together(sure), seen, like, rng)
    assert left < 0.1
    assert read.shared.each().max() < 0.9
    np.testing.assert_allclose(read.shared.each().sum(axis=1), 1)


def test_a_face_of_ours_stays_as_it_was_read():
    rng = np.random.default_rng(5)
    figures = np.array(list("120147325908427361"))
    sure = np.full((18, 10), 0.001) + 0.99 * np.eye(10)[rng.integers(0, 10, 18)]
    seen = Witnesses(_held(rng, figures), np.full(18, 0.9), sure, np.log(sure))
    read, left = as_of_any_face(_together(sure), seen, 1.0, rng)
    assert left > 0.99
    assert np.abs(read.shared.each() - sure).max() < 0.01


def test_few_places_tell_nothing_of_the_face():
    rng = np.random.default_rng(6)
    sure = np.eye(10)[:4]
    seen = Witnesses(_held(rng, "0123"), np.full(4, 0.1), sure, np.zeros((4, 10)))
    read = _together(sure)
    assert as_of_any_face(read, seen, 0.9, rng) == (read, 0.9)
