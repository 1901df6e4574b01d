import numpy as np
import pytest

from failing_tables import FAILINGS, Table
from ironlace.evidence.markings import parse_marking
from ironlace.survey.errors import ReportsError, SurveyError
from ironlace.survey.reports.anchors import read_anchors
from ironlace.survey.reports.counted import Reports, set_aside_in_words
from ironlace.survey.reports.table import Report, read_reports


def report(name, mark, **more):
    return Report(name, parse_marking(mark), **more)


def counted(*reports):
    return [r.id for r in Reports(reports).counted]


def test_the_same_clear_mark_is_one_machine_and_a_doubtful_one_is_not():
    reports = Reports(
        (
            report("A", "4.96.217"),
            report("B", "4.96.217"),
            report("C", "4.96.2?7"),
            report("D", "4.96.2?7"),
            report("E", "5.96.2"),
        )
    )
    assert [r.id for r in reports.counted] == ["A", "C", "D", "E"]
    assert reports.machines == ("A", "A", "C", "D", "E")
    assert [r.id for r in reports.counted_apart] == ["A", "B", "C", "D", "E"]


def test_a_person_joins_whatever_the_mark_and_in_any_order():
    linked = (report("A", "4.96.217", machine="B"), report("B", "4.96.237"), report("C", "5.96.1"))
    assert counted(*linked) == ["A", "C"]
    assert Reports(linked).machines == ("A", "A", "C")
    # a name that is no report's id is the machine's own
    named = (report("A", "4.96.217", machine="M1"), report("B", "4.96.9", machine="M1"))
    assert counted(*named) == ["A"]
    assert Reports(named).machines == ("A", "A")


@pytest.mark.parametrize("turned", [False, True])
def test_a_person_says_that_two_machines_bear_the_same_mark(turned):
    reports = [report("A", "4.96"), report("B", "4.96", machine="B"), report("C", "4.96")]
    first = reports[::-1] if turned else reports
    assert sorted(counted(*first)) == sorted(["B", "C" if turned else "A"])
    apart = (report("A", "4.96", machine="M1"), report("B", "4.96", machine="M2"))
    assert counted(*apart) == ["A", "B"]


def test_what_is_set_not_to_count_does_not_stand_for_its_machine():
    reports = Reports(
        (
            report("A", "4.96.217", counts=False),
            report("B", "4.96.217"),
            report("C", "5.96.1", counts=False),
            report("D", "6.96.1", counts=False, machine="E"),
            report("E", "6.96.2"),
            report("F", "7.96.1", counts=False, machine="C"),
        )
    )
    assert [r.id for r in reports.counted] == ["B", "E"]
    assert reports.left_out == ("A", "C", "F")
    assert [(one.id, one.of, one.why) for one in reports.joined] == [("D", "E", "as said")]
    assert reports.sentences()[1] == "Set not to count: A, C, F."


def test_a_date_goes_to_the_report_that_counts():
    text = (
        "id,mark,machine,dated,dated_kind\n"
        "A,4.96.217,,,\nB,4.96.2,A,1896,sold\nC,4.96.217,,1897,at\nD,5.96.1,,1890,at\n"
    )
    reports = Reports.from_table(read_reports(text))
    assert [(r.id, r.dated.date.text) for r in reports.counted] == [("A", "1896"), ("D", "1890")]
    assert len(reports.anchors) == 2
    left_out = Reports((report("A", "4.96.1"), *read_reports(text).reports[3:]))
    assert [r.dated is None for r in left_out.counted] == [True, False]


def test_what_speaks_against_is_said_and_many_are_counted():
    many = [report(f"R{i}", "4.96.217", variant="Large" if i == 1 else "small") for i in range(12)]
    said = Reports(tuple(many)).sentences()[0]
    assert said.startswith("11 reports counted as second sightings of machines already reported")
    assert "R1 of R0 (same mark, but the variants differ (small, Large))" in said
    assert said.endswith("and 3 more.")


@pytest.mark.parametrize(
    ("reports", "says"),
    [
        (Reports(()), "There is no mark and no report"),
        (Reports((report("A", "4.96.217", counts=False),)), "Every report is set not to count"),
        (Reports.from_table(read_reports("id,mark\nA,\n")), "No row of the table could be used"),
    ],
)
def test_nothing_to_compare_is_refused_with_what_to_do(reports, says):
    with pytest.raises(SurveyError, match=says):
        reports.to_compare()


