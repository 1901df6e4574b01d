import numpy as np

from ironlace.evidence.markings import parse_marking
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import Report, read_reports
from ironlace.survey.sharing.same_machine import (
    Likeness,
    likely_pairs,
    unsettled_pairs,
)


def report(name, mark, **more):
    return Report(name, parse_marking(mark), **more)


def kinds(*reports):
    return {(p.first, p.second): p.likeness for p in likely_pairs(reports)}


def test_each_likeness_names_its_pair():
    found = kinds(
        report("A", "4.96.217"),
        report("B", "4.96.217"),
        report("C", "4.96.271"),
        report("D", "496.217"),
        report("E", "4.96.211"),
        report("F", "4.9?.217"),
        report("G", "11.92.30"),
    )
    assert found["A", "B"] is Likeness.SAME
    assert found["A", "C"] is Likeness.TRANSPOSED
    assert found["A", "D"] is Likeness.SEPARATORS
    assert found["A", "E"] is Likeness.ONE_FIGURE
    assert found["A", "F"] is Likeness.MAY_BE_SAME
    assert not any("G" in pair for pair in found)


def test_a_figure_not_easily_misread_is_no_pair():
    assert kinds(report("A", "4.96.217"), report("B", "4.96.317")) == {}


def test_doubts_and_choices_are_respected():
    assert kinds(report("A", "4.96.21[78]"), report("B", "4.96.218")) == {
        ("A", "B"): Likeness.MAY_BE_SAME
    }
    assert ("A", "B") not in kinds(report("A", "4.96.21[14]"), report("B", "4.96.218"))


def test_what_speaks_against_is_said():
    (pair,) = likely_pairs(
        [report("A", "4.96.217", variant="small"), report("B", "4.96.217", variant="Large")]
    )
    assert "variants differ" in pair.sentence()


def test_settled_pairs_are_not_asked_about_again():
    reports = Reports(
        (
            report("A", "4.96.217"),
            report("B", "4.96.217"),
            report("C", "4.96.217", machine="C"),
            report("D", "4.96.271"),
            report("E", "4.96.211", machine="A"),
        )
    )
    assert {(p.first, p.second) for p in unsettled_pairs(reports)} == {("A", "D"), ("C", "D")}


def test_many_reports_give_each_pair_once():
    rng = np.random.default_rng(3)
    reports = [
        report(str(i), f"{rng.integers(1, 13)}.{rng.integers(80, 99)}.{n}")
        for i, n in enumerate(rng.choice(900_000, 4000, replace=False) + 100_000)
    ]
    pairs = likely_pairs(reports)
    assert all(pair.first != pair.second for pair in pairs)
    assert len({(pair.first, pair.second) for pair in pairs}) == len(pairs)


def test_one_mark_from_two_persons_is_one_machine_unless_told_otherwise():
    head = "id,mark,reporter,machine\n"
    two = read_reports(f"{head}a,4.96.217,A. Quill,\nb,4.96.217,J. Crane,\n")
    assert [r.id for r in Reports.from_table(two).counted] == ["a"]
    told = read_reports(f"{head}a,4.96.217,A. Quill,\nb,4.96.217,J. Crane,b\n")
    assert [r.id for r in Reports.from_table(told).counted] == ["a", "b"]


def test_that_one_person_reports_both_speaks_against_a_slip_and_names_nobody():
    rows = "id,mark,reporter\na,4.96.217,A. Quill\nb,4.96.271,a. quill\nc,4.96.172,J. Crane\n"
    pairs = {(p.first, p.second): p for p in likely_pairs(read_reports(rows).reports)}
    assert pairs["a", "b"].against == "one person reports both"
    assert not any("uill" in pair.sentence() for pair in pairs.values())
