import json

import numpy as np
import pytest

from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import parse_marking
from ironlace.survey import Assumptions, Report, compare, date_of, read_reports
from ironlace.survey.answers.dating import Dating, StatedDate, date_all
from ironlace.survey.reports.anchors import read_anchors
from ironlace.survey.time.months import MonthDensity, mixture
from numbered_works import Machine, struck
from numbered_works import survey as works_reported

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


@pytest.mark.parametrize(
    ("mark", "told"),
    [
        (
            "6.96.26",
            "It lies 11 years after the nearest report (1885): nothing but the mark itself",
        ),
        ("6.74.3", "It lies 6 years before the nearest report (1880): nothing but the mark itself"),
        ("6.88.3", ""),
        ("6.82.3", ""),
    ],
)
def test_a_clear_mark_years_from_every_report_is_told_to_stand_alone(mark, told):
    eighties = survey(
        "3.81.12 5.82.40 11.82.7 2.83.61 7.83.33 9.84.18 1.80.22 12.80.9 6.84.55 8.85.2 4.85.70"
    )
    found = date_of(parse_marking(mark), eighties)
    assert found.slip.startswith(told) if told else found.slip == ""
    # it is the second thing that is said
    assert not told or found.sentences()[1] == found.slip


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
    assert weighed((0.97, 1894), (0.03, 0)).headline == "1894, in 9 cases out of 10"
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


TWELVE = (
    "6.80.217 11.81.30 7.82.412 2.83.118 12.84.77 9.85.301 1.80.140 6.81.255 3.83.9 10.85.188 "
    "5.84.33 4.81.45"
)


def reports(text):
    return [Report(f"R{i}", parse_marking(m)) for i, m in enumerate(text.split(), 1)]


@pytest.fixture(scope="module")
def twelve():
    return compare(reports(TWELVE))


@pytest.mark.parametrize("away", range(17))
@pytest.mark.parametrize("side", [-1, 1])
def test_a_clear_mark_is_dated_by_what_it_states_however_far_away(twelve, away, side):
    year = 1880 - away if side < 0 else 1885 + away
    found = date_of(parse_marking(f"6.{year % 100:02d}.20"), twelve)
    months = np.arange(len(found.density.mass))
    low, high = found.density.bounds(0.9)
    at = (year - 1850) * 12 + 5
    assert low <= at <= high
    assert found.density.most_probable == months[at]
    assert found.stated.text == f"{year}-06"
    assert not found.not_as_struck or found.grade is Grade.CONJECTURED


def test_the_date_of_a_mark_does_not_hang_on_what_else_is_asked(twelve):
    rng = np.random.default_rng(9)
    marks = [
        parse_marking(f"{rng.integers(1, 13)}.{rng.integers(60, 100)}.{rng.integers(1, 300)}")
        for _ in range(6)
    ]
    marks += [twelve.reports[0].mark, parse_marking("2.18.45"), parse_marking("(9).9(0).20")]
    together = date_all(marks, twelve)
    for mark, one in zip(marks, together, strict=True):
        assert date_of(mark, twelve).density.mass == pytest.approx(one.density.mass, abs=1e-12)


@pytest.mark.parametrize("text", ["2.18.45", "13.81.20", "6.28.11"])
def test_a_date_other_than_the_mark_states_is_said_first_and_conjectured(twelve, text):
    found = date_of(parse_marking(text), twelve)
    if not found.not_as_struck:
        low, high = found.density.bounds(0.9)
        assert found.density.mass[low : high + 1].sum() >= 0.9
        assert found.stated is not None
        return
    assert found.grade is Grade.CONJECTURED
    assert found.not_as_struck in found.sentences()[0]
    assert not found.as_dict()["is_what_the_mark_states"]