def test_how_many_rows_were_set_aside_and_why_stands_among_the_first_three_sentences():
    rows = ["A,4.96.217", "B,n/a", "C,unknown", "D,Nov-86", "E,11.95.30"]
    reports = Reports.from_table(read_reports("\n".join(["id,mark", *rows])))
    (said,) = reports.set_aside_in_words()
    assert said.startswith("3 of 5 rows were set aside: lines 3, 4 (no number known); line 5 (")
    assert reports.told_with(["one", "two", "three"])[2] == said
    assert reports.told_with(["one"])[:2] == ["one", said]


@pytest.mark.parametrize(
    ("dated", "kind", "holds"),
    [
        ("2096", "at", False),
        ("0096", "sold", False),
        ("1790", "not after", False),
        ("2001", "not before", False),
        ("1790", "not before", True),
        ("2001", "not after", True),
        ("1830", "at", True),
        ("1960-12", "sold", True),
        ("1896/", "at", True),
    ],
)
def test_a_date_when_no_such_machine_was_made_does_not_count_and_is_told_first(dated, kind, holds):
    rows = ["id,mark,dated,dated_kind", f"A,4.96.217,{dated},{kind}", "B,5.96.1,1896,at"]
    reports = Reports.from_table(read_reports("\n".join(rows)))
    assert [r.id for r in reports.counted if r.dated] == (["A", "B"] if holds else ["B"])
    assert [a.source for a in reports.anchors] == (["A", "B"] if holds else ["B"])
    said = reports.told_with(["First.", "Second.", "Third."])
    assert any("outside 1830 to 1960" in s and f"A ({dated})" in s for s in said[:3]) is not holds
    # a second sighting whose date can be true still lends it
    more = Reports.from_table(read_reports("\n".join([*rows, "C,4.96.217,1897,at"])))
    assert {r.id: r.dated.date.text for r in more.counted}["A"] == (dated if holds else "1897")


# ---- what a spreadsheet or a hand does to a whole column is told first, or refused

TOLD_BY_THE_READER = (
    "century wrong",
    "day and month one",
    "two figures",
    "years of two figures",
    "row copied",
    "headed like it",
    "headed otherwise",
    "blank rows",
    "shortened",
    "thousands parted",
)


def table(seed):
    """Fourteen machines, each with its month of making."""
    rng = np.random.default_rng(seed)
    numbers = np.sort(rng.choice(30_000, 14, replace=False)) + 10_000
    rows = [
        (f"r{i}", str(n), f"{1870 + i}-{rng.integers(1, 10):02d}", "at", "1999-04")
        for i, n in enumerate(numbers, 1)
    ]
    return Table(("id", "mark", "dated", "dated_kind", "sighted"), tuple(rows))


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("name", TOLD_BY_THE_READER)
def test_what_is_wrong_with_a_column_is_told_first_or_refused(name, seed):
    spoilt = FAILINGS[name](np.random.default_rng(seed), table(seed))
    try:
        reports = Reports.from_table(read_reports(spoilt.table.text))
    except ReportsError:
        return
    first = " ".join(reports.told_with(["About 7,000 were made."])[1:3])
    assert any(one in first for one in (*spoilt.names, "set aside", "not read", "outside")), first


@pytest.mark.parametrize("seed", [1, 2])
def test_a_sound_table_is_read_without_a_word(seed):
    read = read_reports(table(seed).text)
    assert len(read.reports) == 14
    assert not (read.ahead or read.remarks or read.set_aside)


@pytest.mark.parametrize("name", ["century wrong", "two figures", "columns swapped", "shortened"])
def test_of_dated_examples_what_cannot_be_read_is_set_aside_and_counted(name):
    rows = [(mark, "at", dated) for _, mark, dated, _, _ in table(3).rows]
    spoilt = FAILINGS[name](
        np.random.default_rng(1), Table(("serial", "kind", "date"), tuple(rows))
    )
    read = read_anchors(spoilt.table.text)
    (said,) = set_aside_in_words(read.set_aside, len(read.anchors), "dated examples")
    assert f"{len(read.set_aside)} of 14 dated examples" in said
