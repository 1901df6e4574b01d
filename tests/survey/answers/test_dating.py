import json

import pytest

from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report, compare, date_of
from ironlace.survey.reports.anchors import read_anchors

SIX = "4.96.217 11.95.30 7.93.412 2.97.118 12.94.77 9.96.301"
RUNNING = "10234 15621 8020 30122 22456 27001"


def survey(text):
    return compare([Report(f"R{i}", parse_marking(m)) for i, m in enumerate(text.split())])


@pytest.fixture(scope="module")
def dotted():
    return survey(SIX)


@pytest.fixture(scope="module")
def running():
    return survey(RUNNING)


def test_without_anchors_the_scheme_itself_dates(dotted):
    found = date_of(parse_marking("4.96.217"), dotted)
    assert found.interval.text == "1896-04" and found.grade is Grade.INFERRED
    json.dumps(found.as_dict(), allow_nan=False)


def test_an_unread_month_leaves_the_year(dotted):
    found = date_of(parse_marking("?.96.31"), dotted)
    low, high = found.density.bounds(0.9)
    assert found.density.label(low)[:4] == found.density.label(high)[:4] == "1896"
    assert high - low > 6


def test_one_report_is_only_a_conjecture():
    found = date_of(parse_marking("4.96.217"), survey("4.96.217"))
    assert found.grade is Grade.CONJECTURED
    assert any("one report suggested" in s for s in found.sentences())


def test_an_anchor_that_agrees_strengthens_and_one_that_does_not_weakens():
    few = survey("4.96.217 11.95.30")
    mark = parse_marking("11.95.30")

    def stated(table):
        dating = date_of(mark, few, read_anchors(table).anchors)
        return sum(p.weight for p in dating.parts if p.says)

    agree = stated("serial,kind,date\n4.96.217,sold,1896-06\n11.95.30,at,1895-11\n")
    against = stated("serial,kind,date\n4.96.217,sold,1871-06\n11.95.30,at,1908-11\n")
    assert agree > stated("serial,kind,date\n") > against


def test_a_running_number_is_dated_between_anchors(running):
    anchors = read_anchors(
        "serial,kind,date\n8020,at,1890\n15621,sold,1893-05\n22456,at,1895-06\n30122,at,1898\n"
    ).anchors
    inside = date_of(parse_marking("19000"), running, anchors)
    low, high = inside.density.bounds(0.9)
    assert inside.density.label(low) >= "1893" and inside.density.label(high) <= "1895-12"
    assert inside.grade is Grade.INFERRED
    beyond = date_of(parse_marking("45000"), running, anchors)
    assert beyond.grade is Grade.CONJECTURED
    assert any("beyond the dated numbers" in s for s in beyond.sentences())


def test_without_anything_the_whole_period_stays_open(running):
    found = date_of(parse_marking("19000"), running)
    low, high = found.density.bounds(0.9)
    assert high - low > 60 * 12 and found.grade is Grade.CONJECTURED