def test_two_figures_changed_round_leave_the_truth_within(twelve):
    found = date_of(parse_marking("2.18.45"), twelve)
    low, high = found.density.bounds(0.9)
    truth = (1881 - 1850) * 12 + 1
    assert low <= truth <= high or found.grade is Grade.CONJECTURED
    # a glyph read with a doubt makes the slip the likelier, and then it is offered
    doubted = date_of(parse_marking("2.(1)(8).45"), twelve)
    low, high = doubted.density.bounds(0.9)
    assert low <= truth <= high


@pytest.mark.parametrize("family", ["steady", "growing", "uneven months"])
def test_marks_of_the_same_works_are_dated_right(family):
    rng = np.random.default_rng(31)
    right = asked = 0
    for _ in range(8):
        one = works_reported(family, "month-year-count", rng, 10)
        found = compare([Report(str(i), parse_marking(m)) for i, m in enumerate(one.marks)])
        last = max(machine.year for machine in one.machines)
        for away in (0, 4, 9, 16):
            machine = Machine(last + away, int(rng.integers(1, 13)), 500, 90, 12)
            if machine.year > 1929:
                continue
            told = date_of(parse_marking(struck(one.kind, machine, rng)), found)
            low, high = told.density.bounds(0.9)
            right += low <= (machine.year - 1850) * 12 + machine.month - 1 <= high
            asked += 1
    # binomial: at a true 0.95 of 30 fewer than 25 come once in a hundred
    assert right / asked >= 0.87


def test_the_first_three_lines_say_when_why_and_what_to_ask(twelve):
    when, why, ask = date_of(parse_marking("6.84.20"), twelve).sentences()[:3]
    assert "June 1884, in 9 cases out of 10" in when
    assert why.startswith("By 12 reports,") and "of the list together" in why
    assert ask.startswith(("Nothing more is needed", "Ask next for"))


def test_three_dated_numbers_date_a_running_number_though_codes_fit_as_well():
    rows = "id,mark,dated,dated_kind\n" + "".join(
        f"R{n},{n},{d},{'at' if d else ''}\n"
        for n, d in ((8020, "1890"), (15621, "1893-05"), (22456, "1895-06"), (12000, ""))
    )
    found = compare(read_reports(rows).reports)
    told = date_of(parse_marking("12000"), found)
    low, high = told.density.bounds(0.9)
    assert (high - low) / 12 < 8
    assert low <= (1891 - 1850) * 12 + 9 <= high


@pytest.mark.parametrize(
    ("marks", "theory", "asked", "says", "grade"),
    [
        (
            "...88.75 .....88.9 ...........89.78 ..90.55 .......90.3",
            "month as dots, year, dot, number in month",
            "....90.12",
            "April 1890",
            Grade.INFERRED,
        ),
        (
            "Y120 Z55 A800 B410 C93 Z301 B77 A12",
            "year as letter from 1865 going round, number in year",
            "B300",
            "1892",
            Grade.INFERRED,
        ),
        ("4.1896.217 11.1895.30 7.1893.112 2.1894.9", None, "6.1890.20", "June 1890", None),
        ("1895-31 1896-12 1896-217 1897-22 1894-40", None, "1890-14", "1890", None),
    ],
)
def test_other_ways_of_striking_the_year_and_month_are_dated_too(marks, theory, asked, says, grade):
    reports = [Report(m, parse_marking(m)) for m in marks.split()]
    found = compare(reports, theory and [theory], Assumptions(first_year=1870, last_year=1917))
    dated = date_of(parse_marking(asked), found)
    assert dated.headline.startswith(says)
    assert not dated.not_as_struck
    assert grade in (None, dated.grade)


def test_letters_that_come_round_within_the_period_leave_several_years():
    marks = "Y120 Z55 A800 B410 C93 Z301 B77 A12"
    found = compare(
        [Report(m, parse_marking(m)) for m in marks.split()],
        ["year as letter from 1865 going round, number in year"],
    )
    dated = date_of(parse_marking("B300"), found)
    years = dated.density.years()
    assert "came with a date" in dated.settle
    assert dated.headline.startswith("1892 (") and " or 1918 (" in dated.headline
    assert years[1892] + years[1918] > 0.9
    assert not dated.not_as_struck
