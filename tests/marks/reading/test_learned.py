import numpy as np
import pytest

from ironlace.marks.reading.learned import Learned


def _learned(rng):
    figures = (rng.normal(size=(6, 4)), rng.normal(size=4), rng.normal(size=(4, 10)), np.zeros(10))
    dots = (
        np.zeros(3),
        np.ones(3),
        rng.normal(size=(2, 3, 5)),
        rng.normal(size=(2, 5)),
        rng.normal(size=(2, 5)),
        np.zeros((2, 1)),
    )
    return Learned(figures, dots, {}, np.zeros(1), np.ones(1))


def test_figures_are_a_whole_distribution():
    logs = _learned(np.random.default_rng(1)).figure_logs(np.eye(6, dtype=np.float32))
    assert logs.shape == (6, 10)
    assert np.exp(logs).sum(axis=1) == pytest.approx(1)


def test_dots_are_the_mean_of_their_judges_and_held_within_bounds():
    rng = np.random.default_rng(2)
    learned = _learned(rng)
    x = rng.normal(size=(4, 3))
    _, _, w, o, v, c = learned.dots
    each = [np.tanh(x @ w[k] + o[k]) @ v[k] + c[k] for k in (0, 1)]
    assert learned.dot_logs(x) == pytest.approx(np.mean(each, axis=0))
    assert learned.dot_logs(x + 1e6) == pytest.approx(learned.dot_logs(np.full((4, 3), 4.0)))
