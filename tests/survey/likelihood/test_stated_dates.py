import pytest

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.marks_as_arrays import lay_out_reports
from ironlace.survey.likelihood.stated_dates import date_alone, stated_dates
from ironlace.survey.reports.table import DatedEvidence, DatedKind
from ironlace.survey.schemes.library import Candidate
from ironlace.survey.schemes.scheme import Scheme

GIVEN = Assumptions()
DOTTED = Candidate("dotted", Scheme.parse("month, dot, year, dot, number in month"))
SOLD = DatedEvidence(EdtfDate.parse("1897-02"), DatedKind.SOLD)


def read(*marks, dated=None):
    return lay_out_reports(
        [Report(m, parse_marking(m), dated=dated if i == 0 else None) for i, m in enumerate(marks)],
        GIVEN,
    )


def test_a_mark_states_its_month_and_year():
    marks = read("4.96.217", "11.95.30", "7.93.412")
    (density, says), _ = stated_dates(DOTTED, marks, marks.group[:2].tolist(), GIVEN)
    assert says
    assert density.label(density.most_probable) == "1896-04"
    assert density.mass.sum() == pytest.approx(1.0)


def test_a_mark_that_does_not_fit_states_nothing_and_leaves_its_date():
    ((density, says),) = stated_dates(DOTTED, read("ABC", dated=SOLD), [0], GIVEN)
    assert not says
    assert density.mass == pytest.approx(date_alone(read("ABC", dated=SOLD), 0, GIVEN).mass)
    assert density.label(density.bounds(0.9)[1]) <= "1930-12"


def test_without_a_date_all_months_are_alike():
    flat = date_alone(read("ABC"), 0, GIVEN)
    assert flat.mass.max() == pytest.approx(flat.mass.min())
