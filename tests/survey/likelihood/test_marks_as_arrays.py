from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.marks_as_arrays import lay_out, lay_out_reports
from ironlace.survey.likelihood.summed_unknowns import explain
from ironlace.survey.reports.table import DatedEvidence, DatedKind, Seen
from ironlace.survey.schemes.scheme import Scheme

MARKS = [parse_marking(text) for text in ("4.96.217", "12", "11.95.301", "1?", "5.95.9")]


def test_marks_of_one_length_lie_in_one_block():
    read = lay_out(MARKS, Assumptions())
    lengths = {block.glyphs.shape[1]: sorted(block.rows.tolist()) for block in read.blocks}
    assert lengths == {2: [1, 3], 4: [4], 6: [0], 7: [2]}
    assert all(block.gaps.shape[1] == block.glyphs.shape[1] + 1 for block in read.blocks)


def test_a_doubtful_glyph_is_no_figure_and_junk_is_a_chance():
    read = lay_out(MARKS, Assumptions())
    assert -1 in read.figure
    assert np.all((read.junk > 0) & (read.junk < 1))
    assert read.junk[1] > read.junk[0]  # shorter marks are more easily thrown


def test_a_sample_is_spread_evenly():
    read = lay_out(MARKS, Assumptions())
    some = read.evenly(3)
    assert some.count == 3
    assert some.junk == pytest.approx(read.junk[[0, 2, 4]])
    assert sorted(row for block in some.blocks for row in block.rows.tolist()) == [0, 1, 2]


def test_a_date_says_of_each_month_how_much_likelier_it_is_than_at_random():
    dated = DatedEvidence(EdtfDate.parse("1893-07"), DatedKind.AT)
    read = lay_out_reports([Report("A", MARKS[0], dated=dated)], Assumptions())
    told = read.dated[0]
    assert told.mean() == pytest.approx(1.0)
    assert np.unravel_index(told.argmax(), told.shape) == (1893 - 1850, 6)


SOLD = DatedEvidence(EdtfDate.parse("1896-07"), DatedKind.SOLD, "receipt")
SMALL = Assumptions(first_year=1885, last_year=1900, highest_number=2000)
SCHEMES = [
    Scheme.parse(text)
    for text in (
        "month, dot, year, dot, number in month",
        "month, dot, year, dot, number overall",
        "code, dot, code, dot, code",
    )
]
MANY_KINDS = [
    Report("", parse_marking(mark), dated=dated)
    for mark, dated in (
        ("4.96.217", None),
        ("4.96.217", SOLD),
        ("4.96.21?", None),
        ("4.96.21(7)", None),
        ("11.95.301", None),
        ("7.93.88", replace(SOLD, date=EdtfDate.parse("1893-08"))),
        ("796.12", None),
        ("XY", None),
    )
]


def evidence(reports, scheme, *, join=True):
    read = lay_out_reports(reports, SMALL, join=join)
    return explain(read, scheme, SMALL)[1], read


@given(
    often=st.lists(st.integers(0, 4), min_size=8, max_size=8).filter(any),
    which=st.sampled_from(SCHEMES),
    order=st.randoms(use_true_random=False),
)
@settings(max_examples=12, deadline=None)
def test_equal_reports_count_as_often_as_they_came_in_whatever_order(often, which, order):
    reports = [r for r, k in zip(MANY_KINDS, often, strict=True) for _ in range(k)]
    apart, each = evidence(reports, which, join=False)
    order.shuffle(reports)
    joined, read = evidence(reports, which)
    assert each.count == len(reports) == read.reports
    assert read.count == sum(k > 0 for k in often)
    assert joined.log_evidence == pytest.approx(apart.log_evidence, rel=1e-9, abs=1e-9)
    assert sorted(read.of_reports(joined.junk_chance)) == pytest.approx(
        sorted(each.of_reports(apart.junk_chance)), rel=1e-7
    )


def test_as_many_equal_reports_as_samples_are_drawn_from_say_the_same_joined():
    reports = [MANY_KINDS[i] for i in (0, 1, 4, 5, 6) for _ in range(12 + i)]
    for scheme in SCHEMES:
        apart, _ = evidence(reports, scheme, join=False)
        joined, _ = evidence(reports[::-1], scheme)
        assert joined.log_evidence == pytest.approx(apart.log_evidence, rel=1e-9)


@pytest.mark.parametrize(
    "changed",
    [
        {"mark": parse_marking("4.96.218")},
        {"mark": parse_marking("4\u00b096.217")},
        {"mark": parse_marking("496.217")},
        {"mark": parse_marking("4.96.21(7)")},
        {"mark": parse_marking("4.96.21?")},
        {"mark": parse_marking("4.96.21[17]")},
        {"mark": parse_marking("4(.)96.217")},
        {"dated": None},
        {"dated": replace(SOLD, kind=DatedKind.AT)},
        {"dated": replace(SOLD, date=EdtfDate.parse("1896-08"))},
    ],
)
def test_a_report_that_differs_in_what_matters_leaves_its_group(changed):
    report = Report("A", parse_marking("4.96.217"), dated=SOLD)
    read = lay_out_reports([report, replace(report, **changed)], SMALL)
    assert read.count == 2
    assert read.weight.tolist() == [1.0, 1.0]


def test_what_tells_nothing_of_the_numbering_parts_no_group():
    report = Report("A", parse_marking("4.96.217"), dated=SOLD)
    other = replace(
        report,
        id="B",
        seen=Seen.TOLD,
        place="Northern mills",
        note="heard of",
        dated=replace(SOLD, what="bill"),
    )
    read = lay_out_reports([report, other], SMALL)
    assert read.count == 1
    assert read.reports == 2
    assert read.group.tolist() == [0, 0]
