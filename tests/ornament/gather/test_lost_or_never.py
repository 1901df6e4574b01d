"""A bare place opposite a motif: wear, or nothing that ever was there."""

from __future__ import annotations

import cv2
import numpy as np
from shapely import union_all
from shapely.geometry import box

from darkroom import Ornament, _multi, painted, scrollwork, wear
from ironlace.ornament.gather.gathered import _missing
from ironlace.ornament.gather.lost_or_never import never_there

PPM = 12.0
SIZE = (110.0, 80.0)


def paint_of(*shapes) -> np.ndarray:
    return painted(Ornament(_multi(union_all(shapes))), SIZE, PPM)


def asked(ours: np.ndarray, theirs: np.ndarray, sure: np.ndarray | None = None) -> np.ndarray:
    seen = np.ones(ours.shape, np.bool_) if sure is None else sure
    known = np.ones(ours.shape, np.bool_)
    missing = _missing(ours, theirs, known, PPM)
    return (missing > 0) & never_there(ours, theirs, seen, missing, PPM)


def word() -> list:
    return [box(12 + 7 * n, 66, 16 + 7 * n, 73) for n in range(6)]


def test_a_word_the_other_half_alone_has_is_not_missed_here() -> None:
    scrolls = scrollwork(np.random.default_rng(3), (5, 5, 105, 62), scrolls=8).gilt
    ours, theirs = paint_of(scrolls), paint_of(scrolls, *word())
    refused = asked(ours, theirs)
    letters = cv2.subtract(theirs, ours) > 127
    assert np.mean(refused[letters]) > 0.95
    assert not refused[~letters & (theirs > 127)].any()


def test_a_word_is_told_from_a_loss_among_wear() -> None:
    scrolls = scrollwork(np.random.default_rng(3), (5, 5, 105, 62), scrolls=8).gilt
    both, theirs = paint_of(scrolls), paint_of(scrolls, *word())
    lost = wear(np.random.default_rng(4), both.shape, PPM, 0.2)
    refused = asked(np.where(lost, 0, both).astype(np.uint8), theirs)
    letters = cv2.subtract(theirs, both) > 127
    assert np.mean(refused[letters]) > 0.95
    worn = lost & (both > 127)
    assert np.mean(refused[worn]) < 0.1


def test_what_is_hidden_here_is_never_called_bare() -> None:
    scrolls = scrollwork(np.random.default_rng(3), (5, 5, 105, 62), scrolls=8).gilt
    ours, theirs = paint_of(scrolls), paint_of(scrolls, *word())
    seen = np.ones(ours.shape, np.bool_)
    seen[int(64 * PPM) :] = False
    assert not asked(ours, theirs, seen).any()


def test_a_gap_in_a_stroke_is_a_loss_however_whole_the_rest() -> None:
    strokes = [box(10, 10 + 8 * n, 100, 11.5 + 8 * n) for n in range(8)]
    theirs = paint_of(*strokes)
    ours = theirs.copy()
    ours[int(24 * PPM) : int(29 * PPM), int(40 * PPM) : int(65 * PPM)] = 0
    assert not asked(ours, theirs).any()


def test_a_word_half_worn_away_on_its_own_side_is_none_of_the_other_either() -> None:
    # letters that are gone leave gaps, and those that still stand excuse each other as wear
    scrolls = scrollwork(np.random.default_rng(3), (5, 5, 105, 62), scrolls=8).gilt
    left = [letter for n, letter in enumerate(word()) if n not in (1, 3)]
    both, theirs = paint_of(scrolls), paint_of(scrolls, *left)
    lost = wear(np.random.default_rng(4), both.shape, PPM, 0.3)
    refused = asked(np.where(lost, 0, both).astype(np.uint8), theirs)
    letters = cv2.subtract(theirs, both) > 127
    assert np.mean(refused[letters]) > 0.95
    assert np.mean(refused[lost & (both > 127)]) < 0.1


def test_dots_that_wear_took_in_a_row_are_losses_where_others_stand_between() -> None:
    dots = [box(6 + 5 * n, 8 + 6 * m, 8 + 5 * n, 10 + 6 * m) for n in range(20) for m in range(11)]
    theirs = paint_of(*dots)
    for seed in range(3):
        lost = wear(np.random.default_rng(seed), theirs.shape, PPM, 0.3)
        refused = asked(np.where(lost, 0, theirs).astype(np.uint8), theirs)
        # at 40 % of blotches this wide a sixth of them is not taken over
        assert np.mean(refused[lost & (theirs > 127)]) < 0.15
