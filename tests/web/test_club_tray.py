"""What waits in a club's tray, looked at and decided on from a survey that is kept with it."""

import uuid

import pytest

from ironlace.record import Mark, ReportEntry
from ironlace.workshop.club.address import address_of
from ironlace.workshop.club.ledger import Ledger
from ironlace.workshop.club.roles import Rights

from .conftest import words


@pytest.fixture
def club(person, bench, slug, tmp_path):
    """A club with a report and two things sent in, joined by the survey of a machine."""
    mark = Mark(where="bed", reads="B°92·117", purpose="serial number", grade="seen")
    report = ReportEntry(name="of a friend", reads="B°92·204", grade="seen")
    bench.records.add_all(slug, [mark, report])
    address = f"sqlite:///{tmp_path / 'club.sqlite'}"
    ledger, _ = Ledger.make(address_of(address), "Treadle Circle")
    ledger.write(str(uuid.uuid4()), sent("B°91·40"), report=None, after=0)
    ledger.offer(str(uuid.uuid4()), sent("B°93·4?1"), report=None, after=0)
    ledger.offer(str(uuid.uuid4()), sent("17"), report=None, after=0)
    ledger.close()
    person.post(f"/machine/{slug}/survey/club", {"do": "join", "address": address})
    return f"/machine/{slug}/survey/club/waiting"


def sent(reads):
    return {"reads": reads, "how": "photograph", "grade": "seen", "counts": True}


def test_a_reviewer_keeps_one_as_a_second_sighting_and_turns_the_other_down(person, club, slug):
    assert club in person.get(f"/machine/{slug}/survey").text
    told = words(person.get(club))
    assert "2 reports wait for a reviewer" in told and "B°93·4?1" in told
    refused = person.post(club, {"number": "1", "do": "turn down", "reads": "B°93·471"})
    assert refused.status_code == 422 and "Say why it is turned down" in words(refused)
    assert 'value="B°93·471"' in refused.text
    assert "Say which" in words(person.post(club, {"number": "1"}))
    odd = {"number": "1", "do": "keep", "same_as": "the first"}
    assert "no number of the report" in words(person.post(club, odd))
    assert "2 reports wait" in words(person.get(club))
    kept = {"number": "1", "do": "keep", "reads": "B°93·471", "same_as": "1"}
    told = words(person.post(club, kept))
    assert "1 is the club’s report 2 now" in told and "1 report waits" in told
    told = words(person.post(club, {"number": "2", "do": "turn down", "reason": "a page number"}))
    assert "2 is turned down" in told and "Nothing waits for a reviewer." in told
    twice = person.post(club, kept)
    assert twice.status_code == 409 and "before" in words(twice)


def test_who_may_not_decide_only_looks(person, club, monkeypatch):
    monkeypatch.setattr(Ledger, "rights", lambda _self: Rights(report=True, review=False))
    page = person.get(club)
    assert "deciding is for the club’s reviewers" in words(page)
    assert 'name="do"' not in page.text


def test_a_club_that_does_not_answer_is_told(person, club, tmp_path):
    (tmp_path / "club.sqlite").unlink()
    page = person.get(club)
    assert page.status_code >= 400
    assert "The club could not be asked." in words(page) and "no database" in words(page)


def test_without_a_club_there_is_no_tray(person, slug):
    assert person.get(f"/machine/{slug}/survey/club/waiting").status_code == 404
