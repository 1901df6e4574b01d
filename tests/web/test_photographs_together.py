"""Several photographs told at once what they are for."""

import pytest

from ironlace.record import Photograph, PhotographRole
from ironlace.web import addresses

from .conftest import jpeg, typed, words


@pytest.fixture
def at(person, slug):
    for seed, role in ((1, "not said"), (2, "not said"), (3, "mark")):
        files = [("files", (f"{seed}.jpg", jpeg(seed)))]
        person.post(f"/machine/{slug}/photographs", {"role": role}, files=files)
    return addresses.photographs_together(slug)


def told(bench, slug):
    return {name: (p.role.value, p.caption) for name, p in bench.records.read(slug).of(Photograph)}


def test_role_and_caption_are_said_once_for_all_that_are_ticked(person, slug, bench, at):
    page = person.get(at)
    assert "Use not said, 2" in words(page)
    assert "photograph 3" not in words(page)
    ticked = {"photograph": ["photograph 1", "photograph 2"], "role": "part", "caption": "The race"}
    answer = person.post(at, ticked)
    assert "Kept, 2 entries: photograph 1, photograph 2" in words(answer)
    assert told(bench, slug) == {
        "photograph 1": ("part", "The race"),
        "photograph 2": ("part", "The race"),
        "photograph 3": ("mark", ""),
    }


def test_what_is_left_as_it_is_stays(person, slug, bench, at):
    person.post(at, {"photograph": ["photograph 1", "photograph 3"], "caption": "Below"})
    assert told(bench, slug)["photograph 3"] == ("mark", "Below")
    assert told(bench, slug)["photograph 1"] == (PhotographRole.UNSAID.value, "Below")
    person.post(at, {"photograph": ["photograph 1"], "role": "whole machine"})
    assert told(bench, slug)["photograph 1"] == ("whole machine", "Below")
    changes = len(bench.records.changes(slug))
    person.post(at, {"photograph": ["photograph 1"], "role": "whole machine"})
    assert len(bench.records.changes(slug)) == changes  # what says nothing new is no change


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"role": "part"}, "No photograph is ticked"),
        ({"photograph": "photograph 1"}, "Nothing is said of them"),
        ({"photograph": "photograph 1", "role": "nonsense"}, "Nothing is said of them"),
        ({"photograph": ["photograph 1", "photograph 99"], "role": "part"}, "no photograph 99"),
        ({"photograph": ["photograph 1", "question 1"], "role": "part"}, "is no photograph"),
    ],
)
def test_what_cannot_be_said_changes_none(person, slug, bench, at, fields, expected):
    person.post(f"/machine/{slug}/entries/question", {"asks": "Who?"})
    before = told(bench, slug)
    answer = person.post(at, {**fields, "caption": fields.get("caption", "")})
    assert answer.status_code in (404, 422)
    assert expected in words(answer)
    assert told(bench, slug) == before


def test_one_changed_meanwhile_keeps_all_as_they_are(person, slug, bench, at):
    seen = typed(person.get(at), "last_seen")
    change = f"/machine/{slug}/entries/photograph/2/change"
    person.post(change, {"role": "document", "published": "yes"})
    fields = {"photograph": ["photograph 1", "photograph 2"], "role": "part", "last_seen": seen}
    answer = person.post(at, fields)
    assert answer.status_code == 409
    assert "photograph 2 was changed meanwhile, so none was" in words(answer)
    assert told(bench, slug)["photograph 1"] == (PhotographRole.UNSAID.value, "")


def test_which_are_shown_can_be_chosen(person, slug, at):
    shown = words(person.get(f"{at}?which=all"))
    assert all(f"photograph {number}" in shown for number in (1, 2, 3))
    assert "None." in words(person.get(f"{at}?which=phone"))
    assert person.get(f"{at}?which=others").status_code == 422
