import json

import numpy as np
import pytest

from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report, compare, date_of
from ironlace.survey.answers.dating import Dating, StatedDate
from ironlace.survey.reports.anchors import read_anchors
from ironlace.survey.time.months import MonthDensity, mixture

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
    assert any("beyond the dated examples" in s for s in beyond.sentences())


def test_without_anything_the_whole_period_stays_open(running):
    found = date_of(parse_marking("19000"), running)
    low, high = found.density.bounds(0.9)
    assert high - low > 60 * 12 and found.grade is Grade.CONJECTURED


def weighed(*parts):
    """A date by theories that each name one year, or none; with their weights."""
    said = []
    for weight, year in parts:
        mass = np.full(81 * 12, 1.0)
        if year:
            mass[:] = 0.0
            mass[(year - 1850) * 12 : (year - 1849) * 12] = 1.0
        density = MonthDensity(1850, mass / mass.sum())
        said.append(StatedDate("t", weight, density, bool(year), "t", "tells the year"))
    density = mixture([(part.weight, part.density) for part in said])
    mark = parse_marking("94.217")
    return Dating(mark, density, tuple(said), Grade.CONJECTURED, "Why.", ())


def test_the_headline_says_when_and_how_sure_and_what_otherwise():
    assert weighed((0.68, 1894), (0.32, 0)).headline == (
        "1894, if the number tells the year: 68 %; otherwise no date"
    )
    assert weighed((0.97, 1894), (0.03, 0)).headline == "1894 (90 %)"
    assert weighed((1.0, 0)).headline == "No date: the number does not tell when"


def test_two_theories_of_one_date_are_told_together():
    found = weighed((0.5, 1894), (0.3, 1894), (0.2, 0))
    assert found.headline.startswith("1894, if the number tells the year: 80 %")


def test_what_came_with_the_machine_holds_otherwise():
    few = survey("4.96.217")
    table = "serial,kind,date\n4.96.217,at,1896-06\n"
    found = date_of(parse_marking("4.96.217"), few, read_anchors(table).anchors)
    assert "no date" not in found.headline


def test_no_figures_for_programs_stand_in_what_is_said(dotted):
    said = " ".join(date_of(parse_marking("4.96.217"), dotted).sentences())
    assert "April 1896" in said
    assert "1896-04" not in said
    assert "month-year-count" not in said
    assert "'month, year, number within the month'" in said
