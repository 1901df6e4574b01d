from itertools import product

import numpy as np
import pytest

from ironlace.marks.reading.strings import RowShared, Shared, apart, strings_in_play, strings_of
from rows_apart import row_apart


def test_hypotheses_are_the_most_probable_strings_of_what_is_shared_in_order():
    """Against all strings written out, summed over two sets of punches and three rates of dots."""
    rng = np.random.default_rng(1)
    digits = Shared(np.array([0.7, 0.3]), rng.dirichlet([0.5, 0.5, 0.5], (2, 4)))
    dots = rng.uniform(size=(3, 3))
    rates = np.array([0.2, 0.3, 0.5])
    every = []
    for choice in product(range(3), repeat=4):
        figures = sum(
            w * np.prod([t[k, g] for k, g in enumerate(choice)])
            for w, t in zip(digits.weights, digits.p, strict=True)
        )
        for struck in product((True, False), repeat=3):
            p = figures * sum(
                w * np.prod([s if d else 1 - s for s, d in zip(one, struck, strict=True)])
                for w, one in zip(rates, dots, strict=True)
            )
            signs = ["." if d else "" for d in struck] + [""]
            every.append((p, "".join("379"[g] + s for g, s in zip(choice, signs, strict=True))))
    every.sort(reverse=True)
    last = np.array([[[1.0, 0.0]]] * 3)
    of_dots = Shared(rates, np.concatenate([np.stack([1 - dots, dots], axis=2), last], axis=1))
    shared = RowShared("379", digits, of_dots)
    found = strings_of(0, shared)
    assert [h.text for h in found.hypotheses] == [t for _, t in every[: len(found.hypotheses)]]
    assert [h.p for h in found.hypotheses] == pytest.approx(
        [p for p, _ in every[: len(found.hypotheses)]]
    )
    assert sum(h.p for h in found.hypotheses) >= 0.95
    assert sum(h.p for h in found.hypotheses[:-1]) < 0.95
    assert found.rest_p == pytest.approx(1 - sum(h.p for h in found.hypotheses))
    in_play = np.exp(-sum(p * np.log(p) for p, _ in every))
    assert strings_in_play(shared, np.random.default_rng(0)) == pytest.approx(in_play, rel=0.08)


def test_a_plate_that_tells_nothing_ends_at_the_most():
    even = dict.fromkeys("0123456789", 0.1)
    found = strings_of(0, row_apart([even] * 9, [0.5] * 8), most=500)
    assert len(found.hypotheses) == 500
    assert found.rest_p > 0.99


def test_what_all_share_is_no_doubt_of_each_alone():
    """Nine digits that are read whole or not at all: the whole string keeps what it has."""
    read = np.full((9, 10), 0.001)
    read[:, 3] = 0.991
    digits = Shared(np.array([0.6, 0.4]), np.stack([read, np.full((9, 10), 0.1)]))
    bare = apart(np.array([[1.0, 0.0]] * 9))
    best = strings_of(0, RowShared("0123456789", digits, bare)).hypotheses[0]
    assert best.text == "3" * 9
    assert best.p == pytest.approx(0.6 * 0.991**9, abs=1e-6)
    assert digits.each()[0, 3] ** 9 < 0.02


def test_a_dot_after_the_last_digit_is_told():
    assert strings_of(0, row_apart([{"1": 1.0}], [1.0])).hypotheses[0].text == "1."
