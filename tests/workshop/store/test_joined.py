"""A survey is a record of its own: shared, read on any day, moved into and back without loss."""

import sqlite3
import zipfile
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Engine, event

from ironlace.evidence.errors import ConflictError, IronlaceError, NotFoundError
from ironlace.evidence.sources import Source, SourceKind
from ironlace.record import EntryKind, Mark, Question, ReportEntry, SourceEntry, record_at
from ironlace.record.surveyed import OWN
from ironlace.survey import Reports
from ironlace.workshop import Workshop
from ironlace.workshop.store.backup import restore
from ironlace.workshop.store.check import check_workshop
from ironlace.workshop.store.database import NEWEST
from ironlace.workshop.store.tables import RecordKind
from ironlace.workshop.survey.reports_of_record import reports_of

START = datetime(2025, 3, 1, 9, tzinfo=UTC)
BACKUP = Path(__file__).parents[2] / "fixtures" / "workshop_before" / "backup.zip"
DAY = timedelta(days=1)


def report(name, reads, **more):
    return ReportEntry(name=name, reads=reads, grade="seen", **more)


def mark(reads):
    return Mark(where="bed", reads=reads, purpose="serial number", grade="seen")


def shared(workshop, slug, survey, *, bring=True, at=START + 10 * DAY):
    with workshop.database.writing() as session:
        return workshop.records.share_in(session, slug, survey, bring=bring, at=at)


@pytest.fixture
def two(workshop):
    """Two machines, each with a mark and reports of its own."""
    records = workshop.records
    a, b = records.create("Plover head", START), records.create("Wick head", START)
    records.add(a, mark("B°92·117"), at=START + DAY)
    records.add(b, mark("B°93·431"), at=START + DAY)
    records.add(a, SourceEntry(title="a bill", sort="document"), at=START + DAY)
    bill = Source(kind=SourceKind.DOCUMENT, entry="source 1")
    records.add(a, report("school", "C°95·1164", sources=(bill,)), at=START + 2 * DAY)
    records.add(a, report("again", "B°92·1?7", same_as=OWN), at=START + 3 * DAY)
    records.add(b, report("school", "D°96·88"), at=START + 2 * DAY)
    records.add(b, report("school twice", "D°96·8?", same_as="school"), at=START + 3 * DAY)
    return workshop, a, b


def marks_counted(record):
    return sorted(str(one.mark) for one in reports_of(record).counted)


def rows_of(file, *tables):
    with closing(sqlite3.connect(file)) as connection:
        return {
            table: connection.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall()
            for table in tables
        }


def tables_before(file):
    """Every row of the tables that the version before knows, by its columns."""
    columns = {
        "record": "id, slug, title, made_at",
        "change": "number, record_id, kind, key, entry, made_at, made_by, undoes",
        "entry": "id, record_id, kind, key, first_change, last_change, entry",
    }
    with closing(sqlite3.connect(file)) as connection:
        return {
            table: connection.execute(f"SELECT {named} FROM {table} ORDER BY 1").fetchall()
            for table, named in columns.items()
        }


def test_reports_move_into_a_survey_and_back_byte_for_byte(tmp_path):
    restored = tmp_path / "workshop"
    restore(BACKUP, restored)
    Workshop.open(restored).close()
    before = restored / f"ironlace.before-{NEWEST}.sqlite"
    assert before.is_file(), "the older database is kept"
    with Workshop.open(restored) as workshop:
        assert [one.slug for one in workshop.records.all()] == ["plover-head-sallow-wick"]
        assert workshop.records.survey_of("plover-head-sallow-wick") == (
            "plover-head-sallow-wick-survey"
        )
        survey = workshop.records.read("plover-head-sallow-wick-survey")
        assert [name for name, _ in survey.of(ReportEntry)] == [f"report {n}" for n in range(1, 7)]
        workshop.database.write_as_before_surveys(tmp_path / "back.sqlite")
        with pytest.raises(ConflictError, match="there already"):
            workshop.database.write_as_before_surveys(tmp_path / "back.sqlite")
        assert check_workshop(workshop).sound
    told = tables_before(tmp_path / "back.sqlite")
    assert told == tables_before(before)
    assert sum(row[2] == "report" for row in told["change"]) >= 6
    with closing(sqlite3.connect(tmp_path / "back.sqlite")) as connection:
        columns = [row[1] for row in connection.execute("PRAGMA table_info(change)")]
        assert "through" not in columns
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def test_reports_kept_since_the_move_go_back_too(two, tmp_path):
    workshop, a, b = two
    shared(workshop, b, workshop.records.survey_of(a))
    through_b = workshop.records.add(b, report("mill", "E°97·12"))
    workshop.database.write_as_before_surveys(tmp_path / "back.sqlite")
    ids = {slug: n for n, slug, *_ in tables_before(tmp_path / "back.sqlite")["record"]}
    assert set(ids) == {a, b}
    kept = tables_before(tmp_path / "back.sqlite")["entry"]
    places = [(row[1], row[2], row[3]) for row in kept]
    assert len(places) == len(set(places))
    assert (ids[b], "report", int(through_b.split()[1])) in places
    assert len(kept) == len(rows_of(workshop.database.file, "entry")["entry"])


