"""The survey by browser: shared, read as it stood, released."""

import io
import re
import zipfile
from datetime import UTC, datetime

import pytest

from ironlace.evidence.sources import Source, SourceKind
from ironlace.record import Mark, ReportEntry, SourceEntry
from ironlace.workshop.club.address import address_of
from ironlace.workshop.club.ledger import Ledger

from .conftest import words

AT = datetime(2025, 3, 1, 9, tzinfo=UTC)


@pytest.fixture
def two(bench, slug):
    records = bench.records
    other = records.create("Wick head", AT)
    for machine, reads in ((slug, "B°92·117"), (other, "B°93·431")):
        mark = Mark(where="bed", reads=reads, purpose="serial number", grade="seen")
        records.add(machine, mark, at=AT)
        report = ReportEntry(
            name=f"of {reads}", reads=f"C°95·{machine[0]}1"[:5] + "7", grade="seen"
        )
        records.add(machine, report, at=AT)
    return slug, other


def test_a_machine_shares_the_survey_of_another(person, bench, two):
    slug, other = two
    page = person.get(f"/machine/{other}/survey")
    assert "1 report, of one machine." in words(page)
    survey = bench.records.survey_of(slug)
    page = person.post(f"/machine/{other}/survey/share", {"survey": survey, "bring": "yes"})
    assert "Shared: 1 of its own reports came with it." in words(page)
    assert "kept once for 2 machines" in words(page)
    for machine in two:
        assert person.get(f"/machine/{machine}/dating").status_code == 200
        assert person.get(f"/machine/{machine}/entries/report").status_code == 200
        assert person.get(f"/machine/{machine}/history").status_code == 200
    again = person.post(f"/machine/{other}/survey/share", {"survey": survey})
    assert again.status_code == 422
    assert "already" in words(again)
    # what a report points to is the other machine's, from where that is not its own
    bill = bench.records.add(slug, SourceEntry(title="a bill", sort="letter"))
    source = Source(kind=SourceKind.DOCUMENT, entry=bill)
    report = ReportEntry(name="mill", reads="E°97·12", grade="seen", sources=(source,))
    kept = bench.records.add(slug, report).replace(" ", "/")
    for machine in two:
        page = person.get(f"/machine/{machine}/entries/{kept}")
        assert f'href="/machine/{slug}/entries/source/1"' in page.text


def test_it_is_shown_as_it_stood(person, two):
    slug, _ = two
    assert "None on that day" in words(person.get(f"/machine/{slug}/survey?as_of=2024"))
    assert "1 report as of 2025-03" in words(person.get(f"/machine/{slug}/survey?as_of=2025-03"))
    odd = person.get(f"/machine/{slug}/survey?as_of=never")
    assert odd.status_code == 422
    assert "Not done." in words(odd)


def test_a_release_is_shown_made_and_handed_over(person, bench, two):
    slug, _ = two
    at = f"/machine/{slug}/survey/releases"
    assert "who compiled it" in words(person.post(at, {"do": "release"}))
    shown = person.post(at, {"do": "show", "compiled_by": "A Club"})
    assert "It would be cited as: A Club. Survey of" in words(shown)
    assert "Release 1 is made" not in words(person.get(f"/machine/{slug}/survey"))
    page = person.post(at, {"do": "release", "compiled_by": "A Club"})
    assert "Release 1 is made and stays as it is." in words(page)
    link = re.search(r'href="([^"]+releases/1/survey\.zip)"', page.text)[1]
    data = person.get(link)
    assert data.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(data.content)) as packed:
        assert "survey.csv-metadata.json" in packed.namelist()
    assert person.post(at, {"do": "release", "compiled_by": "A Club"}).status_code == 422
    assert person.get(f"/machine/{slug}/survey/releases/9/survey.zip").status_code == 404


def test_a_survey_has_a_page_by_its_own_name(person, bench, two):
    survey = bench.records.survey_of(two[0])
    told = person.get(f"/machine/{survey}")
    assert told.headers["location"] == f"/machine/{survey}/survey"
    assert "1 report, of one machine." in words(person.get(told.headers["location"]))
    assert survey not in words(person.get("/"))


def test_a_survey_is_called_otherwise(person, bench, two):
    at = f"/machine/{two[0]}/survey/name"
    assert "<h1>Mill heads</h1>" in person.post(at, {"title": "Mill heads"}).text
    assert person.post(at, {"title": ""}).status_code == 422
    assert bench.records.read(bench.records.survey_of(two[0])).title == "Mill heads"


def test_two_reviewers_cannot_overwrite_each_other(person, bench, two, monkeypatch):
    slug, _ = two
    records = bench.records
    records.add(slug, ReportEntry(name="mill", reads="C°92·7", grade="seen"))
    read, others = records.read, []

    def meanwhile(of, moment=None):
        found = read(of, moment)
        if not others:  # another reviewer is quicker
            others.append("report 2")
            report = found.named("report 2").model_copy(update={"note": "not so"})
            records.change(slug, "report 2", report)
        return found

    monkeypatch.setattr(records, "read", meanwhile)
    same = {"first": "report 1", "later": "report 2"}
    told = person.post(f"/machine/{slug}/dating/same", same)
    assert told.status_code == 409
    report = read(slug).named("report 2")
    assert (report.note, report.same_as) == (
        "not so",
        "",
    )


def test_a_machine_without_reports_may_share(person, bench, two):
    bare = bench.records.create("Bare head")
    page = person.get(f"/machine/{bare}/survey")
    assert "No survey yet" in words(page)
    assert 'name="survey"' in page.text


def test_a_survey_is_kept_with_a_club(person, two, tmp_path):
    slug, other = two
    club = f"sqlite:///{tmp_path / 'club.sqlite'}"
    Ledger.make(address_of(club), "Treadle Circle")[0].close()
    to = f"/machine/{slug}/survey/club"
    assert "A club may keep one survey" in words(person.get(f"/machine/{slug}/survey"))
    answer = person.post(to, {"do": "join", "address": "club.example"})
    assert answer.status_code == 422
    assert "no club's address" in words(answer)
    assert 'value="club.example"' in answer.text
    page = words(person.post(to, {"do": "join", "address": club}))
    assert "2 go with the next exchange" in page
    assert "report 1 (new): C°95·" in page
    assert "of B°92·117" not in page[page.index("Kept together") :]  # what you call it stays here
    assert "Treadle Circle: 2 sent." in words(person.post(to, {"do": "exchange"}))
    assert "2 reports are known there" in words(person.get(f"/machine/{slug}/survey"))
    person.post(f"/machine/{other}/survey/club", {"do": "join", "address": club})
    heard = words(person.post(f"/machine/{other}/survey/club", {"do": "exchange"}))
    assert "Treadle Circle: 2 sent, 2 came new." in heard
    (tmp_path / "club.sqlite").rename(tmp_path / "away.sqlite")
    answer = person.post(to, {"do": "exchange"})
    assert answer.status_code == 422
    assert "no database" in words(answer)
    page = words(person.post(to, {"do": "leave"}))
    assert "A club may keep one survey" in page
