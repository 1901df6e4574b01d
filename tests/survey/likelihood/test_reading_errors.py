from itertools import product

import pytest

from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.reading_errors import STRAY_KINDS, confusion, gap_probability

SMALL = Assumptions(highest_number=400, first_year=1885, last_year=1904)


@pytest.mark.parametrize("meant", [(), ("·",), ("°", "·"), (" ",)])
def test_every_gap_shares_out_exactly_one(meant):
    kinds = tuple(STRAY_KINDS)
    contents = [(), *((k,) for k in kinds), *product(kinds, repeat=2)]
    for kept in (1.0, 0.5):
        total = sum(gap_probability(c, meant, SMALL, kept) for c in contents)
        assert total == pytest.approx(1.0, abs=1e-9)


def test_confusion_rows_sum_to_one_and_favour_look_alikes():
    c = confusion(SMALL)
    assert c.sum(axis=1) == pytest.approx(1.0)
    assert c[3, 8] > 5 * c[3, 4]
    assert (c > 0).all()
