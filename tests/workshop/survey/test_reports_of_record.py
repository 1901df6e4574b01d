from pathlib import Path

import pytest

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding
from ironlace.evidence.grades import Grade
from ironlace.record import FindingEntry, ReportEntry, parse_entry
from ironlace.survey import DATE, Assumptions
from ironlace.survey.reports.table import Seen, report_cells
from ironlace.workshop.analyses import analysis_about, asked_for, keep, stale, work_out
from ironlace.workshop.hand_over.verify import verify_record
from ironlace.workshop.survey.reports_of_record import (
    OWN,
    as_named,
    entry_of,
    read_report_entries,
    report_of,
    reports_of,
    serial_of,
)

SCHEMES = "by year: letter, ring, year, dot, number in year\n"
TABLE = (
    "id,mark,seen,machine\nA,C°92·38,photograph,\nB,C°93·94,handled,\nC,C°95·7,told,\n"
    "D,C°95·1164,listing,\nE,C°95·1164,photograph,D\n"
)


KEPT_IN_0_1 = Path(__file__).with_name("date_kept_in_0_1.json")


def dating(workshop, slug, **given):
    """The date worked out on a record as it stands."""
    record = workshop.records.read(slug)
    return work_out(workshop, record, DATE, asked_for(DATE, record, {"schemes": SCHEMES} | given))


def called(reports):
    return [report.id for report in reports.counted]


@pytest.fixture
def dated(workshop, slug):
    mark = {"kind": "mark", "where": "slide plate", "grade": "seen"}
    workshop.records.add(slug, parse_entry(mark | {"reads": "3-2", "purpose": "pattern"}))
    workshop.records.add(
        slug, parse_entry(mark | {"reads": "C°94·627", "purpose": "serial number"})
    )
    entries, table = read_report_entries(TABLE)
    assert table.set_aside == ()
    workshop.records.add_all(slug, entries)
    return workshop


def test_the_serial_number_is_the_mark_that_says_so(dated, slug):
    record = dated.records.read(slug)
    assert serial_of(record) == "C°94·627"
    assert str(reports_of(record).own) == "C°94·627"


def test_a_second_sighting_does_not_count_and_this_machine_does(dated, slug):
    reports = reports_of(dated.records.read(slug))
    assert called(reports) == [OWN, "A", "B", "C", "D"]
    assert reports.machines[-1] == "D"
    assert [report.entry for report in reports.sightings][:2] == ["", "report 1"]


def test_a_report_of_this_machine_is_not_counted_twice(dated, slug):
    entries, _ = read_report_entries("id,mark\nX,C°94·627\n")
    dated.records.add_all(slug, entries)
    reports = reports_of(dated.records.read(slug))
    assert len(reports.counted) == 5
    assert reports.machines[-1] == OWN


def test_two_reports_of_one_name_are_told_apart(dated, slug):
    dated.records.add_all(slug, read_report_entries("id,mark\nA,C°96·1\n")[0])
    record = dated.records.read(slug)
    ids = [report.id for report in reports_of(record).sightings]
    assert ids == [OWN, "A (report 1)", "B", "C", "D", "E", "A (report 6)"]
    assert [as_named(record, name) for name in ("report 1", "report 2", OWN)] == [
        *("report 1", "B"),
        OWN,
    ]


def test_a_second_sighting_of_a_machine_that_is_not_in_the_table_counts(workshop, slug):
    rows = "id,mark,machine\nA,C°92·38,M1\nB,C°92·38,M1\nC,C°93·38,C\nD,C°93·38,\n"
    workshop.records.add_all(slug, read_report_entries(rows)[0])
    assert called(reports_of(workshop.records.read(slug))) == ["A", "C", "D"]


def test_the_strings_of_a_reading_come_in_from_a_table_and_stay_with_the_report():
    table = "id,mark,strings,rest_p\nA,4.96.21[17],4.96.217 0.6; 4.96.211 0.3,0.1\n"
    (entry,), _ = read_report_entries(table)
    strings = report_of("report 1", entry).strings
    assert [(str(one.mark), one.chance) for one in strings] == [
        ("4\u00b796\u00b7217", 0.6),
        ("4\u00b796\u00b7211", 0.3),
    ]
    assert not entry.note
    assert entry_of(report_of("report 1", entry)).strings == entry.strings
    told = {"kind": "report", "name": "A", "reads": "4.96.217", "grade": "seen"}
    for wrong in ("5.96.217 0.6", "4.96.217 0.7; 4.96.211 0.6", "4.96.217"):
        with pytest.raises(IronlaceError):
            parse_entry({**told, "strings": wrong})


def test_what_does_not_count_is_a_sighting_all_the_same(dated, slug):
    entry = dated.records.read(slug).named("report 1")
    assert isinstance(entry, ReportEntry)
    dated.records.change(slug, "report 1", entry.model_copy(update={"counts": False}))
    reports = reports_of(dated.records.read(slug))
    assert called(reports) == [OWN, "B", "C", "D"]
    assert (len(reports.sightings), reports.left_out) == (6, ("A",))


