from itertools import product

import numpy as np
import pytest

from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.field_tables import (
    LettersInUse,
    LimitOfCount,
    Neighbourhood,
    Spans,
    YearsOfMaking,
    known_chances,
)
from ironlace.survey.likelihood.reading_errors import SIZE, confusion
from ironlace.survey.schemes.scheme import Scheme

SMALL = Assumptions(highest_number=400, first_year=1885, last_year=1904)


def every_span(length):
    return np.array(list(product(range(SIZE), repeat=length)), dtype=np.int64)


def clear_emission(a):
    """Kinds of glyph 0 to 36 read clearly as each character."""
    return np.eye(SIZE) @ confusion(a).T


@pytest.mark.parametrize(
    ("text", "lengths", "made"),
    [
        ("code", (1, 2, 3), lambda f, s, e, a: LimitOfCount(f, s, e, a, 0.1)),
        ("number in month", (1, 2, 3), lambda f, s, e, a: LimitOfCount(f, s, e, a, 0.5)),
        ("number in month from 8", (1, 2, 3), lambda f, s, e, a: LimitOfCount(f, s, e, a, 0.5)),
        ("code of 3 figures", (3,), lambda f, s, e, a: LimitOfCount(f, s, e, a, 0.1)),
        ("code near one value", (1, 2, 3), Neighbourhood),
        ("year", (2,), YearsOfMaking),
        ("year counted from 1890", (1, 2), YearsOfMaking),
        ("letter", (1,), LettersInUse),
    ],
)
def test_every_field_shares_out_exactly_one(text, lengths, made):
    a = SMALL
    part = Scheme.parse(text).fields[0]
    spans = Spans(tuple(every_span(n) for n in lengths))
    unknown = made(part, spans, clear_emission(a), a)
    nodes = np.linspace(unknown.low, unknown.high, 7) if unknown.high > unknown.low else np.zeros(1)
    for option in range(len(unknown.option_weights)):
        total = unknown.table(nodes, option).sum(axis=0)
        # a number whose limit allows 400 may reach past three figures by the start given
        assert total == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("text", ["month", "month of 2 figures", "month as letter", "week"])
def test_known_fields_share_out_exactly_one(text):
    part = Scheme.parse(text).fields[0]
    spans = Spans((every_span(1), every_span(2)))
    total = known_chances(part, spans, clear_emission(SMALL), SMALL).sum()
    assert total == pytest.approx(1.0, abs=1e-9)
