"""Whether the network is to be heard of a plate's digits."""

import numpy as np
import pytest
from scipy.special import logsumexp

from ironlace.marks.reading.read_together import Together
from ironlace.marks.reading.strings import Shared, apart
from ironlace.marks.reading.two_witnesses import (
    agreement,
    as_sure_as_agreed,
    borne_out,
    like_by_both,
    told,
    understated,
)

_BARE = np.zeros((6, 10))
"""Bare metal of which the network tells nothing."""


def _chances(rng: np.random.Generator, places: int, spread: float) -> np.ndarray:
    logs = rng.normal(0, spread, (places, 10))
    return np.exp(logs - logsumexp(logs, axis=1, keepdims=True))


def _together(p: np.ndarray) -> Together:
    shared = Shared(np.array([0.75, 0.25]), np.stack([p, p]))
    none = np.zeros(len(p))
    return Together(shared, 0.8, none, none + 0.1, none)


def test_agreement_is_the_log_of_the_chance_that_both_mean_the_same() -> None:
    rng = np.random.default_rng(1)
    one, other = _chances(rng, 6, 1.0), _chances(rng, 6, 1.0)
    expected = sum(np.log(10 * float(a @ b)) for a, b in zip(one, other, strict=True))
    # a network's log-likelihoods have no norm of their own
    assert agreement(one, np.log(other) + 3.0) == pytest.approx(expected, abs=1e-12)


def test_what_tells_nothing_agrees_with_all() -> None:
    looked = np.log(_chances(np.random.default_rng(2), 18, 2.0))
    assert agreement(np.full((18, 10), 0.1), looked) == pytest.approx(0.0, abs=1e-9)


def test_network_alone_is_hardly_heard() -> None:
    looked = _chances(np.random.default_rng(3), 18, 1.0)
    even = apart(np.full((18, 10), 0.1))
    bare = np.log(np.roll(looked, 1, axis=1))
    read = borne_out(_together(looked), even, np.log(looked), bare).shared.each()
    assert looked.max(axis=1).mean() > 0.3
    assert read.max(axis=1).mean() < 0.15
    np.testing.assert_allclose(read.sum(axis=1), 1)


def test_network_is_heard_where_strikes_say_the_same() -> None:
    rng = np.random.default_rng(4)
    strikes = _chances(rng, 18, 1.0)
    both = strikes**2 / (strikes**2).sum(axis=1, keepdims=True)
    read = borne_out(_together(both), apart(strikes), np.log(strikes), _BARE).shared.each()
    assert np.abs(read - both).max() < 0.01


def test_network_that_contradicts_the_strikes_is_not_heard() -> None:
    strikes = np.full((9, 10), 0.01)
    strikes[:, 2] = 0.91
    other = np.roll(strikes, 3, axis=1)
    both = np.full((9, 10), 0.1)
    read = borne_out(_together(both), apart(strikes), np.log(other), np.log(other)).shared.each()
    np.testing.assert_allclose(read, strikes, atol=1e-4)


def test_only_figures_are_drawn_and_the_rest_stays() -> None:
    looked = _chances(np.random.default_rng(5), 4, 1.0)
    both = _together(looked)
    read = borne_out(both, apart(np.full((4, 10), 0.1)), np.log(looked), _BARE)
    assert (read.left, read.strange.tolist()) == (both.left, both.strange.tolist())
    assert read.shared.weights.sum() == pytest.approx(1.0)


def test_network_is_heard_where_it_tells_more_than_of_bare_metal() -> None:
    """Cuts tell nothing of planed slivers, which the network learned."""
    rng = np.random.default_rng(6)
    looked, faint = _chances(rng, 18, 2.0), _chances(rng, 12, 0.5)
    even = apart(np.full((18, 10), 0.1))
    read = borne_out(_together(looked), even, np.log(looked), np.log(faint)).shared.each()
    assert told(np.log(looked)) > told(np.log(faint)) + 0.5
    assert np.abs(read - looked).max() < 0.01


def test_told_is_the_divergence_from_even_chances() -> None:
    p = _chances(np.random.default_rng(7), 5, 1.5)
    expected = np.mean([(row * np.log(row / 0.1)).sum() for row in p])
    assert told(np.log(p) - 4.0) == pytest.approx(expected, abs=1e-12)


def test_what_lies_in_no_figure_is_no_other_face_where_both_name_the_same():
    figures = np.random.default_rng(3).integers(0, 10, 18)
    strikes, looked = np.eye(10)[figures], 3.0 * np.eye(10)[figures]
    assert like_by_both(0.25, strikes, looked) > 0.9
    assert like_by_both(1.0, strikes, looked) > 0.99


def test_a_face_of_which_both_name_different_figures_is_unlike_ours():
    figures = np.random.default_rng(4).integers(0, 10, 18)
    other = np.where(np.arange(18) < 10, figures, (figures + 3) % 10)
    assert like_by_both(0.25, np.eye(10)[figures], 3.0 * np.eye(10)[other]) == 0.125


def _naming(figures: np.ndarray, chance: float) -> np.ndarray:
    return np.where(np.eye(10)[figures] > 0, chance, (1 - chance) / 9)


def test_worn_figures_named_alike_though_neither_is_sure_are_of_our_faces():
    rng = np.random.default_rng(5)
    figures = rng.integers(0, 10, 18)
    other = np.where(np.arange(18) < 12, figures, (figures + 3) % 10)  # the same at two thirds
    modest = like_by_both(0.2, _naming(figures, 0.4), np.log(_naming(other, 0.4)))
    bold = like_by_both(0.2, _naming(figures, 0.9), np.log(_naming(other, 0.9)))
    assert modest > 0.8
    assert bold == 0.1  # so sure, and wrong of every third: no face of ours


def test_understated_is_what_both_gain_by_being_twice_as_sure() -> None:
    rng = np.random.default_rng(6)
    one, other = _chances(rng, 8, 0.7), _chances(rng, 8, 0.7)
    squared = [p**2 / (p**2).sum(axis=1, keepdims=True) for p in (one, other)]
    gain = sum(
        np.log(float(a @ b) / float(c @ d))
        for a, b, c, d in zip(*squared, one, other, strict=True)
    )  # fmt: skip
    assert understated(one, np.log(other)) == pytest.approx(max(gain, 0.0), abs=1e-12)
    assert understated(one, np.log(one)) > 0
    assert understated(np.full((8, 10), 0.1), np.log(other)) == pytest.approx(0.0, abs=1e-9)


def test_digits_are_told_as_surely_as_both_witnesses_agree() -> None:
    figures = np.random.default_rng(8).integers(0, 10, 18)
    modest = _naming(figures, 0.4)  # both name the same at every place, and say 0.4 of it
    told_more = as_sure_as_agreed(_together(modest), apart(modest), np.log(modest))
    assert told_more.shared.each().max(axis=1).mean() > 0.6
    bold = _naming(figures, 0.9)  # at half of all places they contradict each other
    other = np.log(_naming(np.where(np.arange(18) % 2, figures, (figures + 3) % 10), 0.9))
    told_less = as_sure_as_agreed(_together(bold), apart(bold), other)
    assert told_less.shared.each().max(axis=1).mean() < 0.85
    assert told_less.left == 0.8


def test_what_neither_witness_knows_stays_untold() -> None:
    even = np.full((18, 10), 0.1)
    read = as_sure_as_agreed(_together(even), apart(even), np.zeros((18, 10)))
    assert np.abs(read.shared.p - 0.1).max() < 1e-12
