from itertools import product

import numpy as np
import pytest

from ironlace.marks.reading.strings import strings_in_play, strings_of


def test_hypotheses_are_the_most_probable_strings_in_order():
    rng = np.random.default_rng(1)
    digits = [dict(zip("379", rng.dirichlet([1, 1, 1]), strict=True)) for _ in range(4)]
    struck = rng.uniform(size=3)
    every = []
    for choice in product("379", repeat=4):
        for dots in product((True, False), repeat=3):
            p = np.prod([digits[k][g] for k, g in enumerate(choice)])
            p *= np.prod([s if d else 1 - s for s, d in zip(struck, dots, strict=True)])
            signs = ["." if d else "" for d in dots] + [""]
            every.append((p, "".join(g + s for g, s in zip(choice, signs, strict=True))))
    every.sort(reverse=True)
    found = strings_of(0, digits, struck)
    assert [h.text for h in found.hypotheses] == [t for _, t in every[: len(found.hypotheses)]]
    assert sum(h.p for h in found.hypotheses) >= 0.95
    assert sum(h.p for h in found.hypotheses[:-1]) < 0.95
    assert found.rest_p == pytest.approx(1 - sum(h.p for h in found.hypotheses))


def test_a_plate_that_tells_nothing_ends_at_the_most():
    even = dict.fromkeys("0123456789", 0.1)
    found = strings_of(0, [even] * 9, [0.5] * 8, most=500)
    assert len(found.hypotheses) == 500
    assert found.rest_p > 0.99


def test_a_dot_after_the_last_digit_is_told():
    assert strings_of(0, [{"1": 1.0}], [1.0]).hypotheses[0].text == "1."


def test_strings_in_play_multiply():
    assert strings_in_play([{"3": 0.5, "8": 0.5}] * 2, [1.0, 0.5]) == pytest.approx(8)
