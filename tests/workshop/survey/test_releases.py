"""Releases: numbered, citable, frozen, and each says what changed since the last."""

import csv
import io
import json
import zipfile
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import select

from ironlace.evidence.errors import ConflictError, IronlaceError
from ironlace.record import Mark, ReportEntry
from ironlace.survey.sharing.survey_zip import unzipped
from ironlace.workshop.analyses import analysis_named, asked_for, keep, work_out
from ironlace.workshop.store.check import check_workshop
from ironlace.workshop.store.tables import ReleaseRow
from ironlace.workshop.survey.releases import (
    ReleaseAsked,
    ReleaseError,
    drafted,
    release,
    release_numbered,
    releases,
)
from ironlace.workshop.survey.surveys import make_survey, share, surveys

DAY = datetime(2026, 3, 1, 12, tzinfo=UTC)
CLUB = ReleaseAsked("A Club of Owners")


def report(name, reads, **more):
    return ReportEntry(name=name, reads=reads, grade="seen", **more)


@pytest.fixture
def surveyed(workshop, slug):
    records = workshop.records
    records.add(slug, Mark(where="bed", reads="B°92·117", purpose="serial number", grade="seen"))
    more = {"place": "Mill Lane, Northport", "reporter": "Anna Person", "note": "secret"}
    records.add(slug, report("Anna’s head", "C°95·1164", **more))
    records.add(slug, report("again", "C°95·11?4", same_as="Anna’s head", counts=False))
    return workshop


def table_in(made):
    return list(csv.DictReader(io.StringIO(unzipped(made.zip)[0])))


def test_a_release_is_numbered_cited_and_open_data(surveyed, slug):
    made = release(surveyed, slug, CLUB, at=DAY)
    assert made.number == 1
    assert made.citation.startswith("A Club of Owners. Survey of ")
    assert "release 1. 3 reports, issued 2026-03-01. https://creativecommons.org" in made.citation
    assert [row["id"] for row in table_in(made)] == [slug, "report 1", "report 2"]
    assert made.changes.added == (slug, "report 1", "report 2")
    with zipfile.ZipFile(io.BytesIO(made.zip)) as packed:
        told = json.loads(packed.read("survey.csv-metadata.json"))
        everything = b"".join(packed.read(name) for name in packed.namelist())
    assert told["dc:bibliographicCitation"] == made.citation
    for secret in ("Anna", "Northport", "secret"):
        assert secret.encode() not in everything
        assert secret not in json.dumps(made.as_dict())


def test_what_changed_is_told_and_the_earlier_release_stays(surveyed, slug):
    records = surveyed.records
    compare = analysis_named("date")
    first = release(surveyed, slug, CLUB, at=DAY)
    with pytest.raises(ConflictError, match="Nothing changed since release 1"):
        release(surveyed, slug, CLUB, at=DAY + timedelta(days=1))
    dated = {"dated": "1895-05-14", "dated_is": "sold"}
    records.change(slug, "report 1", report("Anna’s head", "C°95·1164", **dated))
    records.change(slug, "report 2", None)
    records.add(slug, report("mill", "D°96·88", dated="1896", dated_is="at"))
    record = records.read(slug)
    worked = work_out(surveyed, record, compare, asked_for(compare, record, {}))
    keep(surveyed, slug, worked)
    second = release(surveyed, slug, CLUB, at=DAY + timedelta(days=30))
    assert second.number == 2
    assert second.changes.added == ("report 3",)
    assert second.changes.withdrawn == ("report 2",)
    assert dict(second.changes.changed) == {"report 1": ("dated", "dated_kind")}
    ((machine, _, was, now),) = second.changes.answers
    assert (machine, was) == (slug, "")
    assert now
    assert releases(surveyed, slug) == [first, second]
    assert release_numbered(surveyed, surveyed.records.survey_of(slug), 1).zip == first.zip
    assert not second.answers[0].stale
    records.add(slug, report("shed", "D°96·90"))
    assert drafted(surveyed, slug, CLUB, DAY).answers[0].stale
    assert [one.releases for one in surveys(surveyed)] == [2]


def test_a_shared_survey_releases_each_machine_once(surveyed, slug):
    other = surveyed.records.create("Wick head")
    surveyed.records.add(other, Mark(where="bed", reads="B°93·431", grade="seen"))
    share(surveyed, other, slug)
    made = release(surveyed, other, CLUB, at=DAY)
    marks = [row["mark"] for row in table_in(made)]
    assert sorted(marks) == ["B°92·117", "B°93·431", "C°95·1164", "C°95·11?4"]
    assert slug not in json.dumps(table_in(made))


def test_a_release_that_was_touched_is_not_read(surveyed, slug):
    release(surveyed, slug, CLUB, at=DAY)
    with surveyed.database.writing() as session:
        row = session.scalar(select(ReleaseRow))
        row.sha256 = "0" * 64
    assert any("Release 1 of" in fault for fault in check_workshop(surveyed).wrong)
    with pytest.raises(ReleaseError, match="not what was released"):
        releases(surveyed, slug)


def test_what_cannot_be_released_is_said(surveyed, slug):
    with pytest.raises(ReleaseError, match="who compiled it"):
        release(surveyed, slug, ReleaseAsked(" "))
    empty = make_survey(surveyed, "Empty")
    with pytest.raises(ReleaseError, match="no report to release"):
        release(surveyed, empty, CLUB)
    with pytest.raises(IronlaceError, match="no release 7"):
        release_numbered(surveyed, slug, 7)
    with pytest.raises(IronlaceError, match="has no survey yet"):
        releases(surveyed, surveyed.records.create("Bare"))
    assert releases(surveyed, slug) == []