def test_a_report_kept_once_serves_all_machines_of_the_survey(two):
    workshop, a, b = two
    records = workshop.records
    alone = marks_counted(records.read(a))
    assert alone == ["B°92·117", "C°95·1164"]
    brought = shared(workshop, b, records.survey_of(a))
    assert len(brought) == 2
    both = ["B°92·117", "B°93·431", "C°95·1164", "D°96·88"]
    assert marks_counted(records.read(a)) == both
    assert marks_counted(records.read(b)) == both
    made = records.add(b, report("mill", "E°97·12"))
    assert records.read(a).named(made).name == "mill"
    assert marks_counted(records.read(a)) == marks_counted(records.read(b))
    assert check_workshop(workshop).sound


def test_no_machine_is_sighted_twice_by_being_in_the_survey(two):
    workshop, a, b = two
    records = workshop.records
    shared(workshop, b, records.survey_of(a))
    for slug in (a, b):
        marks = [str(one.mark) for one in reports_of(records.read(slug)).sightings]
        assert len(marks) == len(set(marks)) == 6
        (summary,) = [one for one in records.all() if one.slug == slug]
        assert summary.entries == len(records.read(slug).entries)
    own = "report 3"
    assert own in records.read(b).by_name
    assert own not in records.read(a).by_name
    with pytest.raises(NotFoundError):
        records.change(a, own, None)
    with pytest.raises(NotFoundError):
        records.undo(a, records.changes(b, own)[0].number)
    assert records.changes(a, own) == []


def test_what_was_said_of_this_machine_is_said_of_that_one_from_the_other(two):
    workshop, a, b = two
    shared(workshop, b, workshop.records.survey_of(a))
    for slug, machine in ((a, OWN), (b, "Plover head")):
        reports: Reports = reports_of(workshop.records.read(slug))
        assert {one.id: one.of for one in reports.joined}["again"] == machine
    again = workshop.records.add(b, report("found anew", "B°93·4?1", same_as=OWN))
    seen = {one.id: one.of for one in reports_of(workshop.records.read(a)).joined}
    assert seen["found anew"] == "Wick head"
    assert workshop.records.read(b).named(again).same_as != ""
    # two reports called school, of two machines: the second sighting followed its own
    assert seen["school twice"].startswith("school (report")


def test_names_are_of_the_machine_through_which_a_report_came(two):
    workshop, a, b = two
    records = workshop.records
    shared(workshop, b, records.survey_of(a))
    there = records.read(b).named("report 1")
    assert there.sources[0].entry == f"source 1 of {a}"
    # kept again from the other machine, it names what it named
    records.change(b, "report 1", there.model_copy(update={"note": "looked at again"}))
    assert records.read(a).named("report 1").sources[0].entry == "source 1"
    assert records.read(a).named("report 1").note == "looked at again"
    assert check_workshop(workshop).sound


def test_a_number_read_anew_is_known_to_the_other_machine(two):
    workshop, a, b = two
    records = workshop.records
    shared(workshop, b, records.survey_of(a))
    records.change(b, "mark 1", mark("B°93·437"))
    assert "B°93·437" in marks_counted(records.read(a))
    assert "B°93·431" not in marks_counted(records.read(a))
    assert len(marks_counted(records.read(b))) == 4
    c = records.create("Third head")
    shared(workshop, c, records.survey_of(a), at=START + 12 * DAY)
    records.add(c, mark("F°98·5"))
    assert "F°98·5" in marks_counted(records.read(a))


