import numpy as np
import pytest
from scipy.special import softmax

from ironlace.marks.reading.cut_doubt import beside_fellows, unshared
from ironlace.marks.reading.read_together import TOLD, read_together


def told(rng, *, clear, alike, places=18):
    """Log-likelihoods of figures drawn by lot, seen through noise; what is alike is added."""
    true = rng.integers(10, size=places)
    logs = rng.normal(0, np.sqrt(clear), (places, 10))
    logs[np.arange(places), true] += clear
    return true, (logs + alike)[:, :, None]


def stated(logs, true):
    p = softmax(logs[..., 0], axis=1)
    return p.max(axis=1).mean(), (p.argmax(axis=1) == true).mean()


def test_what_is_alike_at_all_places_is_taken_off():
    rng = np.random.default_rng(1)
    before, after = [], []
    for _ in range(60):
        alike = np.where(np.arange(10) == rng.integers(10), 3.5, 0.0)
        true, logs = told(rng, clear=2.0, alike=alike)
        before.append(stated(logs, true))
        after.append(stated(unshared(logs), true))
    (much, right), (less, more) = np.mean(before, axis=0), np.mean(after, axis=0)
    assert much > right + 0.15
    assert less < more + 0.05
    assert more > right + 0.08


@pytest.mark.parametrize("places", [18, 3, 1])
def test_clear_digits_are_left_as_they_are_though_all_are_one_figure(places):
    logs = np.full((places, 10, 1), -15.0)
    logs[:, 4] = 0.0
    np.testing.assert_allclose(unshared(logs), logs, atol=0.01)


def test_one_place_alone_says_nothing_of_what_is_alike():
    _, logs = told(np.random.default_rng(2), clear=4.0, alike=0.0, places=1)
    assert np.abs(unshared(logs) - logs).max() < 0.6


def test_a_place_that_fits_ill_beside_its_fellows_counts_less():
    logs = np.full((9, 10, 1), -5.0)
    logs[:, 2] = 30.0
    logs[3, 2], logs[4, 2] = 4.0, -8.0
    power = beside_fellows(logs)[:, 0, 0]
    assert (np.delete(power, [3, 4]) == 1).all()
    assert power[4] < power[3] < 0.5
    assert power[4] > 0


def test_a_number_of_mostly_one_figure_is_read_though_less_surely():
    rng = np.random.default_rng(5)
    true = np.where(np.arange(18) < 15, 0, rng.integers(1, 10, 18))
    logs = rng.normal(0, 0.7, (18, 10, 1, 1)) + 3.5 * np.eye(10)[true][..., None, None]
    logs = np.broadcast_to(logs + 4.0, (18, 10, 1, len(TOLD)))
    alone = softmax(unshared(logs[..., 0, :])[..., 0], axis=1)
    assert (alone.argmax(axis=1) == true).mean() < 0.8
    read = read_together(logs, np.zeros((0, 1, 1, 1)), cuts=True).shared.each()
    assert (read.argmax(axis=1) == true).mean() > 0.9
    assert read.max(axis=1).mean() < 0.85
