import numpy as np
import pytest

from ironlace.survey import Assumptions, Report, Scheme, compare
from ironlace.survey.likelihood.simulated_marks import draw_marks, draw_unknowns
from ironlace.survey.schemes.library import known_patterns


@pytest.mark.parametrize("candidate", known_patterns(), ids=lambda c: c.name)
def test_marks_drawn_from_a_scheme_are_explained_by_it(candidate):
    given = Assumptions(highest_number=20_000)
    rng = np.random.default_rng(5)
    places = draw_unknowns(candidate.scheme, given, rng)
    marks = draw_marks(candidate.scheme, places, 10, given, rng, junk=False)
    found = compare([Report(str(i), m) for i, m in enumerate(marks)], [candidate], given)
    junk = found.of(candidate.name).junk_chance
    assert np.median(junk) < 0.5


def test_drawn_months_are_even_and_padded_numbers_are_padded():
    scheme = Scheme.parse("month of 2 figures, dot, number overall of 6 figures")
    rates = ("misread_rate", "transposed_rate", "worn_rate", "stray_rate", "changed_rate")
    given = Assumptions(**dict.fromkeys(rates, 1e-6))
    rng = np.random.default_rng(6)
    marks = draw_marks(scheme, ((0, 6.0),), 400, given, rng, junk=False)
    texts = [str(m).split("·") for m in marks]
    months = np.bincount([int(t[0]) for t in texts], minlength=13)[1:]
    assert months.min() > 12 and all(len(t[0]) == 2 and len(t[1]) == 6 for t in texts)