def test_a_date_that_came_with_a_second_sighting_counts_for_the_machine(workshop):
    slug = workshop.records.create("Dated twice")
    rows = "id,mark,machine,dated,dated_kind\nA,C°93·38,,,\nB,C°93·38,A,1894,sold\n"
    workshop.records.add_all(slug, read_report_entries(rows)[0])
    (report,) = reports_of(workshop.records.read(slug)).counted
    assert (report.dated.date.text, str(report.dated.kind)) == ("1894", "sold")


def test_how_a_report_reached_us_is_unsaid_where_nobody_said_it(workshop):
    slug = workshop.records.create("Unsaid")
    rows = "id,mark,how\nA,C°93·38,\nB,C°93·39,through the grapevine\nC,C°93·40,told\n"
    entries, _ = read_report_entries(rows)
    assert [entry.how for entry in entries] == ["not said", "not said", "told"]
    assert {entry.grade for entry in entries} == {Grade.CONJECTURED}
    workshop.records.add_all(slug, entries)
    seen = [report.seen for report in reports_of(workshop.records.read(slug)).sightings]
    assert seen == [None, None, Seen.TOLD]
    # and as a table it stays empty, so that it comes back as unsaid
    assert [report_cells(r)["seen"] for r in reports_of(workshop.records.read(slug)).sightings] == [
        *("", "", "told"),
    ]


def test_the_date_becomes_a_finding_that_comes_out_again(dated, slug):
    worked = dating(dated, slug)
    assert worked.found.dating.interval.text == "1894"
    keep(dated, slug, worked)
    kept = next(f for _, f in dated.records.read(slug).of(FindingEntry)).finding
    assert (kept.value, kept.interval.low, kept.interval.high) == ("1894", "1894-01", "1894-12")
    (told,) = verify_record(dated, slug)
    assert told.same, told.says


def test_a_finding_under_moved_assumptions_comes_out_again_under_them(workshop, slug):
    # with two figures for the year the century is open: the period decides it
    mark = {"kind": "mark", "where": "slide plate", "grade": "seen", "purpose": "serial number"}
    workshop.records.add(slug, parse_entry(mark | {"reads": "C°52·62"}))
    entries, _ = read_report_entries("id,mark\nA,C°53·38\nB,C°54·94\nC,C°55·71\n")
    workshop.records.add_all(slug, entries)
    moved = {"first_year": "1740", "last_year": "1780", "misread_rate": "5"}
    usual, other = dating(workshop, slug), dating(workshop, slug, **moved)
    assert usual.found.dating.interval.earliest.year >= 1850
    assert other.found.dating.interval.latest.year <= 1780
    assert other.found.comparison.assumptions == Assumptions(
        first_year=1740, last_year=1780, misread_rate=0.05
    )
    keep(workshop, slug, other)
    (told,) = verify_record(workshop, slug)
    assert told.same, told.says


def test_a_finding_with_assumptions_of_another_kind_is_told(dated, slug):
    found = dating(dated, slug).finding()
    asked = dict(found.method.parameters["asked"]) | {"phase_of_the_moon": 0.5}
    method = found.method.model_copy(update={"parameters": {"asked": asked}})
    dated.records.add(slug, FindingEntry(finding=found.model_copy(update={"method": method})))
    (told,) = verify_record(dated, slug)
    assert told.same is None
    assert "phase_of_the_moon" in told.says


def test_a_finding_is_verified_against_the_reports_of_its_day_and_goes_stale(dated, slug):
    keep(dated, slug, dating(dated, slug))
    later, _ = read_report_entries("id,mark\nF,C°99·5\n")
    dated.records.add_all(slug, later)
    (told,) = verify_record(dated, slug)
    assert told.same, told.says
    assert "sightings changed" in told.stale


def test_a_finding_that_was_tampered_with_is_told(dated, slug):
    finding = dating(dated, slug).finding().model_copy(update={"value": "1884"})
    dated.records.add(slug, FindingEntry(finding=finding))
    (told,) = verify_record(dated, slug)
    assert told.same is False
    assert "1894, not 1884" in told.says


def test_a_date_kept_by_version_0_1_is_read_and_comes_out_again(workshop, slug):
    mark = {"kind": "mark", "where": "slide plate", "grade": "seen", "purpose": "serial number"}
    workshop.records.add(slug, parse_entry(mark | {"reads": "C°94·627"}))
    rows = TABLE.replace("machine\n", "machine,dated,dated_kind\n").replace(
        "photograph,D", "photograph,D,1895-07,sold"
    )
    workshop.records.add_all(slug, read_report_entries(rows)[0])
    kept = Finding.model_validate_json(KEPT_IN_0_1.read_text("utf-8"))
    workshop.records.add(slug, FindingEntry(finding=kept))
    asked = analysis_about(kept.about).asked_of(kept)
    assert (asked.schemes, asked.misread_rate, asked.last_year) == (SCHEMES, 7.0, 1920)
    record = workshop.records.read(slug)
    assert stale(workshop, record, kept) == ""
    (told,) = verify_record(workshop, slug)
    assert told.same, told.says
    workshop.records.add_all(slug, read_report_entries("id,mark\nF,C°99·5\n")[0])
    assert "reports changed" in stale(workshop, workshop.records.read(slug), kept)


def test_nothing_to_compare_is_told(workshop, slug):
    workshop.records.add_all(slug, [])
    with pytest.raises(IronlaceError, match="No mark is given to date"):
        dating(workshop, slug)
