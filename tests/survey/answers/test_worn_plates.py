"""A theory that hangs on dots, asked of plates that are read by code of their own."""

import math

import numpy as np
import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey import Assumptions, Candidate, Report, Scheme, compare
from ironlace.survey.reports.strings_read import StringRead
from read_plates import read_row

DOTTED, PLAIN = "month, dot, year, dot, number in month", "number overall"
THEORIES = [Candidate(text, Scheme.parse(text), hindsight=False) for text in (DOTTED, PLAIN)]
SMALL = Assumptions(first_year=1885, last_year=1900, highest_number=1_000_000)
MARKS = ("4.96.217", "5.93.88", "7.95.301")


def report(name, row, rng, **how):
    """A plate read with noise, as the survey takes it."""
    mark, told = read_row(row, rng, **how)
    strings = tuple(StringRead(parse_marking(text), p) for text, p in told)
    return Report(name, parse_marking(mark), strings=strings)


def log_odds(rows, **how):
    rng = np.random.default_rng(2)
    reports = [report(str(i), row, rng, figure=7.0, **how) for i, row in enumerate(rows)]
    found = compare(reports, THEORIES, SMALL)
    return math.log(found.of(DOTTED).posterior / found.of(PLAIN).posterior)


def test_a_theory_of_dots_lives_by_dots_dies_without_and_gets_nothing_where_none_can_be_told():
    bare = [row.replace(".", "") for row in MARKS]
    with_dots, without = log_odds(MARKS, dot=7.0), log_odds(bare, dot=7.0)
    assert with_dots > 4.0
    assert without < -4.0
    # cannot tell on this plate: what was struck makes no difference, and neither side is helped
    untold = [log_odds(rows, dot=0.0) for rows in (MARKS, bare)]
    assert untold[0] == pytest.approx(untold[1], abs=0.3)
    assert without + 2.0 < untold[0] < with_dots - 2.0


def test_a_reader_who_tells_his_chances_is_not_led_by_his_likeliest_string():
    """Dots half seen: the likeliest strings, taken as struck, speak louder than they may."""
    rng = np.random.default_rng(8)
    louder = []
    for _ in range(2):
        reports = [
            report(str(i), row, rng, figure=5.0, dot=1.0, most=60)
            for i, row in enumerate(MARKS[:2])
        ]
        plainly = [Report(r.id, r.strings[0].mark) for r in reports]
        both = [compare(some, THEORIES, SMALL) for some in (reports, plainly)]
        here, there = (f.of(DOTTED).log_evidence - f.of(PLAIN).log_evidence for f in both)
        louder.append(abs(there) - abs(here))
    assert np.mean(louder) > 0.5
