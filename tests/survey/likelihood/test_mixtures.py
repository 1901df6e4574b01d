"""Reports whose reading tells several strings with chances."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.marks_as_arrays import lay_out_reports
from ironlace.survey.likelihood.summed_unknowns import explain
from ironlace.survey.reports.strings_read import StringRead
from ironlace.survey.reports.table import DatedEvidence, DatedKind
from ironlace.survey.schemes.scheme import Scheme

SMALL = Assumptions(first_year=1885, last_year=1900, highest_number=2000)
SCHEMES = [
    Scheme.parse(text)
    for text in (
        "month, dot, year, dot, number in month",
        "code, dot, code, dot, code",
        "number overall; dots without meaning",
    )
]
OTHERS = [Report("A", parse_marking("11.95.30")), Report("B", parse_marking("7.93.412"))]
STRINGS = ("4.96.217", "4.96.211", "496217", "49.6.217", "4.9.62", "9")
SOLD = DatedEvidence(EdtfDate.parse("1896-07"), DatedKind.SOLD)


def reading(chances, *, dated=None):
    """A report that reads as these strings with these chances."""
    strings = tuple(StringRead(parse_marking(t), p) for t, p in chances)
    return Report("C", parse_marking("?.??.???"), dated=dated, strings=strings)


def evidence(report, scheme, *, join=True):
    read = lay_out_reports([*OTHERS, *report], SMALL, join=join)
    return explain(read, scheme, SMALL)[1].log_evidence


SUMMED = 0.05
"""Nats to which a sum over unknowns is right; see `summed_unknowns`."""


@cache
def by_one(which, text):
    """The same were the mark plainly that string."""
    return evidence([Report("C", parse_marking(text))], SCHEMES[which])


@pytest.mark.parametrize("dated", [None, SOLD])
def test_a_string_with_chance_one_is_the_plain_one_to_the_bit(dated):
    for scheme in SCHEMES:
        plain = Report("C", parse_marking(STRINGS[0]), dated=dated)
        assert evidence([reading([(STRINGS[0], 1.0)], dated=dated)], scheme) == evidence(
            [plain], scheme
        )


@given(
    weights=st.lists(st.floats(0.02, 1.0), min_size=2, max_size=5),
    rest=st.floats(0.0, 0.9),
    parts=st.floats(0.05, 0.95),
    dated=st.booleans(),
)
@settings(max_examples=12, deadline=None)
def test_to_split_a_chance_among_equal_strings_changes_nothing(weights, rest, parts, dated):
    total = sum(weights) / (1.0 - rest)
    chances = [(t, w / total) for t, w in zip(STRINGS, weights, strict=False)]
    (text, p), others = chances[0], chances[1:]
    split = [(text, p * parts), *others, (text, p * (1.0 - parts))]
    date = SOLD if dated else None
    for scheme in SCHEMES:
        whole = evidence([reading(chances, dated=date)], scheme)
        assert evidence([reading(split, dated=date)], scheme) == pytest.approx(whole, abs=1e-9)
        assert evidence([reading(split[::-1], dated=date)], scheme) == pytest.approx(
            whole, abs=1e-9
        )


@given(
    weights=st.lists(st.floats(0.02, 1.0), min_size=2, max_size=6),
    rest=st.floats(0.0, 0.9),
    more=st.floats(0.0, 1.0),
)
@settings(max_examples=15, deadline=None)
def test_a_reading_that_says_less_can_not_tell_more(weights, rest, more):
    """Odds of two theories lie between those by each string alone, nearer what junk says.

    The more a reading leaves to other strings, the nearer they come to the odds without it.
    """
    shares = np.array(weights) / sum(weights)
    texts = STRINGS[: len(weights)]
    without = [evidence([], scheme) for scheme in SCHEMES]
    further = rest + more * (0.99 - rest)
    told = [
        [
            evidence([reading(list(zip(texts, shares * (1.0 - left), strict=True)))], scheme)
            for scheme in SCHEMES
        ]
        for left in (rest, further)
    ]
    for one, two in ((0, 1), (0, 2), (1, 2)):
        before = without[one] - without[two]
        gained = [odds[one] - odds[two] - before for odds in told]
        by_each = [by_one(one, t) - by_one(two, t) - before for t in texts]
        assert min(*by_each, 0.0) - SUMMED <= gained[0] <= max(*by_each, 0.0) + SUMMED
        assert abs(gained[1]) <= abs(gained[0]) + SUMMED


def test_equal_mixtures_are_one_row_in_whatever_order_and_weigh_as_if_apart():
    one = reading([("4.96.217", 0.6), ("496217", 0.3)])
    two = replace(one, strings=one.strings[::-1])
    three = reading([("4.96.217", 0.6), ("496217", 0.4)])
    for scheme in SCHEMES:
        apart = evidence([one, two, three, OTHERS[0]], scheme, join=False)
        assert evidence([one, three, OTHERS[0], two], scheme) == pytest.approx(apart, abs=1e-9)
    read = lay_out_reports([one, *OTHERS, three, two], SMALL)
    assert (read.count, read.reports) == (4, 5)
    assert read.group[0] == read.group[4] != read.group[3]
    assert np.bincount(read.group).tolist() == read.weights.tolist()


def test_a_sample_and_dots_counted_keep_the_chances():
    reports = [*OTHERS, reading([("4.96.217", 0.6), ("49.6217", 0.3)])] * 3
    read = lay_out_reports(reports, SMALL)
    whole = read.evenly(9)
    scheme = Scheme.parse("month as dots, dot, year, dot, number in month")
    for here in (SCHEMES[0], scheme):
        assert explain(whole, here, SMALL)[1].log_evidence == pytest.approx(
            explain(read, here, SMALL)[1].log_evidence, abs=1e-9
        )
    few = read.evenly(2)
    assert few.mixtures is not None
    assert len(few.mixtures.rest) == few.count == 2
