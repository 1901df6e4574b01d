import numpy as np
import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.mark_cuts import cut
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.schemes.scheme import Scheme

DOTTED = Scheme.parse("month, dot, year, dot, number in month")


def cuts_of(*marks, scheme=DOTTED):
    given = Assumptions()
    return cut(lay_out([parse_marking(m) for m in marks], given), scheme, given)


def test_a_clear_mark_is_cut_at_its_dots_before_all():
    found = cuts_of("4.96.217")
    sizes = [
        tuple(_length_of(spans, row) for spans, row in zip(found.spans, rows, strict=True))
        for rows in zip(*found.span_row, strict=True)
    ]
    assert sizes[int(np.argmax(found.known))] == (1, 2, 3)


def _length_of(spans, row):
    at = 0
    for group in spans.by_length:
        if row < at + len(group):
            return group.shape[1]
        at += len(group)
    raise AssertionError("no such row")


def test_a_worn_dot_costs_what_the_rates_say():
    given = Assumptions()
    clear, worn = cuts_of("4.96.217"), cuts_of("496.217")
    kept = (1 - given.worn_rate) * (1 - given.changed_rate)
    assert worn.known.max() / clear.known.max() == pytest.approx(given.worn_rate / kept, rel=1e-6)


def test_a_mark_that_nothing_can_cut_leaves_junk_alone():
    found = cuts_of("ABC")
    assert not len(found.report)
    assert found.junk[0] > 0


def test_some_of_the_reports_keep_their_cuts():
    found = cuts_of("4.96.217", "11.95.30", "7.93.412")
    part = found.some(1, 3)
    assert part.count == 2
    assert set(part.report.tolist()) <= {0, 1}
    assert len(part.known) == int(np.sum(found.report >= 1))
