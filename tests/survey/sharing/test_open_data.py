import json

import pytest

from ironlace.survey.errors import ReportsError
from ironlace.survey.reports.table import read_reports
from ironlace.survey.sharing.open_data import About, Published, merge, publish, read_published

TABLE = read_reports(
    "id,mark,seen,sighted,dated,dated_kind,evidence,note,list\n"
    'A,4.96.217,photograph,2021-05,1896-06,sold,receipt,"with ""quotes"", and\nlines",x\n'
    "B,11.9?.30,told,,,,,,\n"
)
ABOUT = About("An Invented Survey", "A Club", "2026-01-05", note="marks as read")


def test_published_reads_back_without_loss():
    published = publish(TABLE.reports, ABOUT)
    table, about = read_published(published)
    assert table.reports == TABLE.reports and about == ABOUT
    assert publish(table.reports, about) == published


def test_metadata_is_what_the_standard_asks_for():
    metadata = json.loads(publish(TABLE.reports, ABOUT, csv_name="marks.csv").metadata)
    assert metadata["@context"][0] == "http://www.w3.org/ns/csvw"
    assert metadata["url"] == "marks.csv"
    schema = metadata["tableSchema"]
    assert schema["primaryKey"] == "id"
    assert [c["titles"] for c in schema["columns"] if c.get("required")] == ["id", "mark"]
    assert metadata["dc:license"]["@id"].startswith("https://")
    assert "2 reports, issued 2026-01-05" in metadata["dc:bibliographicCitation"]


@pytest.mark.parametrize(
    "broken",
    [
        Published("id,mark\nA,4\n", "not json"),
        Published("id,mark\nA,4\n", "{}"),
        Published("id,mark\nA,4\n", publish(TABLE.reports, ABOUT).metadata),
    ],
)
def test_what_does_not_belong_together_is_refused(broken):
    with pytest.raises(ReportsError):
        read_published(broken)


def rows(text):
    return read_reports(text).reports


def test_merging_shows_every_conflict_and_loses_nothing():
    ours = rows("id,mark,variant,place\nA,4.96.217,small,\nB,5.95.3,,north\nC,7.94.12,,\n")
    theirs = rows(
        "id,mark,variant,place,machine,extra\n"
        "A,4.96.217,large,south,,\n"
        "B,9.91.44,,,,\n"
        "D,5.95.3,,,,y\n"
        "E,9.91.44,,,B,\n"
    )
    merged = merge(ours, theirs)
    by_id = {r.id: r for r in merged.reports}
    assert set(by_id) == {"A", "B", "C", "B-2", "D", "E"}
    assert [(c.id, c.column, c.first, c.second) for c in merged.conflicts] == [
        ("A", "variant", "small", "large")
    ]
    assert by_id["A"].place == "south" and by_id["A"].variant == "small"
    assert merged.renamed == (("B", "B-2"),) and by_id["E"].machine == "B-2"
    assert ("B", "D") in {(a, b) for a, b, _ in merged.same_machine}
    assert any("'small' against 'large'" in s for s in merged.sentences())


def test_merging_a_survey_with_itself_changes_nothing():
    merged = merge(TABLE.reports, TABLE.reports)
    assert merged.reports == TABLE.reports and not merged.conflicts and not merged.renamed
