import pytest

from ironlace.evidence.errors import IronlaceError
from ironlace.record import FindingEntry, parse_entry
from ironlace.survey import Assumptions
from ironlace.workshop.hand_over.verify import verify_record
from ironlace.workshop.survey.reports_of_record import (
    OWN,
    date_finding,
    first_date,
    read_report_entries,
    reports_of,
    serial_of,
)

SCHEMES = "by year: letter, ring, year, dot, number in year\n"
TABLE = (
    "id,mark,seen,machine\nA,C°92·38,photograph,\nB,C°93·94,handled,\nC,C°95·7,told,\n"
    "D,C°95·1164,listing,\nE,C°95·1164,photograph,D\n"
)


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
    assert serial_of(dated.records.read(slug)) == "C°94·627"


def test_a_second_sighting_does_not_count_and_this_machine_does(dated, slug):
    reports = reports_of(dated.records.read(slug))
    assert [report.id.partition(" (")[0] for report in reports] == [OWN, "A", "B", "C", "D"]


def test_a_report_of_this_machine_is_not_counted_twice(dated, slug):
    entries, _ = read_report_entries("id,mark\nX,C°94·627\n")
    dated.records.add_all(slug, entries)
    assert len(reports_of(dated.records.read(slug))) == 5


def test_the_date_becomes_a_finding_that_comes_out_again(dated, slug):
    found = first_date(dated.records.read(slug), SCHEMES)
    assert found.dating.interval.text == "1894"
    finding = date_finding(found, SCHEMES)
    dated.records.add(slug, finding)
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
    record = workshop.records.read(slug)
    moved = Assumptions(first_year=1740, last_year=1780, misread_rate=0.05)
    usual, other = first_date(record, SCHEMES), first_date(record, SCHEMES, "", moved)
    assert usual.dating.interval.earliest.year >= 1850
    assert other.dating.interval.latest.year <= 1780
    finding = date_finding(other, SCHEMES)
    assert finding.finding.method.parameters["assumptions"] == moved.as_dict()
    workshop.records.add(slug, finding)
    (told,) = verify_record(workshop, slug)
    assert told.same, told.says


def test_a_finding_with_assumptions_of_another_kind_is_told(dated, slug):
    entry = date_finding(first_date(dated.records.read(slug), SCHEMES), SCHEMES)
    found = entry.finding
    parameters = dict(found.method.parameters) | {"assumptions": {"phase_of_the_moon": 0.5}}
    method = found.method.model_copy(update={"parameters": parameters})
    dated.records.add(
        slug,
        entry.model_copy(update={"finding": found.model_copy(update={"method": method})}),
    )
    (told,) = verify_record(dated, slug)
    assert told.same is None
    assert "assumptions" in told.says


def test_a_finding_is_verified_against_the_reports_of_its_day(dated, slug):
    dated.records.add(slug, date_finding(first_date(dated.records.read(slug), SCHEMES), SCHEMES))
    later, _ = read_report_entries("id,mark\nF,C°99·5\n")
    dated.records.add_all(slug, later)
    assert verify_record(dated, slug)[0].same


def test_a_finding_that_was_tampered_with_is_told(dated, slug):
    entry = date_finding(first_date(dated.records.read(slug), SCHEMES), SCHEMES)
    forged = entry.model_copy(
        update={"finding": entry.finding.model_copy(update={"value": "1884"})}
    )
    dated.records.add(slug, forged)
    (told,) = verify_record(dated, slug)
    assert told.same is False
    assert "1894, not 1884" in told.says


def test_nothing_to_compare_is_told(workshop, slug):
    with pytest.raises(IronlaceError, match="no mark and no report"):
        first_date(workshop.records.read(slug))


def test_a_date_that_came_with_a_second_sighting_counts_for_the_machine(workshop):
    slug = workshop.records.create("Dated twice")
    rows = "id,mark,machine,dated,dated_kind\nA,C°93·38,,,\nB,C°93·38,A,1894,sold\n"
    workshop.records.add_all(slug, read_report_entries(rows)[0])
    (report,) = reports_of(workshop.records.read(slug))
    assert (report.dated.date.text, str(report.dated.kind)) == ("1894", "sold")