def test_it_reads_as_it_stood_on_any_day_and_its_history_folds_to_that(two):
    workshop, a, b = two
    records = workshop.records
    before = {slug: [records.read(slug, START + n * DAY) for n in range(10)] for slug in (a, b)}
    shared(workshop, b, records.survey_of(a), at=START + 10 * DAY)
    records.add(a, report("mill", "E°97·12"), at=START + 11 * DAY)
    records.change(b, "report 1", None, at=START + 12 * DAY)
    for slug, days in before.items():
        assert days == [records.read(slug, START + n * DAY) for n in range(10)]
        history = records.whole_history(slug)
        for n in range(14):
            moment = START + n * DAY
            assert record_at(slug, "", history, moment).entries == (
                records.read(slug, moment).entries
            )
        assert record_at(slug, "", history).entries == records.read(slug).entries
        assert len({change.number for change in history}) == len(history)


def test_undoing_works_across_and_putting_away_leaves_the_survey(two):
    workshop, a, b = two
    records = workshop.records
    shared(workshop, b, records.survey_of(a))
    made = records.add(b, report("mill", "E°97·12"))
    records.put_away(b)
    assert records.read(a).named(made).name == "mill"
    records.undo(a, records.recent(a, 1)[0].number)
    assert made not in records.read(b).by_name
    assert records.survey_of(b) == records.survey_of(a)


def test_a_survey_holds_reports_and_nothing_else(two):
    workshop, a, b = two
    records = workshop.records
    survey = records.survey_of(a)
    with pytest.raises(IronlaceError, match="is a survey, which holds reports"):
        records.add(survey, Question(asks="who?"))
    with pytest.raises(IronlaceError, match="stays where it is"):
        records.put_away(survey)
    with pytest.raises(IronlaceError, match="is no survey"):
        shared(workshop, a, b)
    with pytest.raises(IronlaceError, match="is no machine"):
        shared(workshop, survey, survey)
    with pytest.raises(ConflictError, match="already"):
        shared(workshop, a, survey)


def test_who_comes_back_is_known_by_the_report_it_had(two):
    workshop, a, b = two
    records = workshop.records
    first, old = records.survey_of(a), records.survey_of(b)
    shared(workshop, b, first)
    shared(workshop, b, old, bring=False, at=START + 12 * DAY)
    assert marks_counted(records.read(b)) == ["B°93·431", "D°96·88"]
    reports = records.read(first).count(EntryKind.REPORT)
    shared(workshop, b, first, at=START + 13 * DAY)
    assert records.read(first).count(EntryKind.REPORT) == reports
    assert len(marks_counted(records.read(a))) == 4


def test_a_report_kept_in_a_survey_alone_stays_when_it_goes_back(workshop, tmp_path):
    with workshop.database.writing() as session:
        survey = workshop.records.create_in(session, "Club", RecordKind.SURVEY, START)
    workshop.records.add(survey, report("mill", "E°97·12"))
    assert workshop.records.all() == []
    workshop.database.write_as_before_surveys(tmp_path / "back.sqlite")
    told = tables_before(tmp_path / "back.sqlite")
    assert [row[1] for row in told["record"]] == [survey]
    assert len(told["entry"]) == 1


@pytest.mark.parametrize("at", ["ALTER TABLE change", "INSERT INTO survey_link", "UPDATE entry"])
def test_a_move_broken_off_leaves_all_as_it_was(tmp_path, at):
    restored = tmp_path / "workshop"
    with zipfile.ZipFile(BACKUP) as backup:
        backup.extractall(tmp_path)
    (tmp_path / "data").rename(restored)
    with closing(sqlite3.connect(restored / "ironlace.sqlite")) as connection:
        before = "\n".join(connection.iterdump())

    def break_off(_connection, _cursor, statement, *_):
        if statement.startswith(at):
            raise KeyboardInterrupt

    event.listen(Engine, "before_cursor_execute", break_off)
    try:
        with pytest.raises(KeyboardInterrupt):
            Workshop.open(restored)
    finally:
        event.remove(Engine, "before_cursor_execute", break_off)
    with closing(sqlite3.connect(restored / "ironlace.sqlite")) as connection:
        assert "\n".join(connection.iterdump()) == before
    with Workshop.open(restored) as workshop:
        assert workshop.records.read("plover-head-sallow-wick").count(EntryKind.REPORT) == 6
